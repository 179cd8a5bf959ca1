-- The crude survival over all kinds of cover reads the same nests as the other survivals: figures that read them go with it.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.retract(year integer, which integer[]) RETURNS integer
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    viewer record;
    measures text[];
    taken integer;
BEGIN
    SELECT v.coop_id, v.person_id, v.role INTO viewer FROM tussock.viewer() v;
    IF viewer.role IS DISTINCT FROM 'coordinator' THEN
        RETURN 0;
    END IF;
    WITH gone AS (
        INSERT INTO pub.retraction (coop_id, season, edition, row, retracted_at, retracted_by, area, substrate, measure, predator, n)
        SELECT c.coop_id, c.season, c.edition, c.row, now(), viewer.person_id, c.area, c.substrate, c.measure, c.predator, c.n
        FROM pub.cell c
        WHERE c.coop_id = viewer.coop_id AND c.season = year AND c.row = ANY (which)
          AND c.edition = (SELECT max(x.edition) FROM pub.cell x WHERE x.coop_id = c.coop_id AND x.season = c.season)
        ON CONFLICT DO NOTHING
        RETURNING measure
    )
    SELECT array_agg(measure), count(*)::integer INTO measures, taken FROM gone;
    INSERT INTO pub.figure_retraction (coop_id, season, row, retracted_at, retracted_by, kind, place, n)
    SELECT f.coop_id, f.season, f.row, now(), viewer.person_id, f.kind, f.place, f.n
    FROM pub.figure f
    WHERE f.coop_id = viewer.coop_id AND f.season >= year
      AND (measures && ARRAY['survival_28', 'survival_28_crude', 'survival_28_spread'] OR 'clumps_per_acre' = ANY (measures) AND f.kind IN ('cover', 'limits'))
    ON CONFLICT DO NOTHING;
    RETURN taken;
END
$$;
-- +goose StatementEnd
