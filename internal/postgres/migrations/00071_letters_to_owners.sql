-- Letters that owners get without asking: that a yes is to be given again, that it was not, and that somebody else was put
-- onto their ranch or they were taken off it. Each once. And who adds nothing to the anonymous figures reads them as an
-- outsider does.

-- +goose Up
CREATE TABLE tussock.owner_letter (
    coop_id   uuid NOT NULL,
    ranch_id  uuid NOT NULL,
    person_id uuid NOT NULL, -- the reader
    about     text NOT NULL, -- which letter, of which day
    told_at   timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT owner_letter_pkey PRIMARY KEY (coop_id, ranch_id, person_id, about)
);
ALTER TABLE tussock.owner_letter ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.owner_letter FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.owner_letter TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.owner_letter AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));

-- +goose StatementBegin
-- The letters about a yes: asked again from three months before its last day, once more in its last fortnight, and when it
-- has lapsed. A server that was down for long writes the one that fits the day.
CREATE FUNCTION tussock.consent_letters(at timestamptz) RETURNS TABLE (address text, coop_name text, ranch_name text, stage text, through date)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE today date := (at AT TIME ZONE 'UTC')::date;
BEGIN
    RETURN QUERY
    WITH latest AS (
        SELECT DISTINCT ON (c.coop_id, c.ranch_id) c.coop_id, c.ranch_id, c.level, c.through
        FROM tussock.consent c ORDER BY c.coop_id, c.ranch_id, c.given_at DESC
    ), due AS (
        SELECT l.coop_id, l.ranch_id, o.person_id, l.through,
            CASE WHEN today > l.through THEN 'lapsed' WHEN today > l.through - 14 THEN 'last' ELSE 'ask' END AS stage
        FROM latest l
        JOIN tussock.assignment o ON o.coop_id = l.coop_id AND o.ranch_id = l.ranch_id AND o.kind = 'owner' AND o.until IS NULL AND o.confirmed_at IS NOT NULL
        WHERE l.level > 0 AND today >= date_trunc('month', l.through)::date - interval '2 months' AND today <= l.through + 30
    ), told AS (
        INSERT INTO tussock.owner_letter (coop_id, ranch_id, person_id, about)
        SELECT d.coop_id, d.ranch_id, d.person_id, 'yes ' || d.stage || ' ' || d.through FROM due d
        ON CONFLICT DO NOTHING
        RETURNING coop_id, ranch_id, person_id
    )
    SELECT e.email, c.name, r.name, d.stage, d.through
    FROM told t
    JOIN due d ON d.coop_id = t.coop_id AND d.ranch_id = t.ranch_id AND d.person_id = t.person_id
    JOIN tussock.account e ON e.coop_id = t.coop_id AND e.person_id = t.person_id
    JOIN tussock.coop c ON c.coop_id = t.coop_id
    JOIN tussock.ranch r ON r.coop_id = t.coop_id AND r.id = t.ranch_id
    ORDER BY e.email, r.name;
END
$$;

-- The letters about who owns a ranch: to an owner whom somebody else took off it; and, where somebody was put onto it as an
-- owner and waits for a yes, to its owners, or where it has none to those who were, within 90 days. What is older than a week
-- is let be. Whoever left, erased or handed over did so themselves and has had letters of that.
CREATE FUNCTION tussock.keeper_letters() RETURNS TABLE (address text, coop_name text, ranch_name text, called text, by_name text)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
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
$$;

-- Ten landowners behind a figure for whoever adds nothing to it: a landowner none of whose ranches is counted today is one of
-- those. Only one's own choice decides, so nothing is learnt of others by changing it.
CREATE OR REPLACE FUNCTION tussock.my_least() RETURNS integer
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN (
        SELECT CASE
            WHEN v.role = 'coordinator' THEN 5
            WHEN v.role = 'landowner' AND EXISTS (SELECT 1 FROM tussock.assignment a WHERE a.coop_id = v.coop_id AND a.person_id = v.person_id
                AND a.kind = 'owner' AND a.confirmed_at IS NOT NULL AND a.until IS NULL
                AND (SELECT c.level > 0 AND c.through >= (now() AT TIME ZONE 'UTC')::date FROM tussock.consent c
                     WHERE c.coop_id = a.coop_id AND c.ranch_id = a.ranch_id ORDER BY c.given_at DESC LIMIT 1)) THEN 5
            WHEN v.role IN ('landowner', 'biologist', 'planner') THEN 10 END
        FROM tussock.viewer() v);
END
$$;
-- +goose StatementEnd

REVOKE ALL ON FUNCTION tussock.consent_letters(timestamptz), tussock.keeper_letters() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.consent_letters(timestamptz), tussock.keeper_letters() TO tussock_door;
