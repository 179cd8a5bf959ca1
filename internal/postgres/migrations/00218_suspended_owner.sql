-- While an owner is suspended nothing is carried out that another owner asked for their ranch either, nor for fourteen days after; and
-- the day that is shown is the day on which it can happen.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION tussock.departure_waits_for(d tussock.departure, who uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN who IN (d.person_id, d.whom) OR EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = d.coop_id AND o.ranch_id = d.ranch_id
        AND o.person_id = who AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL);
END
$$;

CREATE OR REPLACE FUNCTION tussock.give_time(coop uuid, who uuid, at timestamptz) RETURNS void LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.departure d SET due_at = greatest(d.due_at, at + interval '14 days')
    WHERE d.coop_id = coop AND tussock.departure_waits_for(d, who) AND d.done_at IS NULL AND d.called_off_at IS NULL;
END
$$;

-- When a departure can happen at the earliest; NULL while nobody knows how long somebody stays suspended.
CREATE FUNCTION tussock.departure_due(which uuid) RETURNS timestamptz LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE d tussock.departure;
BEGIN
    SELECT * INTO d FROM tussock.departure x WHERE x.coop_id = tussock.my_coop() AND x.id = which;
    IF EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = d.coop_id AND p.suspended_at IS NOT NULL AND (p.suspended_by IS NULL OR p.suspension_kept_by IS NOT NULL)
               AND tussock.departure_waits_for(d, p.id)) THEN
        RETURN NULL;
    END IF;
    RETURN greatest(d.due_at, (SELECT max(p.suspended_first) + interval '28 days' FROM tussock.person p
        WHERE p.coop_id = d.coop_id AND p.suspended_at IS NOT NULL AND tussock.departure_waits_for(d, p.id)));
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.carry_out(timestamptz)'::regprocedure);
    now text := replace(was, 'p.id IN (x.person_id, x.whom) AND p.suspended_at IS NOT NULL', 'p.suspended_at IS NOT NULL AND tussock.departure_waits_for(x, p.id)');
BEGIN
    IF now = was THEN
        RAISE EXCEPTION 'carry_out is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.departure_waits_for(tussock.departure, uuid), tussock.departure_due(uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.departure_due(uuid) TO tussock_app;
