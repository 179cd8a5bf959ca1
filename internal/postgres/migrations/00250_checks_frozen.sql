-- The days of the checks that a season's bulletin counts by are those that the cooperative had at the season's cut-off, and stay with the bulletin.

-- +goose Up
ALTER TABLE tussock.edition ADD COLUMN first_check integer NOT NULL DEFAULT 14, ADD COLUMN last_check integer NOT NULL DEFAULT 28;
ALTER TABLE pub.bulletin ADD COLUMN first_check integer NOT NULL DEFAULT 14, ADD COLUMN last_check integer NOT NULL DEFAULT 28;

-- +goose StatementBegin
CREATE FUNCTION tussock.edition_checks()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    SELECT c.first_check, c.last_check INTO NEW.first_check, NEW.last_check FROM tussock.coop c WHERE c.coop_id = NEW.coop_id;
    RETURN NEW;
END
$function$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.edition_checks() FROM PUBLIC;
CREATE TRIGGER edition_checks BEFORE INSERT ON tussock.edition FOR EACH ROW EXECUTE FUNCTION tussock.edition_checks();
