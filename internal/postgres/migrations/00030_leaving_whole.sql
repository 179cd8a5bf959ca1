-- Leaving, for what came after: whoever leaves takes every sign-in, feed and reminder of theirs along; a ranch that changes
-- hands, or is left without an owner, closes the crew's links as well; and what hangs on a ranch's lines alone goes with
-- them.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION tussock.close_to_crew(coop uuid, ranch uuid, asker uuid) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM tussock.field_session f WHERE f.coop_id = coop AND f.ranch_id = ranch;
    UPDATE tussock.field_link f SET revoked_at = now() WHERE f.coop_id = coop AND f.ranch_id = ranch AND f.revoked_at IS NULL;
    UPDATE tussock.sharing s SET ended_at = coalesce(s.ended_at, now()) WHERE s.coop_id = coop AND s.ranch_id = ranch;
    UPDATE tussock.showcase s SET ended_at = coalesce(s.ended_at, now()) WHERE s.coop_id = coop AND s.ranch_id = ranch;
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = asker WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.ended_by IS NULL;
    DELETE FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch; -- none is no
    DELETE FROM tussock.welcome w WHERE w.coop_id = coop AND w.ranch_id = ranch;
END
$$;

CREATE OR REPLACE FUNCTION tussock.purge(coop uuid, ranch uuid) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    t record;
    stuck boolean;
BEGIN
    FOR t IN
        SELECT c.oid::regclass AS name FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'line_id' AND NOT a.attisdropped
        WHERE c.relnamespace = 'tussock'::regnamespace AND c.relkind = 'r'
          AND NOT EXISTS (SELECT 1 FROM pg_attribute r WHERE r.attrelid = c.oid AND r.attname = 'ranch_id' AND NOT r.attisdropped)
    LOOP
        EXECUTE format('DELETE FROM %s x WHERE x.coop_id = $1 AND x.line_id IN (SELECT l.id FROM tussock.season_line l WHERE l.coop_id = $1 AND l.ranch_id = $2)', t.name) USING coop, ranch;
    END LOOP;
    FOR pass IN 1..9 LOOP -- a table that another one's rows refer to goes after it
        stuck := false;
        FOR t IN
            SELECT c.oid::regclass AS name FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'ranch_id' AND NOT a.attisdropped
            WHERE c.relnamespace = 'tussock'::regnamespace AND c.relkind = 'r' AND c.relname NOT IN ('assignment', 'sharing', 'showcase', 'departure')
        LOOP
            BEGIN
                EXECUTE format('DELETE FROM %s WHERE coop_id = $1 AND ranch_id = $2', t.name) USING coop, ranch;
            EXCEPTION WHEN foreign_key_violation THEN
                stuck := true;
            END;
        END LOOP;
        EXIT WHEN NOT stuck;
    END LOOP;
    IF stuck THEN
        RAISE EXCEPTION 'rows of an erased ranch are left';
    END IF;
    FOR t IN
        SELECT c.oid::regclass AS name FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'ranches' AND NOT a.attisdropped AND a.atttypid = 'uuid[]'::regtype
        WHERE c.relnamespace = 'tussock'::regnamespace AND c.relkind = 'r'
    LOOP
        EXECUTE format('UPDATE %s SET ranches = array_remove(ranches, $2) WHERE coop_id = $1 AND $2 = ANY (ranches)', t.name) USING coop, ranch;
    END LOOP;
    UPDATE tussock.departure d SET heir = '' WHERE d.coop_id = coop AND d.ranch_id = ranch AND d.called_off_at IS NOT NULL;
    UPDATE tussock.sharing s SET ended_at = coalesce(s.ended_at, now()), purpose = '–' WHERE s.coop_id = coop AND s.ranch_id = ranch;
    UPDATE tussock.showcase s SET ended_at = coalesce(s.ended_at, now()), name = '', estimate = NULL, low = NULL, high = NULL WHERE s.coop_id = coop AND s.ranch_id = ranch;
END
$$;

CREATE OR REPLACE FUNCTION tussock.hand_over(coop uuid, ranch uuid, asker uuid, heir_id uuid, keep boolean) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    theirs uuid;
    called text := (SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = heir_id);
BEGIN
    IF keep THEN
        DELETE FROM tussock.view_log l WHERE l.coop_id = coop AND l.ranch_id = ranch;
    ELSE
        PERFORM tussock.forget(coop, ranch);
        PERFORM tussock.purge(coop, ranch);
    END IF;
    PERFORM tussock.close_to_crew(coop, ranch, asker);

    -- One landowner, however many ranches: the new owner's own entity where they have one, else a new one that a
    -- coordinator has yet to vouch for.
    SELECT r.entity_id INTO theirs FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    WHERE a.coop_id = coop AND a.person_id = heir_id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL ORDER BY a.since LIMIT 1;
    IF theirs IS NULL THEN
        WHILE EXISTS (SELECT 1 FROM tussock.entity e WHERE e.coop_id = coop AND e.name = called) LOOP
            called := called || ' (new)';
        END LOOP;
        INSERT INTO tussock.entity (coop_id, name) VALUES (coop, called) RETURNING id INTO theirs;
    END IF;
    UPDATE tussock.ranch r SET entity_id = theirs WHERE r.coop_id = coop AND r.id = ranch;
    INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind) VALUES (coop, heir_id, ranch, theirs, 'owner');
    UPDATE tussock.assignment a SET confirmed_at = now(), confirmed_by = asker
    WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.person_id = heir_id AND a.until IS NULL;
END
$$;

CREATE OR REPLACE FUNCTION tussock.depart(coop uuid, person uuid) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    t record;
    ranch uuid;
    address text := (SELECT a.email FROM tussock.account a WHERE a.coop_id = coop AND a.person_id = person);
BEGIN
    FOR ranch IN -- that have no other owner
        SELECT a.ranch_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.person_id = person AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
        AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = coop AND o.ranch_id = a.ranch_id AND o.person_id <> person
                        AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
    LOOP
        PERFORM tussock.close_to_crew(coop, ranch, person);
    END LOOP;
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.person_id = person AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = person WHERE a.coop_id = coop AND a.person_id = person AND a.ended_by IS NULL;
    -- What is about the person alone; what is about a ranch is its owners'.
    FOR t IN
        SELECT c.oid::regclass AS name FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'person_id' AND NOT a.attisdropped
        WHERE c.relnamespace = 'tussock'::regnamespace AND c.relkind = 'r' AND c.relname NOT IN ('alarm', 'departure')
          AND NOT EXISTS (SELECT 1 FROM pg_attribute r WHERE r.attrelid = c.oid AND r.attname = 'ranch_id' AND NOT r.attisdropped)
    LOOP
        EXECUTE format('DELETE FROM %s WHERE coop_id = $1 AND person_id = $2', t.name) USING coop, person;
    END LOOP;
    DELETE FROM tussock.invitation i WHERE i.coop_id = coop AND i.email = address;
    UPDATE tussock.person p SET left_at = now(),
        -- where a ranch is left that they once opened, its log still says who
        name = CASE WHEN EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
            WHERE a.coop_id = coop AND a.person_id = person AND r.erased_at IS NULL) THEN p.name ELSE 'Somebody who left' END
    WHERE p.coop_id = coop AND p.id = person;
END
$$;
-- +goose StatementEnd
