-- Whose place on a ranch ends by somebody else's hand, and who is removed, is a line for the owners, and where a coordinator did it for all.
-- A coordinator ends a hand's place only where a ranch has no owner, who else does. What was shared with somebody who goes ends with a
-- date and with who ended it.

-- +goose Up
ALTER TABLE tussock.sharing ADD ended_by uuid;
-- +goose StatementBegin
DO $$
BEGIN
    EXECUTE 'ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check, ADD CONSTRAINT roster_change_kind_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'roster_change_kind_check'), 'ARRAY[', 'ARRAY[''place ended''::text, ''member gone''::text, ');
    EXECUTE 'ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check, ADD CONSTRAINT view_log_what_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'view_log_what_check'), 'ARRAY[', 'ARRAY[''place ended''::text, ');
END
$$;

CREATE FUNCTION tussock.has_owner(ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = tussock.my_coop() AND a.ranch_id = has_owner.ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
END
$$;

CREATE FUNCTION tussock.log_place() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    me uuid := tussock.my_person();
    called text := (SELECT p.name FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.id = NEW.person_id);
BEGIN
    IF me IS NULL OR me = NEW.person_id THEN
        RETURN NULL;
    END IF;
    IF NEW.confirmed_at IS NOT NULL THEN
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item) VALUES (NEW.coop_id, NEW.ranch_id, me, now(), 'place ended', left(called, 80));
    END IF;
    IF tussock.my_role() = 'coordinator' THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
        SELECT NEW.coop_id, me, 'place ended', r.id, r.name, called FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_place AFTER UPDATE OF until ON tussock.assignment FOR EACH ROW WHEN (OLD.until IS NULL AND NEW.until IS NOT NULL) EXECUTE FUNCTION tussock.log_place();

CREATE FUNCTION tussock.note_who_ended_sharing() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.ended_by := coalesce(NEW.ended_by, tussock.my_person());
    RETURN NEW;
END
$$;
CREATE TRIGGER note_who_ended BEFORE UPDATE OF ended_at ON tussock.sharing FOR EACH ROW WHEN (OLD.ended_at IS NULL AND NEW.ended_at IS NOT NULL) EXECUTE FUNCTION tussock.note_who_ended_sharing();

-- What somebody who goes could open ends with it. After keep_owner, which refuses owners: triggers go by their names.
CREATE FUNCTION tussock.end_places() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    me uuid := coalesce(tussock.my_person(), NEW.id);
    s record;
BEGIN
    FOR s IN
        UPDATE tussock.sharing x SET ended_at = now(), ended_by = me WHERE x.coop_id = NEW.coop_id AND x.person_id = NEW.id AND x.ended_at IS NULL
        RETURNING x.ranch_id, x.purpose
    LOOP
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item) VALUES (NEW.coop_id, s.ranch_id, me, now(), 'share ended', left(s.purpose, 80));
    END LOOP;
    IF tussock.my_role() = 'coordinator' AND me <> NEW.id THEN
        UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = NEW.coop_id AND a.person_id = NEW.id AND a.until IS NULL;
        IF NEW.role <> 'coordinator' THEN
            INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id, became) VALUES (NEW.coop_id, me, 'member gone', NEW.name, NEW.id, NEW.role);
        END IF;
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER places_end AFTER UPDATE OF left_at ON tussock.person FOR EACH ROW WHEN (OLD.left_at IS NULL AND NEW.left_at IS NOT NULL) EXECUTE FUNCTION tussock.end_places();

-- An owner reads by name who sent a sheet for them, and who ended somebody's place on their ranch or a sharing of it.
CREATE OR REPLACE FUNCTION tussock.my_senders() RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    own uuid[] := tussock.my_own_ranches();
BEGIN
    RETURN ARRAY(
        SELECT u.sent_by FROM tussock.upload u WHERE u.coop_id = coop AND u.called <> '' AND u.ranch_id = ANY (own)
        UNION SELECT a.ended_by FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ANY (own) AND a.ended_by IS NOT NULL
        UNION SELECT s.ended_by FROM tussock.sharing s WHERE s.coop_id = coop AND s.ranch_id = ANY (own) AND s.ended_by IS NOT NULL);
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.ring()'::regprocedure);
    now text := replace(was, '''share ended'', ', '''share ended'', ''place ended'', ');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'ring is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.has_owner(uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.has_owner(uuid) TO tussock_app;
DROP POLICY coordinator_end ON tussock.assignment;
CREATE POLICY coordinator_end ON tussock.assignment FOR UPDATE TO tussock_app
    USING ((SELECT tussock.my_role()) = 'coordinator' AND (confirmed_at IS NULL OR kind = 'hand' AND NOT tussock.has_owner(ranch_id)))
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator');
