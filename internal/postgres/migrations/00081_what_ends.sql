-- What ends with what it came from: a departure with its asker's part in a ranch that others own, an heir's invitation with the
-- hand-over, what is half open with the sessions, a field link with its maker's part. And photos of a ranch have an end.

-- +goose Up
-- +goose StatementBegin
-- What an owner asked for lapses where they have been taken off the ranch since and others own it: it is theirs to say.
CREATE OR REPLACE FUNCTION tussock.carry_out(at timestamptz)
RETURNS TABLE (addresses text[], kind text, coop_name text, ranch_name text, failure text)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE d tussock.departure;
BEGIN
    UPDATE tussock.departure x SET called_off_at = at
    WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND x.due_at <= at AND x.kind <> 'leave'
      AND (SELECT count(*) > 0 AND count(*) FILTER (WHERE o.person_id = x.person_id) = 0 FROM tussock.assignment o
           WHERE o.coop_id = x.coop_id AND o.ranch_id = x.ranch_id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL);
    FOR d IN
        SELECT * FROM tussock.departure x
        WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND x.due_at <= at
          AND (x.kind <> 'hand over' OR EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = x.coop_id AND p.id = x.agreed_by
               AND p.role = 'landowner' AND p.left_at IS NULL AND p.suspended_at IS NULL))
        ORDER BY x.kind = 'leave', x.asked_at, x.id FOR UPDATE SKIP LOCKED
    LOOP
        BEGIN
            addresses := tussock.departure_addresses(d.coop_id, d.id);
            kind := d.kind;
            coop_name := (SELECT c.name FROM tussock.coop c WHERE c.coop_id = d.coop_id);
            ranch_name := coalesce((SELECT r.name FROM tussock.ranch r WHERE r.coop_id = d.coop_id AND r.id = d.ranch_id), '');
            failure := '';
            CASE d.kind
                WHEN 'leave' THEN PERFORM tussock.depart(d.coop_id, d.person_id);
                WHEN 'erase' THEN PERFORM tussock.erase(d.coop_id, d.ranch_id, d.person_id);
                WHEN 'hand over' THEN PERFORM tussock.hand_over(d.coop_id, d.ranch_id, d.person_id, d.agreed_by, d.with_rows);
            END CASE;
            UPDATE tussock.departure x SET done_at = at, heir = '' WHERE x.coop_id = d.coop_id AND x.id = d.id;
        EXCEPTION WHEN OTHERS THEN
            addresses := '{}';
            failure := SQLSTATE;
        END;
        RETURN NEXT;
    END LOOP;
END
$$;

CREATE FUNCTION tussock.close_heir() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.invitation i SET revoked_at = now()
    WHERE i.coop_id = NEW.coop_id AND i.invited_by = NEW.person_id AND i.role = 'landowner' AND i.email = OLD.heir
      AND i.used_at IS NULL AND i.revoked_at IS NULL;
    RETURN NULL;
END
$$;
CREATE TRIGGER close_heir AFTER UPDATE OF called_off_at ON tussock.departure
    FOR EACH ROW WHEN (OLD.kind = 'hand over' AND OLD.called_off_at IS NULL AND NEW.called_off_at IS NOT NULL) EXECUTE FUNCTION tussock.close_heir();

CREATE OR REPLACE FUNCTION tussock.close_my_sessions(but_this boolean) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE t.coop_id = v.coop_id AND t.person_id = v.person_id AND t.revoked_at IS NULL;
    DELETE FROM tussock.device d USING tussock.viewer() v WHERE d.coop_id = v.coop_id AND d.person_id = v.person_id;
    DELETE FROM tussock.step s USING tussock.viewer() v WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL
      AND NOT (but_this AND s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')))
$$;

CREATE OR REPLACE FUNCTION tussock.close_sessions_of(person uuid) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE v.role = 'coordinator' AND t.coop_id = v.coop_id AND t.person_id = person AND t.revoked_at IS NULL;
    DELETE FROM tussock.device d USING tussock.viewer() v
    WHERE v.role = 'coordinator' AND d.coop_id = v.coop_id AND d.person_id = person;
    DELETE FROM tussock.step s USING tussock.viewer() v
    WHERE v.role = 'coordinator' AND s.coop_id = v.coop_id AND s.person_id = person;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE v.role = 'coordinator' AND s.coop_id = v.coop_id AND s.person_id = person AND s.closed_at IS NULL
$$;

-- A link is its maker's: it ends with their part in the ranch, and then says no more than that it has.
CREATE FUNCTION tussock.field_link_stands(l tussock.field_link) RETURNS boolean
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN l.revoked_at IS NULL AND EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = l.coop_id AND a.ranch_id = l.ranch_id AND a.person_id = l.made_by AND a.kind = 'owner'
          AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND p.left_at IS NULL AND p.suspended_at IS NULL);
END
$$;

CREATE OR REPLACE FUNCTION tussock.field_viewer()
RETURNS TABLE (coop_id uuid, ranch_id uuid, link_id uuid, name text, lines uuid[], from_on date, through date, reading boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT l.coop_id, l.ranch_id, l.id, l.name, l.lines, l.from_on, l.through, (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 1
    FROM tussock.field_session s
    JOIN tussock.field_link l ON l.coop_id = s.coop_id AND l.ranch_id = s.ranch_id AND l.id = s.link_id
    WHERE s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 60 AND tussock.field_link_stands(l);
END
$$;

CREATE OR REPLACE FUNCTION tussock.field_link_of(hash bytea)
RETURNS TABLE (coop_name text, ranch_name text, name text, line_names text[], from_on date, through date, state text)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT c.name, CASE WHEN x.stands THEN r.name ELSE '' END, CASE WHEN x.stands THEN l.name ELSE '' END,
        ARRAY(SELECT n.name FROM tussock.season_line n WHERE n.coop_id = l.coop_id AND n.ranch_id = l.ranch_id AND n.id = ANY (l.lines) AND x.stands ORDER BY length(n.name), n.name),
        l.from_on, l.through,
        CASE WHEN NOT x.stands THEN 'revoked' WHEN (now() AT TIME ZONE 'UTC')::date < l.from_on - 1 THEN 'early'
             WHEN (now() AT TIME ZONE 'UTC')::date > l.through + 1 THEN 'over' ELSE 'open' END
    FROM tussock.field_link l
    CROSS JOIN LATERAL (SELECT tussock.field_link_stands(l) AS stands) x
    JOIN tussock.coop c ON c.coop_id = l.coop_id
    JOIN tussock.ranch r ON r.coop_id = l.coop_id AND r.id = l.ranch_id
    WHERE l.token_hash = hash;
END
$$;

CREATE OR REPLACE FUNCTION tussock.open_field(hash bytea, session_hash bytea, called text) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.field_session (coop_id, ranch_id, link_id, token_hash, agent)
    SELECT l.coop_id, l.ranch_id, l.id, session_hash, left(called, 200)
    FROM tussock.field_link l
    WHERE l.token_hash = hash AND (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 1 AND tussock.field_link_stands(l)
      AND (SELECT count(*) FROM tussock.field_session s WHERE s.coop_id = l.coop_id AND s.ranch_id = l.ranch_id AND s.link_id = l.id) < 50;
    RETURN FOUND;
END
$$;

-- As much room for photos as for files, by whichever road they come (OWASP ASVS 5.0, 5.2.4).
CREATE FUNCTION tussock.photo_room() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    IF (SELECT count(*) >= 5000 OR coalesce(sum(length(p.data)), 0) + length(NEW.data) > 500000000
        FROM tussock.photo p WHERE p.coop_id = NEW.coop_id AND p.ranch_id = NEW.ranch_id) THEN
        RAISE EXCEPTION 'no room for another photo' USING ERRCODE = '23514', CONSTRAINT = 'photo_room_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER photo_room BEFORE INSERT ON tussock.photo FOR EACH ROW EXECUTE FUNCTION tussock.photo_room();
-- +goose StatementEnd
