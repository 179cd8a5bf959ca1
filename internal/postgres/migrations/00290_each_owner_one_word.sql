-- Where a ranch has several owners each has one word: it takes part where no present owner's latest word is no. A no stands until who said it
-- says yes or is an owner no longer. Each word is a line of the owners' log, and the others get a letter.

-- +goose Up
ALTER TABLE tussock.consent ADD over boolean NOT NULL DEFAULT false; -- who said it is an owner no longer
-- +goose StatementBegin
DO $$
BEGIN
    PERFORM set_config('tussock.session', '', true);
    UPDATE tussock.consent c SET over = true WHERE NOT c.paper AND NOT tussock.owns(c.coop_id, c.ranch_id, c.given_by);
    EXECUTE 'ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check, ADD CONSTRAINT view_log_what_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'view_log_what_check'), 'ARRAY[', 'ARRAY[''yes''::text, ''no''::text, ');
END
$$;

CREATE OR REPLACE FUNCTION tussock.date_consent() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.seq := 1 + coalesce((SELECT max(c.seq) FROM tussock.consent c WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id), 0);
    NEW.given_at := clock_timestamp();
    NEW.over := NOT NEW.paper AND NOT tussock.owns(NEW.coop_id, NEW.ranch_id, NEW.given_by);
    RETURN NEW;
END
$$;

CREATE FUNCTION tussock.end_word() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.consent c SET over = true WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id AND c.given_by = NEW.person_id AND NOT c.paper;
    RETURN NULL;
END
$$;
CREATE TRIGGER end_word AFTER UPDATE OF until ON tussock.assignment FOR EACH ROW
    WHEN (NEW.kind = 'owner' AND OLD.until IS NULL AND NEW.until IS NOT NULL) EXECUTE FUNCTION tussock.end_word();

-- What the present owners say: no where one of them does, yes where another does and none says no, NULL where none has said anything.
CREATE FUNCTION tussock.owners_say(coop uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT bool_and(w.level > 0) FROM (
        SELECT DISTINCT ON (c.given_by) c.level FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch AND NOT c.over AND NOT c.paper
        ORDER BY c.given_by, c.seq DESC) w);
END
$$;

-- Where no owner who is there has said anything, what was said last stands.
DO $$
DECLARE
    f text;
    was text;
    now text;
BEGIN
    FOREACH f IN ARRAY ARRAY['says_yes', 'said_yes', 'opens_with_yes'] LOOP
        was := pg_get_functiondef(('tussock.' || f || '(uuid, uuid)')::regprocedure);
        now := replace(was, 'RETURN coalesce((SELECT', 'RETURN coalesce(tussock.owners_say(coop, ranch), (SELECT');
        IF now = was THEN
            RAISE EXCEPTION '% is another', f;
        END IF;
        EXECUTE now;
    END LOOP;
    was := pg_get_functiondef('tussock.close_ranch()'::regprocedure);
    now := regexp_replace(was, 'coalesce\(\(SELECT c\.level FROM .*?LIMIT 1\), 0\) > 0', 'tussock.says_yes(NEW.coop_id, NEW.ranch_id)');
    IF now = was THEN
        RAISE EXCEPTION 'close_ranch is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.ring()'::regprocedure);
    now := replace(was, 'work text[] := ARRAY[', 'work text[] := ARRAY[''yes'', ''no'', ');
    IF now = was THEN
        RAISE EXCEPTION 'ring is another';
    END IF;
    EXECUTE now;
END
$$;

-- Those of the ranches that the reader may know of which are counted.
CREATE FUNCTION tussock.my_counted() RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    known uuid[] := tussock.my_ranches() || tussock.my_shared_ranches();
    all_of_them boolean := tussock.my_role() = 'coordinator';
BEGIN
    RETURN (SELECT coalesce(array_agg(r.id), '{}') FROM tussock.ranch r WHERE r.coop_id = coop AND (all_of_them OR r.id = ANY (known)) AND tussock.says_yes(coop, r.id));
END
$$;

CREATE FUNCTION tussock.log_word() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.given_by = tussock.my_person() AND NOT NEW.over THEN
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what)
        VALUES (NEW.coop_id, NEW.ranch_id, NEW.given_by, now(), CASE WHEN NEW.level > 0 THEN 'yes' ELSE 'no' END);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_word AFTER INSERT ON tussock.consent FOR EACH ROW WHEN (NOT NEW.paper) EXECUTE FUNCTION tussock.log_word();

-- What one owner said, for the others.
CREATE FUNCTION tussock.word_letters() RETURNS TABLE (address text, coop_name text, ranch_name text, by_name text, yes boolean, counted boolean)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT c.coop_id, c.ranch_id, o.person_id, 'word ' || c.seq || ' ' || c.given_at AS about, c.seq, c.given_by, c.level > 0 AS said
        FROM tussock.consent c
        JOIN tussock.assignment o ON o.coop_id = c.coop_id AND o.ranch_id = c.ranch_id AND o.kind = 'owner' AND o.confirmed_at IS NOT NULL AND o.until IS NULL
        WHERE c.given_at > now() - interval '7 days' AND NOT c.paper AND NOT c.over AND o.person_id <> c.given_by AND o.confirmed_at <= c.given_at
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT d.coop_id, d.ranch_id, d.person_id, d.about FROM due d
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id, about
    )
    SELECT e.email, c.name, r.name, coalesce(b.name, ''), d.said, tussock.says_yes(t.coop_id, t.ranch_id)
    FROM told t
    JOIN due d ON d.coop_id = t.coop_id AND d.ranch_id = t.ranch_id AND d.person_id = t.person_id AND d.about = t.about
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop c ON c.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    LEFT JOIN tussock.person b ON b.coop_id = d.coop_id AND b.id = d.given_by
    ORDER BY e.email, d.seq;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.end_word(), tussock.log_word(), tussock.owners_say(uuid, uuid), tussock.my_counted(), tussock.word_letters() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.my_counted() TO tussock_app;
GRANT EXECUTE ON FUNCTION tussock.word_letters() TO tussock_door;
