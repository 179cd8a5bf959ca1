-- Outreach: the areas' coarse outlines, which ranches are glad to hear from planners, and requests to be introduced.
-- A planner sees the outlines and the planner's own requests. Which ranches are glad, or how many, only the
-- coordinator sees: it is a list of names.

-- +goose Up
CREATE TABLE tussock.area_shape (
    coop_id uuid NOT NULL,
    area_id uuid NOT NULL,
    shape   jsonb NOT NULL, -- coordinates of a MultiPolygon, RFC 7946: longitude, latitude
    CONSTRAINT area_shape_pkey PRIMARY KEY (coop_id, area_id),
    CONSTRAINT area_shape_area_fkey FOREIGN KEY (coop_id, area_id) REFERENCES tussock.area
);

-- A row is the owner's yes; without one the answer is no.
CREATE TABLE tussock.welcome (
    coop_id  uuid NOT NULL,
    ranch_id uuid NOT NULL,
    given_by uuid NOT NULL,
    given_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT welcome_pkey PRIMARY KEY (coop_id, ranch_id),
    CONSTRAINT welcome_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT welcome_person_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person
);

CREATE TABLE tussock.introduction (
    coop_id     uuid NOT NULL,
    id          uuid NOT NULL DEFAULT gen_random_uuid(),
    asked_by    uuid NOT NULL,
    asked_at    timestamptz NOT NULL,
    place       text NOT NULL, -- as the planner chose it; "" is the whole cooperative
    purpose     text NOT NULL,
    state       text NOT NULL DEFAULT 'waiting',
    reply       text NOT NULL DEFAULT '',
    answered_at timestamptz,
    CONSTRAINT introduction_pkey PRIMARY KEY (coop_id, id),
    CONSTRAINT introduction_person_fkey FOREIGN KEY (coop_id, asked_by) REFERENCES tussock.person,
    CONSTRAINT introduction_purpose_check CHECK (purpose <> '' AND length(purpose) <= 600),
    CONSTRAINT introduction_reply_check CHECK (length(reply) <= 600),
    CONSTRAINT introduction_state_check CHECK (state IN ('waiting', 'passed on', 'declined'))
);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['area_shape', 'welcome', 'introduction'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;
-- +goose StatementEnd

GRANT SELECT, INSERT, DELETE ON tussock.area_shape TO tussock_app;
CREATE POLICY reader ON tussock.area_shape FOR SELECT TO tussock_app USING ((SELECT tussock.my_least()) IS NOT NULL);
CREATE POLICY coordinator ON tussock.area_shape TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT, INSERT (coop_id, ranch_id, given_by), DELETE ON tussock.welcome TO tussock_app;
CREATE POLICY own ON tussock.welcome TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]))
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND given_by = (SELECT tussock.my_person()));
CREATE POLICY coordinator ON tussock.welcome FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

GRANT SELECT, INSERT (coop_id, id, asked_by, asked_at, place, purpose), UPDATE (state, reply, answered_at) ON tussock.introduction TO tussock_app;
CREATE POLICY self ON tussock.introduction FOR SELECT TO tussock_app
    USING (asked_by = (SELECT tussock.my_person()) AND (SELECT tussock.my_role()) = 'planner');
CREATE POLICY ask ON tussock.introduction FOR INSERT TO tussock_app
    WITH CHECK (asked_by = (SELECT tussock.my_person()) AND (SELECT tussock.my_role()) = 'planner');
CREATE POLICY coordinator ON tussock.introduction FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY answer ON tussock.introduction FOR UPDATE TO tussock_app
    USING ((SELECT tussock.my_role()) = 'coordinator') WITH CHECK ((SELECT tussock.my_role()) = 'coordinator' AND state <> 'waiting');
