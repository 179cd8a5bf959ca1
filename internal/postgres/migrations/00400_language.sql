-- The language of a reader is called one everywhere.

-- +goose Up
ALTER TABLE tussock.calendar RENAME COLUMN tongue TO language;
ALTER TABLE tussock.calendar RENAME CONSTRAINT calendar_tongue_check TO calendar_language_check;
ALTER TABLE tussock.reminder RENAME COLUMN tongue TO language;
ALTER TABLE tussock.reminder RENAME CONSTRAINT reminder_tongue_check TO reminder_language_check;

-- +goose StatementBegin
DO $$
DECLARE
    calendar text := replace(pg_get_functiondef('tussock.calendar_lines(bytea)'::regprocedure), 'tongue', 'language');
    reminder text := replace(pg_get_functiondef('tussock.reminder_letters(date)'::regprocedure), 'tongue', 'language');
BEGIN
    DROP FUNCTION tussock.calendar_lines(bytea), tussock.reminder_letters(date);
    EXECUTE calendar;
    EXECUTE reminder;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.calendar_lines(bytea), tussock.reminder_letters(date) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.calendar_lines(bytea), tussock.reminder_letters(date) TO tussock_door;
