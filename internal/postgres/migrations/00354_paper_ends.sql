-- What was written down on paper for a ranch ends when its first owner comes in, who is asked for a yes of their own: nobody inherits one.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.owner_comes() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND OLD.confirmed_at IS NOT NULL THEN
        RETURN NULL;
    END IF;
    UPDATE tussock.consent c SET over = true WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id AND c.paper AND NOT c.over;
    IF EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.person_id <> NEW.person_id
           AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN
        RETURN NULL;
    END IF;
    UPDATE tussock.assignment a SET confirmed_at = NULL, confirmed_by = NULL
    WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.person_id <> NEW.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL;
    RETURN NULL;
END
$$;

DO $$
DECLARE
    f text;
    was text;
    now text;
BEGIN
    PERFORM set_config('tussock.session', '', true);
    UPDATE tussock.consent c SET over = true WHERE c.paper AND EXISTS (SELECT 1 FROM tussock.assignment a
        WHERE a.coop_id = c.coop_id AND a.ranch_id = c.ranch_id AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL);
    FOREACH f IN ARRAY ARRAY['says_yes', 'said_yes', 'opens_with_yes'] LOOP
        was := pg_get_functiondef(('tussock.' || f || '(uuid, uuid)')::regprocedure);
        now := replace(was, 'c.ranch_id = ranch', 'c.ranch_id = ranch AND NOT (c.paper AND c.over)');
        IF now = was THEN
            RAISE EXCEPTION '% is another', f;
        END IF;
        EXECUTE now;
    END LOOP;
END
$$;
-- +goose StatementEnd
