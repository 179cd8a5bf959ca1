-- What a ranch sent is read by its owner, and by whoever that owner let in. A coordinator chooses who is asked, and never who reads:
-- the first to come in is an owner whom the record names; whoever was put there before waits from then on for that owner's yes; a second
-- owner comes in by two yeses, of an owner who is there and their own, having read who is there already; and nobody is taken off a ranch that they own
-- but by themselves, or after fourteen days that they could read of, by another owner or with a coordinator's asking.

-- +goose Up
ALTER TABLE tussock.assignment ADD let_in_at timestamptz, ADD let_in_by uuid; -- an owner's yes to a further owner, who has yet to say theirs
ALTER TABLE tussock.consent ADD closing boolean NOT NULL DEFAULT false; -- nobody's word: the last owner was taken off
ALTER TABLE tussock.departure ADD whom uuid, -- the owner who is to be taken off
    DROP CONSTRAINT departure_kind_check,
    ADD CONSTRAINT departure_kind_check CHECK (kind IN ('leave', 'erase', 'hand over', 'take off')),
    ADD CONSTRAINT departure_whom_check CHECK ((kind = 'take off') = (whom IS NOT NULL) AND whom <> person_id),
    ADD CONSTRAINT departure_whom_fkey FOREIGN KEY (coop_id, whom) REFERENCES tussock.person;
DROP INDEX tussock.departure_ranch;
CREATE UNIQUE INDEX departure_ranch ON tussock.departure (coop_id, ranch_id) WHERE done_at IS NULL AND called_off_at IS NULL AND kind IN ('erase', 'hand over');
CREATE UNIQUE INDEX departure_owner ON tussock.departure (coop_id, ranch_id, whom, person_id) WHERE done_at IS NULL AND called_off_at IS NULL AND kind = 'take off';
ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check,
    ADD CONSTRAINT roster_change_kind_check CHECK (kind IN ('ranch', 'ranch name', 'ranch area', 'ranch owner', 'ranch erased', 'area', 'area name', 'area group', 'vouched', 'vouch ended', 'paper',
        'take off', 'take off ended', 'taken off'));

-- +goose StatementBegin
-- Whether somebody's last name stands in the owner's name on record.
CREATE FUNCTION tussock.named_on(record text, called text) RETURNS boolean LANGUAGE sql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
    SELECT regexp_split_to_array(lower(record), '[[:space:],.&/()]+') && array(
        SELECT w.word FROM regexp_split_to_table(lower(btrim(called)), '[[:space:],.&/()]+') WITH ORDINALITY w (word, nth)
        WHERE (w.nth > 1 OR btrim(called) !~ '[[:space:]]') AND length(w.word) > 1
          AND w.word NOT IN ('of', 'and', 'the', 'de', 'del', 'la', 'las', 'los', 'jr', 'sr', 'ii', 'iii', 'family', 'familia', 'ranch', 'rancho', 'llc', 'inc', 'co'))
$$;

-- Whether somebody may be let onto a ranch at once: nothing was sent, no owner is there, and they are an owner whom the record names,
-- or a hand where nobody else is.
CREATE FUNCTION tussock.first_on(coop uuid, ranch uuid, person uuid, part text) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = ranch)
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL
                       AND (a.kind = 'owner' OR part = 'hand'))
       AND (part = 'hand' OR tussock.named_on(
            (SELECT e.name FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ranch),
            (SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = person)));
END
$$;

CREATE OR REPLACE FUNCTION tussock.ask_owner() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.confirmed_at := NULL;
    NEW.confirmed_by := NULL;
    IF tussock.first_on(NEW.coop_id, NEW.ranch_id, NEW.person_id, NEW.kind) THEN
        NEW.confirmed_at := now();
    END IF;
    RETURN NEW;
END
$$;

-- Where the record is mended, the owner whom it names now, who waits longest, comes in.
CREATE FUNCTION tussock.record_mended() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.assignment a SET confirmed_at = now()
    WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.id AND a.until IS NULL AND (a.person_id, a.since) = (
        SELECT x.person_id, x.since FROM tussock.assignment x
        WHERE x.coop_id = NEW.coop_id AND x.ranch_id = NEW.id AND x.kind = 'owner' AND x.until IS NULL AND x.confirmed_at IS NULL
          AND tussock.first_on(x.coop_id, x.ranch_id, x.person_id, x.kind) ORDER BY x.since, x.person_id LIMIT 1);
    RETURN NULL;
END
$$;
CREATE TRIGGER record_mended AFTER UPDATE OF entity_id ON tussock.ranch FOR EACH ROW WHEN (OLD.entity_id <> NEW.entity_id) EXECUTE FUNCTION tussock.record_mended();

-- An owner who comes onto a ranch that has none finds nobody there: whoever is waits for their yes.
CREATE FUNCTION tussock.owner_comes() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND OLD.confirmed_at IS NOT NULL OR EXISTS (
        SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.person_id <> NEW.person_id
           AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN
        RETURN NULL;
    END IF;
    UPDATE tussock.assignment a SET confirmed_at = NULL, confirmed_by = NULL
    WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.person_id <> NEW.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL;
    RETURN NULL;
END
$$;
CREATE TRIGGER owner_comes AFTER INSERT OR UPDATE OF confirmed_at ON tussock.assignment FOR EACH ROW
    WHEN (NEW.kind = 'owner' AND NEW.confirmed_at IS NOT NULL AND NEW.until IS NULL) EXECUTE FUNCTION tussock.owner_comes();

-- An owner's yes: a hand is in by it, and a further owner is asked whether they know who is there.
CREATE OR REPLACE FUNCTION tussock.confirm_assignment(person uuid, ranch uuid) RETURNS boolean LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH confirmed AS (
        UPDATE tussock.assignment a SET let_in_at = now(), let_in_by = v.person_id,
            confirmed_at = CASE a.kind WHEN 'hand' THEN now() END, confirmed_by = CASE a.kind WHEN 'hand' THEN v.person_id END
        FROM tussock.viewer() v
        WHERE a.coop_id = v.coop_id AND a.person_id = person AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NULL AND a.let_in_at IS NULL
          AND ranch = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND a.person_id <> v.person_id
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM confirmed)
$$;

-- Who waits for the reader's yes.
CREATE FUNCTION tussock.my_newcomers() RETURNS TABLE (person uuid, name text, role text, ranch uuid, ranch_name text, since timestamptz, email text, inviter text)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT p.id, p.name, p.role, r.id, r.name, a.since, coalesce(e.email, ''), coalesce(i.name, '')
    FROM tussock.assignment a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    WHERE a.coop_id = tussock.my_coop() AND a.until IS NULL AND a.confirmed_at IS NULL AND a.let_in_at IS NULL AND p.left_at IS NULL
      AND r.id = ANY (tussock.my_own_ranches())
    ORDER BY a.since, p.name, p.id;
END
$$;

-- The ranches whose owner said yes to the reader as a further owner, with everybody who is there: a row for each.
CREATE FUNCTION tussock.my_gates() RETURNS TABLE (ranch uuid, ranch_name text, by_name text, name text, role text, email text, inviter text, since timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT r.id, r.name, b.name, p.name, p.role, coalesce(e.email, ''), coalesce(i.name, ''), o.since
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NULL AND a.let_in_at IS NOT NULL
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    JOIN tussock.person b ON b.coop_id = a.coop_id AND b.id = a.let_in_by
    JOIN tussock.assignment o ON o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id AND o.until IS NULL AND o.confirmed_at IS NOT NULL
    JOIN tussock.person p ON p.coop_id = o.coop_id AND p.id = o.person_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    ORDER BY r.name, r.id, p.role DESC, p.name;
END
$$;

-- The further owner's own yes or no.
CREATE FUNCTION tussock.come_onto(ranch uuid, yes boolean) RETURNS boolean LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH said AS (
        UPDATE tussock.assignment a SET confirmed_at = CASE WHEN yes THEN now() END, confirmed_by = CASE WHEN yes THEN a.let_in_by END, until = CASE WHEN NOT yes THEN now() END
        FROM tussock.viewer() v
        WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.ranch_id = come_onto.ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NULL AND a.let_in_at IS NOT NULL
          AND (NOT yes OR EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id AND o.person_id = a.let_in_by
               AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL))
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM said)
$$;

-- Takes an owner off: what they said of comparisons stands for seasons that have opened, and where another owner stays, theirs is asked anew.
CREATE FUNCTION tussock.take_off(coop uuid, ranch uuid, owner uuid, asker uuid) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    before integer := coalesce((SELECT max(c.seq) FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch), 0);
BEGIN
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.person_id = owner AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = asker WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.person_id = owner AND a.ended_by IS NULL AND a.until IS NOT NULL;
    IF (SELECT c.level > 0 AND c.given_by = owner FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch ORDER BY c.seq DESC LIMIT 1) THEN
        INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES (coop, ranch, 0, owner);
    END IF;
    UPDATE tussock.consent c SET closing = true WHERE c.coop_id = coop AND c.ranch_id = ranch AND c.seq > before;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
    SELECT coop, asker, 'taken off', r.id, r.name, p.name FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.id = owner WHERE r.coop_id = coop AND r.id = ranch;
END
$$;

CREATE FUNCTION tussock.log_take_off() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP = 'INSERT' OR OLD.called_off_at IS NULL AND NEW.called_off_at IS NOT NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
        SELECT NEW.coop_id, tussock.my_person(), CASE TG_OP WHEN 'INSERT' THEN 'take off' ELSE 'take off ended' END, r.id, r.name, p.name
        FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.id = NEW.whom WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_take_off AFTER INSERT OR UPDATE OF called_off_at ON tussock.departure FOR EACH ROW WHEN (NEW.kind = 'take off') EXECUTE FUNCTION tussock.log_take_off();

-- Whether somebody is an owner of a ranch now.
CREATE FUNCTION tussock.owns(coop uuid, ranch uuid, person uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.person_id = person AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
END
$$;

-- Whether somebody is another owner of a ranch of the reader's.
CREATE FUNCTION tussock.my_fellow(which_ranch uuid, person uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN which_ranch = ANY (tussock.my_own_ranches()) AND tussock.owns(tussock.my_coop(), which_ranch, person);
END
$$;

-- Who asked for a way out, for those who may read of it.
CREATE FUNCTION tussock.asked_by(which uuid) RETURNS text LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT p.name FROM tussock.departure d JOIN tussock.person p ON p.coop_id = d.coop_id AND p.id = d.person_id
        WHERE d.coop_id = tussock.my_coop() AND d.id = which AND (d.person_id = tussock.my_person() OR d.ranch_id = ANY (tussock.my_own_ranches())));
END
$$;

-- Whether two owners of a ranch have each asked to take the other off: then neither goes before two other landowners say who owns it.
CREATE FUNCTION tussock.disputed(coop uuid, ranch uuid, person uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (
        SELECT 1 FROM tussock.departure x JOIN tussock.departure y ON y.coop_id = x.coop_id AND y.ranch_id = x.ranch_id AND y.whom = x.person_id AND y.person_id = x.whom
           AND y.kind = 'take off' AND y.done_at IS NULL AND y.called_off_at IS NULL
        WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.whom = person AND x.kind = 'take off' AND x.done_at IS NULL AND x.called_off_at IS NULL);
END
$$;

CREATE OR REPLACE FUNCTION tussock.carry_out(at timestamptz) RETURNS TABLE (addresses text[], kind text, coop_name text, ranch_name text, failure text)
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE d tussock.departure;
BEGIN
    UPDATE tussock.departure x SET called_off_at = at
    WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND x.due_at <= at AND x.kind IN ('erase', 'hand over')
      AND (SELECT count(*) > 0 AND count(*) FILTER (WHERE o.person_id = x.person_id) = 0 FROM tussock.assignment o
           WHERE o.coop_id = x.coop_id AND o.ranch_id = x.ranch_id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL);
    UPDATE tussock.departure x SET called_off_at = at -- who asked has no say any more, or there is nobody to take off
    WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND x.kind = 'take off'
      AND NOT (tussock.owns(x.coop_id, x.ranch_id, x.whom) AND (tussock.owns(x.coop_id, x.ranch_id, x.person_id) OR EXISTS (
          SELECT 1 FROM tussock.person p WHERE p.coop_id = x.coop_id AND p.id = x.person_id AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL)));
    FOR d IN
        SELECT * FROM tussock.departure x
        WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND x.due_at <= at
          AND (x.kind <> 'hand over' OR EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = x.coop_id AND p.id = x.agreed_by
               AND p.role = 'landowner' AND p.left_at IS NULL AND p.suspended_at IS NULL))
          AND (x.kind <> 'take off' OR NOT tussock.disputed(x.coop_id, x.ranch_id, x.whom))
        ORDER BY x.kind = 'leave', x.asked_at, x.id FOR UPDATE SKIP LOCKED
    LOOP
        BEGIN
            addresses := tussock.departure_addresses(d.coop_id, d.id);
            kind := d.kind;
            coop_name := (SELECT c.name FROM tussock.coop c WHERE c.coop_id = d.coop_id);
            ranch_name := coalesce((SELECT r.name FROM tussock.ranch r WHERE r.coop_id = d.coop_id AND r.id = d.ranch_id), '');
            failure := '';
            CASE d.kind
                WHEN 'leave' THEN PERFORM tussock.depart(d.coop_id, d.person_id);
                WHEN 'erase' THEN PERFORM tussock.erase(d.coop_id, d.ranch_id, d.person_id);
                WHEN 'hand over' THEN PERFORM tussock.hand_over(d.coop_id, d.ranch_id, d.person_id, d.agreed_by, d.with_rows);
                WHEN 'take off' THEN PERFORM tussock.take_off(d.coop_id, d.ranch_id, d.whom, d.person_id);
            END CASE;
            UPDATE tussock.departure x SET done_at = at, heir = '' WHERE x.coop_id = d.coop_id AND x.id = d.id;
        EXCEPTION WHEN OTHERS THEN
            addresses := '{}';
            failure := SQLSTATE;
        END;
        RETURN NEXT;
    END LOOP;
END
$$;

CREATE OR REPLACE FUNCTION tussock.journal_departure() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.kind <> 'take off' THEN -- which the end of the assignment tells
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, CASE NEW.kind WHEN 'erase' THEN 'erased' WHEN 'leave' THEN 'gone' ELSE 'handed over' END, NEW.ranch_id, NEW.person_id);
    END IF;
    RETURN NULL;
END
$$;

-- Nobody who is kept out is taken off, nor is an owner removed from the cooperative: they could not say no.
CREATE FUNCTION tussock.keep_owner() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF OLD.left_at IS NULL AND NEW.left_at IS NOT NULL AND me IS NOT NULL AND me <> NEW.id AND EXISTS (
        SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.person_id = NEW.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN
        RAISE EXCEPTION 'an owner is not removed' USING ERRCODE = '23505', CONSTRAINT = 'person_owner_check';
    END IF;
    IF OLD.suspended_at IS NULL AND NEW.suspended_at IS NOT NULL THEN
        UPDATE tussock.departure d SET called_off_at = now(), called_off_by = me
        WHERE d.coop_id = NEW.coop_id AND d.whom = NEW.id AND d.kind = 'take off' AND d.done_at IS NULL AND d.called_off_at IS NULL
          AND NOT tussock.owns(d.coop_id, d.ranch_id, d.person_id);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER keep_owner AFTER UPDATE OF left_at, suspended_at ON tussock.person FOR EACH ROW EXECUTE FUNCTION tussock.keep_owner();

CREATE FUNCTION tussock.may_be_asked_off(which_ranch uuid, owner uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    RETURN tussock.owns(coop, which_ranch, owner) AND (which_ranch = ANY (tussock.my_own_ranches()) OR tussock.my_role() = 'coordinator'
        AND EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = coop AND p.id = owner AND p.suspended_at IS NULL));
END
$$;

-- In seasons that have opened a ranch's yes or no is what its owner said last, and not that the owner was taken off.
CREATE FUNCTION tussock.said_yes(coop uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN coalesce((SELECT c.level > 0 FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch AND NOT c.closing ORDER BY c.seq DESC LIMIT 1), false);
END
$$;

-- The same two functions as before, with that.
DO $$
DECLARE f text;
BEGIN
    FOREACH f IN ARRAY ARRAY['tussock.cut_off(uuid, integer, smallint)', 'tussock.print_due(text)'] LOOP
        EXECUTE replace(pg_get_functiondef(f::regprocedure), 'tussock.says_yes(coop,', 'tussock.said_yes(coop,');
    END LOOP;
END
$$;

-- Two owners who would each take the other off: two landowners of other ranches say which of them owns it.
-- Who is asked is told by more than a name: the address, who brought them in, and whom the ranch lost, and when.
DROP FUNCTION tussock.ownerless_waits();
CREATE FUNCTION tussock.ownerless_waits() RETURNS TABLE (person uuid, name text, ranch uuid, ranch_name text, since timestamptz, opens_at timestamptz, words integer, mine boolean,
    email text, inviter text, there boolean, lost text, lost_at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT p.id, p.name, r.id, r.name, a.since, a.since + interval '7 days',
           (SELECT count(DISTINCT w.entity_id)::integer FROM tussock.owner_vouch w
            WHERE w.coop_id = a.coop_id AND w.person_id = a.person_id AND w.ranch_id = a.ranch_id AND w.since = a.since),
           EXISTS (SELECT 1 FROM tussock.owner_vouch w
            WHERE w.coop_id = a.coop_id AND w.person_id = a.person_id AND w.ranch_id = a.ranch_id AND w.since = a.since AND w.voucher_id = v.person_id),
           coalesce(e.email, ''), coalesce(i.name, ''), a.confirmed_at IS NOT NULL, coalesce(l.name, ''), l.until
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    LEFT JOIN LATERAL (SELECT q.name, o.until FROM tussock.assignment o JOIN tussock.person q ON q.coop_id = o.coop_id AND q.id = o.person_id
        WHERE o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id AND o.kind = 'owner' AND o.confirmed_at IS NOT NULL AND o.until IS NOT NULL ORDER BY o.until DESC LIMIT 1) l ON true
    WHERE (v.role = 'coordinator' OR (SELECT tussock.my_word()) IS NOT NULL)
      AND a.kind = 'owner' AND a.until IS NULL AND p.left_at IS NULL AND p.id <> v.person_id
      AND (a.confirmed_at IS NULL AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id
                      AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
           OR a.confirmed_at IS NOT NULL AND tussock.disputed(a.coop_id, a.ranch_id, a.person_id))
    ORDER BY a.since, p.name;
END
$$;

CREATE OR REPLACE FUNCTION tussock.vouch_owner(newcomer uuid, which uuid, yes boolean) RETURNS text LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    word uuid := (SELECT tussock.my_word());
    me uuid := (SELECT tussock.my_person());
    a record;
BEGIN
    SELECT x.coop_id, x.since, x.confirmed_at IS NOT NULL AS there, r.entity_id INTO a
    FROM tussock.assignment x JOIN tussock.ranch r ON r.coop_id = x.coop_id AND r.id = x.ranch_id
    WHERE x.coop_id = (SELECT tussock.my_coop()) AND x.person_id = newcomer AND x.ranch_id = which AND x.kind = 'owner' AND x.until IS NULL
      AND (x.confirmed_at IS NULL AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = x.coop_id AND o.ranch_id = x.ranch_id
                      AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
           OR x.confirmed_at IS NOT NULL AND yes AND tussock.disputed(x.coop_id, x.ranch_id, x.person_id))
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
    IF a.there THEN -- the other one's asking ends; theirs goes on, and is carried out when it is due
        UPDATE tussock.departure d SET called_off_at = now(), called_off_by = me
        WHERE d.coop_id = a.coop_id AND d.ranch_id = which AND d.whom = newcomer AND d.kind = 'take off' AND d.done_at IS NULL AND d.called_off_at IS NULL;
        RETURN 'in';
    END IF;
    UPDATE tussock.assignment x SET confirmed_at = now(), confirmed_by = me
    WHERE x.coop_id = a.coop_id AND x.person_id = newcomer AND x.ranch_id = which AND x.since = a.since;
    RETURN 'in';
END
$$;
-- +goose StatementEnd

-- A coordinator ends a hand, and whoever waits; an owner is asked off.
DROP POLICY coordinator ON tussock.assignment;
CREATE POLICY coordinator ON tussock.assignment FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY coordinator_add ON tussock.assignment FOR INSERT TO tussock_app WITH CHECK ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY coordinator_end ON tussock.assignment FOR UPDATE TO tussock_app
    USING ((SELECT tussock.my_role()) = 'coordinator' AND (kind = 'hand' OR confirmed_at IS NULL))
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator');

GRANT INSERT (whom) ON tussock.departure TO tussock_app;
DROP POLICY ask ON tussock.departure;
CREATE POLICY ask ON tussock.departure FOR INSERT TO tussock_app WITH CHECK (person_id = (SELECT tussock.my_person()) AND CASE kind
    WHEN 'take off' THEN tussock.may_be_asked_off(ranch_id, whom)
    ELSE (SELECT tussock.my_role()) = 'landowner' AND (ranch_id IS NULL OR ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[])) END);
-- An owner whom a coordinator would take off says no, and that ends it; one whom another owner would take off asks the same of that one.
DROP POLICY call_off ON tussock.departure;
CREATE POLICY call_off ON tussock.departure FOR UPDATE TO tussock_app
    USING (done_at IS NULL AND called_off_at IS NULL AND (person_id = (SELECT tussock.my_person())
        OR ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND (kind <> 'take off' OR NOT tussock.my_fellow(ranch_id, person_id))))
    WITH CHECK (called_off_at IS NOT NULL AND called_off_by = (SELECT tussock.my_person()));

GRANT EXECUTE ON FUNCTION tussock.my_newcomers(), tussock.ownerless_waits(), tussock.my_gates(), tussock.come_onto(uuid, boolean), tussock.may_be_asked_off(uuid, uuid), tussock.my_fellow(uuid, uuid), tussock.asked_by(uuid) TO tussock_app;
