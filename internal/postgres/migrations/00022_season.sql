-- A field season before it is walked: a plan, its lines, and the maps they are drawn on. Where a line lies is the ranch's
-- alone: the owner and the hands read it, the owner writes it, and nobody else has a way to it.

-- +goose Up
CREATE TABLE tussock.season_plan (
    coop_id     uuid NOT NULL,
    ranch_id    uuid NOT NULL,
    season      integer NOT NULL CHECK (season BETWEEN 1900 AND 2200),
    purpose     text NOT NULL CHECK (purpose IN ('trend', 'covers', 'rest')),
    lines       integer NOT NULL CHECK (lines BETWEEN 1 AND 60),
    stops       integer NOT NULL CHECK (stops BETWEEN 1 AND 60),
    spacing     double precision NOT NULL, -- paces
    pace        double precision NOT NULL, -- feet, 0 unknown
    covers      jsonb NOT NULL,
    seed        text NOT NULL, -- 64 bits, as a decimal number
    apart_fence double precision NOT NULL, -- feet, these four
    apart_road  double precision NOT NULL,
    apart_water double precision NOT NULL,
    apart_lines double precision NOT NULL,
    set_on      date,
    first_days  integer NOT NULL,
    last_days   integer NOT NULL,
    slack       integer NOT NULL CHECK (slack BETWEEN 0 AND 14),
    belt_width  double precision NOT NULL, -- feet
    belt_length double precision NOT NULL,
    saved_by    uuid NOT NULL,
    saved_at    timestamptz NOT NULL,
    CONSTRAINT season_plan_pkey PRIMARY KEY (coop_id, ranch_id, season),
    CONSTRAINT season_plan_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT season_plan_person_fkey FOREIGN KEY (coop_id, saved_by) REFERENCES tussock.person
);

CREATE TABLE tussock.season_line (
    coop_id     uuid NOT NULL,
    ranch_id    uuid NOT NULL,
    id          uuid NOT NULL,
    season      integer NOT NULL,
    name        text NOT NULL CHECK (name <> ''),
    code        text NOT NULL, -- made here, so that nobody can try which ones are taken
    pasture     text NOT NULL DEFAULT '',
    site_kind   text NOT NULL DEFAULT '',
    placed      boolean NOT NULL,
    lon         double precision NOT NULL,
    lat         double precision NOT NULL,
    bearing     double precision NOT NULL,
    stops       integer NOT NULL CHECK (stops BETWEEN 1 AND 60),
    spacing     double precision NOT NULL,
    pace        double precision NOT NULL,
    covers      jsonb NOT NULL,
    set_on      date,
    first_check date,
    last_check  date,
    slack       integer NOT NULL,
    belt_width  double precision NOT NULL,
    belt_length double precision NOT NULL,
    redrawn     text NOT NULL DEFAULT '',
    earlier     jsonb NOT NULL DEFAULT '[]',
    walked      jsonb,
    closed      boolean NOT NULL DEFAULT false,
    CONSTRAINT season_line_pkey PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT season_line_name_key UNIQUE (coop_id, ranch_id, season, pasture, name),
    CONSTRAINT season_line_code_key UNIQUE (coop_id, code),
    CONSTRAINT season_line_plan_fkey FOREIGN KEY (coop_id, ranch_id, season) REFERENCES tussock.season_plan ON DELETE CASCADE
);

-- Pastures as polygons, roads and water as polygons, lines and points, as they were drawn.
CREATE TABLE tussock.season_map (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    id        uuid NOT NULL,
    kind      text NOT NULL CHECK (kind IN ('pasture', 'road', 'water')),
    name      text NOT NULL DEFAULT '',
    site_kind text NOT NULL DEFAULT '',
    rested    boolean NOT NULL DEFAULT false, -- from grazing, for a season that compares the two
    shape     jsonb NOT NULL,
    CONSTRAINT season_map_pkey PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT season_map_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch
);

-- +goose StatementBegin
CREATE FUNCTION tussock.give_code() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
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
$$;
CREATE TRIGGER give_code BEFORE INSERT ON tussock.season_line FOR EACH ROW EXECUTE FUNCTION tussock.give_code();

DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['season_plan', 'season_line', 'season_map'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
        EXECUTE format('CREATE POLICY own ON tussock.%I FOR SELECT TO tussock_app
            USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]))', t);
        EXECUTE format('CREATE POLICY own_add ON tussock.%I FOR INSERT TO tussock_app
            WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]))', t);
        EXECUTE format('CREATE POLICY own_change ON tussock.%I FOR UPDATE TO tussock_app
            USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]))
            WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]))', t);
        EXECUTE format('CREATE POLICY own_drop ON tussock.%I FOR DELETE TO tussock_app
            USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]))', t);
        EXECUTE format('GRANT SELECT, DELETE ON tussock.%I TO tussock_app', t);
    END LOOP;
END
$$;
-- +goose StatementEnd

GRANT INSERT, UPDATE ON tussock.season_plan, tussock.season_map TO tussock_app;
GRANT INSERT (coop_id, ranch_id, id, season, name, pasture, site_kind, placed, lon, lat, bearing, stops, spacing, pace, covers,
              set_on, first_check, last_check, slack, belt_width, belt_length, redrawn, earlier, walked, closed),
      UPDATE (name, pasture, site_kind, placed, lon, lat, bearing, stops, spacing, pace, covers,
              set_on, first_check, last_check, slack, belt_width, belt_length, redrawn, earlier, walked, closed)
    ON tussock.season_line TO tussock_app;
