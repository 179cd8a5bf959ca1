-- Where a member is signed in, for their own page: to see what they do not know and end it.

-- +goose Up
-- The viewer's open sessions, without what opens them. "which" is the beginning of a hash of the hash: enough to point
-- at one, and no way back.
CREATE FUNCTION tussock.my_sessions() RETURNS TABLE (which text, this boolean, agent text, opened_at timestamptz, seen_at timestamptz)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT left(encode(sha256(s.token_hash), 'hex'), 16),
           s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')),
           s.agent, s.opened_at, s.seen_at
    FROM tussock.viewer() v
    JOIN tussock.session s ON s.coop_id = v.coop_id AND s.person_id = v.person_id
    WHERE s.closed_at IS NULL AND now() < s.ends_at AND now() < s.seen_at + s.idle
      AND EXISTS (SELECT 1 FROM tussock.session o -- a program that reads with a token has none
                  WHERE o.coop_id = v.coop_id AND o.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')))
    ORDER BY 2 DESC, s.seen_at DESC
$$;

-- Ends one of them.
CREATE FUNCTION tussock.close_my_session(which text) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH closed AS (
        UPDATE tussock.session s SET closed_at = now()
        FROM tussock.viewer() v
        WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL
          AND left(encode(sha256(s.token_hash), 'hex'), 16) = which
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM closed)
$$;

GRANT EXECUTE ON FUNCTION tussock.my_sessions(), tussock.close_my_session(text) TO tussock_app;
