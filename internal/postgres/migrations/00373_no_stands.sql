-- An owner's no to being taken off a ranch is a no to all coordinators who asked for it, and for 90 days to any who would ask again. Another owner
-- of the ranch asks on their own account, which a no never ended. And who joins under another name than was asked in is a line whatever their part.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION tussock.no_stands() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NOT tussock.owns(NEW.coop_id, NEW.ranch_id, NEW.person_id) AND EXISTS (
        SELECT 1 FROM tussock.departure d WHERE d.coop_id = NEW.coop_id AND d.ranch_id = NEW.ranch_id AND d.whom = NEW.whom AND d.kind = 'take off'
           AND d.called_off_by <> d.person_id AND d.called_off_at > now() - interval '90 days') THEN
        RAISE EXCEPTION 'they said no' USING ERRCODE = '23505', CONSTRAINT = 'departure_no_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER no_stands BEFORE INSERT ON tussock.departure FOR EACH ROW WHEN (NEW.kind = 'take off') EXECUTE FUNCTION tussock.no_stands();

CREATE FUNCTION tussock.no_to_all() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.departure d SET called_off_at = NEW.called_off_at, called_off_by = NEW.called_off_by
    WHERE d.coop_id = NEW.coop_id AND d.ranch_id = NEW.ranch_id AND d.whom = NEW.whom AND d.kind = 'take off' AND d.done_at IS NULL AND d.called_off_at IS NULL
      AND d.person_id <> NEW.called_off_by AND NOT tussock.owns(d.coop_id, d.ranch_id, d.person_id);
    RETURN NULL;
END
$$;
CREATE TRIGGER no_to_all AFTER UPDATE OF called_off_at ON tussock.departure FOR EACH ROW
    WHEN (NEW.kind = 'take off' AND OLD.called_off_at IS NULL AND NEW.called_off_by <> NEW.person_id) EXECUTE FUNCTION tussock.no_to_all();

CREATE OR REPLACE FUNCTION tussock.log_other_name() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became, about_id)
    SELECT NEW.coop_id, NEW.invited_by, 'other name', r.id, coalesce(r.name, ''), asked.name, NEW.name, NEW.id
    FROM tussock.invitation i
    LEFT JOIN tussock.ranch r ON r.coop_id = i.coop_id AND r.id = ANY (i.ranches) AND i.role = 'landowner'
    LEFT JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
    CROSS JOIN LATERAL (SELECT CASE WHEN r.id IS NULL OR tussock.alike(e.folded, NEW.folded) OR e.name = r.name OR EXISTS (SELECT 1 FROM tussock.assignment a
        WHERE a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN i.name ELSE e.name END) asked (name) -- no owner was named, or a further one has another name than the first
    WHERE i.coop_id = NEW.coop_id AND i.id = NEW.invitation_id AND asked.name <> '' AND NOT tussock.alike(tussock.fold(asked.name), NEW.folded);
    RETURN NULL;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.no_stands(), tussock.no_to_all() FROM PUBLIC;
DROP TRIGGER log_other_name ON tussock.person;
CREATE TRIGGER log_other_name AFTER INSERT ON tussock.person FOR EACH ROW WHEN (NEW.invitation_id IS NOT NULL) EXECUTE FUNCTION tussock.log_other_name();
