-- More ways to prove who one is: passkeys, one-time codes, links by mail; how long ago somebody did; members who are
-- suspended; and a ranch's owner says yes before anybody else opens it.

-- +goose Up
ALTER TABLE tussock.session ADD COLUMN proved_at timestamptz NOT NULL DEFAULT now();
ALTER TABLE tussock.person ADD COLUMN suspended_at timestamptz;
GRANT UPDATE (suspended_at) ON tussock.person TO tussock_app; -- under the coordinator's policy

-- The public half of a passkey, as the library writes it; there is nothing to steal.
CREATE TABLE tussock.passkey (
    coop_id    uuid NOT NULL,
    person_id  uuid NOT NULL,
    id         uuid NOT NULL DEFAULT gen_random_uuid(),
    key_id     bytea NOT NULL,
    credential jsonb NOT NULL,
    name       text NOT NULL,
    made_at    timestamptz NOT NULL DEFAULT now(),
    used_at    timestamptz,
    CONSTRAINT passkey_pkey PRIMARY KEY (coop_id, person_id, id),
    CONSTRAINT passkey_key_key UNIQUE (coop_id, person_id, key_id),
    CONSTRAINT passkey_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person,
    CONSTRAINT passkey_name_check CHECK (name <> '' AND length(name) <= 80)
);

-- The secret of one-time codes. Only the door may see it: whoever has it can make codes.
CREATE TABLE tussock.code_secret (
    coop_id   uuid NOT NULL,
    person_id uuid NOT NULL,
    secret    bytea NOT NULL,
    made_at   timestamptz NOT NULL DEFAULT now(),
    on_since  timestamptz,                  -- NULL until a first code was right
    last_step bigint NOT NULL DEFAULT 0,    -- of the last code that was taken: an older one is never taken again
    tries     integer NOT NULL DEFAULT 0,   -- wrong ones since
    tried_at  timestamptz,
    CONSTRAINT code_secret_pkey PRIMARY KEY (coop_id, person_id),
    CONSTRAINT code_secret_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);

CREATE TABLE tussock.recovery_code (
    coop_id   uuid NOT NULL,
    person_id uuid NOT NULL,
    code_hash bytea NOT NULL CHECK (length(code_hash) = 32),
    used_at   timestamptz,
    CONSTRAINT recovery_code_pkey PRIMARY KEY (coop_id, person_id, code_hash),
    CONSTRAINT recovery_code_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);

-- Browsers in which somebody has signed in before: guesses made elsewhere do not slow them down.
CREATE TABLE tussock.device (
    coop_id     uuid NOT NULL,
    person_id   uuid NOT NULL,
    device_hash bytea NOT NULL CHECK (length(device_hash) = 32),
    seen_at     timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT device_pkey PRIMARY KEY (coop_id, person_id, device_hash),
    CONSTRAINT device_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);

-- What is half done for a few minutes: a challenge to a passkey, a password without its code, a link on its way. Found
-- by the hash of a secret in the browser's cookie or in the link. Before anybody is known, coop_id is all zeros.
CREATE TABLE tussock.step (
    coop_id   uuid NOT NULL,
    key_hash  bytea NOT NULL CHECK (length(key_hash) = 32),
    person_id uuid,
    data      jsonb NOT NULL,
    tries     integer NOT NULL DEFAULT 0,
    ends_at   timestamptz NOT NULL,
    CONSTRAINT step_pkey PRIMARY KEY (coop_id, key_hash)
);
CREATE INDEX step_key ON tussock.step (key_hash);
CREATE INDEX step_ends ON tussock.step (ends_at);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['passkey', 'code_secret', 'recovery_code', 'device', 'step'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd

-- A member's own alone: not even the coordinator sees how somebody signs in.
GRANT SELECT, INSERT (coop_id, person_id, id, key_id, credential, name), DELETE ON tussock.passkey TO tussock_app;
CREATE POLICY self ON tussock.passkey TO tussock_app USING (person_id = (SELECT tussock.my_person()));
GRANT SELECT (coop_id, person_id, made_at, on_since), INSERT (coop_id, person_id, secret), DELETE ON tussock.code_secret TO tussock_app;
CREATE POLICY self ON tussock.code_secret TO tussock_app USING (person_id = (SELECT tussock.my_person()));
GRANT SELECT (coop_id, person_id, used_at), INSERT (coop_id, person_id, code_hash), DELETE ON tussock.recovery_code TO tussock_app;
CREATE POLICY self ON tussock.recovery_code TO tussock_app USING (person_id = (SELECT tussock.my_person()));
GRANT DELETE, SELECT (coop_id, person_id) ON tussock.device TO tussock_app;
CREATE POLICY self ON tussock.device TO tussock_app USING (person_id = (SELECT tussock.my_person()));

-- Whether a ranch's owner said yes. The first owner of a ranch with nothing in it needs nobody's yes.
ALTER TABLE tussock.assignment ADD COLUMN confirmed_at timestamptz;
ALTER TABLE tussock.assignment ADD COLUMN confirmed_by uuid;
ALTER TABLE tussock.assignment ADD COLUMN ended_by uuid;
UPDATE tussock.assignment SET confirmed_at = since;
REVOKE INSERT ON tussock.assignment FROM tussock_app;
GRANT INSERT (coop_id, person_id, ranch_id, entity_id, kind) ON tussock.assignment TO tussock_app;

-- +goose StatementBegin
-- At once where there is nobody to ask: the ranch has no owner now, and either nothing was ever sent for it or its last
-- owner ended it themselves. Otherwise a coordinator could take an owner off a ranch and put somebody else in to read.
CREATE FUNCTION tussock.ask_owner() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE last record;
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    SELECT a.until, a.person_id, a.ended_by INTO last FROM tussock.assignment a
    WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL
    ORDER BY a.until DESC NULLS FIRST LIMIT 1;
    IF NOT FOUND
       OR (last.until IS NOT NULL AND (last.ended_by = last.person_id
           OR NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id))) THEN
        NEW.confirmed_at := now();
    ELSE
        NEW.confirmed_at := NULL;
    END IF;
    NEW.confirmed_by := NULL;
    RETURN NEW;
END
$$;
CREATE TRIGGER ask_owner BEFORE INSERT ON tussock.assignment FOR EACH ROW EXECUTE FUNCTION tussock.ask_owner();

CREATE FUNCTION tussock.note_who_ended() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.ended_by := (SELECT tussock.my_person());
    RETURN NEW;
END
$$;
CREATE TRIGGER note_who_ended BEFORE UPDATE OF until ON tussock.assignment FOR EACH ROW EXECUTE FUNCTION tussock.note_who_ended();

-- An owner ends whom they did not let in, hand or not.
CREATE POLICY own_decline ON tussock.assignment FOR UPDATE TO tussock_app
    USING (confirmed_at IS NULL AND ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));

-- The owner's yes. No role has the right to write it otherwise.
CREATE FUNCTION tussock.confirm_assignment(person uuid, ranch uuid) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH confirmed AS (
        UPDATE tussock.assignment a SET confirmed_at = now(), confirmed_by = v.person_id
        FROM tussock.viewer() v
        WHERE a.coop_id = v.coop_id AND a.person_id = person AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NULL
          AND ranch = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND a.person_id <> v.person_id
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM confirmed)
$$;

CREATE OR REPLACE FUNCTION tussock.my_ranches() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
        WHERE a.until IS NULL AND a.confirmed_at IS NOT NULL AND v.role IN ('landowner', 'hand'));
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_own_ranches() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
        WHERE a.until IS NULL AND a.confirmed_at IS NOT NULL AND a.kind = 'owner' AND v.role = 'landowner');
END
$$;

-- What was never opened is not known.
CREATE OR REPLACE FUNCTION tussock.my_known() RETURNS integer
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT count(DISTINCT e.id)::integer
        FROM tussock.viewer() v
        JOIN (
            SELECT a.coop_id, a.person_id, a.ranch_id, a.entity_id FROM tussock.assignment a WHERE a.confirmed_at IS NOT NULL
            UNION ALL
            SELECT s.coop_id, s.person_id, s.ranch_id, s.entity_id FROM tussock.sharing s
        ) k ON k.coop_id = v.coop_id AND k.person_id = v.person_id
        JOIN tussock.ranch r ON r.coop_id = k.coop_id AND r.id = k.ranch_id
        CROSS JOIN LATERAL (VALUES (k.entity_id), (r.entity_id)) e (id));
END
$$;

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
          AND (SELECT c.level FROM tussock.consent c WHERE c.coop_id = s.coop_id AND c.ranch_id = s.ranch_id
               ORDER BY c.given_at DESC LIMIT 1) >= 1);
END
$$;

-- A suspended member is nobody, by session and by token.
CREATE OR REPLACE FUNCTION tussock.viewer() RETURNS TABLE (coop_id uuid, person_id uuid, role text)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT p.coop_id, p.id, p.role
    FROM tussock.session s
    JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.person_id
    WHERE s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND s.closed_at IS NULL AND p.left_at IS NULL AND p.suspended_at IS NULL
      AND now() < s.ends_at AND now() < s.seen_at + s.idle
    UNION ALL
    SELECT p.coop_id, p.id, p.role
    FROM tussock.api_token t
    JOIN tussock.person p ON p.coop_id = t.coop_id AND p.id = t.person_id
    WHERE t.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND t.revoked_at IS NULL AND p.left_at IS NULL AND p.suspended_at IS NULL AND now() < t.expires_at
      AND current_setting('transaction_read_only') = 'on';
END
$$;

CREATE OR REPLACE FUNCTION tussock.use_token(hash bytea, ranch uuid) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH used AS (
        UPDATE tussock.api_token t SET used_at = now()
        FROM tussock.person p
        WHERE t.token_hash = hash AND t.revoked_at IS NULL AND now() < t.expires_at
          AND p.coop_id = t.coop_id AND p.id = t.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL
        RETURNING t.coop_id, t.person_id
    ), looked AS (
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at)
        SELECT DISTINCT a.coop_id, a.ranch_id, a.person_id, now()
        FROM used u
        JOIN tussock.assignment a ON a.coop_id = u.coop_id AND a.person_id = u.person_id
        WHERE a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL
        ON CONFLICT DO NOTHING
    )
    SELECT EXISTS (SELECT 1 FROM used)
$$;

-- A cooperative is never without a coordinator who can sign in, whoever removes or suspends whom in the same moment.
CREATE FUNCTION tussock.keep_coordinator() RETURNS trigger
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
    RETURN NEW;
END
$$;
CREATE TRIGGER keep_coordinator BEFORE UPDATE ON tussock.person FOR EACH ROW EXECUTE FUNCTION tussock.keep_coordinator();

-- The coordinator signs a member out everywhere, programs too; nobody else can.
CREATE FUNCTION tussock.close_sessions_of(person uuid) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE v.role = 'coordinator' AND t.coop_id = v.coop_id AND t.person_id = person AND t.revoked_at IS NULL;
    DELETE FROM tussock.device d USING tussock.viewer() v
    WHERE v.role = 'coordinator' AND d.coop_id = v.coop_id AND d.person_id = person;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE v.role = 'coordinator' AND s.coop_id = v.coop_id AND s.person_id = person AND s.closed_at IS NULL
$$;

-- Somebody leaves: of their own accord, so that whoever comes after them on a ranch needs nobody's yes.
CREATE FUNCTION tussock.leave() RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := (SELECT tussock.my_coop());
    me uuid := (SELECT tussock.my_person());
BEGIN
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.person_id = me AND a.until IS NULL;
    DELETE FROM tussock.passkey k WHERE k.coop_id = coop AND k.person_id = me;
    DELETE FROM tussock.recovery_code r WHERE r.coop_id = coop AND r.person_id = me;
    DELETE FROM tussock.code_secret k WHERE k.coop_id = coop AND k.person_id = me;
    DELETE FROM tussock.device d WHERE d.coop_id = coop AND d.person_id = me;
    UPDATE tussock.person p SET left_at = now() WHERE p.coop_id = coop AND p.id = me AND p.left_at IS NULL;
END
$$;

-- How long ago the viewer last proved who they are, in this session.
CREATE FUNCTION tussock.my_proof() RETURNS interval
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT now() - s.proved_at FROM tussock.session s, tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
$$;

GRANT EXECUTE ON FUNCTION tussock.confirm_assignment(uuid, uuid), tussock.close_sessions_of(uuid), tussock.my_proof(),
    tussock.leave() TO tussock_app;

-- The door, as before only for connections on which no page's statement runs.

CREATE OR REPLACE FUNCTION tussock.credentials(address text) RETURNS TABLE (coop_id uuid, person_id uuid, coop_name text, password_hash text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT a.coop_id, a.person_id, c.name, a.password_hash
    FROM tussock.account a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.coop c ON c.coop_id = a.coop_id
    WHERE a.email = lower(address) AND p.left_at IS NULL AND p.suspended_at IS NULL
    ORDER BY p.joined_at
$$;

CREATE OR REPLACE FUNCTION tussock.open_session(coop uuid, person uuid, hash bytea, unused interval, longest interval, called text)
RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    DELETE FROM tussock.session s
    WHERE s.coop_id = coop AND s.person_id = person
      AND (s.closed_at < now() - interval '30 days' OR s.ends_at < now() - interval '30 days');
    UPDATE tussock.person p SET seen_at = now() WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL AND p.suspended_at IS NULL;
    WITH opened AS (
        INSERT INTO tussock.session (coop_id, token_hash, person_id, idle, ends_at, agent)
        SELECT p.coop_id, hash, p.id, unused, now() + longest, left(called, 200)
        FROM tussock.person p
        WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL AND p.suspended_at IS NULL
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM opened)
$$;

-- Notes that somebody proved anew who they are.
CREATE FUNCTION tussock.prove(coop uuid, person uuid, hash bytea) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.session s SET proved_at = now()
    WHERE s.coop_id = coop AND s.person_id = person AND s.token_hash = hash AND s.closed_at IS NULL
$$;

-- Who somebody is that a step or a passkey names; no row where they may not come in.
CREATE FUNCTION tussock.known(coop uuid, person uuid) RETURNS TABLE (coop_name text, person_name text, email text, password_hash text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT c.name, p.name, a.email, a.password_hash
    FROM tussock.person p
    JOIN tussock.coop c ON c.coop_id = p.coop_id
    JOIN tussock.account a ON a.coop_id = p.coop_id AND a.person_id = p.id
    WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL AND p.suspended_at IS NULL
$$;

CREATE FUNCTION tussock.passkeys_of(coop uuid, person uuid) RETURNS TABLE (id uuid, credential jsonb)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT k.id, k.credential FROM tussock.passkey k WHERE k.coop_id = coop AND k.person_id = person
$$;

-- Keeps what the library learned of a passkey when it was used, such as its counter.
CREATE FUNCTION tussock.use_passkey(coop uuid, person uuid, key bytea, learned jsonb) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.passkey k SET used_at = now(), credential = learned
    WHERE k.coop_id = coop AND k.person_id = person AND k.key_id = key
$$;

-- The secret, for one try: ten wrong ones in a quarter of an hour are all there are. No row where there is none, or no
-- try left; open is false until the first code was right.
CREATE FUNCTION tussock.try_code(coop uuid, person uuid) RETURNS TABLE (secret bytea, open boolean, last_step bigint)
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.code_secret k
    SET tries = CASE WHEN k.tried_at > now() - interval '15 minutes' THEN k.tries + 1 ELSE 1 END,
        tried_at = CASE WHEN k.tried_at > now() - interval '15 minutes' THEN k.tried_at ELSE now() END
    WHERE k.coop_id = coop AND k.person_id = person AND (k.tries < 10 OR k.tried_at <= now() - interval '15 minutes')
    RETURNING k.secret, k.on_since IS NOT NULL, k.last_step
$$;

-- Takes a code of the given step, once; the first one turns codes on.
CREATE FUNCTION tussock.take_code(coop uuid, person uuid, step bigint) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH taken AS (
        UPDATE tussock.code_secret k SET last_step = step, tries = 0, tried_at = NULL, on_since = coalesce(k.on_since, now())
        WHERE k.coop_id = coop AND k.person_id = person AND k.last_step < step
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM taken)
$$;

CREATE FUNCTION tussock.code_state(coop uuid, person uuid) RETURNS TABLE (open boolean, secret bytea)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT k.on_since IS NOT NULL, CASE WHEN k.on_since IS NULL THEN k.secret END -- one in use is never shown again
    FROM tussock.code_secret k WHERE k.coop_id = coop AND k.person_id = person
$$;

CREATE FUNCTION tussock.take_recovery_code(coop uuid, person uuid, hash bytea) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH taken AS (
        UPDATE tussock.recovery_code r SET used_at = now()
        FROM tussock.code_secret k
        WHERE r.coop_id = coop AND r.person_id = person AND r.code_hash = hash AND r.used_at IS NULL
          AND k.coop_id = r.coop_id AND k.person_id = r.person_id AND k.on_since IS NOT NULL
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM taken)
$$;

CREATE FUNCTION tussock.knows_device(address text, hash bytea) RETURNS boolean
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT EXISTS (SELECT 1 FROM tussock.account a
        JOIN tussock.device d ON d.coop_id = a.coop_id AND d.person_id = a.person_id
        WHERE a.email = lower(address) AND d.device_hash = hash AND d.seen_at > now() - interval '1 year')
$$;

CREATE FUNCTION tussock.remember_device(coop uuid, person uuid, hash bytea) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    DELETE FROM tussock.device d WHERE d.coop_id = coop AND d.person_id = person AND d.seen_at < now() - interval '1 year';
    INSERT INTO tussock.device (coop_id, person_id, device_hash) VALUES (coop, person, hash)
    ON CONFLICT (coop_id, person_id, device_hash) DO UPDATE SET seen_at = now()
$$;

CREATE FUNCTION tussock.open_step(coop uuid, person uuid, hash bytea, what jsonb, lasts interval) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    DELETE FROM tussock.step s WHERE s.key_hash = hash OR s.ends_at < now();
    INSERT INTO tussock.step (coop_id, key_hash, person_id, data, ends_at)
    VALUES (coalesce(coop, '00000000-0000-0000-0000-000000000000'), hash, person, what, now() + lasts)
$$;

CREATE FUNCTION tussock.step_of(hash bytea) RETURNS TABLE (coop uuid, person uuid, what jsonb)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT s.coop_id, s.person_id, s.data FROM tussock.step s WHERE s.key_hash = hash AND now() < s.ends_at
$$;

-- Counts a try; after the fifth the step is gone.
CREATE FUNCTION tussock.try_step(hash bytea) RETURNS TABLE (coop uuid, person uuid, what jsonb)
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.step s SET tries = s.tries + 1
    WHERE s.key_hash = hash AND now() < s.ends_at AND s.tries < 5
    RETURNING s.coop_id, s.person_id, s.data
$$;

-- Takes a step, once.
CREATE FUNCTION tussock.take_step(hash bytea) RETURNS TABLE (coop uuid, person uuid, what jsonb)
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    DELETE FROM tussock.step s WHERE s.key_hash = hash AND now() < s.ends_at
    RETURNING s.coop_id, s.person_id, s.data
$$;

-- A new address, once its owner has shown that letters to it arrive. Returns the old one; NULL where the member is gone.
CREATE FUNCTION tussock.change_address(coop uuid, person uuid, address text) RETURNS text
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH old AS (SELECT a.email FROM tussock.account a WHERE a.coop_id = coop AND a.person_id = person),
    changed AS (
        UPDATE tussock.account a SET email = lower(address) FROM tussock.person p
        WHERE a.coop_id = coop AND a.person_id = person AND p.coop_id = a.coop_id AND p.id = a.person_id
          AND p.left_at IS NULL AND p.suspended_at IS NULL
        RETURNING 1
    )
    SELECT old.email FROM old, changed
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION tussock.prove(uuid, uuid, bytea), tussock.known(uuid, uuid), tussock.passkeys_of(uuid, uuid),
    tussock.use_passkey(uuid, uuid, bytea, jsonb), tussock.try_code(uuid, uuid), tussock.take_code(uuid, uuid, bigint),
    tussock.code_state(uuid, uuid), tussock.take_recovery_code(uuid, uuid, bytea), tussock.knows_device(text, bytea),
    tussock.remember_device(uuid, uuid, bytea), tussock.open_step(uuid, uuid, bytea, jsonb, interval), tussock.step_of(bytea),
    tussock.try_step(bytea), tussock.take_step(bytea), tussock.change_address(uuid, uuid, text) TO tussock_door;
