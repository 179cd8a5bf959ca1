-- A season once. It has four dates, set before it opens and read by every member. Roster, areas and owners count as they stand when
-- it opens; at the cut-off the results are copied; the bulletin is composed from the copy, once, by itself; and it is published when
-- its day has come and the coordinators have said yes. Nobody orders anything, so nobody learns anything by ordering.

-- +goose Up
CREATE TABLE tussock.season (
    coop_id      uuid NOT NULL,
    year         integer NOT NULL,
    opens_on     date NOT NULL,
    cut_off_on   date NOT NULL,
    composed_on  date NOT NULL,
    published_on date NOT NULL,
    set_by       uuid,
    set_at       timestamptz NOT NULL DEFAULT now(),
    opened_at    timestamptz,
    words        smallint, -- how many coordinators must say yes: two, where there were two when it opened
    CONSTRAINT season_pkey PRIMARY KEY (coop_id, year),
    CONSTRAINT season_coop_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop,
    CONSTRAINT season_year_check CHECK (year BETWEEN 1900 AND 2200),
    CONSTRAINT season_order_check CHECK (opens_on < cut_off_on AND cut_off_on <= composed_on AND composed_on <= published_on),
    CONSTRAINT season_opened_check CHECK ((opened_at IS NULL) = (words IS NULL))
);

-- The roster as it stood when a season opened.
CREATE TABLE tussock.season_ranch (
    coop_id    uuid NOT NULL,
    season     integer NOT NULL,
    ranch_id   uuid NOT NULL,
    entity_id  uuid NOT NULL,
    yes        boolean NOT NULL,
    owners     uuid[] NOT NULL,  -- people, and a ranch itself where its owner never had an account
    settled    boolean NOT NULL, -- two people had vouched for one of them
    fresh      boolean NOT NULL, -- none of them was counted in a season that opened 300 days before, nor stood on the first roster
    area       text NOT NULL,
    group_name text NOT NULL,
    counts_as  uuid, -- from the cut-off on: the one entity that it and all that share people with it are for the gate
    CONSTRAINT season_ranch_pkey PRIMARY KEY (coop_id, season, ranch_id),
    CONSTRAINT season_ranch_season_fkey FOREIGN KEY (coop_id, season) REFERENCES tussock.season,
    CONSTRAINT season_ranch_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch
);

-- An edition of a season's bulletin on its way: the bulletin itself, 1, and the one final revision, 2.
CREATE TABLE tussock.edition (
    coop_id     uuid NOT NULL,
    season      integer NOT NULL,
    edition     smallint NOT NULL CHECK (edition IN (1, 2)),
    cut_at      timestamptz NOT NULL DEFAULT now(),
    on_roster   integer NOT NULL, -- ranches
    sheets      integer NOT NULL, -- of them with results
    owners      integer NOT NULL, -- that count
    counted     integer,          -- ranches composed from
    tries       integer NOT NULL DEFAULT 0,
    version     text NOT NULL DEFAULT '', -- of the program that tried last
    composed_at timestamptz,
    note        text NOT NULL DEFAULT '', -- why there is none
    CONSTRAINT edition_pkey PRIMARY KEY (coop_id, season, edition),
    CONSTRAINT edition_season_fkey FOREIGN KEY (coop_id, season) REFERENCES tussock.season
);

-- Results as they were at the cut-off, without what leads back to a nest. The press reads these and no others.
CREATE TABLE tussock.snapshot (
    coop_id  uuid NOT NULL,
    season   integer NOT NULL,
    edition  smallint NOT NULL,
    ranch_id uuid NOT NULL,
    shown    boolean NOT NULL, -- its owner shows figures by name, or did
    open     boolean NOT NULL, -- its sheets have questions left open
    nests    jsonb NOT NULL,
    belts    jsonb NOT NULL,
    sites    jsonb NOT NULL,
    CONSTRAINT snapshot_pkey PRIMARY KEY (coop_id, season, edition, ranch_id),
    CONSTRAINT snapshot_edition_fkey FOREIGN KEY (coop_id, season, edition) REFERENCES tussock.edition,
    CONSTRAINT snapshot_ranch_fkey FOREIGN KEY (coop_id, ranch_id) REFERENCES tussock.ranch
);

-- What coordinators say of an edition that waits to be published.
CREATE TABLE tussock.approval (
    coop_id   uuid NOT NULL,
    season    integer NOT NULL,
    edition   smallint NOT NULL,
    person_id uuid NOT NULL,
    yes       boolean NOT NULL,
    said_at   timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT approval_pkey PRIMARY KEY (coop_id, season, edition, person_id),
    CONSTRAINT approval_edition_fkey FOREIGN KEY (coop_id, season, edition) REFERENCES tussock.edition,
    CONSTRAINT approval_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['season', 'season_ranch', 'edition', 'snapshot', 'approval'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;

CREATE FUNCTION tussock.today() RETURNS date LANGUAGE sql STABLE AS $$ SELECT (now() AT TIME ZONE 'UTC')::date $$;

-- A ranch's yes as it stands today.
CREATE FUNCTION tussock.says_yes(coop uuid, ranch uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN coalesce((SELECT c.level > 0 AND c.through >= tussock.today() FROM tussock.consent c
        WHERE c.coop_id = coop AND c.ranch_id = ranch ORDER BY c.seq DESC LIMIT 1), false);
END
$$;

-- Writes down the roster. New is who was on no roster before and in no figure; but seasons that open one soon after the other make
-- nobody older, and nobody is new on the first roster.
CREATE FUNCTION tussock.open_season(coop uuid, which integer) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    first timestamptz := coalesce((SELECT min(s.opened_at) FROM tussock.season s WHERE s.coop_id = coop), now());
    opens date := (SELECT s.opens_on FROM tussock.season s WHERE s.coop_id = coop AND s.year = which);
BEGIN
    INSERT INTO tussock.season_ranch (coop_id, season, ranch_id, entity_id, yes, owners, settled, fresh, area, group_name)
    SELECT r.coop_id, which, r.id, r.entity_id, tussock.says_yes(coop, r.id), e.owners, e.settled,
        first <> now() AND NOT EXISTS (
            SELECT 1 FROM tussock.season_ranch o JOIN tussock.season x ON x.coop_id = o.coop_id AND x.year = o.season
            WHERE o.coop_id = coop AND o.settled AND o.owners && e.owners AND (x.opened_at = first OR x.opens_on <= opens - 300 AND EXISTS (
                SELECT 1 FROM tussock.snapshot c WHERE c.coop_id = coop AND c.season = o.season AND c.edition = 1 AND c.ranch_id = o.ranch_id AND (c.nests <> '[]' OR c.belts <> '[]')))),
        coalesce(a.name, ''), coalesce(a.group_name, '')
    FROM tussock.ranch r
    LEFT JOIN tussock.area a ON a.coop_id = r.coop_id AND a.id = r.area_id
    JOIN (SELECT x.id, tussock.owners_of(coop, x.id) AS owners, tussock.vouched(coop, x.id) AS settled FROM tussock.entity x WHERE x.coop_id = coop) e ON e.id = r.entity_id
    WHERE r.coop_id = coop AND r.erased_at IS NULL;
    UPDATE tussock.season s SET opened_at = now(), words = least(2, greatest(1, (
        SELECT count(*) FROM tussock.person p WHERE p.coop_id = coop AND p.role = 'coordinator' AND p.left_at IS NULL)))
    WHERE s.coop_id = coop AND s.year = which;
END
$$;

CREATE FUNCTION tussock.cut_off(coop uuid, which integer, nth smallint) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE opened timestamptz := (SELECT s.opened_at FROM tussock.season s WHERE s.coop_id = coop AND s.year = which);
BEGIN
    IF nth = 1 THEN -- entities with people, a mailbox, a telephone or a browser in common are one, over however many steps
        WITH RECURSIVE trace AS (
            SELECT s.entity_id, t.trace
            FROM (SELECT x.entity_id, array_agg(x.ranch_id) AS ranches FROM tussock.season_ranch x WHERE x.coop_id = coop AND x.season = which GROUP BY x.entity_id) s
            CROSS JOIN LATERAL unnest(tussock.owners_traces(coop, s.ranches, opened) || ('entity ' || s.entity_id)) t (trace)
        ), link AS (
            SELECT DISTINCT x.entity_id AS a, y.entity_id AS b FROM trace x JOIN trace y ON y.trace = x.trace
        ), reach AS (
            SELECT a, b FROM link UNION SELECT r.a, l.b FROM reach r JOIN link l ON l.a = r.b
        )
        UPDATE tussock.season_ranch s SET counts_as = x.b
        FROM (SELECT a, min(b::text)::uuid AS b FROM reach GROUP BY a) x
        WHERE s.coop_id = coop AND s.season = which AND s.entity_id = x.a;
    END IF;
    INSERT INTO tussock.edition (coop_id, season, edition, on_roster, sheets, owners)
    SELECT coop, which, nth, count(*), 0, count(DISTINCT s.counts_as) FILTER (WHERE s.yes AND s.settled)
    FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which;
    INSERT INTO tussock.snapshot (coop_id, season, edition, ranch_id, shown, open, nests, belts, sites)
    SELECT coop, which, nth, s.ranch_id,
        EXISTS (SELECT 1 FROM tussock.showcase w JOIN tussock.season_ranch o ON o.coop_id = w.coop_id AND o.entity_id = w.entity_id AND o.season = which
                WHERE w.coop_id = coop AND o.counts_as = s.counts_as),
        EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = coop AND u.ranch_id = s.ranch_id AND u.season = which AND u.state = 'current' AND u.open_count > 0),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,steps,bearing,spot,notes,from_sheet,from_row}'::text[] ORDER BY u.seq DESC, x.row), '[]')
         FROM tussock.nest x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND x.season = which AND u.state = 'current'),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[] ORDER BY u.seq DESC, x.row), '[]')
         FROM tussock.belt x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND x.season = which AND u.state = 'current'),
        (SELECT coalesce(jsonb_agg(to_jsonb(x) - '{coop_id,from_sheet,from_row}'::text[] ORDER BY u.seq DESC, x.row), '[]')
         FROM tussock.site x JOIN tussock.upload u ON u.coop_id = x.coop_id AND u.ranch_id = x.ranch_id AND u.id = x.upload_id
         WHERE x.coop_id = coop AND x.ranch_id = s.ranch_id AND u.state = 'current')
    FROM tussock.season_ranch s WHERE s.coop_id = coop AND s.season = which AND s.yes AND tussock.says_yes(coop, s.ranch_id);
    UPDATE tussock.edition e SET sheets = (SELECT count(*) FROM tussock.snapshot x WHERE x.coop_id = coop AND x.season = which AND x.edition = nth AND x.nests <> '[]')
    WHERE e.coop_id = coop AND e.season = which AND e.edition = nth;
END
$$;

-- Carries out what is due, of one cooperative or (NULL) of all: openings, cut-offs, and the copy for the final revision, thirty days
-- after a bulletin came out where no later one has been cut. Nothing that is done after its day can come before it: whoever changes
-- anything that is frozen carries this out first.
CREATE FUNCTION tussock.freeze_due(coop uuid) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE s record;
BEGIN
    FOR s IN SELECT x.coop_id, x.year FROM tussock.season x WHERE (coop IS NULL OR x.coop_id = coop) AND x.opened_at IS NULL AND x.opens_on <= tussock.today()
        ORDER BY x.opens_on, x.year FOR UPDATE
    LOOP
        PERFORM tussock.open_season(s.coop_id, s.year);
    END LOOP;
    FOR s IN SELECT x.coop_id, x.year FROM tussock.season x WHERE (coop IS NULL OR x.coop_id = coop) AND x.cut_off_on <= tussock.today()
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
$$;

CREATE FUNCTION tussock.freeze_first() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM tussock.freeze_due(tussock.my_coop());
    RETURN NULL;
END
$$;
CREATE TRIGGER freeze_first BEFORE INSERT OR UPDATE OR DELETE ON tussock.ranch FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();
CREATE TRIGGER freeze_first BEFORE INSERT OR UPDATE OR DELETE ON tussock.area FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();
CREATE TRIGGER freeze_first BEFORE INSERT OR DELETE ON tussock.vouch FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();
CREATE TRIGGER freeze_first BEFORE INSERT OR UPDATE OR DELETE ON tussock.consent FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();
CREATE TRIGGER freeze_first BEFORE INSERT OR UPDATE OR DELETE ON tussock.assignment FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();
CREATE TRIGGER freeze_first BEFORE INSERT OR UPDATE OR DELETE ON tussock.upload FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();
CREATE TRIGGER freeze_first BEFORE INSERT OR UPDATE OR DELETE ON tussock.showcase FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();
CREATE TRIGGER freeze_first BEFORE UPDATE OF left_at ON tussock.person FOR EACH STATEMENT EXECUTE FUNCTION tussock.freeze_first();

-- Closes an edition that a restored backup lacks: it was composed and may have been read, so none is composed again.
CREATE FUNCTION tussock.close_edition(coop uuid, which integer, nth smallint) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on, opened_at, words)
    VALUES (coop, which, tussock.today() - 3, tussock.today() - 2, tussock.today() - 2, tussock.today() - 2, now(), 1) ON CONFLICT DO NOTHING;
    INSERT INTO tussock.edition AS e (coop_id, season, edition, on_roster, sheets, owners, composed_at, note)
    VALUES (coop, which, nth, 0, 0, 0, now(), 'It was composed before this database was restored from a backup, and may have been read. None is composed again.')
    ON CONFLICT ON CONSTRAINT edition_pkey DO UPDATE SET composed_at = coalesce(e.composed_at, EXCLUDED.composed_at), note = EXCLUDED.note;
END
$$;

-- What is to be composed next, of all cooperatives: with a version that has not tried yet. Whoever says no by then is left out, and
-- from then on the copy is all there is: composed again, it comes to the same bytes.
CREATE FUNCTION tussock.print_due(program text, OUT coop uuid, OUT season integer, OUT edition smallint) LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    SELECT e.coop_id, e.season, e.edition INTO coop, season, edition
    FROM tussock.edition e JOIN tussock.season s ON s.coop_id = e.coop_id AND s.year = e.season
    WHERE e.composed_at IS NULL AND (e.edition = 2 OR s.composed_on <= tussock.today()) AND (e.note = '' OR e.version <> program)
    ORDER BY s.composed_on, e.season, e.coop_id LIMIT 1 FOR UPDATE OF e;
    IF FOUND THEN
        IF (SELECT x.counted IS NULL FROM tussock.edition x WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition) THEN
            DELETE FROM tussock.snapshot x WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition AND NOT tussock.says_yes(coop, x.ranch_id);
            UPDATE tussock.edition x SET counted = (SELECT count(*) FROM tussock.snapshot y WHERE y.coop_id = coop AND y.season = x.season AND y.edition = x.edition)
            WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition;
        END IF;
        UPDATE tussock.edition x SET tries = x.tries + 1, version = program WHERE x.coop_id = coop AND x.season = print_due.season AND x.edition = print_due.edition;
    END IF;
END
$$;

-- Whoever publishes has the coordinators' words: as many as were there when the season opened, two at most, and no no. A word counts
-- of who was a coordinator at the cut-off, or where an edition has waited for thirty days, of who is one: so nobody brings in a friend
-- to say yes, and nobody's going away keeps a bulletin back for good.
CREATE FUNCTION tussock.may_approve(coop uuid, which integer, nth smallint, who uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN EXISTS (
        SELECT 1 FROM tussock.person p JOIN tussock.edition e ON e.coop_id = p.coop_id AND e.season = which AND e.edition = nth
        JOIN tussock.season s ON s.coop_id = e.coop_id AND s.year = e.season
        WHERE p.coop_id = coop AND p.id = who AND p.role = 'coordinator' AND p.left_at IS NULL AND p.suspended_at IS NULL
          AND (p.joined_at < e.cut_at OR greatest(e.composed_at, s.published_on) < now() - interval '30 days'));
END
$$;

CREATE FUNCTION tussock.approved(coop uuid, which integer, nth smallint) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (SELECT count(*) FILTER (WHERE a.yes) >= (SELECT s.words FROM tussock.season s WHERE s.coop_id = coop AND s.year = which) AND count(*) FILTER (WHERE NOT a.yes) = 0
        FROM tussock.approval a WHERE a.coop_id = coop AND a.season = which AND a.edition = nth AND tussock.may_approve(coop, which, nth, a.person_id));
END
$$;

CREATE FUNCTION tussock.publish_due(coop uuid) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE pub.bulletin b SET published_at = now() FROM tussock.season s
    WHERE (coop IS NULL OR b.coop_id = coop) AND b.published_at IS NULL AND s.coop_id = b.coop_id AND s.year = b.season AND s.published_on <= tussock.today()
      AND tussock.approved(b.coop_id, b.season, 1::smallint);
    UPDATE pub.revision r SET published_at = now()
    WHERE (coop IS NULL OR r.coop_id = coop) AND r.published_at IS NULL AND tussock.approved(r.coop_id, r.season, r.edition);
END
$$;

-- A coordinator's word on an edition that is composed and not yet out. False where there is nothing to say or they may not say it.
CREATE FUNCTION tussock.approve(which integer, nth smallint, says boolean) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
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
$$;

-- Who may vouch for an owner: a coordinator; and a landowner whose own ranch was counted in a season, or before the first one any
-- landowner. So a name made yesterday is worth nothing.
CREATE FUNCTION tussock.may_vouch() RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    own uuid[] := tussock.my_own_ranches();
BEGIN
    RETURN tussock.my_role() = 'coordinator' OR tussock.my_role() = 'landowner' AND cardinality(own) > 0 AND (
        NOT EXISTS (SELECT 1 FROM tussock.season s WHERE s.coop_id = coop AND s.opened_at IS NOT NULL)
        OR EXISTS (SELECT 1 FROM tussock.season_ranch s JOIN tussock.ranch r ON r.coop_id = s.coop_id AND r.entity_id = s.entity_id
                   WHERE s.coop_id = coop AND s.settled AND s.yes AND NOT s.fresh AND r.id = ANY (own)));
END
$$;

-- Whom somebody may vouch for: the owners of ranches that are none of theirs.
CREATE FUNCTION tussock.others() RETURNS TABLE (owner_id uuid, entity_id uuid, ranch_id uuid) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    own uuid[] := tussock.my_entities();
BEGIN
    RETURN QUERY
    SELECT coalesce(a.person_id, r.id), r.entity_id, r.id
    FROM tussock.ranch r
    LEFT JOIN tussock.assignment a ON a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
    WHERE r.coop_id = coop AND r.erased_at IS NULL AND NOT r.entity_id = ANY (own) AND (a.person_id IS NOT NULL OR r.id = ANY (tussock.owners_of(coop, r.entity_id)));
END
$$;

-- The owners of ranches as those see them who may vouch, with how they stand: settled counts from the next season's opening on.
CREATE FUNCTION tussock.owners_to_vouch() RETURNS TABLE (id uuid, name text, ranches text, words integer, mine boolean, settled boolean) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    IF NOT coalesce(tussock.may_vouch(), false) THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT o.owner_id, coalesce(p.name, min(e.name)), string_agg(r.name, ', ' ORDER BY r.name),
        (SELECT count(*)::integer FROM tussock.vouch v WHERE v.coop_id = coop AND v.owner_id = o.owner_id),
        EXISTS (SELECT 1 FROM tussock.vouch v WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND v.person_id = me),
        bool_and(e.settled)
    FROM tussock.others() o
    JOIN tussock.ranch r ON r.coop_id = coop AND r.id = o.ranch_id
    JOIN (SELECT x.id, x.name, tussock.vouched(coop, x.id) AS settled FROM tussock.entity x WHERE x.coop_id = coop) e ON e.id = o.entity_id
    LEFT JOIN tussock.person p ON p.coop_id = coop AND p.id = o.owner_id
    GROUP BY o.owner_id, p.name ORDER BY 2, 3;
END
$$;

-- The word of a landowner for the new owner of a ranch that has none is worth something where two people vouched for them.
CREATE OR REPLACE FUNCTION tussock.my_word() RETURNS uuid
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
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
          AND EXISTS (SELECT 1 FROM tussock.upload u WHERE u.coop_id = r.coop_id AND u.ranch_id = r.id AND u.state = 'current')
          AND tussock.vouched(coop, r.entity_id)
        ORDER BY r.entity_id LIMIT 1);
END
$$;

-- A season is open where its results have not been copied yet.
CREATE OR REPLACE FUNCTION tussock.season_open(year integer) RETURNS boolean
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN NOT EXISTS (SELECT 1 FROM pub.bulletin b WHERE b.coop_id = (SELECT tussock.my_coop()) AND b.season = year)
       AND NOT EXISTS (SELECT 1 FROM tussock.season s WHERE s.coop_id = (SELECT tussock.my_coop()) AND s.year = season_open.year AND (s.cut_off_on <= tussock.today()
            OR EXISTS (SELECT 1 FROM tussock.edition e WHERE e.coop_id = s.coop_id AND e.season = s.year)));
END
$$;

-- The tokens of a ranch, and of what it counted as where nothing else of that is left, give way to blanks in the sealed logs.
CREATE OR REPLACE FUNCTION tussock.forget(coop uuid, ranch uuid) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
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
$$;
-- +goose StatementEnd

-- Dates are set before the season opens and stand from then on.
GRANT SELECT, DELETE, INSERT (coop_id, year, opens_on, cut_off_on, composed_on, published_on, set_by), UPDATE (opens_on, cut_off_on, composed_on, published_on, set_by) ON tussock.season TO tussock_app;
CREATE POLICY member ON tussock.season FOR SELECT TO tussock_app USING (true); -- within "tenant"
CREATE POLICY coordinator_add ON tussock.season FOR INSERT TO tussock_app
    WITH CHECK ((SELECT tussock.my_role()) = 'coordinator' AND set_by = (SELECT tussock.my_person()) AND opens_on > (now() AT TIME ZONE 'UTC')::date
       AND tussock.season_open(year));
CREATE POLICY coordinator_change ON tussock.season FOR UPDATE TO tussock_app
    USING ((SELECT tussock.my_role()) = 'coordinator' AND opened_at IS NULL AND opens_on > (now() AT TIME ZONE 'UTC')::date)
    WITH CHECK (set_by = (SELECT tussock.my_person()) AND opens_on > (now() AT TIME ZONE 'UTC')::date);
CREATE POLICY coordinator_drop ON tussock.season FOR DELETE TO tussock_app
    USING ((SELECT tussock.my_role()) = 'coordinator' AND opened_at IS NULL AND opens_on > (now() AT TIME ZONE 'UTC')::date);

GRANT SELECT (coop_id, season, ranch_id, yes, settled, area, group_name) ON tussock.season_ranch TO tussock_app;
CREATE POLICY own ON tussock.season_ranch FOR SELECT TO tussock_app USING (ranch_id = ANY ((SELECT tussock.my_ranches())::uuid[]));

GRANT SELECT ON tussock.edition TO tussock_app;
CREATE POLICY coordinator ON tussock.edition FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
GRANT SELECT ON tussock.approval TO tussock_app;
CREATE POLICY coordinator ON tussock.approval FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');

CREATE POLICY give ON tussock.vouch FOR INSERT TO tussock_app
    WITH CHECK (person_id = (SELECT tussock.my_person()) AND (SELECT tussock.may_vouch()) AND owner_id IN (SELECT o.owner_id FROM tussock.others() o));

GRANT EXECUTE ON FUNCTION tussock.may_vouch(), tussock.others(), tussock.owners_to_vouch(), tussock.approve(integer, smallint, boolean), tussock.today() TO tussock_app;

-- The press has the copies, and no results, roster, owners or words of consent any more.
GRANT SELECT ON tussock.snapshot, tussock.season_ranch TO tussock_press;
CREATE POLICY press ON tussock.snapshot FOR SELECT TO tussock_press USING (true);
CREATE POLICY press ON tussock.season_ranch FOR SELECT TO tussock_press USING (true);
GRANT SELECT, UPDATE (composed_at, note) ON tussock.edition TO tussock_press;
CREATE POLICY press ON tussock.edition TO tussock_press USING (true);
GRANT EXECUTE ON FUNCTION tussock.freeze_due(uuid), tussock.print_due(text), tussock.publish_due(uuid) TO tussock_press;
-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['coop', 'area', 'entity', 'ranch', 'consent', 'upload', 'nest', 'belt', 'site', 'showcase'] LOOP
        EXECUTE format('DROP POLICY IF EXISTS press ON tussock.%I', t);
        EXECUTE format('REVOKE ALL ON tussock.%I FROM tussock_press', t);
        EXECUTE format('REVOKE SELECT (%s) ON tussock.%I FROM tussock_press', (SELECT string_agg(quote_ident(a.attname), ', ') FROM pg_attribute a
            WHERE a.attrelid = ('tussock.' || t)::regclass AND a.attnum > 0 AND NOT a.attisdropped), t);
    END LOOP;
END
$$;
-- +goose StatementEnd
DROP TABLE tussock.press_preview_figure, tussock.press_preview, tussock.press_order;
DROP FUNCTION tussock.approve_order(uuid), tussock.decline_order(uuid), tussock.coordinators();
ALTER TABLE tussock.entity DROP COLUMN vouched_at, DROP COLUMN vouched_by;
