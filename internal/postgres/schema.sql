-- What the migrations make, as PostgreSQL lists it. Written by: go test ./internal/postgres -run TestSchema -update

TABLE pub.bulletin ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    number integer NOT NULL
    published_at timestamp with time zone
    hash text NOT NULL
    version text NOT NULL DEFAULT ''::text
    composed_at timestamp with time zone NOT NULL DEFAULT now()
    covers text[] NOT NULL DEFAULT '{}'::text[]
    held integer NOT NULL DEFAULT 0
    key_version integer NOT NULL DEFAULT 0
    key_source text NOT NULL DEFAULT ''::text
    key_counted boolean NOT NULL DEFAULT false
    first_check integer NOT NULL DEFAULT 14
    last_check integer NOT NULL DEFAULT 28
    CONSTRAINT bulletin_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT bulletin_pkey PRIMARY KEY (coop_id, season)
    CONSTRAINT bulletin_number_key UNIQUE (coop_id, number)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY reader FOR SELECT TO tussock_app USING ((( SELECT tussock.my_least() AS my_least) IS NOT NULL) AND ((published_at IS NOT NULL) OR (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT INSERT TO tussock_press
    GRANT SELECT TO tussock_press
TABLE pub.cell ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    row integer NOT NULL
    area text
    substrate text
    measure text NOT NULL
    predator text NOT NULL
    estimate double precision
    low double precision
    high double precision
    entities text NOT NULL
    n integer NOT NULL
    edition smallint NOT NULL DEFAULT 1
    nests integer
    transects integer
    belts integer
    clumps double precision
    CONSTRAINT cell_counts_check CHECK (((COALESCE(nests, transects, belts) IS NULL) OR ((n >= 10) AND ((COALESCE(nests, 0) % 10) = 0) AND ((COALESCE(transects, 0) % 10) = 0) AND ((COALESCE(belts, 0) % 10) = 0))))
    CONSTRAINT cell_edition_check CHECK ((edition = ANY (ARRAY[1, 2])))
    CONSTRAINT cell_n_check CHECK ((n >= 5))
    CONSTRAINT cell_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin(coop_id, season)
    CONSTRAINT cell_pkey PRIMARY KEY (coop_id, season, edition, "row")
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY reader FOR SELECT TO tussock_app USING ((n >= ( SELECT tussock.my_least() AS my_least)) AND ((n - ( SELECT tussock.my_known() AS my_known)) >= 4))
    POLICY stands RESTRICTIVE FOR SELECT TO tussock_app USING (
CASE edition
    WHEN 1 THEN (EXISTS ( SELECT 1
       FROM pub.bulletin b
      WHERE ((b.coop_id = cell.coop_id) AND (b.season = cell.season))))
    ELSE (EXISTS ( SELECT 1
       FROM pub.revision v
      WHERE ((v.coop_id = cell.coop_id) AND (v.season = cell.season) AND (v.edition = cell.edition))))
END AND (NOT (EXISTS ( SELECT 1
   FROM pub.revision v
  WHERE ((v.coop_id = cell.coop_id) AND (v.season = cell.season) AND (v.edition > cell.edition) AND (v.published_at IS NOT NULL))))) AND (NOT (EXISTS ( SELECT 1
   FROM pub.retraction x
  WHERE ((x.coop_id = cell.coop_id) AND (x.season = cell.season) AND (x.edition = cell.edition) AND (x."row" = cell."row"))))))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT (coop_id, season, row, area, substrate, measure, predator, estimate, low, high, entities, edition, nests, transects, belts, clumps) TO tussock_app
    GRANT INSERT TO tussock_press
    GRANT SELECT TO tussock_press
TABLE pub.place ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    area text NOT NULL
    label text NOT NULL
    CONSTRAINT place_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin(coop_id, season)
    CONSTRAINT place_pkey PRIMARY KEY (coop_id, season, area)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY reader FOR SELECT TO tussock_app USING ((( SELECT tussock.my_least() AS my_least) IS NOT NULL) AND (EXISTS ( SELECT 1
   FROM pub.bulletin b
  WHERE ((b.coop_id = place.coop_id) AND (b.season = place.season)))))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT INSERT TO tussock_press
    GRANT SELECT TO tussock_press
TABLE pub.retraction ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    edition smallint NOT NULL
    row integer NOT NULL
    retracted_at timestamp with time zone NOT NULL
    retracted_by uuid NOT NULL
    area text
    substrate text
    measure text NOT NULL
    predator text NOT NULL
    n integer NOT NULL
    clumps double precision
    CONSTRAINT retraction_cell_fkey FOREIGN KEY (coop_id, season, edition, "row") REFERENCES pub.cell(coop_id, season, edition, "row")
    CONSTRAINT retraction_pkey PRIMARY KEY (coop_id, season, edition, "row")
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY reader FOR SELECT TO tussock_app USING ((n >= ( SELECT tussock.my_least() AS my_least)) AND ((n - ( SELECT tussock.my_known() AS my_known)) >= 4))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT (coop_id, season, edition, row, retracted_at, area, substrate, measure, predator, clumps) TO tussock_app
    GRANT SELECT TO tussock_press
TABLE pub.revision ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    edition smallint NOT NULL
    published_at timestamp with time zone
    hash text NOT NULL
    version text NOT NULL DEFAULT ''::text
    composed_at timestamp with time zone NOT NULL DEFAULT now()
    held integer NOT NULL DEFAULT 0
    CONSTRAINT revision_edition_check CHECK ((edition = 2))
    CONSTRAINT revision_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin(coop_id, season)
    CONSTRAINT revision_pkey PRIMARY KEY (coop_id, season, edition)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY reader FOR SELECT TO tussock_app USING ((( SELECT tussock.my_least() AS my_least) IS NOT NULL) AND ((published_at IS NOT NULL) OR (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT INSERT TO tussock_press
    GRANT SELECT TO tussock_press
TABLE tussock.account ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    email text NOT NULL
    phone text NOT NULL DEFAULT ''::text
    password_hash text NOT NULL
    CONSTRAINT account_email_check CHECK (((email = lower(email)) AND (email ~~ '%_@_%'::text)))
    CONSTRAINT account_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT account_pkey PRIMARY KEY (coop_id, person_id)
    CONSTRAINT account_email_key UNIQUE (coop_id, email)
    CREATE INDEX account_email ON tussock.account USING btree (email)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT (coop_id, person_id, email, phone) TO tussock_app
    GRANT UPDATE (phone, password_hash) TO tussock_app
TABLE tussock.alarm ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    person_id uuid NOT NULL
    span text NOT NULL
    rung_at timestamp with time zone NOT NULL
    ranches uuid[] NOT NULL
    told_at timestamp with time zone
    told uuid[] NOT NULL DEFAULT '{}'::uuid[]
    own boolean NOT NULL DEFAULT false
    CONSTRAINT alarm_span_check CHECK ((span = ANY (ARRAY['hour'::text, 'day'::text])))
    CONSTRAINT alarm_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT alarm_pkey PRIMARY KEY (coop_id, id)
    CREATE INDEX alarm_person ON tussock.alarm USING btree (coop_id, person_id, rung_at)
    POLICY coordinator FOR SELECT TO tussock_app USING ((NOT own) AND (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text))
    POLICY own FOR SELECT TO tussock_app USING (ranches && ( SELECT tussock.my_own_ranches() AS my_own_ranches))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT (coop_id, id, person_id, span, rung_at, ranches, own) TO tussock_app
TABLE tussock.api_token ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    token_hash bytea NOT NULL
    name text NOT NULL
    made_at timestamp with time zone NOT NULL DEFAULT now()
    used_at timestamp with time zone
    expires_at timestamp with time zone NOT NULL
    revoked_at timestamp with time zone
    CONSTRAINT api_token_expires_check CHECK (((expires_at > made_at) AND (expires_at <= (made_at + '1 year'::interval))))
    CONSTRAINT api_token_name_check CHECK (((name <> ''::text) AND (length(name) <= 80)))
    CONSTRAINT api_token_token_hash_check CHECK ((length(token_hash) = 32))
    CONSTRAINT api_token_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT api_token_pkey PRIMARY KEY (coop_id, person_id, id)
    CREATE INDEX api_token_handle ON tussock.api_token USING btree (encode(sha256(token_hash), 'hex'::text))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person)) WITH CHECK ((person_id = ( SELECT tussock.my_person() AS my_person)) AND (( SELECT tussock.my_least() AS my_least) IS NOT NULL))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT (coop_id, person_id, id, name, made_at, used_at, expires_at, revoked_at) TO tussock_app
    GRANT UPDATE (revoked_at) TO tussock_app
TABLE tussock.approval ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    edition smallint NOT NULL
    person_id uuid NOT NULL
    yes boolean NOT NULL
    said_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT approval_edition_fkey FOREIGN KEY (coop_id, season, edition) REFERENCES tussock.edition(coop_id, season, edition)
    CONSTRAINT approval_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT approval_pkey PRIMARY KEY (coop_id, season, edition, person_id)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
TABLE tussock.area ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    group_name text NOT NULL DEFAULT ''::text
    CONSTRAINT area_name_check CHECK ((name <> ''::text))
    CONSTRAINT area_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT area_pkey PRIMARY KEY (coop_id, id)
    CONSTRAINT area_name_key UNIQUE (coop_id, name)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY member FOR SELECT TO tussock_app USING true
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (name, group_name) TO tussock_app
TABLE tussock.area_shape ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    area_id uuid NOT NULL
    shape jsonb NOT NULL
    CONSTRAINT area_shape_area_fkey FOREIGN KEY (coop_id, area_id) REFERENCES tussock.area(coop_id, id)
    CONSTRAINT area_shape_pkey PRIMARY KEY (coop_id, area_id)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY reader FOR SELECT TO tussock_app USING (( SELECT tussock.my_least() AS my_least) IS NOT NULL)
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.assignment ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    ranch_id uuid NOT NULL
    entity_id uuid NOT NULL
    kind text NOT NULL
    since timestamp with time zone NOT NULL DEFAULT now()
    until timestamp with time zone
    confirmed_at timestamp with time zone
    confirmed_by uuid
    ended_by uuid
    let_in_at timestamp with time zone
    let_in_by uuid
    placed_by uuid
    CONSTRAINT assignment_kind_check CHECK ((kind = ANY (ARRAY['owner'::text, 'hand'::text])))
    CONSTRAINT assignment_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity(coop_id, id)
    CONSTRAINT assignment_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT assignment_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT assignment_pkey PRIMARY KEY (coop_id, person_id, ranch_id, since)
    CREATE INDEX assignment_ranch ON tussock.assignment USING btree (coop_id, ranch_id)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY coordinator_add FOR INSERT TO tussock_app WITH CHECK (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY coordinator_end FOR UPDATE TO tussock_app USING ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND ((confirmed_at IS NULL) OR ((kind = 'hand'::text) AND (NOT tussock.has_owner(ranch_id))))) WITH CHECK (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_decline FOR UPDATE TO tussock_app USING ((confirmed_at IS NULL) AND (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])))
    POLICY own_end FOR UPDATE TO tussock_app USING ((kind = 'hand'::text) AND (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, person_id, ranch_id, entity_id, kind) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (until) TO tussock_app
TABLE tussock.belt ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    row integer NOT NULL
    site text
    season integer NOT NULL
    transect text NOT NULL
    length_ft double precision NOT NULL
    width_ft double precision NOT NULL
    counts jsonb NOT NULL
    from_sheet text
    from_row integer
    CONSTRAINT belt_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT belt_pkey PRIMARY KEY (coop_id, ranch_id, upload_id, "row")
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY shared FOR SELECT TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_opened_ranches() AS my_opened_ranches)::uuid[])) AND (EXISTS ( SELECT 1
   FROM tussock.upload u
  WHERE ((u.coop_id = belt.coop_id) AND (u.ranch_id = belt.ranch_id) AND (u.id = belt.upload_id) AND (u.state = 'current'::text) AND (u.rank > 0)))))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT DELETE TO tussock_clerk
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
TABLE tussock.browser ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    device_hash bytea NOT NULL
    CONSTRAINT browser_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT browser_pkey PRIMARY KEY (coop_id, person_id, device_hash)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.calendar ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    token_hash bytea NOT NULL
    named boolean NOT NULL
    language text NOT NULL
    made_at timestamp with time zone NOT NULL DEFAULT now()
    used_at timestamp with time zone
    revoked_at timestamp with time zone
    CONSTRAINT calendar_language_check CHECK ((language = ANY (ARRAY['en'::text, 'es'::text])))
    CONSTRAINT calendar_token_hash_check CHECK ((length(token_hash) = 32))
    CONSTRAINT calendar_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT calendar_pkey PRIMARY KEY (coop_id, person_id, id)
    CREATE INDEX calendar_token ON tussock.calendar USING btree (token_hash)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY self_add FOR INSERT TO tussock_app WITH CHECK ((person_id = ( SELECT tussock.my_person() AS my_person)) AND (( SELECT tussock.my_role() AS my_role) = ANY (ARRAY['landowner'::text, 'hand'::text])))
    POLICY self_end FOR UPDATE TO tussock_app USING ((person_id = ( SELECT tussock.my_person() AS my_person)) AND (revoked_at IS NULL)) WITH CHECK ((person_id = ( SELECT tussock.my_person() AS my_person)) AND (revoked_at IS NOT NULL))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, person_id, token_hash, named, language) TO tussock_app
    GRANT SELECT (coop_id, person_id, id, named, language, made_at, used_at, revoked_at) TO tussock_app
    GRANT UPDATE (revoked_at) TO tussock_app
TABLE tussock.code_secret ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    secret bytea NOT NULL
    made_at timestamp with time zone NOT NULL DEFAULT now()
    on_since timestamp with time zone
    last_step bigint NOT NULL DEFAULT 0
    tries integer NOT NULL DEFAULT 0
    tried_at timestamp with time zone
    CONSTRAINT code_secret_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT code_secret_pkey PRIMARY KEY (coop_id, person_id)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, person_id, secret) TO tussock_app
    GRANT SELECT (coop_id, person_id, made_at, on_since) TO tussock_app
TABLE tussock.consent ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    level smallint NOT NULL
    given_by uuid NOT NULL
    given_at timestamp with time zone NOT NULL DEFAULT clock_timestamp()
    seq integer NOT NULL
    paper boolean NOT NULL DEFAULT false
    closing boolean NOT NULL DEFAULT false
    over boolean NOT NULL DEFAULT false
    CONSTRAINT consent_level_check CHECK ((level = ANY (ARRAY[0, 1])))
    CONSTRAINT consent_person_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT consent_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT consent_pkey PRIMARY KEY (coop_id, ranch_id, seq)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY give FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (given_by = ( SELECT tussock.my_person() AS my_person)) AND (NOT paper))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY paper FOR INSERT TO tussock_app WITH CHECK (paper AND (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (given_by = ( SELECT tussock.my_person() AS my_person)) AND (NOT (EXISTS ( SELECT 1
   FROM tussock.assignment a
  WHERE ((a.coop_id = consent.coop_id) AND (a.ranch_id = consent.ranch_id) AND (a.kind = 'owner'::text) AND (a.confirmed_at IS NOT NULL))))))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, level, given_by, paper) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.coop ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    created_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT coop_name_check CHECK ((name <> ''::text))
    CONSTRAINT coop_pkey PRIMARY KEY (coop_id)
    POLICY coordinator FOR UPDATE TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY member FOR SELECT TO tussock_app USING true
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT UPDATE (name) TO tussock_app
TABLE tussock.denial ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    day date NOT NULL
    kind text NOT NULL
    part text NOT NULL
    times integer NOT NULL DEFAULT 1
    CONSTRAINT denial_kind_check CHECK ((length(kind) <= 40))
    CONSTRAINT denial_part_check CHECK ((length(part) <= 20))
    CONSTRAINT denial_pkey PRIMARY KEY (coop_id, day, kind, part)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
TABLE tussock.departure ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    kind text NOT NULL
    ranch_id uuid
    person_id uuid NOT NULL
    with_rows boolean NOT NULL DEFAULT false
    heir text NOT NULL DEFAULT ''::text
    asked_at timestamp with time zone NOT NULL DEFAULT now()
    due_at timestamp with time zone NOT NULL DEFAULT (now() + '14 days'::interval)
    agreed_at timestamp with time zone
    agreed_by uuid
    called_off_at timestamp with time zone
    called_off_by uuid
    done_at timestamp with time zone
    whom uuid
    owners_yes uuid[] NOT NULL DEFAULT '{}'::uuid[]
    CONSTRAINT departure_address_check CHECK (((kind <> 'hand over'::text) OR (done_at IS NOT NULL) OR (called_off_at IS NOT NULL) OR ((heir = lower(heir)) AND (heir ~~ '%_@_%'::text))))
    CONSTRAINT departure_heir_check CHECK (((kind = 'hand over'::text) OR ((heir = ''::text) AND (NOT with_rows))))
    CONSTRAINT departure_kind_check CHECK ((kind = ANY (ARRAY['leave'::text, 'erase'::text, 'hand over'::text, 'take off'::text])))
    CONSTRAINT departure_ranch_check CHECK (((kind = 'leave'::text) = (ranch_id IS NULL)))
    CONSTRAINT departure_whom_check CHECK ((((kind = 'take off'::text) = (whom IS NOT NULL)) AND (whom <> person_id)))
    CONSTRAINT departure_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT departure_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT departure_whom_fkey FOREIGN KEY (coop_id, whom) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT departure_pkey PRIMARY KEY (coop_id, id)
    CREATE INDEX departure_due ON tussock.departure USING btree (due_at) WHERE ((done_at IS NULL) AND (called_off_at IS NULL))
    CREATE UNIQUE INDEX departure_owner ON tussock.departure USING btree (coop_id, ranch_id, whom, person_id) WHERE ((done_at IS NULL) AND (called_off_at IS NULL) AND (kind = 'take off'::text))
    CREATE UNIQUE INDEX departure_person ON tussock.departure USING btree (coop_id, person_id) WHERE ((done_at IS NULL) AND (called_off_at IS NULL) AND (kind = 'leave'::text))
    CREATE UNIQUE INDEX departure_ranch ON tussock.departure USING btree (coop_id, ranch_id, kind) WHERE ((done_at IS NULL) AND (called_off_at IS NULL) AND (kind = ANY (ARRAY['erase'::text, 'hand over'::text])))
    POLICY ask FOR INSERT TO tussock_app WITH CHECK ((person_id = ( SELECT tussock.my_person() AS my_person)) AND
CASE kind
    WHEN 'take off'::text THEN tussock.may_be_asked_off(ranch_id, whom)
    ELSE ((( SELECT tussock.my_role() AS my_role) = 'landowner'::text) AND ((ranch_id IS NULL) OR (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))))
END)
    POLICY call_off FOR UPDATE TO tussock_app USING ((done_at IS NULL) AND (called_off_at IS NULL) AND ((person_id = ( SELECT tussock.my_person() AS my_person)) OR ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND ((kind <> 'take off'::text) OR (NOT tussock.my_fellow(ranch_id, person_id)))))) WITH CHECK ((called_off_at IS NOT NULL) AND (called_off_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, kind, ranch_id, person_id, with_rows, heir, whom) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (called_off_at, called_off_by) TO tussock_app
TABLE tussock.device ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    device_hash bytea NOT NULL
    seen_at timestamp with time zone NOT NULL DEFAULT now()
    id uuid NOT NULL DEFAULT gen_random_uuid()
    agent text NOT NULL DEFAULT ''::text
    trusted_at timestamp with time zone
    trusted_until timestamp with time zone
    CONSTRAINT device_device_hash_check CHECK ((length(device_hash) = 32))
    CONSTRAINT device_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT device_pkey PRIMARY KEY (coop_id, person_id, device_hash)
    CONSTRAINT device_id_key UNIQUE (coop_id, person_id, id)
    CREATE INDEX device_hash ON tussock.device USING btree (device_hash)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT SELECT (coop_id, person_id, id, agent, trusted_at, trusted_until) TO tussock_app
TABLE tussock.edition ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    edition smallint NOT NULL
    cut_at timestamp with time zone NOT NULL DEFAULT now()
    on_roster integer NOT NULL
    sheets integer NOT NULL
    owners integer NOT NULL
    counted integer
    tries integer NOT NULL DEFAULT 0
    version text NOT NULL DEFAULT ''::text
    composed_at timestamp with time zone
    note text NOT NULL DEFAULT ''::text
    first_check integer NOT NULL DEFAULT 14
    last_check integer NOT NULL DEFAULT 28
    CONSTRAINT edition_edition_check CHECK ((edition = ANY (ARRAY[1, 2])))
    CONSTRAINT edition_season_fkey FOREIGN KEY (coop_id, season) REFERENCES tussock.season(coop_id, year)
    CONSTRAINT edition_pkey PRIMARY KEY (coop_id, season, edition)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT SELECT TO tussock_press
    GRANT UPDATE (composed_at, note) TO tussock_press
TABLE tussock.entity ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    folded text DEFAULT tussock.fold(name)
    CONSTRAINT entity_name_check CHECK ((name <> ''::text))
    CONSTRAINT entity_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT entity_pkey PRIMARY KEY (coop_id, id)
    CONSTRAINT entity_name_key UNIQUE (coop_id, name)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY own FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_entities() AS my_entities)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.field_link ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    token_hash bytea NOT NULL
    name text NOT NULL
    lines uuid[] NOT NULL
    from_on date NOT NULL
    through date NOT NULL
    made_by uuid NOT NULL
    made_at timestamp with time zone NOT NULL DEFAULT now()
    revoked_at timestamp with time zone
    CONSTRAINT field_link_lines_check CHECK (((cardinality(lines) >= 1) AND (cardinality(lines) <= 60)))
    CONSTRAINT field_link_name_check CHECK (((name <> ''::text) AND (length(name) <= 80)))
    CONSTRAINT field_link_through_check CHECK (((through >= from_on) AND (through <= (from_on + 400))))
    CONSTRAINT field_link_token_hash_check CHECK ((length(token_hash) = 32))
    CONSTRAINT field_link_person_fkey FOREIGN KEY (coop_id, made_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT field_link_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT field_link_pkey PRIMARY KEY (coop_id, ranch_id, id)
    CREATE INDEX field_link_token ON tussock.field_link USING btree (token_hash)
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY own_end FOR UPDATE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY own_make FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (made_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, id, token_hash, name, lines, from_on, through, made_by) TO tussock_app
    GRANT SELECT (coop_id, ranch_id, id, name, lines, from_on, through, made_by, made_at, revoked_at) TO tussock_app
    GRANT UPDATE (revoked_at) TO tussock_app
TABLE tussock.field_session ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    link_id uuid NOT NULL
    token_hash bytea NOT NULL
    agent text NOT NULL DEFAULT ''::text
    opened_at timestamp with time zone NOT NULL DEFAULT now()
    seen_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT field_session_token_hash_check CHECK ((length(token_hash) = 32))
    CONSTRAINT field_session_link_fkey FOREIGN KEY (coop_id, ranch_id, link_id) REFERENCES tussock.field_link(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT field_session_pkey PRIMARY KEY (coop_id, ranch_id, token_hash)
    CREATE INDEX field_session_handle ON tussock.field_session USING btree (encode(sha256(token_hash), 'hex'::text))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT (coop_id, ranch_id, link_id, agent, opened_at, seen_at) TO tussock_app
TABLE tussock.finding ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    method integer NOT NULL
    body bytea NOT NULL
    CONSTRAINT finding_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT finding_pkey PRIMARY KEY (coop_id, ranch_id, method)
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
TABLE tussock.gate_key ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    salt text NOT NULL DEFAULT ((gen_random_uuid())::text || (gen_random_uuid())::text)
    CONSTRAINT gate_key_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT gate_key_pkey PRIMARY KEY (coop_id)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_press
    GRANT SELECT TO tussock_press
TABLE tussock.gate_log ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    edition smallint NOT NULL
    log text NOT NULL
    CONSTRAINT gate_log_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin(coop_id, season)
    CONSTRAINT gate_log_pkey PRIMARY KEY (coop_id, season, edition)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_press
    GRANT SELECT TO tussock_press
TABLE tussock.introduction ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    asked_by uuid NOT NULL
    asked_at timestamp with time zone NOT NULL
    place text NOT NULL
    purpose text NOT NULL
    state text NOT NULL DEFAULT 'waiting'::text
    reply text NOT NULL DEFAULT ''::text
    answered_at timestamp with time zone
    CONSTRAINT introduction_purpose_check CHECK (((purpose <> ''::text) AND (length(purpose) <= 600)))
    CONSTRAINT introduction_reply_check CHECK ((length(reply) <= 600))
    CONSTRAINT introduction_state_check CHECK ((state = ANY (ARRAY['waiting'::text, 'passed on'::text, 'declined'::text])))
    CONSTRAINT introduction_person_fkey FOREIGN KEY (coop_id, asked_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT introduction_pkey PRIMARY KEY (coop_id, id)
    POLICY answer FOR UPDATE TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) WITH CHECK ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (state <> 'waiting'::text))
    POLICY ask FOR INSERT TO tussock_app WITH CHECK ((asked_by = ( SELECT tussock.my_person() AS my_person)) AND (( SELECT tussock.my_role() AS my_role) = 'planner'::text))
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING ((asked_by = ( SELECT tussock.my_person() AS my_person)) AND (( SELECT tussock.my_role() AS my_role) = 'planner'::text))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, id, asked_by, asked_at, place, purpose) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (state, reply, answered_at) TO tussock_app
TABLE tussock.invitation ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    token_hash bytea NOT NULL
    role text NOT NULL
    name text NOT NULL DEFAULT ''::text
    email text NOT NULL DEFAULT ''::text
    ranches uuid[] NOT NULL DEFAULT '{}'::uuid[]
    invited_by uuid
    created_at timestamp with time zone NOT NULL DEFAULT now()
    expires_at timestamp with time zone NOT NULL
    used_at timestamp with time zone
    revoked_at timestamp with time zone
    heir_of uuid
    let_in_by uuid
    taken smallint NOT NULL DEFAULT 0
    CONSTRAINT invitation_role_check CHECK ((role = ANY (ARRAY['coordinator'::text, 'landowner'::text, 'hand'::text, 'biologist'::text, 'planner'::text])))
    CONSTRAINT invitation_token_hash_check CHECK ((length(token_hash) = 32))
    CONSTRAINT invitation_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT invitation_person_fkey FOREIGN KEY (coop_id, invited_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT invitation_pkey PRIMARY KEY (coop_id, id)
    CREATE INDEX invitation_token ON tussock.invitation USING btree (token_hash)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) WITH CHECK ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (invited_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT (coop_id, id, role, name, email, ranches, invited_by, created_at, expires_at, used_at, revoked_at, heir_of, let_in_by) TO tussock_app
    GRANT UPDATE (revoked_at) TO tussock_app
TABLE tussock.key_again ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    line_id uuid NOT NULL
    person_id uuid NOT NULL
    rows integer NOT NULL
    differing integer NOT NULL
    keyed_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT key_again_check CHECK (((differing >= 0) AND (differing <= rows)))
    CONSTRAINT key_again_rows_check CHECK (((rows >= 1) AND (rows <= 500)))
    CONSTRAINT key_again_line_fkey FOREIGN KEY (coop_id, ranch_id, line_id) REFERENCES tussock.season_line(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT key_again_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT key_again_pkey PRIMARY KEY (coop_id, ranch_id, line_id, person_id, keyed_at)
    POLICY add FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, line_id, person_id, rows, differing) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.key_draft ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    line_id uuid NOT NULL
    person_id uuid NOT NULL
    boxes jsonb NOT NULL
    saved_at timestamp with time zone NOT NULL DEFAULT now()
    photos jsonb NOT NULL DEFAULT '[]'::jsonb
    CONSTRAINT key_draft_boxes_check CHECK (((jsonb_typeof(boxes) = 'object'::text) AND (length((boxes)::text) <= 60000)))
    CONSTRAINT key_draft_photos_check CHECK (((jsonb_typeof(photos) = 'array'::text) AND (length((photos)::text) <= 60000)))
    CONSTRAINT key_draft_line_fkey FOREIGN KEY (coop_id, ranch_id, line_id) REFERENCES tussock.season_line(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT key_draft_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT key_draft_pkey PRIMARY KEY (coop_id, ranch_id, line_id, person_id)
    POLICY add FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY drop FOR DELETE TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY mend FOR UPDATE TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person))) WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, ranch_id, line_id, person_id, boxes, photos) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (boxes, saved_at, photos) TO tussock_app
TABLE tussock.late_call ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    ranch_id uuid NOT NULL
    season integer NOT NULL
    called_by uuid NOT NULL
    called_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT late_call_person_fkey FOREIGN KEY (coop_id, called_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT late_call_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT late_call_pkey PRIMARY KEY (coop_id, id)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY coordinator_add FOR INSERT TO tussock_app WITH CHECK ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (called_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, season, called_by) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.look ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL
    season integer NOT NULL
    line_id uuid NOT NULL
    stop integer NOT NULL
    kind text NOT NULL
    who text NOT NULL
    device text NOT NULL
    seq integer NOT NULL
    at timestamp with time zone NOT NULL
    answers jsonb NOT NULL
    undoes uuid
    sent_by uuid
    received_at timestamp with time zone NOT NULL DEFAULT now()
    link_id uuid
    CONSTRAINT look_answers_check CHECK (((jsonb_typeof(answers) = 'object'::text) AND (length((answers)::text) <= 8000)))
    CONSTRAINT look_device_check CHECK ((length(device) <= 64))
    CONSTRAINT look_kind_check CHECK ((kind = ANY (ARRAY['set'::text, 'check'::text, 'belt'::text, 'pace'::text, 'close'::text, 'note'::text, 'undo'::text, 'choose'::text])))
    CONSTRAINT look_season_check CHECK (((season >= 1900) AND (season <= 2200)))
    CONSTRAINT look_seq_check CHECK ((seq >= 0))
    CONSTRAINT look_stop_check CHECK (((stop >= 0) AND (stop <= 500)))
    CONSTRAINT look_who_check CHECK ((length(who) <= 20))
    CONSTRAINT look_line_fkey FOREIGN KEY (coop_id, ranch_id, line_id) REFERENCES tussock.season_line(coop_id, ranch_id, id)
    CONSTRAINT look_link_fkey FOREIGN KEY (coop_id, ranch_id, link_id) REFERENCES tussock.field_link(coop_id, ranch_id, id)
    CONSTRAINT look_person_fkey FOREIGN KEY (coop_id, sent_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT look_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT look_pkey PRIMARY KEY (coop_id, ranch_id, id)
    CREATE INDEX look_link ON tussock.look USING btree (coop_id, ranch_id, link_id) WHERE (link_id IS NOT NULL)
    CREATE INDEX look_season ON tussock.look USING btree (coop_id, ranch_id, season)
    POLICY add FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (sent_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers, undoes, sent_by) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.name_word ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    person_id uuid NOT NULL
    name text NOT NULL
    yes boolean NOT NULL
    said_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT name_word_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT name_word_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT name_word_pkey PRIMARY KEY (coop_id, ranch_id, person_id, name)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.nest ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    row integer NOT NULL
    site text
    season integer NOT NULL
    transect text NOT NULL
    number text NOT NULL
    substrate text NOT NULL
    plant text
    set_on date
    visit_on date[] NOT NULL
    visit_state text[] NOT NULL
    bits text
    bits_far text
    heaps text
    opened_at text
    bite_way text
    holes text
    inside text
    ground text
    bowl text
    trace text
    guess text
    camera text
    eggs_left smallint
    steps text
    bearing text
    spot text
    notes text
    from_sheet text
    from_row integer
    visit_second text[]
    camera_on date
    CONSTRAINT nest_second_check CHECK (((visit_second IS NULL) OR (cardinality(visit_second) = cardinality(visit_on))))
    CONSTRAINT nest_visits_check CHECK ((cardinality(visit_on) = cardinality(visit_state)))
    CONSTRAINT nest_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT nest_pkey PRIMARY KEY (coop_id, ranch_id, upload_id, "row")
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT DELETE TO tussock_clerk
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
TABLE tussock.owner_letter ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    person_id uuid NOT NULL
    about text NOT NULL
    told_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT owner_letter_pkey PRIMARY KEY (coop_id, ranch_id, person_id, about)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.owner_vouch ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    ranch_id uuid NOT NULL
    since timestamp with time zone NOT NULL
    voucher_id uuid NOT NULL
    entity_id uuid NOT NULL
    given_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT owner_vouch_assignment_fkey FOREIGN KEY (coop_id, person_id, ranch_id, since) REFERENCES tussock.assignment(coop_id, person_id, ranch_id, since)
    CONSTRAINT owner_vouch_voucher_fkey FOREIGN KEY (coop_id, voucher_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT owner_vouch_pkey PRIMARY KEY (coop_id, person_id, ranch_id, since, voucher_id)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.passkey ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    key_id bytea NOT NULL
    credential jsonb NOT NULL
    name text NOT NULL
    made_at timestamp with time zone NOT NULL DEFAULT now()
    used_at timestamp with time zone
    CONSTRAINT passkey_name_check CHECK (((name <> ''::text) AND (length(name) <= 80)))
    CONSTRAINT passkey_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT passkey_pkey PRIMARY KEY (coop_id, person_id, id)
    CONSTRAINT passkey_key_key UNIQUE (coop_id, person_id, key_id)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, person_id, id, key_id, credential, name) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.person ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    role text NOT NULL
    joined_at timestamp with time zone NOT NULL DEFAULT now()
    left_at timestamp with time zone
    suspended_at timestamp with time zone
    invited_by uuid
    suspended_by uuid
    suspended_first timestamp with time zone
    suspension_kept_by uuid
    remove_asked_at timestamp with time zone
    remove_asked_by uuid
    heir_of uuid
    suspended_last_by uuid
    let_in_at timestamp with time zone
    invitation_id uuid
    folded text DEFAULT tussock.fold(name)
    CONSTRAINT person_name_check CHECK ((name <> ''::text))
    CONSTRAINT person_role_check CHECK ((role = ANY (ARRAY['coordinator'::text, 'landowner'::text, 'hand'::text, 'biologist'::text, 'planner'::text])))
    CONSTRAINT person_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT person_pkey PRIMARY KEY (coop_id, id)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY ranch FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_people() AS my_people)::uuid[]))
    POLICY runs FOR SELECT TO tussock_app USING ((role = 'coordinator'::text) AND (( SELECT tussock.my_role() AS my_role) = ANY (ARRAY['landowner'::text, 'hand'::text])) AND (( SELECT tussock.my_ranches() AS my_ranches) <> '{}'::uuid[]))
    POLICY self FOR SELECT TO tussock_app USING (id = ( SELECT tussock.my_person() AS my_person))
    POLICY sent_for_me FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_senders() AS my_senders)::uuid[]))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT UPDATE (left_at) TO tussock_app
TABLE tussock.photo ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL
    line_id uuid NOT NULL
    data bytea NOT NULL
    sent_by uuid
    received_at timestamp with time zone NOT NULL DEFAULT now()
    link_id uuid
    CONSTRAINT photo_data_check CHECK ((length(data) <= 400000))
    CONSTRAINT photo_line_fkey FOREIGN KEY (coop_id, ranch_id, line_id) REFERENCES tussock.season_line(coop_id, ranch_id, id)
    CONSTRAINT photo_link_fkey FOREIGN KEY (coop_id, ranch_id, link_id) REFERENCES tussock.field_link(coop_id, ranch_id, id)
    CONSTRAINT photo_person_fkey FOREIGN KEY (coop_id, sent_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT photo_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT photo_pkey PRIMARY KEY (coop_id, ranch_id, id)
    POLICY add FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (sent_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, id, line_id, data, sent_by) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.ranch ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    area_id uuid
    entity_id uuid NOT NULL
    erased_at timestamp with time zone
    CONSTRAINT ranch_name_check CHECK ((name <> ''::text))
    CONSTRAINT ranch_area_fkey FOREIGN KEY (coop_id, area_id) REFERENCES tussock.area(coop_id, id)
    CONSTRAINT ranch_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT ranch_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity(coop_id, id)
    CONSTRAINT ranch_pkey PRIMARY KEY (coop_id, id)
    CONSTRAINT ranch_name_key UNIQUE (coop_id, name)
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY own FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY shared FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_shared_ranches() AS my_shared_ranches)::uuid[]))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (name, area_id, entity_id) TO tussock_app
    GRANT SELECT (coop_id, id, name) TO tussock_clerk
TABLE tussock.readback ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    language text NOT NULL
    body bytea NOT NULL
    CONSTRAINT readback_language_check CHECK ((language = ANY (ARRAY['en'::text, 'es'::text])))
    CONSTRAINT readback_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT readback_pkey PRIMARY KEY (coop_id, ranch_id, upload_id, language)
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT DELETE TO tussock_clerk
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
    GRANT UPDATE (body) TO tussock_clerk
TABLE tussock.readback_part ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    part integer NOT NULL
    body bytea NOT NULL
    CONSTRAINT readback_part_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT readback_part_pkey PRIMARY KEY (coop_id, ranch_id, upload_id, part)
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT DELETE TO tussock_clerk
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
TABLE tussock.reading ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    nests integer NOT NULL
    belts integer NOT NULL
    refused integer NOT NULL
    answers jsonb NOT NULL DEFAULT '{}'::jsonb
    undone jsonb NOT NULL DEFAULT '[]'::jsonb
    settings jsonb NOT NULL DEFAULT '{}'::jsonb
    settled jsonb NOT NULL DEFAULT '[]'::jsonb
    answered text NOT NULL DEFAULT ''::text
    answered_by uuid
    answered_at timestamp with time zone
    CONSTRAINT reading_answered_check CHECK ((length(answered) <= 300))
    CONSTRAINT reading_answered_fkey FOREIGN KEY (coop_id, answered_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT reading_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT reading_pkey PRIMARY KEY (coop_id, ranch_id, upload_id)
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    POLICY whose RESTRICTIVE FOR UPDATE TO tussock_app USING (EXISTS ( SELECT 1
   FROM tussock.upload u
  WHERE ((u.coop_id = reading.coop_id) AND (u.ranch_id = reading.ranch_id) AND (u.id = reading.upload_id) AND ((u.ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) OR ((u.sent_by = ( SELECT tussock.my_person() AS my_person)) AND (u.owners_since IS NULL))))))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (nests, belts, refused, answers, undone, settings, settled, answered) TO tussock_app
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
    GRANT UPDATE (nests, belts, refused, settled) TO tussock_clerk
TABLE tussock.recovery_code ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    code_hash bytea NOT NULL
    used_at timestamp with time zone
    CONSTRAINT recovery_code_code_hash_check CHECK ((length(code_hash) = 32))
    CONSTRAINT recovery_code_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT recovery_code_pkey PRIMARY KEY (coop_id, person_id, code_hash)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, person_id, code_hash) TO tussock_app
    GRANT SELECT (coop_id, person_id, used_at) TO tussock_app
TABLE tussock.remains_key ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    version integer NOT NULL
    set_by uuid
    set_at timestamp with time zone NOT NULL DEFAULT now()
    source text NOT NULL
    counted boolean NOT NULL
    lines jsonb NOT NULL
    CONSTRAINT remains_key_lines_check CHECK (((jsonb_typeof(lines) = 'array'::text) AND (length((lines)::text) <= 100000)))
    CONSTRAINT remains_key_source_check CHECK ((((source = ''::text) = (lines = '[]'::jsonb)) AND (length(source) <= 300) AND (source !~ '[[:cntrl:]]'::text) AND (source = btrim(source))))
    CONSTRAINT remains_key_coop_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT remains_key_pkey PRIMARY KEY (coop_id, version)
    POLICY clerk FOR SELECT TO tussock_clerk USING true
    POLICY coordinator_add FOR INSERT TO tussock_app WITH CHECK ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (set_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY member FOR SELECT TO tussock_app USING true
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, set_by, source, counted, lines) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT SELECT (coop_id, version, source, counted, lines) TO tussock_clerk
    GRANT SELECT (coop_id, version, source, counted, lines) TO tussock_press
TABLE tussock.reminded ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    line_id uuid NOT NULL
    what text NOT NULL
    due date NOT NULL
    late boolean NOT NULL
    told_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT reminded_pkey PRIMARY KEY (coop_id, person_id, line_id, what, due, late)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.reminder ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    named boolean NOT NULL
    language text NOT NULL
    since timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT reminder_language_check CHECK ((language = ANY (ARRAY['en'::text, 'es'::text])))
    CONSTRAINT reminder_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT reminder_pkey PRIMARY KEY (coop_id, person_id)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person)) WITH CHECK (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, person_id, named, language) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (named, language) TO tussock_app
TABLE tussock.roster_change ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    at timestamp with time zone NOT NULL DEFAULT clock_timestamp()
    person_id uuid
    kind text NOT NULL
    ranch_id uuid
    area_id uuid
    what text NOT NULL
    was text NOT NULL DEFAULT ''::text
    became text NOT NULL DEFAULT ''::text
    about_id uuid
    CONSTRAINT roster_change_kind_check CHECK ((kind = ANY (ARRAY['erase'::text, 'erase ended'::text, 'first owner'::text, 'placed'::text, 'map'::text, 'code'::text, 'vouch lapsed'::text, 'other name'::text, 'heir gone'::text, 'hand over'::text, 'hand over yes'::text, 'hand over ended'::text, 'handed over'::text, 'heir refused'::text, 'place ended'::text, 'member gone'::text, 'heir let in'::text, 'heir joined'::text, 'owner came'::text, 'ranch'::text, 'ranch name'::text, 'ranch area'::text, 'ranch owner'::text, 'ranch erased'::text, 'area'::text, 'area name'::text, 'area group'::text, 'vouched'::text, 'vouch ended'::text, 'paper'::text, 'take off'::text, 'take off ended'::text, 'taken off'::text, 'targets'::text, 'season'::text, 'key'::text, 'take back'::text, 'taken back'::text, 'suspended'::text, 'suspension kept'::text, 'suspension ended'::text, 'paper no'::text, 'coordinator'::text, 'coordinator gone'::text, 'remove'::text, 'remove ended'::text])))
    CONSTRAINT roster_change_coop_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT roster_change_pkey PRIMARY KEY (coop_id, id)
    CREATE INDEX roster_change_at ON tussock.roster_change USING btree (coop_id, at)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.season ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    year integer NOT NULL
    opens_on date NOT NULL
    cut_off_on date NOT NULL
    composed_on date NOT NULL
    published_on date NOT NULL
    set_by uuid
    set_at timestamp with time zone NOT NULL DEFAULT now()
    opened_at timestamp with time zone
    words smallint
    remains_key integer NOT NULL DEFAULT 0
    targets integer NOT NULL DEFAULT 0
    CONSTRAINT season_opened_check CHECK (((opened_at IS NULL) = (words IS NULL)))
    CONSTRAINT season_order_check CHECK (((opens_on < cut_off_on) AND (cut_off_on <= composed_on) AND (composed_on <= published_on)))
    CONSTRAINT season_year_check CHECK (((year >= 1900) AND (year <= 2200)))
    CONSTRAINT season_coop_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT season_pkey PRIMARY KEY (coop_id, year)
    POLICY clerk FOR SELECT TO tussock_clerk USING true
    POLICY coordinator_add FOR INSERT TO tussock_app WITH CHECK ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (set_by = ( SELECT tussock.my_person() AS my_person)) AND (opens_on > ((now() AT TIME ZONE 'UTC'::text))::date) AND tussock.season_open(year))
    POLICY coordinator_change FOR UPDATE TO tussock_app USING ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (opened_at IS NULL) AND (opens_on > ((now() AT TIME ZONE 'UTC'::text))::date)) WITH CHECK ((set_by = ( SELECT tussock.my_person() AS my_person)) AND (opens_on > ((now() AT TIME ZONE 'UTC'::text))::date))
    POLICY coordinator_drop FOR DELETE TO tussock_app USING ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (opened_at IS NULL) AND (opens_on > ((now() AT TIME ZONE 'UTC'::text))::date))
    POLICY member FOR SELECT TO tussock_app USING true
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, year, opens_on, cut_off_on, composed_on, published_on, set_by) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (opens_on, cut_off_on, composed_on, published_on, set_by) TO tussock_app
    GRANT SELECT (coop_id, year, opened_at, remains_key) TO tussock_clerk
    GRANT SELECT (coop_id, year, opened_at, remains_key) TO tussock_press
TABLE tussock.season_line ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL
    season integer NOT NULL
    name text NOT NULL
    code text NOT NULL
    pasture text NOT NULL DEFAULT ''::text
    site_kind text NOT NULL DEFAULT ''::text
    placed boolean NOT NULL
    lon double precision NOT NULL
    lat double precision NOT NULL
    bearing double precision NOT NULL
    stops integer NOT NULL
    spacing double precision NOT NULL
    pace double precision NOT NULL
    covers jsonb NOT NULL
    set_on date
    first_check date
    last_check date
    slack integer NOT NULL
    belt_width double precision NOT NULL
    belt_length double precision NOT NULL
    redrawn text NOT NULL DEFAULT ''::text
    earlier jsonb NOT NULL DEFAULT '[]'::jsonb
    walked jsonb
    closed boolean NOT NULL DEFAULT false
    CONSTRAINT season_line_name_check CHECK ((name <> ''::text))
    CONSTRAINT season_line_stops_check CHECK (((stops >= 1) AND (stops <= 60)))
    CONSTRAINT season_line_plan_fkey FOREIGN KEY (coop_id, ranch_id, season) REFERENCES tussock.season_plan(coop_id, ranch_id, season) ON DELETE CASCADE
    CONSTRAINT season_line_pkey PRIMARY KEY (coop_id, ranch_id, id)
    CONSTRAINT season_line_code_key UNIQUE (coop_id, code)
    CONSTRAINT season_line_name_key UNIQUE (coop_id, ranch_id, season, pasture, name)
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_add FOR INSERT TO tussock_app WITH CHECK (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY own_change FOR UPDATE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) WITH CHECK (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY own_drop FOR DELETE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, ranch_id, id, season, name, pasture, site_kind, placed, lon, lat, bearing, stops, spacing, pace, covers, set_on, first_check, last_check, slack, belt_width, belt_length, redrawn, earlier, walked, closed) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (name, pasture, site_kind, placed, lon, lat, bearing, stops, spacing, pace, covers, set_on, first_check, last_check, slack, belt_width, belt_length, redrawn, earlier, walked, closed) TO tussock_app
TABLE tussock.season_map ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL
    kind text NOT NULL
    name text NOT NULL DEFAULT ''::text
    site_kind text NOT NULL DEFAULT ''::text
    rested boolean NOT NULL DEFAULT false
    shape jsonb NOT NULL
    CONSTRAINT season_map_kind_check CHECK ((kind = ANY (ARRAY['pasture'::text, 'road'::text, 'water'::text])))
    CONSTRAINT season_map_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT season_map_pkey PRIMARY KEY (coop_id, ranch_id, id)
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_add FOR INSERT TO tussock_app WITH CHECK (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY own_change FOR UPDATE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) WITH CHECK (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY own_drop FOR DELETE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE TO tussock_app
TABLE tussock.season_plan ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    season integer NOT NULL
    purpose text NOT NULL
    lines integer NOT NULL
    stops integer NOT NULL
    spacing double precision NOT NULL
    pace double precision NOT NULL
    covers jsonb NOT NULL
    seed text NOT NULL
    apart_fence double precision NOT NULL
    apart_road double precision NOT NULL
    apart_water double precision NOT NULL
    apart_lines double precision NOT NULL
    set_on date
    first_days integer NOT NULL
    last_days integer NOT NULL
    slack integer NOT NULL
    belt_width double precision NOT NULL
    belt_length double precision NOT NULL
    saved_by uuid NOT NULL
    saved_at timestamp with time zone NOT NULL
    CONSTRAINT season_plan_lines_check CHECK (((lines >= 1) AND (lines <= 60)))
    CONSTRAINT season_plan_purpose_check CHECK ((purpose = ANY (ARRAY['trend'::text, 'covers'::text, 'rest'::text])))
    CONSTRAINT season_plan_season_check CHECK (((season >= 1900) AND (season <= 2200)))
    CONSTRAINT season_plan_slack_check CHECK (((slack >= 0) AND (slack <= 14)))
    CONSTRAINT season_plan_stops_check CHECK (((stops >= 1) AND (stops <= 60)))
    CONSTRAINT season_plan_person_fkey FOREIGN KEY (coop_id, saved_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT season_plan_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT season_plan_pkey PRIMARY KEY (coop_id, ranch_id, season)
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_add FOR INSERT TO tussock_app WITH CHECK (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY own_change FOR UPDATE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) WITH CHECK (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY own_drop FOR DELETE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE TO tussock_app
TABLE tussock.season_ranch ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    ranch_id uuid NOT NULL
    entity_id uuid NOT NULL
    yes boolean NOT NULL
    owners uuid[] NOT NULL
    settled boolean NOT NULL
    fresh boolean NOT NULL
    area text NOT NULL
    group_name text NOT NULL
    counts_as uuid
    CONSTRAINT season_ranch_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT season_ranch_season_fkey FOREIGN KEY (coop_id, season) REFERENCES tussock.season(coop_id, year)
    CONSTRAINT season_ranch_pkey PRIMARY KEY (coop_id, season, ranch_id)
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT (coop_id, season, ranch_id, yes, settled, area, group_name) TO tussock_app
    GRANT SELECT TO tussock_press
TABLE tussock.sending_consent ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    given_by uuid NOT NULL
    given_at timestamp with time zone NOT NULL DEFAULT now()
    through date NOT NULL DEFAULT (((now() AT TIME ZONE 'UTC'::text))::date + 90)
    ended_at timestamp with time zone
    CONSTRAINT sending_consent_person_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT sending_consent_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT sending_consent_pkey PRIMARY KEY (coop_id, ranch_id, id)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY give FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (given_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_end FOR UPDATE TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (ended_at IS NULL)) WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (ended_at IS NOT NULL))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, id, given_by) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (ended_at) TO tussock_app
TABLE tussock.session ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    token_hash bytea NOT NULL
    person_id uuid NOT NULL
    opened_at timestamp with time zone NOT NULL DEFAULT now()
    seen_at timestamp with time zone NOT NULL DEFAULT now()
    idle interval NOT NULL
    ends_at timestamp with time zone NOT NULL
    closed_at timestamp with time zone
    agent text NOT NULL DEFAULT ''::text
    proved_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT session_token_hash_check CHECK ((length(token_hash) = 32))
    CONSTRAINT session_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT session_pkey PRIMARY KEY (coop_id, token_hash)
    CREATE INDEX session_handle ON tussock.session USING btree (encode(sha256(token_hash), 'hex'::text))
    CREATE INDEX session_person ON tussock.session USING btree (coop_id, person_id)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.sharing ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    person_id uuid NOT NULL
    entity_id uuid NOT NULL
    purpose text NOT NULL
    given_by uuid NOT NULL
    given_at timestamp with time zone NOT NULL DEFAULT now()
    through date NOT NULL
    ended_at timestamp with time zone
    ended_by uuid
    CONSTRAINT sharing_purpose_check CHECK (((purpose <> ''::text) AND (length(purpose) <= 300)))
    CONSTRAINT sharing_through_check CHECK (((through >= ((given_at AT TIME ZONE 'UTC'::text))::date) AND (through <= (((given_at AT TIME ZONE 'UTC'::text))::date + '2 years'::interval))))
    CONSTRAINT sharing_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity(coop_id, id)
    CONSTRAINT sharing_giver_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT sharing_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT sharing_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT sharing_pkey PRIMARY KEY (coop_id, ranch_id, id)
    CREATE INDEX sharing_person ON tussock.sharing USING btree (coop_id, person_id)
    POLICY give FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (given_by = ( SELECT tussock.my_person() AS my_person)) AND (person_id IN ( SELECT b.id
   FROM tussock.biologists() b(id, name))) AND (entity_id = ( SELECT r.entity_id
   FROM tussock.ranch r
  WHERE ((r.coop_id = sharing.coop_id) AND (r.id = sharing.ranch_id)))))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_end FOR UPDATE TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (ended_at IS NULL)) WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (ended_at IS NOT NULL))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING ((person_id = ( SELECT tussock.my_person() AS my_person)) AND (ranch_id = ANY (( SELECT tussock.my_shared_ranches() AS my_shared_ranches)::uuid[])) AND (ended_at IS NULL) AND (through >= ((now() AT TIME ZONE 'UTC'::text))::date))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, id, person_id, entity_id, purpose, given_by, through) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (ended_at) TO tussock_app
TABLE tussock.showcase ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    entity_id uuid NOT NULL
    name text NOT NULL
    season integer NOT NULL
    item text NOT NULL
    estimate double precision
    low double precision
    high double precision
    put_by uuid NOT NULL
    put_at timestamp with time zone NOT NULL DEFAULT now()
    ended_at timestamp with time zone
    CONSTRAINT showcase_item_check CHECK ((item = ANY (ARRAY['survival'::text, 'cover'::text])))
    CONSTRAINT showcase_season_check CHECK (((season >= 1900) AND (season <= 2200)))
    CONSTRAINT showcase_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity(coop_id, id)
    CONSTRAINT showcase_person_fkey FOREIGN KEY (coop_id, put_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT showcase_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT showcase_pkey PRIMARY KEY (coop_id, ranch_id, id)
    CREATE UNIQUE INDEX showcase_once ON tussock.showcase USING btree (coop_id, ranch_id, season, item) WHERE (ended_at IS NULL)
    POLICY give FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (put_by = ( SELECT tussock.my_person() AS my_person)) AND tussock.season_open(season) AND ((entity_id, name) = ( SELECT r.entity_id,
    r.name
   FROM tussock.ranch r
  WHERE ((r.coop_id = showcase.coop_id) AND (r.id = showcase.ranch_id)))))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_end FOR UPDATE TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (ended_at IS NULL)) WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (ended_at IS NOT NULL))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY reader FOR SELECT TO tussock_app USING ((ended_at IS NULL) AND (( SELECT tussock.my_least() AS my_least) IS NOT NULL) AND (EXISTS ( SELECT 1
   FROM pub.bulletin b
  WHERE ((b.coop_id = showcase.coop_id) AND (b.season = showcase.season) AND (b.published_at > showcase.put_at)))))
    POLICY take_back FOR DELETE TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND tussock.season_open(season))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, ranch_id, entity_id, name, season, item, estimate, low, high, put_by) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (ended_at) TO tussock_app
TABLE tussock.site ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    row integer NOT NULL
    name text
    site_type text
    acres double precision NOT NULL
    from_sheet text
    from_row integer
    CONSTRAINT site_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT site_pkey PRIMARY KEY (coop_id, ranch_id, upload_id, "row")
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY shared FOR SELECT TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_opened_ranches() AS my_opened_ranches)::uuid[])) AND (EXISTS ( SELECT 1
   FROM tussock.upload u
  WHERE ((u.coop_id = site.coop_id) AND (u.ranch_id = site.ranch_id) AND (u.id = site.upload_id) AND (u.state = 'current'::text) AND (u.rank > 0)))))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT DELETE TO tussock_clerk
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
TABLE tussock.snapshot ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    edition smallint NOT NULL
    ranch_id uuid NOT NULL
    shown boolean NOT NULL
    open boolean NOT NULL
    nests jsonb NOT NULL
    belts jsonb NOT NULL
    sites jsonb NOT NULL
    hands uuid[] NOT NULL DEFAULT '{}'::uuid[]
    CONSTRAINT snapshot_edition_fkey FOREIGN KEY (coop_id, season, edition) REFERENCES tussock.edition(coop_id, season, edition)
    CONSTRAINT snapshot_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT snapshot_pkey PRIMARY KEY (coop_id, season, edition, ranch_id)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_press
TABLE tussock.step ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    key_hash bytea NOT NULL
    person_id uuid
    data jsonb NOT NULL
    tries integer NOT NULL DEFAULT 0
    ends_at timestamp with time zone NOT NULL
    CONSTRAINT step_key_hash_check CHECK ((length(key_hash) = 32))
    CONSTRAINT step_pkey PRIMARY KEY (coop_id, key_hash)
    CREATE INDEX step_ends ON tussock.step USING btree (ends_at)
    CREATE INDEX step_key ON tussock.step USING btree (key_hash)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.take_back ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    row integer NOT NULL
    edition smallint NOT NULL
    person_id uuid NOT NULL
    said_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT take_back_cell_fkey FOREIGN KEY (coop_id, season, edition, "row") REFERENCES pub.cell(coop_id, season, edition, "row")
    CONSTRAINT take_back_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT take_back_pkey PRIMARY KEY (coop_id, season, edition, "row", person_id)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
TABLE tussock.targets ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    version integer NOT NULL
    set_by uuid
    set_at timestamp with time zone NOT NULL DEFAULT now()
    cover integer NOT NULL
    hope integer NOT NULL
    first_check integer NOT NULL
    last_check integer NOT NULL
    source text NOT NULL
    CONSTRAINT targets_cover_check CHECK (((cover >= 20) AND (cover <= 5000)))
    CONSTRAINT targets_days_check CHECK ((((first_check >= 1) AND (first_check <= 60)) AND ((last_check >= 2) AND (last_check <= 120)) AND (last_check > first_check)))
    CONSTRAINT targets_hope_check CHECK (((hope >= 5) AND (hope <= 95)))
    CONSTRAINT targets_source_check CHECK (((source <> ''::text) AND (length(source) <= 300) AND (source = btrim(source))))
    CONSTRAINT targets_coop_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT targets_pkey PRIMARY KEY (coop_id, version)
    POLICY coordinator_add FOR INSERT TO tussock_app WITH CHECK ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (set_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY member FOR SELECT TO tussock_app USING true
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, set_by, cover, hope, first_check, last_check, source) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.throttle ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL DEFAULT '00000000-0000-0000-0000-000000000000'::uuid
    name_hash bytea NOT NULL
    n integer NOT NULL
    last_at timestamp with time zone NOT NULL
    next_at timestamp with time zone NOT NULL DEFAULT '-infinity'::timestamp with time zone
    CONSTRAINT throttle_name_hash_check CHECK ((length(name_hash) = 32))
    CONSTRAINT throttle_pkey PRIMARY KEY (coop_id, name_hash)
    CREATE INDEX throttle_last ON tussock.throttle USING btree (last_at)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.to_read ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    asked integer NOT NULL DEFAULT 1
    asked_at timestamp with time zone NOT NULL DEFAULT now()
    language text NOT NULL
    size integer NOT NULL
    begun_at timestamp with time zone
    taken_until timestamp with time zone
    tries smallint NOT NULL DEFAULT 0
    rest boolean NOT NULL DEFAULT false
    CONSTRAINT to_read_language_check CHECK ((language = ANY (ARRAY['en'::text, 'es'::text])))
    CONSTRAINT to_read_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT to_read_pkey PRIMARY KEY (coop_id, ranch_id, upload_id)
    CONSTRAINT catch_up TRIGGER DEFERRABLE INITIALLY DEFERRED
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, upload_id, language, size) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (asked, language, taken_until, tries, rest) TO tussock_app
    GRANT DELETE TO tussock_clerk
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
    GRANT UPDATE TO tussock_clerk
TABLE tussock.unfiled ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    sending_id uuid NOT NULL
    name text NOT NULL
    size integer NOT NULL
    data bytea NOT NULL
    settings jsonb NOT NULL DEFAULT '{}'::jsonb
    language text NOT NULL
    sent_at timestamp with time zone NOT NULL DEFAULT now()
    begun_at timestamp with time zone
    taken_until timestamp with time zone
    tries smallint NOT NULL DEFAULT 0
    unclear text NOT NULL DEFAULT ''::text
    held uuid
    problem jsonb NOT NULL DEFAULT '{}'::jsonb
    CONSTRAINT unfiled_language_check CHECK ((language = ANY (ARRAY['en'::text, 'es'::text])))
    CONSTRAINT unfiled_unclear_check CHECK ((unclear = ANY (ARRAY[''::text, 'ranch'::text, 'unreadable'::text, 'held'::text, 'full'::text])))
    CONSTRAINT unfiled_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT unfiled_pkey PRIMARY KEY (coop_id, person_id, id)
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, person_id, id, sending_id, name, size, data, settings, language) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT DELETE TO tussock_clerk
    GRANT SELECT TO tussock_clerk
    GRANT UPDATE (begun_at, taken_until, tries, unclear, held, problem) TO tussock_clerk
TABLE tussock.unread ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    edition smallint NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    CONSTRAINT unread_edition_fkey FOREIGN KEY (coop_id, season, edition) REFERENCES tussock.edition(coop_id, season, edition)
    CONSTRAINT unread_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT unread_pkey PRIMARY KEY (coop_id, season, edition, ranch_id, upload_id)
    CREATE INDEX unread_upload ON tussock.unread USING btree (coop_id, ranch_id, upload_id)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
TABLE tussock.upload ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    season integer NOT NULL
    sent_by uuid NOT NULL
    sent_at timestamp with time zone NOT NULL
    state text NOT NULL DEFAULT 'current'::text
    replaces uuid
    open_count integer NOT NULL DEFAULT 0
    seasons integer[] NOT NULL DEFAULT '{}'::integer[]
    sending_id uuid
    called text NOT NULL DEFAULT ''::text
    accepted_at timestamp with time zone
    accepted_by uuid
    seq integer NOT NULL
    owners_since timestamp with time zone
    state_by uuid
    state_at timestamp with time zone
    rank smallint NOT NULL DEFAULT 0
    CONSTRAINT upload_season_check CHECK (((season = 0) OR ((season >= 1900) AND (season <= 2200))))
    CONSTRAINT upload_state_check CHECK ((state = ANY (ARRAY['current'::text, 'replaced'::text, 'undone'::text])))
    CONSTRAINT upload_accepted_fkey FOREIGN KEY (coop_id, accepted_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT upload_person_fkey FOREIGN KEY (coop_id, sent_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT upload_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT upload_replaces_fkey FOREIGN KEY (coop_id, ranch_id, replaces) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE SET NULL (replaces)
    CONSTRAINT upload_state_by_fkey FOREIGN KEY (coop_id, state_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT upload_pkey PRIMARY KEY (coop_id, ranch_id, id)
    CONSTRAINT upload_seq_key UNIQUE (coop_id, ranch_id, seq)
    CREATE INDEX upload_sending ON tussock.upload USING btree (coop_id, sending_id) WHERE (sending_id IS NOT NULL)
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_change FOR UPDATE TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) OR ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (sent_by = ( SELECT tussock.my_person() AS my_person)) AND (owners_since IS NULL)))
    POLICY own_send FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (sent_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY shared FOR SELECT TO tussock_app USING ((state = 'current'::text) AND (rank > 0) AND (ranch_id = ANY (( SELECT tussock.my_opened_ranches() AS my_opened_ranches)::uuid[])))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (season, state, open_count, seasons, accepted_at, accepted_by) TO tussock_app
    GRANT INSERT (coop_id, ranch_id, id, season, sent_by, sent_at, sending_id) TO tussock_clerk
    GRANT SELECT (coop_id, ranch_id, id, season, sent_by, sent_at, state, sending_id, called, seq, rank) TO tussock_clerk
    GRANT UPDATE (season, open_count, seasons, accepted_at, accepted_by) TO tussock_clerk
TABLE tussock.upload_file ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    name text NOT NULL
    size integer NOT NULL
    sha256 bytea NOT NULL
    data bytea NOT NULL
    own boolean NOT NULL DEFAULT true
    CONSTRAINT upload_file_sha256_check CHECK ((length(sha256) = 32))
    CONSTRAINT upload_file_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT upload_file_pkey PRIMARY KEY (coop_id, ranch_id, upload_id)
    CREATE UNIQUE INDEX upload_file_own ON tussock.upload_file USING btree (coop_id, ranch_id, sha256) WHERE own
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
TABLE tussock.view_log ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid
    person_id uuid
    looked_at timestamp with time zone NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    what text NOT NULL DEFAULT 'page'::text
    item text NOT NULL DEFAULT ''::text
    CONSTRAINT view_log_item_check CHECK ((length(item) <= 240))
    CONSTRAINT view_log_person_check CHECK (((person_id IS NOT NULL) OR ((what = 'phone'::text) AND (item <> ''::text))))
    CONSTRAINT view_log_ranch_check CHECK (((ranch_id IS NOT NULL) OR (what = ANY (ARRAY['program'::text, 'bulletin'::text]))))
    CONSTRAINT view_log_what_check CHECK ((what = ANY (ARRAY['erase'::text, 'erase ended'::text, 'hand over'::text, 'hand over ended'::text, 'answered'::text, 'calendar'::text, 'calendar ended'::text, 'chose'::text, 'yes'::text, 'no'::text, 'place ended'::text, 'share'::text, 'share ended'::text, 'letting'::text, 'letting ended'::text, 'owner'::text, 'page'::text, 'sent'::text, 'named'::text, 'file'::text, 'sheet'::text, 'program'::text, 'bulletin'::text, 'phone'::text, 'keyed'::text, 'undone'::text, 'restored'::text, 'came'::text, 'accepted'::text])))
    CONSTRAINT view_log_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT view_log_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT view_log_pkey PRIMARY KEY (coop_id, id)
    CREATE INDEX view_log_person ON tussock.view_log USING btree (coop_id, person_id, looked_at)
    CREATE INDEX view_log_ranch ON tussock.view_log USING btree (coop_id, ranch_id, looked_at)
    POLICY look FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY look_shared FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_shared_ranches() AS my_shared_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY take FOR INSERT TO tussock_app WITH CHECK ((ranch_id IS NULL) AND (person_id = ( SELECT tussock.my_person() AS my_person)) AND (( SELECT tussock.my_least() AS my_least) IS NOT NULL))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, ranch_id, person_id, looked_at, what, item) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.vouch ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    owner_id uuid NOT NULL
    person_id uuid NOT NULL
    given_at timestamp with time zone NOT NULL DEFAULT now()
    ended_at timestamp with time zone
    first boolean NOT NULL DEFAULT true
    CONSTRAINT vouch_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT vouch_pkey PRIMARY KEY (coop_id, owner_id, person_id)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY give FOR INSERT TO tussock_app WITH CHECK ((person_id = ( SELECT tussock.my_person() AS my_person)) AND ( SELECT tussock.may_vouch() AS may_vouch) AND (owner_id IN ( SELECT o.owner_id
   FROM tussock.others() o(owner_id, entity_id, ranch_id))))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY take_back FOR UPDATE TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person)) WITH CHECK (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, owner_id, person_id) TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (ended_at) TO tussock_app
TABLE tussock.welcome ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    given_by uuid NOT NULL
    given_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT welcome_person_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT welcome_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT welcome_pkey PRIMARY KEY (coop_id, ranch_id)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (given_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT (coop_id, ranch_id, given_by) TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.word ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    word text NOT NULL
    meaning text NOT NULL
    owners boolean NOT NULL DEFAULT true
    CONSTRAINT word_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT word_pkey PRIMARY KEY (coop_id, ranch_id, word, owners)
    POLICY clerk TO tussock_clerk USING true WITH CHECK true
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    POLICY whose RESTRICTIVE FOR UPDATE TO tussock_app USING ((NOT owners) OR (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (meaning) TO tussock_app
    GRANT INSERT TO tussock_clerk
    GRANT SELECT TO tussock_clerk
    GRANT UPDATE (meaning) TO tussock_clerk
CREATE OR REPLACE FUNCTION tussock.accept_invitation(hash bytea, called text, address text, telephone text, secret text)
 RETURNS TABLE(coop_id uuid, person_id uuid, coop_name text)
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH used AS (
        UPDATE tussock.invitation i SET used_at = now()
        WHERE i.token_hash = hash AND i.used_at IS NULL AND i.revoked_at IS NULL AND now() < i.expires_at AND (i.heir_of IS NULL OR i.let_in_by IS NOT NULL)
        RETURNING i.*
    ), joined AS (
        INSERT INTO tussock.person (coop_id, name, role, invited_by, heir_of, invitation_id) SELECT u.coop_id, called, u.role, u.invited_by, u.heir_of, u.id FROM used u
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
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.add_key()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtextextended('key of ' || NEW.coop_id, 0));
    NEW.version := 1 + coalesce((SELECT max(k.version) FROM tussock.remains_key k WHERE k.coop_id = NEW.coop_id), 0);
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.add_targets()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtextextended('targets of ' || NEW.coop_id, 0));
    NEW.version := 1 + coalesce((SELECT max(t.version) FROM tussock.targets t WHERE t.coop_id = NEW.coop_id), 0);
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.address_taken(hash bytea)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE ended boolean;
BEGIN
    UPDATE tussock.invitation i SET taken = i.taken + 1, revoked_at = CASE WHEN i.taken >= 2 THEN now() END
    WHERE i.token_hash = hash AND i.used_at IS NULL AND i.revoked_at IS NULL
    RETURNING i.revoked_at IS NOT NULL INTO ended;
    RETURN coalesce(ended, true);
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.addresses_on(which uuid)
 RETURNS TABLE(person uuid, email text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    IF which = ANY (tussock.my_own_ranches()) THEN
        RETURN QUERY
        SELECT e.person_id, e.email FROM tussock.account e
        WHERE e.coop_id = coop AND e.person_id IN (
            SELECT a.person_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = which AND a.until IS NULL AND a.confirmed_at IS NOT NULL
            UNION SELECT s.person_id FROM tussock.sharing s WHERE s.coop_id = coop AND s.ranch_id = which);
    END IF;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.agree_hand_over(which uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    me uuid := tussock.my_person();
    d tussock.departure;
BEGIN
    UPDATE tussock.departure x SET owners_yes = x.owners_yes || me
    WHERE x.coop_id = tussock.my_coop() AND x.id = which AND x.kind = 'hand over' AND x.done_at IS NULL AND x.called_off_at IS NULL
      AND x.ranch_id = ANY (tussock.my_own_ranches()) AND me = ANY (tussock.hand_over_lacks(x))
    RETURNING * INTO d;
    IF d.id IS NULL THEN
        RETURN false;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what) SELECT d.coop_id, me, 'hand over yes', r.id, r.name
    FROM tussock.ranch r WHERE r.coop_id = d.coop_id AND r.id = d.ranch_id;
    RETURN true;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.alarm_letters()
 RETURNS TABLE(address text, coop_name text, called text, part text, span text, ranch_names text[])
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT a.coop_id, a.id, a.person_id, a.span, a.told_at, a.own, ARRAY(SELECT unnest(a.ranches) EXCEPT SELECT unnest(a.told)) AS fresh
        FROM tussock.alarm a WHERE a.told_at IS NULL OR NOT a.ranches <@ a.told
        FOR UPDATE SKIP LOCKED
    ), written AS (
        UPDATE tussock.alarm a SET told_at = coalesce(a.told_at, now()), told = a.ranches FROM due d WHERE a.coop_id = d.coop_id AND a.id = d.id
    ), readers AS (
        SELECT d.coop_id, d.person_id, d.span, p.id AS reader, '{}'::text[] AS names
        FROM due d JOIN tussock.person p ON p.coop_id = d.coop_id
        WHERE d.told_at IS NULL AND NOT d.own AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL
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
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.alike(one text, other text)
 RETURNS boolean
 LANGUAGE sql
 IMMUTABLE
AS $function$
    SELECT CASE WHEN one = other THEN true
        WHEN string_to_array(split_part(one, '|', 2), ' ') && string_to_array(split_part(other, '|', 2), ' ') THEN tussock.nearly(one, other)
        WHEN right(one, 1) = '|' AND right(other, 1) = '|' AND (abs(length(split_part(one, '|', 1)) - length(split_part(other, '|', 1))) > 1
            OR length(translate(split_part(one, '|', 1), other, '')) > 1 OR length(translate(split_part(other, '|', 1), one, '')) > 1) THEN false -- no word in both, no initials
        ELSE tussock.nearly(one, other) END
$function$
CREATE OR REPLACE FUNCTION tussock.alike(one text, others text[])
 RETURNS boolean
 LANGUAGE sql
 IMMUTABLE
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT coalesce(bool_or(tussock.alike(one, o.name)), false) FROM unnest(others) o (name)
$function$
CREATE OR REPLACE FUNCTION tussock.among(one text[], other text[])
 RETURNS boolean
 LANGUAGE plpgsql
 IMMUTABLE
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    lacks text[] := '{}';
    rest text[] := other;
    x text;
    nth integer;
    matched integer := 0;
    whole integer := 0;
    slips integer := 0;
    idle integer := 0;
BEGIN
    FOREACH x IN ARRAY one LOOP
        nth := array_position(rest, x);
        IF nth IS NULL THEN
            lacks := lacks || x;
        ELSE
            rest := rest[:nth - 1] || rest[nth + 1:];
            matched := matched + 1;
            whole := whole + (length(x) > 1 AND x !~ '[0-9]')::integer;
        END IF;
    END LOOP;
    FOREACH x IN ARRAY lacks LOOP
        nth := (SELECT w.nth FROM unnest(rest) WITH ORDINALITY w (word, nth) WHERE x !~ '[0-9]' AND (length(x) = 1) <> (length(w.word) = 1) AND left(w.word, 1) = left(x, 1) LIMIT 1);
        IF nth IS NULL AND slips = 0 AND x !~ '[0-9]' THEN
            nth := (SELECT w.nth FROM unnest(rest) WITH ORDINALITY w (word, nth) WHERE tussock.one_letter(x, w.word) LIMIT 1);
            IF nth IS NOT NULL THEN
                slips := 1;
                whole := whole + 1;
            END IF;
        END IF;
        IF nth IS NOT NULL THEN
            rest := rest[:nth - 1] || rest[nth + 1:];
            matched := matched + 1;
        ELSIF length(x) = 1 AND x !~ '[0-9]' THEN
            idle := idle + 1;
        ELSE
            RETURN false;
        END IF;
    END LOOP;
    RETURN matched > 1 AND whole > 0 AND (idle = 0 OR whole > 1);
END
$function$
CREATE OR REPLACE FUNCTION tussock.answer_name(which uuid, says boolean)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    mine text := (SELECT p.folded FROM tussock.person p WHERE p.coop_id = coop AND p.id = me);
    named boolean;
    called text;
    other text;
    as_owner uuid := gen_random_uuid();
BEGIN
    SELECT r.name INTO other FROM tussock.ranch r WHERE r.coop_id = coop AND r.id = which FOR UPDATE;
    named := me = ANY (tussock.bearers(coop, which));
    IF tussock.my_role() IS DISTINCT FROM 'landowner' OR NOT named AND NOT tussock.my_namesake_waits(which)
       OR EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = which AND a.person_id = me AND a.kind = 'owner' AND a.until IS NULL) THEN
        RETURN false;
    END IF;
    called := (SELECT e.folded FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = which);
    INSERT INTO tussock.name_word (coop_id, ranch_id, person_id, name, yes)
    SELECT coop, which, me, n.name, says FROM (SELECT mine UNION SELECT called WHERE named) n (name)
    ON CONFLICT ON CONSTRAINT name_word_pkey DO NOTHING;
    IF says THEN
        PERFORM tussock.let_first_on(coop, which);
        RETURN true;
    END IF;
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = which AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NULL
        AND (named OR tussock.alike((SELECT p.folded FROM tussock.person p WHERE p.coop_id = coop AND p.id = a.person_id), mine));
    IF NOT named THEN
        RETURN true;
    END IF;
    UPDATE tussock.invitation i SET revoked_at = now() WHERE i.coop_id = coop AND i.role = 'landowner' AND which = ANY (i.ranches) AND i.used_at IS NULL AND i.revoked_at IS NULL;
    WHILE EXISTS (SELECT 1 FROM tussock.entity e WHERE e.coop_id = coop AND tussock.alike(e.folded, tussock.fold(other))) LOOP
        other := 'Not yet known ' || left(gen_random_uuid()::text, 8);
    END LOOP;
    INSERT INTO tussock.entity (coop_id, id, name) VALUES (coop, as_owner, other);
    UPDATE tussock.ranch r SET entity_id = as_owner WHERE r.coop_id = coop AND r.id = which;
    RETURN true;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.answer_offer(which uuid, yes boolean)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.departure d SET
        agreed_at = CASE WHEN yes THEN coalesce(d.agreed_at, now()) END, agreed_by = CASE WHEN yes THEN v.person_id END,
        called_off_at = CASE WHEN NOT yes THEN now() END, called_off_by = CASE WHEN NOT yes THEN v.person_id END
    FROM tussock.viewer() v
    WHERE d.coop_id = v.coop_id AND d.id = which AND d.done_at IS NULL AND d.called_off_at IS NULL
      AND d.id IN (SELECT o.id FROM tussock.my_offers() o);
    RETURN FOUND;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.approve(which integer, nth smallint, says boolean)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    PERFORM 1 FROM tussock.season s WHERE s.coop_id = coop AND s.year = which FOR UPDATE;
    IF me IS NULL OR NOT tussock.may_approve(coop, which, nth, me)
       OR NOT EXISTS (SELECT 1 FROM pub.bulletin b WHERE b.coop_id = coop AND b.season = which AND nth = 1 AND b.published_at IS NULL
                      UNION ALL SELECT 1 FROM pub.revision r WHERE r.coop_id = coop AND r.season = which AND r.edition = nth AND r.published_at IS NULL) THEN
        RETURN false;
    END IF;
    INSERT INTO tussock.approval (coop_id, season, edition, person_id, yes) VALUES (coop, which, nth, me, says)
    ON CONFLICT ON CONSTRAINT approval_pkey DO UPDATE SET yes = EXCLUDED.yes, said_at = now();
    PERFORM tussock.publish_due(coop);
    RETURN true;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.approved(coop uuid, which integer, nth smallint)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (SELECT count(*) FILTER (WHERE a.yes AND tussock.may_approve(coop, which, nth, a.person_id)) >= tussock.words_needed(coop, which, (SELECT e.cut_at FROM tussock.edition e WHERE e.coop_id = coop AND e.season = which AND e.edition = nth))
        AND count(*) FILTER (WHERE NOT a.yes AND (tussock.may_approve(coop, which, nth, a.person_id) OR EXISTS (
            SELECT 1 FROM tussock.person p WHERE p.coop_id = coop AND p.id = a.person_id AND p.left_at IS NULL
               AND p.suspended_at IS NOT NULL AND p.suspended_by IS NOT NULL AND p.suspension_kept_by IS NULL))) = 0
        FROM tussock.approval a WHERE a.coop_id = coop AND a.season = which AND a.edition = nth);
END
$function$
CREATE OR REPLACE FUNCTION tussock.ask_owner()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.confirmed_at := NULL;
    NEW.confirmed_by := NULL;
    IF tussock.first_on(NEW.coop_id, NEW.ranch_id, NEW.person_id, NEW.kind) THEN
        NEW.confirmed_at := now();
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.ask_removal(who uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    p tussock.person;
    me uuid := tussock.my_person();
BEGIN
    SELECT * INTO p FROM tussock.person x WHERE x.coop_id = tussock.my_coop() AND x.id = who AND x.role = 'coordinator' AND x.left_at IS NULL FOR UPDATE;
    IF NOT FOUND OR tussock.my_role() IS DISTINCT FROM 'coordinator' OR who = me OR tussock.may_remove(p) THEN
        RETURN false;
    END IF;
    IF tussock.came_after(p) THEN
        RAISE EXCEPTION 'came lately' USING ERRCODE = '23505', CONSTRAINT = 'person_lately_check';
    END IF;
    IF p.suspended_at IS NOT NULL OR p.let_in_at > now() - interval '14 days' THEN
        RAISE EXCEPTION 'cannot answer' USING ERRCODE = '23505', CONSTRAINT = 'person_answers_check';
    END IF;
    IF p.remove_asked_by IS NOT DISTINCT FROM me THEN
        RAISE EXCEPTION 'asked already' USING ERRCODE = '23505', CONSTRAINT = 'person_stays_check';
    END IF;
    UPDATE tussock.person x SET remove_asked_at = now(), remove_asked_by = me WHERE x.coop_id = p.coop_id AND x.id = who;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id, became) VALUES (p.coop_id, me, 'remove', p.name, p.id, ((now() + interval '14 days') AT TIME ZONE 'UTC')::date::text);
    RETURN true;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.asked_by(which uuid)
 RETURNS text
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (SELECT p.name FROM tussock.departure d JOIN tussock.person p ON p.coop_id = d.coop_id AND p.id = d.person_id
        WHERE d.coop_id = tussock.my_coop() AND d.id = which AND (d.person_id = tussock.my_person() OR d.ranch_id = ANY (tussock.my_own_ranches())));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.asked_letters()
 RETURNS TABLE(address text, coop_name text, ranch_name text, sheets bigint)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    WITH told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT u.coop_id, u.ranch_id, o.person_id, 'asked ' || u.id FROM tussock.upload u
        JOIN tussock.assignment o ON o.coop_id = u.coop_id AND o.ranch_id = u.ranch_id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL
        WHERE u.state = 'current' AND u.open_count > 0 AND u.sent_at < now() - interval '3 days' AND u.sent_at > now() - interval '60 days'
          AND NOT EXISTS (SELECT 1 FROM tussock.to_read w WHERE w.coop_id = u.coop_id AND w.ranch_id = u.ranch_id AND w.upload_id = u.id AND NOT w.rest)
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id
    )
    SELECT e.email, k.name, r.name, count(*)
    FROM told t
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop k ON k.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    GROUP BY e.email, k.name, r.name;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.asked_off(coop uuid, ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.departure x WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.kind = 'take off' AND x.done_at IS NULL AND x.called_off_at IS NULL);
END
$function$
CREATE OR REPLACE FUNCTION tussock.asked_too_late()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM tussock.note_open(x.coop_id, x.season, x.edition, x.ranch_id, x.upload_id) FROM tussock.unread x
    WHERE x.coop_id = NEW.coop_id AND x.ranch_id = NEW.ranch_id AND x.upload_id = NEW.upload_id;
    DELETE FROM tussock.unread x WHERE x.coop_id = NEW.coop_id AND x.ranch_id = NEW.ranch_id AND x.upload_id = NEW.upload_id;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.bearers(coop uuid, ranch uuid)
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    called text := (SELECT e.folded FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ranch AND r.erased_at IS NULL);
    typed timestamptz := (SELECT max(x.at) FROM tussock.roster_change x WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.kind IN ('ranch', 'ranch owner'));
    began timestamptz := (SELECT min(a.confirmed_at) FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
BEGIN
    RETURN ARRAY(
        SELECT p.id
        FROM tussock.person p
        CROSS JOIN LATERAL (SELECT least(
            CASE WHEN tussock.alike(p.folded, called) AND (EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.person_id = p.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL)
                OR NOT EXISTS (SELECT 1 FROM tussock.person f WHERE f.coop_id = coop AND f.role = 'landowner' AND f.left_at IS NULL AND (f.joined_at, f.id) < (p.joined_at, p.id) AND tussock.alike(f.folded, called))) THEN p.joined_at END, (
            SELECT min(a.confirmed_at) FROM tussock.assignment a
            JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id AND r.erased_at IS NULL
            JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
            WHERE a.coop_id = coop AND a.person_id = p.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND a.ranch_id <> ranch AND tussock.alike(e.folded, called))) AS since) b
        WHERE p.coop_id = coop AND p.role = 'landowner' AND p.left_at IS NULL AND b.since IS NOT NULL
          AND (began IS NULL OR b.since < greatest(typed, began))
          AND NOT tussock.owns(coop, ranch, p.id)
          AND NOT EXISTS (SELECT 1 FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = ranch AND w.person_id = p.id AND tussock.alike(w.name, called))
          AND NOT EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.person o ON o.coop_id = a.coop_id AND o.id = a.person_id
            WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
              AND tussock.alike(o.folded, called) AND (o.joined_at, o.id) < (p.joined_at, p.id)));
END
$function$
CREATE OR REPLACE FUNCTION tussock.biologists()
 RETURNS TABLE(id uuid, name text)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT p.id, p.name
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id
    WHERE v.role = 'landowner' AND p.role = 'biologist' AND p.left_at IS NULL
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.calendar_lines(hash bytea)
 RETURNS TABLE(named boolean, language text, ranch_id uuid, ranch_name text, line_id uuid, line text, pasture text, set_on date, first_check date, last_check date, slack integer, closed boolean, changed timestamp with time zone)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.calendar c SET used_at = now() WHERE c.token_hash = hash AND c.revoked_at IS NULL;
    RETURN QUERY
    SELECT c.named, c.language, r.id, r.name, l.id, l.name, l.pasture, l.set_on, l.first_check, l.last_check, l.slack, l.closed, s.saved_at
    FROM tussock.calendar c
    JOIN tussock.person p ON p.coop_id = c.coop_id AND p.id = c.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL AND p.role IN ('landowner', 'hand')
    LEFT JOIN tussock.assignment a ON a.coop_id = c.coop_id AND a.person_id = c.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL
    LEFT JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    LEFT JOIN tussock.season_line l ON l.coop_id = a.coop_id AND l.ranch_id = a.ranch_id AND l.set_on > now() - interval '400 days'
    LEFT JOIN tussock.season_plan s ON s.coop_id = l.coop_id AND s.ranch_id = l.ranch_id AND s.season = l.season
    WHERE c.token_hash = hash AND c.revoked_at IS NULL
    ORDER BY l.set_on, l.id;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.came_after(p tussock.person)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.person me WHERE me.coop_id = p.coop_id AND me.id = tussock.my_person()
        AND me.joined_at > now() - interval '30 days' AND me.joined_at > p.joined_at);
END
$function$
CREATE OR REPLACE FUNCTION tussock.came_in()
 RETURNS TABLE(upload uuid, ranch uuid, season integer, seasons integer[], sending uuid, called text, sent_at timestamp with time zone, state text, waits boolean, counts boolean)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT u.id, u.ranch_id, u.season, u.seasons, u.sending_id, u.called, u.sent_at, CASE WHEN u.called = '' THEN u.state ELSE 'current' END,
        EXISTS (SELECT 1 FROM tussock.to_read w WHERE w.coop_id = u.coop_id AND w.ranch_id = u.ranch_id AND w.upload_id = u.id AND NOT w.rest)
        AND NOT EXISTS (SELECT 1 FROM tussock.readback b WHERE b.coop_id = u.coop_id AND b.ranch_id = u.ranch_id AND b.upload_id = u.id), -- that it is read again tells of an answer
        u.state = 'current' AND u.rank > 0 AND u.called = ''
    FROM tussock.viewer() v
    JOIN tussock.upload u ON u.coop_id = v.coop_id
    WHERE v.role = 'coordinator';
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.carry_out(at timestamp with time zone)
 RETURNS TABLE(addresses text[], kind text, coop_name text, ranch_name text, failure text)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE d tussock.departure;
BEGIN
    PERFORM tussock.end_suspensions(at);
    UPDATE tussock.departure x SET called_off_at = at
    WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND (x.due_at <= at OR x.kind = 'hand over') AND x.kind IN ('erase', 'hand over')
      AND (SELECT count(*) > 0 AND count(*) FILTER (WHERE o.person_id = x.person_id) = 0 FROM tussock.assignment o
           WHERE o.coop_id = x.coop_id AND o.ranch_id = x.ranch_id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL);
    UPDATE tussock.departure x SET called_off_at = at -- who asked has no say any more, or there is nobody to take off
    WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND x.kind = 'take off'
      AND NOT (tussock.owns(x.coop_id, x.ranch_id, x.whom) AND (tussock.owns(x.coop_id, x.ranch_id, x.person_id) OR EXISTS (
          SELECT 1 FROM tussock.person p WHERE p.coop_id = x.coop_id AND p.id = x.person_id AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL)));
    FOR d IN
        SELECT * FROM tussock.departure x
        WHERE x.done_at IS NULL AND x.called_off_at IS NULL AND x.due_at <= at
          AND (x.kind <> 'hand over' OR EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = x.coop_id AND p.id = x.agreed_by
               AND p.role = 'landowner' AND p.left_at IS NULL AND p.suspended_at IS NULL))
          AND (x.kind <> 'take off' OR NOT tussock.disputed(x.coop_id, x.ranch_id, x.whom))
          AND (x.kind <> 'hand over' OR tussock.hand_over_lacks(x) = '{}' AND NOT tussock.asked_off(x.coop_id, x.ranch_id))
          AND NOT EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = x.coop_id AND p.suspended_at IS NOT NULL AND tussock.departure_waits_for(x, p.id))
        ORDER BY x.kind = 'leave', x.asked_at, x.id FOR UPDATE SKIP LOCKED
    LOOP
        IF tussock.departure_over(d) THEN
            UPDATE tussock.departure x SET called_off_at = at, heir = '' WHERE x.coop_id = d.coop_id AND x.id = d.id;
            CONTINUE;
        END IF;
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
                WHEN 'take off' THEN PERFORM tussock.take_off(d.coop_id, d.ranch_id, d.whom, d.person_id);
            END CASE;
            UPDATE tussock.departure x SET done_at = at, heir = '' WHERE x.coop_id = d.coop_id AND x.id = d.id;
        EXCEPTION WHEN OTHERS THEN
            addresses := '{}';
            failure := SQLSTATE;
        END;
        RETURN NEXT;
    END LOOP;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.catch_up()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE w record;
BEGIN
    IF OLD.rest OR TG_OP = 'UPDATE' AND NOT NEW.rest THEN
        RETURN NULL;
    END IF;
    FOR w IN SELECT e.season, e.edition, e.counted FROM tussock.edition e
        JOIN tussock.unread x ON x.coop_id = e.coop_id AND x.season = e.season AND x.edition = e.edition
        WHERE x.coop_id = OLD.coop_id AND x.ranch_id = OLD.ranch_id AND x.upload_id = OLD.upload_id
        ORDER BY e.season, e.edition FOR UPDATE OF e
    LOOP
        DELETE FROM tussock.unread x WHERE x.coop_id = OLD.coop_id AND x.season = w.season AND x.edition = w.edition AND x.ranch_id = OLD.ranch_id AND x.upload_id = OLD.upload_id;
        CONTINUE WHEN w.counted IS NOT NULL;
        UPDATE tussock.snapshot s SET
            nests = tussock.put_in(s.coop_id, s.ranch_id, OLD.upload_id, s.nests, (
                SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,steps,bearing,spot,notes,from_sheet,from_row}'::text[]), '[]')
                FROM tussock.nest x WHERE x.coop_id = s.coop_id AND x.ranch_id = s.ranch_id AND x.upload_id = OLD.upload_id AND x.season = w.season)),
            belts = tussock.put_in(s.coop_id, s.ranch_id, OLD.upload_id, s.belts, (
                SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[]), '[]')
                FROM tussock.belt x WHERE x.coop_id = s.coop_id AND x.ranch_id = s.ranch_id AND x.upload_id = OLD.upload_id AND x.season = w.season)),
            sites = tussock.put_in(s.coop_id, s.ranch_id, OLD.upload_id, s.sites, (
                SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[]), '[]')
                FROM tussock.site x WHERE x.coop_id = s.coop_id AND x.ranch_id = s.ranch_id AND x.upload_id = OLD.upload_id))
        WHERE s.coop_id = OLD.coop_id AND s.season = w.season AND s.edition = w.edition AND s.ranch_id = OLD.ranch_id;
        PERFORM tussock.note_open(OLD.coop_id, w.season, w.edition, OLD.ranch_id, OLD.upload_id);
        UPDATE tussock.edition e SET sheets = (SELECT count(*) FROM tussock.snapshot x WHERE x.coop_id = e.coop_id AND x.season = e.season AND x.edition = e.edition AND x.nests <> '[]')
        WHERE e.coop_id = OLD.coop_id AND e.season = w.season AND e.edition = w.edition;
    END LOOP;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.change_address(coop uuid, person uuid, address text)
 RETURNS text
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH old AS (SELECT a.email FROM tussock.account a WHERE a.coop_id = coop AND a.person_id = person),
    changed AS (
        UPDATE tussock.account a SET email = lower(address) FROM tussock.person p
        WHERE a.coop_id = coop AND a.person_id = person AND p.coop_id = a.coop_id AND p.id = a.person_id
          AND p.left_at IS NULL AND p.suspended_at IS NULL
        RETURNING 1
    )
    SELECT old.email FROM old, changed
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.check_days()
 RETURNS TABLE(coop_id uuid, ranch_id uuid, line_id uuid, season integer, line text, what text, due date, opens date, closes date, done boolean, finished boolean)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT l.coop_id, l.ranch_id, l.id, l.season, l.name, c.what, c.due, c.due - c.slack, c.due + c.slack,
        EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = l.coop_id AND k.ranch_id = l.ranch_id AND k.line_id = l.id
                AND k.kind = CASE c.what WHEN 'set' THEN 'set' ELSE 'check' END
                AND (c.since IS NULL OR k.answers->>'looked_on' >= c.since::text)
                AND NOT EXISTS (SELECT 1 FROM tussock.look b WHERE b.coop_id = k.coop_id AND b.ranch_id = k.ranch_id AND b.undoes = k.id))
        OR EXISTS (SELECT 1 FROM tussock.nest n JOIN tussock.upload u ON u.coop_id = n.coop_id AND u.ranch_id = n.ranch_id AND u.id = n.upload_id
                   WHERE n.coop_id = l.coop_id AND n.ranch_id = l.ranch_id AND u.state = 'current' AND u.rank > 0 AND n.season = l.season
                   AND n.transect = l.name AND coalesce(n.site, '') = l.pasture
                   AND CASE c.what WHEN 'set' THEN true WHEN 'first' THEN cardinality(n.visit_on) > 0
                       ELSE n.visit_on[cardinality(n.visit_on)] >= c.since END),
        c.what = 'last' AND (SELECT bool_and(cardinality(n.visit_on) > 0 AND n.visit_state[cardinality(n.visit_state)] <> 'intact')
            FROM tussock.nest n JOIN tussock.upload u ON u.coop_id = n.coop_id AND u.ranch_id = n.ranch_id AND u.id = n.upload_id
            WHERE n.coop_id = l.coop_id AND n.ranch_id = l.ranch_id AND u.state = 'current' AND u.rank > 0 AND n.season = l.season
            AND n.transect = l.name AND coalesce(n.site, '') = l.pasture) IS TRUE
    FROM tussock.season_line l
    CROSS JOIN LATERAL (VALUES ('set', l.set_on, 0, NULL::date), ('first', l.first_check, l.slack, NULL),
        ('last', l.last_check, l.slack, CASE WHEN l.first_check < l.last_check THEN l.first_check + (l.last_check - l.first_check) / 2 ELSE l.last_check - l.slack END)) c (what, due, slack, since)
    WHERE NOT l.closed AND c.due IS NOT NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.check_hand_over()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF tussock.asked_off(NEW.coop_id, NEW.ranch_id) THEN
        RAISE EXCEPTION 'an owner is asked off' USING ERRCODE = '23505', CONSTRAINT = 'departure_disputed_check';
    END IF;
    IF EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.suspended_at IS NOT NULL AND tussock.owns(NEW.coop_id, NEW.ranch_id, p.id)) THEN
        RAISE EXCEPTION 'an owner is suspended' USING ERRCODE = '23505', CONSTRAINT = 'departure_suspended_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.check_season()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE soon date := tussock.today() + 14;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN -- the policies refuse members
        RETURN coalesce(NEW, OLD);
    END IF;
    IF TG_OP <> 'INSERT' AND OLD.opens_on < soon THEN
        RAISE EXCEPTION 'the dates stand' USING ERRCODE = '23505', CONSTRAINT = 'season_stands_check';
    END IF;
    IF TG_OP = 'DELETE' THEN
        RETURN OLD;
    END IF;
    IF NEW.opens_on < soon THEN
        RAISE EXCEPTION 'no notice' USING ERRCODE = '23514', CONSTRAINT = 'season_notice_check';
    END IF;
    IF extract(year FROM NEW.opens_on) > NEW.year THEN
        RAISE EXCEPTION 'past' USING ERRCODE = '23514', CONSTRAINT = 'season_past_check';
    END IF;
    IF NEW.cut_off_on < NEW.opens_on + 28 OR NEW.composed_on < NEW.cut_off_on + 1 OR NEW.published_on < NEW.composed_on + 7 THEN
        RAISE EXCEPTION 'too soon' USING ERRCODE = '23514', CONSTRAINT = 'season_pace_check';
    END IF;
    IF NEW.cut_off_on > NEW.opens_on + 400 OR NEW.composed_on > NEW.cut_off_on + 60 OR NEW.published_on > NEW.composed_on + 60 THEN
        RAISE EXCEPTION 'too late' USING ERRCODE = '23514', CONSTRAINT = 'season_late_check';
    END IF;
    IF EXISTS (SELECT 1 FROM tussock.season s WHERE s.coop_id = NEW.coop_id AND (s.year < NEW.year AND s.cut_off_on >= NEW.opens_on OR s.year > NEW.year AND s.opens_on <= NEW.cut_off_on)) THEN
        RAISE EXCEPTION 'two at once' USING ERRCODE = '23514', CONSTRAINT = 'season_turn_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.choose_own()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE kept tussock.look;
BEGIN
    IF NEW.ranch_id = ANY (tussock.my_own_ranches())
       OR EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = NEW.coop_id AND k.ranch_id = NEW.ranch_id AND k.id = NEW.id) THEN -- kept already
        RETURN NEW;
    END IF;
    SELECT * INTO kept FROM tussock.look k WHERE k.coop_id = NEW.coop_id AND k.ranch_id = NEW.ranch_id AND k.id::text = NEW.answers->>'keep';
    IF kept.id IS NULL OR (kept.line_id, kept.stop) IS DISTINCT FROM (NEW.line_id, NEW.stop) OR EXISTS (
        SELECT 1 FROM tussock.look k WHERE k.coop_id = kept.coop_id AND k.ranch_id = kept.ranch_id AND k.line_id = kept.line_id AND k.stop = kept.stop
           AND k.kind IN (kept.kind, 'choose') AND tussock.owns(k.coop_id, k.ranch_id, k.sent_by)
           AND NOT EXISTS (SELECT 1 FROM tussock.look u WHERE u.coop_id = k.coop_id AND u.ranch_id = k.ranch_id AND u.kind = 'undo' AND u.undoes = k.id)) THEN
        RAISE EXCEPTION 'an owner''s choice' USING ERRCODE = '23514', CONSTRAINT = 'look_choose_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.close_edition(coop uuid, which integer, nth smallint)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on, opened_at, words)
    VALUES (coop, which, tussock.today() - 3, tussock.today() - 2, tussock.today() - 2, tussock.today() - 2, now(), 1) ON CONFLICT DO NOTHING;
    INSERT INTO tussock.edition AS e (coop_id, season, edition, on_roster, sheets, owners, composed_at, note)
    VALUES (coop, which, nth, 0, 0, 0, now(), 'It was composed before this database was restored from a backup, and may have been read. None is composed again.')
    ON CONFLICT ON CONSTRAINT edition_pkey DO UPDATE SET composed_at = coalesce(e.composed_at, EXCLUDED.composed_at), note = EXCLUDED.note;
END
$function$
CREATE OR REPLACE FUNCTION tussock.close_heir()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE who uuid;
BEGIN
    UPDATE tussock.invitation i SET revoked_at = now()
    WHERE i.coop_id = NEW.coop_id AND i.invited_by = NEW.person_id AND i.role = 'landowner' AND i.email = OLD.heir
      AND i.used_at IS NULL AND i.revoked_at IS NULL;
    FOR who IN
        SELECT p.id FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.heir_of = NEW.id AND p.left_at IS NULL
          AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = p.coop_id AND a.person_id = p.id)
    LOOP
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
        SELECT NEW.coop_id, NEW.called_off_by, 'heir gone', r.id, r.name, p.name FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.id = who
        WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
        PERFORM tussock.depart(NEW.coop_id, who);
    END LOOP;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.close_my_session(which text)
 RETURNS boolean
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH closed AS (
        UPDATE tussock.session s SET closed_at = now()
        FROM tussock.viewer() v
        WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL
          AND left(encode(sha256(s.token_hash), 'hex'), 16) = which
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM closed)
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.close_my_sessions(but_this boolean)
 RETURNS void
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    UPDATE tussock.api_token t SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE t.coop_id = v.coop_id AND t.person_id = v.person_id AND t.revoked_at IS NULL;
    UPDATE tussock.calendar c SET revoked_at = now()
    FROM tussock.viewer() v
    WHERE c.coop_id = v.coop_id AND c.person_id = v.person_id AND c.revoked_at IS NULL;
    DELETE FROM tussock.device d USING tussock.viewer() v WHERE d.coop_id = v.coop_id AND d.person_id = v.person_id;
    DELETE FROM tussock.step s USING tussock.viewer() v WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id;
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL AND NOT (but_this AND s.token_hash = v.shown)
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.close_ranch()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF NEW.kind = 'owner' AND NEW.confirmed_at IS NOT NULL AND OLD.until IS NULL AND NEW.until IS NOT NULL
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id
                       AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL)
       AND tussock.says_yes(NEW.coop_id, NEW.ranch_id) THEN
        INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES (NEW.coop_id, NEW.ranch_id, 0, NEW.person_id);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.close_session()
 RETURNS void
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    UPDATE tussock.session SET closed_at = now()
    WHERE encode(sha256(token_hash), 'hex') = tussock.shown_handle() AND tussock.proves(token_hash) AND closed_at IS NULL
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.close_to_crew(coop uuid, ranch uuid, asker uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    DELETE FROM tussock.field_session f WHERE f.coop_id = coop AND f.ranch_id = ranch;
    UPDATE tussock.field_link f SET revoked_at = now() WHERE f.coop_id = coop AND f.ranch_id = ranch AND f.revoked_at IS NULL;
    UPDATE tussock.sharing s SET ended_at = coalesce(s.ended_at, now()) WHERE s.coop_id = coop AND s.ranch_id = ranch;
    UPDATE tussock.showcase s SET ended_at = coalesce(s.ended_at, now()) WHERE s.coop_id = coop AND s.ranch_id = ranch;
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = asker WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.ended_by IS NULL;
    DELETE FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch; -- none is no
    DELETE FROM tussock.welcome w WHERE w.coop_id = coop AND w.ranch_id = ranch;
END
$function$
CREATE OR REPLACE FUNCTION tussock.code_state(coop uuid, person uuid)
 RETURNS TABLE(open boolean, secret bytea)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT k.on_since IS NOT NULL, CASE WHEN k.on_since IS NULL THEN k.secret END -- one in use is never shown again
    FROM tussock.code_secret k WHERE k.coop_id = coop AND k.person_id = person
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.code_unsealed(seal bytea)
 RETURNS TABLE(coop uuid, person uuid, secret bytea)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT k.coop_id, k.person_id, k.secret FROM tussock.code_secret k WHERE length(k.secret) = 20 OR substring(k.secret FROM 1 FOR 5) <> seal;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.come_onto(ranch uuid, yes boolean)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.assignment a SET confirmed_at = CASE WHEN yes THEN now() END, confirmed_by = CASE WHEN yes THEN a.let_in_by END, until = CASE WHEN NOT yes THEN now() END
    WHERE a.coop_id = tussock.my_coop() AND a.person_id = tussock.my_person() AND a.ranch_id = come_onto.ranch AND a.until IS NULL AND a.confirmed_at IS NULL
      AND CASE WHEN yes THEN tussock.let_in_stands(a) ELSE a.let_in_at IS NOT NULL END;
    RETURN FOUND;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.confirm_assignment(person uuid, ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.assignment a SET let_in_at = now(), let_in_by = tussock.my_person(),
        confirmed_at = CASE a.kind WHEN 'hand' THEN now() END, confirmed_by = CASE a.kind WHEN 'hand' THEN tussock.my_person() END
    WHERE a.coop_id = tussock.my_coop() AND a.person_id = person AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NULL AND NOT tussock.let_in_stands(a)
      AND ranch = ANY (tussock.my_own_ranches()) AND a.person_id <> tussock.my_person();
    RETURN FOUND;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.coordinator_changes()
 RETURNS TABLE(name text, what text, changed_at timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT p.name, c.what, c.at
    FROM tussock.person p CROSS JOIN LATERAL (VALUES ('came', p.joined_at), ('gone', p.left_at), ('suspended', CASE WHEN p.left_at IS NULL THEN p.suspended_at END)) c (what, at)
    WHERE p.coop_id = (SELECT tussock.my_coop()) AND p.role = 'coordinator' AND c.at > now() - interval '30 days'
    ORDER BY c.at DESC;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.count_upload()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.seq := 1 + coalesce((SELECT max(u.seq) FROM tussock.upload u WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id), 0);
    NEW.rank := CASE WHEN NEW.called <> '' THEN 0
        WHEN EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.person_id = NEW.sent_by
            AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN 3 ELSE 1 END;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.credentials(address text)
 RETURNS TABLE(coop_id uuid, person_id uuid, coop_name text, password_hash text, suspended boolean, until timestamp with time zone, coordinators text[])
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT a.coop_id, a.person_id, c.name, a.password_hash, p.suspended_at IS NOT NULL,
        CASE WHEN p.suspended_at IS NOT NULL AND p.suspended_by IS NOT NULL AND p.suspension_kept_by IS NULL THEN p.suspended_first + interval '14 days' END,
        CASE WHEN p.suspended_at IS NOT NULL THEN ARRAY(SELECT b.name FROM tussock.person b WHERE b.coop_id = p.coop_id AND b.id <> p.id
            AND b.role = 'coordinator' AND b.left_at IS NULL AND b.suspended_at IS NULL ORDER BY b.name, b.id) END
    FROM tussock.account a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.coop c ON c.coop_id = a.coop_id
    WHERE a.email = lower(address) AND p.left_at IS NULL
    ORDER BY p.suspended_at IS NOT NULL, p.joined_at
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.cut_off(coop uuid, which integer, nth smallint)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE opened timestamptz := (SELECT s.opened_at FROM tussock.season s WHERE s.coop_id = coop AND s.year = which);
BEGIN
    IF nth = 1 THEN -- entities with people, a mailbox, a telephone or a browser in common are one, over however many steps
        WITH RECURSIVE trace AS (
            SELECT s.entity_id, t.trace
            FROM (SELECT x.entity_id, array_agg(x.ranch_id) AS ranches FROM tussock.season_ranch x WHERE x.coop_id = coop AND x.season = which GROUP BY x.entity_id) s
            CROSS JOIN LATERAL unnest(tussock.owners_traces(coop, s.ranches, opened)) t (trace)
        ), link AS (
            SELECT DISTINCT x.entity_id AS a, y.entity_id AS b FROM trace x JOIN trace y ON y.trace = x.trace
            UNION SELECT x.id, y.id FROM tussock.entity x JOIN tussock.entity y ON y.coop_id = x.coop_id AND tussock.alike(x.folded, y.folded)
            WHERE x.coop_id = coop AND x.id IN (SELECT s.entity_id FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which)
              AND y.id IN (SELECT s.entity_id FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which)
        ), reach AS (
            SELECT a, b FROM link UNION SELECT r.a, l.b FROM reach r JOIN link l ON l.a = r.b
        )
        UPDATE tussock.season_ranch s SET counts_as = x.b
        FROM (SELECT a, min(b::text)::uuid AS b FROM reach GROUP BY a) x
        WHERE s.coop_id = coop AND s.season = which AND s.entity_id = x.a;
        -- Nobody stands behind a ranch whose owner is not vouched for: it goes beside the landowner whose name it bears, and not in their place.
        UPDATE tussock.season_ranch s SET counts_as = s.ranch_id
        WHERE s.coop_id = coop AND s.season = which AND NOT s.settled AND EXISTS (
            SELECT 1 FROM tussock.season_ranch o WHERE o.coop_id = coop AND o.season = which AND o.counts_as = s.counts_as AND o.settled);
    END IF;
    INSERT INTO tussock.edition (coop_id, season, edition, on_roster, sheets, owners)
    SELECT coop, which, nth, count(*), 0, count(DISTINCT s.counts_as) FILTER (WHERE s.yes AND s.settled)
    FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which;
    INSERT INTO tussock.unread (coop_id, season, edition, ranch_id, upload_id) -- one that is being kept this moment is waited for
    SELECT w.coop_id, which, nth, w.ranch_id, w.upload_id
    FROM tussock.to_read w JOIN tussock.season_ranch s ON s.coop_id = w.coop_id AND s.season = which AND s.ranch_id = w.ranch_id
    WHERE w.coop_id = coop AND NOT w.rest FOR SHARE OF w;
    INSERT INTO tussock.snapshot (coop_id, season, edition, ranch_id, shown, open, nests, belts, sites)
    SELECT coop, which, nth, s.ranch_id,
        EXISTS (SELECT 1 FROM tussock.showcase w JOIN tussock.season_ranch o ON o.coop_id = w.coop_id AND o.entity_id = w.entity_id AND o.season = which
                WHERE w.coop_id = coop AND o.counts_as = s.counts_as),
        EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = s.ranch_id AND (u.season = which OR which = ANY (u.seasons)) AND u.state = 'current' AND u.rank > 0 AND u.open_count > 0 -- of one that waits it is known when it is read
            AND NOT EXISTS (SELECT 1 FROM tussock.unread w WHERE w.coop_id = coop AND w.season = which AND w.edition = nth AND w.upload_id = u.id)),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,steps,bearing,spot,notes,from_sheet,from_row}'::text[] ORDER BY u.rank DESC, u.seq DESC, x.row), '[]')
         FROM tussock.nest x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND x.season = which AND u.state = 'current' AND u.rank > 0),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[] ORDER BY u.rank DESC, u.seq DESC, x.row), '[]')
         FROM tussock.belt x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND x.season = which AND u.state = 'current' AND u.rank > 0),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[] ORDER BY u.rank DESC, u.seq DESC, x.row), '[]')
         FROM tussock.site x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND u.state = 'current' AND u.rank > 0)
    FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which AND s.yes AND tussock.said_yes(coop, s.ranch_id);
    UPDATE tussock.edition e SET sheets = (SELECT count(*) FROM tussock.snapshot x WHERE x.coop_id = coop AND x.season = which AND x.edition = nth AND x.nests <> '[]')
    WHERE e.coop_id = coop AND e.season = which AND e.edition = nth;
END
$function$
CREATE OR REPLACE FUNCTION tussock.date_consent()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    NEW.seq := 1 + coalesce((SELECT max(c.seq) FROM tussock.consent c WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id), 0);
    NEW.given_at := clock_timestamp();
    NEW.over := NOT NEW.paper AND NOT tussock.owns(NEW.coop_id, NEW.ranch_id, NEW.given_by);
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.date_vouch()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF TG_OP = 'UPDATE' AND OLD.ended_at IS NULL AND NEW.ended_at IS NOT NULL AND EXISTS (
        SELECT 1 FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.id = NEW.owner_id AND p.suspended_at IS NOT NULL) THEN
        RAISE EXCEPTION 'cannot answer' USING ERRCODE = '23505', CONSTRAINT = 'vouch_suspended_check';
    END IF;
    IF TG_OP = 'UPDATE' THEN
        NEW.ended_at := CASE WHEN NEW.ended_at IS NOT NULL THEN coalesce(OLD.ended_at, now()) WHEN NOT tussock.may_vouch() THEN OLD.ended_at END;
    END IF;
    IF TG_OP = 'INSERT' OR OLD.ended_at IS NOT NULL AND NEW.ended_at IS NULL THEN
        NEW.first := tussock.from_the_first(NEW.coop_id, NEW.person_id);
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.dated_seasons(coop uuid, by_day date)
 RETURNS TABLE(year integer, closed boolean)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT s.year, s.cut_off_on <= by_day FROM tussock.season s WHERE s.coop_id = coop
$function$
    GRANT EXECUTE TO tussock_clerk
CREATE OR REPLACE FUNCTION tussock.depart(coop uuid, person uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    t record;
    ranch uuid;
    address text := (SELECT a.email FROM tussock.account a WHERE a.coop_id = coop AND a.person_id = person);
BEGIN
    FOR ranch IN -- that have no other owner
        SELECT a.ranch_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.person_id = person AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
        AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = coop AND o.ranch_id = a.ranch_id AND o.person_id <> person
                        AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
    LOOP
        PERFORM tussock.close_to_crew(coop, ranch, person);
    END LOOP;
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.person_id = person AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = person WHERE a.coop_id = coop AND a.person_id = person AND a.ended_by IS NULL;
    -- What is about the person alone; what is about a ranch is its owners'.
    FOR t IN
        SELECT c.oid::regclass AS name FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'person_id' AND NOT a.attisdropped
        WHERE c.relnamespace = 'tussock'::regnamespace AND c.relkind = 'r' AND c.relname NOT IN ('alarm', 'departure')
          AND NOT EXISTS (SELECT 1 FROM pg_attribute r WHERE r.attrelid = c.oid AND r.attname = 'ranch_id' AND NOT r.attisdropped)
    LOOP
        EXECUTE format('DELETE FROM %s WHERE coop_id = $1 AND person_id = $2', t.name) USING coop, person;
    END LOOP;
    DELETE FROM tussock.invitation i WHERE i.coop_id = coop AND i.email = address;
    UPDATE tussock.person p SET left_at = now(),
        -- where a ranch is left that they once opened, its log still says who
        name = CASE WHEN EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
            WHERE a.coop_id = coop AND a.person_id = person AND r.erased_at IS NULL) THEN p.name ELSE 'Somebody who left' END
    WHERE p.coop_id = coop AND p.id = person;
END
$function$
CREATE OR REPLACE FUNCTION tussock.departure_addresses(coop uuid, which uuid)
 RETURNS text[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT a.email), '{}')
        FROM tussock.departure d
        JOIN tussock.account a ON a.coop_id = d.coop_id AND (a.person_id = d.person_id OR a.person_id IN (
            SELECT o.person_id FROM tussock.assignment o WHERE o.coop_id = d.coop_id AND o.ranch_id = d.ranch_id
               AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL))
        WHERE d.coop_id = coop AND d.id = which);
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.departure_due(which uuid)
 RETURNS timestamp with time zone
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.departure_over(d tussock.departure)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN d.kind IN ('erase', 'hand over') AND (EXISTS (SELECT 1 FROM tussock.ranch r WHERE r.coop_id = d.coop_id AND r.id = d.ranch_id AND r.erased_at IS NOT NULL)
        OR NOT tussock.owns(d.coop_id, d.ranch_id, d.person_id) AND EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = d.coop_id AND o.ranch_id = d.ranch_id
            AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL));
END
$function$
CREATE OR REPLACE FUNCTION tussock.departure_waits_for(d tussock.departure, who uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN who IN (d.person_id, d.whom) OR EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = d.coop_id AND o.ranch_id = d.ranch_id
        AND o.person_id = who AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL);
END
$function$
CREATE OR REPLACE FUNCTION tussock.disputed(coop uuid, ranch uuid, person uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (
        SELECT 1 FROM tussock.departure x JOIN tussock.departure y ON y.coop_id = x.coop_id AND y.ranch_id = x.ranch_id AND y.whom = x.person_id AND y.person_id = x.whom
           AND y.kind = 'take off' AND y.done_at IS NULL AND y.called_off_at IS NULL
        WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.whom = person AND x.kind = 'take off' AND x.done_at IS NULL AND x.called_off_at IS NULL);
END
$function$
CREATE OR REPLACE FUNCTION tussock.edition_checks()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    t record;
BEGIN
    SELECT x.first_check, x.last_check INTO t FROM tussock.season s JOIN tussock.targets x ON x.coop_id = s.coop_id AND x.version = greatest(s.targets, 1)
    WHERE s.coop_id = NEW.coop_id AND s.year = NEW.season;
    IF FOUND THEN
        NEW.first_check := t.first_check;
        NEW.last_check := t.last_check;
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.end_calendar(ranch uuid, calendar uuid)
 RETURNS text
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE whose text;
BEGIN
    SELECT n.name INTO whose FROM tussock.named_calendars(ranch) n WHERE n.id = calendar AND n.hand;
    IF whose IS NOT NULL THEN
        UPDATE tussock.calendar c SET revoked_at = now() WHERE c.coop_id = tussock.my_coop() AND c.id = calendar AND c.revoked_at IS NULL;
    END IF;
    RETURN whose;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.end_places()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    me uuid := coalesce(tussock.my_person(), NEW.id);
    s record;
BEGIN
    FOR s IN
        UPDATE tussock.sharing x SET ended_at = now(), ended_by = me WHERE x.coop_id = NEW.coop_id AND x.person_id = NEW.id AND x.ended_at IS NULL
        RETURNING x.ranch_id, x.purpose
    LOOP
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item) VALUES (NEW.coop_id, s.ranch_id, me, now(), 'share ended', left(s.purpose, 80));
    END LOOP;
    IF tussock.my_role() = 'coordinator' AND me <> NEW.id THEN
        UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = NEW.coop_id AND a.person_id = NEW.id AND a.until IS NULL;
        IF NEW.role <> 'coordinator' THEN
            INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id, became) VALUES (NEW.coop_id, me, 'member gone', NEW.name, NEW.id, NEW.role);
        END IF;
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.end_suspensions(at timestamp with time zone)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
CREATE OR REPLACE FUNCTION tussock.end_word()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.consent c SET over = true WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id AND c.given_by = NEW.person_id AND NOT c.paper;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.erase(coop uuid, ranch uuid, asker uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE owner_of uuid := (SELECT r.entity_id FROM tussock.ranch r WHERE r.coop_id = coop AND r.id = ranch);
BEGIN
    PERFORM tussock.forget(coop, ranch);
    PERFORM tussock.purge(coop, ranch);
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = asker WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.ended_by IS NULL;
    UPDATE tussock.ranch r SET name = 'Erased ' || gen_random_uuid()::text, area_id = NULL, erased_at = now() WHERE r.coop_id = coop AND r.id = ranch;
    UPDATE tussock.entity e SET name = 'Erased ' || gen_random_uuid()::text
    WHERE e.coop_id = coop AND e.id = owner_of
      AND NOT EXISTS (SELECT 1 FROM tussock.ranch r WHERE r.coop_id = coop AND r.entity_id = owner_of AND r.erased_at IS NULL);
END
$function$
CREATE OR REPLACE FUNCTION tussock.field_keep(looks jsonb)
 RETURNS integer
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
    WHERE s.coop_id = v.coop_id AND s.ranch_id = v.ranch_id AND s.link_id = v.link_id AND encode(sha256(s.token_hash), 'hex') = tussock.shown_handle();
    RETURN n;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.field_lines()
 RETURNS SETOF tussock.season_line
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT n.* FROM tussock.field_viewer() v
    JOIN tussock.season_line n ON n.coop_id = v.coop_id AND n.ranch_id = v.ranch_id AND n.id = ANY (v.lines)
    WHERE v.reading;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.field_link_of(hash bytea)
 RETURNS TABLE(coop_name text, ranch_name text, name text, line_names text[], from_on date, through date, state text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.field_link_stands(l tussock.field_link)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN l.revoked_at IS NULL AND EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = l.coop_id AND a.ranch_id = l.ranch_id AND a.person_id = l.made_by AND a.kind = 'owner'
          AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND p.left_at IS NULL);
END
$function$
CREATE OR REPLACE FUNCTION tussock.field_looked()
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
    SELECT v.coop_id, v.ranch_id, NULL, now(), 'phone', v.name
    FROM tussock.field_viewer() v
    WHERE v.reading AND NOT EXISTS (SELECT 1 FROM tussock.view_log l WHERE l.coop_id = v.coop_id AND l.ranch_id = v.ranch_id
        AND l.person_id IS NULL AND l.what = 'phone' AND l.item = v.name
        AND l.looked_at >= date_trunc('day', now() AT TIME ZONE 'UTC') AT TIME ZONE 'UTC');
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.field_looks()
 RETURNS TABLE(id uuid, ranch_id uuid, season integer, line_id uuid, stop integer, kind text, who text, device text, seq integer, at timestamp with time zone, answers text, undoes text, received_at timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    WITH here AS (
        SELECT k.*, k.link_id IS NOT DISTINCT FROM v.link_id AS own
        FROM tussock.field_viewer() v
        JOIN tussock.look k ON k.coop_id = v.coop_id AND k.ranch_id = v.ranch_id AND k.line_id = ANY (v.lines)
        WHERE v.reading
    ), live AS (
        SELECT h.* FROM here h WHERE NOT EXISTS (SELECT 1 FROM here u WHERE u.kind = 'undo' AND u.undoes = h.id)
    ), checks AS ( -- a later look by the same hand on the same day mends the one before
        SELECT DISTINCT ON (l.line_id, l.stop, l.device, l.answers->>'looked_on') l.*, l.answers->>'looked_on' AS looked_on, l.answers->>'found' AS found
        FROM live l
        WHERE l.kind = 'check' AND l.answers->>'found' <> 'not_checked' AND l.answers->>'looked_on' <> ''
        ORDER BY l.line_id, l.stop, l.device, l.answers->>'looked_on', l.seq DESC, l.id
    ), stops AS (
        SELECT (array_agg(c.id ORDER BY c.looked_on DESC, c.at DESC, c.id) FILTER (WHERE NOT c.own))[1] AS last,
            bool_or(c.found IN ('some', 'lost')) OR count(DISTINCT c.looked_on) > 1
                OR (array_agg(c.found ORDER BY c.looked_on DESC, c.at DESC, c.id))[1] = 'not_found' AS done
        FROM checks c GROUP BY c.line_id, c.stop HAVING NOT bool_and(c.own)
    ), told AS (
        SELECT h.id, h.answers FROM here h WHERE h.own AND h.kind <> 'choose'
        UNION ALL
        SELECT u.id, '{}' FROM here u JOIN here h ON h.id = u.undoes AND h.own WHERE u.kind = 'undo' AND NOT u.own
        UNION ALL
        SELECT l.id, (SELECT coalesce(jsonb_object_agg(e.key, e.value), '{}') FROM jsonb_each(l.answers) e
            WHERE e.key IN ('cover', 'cover_plant', 'set_on', 'eggs_set', 'steps', 'bearing', 'place', 'camera_here', 'flags_set', 'markers_set'))
        FROM live l WHERE l.kind = 'set' AND NOT l.own
        UNION ALL
        SELECT s.last, CASE WHEN s.done THEN jsonb_build_object('done', 'yes') ELSE jsonb_build_object('looked_on', c.looked_on) END
        FROM stops s JOIN checks c ON c.id = s.last
    )
    SELECT h.id, h.ranch_id, h.season, h.line_id, h.stop, h.kind, '', CASE WHEN h.own THEN h.device ELSE '' END, h.seq, h.at, t.answers::text,
        coalesce(h.undoes::text, ''), h.received_at
    FROM told t JOIN here h ON h.id = t.id
    ORDER BY h.at, h.device, h.seq, h.id;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.field_photo(photo uuid, line uuid, picture bytea)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.field_viewer()
 RETURNS TABLE(coop_id uuid, ranch_id uuid, link_id uuid, name text, lines uuid[], from_on date, through date, reading boolean)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER ROWS 1
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    handle text := tussock.shown_handle();
BEGIN
    RETURN QUERY
    SELECT l.coop_id, l.ranch_id, l.id, l.name, l.lines, l.from_on, l.through, (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 1
    FROM tussock.field_session s
    JOIN tussock.field_link l ON l.coop_id = s.coop_id AND l.ranch_id = s.ranch_id AND l.id = s.link_id
    WHERE encode(sha256(s.token_hash), 'hex') = handle AND tussock.proves(s.token_hash)
      AND (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 60 AND tussock.field_link_stands(l);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.filed_late()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.unread (coop_id, season, edition, ranch_id, upload_id)
    SELECT e.coop_id, e.season, e.edition, NEW.ranch_id, NEW.id
    FROM tussock.edition e
    WHERE e.coop_id = NEW.coop_id AND e.counted IS NULL AND NEW.sent_at < e.cut_at AND (
        EXISTS (SELECT 1 FROM tussock.unfiled f WHERE f.coop_id = NEW.coop_id AND f.person_id = NEW.sent_by AND f.sending_id = NEW.sending_id AND f.sent_at = NEW.sent_at AND f.unclear = '')
        OR EXISTS (SELECT 1 FROM tussock.unread x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
            WHERE x.coop_id = e.coop_id AND x.season = e.season AND x.edition = e.edition AND u.sent_by = NEW.sent_by AND u.sent_at = NEW.sent_at AND u.sending_id = NEW.sending_id))
    ON CONFLICT DO NOTHING;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.first_on(coop uuid, ranch uuid, person uuid, part text)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = ranch)
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL
                       AND (a.kind = 'owner' OR part = 'hand'))
       AND (part = 'hand' OR tussock.named_on(
            (SELECT e.name FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ranch),
            (SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = person))
            AND array_remove(tussock.bearers(coop, ranch), person) = '{}'
            AND tussock.namesakes(coop, ranch, person) = '{}');
END
$function$
CREATE OR REPLACE FUNCTION tussock.fix_key()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    NEW.remains_key := coalesce((SELECT max(k.version) FROM tussock.remains_key k WHERE k.coop_id = NEW.coop_id), 0);
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.fix_targets()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    NEW.targets := coalesce((SELECT max(t.version) FROM tussock.targets t WHERE t.coop_id = NEW.coop_id), 0);
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.fold(name text)
 RETURNS text
 LANGUAGE sql
 IMMUTABLE
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH plain AS (
        SELECT regexp_replace(regexp_replace(regexp_replace(regexp_replace(translate(regexp_replace(normalize(name, NFKD), '[\u0300-\u036f\u00ad\u200b-\u200f\u2060\ufeff''’‘`ʼʻ]', '', 'g'),
            'øØđĐðÐłŁıŋŊħĦŧŦ', 'oOdDdDlLinNhHtT'), '[ßẞ]', 'ss', 'g'), '[æÆ]', 'ae', 'g'), '[œŒ]', 'oe', 'g'), '[þÞ]', 'th', 'g') AS name
    ), word AS (
        SELECT w.word, w.nth FROM plain p, LATERAL (SELECT rtrim(t.word, '@$|!') AS word, t.nth
            FROM regexp_split_to_table(regexp_replace(replace(lower(p.name), '&', ' and '), '[^a-z0-9@$|!]+', ' ', 'g'), ' ') WITH ORDINALITY t (word, nth)) w
        WHERE w.word ~ '[a-z0-9]'
    ), kept AS (
        SELECT w.nth, CASE WHEN w.word !~ '[a-z]' THEN '' ELSE replace(replace(replace(replace(
                translate(regexp_replace(w.word, '[0-9]+$', ''), '0134578@$|!269', 'oleastbasll'), 'cl', 'd'), 'i', 'l'), 'rn', 'm'), 'vv', 'w') END AS letters,
            CASE WHEN w.word !~ '[a-z]' THEN regexp_replace(w.word, '[^0-9]', '', 'g')
                ELSE regexp_replace(regexp_replace(w.word, '[0-9]+$', ''), '[^269]', '', 'g') || coalesce(substring(w.word FROM '[0-9]+$'), '') END AS digits
        FROM word w
    )
    SELECT coalesce((SELECT string_agg(k.letters || k.digits, '' ORDER BY k.nth) || '|' || (SELECT string_agg(p.part, ' ' ORDER BY p.part COLLATE "C") FROM kept x, LATERAL (VALUES (x.letters), (x.digits)) p (part) WHERE p.part <> '')
            || '|' || coalesce(string_agg(k.letters, '') FILTER (WHERE length(k.letters) = 1), '')
        FROM kept k), name)
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.forget(coop uuid, ranch uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE t record;
BEGIN
    FOR t IN
        SELECT left(encode(sha256(convert_to(k.salt || E'\n' || x.kind || E'\n' || x.name, 'UTF8')), 'hex'), 20) AS token,
               left(md5(gen_random_uuid()::text), 20) AS blank
        FROM tussock.gate_key k
        CROSS JOIN LATERAL (
            SELECT 'ranch' AS kind, ranch::text AS name
            UNION SELECT 'entity', s.counts_as::text FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.ranch_id = ranch AND NOT EXISTS (
                SELECT 1 FROM tussock.season_ranch o WHERE o.coop_id = coop AND o.counts_as = s.counts_as AND o.ranch_id <> ranch AND tussock.says_yes(coop, o.ranch_id))) x
        WHERE k.coop_id = coop AND x.name IS NOT NULL
    LOOP
        UPDATE tussock.gate_log l SET log = replace(l.log, t.token, t.blank) WHERE l.coop_id = coop;
    END LOOP;
END
$function$
CREATE OR REPLACE FUNCTION tussock.forget_findings()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    changed jsonb := to_jsonb(CASE WHEN TG_OP = 'INSERT' THEN NEW ELSE OLD END);
    ranch uuid := changed ->> TG_ARGV[0];
BEGIN
    PERFORM pg_advisory_xact_lock(hashtextextended('findings of ' || ranch, 0));
    DELETE FROM tussock.finding f WHERE f.coop_id = (changed ->> 'coop_id')::uuid AND f.ranch_id = ranch;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.freeze_due(coop uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE s record;
BEGIN
    FOR s IN SELECT x.coop_id, x.year FROM tussock.season x WHERE (coop IS NULL OR x.coop_id = coop) AND x.opened_at IS NULL AND x.opens_on <= tussock.today()
        ORDER BY x.opens_on, x.year FOR UPDATE
    LOOP
        PERFORM tussock.open_season(s.coop_id, s.year);
    END LOOP;
    FOR s IN SELECT x.coop_id, x.year FROM tussock.season x WHERE (coop IS NULL OR x.coop_id = coop) AND x.opened_at IS NOT NULL AND x.cut_off_on <= tussock.today()
        AND NOT EXISTS (SELECT 1 FROM tussock.edition e WHERE e.coop_id = x.coop_id AND e.season = x.year)
        ORDER BY x.cut_off_on, x.year FOR UPDATE
    LOOP
        IF NOT EXISTS (SELECT 1 FROM tussock.edition e WHERE e.coop_id = s.coop_id AND e.season = s.year) THEN -- who had the lock before may have done it
            PERFORM tussock.cut_off(s.coop_id, s.year, 1::smallint);
        END IF;
    END LOOP;
    FOR s IN SELECT x.coop_id, x.year FROM tussock.season x JOIN pub.bulletin b ON b.coop_id = x.coop_id AND b.season = x.year
        WHERE (coop IS NULL OR x.coop_id = coop) AND b.published_at <= now() - interval '30 days'
        AND NOT EXISTS (SELECT 1 FROM tussock.edition e WHERE e.coop_id = x.coop_id AND (e.season = x.year AND e.edition = 2 OR e.season > x.year))
        FOR UPDATE OF x
    LOOP
        IF NOT EXISTS (SELECT 1 FROM tussock.edition e WHERE e.coop_id = s.coop_id AND e.season = s.year AND e.edition = 2) THEN
            PERFORM tussock.cut_off(s.coop_id, s.year, 2::smallint);
        END IF;
    END LOOP;
END
$function$
    GRANT EXECUTE TO tussock_press
CREATE OR REPLACE FUNCTION tussock.freeze_first()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM tussock.freeze_due(tussock.my_coop());
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.from_the_first(coop uuid, person uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE first timestamptz := (SELECT min(s.opened_at) FROM tussock.season s WHERE s.coop_id = coop);
BEGIN
    RETURN first IS NULL OR EXISTS (
        SELECT 1 FROM tussock.season_ranch s JOIN tussock.season x ON x.coop_id = s.coop_id AND x.year = s.season
        WHERE s.coop_id = coop AND x.opened_at = first AND s.settled AND s.yes AND person = ANY (s.owners));
END
$function$
CREATE OR REPLACE FUNCTION tussock.give_code()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    letters CONSTANT text := 'ABCDEFGHJKLMNPQRSTUVWXYZ23456789';
    random bytea;
BEGIN
    LOOP
        random := uuid_send(gen_random_uuid()); -- its first six bytes are random in every bit
        NEW.code := '';
        FOR i IN 0..5 LOOP
            NEW.code := NEW.code || substr(letters, 1 + (get_byte(random, i) & 31), 1);
        END LOOP;
        EXIT WHEN NOT EXISTS (SELECT 1 FROM tussock.season_line l WHERE l.coop_id = NEW.coop_id AND l.code = NEW.code);
    END LOOP;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.give_time(coop uuid, who uuid, at timestamp with time zone)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.departure d SET due_at = greatest(d.due_at, at + interval '14 days')
    WHERE d.coop_id = coop AND tussock.departure_waits_for(d, who) AND d.done_at IS NULL AND d.called_off_at IS NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.hand_over(coop uuid, ranch uuid, asker uuid, heir_id uuid, keep boolean)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    theirs uuid;
    called text := (SELECT p.name FROM tussock.person p WHERE p.coop_id = coop AND p.id = heir_id);
BEGIN
    IF keep THEN
        DELETE FROM tussock.view_log l WHERE l.coop_id = coop AND l.ranch_id = ranch;
    ELSE
        PERFORM tussock.forget(coop, ranch);
        PERFORM tussock.purge(coop, ranch);
    END IF;
    PERFORM tussock.close_to_crew(coop, ranch, asker);

    -- One landowner, however many ranches: the new owner's own entity where they have one, else a new one that a
    -- coordinator has yet to vouch for.
    SELECT r.entity_id INTO theirs FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    WHERE a.coop_id = coop AND a.person_id = heir_id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL ORDER BY a.since LIMIT 1;
    IF theirs IS NULL THEN
        WHILE EXISTS (SELECT 1 FROM tussock.entity e WHERE e.coop_id = coop AND e.name = called) LOOP
            called := called || ' (new)';
        END LOOP;
        INSERT INTO tussock.entity (coop_id, name) VALUES (coop, called) RETURNING id INTO theirs;
    END IF;
    UPDATE tussock.ranch r SET entity_id = theirs WHERE r.coop_id = coop AND r.id = ranch;
    INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind) VALUES (coop, heir_id, ranch, theirs, 'owner');
    UPDATE tussock.assignment a SET confirmed_at = now(), confirmed_by = asker
    WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.person_id = heir_id AND a.until IS NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.hand_over_lacks(d tussock.departure)
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN ARRAY(SELECT a.person_id FROM tussock.assignment a WHERE a.coop_id = d.coop_id AND a.ranch_id = d.ranch_id AND a.kind = 'owner' AND a.until IS NULL
        AND a.confirmed_at IS NOT NULL AND a.person_id <> d.person_id AND a.person_id <> ALL (d.owners_yes));
END
$function$
CREATE OR REPLACE FUNCTION tussock.hands_wait()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.upload h SET rank = 0
    WHERE h.coop_id = NEW.coop_id AND h.ranch_id = NEW.ranch_id AND h.rank = 1 AND EXISTS (
        SELECT 1 FROM tussock.upload b WHERE b.coop_id = h.coop_id AND b.ranch_id = h.ranch_id AND b.state = 'undone' AND b.owners_since IS NOT NULL AND b.seasons && h.seasons);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.has_owner(ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = tussock.my_coop() AND a.ranch_id = has_owner.ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.invitation_of(hash bytea)
 RETURNS TABLE(id uuid, coop_name text, role text, name text, email text, ranch_names text[], inviter text, created_at timestamp with time zone, expires_at timestamp with time zone, state text)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT i.id, c.name, i.role, i.name, i.email,
           ARRAY(SELECT r.name FROM tussock.ranch r WHERE r.coop_id = i.coop_id AND r.id = ANY (i.ranches) ORDER BY r.name),
           coalesce(p.name, ''), i.created_at, i.expires_at,
           CASE WHEN i.used_at IS NOT NULL THEN 'used' WHEN i.revoked_at IS NOT NULL THEN 'revoked'
                WHEN i.expires_at <= now() THEN 'expired' WHEN i.heir_of IS NOT NULL AND i.let_in_by IS NULL THEN 'waiting' ELSE 'open' END
    FROM tussock.invitation i
    JOIN tussock.coop c ON c.coop_id = i.coop_id
    LEFT JOIN tussock.person p ON p.coop_id = i.coop_id AND p.id = i.invited_by
    WHERE i.token_hash = hash
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.invite_heir(which uuid, hash bytea)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.invitation (coop_id, token_hash, role, email, invited_by, expires_at, heir_of)
    SELECT d.coop_id, hash, 'landowner', d.heir, v.person_id, now() + interval '60 days', d.id
    FROM tussock.viewer() v JOIN tussock.departure d ON d.coop_id = v.coop_id AND d.person_id = v.person_id
    WHERE v.role = 'landowner' AND d.id = which AND d.kind = 'hand over' AND d.done_at IS NULL AND d.called_off_at IS NULL;
    RETURN FOUND;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.joins_as(i tussock.invitation, called text)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE k text := tussock.fold(called);
BEGIN
    RETURN i.role <> 'landowner' OR i.heir_of IS NOT NULL -- whose coming a coordinator said yes to
        OR EXISTS (SELECT 1 FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = i.coop_id AND r.id = ANY (i.ranches) AND tussock.alike(e.folded, k))
        OR NOT EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = i.coop_id AND p.left_at IS NULL AND tussock.alike(p.folded, k))
       AND NOT EXISTS (SELECT 1 FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = i.coop_id AND r.erased_at IS NULL AND tussock.alike(e.folded, k));
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_account()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, person) VALUES (NEW.coop_id, CASE WHEN NEW.password_hash <> OLD.password_hash THEN 'password' ELSE 'address' END, NEW.person_id);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_assignment()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF NEW.until IS NOT NULL AND (TG_OP = 'INSERT' OR OLD.until IS NULL) THEN
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, 'taken off', NEW.ranch_id, NEW.person_id);
    ELSIF NEW.until IS NULL AND NEW.confirmed_at IS NOT NULL AND (TG_OP = 'INSERT' OR OLD.confirmed_at IS NULL) THEN
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, 'put on', NEW.ranch_id, NEW.person_id);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_bulletin()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, thing) VALUES (NEW.coop_id, 'published', NEW.season::text);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_codes()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, person) VALUES (OLD.coop_id, 'codes', OLD.person_id);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_consent()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, CASE WHEN NEW.level > 0 THEN 'yes' ELSE 'no' END, NEW.ranch_id, NEW.given_by);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_departure()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF NEW.kind <> 'take off' THEN -- which the end of the assignment tells
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, CASE NEW.kind WHEN 'erase' THEN 'erased' WHEN 'leave' THEN 'gone' ELSE 'handed over' END, NEW.ranch_id, NEW.person_id);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_done(which bigint[])
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    DELETE FROM migration.journal j WHERE j.id = ANY (which);
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.journal_due(most integer)
 RETURNS TABLE(id bigint, at timestamp with time zone, coop uuid, what text, ranch uuid, person uuid, thing text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY SELECT j.id, j.at, j.coop_id, j.what, j.ranch, j.person, j.thing FROM migration.journal j ORDER BY j.id LIMIT most;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.journal_passkey()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, person, thing) VALUES (OLD.coop_id, 'passkey', OLD.person_id, OLD.id::text);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_person()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, person) VALUES (NEW.coop_id, CASE WHEN NEW.left_at IS NOT NULL THEN 'left' WHEN NEW.suspended_at IS NOT NULL THEN 'suspended' ELSE 'let in' END, NEW.id);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_retraction()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, thing) VALUES (NEW.coop_id, 'taken back', NEW.season::text);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_revision()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, thing) VALUES (NEW.coop_id, 'revised', NEW.season::text);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_sharing()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF NEW.ended_at IS NULL THEN
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, 'shared', NEW.ranch_id, NEW.person_id);
    ELSIF TG_OP = 'INSERT' OR OLD.ended_at IS NULL THEN
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, 'sharing ended', NEW.ranch_id, NEW.person_id);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.journal_showcase()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO migration.journal (coop_id, what, ranch, thing) VALUES (NEW.coop_id, 'taken down', NEW.ranch_id, NEW.id::text);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.keep_browser()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.browser (coop_id, person_id, device_hash) VALUES (NEW.coop_id, NEW.person_id, NEW.device_hash) ON CONFLICT DO NOTHING;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.keep_coordinator()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF OLD.role = 'coordinator' AND OLD.left_at IS NULL AND OLD.suspended_at IS NULL
       AND (NEW.role <> 'coordinator' OR NEW.left_at IS NOT NULL OR NEW.suspended_at IS NOT NULL) THEN
        PERFORM 1 FROM tussock.coop c WHERE c.coop_id = NEW.coop_id FOR UPDATE; -- one at a time
        PERFORM 1 FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.id <> NEW.id
            AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL;
        IF NOT FOUND THEN
            RAISE EXCEPTION 'no coordinator would be left' USING ERRCODE = '23514', CONSTRAINT = 'person_coordinator_check';
        END IF;
    END IF;
    IF OLD.role = 'coordinator' AND OLD.left_at IS NULL AND NEW.left_at IS NOT NULL AND tussock.my_person() <> OLD.id AND NOT tussock.may_remove(OLD) THEN
        RAISE EXCEPTION 'a coordinator is not removed alone' USING ERRCODE = '23505', CONSTRAINT = 'person_stays_check';
    END IF;
    IF OLD.suspended_at IS NULL AND NEW.suspended_at IS NOT NULL THEN -- who cannot say no is asked nothing
        NEW.remove_asked_at := NULL;
        NEW.remove_asked_by := NULL;
    END IF;
    IF OLD.suspended_at IS NOT NULL AND NEW.suspended_at IS NULL THEN
        NEW.let_in_at := now();
    END IF;
    IF OLD.role = 'coordinator' AND NEW.left_at IS DISTINCT FROM OLD.left_at AND (SELECT tussock.my_person()) IS NOT NULL THEN
        NEW.left_at := CASE WHEN NEW.left_at IS NOT NULL THEN now() END;
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.keep_name()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE i tussock.invitation;
BEGIN
    SELECT * INTO i FROM tussock.invitation x WHERE x.coop_id = NEW.coop_id AND x.id = NEW.invitation_id;
    IF NOT tussock.joins_as(i, NEW.name) THEN
        RAISE EXCEPTION 'somebody else''s name' USING ERRCODE = '23505', CONSTRAINT = 'invitation_name_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.keep_name_off()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.name_word w JOIN tussock.entity e ON e.coop_id = w.coop_id AND e.id = NEW.entity_id
               WHERE w.coop_id = NEW.coop_id AND w.ranch_id = NEW.id AND NOT w.yes AND tussock.alike(w.name, e.folded)) THEN
        RAISE EXCEPTION 'none of theirs' USING ERRCODE = '23505', CONSTRAINT = 'ranch_name_refused';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.keep_owner()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF OLD.left_at IS NULL AND NEW.left_at IS NOT NULL AND me IS NOT NULL AND me <> NEW.id AND EXISTS (
        SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.person_id = NEW.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN
        RAISE EXCEPTION 'an owner is not removed' USING ERRCODE = '23505', CONSTRAINT = 'person_owner_check';
    END IF;
    IF OLD.suspended_at IS NULL AND NEW.suspended_at IS NOT NULL THEN
        UPDATE tussock.departure d SET called_off_at = now(), called_off_by = me
        WHERE d.coop_id = NEW.coop_id AND d.whom = NEW.id AND d.kind = 'take off' AND d.done_at IS NULL AND d.called_off_at IS NULL
          AND NOT tussock.owns(d.coop_id, d.ranch_id, d.person_id);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.keep_paper()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF tussock.bearers(NEW.coop_id, NEW.ranch_id) <> '{}' THEN
        RAISE EXCEPTION 'a member of that name has not answered' USING ERRCODE = '23505', CONSTRAINT = 'consent_name_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.keep_record()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE called text;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'UPDATE' AND EXISTS (
        SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
          AND (p.suspended_at IS NOT NULL OR p.let_in_at > now() - interval '14 days')) THEN
        RAISE EXCEPTION 'an owner cannot answer' USING ERRCODE = '23505', CONSTRAINT = 'ranch_suspended_check';
    END IF;
    IF TG_OP = 'UPDATE' AND NEW.entity_id = OLD.entity_id THEN
        RETURN NEW;
    END IF;
    called := (SELECT e.folded FROM tussock.entity e WHERE e.coop_id = NEW.coop_id AND e.id = NEW.entity_id);
    IF EXISTS (SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND tussock.alike(p.folded, called)) THEN
        RETURN NEW; -- it comes under the name of its own owner, who is in
    END IF;
    IF (SELECT p.suspended_at IS NOT NULL FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.role = 'landowner' AND p.left_at IS NULL
        AND (tussock.alike(p.folded, called) OR EXISTS (
            SELECT 1 FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
            WHERE a.coop_id = p.coop_id AND a.person_id = p.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND r.erased_at IS NULL AND tussock.alike(e.folded, called)))
        ORDER BY p.joined_at, p.id LIMIT 1) THEN
        RAISE EXCEPTION 'who bears the name cannot answer' USING ERRCODE = '23505', CONSTRAINT = 'ranch_suspended_name_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.keep_suspended(who uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.person p SET suspension_kept_by = tussock.my_person() WHERE p.coop_id = tussock.my_coop() AND p.id = who AND tussock.may_keep_suspended(who);
    RETURN FOUND;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.keeper_letters()
 RETURNS TABLE(address text, coop_name text, ranch_name text, called text, by_name text)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT a.coop_id, a.ranch_id, a.person_id, 'taken off ' || a.until AS about, ''::text AS called, a.ended_by
        FROM tussock.assignment a
        WHERE a.kind = 'owner' AND a.confirmed_at IS NOT NULL AND a.until > now() - interval '7 days' AND a.ended_by <> a.person_id
          AND NOT EXISTS (SELECT 1 FROM tussock.departure d WHERE d.coop_id = a.coop_id AND d.ranch_id = a.ranch_id AND d.done_at IS NOT NULL AND d.done_at >= a.until - interval '1 minute')
        UNION ALL
        SELECT a.coop_id, a.ranch_id, o.person_id, 'proposed ' || a.person_id || ' ' || a.since, p.name, NULL
        FROM tussock.assignment a
        JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        JOIN tussock.assignment o ON o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id AND o.kind = 'owner' AND o.confirmed_at IS NOT NULL AND o.person_id <> a.person_id
        WHERE a.kind = 'owner' AND a.confirmed_at IS NULL AND a.until IS NULL AND a.since > now() - interval '7 days'
          AND (o.until IS NULL OR o.until > now() - interval '90 days' AND NOT EXISTS (
              SELECT 1 FROM tussock.assignment s WHERE s.coop_id = a.coop_id AND s.ranch_id = a.ranch_id AND s.kind = 'owner' AND s.confirmed_at IS NOT NULL AND s.until IS NULL))
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT DISTINCT d.coop_id, d.ranch_id, d.person_id, d.about FROM due d
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id, about
    )
    SELECT DISTINCT e.email, c.name, r.name, d.called, coalesce(b.name, '')
    FROM told t
    JOIN due d ON d.coop_id = t.coop_id AND d.ranch_id = t.ranch_id AND d.person_id = t.person_id AND d.about = t.about
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop c ON c.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    LEFT JOIN tussock.person b ON b.coop_id = d.coop_id AND b.id = d.ended_by;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.kept(secret text)
 RETURNS bytea
 LANGUAGE plpgsql
 IMMUTABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN sha256(sha256(convert_to('tussock viewer ' || secret, 'UTF8')));
END
$function$
CREATE OR REPLACE FUNCTION tussock.key_added()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE ranch uuid;
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, was, became) VALUES (NEW.coop_id, NEW.set_by, 'key', NEW.version::text,
        coalesce((SELECT k.source FROM tussock.remains_key k WHERE k.coop_id = NEW.coop_id AND k.version = NEW.version - 1), ''), NEW.source);
    FOR ranch IN SELECT r.id FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id ORDER BY r.id LOOP
        PERFORM pg_advisory_xact_lock(hashtextextended('findings of ' || ranch, 0));
    END LOOP;
    DELETE FROM tussock.finding f WHERE f.coop_id = NEW.coop_id;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.known(coop uuid, person uuid)
 RETURNS TABLE(coop_name text, person_name text, email text, password_hash text)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT c.name, p.name, a.email, a.password_hash
    FROM tussock.person p
    JOIN tussock.coop c ON c.coop_id = p.coop_id
    JOIN tussock.account a ON a.coop_id = p.coop_id AND a.person_id = p.id
    WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL AND p.suspended_at IS NULL
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.known_biologists()
 RETURNS TABLE(id uuid, name text, email text, inviter text, since timestamp with time zone)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT p.id, p.name, coalesce(e.email, ''), coalesce(i.name, ''), p.joined_at
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    WHERE v.role = 'landowner' AND p.role = 'biologist' AND p.left_at IS NULL
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.knows_device(address text, hash bytea)
 RETURNS boolean
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT EXISTS (SELECT 1 FROM tussock.account a
        JOIN tussock.device d ON d.coop_id = a.coop_id AND d.person_id = a.person_id
        WHERE a.email = lower(address) AND d.device_hash = hash AND d.seen_at > now() - interval '1 year')
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.landowners_on_record()
 RETURNS bigint
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        WITH RECURSIVE owner AS MATERIALIZED (
            SELECT DISTINCT e.id, e.folded FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
            WHERE r.coop_id = tussock.my_coop() AND r.erased_at IS NULL AND tussock.my_role() = 'coordinator'
        ), link AS MATERIALIZED (
            SELECT x.id AS a, y.id AS b FROM owner x JOIN owner y ON tussock.alike(x.folded, y.folded)
        ), reach AS (
            SELECT l.a, l.b FROM link l UNION SELECT r.a, l.b FROM reach r JOIN link l ON l.a = r.b
        )
        SELECT count(DISTINCT one.least) FROM (SELECT min(r.b::text) AS least FROM reach r GROUP BY r.a) one);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.late_lines(today date)
 RETURNS TABLE(ranch_id uuid, ranch_name text, season integer, line text, what text, due date, closes date)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT r.id, r.name, l.season, l.name, c.what, c.due, c.due + c.slack
    FROM tussock.viewer() v
    JOIN tussock.season_line l ON l.coop_id = v.coop_id
    JOIN tussock.ranch r ON r.coop_id = l.coop_id AND r.id = l.ranch_id
    CROSS JOIN LATERAL (VALUES ('set', l.set_on, 0), ('first', l.first_check, l.slack), ('last', l.last_check, l.slack)) c (what, due, slack)
    WHERE v.role = 'coordinator' AND c.due IS NOT NULL AND today > c.due + c.slack AND today <= c.due + c.slack + 90
      AND NOT EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = l.coop_id AND u.ranch_id = l.ranch_id AND u.state = 'current' AND u.rank > 0 AND u.called = ''
                      AND (u.season = l.season OR l.season = ANY (u.seasons)))
      AND (c.what = 'last' OR NOT EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = l.coop_id AND k.ranch_id = l.ranch_id AND k.line_id = l.id
                AND k.kind = CASE c.what WHEN 'set' THEN 'set' ELSE 'check' END
                AND NOT EXISTS (SELECT 1 FROM tussock.look b WHERE b.coop_id = k.coop_id AND b.ranch_id = k.ranch_id AND b.undoes = k.id)));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.leave()
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := (SELECT tussock.my_coop());
    me uuid := (SELECT tussock.my_person());
BEGIN
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.person_id = me AND a.until IS NULL;
    DELETE FROM tussock.passkey k WHERE k.coop_id = coop AND k.person_id = me;
    DELETE FROM tussock.recovery_code r WHERE r.coop_id = coop AND r.person_id = me;
    DELETE FROM tussock.code_secret k WHERE k.coop_id = coop AND k.person_id = me;
    DELETE FROM tussock.device d WHERE d.coop_id = coop AND d.person_id = me;
    UPDATE tussock.person p SET left_at = now() WHERE p.coop_id = coop AND p.id = me AND p.left_at IS NULL;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.leave_field()
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    DELETE FROM tussock.field_session s WHERE encode(sha256(s.token_hash), 'hex') = tussock.shown_handle() AND tussock.proves(s.token_hash);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.let_first_on(coop uuid, ranch uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.assignment a SET confirmed_at = now()
    WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.until IS NULL AND (a.person_id, a.since) = (
        SELECT x.person_id, x.since FROM tussock.assignment x
        WHERE x.coop_id = coop AND x.ranch_id = ranch AND x.kind = 'owner' AND x.until IS NULL AND x.confirmed_at IS NULL
          AND tussock.first_on(x.coop_id, x.ranch_id, x.person_id, x.kind) ORDER BY x.since, x.person_id LIMIT 1);
END
$function$
CREATE OR REPLACE FUNCTION tussock.let_heir(which uuid, yes boolean)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.let_in(who uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.person p SET suspended_at = NULL, suspended_by = NULL, suspension_kept_by = NULL
    WHERE p.coop_id = tussock.my_coop() AND p.id = who AND p.left_at IS NULL AND tussock.my_role() = 'coordinator' AND p.suspended_at IS NOT NULL;
    IF FOUND THEN
        PERFORM tussock.give_time(tussock.my_coop(), who, now());
    END IF;
    RETURN tussock.my_role() = 'coordinator';
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.let_in_stands(a tussock.assignment)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN a.let_in_at IS NOT NULL AND (EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id AND o.person_id = a.let_in_by
            AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
        OR a.let_in_by = a.placed_by AND tussock.first_on(a.coop_id, a.ranch_id, a.person_id, a.kind));
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_area()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF TG_OP = 'INSERT' THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, area_id, what, became) VALUES (NEW.coop_id, me, 'area', NEW.id, NEW.name, NEW.group_name);
        RETURN NULL;
    END IF;
    IF NEW.name <> OLD.name THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, area_id, what, was, became) VALUES (NEW.coop_id, me, 'area name', NEW.id, NEW.name, OLD.name, NEW.name);
    END IF;
    IF NEW.group_name <> OLD.group_name THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, area_id, what, was, became) VALUES (NEW.coop_id, me, 'area group', NEW.id, NEW.name, OLD.group_name, NEW.group_name);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_choice()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF NEW.sent_by = tussock.my_person() THEN
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
        SELECT NEW.coop_id, NEW.ranch_id, NEW.sent_by, now(), 'chose', left(l.name, 70) || ' / ' || NEW.stop FROM tussock.season_line l
        WHERE l.coop_id = NEW.coop_id AND l.ranch_id = NEW.ranch_id AND l.id = NEW.line_id;
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_coming()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    p tussock.person := (SELECT x FROM tussock.person x WHERE x.coop_id = NEW.coop_id AND x.id = NEW.person_id);
    called text := (SELECT r.name FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id);
    lapsed text;
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.departure d WHERE d.coop_id = NEW.coop_id AND d.ranch_id = NEW.ranch_id AND d.kind = 'hand over' AND d.agreed_by = NEW.person_id
               AND d.done_at IS NULL AND d.called_off_at IS NULL) THEN
        RETURN NULL;
    END IF;
    IF TG_OP = 'INSERT' AND (NEW.confirmed_at IS NULL OR NEW.kind = 'hand') THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became, about_id)
        VALUES (NEW.coop_id, coalesce(tussock.my_person(), p.invited_by), 'placed', NEW.ranch_id, called, p.name, NEW.kind || CASE WHEN NEW.confirmed_at IS NULL THEN ' waits' ELSE '' END, p.id);
    END IF;
    IF NEW.kind <> 'owner' OR NEW.confirmed_at IS NULL OR EXISTS (
        SELECT 1 FROM tussock.assignment o WHERE o.coop_id = NEW.coop_id AND o.ranch_id = NEW.ranch_id AND o.person_id <> NEW.person_id
           AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL) THEN
        RETURN NULL;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, about_id)
    VALUES (NEW.coop_id, coalesce(NEW.placed_by, p.invited_by), 'first owner', NEW.ranch_id, called, p.name, p.id);
    lapsed := (SELECT string_agg(v.name, ', ' ORDER BY v.name) FROM tussock.vouch w JOIN tussock.person v ON v.coop_id = w.coop_id AND v.id = w.person_id
        WHERE w.coop_id = NEW.coop_id AND w.owner_id = NEW.ranch_id AND (w.ended_at IS NULL OR w.ended_at > now() - interval '30 days'));
    IF lapsed IS NOT NULL THEN
        INSERT INTO tussock.roster_change (coop_id, kind, ranch_id, what, was, became) VALUES (NEW.coop_id, 'vouch lapsed', NEW.ranch_id, called, p.name, lapsed);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_coordinator()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF TG_OP = 'INSERT' THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id) VALUES (NEW.coop_id, NEW.invited_by, 'coordinator', NEW.name, NEW.id);
    ELSE
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id) VALUES (NEW.coop_id, coalesce(tussock.my_person(), NEW.id), 'coordinator gone', NEW.name, NEW.id);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_hand_over()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE kind text := CASE WHEN TG_OP = 'INSERT' THEN NEW.kind WHEN OLD.called_off_at IS NULL AND NEW.called_off_at IS NOT NULL THEN NEW.kind || ' ended'
    WHEN OLD.done_at IS NULL AND NEW.done_at IS NOT NULL AND NEW.kind = 'hand over' THEN 'handed over' END;
BEGIN
    IF kind IS NOT NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, became)
        SELECT NEW.coop_id, CASE WHEN kind LIKE '% ended' THEN NEW.called_off_by ELSE NEW.person_id END, kind, r.id, r.name,
            CASE kind WHEN 'handed over' THEN coalesce((SELECT p.name FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.id = NEW.agreed_by), '') ELSE '' END
        FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id AND r.erased_at IS NULL;
    END IF;
    IF kind <> 'handed over' AND (kind NOT LIKE '% ended' OR NEW.called_off_by IS NOT NULL) THEN
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what)
        SELECT NEW.coop_id, NEW.ranch_id, CASE WHEN kind LIKE '% ended' THEN NEW.called_off_by ELSE NEW.person_id END, now(), kind;
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_heir()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, about_id)
    SELECT d.coop_id, d.person_id, 'heir joined', r.id, r.name, NEW.name, NEW.id
    FROM tussock.departure d JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
    WHERE d.coop_id = NEW.coop_id AND d.id = NEW.heir_of;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_map()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    me uuid := tussock.my_person();
    coop uuid := (SELECT c.coop_id FROM changed c LIMIT 1);
BEGIN
    IF coop IS NOT NULL THEN
        DELETE FROM tussock.roster_change x WHERE x.coop_id = coop AND x.kind = 'map' AND x.person_id = me AND x.became = '' AND x.at >= now();
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, became)
        SELECT coop, me, 'map', string_agg(a.name, ', ' ORDER BY a.name), CASE TG_OP WHEN 'INSERT' THEN 'shown' ELSE '' END
        FROM changed c JOIN tussock.area a ON a.coop_id = c.coop_id AND a.id = c.area_id;
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_other_name()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became, about_id)
    SELECT NEW.coop_id, NEW.invited_by, 'other name', r.id, coalesce(r.name, ''), asked.name, NEW.name, NEW.id
    FROM tussock.invitation i
    LEFT JOIN tussock.ranch r ON r.coop_id = i.coop_id AND r.id = ANY (i.ranches) AND i.role = 'landowner'
    LEFT JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
    CROSS JOIN LATERAL (SELECT CASE WHEN r.id IS NULL OR tussock.alike(e.folded, NEW.folded) OR e.name = r.name OR EXISTS (SELECT 1 FROM tussock.assignment a
        WHERE a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN i.name ELSE e.name END) asked (name) -- no owner was named, or a further one has another name than the first
    WHERE i.coop_id = NEW.coop_id AND i.id = NEW.invitation_id AND asked.name <> '' AND NOT tussock.alike(tussock.fold(asked.name), NEW.folded);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_owner()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = NEW.coop_id AND o.ranch_id = NEW.ranch_id AND o.person_id <> NEW.person_id
               AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL) THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, about_id)
        SELECT NEW.coop_id, NEW.let_in_by, 'owner came', r.id, r.name, p.name, p.id
        FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.id = NEW.person_id
        WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what) VALUES (NEW.coop_id, NEW.ranch_id, NEW.person_id, now(), 'owner');
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_paper()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what)
    SELECT NEW.coop_id, NEW.given_by, CASE WHEN NEW.level > 0 THEN 'paper' ELSE 'paper no' END, r.id, r.name FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_place()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    me uuid := tussock.my_person();
    called text := (SELECT p.name FROM tussock.person p WHERE p.coop_id = NEW.coop_id AND p.id = NEW.person_id);
BEGIN
    IF me IS NULL OR me = NEW.person_id THEN
        RETURN NULL;
    END IF;
    IF NEW.confirmed_at IS NOT NULL THEN
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item) VALUES (NEW.coop_id, NEW.ranch_id, me, now(), 'place ended', left(called, 80));
    END IF;
    IF tussock.my_role() = 'coordinator' THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
        SELECT NEW.coop_id, me, 'place ended', r.id, r.name, called FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_ranch()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    me uuid := tussock.my_person();
    area_was text := '';
    area_is text := coalesce((SELECT a.name FROM tussock.area a WHERE a.coop_id = NEW.coop_id AND a.id = NEW.area_id), '');
    owner_is text := (SELECT e.name FROM tussock.entity e WHERE e.coop_id = NEW.coop_id AND e.id = NEW.entity_id);
BEGIN
    IF TG_OP = 'INSERT' THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became) VALUES (NEW.coop_id, me, 'ranch', NEW.id, NEW.name, area_is, owner_is);
        RETURN NULL;
    END IF;
    IF NEW.erased_at IS NOT NULL THEN -- nobody reads its name any more
        IF OLD.erased_at IS NULL THEN
            INSERT INTO tussock.roster_change (coop_id, kind, what) VALUES (NEW.coop_id, 'ranch erased', '');
        END IF;
        RETURN NULL;
    END IF;
    IF NEW.name <> OLD.name THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became) VALUES (NEW.coop_id, me, 'ranch name', NEW.id, NEW.name, OLD.name, NEW.name);
    END IF;
    IF NEW.area_id IS DISTINCT FROM OLD.area_id THEN
        area_was := coalesce((SELECT a.name FROM tussock.area a WHERE a.coop_id = OLD.coop_id AND a.id = OLD.area_id), '');
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became) VALUES (NEW.coop_id, me, 'ranch area', NEW.id, NEW.name, area_was, area_is);
    END IF;
    IF NEW.entity_id <> OLD.entity_id THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was, became)
        VALUES (NEW.coop_id, me, 'ranch owner', NEW.id, NEW.name, (SELECT e.name FROM tussock.entity e WHERE e.coop_id = OLD.coop_id AND e.id = OLD.entity_id), owner_is);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_season()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF me IS NOT NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, was, became) VALUES (coalesce(NEW.coop_id, OLD.coop_id), me, 'season', coalesce(NEW.year, OLD.year)::text,
            CASE WHEN TG_OP <> 'INSERT' THEN concat_ws(' ', OLD.opens_on, OLD.cut_off_on, OLD.composed_on, OLD.published_on) ELSE '' END,
            CASE WHEN TG_OP <> 'DELETE' THEN concat_ws(' ', NEW.opens_on, NEW.cut_off_on, NEW.composed_on, NEW.published_on) ELSE '' END);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_suspension()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF NEW.left_at IS NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id, became) VALUES (NEW.coop_id, tussock.my_person(),
            CASE WHEN NEW.suspended_at IS NULL THEN 'suspension ended' WHEN NEW.suspension_kept_by IS NOT NULL THEN 'suspension kept' ELSE 'suspended' END, NEW.name, NEW.id,
            CASE WHEN NEW.suspended_at IS NOT NULL AND NEW.suspended_by IS NOT NULL AND NEW.suspension_kept_by IS NULL
                THEN ((NEW.suspended_first + interval '14 days') AT TIME ZONE 'UTC')::date::text ELSE '' END);
        IF OLD.remove_asked_at IS NOT NULL AND NEW.remove_asked_at IS NULL THEN
            INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id, was) VALUES (NEW.coop_id, tussock.my_person(), 'remove ended', NEW.name, NEW.id, 'suspended');
        END IF;
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_take_off()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF TG_OP = 'INSERT' OR OLD.called_off_at IS NULL AND NEW.called_off_at IS NOT NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
        SELECT NEW.coop_id, tussock.my_person(), CASE TG_OP WHEN 'INSERT' THEN 'take off' ELSE 'take off ended' END, r.id, r.name, p.name
        FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.id = NEW.whom WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_vouch()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF TG_OP = 'UPDATE' AND (OLD.ended_at IS NULL) = (NEW.ended_at IS NULL) THEN
        RETURN NULL;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, about_id)
    SELECT NEW.coop_id, NEW.person_id, CASE WHEN NEW.ended_at IS NULL THEN 'vouched' ELSE 'vouch ended' END, r.id, coalesce(p.name, r.name), p.id
    FROM tussock.ranch r
    LEFT JOIN tussock.assignment a ON a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.person_id = NEW.owner_id AND a.kind = 'owner'
    LEFT JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    WHERE r.coop_id = NEW.coop_id AND r.erased_at IS NULL AND (p.id IS NOT NULL OR r.id = NEW.owner_id) ORDER BY r.id LIMIT 1;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.log_word()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF NEW.given_by = tussock.my_person() AND NOT NEW.over THEN
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what)
        VALUES (NEW.coop_id, NEW.ranch_id, NEW.given_by, now(), CASE WHEN NEW.level > 0 THEN 'yes' ELSE 'no' END);
    END IF;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.look_in_time()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    days date[] := array_remove(ARRAY[nullif(NEW.answers->>'set_on', '')::date, nullif(NEW.answers->>'looked_on', '')::date, nullif(NEW.answers->>'belt_on', '')::date], NULL);
    last date := (SELECT max(d) FROM unnest(days) d);
    link tussock.field_link;
BEGIN
    SELECT * INTO link FROM tussock.field_link l WHERE l.coop_id = NEW.coop_id AND l.ranch_id = NEW.ranch_id AND l.id = NEW.link_id;
    IF (SELECT min(d) FROM unnest(days) d) < link.from_on THEN
        RAISE EXCEPTION 'before the link''s first day' USING ERRCODE = '23514', CONSTRAINT = 'look_before_link_check';
    END IF;
    IF last > link.through THEN
        RAISE EXCEPTION 'after the link''s last day' USING ERRCODE = '23514', CONSTRAINT = 'look_after_link_check';
    END IF;
    IF last > (now() AT TIME ZONE 'UTC')::date + 1 THEN
        RAISE EXCEPTION 'of a day to come' USING ERRCODE = '23514', CONSTRAINT = 'look_to_come_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.made_device(hash bytea)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.device d WHERE d.device_hash = hash);
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.make_token(called text, good_for integer)
 RETURNS text
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH new AS MATERIALIZED (SELECT tussock.new_secret() AS secret), made AS (
        INSERT INTO tussock.api_token (coop_id, person_id, token_hash, name, expires_at)
        SELECT v.coop_id, v.person_id, tussock.kept(new.secret), called, now() + make_interval(days => good_for)
        FROM tussock.viewer() v, new WHERE (SELECT tussock.my_least()) IS NOT NULL
        RETURNING 1
    )
    SELECT new.secret FROM new, made
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.may_approve(coop uuid, which integer, nth smallint, who uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (
        SELECT 1 FROM tussock.person p JOIN tussock.edition e ON e.coop_id = p.coop_id AND e.season = which AND e.edition = nth
        JOIN tussock.season s ON s.coop_id = e.coop_id AND s.year = e.season
        WHERE p.coop_id = coop AND p.id = who AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL
          AND (p.joined_at < e.cut_at OR greatest(e.composed_at, s.published_on, p.joined_at) < now() - interval '30 days'));
END
$function$
CREATE OR REPLACE FUNCTION tussock.may_be_asked_off(which_ranch uuid, owner uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    RETURN tussock.owns(coop, which_ranch, owner) AND (which_ranch = ANY (tussock.my_own_ranches()) OR tussock.my_role() = 'coordinator'
        AND EXISTS (SELECT 1 FROM tussock.person p WHERE p.coop_id = coop AND p.id = owner AND p.suspended_at IS NULL));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.may_keep_suspended(who uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (
        SELECT 1 FROM tussock.person p JOIN tussock.person me ON me.coop_id = p.coop_id AND me.id = tussock.my_person()
        WHERE p.coop_id = tussock.my_coop() AND p.id = who AND p.left_at IS NULL AND p.suspended_at IS NOT NULL AND p.suspension_kept_by IS NULL
          AND tussock.my_role() = 'coordinator' AND p.suspended_by <> me.id AND me.joined_at <= p.suspended_first - interval '30 days');
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.may_remove(p tussock.person)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE me uuid := tussock.my_person();
BEGIN
    RETURN coalesce(tussock.my_role() = 'coordinator' AND p.remove_asked_at IS NOT NULL AND NOT tussock.came_after(p) AND CASE WHEN p.remove_asked_by = me
        THEN p.remove_asked_at <= now() - interval '14 days'
        ELSE EXISTS (SELECT 1 FROM tussock.person a WHERE a.coop_id = p.coop_id AND a.id = p.remove_asked_by AND a.role = 'coordinator' AND a.left_at IS NULL AND a.suspended_at IS NULL) END, false);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.may_vouch()
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    RETURN tussock.my_role() = 'coordinator' OR tussock.my_role() = 'landowner' AND cardinality(tussock.my_own_ranches()) > 0 AND (
        NOT EXISTS (SELECT 1 FROM tussock.season s WHERE s.coop_id = coop AND s.opened_at IS NOT NULL)
        OR EXISTS (SELECT 1 FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.settled AND s.yes AND NOT s.fresh AND me = ANY (s.owners)));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_comings(from_then timestamp with time zone)
 RETURNS TABLE(at timestamp with time zone, kind text, email text, fresh boolean, mine boolean)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    own uuid[] := tussock.my_own_ranches();
    called text := (SELECT p.folded FROM tussock.person p WHERE p.coop_id = coop AND p.id = me);
    part text := tussock.my_role();
BEGIN
    IF part IN ('planner', 'biologist') THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT x.at, x.kind, CASE WHEN part = 'coordinator' OR x.ranch_id = ANY (own) THEN coalesce(e.email, '') ELSE '' END,
        coalesce(p.joined_at > x.at - interval '30 days', false),
        x.about_id IS DISTINCT FROM me AND tussock.alike(tussock.fold(CASE x.kind WHEN 'coordinator' THEN x.what ELSE x.was END), called)
    FROM tussock.roster_change x
    LEFT JOIN tussock.person p ON p.coop_id = x.coop_id AND p.id = x.about_id
    LEFT JOIN tussock.account e ON e.coop_id = x.coop_id AND e.person_id = x.about_id
    WHERE x.coop_id = coop AND x.at >= from_then AND x.kind IN ('heir joined', 'heir gone', 'owner came', 'first owner', 'placed', 'coordinator');
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_coop()
 RETURNS uuid
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (tussock.viewer()).coop_id;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_counted()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    known uuid[] := tussock.my_ranches() || tussock.my_shared_ranches();
    all_of_them boolean := tussock.my_role() = 'coordinator';
BEGIN
    RETURN (SELECT coalesce(array_agg(r.id), '{}') FROM tussock.ranch r WHERE r.coop_id = coop AND (all_of_them OR r.id = ANY (known)) AND tussock.says_yes(coop, r.id));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_entities()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT r.entity_id), '{}')
        FROM tussock.ranch r
        WHERE r.coop_id = (SELECT tussock.my_coop()) AND r.id = ANY ((SELECT tussock.my_ranches())::uuid[]));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_fellow(which_ranch uuid, person uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN which_ranch = ANY (tussock.my_own_ranches()) AND tussock.owns(tussock.my_coop(), which_ranch, person);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_gates()
 RETURNS TABLE(ranch uuid, ranch_name text, by_name text, name text, role text, email text, inviter text, since timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT r.id, r.name, b.name, coalesce(p.name, ''), coalesce(p.role, ''), coalesce(e.email, ''), coalesce(i.name, ''), coalesce(o.since, a.since)
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.until IS NULL AND a.confirmed_at IS NULL AND tussock.let_in_stands(a)
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    JOIN tussock.person b ON b.coop_id = a.coop_id AND b.id = a.let_in_by
    LEFT JOIN (
        SELECT x.coop_id, x.ranch_id, x.person_id, x.since FROM tussock.assignment x WHERE x.until IS NULL AND x.confirmed_at IS NOT NULL
        UNION ALL -- and the biologists with whom it is shared
        SELECT s.coop_id, s.ranch_id, s.person_id, s.given_at FROM tussock.sharing s WHERE s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
    ) o ON o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id
    LEFT JOIN tussock.person p ON p.coop_id = o.coop_id AND p.id = o.person_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    ORDER BY r.name, r.id, p.role DESC, p.name;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_help_codes()
 RETURNS TABLE(at timestamp with time zone, by_name text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT x.at, p.name FROM tussock.roster_change x JOIN tussock.person p ON p.coop_id = x.coop_id AND p.id = x.person_id
    WHERE x.coop_id = tussock.my_coop() AND x.kind = 'code' AND x.about_id = tussock.my_person() AND x.at > now() - interval '30 days' ORDER BY x.at DESC;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_known()
 RETURNS integer
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    v record := tussock.viewer();
BEGIN
    RETURN (
        SELECT count(DISTINCT e.id)::integer
        FROM (
            SELECT a.ranch_id, a.entity_id FROM tussock.assignment a WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.confirmed_at IS NOT NULL
            UNION ALL
            SELECT s.ranch_id, s.entity_id FROM tussock.sharing s WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id
        ) k
        JOIN tussock.ranch r ON r.coop_id = v.coop_id AND r.id = k.ranch_id
        CROSS JOIN LATERAL (VALUES (k.entity_id), (r.entity_id)) e (id));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_least()
 RETURNS integer
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    v record := tussock.viewer();
BEGIN
    RETURN (
        SELECT CASE
            WHEN v.role = 'coordinator' THEN 5
            WHEN v.role = 'landowner' AND EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id
                AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL AND a.until IS NULL AND tussock.says_yes(a.coop_id, a.ranch_id)) THEN 5
            WHEN v.role IN ('landowner', 'biologist', 'planner') THEN 10 END);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_let_in()
 RETURNS TABLE(person uuid, name text, email text, ranch uuid, ranch_name text, by_name text, at timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT p.id, p.name, coalesce(e.email, ''), r.id, r.name, b.name, a.let_in_at
    FROM tussock.assignment a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id AND p.left_at IS NULL
    JOIN tussock.person b ON b.coop_id = a.coop_id AND b.id = a.let_in_by
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    WHERE a.coop_id = tussock.my_coop() AND a.until IS NULL AND a.confirmed_at IS NULL AND r.id = ANY (tussock.my_own_ranches()) AND tussock.let_in_stands(a)
    ORDER BY a.let_in_at, p.name;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_name_asks()
 RETURNS TABLE(ranch uuid, ranch_name text, owner_name text, named boolean, at timestamp with time zone, by_name text, who text, email text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    called text[] := tussock.my_names();
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'landowner' THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT r.id, r.name, e.name, n.named, x.at, coalesce(b.name, ''), coalesce(w.name, ''), coalesce(w.email, '')
    FROM tussock.ranch r
    JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
    CROSS JOIN LATERAL (SELECT CASE WHEN tussock.alike(e.folded, called) THEN me = ANY (tussock.bearers(coop, r.id)) ELSE false END AS named) n
    LEFT JOIN LATERAL (SELECT c.at, c.person_id FROM tussock.roster_change c WHERE c.coop_id = coop AND c.ranch_id = r.id AND c.kind IN ('ranch', 'ranch owner') ORDER BY c.at DESC LIMIT 1) x ON true
    LEFT JOIN tussock.person b ON b.coop_id = coop AND b.id = x.person_id
    LEFT JOIN LATERAL (SELECT p.name, c.email FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        LEFT JOIN tussock.account c ON c.coop_id = p.coop_id AND c.person_id = p.id
        WHERE a.coop_id = coop AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL ORDER BY a.since, p.id LIMIT 1) w ON true
    WHERE r.coop_id = coop AND r.erased_at IS NULL AND (n.named OR tussock.my_namesake_waits(r.id))
      AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = r.id AND a.person_id = me AND a.kind = 'owner' AND a.until IS NULL)
    ORDER BY r.name;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_names()
 RETURNS text[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    RETURN CASE WHEN tussock.my_role() = 'landowner' THEN ARRAY(
        SELECT p.folded FROM tussock.person p WHERE p.coop_id = coop AND p.id = tussock.my_person()
        UNION SELECT e.folded FROM tussock.ranch r JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id WHERE r.coop_id = coop AND r.id = ANY (tussock.my_own_ranches())) END;
END
$function$
CREATE OR REPLACE FUNCTION tussock.my_namesake_waits(ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    RETURN EXISTS (
        SELECT 1 FROM tussock.assignment a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
        WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NULL
          AND NOT EXISTS (SELECT 1 FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = my_namesake_waits.ranch AND w.person_id = me AND tussock.alike(w.name, p.folded))
          AND me = ANY (tussock.namesakes(coop, a.ranch_id, a.person_id)))
      AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = my_namesake_waits.ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
END
$function$
CREATE OR REPLACE FUNCTION tussock.my_newcomers()
 RETURNS TABLE(person uuid, name text, role text, ranch uuid, ranch_name text, since timestamp with time zone, email text, inviter text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT p.id, p.name, p.role, r.id, r.name, a.since, coalesce(e.email, ''), coalesce(i.name, '')
    FROM tussock.assignment a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    WHERE a.coop_id = tussock.my_coop() AND a.until IS NULL AND a.confirmed_at IS NULL AND NOT tussock.let_in_stands(a) AND p.left_at IS NULL
      AND r.id = ANY (tussock.my_own_ranches())
    ORDER BY a.since, p.name, p.id;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_offers()
 RETURNS TABLE(id uuid, ranch_name text, from_name text, with_rows boolean, due_at timestamp with time zone, held boolean, agreed_at timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT d.id, r.name, p.name, d.with_rows, coalesce(x.due, d.due_at), x.due IS NULL, d.agreed_at
    FROM tussock.viewer() v
    JOIN tussock.account a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
    JOIN tussock.departure d ON d.coop_id = v.coop_id AND d.kind = 'hand over' AND d.heir = a.email
    JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
    JOIN tussock.person p ON p.coop_id = d.coop_id AND p.id = d.person_id
    CROSS JOIN LATERAL (SELECT tussock.departure_due(d.id) AS due) x
    WHERE v.role = 'landowner' AND d.done_at IS NULL AND d.called_off_at IS NULL AND d.person_id <> v.person_id;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_opened_ranches()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT l.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.view_log l ON l.coop_id = v.coop_id AND l.person_id = v.person_id
        WHERE l.ranch_id = ANY ((SELECT tussock.my_shared_ranches())::uuid[]) AND l.looked_at = now());
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_own_ranches()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    v record := tussock.viewer();
BEGIN
    IF v.role = 'landowner' THEN
        RETURN (
            SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
            FROM tussock.assignment a
            WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND a.kind = 'owner');
    END IF;
    RETURN '{}';
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_people()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT k.person_id), '{}')
        FROM (
            SELECT a.coop_id, a.ranch_id, a.person_id FROM tussock.assignment a
            UNION ALL
            SELECT s.coop_id, s.ranch_id, s.person_id FROM tussock.sharing s
        ) k
        WHERE k.coop_id = (SELECT tussock.my_coop()) AND k.ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_person()
 RETURNS uuid
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (tussock.viewer()).person_id;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_phones()
 RETURNS TABLE(ranch_id uuid, name text, role text, phone text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_proof()
 RETURNS interval
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT now() - s.proved_at FROM tussock.viewer() v JOIN tussock.session s ON s.coop_id = v.coop_id AND s.token_hash = v.shown
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_ranches()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    v record := tussock.viewer();
BEGIN
    IF v.role IN ('landowner', 'hand') THEN
        RETURN (
            SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
            FROM tussock.assignment a
            WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
    END IF;
    RETURN '{}';
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_refusals()
 RETURNS TABLE(ranch_name text, by_name text, at timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_role()
 RETURNS text
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (tussock.viewer()).role;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_sendable()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT s.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.sending_consent s ON s.coop_id = v.coop_id
        JOIN tussock.assignment a ON a.coop_id = s.coop_id AND a.ranch_id = s.ranch_id AND a.person_id = s.given_by
        WHERE v.role = 'coordinator' AND s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
          AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_senders()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    own uuid[] := tussock.my_own_ranches();
BEGIN
    RETURN ARRAY(
        SELECT u.sent_by FROM tussock.upload u WHERE u.coop_id = coop AND u.called <> '' AND u.ranch_id = ANY (own)
        UNION SELECT a.ended_by FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ANY (own) AND a.ended_by IS NOT NULL
        UNION SELECT s.ended_by FROM tussock.sharing s WHERE s.coop_id = coop AND s.ranch_id = ANY (own) AND s.ended_by IS NOT NULL);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_sessions()
 RETURNS TABLE(which text, this boolean, agent text, opened_at timestamp with time zone, seen_at timestamp with time zone)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT left(encode(sha256(s.token_hash), 'hex'), 16), s.token_hash = v.shown, s.agent, s.opened_at, s.seen_at
    FROM tussock.viewer() v
    JOIN tussock.session s ON s.coop_id = v.coop_id AND s.person_id = v.person_id
    WHERE s.closed_at IS NULL AND now() < s.ends_at AND now() < s.seen_at + s.idle
      AND EXISTS (SELECT 1 FROM tussock.session o WHERE o.coop_id = v.coop_id AND o.token_hash = v.shown) -- a program that reads with a token has none
    ORDER BY 2 DESC, s.seen_at DESC
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_shared_ranches()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    v record := tussock.viewer();
BEGIN
    IF v.role IS DISTINCT FROM 'biologist' OR current_setting('transaction_read_only') <> 'off' THEN
        RETURN '{}';
    END IF;
    RETURN (
        SELECT coalesce(array_agg(DISTINCT s.ranch_id), '{}')
        FROM tussock.sharing s
        JOIN tussock.assignment a ON a.coop_id = s.coop_id AND a.ranch_id = s.ranch_id AND a.person_id = s.given_by
        WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id
          AND s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
          AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
          AND tussock.says_yes(s.coop_id, s.ranch_id));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_standing()
 RETURNS TABLE(ranch_id uuid, counted boolean, until timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    RETURN QUERY
    SELECT x.id, s.counted, CASE WHEN s.counted THEN (
        SELECT min(v.ended_at + interval '30 days') FROM tussock.vouch v
        WHERE v.coop_id = coop AND v.owner_id = ANY (s.owners) AND v.ended_at > now() - interval '30 days'
          AND NOT EXISTS (SELECT 1 FROM unnest(s.owners) o WHERE tussock.vouched_by(coop, o, v.ended_at + interval '30 days'))) END
    FROM unnest(tussock.my_own_ranches()) x (id)
    CROSS JOIN LATERAL (SELECT tussock.settled(coop, x.id) AS counted, tussock.ranch_owners(coop, x.id) AS owners) s;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_word()
 RETURNS uuid
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    own uuid[] := tussock.my_own_ranches();
BEGIN
    RETURN (
        SELECT r.entity_id
        FROM tussock.person p
        JOIN tussock.ranch r ON r.coop_id = p.coop_id AND r.id = ANY (own)
        WHERE p.coop_id = coop AND p.id = me AND p.joined_at <= now() - interval '30 days'
          AND EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = r.coop_id AND u.ranch_id = r.id AND u.state = 'current' AND u.rank > 0)
          AND tussock.vouched_for(coop, me)
        ORDER BY r.entity_id LIMIT 1);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.named_calendars(ranch uuid)
 RETURNS TABLE(id uuid, name text, role text, hand boolean, made_at timestamp with time zone, used_at timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT c.id, p.name, p.role, a.kind = 'hand', c.made_at, c.used_at
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.ranch_id = ranch AND a.until IS NULL AND a.confirmed_at IS NOT NULL
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id AND p.left_at IS NULL AND p.suspended_at IS NULL
    JOIN tussock.calendar c ON c.coop_id = p.coop_id AND c.person_id = p.id AND c.named AND c.revoked_at IS NULL
    WHERE ranch = ANY ((SELECT tussock.my_own_ranches())::uuid[])
    ORDER BY p.name, c.made_at;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.named_on(record text, called text)
 RETURNS boolean
 LANGUAGE sql
 IMMUTABLE
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT regexp_split_to_array(lower(record), '[[:space:],.&/()]+') && array(
        SELECT w.word FROM regexp_split_to_table(lower(btrim(called)), '[[:space:],.&/()]+') WITH ORDINALITY w (word, nth)
        WHERE (w.nth > 1 OR btrim(called) !~ '[[:space:]]') AND length(w.word) > 1
          AND w.word NOT IN ('of', 'and', 'the', 'de', 'del', 'la', 'las', 'los', 'jr', 'sr', 'ii', 'iii', 'family', 'familia', 'ranch', 'rancho', 'llc', 'inc', 'co'))
$function$
CREATE OR REPLACE FUNCTION tussock.names_had(coop uuid, ranches uuid[])
 RETURNS TABLE(id uuid, name text)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT DISTINCT x.ranch_id, x.was FROM tussock.roster_change x
    WHERE x.coop_id = coop AND x.ranch_id = ANY (ranches) AND x.kind = 'ranch name' AND x.was <> '' ORDER BY 1, 2
$function$
    GRANT EXECUTE TO tussock_clerk
CREATE OR REPLACE FUNCTION tussock.names_within()
 RETURNS TABLE(name text, person boolean)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT n.name, bool_or(n.person) FROM (
        SELECT p.name, true AS person FROM tussock.person p WHERE p.coop_id = coop AND p.role IN ('landowner', 'hand')
        UNION ALL SELECT r.name, false FROM tussock.ranch r WHERE r.coop_id = coop AND r.erased_at IS NULL
        UNION ALL SELECT e.name, false FROM tussock.entity e WHERE e.coop_id = coop
        UNION ALL SELECT x.was, false FROM tussock.roster_change x WHERE x.coop_id = coop AND x.kind IN ('ranch name', 'ranch owner')) n
    WHERE n.name <> '' GROUP BY n.name ORDER BY 1;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.namesake(coop uuid, person uuid)
 RETURNS TABLE(again boolean, inviter text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER ROWS 1
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT EXISTS (SELECT 1 FROM tussock.person o WHERE o.coop_id = coop AND o.id <> p.id AND tussock.alike(o.folded, p.folded) AND (o.joined_at, o.id) < (p.joined_at, p.id)),
        coalesce((SELECT i.name FROM tussock.person i WHERE i.coop_id = coop AND i.id = p.invited_by), '')
    FROM tussock.person p WHERE p.coop_id = coop AND p.id = person;
END
$function$
CREATE OR REPLACE FUNCTION tussock.namesakes(coop uuid, ranch uuid, person uuid)
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    p tussock.person;
    called text;
BEGIN
    SELECT * INTO p FROM tussock.person x WHERE x.coop_id = coop AND x.id = person;
    called := p.folded;
    RETURN ARRAY(
        SELECT o.id FROM tussock.person o
        WHERE o.coop_id = coop AND o.role = 'landowner' AND o.left_at IS NULL AND o.id <> person AND (o.joined_at, o.id) < (p.joined_at, p.id) AND tussock.alike(o.folded, called)
          AND NOT tussock.owns(coop, ranch, o.id)
          AND NOT EXISTS (SELECT 1 FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = ranch AND w.person_id = o.id AND tussock.alike(w.name, called) AND w.yes));
END
$function$
CREATE OR REPLACE FUNCTION tussock.nearly(one text, other text)
 RETURNS boolean
 LANGUAGE plpgsql
 IMMUTABLE
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    a text := split_part(one, '|', 1);
    b text := split_part(other, '|', 1);
    of_a text[] := string_to_array(split_part(one, '|', 2), ' ');
    of_b text[] := string_to_array(split_part(other, '|', 2), ' ');
    apart_a text[];
    apart_b text[];
BEGIN
    IF tussock.among(of_a, of_b) OR tussock.among(of_b, of_a) OR a <> '' AND length(a) = length(b) AND strpos(b || b, a) > 0 THEN -- words run together may begin with any of them
        RETURN true;
    END IF;
    apart_a := ARRAY(SELECT w.word FROM unnest(of_a) w (word) WHERE length(w.word) = 1 OR w.word ~ '[0-9]');
    apart_b := ARRAY(SELECT w.word FROM unnest(of_b) w (word) WHERE length(w.word) = 1 OR w.word ~ '[0-9]');
    a := (SELECT string_agg(w.word, '' ORDER BY w.word COLLATE "C") FROM unnest(of_a) w (word) WHERE w.word <> ALL (apart_a));
    b := (SELECT string_agg(w.word, '' ORDER BY w.word COLLATE "C") FROM unnest(of_b) w (word) WHERE w.word <> ALL (apart_b));
    IF apart_a <> apart_b OR greatest(length(a), length(b)) < 8 OR abs(length(a) - length(b)) > 1 THEN
        RETURN false;
    END IF;
    RETURN coalesce((SELECT bool_or(tussock.one_letter(a, substr(b, t.n + 1) || left(b, t.n))) FROM generate_series(0, length(b) - 1) t (n)), false);
END
$function$
CREATE OR REPLACE FUNCTION tussock.new_secret()
 RETURNS text
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN encode(sha256(uuid_send(gen_random_uuid()) || uuid_send(gen_random_uuid()) || uuid_send(gen_random_uuid())), 'hex');
END
$function$
CREATE OR REPLACE FUNCTION tussock.no_stands()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF NOT tussock.owns(NEW.coop_id, NEW.ranch_id, NEW.person_id) AND EXISTS (
        SELECT 1 FROM tussock.departure d WHERE d.coop_id = NEW.coop_id AND d.ranch_id = NEW.ranch_id AND d.whom = NEW.whom AND d.kind = 'take off'
           AND d.called_off_by <> d.person_id AND d.called_off_at > now() - interval '90 days') THEN
        RAISE EXCEPTION 'they said no' USING ERRCODE = '23505', CONSTRAINT = 'departure_no_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.no_to_all()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.departure d SET called_off_at = NEW.called_off_at, called_off_by = NEW.called_off_by
    WHERE d.coop_id = NEW.coop_id AND d.ranch_id = NEW.ranch_id AND d.whom = NEW.whom AND d.kind = 'take off' AND d.done_at IS NULL AND d.called_off_at IS NULL
      AND d.person_id <> NEW.called_off_by AND NOT tussock.owns(d.coop_id, d.ranch_id, d.person_id);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.note_answers()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF me IS NULL THEN
        RETURN NEW;
    END IF;
    NEW.answered_by := OLD.answered_by;
    NEW.answered_at := OLD.answered_at;
    IF (NEW.answers, NEW.undone, NEW.settings) IS DISTINCT FROM (OLD.answers, OLD.undone, OLD.settings) THEN
        NEW.answered_by := me;
        NEW.answered_at := now();
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
        SELECT f.coop_id, f.ranch_id, me, now(), 'answered', left(left(f.name, 80) || coalesce(': ' || nullif(NEW.answered, ''), ''), 240)
        FROM tussock.upload_file f WHERE f.coop_id = NEW.coop_id AND f.ranch_id = NEW.ranch_id AND f.upload_id = NEW.upload_id;
    ELSE
        NEW.answered := OLD.answered;
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.note_code(member uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id)
    SELECT p.coop_id, tussock.my_person(), 'code', p.name, p.id FROM tussock.person p
    WHERE p.coop_id = tussock.my_coop() AND p.id = member AND p.id <> tussock.my_person() AND p.left_at IS NULL AND tussock.my_role() = 'coordinator';
    RETURN FOUND;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.note_denied(coop uuid, hash bytea, handle text, address text, which text, whose text)
 RETURNS void
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    INSERT INTO tussock.denial AS d (coop_id, day, kind, part)
    SELECT coalesce(coop,
        (SELECT i.coop_id FROM tussock.invitation i WHERE i.token_hash = hash LIMIT 1),
        (SELECT t.coop_id FROM tussock.api_token t WHERE encode(sha256(t.token_hash), 'hex') = handle LIMIT 1),
        (SELECT s.coop_id FROM tussock.step s WHERE s.key_hash = hash LIMIT 1),
        (SELECT a.coop_id FROM tussock.account a WHERE a.email = lower(address) ORDER BY a.coop_id LIMIT 1),
        '00000000-0000-0000-0000-000000000000'), (now() AT TIME ZONE 'UTC')::date, which, whose
    ON CONFLICT (coop_id, day, kind, part) DO UPDATE SET times = d.times + 1
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.note_hands()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    NEW.hands := ARRAY(SELECT unnest(NEW.hands) UNION SELECT u.id FROM tussock.upload u
        WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id AND u.state = 'current' AND u.rank < 2);
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.note_open(coop uuid, which integer, nth smallint, ranch uuid, sheet uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.snapshot s SET open = true
    FROM tussock.upload u
    WHERE s.coop_id = coop AND s.season = which AND s.edition = nth AND s.ranch_id = ranch AND NOT s.open
      AND u.coop_id = coop AND u.ranch_id = ranch AND u.id = sheet AND (u.season = which OR which = ANY (u.seasons)) AND u.open_count > 0 AND u.rank > 0;
END
$function$
CREATE OR REPLACE FUNCTION tussock.note_sheet()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF me IS NULL THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'INSERT' THEN
        NEW.owners_since := NULL;
        NEW.state_by := NULL;
        NEW.state_at := NULL;
        RETURN NEW;
    END IF;
    IF NEW.rank < OLD.rank THEN -- it waits now: nobody touched it
        RETURN NEW;
    END IF;
    IF NEW.ranch_id = ANY (tussock.my_own_ranches()) THEN
        NEW.owners_since := coalesce(OLD.owners_since, now());
        IF NEW.accepted_at IS NOT NULL AND NEW.accepted_at IS DISTINCT FROM OLD.accepted_at THEN
            NEW.rank := CASE WHEN NEW.called <> '' THEN 2 ELSE 3 END;
        END IF;
    END IF;
    IF NEW.state IS DISTINCT FROM OLD.state THEN
        NEW.state_by := me;
        NEW.state_at := now();
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.note_who_ended()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    NEW.ended_by := (SELECT tussock.my_person());
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.note_who_ended_sharing()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    NEW.ended_by := coalesce(NEW.ended_by, tussock.my_person());
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.one_letter(a text, b text)
 RETURNS boolean
 LANGUAGE sql
 IMMUTABLE
AS $function$
    SELECT least(length(a), length(b)) >= 5 AND abs(length(a) - length(b)) <= 1 AND EXISTS (
        SELECT 1 FROM generate_series(0, least(length(a), length(b))) i (same)
        WHERE left(a, i.same) = left(b, i.same) AND (substr(a, i.same + 2) = substr(b, i.same + 2) OR substr(a, i.same + 2) = substr(b, i.same + 1) OR substr(a, i.same + 1) = substr(b, i.same + 2)))
$function$
CREATE OR REPLACE FUNCTION tussock.open_field(hash bytea, called text)
 RETURNS text
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH new AS MATERIALIZED (SELECT tussock.new_secret() AS secret), opened AS (
        INSERT INTO tussock.field_session (coop_id, ranch_id, link_id, token_hash, agent)
        SELECT l.coop_id, l.ranch_id, l.id, tussock.kept(new.secret), left(called, 200)
        FROM tussock.field_link l, new
        WHERE l.token_hash = hash AND (now() AT TIME ZONE 'UTC')::date BETWEEN l.from_on - 1 AND l.through + 1 AND tussock.field_link_stands(l)
          AND (SELECT count(*) FROM tussock.field_session s WHERE s.coop_id = l.coop_id AND s.ranch_id = l.ranch_id AND s.link_id = l.id) < 50
        RETURNING 1
    )
    SELECT new.secret FROM new, opened
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.open_season(coop uuid, which integer)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    first timestamptz := coalesce((SELECT min(s.opened_at) FROM tussock.season s WHERE s.coop_id = coop), now());
    opens date := (SELECT s.opens_on FROM tussock.season s WHERE s.coop_id = coop AND s.year = which);
BEGIN
    INSERT INTO tussock.season_ranch (coop_id, season, ranch_id, entity_id, yes, owners, settled, fresh, area, group_name)
    SELECT r.coop_id, which, r.id, r.entity_id, tussock.opens_with_yes(coop, r.id), e.owners, tussock.settled(coop, r.id),
        first <> now() AND NOT EXISTS (
            SELECT 1 FROM tussock.season_ranch o JOIN tussock.season x ON x.coop_id = o.coop_id AND x.year = o.season
            WHERE o.coop_id = coop AND o.settled AND o.owners && e.owners AND (x.opened_at = first OR x.opens_on <= opens - 300 AND EXISTS (
                SELECT 1 FROM tussock.snapshot c WHERE c.coop_id = coop AND c.season = o.season AND c.edition = 1 AND c.ranch_id = o.ranch_id AND (c.nests <> '[]' OR c.belts <> '[]')))),
        coalesce(a.name, ''), coalesce(a.group_name, '')
    FROM tussock.ranch r
    LEFT JOIN tussock.area a ON a.coop_id = r.coop_id AND a.id = r.area_id
    CROSS JOIN LATERAL (SELECT tussock.ranch_owners(coop, r.id) AS owners) e
    WHERE r.coop_id = coop AND r.erased_at IS NULL;
    UPDATE tussock.season s SET opened_at = now(), words = least(2, greatest(1, (
        SELECT count(*) FROM tussock.person p WHERE p.coop_id = coop AND p.role = 'coordinator' AND p.left_at IS NULL)))
    WHERE s.coop_id = coop AND s.year = which;
END
$function$
CREATE OR REPLACE FUNCTION tussock.open_session(coop uuid, person uuid, unused interval, longest interval, called text)
 RETURNS text
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    DELETE FROM tussock.session s
    WHERE s.coop_id = coop AND s.person_id = person
      AND (s.closed_at < now() - interval '30 days' OR s.ends_at < now() - interval '30 days');
    WITH new AS MATERIALIZED (SELECT tussock.new_secret() AS secret), opened AS (
        INSERT INTO tussock.session (coop_id, token_hash, person_id, idle, ends_at, agent)
        SELECT p.coop_id, tussock.kept(new.secret), p.id, unused, now() + longest, left(called, 200)
        FROM tussock.person p, new
        WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL AND p.suspended_at IS NULL
        RETURNING 1
    )
    SELECT new.secret FROM new, opened
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.open_step(coop uuid, person uuid, hash bytea, what jsonb, lasts interval)
 RETURNS void
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    DELETE FROM tussock.step s WHERE s.key_hash = hash OR s.ends_at < now();
    INSERT INTO tussock.step (coop_id, key_hash, person_id, data, ends_at)
    VALUES (coalesce(coop, '00000000-0000-0000-0000-000000000000'), hash, person, what, now() + lasts)
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.opens_with_yes(coop uuid, ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN coalesce(tussock.owners_say(coop, ranch), (SELECT c.level > 0 FROM tussock.consent c
        WHERE c.coop_id = coop AND c.ranch_id = ranch AND NOT (c.paper AND c.over) AND NOT (c.paper AND c.level = 0 AND c.given_at > now() - interval '30 days')
        ORDER BY c.seq DESC LIMIT 1), false);
END
$function$
CREATE OR REPLACE FUNCTION tussock.others()
 RETURNS TABLE(owner_id uuid, entity_id uuid, ranch_id uuid)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    own uuid[] := tussock.my_entities();
BEGIN
    RETURN QUERY
    SELECT o.id, r.entity_id, r.id
    FROM tussock.ranch r CROSS JOIN LATERAL unnest(tussock.ranch_owners(coop, r.id)) o (id)
    WHERE r.coop_id = coop AND r.erased_at IS NULL AND NOT r.entity_id = ANY (own);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.own_alarm()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    NEW.own := NOT EXISTS (SELECT 1 FROM unnest(NEW.ranches) r WHERE NOT tussock.owns(NEW.coop_id, r, NEW.person_id));
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.own_file()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE sent tussock.upload;
BEGIN
    SELECT * INTO sent FROM tussock.upload u WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id AND u.id = NEW.upload_id;
    NEW.own := coalesce(sent.called, '') = '';
    IF NEW.own AND sent.rank = 3 THEN
        WITH same AS (
            UPDATE tussock.upload_file f SET own = false FROM tussock.upload h
            WHERE f.coop_id = NEW.coop_id AND f.ranch_id = NEW.ranch_id AND f.sha256 = NEW.sha256 AND f.own
              AND h.coop_id = f.coop_id AND h.ranch_id = f.ranch_id AND h.id = f.upload_id AND h.rank < 2
            RETURNING f.upload_id
        ), replaced AS (
            UPDATE tussock.upload h SET state = CASE h.state WHEN 'current' THEN 'replaced' ELSE h.state END, owners_since = coalesce(h.owners_since, now()) FROM same
            WHERE h.coop_id = NEW.coop_id AND h.ranch_id = NEW.ranch_id AND h.id = same.upload_id
            RETURNING h.id
        )
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item)
        SELECT NEW.coop_id, NEW.ranch_id, sent.sent_by, now(), 'came', left(NEW.name, 80) FROM replaced LIMIT 1;
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.own_yes()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'INSERT' THEN
        NEW.placed_by := tussock.my_person();
    ELSIF OLD.confirmed_at IS NOT NULL OR NEW.placed_by IS NULL THEN
        RETURN NEW;
    END IF;
    IF NEW.confirmed_at IS NOT NULL THEN
        NEW.confirmed_at := NULL;
        NEW.confirmed_by := NULL;
        NEW.let_in_at := now();
        NEW.let_in_by := NEW.placed_by;
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.owner_comes()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF TG_OP = 'UPDATE' AND OLD.confirmed_at IS NOT NULL THEN
        RETURN NULL;
    END IF;
    UPDATE tussock.consent c SET over = true WHERE c.coop_id = NEW.coop_id AND c.ranch_id = NEW.ranch_id AND c.paper AND NOT c.over;
    IF EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.person_id <> NEW.person_id
           AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL) THEN
        RETURN NULL;
    END IF;
    UPDATE tussock.assignment a SET confirmed_at = NULL, confirmed_by = NULL
    WHERE a.coop_id = NEW.coop_id AND a.ranch_id = NEW.ranch_id AND a.person_id <> NEW.person_id AND a.until IS NULL AND a.confirmed_at IS NOT NULL;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.ownerless_waits()
 RETURNS TABLE(person uuid, name text, ranch uuid, ranch_name text, since timestamp with time zone, opens_at timestamp with time zone, words integer, mine boolean, email text, inviter text, there boolean, lost text, lost_at timestamp with time zone)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT p.id, p.name, r.id, r.name, a.since, a.since + interval '7 days',
           (SELECT count(DISTINCT w.entity_id)::integer FROM tussock.owner_vouch w
            WHERE w.coop_id = a.coop_id AND w.person_id = a.person_id AND w.ranch_id = a.ranch_id AND w.since = a.since),
           EXISTS (SELECT 1 FROM tussock.owner_vouch w
            WHERE w.coop_id = a.coop_id AND w.person_id = a.person_id AND w.ranch_id = a.ranch_id AND w.since = a.since AND w.voucher_id = v.person_id),
           coalesce(e.email, ''), coalesce(i.name, ''), a.confirmed_at IS NOT NULL, coalesce(l.name, ''), l.until
    FROM tussock.viewer() v
    JOIN tussock.assignment a ON a.coop_id = v.coop_id
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id
    LEFT JOIN tussock.account e ON e.coop_id = p.coop_id AND e.person_id = p.id
    LEFT JOIN tussock.person i ON i.coop_id = p.coop_id AND i.id = p.invited_by
    LEFT JOIN LATERAL (SELECT q.name, o.until FROM tussock.assignment o JOIN tussock.person q ON q.coop_id = o.coop_id AND q.id = o.person_id
        WHERE o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id AND o.kind = 'owner' AND o.confirmed_at IS NOT NULL AND o.until IS NOT NULL ORDER BY o.until DESC LIMIT 1) l ON true
    WHERE (v.role = 'coordinator' OR (SELECT tussock.my_word()) IS NOT NULL)
      AND a.kind = 'owner' AND a.until IS NULL AND p.left_at IS NULL AND p.id <> v.person_id
      AND (a.confirmed_at IS NULL AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = a.coop_id AND o.ranch_id = a.ranch_id
                      AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
           OR a.confirmed_at IS NOT NULL AND tussock.disputed(a.coop_id, a.ranch_id, a.person_id))
    ORDER BY a.since, p.name;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.owners_say(coop uuid, ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (SELECT bool_and(w.level > 0) FROM (
        SELECT DISTINCT ON (c.given_by) c.level FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch AND NOT c.over AND NOT c.paper
        ORDER BY c.given_by, c.seq DESC) w);
END
$function$
CREATE OR REPLACE FUNCTION tussock.owners_to_vouch()
 RETURNS TABLE(id uuid, name text, again boolean, inviter text, ranches text, words integer, mine boolean, settled boolean, why text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    IF NOT coalesce(tussock.may_vouch(), false) THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT x.id, x.name, coalesce(n.again, false), coalesce(n.inviter, ''), x.ranches, x.words, x.mine, s.settled, CASE WHEN s.settled OR x.words < 2 THEN ''
        WHEN NOT EXISTS (SELECT 1 FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = x.id AND (v.ended_at IS NULL OR v.ended_at > now() - interval '30 days') AND p.role <> 'coordinator') THEN 'coordinators'
        WHEN (SELECT count(DISTINCT coalesce(p.invited_by, p.id)) FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = x.id AND (v.ended_at IS NULL OR v.ended_at > now() - interval '30 days')) < 2 THEN 'inviter'
        ELSE 'shared' END
    FROM (
        SELECT o.owner_id AS id, coalesce(p.name, min(e.name)) AS name, string_agg(r.name, ', ' ORDER BY r.name) AS ranches,
            (SELECT count(*)::integer FROM tussock.vouch v JOIN tussock.person w ON w.coop_id = v.coop_id AND w.id = v.person_id
                WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND (v.ended_at IS NULL OR v.ended_at > now() - interval '30 days')) AS words,
            EXISTS (SELECT 1 FROM tussock.vouch v WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND v.person_id = me AND v.ended_at IS NULL) AS mine
        FROM tussock.others() o
        JOIN tussock.ranch r ON r.coop_id = coop AND r.id = o.ranch_id
        JOIN tussock.entity e ON e.coop_id = coop AND e.id = o.entity_id
        LEFT JOIN tussock.person p ON p.coop_id = coop AND p.id = o.owner_id
        GROUP BY o.owner_id, p.name) x
    CROSS JOIN LATERAL (SELECT CASE WHEN x.words < 2 THEN false ELSE tussock.vouched_for(coop, x.id) END AS settled OFFSET 0) s
    LEFT JOIN LATERAL tussock.namesake(coop, x.id) n ON true
    ORDER BY 2, 3, 5;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.owners_traces(coop uuid, ranches uuid[], from_then timestamp with time zone)
 RETURNS text[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN ARRAY(
        SELECT DISTINCT t.trace
        FROM tussock.assignment a CROSS JOIN LATERAL unnest(tussock.traces(coop, a.person_id)) t (trace)
        WHERE a.coop_id = coop AND a.ranch_id = ANY (ranches) AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL AND (a.until IS NULL OR a.until > from_then));
END
$function$
CREATE OR REPLACE FUNCTION tussock.owns(coop uuid, ranch uuid, person uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.person_id = person AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
END
$function$
    GRANT EXECUTE TO tussock_clerk
CREATE OR REPLACE FUNCTION tussock.passkeys_of(coop uuid, person uuid)
 RETURNS TABLE(id uuid, credential jsonb)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT k.id, k.credential FROM tussock.passkey k WHERE k.coop_id = coop AND k.person_id = person
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.photo_room()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM 1 FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id FOR UPDATE; -- one at a time
    IF (SELECT count(*) >= 5000 OR coalesce(sum(length(p.data)), 0) + length(NEW.data) > 500000000
        FROM tussock.photo p WHERE p.coop_id = NEW.coop_id AND p.ranch_id = NEW.ranch_id) THEN
        RAISE EXCEPTION 'no room for another photo' USING ERRCODE = '23514', CONSTRAINT = 'photo_room_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.print_due(program text, OUT coop uuid, OUT season integer, OUT edition smallint)
 RETURNS record
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    SELECT e.coop_id, e.season, e.edition INTO coop, season, edition
    FROM tussock.edition e JOIN tussock.season s ON s.coop_id = e.coop_id AND s.year = e.season
    WHERE e.composed_at IS NULL AND (e.edition = 2 OR s.composed_on <= tussock.today()) AND (e.note = '' OR e.version <> program)
      AND (e.cut_at <= now() - interval '1 day' OR NOT EXISTS (SELECT 1 FROM tussock.unread w WHERE w.coop_id = e.coop_id AND w.season = e.season AND w.edition = e.edition))
    ORDER BY s.composed_on, e.season, e.coop_id LIMIT 1 FOR UPDATE OF e;
    IF FOUND THEN
        IF (SELECT x.counted IS NULL FROM tussock.edition x WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition) THEN
            PERFORM tussock.note_open(x.coop_id, x.season, x.edition, x.ranch_id, x.upload_id) FROM tussock.unread x
            WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition;
            DELETE FROM tussock.unread x WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition;
            DELETE FROM tussock.snapshot x WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition AND NOT tussock.said_yes(coop, x.ranch_id);
            UPDATE tussock.edition x SET counted = (SELECT count(*) FROM tussock.snapshot y WHERE y.coop_id = coop AND y.season = x.season AND y.edition = x.edition)
            WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition;
        END IF;
        UPDATE tussock.edition x SET tries = x.tries + 1, version = program WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition;
    END IF;
END
$function$
    GRANT EXECUTE TO tussock_press
CREATE OR REPLACE FUNCTION tussock.prove(coop uuid, person uuid, handle text)
 RETURNS void
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    UPDATE tussock.session s SET proved_at = now()
    WHERE s.coop_id = coop AND s.person_id = person AND encode(sha256(s.token_hash), 'hex') = handle AND s.closed_at IS NULL
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.proves(kept bytea)
 RETURNS boolean
 LANGUAGE sql
 STABLE
AS $function$
    SELECT sha256(substring(bit_send(('x' || right(current_setting('tussock.viewer', true), 64))::bit(256)
        # ('x' || encode(sha256(kept || xid8send(pg_current_xact_id_if_assigned())), 'hex'))::bit(256)) FROM 5)) = kept
$function$
CREATE OR REPLACE FUNCTION tussock.publish_due(coop uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE pub.bulletin b SET published_at = now() FROM tussock.season s
    WHERE (coop IS NULL OR b.coop_id = coop) AND b.published_at IS NULL AND s.coop_id = b.coop_id AND s.year = b.season AND s.published_on <= tussock.today()
      AND tussock.approved(b.coop_id, b.season, 1::smallint);
    UPDATE pub.revision r SET published_at = now()
    WHERE (coop IS NULL OR r.coop_id = coop) AND r.published_at IS NULL AND tussock.approved(r.coop_id, r.season, r.edition);
END
$function$
    GRANT EXECUTE TO tussock_press
CREATE OR REPLACE FUNCTION tussock.purge(coop uuid, ranch uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    t record;
    stuck boolean;
BEGIN
    FOR t IN
        SELECT c.oid::regclass AS name FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'line_id' AND NOT a.attisdropped
        WHERE c.relnamespace = 'tussock'::regnamespace AND c.relkind = 'r'
          AND NOT EXISTS (SELECT 1 FROM pg_attribute r WHERE r.attrelid = c.oid AND r.attname = 'ranch_id' AND NOT r.attisdropped)
    LOOP
        EXECUTE format('DELETE FROM %s x WHERE x.coop_id = $1 AND x.line_id IN (SELECT l.id FROM tussock.season_line l WHERE l.coop_id = $1 AND l.ranch_id = $2)', t.name) USING coop, ranch;
    END LOOP;
    FOR pass IN 1..9 LOOP -- a table that another one's rows refer to goes after it
        stuck := false;
        FOR t IN
            SELECT c.oid::regclass AS name FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'ranch_id' AND NOT a.attisdropped
            WHERE c.relnamespace = 'tussock'::regnamespace AND c.relkind = 'r' AND c.relname NOT IN ('assignment', 'sharing', 'showcase', 'departure')
        LOOP
            BEGIN
                EXECUTE format('DELETE FROM %s WHERE coop_id = $1 AND ranch_id = $2', t.name) USING coop, ranch;
            EXCEPTION WHEN foreign_key_violation THEN
                stuck := true;
            END;
        END LOOP;
        EXIT WHEN NOT stuck;
    END LOOP;
    IF stuck THEN
        RAISE EXCEPTION 'rows of an erased ranch are left';
    END IF;
    FOR t IN
        SELECT c.oid::regclass AS name FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'ranches' AND NOT a.attisdropped AND a.atttypid = 'uuid[]'::regtype
        WHERE c.relnamespace = 'tussock'::regnamespace AND c.relkind = 'r'
    LOOP
        EXECUTE format('UPDATE %s SET ranches = array_remove(ranches, $2) WHERE coop_id = $1 AND $2 = ANY (ranches)', t.name) USING coop, ranch;
    END LOOP;
    UPDATE tussock.departure d SET heir = '' WHERE d.coop_id = coop AND d.ranch_id = ranch AND d.called_off_at IS NOT NULL;
    UPDATE tussock.sharing s SET ended_at = coalesce(s.ended_at, now()), purpose = '–' WHERE s.coop_id = coop AND s.ranch_id = ranch;
    UPDATE tussock.showcase s SET ended_at = coalesce(s.ended_at, now()), name = '', estimate = NULL, low = NULL, high = NULL WHERE s.coop_id = coop AND s.ranch_id = ranch;
END
$function$
CREATE OR REPLACE FUNCTION tussock.put_in(coop uuid, ranch uuid, sheet uuid, had jsonb, has jsonb)
 RETURNS jsonb
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT coalesce(jsonb_agg(e.x ORDER BY u.rank DESC, u.seq DESC, (e.x->>'row')::integer), '[]')
        FROM (SELECT x FROM jsonb_array_elements(had) x WHERE x->>'upload_id' <> sheet::text UNION ALL SELECT x FROM jsonb_array_elements(has) x) e
        JOIN tussock.upload u ON u.coop_id = coop AND u.ranch_id = ranch AND u.id = (e.x->>'upload_id')::uuid AND u.rank > 0);
END
$function$
CREATE OR REPLACE FUNCTION tussock.ranch_owners(coop uuid, ranch uuid)
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN ARRAY(
        SELECT a.person_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
        UNION SELECT ranch WHERE NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL));
END
$function$
CREATE OR REPLACE FUNCTION tussock.ranches_joined(hash bytea)
 RETURNS SETOF text
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT r.name FROM tussock.invitation i JOIN tussock.ranch r ON r.coop_id = i.coop_id AND r.erased_at IS NULL
    WHERE i.token_hash = hash AND i.used_at IS NULL AND i.revoked_at IS NULL AND now() < i.expires_at
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.ranches_of(coop uuid, sender uuid)
 RETURNS TABLE(id uuid, name text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT DISTINCT r.id, r.name
    FROM tussock.person p
    JOIN tussock.assignment a ON a.coop_id = p.coop_id AND a.person_id = p.id AND a.until IS NULL AND a.confirmed_at IS NOT NULL
    JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id AND r.erased_at IS NULL
    WHERE p.coop_id = coop AND p.id = sender AND p.role IN ('landowner', 'hand') AND p.left_at IS NULL AND p.suspended_at IS NULL
    ORDER BY r.name;
END
$function$
    GRANT EXECUTE TO tussock_clerk
CREATE OR REPLACE FUNCTION tussock.reader()
 RETURNS TABLE(coop_id uuid, person_id uuid, name text, role text, ranches uuid[], known integer)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT p.coop_id, p.id, p.name, p.role, tussock.my_ranches(), tussock.my_known()
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
    JOIN tussock.api_token t ON t.coop_id = p.coop_id AND t.person_id = p.id AND t.token_hash = v.shown
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.record_mended()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM tussock.let_first_on(NEW.coop_id, NEW.id);
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.remember_device(coop uuid, person uuid, hash bytea)
 RETURNS void
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    DELETE FROM tussock.device d WHERE d.coop_id = coop AND d.person_id = person AND d.seen_at < now() - interval '1 year';
    INSERT INTO tussock.device (coop_id, person_id, device_hash) VALUES (coop, person, hash)
    ON CONFLICT (coop_id, person_id, device_hash) DO UPDATE SET seen_at = now()
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.reminder_letters(today date)
 RETURNS TABLE(address text, coop_name text, named boolean, language text, days jsonb)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT w.coop_id, w.person_id, w.named, w.language, d.line_id, d.ranch_id, d.line, d.what, d.due, d.closes, today > d.closes AS late
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
    SELECT e.email, c.name, x.named, x.language,
        jsonb_agg(jsonb_build_object('ranch', r.name, 'ranch_id', r.id, 'line', x.line, 'what', x.what, 'due', x.due, 'closes', x.closes, 'late', x.late) ORDER BY x.due, r.name, length(x.line), x.line)
    FROM due x
    JOIN told t ON t.coop_id = x.coop_id AND t.person_id = x.person_id AND t.line_id = x.line_id AND t.what = x.what AND t.late = x.late
    JOIN tussock.account e ON e.coop_id = x.coop_id AND e.person_id = x.person_id
    JOIN tussock.coop c ON c.coop_id = x.coop_id
    JOIN tussock.ranch r ON r.coop_id = x.coop_id AND r.id = x.ranch_id
    GROUP BY e.email, c.name, x.named, x.language;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.reseal_code(coop uuid, person uuid, old bytea, new bytea)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    UPDATE tussock.code_secret k SET secret = new WHERE k.coop_id = coop AND k.person_id = person AND k.secret = old;
    RETURN FOUND;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.retract(year integer, chosen integer, which integer[])
 RETURNS integer
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
    current smallint := coalesce((SELECT max(v.edition) FROM pub.revision v WHERE v.coop_id = coop AND v.season = year AND v.published_at IS NOT NULL), 1);
    needed integer := tussock.words_needed(coop, year, greatest(now() - interval '30 days', (SELECT e.cut_at FROM tussock.edition e WHERE e.coop_id = coop AND e.season = year AND e.edition = 1)));
    taken integer;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN
        RETURN 0;
    END IF;
    PERFORM 1 FROM tussock.season s WHERE s.coop_id = coop AND s.year = retract.year FOR UPDATE;
    INSERT INTO tussock.take_back (coop_id, season, row, edition, person_id)
    SELECT c.coop_id, c.season, c.row, c.edition, me FROM pub.cell c WHERE c.coop_id = coop AND c.season = year AND c.edition = current AND c.row = chosen ON CONFLICT DO NOTHING;
    IF FOUND THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, became)
        SELECT coop, me, 'take back', year::text, jsonb_build_object('Area', c.area, 'Substrate', c.substrate, 'Measure', c.measure, 'Predator', c.predator, 'Clumps', c.clumps)::text
        FROM pub.cell c WHERE c.coop_id = coop AND c.season = year AND c.edition = current AND c.row = chosen;
    END IF;
    IF (SELECT count(*) FROM tussock.take_back t JOIN tussock.person p ON p.coop_id = t.coop_id AND p.id = t.person_id
        WHERE t.coop_id = coop AND t.season = year AND t.edition = current AND t.row = chosen AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL
          AND (p.joined_at < now() - interval '30 days' OR p.joined_at < (SELECT e.cut_at FROM tussock.edition e WHERE e.coop_id = coop AND e.season = year AND e.edition = 1))) < needed THEN
        RETURN 0;
    END IF;
    WITH gone AS (
        INSERT INTO pub.retraction (coop_id, season, edition, row, retracted_at, retracted_by, area, substrate, measure, predator, clumps, n)
        SELECT c.coop_id, c.season, c.edition, c.row, now(), me, c.area, c.substrate, c.measure, c.predator, c.clumps, c.n
        FROM pub.cell t
        JOIN pub.cell c ON c.coop_id = t.coop_id AND c.season = t.season AND c.measure = t.measure AND c.predator = t.predator
            AND c.area IS NOT DISTINCT FROM t.area AND c.substrate IS NOT DISTINCT FROM t.substrate AND c.clumps IS NOT DISTINCT FROM t.clumps
        WHERE t.coop_id = coop AND t.season = year AND t.edition = current AND t.row = ANY (which)
        ON CONFLICT DO NOTHING
        RETURNING edition
    )
    SELECT count(*) FILTER (WHERE edition = current)::integer INTO taken FROM gone;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, became)
    SELECT coop, me, 'taken back', year::text, jsonb_build_object('Area', c.area, 'Substrate', c.substrate, 'Measure', c.measure, 'Predator', c.predator, 'Clumps', c.clumps)::text
    FROM pub.cell c WHERE c.coop_id = coop AND c.season = year AND c.edition = current AND c.row = chosen;
    RETURN taken;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.ring()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    limits record;
    taken record;
    work text[] := ARRAY['erase', 'erase ended', 'hand over', 'hand over ended', 'answered', 'chose', 'calendar', 'calendar ended', 'yes', 'no', 'page', 'sent', 'phone', 'keyed', 'came', 'undone', 'restored', 'owner', 'accepted', 'share', 'share ended', 'place ended', 'letting', 'letting ended'];
BEGIN
    -- What is of no ranch is published: posters, the bulletins' files. A ranch's own people open its pages as often as they like.
    IF NEW.ranch_id IS NULL OR NEW.what = ANY (work) THEN
        RETURN NULL;
    END IF;
    FOR limits IN SELECT * FROM (VALUES ('hour', interval '1 hour', 30), ('day', interval '1 day', 100)) v (span, long, most) LOOP
        -- A page that shows several ranches is one look: its rows have one time.
        SELECT count(DISTINCT l.looked_at) AS n, array_agg(DISTINCT l.ranch_id) AS ranches
        INTO taken FROM tussock.view_log l
        WHERE l.coop_id = NEW.coop_id AND l.person_id = NEW.person_id AND l.looked_at > NEW.looked_at - limits.long AND l.looked_at <= NEW.looked_at
          AND l.ranch_id IS NOT NULL AND l.what <> ALL (work);
        CONTINUE WHEN taken.n <= limits.most;
        UPDATE tussock.alarm a SET ranches = ARRAY(SELECT DISTINCT r FROM unnest(a.ranches || taken.ranches) r)
        WHERE a.coop_id = NEW.coop_id AND a.person_id = NEW.person_id AND a.span = limits.span AND a.rung_at > NEW.looked_at - limits.long;
        IF NOT FOUND THEN
            INSERT INTO tussock.alarm (coop_id, person_id, span, rung_at, ranches) VALUES (NEW.coop_id, NEW.person_id, limits.span, NEW.looked_at, taken.ranches);
        END IF;
    END LOOP;
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.roster_letters()
 RETURNS TABLE(address text, coop_name text, ranch_name text, kind text, was text, became text, by_name text)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT x.coop_id, r.id AS ranch_id, o.person_id, 'roster ' || x.id AS about, x.at, x.kind, x.was, x.became, x.person_id AS by_id
        FROM tussock.roster_change x
        JOIN tussock.ranch r ON r.coop_id = x.coop_id AND (r.id = x.ranch_id OR r.area_id = x.area_id)
        JOIN tussock.assignment o ON o.coop_id = r.coop_id AND o.ranch_id = r.id AND o.kind = 'owner' AND o.confirmed_at IS NOT NULL AND o.until IS NULL
        WHERE x.at > now() - interval '7 days' AND x.kind IN ('ranch name', 'ranch area', 'ranch owner', 'area name', 'area group', 'paper', 'vouch ended') AND o.since < x.at
        UNION ALL
        SELECT x.coop_id, r.id, p.id, 'roster ' || x.id, x.at, 'ranch', x.was, x.became, x.person_id
        FROM tussock.roster_change x
        JOIN tussock.ranch r ON r.coop_id = x.coop_id AND r.id = x.ranch_id AND r.erased_at IS NULL
        JOIN tussock.person p ON p.coop_id = x.coop_id AND p.role = 'landowner' AND p.left_at IS NULL AND p.joined_at < x.at AND tussock.alike(p.folded, tussock.fold(x.became))
        WHERE x.at > now() - interval '7 days' AND x.kind IN ('ranch', 'ranch owner') AND NOT tussock.owns(x.coop_id, r.id, p.id)
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT d.coop_id, d.ranch_id, d.person_id, d.about FROM due d
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id, about
    )
    SELECT e.email, c.name, r.name, d.kind, d.was, d.became, coalesce(b.name, '')
    FROM told t
    JOIN due d ON d.coop_id = t.coop_id AND d.ranch_id = t.ranch_id AND d.person_id = t.person_id AND d.about = t.about
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop c ON c.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    LEFT JOIN tussock.person b ON b.coop_id = d.coop_id AND b.id = d.by_id
    ORDER BY e.email, d.at;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.roster_log(from_then timestamp with time zone)
 RETURNS TABLE(at timestamp with time zone, by_name text, by_part text, by_again boolean, by_inviter text, kind text, what text, what_again boolean, what_inviter text, was text, became text, mine boolean, by_number integer)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := tussock.my_coop();
    own uuid[] := tussock.my_own_ranches();
    outside boolean := tussock.my_role() IN ('planner', 'biologist');
    unnamed text[] := ARRAY['suspended', 'suspension kept', 'suspension ended', 'coordinator', 'coordinator gone', 'remove', 'remove ended'];
    called text[] := tussock.my_names();
    me uuid := tussock.my_person();
BEGIN
    IF tussock.my_role() = 'hand' AND tussock.my_ranches() = '{}' THEN
        RETURN;
    END IF;
    RETURN QUERY
    WITH who AS MATERIALIZED (
        SELECT p.id, p.name, p.role, n.again, n.inviter FROM tussock.person p CROSS JOIN LATERAL tussock.namesake(coop, p.id) n
        WHERE p.coop_id = coop AND p.id IN (SELECT unnest(ARRAY[x.person_id, x.about_id]) FROM tussock.roster_change x WHERE x.coop_id = coop AND x.at >= from_then)
    )
    SELECT x.at, CASE WHEN outside THEN '' ELSE coalesce(p.name, '') END, CASE WHEN NOT outside OR p.id IS NULL THEN '' WHEN p.role = 'coordinator' THEN 'coordinator' ELSE 'member' END,
        coalesce(p.again, false) AND NOT outside, CASE WHEN outside THEN '' ELSE coalesce(p.inviter, '') END, x.kind, CASE WHEN outside AND x.kind = ANY (unnamed) THEN '' ELSE x.what END,
        coalesce(a.again, false) AND NOT outside, CASE WHEN outside THEN '' ELSE coalesce(a.inviter, '') END, x.was,
        CASE WHEN x.kind IN ('vouched', 'vouch ended') AND x.about_id IS NULL THEN 'on paper' WHEN outside AND x.kind IN ('take back', 'taken back') THEN '' ELSE x.became END,
        coalesce(x.ranch_id = ANY (own) OR x.kind = 'code' AND x.about_id = me, false) OR n.ranch_id IS NOT NULL AND x.at <= n.till, CASE WHEN x.person_id IS NULL THEN 0 ELSE dense_rank() OVER (ORDER BY x.person_id)::integer END
    FROM tussock.roster_change x LEFT JOIN who p ON p.id = x.person_id LEFT JOIN who a ON a.id = x.about_id
    LEFT JOIN (
        SELECT c.ranch_id, coalesce((SELECT min(w.said_at) FROM tussock.name_word w WHERE w.coop_id = coop AND w.ranch_id = c.ranch_id AND w.person_id = me AND NOT w.yes), 'infinity') AS till
        FROM tussock.roster_change c WHERE c.coop_id = coop AND c.kind IN ('ranch', 'ranch owner') AND CASE WHEN called IS NOT NULL THEN tussock.alike(tussock.fold(c.became), called) END GROUP BY c.ranch_id) n ON n.ranch_id = x.ranch_id
    WHERE x.coop_id = coop AND x.at >= from_then
      AND (NOT outside OR x.kind IN ('map', 'area', 'area name', 'area group', 'targets', 'season', 'key', 'take back', 'taken back') OR x.kind = ANY (unnamed))
    ORDER BY x.at DESC, x.id;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.said_yes(coop uuid, ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN coalesce(tussock.owners_say(coop, ranch), (SELECT c.level > 0 FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch AND NOT (c.paper AND c.over) AND NOT c.closing AND NOT (c.paper AND c.level = 0)
        ORDER BY c.seq DESC LIMIT 1), false);
END
$function$
CREATE OR REPLACE FUNCTION tussock.same_people(coop uuid, one uuid, other uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN NOT EXISTS (
        SELECT 1 FROM tussock.assignment a
        WHERE a.coop_id = coop AND a.ranch_id IN (one, other) AND a.until IS NULL AND a.confirmed_at IS NOT NULL
          AND NOT EXISTS (SELECT 1 FROM tussock.assignment b WHERE b.coop_id = coop AND b.person_id = a.person_id AND b.ranch_id = CASE a.ranch_id WHEN one THEN other ELSE one END
                          AND b.until IS NULL AND b.confirmed_at IS NOT NULL));
END
$function$
    GRANT EXECUTE TO tussock_clerk
CREATE OR REPLACE FUNCTION tussock.says_yes(coop uuid, ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN coalesce(tussock.owners_say(coop, ranch), (SELECT c.level > 0 FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch AND NOT (c.paper AND c.over) ORDER BY c.seq DESC LIMIT 1), false);
END
$function$
CREATE OR REPLACE FUNCTION tussock.season_open(year integer)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN NOT EXISTS (SELECT 1 FROM pub.bulletin b WHERE b.coop_id = (SELECT tussock.my_coop()) AND b.season = year)
       AND NOT EXISTS (SELECT 1 FROM tussock.season s WHERE s.coop_id = (SELECT tussock.my_coop()) AND s.year = season_open.year AND (s.cut_off_on <= tussock.today()
            OR EXISTS (SELECT 1 FROM tussock.edition e WHERE e.coop_id = s.coop_id AND e.season = s.year)));
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.send_for_owner(which uuid, sending uuid, file_name text, contents bytea, said_in text, how jsonb)
 RETURNS text
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    coop uuid := (SELECT tussock.my_coop());
    me uuid := (SELECT tussock.my_person());
    new_id uuid := gen_random_uuid();
BEGIN
    IF NOT which = ANY (tussock.my_sendable()) THEN
        RETURN NULL;
    END IF;
    PERFORM pg_advisory_xact_lock(hashtextextended('files of ' || which::text, 0));
    IF (SELECT count(*) >= 40 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = which AND u.called <> '' AND u.sent_at > now() - interval '1 day') THEN
        RETURN 'many';
    END IF;
    IF (SELECT count(*) >= 500 OR coalesce(sum(f.size), 0) + length(contents) > 250 * 1024 * 1024 FROM tussock.upload_file f WHERE f.coop_id = coop AND f.ranch_id = which AND NOT f.own
        AND EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = f.coop_id AND u.ranch_id = f.ranch_id AND u.id = f.upload_id AND u.called <> '')) THEN
        RETURN 'full';
    END IF;
    INSERT INTO tussock.upload (coop_id, ranch_id, id, season, sent_by, sent_at, sending_id, called)
    VALUES (coop, which, new_id, 0, me, now(), sending, file_name);
    INSERT INTO tussock.upload_file (coop_id, ranch_id, upload_id, name, size, sha256, data)
    VALUES (coop, which, new_id, file_name, length(contents), sha256(contents), contents);
    INSERT INTO tussock.reading (coop_id, ranch_id, upload_id, nests, belts, refused, settings) VALUES (coop, which, new_id, 0, 0, 0, how);
    INSERT INTO tussock.to_read (coop_id, ranch_id, upload_id, language, size) VALUES (coop, which, new_id, said_in, length(contents));
    INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what, item) VALUES (coop, which, me, now(), 'came', left(file_name, 80));
    PERFORM pg_notify('tussock_clerk', '');
    RETURN 'sent';
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.sent_for_letters()
 RETURNS TABLE(address text, coop_name text, ranch_name text, by_name text, files bigint)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.settled(coop uuid, ranch uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (SELECT 1 FROM unnest(tussock.ranch_owners(coop, ranch)) o (id) WHERE tussock.vouched_for(coop, o.id));
END
$function$
CREATE OR REPLACE FUNCTION tussock.shared_nest()
 RETURNS TABLE(coop_id uuid, ranch_id uuid, upload_id uuid, "row" integer, site text, season integer, transect text, number text, substrate text, plant text, set_on date, visit_on date[], visit_state text[], bits text, bits_far text, heaps text, opened_at text, bite_way text, holes text, inside text, ground text, bowl text, trace text, guess text, camera text, eggs_left smallint)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT n.coop_id, n.ranch_id, n.upload_id, n.row, n.site, n.season, n.transect, n.number, n.substrate, n.plant, n.set_on, n.visit_on, n.visit_state,
        n.bits, n.bits_far, n.heaps, n.opened_at, n.bite_way, n.holes, n.inside, n.ground, n.bowl, n.trace, n.guess, n.camera, n.eggs_left
    FROM tussock.nest n
    JOIN tussock.upload u ON u.coop_id = n.coop_id AND u.ranch_id = n.ranch_id AND u.id = n.upload_id
    WHERE n.coop_id = (SELECT tussock.my_coop()) AND n.ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[]) AND u.state = 'current' AND u.rank > 0
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.sheet_letters()
 RETURNS TABLE(address text, coop_name text, ranch_name text, by_name text, file text, did text)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT u.coop_id, u.ranch_id, u.sent_by AS person_id, u.id, d.did, d.person AS by_id, d.did || ' ' || u.id || ' ' || d.at AS about
        FROM tussock.upload u
        JOIN tussock.reading g ON g.coop_id = u.coop_id AND g.ranch_id = u.ranch_id AND g.upload_id = u.id
        CROSS JOIN LATERAL (VALUES ('answered', g.answered_by, g.answered_at), (CASE u.state WHEN 'undone' THEN 'undone' ELSE 'restored' END, u.state_by, u.state_at)) d (did, person, at)
        WHERE d.at > now() - interval '7 days' AND d.person <> u.sent_by AND (d.did = 'answered' OR u.state <> 'replaced') AND u.called = ''
          AND tussock.owns(u.coop_id, u.ranch_id, u.sent_by)
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT d.coop_id, d.ranch_id, d.person_id, d.about FROM due d
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id, about
    )
    SELECT e.email, c.name, r.name, coalesce(b.name, ''), f.name, d.did
    FROM told t
    JOIN due d ON d.coop_id = t.coop_id AND d.ranch_id = t.ranch_id AND d.person_id = t.person_id AND d.about = t.about
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop c ON c.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    JOIN tussock.upload_file f ON f.coop_id = d.coop_id AND f.ranch_id = d.ranch_id AND f.upload_id = d.id
    LEFT JOIN tussock.person b ON b.coop_id = d.coop_id AND b.id = d.by_id
    ORDER BY e.email, r.name, f.name;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.shown_handle()
 RETURNS text
 LANGUAGE sql
 STABLE
AS $function$
    SELECT left(current_setting('tussock.viewer', true), 64)
$function$
CREATE OR REPLACE FUNCTION tussock.stay()
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE p tussock.person;
BEGIN
    UPDATE tussock.person x SET remove_asked_at = NULL, remove_asked_by = NULL WHERE x.coop_id = tussock.my_coop() AND x.id = tussock.my_person() AND x.remove_asked_at IS NOT NULL RETURNING * INTO p;
    IF p.id IS NULL THEN
        RETURN false;
    END IF;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, about_id) VALUES (p.coop_id, p.id, 'remove ended', p.name, p.id);
    RETURN true;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.step_of(hash bytea)
 RETURNS TABLE(coop uuid, person uuid, what jsonb)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT s.coop_id, s.person_id, s.data FROM tussock.step s WHERE s.key_hash = hash AND now() < s.ends_at
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.suspend(who uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
    IF p.role = 'coordinator' AND tussock.came_after(p) THEN
        RAISE EXCEPTION 'came lately' USING ERRCODE = '23505', CONSTRAINT = 'person_lately_check';
    END IF;
    IF tussock.unheard(coop, who) IS NOT NULL THEN
        RAISE EXCEPTION 'not heard' USING ERRCODE = '23505', CONSTRAINT = 'person_unheard_check';
    END IF;
    -- Another one, who was here for thirty days when the last one began, so that nobody brings in a friend for it.
    IF p.suspended_first > now() - interval '90 days' AND NOT EXISTS (SELECT 1 FROM tussock.person m
        WHERE m.coop_id = coop AND m.id = me AND m.id <> p.suspended_last_by AND m.joined_at <= p.suspended_first - interval '30 days') THEN
        RAISE EXCEPTION 'suspended lately' USING ERRCODE = '23505', CONSTRAINT = 'person_suspended_check';
    END IF;
    UPDATE tussock.person x SET suspended_at = now(), suspended_by = me, suspended_last_by = me, suspension_kept_by = NULL, suspended_first = now()
    WHERE x.coop_id = coop AND x.id = who;
    UPDATE tussock.api_token t SET revoked_at = now() WHERE t.coop_id = coop AND t.person_id = who AND t.revoked_at IS NULL;
    UPDATE tussock.calendar c SET revoked_at = now() WHERE c.coop_id = coop AND c.person_id = who AND c.revoked_at IS NULL;
    DELETE FROM tussock.device d WHERE d.coop_id = coop AND d.person_id = who;
    DELETE FROM tussock.step s WHERE s.coop_id = coop AND s.person_id = who;
    UPDATE tussock.session s SET closed_at = now() WHERE s.coop_id = coop AND s.person_id = who AND s.closed_at IS NULL;
    RETURN true;
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.take_code(coop uuid, person uuid, step bigint)
 RETURNS boolean
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH taken AS (
        UPDATE tussock.code_secret k SET last_step = step, tries = 0, tried_at = NULL, on_since = coalesce(k.on_since, now())
        WHERE k.coop_id = coop AND k.person_id = person AND k.last_step < step
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM taken)
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.take_off(coop uuid, ranch uuid, owner uuid, asker uuid)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    before integer := coalesce((SELECT max(c.seq) FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch), 0);
BEGIN
    UPDATE tussock.assignment a SET until = now() WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.person_id = owner AND a.until IS NULL;
    UPDATE tussock.assignment a SET ended_by = asker WHERE a.coop_id = coop AND a.ranch_id = ranch AND a.person_id = owner AND a.ended_by IS NULL AND a.until IS NOT NULL;
    IF (SELECT c.level > 0 AND c.given_by = owner FROM tussock.consent c WHERE c.coop_id = coop AND c.ranch_id = ranch ORDER BY c.seq DESC LIMIT 1) THEN
        INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES (coop, ranch, 0, owner);
    END IF;
    UPDATE tussock.consent c SET closing = true WHERE c.coop_id = coop AND c.ranch_id = ranch AND c.seq > before;
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what, was)
    SELECT coop, asker, 'taken off', r.id, r.name, p.name FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.id = owner WHERE r.coop_id = coop AND r.id = ranch;
END
$function$
CREATE OR REPLACE FUNCTION tussock.take_recovery_code(coop uuid, person uuid, hash bytea)
 RETURNS boolean
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH taken AS (
        UPDATE tussock.recovery_code r SET used_at = now()
        FROM tussock.code_secret k
        WHERE r.coop_id = coop AND r.person_id = person AND r.code_hash = hash AND r.used_at IS NULL
          AND k.coop_id = r.coop_id AND k.person_id = r.person_id AND k.on_since IS NOT NULL
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM taken)
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.take_step(hash bytea)
 RETURNS TABLE(coop uuid, person uuid, what jsonb)
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    DELETE FROM tussock.step s WHERE s.key_hash = hash AND now() < s.ends_at
    RETURNING s.coop_id, s.person_id, s.data
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.targets_added()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, was, became) VALUES (NEW.coop_id, NEW.set_by, 'targets', NEW.source,
        coalesce((SELECT concat_ws(' ', t.cover, t.hope, t.first_check, t.last_check) FROM tussock.targets t WHERE t.coop_id = NEW.coop_id AND t.version = NEW.version - 1), ''),
        concat_ws(' ', NEW.cover, NEW.hope, NEW.first_check, NEW.last_check));
    RETURN NULL;
END
$function$
CREATE OR REPLACE FUNCTION tussock.throttle_failed(names bytea[], at timestamp with time zone)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    DELETE FROM tussock.throttle t USING (
        SELECT o.coop_id, o.name_hash FROM tussock.throttle o WHERE o.last_at < at - interval '15 minutes' ORDER BY o.last_at LIMIT 200 FOR UPDATE SKIP LOCKED) o
    WHERE t.coop_id = o.coop_id AND t.name_hash = o.name_hash;
    INSERT INTO tussock.throttle AS t (name_hash, n, last_at)
    SELECT x, 1, at FROM unnest(names) x ORDER BY x -- always in one order, so that two never wait for each other
    ON CONFLICT (coop_id, name_hash) DO UPDATE
    SET n = CASE WHEN at - t.last_at > interval '15 minutes' THEN 1 ELSE t.n + 1 END, last_at = greatest(t.last_at, at);
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.throttle_forgive(name bytea)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    DELETE FROM tussock.throttle t WHERE t.coop_id = '00000000-0000-0000-0000-000000000000' AND t.name_hash = name;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.throttle_take(name bytea, most integer, every interval, at timestamp with time zone)
 RETURNS double precision
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    PERFORM tussock.throttle_failed('{}', at); -- forgets what is old
    INSERT INTO tussock.throttle AS t (name_hash, n, last_at, next_at) VALUES (name, 0, at, at + every)
    ON CONFLICT (coop_id, name_hash) DO UPDATE SET last_at = greatest(t.last_at, at), next_at = greatest(t.next_at, at) + every
    WHERE greatest(t.next_at, at) + every <= at + most * every;
    IF FOUND THEN
        RETURN 0;
    END IF;
    RETURN (SELECT extract(epoch FROM t.next_at + every - at - most * every)
        FROM tussock.throttle t WHERE t.coop_id = '00000000-0000-0000-0000-000000000000' AND t.name_hash = name);
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.throttle_wait(names bytea[], free integer[], lines boolean[], at timestamp with time zone)
 RETURNS double precision
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    nobody constant uuid := '00000000-0000-0000-0000-000000000000';
    longest interval := interval '0';
    wait interval;
    f record;
BEGIN
    FOR i IN 1 .. cardinality(names) LOOP
        IF lines[i] THEN
            SELECT t.n, t.last_at, t.next_at INTO f FROM tussock.throttle t WHERE t.coop_id = nobody AND t.name_hash = names[i] FOR UPDATE;
        ELSE
            SELECT t.n, t.last_at, t.next_at INTO f FROM tussock.throttle t WHERE t.coop_id = nobody AND t.name_hash = names[i];
        END IF;
        CONTINUE WHEN NOT FOUND OR f.n < free[i] OR at - f.last_at > interval '15 minutes';
        wait := least(interval '5 seconds', interval '250 milliseconds' * power(2, least(f.n - free[i], 8)));
        IF lines[i] THEN
            IF f.next_at > at THEN
                wait := wait + (f.next_at - at);
            END IF;
            IF wait > interval '12 seconds' THEN
                RETURN NULL;
            END IF;
            UPDATE tussock.throttle t SET next_at = at + wait WHERE t.coop_id = nobody AND t.name_hash = names[i];
        END IF;
        longest := greatest(longest, wait);
    END LOOP;
    RETURN extract(epoch FROM longest);
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.today()
 RETURNS date
 LANGUAGE sql
 STABLE
AS $function$ SELECT (now() AT TIME ZONE 'UTC')::date $function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.traces(coop uuid, person uuid)
 RETURNS text[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN ARRAY(
        SELECT 'person ' || person
        UNION ALL SELECT 'mailbox ' || split_part(split_part(a.email, '@', 1), '+', 1) || '@' || split_part(a.email, '@', 2)
        FROM tussock.account a WHERE a.coop_id = coop AND a.person_id = person
        UNION ALL SELECT 'telephone ' || right(x.digits, 10)
        FROM tussock.account a CROSS JOIN LATERAL (SELECT regexp_replace(a.phone, '[^0-9]', '', 'g') AS digits) x
        WHERE a.coop_id = coop AND a.person_id = person AND length(x.digits) >= 7
        UNION ALL SELECT 'browser ' || encode(b.device_hash, 'hex') FROM tussock.browser b WHERE b.coop_id = coop AND b.person_id = person);
END
$function$
CREATE OR REPLACE FUNCTION tussock.trust_device(coop uuid, person uuid, hash bytea, called text, lasts interval)
 RETURNS void
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    INSERT INTO tussock.device (coop_id, person_id, device_hash, agent, trusted_at, trusted_until)
    VALUES (coop, person, hash, left(called, 200), now(), now() + lasts)
    ON CONFLICT (coop_id, person_id, device_hash) DO UPDATE
    SET seen_at = now(), agent = EXCLUDED.agent, trusted_at = EXCLUDED.trusted_at, trusted_until = EXCLUDED.trusted_until;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.trusts_device(coop uuid, person uuid, hash bytea)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN EXISTS (SELECT 1 FROM tussock.device d
        WHERE d.coop_id = coop AND d.person_id = person AND d.device_hash = hash AND now() < d.trusted_until);
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.try_code(coop uuid, person uuid)
 RETURNS TABLE(secret bytea, open boolean, last_step bigint)
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    UPDATE tussock.code_secret k
    SET tries = CASE WHEN k.tried_at > now() - interval '15 minutes' THEN k.tries + 1 ELSE 1 END,
        tried_at = CASE WHEN k.tried_at > now() - interval '15 minutes' THEN k.tried_at ELSE now() END
    WHERE k.coop_id = coop AND k.person_id = person AND (k.tries < 10 OR k.tried_at <= now() - interval '15 minutes')
    RETURNING k.secret, k.on_since IS NOT NULL, k.last_step
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.try_step(hash bytea)
 RETURNS TABLE(coop uuid, person uuid, what jsonb)
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    UPDATE tussock.step s SET tries = s.tries + 1
    WHERE s.key_hash = hash AND now() < s.ends_at AND s.tries < 5
    RETURNING s.coop_id, s.person_id, s.data
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.undo_own()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = NEW.coop_id AND k.ranch_id = NEW.ranch_id AND k.id = NEW.undoes AND k.sent_by IS DISTINCT FROM NEW.sent_by)
       AND NOT NEW.ranch_id = ANY (tussock.my_own_ranches())
       AND NOT EXISTS (SELECT 1 FROM tussock.look k WHERE k.coop_id = NEW.coop_id AND k.ranch_id = NEW.ranch_id AND k.id = NEW.id) THEN -- kept already
        RAISE EXCEPTION 'somebody else''s look' USING ERRCODE = '23514', CONSTRAINT = 'look_undo_check';
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.unheard(coop uuid, owner uuid)
 RETURNS text
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE called text[] := ARRAY( -- the names that they bear
    SELECT p.folded FROM tussock.person p WHERE p.coop_id = coop AND p.id = owner
    UNION SELECT e.folded FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
    WHERE a.coop_id = coop AND a.person_id = owner AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL);
BEGIN
    RETURN (
        WITH lately AS (
            SELECT DISTINCT ON (x.ranch_id, x.kind) x.ranch_id, x.kind, x.was FROM tussock.roster_change x JOIN tussock.person c ON c.coop_id = x.coop_id AND c.id = x.person_id AND c.role = 'coordinator'
            WHERE x.coop_id = coop AND x.at > now() - interval '14 days' AND x.kind IN ('ranch', 'ranch name', 'ranch area', 'ranch owner') ORDER BY x.ranch_id, x.kind, x.at
        )
        SELECT min(r.name) FROM lately l
        JOIN tussock.ranch r ON r.coop_id = coop AND r.id = l.ranch_id AND r.erased_at IS NULL
        JOIN tussock.entity e ON e.coop_id = coop AND e.id = r.entity_id
        LEFT JOIN tussock.area a ON a.coop_id = coop AND a.id = r.area_id
        WHERE tussock.owns(coop, r.id, owner) AND l.was <> CASE l.kind WHEN 'ranch name' THEN r.name WHEN 'ranch area' THEN coalesce(a.name, '') WHEN 'ranch owner' THEN e.name ELSE l.was END
           OR CASE WHEN l.kind IN ('ranch', 'ranch owner') AND tussock.alike(e.folded, called) THEN owner = ANY (tussock.bearers(coop, r.id)) END);
END
$function$
CREATE OR REPLACE FUNCTION tussock.use_passkey(coop uuid, person uuid, key bytea, learned jsonb)
 RETURNS void
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    UPDATE tussock.passkey k SET used_at = now(), credential = learned
    WHERE k.coop_id = coop AND k.person_id = person AND k.key_id = key
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.use_token(handle text, ranch uuid)
 RETURNS boolean
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH used AS (
        UPDATE tussock.api_token t SET used_at = now()
        FROM tussock.person p
        WHERE encode(sha256(t.token_hash), 'hex') = handle AND t.revoked_at IS NULL AND now() < t.expires_at
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
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.viewer(OUT coop_id uuid, OUT person_id uuid, OUT role text, OUT shown bytea)
 RETURNS record
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    handle text := tussock.shown_handle();
BEGIN
    SELECT p.coop_id, p.id, p.role, s.token_hash INTO coop_id, person_id, role, shown
    FROM tussock.session s
    JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.person_id
    WHERE encode(sha256(s.token_hash), 'hex') = handle AND tussock.proves(s.token_hash)
      AND s.closed_at IS NULL AND p.left_at IS NULL AND p.suspended_at IS NULL
      AND now() < s.ends_at AND now() < s.seen_at + s.idle
    LIMIT 1; -- one row is planned for, even before the server has statistics
    IF NOT FOUND AND current_setting('transaction_read_only') = 'on' THEN
        SELECT p.coop_id, p.id, p.role, t.token_hash INTO coop_id, person_id, role, shown
        FROM tussock.api_token t
        JOIN tussock.person p ON p.coop_id = t.coop_id AND p.id = t.person_id
        WHERE encode(sha256(t.token_hash), 'hex') = handle AND tussock.proves(t.token_hash)
          AND t.revoked_at IS NULL AND p.left_at IS NULL AND p.suspended_at IS NULL AND now() < t.expires_at
        LIMIT 1;
    END IF;
END
$function$
CREATE OR REPLACE FUNCTION tussock.vouch_owner(newcomer uuid, which uuid, yes boolean)
 RETURNS text
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    word uuid := (SELECT tussock.my_word());
    me uuid := (SELECT tussock.my_person());
    a record;
BEGIN
    SELECT x.coop_id, x.since, x.confirmed_at IS NOT NULL AS there, r.entity_id INTO a
    FROM tussock.assignment x JOIN tussock.ranch r ON r.coop_id = x.coop_id AND r.id = x.ranch_id
    WHERE x.coop_id = (SELECT tussock.my_coop()) AND x.person_id = newcomer AND x.ranch_id = which AND x.kind = 'owner' AND x.until IS NULL
      AND (x.confirmed_at IS NULL AND NOT EXISTS (SELECT 1 FROM tussock.assignment o WHERE o.coop_id = x.coop_id AND o.ranch_id = x.ranch_id
                      AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL)
           OR x.confirmed_at IS NOT NULL AND yes AND tussock.disputed(x.coop_id, x.ranch_id, x.person_id))
    FOR UPDATE OF x;
    IF NOT FOUND OR word IS NULL OR word = a.entity_id OR me = newcomer THEN
        RETURN NULL;
    END IF;
    IF NOT yes THEN
        UPDATE tussock.assignment x SET until = now() WHERE x.coop_id = a.coop_id AND x.person_id = newcomer AND x.ranch_id = which AND x.since = a.since;
        RETURN 'ended';
    END IF;
    IF a.since > now() - interval '7 days' THEN
        RAISE EXCEPTION 'the week is not over' USING ERRCODE = '23514', CONSTRAINT = 'owner_vouch_week_check';
    END IF;
    INSERT INTO tussock.owner_vouch (coop_id, person_id, ranch_id, since, voucher_id, entity_id)
    VALUES (a.coop_id, newcomer, which, a.since, me, word) ON CONFLICT DO NOTHING;
    IF (SELECT count(DISTINCT w.entity_id) FROM tussock.owner_vouch w
        WHERE w.coop_id = a.coop_id AND w.person_id = newcomer AND w.ranch_id = which AND w.since = a.since) < 2 THEN
        RETURN 'counted';
    END IF;
    IF a.there THEN -- the other one's asking ends; theirs goes on, and is carried out when it is due
        UPDATE tussock.departure d SET called_off_at = now(), called_off_by = me
        WHERE d.coop_id = a.coop_id AND d.ranch_id = which AND d.whom = newcomer AND d.kind = 'take off' AND d.done_at IS NULL AND d.called_off_at IS NULL;
        RETURN 'in';
    END IF;
    UPDATE tussock.assignment x SET confirmed_at = now(), confirmed_by = me
    WHERE x.coop_id = a.coop_id AND x.person_id = newcomer AND x.ranch_id = which AND x.since = a.since;
    RETURN 'in';
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.vouched_by(coop uuid, owner uuid, at timestamp with time zone)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    own text[] := tussock.owners_traces(coop, ARRAY(
        SELECT a.ranch_id FROM tussock.assignment a WHERE a.coop_id = coop AND a.person_id = owner AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL), now());
BEGIN
    RETURN EXISTS (
        WITH voucher AS (
            SELECT p.id, p.role = 'coordinator' AS runs, p.invited_by, v.first, tussock.traces(coop, p.id) AS traces
            FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = owner AND (v.ended_at IS NULL OR v.ended_at > at - interval '30 days')
        )
        SELECT 1 FROM voucher a JOIN voucher b ON a.id <> b.id AND NOT b.runs
        WHERE (a.invited_by IS DISTINCT FROM b.invited_by AND NOT (a.runs AND b.invited_by IS NOT DISTINCT FROM a.id) OR a.runs AND b.first)
          AND NOT a.traces && b.traces AND NOT a.traces && own AND NOT b.traces && own);
END
$function$
CREATE OR REPLACE FUNCTION tussock.vouched_for(coop uuid, owner uuid)
 RETURNS boolean
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN tussock.vouched_by(coop, owner, now());
END
$function$
CREATE OR REPLACE FUNCTION tussock.whoami()
 RETURNS TABLE(coop_id uuid, person_id uuid, name text, role text, ranches uuid[], known integer)
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH touched AS (
        UPDATE tussock.session s SET seen_at = now()
        FROM tussock.viewer() v
        WHERE s.coop_id = v.coop_id AND s.token_hash = v.shown AND now() - s.seen_at > least(interval '5 minutes', s.idle / 10)
    )
    SELECT p.coop_id, p.id, p.name, p.role, tussock.my_ranches(), tussock.my_known()
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.whose_word()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    IF tussock.my_person() IS NOT NULL THEN
        NEW.owners := NEW.ranch_id = ANY (tussock.my_own_ranches());
    END IF;
    RETURN NEW;
END
$function$
CREATE OR REPLACE FUNCTION tussock.word_letters()
 RETURNS TABLE(address text, coop_name text, ranch_name text, by_name text, yes boolean, counted boolean)
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT c.coop_id, c.ranch_id, o.person_id, 'word ' || c.seq || ' ' || c.given_at AS about, c.seq, c.given_by, c.level > 0 AS said
        FROM tussock.consent c
        JOIN tussock.assignment o ON o.coop_id = c.coop_id AND o.ranch_id = c.ranch_id AND o.kind = 'owner' AND o.confirmed_at IS NOT NULL AND o.until IS NULL
        WHERE c.given_at > now() - interval '7 days' AND NOT c.paper AND NOT c.over AND o.person_id <> c.given_by AND o.confirmed_at <= c.given_at
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT d.coop_id, d.ranch_id, d.person_id, d.about FROM due d
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id, about
    )
    SELECT e.email, c.name, r.name, coalesce(b.name, ''), d.said, tussock.says_yes(t.coop_id, t.ranch_id)
    FROM told t
    JOIN due d ON d.coop_id = t.coop_id AND d.ranch_id = t.ranch_id AND d.person_id = t.person_id AND d.about = t.about
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop c ON c.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    LEFT JOIN tussock.person b ON b.coop_id = d.coop_id AND b.id = d.given_by
    ORDER BY e.email, d.seq;
END
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.words_needed(coop uuid, which integer, before timestamp with time zone)
 RETURNS integer
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN greatest(coalesce((SELECT s.words FROM tussock.season s WHERE s.coop_id = coop AND s.year = which), 1), least(2, (
        SELECT count(*) FROM tussock.person p WHERE p.coop_id = coop AND p.role = 'coordinator' AND p.joined_at < before AND (p.left_at IS NULL OR p.left_at > now() - interval '30 days'))));
END
$function$
