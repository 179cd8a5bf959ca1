-- A figure is taken back by as many coordinators as publish: two, where there were two.

-- +goose Up
CREATE TABLE tussock.take_back (
    coop_id   uuid NOT NULL,
    season    integer NOT NULL,
    row       integer NOT NULL, -- of the figure that was chosen, in the edition that is out
    edition   smallint NOT NULL,
    person_id uuid NOT NULL,
    said_at   timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT take_back_pkey PRIMARY KEY (coop_id, season, edition, row, person_id),
    CONSTRAINT take_back_cell_fkey FOREIGN KEY (coop_id, season, edition, row) REFERENCES pub.cell,
    CONSTRAINT take_back_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);
ALTER TABLE tussock.take_back ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.take_back FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.take_back TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.take_back AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));
GRANT SELECT ON tussock.take_back TO tussock_app;
CREATE POLICY coordinator ON tussock.take_back FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

-- +goose StatementBegin
-- A coordinator's yes to taking a figure and those that it is part of back. How many figures went: none while another's yes is
-- awaited. A yes counts of who has been a coordinator for thirty days, or since before the season was cut off.
DROP FUNCTION tussock.retract(integer, integer[]);
CREATE FUNCTION tussock.retract(year integer, chosen integer, which integer[]) RETURNS integer LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    current smallint := coalesce((SELECT max(v.edition) FROM pub.revision v WHERE v.coop_id = coop AND v.season = year AND v.published_at IS NOT NULL), 1);
    needed integer := coalesce((SELECT s.words FROM tussock.season s WHERE s.coop_id = coop AND s.year = retract.year),
        (SELECT least(2, count(*)) FROM tussock.person p WHERE p.coop_id = coop AND p.role = 'coordinator' AND p.left_at IS NULL));
    taken integer;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN 0;
    END IF;
    INSERT INTO tussock.take_back (coop_id, season, row, edition, person_id)
    SELECT c.coop_id, c.season, c.row, c.edition, me FROM pub.cell c WHERE c.coop_id = coop AND c.season = year AND c.edition = current AND c.row = chosen ON CONFLICT DO NOTHING;
    IF FOUND THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what) VALUES (coop, me, 'take back', year::text);
    END IF;
    IF (SELECT count(*) FROM tussock.take_back t JOIN tussock.person p ON p.coop_id = t.coop_id AND p.id = t.person_id
        WHERE t.coop_id = coop AND t.season = year AND t.edition = current AND t.row = chosen AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL
          AND (p.joined_at < now() - interval '30 days' OR p.joined_at < (SELECT e.cut_at FROM tussock.edition e WHERE e.coop_id = coop AND e.season = year AND e.edition = 1)
               OR needed = 1)) < needed THEN
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
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what) VALUES (coop, me, 'taken back', year::text);
    RETURN taken;
END
$$;
-- +goose StatementEnd
GRANT EXECUTE ON FUNCTION tussock.retract(integer, integer, integer[]) TO tussock_app;
