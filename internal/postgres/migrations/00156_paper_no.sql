-- A no on paper is a line for every member to read. It counts for seasons that open thirty days later or more, and for none that has
-- opened: a coordinator, who writes it down, chooses nobody out of a season by it.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.log_paper() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what)
    SELECT NEW.coop_id, NEW.given_by, CASE WHEN NEW.level > 0 THEN 'paper' ELSE 'paper no' END, r.id, r.name FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
    RETURN NULL;
END
$$;
DROP TRIGGER log_paper ON tussock.consent;
CREATE TRIGGER log_paper AFTER INSERT ON tussock.consent FOR EACH ROW WHEN (NEW.paper) EXECUTE FUNCTION tussock.log_paper();

-- In seasons that have opened a ranch's yes or no is what its owner said last themselves.
CREATE OR REPLACE FUNCTION tussock.said_yes(coop uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN coalesce((SELECT c.level > 0 FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch AND NOT c.closing AND NOT (c.paper AND c.level = 0)
        ORDER BY c.seq DESC LIMIT 1), false);
END
$$;

-- A ranch's yes for a season that opens now.
CREATE FUNCTION tussock.opens_with_yes(coop uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN coalesce((SELECT c.level > 0 FROM tussock.consent c
        WHERE c.coop_id = coop AND c.ranch_id = ranch AND NOT (c.paper AND c.level = 0 AND c.given_at > now() - interval '30 days')
        ORDER BY c.seq DESC LIMIT 1), false);
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.open_season(uuid, integer)'::regprocedure);
    now text := replace(was, 'tussock.says_yes(coop, r.id)', 'tussock.opens_with_yes(coop, r.id)');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'open_season is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
