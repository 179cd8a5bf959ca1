-- The days of the checks that a season's bulletin counts by are those of the targets of its opening, as everything else it is held against.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.edition_checks()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    t record;
BEGIN
    SELECT x.first_check, x.last_check INTO t FROM tussock.season s JOIN tussock.targets x ON x.coop_id = s.coop_id AND x.version = greatest(s.targets, 1)
    WHERE s.coop_id = NEW.coop_id AND s.year = NEW.season;
    IF FOUND THEN
        NEW.first_check := t.first_check;
        NEW.last_check := t.last_check;
    END IF;
    RETURN NEW;
END
$function$;
-- +goose StatementEnd
