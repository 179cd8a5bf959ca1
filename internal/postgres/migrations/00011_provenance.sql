-- What a bulletin was made with and what its numbers rest on; figures from models taken back with the cells that they read;
-- and which of them a preview would hold.

-- +goose Up
ALTER TABLE pub.bulletin ADD version text NOT NULL DEFAULT '', ADD seed bigint NOT NULL DEFAULT 0;
ALTER TABLE pub.revision ADD version text NOT NULL DEFAULT '', ADD seed bigint NOT NULL DEFAULT 0;

-- Numbers of rows are given in tens and from ten landowners on.
ALTER TABLE pub.cell ADD nests integer, ADD transects integer, ADD belts integer,
    ADD CONSTRAINT cell_counts_check CHECK (coalesce(nests, transects, belts) IS NULL
        OR n >= 10 AND coalesce(nests, 0) % 10 = 0 AND coalesce(transects, 0) % 10 = 0 AND coalesce(belts, 0) % 10 = 0);
GRANT SELECT (nests, transects, belts) ON pub.cell TO tussock_app;

CREATE TABLE pub.figure_retraction (
    coop_id      uuid NOT NULL,
    season       integer NOT NULL,
    row          integer NOT NULL,
    retracted_at timestamptz NOT NULL,
    retracted_by uuid NOT NULL,
    kind         text NOT NULL,
    place        text,
    n            integer NOT NULL,
    CONSTRAINT figure_retraction_pkey PRIMARY KEY (coop_id, season, row),
    CONSTRAINT figure_retraction_figure_fkey FOREIGN KEY (coop_id, season, row) REFERENCES pub.figure
);

-- Takes cells back, and every figure from models that reads the same rows: of that season and of all later ones, for a model
-- reads all seasons up to its own; of every place, for what all landowners differ by is in each figure's range. Cover is
-- read by what cover goes together with and by what limits nests; the mix of predators by none.
DROP FUNCTION tussock.retract(integer, integer[]);
-- +goose StatementBegin
CREATE FUNCTION tussock.retract(year integer, which integer[]) RETURNS integer
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
      AND (measures && ARRAY['survival_28', 'survival_28_spread'] OR 'clumps_per_acre' = ANY (measures) AND f.kind IN ('cover', 'limits'))
    ON CONFLICT DO NOTHING;
    RETURN taken;
END
$$;
-- +goose StatementEnd
GRANT EXECUTE ON FUNCTION tussock.retract(integer, integer[]) TO tussock_app;

-- Which numbers of figures a preview would show or hold, without their values.
CREATE TABLE tussock.press_preview_figure (
    coop_id      uuid NOT NULL,
    order_id     uuid NOT NULL,
    row          integer NOT NULL,
    kind         text NOT NULL,
    place        text,
    number       text NOT NULL,
    held_because text NOT NULL,
    CONSTRAINT press_preview_figure_pkey PRIMARY KEY (coop_id, order_id, row),
    CONSTRAINT press_preview_figure_order_fkey FOREIGN KEY (coop_id, order_id) REFERENCES tussock.press_order ON DELETE CASCADE
);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['pub.figure_retraction', 'tussock.press_preview_figure'] LOOP
        EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON %s TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON %s AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd
GRANT SELECT (coop_id, season, row, retracted_at, kind, place) ON pub.figure_retraction TO tussock_app;
CREATE POLICY reader ON pub.figure_retraction FOR SELECT TO tussock_app
    USING (n >= (SELECT tussock.my_least()) AND n - (SELECT tussock.my_known()) >= 4);
GRANT SELECT (row) ON pub.figure TO tussock_app;
CREATE POLICY stands ON pub.figure AS RESTRICTIVE FOR SELECT TO tussock_app
    USING (NOT EXISTS (SELECT 1 FROM pub.figure_retraction x WHERE x.coop_id = figure.coop_id AND x.season = figure.season AND x.row = figure.row));

GRANT SELECT, INSERT ON tussock.press_preview_figure TO tussock_press;
CREATE POLICY press ON tussock.press_preview_figure FOR SELECT TO tussock_press USING (true);
CREATE POLICY press_add ON tussock.press_preview_figure FOR INSERT TO tussock_press WITH CHECK (true);
GRANT SELECT ON tussock.press_preview_figure TO tussock_app;
CREATE POLICY coordinator ON tussock.press_preview_figure FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
