-- Looks: what people saw on a line, each one an event that is added and never changed or deleted, with an id made where
-- it was written down. The same look sent again is the same row. What counts in a ranch's results is the sheet made of
-- them, sent like any other.

-- +goose Up
CREATE TABLE tussock.look (
    coop_id     uuid NOT NULL,
    ranch_id    uuid NOT NULL,
    id          uuid NOT NULL,
    season      integer NOT NULL CHECK (season BETWEEN 1900 AND 2200),
    line_id     uuid NOT NULL,
    stop        integer NOT NULL CHECK (stop BETWEEN 0 AND 500), -- 0: the line as a whole
    kind        text NOT NULL CHECK (kind IN ('set', 'check', 'belt', 'pace', 'close', 'note', 'undo', 'choose')),
    who         text NOT NULL CHECK (length(who) <= 20),
    device      text NOT NULL CHECK (length(device) <= 64),
    seq         integer NOT NULL CHECK (seq >= 0),
    at          timestamptz NOT NULL, -- by the phone's clock
    answers     jsonb NOT NULL CHECK (jsonb_typeof(answers) = 'object' AND length(answers::text) <= 8000),
    undoes      uuid,
    sent_by     uuid,                 -- the member; NULL where a field link was used
    received_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT look_pkey PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT look_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT look_line_fkey FOREIGN KEY (coop_id, ranch_id, line_id) REFERENCES tussock.season_line (coop_id, ranch_id, id),
    CONSTRAINT look_person_fkey FOREIGN KEY (coop_id, sent_by) REFERENCES tussock.person
);
CREATE INDEX look_season ON tussock.look (coop_id, ranch_id, season);

-- Photos of remains, small copies without anything but the picture. Kept apart: they are shown one at a time.
CREATE TABLE tussock.photo (
    coop_id     uuid NOT NULL,
    ranch_id    uuid NOT NULL,
    id          uuid NOT NULL,
    line_id     uuid NOT NULL,
    data        bytea NOT NULL CHECK (length(data) <= 400000),
    sent_by     uuid,
    received_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT photo_pkey PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT photo_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT photo_line_fkey FOREIGN KEY (coop_id, ranch_id, line_id) REFERENCES tussock.season_line (coop_id, ranch_id, id),
    CONSTRAINT photo_person_fkey FOREIGN KEY (coop_id, sent_by) REFERENCES tussock.person
);
ALTER TABLE tussock.photo ALTER COLUMN data SET STORAGE EXTERNAL; -- compressed already

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['look', 'photo'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
        EXECUTE format('CREATE POLICY own ON tussock.%I FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]))', t);
        EXECUTE format('CREATE POLICY add ON tussock.%I FOR INSERT TO tussock_app
            WITH CHECK (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND sent_by = (SELECT tussock.my_person()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd

-- The time it came is the database's own.
GRANT SELECT, INSERT (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers, undoes, sent_by) ON tussock.look TO tussock_app;
GRANT SELECT, INSERT (coop_id, ranch_id, id, line_id, data, sent_by) ON tussock.photo TO tussock_app;
