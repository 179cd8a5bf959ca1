-- A field link shows what it takes to work on its lines: the lines, where nests were put, which of them still want a look,
-- and what came by this link itself. Of what others found it shows nothing: a nest that wants no more looks is done.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.field_looks() RETURNS TABLE (id uuid, ranch_id uuid, season integer, line_id uuid, stop integer, kind text, who text,
    device text, seq integer, at timestamptz, answers text, undoes text, received_at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    WITH here AS (
        SELECT k.*, k.link_id IS NOT DISTINCT FROM v.link_id AS own
        FROM tussock.field_viewer() v
        JOIN tussock.look k ON k.coop_id = v.coop_id AND k.ranch_id = v.ranch_id AND k.line_id = ANY (v.lines)
        WHERE v.reading
    ), live AS (
        SELECT h.* FROM here h WHERE NOT EXISTS (SELECT 1 FROM here u WHERE u.kind = 'undo' AND u.undoes = h.id)
    ), checks AS ( -- a later look by the same hand on the same day mends the one before
        SELECT DISTINCT ON (l.line_id, l.stop, l.device, l.answers->>'looked_on') l.*, l.answers->>'looked_on' AS looked_on, l.answers->>'found' AS found
        FROM live l
        WHERE l.kind = 'check' AND l.answers->>'found' <> 'not_checked' AND l.answers->>'looked_on' <> ''
        ORDER BY l.line_id, l.stop, l.device, l.answers->>'looked_on', l.seq DESC, l.id
    ), stops AS (
        SELECT (array_agg(c.id ORDER BY c.looked_on DESC, c.at DESC, c.id) FILTER (WHERE NOT c.own))[1] AS last,
            bool_or(c.found IN ('some', 'lost')) OR count(DISTINCT c.looked_on) > 1
                OR (array_agg(c.found ORDER BY c.looked_on DESC, c.at DESC, c.id))[1] = 'not_found' AS done
        FROM checks c GROUP BY c.line_id, c.stop HAVING NOT bool_and(c.own)
    ), told AS (
        SELECT h.id, h.answers FROM here h WHERE h.own AND h.kind <> 'choose'
        UNION ALL
        SELECT u.id, '{}' FROM here u JOIN here h ON h.id = u.undoes AND h.own WHERE u.kind = 'undo' AND NOT u.own
        UNION ALL
        SELECT l.id, (SELECT coalesce(jsonb_object_agg(e.key, e.value), '{}') FROM jsonb_each(l.answers) e
            WHERE e.key IN ('cover', 'cover_plant', 'set_on', 'eggs_set', 'steps', 'bearing', 'place', 'camera_here', 'flags_set', 'markers_set'))
        FROM live l WHERE l.kind = 'set' AND NOT l.own
        UNION ALL
        SELECT s.last, CASE WHEN s.done THEN jsonb_build_object('done', 'yes') ELSE jsonb_build_object('looked_on', c.looked_on) END
        FROM stops s JOIN checks c ON c.id = s.last
    )
    SELECT h.id, h.ranch_id, h.season, h.line_id, h.stop, h.kind, '', CASE WHEN h.own THEN h.device ELSE '' END, h.seq, h.at, t.answers::text,
        coalesce(h.undoes::text, ''), h.received_at
    FROM told t JOIN here h ON h.id = t.id
    ORDER BY h.at, h.device, h.seq, h.id;
END
$$;

-- A look dated before the link's first day is not taken: nobody worked by the link then.
CREATE FUNCTION tussock.look_in_time() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.field_link l
        WHERE l.coop_id = NEW.coop_id AND l.ranch_id = NEW.ranch_id AND l.id = NEW.link_id
          AND least(nullif(NEW.answers->>'set_on', '')::date, nullif(NEW.answers->>'looked_on', '')::date, nullif(NEW.answers->>'belt_on', '')::date) < l.from_on) THEN
        RAISE EXCEPTION 'before the link''s first day' USING ERRCODE = '23514', CONSTRAINT = 'look_before_link_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER look_in_time BEFORE INSERT ON tussock.look FOR EACH ROW WHEN (NEW.link_id IS NOT NULL) EXECUTE FUNCTION tussock.look_in_time();
-- +goose StatementEnd
