-- Makes the five roles by hand, for a server that must not know the owner's password: see config.go for the variables.
-- "tussock serve" does the same by itself where TUSSOCK_DATABASE_URL names a role that may.
--
-- Run it in the service's database, as a superuser or as the database's owner with the right to make roles:
--
--   createdb tussock
--   psql -d tussock -v app="'…'" -v door="'…'" -v press="'…'" -v clerk="'…'" -f deploy/roles.sql
--
-- with four long random passwords (openssl rand -hex 32). Then migrate once with the same role, and serve without it:
--
--   TUSSOCK_DATABASE_URL=postgres://admin:…@host/tussock tussock migrate
--   TUSSOCK_APP_URL=postgres://tussock_app:…@host/tussock TUSSOCK_DOOR_URL=postgres://tussock_door:…@host/tussock tussock serve
--   TUSSOCK_PRESS_URL=postgres://tussock_press:…@host/tussock tussock press          (as another user of the machine)
--   TUSSOCK_CLERK_URL=postgres://tussock_clerk:…@host/tussock tussock clerk          (as a third)
--
-- Several servers on one database need the same TUSSOCK_SECRET_KEY: head -c 32 /dev/urandom | base64

\set ON_ERROR_STOP on

CREATE ROLE tussock_owner NOLOGIN;                 -- owns the tables; nobody signs in as it
CREATE ROLE tussock_app   LOGIN PASSWORD :app;     -- serves pages, bound by every policy
CREATE ROLE tussock_door  LOGIN PASSWORD :door;    -- lets people in: functions, no table
CREATE ROLE tussock_press LOGIN PASSWORD :press;   -- reads rows, adds bulletins, changes nothing published
CREATE ROLE tussock_clerk LOGIN PASSWORD :clerk;   -- reads the sheets that were sent, writes what they say

GRANT tussock_owner TO CURRENT_USER;

SELECT current_database() AS database \gset
REVOKE ALL ON DATABASE :"database" FROM PUBLIC;
GRANT CONNECT, CREATE, TEMPORARY ON DATABASE :"database" TO tussock_owner;
GRANT CONNECT, TEMPORARY ON DATABASE :"database" TO tussock_app, tussock_clerk;
GRANT CONNECT ON DATABASE :"database" TO tussock_door, tussock_press;
CREATE SCHEMA migration AUTHORIZATION tussock_owner;
