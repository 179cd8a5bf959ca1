#!/bin/sh
# Run once by the database's container when its folder is new: makes the roles, with the passwords of the environment.
set -eu
psql -v ON_ERROR_STOP=1 -U "$POSTGRES_USER" -d "$POSTGRES_DB" \
  -v app="'$APP_PASSWORD'" -v door="'$DOOR_PASSWORD'" -v press="'$PRESS_PASSWORD'" -v clerk="'$CLERK_PASSWORD'" -f /tussock/roles.sql
