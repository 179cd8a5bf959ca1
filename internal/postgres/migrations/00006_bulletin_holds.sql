-- What holds a bulletin to its promise beyond the rules on its cells: owners vouched for, a second coordinator's word,
-- one final revision, cells taken back for good, and the press's sealed log.

-- +goose Up
-- An owner counts to the numbers of landowners once the coordinator vouched that it is no other owner's name, or once a
-- bulletin has had results of theirs. Those of before this rule had been counted.
ALTER TABLE tussock.entity ADD vouched_at timestamptz, ADD vouched_by uuid;
UPDATE tussock.entity SET vouched_at = now();
GRANT UPDATE (vouched_at, vouched_by) ON tussock.entity TO tussock_app;

-- Where the cooperative has two coordinators or more, what one orders to be published waits for another's approval.
ALTER TABLE tussock.press_order DROP CONSTRAINT press_order_kind_check, DROP CONSTRAINT press_order_state_check,
    ADD CONSTRAINT press_order_kind_check CHECK (kind IN ('preview', 'publish', 'final')),
    ADD CONSTRAINT press_order_state_check CHECK (state IN ('asked', 'waiting', 'working', 'done', 'failed')),
    ADD approved_by uuid, ADD approved_at timestamptz,
    ADD CONSTRAINT press_order_two_check CHECK (approved_by IS NULL OR approved_by <> ordered_by);

CREATE FUNCTION tussock.coordinators() RETURNS integer
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT count(*)::integer FROM tussock.person
    WHERE coop_id = tussock.my_coop() AND role = 'coordinator' AND left_at IS NULL
$$;

DROP POLICY coordinator ON tussock.press_order;
CREATE POLICY coordinator ON tussock.press_order FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY coordinator_order ON tussock.press_order FOR INSERT TO tussock_app
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator' AND ordered_by = (SELECT tussock.my_person()) AND approved_by IS NULL
                AND state = CASE WHEN kind = 'preview' OR (SELECT tussock.coordinators()) < 2 THEN 'waiting' ELSE 'asked' END);

-- The second word: not of who ordered. False where there is nothing to approve.
CREATE FUNCTION tussock.approve_order(called uuid) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH approved AS (
        UPDATE tussock.press_order o SET state = 'waiting', approved_by = v.person_id, approved_at = now()
        FROM tussock.viewer() v
        WHERE o.coop_id = v.coop_id AND o.id = called AND v.role = 'coordinator' AND o.state = 'asked' AND o.ordered_by <> v.person_id
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM approved)
$$;

-- Any coordinator may turn down what waits for a second word, who ordered it too.
CREATE FUNCTION tussock.decline_order(called uuid) RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH declined AS (
        UPDATE tussock.press_order o SET state = 'failed', finished_at = now(), note = p.name || ' turned it down.'
        FROM tussock.viewer() v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
        WHERE o.coop_id = v.coop_id AND o.id = called AND v.role = 'coordinator' AND o.state = 'asked'
        RETURNING 1
    )
    SELECT EXISTS (SELECT 1 FROM declined)
$$;

-- The final revision of a season is a second edition of its cells. The first stays for good.
ALTER TABLE pub.cell ADD edition smallint NOT NULL DEFAULT 1 CHECK (edition IN (1, 2)),
    DROP CONSTRAINT cell_pkey, ADD CONSTRAINT cell_pkey PRIMARY KEY (coop_id, season, edition, row);

CREATE TABLE pub.revision (
    coop_id      uuid NOT NULL,
    season       integer NOT NULL,
    edition      smallint NOT NULL CHECK (edition = 2),
    published_at timestamptz NOT NULL,
    hash         text NOT NULL,
    CONSTRAINT revision_pkey PRIMARY KEY (coop_id, season, edition),
    CONSTRAINT revision_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin
);

-- A cell that was taken back, with every cell that it is part of. Nothing comes in its place. It repeats what the cell
-- was called, because the cell itself is not to be seen any more, and gives no reason: a reason would tell whose.
CREATE TABLE pub.retraction (
    coop_id      uuid NOT NULL,
    season       integer NOT NULL,
    edition      smallint NOT NULL,
    row          integer NOT NULL,
    retracted_at timestamptz NOT NULL,
    retracted_by uuid NOT NULL,
    area         text,
    substrate    text,
    measure      text NOT NULL,
    predator     text NOT NULL,
    n            integer NOT NULL,
    CONSTRAINT retraction_pkey PRIMARY KEY (coop_id, season, edition, row),
    CONSTRAINT retraction_cell_fkey FOREIGN KEY (coop_id, season, edition, row) REFERENCES pub.cell
);

CREATE FUNCTION tussock.retract(year integer, which integer[]) RETURNS integer
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH taken AS (
        INSERT INTO pub.retraction (coop_id, season, edition, row, retracted_at, retracted_by, area, substrate, measure, predator, n)
        SELECT c.coop_id, c.season, c.edition, c.row, now(), v.person_id, c.area, c.substrate, c.measure, c.predator, c.n
        FROM tussock.viewer() v JOIN pub.cell c ON c.coop_id = v.coop_id
        WHERE v.role = 'coordinator' AND c.season = year AND c.row = ANY (which)
          AND c.edition = (SELECT max(x.edition) FROM pub.cell x WHERE x.coop_id = c.coop_id AND x.season = c.season)
        ON CONFLICT DO NOTHING
        RETURNING 1
    )
    SELECT count(*)::integer FROM taken
$$;

-- What the gate decided and who is in which total, for the press alone: the next bulletins are checked against it.
-- Entities are in it as tokens made with the cooperative's key.
CREATE TABLE tussock.gate_key (
    coop_id uuid PRIMARY KEY REFERENCES tussock.coop,
    salt    text NOT NULL DEFAULT gen_random_uuid()::text || gen_random_uuid()::text
);

CREATE TABLE tussock.gate_log (
    coop_id uuid NOT NULL,
    season  integer NOT NULL,
    edition smallint NOT NULL,
    hash    text NOT NULL,
    log     text NOT NULL,
    CONSTRAINT gate_log_pkey PRIMARY KEY (coop_id, season, edition),
    CONSTRAINT gate_log_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin
);

-- Who withdraws a ranch is taken out of the log: the ranch's token, and the owner's where it was the last ranch with
-- consent, become random ones. What was published stays, and can no longer be brought together with anybody.
-- +goose StatementBegin
CREATE FUNCTION tussock.forget_in_log(withdrawn uuid) RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH gone AS (
        SELECT k.coop_id, left(encode(sha256(convert_to(k.salt || E'\n' || t.kind || E'\n' || t.name, 'UTF8')), 'hex'), 20) AS token,
               left(md5(gen_random_uuid()::text), 20) AS blank
        FROM tussock.ranch r
        JOIN tussock.gate_key k ON k.coop_id = r.coop_id
        JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
        CROSS JOIN LATERAL (VALUES ('ranch', r.id::text),
            ('entity', lower(btrim(regexp_replace(e.name, '\s+', ' ', 'g'))))) t (kind, name)
        WHERE r.coop_id = tussock.my_coop() AND r.id = withdrawn AND r.id = ANY (tussock.my_own_ranches())
          AND (t.kind = 'ranch' OR NOT EXISTS (SELECT 1 FROM tussock.ranch o WHERE o.coop_id = r.coop_id AND o.entity_id = r.entity_id AND o.id <> r.id
               AND (SELECT c.level FROM tussock.consent c WHERE c.coop_id = o.coop_id AND c.ranch_id = o.id ORDER BY c.given_at DESC LIMIT 1) > 0))
    ), pairs AS (
        SELECT coop_id, min(token) AS one, min(blank) AS blank_one, max(token) AS two, max(blank) AS blank_two FROM gone GROUP BY coop_id
    )
    UPDATE tussock.gate_log l SET log = replace(replace(l.log, p.one, p.blank_one), p.two, p.blank_two)
    FROM pairs p WHERE l.coop_id = p.coop_id
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION tussock.coordinators(), tussock.approve_order(uuid), tussock.decline_order(uuid), tussock.retract(integer, integer[]),
    tussock.forget_in_log(uuid) TO tussock_app;

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['pub.revision', 'pub.retraction', 'tussock.gate_key', 'tussock.gate_log'] LOOP
        EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON %s TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON %s AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['pub.revision', 'tussock.gate_key', 'tussock.gate_log'] LOOP
        EXECUTE format('CREATE POLICY press ON %s FOR SELECT TO tussock_press USING (true)', t);
        EXECUTE format('CREATE POLICY press_add ON %s FOR INSERT TO tussock_press WITH CHECK (true)', t);
    END LOOP;
END
$$;
-- +goose StatementEnd
GRANT SELECT, INSERT ON pub.revision, tussock.gate_key, tussock.gate_log TO tussock_press;

GRANT SELECT ON pub.revision TO tussock_app;
CREATE POLICY reader ON pub.revision FOR SELECT TO tussock_app USING ((SELECT tussock.my_least()) IS NOT NULL);
GRANT SELECT (coop_id, season, edition, row, retracted_at, area, substrate, measure, predator) ON pub.retraction TO tussock_app;
CREATE POLICY reader ON pub.retraction FOR SELECT TO tussock_app
    USING (n >= (SELECT tussock.my_least()) AND n - (SELECT tussock.my_known()) >= 4);

-- Readers have the newest edition, without what was taken back, whatever a page asks for.
GRANT SELECT (edition) ON pub.cell TO tussock_app;
CREATE POLICY stands ON pub.cell AS RESTRICTIVE FOR SELECT TO tussock_app
    USING (NOT EXISTS (SELECT 1 FROM pub.revision v WHERE v.coop_id = cell.coop_id AND v.season = cell.season AND v.edition > cell.edition)
       AND NOT EXISTS (SELECT 1 FROM pub.retraction x WHERE x.coop_id = cell.coop_id AND x.season = cell.season
                       AND x.edition = cell.edition AND x.row = cell.row));
