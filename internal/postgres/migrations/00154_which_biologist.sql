-- A name tells nothing: whoever is invited types it. A landowner who shares a ranch sees by what else a biologist is known.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION tussock.known_biologists() RETURNS TABLE (id uuid, name text, email text, inviter text, since timestamptz)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT p.id, p.name, coalesce(e.email, ''), coalesce(i.name, ''), p.joined_at
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    WHERE v.role = 'landowner' AND p.role = 'biologist' AND p.left_at IS NULL
$$;
REVOKE ALL ON FUNCTION tussock.known_biologists() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.known_biologists() TO tussock_app;
-- +goose StatementEnd
