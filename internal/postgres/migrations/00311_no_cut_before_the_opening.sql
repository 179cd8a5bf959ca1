-- A season whose dates are written down while others are carried out is cut off only once it has been opened: the copy of a season
-- without a roster is empty, and stays so.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    was text := pg_get_functiondef('tussock.freeze_due(uuid)'::regprocedure);
    now text := replace(was, 'x.cut_off_on <= tussock.today()', 'x.opened_at IS NOT NULL AND x.cut_off_on <= tussock.today()');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'freeze_due is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
