-- What is sent for an owner is kept the same whether the ranch has those very bytes or not, else whoever sends finds out by sheets that might
-- be the ranch's. Its room and its number are its own, so neither tells how much the ranch has, nor takes it up. And until an owner has
-- accepted it, it makes no ranch one that has sent.

-- +goose Up
ALTER TABLE tussock.upload_file ADD own boolean NOT NULL DEFAULT true; -- sent by the ranch's own people
ALTER TABLE tussock.upload_file DROP CONSTRAINT upload_file_sha256_key;
-- +goose StatementBegin
DO $$
BEGIN
    PERFORM set_config('tussock.session', '', true);
    UPDATE tussock.upload_file f SET own = false FROM tussock.upload u WHERE u.coop_id = f.coop_id AND u.ranch_id = f.ranch_id AND u.id = f.upload_id AND u.called <> '';
END
$$;
-- +goose StatementEnd
CREATE UNIQUE INDEX upload_file_own ON tussock.upload_file (coop_id, ranch_id, sha256) WHERE own;

-- +goose StatementBegin
CREATE FUNCTION tussock.own_file() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.own := NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id AND u.id = NEW.upload_id AND u.called <> '');
    RETURN NEW;
END
$$;
CREATE TRIGGER own_file BEFORE INSERT ON tussock.upload_file FOR EACH ROW EXECUTE FUNCTION tussock.own_file();

-- Sends a sheet for an owner who said yes: 'sent', 'many' where as many were sent for the ranch within a day as may be, 'full' where as many
-- were at all; nothing where no owner said yes. Nothing in the answer depends on what the ranch has.
CREATE OR REPLACE FUNCTION tussock.send_for_owner(which uuid, sending uuid, file_name text, contents bytea, said_in text, how jsonb) RETURNS text
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := (SELECT tussock.my_coop());
    me uuid := (SELECT tussock.my_person());
    new_id uuid := gen_random_uuid();
BEGIN
    IF NOT which = ANY (tussock.my_sendable()) THEN
        RETURN NULL;
    END IF;
    PERFORM pg_advisory_xact_lock(hashtextextended('files of ' || which::text, 0));
    IF (SELECT count(*) >= 40 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = which AND u.called <> '' AND u.sent_at > now() - interval '1 day') THEN
        RETURN 'many';
    END IF;
    IF (SELECT count(*) >= 500 OR coalesce(sum(f.size), 0) + length(contents) > 250 * 1024 * 1024 FROM tussock.upload_file f WHERE f.coop_id = coop AND f.ranch_id = which AND NOT f.own) THEN
        RETURN 'full';
    END IF;
    INSERT INTO tussock.upload (coop_id, ranch_id, id, season, sent_by, sent_at, sending_id, called)
    VALUES (coop, which, new_id, 0, me, now(), sending, file_name);
    INSERT INTO tussock.upload_file (coop_id, ranch_id, upload_id, name, size, sha256, data)
    VALUES (coop, which, new_id, file_name, length(contents), sha256(contents), contents);
    INSERT INTO tussock.reading (coop_id, ranch_id, upload_id, nests, belts, refused, settings) VALUES (coop, which, new_id, 0, 0, 0, how);
    INSERT INTO tussock.to_read (coop_id, ranch_id, upload_id, language, size) VALUES (coop, which, new_id, said_in, length(contents));
    INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item) VALUES (coop, which, me, now(), 'came', left(file_name, 80));
    PERFORM pg_notify('tussock_clerk', '');
    RETURN 'sent';
END
$$;

DROP FUNCTION tussock.came_in();
CREATE FUNCTION tussock.came_in() RETURNS TABLE (upload uuid, ranch uuid, season integer, seasons integer[], sending uuid, called text, sent_at timestamptz, state text, waits boolean, counts boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT u.id, u.ranch_id, u.season, u.seasons, u.sending_id, u.called, u.sent_at, u.state,
        EXISTS (SELECT 1 FROM tussock.to_read w WHERE w.coop_id = u.coop_id AND w.ranch_id = u.ranch_id AND w.upload_id = u.id AND NOT w.rest)
        AND NOT EXISTS (SELECT 1 FROM tussock.readback b WHERE b.coop_id = u.coop_id AND b.ranch_id = u.ranch_id AND b.upload_id = u.id), -- that it is read again tells of an answer
        u.state = 'current' AND u.rank > 0
    FROM tussock.viewer() v
    JOIN tussock.upload u ON u.coop_id = v.coop_id
    WHERE v.role = 'coordinator';
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.late_lines(date)'::regprocedure);
    now text := replace(was, 'u.state = ''current''', 'u.state = ''current'' AND u.rank > 0');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'late_lines is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.own_file(), tussock.came_in() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.came_in() TO tussock_app;
