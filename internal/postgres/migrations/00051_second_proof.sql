-- Browsers in which a member gave two proofs: a password alone is enough in them, for a while, and in no other.

-- +goose Up
ALTER TABLE tussock.device
    ADD COLUMN id uuid NOT NULL DEFAULT gen_random_uuid(),
    ADD COLUMN agent text NOT NULL DEFAULT '',  -- what it called itself, for the member's own list
    ADD COLUMN trusted_at timestamptz,          -- NULL: somebody signed in with it, and no more
    ADD COLUMN trusted_until timestamptz,
    ADD CONSTRAINT device_id_key UNIQUE (coop_id, person_id, id);
GRANT SELECT (id, agent, trusted_at, trusted_until) ON tussock.device TO tussock_app; -- one's own: policy self

-- +goose StatementBegin
-- Remembers one for as long as said.
CREATE FUNCTION tussock.trust_device(coop uuid, person uuid, hash bytea, called text, lasts interval) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.device (coop_id, person_id, device_hash, agent, trusted_at, trusted_until)
    VALUES (coop, person, hash, left(called, 200), now(), now() + lasts)
    ON CONFLICT (coop_id, person_id, device_hash) DO UPDATE
    SET seen_at = now(), agent = EXCLUDED.agent, trusted_at = EXCLUDED.trusted_at, trusted_until = EXCLUDED.trusted_until;
END
$$;

CREATE FUNCTION tussock.trusts_device(coop uuid, person uuid, hash bytea) RETURNS boolean
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.device d
        WHERE d.coop_id = coop AND d.person_id = person AND d.device_hash = hash AND now() < d.trusted_until);
END
$$;

-- Whether a browser's secret is one that we made, for whomever: any other may be one that somebody put there.
CREATE FUNCTION tussock.made_device(hash bytea) RETURNS boolean
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.device d WHERE d.device_hash = hash);
END
$$;

-- Signing out everywhere, and a new password, end what was remembered too: in this browser as in the others.
CREATE OR REPLACE FUNCTION tussock.close_my_sessions(but_this boolean) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE t.coop_id = v.coop_id AND t.person_id = v.person_id AND t.revoked_at IS NULL;
    DELETE FROM tussock.device d USING tussock.viewer() v WHERE d.coop_id = v.coop_id AND d.person_id = v.person_id;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL
      AND NOT (but_this AND s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')))
$$;
-- +goose StatementEnd

CREATE INDEX device_hash ON tussock.device (device_hash);
GRANT EXECUTE ON FUNCTION tussock.trust_device(uuid, uuid, bytea, text, interval), tussock.trusts_device(uuid, uuid, bytea),
    tussock.made_device(bytea) TO tussock_door;
