-- A word for an owner is for one sign-in. A second one under the same name is worth nothing by it, and comes onto a ranch under that name
-- only after the first one's yes.

-- +goose Up
ALTER TABLE tussock.roster_change ADD about_id uuid; -- the person whom the line names
ALTER TABLE tussock.vouch ADD first boolean NOT NULL DEFAULT true; -- by somebody of the first season, when it was given

-- What the bearer of a name says of a ranch that stands under it and is none of theirs.
CREATE TABLE tussock.name_word (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    person_id uuid NOT NULL,
    name      text NOT NULL, -- folded
    yes       boolean NOT NULL,
    said_at   timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT name_word_pkey PRIMARY KEY (coop_id, ranch_id, person_id, name),
    CONSTRAINT name_word_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person,
    CONSTRAINT name_word_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch
);
ALTER TABLE tussock.name_word ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.name_word FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.name_word TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.name_word AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));

-- +goose StatementBegin
-- Names that look alike come to the same: without accents, signs and what is not seen, in small letters, with Cyrillic and Greek letters
-- as the Latin ones that they look like, and with 0, 1, I and rn as o, l, l and m. (After Unicode's report 39 on confusable letters; the
-- table is from memory, and shorter.)
CREATE FUNCTION tussock.fold(name text) RETURNS text LANGUAGE sql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(nullif(btrim(regexp_replace(replace(translate(lower(translate(
        regexp_replace(normalize(name, NFKD), '[\u0300-\u036f\u00ad\u200b-\u200f\u2060\ufeff]', '', 'g'),
        'АВЕКМНОРСТУХЅІЈԚԜҮӀавекмнорстухѕіјԛԝүӏһԁѵгьΑΒΕΖΗΙΚΜΝΟΡΤΥΧαεικνορτυχγηωıɑɡ',
        'ABEKMHOPCTYXSIJQWYlabekmhopctyxsijqwylhdvrbABEZHIKMNOPTYXaeikvoptuxynwiag')), '01i', 'oll'), 'rn', 'm'),
        '[[:space:][:punct:]‘’]+', ' ', 'g')), ''), name)
$$;

-- The first of those of one name, or whoever brought a later one in.
CREATE FUNCTION tussock.namesake(coop uuid, person uuid) RETURNS TABLE (again boolean, inviter text) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT EXISTS (SELECT 1 FROM tussock.person o WHERE o.coop_id = coop AND o.id <> p.id AND tussock.fold(o.name) = tussock.fold(p.name) AND (o.joined_at, o.id) < (p.joined_at, p.id)),
        coalesce((SELECT i.name FROM tussock.person i WHERE i.coop_id = coop AND i.id = p.invited_by), '')
    FROM tussock.person p WHERE p.coop_id = coop AND p.id = person;
END
$$;

-- Who owns a ranch: people, or the ranch itself where its owner never had an account.
CREATE FUNCTION tussock.ranch_owners(coop uuid, ranch uuid) RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN ARRAY(
        SELECT a.person_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
        UNION SELECT ranch WHERE NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL));
END
$$;

-- Whether somebody was counted in the first season, or no season has opened: of whom one coordinator brings in later, nobody makes two
-- with her.
CREATE FUNCTION tussock.from_the_first(coop uuid, person uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE first timestamptz := (SELECT min(s.opened_at) FROM tussock.season s WHERE s.coop_id = coop);
BEGIN
    RETURN first IS NULL OR EXISTS (
        SELECT 1 FROM tussock.season_ranch s JOIN tussock.season x ON x.coop_id = s.coop_id AND x.year = s.season
        WHERE s.coop_id = coop AND x.opened_at = first AND s.settled AND s.yes AND person = ANY (s.owners));
END
$$;

-- That is written down with the word: it does not end where they leave.
CREATE OR REPLACE FUNCTION tussock.date_vouch() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP = 'UPDATE' THEN
        NEW.ended_at := CASE WHEN NEW.ended_at IS NOT NULL THEN coalesce(OLD.ended_at, now()) WHEN NOT tussock.may_vouch() THEN OLD.ended_at END;
    END IF;
    IF TG_OP = 'INSERT' OR OLD.ended_at IS NOT NULL AND NEW.ended_at IS NULL THEN
        NEW.first := tussock.from_the_first(NEW.coop_id, NEW.person_id);
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER first_vouch BEFORE INSERT ON tussock.vouch FOR EACH ROW EXECUTE FUNCTION tussock.date_vouch();

-- Whether two people vouched for an owner who are two people: not both coordinators, not brought in by the same person, none of them a
-- coordinator who brought the other in, nothing in common with each other or with who owns the same ranches. With a coordinator, a
-- landowner of the first season makes two, whoever brought them in.
CREATE FUNCTION tussock.vouched_for(coop uuid, owner uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    own text[] := tussock.owners_traces(coop, ARRAY(
        SELECT a.ranch_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.person_id = owner AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL), now());
BEGIN
    RETURN EXISTS (
        WITH voucher AS (
            SELECT p.id, p.role = 'coordinator' AS runs, p.invited_by, v.first, tussock.traces(coop, p.id) AS traces
            FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = owner AND (v.ended_at IS NULL OR p.role = 'coordinator' AND v.ended_at > now() - interval '30 days')
        )
        SELECT 1 FROM voucher a JOIN voucher b ON a.id <> b.id AND NOT b.runs
        WHERE (a.invited_by IS DISTINCT FROM b.invited_by AND NOT (a.runs AND b.invited_by IS NOT DISTINCT FROM a.id) OR a.runs AND b.first)
          AND NOT a.traces && b.traces AND NOT a.traces && own AND NOT b.traces && own);
END
$$;

-- Whether somebody who owns a ranch is vouched for.
CREATE FUNCTION tussock.settled(coop uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (SELECT 1 FROM unnest(tussock.ranch_owners(coop, ranch)) o (id) WHERE tussock.vouched_for(coop, o.id));
END
$$;

-- Those whose name a ranch stands under, who own another under it since before, and none of whom owns this one: vouched for, or of the
-- time before the first season. Who has answered already is left out.
CREATE FUNCTION tussock.bearers(coop uuid, ranch uuid) RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    called text := (SELECT tussock.fold(e.name) FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ranch AND r.erased_at IS NULL);
    typed timestamptz := (SELECT max(x.at) FROM tussock.roster_change x WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.kind IN ('ranch', 'ranch owner'));
    began timestamptz := (SELECT min(a.confirmed_at) FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
    opened boolean := EXISTS (SELECT 1 FROM tussock.season s WHERE s.coop_id = coop AND s.opened_at IS NOT NULL);
BEGIN
    RETURN ARRAY(
        SELECT DISTINCT p.id
        FROM tussock.person p
        JOIN tussock.assignment a ON a.coop_id = p.coop_id AND a.person_id = p.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND a.ranch_id <> ranch
        JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id AND r.erased_at IS NULL
        JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
        WHERE p.coop_id = coop AND p.role = 'landowner' AND p.left_at IS NULL AND called IN (tussock.fold(p.name), tussock.fold(e.name))
          AND (began IS NULL OR a.confirmed_at < greatest(typed, began))
          AND NOT tussock.owns(coop, ranch, p.id)
          AND NOT EXISTS (SELECT 1 FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = ranch AND w.person_id = p.id AND w.name = called)
          AND (NOT opened OR tussock.vouched_for(coop, p.id)));
END
$$;

-- The ranches that stand under the reader's name and are none of theirs, with who waits to come onto them.
CREATE FUNCTION tussock.my_name_asks() RETURNS TABLE (ranch uuid, ranch_name text, owner_name text, at timestamptz, by_name text, who text, email text) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'landowner' THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT r.id, r.name, e.name, x.at, coalesce(b.name, ''), coalesce(w.name, ''), coalesce(w.email, '')
    FROM tussock.ranch r
    JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
    LEFT JOIN LATERAL (SELECT c.at, c.person_id FROM tussock.roster_change c WHERE c.coop_id = coop AND c.ranch_id = r.id AND c.kind IN ('ranch', 'ranch owner') ORDER BY c.at DESC LIMIT 1) x ON true
    LEFT JOIN tussock.person b ON b.coop_id = coop AND b.id = x.person_id
    LEFT JOIN LATERAL (SELECT p.name, c.email FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        LEFT JOIN tussock.account c ON c.coop_id = p.coop_id AND c.person_id = p.id
        WHERE a.coop_id = coop AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL ORDER BY a.since, p.id LIMIT 1) w ON true
    WHERE r.coop_id = coop AND r.erased_at IS NULL AND me = ANY (tussock.bearers(coop, r.id))
    ORDER BY r.name;
END
$$;

-- Whoever waits longest of those who may come onto a ranch as its first owner comes.
CREATE FUNCTION tussock.let_first_on(coop uuid, ranch uuid) RETURNS void LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.assignment a SET confirmed_at = now()
    WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL AND (a.person_id, a.since) = (
        SELECT x.person_id, x.since FROM tussock.assignment x
        WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.kind = 'owner' AND x.until IS NULL AND x.confirmed_at IS NULL
          AND tussock.first_on(x.coop_id, x.ranch_id, x.person_id, x.kind) ORDER BY x.since, x.person_id LIMIT 1);
END
$$;

-- The reader's word on one of them. A no takes their name off it, and whoever waited under it: the ranch goes by its own name.
CREATE FUNCTION tussock.answer_name(which uuid, says boolean) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    called text;
    other text;
    as_owner uuid := gen_random_uuid();
BEGIN
    SELECT r.name INTO other FROM tussock.ranch r WHERE r.coop_id = coop AND r.id = which FOR UPDATE;
    IF tussock.my_role() IS DISTINCT FROM 'landowner' OR NOT me = ANY (tussock.bearers(coop, which)) THEN
        RETURN false;
    END IF;
    called := (SELECT tussock.fold(e.name) FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = which);
    INSERT INTO tussock.name_word (coop_id, ranch_id, person_id, name, yes) VALUES (coop, which, me, called, says);
    IF says THEN
        PERFORM tussock.let_first_on(coop, which);
        RETURN true;
    END IF;
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = which AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NULL;
    UPDATE tussock.invitation i SET revoked_at = now() WHERE i.coop_id = coop AND i.role = 'landowner' AND which = ANY (i.ranches) AND i.used_at IS NULL AND i.revoked_at IS NULL;
    WHILE EXISTS (SELECT 1 FROM tussock.entity e WHERE e.coop_id = coop AND tussock.fold(e.name) = tussock.fold(other)) LOOP
        other := other || ' *' || left(as_owner::text, 4);
    END LOOP;
    INSERT INTO tussock.entity (coop_id, id, name) VALUES (coop, as_owner, other);
    UPDATE tussock.ranch r SET entity_id = as_owner WHERE r.coop_id = coop AND r.id = which;
    RETURN true;
END
$$;

-- A ranch of which somebody said that it is none of theirs is not put under their name again.
CREATE FUNCTION tussock.keep_name_off() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.name_word w JOIN tussock.entity e ON e.coop_id = w.coop_id AND e.id = NEW.entity_id
               WHERE w.coop_id = NEW.coop_id AND w.ranch_id = NEW.id AND NOT w.yes AND w.name = tussock.fold(e.name)) THEN
        RAISE EXCEPTION 'none of theirs' USING ERRCODE = '23505', CONSTRAINT = 'ranch_name_refused';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER keep_name_off BEFORE UPDATE OF entity_id ON tussock.ranch FOR EACH ROW WHEN (OLD.entity_id <> NEW.entity_id) EXECUTE FUNCTION tussock.keep_name_off();

CREATE OR REPLACE FUNCTION tussock.record_mended() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM tussock.let_first_on(NEW.coop_id, NEW.id);
    RETURN NULL;
END
$$;

-- As before, and nobody comes onto a ranch under the name of another member who has not said yes.
CREATE OR REPLACE FUNCTION tussock.first_on(coop uuid, ranch uuid, person uuid, part text) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = ranch)
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL
                       AND (a.kind = 'owner' OR part = 'hand'))
       AND (part = 'hand' OR tussock.named_on(
            (SELECT e.name FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ranch),
            (SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = person))
            AND array_remove(tussock.bearers(coop, ranch), person) = '{}');
END
$$;

CREATE OR REPLACE FUNCTION tussock.may_vouch() RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    RETURN tussock.my_role() = 'coordinator' OR tussock.my_role() = 'landowner' AND cardinality(tussock.my_own_ranches()) > 0 AND (
        NOT EXISTS (SELECT 1 FROM tussock.season s WHERE s.coop_id = coop AND s.opened_at IS NOT NULL)
        OR EXISTS (SELECT 1 FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.settled AND s.yes AND NOT s.fresh AND me = ANY (s.owners)));
END
$$;

CREATE OR REPLACE FUNCTION tussock.others() RETURNS TABLE (owner_id uuid, entity_id uuid, ranch_id uuid) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    own uuid[] := tussock.my_entities();
BEGIN
    RETURN QUERY
    SELECT o.id, r.entity_id, r.id
    FROM tussock.ranch r CROSS JOIN LATERAL unnest(tussock.ranch_owners(coop, r.id)) o (id)
    WHERE r.coop_id = coop AND r.erased_at IS NULL AND NOT r.entity_id = ANY (own);
END
$$;

DROP FUNCTION tussock.owners_to_vouch();
CREATE FUNCTION tussock.owners_to_vouch() RETURNS TABLE (id uuid, name text, again boolean, inviter text, ranches text, words integer, mine boolean, settled boolean, why text) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    IF NOT coalesce(tussock.may_vouch(), false) THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT x.id, x.name, coalesce(n.again, false), coalesce(n.inviter, ''), x.ranches, x.words, x.mine, x.settled, CASE WHEN x.settled OR x.words < 2 THEN ''
        WHEN NOT EXISTS (SELECT 1 FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = x.id AND v.ended_at IS NULL AND p.role <> 'coordinator') THEN 'coordinators'
        WHEN (SELECT count(DISTINCT coalesce(p.invited_by, p.id)) FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = x.id AND v.ended_at IS NULL) < 2 THEN 'inviter'
        ELSE 'shared' END
    FROM (
        SELECT o.owner_id AS id, coalesce(p.name, min(e.name)) AS name, string_agg(r.name, ', ' ORDER BY r.name) AS ranches,
            (SELECT count(*)::integer FROM tussock.vouch v WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND v.ended_at IS NULL) AS words,
            EXISTS (SELECT 1 FROM tussock.vouch v WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND v.person_id = me AND v.ended_at IS NULL) AS mine,
            tussock.vouched_for(coop, o.owner_id) AS settled
        FROM tussock.others() o
        JOIN tussock.ranch r ON r.coop_id = coop AND r.id = o.ranch_id
        JOIN tussock.entity e ON e.coop_id = coop AND e.id = o.entity_id
        LEFT JOIN tussock.person p ON p.coop_id = coop AND p.id = o.owner_id
        GROUP BY o.owner_id, p.name) x
    LEFT JOIN LATERAL tussock.namesake(coop, x.id) n ON true
    ORDER BY 2, 3, 5;
END
$$;

CREATE OR REPLACE FUNCTION tussock.open_season(coop uuid, which integer) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    first timestamptz := coalesce((SELECT min(s.opened_at) FROM tussock.season s WHERE s.coop_id = coop), now());
    opens date := (SELECT s.opens_on FROM tussock.season s WHERE s.coop_id = coop AND s.year = which);
BEGIN
    INSERT INTO tussock.season_ranch (coop_id, season, ranch_id, entity_id, yes, owners, settled, fresh, area, group_name)
    SELECT r.coop_id, which, r.id, r.entity_id, tussock.opens_with_yes(coop, r.id), e.owners, tussock.settled(coop, r.id),
        first <> now() AND NOT EXISTS (
            SELECT 1 FROM tussock.season_ranch o JOIN tussock.season x ON x.coop_id = o.coop_id AND x.year = o.season
            WHERE o.coop_id = coop AND o.settled AND o.owners && e.owners AND (x.opened_at = first OR x.opens_on <= opens - 300 AND EXISTS (
                SELECT 1 FROM tussock.snapshot c WHERE c.coop_id = coop AND c.season = o.season AND c.edition = 1 AND c.ranch_id = o.ranch_id AND (c.nests <> '[]' OR c.belts <> '[]')))),
        coalesce(a.name, ''), coalesce(a.group_name, '')
    FROM tussock.ranch r
    LEFT JOIN tussock.area a ON a.coop_id = r.coop_id AND a.id = r.area_id
    CROSS JOIN LATERAL (SELECT tussock.ranch_owners(coop, r.id) AS owners) e
    WHERE r.coop_id = coop AND r.erased_at IS NULL;
    UPDATE tussock.season s SET opened_at = now(), words = least(2, greatest(1, (
        SELECT count(*) FROM tussock.person p WHERE p.coop_id = coop AND p.role = 'coordinator' AND p.left_at IS NULL)))
    WHERE s.coop_id = coop AND s.year = which;
END
$$;

DO $$
DECLARE
    now text := replace(pg_get_functiondef('tussock.my_word()'::regprocedure), 'tussock.vouched(coop, r.entity_id)', 'tussock.vouched_for(coop, me)');
BEGIN
    IF strpos(now, 'vouched_for') = 0 THEN
        RAISE EXCEPTION 'my_word is another';
    END IF;
    EXECUTE now;
    now := pg_get_functiondef('tussock.cut_off(uuid, integer, smallint)'::regprocedure);
    now := replace(now, '|| (''entity '' || s.entity_id)', '|| (''name '' || (SELECT tussock.fold(e.name) FROM tussock.entity e WHERE e.coop_id = coop AND e.id = s.entity_id))');
    now := replace(now, 's.entity_id = x.a;', 's.entity_id = x.a;
        -- Nobody stands behind a ranch whose owner is not vouched for: it goes beside the landowner whose name it bears, and not in their place.
        UPDATE tussock.season_ranch s SET counts_as = s.ranch_id
        WHERE s.coop_id = coop AND s.season = which AND NOT s.settled AND EXISTS (
            SELECT 1 FROM tussock.season_ranch o WHERE o.coop_id = coop AND o.season = which AND o.counts_as = s.counts_as AND o.settled);');
    IF strpos(now, 'tussock.fold') = 0 OR strpos(now, 'counts_as = s.ranch_id') = 0 THEN
        RAISE EXCEPTION 'cut_off is another';
    END IF;
    EXECUTE now;
END
$$;
DROP FUNCTION tussock.vouched(uuid, uuid);
DROP FUNCTION tussock.owners_of(uuid, uuid);

CREATE OR REPLACE FUNCTION tussock.log_vouch() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND (OLD.ended_at IS NULL) = (NEW.ended_at IS NULL) THEN
        RETURN NULL;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, about_id)
    SELECT NEW.coop_id, NEW.person_id, CASE WHEN NEW.ended_at IS NULL THEN 'vouched' ELSE 'vouch ended' END, r.id, coalesce(p.name, r.name), p.id
    FROM tussock.ranch r
    LEFT JOIN tussock.assignment a ON a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.person_id = NEW.owner_id AND a.kind = 'owner'
    LEFT JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    WHERE r.coop_id = NEW.coop_id AND r.erased_at IS NULL AND (p.id IS NOT NULL OR r.id = NEW.owner_id) ORDER BY r.id LIMIT 1;
    RETURN NULL;
END
$$;

DROP FUNCTION tussock.roster_log(timestamptz);
CREATE FUNCTION tussock.roster_log(from_then timestamptz) RETURNS TABLE (at timestamptz, by_name text, by_again boolean, by_inviter text, kind text, what text, what_again boolean, what_inviter text, was text, became text, mine boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    own uuid[] := tussock.my_own_ranches();
    outside boolean := tussock.my_role() IN ('planner', 'biologist');
    unnamed text[] := ARRAY['suspended', 'suspension kept', 'suspension ended', 'coordinator', 'coordinator gone', 'remove', 'remove ended'];
    called text[] := CASE WHEN own <> '{}' THEN ARRAY( -- what the reader goes by
        SELECT tussock.fold(p.name) FROM tussock.person p WHERE p.coop_id = coop AND p.id = tussock.my_person()
        UNION SELECT tussock.fold(e.name) FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ANY (own)) END;
BEGIN
    RETURN QUERY
    WITH who AS MATERIALIZED (
        SELECT p.id, p.name, n.again, n.inviter FROM tussock.person p CROSS JOIN LATERAL tussock.namesake(coop, p.id) n
        WHERE p.coop_id = coop AND p.id IN (SELECT unnest(ARRAY[x.person_id, x.about_id]) FROM tussock.roster_change x WHERE x.coop_id = coop AND x.at >= from_then)
    )
    SELECT x.at, coalesce(p.name, ''), coalesce(p.again, false), coalesce(p.inviter, ''), x.kind, CASE WHEN outside AND x.kind = ANY (unnamed) THEN '' ELSE x.what END,
        coalesce(a.again, false) AND NOT outside, CASE WHEN outside THEN '' ELSE coalesce(a.inviter, '') END, x.was, x.became,
        coalesce(x.ranch_id = ANY (own) OR x.kind IN ('ranch', 'ranch owner') AND tussock.fold(x.became) = ANY (called), false)
    FROM tussock.roster_change x LEFT JOIN who p ON p.id = x.person_id LEFT JOIN who a ON a.id = x.about_id
    WHERE x.coop_id = coop AND x.at >= from_then
      AND (NOT outside OR x.kind IN ('area', 'area name', 'area group', 'season', 'take back', 'taken back') OR x.kind = ANY (unnamed))
    ORDER BY x.at DESC, x.id;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.fold(text) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.owners_to_vouch(), tussock.roster_log(timestamptz), tussock.my_name_asks(), tussock.answer_name(uuid, boolean) TO tussock_app;
