-- Nobody has looked tomorrow. A day's slack is for places whose day begins before that of UTC.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.look_in_time() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    days date[] := array_remove(ARRAY[nullif(NEW.answers->>'set_on', '')::date, nullif(NEW.answers->>'looked_on', '')::date, nullif(NEW.answers->>'belt_on', '')::date], NULL);
    last date := (SELECT max(d) FROM unnest(days) d);
    link tussock.field_link;
BEGIN
    SELECT * INTO link FROM tussock.field_link l WHERE l.coop_id = NEW.coop_id AND l.ranch_id = NEW.ranch_id AND l.id = NEW.link_id;
    IF (SELECT min(d) FROM unnest(days) d) < link.from_on THEN
        RAISE EXCEPTION 'before the link''s first day' USING ERRCODE = '23514', CONSTRAINT = 'look_before_link_check';
    END IF;
    IF last > link.through THEN
        RAISE EXCEPTION 'after the link''s last day' USING ERRCODE = '23514', CONSTRAINT = 'look_after_link_check';
    END IF;
    IF last > (now() AT TIME ZONE 'UTC')::date + 1 THEN
        RAISE EXCEPTION 'of a day to come' USING ERRCODE = '23514', CONSTRAINT = 'look_to_come_check';
    END IF;
    RETURN NEW;
END
$$;
-- +goose StatementEnd
DROP TRIGGER look_in_time ON tussock.look;
CREATE TRIGGER look_in_time BEFORE INSERT ON tussock.look FOR EACH ROW EXECUTE FUNCTION tussock.look_in_time();
