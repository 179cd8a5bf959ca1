-- A coordinator keeps a member out by a suspension alone: once in any 90 days, for 14 of them at most. More takes another coordinator, and
-- signing a member out, which one did as often as they liked, is no power of theirs. A suspension calls the asking for a coordinator to be
-- removed off, as it does for owners; and the record of a ranch stands while an owner of it is suspended, and for 14 days after.

-- +goose Up
ALTER TABLE tussock.person
    ADD suspended_last_by uuid, -- by whom, also after it has ended
    ADD let_in_at timestamptz;  -- when the last one ended
UPDATE tussock.person SET suspended_last_by = suspended_by WHERE suspended_by IS NOT NULL;

-- +goose StatementBegin
-- Suspends a member and ends all that they are signed in with; false where there is none or the reader may not. Whoever is suspended
-- already stays so.
CREATE OR REPLACE FUNCTION tussock.suspend(who uuid) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    p tussock.person;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' OR who = me THEN
        RETURN false;
    END IF;
    SELECT * INTO p FROM tussock.person x WHERE x.coop_id = coop AND x.id = who AND x.left_at IS NULL FOR UPDATE;
    IF NOT FOUND OR p.suspended_at IS NOT NULL THEN
        RETURN p.id IS NOT NULL;
    END IF;
    IF p.role = 'coordinator' AND tussock.came_after(p) THEN
        RAISE EXCEPTION 'came lately' USING ERRCODE = '23505', CONSTRAINT = 'person_lately_check';
    END IF;
    -- Another one, who was here for thirty days when the last one began, so that nobody brings in a friend for it.
    IF p.suspended_first > now() - interval '90 days' AND NOT EXISTS (SELECT 1 FROM tussock.person m
        WHERE m.coop_id = coop AND m.id = me AND m.id <> p.suspended_last_by AND m.joined_at <= p.suspended_first - interval '30 days') THEN
        RAISE EXCEPTION 'suspended lately' USING ERRCODE = '23505', CONSTRAINT = 'person_suspended_check';
    END IF;
    UPDATE tussock.person x SET suspended_at = now(), suspended_by = me, suspended_last_by = me, suspension_kept_by = NULL, suspended_first = now()
    WHERE x.coop_id = coop AND x.id = who;
    UPDATE tussock.api_token t SET revoked_at = now() WHERE t.coop_id = coop AND t.person_id = who AND t.revoked_at IS NULL;
    UPDATE tussock.calendar c SET revoked_at = now() WHERE c.coop_id = coop AND c.person_id = who AND c.revoked_at IS NULL;
    DELETE FROM tussock.device d WHERE d.coop_id = coop AND d.person_id = who;
    DELETE FROM tussock.step s WHERE s.coop_id = coop AND s.person_id = who;
    UPDATE tussock.session s SET closed_at = now() WHERE s.coop_id = coop AND s.person_id = who AND s.closed_at IS NULL;
    RETURN true;
END
$$;
DROP FUNCTION tussock.close_sessions_of(uuid);

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.keep_coordinator()'::regprocedure);
    now text := replace(was, '    IF OLD.suspended_at IS NOT NULL AND NEW.suspended_at IS NULL AND', '    IF OLD.suspended_at IS NULL AND NEW.suspended_at IS NOT NULL THEN -- who cannot say no is asked nothing
        NEW.remove_asked_at := NULL;
        NEW.remove_asked_by := NULL;
    END IF;
    IF OLD.suspended_at IS NOT NULL AND NEW.suspended_at IS NULL THEN
        NEW.let_in_at := now();
    END IF;
    IF OLD.suspended_at IS NOT NULL AND NEW.suspended_at IS NULL AND');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'keep_coordinator is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.may_remove(tussock.person)'::regprocedure);
    now := replace(was, 'AND (p.suspended_at IS NULL OR p.suspension_kept_by IS NOT NULL)', 'AND p.suspended_at IS NULL');
    IF now = was THEN
        RAISE EXCEPTION 'may_remove is another';
    END IF;
    EXECUTE now;
END
$$;

CREATE OR REPLACE FUNCTION tussock.log_suspension() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.left_at IS NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id, became) VALUES (NEW.coop_id, tussock.my_person(),
            CASE WHEN NEW.suspended_at IS NULL THEN 'suspension ended' WHEN NEW.suspension_kept_by IS NOT NULL THEN 'suspension kept' ELSE 'suspended' END, NEW.name, NEW.id,
            CASE WHEN NEW.suspended_at IS NOT NULL AND NEW.suspended_by IS NOT NULL AND NEW.suspension_kept_by IS NULL
                THEN ((NEW.suspended_first + interval '14 days') AT TIME ZONE 'UTC')::date::text ELSE '' END);
        IF OLD.remove_asked_at IS NOT NULL AND NEW.remove_asked_at IS NULL THEN
            INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id, was) VALUES (NEW.coop_id, tussock.my_person(), 'remove ended', NEW.name, NEW.id, 'suspended');
        END IF;
    END IF;
    RETURN NULL;
END
$$;

-- A coordinator who is suspended is one still.
DROP FUNCTION tussock.coordinator_changes();
CREATE FUNCTION tussock.coordinator_changes() RETURNS TABLE (name text, what text, changed_at timestamptz) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT p.name, c.what, c.at
    FROM tussock.person p CROSS JOIN LATERAL (VALUES ('came', p.joined_at), ('gone', p.left_at), ('suspended', CASE WHEN p.left_at IS NULL THEN p.suspended_at END)) c (what, at)
    WHERE p.coop_id = (SELECT tussock.my_coop()) AND p.role = 'coordinator' AND c.at > now() - interval '30 days'
    ORDER BY c.at DESC;
END
$$;

CREATE FUNCTION tussock.keep_record() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF tussock.my_role() = 'coordinator' AND EXISTS (
        SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
          AND (p.suspended_at IS NOT NULL OR p.let_in_at > now() - interval '14 days')) THEN
        RAISE EXCEPTION 'an owner cannot answer' USING ERRCODE = '23505', CONSTRAINT = 'ranch_suspended_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER keep_record BEFORE UPDATE OF name, area_id, entity_id ON tussock.ranch FOR EACH ROW
    WHEN ((OLD.name, OLD.area_id, OLD.entity_id) IS DISTINCT FROM (NEW.name, NEW.area_id, NEW.entity_id)) EXECUTE FUNCTION tussock.keep_record();
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.coordinator_changes() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.coordinator_changes() TO tussock_app;
