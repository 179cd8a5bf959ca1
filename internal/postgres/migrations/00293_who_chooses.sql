-- Where two looks contradict one another and one of them is an owner's, or an owner has chosen there, the choice is an owner's. Each choice is a
-- line of the owners' log.

-- +goose Up
-- +goose StatementBegin
DO $$
BEGIN
    EXECUTE 'ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check, ADD CONSTRAINT view_log_what_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'view_log_what_check'), 'ARRAY[', 'ARRAY[''chose''::text, ');
END
$$;

CREATE FUNCTION tussock.choose_own() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE kept tussock.look;
BEGIN
    IF NEW.ranch_id = ANY (tussock.my_own_ranches())
       OR EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = NEW.coop_id AND k.ranch_id = NEW.ranch_id AND k.id = NEW.id) THEN -- kept already
        RETURN NEW;
    END IF;
    SELECT * INTO kept FROM tussock.look k WHERE k.coop_id = NEW.coop_id AND k.ranch_id = NEW.ranch_id AND k.id::text = NEW.answers->>'keep';
    IF kept.id IS NULL OR (kept.line_id, kept.stop) IS DISTINCT FROM (NEW.line_id, NEW.stop) OR EXISTS (
        SELECT 1 FROM tussock.look k WHERE k.coop_id = kept.coop_id AND k.ranch_id = kept.ranch_id AND k.line_id = kept.line_id AND k.stop = kept.stop
           AND k.kind IN (kept.kind, 'choose') AND tussock.owns(k.coop_id, k.ranch_id, k.sent_by)
           AND NOT EXISTS (SELECT 1 FROM tussock.look u WHERE u.coop_id = k.coop_id AND u.ranch_id = k.ranch_id AND u.kind = 'undo' AND u.undoes = k.id)) THEN
        RAISE EXCEPTION 'an owner''s choice' USING ERRCODE = '23514', CONSTRAINT = 'look_choose_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER choose_own BEFORE INSERT ON tussock.look FOR EACH ROW WHEN (NEW.kind = 'choose') EXECUTE FUNCTION tussock.choose_own();

CREATE FUNCTION tussock.log_choice() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.sent_by = tussock.my_person() THEN
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
        SELECT NEW.coop_id, NEW.ranch_id, NEW.sent_by, now(), 'chose', left(l.name, 70) || ' / ' || NEW.stop FROM tussock.season_line l
        WHERE l.coop_id = NEW.coop_id AND l.ranch_id = NEW.ranch_id AND l.id = NEW.line_id;
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_choice AFTER INSERT ON tussock.look FOR EACH ROW WHEN (NEW.kind = 'choose') EXECUTE FUNCTION tussock.log_choice();

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.ring()'::regprocedure);
    now text := replace(was, 'work text[] := ARRAY[', 'work text[] := ARRAY[''chose'', ');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'ring is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.choose_own(), tussock.log_choice() FROM PUBLIC;
