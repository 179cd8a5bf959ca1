-- A yes holds until a no. That it ended every spring kept nobody out: whoever would prepare names that say yes can say it again, and
-- a ranch that nobody of its own answers for any more is private already. What had ended by then stays a no.

-- +goose Up
-- +goose StatementBegin
INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by)
SELECT c.coop_id, c.ranch_id, 0, c.given_by
FROM (SELECT DISTINCT ON (c.coop_id, c.ranch_id) * FROM tussock.consent c ORDER BY c.coop_id, c.ranch_id, c.seq DESC) c
WHERE c.level > 0 AND c.through < (now() AT TIME ZONE 'UTC')::date;

DROP FUNCTION tussock.consent_letters(timestamptz);
DELETE FROM tussock.owner_letter WHERE about LIKE 'yes %';

CREATE OR REPLACE FUNCTION tussock.date_consent() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.seq := 1 + coalesce((SELECT max(c.seq) FROM tussock.consent c WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id), 0);
    NEW.given_at := clock_timestamp();
    RETURN NEW;
END
$$;

CREATE OR REPLACE FUNCTION tussock.says_yes(coop uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN coalesce((SELECT c.level > 0 FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch ORDER BY c.seq DESC LIMIT 1), false);
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_least() RETURNS integer LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v record := tussock.viewer();
BEGIN
    RETURN (
        SELECT CASE
            WHEN v.role = 'coordinator' THEN 5
            WHEN v.role = 'landowner' AND EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id
                AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL AND a.until IS NULL AND tussock.says_yes(a.coop_id, a.ranch_id)) THEN 5
            WHEN v.role IN ('landowner', 'biologist', 'planner') THEN 10 END);
END
$$;

CREATE OR REPLACE FUNCTION tussock.my_shared_ranches() RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
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
          AND tussock.says_yes(s.coop_id, s.ranch_id));
END
$$;

ALTER TABLE tussock.consent DROP COLUMN through;
DROP FUNCTION tussock.good_through(date);
-- +goose StatementEnd
