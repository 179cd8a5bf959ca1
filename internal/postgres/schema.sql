-- What the migrations make, as PostgreSQL lists it. Written by: go test ./internal/postgres -run TestSchema -update

TABLE pub.bulletin ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    season integer NOT NULL
    number integer NOT NULL
    published_at timestamp with time zone NOT NULL
    hash text NOT NULL
    CONSTRAINT bulletin_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT bulletin_pkey PRIMARY KEY (coop_id, season)
    CONSTRAINT bulletin_number_key UNIQUE (coop_id, number)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY reader FOR SELECT TO tussock_app USING (( SELECT tussock.my_least() AS my_least) IS NOT NULL)
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
    CONSTRAINT cell_n_check CHECK ((n >= 5))
    CONSTRAINT cell_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin(coop_id, season)
    CONSTRAINT cell_pkey PRIMARY KEY (coop_id, season, "row")
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY reader FOR SELECT TO tussock_app USING ((n >= ( SELECT tussock.my_least() AS my_least)) AND ((n - ( SELECT tussock.my_known() AS my_known)) >= 4))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT (coop_id, season, row, area, substrate, measure, predator, estimate, low, high, entities) TO tussock_app
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
    POLICY reader FOR SELECT TO tussock_app USING (( SELECT tussock.my_least() AS my_least) IS NOT NULL)
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
    CREATE INDEX api_token_hash ON tussock.api_token USING btree (token_hash)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person)) WITH CHECK ((person_id = ( SELECT tussock.my_person() AS my_person)) AND (( SELECT tussock.my_least() AS my_least) IS NOT NULL))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT (coop_id, person_id, token_hash, name, expires_at) TO tussock_app
    GRANT SELECT (coop_id, person_id, id, name, made_at, used_at, expires_at, revoked_at) TO tussock_app
    GRANT UPDATE (revoked_at) TO tussock_app
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
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (name, group_name) TO tussock_app
    GRANT SELECT TO tussock_press
TABLE tussock.assignment ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    person_id uuid NOT NULL
    ranch_id uuid NOT NULL
    entity_id uuid NOT NULL
    kind text NOT NULL
    since timestamp with time zone NOT NULL DEFAULT now()
    until timestamp with time zone
    CONSTRAINT assignment_kind_check CHECK ((kind = ANY (ARRAY['owner'::text, 'hand'::text])))
    CONSTRAINT assignment_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity(coop_id, id)
    CONSTRAINT assignment_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT assignment_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT assignment_pkey PRIMARY KEY (coop_id, person_id, ranch_id, since)
    CREATE INDEX assignment_ranch ON tussock.assignment USING btree (coop_id, ranch_id)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_end FOR UPDATE TO tussock_app USING ((kind = 'hand'::text) AND (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
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
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY shared FOR SELECT TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_opened_ranches() AS my_opened_ranches)::uuid[])) AND (EXISTS ( SELECT 1
   FROM tussock.upload u
  WHERE ((u.coop_id = belt.coop_id) AND (u.ranch_id = belt.ranch_id) AND (u.id = belt.upload_id) AND (u.state = 'current'::text)))))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT SELECT TO tussock_press
TABLE tussock.consent ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    level smallint NOT NULL
    given_by uuid NOT NULL
    given_at timestamp with time zone NOT NULL DEFAULT clock_timestamp()
    CONSTRAINT consent_level_check CHECK (((level >= 0) AND (level <= 3)))
    CONSTRAINT consent_person_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT consent_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT consent_pkey PRIMARY KEY (coop_id, ranch_id, given_at)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY give FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[])) AND (given_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT SELECT TO tussock_press
TABLE tussock.coop ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    created_at timestamp with time zone NOT NULL DEFAULT now()
    CONSTRAINT coop_name_check CHECK ((name <> ''::text))
    CONSTRAINT coop_pkey PRIMARY KEY (coop_id)
    POLICY coordinator FOR UPDATE TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY member FOR SELECT TO tussock_app USING true
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT UPDATE (name) TO tussock_app
    GRANT SELECT TO tussock_press
TABLE tussock.entity ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    CONSTRAINT entity_name_check CHECK ((name <> ''::text))
    CONSTRAINT entity_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT entity_pkey PRIMARY KEY (coop_id, id)
    CONSTRAINT entity_name_key UNIQUE (coop_id, name)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY own FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_entities() AS my_entities)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT SELECT TO tussock_press
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
    GRANT SELECT (coop_id, id, role, name, email, ranches, invited_by, created_at, expires_at, used_at, revoked_at) TO tussock_app
    GRANT UPDATE (revoked_at) TO tussock_app
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
    CONSTRAINT nest_visits_check CHECK ((cardinality(visit_on) = cardinality(visit_state)))
    CONSTRAINT nest_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT nest_pkey PRIMARY KEY (coop_id, ranch_id, upload_id, "row")
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT SELECT (coop_id, ranch_id, upload_id, row, site, season, transect, number, substrate, plant, set_on, visit_on, visit_state, bits, bits_far, heaps, opened_at, bite_way, holes, inside, ground, bowl, trace, guess, camera, eggs_left) TO tussock_press
TABLE tussock.person ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    role text NOT NULL
    joined_at timestamp with time zone NOT NULL DEFAULT now()
    seen_at timestamp with time zone
    left_at timestamp with time zone
    CONSTRAINT person_name_check CHECK ((name <> ''::text))
    CONSTRAINT person_role_check CHECK ((role = ANY (ARRAY['coordinator'::text, 'landowner'::text, 'hand'::text, 'biologist'::text, 'planner'::text])))
    CONSTRAINT person_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT person_pkey PRIMARY KEY (coop_id, id)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY ranch FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_people() AS my_people)::uuid[]))
    POLICY self FOR SELECT TO tussock_app USING (id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT UPDATE (left_at) TO tussock_app
TABLE tussock.press_order ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    season integer NOT NULL
    kind text NOT NULL
    state text NOT NULL DEFAULT 'waiting'::text
    ordered_by uuid NOT NULL
    ordered_at timestamp with time zone NOT NULL
    finished_at timestamp with time zone
    note text NOT NULL DEFAULT ''::text
    CONSTRAINT press_order_kind_check CHECK ((kind = ANY (ARRAY['preview'::text, 'publish'::text])))
    CONSTRAINT press_order_season_check CHECK (((season >= 1900) AND (season <= 2200)))
    CONSTRAINT press_order_state_check CHECK ((state = ANY (ARRAY['waiting'::text, 'working'::text, 'done'::text, 'failed'::text])))
    CONSTRAINT press_order_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT press_order_person_fkey FOREIGN KEY (coop_id, ordered_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT press_order_pkey PRIMARY KEY (coop_id, id)
    CREATE INDEX press_order_waiting ON tussock.press_order USING btree (ordered_at) WHERE (state = ANY (ARRAY['waiting'::text, 'working'::text]))
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) WITH CHECK ((( SELECT tussock.my_role() AS my_role) = 'coordinator'::text) AND (ordered_by = ( SELECT tussock.my_person() AS my_person)) AND (state = 'waiting'::text))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press TO tussock_press USING true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT SELECT TO tussock_press
    GRANT UPDATE (state, finished_at, note) TO tussock_press
TABLE tussock.press_preview ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    order_id uuid NOT NULL
    row integer NOT NULL
    season integer NOT NULL
    area text
    substrate text
    measure text NOT NULL
    predator text NOT NULL
    published boolean NOT NULL
    entities text NOT NULL
    held_because text NOT NULL
    CONSTRAINT press_preview_order_fkey FOREIGN KEY (coop_id, order_id) REFERENCES tussock.press_order(coop_id, id) ON DELETE CASCADE
    CONSTRAINT press_preview_pkey PRIMARY KEY (coop_id, order_id, "row")
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY press_add FOR INSERT TO tussock_press WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT SELECT TO tussock_app
    GRANT INSERT TO tussock_press
    GRANT SELECT TO tussock_press
TABLE tussock.ranch ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    id uuid NOT NULL DEFAULT gen_random_uuid()
    name text NOT NULL
    area_id uuid
    entity_id uuid NOT NULL
    CONSTRAINT ranch_name_check CHECK ((name <> ''::text))
    CONSTRAINT ranch_area_fkey FOREIGN KEY (coop_id, area_id) REFERENCES tussock.area(coop_id, id)
    CONSTRAINT ranch_coop_id_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop(coop_id)
    CONSTRAINT ranch_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity(coop_id, id)
    CONSTRAINT ranch_pkey PRIMARY KEY (coop_id, id)
    CONSTRAINT ranch_name_key UNIQUE (coop_id, name)
    POLICY coordinator TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY own FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY shared FOR SELECT TO tussock_app USING (id = ANY (( SELECT tussock.my_shared_ranches() AS my_shared_ranches)::uuid[]))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (name, area_id, entity_id) TO tussock_app
    GRANT SELECT TO tussock_press
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
    CONSTRAINT reading_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT reading_pkey PRIMARY KEY (coop_id, ranch_id, upload_id)
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (nests, belts, refused, answers, undone, settings) TO tussock_app
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
    CONSTRAINT session_token_hash_check CHECK ((length(token_hash) = 32))
    CONSTRAINT session_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT session_pkey PRIMARY KEY (coop_id, token_hash)
    CREATE INDEX session_person ON tussock.session USING btree (coop_id, person_id)
    CREATE INDEX session_token ON tussock.session USING btree (token_hash)
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
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY shared FOR SELECT TO tussock_app USING ((ranch_id = ANY (( SELECT tussock.my_opened_ranches() AS my_opened_ranches)::uuid[])) AND (EXISTS ( SELECT 1
   FROM tussock.upload u
  WHERE ((u.coop_id = site.coop_id) AND (u.ranch_id = site.ranch_id) AND (u.id = site.upload_id) AND (u.state = 'current'::text)))))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT SELECT TO tussock_press
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
    open_kinds jsonb NOT NULL DEFAULT '{}'::jsonb
    CONSTRAINT upload_season_check CHECK (((season = 0) OR ((season >= 1900) AND (season <= 2200))))
    CONSTRAINT upload_state_check CHECK ((state = ANY (ARRAY['current'::text, 'replaced'::text, 'undone'::text])))
    CONSTRAINT upload_person_fkey FOREIGN KEY (coop_id, sent_by) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT upload_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT upload_replaces_fkey FOREIGN KEY (coop_id, ranch_id, replaces) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE SET NULL (replaces)
    CONSTRAINT upload_pkey PRIMARY KEY (coop_id, ranch_id, id)
    POLICY coordinator FOR SELECT TO tussock_app USING (( SELECT tussock.my_role() AS my_role) = 'coordinator'::text)
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_change FOR UPDATE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY own_send FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (sent_by = ( SELECT tussock.my_person() AS my_person)))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY press FOR SELECT TO tussock_press USING true
    POLICY shared FOR SELECT TO tussock_app USING ((state = 'current'::text) AND (ranch_id = ANY (( SELECT tussock.my_opened_ranches() AS my_opened_ranches)::uuid[])))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    POLICY withdraw FOR DELETE TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    GRANT DELETE TO tussock_app
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (season, state, open_count, open_kinds) TO tussock_app
    GRANT SELECT (coop_id, ranch_id, id, season, sent_at, state) TO tussock_press
TABLE tussock.upload_file ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    upload_id uuid NOT NULL
    name text NOT NULL
    size integer NOT NULL
    sha256 bytea NOT NULL
    data bytea NOT NULL
    CONSTRAINT upload_file_sha256_check CHECK ((length(sha256) = 32))
    CONSTRAINT upload_file_upload_fkey FOREIGN KEY (coop_id, ranch_id, upload_id) REFERENCES tussock.upload(coop_id, ranch_id, id) ON DELETE CASCADE
    CONSTRAINT upload_file_pkey PRIMARY KEY (coop_id, ranch_id, upload_id)
    CONSTRAINT upload_file_sha256_key UNIQUE (coop_id, ranch_id, sha256)
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.view_log ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    person_id uuid NOT NULL
    looked_at timestamp with time zone NOT NULL
    CONSTRAINT view_log_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person(coop_id, id)
    CONSTRAINT view_log_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT view_log_pkey PRIMARY KEY (coop_id, ranch_id, person_id, looked_at)
    POLICY look FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY look_shared FOR INSERT TO tussock_app WITH CHECK ((ranch_id = ANY (( SELECT tussock.my_shared_ranches() AS my_shared_ranches)::uuid[])) AND (person_id = ( SELECT tussock.my_person() AS my_person)))
    POLICY own FOR SELECT TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_own_ranches() AS my_own_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY self FOR SELECT TO tussock_app USING (person_id = ( SELECT tussock.my_person() AS my_person))
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
TABLE tussock.word ROW LEVEL SECURITY FORCED
    coop_id uuid NOT NULL
    ranch_id uuid NOT NULL
    word text NOT NULL
    meaning text NOT NULL
    CONSTRAINT word_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch(coop_id, id)
    CONSTRAINT word_pkey PRIMARY KEY (coop_id, ranch_id, word)
    POLICY own TO tussock_app USING (ranch_id = ANY (( SELECT tussock.my_ranches() AS my_ranches)::uuid[]))
    POLICY owner TO tussock_owner USING true WITH CHECK true
    POLICY tenant RESTRICTIVE TO tussock_app USING (coop_id = ( SELECT tussock.my_coop() AS my_coop)) WITH CHECK (coop_id = ( SELECT tussock.my_coop() AS my_coop))
    GRANT INSERT TO tussock_app
    GRANT SELECT TO tussock_app
    GRANT UPDATE (meaning) TO tussock_app
CREATE OR REPLACE FUNCTION tussock.accept_invitation(hash bytea, called text, address text, telephone text, secret text)
 RETURNS TABLE(coop_id uuid, person_id uuid, coop_name text)
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_door
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
    UPDATE tussock.session s SET closed_at = now()
    FROM tussock.viewer() v
    WHERE s.coop_id = v.coop_id AND s.person_id = v.person_id AND s.closed_at IS NULL
      AND NOT (but_this AND s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')))
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.close_session()
 RETURNS void
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    UPDATE tussock.session SET closed_at = now()
    WHERE token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')) AND closed_at IS NULL
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.credentials(address text)
 RETURNS TABLE(coop_id uuid, person_id uuid, coop_name text, password_hash text)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT a.coop_id, a.person_id, c.name, a.password_hash
    FROM tussock.account a
    JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    JOIN tussock.coop c ON c.coop_id = a.coop_id
    WHERE a.email = lower(address) AND p.left_at IS NULL
    ORDER BY p.joined_at
$function$
    GRANT EXECUTE TO tussock_door
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
                WHEN i.expires_at <= now() THEN 'expired' ELSE 'open' END
    FROM tussock.invitation i
    JOIN tussock.coop c ON c.coop_id = i.coop_id
    LEFT JOIN tussock.person p ON p.coop_id = i.coop_id AND p.id = i.invited_by
    WHERE i.token_hash = hash
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.my_coop()
 RETURNS uuid
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (SELECT v.coop_id FROM tussock.viewer() v);
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
CREATE OR REPLACE FUNCTION tussock.my_known()
 RETURNS integer
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT count(DISTINCT e.id)::integer
        FROM tussock.viewer() v
        JOIN (
            SELECT a.coop_id, a.person_id, a.ranch_id, a.entity_id FROM tussock.assignment a
            UNION ALL
            SELECT s.coop_id, s.person_id, s.ranch_id, s.entity_id FROM tussock.sharing s
        ) k ON k.coop_id = v.coop_id AND k.person_id = v.person_id
        JOIN tussock.ranch r ON r.coop_id = k.coop_id AND r.id = k.ranch_id
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
BEGIN
    RETURN (
        SELECT CASE WHEN v.role IN ('landowner', 'coordinator') THEN 5 WHEN v.role IN ('biologist', 'planner') THEN 10 END
        FROM tussock.viewer() v);
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
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
        WHERE a.until IS NULL AND a.kind = 'owner' AND v.role = 'landowner');
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
    RETURN (SELECT v.person_id FROM tussock.viewer() v);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_ranches()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT a.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.assignment a ON a.coop_id = v.coop_id AND a.person_id = v.person_id
        WHERE a.until IS NULL AND v.role IN ('landowner', 'hand'));
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
    RETURN (SELECT v.role FROM tussock.viewer() v);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_sessions()
 RETURNS TABLE(which text, this boolean, agent text, opened_at timestamp with time zone, seen_at timestamp with time zone)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT left(encode(sha256(s.token_hash), 'hex'), 16),
           s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')),
           s.agent, s.opened_at, s.seen_at
    FROM tussock.viewer() v
    JOIN tussock.session s ON s.coop_id = v.coop_id AND s.person_id = v.person_id
    WHERE s.closed_at IS NULL AND now() < s.ends_at AND now() < s.seen_at + s.idle
      AND EXISTS (SELECT 1 FROM tussock.session o -- a program that reads with a token has none
                  WHERE o.coop_id = v.coop_id AND o.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8')))
    ORDER BY 2 DESC, s.seen_at DESC
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.my_shared_ranches()
 RETURNS uuid[]
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN (
        SELECT coalesce(array_agg(DISTINCT s.ranch_id), '{}')
        FROM tussock.viewer() v
        JOIN tussock.sharing s ON s.coop_id = v.coop_id AND s.person_id = v.person_id
        JOIN tussock.assignment a ON a.coop_id = s.coop_id AND a.ranch_id = s.ranch_id AND a.person_id = s.given_by
        WHERE v.role = 'biologist' AND current_setting('transaction_read_only') = 'off'
          AND s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
          AND a.kind = 'owner' AND a.until IS NULL
          AND (SELECT c.level FROM tussock.consent c WHERE c.coop_id = s.coop_id AND c.ranch_id = s.ranch_id
               ORDER BY c.given_at DESC LIMIT 1) >= 1);
END
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.open_session(coop uuid, person uuid, hash bytea, unused interval, longest interval, called text)
 RETURNS boolean
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
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
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.reader()
 RETURNS TABLE(coop_id uuid, person_id uuid, name text, role text, ranches uuid[], known integer)
 LANGUAGE sql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    SELECT p.coop_id, p.id, p.name, p.role, tussock.my_ranches(), tussock.my_known()
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
    JOIN tussock.api_token t ON t.coop_id = p.coop_id AND t.person_id = p.id
    WHERE t.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
$function$
    GRANT EXECUTE TO tussock_app
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
    WHERE n.coop_id = (SELECT tussock.my_coop()) AND n.ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[]) AND u.state = 'current'
$function$
    GRANT EXECUTE TO tussock_app
CREATE OR REPLACE FUNCTION tussock.use_token(hash bytea, ranch uuid)
 RETURNS boolean
 LANGUAGE sql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
    WITH used AS (
        UPDATE tussock.api_token t SET used_at = now()
        FROM tussock.person p
        WHERE t.token_hash = hash AND t.revoked_at IS NULL AND now() < t.expires_at
          AND p.coop_id = t.coop_id AND p.id = t.person_id AND p.left_at IS NULL
        RETURNING t.coop_id, t.person_id
    ), looked AS (
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at)
        SELECT DISTINCT a.coop_id, a.ranch_id, a.person_id, now()
        FROM used u
        JOIN tussock.assignment a ON a.coop_id = u.coop_id AND a.person_id = u.person_id
        WHERE a.ranch_id = ranch AND a.until IS NULL
        ON CONFLICT DO NOTHING
    )
    SELECT EXISTS (SELECT 1 FROM used)
$function$
    GRANT EXECUTE TO tussock_door
CREATE OR REPLACE FUNCTION tussock.viewer()
 RETURNS TABLE(coop_id uuid, person_id uuid, role text)
 LANGUAGE plpgsql
 STABLE SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
BEGIN
    RETURN QUERY
    SELECT p.coop_id, p.id, p.role
    FROM tussock.session s
    JOIN tussock.person p ON p.coop_id = s.coop_id AND p.id = s.person_id
    WHERE s.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND s.closed_at IS NULL AND p.left_at IS NULL
      AND now() < s.ends_at AND now() < s.seen_at + s.idle
    UNION ALL
    SELECT p.coop_id, p.id, p.role
    FROM tussock.api_token t
    JOIN tussock.person p ON p.coop_id = t.coop_id AND p.id = t.person_id
    WHERE t.token_hash = sha256(convert_to(current_setting('tussock.session', true), 'UTF8'))
      AND t.revoked_at IS NULL AND p.left_at IS NULL AND now() < t.expires_at
      AND current_setting('transaction_read_only') = 'on';
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
$function$
    GRANT EXECUTE TO tussock_app
