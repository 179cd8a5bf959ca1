-- The latest of anything is told by its place in a row that is counted up, and never by a clock: a database's clock can step back,
-- and then what was said last would stand before what it changed. A ranch's own rows are counted, so that no number tells how much
-- others do, and a cooperative that moves to another database takes its order along.

-- +goose Up
-- +goose StatementBegin
ALTER TABLE tussock.consent ADD COLUMN seq integer;
UPDATE tussock.consent c SET seq = x.n
FROM (SELECT coop_id, ranch_id, given_at, row_number() OVER (PARTITION BY coop_id, ranch_id ORDER BY given_at) AS n FROM tussock.consent) x
WHERE x.coop_id = c.coop_id AND x.ranch_id = c.ranch_id AND x.given_at = c.given_at;
ALTER TABLE tussock.consent ALTER COLUMN seq SET NOT NULL;
ALTER TABLE tussock.consent DROP CONSTRAINT consent_pkey;
ALTER TABLE tussock.consent ADD CONSTRAINT consent_pkey PRIMARY KEY (coop_id, ranch_id, seq);

ALTER TABLE tussock.upload ADD COLUMN seq integer;
UPDATE tussock.upload u SET seq = x.n
FROM (SELECT coop_id, ranch_id, id, row_number() OVER (PARTITION BY coop_id, ranch_id ORDER BY sent_at, id DESC) AS n FROM tussock.upload) x
WHERE x.coop_id = u.coop_id AND x.ranch_id = u.ranch_id AND x.id = u.id;
ALTER TABLE tussock.upload ALTER COLUMN seq SET NOT NULL;
ALTER TABLE tussock.upload ADD CONSTRAINT upload_seq_key UNIQUE (coop_id, ranch_id, seq);
GRANT SELECT (seq) ON tussock.upload TO tussock_press;

CREATE OR REPLACE FUNCTION tussock.date_consent()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.seq := 1 + coalesce((SELECT max(c.seq) FROM tussock.consent c WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id), 0);
    NEW.given_at := clock_timestamp();
    NEW.through := CASE WHEN NEW.level > 0 THEN tussock.good_through((NEW.given_at AT TIME ZONE 'UTC')::date) END;
    RETURN NEW;
END
$$;

CREATE FUNCTION tussock.count_upload() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.seq := 1 + coalesce((SELECT max(u.seq) FROM tussock.upload u WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id), 0);
    RETURN NEW;
END
$$;
CREATE TRIGGER count_upload BEFORE INSERT ON tussock.upload FOR EACH ROW EXECUTE FUNCTION tussock.count_upload();

CREATE OR REPLACE FUNCTION tussock.close_ranch()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $$
BEGIN
    IF NEW.kind = 'owner' AND NEW.confirmed_at IS NOT NULL AND OLD.until IS NULL AND NEW.until IS NOT NULL
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id
                       AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL)
       AND coalesce((SELECT c.level FROM tussock.consent c WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id
                     ORDER BY c.seq DESC LIMIT 1), 0) > 0 THEN
        INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES (NEW.coop_id, NEW.ranch_id, 0, NEW.person_id);
    END IF;
    RETURN NULL;
END
$$;

CREATE OR REPLACE FUNCTION tussock.forget(coop uuid, ranch uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $$
DECLARE t record;
BEGIN
    FOR t IN
        SELECT left(encode(sha256(convert_to(k.salt || E'\n' || x.kind || E'\n' || x.name, 'UTF8')), 'hex'), 20) AS token,
               left(md5(gen_random_uuid()::text), 20) AS blank
        FROM tussock.ranch r
        JOIN tussock.gate_key k ON k.coop_id = r.coop_id
        JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
        CROSS JOIN LATERAL (VALUES ('ranch', r.id::text), ('entity', lower(btrim(regexp_replace(e.name, '\s+', ' ', 'g'))))) x (kind, name)
        WHERE r.coop_id = coop AND r.id = ranch
          AND (x.kind = 'ranch' OR NOT EXISTS (SELECT 1 FROM tussock.ranch o WHERE o.coop_id = r.coop_id AND o.entity_id = r.entity_id AND o.id <> r.id
               AND (SELECT c.level FROM tussock.consent c WHERE c.coop_id = o.coop_id AND c.ranch_id = o.id ORDER BY c.seq DESC LIMIT 1) > 0))
    LOOP
        UPDATE tussock.gate_log l SET log = replace(l.log, t.token, t.blank) WHERE l.coop_id = coop;
    END LOOP;
END
$$;

CREATE OR REPLACE FUNCTION tussock.consent_letters(at timestamp with time zone)
 RETURNS TABLE(address text, coop_name text, ranch_name text, stage text, through date)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $$
DECLARE today date := (at AT TIME ZONE 'UTC')::date;
BEGIN
    RETURN QUERY
    WITH latest AS (
        SELECT DISTINCT ON (c.coop_id, c.ranch_id) c.coop_id, c.ranch_id, c.level, c.through
        FROM tussock.consent c ORDER BY c.coop_id, c.ranch_id, c.seq DESC
    ), due AS (
        SELECT l.coop_id, l.ranch_id, o.person_id, l.through,
            CASE WHEN today > l.through THEN 'lapsed' WHEN today > l.through - 14 THEN 'last' ELSE 'ask' END AS stage
        FROM latest l
        JOIN tussock.assignment o ON o.coop_id = l.coop_id AND o.ranch_id = l.ranch_id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL
        WHERE l.level > 0 AND today >= date_trunc('month', l.through)::date - interval '2 months' AND today <= l.through + 30
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT d.coop_id, d.ranch_id, d.person_id, 'yes ' || d.stage || ' ' || d.through FROM due d
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id
    )
    SELECT e.email, c.name, r.name, d.stage, d.through
    FROM told t
    JOIN due d ON d.coop_id = t.coop_id AND d.ranch_id = t.ranch_id AND d.person_id = t.person_id
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop c ON c.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    ORDER BY e.email, r.name;
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_least()
 RETURNS integer
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $$
DECLARE
    v record := tussock.viewer();
BEGIN
    RETURN (
        SELECT CASE
            WHEN v.role = 'coordinator' THEN 5
            WHEN v.role = 'landowner' AND EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id
                AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL AND a.until IS NULL
                AND (SELECT c.level > 0 AND c.through >= (now() AT TIME ZONE 'UTC')::date FROM tussock.consent c
                     WHERE c.coop_id = a.coop_id AND c.ranch_id = a.ranch_id ORDER BY c.seq DESC LIMIT 1)) THEN 5
            WHEN v.role IN ('landowner', 'biologist', 'planner') THEN 10 END);
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_shared_ranches()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $$
DECLARE
    v record := tussock.viewer();
BEGIN
    IF v.role IS DISTINCT FROM 'biologist' OR current_setting('transaction_read_only') <> 'off' THEN
        RETURN '{}';
    END IF;
    RETURN (
        SELECT coalesce(array_agg(DISTINCT s.ranch_id), '{}')
        FROM tussock.sharing s
        JOIN tussock.assignment a ON a.coop_id = s.coop_id AND a.ranch_id = s.ranch_id AND a.person_id = s.given_by
        WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id
          AND s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
          AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
          AND (SELECT CASE WHEN c.through >= (now() AT TIME ZONE 'UTC')::date THEN c.level ELSE 0 END
               FROM tussock.consent c WHERE c.coop_id = s.coop_id AND c.ranch_id = s.ranch_id ORDER BY c.seq DESC LIMIT 1) >= 1);
END
$$;
-- +goose StatementEnd
