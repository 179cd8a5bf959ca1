-- Sheets are read after they have come in, by the clerk: a role of its own in a process of its own, so that no page waits
-- for a large sheet and none can read another ranch's. What a reading showed its sender is kept, so that no page opens a
-- sheet again. And old seasons come in by the armful: from an owner, or from the coordinator where an owner said yes.

-- +goose Up
ALTER TABLE tussock.upload
    ADD COLUMN seasons integer[] NOT NULL DEFAULT '{}', -- of its rows, latest first
    ADD COLUMN sending_id uuid,                         -- of files that came together
    ADD COLUMN called text NOT NULL DEFAULT '',         -- the file's name where the coordinator sent it, who may read no other
    ADD COLUMN accepted_at timestamptz,                 -- when somebody looked at what was read and found it right
    ADD COLUMN accepted_by uuid,
    ADD CONSTRAINT upload_accepted_fkey FOREIGN KEY (coop_id, accepted_by) REFERENCES tussock.person;
UPDATE tussock.upload u SET seasons = coalesce((
    SELECT array_agg(DISTINCT x.season ORDER BY x.season DESC) FROM (
        SELECT n.season FROM tussock.nest n WHERE n.coop_id = u.coop_id AND n.ranch_id = u.ranch_id AND n.upload_id = u.id
        UNION SELECT b.season FROM tussock.belt b WHERE b.coop_id = u.coop_id AND b.ranch_id = u.ranch_id AND b.upload_id = u.id) x), '{}');
ALTER TABLE tussock.reading ADD COLUMN settled jsonb NOT NULL DEFAULT '[]'; -- the words that its answers explained
GRANT UPDATE (settled) ON tussock.reading TO tussock_app;
CREATE INDEX upload_sending ON tussock.upload (coop_id, sending_id) WHERE sending_id IS NOT NULL;
GRANT UPDATE (seasons, accepted_at, accepted_by) ON tussock.upload TO tussock_app;

-- The sheets that wait to be read, or are being read. A clerk that dies leaves its row, and when taken_until is past
-- another takes it up.
CREATE TABLE tussock.to_read (
    coop_id     uuid NOT NULL,
    ranch_id    uuid NOT NULL,
    upload_id   uuid NOT NULL,
    asked       integer NOT NULL DEFAULT 1, -- how often it was asked for: what was read for an earlier asking is not kept
    asked_at    timestamptz NOT NULL DEFAULT now(),
    language    text NOT NULL CHECK (language IN ('en', 'es')), -- in which it is said first
    size        integer NOT NULL, -- of the file, in bytes
    begun_at    timestamptz,
    taken_until timestamptz,
    tries       smallint NOT NULL DEFAULT 0,
    rest        boolean NOT NULL DEFAULT false, -- it is read, and only what it says in other languages is still to be written
    CONSTRAINT to_read_pkey PRIMARY KEY (coop_id, ranch_id, upload_id),
    CONSTRAINT to_read_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE
);

-- What a sender sees of a reading, in one language, and the rows of a sheet that is too long for one page.
CREATE TABLE tussock.readback (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    upload_id uuid NOT NULL,
    language  text NOT NULL CHECK (language IN ('en', 'es')),
    body      bytea NOT NULL,
    CONSTRAINT readback_pkey PRIMARY KEY (coop_id, ranch_id, upload_id, language),
    CONSTRAINT readback_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE
);
ALTER TABLE tussock.readback ALTER COLUMN body SET STORAGE EXTERNAL; -- compressed already

CREATE TABLE tussock.readback_part (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    upload_id uuid NOT NULL,
    part      integer NOT NULL,
    body      bytea NOT NULL,
    CONSTRAINT readback_part_pkey PRIMARY KEY (coop_id, ranch_id, upload_id, part),
    CONSTRAINT readback_part_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE
);
ALTER TABLE tussock.readback_part ALTER COLUMN body SET STORAGE EXTERNAL;

-- Sheets of which only reading them can tell which of the sender's ranches they are of. They are the sender's alone until
-- they are filed under one, and go after a week.
CREATE TABLE tussock.unfiled (
    coop_id     uuid NOT NULL,
    person_id   uuid NOT NULL,
    id          uuid NOT NULL DEFAULT gen_random_uuid(),
    sending_id  uuid NOT NULL,
    name        text NOT NULL,
    size        integer NOT NULL,
    data        bytea NOT NULL,
    settings    jsonb NOT NULL DEFAULT '{}',
    language    text NOT NULL CHECK (language IN ('en', 'es')),
    sent_at     timestamptz NOT NULL DEFAULT now(),
    begun_at    timestamptz,
    taken_until timestamptz,
    tries       smallint NOT NULL DEFAULT 0,
    unclear     text NOT NULL DEFAULT '', -- why it is not filed: the sheet does not say which ranch, nothing can be read, it is there already, the ranch has no room
    held        uuid,                     -- the upload that has the same bytes
    problem     jsonb NOT NULL DEFAULT '{}', -- by language: what is wrong with it
    CONSTRAINT unfiled_pkey PRIMARY KEY (coop_id, person_id, id),
    CONSTRAINT unfiled_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person,
    CONSTRAINT unfiled_unclear_check CHECK (unclear IN ('', 'ranch', 'unreadable', 'held', 'full'))
);
ALTER TABLE tussock.unfiled ALTER COLUMN data SET STORAGE EXTERNAL;

-- An owner lets the coordinator send old sheets for a ranch: to send them and to see that they were read, no more. It lapses
-- after 90 days, and the owner ends it at any time.
CREATE TABLE tussock.sending_consent (
    coop_id  uuid NOT NULL,
    ranch_id uuid NOT NULL,
    id       uuid NOT NULL DEFAULT gen_random_uuid(),
    given_by uuid NOT NULL,
    given_at timestamptz NOT NULL DEFAULT now(),
    through  date NOT NULL DEFAULT (now() AT TIME ZONE 'UTC')::date + 90, -- the last day
    ended_at timestamptz,
    CONSTRAINT sending_consent_pkey PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT sending_consent_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT sending_consent_person_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person
);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['to_read', 'readback', 'readback_part', 'unfiled', 'sending_consent'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;

-- The ranches whose owners let the coordinator who asks send old sheets for them now: while whoever said so owns the ranch.
CREATE FUNCTION tussock.my_sendable() RETURNS uuid[]
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT s.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.sending_consent s ON s.coop_id = v.coop_id
        JOIN tussock.assignment a ON a.coop_id = s.coop_id AND a.ranch_id = s.ranch_id AND a.person_id = s.given_by
        WHERE v.role = 'coordinator' AND s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
          AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
END
$$;

-- Sends a sheet for an owner who said yes: 'sent', or 'already' where the ranch has the very bytes; nothing where no owner
-- said yes. Whoever sends so can read nothing of the ranch, so all that this needs to look at it looks at itself.
CREATE FUNCTION tussock.send_for_owner(which uuid, sending uuid, file_name text, contents bytea, said_in text, how jsonb) RETURNS text
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := (SELECT tussock.my_coop());
    me uuid := (SELECT tussock.my_person());
    new_id uuid := gen_random_uuid();
BEGIN
    IF NOT which = ANY (tussock.my_sendable()) THEN
        RETURN NULL;
    END IF;
    PERFORM pg_advisory_xact_lock(hashtextextended('files of ' || which::text, 0));
    IF EXISTS (SELECT 1 FROM tussock.upload_file f WHERE f.coop_id = coop AND f.ranch_id = which AND f.sha256 = sha256(contents)) THEN
        RETURN 'already';
    END IF;
    IF (SELECT count(*) >= 1000 OR coalesce(sum(f.size), 0) + length(contents) > 500 * 1024 * 1024 FROM tussock.upload_file f WHERE f.coop_id = coop AND f.ranch_id = which) THEN
        RETURN 'full';
    END IF;
    INSERT INTO tussock.upload (coop_id, ranch_id, id, season, sent_by, sent_at, sending_id, called)
    VALUES (coop, which, new_id, 0, me, now(), sending, file_name);
    INSERT INTO tussock.upload_file (coop_id, ranch_id, upload_id, name, size, sha256, data)
    VALUES (coop, which, new_id, file_name, length(contents), sha256(contents), contents);
    INSERT INTO tussock.reading (coop_id, ranch_id, upload_id, nests, belts, refused, settings) VALUES (coop, which, new_id, 0, 0, 0, how);
    INSERT INTO tussock.to_read (coop_id, ranch_id, upload_id, language, size) VALUES (coop, which, new_id, said_in, length(contents));
    PERFORM pg_notify('tussock_clerk', '');
    RETURN 'sent';
END
$$;

-- The letters that sheets were sent for an owner, one for each time that some came.
CREATE FUNCTION tussock.sent_for_letters() RETURNS TABLE (address text, coop_name text, ranch_name text, by_name text, files bigint)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    WITH came AS (
        SELECT u.coop_id, u.ranch_id, u.sending_id, u.sent_by, count(*) AS files
        FROM tussock.upload u WHERE u.called <> '' AND u.sent_at > now() - interval '7 days'
        GROUP BY u.coop_id, u.ranch_id, u.sending_id, u.sent_by
        HAVING max(u.sent_at) < now() - interval '1 minute'
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT c.coop_id, c.ranch_id, o.person_id, 'sent for ' || c.sending_id FROM came c
        JOIN tussock.assignment o ON o.coop_id = c.coop_id AND o.ranch_id = c.ranch_id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id, about
    )
    SELECT e.email, k.name, r.name, coalesce(p.name, ''), c.files
    FROM told t
    JOIN came c ON c.coop_id = t.coop_id AND c.ranch_id = t.ranch_id AND t.about = 'sent for ' || c.sending_id
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop k ON k.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    LEFT JOIN tussock.person p ON p.coop_id = c.coop_id AND p.id = c.sent_by;
END
$$;

-- For the clerk: the ranches that whoever sent a sheet may send for.
CREATE FUNCTION tussock.ranches_of(coop uuid, sender uuid) RETURNS TABLE (id uuid, name text)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT DISTINCT r.id, r.name
    FROM tussock.person p
    JOIN tussock.assignment a ON a.coop_id = p.coop_id AND a.person_id = p.id AND a.until IS NULL AND a.confirmed_at IS NOT NULL
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id AND r.erased_at IS NULL
    WHERE p.coop_id = coop AND p.id = sender AND p.role IN ('landowner', 'hand') AND p.left_at IS NULL AND p.suspended_at IS NULL
    ORDER BY r.name;
END
$$;

-- For the clerk: whether everybody who can open one ranch can open the other. Only then is a sheet of both filed under both
-- without a question: a file is read whole by whoever can open it.
CREATE FUNCTION tussock.same_people(coop uuid, one uuid, other uuid) RETURNS boolean
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN NOT EXISTS (
        SELECT 1 FROM tussock.assignment a
        WHERE a.coop_id = coop AND a.ranch_id IN (one, other) AND a.until IS NULL AND a.confirmed_at IS NOT NULL
          AND NOT EXISTS (SELECT 1 FROM tussock.assignment b WHERE b.coop_id = coop AND b.person_id = a.person_id AND b.ranch_id = CASE a.ranch_id WHEN one THEN other ELSE one END
                          AND b.until IS NULL AND b.confirmed_at IS NOT NULL));
END
$$;
-- +goose StatementEnd

-- The pages.
GRANT SELECT, INSERT (coop_id, ranch_id, upload_id, language, size), UPDATE (asked, language, tries, taken_until, rest) ON tussock.to_read TO tussock_app;
CREATE POLICY own ON tussock.to_read TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY coordinator ON tussock.to_read FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT ON tussock.readback, tussock.readback_part TO tussock_app;
CREATE POLICY own ON tussock.readback FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY own ON tussock.readback_part FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));

GRANT SELECT, INSERT (coop_id, person_id, id, sending_id, name, size, data, settings, language), DELETE ON tussock.unfiled TO tussock_app;
CREATE POLICY self ON tussock.unfiled TO tussock_app USING (person_id = (SELECT tussock.my_person()));

GRANT SELECT, INSERT (coop_id, ranch_id, id, given_by), UPDATE (ended_at) ON tussock.sending_consent TO tussock_app;
CREATE POLICY own ON tussock.sending_consent FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY coordinator ON tussock.sending_consent FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY give ON tussock.sending_consent FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND given_by = (SELECT tussock.my_person()));
CREATE POLICY own_end ON tussock.sending_consent FOR UPDATE TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND ended_at IS NULL)
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND ended_at IS NOT NULL);

GRANT EXECUTE ON FUNCTION tussock.my_sendable(), tussock.send_for_owner(uuid, uuid, text, bytea, text, jsonb) TO tussock_app;
GRANT EXECUTE ON FUNCTION tussock.sent_for_letters() TO tussock_door;

-- The clerk: reads what was sent and writes what it says, and knows no person, no account, no consent and no bulletin.
GRANT USAGE ON SCHEMA tussock TO tussock_clerk;
GRANT EXECUTE ON FUNCTION tussock.ranches_of(uuid, uuid), tussock.same_people(uuid, uuid, uuid) TO tussock_clerk;
GRANT SELECT (coop_id, id, name) ON tussock.ranch TO tussock_clerk;
GRANT SELECT (coop_id, ranch_id, id, season, sent_by, sent_at, state, sending_id, called),
    INSERT (coop_id, ranch_id, id, season, sent_by, sent_at, sending_id), UPDATE (season, seasons, open_count, open_kinds, accepted_at, accepted_by) ON tussock.upload TO tussock_clerk;
GRANT SELECT, INSERT ON tussock.upload_file TO tussock_clerk;
GRANT SELECT, INSERT, UPDATE (nests, belts, refused, settled) ON tussock.reading TO tussock_clerk;
GRANT SELECT, INSERT, UPDATE (meaning) ON tussock.word TO tussock_clerk;
GRANT SELECT, INSERT, DELETE ON tussock.nest, tussock.belt, tussock.site, tussock.readback, tussock.readback_part TO tussock_clerk;
GRANT SELECT, INSERT, UPDATE, DELETE ON tussock.to_read TO tussock_clerk;
GRANT UPDATE (body) ON tussock.readback TO tussock_clerk;
GRANT SELECT, UPDATE (begun_at, taken_until, tries, unclear, held, problem), DELETE ON tussock.unfiled TO tussock_clerk;
-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['ranch', 'upload', 'upload_file', 'reading', 'word', 'nest', 'belt', 'site', 'readback', 'readback_part', 'to_read', 'unfiled'] LOOP
        EXECUTE format('CREATE POLICY clerk ON tussock.%I TO tussock_clerk USING (true) WITH CHECK (true)', t);
    END LOOP;
END
$$;
-- +goose StatementEnd
