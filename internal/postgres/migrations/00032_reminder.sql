-- Check days that come to people by themselves: a calendar under a secret address, letters to whoever asked for them, and
-- the coordinator's list of who is late. All three say which line and which day, and nothing of where it lies or of what
-- was found there.

-- +goose Up
-- +goose StatementBegin

-- The days of every open line, whether somebody was there, and whether there is nothing left to look at. A first check
-- counts whenever it was, a last one from the middle between the two days on. Whether nests are left is a result: only the
-- ranch's own people may be told less on account of it. For the functions below alone.
CREATE FUNCTION tussock.check_days() RETURNS TABLE (coop_id uuid, ranch_id uuid, line_id uuid, season integer, line text, what text, due date, opens date, closes date, done boolean, finished boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT l.coop_id, l.ranch_id, l.id, l.season, l.name, c.what, c.due, c.due - c.slack, c.due + c.slack,
        EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = l.coop_id AND k.ranch_id = l.ranch_id AND k.line_id = l.id
                AND k.kind = CASE c.what WHEN 'set' THEN 'set' ELSE 'check' END
                AND (c.since IS NULL OR k.answers->>'looked_on' >= c.since::text)
                AND NOT EXISTS (SELECT 1 FROM tussock.look b WHERE b.coop_id = k.coop_id AND b.ranch_id = k.ranch_id AND b.undoes = k.id))
        OR EXISTS (SELECT 1 FROM tussock.nest n JOIN tussock.upload u ON u.coop_id = n.coop_id AND u.ranch_id = n.ranch_id AND u.id = n.upload_id
                   WHERE n.coop_id = l.coop_id AND n.ranch_id = l.ranch_id AND u.state = 'current' AND n.season = l.season
                   AND n.transect = l.name AND coalesce(n.site, '') = l.pasture
                   AND CASE c.what WHEN 'set' THEN true WHEN 'first' THEN cardinality(n.visit_on) > 0
                       ELSE n.visit_on[cardinality(n.visit_on)] >= c.since END),
        c.what = 'last' AND (SELECT bool_and(cardinality(n.visit_on) > 0 AND n.visit_state[cardinality(n.visit_state)] <> 'intact')
            FROM tussock.nest n JOIN tussock.upload u ON u.coop_id = n.coop_id AND u.ranch_id = n.ranch_id AND u.id = n.upload_id
            WHERE n.coop_id = l.coop_id AND n.ranch_id = l.ranch_id AND u.state = 'current' AND n.season = l.season
            AND n.transect = l.name AND coalesce(n.site, '') = l.pasture) IS TRUE
    FROM tussock.season_line l
    CROSS JOIN LATERAL (VALUES ('set', l.set_on, 0, NULL::date), ('first', l.first_check, l.slack, NULL),
        ('last', l.last_check, l.slack, CASE WHEN l.first_check < l.last_check THEN l.first_check + (l.last_check - l.first_check) / 2 ELSE l.last_check - l.slack END)) c (what, due, slack, since)
    WHERE NOT l.closed AND c.due IS NOT NULL;
END
$$;
-- +goose StatementEnd

-- A calendar under a secret address; only the secret's hash is kept.
CREATE TABLE tussock.calendar (
    coop_id    uuid NOT NULL,
    person_id  uuid NOT NULL,
    id         uuid NOT NULL DEFAULT gen_random_uuid(),
    token_hash bytea NOT NULL CHECK (length(token_hash) = 32),
    named      boolean NOT NULL, -- says the ranch and the pasture
    tongue     text NOT NULL CHECK (tongue IN ('en', 'es')),
    made_at    timestamptz NOT NULL DEFAULT now(),
    used_at    timestamptz,
    revoked_at timestamptz,
    CONSTRAINT calendar_pkey PRIMARY KEY (coop_id, person_id, id),
    CONSTRAINT calendar_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);
CREATE INDEX calendar_token ON tussock.calendar (token_hash);

-- Who wants letters about check days.
CREATE TABLE tussock.reminder (
    coop_id   uuid NOT NULL,
    person_id uuid NOT NULL,
    named     boolean NOT NULL,
    tongue    text NOT NULL CHECK (tongue IN ('en', 'es')),
    since     timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT reminder_pkey PRIMARY KEY (coop_id, person_id),
    CONSTRAINT reminder_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);

-- Which of them were written, so that none is written twice.
CREATE TABLE tussock.reminded (
    coop_id   uuid NOT NULL,
    person_id uuid NOT NULL,
    line_id   uuid NOT NULL,
    what      text NOT NULL,
    due       date NOT NULL,
    late      boolean NOT NULL,
    told_at   timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT reminded_pkey PRIMARY KEY (coop_id, person_id, line_id, what, due, late)
);

-- What the coordinator noted after a call about a late line.
CREATE TABLE tussock.late_call (
    coop_id   uuid NOT NULL,
    id        uuid NOT NULL DEFAULT gen_random_uuid(),
    ranch_id  uuid NOT NULL,
    season    integer NOT NULL,
    note      text NOT NULL DEFAULT '' CHECK (length(note) <= 200),
    called_by uuid NOT NULL,
    called_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT late_call_pkey PRIMARY KEY (coop_id, id),
    CONSTRAINT late_call_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT late_call_person_fkey FOREIGN KEY (coop_id, called_by) REFERENCES tussock.person
);

-- +goose StatementBegin

-- The lines behind a calendar's secret: those its member may open now. Nothing for a secret that is none, was taken back,
-- or whose member has gone.
CREATE FUNCTION tussock.calendar_lines(hash bytea) RETURNS TABLE (named boolean, tongue text, ranch_id uuid, ranch_name text, line_id uuid, line text, pasture text,
    set_on date, first_check date, last_check date, slack integer, closed boolean, changed timestamptz)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.calendar c SET used_at = now() WHERE c.token_hash = hash AND c.revoked_at IS NULL;
    RETURN QUERY
    SELECT c.named, c.tongue, r.id, r.name, l.id, l.name, l.pasture, l.set_on, l.first_check, l.last_check, l.slack, l.closed, s.saved_at
    FROM tussock.calendar c
    JOIN tussock.person p ON p.coop_id = c.coop_id AND p.id = c.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL AND p.role IN ('landowner', 'hand')
    LEFT JOIN tussock.assignment a ON a.coop_id = c.coop_id AND a.person_id = c.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL
    LEFT JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    LEFT JOIN tussock.season_line l ON l.coop_id = a.coop_id AND l.ranch_id = a.ranch_id AND l.set_on > now() - interval '400 days'
    LEFT JOIN tussock.season_plan s ON s.coop_id = l.coop_id AND s.ranch_id = l.ranch_id AND s.season = l.season
    WHERE c.token_hash = hash AND c.revoked_at IS NULL
    ORDER BY l.set_on, l.id;
END
$$;

-- The letters that are due on a day, each line's day once when it opens and once when it is over and nobody was there.
-- What is long past is let be. A letter is one reader's: their lines as JSON.
CREATE FUNCTION tussock.reminder_letters(today date) RETURNS TABLE (address text, coop_name text, named boolean, tongue text, days jsonb)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT w.coop_id, w.person_id, w.named, w.tongue, d.line_id, d.ranch_id, d.line, d.what, d.due, d.closes, today > d.closes AS late
        FROM tussock.reminder w
        JOIN tussock.person p ON p.coop_id = w.coop_id AND p.id = w.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL AND p.role IN ('landowner', 'hand')
        JOIN tussock.assignment a ON a.coop_id = w.coop_id AND a.person_id = w.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL
        JOIN tussock.check_days() d ON d.coop_id = a.coop_id AND d.ranch_id = a.ranch_id
        WHERE NOT d.done AND NOT d.finished AND today >= d.opens AND today <= d.closes + 14
    ), told AS (
        INSERT INTO tussock.reminded (coop_id, person_id, line_id, what, due, late)
        SELECT x.coop_id, x.person_id, x.line_id, x.what, x.due, x.late FROM due x
        ON CONFLICT DO NOTHING
        RETURNING coop_id, person_id, line_id, what, late
    )
    SELECT e.email, c.name, x.named, x.tongue,
        jsonb_agg(jsonb_build_object('ranch', r.name, 'ranch_id', r.id, 'line', x.line, 'what', x.what, 'due', x.due, 'closes', x.closes, 'late', x.late) ORDER BY x.due, r.name, length(x.line), x.line)
    FROM due x
    JOIN told t ON t.coop_id = x.coop_id AND t.person_id = x.person_id AND t.line_id = x.line_id AND t.what = x.what AND t.late = x.late
    JOIN tussock.account e ON e.coop_id = x.coop_id AND e.person_id = x.person_id
    JOIN tussock.coop c ON c.coop_id = x.coop_id
    JOIN tussock.ranch r ON r.coop_id = x.coop_id AND r.id = x.ranch_id
    GROUP BY e.email, c.name, x.named, x.tongue;
END
$$;

-- For the coordinator: which lines are late, by ranch, and whom to call. What was found there is not in it.
CREATE FUNCTION tussock.late_lines(today date) RETURNS TABLE (ranch_id uuid, ranch_name text, season integer, line text, what text, due date, closes date)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT r.id, r.name, d.season, d.line, d.what, d.due, d.closes
    FROM tussock.viewer() v
    JOIN tussock.check_days() d ON d.coop_id = v.coop_id
    JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
    WHERE v.role = 'coordinator' AND NOT d.done AND today > d.closes AND today <= d.closes + 90;
END
$$;

-- The telephone numbers of the people who are on the viewer's ranches now.
CREATE FUNCTION tussock.my_phones() RETURNS TABLE (ranch_id uuid, name text, role text, phone text)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT a.ranch_id, p.name, p.role, e.phone
    FROM tussock.assignment a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.account e ON e.coop_id = a.coop_id AND e.person_id = a.person_id
    WHERE a.coop_id = (SELECT tussock.my_coop()) AND a.ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[])
      AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND p.left_at IS NULL AND e.phone <> ''
    ORDER BY p.role DESC, p.name;
END
$$;

DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['calendar', 'reminder', 'reminded', 'late_call'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd

GRANT SELECT (coop_id, person_id, id, named, tongue, made_at, used_at, revoked_at), INSERT (coop_id, person_id, token_hash, named, tongue), UPDATE (revoked_at) ON tussock.calendar TO tussock_app;
CREATE POLICY self ON tussock.calendar FOR SELECT TO tussock_app USING (person_id = (SELECT tussock.my_person()));
CREATE POLICY self_add ON tussock.calendar FOR INSERT TO tussock_app
    WITH CHECK (person_id = (SELECT tussock.my_person()) AND (SELECT tussock.my_role()) IN ('landowner', 'hand'));
CREATE POLICY self_end ON tussock.calendar FOR UPDATE TO tussock_app
    USING (person_id = (SELECT tussock.my_person()) AND revoked_at IS NULL) WITH CHECK (person_id = (SELECT tussock.my_person()) AND revoked_at IS NOT NULL);
GRANT SELECT, INSERT (coop_id, person_id, named, tongue), UPDATE (named, tongue), DELETE ON tussock.reminder TO tussock_app;
CREATE POLICY self ON tussock.reminder TO tussock_app USING (person_id = (SELECT tussock.my_person())) WITH CHECK (person_id = (SELECT tussock.my_person()));
GRANT SELECT, INSERT (coop_id, ranch_id, season, note, called_by) ON tussock.late_call TO tussock_app;
CREATE POLICY coordinator ON tussock.late_call FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY coordinator_add ON tussock.late_call FOR INSERT TO tussock_app
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator' AND called_by = (SELECT tussock.my_person()));
GRANT EXECUTE ON FUNCTION tussock.late_lines(date), tussock.my_phones() TO tussock_app;
GRANT EXECUTE ON FUNCTION tussock.calendar_lines(bytea), tussock.reminder_letters(date) TO tussock_door;
