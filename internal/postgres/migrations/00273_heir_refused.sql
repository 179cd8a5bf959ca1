-- A coordinator's no to a new owner is a line, and calls the hand-over off: who asked for it reads that it does not happen.

-- +goose Up
-- +goose StatementBegin
DO $$
BEGIN
    EXECUTE 'ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check, ADD CONSTRAINT roster_change_kind_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'roster_change_kind_check'), 'ARRAY[', 'ARRAY[''heir refused''::text, ');
END
$$;

CREATE OR REPLACE FUNCTION tussock.let_heir(which uuid, yes boolean) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    i tussock.invitation;
    me uuid := tussock.my_person();
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN false;
    END IF;
    UPDATE tussock.invitation x SET let_in_by = CASE WHEN yes THEN me END, revoked_at = CASE WHEN NOT yes THEN now() END
    WHERE x.coop_id = tussock.my_coop() AND x.id = which AND x.heir_of IS NOT NULL AND x.let_in_by IS NULL AND x.used_at IS NULL AND x.revoked_at IS NULL
    RETURNING * INTO i;
    IF i.id IS NULL THEN
        RETURN false;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
    SELECT d.coop_id, me, CASE WHEN yes THEN 'heir let in' ELSE 'heir refused' END, r.id, r.name, coalesce(p.name, '')
    FROM tussock.departure d JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
    LEFT JOIN tussock.person p ON p.coop_id = d.coop_id AND p.id = d.person_id
    WHERE d.coop_id = i.coop_id AND d.id = i.heir_of;
    IF NOT yes THEN
        UPDATE tussock.departure d SET called_off_at = now(), called_off_by = me
        WHERE d.coop_id = i.coop_id AND d.id = i.heir_of AND d.done_at IS NULL AND d.called_off_at IS NULL;
    END IF;
    RETURN true;
END
$$;

-- The hand-overs of the last 30 days, of the reader's or of their ranches, that a coordinator refused.
CREATE FUNCTION tussock.my_refusals() RETURNS TABLE (ranch_name text, by_name text, at timestamptz) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT r.name, p.name, d.called_off_at
    FROM tussock.departure d
    JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id AND r.erased_at IS NULL
    JOIN tussock.person p ON p.coop_id = d.coop_id AND p.id = d.called_off_by AND p.role = 'coordinator'
    WHERE d.coop_id = tussock.my_coop() AND d.kind = 'hand over' AND d.called_off_at > now() - interval '30 days'
      AND d.ranch_id = ANY (tussock.my_own_ranches())
    ORDER BY d.called_off_at DESC, r.name;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.my_refusals() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.my_refusals() TO tussock_app;
