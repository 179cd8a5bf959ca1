-- Who reads the changes reads every one of them, and reads which are of one person where people are not named.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    f text[];
    was text := pg_get_functiondef('tussock.roster_log(timestamptz)'::regprocedure);
    now text := was;
BEGIN
    FOREACH f SLICE 1 IN ARRAY ARRAY[
        ['mine boolean, about uuid)', 'mine boolean, by_number integer)'],
        ['AND x.at <= n.till, coalesce(x.ranch_id, x.area_id)', 'AND x.at <= n.till, CASE WHEN x.person_id IS NULL THEN 0 ELSE dense_rank() OVER (ORDER BY x.person_id)::integer END']] LOOP
        IF strpos(now, f[1]) = 0 THEN
            RAISE EXCEPTION 'roster_log is another: %', f[1];
        END IF;
        now := replace(now, f[1], f[2]);
    END LOOP;
    DROP FUNCTION tussock.roster_log(timestamptz);
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.roster_log(timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.roster_log(timestamptz) TO tussock_app;
