-- Planners and biologists read no name among the changes: a coordinator, or a member. A landowner reads as theirs every line about a ranch
-- that was put under their name, until they said that it is not theirs.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    was text := pg_get_functiondef('tussock.roster_log(timestamp with time zone)'::regprocedure);
    now text := was;
    change text[];
BEGIN
    FOREACH change SLICE 1 IN ARRAY ARRAY[
        ['by_name text, ', 'by_name text, by_part text, '],
        ['    called text[] := CASE WHEN own <> ''{}'' THEN ARRAY( -- what the reader goes by
        SELECT tussock.fold(p.name) FROM tussock.person p WHERE p.coop_id = coop AND p.id = tussock.my_person()
        UNION SELECT tussock.fold(e.name) FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ANY (own)) END;',
         '    called text[] := tussock.my_names();'],
        ['SELECT p.id, p.name, n.again', 'SELECT p.id, p.name, p.role, n.again'],
        ['coalesce(p.name, ''''), coalesce(p.again, false), coalesce(p.inviter, ''''),', 'CASE WHEN outside THEN '''' ELSE coalesce(p.name, '''') END, CASE WHEN NOT outside OR p.id IS NULL THEN '''' WHEN p.role = ''coordinator'' THEN ''coordinator'' ELSE ''member'' END,
        coalesce(p.again, false) AND NOT outside, CASE WHEN outside THEN '''' ELSE coalesce(p.inviter, '''') END,'],
        ['coalesce(x.ranch_id = ANY (own) OR x.kind IN (''ranch'', ''ranch owner'') AND tussock.fold(x.became) = ANY (called), false)',
         'coalesce(x.ranch_id = ANY (own), false) OR n.ranch_id IS NOT NULL AND x.at <= n.till'],
        ['LEFT JOIN who a ON a.id = x.about_id', 'LEFT JOIN who a ON a.id = x.about_id
    LEFT JOIN (
        SELECT c.ranch_id, coalesce((SELECT min(w.said_at) FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = c.ranch_id AND w.person_id = tussock.my_person() AND NOT w.yes), ''infinity'') AS till
        FROM tussock.roster_change c WHERE c.coop_id = coop AND c.kind IN (''ranch'', ''ranch owner'') AND tussock.fold(c.became) = ANY (called) GROUP BY c.ranch_id) n ON n.ranch_id = x.ranch_id']]
    LOOP
        IF strpos(now, change[1]) = 0 THEN
            RAISE EXCEPTION 'roster_log is another: %', change[1];
        END IF;
        now := replace(now, change[1], change[2]);
    END LOOP;
    DROP FUNCTION tussock.roster_log(timestamptz);
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.roster_log(timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.roster_log(timestamptz) TO tussock_app;
