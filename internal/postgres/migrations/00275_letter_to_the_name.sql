-- Under whose name a coordinator puts a ranch that is none of theirs gets a letter.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    was text := pg_get_functiondef('tussock.roster_letters()'::regprocedure);
    now text := replace(was, '    ), told AS (', '        UNION ALL
        SELECT x.coop_id, r.id, p.id, ''roster '' || x.id, x.at, ''ranch'', x.was, x.became, x.person_id
        FROM tussock.roster_change x
        JOIN tussock.ranch r ON r.coop_id = x.coop_id AND r.id = x.ranch_id AND r.erased_at IS NULL
        JOIN tussock.person p ON p.coop_id = x.coop_id AND p.role = ''landowner'' AND p.left_at IS NULL AND p.joined_at < x.at AND tussock.fold(p.name) = tussock.fold(x.became)
        WHERE x.at > now() - interval ''7 days'' AND x.kind IN (''ranch'', ''ranch owner'') AND NOT tussock.owns(x.coop_id, r.id, p.id)
    ), told AS (');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'roster_letters is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
