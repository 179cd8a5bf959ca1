-- The whole store of a cooperative. Four roles, made before (Setup, or deploy/roles.sql):
--   tussock_owner  owns everything, logs in nowhere
--   tussock_app    serves pages; every row it sees passes a policy
--   tussock_door   lets people in: may call four functions and read no table
--   tussock_press  reads a season's rows, writes bulletins
-- coop_id leads every key, so that the tables can be spread by cooperative. Row ids are random (UUID version 4): they
-- tell neither order nor number. A key never spans two owners, because constraints see what policies hide.

-- +goose Up
CREATE SCHEMA tussock;
CREATE SCHEMA pub;
REVOKE ALL ON SCHEMA tussock, pub FROM PUBLIC;
GRANT USAGE ON SCHEMA tussock TO tussock_app, tussock_door, tussock_press;
GRANT USAGE ON SCHEMA pub TO tussock_app, tussock_press;
ALTER DEFAULT PRIVILEGES REVOKE EXECUTE ON FUNCTIONS FROM PUBLIC;

CREATE TABLE tussock.coop (
    coop_id    uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    name       text NOT NULL CHECK (name <> ''),
    created_at timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE tussock.person (
    coop_id   uuid NOT NULL REFERENCES tussock.coop,
    id        uuid NOT NULL DEFAULT gen_random_uuid(),
    name      text NOT NULL CHECK (name <> ''),
    role      text NOT NULL CHECK (role IN ('coordinator', 'landowner', 'hand', 'biologist', 'planner')),
    joined_at timestamptz NOT NULL DEFAULT now(),
    seen_at   timestamptz,
    left_at   timestamptz,
    PRIMARY KEY (coop_id, id)
);

-- How to reach a person and how they prove who they are, apart from the name that others on a ranch may see.
CREATE TABLE tussock.account (
    coop_id       uuid NOT NULL,
    person_id     uuid NOT NULL,
    email         text NOT NULL CHECK (email = lower(email) AND email LIKE '%_@_%'),
    phone         text NOT NULL DEFAULT '',
    password_hash text NOT NULL,
    CONSTRAINT account_pkey PRIMARY KEY (coop_id, person_id),
    CONSTRAINT account_email_key UNIQUE (coop_id, email),
    CONSTRAINT account_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);
CREATE INDEX account_email ON tussock.account (email);

CREATE TABLE tussock.area (
    coop_id    uuid NOT NULL REFERENCES tussock.coop,
    id         uuid NOT NULL DEFAULT gen_random_uuid(),
    name       text NOT NULL CHECK (name <> ''),
    group_name text NOT NULL DEFAULT '',
    PRIMARY KEY (coop_id, id),
    CONSTRAINT area_name_key UNIQUE (coop_id, name)
);

-- The person or company behind one or more ranches: what the disclosure rules count.
CREATE TABLE tussock.entity (
    coop_id uuid NOT NULL REFERENCES tussock.coop,
    id      uuid NOT NULL DEFAULT gen_random_uuid(),
    name    text NOT NULL CHECK (name <> ''),
    PRIMARY KEY (coop_id, id),
    CONSTRAINT entity_name_key UNIQUE (coop_id, name)
);

CREATE TABLE tussock.ranch (
    coop_id   uuid NOT NULL REFERENCES tussock.coop,
    id        uuid NOT NULL DEFAULT gen_random_uuid(),
    name      text NOT NULL CHECK (name <> ''),
    area_id   uuid,
    entity_id uuid NOT NULL,
    PRIMARY KEY (coop_id, id),
    CONSTRAINT ranch_name_key UNIQUE (coop_id, name),
    CONSTRAINT ranch_area_fkey FOREIGN KEY (coop_id, area_id) REFERENCES tussock.area,
    CONSTRAINT ranch_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity
);

-- Who may open which ranch. Rows end and are never deleted: what somebody once saw they still know, and the gate of
-- the bulletin counts it. entity_id is the entity at the time.
CREATE TABLE tussock.assignment (
    coop_id   uuid NOT NULL,
    person_id uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    entity_id uuid NOT NULL,
    kind      text NOT NULL CHECK (kind IN ('owner', 'hand')),
    since     timestamptz NOT NULL DEFAULT now(),
    until     timestamptz,
    PRIMARY KEY (coop_id, person_id, ranch_id, since),
    CONSTRAINT assignment_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person,
    CONSTRAINT assignment_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT assignment_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity
);
CREATE INDEX assignment_ranch ON tussock.assignment (coop_id, ranch_id);

-- What a ranch's owner agreed to; the latest row holds, none is level 0. Apart from the ranch, so that the
-- coordinator, who keeps the roster, has no way to it.
CREATE TABLE tussock.consent (
    coop_id  uuid NOT NULL,
    ranch_id uuid NOT NULL,
    level    smallint NOT NULL CHECK (level BETWEEN 0 AND 3),
    given_by uuid NOT NULL,
    given_at timestamptz NOT NULL DEFAULT clock_timestamp(),
    PRIMARY KEY (coop_id, ranch_id, given_at),
    CONSTRAINT consent_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT consent_person_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person
);

CREATE TABLE tussock.session (
    coop_id    uuid NOT NULL,
    token_hash bytea NOT NULL CHECK (length(token_hash) = 32),
    person_id  uuid NOT NULL,
    opened_at  timestamptz NOT NULL DEFAULT now(),
    seen_at    timestamptz NOT NULL DEFAULT now(),
    idle       interval NOT NULL,
    ends_at    timestamptz NOT NULL,
    closed_at  timestamptz,
    agent      text NOT NULL DEFAULT '',
    PRIMARY KEY (coop_id, token_hash),
    CONSTRAINT session_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);
CREATE INDEX session_token ON tussock.session (token_hash);
CREATE INDEX session_person ON tussock.session (coop_id, person_id);

CREATE TABLE tussock.invitation (
    coop_id    uuid NOT NULL REFERENCES tussock.coop,
    id         uuid NOT NULL DEFAULT gen_random_uuid(),
    token_hash bytea NOT NULL CHECK (length(token_hash) = 32),
    role       text NOT NULL CHECK (role IN ('coordinator', 'landowner', 'hand', 'biologist', 'planner')),
    name       text NOT NULL DEFAULT '',
    email      text NOT NULL DEFAULT '',
    ranches    uuid[] NOT NULL DEFAULT '{}',
    invited_by uuid,
    created_at timestamptz NOT NULL DEFAULT now(),
    expires_at timestamptz NOT NULL,
    used_at    timestamptz,
    revoked_at timestamptz,
    PRIMARY KEY (coop_id, id),
    CONSTRAINT invitation_person_fkey FOREIGN KEY (coop_id, invited_by) REFERENCES tussock.person
);
CREATE INDEX invitation_token ON tussock.invitation (token_hash);

-- What the coordinator may see of a sending: that it is there, and what kinds of question wait.
CREATE TABLE tussock.upload (
    coop_id    uuid NOT NULL,
    ranch_id   uuid NOT NULL,
    id         uuid NOT NULL DEFAULT gen_random_uuid(),
    season     integer NOT NULL CHECK (season = 0 OR season BETWEEN 1900 AND 2200),
    sent_by    uuid NOT NULL,
    sent_at    timestamptz NOT NULL,
    state      text NOT NULL DEFAULT 'current' CHECK (state IN ('current', 'replaced', 'undone')),
    replaces   uuid,
    open_count integer NOT NULL DEFAULT 0,
    open_kinds jsonb NOT NULL DEFAULT '{}',
    PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT upload_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT upload_person_fkey FOREIGN KEY (coop_id, sent_by) REFERENCES tussock.person,
    CONSTRAINT upload_replaces_fkey FOREIGN KEY (coop_id, ranch_id, replaces) REFERENCES tussock.upload
        ON DELETE SET NULL (replaces)
);

CREATE TABLE tussock.upload_file (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    upload_id uuid NOT NULL,
    name      text NOT NULL,
    size      integer NOT NULL,
    sha256    bytea NOT NULL CHECK (length(sha256) = 32),
    data      bytea NOT NULL,
    PRIMARY KEY (coop_id, ranch_id, upload_id),
    CONSTRAINT upload_file_sha256_key UNIQUE (coop_id, ranch_id, sha256),
    CONSTRAINT upload_file_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE
);
ALTER TABLE tussock.upload_file ALTER COLUMN data SET STORAGE EXTERNAL; -- a workbook is compressed already

-- What reading a file gave, and the sender's answers that it was read with.
CREATE TABLE tussock.reading (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    upload_id uuid NOT NULL,
    nests     integer NOT NULL,
    belts     integer NOT NULL,
    refused   integer NOT NULL,
    answers   jsonb NOT NULL DEFAULT '{}',
    undone    jsonb NOT NULL DEFAULT '[]',
    settings  jsonb NOT NULL DEFAULT '{}',
    PRIMARY KEY (coop_id, ranch_id, upload_id),
    CONSTRAINT reading_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE
);

-- The words a ranch's crew uses, as its people explained them: "substrate/tasajillo" is "shrub".
CREATE TABLE tussock.word (
    coop_id  uuid NOT NULL,
    ranch_id uuid NOT NULL,
    word     text NOT NULL,
    meaning  text NOT NULL,
    PRIMARY KEY (coop_id, ranch_id, word),
    CONSTRAINT word_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch
);

-- Rows of a sheet. NULL is "nobody wrote it down". Visits are two arrays of one length, in order of date: a nest is
-- always read and written whole.
CREATE TABLE tussock.nest (
    coop_id     uuid NOT NULL,
    ranch_id    uuid NOT NULL,
    upload_id   uuid NOT NULL,
    row         integer NOT NULL, -- within the upload, from 1
    site        text,
    season      integer NOT NULL,
    transect    text NOT NULL,
    number      text NOT NULL,
    substrate   text NOT NULL,
    plant       text,
    set_on      date,
    visit_on    date[] NOT NULL,
    visit_state text[] NOT NULL,
    bits        text, bits_far text, heaps  text, opened_at text, bite_way text,
    holes       text, inside   text, ground text, bowl      text, trace    text,
    guess       text,
    camera      text,
    eggs_left   smallint,
    steps       text, bearing  text, spot   text, -- how to walk back: the press cannot read these
    notes       text,
    from_sheet  text,
    from_row    integer,
    PRIMARY KEY (coop_id, ranch_id, upload_id, row),
    CONSTRAINT nest_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE,
    CONSTRAINT nest_visits_check CHECK (cardinality(visit_on) = cardinality(visit_state))
);

CREATE TABLE tussock.belt (
    coop_id    uuid NOT NULL,
    ranch_id   uuid NOT NULL,
    upload_id  uuid NOT NULL,
    row        integer NOT NULL,
    site       text,
    season     integer NOT NULL,
    transect   text NOT NULL,
    length_ft  double precision NOT NULL,
    width_ft   double precision NOT NULL,
    counts     jsonb NOT NULL, -- substrate: clumps
    from_sheet text,
    from_row   integer,
    PRIMARY KEY (coop_id, ranch_id, upload_id, row),
    CONSTRAINT belt_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE
);

CREATE TABLE tussock.site (
    coop_id    uuid NOT NULL,
    ranch_id   uuid NOT NULL,
    upload_id  uuid NOT NULL,
    row        integer NOT NULL,
    name       text,
    site_type  text,
    acres      double precision NOT NULL,
    from_sheet text,
    from_row   integer,
    PRIMARY KEY (coop_id, ranch_id, upload_id, row),
    CONSTRAINT site_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload ON DELETE CASCADE
);

CREATE TABLE tussock.view_log (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    person_id uuid NOT NULL,
    looked_at timestamptz NOT NULL,
    PRIMARY KEY (coop_id, ranch_id, person_id, looked_at),
    CONSTRAINT view_log_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT view_log_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);

CREATE TABLE tussock.press_order (
    coop_id     uuid NOT NULL REFERENCES tussock.coop,
    id          uuid NOT NULL DEFAULT gen_random_uuid(),
    season      integer NOT NULL CHECK (season BETWEEN 1900 AND 2200),
    kind        text NOT NULL CHECK (kind IN ('preview', 'publish')),
    state       text NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'working', 'done', 'failed')),
    ordered_by  uuid NOT NULL,
    ordered_at  timestamptz NOT NULL,
    finished_at timestamptz,
    note        text NOT NULL DEFAULT '',
    PRIMARY KEY (coop_id, id),
    CONSTRAINT press_order_person_fkey FOREIGN KEY (coop_id, ordered_by) REFERENCES tussock.person
);
CREATE INDEX press_order_waiting ON tussock.press_order (ordered_at) WHERE state IN ('waiting', 'working');

-- What would be published and what held, and why, for the coordinator: without a single figure.
CREATE TABLE tussock.press_preview (
    coop_id      uuid NOT NULL,
    order_id     uuid NOT NULL,
    row          integer NOT NULL,
    season       integer NOT NULL,
    area         text,
    substrate    text,
    measure      text NOT NULL,
    predator     text NOT NULL,
    published    boolean NOT NULL,
    entities     text NOT NULL,
    held_because text NOT NULL,
    PRIMARY KEY (coop_id, order_id, row),
    CONSTRAINT press_preview_order_fkey FOREIGN KEY (coop_id, order_id) REFERENCES tussock.press_order ON DELETE CASCADE
);

-- The frozen publications. Nobody but the owner may change or delete a row; no column names a ranch.
CREATE TABLE pub.bulletin (
    coop_id      uuid NOT NULL REFERENCES tussock.coop,
    season       integer NOT NULL,
    number       integer NOT NULL,
    published_at timestamptz NOT NULL,
    hash         text NOT NULL,
    CONSTRAINT bulletin_pkey PRIMARY KEY (coop_id, season),
    CONSTRAINT bulletin_number_key UNIQUE (coop_id, number)
);

CREATE TABLE pub.cell (
    coop_id   uuid NOT NULL,
    season    integer NOT NULL,
    row       integer NOT NULL,
    area      text,
    substrate text,
    measure   text NOT NULL,
    predator  text NOT NULL,
    estimate  double precision,
    low       double precision,
    high      double precision,
    entities  text NOT NULL,
    n         integer NOT NULL CHECK (n >= 5), -- for the readers' gate alone: no role that serves pages may select it
    PRIMARY KEY (coop_id, season, row),
    CONSTRAINT cell_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin
);

CREATE TABLE pub.place (
    coop_id uuid NOT NULL,
    season  integer NOT NULL,
    area    text NOT NULL,
    label   text NOT NULL,
    PRIMARY KEY (coop_id, season, area),
    CONSTRAINT place_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin
);

-- Who is looking. The setting holds a session's token; only its hash is stored, and only these functions, which run
-- as the owner with a fixed search path, can find it. A forged or ended token is nobody. Policies call them as
-- (SELECT …), once a statement.
CREATE FUNCTION tussock.viewer() RETURNS TABLE (coop_id uuid, person_id uuid, role text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT p.coop_id, p.id, p.role
    FROM tussock.session s
    JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.person_id
    WHERE s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND s.closed_at IS NULL AND p.left_at IS NULL
      AND now() < s.ends_at AND now() < s.seen_at + s.idle
$$;

CREATE FUNCTION tussock.my_coop() RETURNS uuid
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT coop_id FROM tussock.viewer()
$$;

CREATE FUNCTION tussock.my_person() RETURNS uuid
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT person_id FROM tussock.viewer()
$$;

CREATE FUNCTION tussock.my_role() RETURNS text
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT role FROM tussock.viewer()
$$;

-- The ranches whose rows the viewer may open now.
CREATE FUNCTION tussock.my_ranches() RETURNS uuid[]
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
    WHERE a.until IS NULL AND v.role IN ('landowner', 'hand')
$$;

-- Those of them that are the viewer's own: the only ones to consent for.
CREATE FUNCTION tussock.my_own_ranches() RETURNS uuid[]
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
    WHERE a.until IS NULL AND a.kind = 'owner' AND v.role = 'landowner'
$$;

-- The people who are or were on those ranches: their names stand beside what they sent.
CREATE FUNCTION tussock.my_people() RETURNS uuid[]
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(array_agg(DISTINCT a.person_id), '{}')
    FROM tussock.assignment a
    WHERE a.coop_id = tussock.my_coop() AND a.ranch_id = ANY (tussock.my_ranches())
$$;

-- The entities behind those ranches.
CREATE FUNCTION tussock.my_entities() RETURNS uuid[]
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(array_agg(DISTINCT r.entity_id), '{}')
    FROM tussock.ranch r
    WHERE r.coop_id = tussock.my_coop() AND r.id = ANY (tussock.my_ranches())
$$;

-- The smallest number of entities behind a published cell that the viewer may see; NULL for those who see none.
CREATE FUNCTION tussock.my_least() RETURNS integer
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT CASE WHEN role IN ('landowner', 'coordinator') THEN 5 WHEN role IN ('biologist', 'planner') THEN 10 END
    FROM tussock.viewer()
$$;

-- The number of entities whose own results the viewer can open or ever could, in any role.
CREATE FUNCTION tussock.my_known() RETURNS integer
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT count(DISTINCT e.id)::integer
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    CROSS JOIN LATERAL (VALUES (a.entity_id), (r.entity_id)) e (id)
$$;

-- Everything about the viewer in one row, and a note that the session is in use.
CREATE FUNCTION tussock.whoami() RETURNS TABLE (coop_id uuid, person_id uuid, name text, role text, ranches uuid[], known integer)
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH touched AS (
        UPDATE tussock.session s SET seen_at = now()
        FROM tussock.viewer() v
        WHERE s.coop_id = v.coop_id
          AND s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
          AND now() - s.seen_at > least(interval '5 minutes', s.idle / 10)
        RETURNING s.coop_id, s.person_id
    ), seen AS (
        UPDATE tussock.person p SET seen_at = now() FROM touched t WHERE p.coop_id = t.coop_id AND p.id = t.person_id
    )
    SELECT p.coop_id, p.id, p.name, p.role, tussock.my_ranches(), tussock.my_known()
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
$$;

CREATE FUNCTION tussock.close_session() RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.session SET closed_at = now()
    WHERE token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')) AND closed_at IS NULL
$$;

CREATE FUNCTION tussock.close_my_sessions(but_this boolean) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL
      AND NOT (but_this AND s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')))
$$;

-- The door: what happens before there is a viewer. Only tussock_door may call these, over connections that no page's
-- statement runs on: somebody who slips a statement of their own into a page cannot let themselves in.
CREATE FUNCTION tussock.credentials(address text) RETURNS TABLE (coop_id uuid, person_id uuid, coop_name text, password_hash text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT a.coop_id, a.person_id, c.name, a.password_hash
    FROM tussock.account a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.coop c ON c.coop_id = a.coop_id
    WHERE a.email = lower(address) AND p.left_at IS NULL
    ORDER BY p.joined_at
$$;

-- +goose StatementBegin
CREATE FUNCTION tussock.open_session(coop uuid, person uuid, hash bytea, unused interval, longest interval, called text)
RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    DELETE FROM tussock.session s
    WHERE s.coop_id = coop AND s.person_id = person
      AND (s.closed_at < now() - interval '30 days' OR s.ends_at < now() - interval '30 days');
    UPDATE tussock.person p SET seen_at = now() WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL;
    WITH opened AS (
        INSERT INTO tussock.session (coop_id, token_hash, person_id, idle, ends_at, agent)
        SELECT p.coop_id, hash, p.id, unused, now() + longest, left(called, 200)
        FROM tussock.person p
        WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM opened)
$$;
-- +goose StatementEnd

CREATE FUNCTION tussock.invitation_of(hash bytea)
RETURNS TABLE (id uuid, coop_name text, role text, name text, email text, ranch_names text[], inviter text,
               created_at timestamptz, expires_at timestamptz, state text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT i.id, c.name, i.role, i.name, i.email,
           ARRAY(SELECT r.name FROM tussock.ranch r WHERE r.coop_id = i.coop_id AND r.id = ANY (i.ranches) ORDER BY r.name),
           coalesce(p.name, ''), i.created_at, i.expires_at,
           CASE WHEN i.used_at IS NOT NULL THEN 'used' WHEN i.revoked_at IS NOT NULL THEN 'revoked'
                WHEN i.expires_at <= now() THEN 'expired' ELSE 'open' END
    FROM tussock.invitation i
    JOIN tussock.coop c ON c.coop_id = i.coop_id
    LEFT JOIN tussock.person p ON p.coop_id = i.coop_id AND p.id = i.invited_by
    WHERE i.token_hash = hash
$$;

-- Uses an invitation up and makes the person, the account and the assignments in one go; no row where it is not open.
-- +goose StatementBegin
CREATE FUNCTION tussock.accept_invitation(hash bytea, called text, address text, telephone text, secret text)
RETURNS TABLE (coop_id uuid, person_id uuid, coop_name text)
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH used AS (
        UPDATE tussock.invitation i SET used_at = now()
        WHERE i.token_hash = hash AND i.used_at IS NULL AND i.revoked_at IS NULL AND now() < i.expires_at
        RETURNING i.*
    ), joined AS (
        INSERT INTO tussock.person (coop_id, name, role) SELECT u.coop_id, called, u.role FROM used u
        RETURNING person.coop_id, person.id
    ), secured AS (
        INSERT INTO tussock.account (coop_id, person_id, email, phone, password_hash)
        SELECT j.coop_id, j.id, lower(coalesce(nullif(u.email, ''), address)), telephone, secret
        FROM used u JOIN joined j ON j.coop_id = u.coop_id
    ), assigned AS (
        INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind)
        SELECT j.coop_id, j.id, r.id, r.entity_id, CASE u.role WHEN 'landowner' THEN 'owner' ELSE 'hand' END
        FROM used u
        JOIN joined j ON j.coop_id = u.coop_id
        JOIN tussock.ranch r ON r.coop_id = u.coop_id AND r.id = ANY (u.ranches)
        WHERE u.role IN ('landowner', 'hand')
    )
    SELECT j.coop_id, j.id, c.name FROM joined j JOIN tussock.coop c ON c.coop_id = j.coop_id
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION tussock.my_coop(), tussock.my_person(), tussock.my_role(), tussock.my_ranches(),
    tussock.my_own_ranches(), tussock.my_people(), tussock.my_entities(), tussock.my_least(), tussock.my_known(),
    tussock.whoami(), tussock.close_session(), tussock.close_my_sessions(boolean) TO tussock_app;
GRANT EXECUTE ON FUNCTION tussock.credentials(text), tussock.open_session(uuid, uuid, bytea, interval, interval, text),
    tussock.invitation_of(bytea), tussock.accept_invitation(bytea, text, text, text, text) TO tussock_door;

-- Every table: policies on and forced, the owner sees all (backups and the functions above), and no policy to come can
-- widen the application's view beyond the viewer's own cooperative.
-- +goose StatementBegin
DO $$
DECLARE t regclass;
BEGIN
    FOR t IN SELECT c.oid FROM pg_class c WHERE c.relkind = 'r' AND c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
    LOOP
        EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON %s TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON %s AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd

-- The application. Policies name who, grants name what.
GRANT SELECT, UPDATE (name) ON tussock.coop TO tussock_app;
CREATE POLICY member ON tussock.coop FOR SELECT TO tussock_app USING (true); -- within "tenant"
CREATE POLICY coordinator ON tussock.coop FOR UPDATE TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT, UPDATE (left_at) ON tussock.person TO tussock_app;
CREATE POLICY self ON tussock.person FOR SELECT TO tussock_app USING (id = (SELECT tussock.my_person()));
CREATE POLICY ranch ON tussock.person FOR SELECT TO tussock_app USING (id = ANY ((SELECT tussock.my_people())::uuid[]));
CREATE POLICY coordinator ON tussock.person TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT (coop_id, person_id, email, phone), UPDATE (phone, password_hash) ON tussock.account TO tussock_app;
CREATE POLICY self ON tussock.account TO tussock_app USING (person_id = (SELECT tussock.my_person()));
CREATE POLICY coordinator ON tussock.account FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT, INSERT, UPDATE (name, group_name) ON tussock.area TO tussock_app;
CREATE POLICY member ON tussock.area FOR SELECT TO tussock_app USING (true);
CREATE POLICY coordinator ON tussock.area TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT, INSERT ON tussock.entity TO tussock_app;
CREATE POLICY own ON tussock.entity FOR SELECT TO tussock_app USING (id = ANY ((SELECT tussock.my_entities())::uuid[]));
CREATE POLICY coordinator ON tussock.entity TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT, INSERT, UPDATE (name, area_id, entity_id) ON tussock.ranch TO tussock_app;
CREATE POLICY own ON tussock.ranch FOR SELECT TO tussock_app USING (id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY coordinator ON tussock.ranch TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

-- The coordinator assigns; the ranch's owner sees it and may end it.
GRANT SELECT, INSERT, UPDATE (until) ON tussock.assignment TO tussock_app;
CREATE POLICY self ON tussock.assignment FOR SELECT TO tussock_app USING (person_id = (SELECT tussock.my_person()));
CREATE POLICY own ON tussock.assignment FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY own_end ON tussock.assignment FOR UPDATE TO tussock_app
    USING (kind = 'hand' AND ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));
CREATE POLICY coordinator ON tussock.assignment TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT, INSERT ON tussock.consent TO tussock_app;
CREATE POLICY own ON tussock.consent FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY coordinator ON tussock.consent FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY give ON tussock.consent FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND given_by = (SELECT tussock.my_person()));

GRANT SELECT (coop_id, id, role, name, email, ranches, invited_by, created_at, expires_at, used_at, revoked_at),
    INSERT, UPDATE (revoked_at) ON tussock.invitation TO tussock_app;
CREATE POLICY coordinator ON tussock.invitation TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator')
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator' AND invited_by = (SELECT tussock.my_person()));

GRANT SELECT, INSERT, DELETE, UPDATE (season, state, open_count, open_kinds) ON tussock.upload TO tussock_app;
CREATE POLICY own ON tussock.upload FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY own_send ON tussock.upload FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND sent_by = (SELECT tussock.my_person()));
CREATE POLICY own_change ON tussock.upload FOR UPDATE TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY withdraw ON tussock.upload FOR DELETE TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));
CREATE POLICY coordinator ON tussock.upload FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT, INSERT ON tussock.upload_file TO tussock_app;
GRANT SELECT, INSERT, UPDATE (nests, belts, refused, answers, undone, settings) ON tussock.reading TO tussock_app;
GRANT SELECT, INSERT, UPDATE (meaning) ON tussock.word TO tussock_app;
GRANT SELECT, INSERT, DELETE ON tussock.nest, tussock.belt, tussock.site TO tussock_app;
CREATE POLICY own ON tussock.upload_file TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY own ON tussock.reading TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY own ON tussock.word TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY own ON tussock.nest TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY own ON tussock.belt TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY own ON tussock.site TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));

GRANT SELECT, INSERT ON tussock.view_log TO tussock_app;
CREATE POLICY self ON tussock.view_log FOR SELECT TO tussock_app USING (person_id = (SELECT tussock.my_person()));
CREATE POLICY own ON tussock.view_log FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));
CREATE POLICY look ON tussock.view_log FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND person_id = (SELECT tussock.my_person()));

GRANT SELECT, INSERT ON tussock.press_order TO tussock_app;
GRANT SELECT ON tussock.press_preview TO tussock_app;
CREATE POLICY coordinator ON tussock.press_order TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator')
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator' AND ordered_by = (SELECT tussock.my_person()) AND state = 'waiting');
CREATE POLICY coordinator ON tussock.press_preview FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT ON pub.bulletin, pub.place TO tussock_app;
GRANT SELECT (coop_id, season, row, area, substrate, measure, predator, estimate, low, high, entities) ON pub.cell TO tussock_app;
CREATE POLICY reader ON pub.bulletin FOR SELECT TO tussock_app USING ((SELECT tussock.my_least()) IS NOT NULL);
CREATE POLICY reader ON pub.place FOR SELECT TO tussock_app USING ((SELECT tussock.my_least()) IS NOT NULL);
CREATE POLICY reader ON pub.cell FOR SELECT TO tussock_app
    USING (n >= (SELECT tussock.my_least()) AND n - (SELECT tussock.my_known()) >= 4);

-- The press: reads what figures are made of, not who sent it nor how to walk there; adds, never changes.
GRANT SELECT ON tussock.coop, tussock.area, tussock.entity, tussock.ranch, tussock.consent, tussock.belt, tussock.site TO tussock_press;
GRANT SELECT (coop_id, ranch_id, id, season, sent_at, state) ON tussock.upload TO tussock_press;
GRANT SELECT (coop_id, ranch_id, upload_id, row, site, season, transect, number, substrate, plant, set_on, visit_on, visit_state,
    bits, bits_far, heaps, opened_at, bite_way, holes, inside, ground, bowl, trace, guess, camera, eggs_left) ON tussock.nest TO tussock_press;
GRANT SELECT, UPDATE (state, finished_at, note) ON tussock.press_order TO tussock_press;
GRANT SELECT, INSERT ON tussock.press_preview, pub.bulletin, pub.cell, pub.place TO tussock_press;
-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['coop', 'area', 'entity', 'ranch', 'consent', 'upload', 'nest', 'belt', 'site'] LOOP
        EXECUTE format('CREATE POLICY press ON tussock.%I FOR SELECT TO tussock_press USING (true)', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['tussock.press_preview', 'pub.bulletin', 'pub.cell', 'pub.place'] LOOP
        EXECUTE format('CREATE POLICY press ON %s FOR SELECT TO tussock_press USING (true)', t);
        EXECUTE format('CREATE POLICY press_add ON %s FOR INSERT TO tussock_press WITH CHECK (true)', t);
    END LOOP;
    EXECUTE 'CREATE POLICY press ON tussock.press_order TO tussock_press USING (true)';
END
$$;
-- +goose StatementEnd
