-- A calendar's address opens without a sign-in, so it ends with what ends the sign-ins: signing out everywhere, a new
-- password, and the coordinator's switch.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.close_my_sessions(but_this boolean) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE t.coop_id = v.coop_id AND t.person_id = v.person_id AND t.revoked_at IS NULL;
    UPDATE tussock.calendar c SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE c.coop_id = v.coop_id AND c.person_id = v.person_id AND c.revoked_at IS NULL;
    DELETE FROM tussock.device d USING tussock.viewer() v WHERE d.coop_id = v.coop_id AND d.person_id = v.person_id;
    DELETE FROM tussock.step s USING tussock.viewer() v WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL AND NOT (but_this AND s.token_hash = v.shown)
$$;

CREATE OR REPLACE FUNCTION tussock.close_sessions_of(person uuid) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE v.role = 'coordinator' AND t.coop_id = v.coop_id AND t.person_id = person AND t.revoked_at IS NULL;
    UPDATE tussock.calendar c SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE v.role = 'coordinator' AND c.coop_id = v.coop_id AND c.person_id = person AND c.revoked_at IS NULL;
    DELETE FROM tussock.device d USING tussock.viewer() v
    WHERE v.role = 'coordinator' AND d.coop_id = v.coop_id AND d.person_id = person;
    DELETE FROM tussock.step s USING tussock.viewer() v
    WHERE v.role = 'coordinator' AND s.coop_id = v.coop_id AND s.person_id = person;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE v.role = 'coordinator' AND s.coop_id = v.coop_id AND s.person_id = person AND s.closed_at IS NULL
$$;
-- +goose StatementEnd
