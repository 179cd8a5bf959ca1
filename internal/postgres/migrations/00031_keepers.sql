-- Two holes closed. One of two coordinators cannot remove the other, or bring in a friend, and then publish alone. And a
-- ranch whose last owner has gone is private until a new owner is let in, whom no coordinator can put there by themselves.

-- +goose Up
-- +goose StatementBegin
-- How many coordinators there are or were within 30 days: from two on, what one orders to be published needs another's
-- word. Who was removed still counts that long, and everybody can read that they went (coordinator_changes).
CREATE OR REPLACE FUNCTION tussock.coordinators() RETURNS integer
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT count(*)::integer FROM tussock.person p
        WHERE p.coop_id = (SELECT tussock.my_coop()) AND p.role = 'coordinator' AND (p.left_at IS NULL OR p.left_at > now() - interval '30 days'));
END
$$;

-- The second word. Where there is or was a third coordinator within 30 days, both words must be of people who have been
-- here for a week: else one could bring in a friend and leave the third out. Two who are alone could have published
-- before the second came, so they need not wait.
CREATE OR REPLACE FUNCTION tussock.approve_order(called uuid) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    me record;
    other record;
BEGIN
    SELECT p.coop_id, p.id, p.joined_at INTO me
    FROM tussock.viewer() v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id WHERE v.role = 'coordinator';
    IF NOT FOUND THEN
        RETURN false;
    END IF;
    SELECT o.ordered_by AS id, p.joined_at INTO other
    FROM tussock.press_order o JOIN tussock.person p ON p.coop_id = o.coop_id AND p.id = o.ordered_by
    WHERE o.coop_id = me.coop_id AND o.id = called AND o.state = 'asked' AND o.ordered_by <> me.id FOR UPDATE OF o;
    IF NOT FOUND THEN
        RETURN false;
    END IF;
    IF greatest(me.joined_at, other.joined_at) > now() - interval '7 days' AND EXISTS (
        SELECT 1 FROM tussock.person p WHERE p.coop_id = me.coop_id AND p.role = 'coordinator' AND p.id NOT IN (me.id, other.id)
          AND (p.left_at IS NULL OR p.left_at > now() - interval '30 days')) THEN
        RAISE EXCEPTION 'a coordinator has been here for less than a week' USING ERRCODE = '23514', CONSTRAINT = 'press_order_newcomer_check';
    END IF;
    UPDATE tussock.press_order o SET state = 'waiting', approved_by = me.id, approved_at = now() WHERE o.coop_id = me.coop_id AND o.id = called;
    RETURN true;
END
$$;

-- As before, and when a coordinator went is the database's own time: nobody dates it back.
CREATE OR REPLACE FUNCTION tussock.keep_coordinator() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF OLD.role = 'coordinator' AND OLD.left_at IS NULL AND OLD.suspended_at IS NULL
       AND (NEW.role <> 'coordinator' OR NEW.left_at IS NOT NULL OR NEW.suspended_at IS NOT NULL) THEN
        PERFORM 1 FROM tussock.coop c WHERE c.coop_id = NEW.coop_id FOR UPDATE; -- one at a time
        PERFORM 1 FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.id <> NEW.id
            AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL;
        IF NOT FOUND THEN
            RAISE EXCEPTION 'no coordinator would be left' USING ERRCODE = '23514', CONSTRAINT = 'person_coordinator_check';
        END IF;
    END IF;
    IF OLD.role = 'coordinator' AND NEW.left_at IS DISTINCT FROM OLD.left_at AND (SELECT tussock.my_person()) IS NOT NULL THEN
        NEW.left_at := CASE WHEN NEW.left_at IS NOT NULL THEN now() END;
    END IF;
    RETURN NEW;
END
$$;

-- Who became a coordinator or stopped being one within 30 days: for every member to read.
CREATE FUNCTION tussock.coordinator_changes() RETURNS TABLE (name text, came boolean, changed_at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT p.name, c.came, c.at
    FROM tussock.person p CROSS JOIN LATERAL (VALUES (true, p.joined_at), (false, coalesce(p.left_at, p.suspended_at))) c (came, at)
    WHERE p.coop_id = (SELECT tussock.my_coop()) AND p.role = 'coordinator' AND c.at > now() - interval '30 days'
    ORDER BY c.at DESC;
END
$$;

-- Without a yes come in only those put onto a ranch that has no owner now and for which nothing was ever sent: there is
-- nothing to see.
CREATE OR REPLACE FUNCTION tussock.ask_owner() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.confirmed_at := NULL;
    NEW.confirmed_by := NULL;
    IF NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id)
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id
                       AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN
        NEW.confirmed_at := now();
    END IF;
    RETURN NEW;
END
$$;

-- A ranch whose last owner goes becomes private at that moment: in no bulletin from then on, until a new owner agrees.
CREATE FUNCTION tussock.close_ranch() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.kind = 'owner' AND NEW.confirmed_at IS NOT NULL AND OLD.until IS NULL AND NEW.until IS NOT NULL
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id
                       AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL)
       AND coalesce((SELECT c.level FROM tussock.consent c WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id
                     ORDER BY c.given_at DESC LIMIT 1), 0) > 0 THEN
        INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES (NEW.coop_id, NEW.ranch_id, 0, NEW.person_id);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER close_ranch AFTER UPDATE OF until ON tussock.assignment FOR EACH ROW EXECUTE FUNCTION tussock.close_ranch();
-- +goose StatementEnd

-- The word of other landowners for the new owner of a ranch that has none. Only the functions below read and write it.
CREATE TABLE tussock.owner_vouch (
    coop_id    uuid NOT NULL,
    person_id  uuid NOT NULL,
    ranch_id   uuid NOT NULL,
    since      timestamptz NOT NULL,
    voucher_id uuid NOT NULL,
    entity_id  uuid NOT NULL, -- of the voucher
    given_at   timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT owner_vouch_pkey PRIMARY KEY (coop_id, person_id, ranch_id, since, voucher_id),
    CONSTRAINT owner_vouch_assignment_fkey FOREIGN KEY (coop_id, person_id, ranch_id, since) REFERENCES tussock.assignment,
    CONSTRAINT owner_vouch_voucher_fkey FOREIGN KEY (coop_id, voucher_id) REFERENCES tussock.person
);
ALTER TABLE tussock.owner_vouch ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.owner_vouch FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.owner_vouch TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.owner_vouch AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));

-- +goose StatementBegin
-- The entity for which the viewer may give their word: a landowner for 30 days, with a ranch whose results are here, of an
-- owner who was vouched for. NULL for everybody else, so that a name made yesterday is worth nothing.
CREATE FUNCTION tussock.my_word() RETURNS uuid
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT r.entity_id
        FROM tussock.viewer() v
        JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
        JOIN tussock.ranch r ON r.coop_id = v.coop_id AND r.id = ANY ((SELECT tussock.my_own_ranches())::uuid[])
        JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
        WHERE p.joined_at <= now() - interval '30 days' AND e.vouched_at IS NOT NULL
          AND EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = r.coop_id AND u.ranch_id = r.id AND u.state = 'current')
        ORDER BY r.entity_id LIMIT 1);
END
$$;

-- Who waits to own a ranch that has no owner: for those whose word counts, and for the coordinator to see how it stands.
CREATE FUNCTION tussock.ownerless_waits() RETURNS TABLE (person uuid, name text, ranch uuid, ranch_name text, since timestamptz,
    opens_at timestamptz, words integer, mine boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT p.id, p.name, r.id, r.name, a.since, a.since + interval '7 days',
           (SELECT count(DISTINCT w.entity_id)::integer FROM tussock.owner_vouch w
            WHERE w.coop_id = a.coop_id AND w.person_id = a.person_id AND w.ranch_id = a.ranch_id AND w.since = a.since),
           EXISTS (SELECT 1 FROM tussock.owner_vouch w
            WHERE w.coop_id = a.coop_id AND w.person_id = a.person_id AND w.ranch_id = a.ranch_id AND w.since = a.since AND w.voucher_id = v.person_id)
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    WHERE (v.role = 'coordinator' OR (SELECT tussock.my_word()) IS NOT NULL)
      AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NULL AND p.left_at IS NULL AND p.id <> v.person_id
      AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id
                      AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
    ORDER BY a.since, p.name;
END
$$;

-- A landowner's word. No ends it: one is enough. A yes counts once a week has passed since everybody could read of it; the
-- second, of another owner, lets the new owner in. Returns what came of it, NULL where there is nothing to say.
CREATE FUNCTION tussock.vouch_owner(newcomer uuid, which uuid, yes boolean) RETURNS text
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    word uuid := (SELECT tussock.my_word());
    me uuid := (SELECT tussock.my_person());
    a record;
BEGIN
    SELECT x.coop_id, x.since, r.entity_id INTO a
    FROM tussock.assignment x JOIN tussock.ranch r ON r.coop_id = x.coop_id AND r.id = x.ranch_id
    WHERE x.coop_id = (SELECT tussock.my_coop()) AND x.person_id = newcomer AND x.ranch_id = which AND x.kind = 'owner'
      AND x.until IS NULL AND x.confirmed_at IS NULL
      AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = x.coop_id AND o.ranch_id = x.ranch_id
                      AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
    FOR UPDATE OF x;
    IF NOT FOUND OR word IS NULL OR word = a.entity_id OR me = newcomer THEN
        RETURN NULL;
    END IF;
    IF NOT yes THEN
        UPDATE tussock.assignment x SET until = now() WHERE x.coop_id = a.coop_id AND x.person_id = newcomer AND x.ranch_id = which AND x.since = a.since;
        RETURN 'ended';
    END IF;
    IF a.since > now() - interval '7 days' THEN
        RAISE EXCEPTION 'the week is not over' USING ERRCODE = '23514', CONSTRAINT = 'owner_vouch_week_check';
    END IF;
    INSERT INTO tussock.owner_vouch (coop_id, person_id, ranch_id, since, voucher_id, entity_id)
    VALUES (a.coop_id, newcomer, which, a.since, me, word) ON CONFLICT DO NOTHING;
    IF (SELECT count(DISTINCT w.entity_id) FROM tussock.owner_vouch w
        WHERE w.coop_id = a.coop_id AND w.person_id = newcomer AND w.ranch_id = which AND w.since = a.since) < 2 THEN
        RETURN 'counted';
    END IF;
    UPDATE tussock.assignment x SET confirmed_at = now(), confirmed_by = me
    WHERE x.coop_id = a.coop_id AND x.person_id = newcomer AND x.ranch_id = which AND x.since = a.since;
    RETURN 'in';
END
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION tussock.coordinator_changes(), tussock.my_word(), tussock.ownerless_waits(), tussock.vouch_owner(uuid, uuid, boolean) TO tussock_app;
