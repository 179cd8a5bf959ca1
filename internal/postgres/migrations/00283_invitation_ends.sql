-- Whoever has an invitation's link is told of an address that it signs in already, and could ask for address after address: the third time the link ends.

-- +goose Up
ALTER TABLE tussock.invitation ADD COLUMN taken smallint NOT NULL DEFAULT 0; -- how often it was tried with an address that signs in already
-- +goose StatementBegin
CREATE FUNCTION tussock.address_taken(hash bytea) RETURNS boolean
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE ended boolean;
BEGIN
    UPDATE tussock.invitation i SET taken = i.taken + 1, revoked_at = CASE WHEN i.taken >= 2 THEN now() END
    WHERE i.token_hash = hash AND i.used_at IS NULL AND i.revoked_at IS NULL
    RETURNING i.revoked_at IS NOT NULL INTO ended;
    RETURN coalesce(ended, true);
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.address_taken(bytea) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.address_taken(bytea) TO tussock_door;
