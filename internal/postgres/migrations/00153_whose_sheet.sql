-- A hand may change what the hand sent, until an owner of the ranch has accepted or changed it; an owner may change every
-- sheet. Of each sheet it stands who took it back, or let it count again, and when.

-- +goose Up
-- +goose StatementBegin
ALTER TABLE tussock.upload ADD COLUMN owners_since timestamptz; -- since when an owner of the ranch alone may change it
ALTER TABLE tussock.upload ADD COLUMN state_by uuid;
ALTER TABLE tussock.upload ADD COLUMN state_at timestamptz;
ALTER TABLE tussock.upload ADD CONSTRAINT upload_state_by_fkey FOREIGN KEY (coop_id, state_by) REFERENCES tussock.person;

CREATE FUNCTION tussock.note_sheet() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF me IS NULL THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'INSERT' THEN
        NEW.owners_since := NULL;
        NEW.state_by := NULL;
        NEW.state_at := NULL;
        RETURN NEW;
    END IF;
    IF NEW.ranch_id = ANY (tussock.my_own_ranches()) THEN
        NEW.owners_since := coalesce(OLD.owners_since, now());
    END IF;
    IF NEW.state IS DISTINCT FROM OLD.state THEN
        NEW.state_by := me;
        NEW.state_at := now();
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER note_sheet BEFORE INSERT OR UPDATE ON tussock.upload FOR EACH ROW EXECUTE FUNCTION tussock.note_sheet();
-- +goose StatementEnd

DROP POLICY own_change ON tussock.upload;
CREATE POLICY own_change ON tussock.upload FOR UPDATE TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[])
        OR ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND sent_by = (SELECT tussock.my_person()) AND owners_since IS NULL);
CREATE POLICY whose ON tussock.reading AS RESTRICTIVE FOR UPDATE TO tussock_app
    USING (EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = reading.coop_id AND u.ranch_id = reading.ranch_id AND u.id = reading.upload_id
        AND (u.ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) OR u.sent_by = (SELECT tussock.my_person()) AND u.owners_since IS NULL)));
