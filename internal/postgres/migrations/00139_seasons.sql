-- A sheet may hold several seasons: a question that is open in it is open for each of them.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.cut_off(coop uuid, which integer, nth smallint) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE opened timestamptz := (SELECT s.opened_at FROM tussock.season s WHERE s.coop_id = coop AND s.year = which);
BEGIN
    IF nth = 1 THEN -- entities with people, a mailbox, a telephone or a browser in common are one, over however many steps
        WITH RECURSIVE trace AS (
            SELECT s.entity_id, t.trace
            FROM (SELECT x.entity_id, array_agg(x.ranch_id) AS ranches FROM tussock.season_ranch x WHERE x.coop_id = coop AND x.season = which GROUP BY x.entity_id) s
            CROSS JOIN LATERAL unnest(tussock.owners_traces(coop, s.ranches, opened) || ('entity ' || s.entity_id)) t (trace)
        ), link AS (
            SELECT DISTINCT x.entity_id AS a, y.entity_id AS b FROM trace x JOIN trace y ON y.trace = x.trace
        ), reach AS (
            SELECT a, b FROM link UNION SELECT r.a, l.b FROM reach r JOIN link l ON l.a = r.b
        )
        UPDATE tussock.season_ranch s SET counts_as = x.b
        FROM (SELECT a, min(b::text)::uuid AS b FROM reach GROUP BY a) x
        WHERE s.coop_id = coop AND s.season = which AND s.entity_id = x.a;
    END IF;
    INSERT INTO tussock.edition (coop_id, season, edition, on_roster, sheets, owners)
    SELECT coop, which, nth, count(*), 0, count(DISTINCT s.counts_as) FILTER (WHERE s.yes AND s.settled)
    FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which;
    INSERT INTO tussock.snapshot (coop_id, season, edition, ranch_id, shown, open, nests, belts, sites)
    SELECT coop, which, nth, s.ranch_id,
        EXISTS (SELECT 1 FROM tussock.showcase w JOIN tussock.season_ranch o ON o.coop_id = w.coop_id AND o.entity_id = w.entity_id AND o.season = which
                WHERE w.coop_id = coop AND o.counts_as = s.counts_as),
        EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = s.ranch_id AND (u.season = which OR which = ANY (u.seasons)) AND u.state = 'current' AND u.open_count > 0),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,steps,bearing,spot,notes,from_sheet,from_row}'::text[] ORDER BY u.seq DESC, x.row), '[]')
         FROM tussock.nest x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND x.season = which AND u.state = 'current'),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[] ORDER BY u.seq DESC, x.row), '[]')
         FROM tussock.belt x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND x.season = which AND u.state = 'current'),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[] ORDER BY u.seq DESC, x.row), '[]')
         FROM tussock.site x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND u.state = 'current')
    FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which AND s.yes AND tussock.says_yes(coop, s.ranch_id);
    UPDATE tussock.edition e SET sheets = (SELECT count(*) FROM tussock.snapshot x WHERE x.coop_id = coop AND x.season = which AND x.edition = nth AND x.nests <> '[]')
    WHERE e.coop_id = coop AND e.season = which AND e.edition = nth;
END
$$;
-- +goose StatementEnd
