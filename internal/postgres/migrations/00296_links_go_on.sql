-- A field link goes on while its maker is suspended: it only adds looks.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    was text := pg_get_functiondef('tussock.field_link_stands(tussock.field_link)'::regprocedure);
    now text := replace(was, ' AND p.suspended_at IS NULL', '');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'field_link_stands is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
