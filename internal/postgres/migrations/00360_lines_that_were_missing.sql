-- Who comes onto a ranch as its first owner or is put on it, a map of the areas, a code that helps somebody in and words on paper that
-- lapse are lines among the changes; a line on a figure says which; landowners and hands read the names of coordinators. A coordinator's
-- texts that planners and biologists read are held against the names within the cooperative.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    f text[];
    was text;
    now text;
BEGIN
    EXECUTE 'ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check, ADD CONSTRAINT roster_change_kind_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'roster_change_kind_check'), 'ARRAY[',
            'ARRAY[''first owner''::text, ''placed''::text, ''map''::text, ''code''::text, ''vouch lapsed''::text, ');
    FOREACH f SLICE 1 IN ARRAY ARRAY[
        ['my_comings(timestamptz)', '''owner came'', ''coordinator'')', '''owner came'', ''first owner'', ''placed'', ''coordinator'')'],
        ['retract(integer, integer, integer[])', 'kind, what) VALUES (coop, me, ''take back'', year::text);',
         'kind, what, became)
        SELECT coop, me, ''take back'', year::text, jsonb_build_object(''Area'', c.area, ''Substrate'', c.substrate, ''Measure'', c.measure, ''Predator'', c.predator, ''Clumps'', c.clumps)::text
        FROM pub.cell c WHERE c.coop_id = coop AND c.season = year AND c.edition = current AND c.row = chosen;'],
        ['retract(integer, integer, integer[])', 'kind, what) VALUES (coop, me, ''taken back'', year::text);',
         'kind, what, became)
    SELECT coop, me, ''taken back'', year::text, jsonb_build_object(''Area'', c.area, ''Substrate'', c.substrate, ''Measure'', c.measure, ''Predator'', c.predator, ''Clumps'', c.clumps)::text
    FROM pub.cell c WHERE c.coop_id = coop AND c.season = year AND c.edition = current AND c.row = chosen;']] LOOP
        was := pg_get_functiondef(('tussock.' || f[1])::regprocedure);
        now := replace(was, f[2], f[3]);
        IF now = was THEN
            RAISE EXCEPTION '% is another', f[1];
        END IF;
        EXECUTE now;
    END LOOP;

    was := pg_get_functiondef('tussock.roster_log(timestamptz)'::regprocedure);
    now := was;
    FOREACH f SLICE 1 IN ARRAY ARRAY[
        ['became text, mine boolean)', 'became text, mine boolean, about uuid)'],
        ['x.was, x.became,', 'x.was,
        CASE WHEN x.kind IN (''vouched'', ''vouch ended'') AND x.about_id IS NULL THEN ''on paper'' WHEN outside AND x.kind IN (''take back'', ''taken back'') THEN '''' ELSE x.became END,'],
        ['coalesce(x.ranch_id = ANY (own), false) OR', 'coalesce(x.ranch_id = ANY (own) OR x.kind = ''code'' AND x.about_id = tussock.my_person(), false) OR'],
        ['AND x.at <= n.till', 'AND x.at <= n.till, coalesce(x.ranch_id, x.area_id)'],
        ['x.kind IN (''area'', ', 'x.kind IN (''map'', ''area'', ']] LOOP
        IF strpos(now, f[1]) = 0 THEN
            RAISE EXCEPTION 'roster_log is another: %', f[1];
        END IF;
        now := replace(now, f[1], f[2]);
    END LOOP;
    DROP FUNCTION tussock.roster_log(timestamptz);
    EXECUTE now;
END
$$;

-- Who comes onto a ranch that has no other owner, or is put on it. What a hand-over brings is a line of its own.
CREATE FUNCTION tussock.log_coming() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    p tussock.person := (SELECT x FROM tussock.person x WHERE x.coop_id = NEW.coop_id AND x.id = NEW.person_id);
    called text := (SELECT r.name FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id);
    lapsed text;
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.departure d WHERE d.coop_id = NEW.coop_id AND d.ranch_id = NEW.ranch_id AND d.kind = 'hand over' AND d.agreed_by = NEW.person_id
               AND d.done_at IS NULL AND d.called_off_at IS NULL) THEN
        RETURN NULL;
    END IF;
    IF TG_OP = 'INSERT' AND (NEW.confirmed_at IS NULL OR NEW.kind = 'hand') THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became, about_id)
        VALUES (NEW.coop_id, coalesce(tussock.my_person(), p.invited_by), 'placed', NEW.ranch_id, called, p.name, NEW.kind || CASE WHEN NEW.confirmed_at IS NULL THEN ' waits' ELSE '' END, p.id);
    END IF;
    IF NEW.kind <> 'owner' OR NEW.confirmed_at IS NULL OR EXISTS (
        SELECT 1 FROM tussock.assignment o WHERE o.coop_id = NEW.coop_id AND o.ranch_id = NEW.ranch_id AND o.person_id <> NEW.person_id
           AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL) THEN
        RETURN NULL;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, about_id)
    VALUES (NEW.coop_id, coalesce(NEW.placed_by, p.invited_by), 'first owner', NEW.ranch_id, called, p.name, p.id);
    lapsed := (SELECT string_agg(v.name, ', ' ORDER BY v.name) FROM tussock.vouch w JOIN tussock.person v ON v.coop_id = w.coop_id AND v.id = w.person_id
        WHERE w.coop_id = NEW.coop_id AND w.owner_id = NEW.ranch_id AND (w.ended_at IS NULL OR w.ended_at > now() - interval '30 days'));
    IF lapsed IS NOT NULL THEN
        INSERT INTO tussock.roster_change (coop_id, kind, ranch_id, what, was, became) VALUES (NEW.coop_id, 'vouch lapsed', NEW.ranch_id, called, p.name, lapsed);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_coming AFTER INSERT ON tussock.assignment FOR EACH ROW EXECUTE FUNCTION tussock.log_coming();
CREATE TRIGGER log_came AFTER UPDATE OF confirmed_at ON tussock.assignment FOR EACH ROW
    WHEN (NEW.kind = 'owner' AND OLD.confirmed_at IS NULL AND NEW.confirmed_at IS NOT NULL AND NEW.until IS NULL) EXECUTE FUNCTION tussock.log_coming();

-- A map is one line, with the names of the areas on it; none of them where it was taken away.
CREATE FUNCTION tussock.log_map() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    me uuid := tussock.my_person();
    coop uuid := (SELECT c.coop_id FROM changed c LIMIT 1);
BEGIN
    IF coop IS NOT NULL THEN
        DELETE FROM tussock.roster_change x WHERE x.coop_id = coop AND x.kind = 'map' AND x.person_id = me AND x.became = '' AND x.at >= now();
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, became)
        SELECT coop, me, 'map', string_agg(a.name, ', ' ORDER BY a.name), CASE TG_OP WHEN 'INSERT' THEN 'shown' ELSE '' END
        FROM changed c JOIN tussock.area a ON a.coop_id = c.coop_id AND a.id = c.area_id;
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_map AFTER INSERT ON tussock.area_shape REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION tussock.log_map();
CREATE TRIGGER log_no_map AFTER DELETE ON tussock.area_shape REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION tussock.log_map();

-- A coordinator makes a code that helps a member in. False where there is no such member, or it is oneself.
CREATE FUNCTION tussock.note_code(member uuid) RETURNS boolean LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id)
    SELECT p.coop_id, tussock.my_person(), 'code', p.name, p.id FROM tussock.person p
    WHERE p.coop_id = tussock.my_coop() AND p.id = member AND p.id <> tussock.my_person() AND p.left_at IS NULL AND tussock.my_role() = 'coordinator';
    RETURN FOUND;
END
$$;

-- Those that were made for the viewer in the last 30 days, latest first.
CREATE FUNCTION tussock.my_help_codes() RETURNS TABLE (at timestamptz, by_name text) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT x.at, p.name FROM tussock.roster_change x JOIN tussock.person p ON p.coop_id = x.coop_id AND p.id = x.person_id
    WHERE x.coop_id = tussock.my_coop() AND x.kind = 'code' AND x.about_id = tussock.my_person() AND x.at > now() - interval '30 days' ORDER BY x.at DESC;
END
$$;

-- What ranches, owners, landowners and hands are or were called, for a coordinator; person says of whom.
CREATE FUNCTION tussock.names_within() RETURNS TABLE (name text, person boolean) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT n.name, bool_or(n.person) FROM (
        SELECT p.name, true AS person FROM tussock.person p WHERE p.coop_id = coop AND p.role IN ('landowner', 'hand')
        UNION ALL SELECT r.name, false FROM tussock.ranch r WHERE r.coop_id = coop AND r.erased_at IS NULL
        UNION ALL SELECT e.name, false FROM tussock.entity e WHERE e.coop_id = coop
        UNION ALL SELECT x.was, false FROM tussock.roster_change x WHERE x.coop_id = coop AND x.kind IN ('ranch name', 'ranch owner')) n
    WHERE n.name <> '' GROUP BY n.name ORDER BY 1;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.roster_log(timestamptz), tussock.log_coming(), tussock.log_map(), tussock.note_code(uuid), tussock.my_help_codes(), tussock.names_within() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.roster_log(timestamptz), tussock.note_code(uuid), tussock.my_help_codes(), tussock.names_within() TO tussock_app;
CREATE POLICY runs ON tussock.person FOR SELECT TO tussock_app USING (role = 'coordinator' AND (SELECT tussock.my_role()) IN ('landowner', 'hand') AND (SELECT tussock.my_ranches()) <> '{}');
