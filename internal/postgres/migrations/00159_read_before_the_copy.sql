-- What was sent before a cut-off is in its copy, also where the clerk had yet to read it then: the sheets that wait are written down
-- with the copy, and each is put into it as soon as it is read, and nothing else. Composing waits for them, a day at most. What the
-- sender changes about such a sheet after the cut-off comes too late, as everything does.

-- +goose Up
CREATE TABLE tussock.unread (
    coop_id   uuid NOT NULL,
    season    integer NOT NULL,
    edition   smallint NOT NULL,
    ranch_id  uuid NOT NULL,
    upload_id uuid NOT NULL,
    CONSTRAINT unread_pkey PRIMARY KEY (coop_id, season, edition, ranch_id, upload_id),
    CONSTRAINT unread_edition_fkey FOREIGN KEY (coop_id, season, edition) REFERENCES tussock.edition,
    CONSTRAINT unread_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE
);
CREATE INDEX unread_upload ON tussock.unread (coop_id, ranch_id, upload_id);
ALTER TABLE tussock.unread ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.unread FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.unread TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.unread AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));

-- +goose StatementBegin
-- Rows of a copy with those of one sheet in the place of what it had of it before.
CREATE FUNCTION tussock.put_in(coop uuid, ranch uuid, sheet uuid, had jsonb, has jsonb) RETURNS jsonb LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(jsonb_agg(e.x ORDER BY u.seq DESC, (e.x->>'row')::integer), '[]')
        FROM (SELECT x FROM jsonb_array_elements(had) x WHERE x->>'upload_id' <> sheet::text UNION ALL SELECT x FROM jsonb_array_elements(has) x) e
        JOIN tussock.upload u ON u.coop_id = coop AND u.ranch_id = ranch AND u.id = (e.x->>'upload_id')::uuid);
END
$$;

-- Writes down that a sheet, as it was read last, has questions open.
CREATE FUNCTION tussock.note_open(coop uuid, which integer, nth smallint, ranch uuid, sheet uuid) RETURNS void LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.snapshot s SET open = true
    FROM tussock.upload u
    WHERE s.coop_id = coop AND s.season = which AND s.edition = nth AND s.ranch_id = ranch AND NOT s.open
      AND u.coop_id = coop AND u.ranch_id = ranch AND u.id = sheet AND (u.season = which OR which = ANY (u.seasons)) AND u.open_count > 0;
END
$$;

-- At the end of the transaction that reads a sheet, when its rows are there.
CREATE FUNCTION tussock.catch_up() RETURNS trigger LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE w record;
BEGIN
    IF OLD.rest OR TG_OP = 'UPDATE' AND NOT NEW.rest THEN
        RETURN NULL;
    END IF;
    FOR w IN SELECT e.season, e.edition, e.counted FROM tussock.edition e
        JOIN tussock.unread x ON x.coop_id = e.coop_id AND x.season = e.season AND x.edition = e.edition
        WHERE x.coop_id = OLD.coop_id AND x.ranch_id = OLD.ranch_id AND x.upload_id = OLD.upload_id
        ORDER BY e.season, e.edition FOR UPDATE OF e
    LOOP
        DELETE FROM tussock.unread x WHERE x.coop_id = OLD.coop_id AND x.season = w.season AND x.edition = w.edition AND x.ranch_id = OLD.ranch_id AND x.upload_id = OLD.upload_id;
        CONTINUE WHEN w.counted IS NOT NULL;
        UPDATE tussock.snapshot s SET
            nests = tussock.put_in(s.coop_id, s.ranch_id, OLD.upload_id, s.nests, (
                SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,steps,bearing,spot,notes,from_sheet,from_row}'::text[]), '[]')
                FROM tussock.nest x WHERE x.coop_id = s.coop_id AND x.ranch_id = s.ranch_id AND x.upload_id = OLD.upload_id AND x.season = w.season)),
            belts = tussock.put_in(s.coop_id, s.ranch_id, OLD.upload_id, s.belts, (
                SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[]), '[]')
                FROM tussock.belt x WHERE x.coop_id = s.coop_id AND x.ranch_id = s.ranch_id AND x.upload_id = OLD.upload_id AND x.season = w.season)),
            sites = tussock.put_in(s.coop_id, s.ranch_id, OLD.upload_id, s.sites, (
                SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[]), '[]')
                FROM tussock.site x WHERE x.coop_id = s.coop_id AND x.ranch_id = s.ranch_id AND x.upload_id = OLD.upload_id))
        WHERE s.coop_id = OLD.coop_id AND s.season = w.season AND s.edition = w.edition AND s.ranch_id = OLD.ranch_id;
        PERFORM tussock.note_open(OLD.coop_id, w.season, w.edition, OLD.ranch_id, OLD.upload_id);
        UPDATE tussock.edition e SET sheets = (SELECT count(*) FROM tussock.snapshot x WHERE x.coop_id = e.coop_id AND x.season = e.season AND x.edition = e.edition AND x.nests <> '[]')
        WHERE e.coop_id = OLD.coop_id AND e.season = w.season AND e.edition = w.edition;
    END LOOP;
    RETURN NULL;
END
$$;
CREATE CONSTRAINT TRIGGER catch_up AFTER DELETE OR UPDATE OF rest ON tussock.to_read DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION tussock.catch_up();

CREATE FUNCTION tussock.asked_too_late() RETURNS trigger LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM tussock.note_open(x.coop_id, x.season, x.edition, x.ranch_id, x.upload_id) FROM tussock.unread x
    WHERE x.coop_id = NEW.coop_id AND x.ranch_id = NEW.ranch_id AND x.upload_id = NEW.upload_id;
    DELETE FROM tussock.unread x WHERE x.coop_id = NEW.coop_id AND x.ranch_id = NEW.ranch_id AND x.upload_id = NEW.upload_id;
    RETURN NULL;
END
$$;
CREATE TRIGGER asked_too_late AFTER UPDATE OF asked ON tussock.to_read FOR EACH ROW WHEN (NEW.asked > OLD.asked) EXECUTE FUNCTION tussock.asked_too_late();

-- A sheet that waited to be filed, or stands in one that waited, waits as that did.
CREATE FUNCTION tussock.filed_late() RETURNS trigger LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.unread (coop_id, season, edition, ranch_id, upload_id)
    SELECT e.coop_id, e.season, e.edition, NEW.ranch_id, NEW.id
    FROM tussock.edition e
    WHERE e.coop_id = NEW.coop_id AND e.counted IS NULL AND NEW.sent_at < e.cut_at AND (
        EXISTS (SELECT 1 FROM tussock.unfiled f WHERE f.coop_id = NEW.coop_id AND f.person_id = NEW.sent_by AND f.sending_id = NEW.sending_id AND f.sent_at = NEW.sent_at AND f.unclear = '')
        OR EXISTS (SELECT 1 FROM tussock.unread x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
            WHERE x.coop_id = e.coop_id AND x.season = e.season AND x.edition = e.edition AND u.sent_by = NEW.sent_by AND u.sent_at = NEW.sent_at AND u.sending_id = NEW.sending_id))
    ON CONFLICT DO NOTHING;
    RETURN NULL;
END
$$;
CREATE TRIGGER filed_late AFTER INSERT ON tussock.upload FOR EACH ROW WHEN (NEW.sending_id IS NOT NULL) EXECUTE FUNCTION tussock.filed_late();

-- What is due is copied before a sheet is asked for once more, and before it is read.
CREATE TRIGGER freeze_first BEFORE INSERT OR DELETE OR UPDATE OF asked, rest ON tussock.to_read FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.cut_off(uuid, integer, smallint)'::regprocedure);
    now text := replace(was, '    INSERT INTO tussock.snapshot', '    INSERT INTO tussock.unread (coop_id, season, edition, ranch_id, upload_id) -- one that is being kept this moment is waited for
    SELECT w.coop_id, which, nth, w.ranch_id, w.upload_id
    FROM tussock.to_read w JOIN tussock.season_ranch s ON s.coop_id = w.coop_id AND s.season = which AND s.ranch_id = w.ranch_id
    WHERE w.coop_id = coop AND NOT w.rest FOR SHARE OF w;
    INSERT INTO tussock.snapshot');
BEGIN
    now := replace(now, 'AND u.open_count > 0)', 'AND u.open_count > 0 -- of one that waits it is known when it is read
            AND NOT EXISTS (SELECT 1 FROM tussock.unread w WHERE w.coop_id = coop AND w.season = which AND w.edition = nth AND w.upload_id = u.id))');
    IF strpos(now, 'FOR SHARE OF w') = 0 OR strpos(now, 'w.upload_id = u.id') = 0 THEN
        RAISE EXCEPTION 'cut_off is another';
    END IF;
    EXECUTE now;

    was := pg_get_functiondef('tussock.print_due(text)'::regprocedure);
    now := replace(was, '(e.note = '''' OR e.version <> program)', '(e.note = '''' OR e.version <> program)
      AND (e.cut_at <= now() - interval ''1 day'' OR NOT EXISTS (SELECT 1 FROM tussock.unread w WHERE w.coop_id = e.coop_id AND w.season = e.season AND w.edition = e.edition))');
    now := replace(now, '            DELETE FROM tussock.snapshot x', '            PERFORM tussock.note_open(x.coop_id, x.season, x.edition, x.ranch_id, x.upload_id) FROM tussock.unread x
            WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition;
            DELETE FROM tussock.unread x WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition;
            DELETE FROM tussock.snapshot x');
    IF strpos(now, 'interval ''1 day''') = 0 OR strpos(now, 'DELETE FROM tussock.unread') = 0 THEN
        RAISE EXCEPTION 'print_due is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
