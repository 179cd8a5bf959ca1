-- Names are written with the letters A to Z, with or without accents (package names), so nothing is left of letters of other alphabets that look
-- like them; the few letters that do not come apart count as here. Digits and signs between letters count as the letters that they are taken
-- for. And initials are no longer left out before names are compared: a name whose words are each the other's word or its initial is alike.

-- +goose Up
-- +goose StatementBegin
-- What a name comes to: its words, in their order; then, each behind a bar, its numbers and its initials.
CREATE OR REPLACE FUNCTION tussock.fold(name text) RETURNS text LANGUAGE sql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
    WITH plain AS (
        SELECT regexp_replace(regexp_replace(regexp_replace(regexp_replace(translate(regexp_replace(normalize(name, NFKD), '[\u0300-\u036f\u00ad\u200b-\u200f\u2060\ufeff''’‘`ʼʻ]', '', 'g'),
            'øØđĐðÐłŁıŋŊħĦŧŦ', 'oOdDdDlLinNhHtT'), '[ßẞ]', 'ss', 'g'), '[æÆ]', 'ae', 'g'), '[œŒ]', 'oe', 'g'), '[þÞ]', 'th', 'g') AS name
    ), word AS (
        SELECT w.word, w.word !~ '[a-z]' AS number, w.word IN ('mr', 'mrs', 'ms', 'miss', 'dr', 'sr', 'jr', 'sra', 'srta', 'senor', 'senora', 'sir', 'prof', 'rev', 'ii', 'iii', 'iv') AS title,
            w.word IN ('don', 'dona') AS don, length(w.word) = 1 AS single
        FROM plain p, LATERAL (SELECT rtrim(t.word, '@$|!') AS word FROM regexp_split_to_table(regexp_replace(lower(p.name), '[^a-z0-9@$|!]+', ' ', 'g'), ' ') t (word)) w
        WHERE w.word ~ '[a-z0-9]'
    ), has AS (
        SELECT count(*) FILTER (WHERE NOT number AND NOT title AND NOT single) AS words, count(*) FILTER (WHERE NOT number AND NOT title AND NOT don AND NOT single) AS firm FROM word
    ), kept AS (
        SELECT CASE WHEN w.number THEN '' ELSE replace(replace(replace(
                translate(regexp_replace(w.word, '[0-9]+$', ''), '0134578@$|!269', 'oleastbasll'), 'i', 'l'), 'rn', 'm'), 'vv', 'w') END AS letters,
            CASE WHEN w.number THEN regexp_replace(w.word, '[^0-9]', '', 'g')
                ELSE regexp_replace(regexp_replace(w.word, '[0-9]+$', ''), '[^269]', '', 'g') || coalesce(substring(w.word FROM '[0-9]+$'), '') END AS digits
        FROM word w, has h
        WHERE w.number OR NOT (w.title AND h.words > 0 OR w.don AND h.firm > 1)
    )
    SELECT coalesce((SELECT nullif(concat_ws('|', coalesce(string_agg(k.letters, ' ' ORDER BY k.letters COLLATE "C") FILTER (WHERE length(k.letters) > 1), ''),
        coalesce(string_agg(k.digits, ' ' ORDER BY k.digits COLLATE "C") FILTER (WHERE k.digits <> ''), ''),
        coalesce(string_agg(k.letters, ' ' ORDER BY k.letters COLLATE "C") FILTER (WHERE length(k.letters) = 1), '')), '||') FROM kept k), name)
$$;

-- Whether two folded names are alike that have letters in common. An initial stands for a word of the other name, and counts for nothing where it
-- stands for none beside two words or more.
CREATE FUNCTION tussock.nearly(one text, other text) RETURNS boolean LANGUAGE plpgsql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    a text := replace(split_part(one, '|', 1), ' ', '');
    b text := replace(split_part(other, '|', 1), ' ', '');
    of_a text[];
    of_b text[];
    by_a text[] := '{}'; -- words of the other for which an initial stands
    by_b text[] := '{}';
    left_a text := '';
    left_b text := '';
    x text;
    found text;
    n integer;
BEGIN
    IF split_part(one, '|', 2) <> split_part(other, '|', 2) THEN
        RETURN false;
    END IF;
    IF split_part(one, '|', 3) <> '' OR split_part(other, '|', 3) <> '' THEN
        of_a := string_to_array(split_part(one, '|', 1), ' ');
        of_b := string_to_array(split_part(other, '|', 1), ' ');
        FOREACH x IN ARRAY string_to_array(split_part(one, '|', 3), ' ') LOOP
            found := (SELECT w.word FROM unnest(of_b) w (word) WHERE left(w.word, 1) = x AND w.word <> ALL (of_a || by_a) ORDER BY w.word COLLATE "C" LIMIT 1);
            IF found IS NULL THEN
                left_a := left_a || x;
            ELSE
                by_a := by_a || found;
            END IF;
        END LOOP;
        FOREACH x IN ARRAY string_to_array(split_part(other, '|', 3), ' ') LOOP
            found := (SELECT w.word FROM unnest(of_a) w (word) WHERE left(w.word, 1) = x AND w.word <> ALL (of_b || by_b) ORDER BY w.word COLLATE "C" LIMIT 1);
            IF found IS NULL THEN
                left_b := left_b || x;
            ELSE
                by_b := by_b || found;
            END IF;
        END LOOP;
        IF cardinality(by_a) >= cardinality(of_b) OR cardinality(by_b) >= cardinality(of_a) -- no word in both
           OR (CASE WHEN cardinality(of_a) + cardinality(by_a) > 1 THEN '' ELSE left_a END) <> (CASE WHEN cardinality(of_b) + cardinality(by_b) > 1 THEN '' ELSE left_b END) THEN
            RETURN false;
        END IF;
        a := (SELECT string_agg(w.word, '' ORDER BY w.word COLLATE "C") FROM unnest(of_a || by_a) w (word));
        b := (SELECT string_agg(w.word, '' ORDER BY w.word COLLATE "C") FROM unnest(of_b || by_b) w (word));
    END IF;
    IF a = b THEN
        RETURN a <> '';
    END IF;
    n := length(a) - length(b);
    IF greatest(length(a), length(b)) < 8 OR abs(n) > 1 OR length(translate(a, b, '')) > 1 OR length(translate(b, a, '')) > 1
       OR (SELECT sum(abs(length(replace(a, l.letter, '')) - length(replace(b, l.letter, '')) - n)) FROM unnest('{a,e,l,o,r,s,n,t}'::text[]) l (letter)) > 2 THEN
        RETURN false;
    END IF;
    RETURN EXISTS ( -- words run together may begin with any of them
        SELECT 1 FROM generate_series(0, length(b) - 1) t (n), LATERAL (SELECT substr(b, t.n + 1) || left(b, t.n) AS turned) r, generate_series(0, least(length(a), length(b))) i (same)
        WHERE left(a, i.same) = left(r.turned, i.same) AND (substr(a, i.same + 2) = substr(r.turned, i.same + 2)
           OR substr(a, i.same + 2) = substr(r.turned, i.same + 1) OR substr(a, i.same + 1) = substr(r.turned, i.same + 2)));
END
$$;

-- Whether two folded names are alike. What it says first is worked out where it is asked, for pairs by the ten thousand.
DROP FUNCTION tussock.alike(text, text);
CREATE FUNCTION tussock.alike(one text, other text) RETURNS boolean LANGUAGE sql IMMUTABLE AS $$
    SELECT CASE WHEN one = other THEN true
        WHEN right(one, 1) = '|' AND right(other, 1) = '|' AND (length(translate(one, other, '')) > 1 OR length(translate(other, one, '')) > 1) THEN false -- no initials
        ELSE tussock.nearly(one, other) END
$$;

DO $$
BEGIN
    PERFORM set_config('tussock.session', '', true);
    UPDATE tussock.name_word w SET name = concat_ws('|', split_part(w.name, '|', 1), trim(regexp_replace(split_part(w.name, '|', 2), '[a-z]', '', 'g')), trim(regexp_replace(split_part(w.name, '|', 2), '[0-9]', '', 'g')))
    WHERE w.name ~ '^[a-z]*(\|[a-z0-9 ]*)?$';
END
$$;
-- +goose StatementEnd
ALTER TABLE tussock.person DROP COLUMN folded, ADD folded text GENERATED ALWAYS AS (tussock.fold(name)) STORED;
ALTER TABLE tussock.entity DROP COLUMN folded, ADD folded text GENERATED ALWAYS AS (tussock.fold(name)) STORED;
REVOKE ALL ON FUNCTION tussock.nearly(text, text), tussock.alike(text, text) FROM PUBLIC;
