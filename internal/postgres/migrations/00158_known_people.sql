-- A name tells nothing: an owner sees the addresses of those who open the ranch, or did as its biologist. Nobody else does.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION tussock.addresses_on(which uuid) RETURNS TABLE (person uuid, email text) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    IF which = ANY (tussock.my_own_ranches()) THEN
        RETURN QUERY
        SELECT e.person_id, e.email FROM tussock.account e
        WHERE e.coop_id = coop AND e.person_id IN (
            SELECT a.person_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = which AND a.until IS NULL AND a.confirmed_at IS NOT NULL
            UNION SELECT s.person_id FROM tussock.sharing s WHERE s.coop_id = coop AND s.ranch_id = which);
    END IF;
END
$$;
-- +goose StatementEnd
GRANT EXECUTE ON FUNCTION tussock.addresses_on(uuid) TO tussock_app;
