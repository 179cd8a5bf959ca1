-- Consent that is one flag, dated and asked again; figures that an owner shows under the ranch's own name; and the ways
-- out, each carried out only when its days to think it over have passed.

-- +goose Up

-- One population: a ranch is in all anonymous figures or in none. Sharing by name and showing figures are tables of
-- their own, which nobody's anonymous figure depends on.
UPDATE tussock.consent SET level = 1 WHERE level > 1;
ALTER TABLE tussock.consent
    DROP CONSTRAINT consent_level_check,
    ADD CONSTRAINT consent_level_check CHECK (level IN (0, 1)),
    ADD COLUMN through date;

-- Every yes is good through a 30 April, ten months ahead at least: all are asked again in the same season, in winter,
-- before anything is set out, and nobody's date says when they came.
-- +goose StatementBegin
CREATE FUNCTION tussock.good_through(given date) RETURNS date
LANGUAGE plpgsql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    earliest date := given + interval '10 months';
    april date := make_date(extract(year FROM earliest)::integer, 4, 30);
BEGIN
    RETURN CASE WHEN april >= earliest THEN april ELSE april + interval '1 year' END;
END
$$;

CREATE FUNCTION tussock.date_consent() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.given_at := clock_timestamp();
    NEW.through := CASE WHEN NEW.level > 0 THEN tussock.good_through((NEW.given_at AT TIME ZONE 'UTC')::date) END;
    RETURN NEW;
END
$$;
-- +goose StatementEnd
UPDATE tussock.consent SET through = tussock.good_through((given_at AT TIME ZONE 'UTC')::date) WHERE level > 0;
ALTER TABLE tussock.consent ADD CONSTRAINT consent_through_check CHECK ((level = 0) = (through IS NULL));
CREATE TRIGGER date_consent BEFORE INSERT ON tussock.consent FOR EACH ROW EXECUTE FUNCTION tussock.date_consent();
REVOKE INSERT ON tussock.consent FROM tussock_app;
GRANT INSERT (coop_id, ranch_id, level, given_by) ON tussock.consent TO tussock_app;

-- A yes that nobody renewed no longer opens the ranch to a biologist either.
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.my_shared_ranches() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT s.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.sharing s ON s.coop_id = v.coop_id AND s.person_id = v.person_id
        JOIN tussock.assignment a ON a.coop_id = s.coop_id AND a.ranch_id = s.ranch_id AND a.person_id = s.given_by
        WHERE v.role = 'biologist' AND current_setting('transaction_read_only') = 'off'
          AND s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
          AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
          AND (SELECT CASE WHEN c.through >= (now() AT TIME ZONE 'UTC')::date THEN c.level ELSE 0 END
               FROM tussock.consent c WHERE c.coop_id = s.coop_id AND c.ranch_id = s.ranch_id ORDER BY c.given_at DESC LIMIT 1) >= 1);
END
$$;

-- Who contributes nothing is an outsider: a landowner who has never had a ranch sees what an outsider does.
CREATE OR REPLACE FUNCTION tussock.my_least() RETURNS integer
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT CASE
            WHEN v.role = 'coordinator' THEN 5
            WHEN v.role = 'landowner' AND EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id
                AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL) THEN 5
            WHEN v.role IN ('landowner', 'biologist', 'planner') THEN 10 END
        FROM tussock.viewer() v);
END
$$;
-- +goose StatementEnd

-- What an owner shows under the ranch's name: one season's one figure as it was when it was chosen. It is only for a
-- season whose bulletin is still to come, and appears with it: the bulletin is then made as if everybody knew that
-- owner's numbers, now and ever after. A figure beside a bulletin that counted the owner among its five would leave four.
CREATE TABLE tussock.showcase (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    id        uuid NOT NULL DEFAULT gen_random_uuid(),
    entity_id uuid NOT NULL,
    name      text NOT NULL, -- the ranch's
    season    integer NOT NULL CHECK (season BETWEEN 1900 AND 2200),
    item      text NOT NULL CHECK (item IN ('survival', 'cover')),
    estimate  double precision,
    low       double precision,
    high      double precision,
    put_by    uuid NOT NULL,
    put_at    timestamptz NOT NULL DEFAULT now(),
    ended_at  timestamptz,
    CONSTRAINT showcase_pkey PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT showcase_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT showcase_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity,
    CONSTRAINT showcase_person_fkey FOREIGN KEY (coop_id, put_by) REFERENCES tussock.person
);
CREATE UNIQUE INDEX showcase_once ON tussock.showcase (coop_id, ranch_id, season, item) WHERE ended_at IS NULL;

-- A way out that was asked for: leaving oneself, erasing a ranch, or handing it to somebody who bought it.
CREATE TABLE tussock.departure (
    coop_id       uuid NOT NULL,
    id            uuid NOT NULL DEFAULT gen_random_uuid(),
    kind          text NOT NULL CHECK (kind IN ('leave', 'erase', 'hand over')),
    ranch_id      uuid,
    person_id     uuid NOT NULL, -- who asked
    with_rows     boolean NOT NULL DEFAULT false, -- the new owner gets what was sent
    heir          text NOT NULL DEFAULT '', -- the new owner's address
    asked_at      timestamptz NOT NULL DEFAULT now(),
    due_at        timestamptz NOT NULL DEFAULT now() + interval '14 days',
    agreed_at     timestamptz,
    agreed_by     uuid,
    called_off_at timestamptz,
    called_off_by uuid,
    done_at       timestamptz,
    CONSTRAINT departure_pkey PRIMARY KEY (coop_id, id),
    CONSTRAINT departure_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT departure_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person,
    CONSTRAINT departure_ranch_check CHECK ((kind = 'leave') = (ranch_id IS NULL)),
    CONSTRAINT departure_heir_check CHECK (kind = 'hand over' OR heir = '' AND NOT with_rows),
    CONSTRAINT departure_address_check CHECK (kind <> 'hand over' OR done_at IS NOT NULL OR called_off_at IS NOT NULL OR heir = lower(heir) AND heir LIKE '%_@_%')
);
CREATE UNIQUE INDEX departure_ranch ON tussock.departure (coop_id, ranch_id) WHERE done_at IS NULL AND called_off_at IS NULL AND kind <> 'leave';
CREATE UNIQUE INDEX departure_person ON tussock.departure (coop_id, person_id) WHERE done_at IS NULL AND called_off_at IS NULL AND kind = 'leave';
CREATE INDEX departure_due ON tussock.departure (due_at) WHERE done_at IS NULL AND called_off_at IS NULL;

-- The name and the address of a ranch that was erased are gone; the row stays for those who once saw it and still know.
ALTER TABLE tussock.ranch ADD COLUMN erased_at timestamptz;

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['showcase', 'departure'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;

-- A season is open where its bulletin is neither out nor under way.
CREATE FUNCTION tussock.season_open(year integer) RETURNS boolean
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN NOT EXISTS (SELECT 1 FROM pub.bulletin b WHERE b.coop_id = (SELECT tussock.my_coop()) AND b.season = year)
       AND NOT EXISTS (SELECT 1 FROM tussock.press_order o WHERE o.coop_id = (SELECT tussock.my_coop()) AND o.season = year
                       AND o.kind = 'publish' AND o.state IN ('asked', 'waiting', 'working'));
END
$$;
-- +goose StatementEnd

GRANT SELECT, DELETE, UPDATE (ended_at), INSERT (coop_id, ranch_id, entity_id, name, season, item, estimate, low, high, put_by) ON tussock.showcase TO tussock_app;
CREATE POLICY own ON tussock.showcase FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY reader ON tussock.showcase FOR SELECT TO tussock_app
    USING (ended_at IS NULL AND (SELECT tussock.my_least()) IS NOT NULL
       AND EXISTS (SELECT 1 FROM pub.bulletin b WHERE b.coop_id = showcase.coop_id AND b.season = showcase.season AND b.published_at > showcase.put_at));
CREATE POLICY give ON tussock.showcase FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND put_by = (SELECT tussock.my_person()) AND tussock.season_open(season)
       AND (entity_id, name) = (SELECT r.entity_id, r.name FROM tussock.ranch r WHERE r.coop_id = showcase.coop_id AND r.id = showcase.ranch_id));
CREATE POLICY take_back ON tussock.showcase FOR DELETE TO tussock_app -- nobody has seen it yet
    USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND tussock.season_open(season));
CREATE POLICY own_end ON tussock.showcase FOR UPDATE TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND ended_at IS NULL)
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND ended_at IS NOT NULL);
GRANT SELECT (coop_id, entity_id) ON tussock.showcase TO tussock_press;
CREATE POLICY press ON tussock.showcase FOR SELECT TO tussock_press USING (true);

-- The days to think it over are the database's: nobody can shorten them.
GRANT SELECT, INSERT (coop_id, kind, ranch_id, person_id, with_rows, heir), UPDATE (called_off_at, called_off_by) ON tussock.departure TO tussock_app;
CREATE POLICY self ON tussock.departure FOR SELECT TO tussock_app USING (person_id = (SELECT tussock.my_person()));
CREATE POLICY own ON tussock.departure FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));
CREATE POLICY ask ON tussock.departure FOR INSERT TO tussock_app
    WITH CHECK (person_id = (SELECT tussock.my_person()) AND (SELECT tussock.my_role()) = 'landowner'
       AND (ranch_id IS NULL OR ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[])));
CREATE POLICY call_off ON tussock.departure FOR UPDATE TO tussock_app
    USING (done_at IS NULL AND called_off_at IS NULL
       AND (person_id = (SELECT tussock.my_person()) OR ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[])))
    WITH CHECK (called_off_at IS NOT NULL AND called_off_by = (SELECT tussock.my_person()));

-- Nothing that was sent goes at once any more.
DROP POLICY withdraw ON tussock.upload;
REVOKE DELETE ON tussock.upload FROM tussock_app;
DROP FUNCTION tussock.forget_in_log(uuid);

-- +goose StatementBegin
-- What is offered to the viewer: ranches whose owners name the viewer's address for the new owner's.
CREATE FUNCTION tussock.my_offers() RETURNS TABLE (id uuid, ranch_name text, from_name text, with_rows boolean, due_at timestamptz, agreed_at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT d.id, r.name, p.name, d.with_rows, d.due_at, d.agreed_at
    FROM tussock.viewer() v
    JOIN tussock.account a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
    JOIN tussock.departure d ON d.coop_id = v.coop_id AND d.kind = 'hand over' AND d.heir = a.email
    JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
    JOIN tussock.person p ON p.coop_id = d.coop_id AND p.id = d.person_id
    WHERE v.role = 'landowner' AND d.done_at IS NULL AND d.called_off_at IS NULL AND d.person_id <> v.person_id;
END
$$;

-- The new owner's yes, or no.
CREATE FUNCTION tussock.answer_offer(which uuid, yes boolean) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.departure d SET
        agreed_at = CASE WHEN yes THEN coalesce(d.agreed_at, now()) END, agreed_by = CASE WHEN yes THEN v.person_id END,
        called_off_at = CASE WHEN NOT yes THEN now() END, called_off_by = CASE WHEN NOT yes THEN v.person_id END
    FROM tussock.viewer() v
    WHERE d.coop_id = v.coop_id AND d.id = which AND d.done_at IS NULL AND d.called_off_at IS NULL
      AND d.id IN (SELECT o.id FROM tussock.my_offers() o);
    RETURN FOUND;
END
$$;

-- A link by which the new owner, where they are no member yet, comes in: with no ranch, for the one is not theirs yet.
CREATE FUNCTION tussock.invite_heir(which uuid, hash bytea) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.invitation (coop_id, token_hash, role, email, invited_by, expires_at)
    SELECT d.coop_id, hash, 'landowner', d.heir, v.person_id, now() + interval '60 days'
    FROM tussock.viewer() v JOIN tussock.departure d ON d.coop_id = v.coop_id AND d.person_id = v.person_id
    WHERE v.role = 'landowner' AND d.id = which AND d.kind = 'hand over' AND d.done_at IS NULL AND d.called_off_at IS NULL;
    RETURN FOUND;
END
$$;

-- Who is to be written to about a departure: who asked, and the ranch's owners.
CREATE FUNCTION tussock.departure_addresses(coop uuid, which uuid) RETURNS text[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT a.email), '{}')
        FROM tussock.departure d
        JOIN tussock.account a ON a.coop_id = d.coop_id AND (a.person_id = d.person_id OR a.person_id IN (
            SELECT o.person_id FROM tussock.assignment o WHERE o.coop_id = d.coop_id AND o.ranch_id = d.ranch_id
               AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL))
        WHERE d.coop_id = coop AND d.id = which);
END
$$;

-- The tokens of a ranch, and of its owner where nothing else of theirs is counted, give way to blanks in the sealed logs.
CREATE FUNCTION tussock.forget(coop uuid, ranch uuid) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE t record;
BEGIN
    FOR t IN
        SELECT left(encode(sha256(convert_to(k.salt || E'\n' || x.kind || E'\n' || x.name, 'UTF8')), 'hex'), 20) AS token,
               left(md5(gen_random_uuid()::text), 20) AS blank
        FROM tussock.ranch r
        JOIN tussock.gate_key k ON k.coop_id = r.coop_id
        JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
        CROSS JOIN LATERAL (VALUES ('ranch', r.id::text), ('entity', lower(btrim(regexp_replace(e.name, '\s+', ' ', 'g'))))) x (kind, name)
        WHERE r.coop_id = coop AND r.id = ranch
          AND (x.kind = 'ranch' OR NOT EXISTS (SELECT 1 FROM tussock.ranch o WHERE o.coop_id = r.coop_id AND o.entity_id = r.entity_id AND o.id <> r.id
               AND (SELECT c.level FROM tussock.consent c WHERE c.coop_id = o.coop_id AND c.ranch_id = o.id ORDER BY c.given_at DESC LIMIT 1) > 0))
    LOOP
        UPDATE tussock.gate_log l SET log = replace(l.log, t.token, t.blank) WHERE l.coop_id = coop;
    END LOOP;
END
$$;

-- Every row of a ranch goes, whichever table has some: those of tables to come as well. What stays says who once could
-- open it, without which the gate would forget what they know.
CREATE FUNCTION tussock.purge(coop uuid, ranch uuid) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    t record;
    stuck boolean;
BEGIN
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

CREATE FUNCTION tussock.erase(coop uuid, ranch uuid, asker uuid) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE owner_of uuid := (SELECT r.entity_id FROM tussock.ranch r WHERE r.coop_id = coop AND r.id = ranch);
BEGIN
    PERFORM tussock.forget(coop, ranch);
    PERFORM tussock.purge(coop, ranch);
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = asker WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.ended_by IS NULL;
    UPDATE tussock.ranch r SET name = 'Erased ' || gen_random_uuid()::text, area_id = NULL, erased_at = now() WHERE r.coop_id = coop AND r.id = ranch;
    UPDATE tussock.entity e SET name = 'Erased ' || gen_random_uuid()::text
    WHERE e.coop_id = coop AND e.id = owner_of
      AND NOT EXISTS (SELECT 1 FROM tussock.ranch r WHERE r.coop_id = coop AND r.entity_id = owner_of AND r.erased_at IS NULL);
END
$$;

-- A ranch goes to its new owner: private, with nobody on it, and with what was sent only where the old owner chose so.
CREATE FUNCTION tussock.hand_over(coop uuid, ranch uuid, asker uuid, heir_id uuid, keep boolean) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    theirs uuid;
    called text := (SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = heir_id);
BEGIN
    IF keep THEN
        DELETE FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch;
        DELETE FROM tussock.view_log l WHERE l.coop_id = coop AND l.ranch_id = ranch;
        DELETE FROM tussock.welcome w WHERE w.coop_id = coop AND w.ranch_id = ranch;
        UPDATE tussock.sharing s SET ended_at = coalesce(s.ended_at, now()) WHERE s.coop_id = coop AND s.ranch_id = ranch;
        UPDATE tussock.showcase s SET ended_at = coalesce(s.ended_at, now()) WHERE s.coop_id = coop AND s.ranch_id = ranch;
    ELSE
        PERFORM tussock.forget(coop, ranch);
        PERFORM tussock.purge(coop, ranch);
    END IF;
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = asker WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.ended_by IS NULL;

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

-- A member goes: sign-in, address and tokens are deleted. A ranch that has no other owner stays closed until somebody
-- comes after them, and is counted nowhere; nobody's yes outlives their being the owner.
CREATE FUNCTION tussock.depart(coop uuid, person uuid) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    t record;
    address text := (SELECT a.email FROM tussock.account a WHERE a.coop_id = coop AND a.person_id = person);
    alone uuid[] := ARRAY(
        SELECT a.ranch_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.person_id = person AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
        AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = coop AND o.ranch_id = a.ranch_id AND o.person_id <> person
                        AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL));
BEGIN
    DELETE FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ANY (alone);
    DELETE FROM tussock.welcome w WHERE w.coop_id = coop AND w.ranch_id = ANY (alone);
    UPDATE tussock.sharing s SET ended_at = coalesce(s.ended_at, now()) WHERE s.coop_id = coop AND s.ranch_id = ANY (alone);
    UPDATE tussock.showcase s SET ended_at = coalesce(s.ended_at, now()) WHERE s.coop_id = coop AND s.ranch_id = ANY (alone);
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.person_id = person AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = person WHERE a.coop_id = coop AND a.person_id = person AND a.ended_by IS NULL;
    FOR t IN SELECT unnest(ARRAY['passkey', 'recovery_code', 'code_secret', 'device', 'session', 'api_token', 'step', 'account']) AS name LOOP
        EXECUTE format('DELETE FROM tussock.%I WHERE coop_id = $1 AND person_id = $2', t.name) USING coop, person;
    END LOOP;
    DELETE FROM tussock.invitation i WHERE i.coop_id = coop AND i.email = address;
    UPDATE tussock.person p SET left_at = now(),
        -- where a ranch is left that they once opened, its log still says who
        name = CASE WHEN EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
            WHERE a.coop_id = coop AND a.person_id = person AND r.erased_at IS NULL) THEN p.name ELSE 'Somebody who left' END
    WHERE p.coop_id = coop AND p.id = person;
END
$$;

-- Carries out what is due at a time, each by itself: one that fails is left for the next time and holds nothing up. It
-- returns the letters to write.
CREATE FUNCTION tussock.carry_out(at timestamptz) RETURNS TABLE (addresses text[], kind text, coop_name text, ranch_name text, failure text)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE d tussock.departure;
BEGIN
    FOR d IN
        SELECT * FROM tussock.departure x
        WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND x.due_at <= at
          AND (x.kind <> 'hand over' OR EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = x.coop_id AND p.id = x.agreed_by
               AND p.role = 'landowner' AND p.left_at IS NULL AND p.suspended_at IS NULL))
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
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION tussock.season_open(integer), tussock.my_offers(), tussock.answer_offer(uuid, boolean), tussock.invite_heir(uuid, bytea) TO tussock_app;
GRANT EXECUTE ON FUNCTION tussock.carry_out(timestamptz), tussock.departure_addresses(uuid, uuid) TO tussock_door;
