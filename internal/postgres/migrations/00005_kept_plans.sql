-- The functions that policies ask who is looking, in PL/pgSQL: it keeps a statement's plan for as long as the
-- connection lives, where a function in SQL is planned anew in every statement. What they return is as before, and
-- nothing of it is kept. Calls stand as (SELECT …), once a statement; bare ones were made once a row.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.viewer() RETURNS TABLE (coop_id uuid, person_id uuid, role text)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
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
      AND current_setting('transaction_read_only') = 'on';
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_coop() RETURNS uuid
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT v.coop_id FROM tussock.viewer() v);
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_person() RETURNS uuid
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT v.person_id FROM tussock.viewer() v);
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_role() RETURNS text
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT v.role FROM tussock.viewer() v);
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_ranches() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
        WHERE a.until IS NULL AND v.role IN ('landowner', 'hand'));
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_own_ranches() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
        WHERE a.until IS NULL AND a.kind = 'owner' AND v.role = 'landowner');
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_people() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT k.person_id), '{}')
        FROM (
            SELECT a.coop_id, a.ranch_id, a.person_id FROM tussock.assignment a
            UNION ALL
            SELECT s.coop_id, s.ranch_id, s.person_id FROM tussock.sharing s
        ) k
        WHERE k.coop_id = (SELECT tussock.my_coop()) AND k.ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_entities() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT r.entity_id), '{}')
        FROM tussock.ranch r
        WHERE r.coop_id = (SELECT tussock.my_coop()) AND r.id = ANY ((SELECT tussock.my_ranches())::uuid[]));
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_least() RETURNS integer
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT CASE WHEN v.role IN ('landowner', 'coordinator') THEN 5 WHEN v.role IN ('biologist', 'planner') THEN 10 END
        FROM tussock.viewer() v);
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_known() RETURNS integer
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT count(DISTINCT e.id)::integer
        FROM tussock.viewer() v
        JOIN (
            SELECT a.coop_id, a.person_id, a.ranch_id, a.entity_id FROM tussock.assignment a
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
          AND a.kind = 'owner' AND a.until IS NULL
          AND (SELECT c.level FROM tussock.consent c WHERE c.coop_id = s.coop_id AND c.ranch_id = s.ranch_id
               ORDER BY c.given_at DESC LIMIT 1) >= 1);
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_opened_ranches() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT l.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.view_log l ON l.coop_id = v.coop_id AND l.person_id = v.person_id
        WHERE l.ranch_id = ANY ((SELECT tussock.my_shared_ranches())::uuid[]) AND l.looked_at = now());
END
$$;

CREATE OR REPLACE FUNCTION tussock.shared_nest() RETURNS TABLE (coop_id uuid, ranch_id uuid, upload_id uuid, "row" integer, site text, season integer,
    transect text, number text, substrate text, plant text, set_on date, visit_on date[], visit_state text[],
    bits text, bits_far text, heaps text, opened_at text, bite_way text, holes text, inside text, ground text, bowl text, trace text,
    guess text, camera text, eggs_left smallint)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT n.coop_id, n.ranch_id, n.upload_id, n.row, n.site, n.season, n.transect, n.number, n.substrate, n.plant, n.set_on, n.visit_on, n.visit_state,
        n.bits, n.bits_far, n.heaps, n.opened_at, n.bite_way, n.holes, n.inside, n.ground, n.bowl, n.trace, n.guess, n.camera, n.eggs_left
    FROM tussock.nest n
    JOIN tussock.upload u ON u.coop_id = n.coop_id AND u.ranch_id = n.ranch_id AND u.id = n.upload_id
    WHERE n.coop_id = (SELECT tussock.my_coop()) AND n.ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[]) AND u.state = 'current'
$$;
-- +goose StatementEnd
