-- A ranch with several owners is handed over only where each of the others says yes, and by nobody while an owner is asked off or suspended.
-- Asking for it, each yes, its end and its being done are lines for all members. It stands in nobody's way who would delete the ranch:
-- whichever can be done first ends the other.

-- +goose Up
ALTER TABLE tussock.departure ADD owners_yes uuid[] NOT NULL DEFAULT '{}'; -- the other owners who said yes to a hand-over
DROP INDEX tussock.departure_ranch;
CREATE UNIQUE INDEX departure_ranch ON tussock.departure (coop_id, ranch_id, kind) WHERE done_at IS NULL AND called_off_at IS NULL AND kind IN ('erase', 'hand over');
-- +goose StatementBegin
DO $$
BEGIN
    EXECUTE 'ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check, ADD CONSTRAINT roster_change_kind_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'roster_change_kind_check'), 'ARRAY[',
            'ARRAY[''hand over''::text, ''hand over yes''::text, ''hand over ended''::text, ''handed over''::text, ');
END
$$;

-- Whether an owner of a ranch is to be taken off it.
CREATE FUNCTION tussock.asked_off(coop uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.departure x WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.kind = 'take off' AND x.done_at IS NULL AND x.called_off_at IS NULL);
END
$$;

CREATE FUNCTION tussock.check_hand_over() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF tussock.asked_off(NEW.coop_id, NEW.ranch_id) THEN
        RAISE EXCEPTION 'an owner is asked off' USING ERRCODE = '23505', CONSTRAINT = 'departure_disputed_check';
    END IF;
    IF EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.suspended_at IS NOT NULL AND tussock.owns(NEW.coop_id, NEW.ranch_id, p.id)) THEN
        RAISE EXCEPTION 'an owner is suspended' USING ERRCODE = '23505', CONSTRAINT = 'departure_suspended_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER check_hand_over BEFORE INSERT ON tussock.departure FOR EACH ROW WHEN (NEW.kind = 'hand over') EXECUTE FUNCTION tussock.check_hand_over();

-- The other owners whose yes a hand-over has yet to get.
CREATE FUNCTION tussock.hand_over_lacks(d tussock.departure) RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN ARRAY(SELECT a.person_id FROM tussock.assignment a WHERE a.coop_id = d.coop_id AND a.ranch_id = d.ranch_id AND a.kind = 'owner' AND a.until IS NULL
        AND a.confirmed_at IS NOT NULL AND a.person_id <> d.person_id AND a.person_id <> ALL (d.owners_yes));
END
$$;

-- Another owner's yes to a hand-over. Their no calls it off.
CREATE FUNCTION tussock.agree_hand_over(which uuid) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    me uuid := tussock.my_person();
    d tussock.departure;
BEGIN
    UPDATE tussock.departure x SET owners_yes = x.owners_yes || me
    WHERE x.coop_id = tussock.my_coop() AND x.id = which AND x.kind = 'hand over' AND x.done_at IS NULL AND x.called_off_at IS NULL
      AND x.ranch_id = ANY (tussock.my_own_ranches()) AND me = ANY (tussock.hand_over_lacks(x))
    RETURNING * INTO d;
    IF d.id IS NULL THEN
        RETURN false;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what) SELECT d.coop_id, me, 'hand over yes', r.id, r.name
    FROM tussock.ranch r WHERE r.coop_id = d.coop_id AND r.id = d.ranch_id;
    RETURN true;
END
$$;

CREATE FUNCTION tussock.log_hand_over() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE kind text := CASE WHEN TG_OP = 'INSERT' THEN 'hand over' WHEN OLD.called_off_at IS NULL AND NEW.called_off_at IS NOT NULL THEN 'hand over ended'
    WHEN OLD.done_at IS NULL AND NEW.done_at IS NOT NULL THEN 'handed over' END;
BEGIN
    IF kind IS NOT NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, became)
        SELECT NEW.coop_id, CASE kind WHEN 'hand over ended' THEN NEW.called_off_by ELSE NEW.person_id END, kind, r.id, r.name,
            CASE kind WHEN 'handed over' THEN coalesce((SELECT p.name FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.id = NEW.agreed_by), '') ELSE '' END
        FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id AND r.erased_at IS NULL;
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_hand_over AFTER INSERT OR UPDATE ON tussock.departure FOR EACH ROW WHEN (NEW.kind = 'hand over') EXECUTE FUNCTION tussock.log_hand_over();

-- What was under way for a ranch that has been deleted or has gone to others meanwhile.
CREATE FUNCTION tussock.departure_over(d tussock.departure) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN d.kind IN ('erase', 'hand over') AND (EXISTS (SELECT 1 FROM tussock.ranch r WHERE r.coop_id = d.coop_id AND r.id = d.ranch_id AND r.erased_at IS NOT NULL)
        OR NOT tussock.owns(d.coop_id, d.ranch_id, d.person_id) AND EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = d.coop_id AND o.ranch_id = d.ranch_id
            AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL));
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.carry_out(timestamptz)'::regprocedure);
    now text := replace(replace(replace(was,
        'AND (x.kind <> ''take off'' OR NOT tussock.disputed(x.coop_id, x.ranch_id, x.whom))',
        'AND (x.kind <> ''take off'' OR NOT tussock.disputed(x.coop_id, x.ranch_id, x.whom))
          AND (x.kind <> ''hand over'' OR tussock.hand_over_lacks(x) = ''{}'' AND NOT tussock.asked_off(x.coop_id, x.ranch_id))'),
        E'    LOOP\n        BEGIN\n', E'    LOOP\n        IF tussock.departure_over(d) THEN\n            UPDATE tussock.departure x SET called_off_at = at, heir = '''' WHERE x.coop_id = d.coop_id AND x.id = d.id;\n            CONTINUE;\n        END IF;\n        BEGIN\n'),
        'AND x.due_at <= at AND x.kind IN (''erase'', ''hand over'')', 'AND (x.due_at <= at OR x.kind = ''hand over'') AND x.kind IN (''erase'', ''hand over'')');
BEGIN
    IF strpos(now, 'hand_over_lacks') = 0 OR strpos(now, 'departure_over') = 0 OR strpos(now, 'OR x.kind = ''hand over'') AND') = 0 THEN
        RAISE EXCEPTION 'carry_out is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.asked_off(uuid, uuid), tussock.check_hand_over(), tussock.hand_over_lacks(tussock.departure), tussock.agree_hand_over(uuid),
    tussock.log_hand_over(), tussock.departure_over(tussock.departure) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.agree_hand_over(uuid) TO tussock_app;
