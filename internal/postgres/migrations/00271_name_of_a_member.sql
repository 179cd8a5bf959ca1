-- Whoever of the landowners has the name on a ranch's record is asked, vouched for or not, with a ranch or without one; until they have
-- said their word no yes on paper is written down for it. A newcomer who has a member's name is no first owner by that name alone either: the
-- member's word comes first.

-- +goose Up
-- +goose StatementBegin
-- Those whose name a ranch stands under (the first of that name, and who of the others owns a ranch), or who own another under it since
-- before, and none of whom owns this one. Who has answered already is left out, and who came after an owner of the ranch who has that name.
CREATE OR REPLACE FUNCTION tussock.bearers(coop uuid, ranch uuid) RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    called text := (SELECT tussock.fold(e.name) FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ranch AND r.erased_at IS NULL);
    typed timestamptz := (SELECT max(x.at) FROM tussock.roster_change x WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.kind IN ('ranch', 'ranch owner'));
    began timestamptz := (SELECT min(a.confirmed_at) FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
BEGIN
    RETURN ARRAY(
        SELECT p.id
        FROM tussock.person p
        CROSS JOIN LATERAL (SELECT least(
            CASE WHEN tussock.fold(p.name) = called AND (EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.person_id = p.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL)
                OR NOT EXISTS (SELECT 1 FROM tussock.person f WHERE f.coop_id = coop AND f.role = 'landowner' AND f.left_at IS NULL AND (f.joined_at, f.id) < (p.joined_at, p.id) AND tussock.fold(f.name) = called)) THEN p.joined_at END, (
            SELECT min(a.confirmed_at) FROM tussock.assignment a
            JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id AND r.erased_at IS NULL
            JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
            WHERE a.coop_id = coop AND a.person_id = p.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND a.ranch_id <> ranch AND tussock.fold(e.name) = called)) AS since) b
        WHERE p.coop_id = coop AND p.role = 'landowner' AND p.left_at IS NULL AND b.since IS NOT NULL
          AND (began IS NULL OR b.since < greatest(typed, began))
          AND NOT tussock.owns(coop, ranch, p.id)
          AND NOT EXISTS (SELECT 1 FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = ranch AND w.person_id = p.id AND w.name = called)
          AND NOT EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.person o ON o.coop_id = a.coop_id AND o.id = a.person_id
            WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
              AND tussock.fold(o.name) = called AND (o.joined_at, o.id) < (p.joined_at, p.id)));
END
$$;

-- The landowners who had somebody's name before them, do not own the ranch, and have not said yes to that one's coming onto it.
CREATE FUNCTION tussock.namesakes(coop uuid, ranch uuid, person uuid) RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    p tussock.person;
    called text;
BEGIN
    SELECT * INTO p FROM tussock.person x WHERE x.coop_id = coop AND x.id = person;
    called := tussock.fold(p.name);
    RETURN ARRAY(
        SELECT o.id FROM tussock.person o
        WHERE o.coop_id = coop AND o.role = 'landowner' AND o.left_at IS NULL AND o.id <> person AND (o.joined_at, o.id) < (p.joined_at, p.id) AND tussock.fold(o.name) = called
          AND NOT tussock.owns(coop, ranch, o.id)
          AND NOT EXISTS (SELECT 1 FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = ranch AND w.person_id = o.id AND w.name = called AND w.yes));
END
$$;

-- Whether somebody waits to come onto a ranch that has no owner, by the reader's own name, and the reader has said nothing of it.
CREATE FUNCTION tussock.my_namesake_waits(ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    RETURN EXISTS (
        SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NULL
          AND NOT EXISTS (SELECT 1 FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = my_namesake_waits.ranch AND w.person_id = me AND w.name = tussock.fold(p.name))
          AND me = ANY (tussock.namesakes(coop, a.ranch_id, a.person_id)))
      AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = my_namesake_waits.ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
END
$$;

CREATE OR REPLACE FUNCTION tussock.first_on(coop uuid, ranch uuid, person uuid, part text) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = ranch)
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL
                       AND (a.kind = 'owner' OR part = 'hand'))
       AND (part = 'hand' OR tussock.named_on(
            (SELECT e.name FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ranch),
            (SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = person))
            AND array_remove(tussock.bearers(coop, ranch), person) = '{}'
            AND tussock.namesakes(coop, ranch, person) = '{}');
END
$$;

-- What a landowner goes by: their name, and those on the records of their ranches.
CREATE FUNCTION tussock.my_names() RETURNS text[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    RETURN CASE WHEN tussock.my_role() = 'landowner' THEN ARRAY(
        SELECT tussock.fold(p.name) FROM tussock.person p WHERE p.coop_id = coop AND p.id = tussock.my_person()
        UNION SELECT tussock.fold(e.name) FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ANY (tussock.my_own_ranches())) END;
END
$$;

-- The ranches that stand under the reader's name and are none of theirs, and those that somebody of the same name waits to come onto.
DROP FUNCTION tussock.my_name_asks();
CREATE FUNCTION tussock.my_name_asks() RETURNS TABLE (ranch uuid, ranch_name text, owner_name text, named boolean, at timestamptz, by_name text, who text, email text) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    called text[] := tussock.my_names();
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'landowner' THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT r.id, r.name, e.name, n.named, x.at, coalesce(b.name, ''), coalesce(w.name, ''), coalesce(w.email, '')
    FROM tussock.ranch r
    JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
    CROSS JOIN LATERAL (SELECT CASE WHEN tussock.fold(e.name) = ANY (called) THEN me = ANY (tussock.bearers(coop, r.id)) ELSE false END AS named) n
    LEFT JOIN LATERAL (SELECT c.at, c.person_id FROM tussock.roster_change c WHERE c.coop_id = coop AND c.ranch_id = r.id AND c.kind IN ('ranch', 'ranch owner') ORDER BY c.at DESC LIMIT 1) x ON true
    LEFT JOIN tussock.person b ON b.coop_id = coop AND b.id = x.person_id
    LEFT JOIN LATERAL (SELECT p.name, c.email FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        LEFT JOIN tussock.account c ON c.coop_id = p.coop_id AND c.person_id = p.id
        WHERE a.coop_id = coop AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL ORDER BY a.since, p.id LIMIT 1) w ON true
    WHERE r.coop_id = coop AND r.erased_at IS NULL AND (n.named OR tussock.my_namesake_waits(r.id))
      AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = r.id AND a.person_id = me AND a.kind = 'owner' AND a.until IS NULL)
    ORDER BY r.name;
END
$$;

-- The reader's word on one of them. A no takes their name off the record where it stands there, and whoever waited under it, or by it.
CREATE OR REPLACE FUNCTION tussock.answer_name(which uuid, says boolean) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    mine text := (SELECT tussock.fold(p.name) FROM tussock.person p WHERE p.coop_id = coop AND p.id = me);
    named boolean;
    called text;
    other text;
    as_owner uuid := gen_random_uuid();
BEGIN
    SELECT r.name INTO other FROM tussock.ranch r WHERE r.coop_id = coop AND r.id = which FOR UPDATE;
    named := me = ANY (tussock.bearers(coop, which));
    IF tussock.my_role() IS DISTINCT FROM 'landowner' OR NOT named AND NOT tussock.my_namesake_waits(which)
       OR EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = which AND a.person_id = me AND a.kind = 'owner' AND a.until IS NULL) THEN
        RETURN false;
    END IF;
    called := (SELECT tussock.fold(e.name) FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = which);
    INSERT INTO tussock.name_word (coop_id, ranch_id, person_id, name, yes)
    SELECT coop, which, me, n.name, says FROM (SELECT mine UNION SELECT called WHERE named) n (name)
    ON CONFLICT ON CONSTRAINT name_word_pkey DO NOTHING;
    IF says THEN
        PERFORM tussock.let_first_on(coop, which);
        RETURN true;
    END IF;
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = which AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NULL
        AND (named OR tussock.fold((SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = a.person_id)) = mine);
    IF NOT named THEN
        RETURN true;
    END IF;
    UPDATE tussock.invitation i SET revoked_at = now() WHERE i.coop_id = coop AND i.role = 'landowner' AND which = ANY (i.ranches) AND i.used_at IS NULL AND i.revoked_at IS NULL;
    WHILE EXISTS (SELECT 1 FROM tussock.entity e WHERE e.coop_id = coop AND tussock.fold(e.name) = tussock.fold(other)) LOOP
        other := other || ' *' || left(as_owner::text, 4);
    END LOOP;
    INSERT INTO tussock.entity (coop_id, id, name) VALUES (coop, as_owner, other);
    UPDATE tussock.ranch r SET entity_id = as_owner WHERE r.coop_id = coop AND r.id = which;
    RETURN true;
END
$$;

CREATE FUNCTION tussock.keep_paper() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF tussock.bearers(NEW.coop_id, NEW.ranch_id) <> '{}' THEN
        RAISE EXCEPTION 'a member of that name has not answered' USING ERRCODE = '23505', CONSTRAINT = 'consent_name_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER keep_paper BEFORE INSERT ON tussock.consent FOR EACH ROW WHEN (NEW.paper AND NEW.level > 0) EXECUTE FUNCTION tussock.keep_paper();
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.namesakes(uuid, uuid, uuid), tussock.my_namesake_waits(uuid), tussock.my_names(), tussock.my_name_asks() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.my_name_asks() TO tussock_app;
