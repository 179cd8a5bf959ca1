-- Whom a ranch is handed over to reads the day on which it can happen, as who hands it over does: a suspension moves it.

-- +goose Up
-- +goose StatementBegin
DROP FUNCTION tussock.my_offers();
CREATE FUNCTION tussock.my_offers()
RETURNS TABLE (id uuid, ranch_name text, from_name text, with_rows boolean, due_at timestamptz, held boolean, agreed_at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT d.id, r.name, p.name, d.with_rows, coalesce(x.due, d.due_at), x.due IS NULL, d.agreed_at
    FROM tussock.viewer() v
    JOIN tussock.account a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
    JOIN tussock.departure d ON d.coop_id = v.coop_id AND d.kind = 'hand over' AND d.heir = a.email
    JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
    JOIN tussock.person p ON p.coop_id = d.coop_id AND p.id = d.person_id
    CROSS JOIN LATERAL (SELECT tussock.departure_due(d.id) AS due) x
    WHERE v.role = 'landowner' AND d.done_at IS NULL AND d.called_off_at IS NULL AND d.person_id <> v.person_id;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.my_offers() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.my_offers() TO tussock_app;
