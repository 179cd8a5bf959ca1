-- Paper sheets being keyed: what somebody has typed and cannot be kept yet, and how the second keying of some rows came
-- out. What was keyed well is looks (00023) like any other.

-- +goose Up
CREATE TABLE tussock.key_draft (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    line_id   uuid NOT NULL,
    person_id uuid NOT NULL,
    boxes     jsonb NOT NULL CHECK (jsonb_typeof(boxes) = 'object' AND length(boxes::text) <= 60000),
    saved_at  timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT key_draft_pkey PRIMARY KEY (coop_id, ranch_id, line_id, person_id),
    CONSTRAINT key_draft_line_fkey FOREIGN KEY (coop_id, ranch_id, line_id) REFERENCES tussock.season_line ON DELETE CASCADE,
    CONSTRAINT key_draft_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);

CREATE TABLE tussock.key_again (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    line_id   uuid NOT NULL,
    person_id uuid NOT NULL,
    rows      integer NOT NULL CHECK (rows BETWEEN 1 AND 500),
    differing integer NOT NULL CHECK (differing BETWEEN 0 AND rows), -- rows in which the two keyings were not the same
    keyed_at  timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT key_again_pkey PRIMARY KEY (coop_id, ranch_id, line_id, person_id, keyed_at),
    CONSTRAINT key_again_line_fkey FOREIGN KEY (coop_id, ranch_id, line_id) REFERENCES tussock.season_line ON DELETE CASCADE,
    CONSTRAINT key_again_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['key_draft', 'key_again'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
        EXECUTE format('CREATE POLICY add ON tussock.%I FOR INSERT TO tussock_app
            WITH CHECK (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND person_id = (SELECT tussock.my_person()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd
-- A draft is its writer's alone; how a second keying came out is the ranch's.
CREATE POLICY own ON tussock.key_draft FOR SELECT TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND person_id = (SELECT tussock.my_person()));
CREATE POLICY mend ON tussock.key_draft FOR UPDATE TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND person_id = (SELECT tussock.my_person()))
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND person_id = (SELECT tussock.my_person()));
CREATE POLICY drop ON tussock.key_draft FOR DELETE TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]) AND person_id = (SELECT tussock.my_person()));
CREATE POLICY own ON tussock.key_again FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));

GRANT SELECT, INSERT (coop_id, ranch_id, line_id, person_id, boxes), UPDATE (boxes, saved_at), DELETE ON tussock.key_draft TO tussock_app;
GRANT SELECT, INSERT (coop_id, ranch_id, line_id, person_id, rows, differing) ON tussock.key_again TO tussock_app;
