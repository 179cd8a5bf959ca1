-- Whoever takes back their word for an owner, it counts for 30 days more: a landowner's as a coordinator's. Whom it is about reads from when on
-- they are not counted, and gets a letter.

-- +goose Up
-- +goose StatementBegin
DO $$
DECLARE
    was text := pg_get_functiondef('tussock.vouched_for(uuid, uuid)'::regprocedure);
    now text := replace(replace(was, 'tussock.vouched_for(coop uuid, owner uuid)', 'tussock.vouched_by(coop uuid, owner uuid, at timestamptz)'),
        '(v.ended_at IS NULL OR p.role = ''coordinator'' AND v.ended_at > now() - interval ''30 days'')', '(v.ended_at IS NULL OR v.ended_at > at - interval ''30 days'')');
BEGIN
    IF strpos(now, 'vouched_by') = 0 OR strpos(now, '> at -') = 0 THEN
        RAISE EXCEPTION 'vouched_for is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.owners_to_vouch()'::regprocedure);
    now := regexp_replace(was, '\(v\.ended_at IS NULL OR [wp]\.role = ''coordinator'' AND v\.ended_at > now\(\) - interval ''30 days''\)', 'v.ended_at IS NULL', 'g');
    now := regexp_replace(now, 'v\.owner_id = (o\.owner_id|x\.id) AND v\.ended_at IS NULL', 'v.owner_id = \1 AND (v.ended_at IS NULL OR v.ended_at > now() - interval ''30 days'')', 'g');
    IF now = was THEN
        RAISE EXCEPTION 'owners_to_vouch is another';
    END IF;
    EXECUTE now;
    was := pg_get_functiondef('tussock.roster_letters()'::regprocedure);
    now := replace(was, '''paper'')', '''paper'', ''vouch ended'')');
    IF now = was THEN
        RAISE EXCEPTION 'roster_letters is another';
    END IF;
    EXECUTE now;
END
$$;

CREATE OR REPLACE FUNCTION tussock.vouched_for(coop uuid, owner uuid) RETURNS boolean LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN tussock.vouched_by(coop, owner, now());
END
$$;

-- Whether the reader's ranches would be counted in a season that opens now, as far as words for their owners go, and from when on not.
CREATE FUNCTION tussock.my_standing() RETURNS TABLE (ranch_id uuid, counted boolean, until timestamptz)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE coop uuid := tussock.my_coop();
BEGIN
    RETURN QUERY
    SELECT x.id, s.counted, CASE WHEN s.counted THEN (
        SELECT min(v.ended_at + interval '30 days') FROM tussock.vouch v
        WHERE v.coop_id = coop AND v.owner_id = ANY (s.owners) AND v.ended_at > now() - interval '30 days'
          AND NOT EXISTS (SELECT 1 FROM unnest(s.owners) o WHERE tussock.vouched_by(coop, o, v.ended_at + interval '30 days'))) END
    FROM unnest(tussock.my_own_ranches()) x (id)
    CROSS JOIN LATERAL (SELECT tussock.settled(coop, x.id) AS counted, tussock.ranch_owners(coop, x.id) AS owners) s;
END
$$;
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.vouched_by(uuid, uuid, timestamptz), tussock.my_standing() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION tussock.my_standing() TO tussock_app;
