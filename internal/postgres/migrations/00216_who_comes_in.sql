-- Nobody comes in unseen: a new owner who takes over a ranch and is no member yet joins with a coordinator's yes, and their account ends where
-- the hand-over is called off before they have a ranch; and a further owner's coming is a line of the log, for the owners and for everybody.

-- +goose Up
ALTER TABLE tussock.invitation ADD heir_of uuid, ADD let_in_by uuid; -- the hand-over it is for, and the coordinator who said yes
ALTER TABLE tussock.person ADD heir_of uuid; -- the hand-over by which they came in
-- +goose StatementBegin
DO $$
BEGIN
    EXECUTE 'ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check, ADD CONSTRAINT roster_change_kind_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'roster_change_kind_check'), 'ARRAY[', 'ARRAY[''heir let in''::text, ''heir joined''::text, ''owner came''::text, ');
    EXECUTE 'ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check, ADD CONSTRAINT view_log_what_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'view_log_what_check'), 'ARRAY[', 'ARRAY[''owner''::text, ');
END
$$;

CREATE OR REPLACE FUNCTION tussock.invite_heir(which uuid, hash bytea) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.invitation (coop_id, token_hash, role, email, invited_by, expires_at, heir_of)
    SELECT d.coop_id, hash, 'landowner', d.heir, v.person_id, now() + interval '60 days', d.id
    FROM tussock.viewer() v JOIN tussock.departure d ON d.coop_id = v.coop_id AND d.person_id = v.person_id
    WHERE v.role = 'landowner' AND d.id = which AND d.kind = 'hand over' AND d.done_at IS NULL AND d.called_off_at IS NULL;
    RETURN FOUND;
END
$$;

-- A coordinator's yes or no to it.
CREATE FUNCTION tussock.let_heir(which uuid, yes boolean) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE i tussock.invitation;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN false;
    END IF;
    UPDATE tussock.invitation x SET let_in_by = CASE WHEN yes THEN tussock.my_person() END, revoked_at = CASE WHEN NOT yes THEN now() END
    WHERE x.coop_id = tussock.my_coop() AND x.id = which AND x.heir_of IS NOT NULL AND x.let_in_by IS NULL AND x.used_at IS NULL AND x.revoked_at IS NULL
    RETURNING * INTO i;
    IF i.id IS NULL THEN
        RETURN false;
    END IF;
    IF yes THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
        SELECT d.coop_id, tussock.my_person(), 'heir let in', r.id, r.name, coalesce(p.name, '')
        FROM tussock.departure d JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
        LEFT JOIN tussock.person p ON p.coop_id = d.coop_id AND p.id = d.person_id
        WHERE d.coop_id = i.coop_id AND d.id = i.heir_of;
    END IF;
    RETURN true;
END
$$;

CREATE OR REPLACE FUNCTION tussock.close_heir() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE who uuid;
BEGIN
    UPDATE tussock.invitation i SET revoked_at = now()
    WHERE i.coop_id = NEW.coop_id AND i.invited_by = NEW.person_id AND i.role = 'landowner' AND i.email = OLD.heir
      AND i.used_at IS NULL AND i.revoked_at IS NULL;
    FOR who IN
        SELECT p.id FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.heir_of = NEW.id AND p.left_at IS NULL
          AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = p.coop_id AND a.person_id = p.id)
    LOOP
        PERFORM tussock.depart(NEW.coop_id, who);
    END LOOP;
    RETURN NULL;
END
$$;

CREATE FUNCTION tussock.log_heir() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
    SELECT d.coop_id, d.person_id, 'heir joined', r.id, r.name, NEW.name
    FROM tussock.departure d JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
    WHERE d.coop_id = NEW.coop_id AND d.id = NEW.heir_of;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_heir AFTER INSERT ON tussock.person FOR EACH ROW WHEN (NEW.heir_of IS NOT NULL) EXECUTE FUNCTION tussock.log_heir();

-- A further owner, who comes beside one who is there.
CREATE FUNCTION tussock.log_owner() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = NEW.coop_id AND o.ranch_id = NEW.ranch_id AND o.person_id <> NEW.person_id
               AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL) THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
        SELECT NEW.coop_id, NEW.let_in_by, 'owner came', r.id, r.name, p.name
        FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.id = NEW.person_id
        WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what) VALUES (NEW.coop_id, NEW.ranch_id, NEW.person_id, now(), 'owner');
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_owner AFTER UPDATE OF confirmed_at ON tussock.assignment FOR EACH ROW
    WHEN (NEW.kind = 'owner' AND OLD.confirmed_at IS NULL AND NEW.confirmed_at IS NOT NULL AND NEW.until IS NULL) EXECUTE FUNCTION tussock.log_owner();

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.accept_invitation(bytea, text, text, text, text)'::regprocedure);
    now text := replace(replace(was, 'AND now() < i.expires_at', 'AND now() < i.expires_at AND (i.heir_of IS NULL OR i.let_in_by IS NOT NULL)'),
        '(coop_id, name, role, invited_by) SELECT u.coop_id, called, u.role, u.invited_by', '(coop_id, name, role, invited_by, heir_of) SELECT u.coop_id, called, u.role, u.invited_by, u.heir_of');
BEGIN
    IF strpos(now, 'let_in_by') = 0 OR strpos(now, 'u.heir_of') = 0 THEN
        RAISE EXCEPTION 'accept_invitation is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.invitation_of(bytea)'::regprocedure);
    now := replace(was, 'ELSE ''open'' END', 'WHEN i.heir_of IS NOT NULL AND i.let_in_by IS NULL THEN ''waiting'' ELSE ''open'' END');
    IF now = was THEN
        RAISE EXCEPTION 'invitation_of is another';
    END IF;
    EXECUTE now;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.let_heir(uuid, boolean) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.let_heir(uuid, boolean) TO tussock_app;
GRANT SELECT (heir_of, let_in_by) ON tussock.invitation TO tussock_app;
