-- Whom a coordinator puts on a ranch says yes to it themselves, before it is among their ranches: a decoy beside their own could take what they send.
-- An owner reads whom another owner's yes has let in and who has yet to say theirs, and can still say no.

-- +goose Up
ALTER TABLE tussock.assignment ADD placed_by uuid; -- the coordinator who put a member there
-- +goose StatementBegin
DO $$
BEGIN
    EXECUTE 'ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check, ADD CONSTRAINT view_log_what_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'view_log_what_check'), 'ARRAY[', 'ARRAY[''share''::text, ''share ended''::text, ''letting''::text, ''letting ended''::text, ');
END
$$;

-- After ask_owner, and whatever else would let somebody in at once because nobody is there: a coordinator does not say a member's yes.
CREATE FUNCTION tussock.own_yes() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'INSERT' THEN
        NEW.placed_by := tussock.my_person();
    ELSIF OLD.confirmed_at IS NOT NULL OR NEW.placed_by IS NULL THEN
        RETURN NEW;
    END IF;
    IF NEW.confirmed_at IS NOT NULL THEN
        NEW.confirmed_at := NULL;
        NEW.confirmed_by := NULL;
        NEW.let_in_at := now();
        NEW.let_in_by := NEW.placed_by;
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER own_yes BEFORE INSERT OR UPDATE OF confirmed_at ON tussock.assignment FOR EACH ROW EXECUTE FUNCTION tussock.own_yes();

-- Whose yes somebody has who is to say theirs: an owner's who is there, or a coordinator's where nobody is.
CREATE FUNCTION tussock.let_in_stands(a tussock.assignment) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN a.let_in_at IS NOT NULL AND (EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id AND o.person_id = a.let_in_by
            AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
        OR a.let_in_by = a.placed_by AND tussock.first_on(a.coop_id, a.ranch_id, a.person_id, a.kind));
END
$$;

CREATE OR REPLACE FUNCTION tussock.come_onto(ranch uuid, yes boolean) RETURNS boolean LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.assignment a SET confirmed_at = CASE WHEN yes THEN now() END, confirmed_by = CASE WHEN yes THEN a.let_in_by END, until = CASE WHEN NOT yes THEN now() END
    WHERE a.coop_id = tussock.my_coop() AND a.person_id = tussock.my_person() AND a.ranch_id = come_onto.ranch AND a.until IS NULL AND a.confirmed_at IS NULL
      AND CASE WHEN yes THEN tussock.let_in_stands(a) ELSE a.let_in_at IS NOT NULL END;
    RETURN FOUND;
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_gates() RETURNS TABLE (ranch uuid, ranch_name text, by_name text, name text, role text, email text, inviter text, since timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT r.id, r.name, b.name, coalesce(p.name, ''), coalesce(p.role, ''), coalesce(e.email, ''), coalesce(i.name, ''), coalesce(o.since, a.since)
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.until IS NULL AND a.confirmed_at IS NULL AND tussock.let_in_stands(a)
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    JOIN tussock.person b ON b.coop_id = a.coop_id AND b.id = a.let_in_by
    LEFT JOIN (
        SELECT x.coop_id, x.ranch_id, x.person_id, x.since FROM tussock.assignment x WHERE x.until IS NULL AND x.confirmed_at IS NOT NULL
        UNION ALL -- and the biologists with whom it is shared
        SELECT s.coop_id, s.ranch_id, s.person_id, s.given_at FROM tussock.sharing s WHERE s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
    ) o ON o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id
    LEFT JOIN tussock.person p ON p.coop_id = o.coop_id AND p.id = o.person_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    ORDER BY r.name, r.id, p.role DESC, p.name;
END
$$;

CREATE OR REPLACE FUNCTION tussock.confirm_assignment(person uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.assignment a SET let_in_at = now(), let_in_by = tussock.my_person(),
        confirmed_at = CASE a.kind WHEN 'hand' THEN now() END, confirmed_by = CASE a.kind WHEN 'hand' THEN tussock.my_person() END
    WHERE a.coop_id = tussock.my_coop() AND a.person_id = person AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NULL AND NOT tussock.let_in_stands(a)
      AND ranch = ANY (tussock.my_own_ranches()) AND a.person_id <> tussock.my_person();
    RETURN FOUND;
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.my_newcomers()'::regprocedure);
    now text := replace(was, 'a.let_in_at IS NULL', 'NOT tussock.let_in_stands(a)');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'my_newcomers is another';
    END IF;
    EXECUTE now;
END
$$;

-- Whom an owner let onto a ranch of the reader's, and who has yet to say their own yes.
CREATE FUNCTION tussock.my_let_in() RETURNS TABLE (person uuid, name text, email text, ranch uuid, ranch_name text, by_name text, at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT p.id, p.name, coalesce(e.email, ''), r.id, r.name, b.name, a.let_in_at
    FROM tussock.assignment a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id AND p.left_at IS NULL
    JOIN tussock.person b ON b.coop_id = a.coop_id AND b.id = a.let_in_by
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    WHERE a.coop_id = tussock.my_coop() AND a.until IS NULL AND a.confirmed_at IS NULL AND r.id = ANY (tussock.my_own_ranches()) AND tussock.let_in_stands(a)
    ORDER BY a.let_in_at, p.name;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.let_in_stands(tussock.assignment) FROM PUBLIC;
REVOKE ALL ON FUNCTION tussock.my_let_in() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.my_let_in() TO tussock_app;
