-- +goose Up
-- +goose StatementBegin

-- Who looks is told by a value that is good in one transaction and nowhere else. Until now it was the secret of the cookie
-- itself, in the text of a statement, where whoever reads the database's activity could take it.
--
-- A cookie, token or phone has a secret. Its key is a hash of that; we keep a hash of the key, and find the row by a hash of
-- what we keep, the handle. In each transaction the server is told the transaction's number, and answers with the handle and a
-- proof: the key, hidden under a hash of what we keep and of that number (the construction of SCRAM, RFC 5802, section 3,
-- with the number for a nonce). The database lifts the cover, hashes, and compares. So a handle and a proof open no other
-- transaction, what is kept opens none at all, and the secret never comes here.

-- Whatever was open may have been seen.
UPDATE tussock.session SET closed_at = now() WHERE closed_at IS NULL;
UPDATE tussock.api_token SET revoked_at = now() WHERE revoked_at IS NULL;
DELETE FROM tussock.field_session;

DROP INDEX tussock.session_token, tussock.api_token_hash, tussock.field_session_token;
CREATE INDEX session_handle ON tussock.session (encode(sha256(token_hash), 'hex'));
CREATE INDEX api_token_handle ON tussock.api_token (encode(sha256(token_hash), 'hex'));
CREATE INDEX field_session_handle ON tussock.field_session (encode(sha256(token_hash), 'hex'));

-- shown_handle is the handle that this transaction was told, NULL or '' where it was told none. No pattern is looked for: this
-- and the next are asked for every statement, and a pattern takes three times as long as all the rest.
CREATE FUNCTION tussock.shown_handle() RETURNS text LANGUAGE sql STABLE AS $$
    SELECT left(current_setting('tussock.viewer', true), 64)
$$;

-- proves tells whether the proof that this transaction was told is of the key whose hash we keep.
CREATE FUNCTION tussock.proves(kept bytea) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT sha256(substring(bit_send(('x' || right(current_setting('tussock.viewer', true), 64))::bit(256)
        # ('x' || encode(sha256(kept || xid8send(pg_current_xact_id_if_assigned())), 'hex'))::bit(256)) FROM 5)) = kept
$$;

-- new_secret makes a secret where no statement says it: it comes out as a result.
CREATE FUNCTION tussock.new_secret() RETURNS text LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN encode(sha256(uuid_send(gen_random_uuid()) || uuid_send(gen_random_uuid()) || uuid_send(gen_random_uuid())), 'hex');
END
$$;

-- kept is what we keep of a secret; the server makes the same (keyOf in viewer.go).
CREATE FUNCTION tussock.kept(secret text) RETURNS bytea LANGUAGE plpgsql IMMUTABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN sha256(sha256(convert_to('tussock viewer ' || secret, 'UTF8')));
END
$$;

-- viewer is who looks, one row, of NULLs for nobody. It is one point look-up, and no set, so that a statement is planned for one
-- viewer and not for a thousand.
DROP FUNCTION tussock.viewer();
CREATE FUNCTION tussock.viewer(OUT coop_id uuid, OUT person_id uuid, OUT role text, OUT shown bytea) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    handle text := tussock.shown_handle();
BEGIN
    SELECT p.coop_id, p.id, p.role, s.token_hash INTO coop_id, person_id, role, shown
    FROM tussock.session s
    JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.person_id
    WHERE encode(sha256(s.token_hash), 'hex') = handle AND tussock.proves(s.token_hash)
      AND s.closed_at IS NULL AND p.left_at IS NULL AND p.suspended_at IS NULL
      AND now() < s.ends_at AND now() < s.seen_at + s.idle
    LIMIT 1; -- one row is planned for, even before the server has statistics
    IF NOT FOUND AND current_setting('transaction_read_only') = 'on' THEN
        SELECT p.coop_id, p.id, p.role, t.token_hash INTO coop_id, person_id, role, shown
        FROM tussock.api_token t
        JOIN tussock.person p ON p.coop_id = t.coop_id AND p.id = t.person_id
        WHERE encode(sha256(t.token_hash), 'hex') = handle AND tussock.proves(t.token_hash)
          AND t.revoked_at IS NULL AND p.left_at IS NULL AND p.suspended_at IS NULL AND now() < t.expires_at
        LIMIT 1;
    END IF;
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_coop() RETURNS uuid LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (tussock.viewer()).coop_id;
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_person() RETURNS uuid LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (tussock.viewer()).person_id;
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_role() RETURNS text LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (tussock.viewer()).role;
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_ranches() RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v record := tussock.viewer();
BEGIN
    IF v.role IN ('landowner', 'hand') THEN
        RETURN (
            SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
            FROM tussock.assignment a
            WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
    END IF;
    RETURN '{}';
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_own_ranches() RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v record := tussock.viewer();
BEGIN
    IF v.role = 'landowner' THEN
        RETURN (
            SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
            FROM tussock.assignment a
            WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND a.kind = 'owner');
    END IF;
    RETURN '{}';
END
$$;

DROP FUNCTION tussock.field_viewer();
CREATE FUNCTION tussock.field_viewer() RETURNS TABLE (coop_id uuid, ranch_id uuid, link_id uuid, name text, lines uuid[], from_on date, through date, reading boolean) LANGUAGE plpgsql STABLE ROWS 1 SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    handle text := tussock.shown_handle();
BEGIN
    RETURN QUERY
    SELECT l.coop_id, l.ranch_id, l.id, l.name, l.lines, l.from_on, l.through, (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 1
    FROM tussock.field_session s
    JOIN tussock.field_link l ON l.coop_id = s.coop_id AND l.ranch_id = s.ranch_id AND l.id = s.link_id
    WHERE encode(sha256(s.token_hash), 'hex') = handle AND tussock.proves(s.token_hash)
      AND (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 60 AND tussock.field_link_stands(l);
END
$$;
GRANT EXECUTE ON FUNCTION tussock.field_viewer() TO tussock_app;

CREATE OR REPLACE FUNCTION tussock.field_keep(looks jsonb) RETURNS integer LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v record;
    n integer;
BEGIN
    SELECT * INTO v FROM tussock.field_viewer();
    IF NOT FOUND THEN
        RAISE insufficient_privilege;
    END IF;
    IF EXISTS (SELECT 1 FROM jsonb_to_recordset(looks) AS l (line uuid, kind text, undoes uuid)
        LEFT JOIN tussock.season_line s ON s.coop_id = v.coop_id AND s.ranch_id = v.ranch_id AND s.id = l.line AND s.id = ANY (v.lines)
        LEFT JOIN tussock.look k ON k.coop_id = v.coop_id AND k.ranch_id = v.ranch_id AND k.id = l.undoes
        WHERE s.id IS NULL OR l.kind = 'choose' OR k.id IS NOT NULL AND k.link_id IS DISTINCT FROM v.link_id)
       OR (SELECT count(*) FROM tussock.look k WHERE k.coop_id = v.coop_id AND k.ranch_id = v.ranch_id AND k.link_id = v.link_id) > 20000 THEN
        RAISE insufficient_privilege;
    END IF;
    INSERT INTO tussock.look (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers, undoes, link_id)
    SELECT v.coop_id, v.ranch_id, l.id, s.season, s.id, coalesce(l.stop, 0), l.kind, l.who,
        left(left(v.link_id::text, 8) || '/' || l.device, 64), l.seq, l.at, coalesce(l.answers, '{}'), l.undoes, v.link_id
    FROM jsonb_to_recordset(looks) AS l (id uuid, line uuid, stop integer, kind text, who text, device text, seq integer, at timestamptz, answers jsonb, undoes uuid)
    JOIN tussock.season_line s ON s.coop_id = v.coop_id AND s.ranch_id = v.ranch_id AND s.id = l.line
    ON CONFLICT ON CONSTRAINT look_pkey DO NOTHING;
    GET DIAGNOSTICS n = ROW_COUNT;
    UPDATE tussock.field_session s SET seen_at = now()
    WHERE s.coop_id = v.coop_id AND s.ranch_id = v.ranch_id AND s.link_id = v.link_id AND encode(sha256(s.token_hash), 'hex') = tussock.shown_handle();
    RETURN n;
END
$$;

CREATE OR REPLACE FUNCTION tussock.leave_field() RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM tussock.field_session s WHERE encode(sha256(s.token_hash), 'hex') = tussock.shown_handle() AND tussock.proves(s.token_hash);
END
$$;

CREATE OR REPLACE FUNCTION tussock.close_session() RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.session SET closed_at = now()
    WHERE encode(sha256(token_hash), 'hex') = tussock.shown_handle() AND tussock.proves(token_hash) AND closed_at IS NULL
$$;

CREATE OR REPLACE FUNCTION tussock.close_my_sessions(but_this boolean) RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE t.coop_id = v.coop_id AND t.person_id = v.person_id AND t.revoked_at IS NULL;
    DELETE FROM tussock.device d USING tussock.viewer() v WHERE d.coop_id = v.coop_id AND d.person_id = v.person_id;
    DELETE FROM tussock.step s USING tussock.viewer() v WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL AND NOT (but_this AND s.token_hash = v.shown)
$$;

CREATE OR REPLACE FUNCTION tussock.my_proof() RETURNS interval LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT now() - s.proved_at FROM tussock.viewer() v JOIN tussock.session s ON s.coop_id = v.coop_id AND s.token_hash = v.shown
$$;

CREATE OR REPLACE FUNCTION tussock.my_sessions() RETURNS TABLE (which text, this boolean, agent text, opened_at timestamptz, seen_at timestamptz) LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT left(encode(sha256(s.token_hash), 'hex'), 16), s.token_hash = v.shown, s.agent, s.opened_at, s.seen_at
    FROM tussock.viewer() v
    JOIN tussock.session s ON s.coop_id = v.coop_id AND s.person_id = v.person_id
    WHERE s.closed_at IS NULL AND now() < s.ends_at AND now() < s.seen_at + s.idle
      AND EXISTS (SELECT 1 FROM tussock.session o WHERE o.coop_id = v.coop_id AND o.token_hash = v.shown) -- a program that reads with a token has none
    ORDER BY 2 DESC, s.seen_at DESC
$$;

CREATE OR REPLACE FUNCTION tussock.whoami() RETURNS TABLE (coop_id uuid, person_id uuid, name text, role text, ranches uuid[], known integer) LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH touched AS (
        UPDATE tussock.session s SET seen_at = now()
        FROM tussock.viewer() v
        WHERE s.coop_id = v.coop_id AND s.token_hash = v.shown AND now() - s.seen_at > least(interval '5 minutes', s.idle / 10)
        RETURNING s.coop_id, s.person_id
    ), seen AS (
        UPDATE tussock.person p SET seen_at = now() FROM touched t WHERE p.coop_id = t.coop_id AND p.id = t.person_id
    )
    SELECT p.coop_id, p.id, p.name, p.role, tussock.my_ranches(), tussock.my_known()
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
$$;

CREATE OR REPLACE FUNCTION tussock.reader() RETURNS TABLE (coop_id uuid, person_id uuid, name text, role text, ranches uuid[], known integer) LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT p.coop_id, p.id, p.name, p.role, tussock.my_ranches(), tussock.my_known()
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
    JOIN tussock.api_token t ON t.coop_id = p.coop_id AND t.person_id = p.id AND t.token_hash = v.shown
$$;

-- By variables, so that each branch is a point look-up of its own: over the union every cooperative's rows were read.
CREATE OR REPLACE FUNCTION tussock.my_known() RETURNS integer LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v record := tussock.viewer();
BEGIN
    RETURN (
        SELECT count(DISTINCT e.id)::integer
        FROM (
            SELECT a.ranch_id, a.entity_id FROM tussock.assignment a WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.confirmed_at IS NOT NULL
            UNION ALL
            SELECT s.ranch_id, s.entity_id FROM tussock.sharing s WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id
        ) k
        JOIN tussock.ranch r ON r.coop_id = v.coop_id AND r.id = k.ranch_id
        CROSS JOIN LATERAL (VALUES (k.entity_id), (r.entity_id)) e (id));
END
$$;

-- The secrets that open transactions are made here, within one statement, so that no statement and no value bound to one says
-- them or what we keep of them.
DROP FUNCTION tussock.open_session(uuid, uuid, bytea, interval, interval, text);
CREATE FUNCTION tussock.open_session(coop uuid, person uuid, unused interval, longest interval, called text) RETURNS text LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    DELETE FROM tussock.session s
    WHERE s.coop_id = coop AND s.person_id = person
      AND (s.closed_at < now() - interval '30 days' OR s.ends_at < now() - interval '30 days');
    UPDATE tussock.person p SET seen_at = now() WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL AND p.suspended_at IS NULL;
    WITH new AS MATERIALIZED (SELECT tussock.new_secret() AS secret), opened AS (
        INSERT INTO tussock.session (coop_id, token_hash, person_id, idle, ends_at, agent)
        SELECT p.coop_id, tussock.kept(new.secret), p.id, unused, now() + longest, left(called, 200)
        FROM tussock.person p, new
        WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL AND p.suspended_at IS NULL
        RETURNING 1
    )
    SELECT new.secret FROM new, opened
$$;
GRANT EXECUTE ON FUNCTION tussock.open_session(uuid, uuid, interval, interval, text) TO tussock_door;

DROP FUNCTION tussock.open_field(bytea, bytea, text);
CREATE FUNCTION tussock.open_field(hash bytea, called text) RETURNS text LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH new AS MATERIALIZED (SELECT tussock.new_secret() AS secret), opened AS (
        INSERT INTO tussock.field_session (coop_id, ranch_id, link_id, token_hash, agent)
        SELECT l.coop_id, l.ranch_id, l.id, tussock.kept(new.secret), left(called, 200)
        FROM tussock.field_link l, new
        WHERE l.token_hash = hash AND (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 1 AND tussock.field_link_stands(l)
          AND (SELECT count(*) FROM tussock.field_session s WHERE s.coop_id = l.coop_id AND s.ranch_id = l.ranch_id AND s.link_id = l.id) < 50
        RETURNING 1
    )
    SELECT new.secret FROM new, opened
$$;
GRANT EXECUTE ON FUNCTION tussock.open_field(bytea, text) TO tussock_door;

CREATE FUNCTION tussock.make_token(called text, good_for integer) RETURNS text LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH new AS MATERIALIZED (SELECT tussock.new_secret() AS secret), made AS (
        INSERT INTO tussock.api_token (coop_id, person_id, token_hash, name, expires_at)
        SELECT v.coop_id, v.person_id, tussock.kept(new.secret), called, now() + make_interval(days => good_for)
        FROM tussock.viewer() v, new WHERE (SELECT tussock.my_least()) IS NOT NULL
        RETURNING 1
    )
    SELECT new.secret FROM new, made
$$;
GRANT EXECUTE ON FUNCTION tussock.make_token(text, integer) TO tussock_app;
REVOKE INSERT ON tussock.api_token FROM tussock_app;
REVOKE INSERT (coop_id, person_id, token_hash, name, expires_at) ON tussock.api_token FROM tussock_app;

-- Which session or token is meant is said by its handle.
DROP FUNCTION tussock.prove(uuid, uuid, bytea);
CREATE FUNCTION tussock.prove(coop uuid, person uuid, handle text) RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.session s SET proved_at = now()
    WHERE s.coop_id = coop AND s.person_id = person AND encode(sha256(s.token_hash), 'hex') = handle AND s.closed_at IS NULL
$$;
GRANT EXECUTE ON FUNCTION tussock.prove(uuid, uuid, text) TO tussock_door;

DROP FUNCTION tussock.use_token(bytea, uuid);
CREATE FUNCTION tussock.use_token(handle text, ranch uuid) RETURNS boolean LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH used AS (
        UPDATE tussock.api_token t SET used_at = now()
        FROM tussock.person p
        WHERE encode(sha256(t.token_hash), 'hex') = handle AND t.revoked_at IS NULL AND now() < t.expires_at
          AND p.coop_id = t.coop_id AND p.id = t.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL
        RETURNING t.coop_id, t.person_id, t.name
    ), looked AS (
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
        SELECT u.coop_id, (SELECT a.ranch_id FROM tussock.assignment a WHERE a.coop_id = u.coop_id AND a.person_id = u.person_id
                           AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL LIMIT 1),
               u.person_id, now(), 'program', u.name
        FROM used u
    )
    SELECT EXISTS (SELECT 1 FROM used)
$$;
GRANT EXECUTE ON FUNCTION tussock.use_token(text, uuid) TO tussock_door;

DROP FUNCTION tussock.note_denied(uuid, bytea, text, text, text);
CREATE FUNCTION tussock.note_denied(coop uuid, hash bytea, handle text, address text, which text, whose text) RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    INSERT INTO tussock.denial AS d (coop_id, day, kind, part)
    SELECT coalesce(coop,
        (SELECT i.coop_id FROM tussock.invitation i WHERE i.token_hash = hash LIMIT 1),
        (SELECT t.coop_id FROM tussock.api_token t WHERE encode(sha256(t.token_hash), 'hex') = handle LIMIT 1),
        (SELECT s.coop_id FROM tussock.step s WHERE s.key_hash = hash LIMIT 1),
        (SELECT a.coop_id FROM tussock.account a WHERE a.email = lower(address) ORDER BY a.coop_id LIMIT 1),
        '00000000-0000-0000-0000-000000000000'), (now() AT TIME ZONE 'UTC')::date, which, whose
    ON CONFLICT (coop_id, day, kind, part) DO UPDATE SET times = d.times + 1
$$;
GRANT EXECUTE ON FUNCTION tussock.note_denied(uuid, bytea, text, text, text, text) TO tussock_door;
-- +goose StatementEnd
