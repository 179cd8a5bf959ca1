-- How many landowners the roster has, for a coordinator: names that look alike are one, as everywhere.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION tussock.landowners_on_record() RETURNS bigint LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        WITH RECURSIVE owner AS MATERIALIZED (
            SELECT DISTINCT e.id, e.folded FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
            WHERE r.coop_id = tussock.my_coop() AND r.erased_at IS NULL AND tussock.my_role() = 'coordinator'
        ), link AS MATERIALIZED (
            SELECT x.id AS a, y.id AS b FROM owner x JOIN owner y ON tussock.alike(x.folded, y.folded)
        ), reach AS (
            SELECT l.a, l.b FROM link l UNION SELECT r.a, l.b FROM reach r JOIN link l ON l.a = r.b
        )
        SELECT count(DISTINCT one.least) FROM (SELECT min(r.b::text) AS least FROM reach r GROUP BY r.a) one);
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.landowners_on_record() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.landowners_on_record() TO tussock_app;
