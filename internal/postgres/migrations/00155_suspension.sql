-- A coordinator stops at once whoever has got hold of a member's sign-in, and locks no owner out by it: a suspension is read by every
-- member, ends by itself after fourteen days unless a second coordinator says yes to it, and comes once in ninety days. While it
-- lasts nothing that was asked of the member, or in their name, is carried out, and what they said stands.

-- +goose Up
ALTER TABLE tussock.person
    ADD suspended_by uuid,         -- NULL where it was done again after a restore, and stands until a coordinator lets them in
    ADD suspended_first timestamptz, -- since when the fourteen days run, and the ninety
    ADD suspension_kept_by uuid;   -- the second coordinator who said yes
REVOKE UPDATE (suspended_at) ON tussock.person FROM tussock_app;
ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check,
    ADD CONSTRAINT roster_change_kind_check CHECK (kind IN ('ranch', 'ranch name', 'ranch area', 'ranch owner', 'ranch erased', 'area', 'area name', 'area group', 'vouched', 'vouch ended', 'paper',
        'take off', 'take off ended', 'taken off', 'season', 'take back', 'taken back', 'suspended', 'suspension kept', 'suspension ended', 'paper no'));

-- +goose StatementBegin
-- Suspends a member; false where there is none or the reader may not. Whoever is suspended already stays so.
CREATE FUNCTION tussock.suspend(who uuid) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    p tussock.person;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' OR who = me THEN
        RETURN false;
    END IF;
    SELECT * INTO p FROM tussock.person x WHERE x.coop_id = coop AND x.id = who AND x.left_at IS NULL FOR UPDATE;
    IF NOT FOUND OR p.suspended_at IS NOT NULL THEN
        RETURN p.id IS NOT NULL;
    END IF;
    IF now() BETWEEN p.suspended_first + interval '14 days' AND p.suspended_first + interval '90 days' THEN
        RAISE EXCEPTION 'suspended lately' USING ERRCODE = '23505', CONSTRAINT = 'person_suspended_check';
    END IF;
    UPDATE tussock.person x SET suspended_at = now(), suspended_by = me, suspension_kept_by = NULL,
        suspended_first = CASE WHEN p.suspended_first > now() - interval '90 days' THEN p.suspended_first ELSE now() END
    WHERE x.coop_id = coop AND x.id = who;
    RETURN true;
END
$$;

-- A second coordinator's yes to a suspension: of one who was here for thirty days when it began, so that nobody brings in a friend to
-- say it.
CREATE FUNCTION tussock.may_keep_suspended(who uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (
        SELECT 1 FROM tussock.person p JOIN tussock.person me ON me.coop_id = p.coop_id AND me.id = tussock.my_person()
        WHERE p.coop_id = tussock.my_coop() AND p.id = who AND p.left_at IS NULL AND p.suspended_at IS NOT NULL AND p.suspension_kept_by IS NULL
          AND tussock.my_role() = 'coordinator' AND p.suspended_by <> me.id AND me.joined_at <= p.suspended_first - interval '30 days');
END
$$;

CREATE FUNCTION tussock.keep_suspended(who uuid) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.person p SET suspension_kept_by = tussock.my_person() WHERE p.coop_id = tussock.my_coop() AND p.id = who AND tussock.may_keep_suspended(who);
    RETURN FOUND;
END
$$;

-- Whoever comes in again has fourteen days to read of what was asked meanwhile, of them or in their name, and to answer it.
CREATE FUNCTION tussock.give_time(coop uuid, who uuid, at timestamptz) RETURNS void LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.departure d SET due_at = greatest(d.due_at, at + interval '14 days')
    WHERE d.coop_id = coop AND who IN (d.person_id, d.whom) AND d.done_at IS NULL AND d.called_off_at IS NULL;
END
$$;

CREATE FUNCTION tussock.let_in(who uuid) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.person p SET suspended_at = NULL, suspended_by = NULL, suspension_kept_by = NULL
    WHERE p.coop_id = tussock.my_coop() AND p.id = who AND p.left_at IS NULL AND tussock.my_role() = 'coordinator' AND p.suspended_at IS NOT NULL;
    IF FOUND THEN
        PERFORM tussock.give_time(tussock.my_coop(), who, now());
    END IF;
    RETURN tussock.my_role() = 'coordinator';
END
$$;

-- Ends those whose fourteen days are over.
CREATE FUNCTION tussock.end_suspensions(at timestamptz) RETURNS void LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE p record;
BEGIN
    FOR p IN
        UPDATE tussock.person x SET suspended_at = NULL, suspended_by = NULL
        WHERE x.suspended_at IS NOT NULL AND x.suspended_by IS NOT NULL AND x.suspension_kept_by IS NULL AND x.suspended_first <= at - interval '14 days'
        RETURNING x.coop_id, x.id
    LOOP
        PERFORM tussock.give_time(p.coop_id, p.id, at);
    END LOOP;
END
$$;

CREATE FUNCTION tussock.log_suspension() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.left_at IS NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, became) VALUES (NEW.coop_id, tussock.my_person(),
            CASE WHEN NEW.suspended_at IS NULL THEN 'suspension ended' WHEN NEW.suspension_kept_by IS NOT NULL THEN 'suspension kept' ELSE 'suspended' END, NEW.name,
            CASE WHEN NEW.suspended_at IS NOT NULL AND NEW.suspended_by IS NOT NULL AND NEW.suspension_kept_by IS NULL
                THEN ((NEW.suspended_first + interval '14 days') AT TIME ZONE 'UTC')::date::text ELSE '' END);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_suspension AFTER UPDATE OF suspended_at, suspension_kept_by ON tussock.person FOR EACH ROW
    WHEN ((OLD.suspended_at IS NULL) <> (NEW.suspended_at IS NULL) OR OLD.suspension_kept_by IS NULL AND NEW.suspension_kept_by IS NOT NULL)
    EXECUTE FUNCTION tussock.log_suspension();

DO $$
DECLARE
    now text := pg_get_functiondef('tussock.carry_out(timestamptz)'::regprocedure);
BEGIN
    now := replace(now, E'BEGIN\n    UPDATE tussock.departure', E'BEGIN\n    PERFORM tussock.end_suspensions(at);\n    UPDATE tussock.departure');
    now := replace(now, 'AND (x.kind <> ''take off'' OR NOT tussock.disputed(x.coop_id, x.ranch_id, x.whom))', 'AND (x.kind <> ''take off'' OR NOT tussock.disputed(x.coop_id, x.ranch_id, x.whom))
          AND NOT EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = x.coop_id AND p.id IN (x.person_id, x.whom) AND p.suspended_at IS NOT NULL)');
    IF strpos(now, 'end_suspensions') = 0 OR strpos(now, 'IN (x.person_id, x.whom)') = 0 THEN
        RAISE EXCEPTION 'carry_out is another';
    END IF;
    EXECUTE now;
END
$$;

-- The no of a coordinator whom another has suspended stands: nobody is kept out so that a bulletin comes out. A second coordinator's yes
-- to the suspension ends it.
CREATE OR REPLACE FUNCTION tussock.approved(coop uuid, which integer, nth smallint) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT count(*) FILTER (WHERE a.yes AND tussock.may_approve(coop, which, nth, a.person_id)) >= (SELECT s.words FROM tussock.season s WHERE s.coop_id = coop AND s.year = which)
        AND count(*) FILTER (WHERE NOT a.yes AND (tussock.may_approve(coop, which, nth, a.person_id) OR EXISTS (
            SELECT 1 FROM tussock.person p WHERE p.coop_id = coop AND p.id = a.person_id AND p.left_at IS NULL
               AND p.suspended_at IS NOT NULL AND p.suspended_by IS NOT NULL AND p.suspension_kept_by IS NULL))) = 0
        FROM tussock.approval a WHERE a.coop_id = coop AND a.season = which AND a.edition = nth);
END
$$;

-- Planners and biologists read that somebody was suspended, and not who.
CREATE OR REPLACE FUNCTION tussock.roster_log(from_then timestamptz) RETURNS TABLE (at timestamptz, by_name text, kind text, what text, was text, became text, mine boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    own uuid[] := tussock.my_own_ranches();
    outside boolean := tussock.my_role() IN ('planner', 'biologist');
    unnamed text[] := ARRAY['suspended', 'suspension kept', 'suspension ended'];
BEGIN
    RETURN QUERY
    SELECT x.at, coalesce(p.name, ''), x.kind, CASE WHEN outside AND x.kind = ANY (unnamed) THEN '' ELSE x.what END, x.was, x.became, coalesce(x.ranch_id = ANY (own), false)
    FROM tussock.roster_change x LEFT JOIN tussock.person p ON p.coop_id = x.coop_id AND p.id = x.person_id
    WHERE x.coop_id = tussock.my_coop() AND x.at >= from_then
      AND (NOT outside OR x.kind IN ('area', 'area name', 'area group', 'season', 'take back', 'taken back') OR x.kind = ANY (unnamed))
    ORDER BY x.at DESC, x.id;
END
$$;
-- +goose StatementEnd
GRANT EXECUTE ON FUNCTION tussock.suspend(uuid), tussock.may_keep_suspended(uuid), tussock.keep_suspended(uuid), tussock.let_in(uuid) TO tussock_app;
