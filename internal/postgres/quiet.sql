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
