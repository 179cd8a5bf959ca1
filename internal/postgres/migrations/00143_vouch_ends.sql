-- A coordinator's word for an owner goes on counting for thirty days after it was taken back: it drops nobody out of a season that is about
-- to open. A landowner's ends at once, for whoever finds out that an owner is made up.

-- +goose Up
ALTER TABLE tussock.vouch ADD ended_at timestamptz;
REVOKE DELETE ON tussock.vouch FROM tussock_app;
DROP POLICY take_back ON tussock.vouch;
GRANT UPDATE (ended_at) ON tussock.vouch TO tussock_app;
CREATE POLICY take_back ON tussock.vouch FOR UPDATE TO tussock_app USING (person_id = (SELECT tussock.my_person())) WITH CHECK (person_id = (SELECT tussock.my_person()));
DROP TRIGGER freeze_first ON tussock.vouch;
CREATE TRIGGER freeze_first BEFORE INSERT OR UPDATE OR DELETE ON tussock.vouch FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();

-- +goose StatementBegin
-- The day is the database's, and a word once given again may only be given by giving it.
CREATE FUNCTION tussock.date_vouch() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.ended_at := CASE WHEN NEW.ended_at IS NOT NULL THEN coalesce(OLD.ended_at, now()) WHEN NOT tussock.may_vouch() THEN OLD.ended_at END;
    RETURN NEW;
END
$$;
CREATE TRIGGER date_vouch BEFORE UPDATE OF ended_at ON tussock.vouch FOR EACH ROW EXECUTE FUNCTION tussock.date_vouch();

CREATE OR REPLACE FUNCTION tussock.log_vouch() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND (OLD.ended_at IS NULL) = (NEW.ended_at IS NULL) THEN
        RETURN NULL;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what)
    SELECT NEW.coop_id, NEW.person_id, CASE WHEN NEW.ended_at IS NULL THEN 'vouched' ELSE 'vouch ended' END, r.id, coalesce(p.name, r.name)
    FROM tussock.ranch r
    LEFT JOIN tussock.assignment a ON a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.person_id = NEW.owner_id AND a.kind = 'owner'
    LEFT JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    WHERE r.coop_id = NEW.coop_id AND r.erased_at IS NULL AND (p.id IS NOT NULL OR r.id = NEW.owner_id) ORDER BY r.id LIMIT 1;
    RETURN NULL;
END
$$;
DROP TRIGGER log_vouch ON tussock.vouch;
CREATE TRIGGER log_vouch AFTER INSERT OR UPDATE OF ended_at ON tussock.vouch FOR EACH ROW EXECUTE FUNCTION tussock.log_vouch();

CREATE OR REPLACE FUNCTION tussock.vouched(coop uuid, entity uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    owners uuid[] := tussock.owners_of(coop, entity);
    own text[] := tussock.owners_traces(coop, ARRAY(SELECT r.id FROM tussock.ranch r WHERE r.coop_id = coop AND r.entity_id = entity), now());
BEGIN
    RETURN EXISTS (
        WITH voucher AS (
            SELECT v.owner_id, p.id, p.role, p.invited_by, tussock.traces(coop, p.id) AS traces
            FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = ANY (owners) AND (v.ended_at IS NULL OR p.role = 'coordinator' AND v.ended_at > now() - interval '30 days')
        )
        SELECT 1 FROM voucher a JOIN voucher b ON a.owner_id = b.owner_id AND a.id < b.id
        WHERE (a.role <> 'coordinator' OR b.role <> 'coordinator') AND a.invited_by IS DISTINCT FROM b.invited_by
          AND NOT a.traces && b.traces AND NOT a.traces && own AND NOT b.traces && own);
END
$$;

-- Why an owner does not count is told with how many vouch.
DROP FUNCTION tussock.owners_to_vouch();
CREATE FUNCTION tussock.owners_to_vouch() RETURNS TABLE (id uuid, name text, ranches text, words integer, mine boolean, settled boolean, why text) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    IF NOT coalesce(tussock.may_vouch(), false) THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT x.*, CASE WHEN x.settled OR x.words < 2 THEN ''
        WHEN NOT EXISTS (SELECT 1 FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = x.id AND v.ended_at IS NULL AND p.role <> 'coordinator') THEN 'coordinators'
        WHEN (SELECT count(DISTINCT coalesce(p.invited_by, p.id)) FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = x.id AND v.ended_at IS NULL) < 2 THEN 'inviter'
        ELSE 'shared' END
    FROM (
        SELECT o.owner_id AS id, coalesce(p.name, min(e.name)) AS name, string_agg(r.name, ', ' ORDER BY r.name) AS ranches,
            (SELECT count(*)::integer FROM tussock.vouch v WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND v.ended_at IS NULL) AS words,
            EXISTS (SELECT 1 FROM tussock.vouch v WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND v.person_id = me AND v.ended_at IS NULL) AS mine,
            bool_and(e.settled) AS settled
        FROM tussock.others() o
        JOIN tussock.ranch r ON r.coop_id = coop AND r.id = o.ranch_id
        JOIN (SELECT x.id, x.name, tussock.vouched(coop, x.id) AS settled FROM tussock.entity x WHERE x.coop_id = coop) e ON e.id = o.entity_id
        LEFT JOIN tussock.person p ON p.coop_id = coop AND p.id = o.owner_id
        GROUP BY o.owner_id, p.name) x
    ORDER BY 2, 3;
END
$$;
-- +goose StatementEnd
GRANT EXECUTE ON FUNCTION tussock.owners_to_vouch() TO tussock_app;
