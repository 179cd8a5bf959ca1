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

ALTER ROLE tussock_app  SET statement_timeout = '30s';
ALTER ROLE tussock_app  SET idle_in_transaction_session_timeout = '60s';
ALTER ROLE tussock_door SET statement_timeout = '30s';
ALTER ROLE tussock_door SET idle_in_transaction_session_timeout = '60s';

GRANT tussock_owner TO CURRENT_USER;

SELECT current_database() AS database \gset
REVOKE ALL ON DATABASE :"database" FROM PUBLIC;
GRANT CONNECT, CREATE, TEMPORARY ON DATABASE :"database" TO tussock_owner;
GRANT CONNECT, TEMPORARY ON DATABASE :"database" TO tussock_app, tussock_clerk;
GRANT CONNECT ON DATABASE :"database" TO tussock_door, tussock_press;
CREATE SCHEMA migration AUTHORIZATION tussock_owner;

-- What the server itself tells of how much there is, and who does what, is not for the pages: statistics of tables, sizes, the
-- activity of others, locks. Only a superuser can close it; "tussock serve" does where it is told of one. What stays open to
-- whoever can run statements as tussock_app: the estimates of EXPLAIN, the places of one's own rows (ctid), transaction numbers.
DO $quiet$
DECLARE
    f regprocedure;
BEGIN
    IF NOT (SELECT rolsuper FROM pg_roles WHERE rolname = current_user)
       OR NOT has_function_privilege('public', 'pg_catalog.pg_stat_get_live_tuples(oid)', 'EXECUTE') THEN -- nor again
        RETURN;
    END IF;
    FOR f IN
        SELECT p.oid FROM pg_proc p WHERE p.pronamespace = 'pg_catalog'::regnamespace AND (p.proname LIKE 'pg\_stat\_get\_%'
            OR p.proname IN ('pg_lock_status', 'pg_relation_size', 'pg_table_size', 'pg_indexes_size', 'pg_total_relation_size', 'pg_database_size'))
    LOOP
        EXECUTE format('REVOKE EXECUTE ON FUNCTION %s FROM PUBLIC', f);
        EXECUTE format('GRANT EXECUTE ON FUNCTION %s TO tussock_owner, pg_monitor', f);
    END LOOP;
    GRANT EXECUTE ON FUNCTION pg_catalog.pg_lock_status() TO tussock_press;
    REVOKE SELECT ON pg_catalog.pg_class FROM PUBLIC;
    EXECUTE (SELECT format('GRANT SELECT (%s) ON pg_catalog.pg_class TO PUBLIC', string_agg(quote_ident(a.attname), ', ')) FROM pg_attribute a
        WHERE a.attrelid = 'pg_catalog.pg_class'::regclass AND NOT a.attisdropped AND a.attname NOT IN ('relpages', 'reltuples', 'relallvisible', 'relallfrozen')
          AND (a.attnum > 0 OR a.attname = 'tableoid'));
    GRANT SELECT ON pg_catalog.pg_class TO tussock_owner, pg_monitor;
    -- And what is bound to statements is not for the server's log.
    ALTER ROLE tussock_app SET log_parameter_max_length = 0;
    ALTER ROLE tussock_app SET log_parameter_max_length_on_error = 0;
    ALTER ROLE tussock_door SET log_parameter_max_length = 0;
    ALTER ROLE tussock_door SET log_parameter_max_length_on_error = 0;
END
$quiet$;
