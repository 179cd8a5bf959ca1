-- Whether two names are alike is said in one place: without accents, case, signs, titles and single initials, whatever the order of the words and
-- the spaces, letters that look alike as one, and in names of eight letters or more with one letter more, less or other. And who is asked in as
-- the owner of a ranch joins under the name that it stands under, or under one that nobody on the list has, which all read.

-- +goose Up
-- +goose StatementBegin
-- What a name comes to: the letters of its words, in the order of the words; then, behind a bar, numbers and what stands alone. (Letters that
-- look alike after Unicode's report 39 on confusable letters; the table is from memory, and shorter.)
CREATE OR REPLACE FUNCTION tussock.fold(name text) RETURNS text LANGUAGE sql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
    WITH word AS (
        SELECT w.word, w.word ~ '^[0-9]+$' AS number, w.word IN ('mr', 'mrs', 'ms', 'miss', 'dr', 'sr', 'jr', 'sra', 'srta', 'senor', 'senora', 'sir', 'prof', 'rev', 'ii', 'iii', 'iv') AS title,
            w.word IN ('don', 'dona') AS don
        FROM regexp_split_to_table(regexp_replace(regexp_replace(lower(translate(
            regexp_replace(normalize(name, NFKD), '[\u0300-\u036f\u00ad\u200b-\u200f\u2060\ufeff]', '', 'g'),
            'АВЕКМНОРСТУХЅІЈԚԜҮӀавекмнорстухѕіјԛԝүӏһԁѵгьΑΒΕΖΗΙΚΜΝΟΡΤΥΧαεικνορτυχγηωıɑɡ',
            'ABEKMHOPCTYXSIJQWYlabekmhopctyxsijqwylhdvrbABEZHIKMNOPTYXaeikvoptuxynwiag')), '[''’‘`ʼ]', '', 'g'), '[[:space:][:punct:]“”–—·•]+', ' ', 'g'), ' ') w (word)
        WHERE w.word <> ''
    ), has AS (
        SELECT count(*) FILTER (WHERE NOT number AND NOT title AND length(word) > 1) AS words, count(*) FILTER (WHERE NOT number AND NOT title AND NOT don AND length(word) > 1) AS firm FROM word
    ), kept AS (
        SELECT replace(replace(replace(regexp_replace(regexp_replace(w.word, '0(?=[a-z])', 'o', 'g'), '1(?=[a-z])', 'l', 'g'), 'i', 'l'), 'rn', 'm'), 'vv', 'w') AS word,
            w.number OR length(w.word) = 1 AS apart
        FROM word w, has h
        WHERE w.number OR NOT (w.title AND h.words > 0 OR (w.don OR length(w.word) = 1) AND h.firm > 1)
    )
    SELECT coalesce(nullif(coalesce((SELECT string_agg(regexp_replace(k.word, '[0-9]', '', 'g'), '' ORDER BY k.word COLLATE "C") FROM kept k WHERE NOT k.apart), '')
        || coalesce('|' || (SELECT string_agg(CASE WHEN k.apart THEN k.word ELSE regexp_replace(k.word, '[^0-9]', '', 'g') END, ' ' ORDER BY k.word COLLATE "C") FROM kept k WHERE k.apart OR k.word ~ '[0-9]'), ''), ''), name)
$$;

-- Whether two folded names are alike.
CREATE FUNCTION tussock.alike(one text, other text) RETURNS boolean LANGUAGE plpgsql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    a text := split_part(one, '|', 1);
    b text := split_part(other, '|', 1);
BEGIN
    IF one IS NULL OR other IS NULL OR one = other THEN
        RETURN one = other;
    END IF;
    IF split_part(one, '|', 2) <> split_part(other, '|', 2) OR greatest(length(a), length(b)) < 8 OR abs(length(a) - length(b)) > 1
       OR length(translate(a, b, '')) > 1 OR length(translate(b, a, '')) > 1 THEN
        RETURN false;
    END IF;
    RETURN EXISTS ( -- words run together may begin with any of them
        SELECT 1 FROM generate_series(0, length(b) - 1) t (n), LATERAL (SELECT substr(b, t.n + 1) || left(b, t.n) AS turned) r, generate_series(0, least(length(a), length(b))) i (same)
        WHERE left(a, i.same) = left(r.turned, i.same) AND (substr(a, i.same + 2) = substr(r.turned, i.same + 2)
           OR substr(a, i.same + 2) = substr(r.turned, i.same + 1) OR substr(a, i.same + 1) = substr(r.turned, i.same + 2)));
END
$$;
CREATE FUNCTION tussock.alike(one text, others text[]) RETURNS boolean LANGUAGE sql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(bool_or(tussock.alike(one, o.name)), false) FROM unnest(others) o (name)
$$;
-- +goose StatementEnd
ALTER TABLE tussock.person ADD folded text GENERATED ALWAYS AS (tussock.fold(name)) STORED;
ALTER TABLE tussock.entity ADD folded text GENERATED ALWAYS AS (tussock.fold(name)) STORED;

-- +goose StatementBegin
DO $$
DECLARE
    f text;
    was text;
    now text;
BEGIN
    PERFORM set_config('tussock.session', '', true);
    -- What was said of a name as it was folded before is said of what it comes to now; where that is the same twice, what was said last.
    DELETE FROM tussock.name_word w USING tussock.name_word o
    WHERE o.coop_id = w.coop_id AND o.ranch_id = w.ranch_id AND o.person_id = w.person_id AND tussock.fold(o.name) = tussock.fold(w.name) AND (o.said_at, o.name) > (w.said_at, w.name);
    UPDATE tussock.name_word w SET name = tussock.fold(w.name);
    EXECUTE 'ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check, ADD CONSTRAINT roster_change_kind_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'roster_change_kind_check'), 'ARRAY[', 'ARRAY[''other name''::text, ');

    FOREACH f IN ARRAY ARRAY['bearers(uuid, uuid)', 'namesakes(uuid, uuid, uuid)', 'namesake(uuid, uuid)', 'my_names()', 'my_namesake_waits(uuid)', 'my_name_asks()', 'answer_name(uuid, boolean)',
        'my_comings(timestamptz)', 'keep_name_off()', 'roster_letters()', 'roster_log(timestamptz)', 'cut_off(uuid, integer, smallint)'] LOOP
        was := pg_get_functiondef(('tussock.' || f)::regprocedure);
        now := regexp_replace(was, 'tussock\.fold\((\w+)\.name\)', '\1.folded', 'g'); -- as the row keeps it
        now := regexp_replace(now, '(\w+)\.folded = (called|mine|\w+\.folded|tussock\.fold\([\w.]+\))', 'tussock.alike(\1.folded, \2)', 'g');
        now := regexp_replace(now, 'w\.name = (called|\w+\.folded)', 'tussock.alike(w.name, \1)', 'g');
        now := regexp_replace(now, '(\w+\.folded|tussock\.fold\([\w.]+\)) = ANY \(called\)', 'tussock.alike(\1, called)', 'g');
        CASE f
        WHEN 'answer_name(uuid, boolean)' THEN
            now := replace(now, 'tussock.fold((SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = a.person_id)) = mine',
                'tussock.alike((SELECT p.folded FROM tussock.person p WHERE p.coop_id = coop AND p.id = a.person_id), mine)');
        WHEN 'my_comings(timestamptz)' THEN
            now := replace(now, 'tussock.fold(CASE x.kind WHEN ''coordinator'' THEN x.what ELSE x.was END) = called', 'tussock.alike(tussock.fold(CASE x.kind WHEN ''coordinator'' THEN x.what ELSE x.was END), called)');
        WHEN 'cut_off(uuid, integer, smallint)' THEN
            now := replace(now, ' || (''name '' || (SELECT e.folded FROM tussock.entity e WHERE e.coop_id = coop AND e.id = s.entity_id))', '');
            now := replace(now, 'JOIN trace y ON y.trace = x.trace
        ), reach', 'JOIN trace y ON y.trace = x.trace
            UNION SELECT x.id, y.id FROM tussock.entity x JOIN tussock.entity y ON y.coop_id = x.coop_id AND tussock.alike(x.folded, y.folded)
            WHERE x.coop_id = coop AND x.id IN (SELECT s.entity_id FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which)
              AND y.id IN (SELECT s.entity_id FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which)
        ), reach');
        ELSE NULL;
        END CASE;
        IF strpos(now, 'alike(') = 0 AND f <> 'my_names()' OR now ~ 'tussock\.fold\([^)]*\)\)? =' OR now ~ 'folded =|[^:]= \w+\.folded' THEN
            RAISE EXCEPTION '% is another: %', f, now;
        END IF;
        EXECUTE now;
    END LOOP;
END
$$;

-- Whether somebody may join by an invitation under a name: as the owner of ranches under the name that one of them stands under, or one that is
-- like nobody's on the list.
CREATE FUNCTION tussock.joins_as(i tussock.invitation, called text) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE k text := tussock.fold(called);
BEGIN
    RETURN i.role <> 'landowner' OR i.heir_of IS NOT NULL -- whose coming a coordinator said yes to
        OR EXISTS (SELECT 1 FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = i.coop_id AND r.id = ANY (i.ranches) AND tussock.alike(e.folded, k))
        OR NOT EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = i.coop_id AND p.left_at IS NULL AND tussock.alike(p.folded, k))
       AND NOT EXISTS (SELECT 1 FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = i.coop_id AND r.erased_at IS NULL AND tussock.alike(e.folded, k));
END
$$;

CREATE FUNCTION tussock.keep_name() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE i tussock.invitation;
BEGIN
    SELECT * INTO i FROM tussock.invitation x WHERE x.coop_id = NEW.coop_id AND x.id = NEW.invitation_id;
    IF NOT tussock.joins_as(i, NEW.name) THEN
        RAISE EXCEPTION 'somebody else''s name' USING ERRCODE = '23505', CONSTRAINT = 'invitation_name_check';
    END IF;
    RETURN NEW;
END
$$;

CREATE FUNCTION tussock.log_other_name() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became, about_id)
    SELECT NEW.coop_id, NEW.invited_by, 'other name', r.id, r.name, asked.name, NEW.name, NEW.id
    FROM tussock.invitation i
    JOIN tussock.ranch r ON r.coop_id = i.coop_id AND r.id = ANY (i.ranches)
    JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
    CROSS JOIN LATERAL (SELECT CASE WHEN tussock.alike(e.folded, NEW.folded) OR e.name = r.name OR EXISTS (SELECT 1 FROM tussock.assignment a
        WHERE a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN i.name ELSE e.name END) asked (name) -- no owner was named, or a further one has another name than the first
    WHERE i.coop_id = NEW.coop_id AND i.id = NEW.invitation_id AND asked.name <> '' AND NOT tussock.alike(tussock.fold(asked.name), NEW.folded);
    RETURN NULL;
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.accept_invitation(bytea, text, text, text, text)'::regprocedure);
    now text := replace(replace(was, '(coop_id, name, role, invited_by, heir_of)', '(coop_id, name, role, invited_by, heir_of, invitation_id)'), 'u.invited_by, u.heir_of FROM used u', 'u.invited_by, u.heir_of, u.id FROM used u');
BEGIN
    IF length(now) - length(was) <> length(', invitation_id') + length(', u.id') THEN
        RAISE EXCEPTION 'accept_invitation is another';
    END IF;
    ALTER TABLE tussock.person ADD invitation_id uuid; -- by which they joined
    EXECUTE now;
END
$$;
-- +goose StatementEnd
CREATE TRIGGER keep_name BEFORE INSERT ON tussock.person FOR EACH ROW WHEN (NEW.role = 'landowner' AND NEW.invitation_id IS NOT NULL) EXECUTE FUNCTION tussock.keep_name();
CREATE TRIGGER log_other_name AFTER INSERT ON tussock.person FOR EACH ROW WHEN (NEW.role = 'landowner' AND NEW.invitation_id IS NOT NULL) EXECUTE FUNCTION tussock.log_other_name();
REVOKE ALL ON FUNCTION tussock.alike(text, text), tussock.alike(text, text[]), tussock.joins_as(tussock.invitation, text), tussock.keep_name(), tussock.log_other_name() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.fold(text) TO tussock_app; -- who adds an owner of a ranch writes down what the name comes to
