-- A file that an owner sends is the owner's, even where a hand sent the very bytes before: it is kept and read anew, without what the hand
-- answered, and the hand's stands replaced. And where an owner has taken a sheet of a season back, what hands sent or send of that season waits
-- until an owner accepts it (rank 0), else the same rows count again with a line more.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.own_file() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE sent tussock.upload;
BEGIN
    SELECT * INTO sent FROM tussock.upload u WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id AND u.id = NEW.upload_id;
    NEW.own := coalesce(sent.called, '') = '';
    IF NEW.own AND sent.rank = 3 THEN
        WITH same AS (
            UPDATE tussock.upload_file f SET own = false FROM tussock.upload h
            WHERE f.coop_id = NEW.coop_id AND f.ranch_id = NEW.ranch_id AND f.sha256 = NEW.sha256 AND f.own
              AND h.coop_id = f.coop_id AND h.ranch_id = f.ranch_id AND h.id = f.upload_id AND h.rank < 2
            RETURNING f.upload_id
        ), replaced AS (
            UPDATE tussock.upload h SET state = CASE h.state WHEN 'current' THEN 'replaced' ELSE h.state END, owners_since = coalesce(h.owners_since, now()) FROM same
            WHERE h.coop_id = NEW.coop_id AND h.ranch_id = NEW.ranch_id AND h.id = same.upload_id
            RETURNING h.id
        )
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
        SELECT NEW.coop_id, NEW.ranch_id, sent.sent_by, now(), 'came', left(NEW.name, 80) FROM replaced LIMIT 1;
    END IF;
    RETURN NEW;
END
$$;

CREATE FUNCTION tussock.hands_wait() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.upload h SET rank = 0
    WHERE h.coop_id = NEW.coop_id AND h.ranch_id = NEW.ranch_id AND h.rank = 1 AND EXISTS (
        SELECT 1 FROM tussock.upload b WHERE b.coop_id = h.coop_id AND b.ranch_id = h.ranch_id AND b.state = 'undone' AND b.owners_since IS NOT NULL AND b.seasons && h.seasons);
    RETURN NULL;
END
$$;
CREATE TRIGGER hands_wait AFTER UPDATE OF seasons, state ON tussock.upload FOR EACH ROW WHEN (OLD.seasons <> NEW.seasons OR OLD.state <> NEW.state) EXECUTE FUNCTION tussock.hands_wait();
CREATE TRIGGER hands_wait_sent AFTER INSERT ON tussock.upload FOR EACH ROW WHEN (NEW.rank = 1 AND NEW.seasons <> '{}') EXECUTE FUNCTION tussock.hands_wait();

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.note_sheet()'::regprocedure);
    now text := replace(was, '    IF NEW.ranch_id = ANY', '    IF NEW.rank < OLD.rank THEN -- it waits now: nobody touched it
        RETURN NEW;
    END IF;
    IF NEW.ranch_id = ANY');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'note_sheet is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.send_for_owner(uuid, uuid, text, bytea, text, jsonb)'::regprocedure);
    now := replace(was, 'f.ranch_id = which AND NOT f.own)', 'f.ranch_id = which AND NOT f.own
        AND EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = f.coop_id AND u.ranch_id = f.ranch_id AND u.id = f.upload_id AND u.called <> ''''))');
    IF now = was THEN
        RAISE EXCEPTION 'send_for_owner is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.hands_wait() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.owns(uuid, uuid, uuid) TO tussock_clerk;
