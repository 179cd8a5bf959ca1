-- What figures are held against, version by version: a version is added, with its source, and never changed; every member reads it among the
-- changes, and it holds for the seasons that open after it. So no sentence beside figures that are out changes. The first ones that were ever
-- set hold for the seasons before, too.

-- +goose Up
CREATE TABLE tussock.targets (
    coop_id uuid NOT NULL,
    version integer NOT NULL, -- from 1; 0 is common practice, which needs no row
    set_by  uuid,
    set_at  timestamptz NOT NULL DEFAULT now(),
    cover   integer NOT NULL,
    hope    integer NOT NULL,
    first_check integer NOT NULL,
    last_check  integer NOT NULL,
    source  text NOT NULL,
    CONSTRAINT targets_pkey PRIMARY KEY (coop_id, version),
    CONSTRAINT targets_coop_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop,
    CONSTRAINT targets_cover_check CHECK (cover BETWEEN 20 AND 5000),
    CONSTRAINT targets_hope_check CHECK (hope BETWEEN 5 AND 95),
    CONSTRAINT targets_days_check CHECK (first_check BETWEEN 1 AND 60 AND last_check BETWEEN 2 AND 120 AND last_check > first_check),
    CONSTRAINT targets_source_check CHECK (source <> '' AND length(source) <= 300 AND source = btrim(source))
);
ALTER TABLE tussock.targets ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.targets FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.targets TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.targets AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));
CREATE POLICY member ON tussock.targets FOR SELECT TO tussock_app USING (true);
CREATE POLICY coordinator_add ON tussock.targets FOR INSERT TO tussock_app
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator' AND set_by = (SELECT tussock.my_person()));
GRANT SELECT ON tussock.targets TO tussock_app;
GRANT INSERT (coop_id, set_by, cover, hope, first_check, last_check, source) ON tussock.targets TO tussock_app;

INSERT INTO tussock.targets (coop_id, version, cover, hope, first_check, last_check, source)
SELECT coop_id, 1, cover_mark, hope, first_check, last_check, coalesce(nullif(btrim(marks_from), ''), 'set before sources were asked for') FROM tussock.coop
WHERE (cover_mark, hope, first_check, last_check, marks_from) <> (300, 50, 14, 28, '');
ALTER TABLE tussock.coop DROP COLUMN cover_mark, DROP COLUMN hope, DROP COLUMN first_check, DROP COLUMN last_check, DROP COLUMN marks_from;

ALTER TABLE tussock.season ADD COLUMN targets integer NOT NULL DEFAULT 0; -- the version of its opening

-- +goose StatementBegin
CREATE FUNCTION tussock.add_targets() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtextextended('targets of ' || NEW.coop_id, 0));
    NEW.version := 1 + coalesce((SELECT max(t.version) FROM tussock.targets t WHERE t.coop_id = NEW.coop_id), 0);
    RETURN NEW;
END
$$;

CREATE FUNCTION tussock.targets_added() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, was, became) VALUES (NEW.coop_id, NEW.set_by, 'targets', NEW.source,
        coalesce((SELECT concat_ws(' ', t.cover, t.hope, t.first_check, t.last_check) FROM tussock.targets t WHERE t.coop_id = NEW.coop_id AND t.version = NEW.version - 1), ''),
        concat_ws(' ', NEW.cover, NEW.hope, NEW.first_check, NEW.last_check));
    RETURN NULL;
END
$$;

CREATE FUNCTION tussock.fix_targets() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.targets := coalesce((SELECT max(t.version) FROM tussock.targets t WHERE t.coop_id = NEW.coop_id), 0);
    RETURN NEW;
END
$$;
REVOKE ALL ON FUNCTION tussock.add_targets(), tussock.targets_added(), tussock.fix_targets() FROM PUBLIC;

DO $$
DECLARE
    was text := pg_get_constraintdef((SELECT oid FROM pg_constraint WHERE conname = 'roster_change_kind_check'));
    now text := replace(was, '''season''::text', '''targets''::text, ''season''::text');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'roster_change_kind_check is another';
    END IF;
    ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check;
    EXECUTE 'ALTER TABLE tussock.roster_change ADD CONSTRAINT roster_change_kind_check ' || now;
    was := pg_get_functiondef('tussock.roster_log(timestamptz)'::regprocedure);
    now := replace(was, '''season'', ', '''targets'', ''season'', ');
    IF now = was THEN
        RAISE EXCEPTION 'roster_log is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
CREATE TRIGGER add_targets BEFORE INSERT ON tussock.targets FOR EACH ROW EXECUTE FUNCTION tussock.add_targets();
CREATE TRIGGER targets_added AFTER INSERT ON tussock.targets FOR EACH ROW EXECUTE FUNCTION tussock.targets_added();
CREATE TRIGGER fix_targets BEFORE UPDATE OF opened_at ON tussock.season FOR EACH ROW
    WHEN (OLD.opened_at IS NULL AND NEW.opened_at IS NOT NULL) EXECUTE FUNCTION tussock.fix_targets();
CREATE TRIGGER fix_targets_opened BEFORE INSERT ON tussock.season FOR EACH ROW WHEN (NEW.opened_at IS NOT NULL) EXECUTE FUNCTION tussock.fix_targets();
