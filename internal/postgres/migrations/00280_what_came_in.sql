-- A coordinator reads of a sheet that it came, of which seasons, and whether it has been read: not how many questions are open, which tells
-- what was found; the service itself reminds the owners of those. Late are lines by their plan, by what was tapped and by whether a sheet of
-- the season came, never by what is on one: a last check is late by its day alone, the same on every line. And what a coordinator sent for an
-- owner counts nowhere until an owner has accepted it.

-- +goose Up
DROP POLICY coordinator ON tussock.upload;
DROP POLICY coordinator ON tussock.to_read;

-- +goose StatementBegin
CREATE FUNCTION tussock.came_in() RETURNS TABLE (upload uuid, ranch uuid, season integer, seasons integer[], sending uuid, called text, sent_at timestamptz, state text, waits boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT u.id, u.ranch_id, u.season, u.seasons, u.sending_id, u.called, u.sent_at, u.state,
        EXISTS (SELECT 1 FROM tussock.to_read w WHERE w.coop_id = u.coop_id AND w.ranch_id = u.ranch_id AND w.upload_id = u.id AND NOT w.rest)
        AND NOT EXISTS (SELECT 1 FROM tussock.readback b WHERE b.coop_id = u.coop_id AND b.ranch_id = u.ranch_id AND b.upload_id = u.id) -- that it is read again tells of an answer
    FROM tussock.viewer() v
    JOIN tussock.upload u ON u.coop_id = v.coop_id
    WHERE v.role = 'coordinator';
END
$$;

CREATE OR REPLACE FUNCTION tussock.late_lines(today date) RETURNS TABLE (ranch_id uuid, ranch_name text, season integer, line text, what text, due date, closes date)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT r.id, r.name, l.season, l.name, c.what, c.due, c.due + c.slack
    FROM tussock.viewer() v
    JOIN tussock.season_line l ON l.coop_id = v.coop_id
    JOIN tussock.ranch r ON r.coop_id = l.coop_id AND r.id = l.ranch_id
    CROSS JOIN LATERAL (VALUES ('set', l.set_on, 0), ('first', l.first_check, l.slack), ('last', l.last_check, l.slack)) c (what, due, slack)
    WHERE v.role = 'coordinator' AND c.due IS NOT NULL AND today > c.due + c.slack AND today <= c.due + c.slack + 90
      AND NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = l.coop_id AND u.ranch_id = l.ranch_id AND u.state = 'current'
                      AND (u.season = l.season OR l.season = ANY (u.seasons)))
      AND (c.what = 'last' OR NOT EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = l.coop_id AND k.ranch_id = l.ranch_id AND k.line_id = l.id
                AND k.kind = CASE c.what WHEN 'set' THEN 'set' ELSE 'check' END
                AND NOT EXISTS (SELECT 1 FROM tussock.look b WHERE b.coop_id = k.coop_id AND b.ranch_id = k.ranch_id AND b.undoes = k.id)));
END
$$;

CREATE FUNCTION tussock.asked_letters() RETURNS TABLE (address text, coop_name text, ranch_name text, sheets bigint)
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    WITH told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT u.coop_id, u.ranch_id, o.person_id, 'asked ' || u.id FROM tussock.upload u
        JOIN tussock.assignment o ON o.coop_id = u.coop_id AND o.ranch_id = u.ranch_id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL
        WHERE u.state = 'current' AND u.open_count > 0 AND u.sent_at < now() - interval '3 days' AND u.sent_at > now() - interval '60 days'
          AND NOT EXISTS (SELECT 1 FROM tussock.to_read w WHERE w.coop_id = u.coop_id AND w.ranch_id = u.ranch_id AND w.upload_id = u.id AND NOT w.rest)
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id
    )
    SELECT e.email, k.name, r.name, count(*)
    FROM told t
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop k ON k.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    GROUP BY e.email, k.name, r.name;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.came_in(), tussock.asked_letters() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.came_in() TO tussock_app;
GRANT EXECUTE ON FUNCTION tussock.asked_letters() TO tussock_door;

DROP POLICY shared ON tussock.upload;
CREATE POLICY shared ON tussock.upload FOR SELECT TO tussock_app USING (state = 'current' AND rank > 0 AND ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[]));
DROP POLICY shared ON tussock.belt;
CREATE POLICY shared ON tussock.belt FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[]) AND EXISTS (
    SELECT 1 FROM tussock.upload u WHERE u.coop_id = belt.coop_id AND u.ranch_id = belt.ranch_id AND u.id = belt.upload_id AND u.state = 'current' AND u.rank > 0));
DROP POLICY shared ON tussock.site;
CREATE POLICY shared ON tussock.site FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[]) AND EXISTS (
    SELECT 1 FROM tussock.upload u WHERE u.coop_id = site.coop_id AND u.ranch_id = site.ranch_id AND u.id = site.upload_id AND u.state = 'current' AND u.rank > 0));

-- +goose StatementBegin
DO $$
DECLARE
    f text;
    was text;
    now text;
BEGIN
    FOREACH f IN ARRAY ARRAY['shared_nest()', 'check_days()', 'my_word()', 'cut_off(uuid, integer, smallint)', 'note_open(uuid, integer, smallint, uuid, uuid)'] LOOP
        was := pg_get_functiondef(('tussock.' || f)::regprocedure);
        now := replace(replace(was, 'u.state = ''current''', 'u.state = ''current'' AND u.rank > 0'), 'u.state = ''current'' AND u.rank > 0 AND u.rank > 0', 'u.state = ''current'' AND u.rank > 0');
        IF f LIKE 'note_open%' THEN
            now := replace(was, 'AND u.open_count > 0', 'AND u.open_count > 0 AND u.rank > 0');
        END IF;
        IF now = was THEN
            RAISE EXCEPTION '% is another', f;
        END IF;
        EXECUTE now;
    END LOOP;
END
$$;
DELETE FROM tussock.finding; -- what they come to without the sheets that nobody accepted
-- +goose StatementEnd
