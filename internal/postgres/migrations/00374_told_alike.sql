-- What a coordinator reads of a sheet that they sent for an owner is the same whatever the owner does with it, so that nobody reads from it when an
-- owner was here; sending for an owner is no taking of results. Where somebody is suspended, a ranch waits for whoever bears its owner's name first,
-- and not for a namesake. And who joins is not called what a ranch is called.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    f text[];
    was text;
    now text;
BEGIN
    FOREACH f SLICE 1 IN ARRAY ARRAY[
        ['came_in()', 'u.sent_at, u.state,', 'u.sent_at, CASE WHEN u.called = '''' THEN u.state ELSE ''current'' END,'],
        ['came_in()', 'u.state = ''current'' AND u.rank > 0', 'u.state = ''current'' AND u.rank > 0 AND u.called = '''''],
        ['late_lines(date)', 'AND u.state = ''current'' AND u.rank > 0', 'AND u.state = ''current'' AND u.rank > 0 AND u.called = '''''],
        ['ring()', '''keyed'', ', '''keyed'', ''came'', '],
        ['keep_record()', 'IF EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.role = ''landowner'' AND p.left_at IS NULL AND p.suspended_at IS NOT NULL
        AND (',
         'IF EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.id AND a.kind = ''owner'' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND tussock.alike(p.folded, called)) THEN
        RETURN NEW; -- it comes under the name of its own owner, who is in
    END IF;
    IF (SELECT p.suspended_at IS NOT NULL FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.role = ''landowner'' AND p.left_at IS NULL
        AND ('],
        ['keep_record()', 'tussock.alike(e.folded, called)))) THEN', 'tussock.alike(e.folded, called)))
        ORDER BY p.joined_at, p.id LIMIT 1) THEN']] LOOP
        was := pg_get_functiondef(('tussock.' || f[1])::regprocedure);
        now := replace(was, f[2], f[3]);
        IF now = was THEN
            RAISE EXCEPTION '% is another: %', f[1], f[2];
        END IF;
        EXECUTE now;
    END LOOP;
END
$$;

-- What the ranches are called of a cooperative into which an open invitation leads.
CREATE FUNCTION tussock.ranches_joined(hash bytea) RETURNS SETOF text LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT r.name FROM tussock.invitation i JOIN tussock.ranch r ON r.coop_id = i.coop_id AND r.erased_at IS NULL
    WHERE i.token_hash = hash AND i.used_at IS NULL AND i.revoked_at IS NULL AND now() < i.expires_at
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.ranches_joined(bytea) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.ranches_joined(bytea) TO tussock_door;
