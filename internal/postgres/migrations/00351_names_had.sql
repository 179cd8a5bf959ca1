-- The reader knows a ranch by every name it has had: whoever renames one does not make the sheets of its owner another ranch's.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION tussock.names_had(coop uuid, ranches uuid[]) RETURNS TABLE (id uuid, name text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT DISTINCT x.ranch_id, x.was FROM tussock.roster_change x
    WHERE x.coop_id = coop AND x.ranch_id = ANY (ranches) AND x.kind = 'ranch name' AND x.was <> '' ORDER BY 1, 2
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.names_had(uuid, uuid[]) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.names_had(uuid, uuid[]) TO tussock_clerk;
