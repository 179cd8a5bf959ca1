-- A look is taken back by whoever tapped it, and by the owners of the ranch. (What came by a field link, by that link too.)

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION tussock.undo_own() RETURNS trigger LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = NEW.coop_id AND k.ranch_id = NEW.ranch_id AND k.id = NEW.undoes AND k.sent_by IS DISTINCT FROM NEW.sent_by)
       AND NOT NEW.ranch_id = ANY (tussock.my_own_ranches())
       AND NOT EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = NEW.coop_id AND k.ranch_id = NEW.ranch_id AND k.id = NEW.id) THEN -- kept already
        RAISE EXCEPTION 'somebody else''s look' USING ERRCODE = '23514', CONSTRAINT = 'look_undo_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER undo_own BEFORE INSERT ON tussock.look FOR EACH ROW WHEN (NEW.kind = 'undo' AND NEW.link_id IS NULL) EXECUTE FUNCTION tussock.undo_own();
-- +goose StatementEnd
