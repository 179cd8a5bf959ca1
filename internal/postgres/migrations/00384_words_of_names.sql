-- Two names are alike when all words of one are among the other's, in any order, an initial for its word; or when they are the same with the spaces
-- taken out. So what stands beside a name (a title, "2nd", a second surname) makes no other name of it, and no list says what a title is.

-- +goose Up
-- +goose StatementBegin
-- What a name comes to: its letters and digits with the spaces taken out; then, each behind a bar, its words, numbers and initials in their order, and
-- the initials alone.
CREATE OR REPLACE FUNCTION tussock.fold(name text) RETURNS text LANGUAGE sql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
    WITH plain AS (
        SELECT regexp_replace(regexp_replace(regexp_replace(regexp_replace(translate(regexp_replace(normalize(name, NFKD), '[\u0300-\u036f\u00ad\u200b-\u200f\u2060\ufeff''’‘`ʼʻ]', '', 'g'),
            'øØđĐðÐłŁıŋŊħĦŧŦ', 'oOdDdDlLinNhHtT'), '[ßẞ]', 'ss', 'g'), '[æÆ]', 'ae', 'g'), '[œŒ]', 'oe', 'g'), '[þÞ]', 'th', 'g') AS name
    ), word AS (
        SELECT w.word, w.nth FROM plain p, LATERAL (SELECT rtrim(t.word, '@$|!') AS word, t.nth
            FROM regexp_split_to_table(regexp_replace(replace(lower(p.name), '&', ' and '), '[^a-z0-9@$|!]+', ' ', 'g'), ' ') WITH ORDINALITY t (word, nth)) w
        WHERE w.word ~ '[a-z0-9]'
    ), kept AS (
        SELECT w.nth, CASE WHEN w.word !~ '[a-z]' THEN '' ELSE replace(replace(replace(replace(
                translate(regexp_replace(w.word, '[0-9]+$', ''), '0134578@$|!269', 'oleastbasll'), 'cl', 'd'), 'i', 'l'), 'rn', 'm'), 'vv', 'w') END AS letters,
            CASE WHEN w.word !~ '[a-z]' THEN regexp_replace(w.word, '[^0-9]', '', 'g')
                ELSE regexp_replace(regexp_replace(w.word, '[0-9]+$', ''), '[^269]', '', 'g') || coalesce(substring(w.word FROM '[0-9]+$'), '') END AS digits
        FROM word w
    )
    SELECT coalesce((SELECT string_agg(k.letters || k.digits, '' ORDER BY k.nth) || '|' || (SELECT string_agg(p.part, ' ' ORDER BY p.part COLLATE "C") FROM kept x, LATERAL (VALUES (x.letters), (x.digits)) p (part) WHERE p.part <> '')
            || '|' || coalesce(string_agg(k.letters, '') FILTER (WHERE length(k.letters) = 1), '')
        FROM kept k), name)
$$;

-- Whether two words differ by one letter, of five or more each.
CREATE FUNCTION tussock.one_letter(a text, b text) RETURNS boolean LANGUAGE sql IMMUTABLE AS $$
    SELECT least(length(a), length(b)) >= 5 AND abs(length(a) - length(b)) <= 1 AND EXISTS (
        SELECT 1 FROM generate_series(0, least(length(a), length(b))) i (same)
        WHERE left(a, i.same) = left(b, i.same) AND (substr(a, i.same + 2) = substr(b, i.same + 2) OR substr(a, i.same + 2) = substr(b, i.same + 1) OR substr(a, i.same + 1) = substr(b, i.same + 2)))
$$;

-- Whether all words of one name are among another's: two of them at least, one of which is more than an initial; one may have a letter more, less or
-- other. An initial that stands for nothing counts for nothing beside two whole words.
CREATE FUNCTION tussock.among(one text[], other text[]) RETURNS boolean LANGUAGE plpgsql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    lacks text[] := '{}';
    rest text[] := other;
    x text;
    nth integer;
    matched integer := 0;
    whole integer := 0;
    slips integer := 0;
    idle integer := 0;
BEGIN
    FOREACH x IN ARRAY one LOOP
        nth := array_position(rest, x);
        IF nth IS NULL THEN
            lacks := lacks || x;
        ELSE
            rest := rest[:nth - 1] || rest[nth + 1:];
            matched := matched + 1;
            whole := whole + (length(x) > 1 AND x !~ '[0-9]')::integer;
        END IF;
    END LOOP;
    FOREACH x IN ARRAY lacks LOOP
        nth := (SELECT w.nth FROM unnest(rest) WITH ORDINALITY w (word, nth) WHERE x !~ '[0-9]' AND (length(x) = 1) <> (length(w.word) = 1) AND left(w.word, 1) = left(x, 1) LIMIT 1);
        IF nth IS NULL AND slips = 0 AND x !~ '[0-9]' THEN
            nth := (SELECT w.nth FROM unnest(rest) WITH ORDINALITY w (word, nth) WHERE tussock.one_letter(x, w.word) LIMIT 1);
            IF nth IS NOT NULL THEN
                slips := 1;
                whole := whole + 1;
            END IF;
        END IF;
        IF nth IS NOT NULL THEN
            rest := rest[:nth - 1] || rest[nth + 1:];
            matched := matched + 1;
        ELSIF length(x) = 1 AND x !~ '[0-9]' THEN
            idle := idle + 1;
        ELSE
            RETURN false;
        END IF;
    END LOOP;
    RETURN matched > 1 AND whole > 0 AND (idle = 0 OR whole > 1);
END
$$;

-- Whether two folded names are alike that may be.
CREATE OR REPLACE FUNCTION tussock.nearly(one text, other text) RETURNS boolean LANGUAGE plpgsql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    a text := split_part(one, '|', 1);
    b text := split_part(other, '|', 1);
    of_a text[] := string_to_array(split_part(one, '|', 2), ' ');
    of_b text[] := string_to_array(split_part(other, '|', 2), ' ');
    apart_a text[];
    apart_b text[];
BEGIN
    IF tussock.among(of_a, of_b) OR tussock.among(of_b, of_a) OR a <> '' AND length(a) = length(b) AND strpos(b || b, a) > 0 THEN -- words run together may begin with any of them
        RETURN true;
    END IF;
    apart_a := ARRAY(SELECT w.word FROM unnest(of_a) w (word) WHERE length(w.word) = 1 OR w.word ~ '[0-9]');
    apart_b := ARRAY(SELECT w.word FROM unnest(of_b) w (word) WHERE length(w.word) = 1 OR w.word ~ '[0-9]');
    a := (SELECT string_agg(w.word, '' ORDER BY w.word COLLATE "C") FROM unnest(of_a) w (word) WHERE w.word <> ALL (apart_a));
    b := (SELECT string_agg(w.word, '' ORDER BY w.word COLLATE "C") FROM unnest(of_b) w (word) WHERE w.word <> ALL (apart_b));
    IF apart_a <> apart_b OR greatest(length(a), length(b)) < 8 OR abs(length(a) - length(b)) > 1 THEN
        RETURN false;
    END IF;
    RETURN coalesce((SELECT bool_or(tussock.one_letter(a, substr(b, t.n + 1) || left(b, t.n))) FROM generate_series(0, length(b) - 1) t (n)), false);
END
$$;

-- Whether two folded names are alike. What it says first is worked out where it is asked, for pairs by the ten thousand.
CREATE OR REPLACE FUNCTION tussock.alike(one text, other text) RETURNS boolean LANGUAGE sql IMMUTABLE AS $$
    SELECT CASE WHEN one = other THEN true
        WHEN string_to_array(split_part(one, '|', 2), ' ') && string_to_array(split_part(other, '|', 2), ' ') THEN tussock.nearly(one, other)
        WHEN right(one, 1) = '|' AND right(other, 1) = '|' AND (abs(length(split_part(one, '|', 1)) - length(split_part(other, '|', 1))) > 1
            OR length(translate(split_part(one, '|', 1), other, '')) > 1 OR length(translate(split_part(other, '|', 1), one, '')) > 1) THEN false -- no word in both, no initials
        ELSE tussock.nearly(one, other) END
$$;

-- A ranch whose name is like an owner's, and which nobody owns on record, stands under a name that is like nobody's: more words make none.
DO $$
DECLARE
    was text := pg_get_functiondef('tussock.answer_name(uuid, boolean)'::regprocedure);
    now text := replace(was, 'other := other || '' *'' || left(as_owner::text, 4);', 'other := ''Not yet known '' || left(gen_random_uuid()::text, 8);');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'answer_name is another';
    END IF;
    EXECUTE now;
    PERFORM set_config('tussock.session', '', true);
    UPDATE tussock.name_word w SET name = replace(split_part(w.name, '|', 1), ' ', '') || '|' || trim(regexp_replace(replace(w.name, '|', ' '), ' +', ' ', 'g')) || '|' || split_part(w.name, '|', 3) WHERE w.name LIKE '%|%';
END
$$;
-- +goose StatementEnd
ALTER TABLE tussock.person DROP COLUMN folded, ADD folded text GENERATED ALWAYS AS (tussock.fold(name)) STORED;
ALTER TABLE tussock.entity DROP COLUMN folded, ADD folded text GENERATED ALWAYS AS (tussock.fold(name)) STORED;
REVOKE ALL ON FUNCTION tussock.one_letter(text, text), tussock.among(text[], text[]) FROM PUBLIC;
