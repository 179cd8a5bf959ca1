-- The key to remains of a cooperative: how strongly each sign points to each animal. A version is added and never changed; it counts for the
-- seasons that open after it, so no figure that is out changes. Whoever sets one says where its strengths come from, and every member reads it.

-- +goose Up
CREATE TABLE tussock.remains_key (
    coop_id uuid NOT NULL,
    version integer NOT NULL, -- from 1; 0 is common practice, which needs no row
    set_by  uuid,
    set_at  timestamptz NOT NULL DEFAULT now(),
    source  text NOT NULL,
    counted boolean NOT NULL, -- the lines are numbers of camera nests; else how many times likelier
    lines   jsonb NOT NULL,   -- [[sign, answer, animal, number], …]; none is common practice again
    CONSTRAINT remains_key_pkey PRIMARY KEY (coop_id, version),
    CONSTRAINT remains_key_coop_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop,
    CONSTRAINT remains_key_source_check CHECK ((source = '') = (lines = '[]') AND length(source) <= 300 AND source !~ '[[:cntrl:]]' AND source = btrim(source)),
    CONSTRAINT remains_key_lines_check CHECK (jsonb_typeof(lines) = 'array' AND length(lines::text) <= 100000)
);
ALTER TABLE tussock.remains_key ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.remains_key FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.remains_key TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.remains_key AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));
CREATE POLICY member ON tussock.remains_key FOR SELECT TO tussock_app USING (true);
CREATE POLICY coordinator_add ON tussock.remains_key FOR INSERT TO tussock_app
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator' AND set_by = (SELECT tussock.my_person()));
GRANT SELECT ON tussock.remains_key TO tussock_app;
GRANT INSERT (coop_id, set_by, source, counted, lines) ON tussock.remains_key TO tussock_app;

ALTER TABLE tussock.season ADD COLUMN remains_key integer NOT NULL DEFAULT 0; -- the version with which it is read, from its opening on

-- Who works findings out and who makes bulletins read the table of a season.
CREATE POLICY clerk ON tussock.remains_key FOR SELECT TO tussock_clerk USING (true);
CREATE POLICY press ON tussock.remains_key FOR SELECT TO tussock_press USING (true);
GRANT SELECT (coop_id, version, source, counted, lines) ON tussock.remains_key TO tussock_clerk, tussock_press;
CREATE POLICY clerk ON tussock.season FOR SELECT TO tussock_clerk USING (true);
CREATE POLICY press ON tussock.season FOR SELECT TO tussock_press USING (true);
GRANT SELECT (coop_id, year, opened_at, remains_key) ON tussock.season TO tussock_clerk, tussock_press;

ALTER TABLE pub.bulletin -- with which key it was made
    ADD COLUMN key_version integer NOT NULL DEFAULT 0,
    ADD COLUMN key_source text NOT NULL DEFAULT '',
    ADD COLUMN key_counted boolean NOT NULL DEFAULT false;

-- +goose StatementBegin
CREATE FUNCTION tussock.add_key() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtextextended('key of ' || NEW.coop_id, 0));
    NEW.version := 1 + coalesce((SELECT max(k.version) FROM tussock.remains_key k WHERE k.coop_id = NEW.coop_id), 0);
    RETURN NEW;
END
$$;

-- Every member reads it among the changes, and what was worked out with the key before is worked out again: whoever does so waits for this to
-- be over, or this for them.
CREATE FUNCTION tussock.key_added() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE ranch uuid;
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, was, became) VALUES (NEW.coop_id, NEW.set_by, 'key', NEW.version::text,
        coalesce((SELECT k.source FROM tussock.remains_key k WHERE k.coop_id = NEW.coop_id AND k.version = NEW.version - 1), ''), NEW.source);
    FOR ranch IN SELECT r.id FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id ORDER BY r.id LOOP
        PERFORM pg_advisory_xact_lock(hashtextextended('findings of ' || ranch, 0));
    END LOOP;
    DELETE FROM tussock.finding f WHERE f.coop_id = NEW.coop_id;
    RETURN NULL;
END
$$;

CREATE FUNCTION tussock.fix_key() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.remains_key := coalesce((SELECT max(k.version) FROM tussock.remains_key k WHERE k.coop_id = NEW.coop_id), 0);
    RETURN NEW;
END
$$;
REVOKE ALL ON FUNCTION tussock.add_key(), tussock.key_added(), tussock.fix_key() FROM PUBLIC;

DO $$
DECLARE
    now text := pg_get_constraintdef((SELECT oid FROM pg_constraint WHERE conname = 'roster_change_kind_check'));
BEGIN
    now := replace(now, '''season''::text', '''season''::text, ''key''::text');
    IF strpos(now, '''key''') = 0 THEN
        RAISE EXCEPTION 'roster_change_kind_check is another';
    END IF;
    ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check;
    EXECUTE 'ALTER TABLE tussock.roster_change ADD CONSTRAINT roster_change_kind_check ' || now;
    now := replace(pg_get_functiondef('tussock.roster_log(timestamptz)'::regprocedure), '''season'', ''take back''', '''season'', ''key'', ''take back''');
    IF strpos(now, '''key''') = 0 THEN
        RAISE EXCEPTION 'roster_log is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
CREATE TRIGGER add_key BEFORE INSERT ON tussock.remains_key FOR EACH ROW EXECUTE FUNCTION tussock.add_key();
CREATE TRIGGER key_added AFTER INSERT ON tussock.remains_key FOR EACH ROW EXECUTE FUNCTION tussock.key_added();
CREATE TRIGGER fix_key BEFORE UPDATE OF opened_at ON tussock.season FOR EACH ROW
    WHEN (OLD.opened_at IS NULL AND NEW.opened_at IS NOT NULL) EXECUTE FUNCTION tussock.fix_key();
CREATE TRIGGER fix_key_opened BEFORE INSERT ON tussock.season FOR EACH ROW WHEN (NEW.opened_at IS NOT NULL) EXECUTE FUNCTION tussock.fix_key();
