-- How a sheet is read changes what counts of it, so each change of it is a line of the owners' log: who, of which sheet, and what they said. The
-- sheet keeps who changed it last. What one owner does to another's sheet (changing how it is read, taking it back, letting it count again)
-- is told to the one who sent it.

-- +goose Up
ALTER TABLE tussock.reading
    ADD answered text NOT NULL DEFAULT '' CHECK (length(answered) <= 300), -- what was said last, in words
    ADD answered_by uuid,
    ADD answered_at timestamptz,
    ADD CONSTRAINT reading_answered_fkey FOREIGN KEY (coop_id, answered_by) REFERENCES tussock.person (coop_id, id);
GRANT UPDATE (answered) ON tussock.reading TO tussock_app;

-- +goose StatementBegin
DO $$
BEGIN
    EXECUTE 'ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_item_check, ADD CONSTRAINT view_log_item_check CHECK (length(item) <= 240), '
        || 'DROP CONSTRAINT view_log_what_check, ADD CONSTRAINT view_log_what_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'view_log_what_check'), 'ARRAY[', 'ARRAY[''answered''::text, ');
END
$$;

CREATE FUNCTION tussock.note_answers() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF me IS NULL THEN
        RETURN NEW;
    END IF;
    NEW.answered_by := OLD.answered_by;
    NEW.answered_at := OLD.answered_at;
    IF (NEW.answers, NEW.undone, NEW.settings) IS DISTINCT FROM (OLD.answers, OLD.undone, OLD.settings) THEN
        NEW.answered_by := me;
        NEW.answered_at := now();
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
        SELECT f.coop_id, f.ranch_id, me, now(), 'answered', left(left(f.name, 80) || coalesce(': ' || nullif(NEW.answered, ''), ''), 240)
        FROM tussock.upload_file f WHERE f.coop_id = NEW.coop_id AND f.ranch_id = NEW.ranch_id AND f.upload_id = NEW.upload_id;
    ELSE
        NEW.answered := OLD.answered;
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER note_answers BEFORE UPDATE ON tussock.reading FOR EACH ROW EXECUTE FUNCTION tussock.note_answers();

-- What one owner did to another's sheet, for the one who sent it.
CREATE FUNCTION tussock.sheet_letters() RETURNS TABLE (address text, coop_name text, ranch_name text, by_name text, file text, did text)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT u.coop_id, u.ranch_id, u.sent_by AS person_id, u.id, d.did, d.person AS by_id, d.did || ' ' || u.id || ' ' || d.at AS about
        FROM tussock.upload u
        JOIN tussock.reading g ON g.coop_id = u.coop_id AND g.ranch_id = u.ranch_id AND g.upload_id = u.id
        CROSS JOIN LATERAL (VALUES ('answered', g.answered_by, g.answered_at), (CASE u.state WHEN 'undone' THEN 'undone' ELSE 'restored' END, u.state_by, u.state_at)) d (did, person, at)
        WHERE d.at > now() - interval '7 days' AND d.person <> u.sent_by AND (d.did = 'answered' OR u.state <> 'replaced') AND u.called = ''
          AND tussock.owns(u.coop_id, u.ranch_id, u.sent_by)
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT d.coop_id, d.ranch_id, d.person_id, d.about FROM due d
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id, about
    )
    SELECT e.email, c.name, r.name, coalesce(b.name, ''), f.name, d.did
    FROM told t
    JOIN due d ON d.coop_id = t.coop_id AND d.ranch_id = t.ranch_id AND d.person_id = t.person_id AND d.about = t.about
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop c ON c.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    JOIN tussock.upload_file f ON f.coop_id = d.coop_id AND f.ranch_id = d.ranch_id AND f.upload_id = d.id
    LEFT JOIN tussock.person b ON b.coop_id = d.coop_id AND b.id = d.by_id
    ORDER BY e.email, r.name, f.name;
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.ring()'::regprocedure);
    now text := replace(was, 'work text[] := ARRAY[', 'work text[] := ARRAY[''answered'', ');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'ring is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.note_answers(), tussock.sheet_letters() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.sheet_letters() TO tussock_door;
