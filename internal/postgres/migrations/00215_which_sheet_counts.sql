-- Of two sheets with the same nest the later one counts, but no sheet takes the place of one that stands above it: an owner's own, or
-- one that an owner accepted; then what a coordinator sent for the owner, who accepted it; then a hand's; then what a coordinator sent
-- and nobody accepted, which goes into no copy for a bulletin either. What somebody else sends is a line in the owners' log.

-- +goose Up
ALTER TABLE tussock.upload ADD COLUMN rank smallint NOT NULL DEFAULT 0; -- 3 an owner's, 2 sent for an owner and accepted, 1 a hand's, 0 sent for an owner
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.count_upload() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.seq := 1 + coalesce((SELECT max(u.seq) FROM tussock.upload u WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id), 0);
    NEW.rank := CASE WHEN NEW.called <> '' THEN 0
        WHEN EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.person_id = NEW.sent_by
            AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN 3 ELSE 1 END;
    RETURN NEW;
END
$$;

CREATE OR REPLACE FUNCTION tussock.note_sheet() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF me IS NULL THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'INSERT' THEN
        NEW.owners_since := NULL;
        NEW.state_by := NULL;
        NEW.state_at := NULL;
        RETURN NEW;
    END IF;
    IF NEW.ranch_id = ANY (tussock.my_own_ranches()) THEN
        NEW.owners_since := coalesce(OLD.owners_since, now());
        IF NEW.accepted_at IS NOT NULL AND NEW.accepted_at IS DISTINCT FROM OLD.accepted_at THEN
            NEW.rank := CASE WHEN NEW.called <> '' THEN 2 ELSE 3 END;
        END IF;
    END IF;
    IF NEW.state IS DISTINCT FROM OLD.state THEN
        NEW.state_by := me;
        NEW.state_at := now();
    END IF;
    RETURN NEW;
END
$$;

DO $$
DECLARE
    f text;
    was text;
    now text;
BEGIN
    PERFORM set_config('tussock.session', '', true);
    UPDATE tussock.upload u SET rank = CASE
        WHEN u.called <> '' THEN CASE WHEN u.accepted_at IS NOT NULL AND u.owners_since IS NOT NULL THEN 2 ELSE 0 END
        WHEN u.accepted_at IS NOT NULL AND u.owners_since IS NOT NULL OR EXISTS (SELECT 1 FROM tussock.assignment a
            WHERE a.coop_id = u.coop_id AND a.ranch_id = u.ranch_id AND a.person_id = u.sent_by AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL) THEN 3
        ELSE 1 END;
    was := pg_get_functiondef('tussock.cut_off(uuid, integer, smallint)'::regprocedure);
    now := replace(replace(was, 'ORDER BY u.seq DESC', 'ORDER BY u.rank DESC, u.seq DESC'), 'AND u.state = ''current'')', 'AND u.state = ''current'' AND u.rank > 0)');
    IF (length(now) - length(was)) <> 3 * length('u.rank DESC, ') + 3 * length(' AND u.rank > 0') THEN
        RAISE EXCEPTION 'cut_off is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.put_in(uuid, uuid, uuid, jsonb, jsonb)'::regprocedure);
    now := replace(replace(was, 'ORDER BY u.seq DESC', 'ORDER BY u.rank DESC, u.seq DESC'), '::uuid);', '::uuid AND u.rank > 0);');
    IF (length(now) - length(was)) <> length('u.rank DESC, ') + length(' AND u.rank > 0') THEN
        RAISE EXCEPTION 'put_in is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.send_for_owner(uuid, uuid, text, bytea, text, jsonb)'::regprocedure);
    now := replace(was, '    PERFORM pg_notify', '    INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item) VALUES (coop, which, me, now(), ''came'', left(file_name, 80));
    PERFORM pg_notify');
    IF now = was THEN
        RAISE EXCEPTION 'send_for_owner is another';
    END IF;
    EXECUTE now;
END
$$;

-- Whether a season had closed by a day: its cut-off had come, or, where it has no dates, it is of an earlier year.
CREATE FUNCTION tussock.dated_seasons(coop uuid, by_day date) RETURNS TABLE (year integer, closed boolean)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT s.year, s.cut_off_on <= by_day FROM tussock.season s WHERE s.coop_id = coop
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.dated_seasons(uuid, date) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.dated_seasons(uuid, date) TO tussock_clerk;
GRANT SELECT (rank) ON tussock.upload TO tussock_clerk;
CREATE TRIGGER forget_findings_accepted AFTER UPDATE OF accepted_at ON tussock.upload
    FOR EACH ROW WHEN (OLD.rank <> NEW.rank) EXECUTE FUNCTION tussock.forget_findings('ranch_id');
ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check,
    ADD CONSTRAINT view_log_what_check
    CHECK (what IN ('page', 'sent', 'named', 'file', 'sheet', 'program', 'bulletin', 'phone', 'keyed', 'undone', 'restored', 'came', 'accepted'));

-- An owner reads by name who sent a sheet for them.
-- +goose StatementBegin
CREATE FUNCTION tussock.my_senders() RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT coalesce(array_agg(DISTINCT u.sent_by), '{}') FROM tussock.upload u
        WHERE u.coop_id = tussock.my_coop() AND u.called <> '' AND u.ranch_id = ANY (tussock.my_own_ranches()));
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.my_senders() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.my_senders() TO tussock_app;
CREATE POLICY sent_for_me ON tussock.person FOR SELECT TO tussock_app USING (id = ANY ((SELECT tussock.my_senders())::uuid[]));
