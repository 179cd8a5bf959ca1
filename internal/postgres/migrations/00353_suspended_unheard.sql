-- A suspension freezes nothing that its owner had no time to answer: nobody is suspended within fourteen days after a coordinator changed what the
-- list says of their ranch, unless it says again what it said before, or put a ranch under their name. While somebody is suspended no ranch
-- comes under their name and no word for them is taken back. And no coordinator is asked off who is suspended, or came in again
-- less than fourteen days ago.

-- +goose Up
-- +goose StatementBegin
-- A ranch of which an owner has had no time to answer what a coordinator changed; NULL where there is none.
CREATE FUNCTION tussock.unheard(coop uuid, owner uuid) RETURNS text LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        WITH lately AS (
            SELECT DISTINCT ON (x.ranch_id, x.kind) x.ranch_id, x.kind, x.was FROM tussock.roster_change x JOIN tussock.person c ON c.coop_id = x.coop_id AND c.id = x.person_id AND c.role = 'coordinator'
            WHERE x.coop_id = coop AND x.at > now() - interval '14 days' AND x.kind IN ('ranch', 'ranch name', 'ranch area', 'ranch owner') ORDER BY x.ranch_id, x.kind, x.at
        )
        SELECT min(r.name) FROM lately l
        JOIN tussock.ranch r ON r.coop_id = coop AND r.id = l.ranch_id AND r.erased_at IS NULL
        JOIN tussock.entity e ON e.coop_id = coop AND e.id = r.entity_id
        LEFT JOIN tussock.area a ON a.coop_id = coop AND a.id = r.area_id
        WHERE tussock.owns(coop, r.id, owner) AND l.was <> CASE l.kind WHEN 'ranch name' THEN r.name WHEN 'ranch area' THEN coalesce(a.name, '') WHEN 'ranch owner' THEN e.name ELSE l.was END
           OR l.kind IN ('ranch', 'ranch owner') AND owner = ANY (tussock.bearers(coop, r.id)));
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.suspend(uuid)'::regprocedure);
    now text := replace(was, '    -- Another one, who was here', '    IF tussock.unheard(coop, who) IS NOT NULL THEN
        RAISE EXCEPTION ''not heard'' USING ERRCODE = ''23505'', CONSTRAINT = ''person_unheard_check'';
    END IF;
    -- Another one, who was here');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'suspend is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.ask_removal(uuid)'::regprocedure);
    now := replace(was, '    IF p.remove_asked_by IS NOT DISTINCT', '    IF p.suspended_at IS NOT NULL OR p.let_in_at > now() - interval ''14 days'' THEN
        RAISE EXCEPTION ''cannot answer'' USING ERRCODE = ''23505'', CONSTRAINT = ''person_answers_check'';
    END IF;
    IF p.remove_asked_by IS NOT DISTINCT');
    IF now = was THEN
        RAISE EXCEPTION 'ask_removal is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.may_remove(tussock.person)'::regprocedure); -- nobody who is suspended is asked off
    now := replace(was, ' AND p.suspended_at IS NULL
', '
');
    IF now = was THEN
        RAISE EXCEPTION 'may_remove is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.keep_coordinator()'::regprocedure);
    now := replace(was, '    IF OLD.suspended_at IS NOT NULL AND NEW.suspended_at IS NULL AND NEW.remove_asked_at IS NOT NULL THEN
        NEW.remove_asked_at := now(); -- who could not say no has their fourteen days
    END IF;
', '');
    IF now = was THEN
        RAISE EXCEPTION 'keep_coordinator is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.date_vouch()'::regprocedure);
    now := replace(was, '    IF TG_OP = ''UPDATE'' THEN
', '    IF TG_OP = ''UPDATE'' AND OLD.ended_at IS NULL AND NEW.ended_at IS NOT NULL AND EXISTS (
        SELECT 1 FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.id = NEW.owner_id AND p.suspended_at IS NOT NULL) THEN
        RAISE EXCEPTION ''cannot answer'' USING ERRCODE = ''23505'', CONSTRAINT = ''vouch_suspended_check'';
    END IF;
    IF TG_OP = ''UPDATE'' THEN
');
    IF now = was THEN
        RAISE EXCEPTION 'date_vouch is another';
    END IF;
    EXECUTE now;
END
$$;

CREATE OR REPLACE FUNCTION tussock.keep_record() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE called text;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'UPDATE' AND EXISTS (
        SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
          AND (p.suspended_at IS NOT NULL OR p.let_in_at > now() - interval '14 days')) THEN
        RAISE EXCEPTION 'an owner cannot answer' USING ERRCODE = '23505', CONSTRAINT = 'ranch_suspended_check';
    END IF;
    IF TG_OP = 'UPDATE' AND NEW.entity_id = OLD.entity_id THEN
        RETURN NEW;
    END IF;
    called := (SELECT e.folded FROM tussock.entity e WHERE e.coop_id = NEW.coop_id AND e.id = NEW.entity_id);
    IF EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.role = 'landowner' AND p.left_at IS NULL AND p.suspended_at IS NOT NULL
        AND (tussock.alike(p.folded, called) OR EXISTS (
            SELECT 1 FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
            WHERE a.coop_id = p.coop_id AND a.person_id = p.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND r.erased_at IS NULL AND tussock.alike(e.folded, called)))) THEN
        RAISE EXCEPTION 'who bears the name cannot answer' USING ERRCODE = '23505', CONSTRAINT = 'ranch_suspended_name_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER keep_record_added BEFORE INSERT ON tussock.ranch FOR EACH ROW EXECUTE FUNCTION tussock.keep_record();
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.unheard(uuid, uuid) FROM PUBLIC;
