-- Tokens with which a member's own program reads, as the member and no more. One is somebody only in a read-only
-- transaction: put where a session's token goes, it opens no page and changes nothing.

-- +goose Up
CREATE TABLE tussock.api_token (
    coop_id    uuid NOT NULL,
    person_id  uuid NOT NULL,
    id         uuid NOT NULL DEFAULT gen_random_uuid(),
    token_hash bytea NOT NULL CHECK (length(token_hash) = 32),
    name       text NOT NULL,
    made_at    timestamptz NOT NULL DEFAULT now(),
    used_at    timestamptz,
    expires_at timestamptz NOT NULL,
    revoked_at timestamptz,
    CONSTRAINT api_token_pkey PRIMARY KEY (coop_id, person_id, id),
    CONSTRAINT api_token_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person,
    CONSTRAINT api_token_name_check CHECK (name <> '' AND length(name) <= 80),
    CONSTRAINT api_token_expires_check CHECK (expires_at > made_at AND expires_at <= made_at + interval '1 year')
);
CREATE INDEX api_token_hash ON tussock.api_token (token_hash);

ALTER TABLE tussock.api_token ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.api_token FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.api_token TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.api_token AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));
-- A member's tokens are theirs alone: not even the coordinator sees that there are any. A hand has none.
CREATE POLICY self ON tussock.api_token TO tussock_app USING (person_id = (SELECT tussock.my_person()))
    WITH CHECK (person_id = (SELECT tussock.my_person()) AND (SELECT tussock.my_least()) IS NOT NULL);
-- made_at cannot be chosen, so the year cannot be stretched; a hash can be put in and never read.
GRANT SELECT (coop_id, person_id, id, name, made_at, used_at, expires_at, revoked_at),
    INSERT (coop_id, person_id, token_hash, name, expires_at), UPDATE (revoked_at) ON tussock.api_token TO tussock_app;

CREATE OR REPLACE FUNCTION tussock.viewer() RETURNS TABLE (coop_id uuid, person_id uuid, role text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT p.coop_id, p.id, p.role
    FROM tussock.session s
    JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.person_id
    WHERE s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND s.closed_at IS NULL AND p.left_at IS NULL
      AND now() < s.ends_at AND now() < s.seen_at + s.idle
    UNION ALL
    SELECT p.coop_id, p.id, p.role
    FROM tussock.api_token t
    JOIN tussock.person p ON p.coop_id = t.coop_id AND p.id = t.person_id
    WHERE t.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND t.revoked_at IS NULL AND p.left_at IS NULL AND now() < t.expires_at
      AND current_setting('transaction_read_only') = 'on'
$$;

-- Who ends all their sessions ends their programs too.
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.close_my_sessions(but_this boolean) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE t.coop_id = v.coop_id AND t.person_id = v.person_id AND t.revoked_at IS NULL;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL
      AND NOT (but_this AND s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')))
$$;
-- +goose StatementEnd

-- Notes that a token was used, and which ranch's rows it asked for: its bearer looks like anybody else who may. Only
-- the door may call this, since who reads with a token can write nothing.
CREATE FUNCTION tussock.use_token(hash bytea, ranch uuid) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH used AS (
        UPDATE tussock.api_token t SET used_at = now()
        FROM tussock.person p
        WHERE t.token_hash = hash AND t.revoked_at IS NULL AND now() < t.expires_at
          AND p.coop_id = t.coop_id AND p.id = t.person_id AND p.left_at IS NULL
        RETURNING t.coop_id, t.person_id
    ), looked AS (
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at)
        SELECT DISTINCT a.coop_id, a.ranch_id, a.person_id, now()
        FROM used u
        JOIN tussock.assignment a ON a.coop_id = u.coop_id AND a.person_id = u.person_id
        WHERE a.ranch_id = ranch AND a.until IS NULL
        ON CONFLICT DO NOTHING
    )
    SELECT EXISTS (SELECT 1 FROM used)
$$;
GRANT EXECUTE ON FUNCTION tussock.use_token(bytea, uuid) TO tussock_door;

-- Everything about a token's bearer in one row; nobody outside a read-only transaction.
CREATE FUNCTION tussock.reader() RETURNS TABLE (coop_id uuid, person_id uuid, name text, role text, ranches uuid[], known integer)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT p.coop_id, p.id, p.name, p.role, tussock.my_ranches(), tussock.my_known()
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
    JOIN tussock.api_token t ON t.coop_id = p.coop_id AND t.person_id = p.id
    WHERE t.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
$$;
GRANT EXECUTE ON FUNCTION tussock.reader() TO tussock_app;
