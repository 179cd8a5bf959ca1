-- Every look leaves a line: the lines and looks that somebody, or a field link, takes onto a phone, and a line's sheet
-- that is opened to be keyed; and who takes a sheet back or lets it count again. And an owner sees who has a calendar
-- that says the ranch's name.

-- +goose Up
-- +goose StatementBegin
ALTER TABLE tussock.view_log ALTER COLUMN person_id DROP NOT NULL; -- of a field link there is no person: item is whom it is for
ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check;
ALTER TABLE tussock.view_log ADD CONSTRAINT view_log_what_check
    CHECK (what IN ('page', 'sent', 'named', 'file', 'sheet', 'program', 'bulletin', 'phone', 'keyed', 'undone', 'restored'));
ALTER TABLE tussock.view_log ADD CONSTRAINT view_log_person_check CHECK (person_id IS NOT NULL OR what = 'phone' AND item <> '');

-- One line a day is enough for a link: its phones ask as often as they like.
CREATE FUNCTION tussock.field_looked() RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
    SELECT v.coop_id, v.ranch_id, NULL, now(), 'phone', v.name
    FROM tussock.field_viewer() v
    WHERE v.reading AND NOT EXISTS (SELECT 1 FROM tussock.view_log l WHERE l.coop_id = v.coop_id AND l.ranch_id = v.ranch_id
        AND l.person_id IS NULL AND l.what = 'phone' AND l.item = v.name
        AND l.looked_at >= date_trunc('day', now() AT TIME ZONE 'UTC') AT TIME ZONE 'UTC');
END
$$;

CREATE FUNCTION tussock.named_calendars(ranch uuid) RETURNS TABLE (name text, role text, made_at timestamptz, used_at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT p.name, p.role, c.made_at, c.used_at
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL
    JOIN tussock.calendar c ON c.coop_id = p.coop_id AND c.person_id = p.id AND c.named AND c.revoked_at IS NULL
    WHERE ranch = ANY ((SELECT tussock.my_own_ranches())::uuid[])
    ORDER BY p.name, c.made_at;
END
$$;

CREATE OR REPLACE FUNCTION tussock.ring() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    limits record;
    taken record;
    work text[] := ARRAY['page', 'sent', 'phone', 'keyed', 'undone', 'restored'];
BEGIN
    -- What is of no ranch is published: posters, the bulletins' files. A ranch's own people open its pages as often as they like.
    IF NEW.ranch_id IS NULL OR NEW.what = ANY (work) THEN
        RETURN NULL;
    END IF;
    FOR limits IN SELECT * FROM (VALUES ('hour', interval '1 hour', 30), ('day', interval '1 day', 100)) v (span, long, most) LOOP
        -- A page that shows several ranches is one look: its rows have one time.
        SELECT count(DISTINCT l.looked_at) AS n, array_agg(DISTINCT l.ranch_id) AS ranches
        INTO taken FROM tussock.view_log l
        WHERE l.coop_id = NEW.coop_id AND l.person_id = NEW.person_id AND l.looked_at > NEW.looked_at - limits.long AND l.looked_at <= NEW.looked_at
          AND l.ranch_id IS NOT NULL AND l.what <> ALL (work);
        CONTINUE WHEN taken.n <= limits.most;
        UPDATE tussock.alarm a SET ranches = ARRAY(SELECT DISTINCT r FROM unnest(a.ranches || taken.ranches) r)
        WHERE a.coop_id = NEW.coop_id AND a.person_id = NEW.person_id AND a.span = limits.span AND a.rung_at > NEW.looked_at - limits.long;
        IF NOT FOUND THEN
            INSERT INTO tussock.alarm (coop_id, person_id, span, rung_at, ranches) VALUES (NEW.coop_id, NEW.person_id, limits.span, NEW.looked_at, taken.ranches);
        END IF;
    END LOOP;
    RETURN NULL;
END
$$;
-- +goose StatementEnd
GRANT EXECUTE ON FUNCTION tussock.field_looked(), tussock.named_calendars(uuid) TO tussock_app;
