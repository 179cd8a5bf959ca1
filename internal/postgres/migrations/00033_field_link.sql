-- Field links: a secret address with which somebody without an account works on named lines for a while. The ranch's owner
-- makes it and cuts it off. Opening it opens a session of its own kind, which is nobody to every policy: only the
-- functions below know it. They read the link's lines and where to walk on them, and add looks and photos; nothing else.

-- +goose Up
CREATE TABLE tussock.field_link (
    coop_id    uuid NOT NULL,
    ranch_id   uuid NOT NULL,
    id         uuid NOT NULL DEFAULT gen_random_uuid(),
    token_hash bytea NOT NULL CHECK (length(token_hash) = 32),
    name       text NOT NULL,
    lines      uuid[] NOT NULL,
    from_on    date NOT NULL,
    through    date NOT NULL, -- the last day on which it shows the lines
    made_by    uuid NOT NULL,
    made_at    timestamptz NOT NULL DEFAULT now(),
    revoked_at timestamptz,
    CONSTRAINT field_link_pkey PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT field_link_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT field_link_person_fkey FOREIGN KEY (coop_id, made_by) REFERENCES tussock.person,
    CONSTRAINT field_link_name_check CHECK (name <> '' AND length(name) <= 80),
    CONSTRAINT field_link_lines_check CHECK (cardinality(lines) BETWEEN 1 AND 60),
    CONSTRAINT field_link_through_check CHECK (through >= from_on AND through <= from_on + 400)
);
CREATE INDEX field_link_token ON tussock.field_link (token_hash);

CREATE TABLE tussock.field_session (
    coop_id    uuid NOT NULL,
    ranch_id   uuid NOT NULL,
    link_id    uuid NOT NULL,
    token_hash bytea NOT NULL CHECK (length(token_hash) = 32),
    agent      text NOT NULL DEFAULT '',
    opened_at  timestamptz NOT NULL DEFAULT now(),
    seen_at    timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT field_session_pkey PRIMARY KEY (coop_id, ranch_id, token_hash),
    CONSTRAINT field_session_link_fkey FOREIGN KEY (coop_id, ranch_id, link_id) REFERENCES tussock.field_link ON DELETE CASCADE
);
CREATE INDEX field_session_token ON tussock.field_session (token_hash);

ALTER TABLE tussock.look ADD COLUMN link_id uuid;  -- of the field link it came by
ALTER TABLE tussock.photo ADD COLUMN link_id uuid;
ALTER TABLE tussock.look ADD CONSTRAINT look_link_fkey FOREIGN KEY (coop_id, ranch_id, link_id) REFERENCES tussock.field_link;
ALTER TABLE tussock.photo ADD CONSTRAINT photo_link_fkey FOREIGN KEY (coop_id, ranch_id, link_id) REFERENCES tussock.field_link;
CREATE INDEX look_link ON tussock.look (coop_id, ranch_id, link_id) WHERE link_id IS NOT NULL;

-- +goose StatementBegin
-- Which link the viewer works with: while it is not cut off and whoever made it still owns the ranch. reading is whether
-- this is one of its days; what was written down on those days may still come in for two months.
CREATE FUNCTION tussock.field_viewer() RETURNS TABLE (coop_id uuid, ranch_id uuid, link_id uuid, name text, lines uuid[], from_on date, through date, reading boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT l.coop_id, l.ranch_id, l.id, l.name, l.lines, l.from_on, l.through, (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 1
    FROM tussock.field_session s
    JOIN tussock.field_link l ON l.coop_id = s.coop_id AND l.ranch_id = s.ranch_id AND l.id = s.link_id
    WHERE s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND l.revoked_at IS NULL AND (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 60
      AND EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
          WHERE a.coop_id = l.coop_id AND a.ranch_id = l.ranch_id AND a.person_id = l.made_by AND a.kind = 'owner'
            AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND p.left_at IS NULL AND p.suspended_at IS NULL);
END
$$;

CREATE FUNCTION tussock.field_lines() RETURNS SETOF tussock.season_line
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT n.* FROM tussock.field_viewer() v
    JOIN tussock.season_line n ON n.coop_id = v.coop_id AND n.ranch_id = v.ranch_id AND n.id = ANY (v.lines)
    WHERE v.reading;
END
$$;

-- Of what others did on those lines only what leads to a nest and tells whether it is still there.
CREATE FUNCTION tussock.field_looks() RETURNS TABLE (id uuid, ranch_id uuid, season integer, line_id uuid, stop integer, kind text, who text,
    device text, seq integer, at timestamptz, answers text, undoes text, received_at timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT k.id, k.ranch_id, k.season, k.line_id, k.stop, k.kind, '', k.device, k.seq, k.at,
        (SELECT coalesce(jsonb_object_agg(e.key, e.value), '{}') FROM jsonb_each(k.answers) e
         WHERE e.key IN ('cover', 'cover_plant', 'set_on', 'eggs_set', 'steps', 'bearing', 'place', 'camera_here', 'flags_set', 'markers_set',
             'looked_on', 'found', 'eggs_left', 'eggs_fresh_put', 'keep'))::text,
        coalesce(k.undoes::text, ''), k.received_at
    FROM tussock.field_viewer() v
    JOIN tussock.look k ON k.coop_id = v.coop_id AND k.ranch_id = v.ranch_id AND k.line_id = ANY (v.lines)
    WHERE v.reading AND k.kind IN ('set', 'check', 'undo', 'choose')
    ORDER BY k.at, k.device, k.seq, k.id;
END
$$;

-- Adds looks at the link's own lines. The device's name is bound to the link, so that nobody who has one can mend in
-- another's name, and it takes back no look that came by another way.
CREATE FUNCTION tussock.field_keep(looks jsonb) RETURNS integer
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v record;
    n integer;
BEGIN
    SELECT * INTO v FROM tussock.field_viewer();
    IF NOT FOUND THEN
        RAISE insufficient_privilege;
    END IF;
    IF EXISTS (SELECT 1 FROM jsonb_to_recordset(looks) AS l (line uuid, kind text, undoes uuid)
        LEFT JOIN tussock.season_line s ON s.coop_id = v.coop_id AND s.ranch_id = v.ranch_id AND s.id = l.line AND s.id = ANY (v.lines)
        LEFT JOIN tussock.look k ON k.coop_id = v.coop_id AND k.ranch_id = v.ranch_id AND k.id = l.undoes
        WHERE s.id IS NULL OR l.kind = 'choose' OR k.id IS NOT NULL AND k.link_id IS DISTINCT FROM v.link_id)
       OR (SELECT count(*) FROM tussock.look k WHERE k.coop_id = v.coop_id AND k.ranch_id = v.ranch_id AND k.link_id = v.link_id) > 20000 THEN
        RAISE insufficient_privilege;
    END IF;
    INSERT INTO tussock.look (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers, undoes, link_id)
    SELECT v.coop_id, v.ranch_id, l.id, s.season, s.id, coalesce(l.stop, 0), l.kind, l.who,
        left(left(v.link_id::text, 8) || '/' || l.device, 64), l.seq, l.at, coalesce(l.answers, '{}'), l.undoes, v.link_id
    FROM jsonb_to_recordset(looks) AS l (id uuid, line uuid, stop integer, kind text, who text, device text, seq integer, at timestamptz, answers jsonb, undoes uuid)
    JOIN tussock.season_line s ON s.coop_id = v.coop_id AND s.ranch_id = v.ranch_id AND s.id = l.line
    ON CONFLICT ON CONSTRAINT look_pkey DO NOTHING;
    GET DIAGNOSTICS n = ROW_COUNT;
    UPDATE tussock.field_session s SET seen_at = now()
    WHERE s.coop_id = v.coop_id AND s.ranch_id = v.ranch_id AND s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'));
    RETURN n;
END
$$;

CREATE FUNCTION tussock.field_photo(photo uuid, line uuid, picture bytea) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v record;
BEGIN
    SELECT * INTO v FROM tussock.field_viewer() f WHERE line = ANY (f.lines);
    IF NOT FOUND OR (SELECT count(*) FROM tussock.photo p WHERE p.coop_id = v.coop_id AND p.ranch_id = v.ranch_id AND p.link_id = v.link_id) > 1000 THEN
        RAISE insufficient_privilege;
    END IF;
    INSERT INTO tussock.photo (coop_id, ranch_id, id, line_id, data, link_id) VALUES (v.coop_id, v.ranch_id, photo, line, picture, v.link_id)
    ON CONFLICT ON CONSTRAINT photo_pkey DO NOTHING;
END
$$;

CREATE FUNCTION tussock.leave_field() RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM tussock.field_session s WHERE s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'));
END
$$;

-- The door: what a link offers, to whoever has it, and opening it on one more phone.
CREATE FUNCTION tussock.field_link_of(hash bytea) RETURNS TABLE (coop_name text, ranch_name text, name text, line_names text[], from_on date, through date, state text)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT c.name, r.name, l.name,
        ARRAY(SELECT n.name FROM tussock.season_line n WHERE n.coop_id = l.coop_id AND n.ranch_id = l.ranch_id AND n.id = ANY (l.lines) ORDER BY length(n.name), n.name),
        l.from_on, l.through,
        CASE WHEN l.revoked_at IS NOT NULL THEN 'revoked' WHEN (now() AT TIME ZONE 'UTC')::date < l.from_on - 1 THEN 'early'
             WHEN (now() AT TIME ZONE 'UTC')::date > l.through + 1 THEN 'over' ELSE 'open' END
    FROM tussock.field_link l
    JOIN tussock.coop c ON c.coop_id = l.coop_id
    JOIN tussock.ranch r ON r.coop_id = l.coop_id AND r.id = l.ranch_id
    WHERE l.token_hash = hash;
END
$$;

CREATE FUNCTION tussock.open_field(hash bytea, session_hash bytea, called text) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.field_session (coop_id, ranch_id, link_id, token_hash, agent)
    SELECT l.coop_id, l.ranch_id, l.id, session_hash, left(called, 200)
    FROM tussock.field_link l
    WHERE l.token_hash = hash AND l.revoked_at IS NULL AND (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 1
      AND (SELECT count(*) FROM tussock.field_session s WHERE s.coop_id = l.coop_id AND s.ranch_id = l.ranch_id AND s.link_id = l.id) < 50;
    RETURN FOUND;
END
$$;

DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['field_link', 'field_session'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd

-- The owner alone makes links and sees who opened them; neither table's secrets can be read.
GRANT SELECT (coop_id, ranch_id, id, name, lines, from_on, through, made_by, made_at, revoked_at), INSERT (coop_id, ranch_id, id, token_hash, name, lines, from_on, through, made_by),
    UPDATE (revoked_at) ON tussock.field_link TO tussock_app;
CREATE POLICY own ON tussock.field_link FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));
CREATE POLICY own_make ON tussock.field_link FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND made_by = (SELECT tussock.my_person()));
CREATE POLICY own_end ON tussock.field_link FOR UPDATE TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));
GRANT SELECT (coop_id, ranch_id, link_id, agent, opened_at, seen_at) ON tussock.field_session TO tussock_app;
CREATE POLICY own ON tussock.field_session FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));

GRANT EXECUTE ON FUNCTION tussock.field_viewer(), tussock.field_lines(), tussock.field_looks(), tussock.field_keep(jsonb),
    tussock.field_photo(uuid, uuid, bytea), tussock.leave_field() TO tussock_app;
GRANT EXECUTE ON FUNCTION tussock.field_link_of(bytea), tussock.open_field(bytea, bytea, text) TO tussock_door;
