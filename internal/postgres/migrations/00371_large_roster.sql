-- What is asked of the whole roster is asked once, and not again for every ranch or line: whether a coordinator changed what the list says of
-- somebody, when they are suspended, held everybody's name against everybody's once for each ranch; and who looks was found out for every line.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    f text[];
    was text;
    now text;
BEGIN
    FOREACH f SLICE 1 IN ARRAY ARRAY[
        ['unheard(uuid, uuid)', 'OR l.kind IN (''ranch'', ''ranch owner'') AND owner = ANY (tussock.bearers(coop, r.id)));',
         'OR CASE WHEN l.kind IN (''ranch'', ''ranch owner'') AND tussock.alike(e.folded, called) THEN owner = ANY (tussock.bearers(coop, r.id)) END);'],
        ['unheard(uuid, uuid)', '
BEGIN
', '
DECLARE called text[] := ARRAY( -- the names that they bear
    SELECT p.folded FROM tussock.person p WHERE p.coop_id = coop AND p.id = owner
    UNION SELECT e.folded FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
    WHERE a.coop_id = coop AND a.person_id = owner AND a.kind = ''owner'' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
BEGIN
'],
        ['my_comings(timestamptz)', '
BEGIN
', '
    part text := tussock.my_role();
BEGIN
'],
        ['my_comings(timestamptz)', 'IF tussock.my_role() IN', 'IF part IN'],
        ['my_comings(timestamptz)', 'WHEN tussock.my_role() = ', 'WHEN part = '],
        ['roster_log(timestamptz)', '
BEGIN
', '
    me uuid := tussock.my_person();
BEGIN
'],
        ['roster_log(timestamptz)', 'x.about_id = tussock.my_person()', 'x.about_id = me'],
        ['roster_log(timestamptz)', 'w.person_id = tussock.my_person()', 'w.person_id = me'],
        ['roster_log(timestamptz)', 'c.kind IN (''ranch'', ''ranch owner'') AND tussock.alike(tussock.fold(c.became), called)', 'c.kind IN (''ranch'', ''ranch owner'') AND CASE WHEN called IS NOT NULL THEN tussock.alike(tussock.fold(c.became), called) END'],
        ['owners_to_vouch()', 'x.mine, x.settled, CASE WHEN x.settled OR x.words < 2', 'x.mine, s.settled, CASE WHEN s.settled OR x.words < 2'],
        ['owners_to_vouch()', ' AS mine,
            tussock.vouched_for(coop, o.owner_id) AS settled', ' AS mine'],
        ['owners_to_vouch()', '    LEFT JOIN LATERAL tussock.namesake', '    CROSS JOIN LATERAL (SELECT CASE WHEN x.words < 2 THEN false ELSE tussock.vouched_for(coop, x.id) END AS settled OFFSET 0) s
    LEFT JOIN LATERAL tussock.namesake']] LOOP
        was := pg_get_functiondef(('tussock.' || f[1])::regprocedure);
        now := replace(was, f[2], f[3]);
        IF now = was THEN
            RAISE EXCEPTION '% is another: %', f[1], f[2];
        END IF;
        EXECUTE now;
    END LOOP;
END
$$;
-- +goose StatementEnd
ALTER FUNCTION tussock.namesake(uuid, uuid) ROWS 1; -- so that nothing is compiled for rows that never come
