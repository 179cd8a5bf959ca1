-- Of somebody's coming those who may read addresses read with which one they sign in; a member of the same name reads it as about them; and
-- when who came to take over a ranch goes again, that is a line, too.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    f text[];
    was text;
    now text;
BEGIN
    EXECUTE 'ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check, ADD CONSTRAINT roster_change_kind_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'roster_change_kind_check'), 'ARRAY[', 'ARRAY[''heir gone''::text, ');
    FOREACH f SLICE 1 IN ARRAY ARRAY[
        ['log_heir()', 'kind, ranch_id, what, was)', 'kind, ranch_id, what, was, about_id)'],
        ['log_heir()', 'r.id, r.name, NEW.name', 'r.id, r.name, NEW.name, NEW.id'],
        ['log_owner()', 'kind, ranch_id, what, was)', 'kind, ranch_id, what, was, about_id)'],
        ['log_owner()', '''owner came'', r.id, r.name, p.name', '''owner came'', r.id, r.name, p.name, p.id'],
        ['close_heir()', '        PERFORM tussock.depart(NEW.coop_id, who);', '        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
        SELECT NEW.coop_id, NEW.called_off_by, ''heir gone'', r.id, r.name, p.name FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.id = who
        WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
        PERFORM tussock.depart(NEW.coop_id, who);']] LOOP
        was := pg_get_functiondef(('tussock.' || f[1])::regprocedure);
        now := replace(was, f[2], f[3]);
        IF now = was THEN
            RAISE EXCEPTION '% is another', f[1];
        END IF;
        EXECUTE now;
    END LOOP;
END
$$;

-- What more the reader may know of those who came: with which address they sign in, that they were new then, that they go by the reader's name.
CREATE FUNCTION tussock.my_comings(from_then timestamptz) RETURNS TABLE (at timestamptz, kind text, email text, fresh boolean, mine boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    own uuid[] := tussock.my_own_ranches();
    called text := (SELECT tussock.fold(p.name) FROM tussock.person p WHERE p.coop_id = coop AND p.id = me);
BEGIN
    IF tussock.my_role() IN ('planner', 'biologist') THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT x.at, x.kind, CASE WHEN tussock.my_role() = 'coordinator' OR x.ranch_id = ANY (own) THEN coalesce(e.email, '') ELSE '' END,
        coalesce(p.joined_at > x.at - interval '30 days', false),
        x.about_id IS DISTINCT FROM me AND tussock.fold(CASE x.kind WHEN 'coordinator' THEN x.what ELSE x.was END) = called
    FROM tussock.roster_change x
    LEFT JOIN tussock.person p ON p.coop_id = x.coop_id AND p.id = x.about_id
    LEFT JOIN tussock.account e ON e.coop_id = x.coop_id AND e.person_id = x.about_id
    WHERE x.coop_id = coop AND x.at >= from_then AND x.kind IN ('heir joined', 'heir gone', 'owner came', 'coordinator');
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.my_comings(timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.my_comings(timestamptz) TO tussock_app;
