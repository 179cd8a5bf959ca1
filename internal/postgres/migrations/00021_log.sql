-- The log: every look at a ranch's results under its name, and everything that was taken out as a file or by a program.
-- Rows are added and never changed or deleted; a ranch's owner reads those of their ranches. Beside it, what was refused,
-- as counts without whom or what it was about, and an alarm where one person takes much in a short time.

-- +goose Up
ALTER TABLE tussock.view_log
    DROP CONSTRAINT view_log_pkey,
    ADD COLUMN id uuid NOT NULL DEFAULT gen_random_uuid(),
    ADD COLUMN what text NOT NULL DEFAULT 'page',
    ADD COLUMN item text NOT NULL DEFAULT '', -- which file, or which season's
    ALTER COLUMN ranch_id DROP NOT NULL, -- what is taken of a bulletin is of no one ranch
    ADD CONSTRAINT view_log_pkey PRIMARY KEY (coop_id, id),
    ADD CONSTRAINT view_log_what_check CHECK (what IN ('page', 'sent', 'named', 'file', 'sheet', 'program', 'bulletin')),
    ADD CONSTRAINT view_log_item_check CHECK (length(item) <= 80),
    ADD CONSTRAINT view_log_ranch_check CHECK (ranch_id IS NOT NULL OR what IN ('program', 'bulletin'));
UPDATE tussock.view_log l SET what = 'named' FROM tussock.person p
    WHERE p.coop_id = l.coop_id AND p.id = l.person_id AND p.role = 'biologist';
CREATE INDEX view_log_ranch ON tussock.view_log (coop_id, ranch_id, looked_at);
CREATE INDEX view_log_person ON tussock.view_log (coop_id, person_id, looked_at);

-- The id cannot be chosen, so nobody learns of another's by a key that is taken.
REVOKE INSERT ON tussock.view_log FROM tussock_app;
GRANT INSERT (coop_id, ranch_id, person_id, looked_at, what, item) ON tussock.view_log TO tussock_app;
CREATE POLICY take ON tussock.view_log FOR INSERT TO tussock_app
    WITH CHECK (ranch_id IS NULL AND person_id = (SELECT tussock.my_person()) AND (SELECT tussock.my_least()) IS NOT NULL);

-- Much at once: more than 30 files, answers to programs and looks at ranches that are shared by name, within an hour, or 100 within a day,
-- by one person. A second alarm of the same kind comes after that time at the earliest; ranches are those concerned.
CREATE TABLE tussock.alarm (
    coop_id   uuid NOT NULL,
    id        uuid NOT NULL DEFAULT gen_random_uuid(),
    person_id uuid NOT NULL,
    span      text NOT NULL CHECK (span IN ('hour', 'day')),
    rung_at   timestamptz NOT NULL,
    ranches   uuid[] NOT NULL,
    told_at   timestamptz,             -- when the coordinators' letters were written
    told      uuid[] NOT NULL DEFAULT '{}', -- the ranches whose owners' letters were
    CONSTRAINT alarm_pkey PRIMARY KEY (coop_id, id),
    CONSTRAINT alarm_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);
CREATE INDEX alarm_person ON tussock.alarm (coop_id, person_id, rung_at);

-- +goose StatementBegin
CREATE FUNCTION tussock.ring() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    limits record;
    taken record;
BEGIN
    -- A ranch's own people open its pages as often as they like.
    IF NEW.what IN ('page', 'sent') THEN
        RETURN NULL;
    END IF;
    FOR limits IN SELECT * FROM (VALUES ('hour', interval '1 hour', 30), ('day', interval '1 day', 100)) v (span, long, most) LOOP
        -- A page that shows several ranches is one look: its rows have one time.
        SELECT count(DISTINCT l.looked_at) AS n, coalesce(array_agg(DISTINCT l.ranch_id) FILTER (WHERE l.ranch_id IS NOT NULL), '{}') AS ranches
        INTO taken FROM tussock.view_log l
        WHERE l.coop_id = NEW.coop_id AND l.person_id = NEW.person_id AND l.looked_at > NEW.looked_at - limits.long AND l.looked_at <= NEW.looked_at
          AND l.what NOT IN ('page', 'sent');
        CONTINUE WHEN taken.n <= limits.most;
        UPDATE tussock.alarm a SET ranches = ARRAY(SELECT DISTINCT r FROM unnest(a.ranches || taken.ranches) r)
        WHERE a.coop_id = NEW.coop_id AND a.person_id = NEW.person_id AND a.span = limits.span AND a.rung_at > NEW.looked_at - limits.long;
        IF NOT FOUND THEN
            INSERT INTO tussock.alarm (coop_id, person_id, span, rung_at, ranches) VALUES (NEW.coop_id, NEW.person_id, limits.span, NEW.looked_at, taken.ranches);
        END IF;
    END LOOP;
    RETURN NULL;
END
$$;
CREATE TRIGGER ring AFTER INSERT ON tussock.view_log FOR EACH ROW EXECUTE FUNCTION tussock.ring();

-- The letters that are due about alarms, once: to the coordinators, and to the owners of the ranches concerned.
CREATE FUNCTION tussock.alarm_letters() RETURNS TABLE (address text, coop_name text, called text, part text, span text, ranch_names text[])
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT a.coop_id, a.id, a.person_id, a.span, a.told_at, ARRAY(SELECT unnest(a.ranches) EXCEPT SELECT unnest(a.told)) AS fresh
        FROM tussock.alarm a WHERE a.told_at IS NULL OR NOT a.ranches <@ a.told
        FOR UPDATE SKIP LOCKED
    ), written AS (
        UPDATE tussock.alarm a SET told_at = coalesce(a.told_at, now()), told = a.ranches FROM due d WHERE a.coop_id = d.coop_id AND a.id = d.id
    ), readers AS (
        SELECT d.coop_id, d.person_id, d.span, p.id AS reader, '{}'::text[] AS names
        FROM due d JOIN tussock.person p ON p.coop_id = d.coop_id
        WHERE d.told_at IS NULL AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL
        UNION ALL
        SELECT d.coop_id, d.person_id, d.span, o.person_id, array_agg(r.name ORDER BY r.name)
        FROM due d
        JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = ANY (d.fresh)
        JOIN tussock.assignment o ON o.coop_id = r.coop_id AND o.ranch_id = r.id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL
        GROUP BY d.coop_id, d.id, d.person_id, d.span, o.person_id
    )
    SELECT a.email, c.name, p.name, p.role, x.span, x.names
    FROM readers x
    JOIN tussock.account a ON a.coop_id = x.coop_id AND a.person_id = x.reader
    JOIN tussock.coop c ON c.coop_id = x.coop_id
    JOIN tussock.person p ON p.coop_id = x.coop_id AND p.id = x.person_id;
END
$$;

-- A use of a token leaves a note whatever was read; with the ranch where it is one of theirs.
CREATE OR REPLACE FUNCTION tussock.use_token(hash bytea, ranch uuid) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH used AS (
        UPDATE tussock.api_token t SET used_at = now()
        FROM tussock.person p
        WHERE t.token_hash = hash AND t.revoked_at IS NULL AND now() < t.expires_at
          AND p.coop_id = t.coop_id AND p.id = t.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL
        RETURNING t.coop_id, t.person_id, t.name
    ), looked AS (
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
        SELECT u.coop_id, (SELECT a.ranch_id FROM tussock.assignment a WHERE a.coop_id = u.coop_id AND a.person_id = u.person_id
                           AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL LIMIT 1),
               u.person_id, now(), 'program', u.name
        FROM used u
    )
    SELECT EXISTS (SELECT 1 FROM used)
$$;

-- What was refused, counted by day: neither who tried nor what for, only what kind of thing and what part in the
-- cooperative they have ('' for nobody who is signed in). Counts cannot be made to fill the disk.
CREATE TABLE tussock.denial (
    coop_id uuid NOT NULL, -- all zeros where no cooperative is known
    day     date NOT NULL,
    kind    text NOT NULL CHECK (length(kind) <= 40),
    part    text NOT NULL CHECK (length(part) <= 20),
    times   integer NOT NULL DEFAULT 1,
    CONSTRAINT denial_pkey PRIMARY KEY (coop_id, day, kind, part)
);

-- The cooperative is the one given, or that of a link, a token or an address, where they are or were one.
CREATE FUNCTION tussock.note_denied(coop uuid, hash bytea, address text, which text, whose text) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    INSERT INTO tussock.denial AS d (coop_id, day, kind, part)
    SELECT coalesce(coop,
        (SELECT i.coop_id FROM tussock.invitation i WHERE i.token_hash = hash LIMIT 1),
        (SELECT t.coop_id FROM tussock.api_token t WHERE t.token_hash = hash LIMIT 1),
        (SELECT s.coop_id FROM tussock.step s WHERE s.key_hash = hash LIMIT 1),
        (SELECT a.coop_id FROM tussock.account a WHERE a.email = lower(address) ORDER BY a.coop_id LIMIT 1),
        '00000000-0000-0000-0000-000000000000'), (now() AT TIME ZONE 'UTC')::date, which, whose
    ON CONFLICT (coop_id, day, kind, part) DO UPDATE SET times = d.times + 1
$$;

DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['alarm', 'denial'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd

GRANT SELECT (coop_id, id, person_id, span, rung_at, ranches) ON tussock.alarm TO tussock_app;
CREATE POLICY coordinator ON tussock.alarm FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY own ON tussock.alarm FOR SELECT TO tussock_app USING (ranches && (SELECT tussock.my_own_ranches())::uuid[]);
GRANT SELECT ON tussock.denial TO tussock_app;
CREATE POLICY coordinator ON tussock.denial FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
GRANT EXECUTE ON FUNCTION tussock.alarm_letters(), tussock.note_denied(uuid, bytea, text, text, text) TO tussock_door;
