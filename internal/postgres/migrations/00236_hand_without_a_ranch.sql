-- A hand who works on no ranch any more reads no changes of the cooperative: they name its ranches, owners and members.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    was text := pg_get_functiondef('tussock.roster_log(timestamptz)'::regprocedure);
    now text := replace(was, E'BEGIN\n    RETURN QUERY', E'BEGIN\n    IF tussock.my_role() = ''hand'' AND tussock.my_ranches() = ''{}'' THEN\n        RETURN;\n    END IF;\n    RETURN QUERY');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'roster_log is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
