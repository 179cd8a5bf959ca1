-- Who is suspended reads so at the door, after the right password: until when, and who can end it. Accounts that are not come first.

-- +goose Up
-- +goose StatementBegin
DROP FUNCTION tussock.credentials(text);
CREATE FUNCTION tussock.credentials(address text)
RETURNS TABLE (coop_id uuid, person_id uuid, coop_name text, password_hash text, suspended boolean, until timestamptz, coordinators text[])
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT a.coop_id, a.person_id, c.name, a.password_hash, p.suspended_at IS NOT NULL,
        CASE WHEN p.suspended_at IS NOT NULL AND p.suspended_by IS NOT NULL AND p.suspension_kept_by IS NULL THEN p.suspended_first + interval '14 days' END,
        CASE WHEN p.suspended_at IS NOT NULL THEN ARRAY(SELECT b.name FROM tussock.person b WHERE b.coop_id = p.coop_id AND b.id <> p.id
            AND b.role = 'coordinator' AND b.left_at IS NULL AND b.suspended_at IS NULL ORDER BY b.name, b.id) END
    FROM tussock.account a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.coop c ON c.coop_id = a.coop_id
    WHERE a.email = lower(address) AND p.left_at IS NULL
    ORDER BY p.suspended_at IS NOT NULL, p.joined_at
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.credentials(text) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.credentials(text) TO tussock_door;
