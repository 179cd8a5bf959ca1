-- A calendar address that says a ranch's name is a line of its owners' log, and an owner ends a hand's: whoever has the address reads the ranch, its
-- pastures, lines and days.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    was text;
    now text;
BEGIN
    EXECUTE 'ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check, ADD CONSTRAINT view_log_what_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'view_log_what_check'), 'ARRAY[', 'ARRAY[''calendar''::text, ''calendar ended''::text, ');
    was := pg_get_functiondef('tussock.ring()'::regprocedure);
    now := replace(was, '''chose'', ', '''chose'', ''calendar'', ''calendar ended'', ');
    IF now = was THEN
        RAISE EXCEPTION 'ring is another';
    END IF;
    EXECUTE now;
END
$$;

DROP FUNCTION tussock.named_calendars(uuid);
CREATE FUNCTION tussock.named_calendars(ranch uuid) RETURNS TABLE(id uuid, name text, role text, hand boolean, made_at timestamptz, used_at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT c.id, p.name, p.role, a.kind = 'hand', c.made_at, c.used_at
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL
    JOIN tussock.calendar c ON c.coop_id = p.coop_id AND c.person_id = p.id AND c.named AND c.revoked_at IS NULL
    WHERE ranch = ANY ((SELECT tussock.my_own_ranches())::uuid[])
    ORDER BY p.name, c.made_at;
END
$$;

-- Ends a hand's, for every ranch that it names, and says whose it was; nothing where there is none.
CREATE FUNCTION tussock.end_calendar(ranch uuid, calendar uuid) RETURNS text
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE whose text;
BEGIN
    SELECT n.name INTO whose FROM tussock.named_calendars(ranch) n WHERE n.id = calendar AND n.hand;
    IF whose IS NOT NULL THEN
        UPDATE tussock.calendar c SET revoked_at = now() WHERE c.coop_id = tussock.my_coop() AND c.id = calendar AND c.revoked_at IS NULL;
    END IF;
    RETURN whose;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.named_calendars(uuid), tussock.end_calendar(uuid, uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.named_calendars(uuid), tussock.end_calendar(uuid, uuid) TO tussock_app;
