-- Named sharing: a ranch's owner lets one biologist read the ranch's results under its name, for a purpose and until a
-- day. It is the second level of consent, kept apart from the level of the comparisons because it names one person.
-- It holds while all of these do: the owner has not ended it, the day is not past (in UTC), who gave it still owns the
-- ranch, and the ranch is in the comparisons (level 1 or above): an owner who makes a ranch private closes everything.

-- +goose Up
-- Rows end and are never deleted: what somebody could once open they still know, and the gate of the bulletin counts
-- it. entity_id is the entity at the time.
CREATE TABLE tussock.sharing (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    id        uuid NOT NULL DEFAULT gen_random_uuid(),
    person_id uuid NOT NULL,
    entity_id uuid NOT NULL,
    purpose   text NOT NULL,
    given_by  uuid NOT NULL,
    given_at  timestamptz NOT NULL DEFAULT now(),
    through   date NOT NULL, -- the last day
    ended_at  timestamptz,
    CONSTRAINT sharing_pkey PRIMARY KEY (coop_id, ranch_id, id),
    CONSTRAINT sharing_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch,
    CONSTRAINT sharing_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person,
    CONSTRAINT sharing_giver_fkey FOREIGN KEY (coop_id, given_by) REFERENCES tussock.person,
    CONSTRAINT sharing_entity_fkey FOREIGN KEY (coop_id, entity_id) REFERENCES tussock.entity,
    CONSTRAINT sharing_purpose_check CHECK (purpose <> '' AND length(purpose) <= 300),
    CONSTRAINT sharing_through_check CHECK (through >= (given_at AT TIME ZONE 'UTC')::date
        AND through <= (given_at AT TIME ZONE 'UTC')::date + interval '2 years')
);
CREATE INDEX sharing_person ON tussock.sharing (coop_id, person_id);

-- The ranches that are shared with the viewer by name now. Nobody in a read-only transaction: a look must leave a note,
-- and whoever reads with a token can write none.
CREATE FUNCTION tussock.my_shared_ranches() RETURNS uuid[]
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(array_agg(DISTINCT s.ranch_id), '{}')
    FROM tussock.viewer() v
    JOIN tussock.sharing s ON s.coop_id = v.coop_id AND s.person_id = v.person_id
    JOIN tussock.assignment a ON a.coop_id = s.coop_id AND a.ranch_id = s.ranch_id AND a.person_id = s.given_by
    WHERE v.role = 'biologist' AND current_setting('transaction_read_only') = 'off'
      AND s.ended_at IS NULL AND s.through >= (now() AT TIME ZONE 'UTC')::date
      AND a.kind = 'owner' AND a.until IS NULL
      AND (SELECT c.level FROM tussock.consent c WHERE c.coop_id = s.coop_id AND c.ranch_id = s.ranch_id
           ORDER BY c.given_at DESC LIMIT 1) >= 1
$$;

-- Those of them that the viewer has noted a look at in this very transaction: without a note there are no rows.
CREATE FUNCTION tussock.my_opened_ranches() RETURNS uuid[]
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(array_agg(DISTINCT l.ranch_id), '{}')
    FROM tussock.viewer() v
    JOIN tussock.view_log l ON l.coop_id = v.coop_id AND l.person_id = v.person_id
    WHERE l.ranch_id = ANY (tussock.my_shared_ranches()) AND l.looked_at = now()
$$;

-- The nests of those ranches without what only leads back to one, and without notes: a policy cannot hide a column.
CREATE FUNCTION tussock.shared_nest() RETURNS TABLE (coop_id uuid, ranch_id uuid, upload_id uuid, "row" integer, site text, season integer,
    transect text, number text, substrate text, plant text, set_on date, visit_on date[], visit_state text[],
    bits text, bits_far text, heaps text, opened_at text, bite_way text, holes text, inside text, ground text, bowl text, trace text,
    guess text, camera text, eggs_left smallint)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT n.coop_id, n.ranch_id, n.upload_id, n.row, n.site, n.season, n.transect, n.number, n.substrate, n.plant, n.set_on, n.visit_on, n.visit_state,
        n.bits, n.bits_far, n.heaps, n.opened_at, n.bite_way, n.holes, n.inside, n.ground, n.bowl, n.trace, n.guess, n.camera, n.eggs_left
    FROM tussock.nest n
    JOIN tussock.upload u ON u.coop_id = n.coop_id AND u.ranch_id = n.ranch_id AND u.id = n.upload_id
    WHERE n.coop_id = tussock.my_coop() AND n.ranch_id = ANY (tussock.my_opened_ranches()) AND u.state = 'current'
$$;

-- The cooperative's biologists, for landowners to choose from.
CREATE FUNCTION tussock.biologists() RETURNS TABLE (id uuid, name text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT p.id, p.name
    FROM tussock.viewer() v
    JOIN tussock.person p ON p.coop_id = v.coop_id
    WHERE v.role = 'landowner' AND p.role = 'biologist' AND p.left_at IS NULL
$$;

GRANT EXECUTE ON FUNCTION tussock.my_shared_ranches(), tussock.my_opened_ranches(), tussock.shared_nest(), tussock.biologists() TO tussock_app;

-- Also the entities of ranches ever shared with the viewer by name, for good.
CREATE OR REPLACE FUNCTION tussock.my_known() RETURNS integer
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT count(DISTINCT e.id)::integer
    FROM tussock.viewer() v
    JOIN (
        SELECT a.coop_id, a.person_id, a.ranch_id, a.entity_id FROM tussock.assignment a
        UNION ALL
        SELECT s.coop_id, s.person_id, s.ranch_id, s.entity_id FROM tussock.sharing s
    ) k ON k.coop_id = v.coop_id AND k.person_id = v.person_id
    JOIN tussock.ranch r ON r.coop_id = k.coop_id AND r.id = k.ranch_id
    CROSS JOIN LATERAL (VALUES (k.entity_id), (r.entity_id)) e (id)
$$;

-- Also those whom the viewer's ranches are or were shared with.
CREATE OR REPLACE FUNCTION tussock.my_people() RETURNS uuid[]
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT coalesce(array_agg(DISTINCT k.person_id), '{}')
    FROM (
        SELECT a.coop_id, a.ranch_id, a.person_id FROM tussock.assignment a
        UNION ALL
        SELECT s.coop_id, s.ranch_id, s.person_id FROM tussock.sharing s
    ) k
    WHERE k.coop_id = tussock.my_coop() AND k.ranch_id = ANY (tussock.my_ranches())
$$;

ALTER TABLE tussock.sharing ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.sharing FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.sharing TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.sharing AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));

-- given_at cannot be chosen, so two years cannot be stretched; an end cannot be taken back.
GRANT SELECT, INSERT (coop_id, ranch_id, id, person_id, entity_id, purpose, given_by, through), UPDATE (ended_at) ON tussock.sharing TO tussock_app;
CREATE POLICY own ON tussock.sharing FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));
CREATE POLICY self ON tussock.sharing FOR SELECT TO tussock_app
    USING (person_id = (SELECT tussock.my_person()) AND ranch_id = ANY ((SELECT tussock.my_shared_ranches())::uuid[])
           AND ended_at IS NULL AND through >= (now() AT TIME ZONE 'UTC')::date);
CREATE POLICY give ON tussock.sharing FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND given_by = (SELECT tussock.my_person())
                AND person_id IN (SELECT b.id FROM tussock.biologists() b)
                AND entity_id = (SELECT r.entity_id FROM tussock.ranch r WHERE r.coop_id = sharing.coop_id AND r.id = sharing.ranch_id));
CREATE POLICY own_end ON tussock.sharing FOR UPDATE TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND ended_at IS NULL)
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND ended_at IS NOT NULL);

-- What a sharing opens: the ranch's name and area, and after a note of the look the current rows.
CREATE POLICY shared ON tussock.ranch FOR SELECT TO tussock_app USING (id = ANY ((SELECT tussock.my_shared_ranches())::uuid[]));
CREATE POLICY look_shared ON tussock.view_log FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_shared_ranches())::uuid[]) AND person_id = (SELECT tussock.my_person()));
CREATE POLICY shared ON tussock.upload FOR SELECT TO tussock_app
    USING (state = 'current' AND ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[]));
CREATE POLICY shared ON tussock.belt FOR SELECT TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[])
           AND EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = belt.coop_id AND u.ranch_id = belt.ranch_id AND u.id = belt.upload_id AND u.state = 'current'));
CREATE POLICY shared ON tussock.site FOR SELECT TO tussock_app
    USING (ranch_id = ANY ((SELECT tussock.my_opened_ranches())::uuid[])
           AND EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = site.coop_id AND u.ranch_id = site.ranch_id AND u.id = site.upload_id AND u.state = 'current'));
