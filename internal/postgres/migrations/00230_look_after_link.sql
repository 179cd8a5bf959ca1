-- A look dated after a link's last day is not taken either: nobody worked by the link then.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.look_in_time() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    days date[] := array_remove(ARRAY[nullif(NEW.answers->>'set_on', '')::date, nullif(NEW.answers->>'looked_on', '')::date, nullif(NEW.answers->>'belt_on', '')::date], NULL);
    link tussock.field_link;
BEGIN
    SELECT * INTO link FROM tussock.field_link l WHERE l.coop_id = NEW.coop_id AND l.ranch_id = NEW.ranch_id AND l.id = NEW.link_id;
    IF (SELECT min(d) FROM unnest(days) d) < link.from_on THEN
        RAISE EXCEPTION 'before the link''s first day' USING ERRCODE = '23514', CONSTRAINT = 'look_before_link_check';
    END IF;
    IF (SELECT max(d) FROM unnest(days) d) > link.through THEN
        RAISE EXCEPTION 'after the link''s last day' USING ERRCODE = '23514', CONSTRAINT = 'look_after_link_check';
    END IF;
    RETURN NEW;
END
$$;
-- +goose StatementEnd
