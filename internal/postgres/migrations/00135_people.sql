-- Entities are people. Who vouches for whom, which browsers signed in as whom, a yes on paper that is named as such, and a log of
-- every change of the roster that every member can read.

-- +goose Up
ALTER TABLE tussock.person ADD invited_by uuid;

-- A word for an owner: that there is such a person, and that they are nobody else on the roster. It is for a person, and never for an
-- owner's name, which a coordinator may give to somebody else; for a ranch alone where its owner never had an account.
CREATE TABLE tussock.vouch (
    coop_id   uuid NOT NULL,
    owner_id  uuid NOT NULL, -- a person, or a ranch
    person_id uuid NOT NULL, -- who vouches
    given_at  timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT vouch_pkey PRIMARY KEY (coop_id, owner_id, person_id),
    CONSTRAINT vouch_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);
INSERT INTO tussock.vouch (coop_id, owner_id, person_id, given_at)
SELECT DISTINCT e.coop_id, a.person_id, e.vouched_by, e.vouched_at
FROM tussock.entity e JOIN tussock.ranch r ON r.coop_id = e.coop_id AND r.entity_id = e.id
JOIN tussock.assignment a ON a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
WHERE e.vouched_by IS NOT NULL;

-- The browsers that ever signed in as somebody. A member may have the service forget a browser; that two people used one is not
-- forgotten with it.
CREATE TABLE tussock.browser (
    coop_id     uuid NOT NULL,
    person_id   uuid NOT NULL,
    device_hash bytea NOT NULL,
    CONSTRAINT browser_pkey PRIMARY KEY (coop_id, person_id, device_hash),
    CONSTRAINT browser_person_fkey FOREIGN KEY (coop_id, person_id) REFERENCES tussock.person
);
INSERT INTO tussock.browser SELECT d.coop_id, d.person_id, d.device_hash FROM tussock.device d;

-- A yes that an owner gave on paper, which a coordinator keeps and answers for.
ALTER TABLE tussock.consent ADD paper boolean NOT NULL DEFAULT false;

-- What changed about the roster, areas and owners, and who did it. It goes with the ranch where a ranch is erased.
CREATE TABLE tussock.roster_change (
    coop_id   uuid NOT NULL,
    id        uuid NOT NULL DEFAULT gen_random_uuid(),
    at        timestamptz NOT NULL DEFAULT clock_timestamp(),
    person_id uuid, -- who did it; NULL where the server carried out what an owner had asked for
    kind      text NOT NULL CHECK (kind IN ('ranch', 'ranch name', 'ranch area', 'ranch owner', 'ranch erased', 'area', 'area name', 'area group', 'vouched', 'vouch ended', 'paper')),
    ranch_id  uuid,
    area_id   uuid,
    what      text NOT NULL,
    was       text NOT NULL DEFAULT '',
    became    text NOT NULL DEFAULT '',
    CONSTRAINT roster_change_pkey PRIMARY KEY (coop_id, id),
    CONSTRAINT roster_change_coop_fkey FOREIGN KEY (coop_id) REFERENCES tussock.coop
);
CREATE INDEX roster_change_at ON tussock.roster_change (coop_id, at);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['vouch', 'browser', 'roster_change'] LOOP
        EXECUTE format('ALTER TABLE tussock.%I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE tussock.%I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY owner ON tussock.%I TO tussock_owner USING (true) WITH CHECK (true)', t);
        EXECUTE format('CREATE POLICY tenant ON tussock.%I AS RESTRICTIVE TO tussock_app
            USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()))', t);
    END LOOP;
END
$$;

CREATE OR REPLACE FUNCTION tussock.accept_invitation(hash bytea, called text, address text, telephone text, secret text)
RETURNS TABLE (coop_id uuid, person_id uuid, coop_name text)
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH used AS (
        UPDATE tussock.invitation i SET used_at = now()
        WHERE i.token_hash = hash AND i.used_at IS NULL AND i.revoked_at IS NULL AND now() < i.expires_at
        RETURNING i.*
    ), joined AS (
        INSERT INTO tussock.person (coop_id, name, role, invited_by) SELECT u.coop_id, called, u.role, u.invited_by FROM used u
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

CREATE FUNCTION tussock.keep_browser() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.browser (coop_id, person_id, device_hash) VALUES (NEW.coop_id, NEW.person_id, NEW.device_hash) ON CONFLICT DO NOTHING;
    RETURN NULL;
END
$$;
CREATE TRIGGER keep_browser AFTER INSERT ON tussock.device FOR EACH ROW EXECUTE FUNCTION tussock.keep_browser();

-- What somebody leaves behind by which two accounts are told to be one person's: the mailbox without what follows a plus sign, the
-- telephone's digits, and the browsers that signed in.
CREATE FUNCTION tussock.traces(coop uuid, person uuid) RETURNS text[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
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
$$;

-- The traces of those who own one of these ranches, or owned one since a time.
CREATE FUNCTION tussock.owners_traces(coop uuid, ranches uuid[], from_then timestamptz) RETURNS text[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN ARRAY(
        SELECT DISTINCT t.trace
        FROM tussock.assignment a CROSS JOIN LATERAL unnest(tussock.traces(coop, a.person_id)) t (trace)
        WHERE a.coop_id = coop AND a.ranch_id = ANY (ranches) AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL AND (a.until IS NULL OR a.until > from_then));
END
$$;

-- Who owns ranches of an entity: people, and a ranch itself where its owner never had an account.
CREATE FUNCTION tussock.owners_of(coop uuid, entity uuid) RETURNS uuid[] LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN ARRAY(
        SELECT a.person_id FROM tussock.ranch r
        JOIN tussock.assignment a ON a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL
        WHERE r.coop_id = coop AND r.entity_id = entity AND r.erased_at IS NULL
        UNION SELECT r.id FROM tussock.ranch r
        WHERE r.coop_id = coop AND r.entity_id = entity AND r.erased_at IS NULL AND NOT EXISTS (
            SELECT 1 FROM tussock.assignment a WHERE a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL));
END
$$;

-- Whether two people vouched for one of an entity's owners who are two people: not both coordinators, not brought in by the same
-- person, nothing in common with each other or with the entity's own.
CREATE FUNCTION tussock.vouched(coop uuid, entity uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    owners uuid[] := tussock.owners_of(coop, entity);
    own text[] := tussock.owners_traces(coop, ARRAY(SELECT r.id FROM tussock.ranch r WHERE r.coop_id = coop AND r.entity_id = entity), now());
BEGIN
    RETURN EXISTS (
        WITH voucher AS (
            SELECT v.owner_id, p.id, p.role, p.invited_by, tussock.traces(coop, p.id) AS traces
            FROM tussock.vouch v JOIN tussock.person p ON p.coop_id = v.coop_id AND p.id = v.person_id
            WHERE v.coop_id = coop AND v.owner_id = ANY (owners)
        )
        SELECT 1 FROM voucher a JOIN voucher b ON a.owner_id = b.owner_id AND a.id < b.id
        WHERE (a.role <> 'coordinator' OR b.role <> 'coordinator') AND a.invited_by IS DISTINCT FROM b.invited_by
          AND NOT a.traces && b.traces AND NOT a.traces && own AND NOT b.traces && own);
END
$$;

CREATE FUNCTION tussock.log_ranch() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
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
$$;
CREATE TRIGGER log_ranch AFTER INSERT OR UPDATE OF name, area_id, entity_id, erased_at ON tussock.ranch FOR EACH ROW EXECUTE FUNCTION tussock.log_ranch();

CREATE FUNCTION tussock.log_area() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
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
$$;
CREATE TRIGGER log_area AFTER INSERT OR UPDATE OF name, group_name ON tussock.area FOR EACH ROW EXECUTE FUNCTION tussock.log_area();

CREATE FUNCTION tussock.log_vouch() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE v tussock.vouch := CASE TG_OP WHEN 'INSERT' THEN NEW ELSE OLD END;
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what)
    SELECT v.coop_id, v.person_id, CASE TG_OP WHEN 'INSERT' THEN 'vouched' ELSE 'vouch ended' END, r.id, coalesce(p.name, r.name)
    FROM tussock.ranch r
    LEFT JOIN tussock.assignment a ON a.coop_id = r.coop_id AND a.ranch_id = r.id AND a.person_id = v.owner_id AND a.kind = 'owner'
    LEFT JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
    WHERE r.coop_id = v.coop_id AND r.erased_at IS NULL AND (p.id IS NOT NULL OR r.id = v.owner_id) ORDER BY r.id LIMIT 1;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_vouch AFTER INSERT OR DELETE ON tussock.vouch FOR EACH ROW EXECUTE FUNCTION tussock.log_vouch();

CREATE FUNCTION tussock.log_paper() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO tussock.roster_change (coop_id, person_id, kind, ranch_id, what)
    SELECT NEW.coop_id, NEW.given_by, 'paper', r.id, r.name FROM tussock.ranch r WHERE r.coop_id = NEW.coop_id AND r.id = NEW.ranch_id;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_paper AFTER INSERT ON tussock.consent FOR EACH ROW WHEN (NEW.paper AND NEW.level > 0) EXECUTE FUNCTION tussock.log_paper();

-- The log, for every member, with the names that people have now.
CREATE FUNCTION tussock.roster_log(from_then timestamptz) RETURNS TABLE (at timestamptz, by_name text, kind text, what text, was text, became text, mine boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE own uuid[] := tussock.my_own_ranches();
BEGIN
    RETURN QUERY
    SELECT x.at, coalesce(p.name, ''), x.kind, x.what, x.was, x.became, coalesce(x.ranch_id = ANY (own), false)
    FROM tussock.roster_change x LEFT JOIN tussock.person p ON p.coop_id = x.coop_id AND p.id = x.person_id
    WHERE x.coop_id = tussock.my_coop() AND x.at >= from_then ORDER BY x.at DESC, x.id;
END
$$;

-- The letters about a change: to the owners of the ranch, or of every ranch in the area, within a week and once.
CREATE FUNCTION tussock.roster_letters() RETURNS TABLE (address text, coop_name text, ranch_name text, kind text, was text, became text, by_name text)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    WITH due AS (
        SELECT x.coop_id, r.id AS ranch_id, o.person_id, 'roster ' || x.id AS about, x.at, x.kind, x.was, x.became, x.person_id AS by_id
        FROM tussock.roster_change x
        JOIN tussock.ranch r ON r.coop_id = x.coop_id AND (r.id = x.ranch_id OR r.area_id = x.area_id)
        JOIN tussock.assignment o ON o.coop_id = r.coop_id AND o.ranch_id = r.id AND o.kind = 'owner' AND o.confirmed_at IS NOT NULL AND o.until IS NULL
        WHERE x.at > now() - interval '7 days' AND x.kind IN ('ranch name', 'ranch area', 'ranch owner', 'area name', 'area group', 'paper') AND o.since < x.at
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
$$;
-- +goose StatementEnd

GRANT SELECT, DELETE, INSERT (coop_id, owner_id, person_id) ON tussock.vouch TO tussock_app;
CREATE POLICY coordinator ON tussock.vouch FOR SELECT TO tussock_app USING ((SELECT tussock.my_role()) = 'coordinator');
CREATE POLICY self ON tussock.vouch FOR SELECT TO tussock_app USING (person_id = (SELECT tussock.my_person()));
CREATE POLICY take_back ON tussock.vouch FOR DELETE TO tussock_app USING (person_id = (SELECT tussock.my_person()));

GRANT EXECUTE ON FUNCTION tussock.roster_log(timestamptz) TO tussock_app;
GRANT EXECUTE ON FUNCTION tussock.roster_letters() TO tussock_door;

-- A coordinator keeps a yes on paper only for a ranch that never had an owner with an account: who has one says so themselves, and nobody
-- takes an owner off a ranch to say yes for them.
GRANT INSERT (paper) ON tussock.consent TO tussock_app;
DROP POLICY give ON tussock.consent;
CREATE POLICY give ON tussock.consent FOR INSERT TO tussock_app
    WITH CHECK (ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]) AND given_by = (SELECT tussock.my_person()) AND NOT paper);
CREATE POLICY paper ON tussock.consent FOR INSERT TO tussock_app
    WITH CHECK (paper AND (SELECT tussock.my_role()) = 'coordinator' AND given_by = (SELECT tussock.my_person())
       AND NOT EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = consent.coop_id AND a.ranch_id = consent.ranch_id AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL));
