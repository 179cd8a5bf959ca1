-- Whoever became a coordinator a moment ago decides nothing alone, and puts nobody out who was there before; and a season has an end.

-- +goose Up
ALTER TABLE tussock.person ADD remove_asked_at timestamptz, ADD remove_asked_by uuid; -- as a coordinator, by another one
ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check,
    ADD CONSTRAINT roster_change_kind_check CHECK (kind IN ('ranch', 'ranch name', 'ranch area', 'ranch owner', 'ranch erased', 'area', 'area name', 'area group', 'vouched', 'vouch ended', 'paper',
        'take off', 'take off ended', 'taken off', 'season', 'take back', 'taken back', 'suspended', 'suspension kept', 'suspension ended', 'paper no',
        'coordinator', 'coordinator gone', 'remove', 'remove ended'));

-- +goose StatementBegin
-- How many coordinators must say a word on a season: as many as there were when it opened, and two where two are there now who may, one
-- who went in the last 30 days among them.
CREATE FUNCTION tussock.words_needed(coop uuid, which integer, before timestamptz) RETURNS integer LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN greatest(coalesce((SELECT s.words FROM tussock.season s WHERE s.coop_id = coop AND s.year = which), 1), least(2, (
        SELECT count(*) FROM tussock.person p WHERE p.coop_id = coop AND p.role = 'coordinator' AND p.joined_at < before AND (p.left_at IS NULL OR p.left_at > now() - interval '30 days'))));
END
$$;

DO $$
DECLARE
    now text := pg_get_functiondef('tussock.retract(integer, integer, integer[])'::regprocedure);
BEGIN
    now := replace(now, 'coalesce((SELECT s.words FROM tussock.season s WHERE s.coop_id = coop AND s.year = retract.year),
        (SELECT least(2, count(*)) FROM tussock.person p WHERE p.coop_id = coop AND p.role = ''coordinator'' AND p.left_at IS NULL))',
        'tussock.words_needed(coop, year, greatest(now() - interval ''30 days'', (SELECT e.cut_at FROM tussock.edition e WHERE e.coop_id = coop AND e.season = year AND e.edition = 1)))');
    now := replace(now, '
               OR needed = 1)) < needed', ')) < needed');
    IF strpos(now, 'words_needed') = 0 OR strpos(now, 'needed = 1') > 0 THEN
        RAISE EXCEPTION 'retract is another';
    END IF;
    EXECUTE now;
    now := replace(pg_get_functiondef('tussock.approved(uuid, integer, smallint)'::regprocedure), '(SELECT s.words FROM tussock.season s WHERE s.coop_id = coop AND s.year = which)',
        'tussock.words_needed(coop, which, (SELECT e.cut_at FROM tussock.edition e WHERE e.coop_id = coop AND e.season = which AND e.edition = nth))');
    IF strpos(now, 'words_needed') = 0 THEN
        RAISE EXCEPTION 'approved is another';
    END IF;
    EXECUTE now;
    now := replace(pg_get_functiondef('tussock.may_approve(uuid, integer, smallint, uuid)'::regprocedure), 'greatest(e.composed_at, s.published_on) < now() - interval ''30 days''',
        'greatest(e.composed_at, s.published_on, p.joined_at) < now() - interval ''30 days''');
    IF strpos(now, 's.published_on, p.joined_at') = 0 THEN
        RAISE EXCEPTION 'may_approve is another';
    END IF;
    EXECUTE now;
    now := replace(pg_get_functiondef('tussock.suspend(uuid)'::regprocedure), '    IF now() BETWEEN', '    IF p.role = ''coordinator'' AND tussock.came_after(p) THEN
        RAISE EXCEPTION ''came lately'' USING ERRCODE = ''23505'', CONSTRAINT = ''person_lately_check'';
    END IF;
    IF now() BETWEEN');
    IF strpos(now, 'came_after') = 0 THEN
        RAISE EXCEPTION 'suspend is another';
    END IF;
    EXECUTE now;
    now := replace(pg_get_functiondef('tussock.keep_coordinator()'::regprocedure), '    IF OLD.role = ''coordinator'' AND NEW.left_at IS DISTINCT',
        '    IF OLD.role = ''coordinator'' AND OLD.left_at IS NULL AND NEW.left_at IS NOT NULL AND tussock.my_person() <> OLD.id AND NOT tussock.may_remove(OLD) THEN
        RAISE EXCEPTION ''a coordinator is not removed alone'' USING ERRCODE = ''23505'', CONSTRAINT = ''person_stays_check'';
    END IF;
    IF OLD.suspended_at IS NOT NULL AND NEW.suspended_at IS NULL AND NEW.remove_asked_at IS NOT NULL THEN
        NEW.remove_asked_at := now(); -- who could not say no has their fourteen days
    END IF;
    IF OLD.role = ''coordinator'' AND NEW.left_at IS DISTINCT');
    IF strpos(now, 'may_remove') = 0 THEN
        RAISE EXCEPTION 'keep_coordinator is another';
    END IF;
    EXECUTE now;
    now := replace(pg_get_functiondef('tussock.check_season()'::regprocedure), '    RETURN NEW;', '    IF NEW.cut_off_on > NEW.opens_on + 400 OR NEW.composed_on > NEW.cut_off_on + 60 OR NEW.published_on > NEW.composed_on + 60 THEN
        RAISE EXCEPTION ''too late'' USING ERRCODE = ''23514'', CONSTRAINT = ''season_late_check'';
    END IF;
    IF EXISTS (SELECT 1 FROM tussock.season s WHERE s.coop_id = NEW.coop_id AND (s.year < NEW.year AND s.cut_off_on >= NEW.opens_on OR s.year > NEW.year AND s.opens_on <= NEW.cut_off_on)) THEN
        RAISE EXCEPTION ''two at once'' USING ERRCODE = ''23514'', CONSTRAINT = ''season_turn_check'';
    END IF;
    RETURN NEW;');
    IF strpos(now, 'season_turn_check') = 0 THEN
        RAISE EXCEPTION 'check_season is another';
    END IF;
    EXECUTE now;
END
$$;

-- Whether the reader came less than 30 days ago, and after somebody.
CREATE FUNCTION tussock.came_after(p tussock.person) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.person me WHERE me.coop_id = p.coop_id AND me.id = tussock.my_person()
        AND me.joined_at > now() - interval '30 days' AND me.joined_at > p.joined_at);
END
$$;

-- Whether the reader's word removes a coordinator: where another one asked for it, or 14 days after the reader did. A no ends the asking.
CREATE FUNCTION tussock.may_remove(p tussock.person) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE me uuid := tussock.my_person();
BEGIN
    RETURN coalesce(tussock.my_role() = 'coordinator' AND p.remove_asked_at IS NOT NULL AND NOT tussock.came_after(p) AND CASE WHEN p.remove_asked_by = me
        THEN p.remove_asked_at <= now() - interval '14 days' AND (p.suspended_at IS NULL OR p.suspension_kept_by IS NOT NULL)
        ELSE EXISTS (SELECT 1 FROM tussock.person a WHERE a.coop_id = p.coop_id AND a.id = p.remove_asked_by AND a.role = 'coordinator' AND a.left_at IS NULL AND a.suspended_at IS NULL) END, false);
END
$$;

-- Asks for a coordinator to be removed. False where it was asked for already, and where there is none.
CREATE FUNCTION tussock.ask_removal(who uuid) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    p tussock.person;
    me uuid := tussock.my_person();
BEGIN
    SELECT * INTO p FROM tussock.person x WHERE x.coop_id = tussock.my_coop() AND x.id = who AND x.role = 'coordinator' AND x.left_at IS NULL FOR UPDATE;
    IF NOT FOUND OR tussock.my_role() IS DISTINCT FROM 'coordinator' OR who = me OR tussock.may_remove(p) THEN
        RETURN false;
    END IF;
    IF tussock.came_after(p) THEN
        RAISE EXCEPTION 'came lately' USING ERRCODE = '23505', CONSTRAINT = 'person_lately_check';
    END IF;
    IF p.remove_asked_by IS NOT DISTINCT FROM me THEN
        RAISE EXCEPTION 'asked already' USING ERRCODE = '23505', CONSTRAINT = 'person_stays_check';
    END IF;
    UPDATE tussock.person x SET remove_asked_at = now(), remove_asked_by = me WHERE x.coop_id = p.coop_id AND x.id = who;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id, became) VALUES (p.coop_id, me, 'remove', p.name, p.id, ((now() + interval '14 days') AT TIME ZONE 'UTC')::date::text);
    RETURN true;
END
$$;

-- The no of the coordinator whom it is about. False where nobody asked.
CREATE FUNCTION tussock.stay() RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE p tussock.person;
BEGIN
    UPDATE tussock.person x SET remove_asked_at = NULL, remove_asked_by = NULL WHERE x.coop_id = tussock.my_coop() AND x.id = tussock.my_person() AND x.remove_asked_at IS NOT NULL RETURNING * INTO p;
    IF p.id IS NULL THEN
        RETURN false;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id) VALUES (p.coop_id, p.id, 'remove ended', p.name, p.id);
    RETURN true;
END
$$;

CREATE FUNCTION tussock.log_coordinator() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id) VALUES (NEW.coop_id, NEW.invited_by, 'coordinator', NEW.name, NEW.id);
    ELSE
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id) VALUES (NEW.coop_id, coalesce(tussock.my_person(), NEW.id), 'coordinator gone', NEW.name, NEW.id);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_coordinator_came AFTER INSERT ON tussock.person FOR EACH ROW WHEN (NEW.role = 'coordinator') EXECUTE FUNCTION tussock.log_coordinator();
CREATE TRIGGER log_coordinator_gone AFTER UPDATE OF left_at ON tussock.person FOR EACH ROW WHEN (NEW.role = 'coordinator' AND OLD.left_at IS NULL AND NEW.left_at IS NOT NULL) EXECUTE FUNCTION tussock.log_coordinator();
-- +goose StatementEnd
GRANT EXECUTE ON FUNCTION tussock.ask_removal(uuid), tussock.stay(), tussock.may_remove(tussock.person) TO tussock_app;
