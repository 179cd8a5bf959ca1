-- A bulletin is composed first and published later; figures from models are cells like all others. What coordinators see before it is
-- out is the print itself, and how many figures are held.

-- +goose Up
DROP TABLE pub.figure_retraction, pub.figure;

ALTER TABLE pub.bulletin ADD composed_at timestamptz NOT NULL DEFAULT now(), ADD covers text[] NOT NULL DEFAULT '{}', ADD held integer NOT NULL DEFAULT 0,
    ALTER published_at DROP NOT NULL, DROP COLUMN seed;
UPDATE pub.bulletin SET composed_at = published_at;
ALTER TABLE pub.revision ADD composed_at timestamptz NOT NULL DEFAULT now(), ADD held integer NOT NULL DEFAULT 0, ALTER published_at DROP NOT NULL, DROP COLUMN seed;
UPDATE pub.revision SET composed_at = published_at;
ALTER TABLE pub.cell ADD clumps double precision;
GRANT SELECT (clumps) ON pub.cell TO tussock_app;
ALTER TABLE pub.retraction ADD clumps double precision;
GRANT SELECT (clumps) ON pub.retraction TO tussock_app;
ALTER TABLE tussock.gate_log DROP COLUMN hash;

-- Nobody but coordinators reads what is not out, and coordinators read it by asking for it.
DROP POLICY reader ON pub.bulletin;
CREATE POLICY reader ON pub.bulletin FOR SELECT TO tussock_app
    USING ((SELECT tussock.my_least()) IS NOT NULL AND (published_at IS NOT NULL OR (SELECT tussock.my_role()) = 'coordinator'));
DROP POLICY reader ON pub.revision;
CREATE POLICY reader ON pub.revision FOR SELECT TO tussock_app
    USING ((SELECT tussock.my_least()) IS NOT NULL AND (published_at IS NOT NULL OR (SELECT tussock.my_role()) = 'coordinator'));
DROP POLICY reader ON pub.place;
CREATE POLICY reader ON pub.place FOR SELECT TO tussock_app
    USING ((SELECT tussock.my_least()) IS NOT NULL AND EXISTS (SELECT 1 FROM pub.bulletin b WHERE b.coop_id = place.coop_id AND b.season = place.season));
DROP POLICY stands ON pub.cell;
CREATE POLICY stands ON pub.cell AS RESTRICTIVE FOR SELECT TO tussock_app
    USING (CASE edition WHEN 1 THEN EXISTS (SELECT 1 FROM pub.bulletin b WHERE b.coop_id = cell.coop_id AND b.season = cell.season)
                ELSE EXISTS (SELECT 1 FROM pub.revision v WHERE v.coop_id = cell.coop_id AND v.season = cell.season AND v.edition = cell.edition) END
       AND NOT EXISTS (SELECT 1 FROM pub.revision v WHERE v.coop_id = cell.coop_id AND v.season = cell.season AND v.edition > cell.edition AND v.published_at IS NOT NULL)
       AND NOT EXISTS (SELECT 1 FROM pub.retraction x WHERE x.coop_id = cell.coop_id AND x.season = cell.season
                       AND x.edition = cell.edition AND x.row = cell.row));

-- +goose StatementBegin
-- What is taken back is taken back of every edition, of one that is to come out too.
CREATE OR REPLACE FUNCTION tussock.retract(year integer, which integer[]) RETURNS integer
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    current smallint := coalesce((SELECT max(v.edition) FROM pub.revision v WHERE v.coop_id = coop AND v.season = year AND v.published_at IS NOT NULL), 1);
    taken integer;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN 0;
    END IF;
    WITH gone AS (
        INSERT INTO pub.retraction (coop_id, season, edition, row, retracted_at, retracted_by, area, substrate, measure, predator, clumps, n)
        SELECT c.coop_id, c.season, c.edition, c.row, now(), me, c.area, c.substrate, c.measure, c.predator, c.clumps, c.n
        FROM pub.cell t
        JOIN pub.cell c ON c.coop_id = t.coop_id AND c.season = t.season AND c.measure = t.measure AND c.predator = t.predator
            AND c.area IS NOT DISTINCT FROM t.area AND c.substrate IS NOT DISTINCT FROM t.substrate AND c.clumps IS NOT DISTINCT FROM t.clumps
        WHERE t.coop_id = coop AND t.season = year AND t.edition = current AND t.row = ANY (which)
        ON CONFLICT DO NOTHING
        RETURNING edition
    )
    SELECT count(*) FILTER (WHERE edition = current)::integer INTO taken FROM gone;
    RETURN taken;
END
$$;
-- +goose StatementEnd
GRANT SELECT ON pub.retraction TO tussock_press;
CREATE POLICY press ON pub.retraction FOR SELECT TO tussock_press USING (true);
