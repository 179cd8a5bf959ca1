-- What a ranch's rows come to is worked out when they change, in the same transaction, and kept: a page loads it. Whoever may
-- open the rows may open it, and nobody else; it is never changed, and goes with any change of what it was made of.

-- +goose Up
CREATE TABLE tussock.finding (
    coop_id  uuid NOT NULL,
    ranch_id uuid NOT NULL,
    method   integer NOT NULL, -- findings.Method: under a later one it is worked out once more
    body     bytea NOT NULL,   -- of all seasons: findings.Result.Pack
    CONSTRAINT finding_pkey PRIMARY KEY (coop_id, ranch_id, method),
    CONSTRAINT finding_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch
);
ALTER TABLE tussock.finding ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.finding FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.finding TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.finding AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));
CREATE POLICY own ON tussock.finding TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
GRANT SELECT, INSERT ON tussock.finding TO tussock_app;
CREATE POLICY clerk ON tussock.finding TO tussock_clerk USING (true) WITH CHECK (true);
GRANT SELECT, INSERT ON tussock.finding TO tussock_clerk;
GRANT SELECT (seq) ON tussock.upload TO tussock_clerk; -- of two uploads with the same nest the later one counts

-- Whoever works findings out and whatever makes them out of date wait for each other: else what was worked out of the rows
-- before could be kept beside the rows after. The argument is the column that names the ranch.
-- +goose StatementBegin
CREATE FUNCTION tussock.forget_findings() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    changed jsonb := to_jsonb(CASE WHEN TG_OP = 'INSERT' THEN NEW ELSE OLD END);
    ranch uuid := changed ->> TG_ARGV[0];
BEGIN
    PERFORM pg_advisory_xact_lock(hashtextextended('findings of ' || ranch, 0));
    DELETE FROM tussock.finding f WHERE f.coop_id = (changed ->> 'coop_id')::uuid AND f.ranch_id = ranch;
    RETURN NULL;
END
$$;
REVOKE ALL ON FUNCTION tussock.forget_findings() FROM PUBLIC;
-- +goose StatementEnd
CREATE TRIGGER forget_findings AFTER DELETE OR UPDATE OF state, seasons ON tussock.upload
    FOR EACH ROW EXECUTE FUNCTION tussock.forget_findings('ranch_id');
CREATE TRIGGER forget_findings_sent AFTER INSERT ON tussock.upload
    FOR EACH ROW WHEN (cardinality(NEW.seasons) > 0) EXECUTE FUNCTION tussock.forget_findings('ranch_id');
CREATE TRIGGER forget_findings AFTER UPDATE OF name ON tussock.ranch
    FOR EACH ROW WHEN (OLD.name <> NEW.name) EXECUTE FUNCTION tussock.forget_findings('id');
