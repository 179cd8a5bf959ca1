-- What slows guessing down, in one place for all servers; and the secrets of one-time codes sealed with a key that is not
-- in the database.

-- +goose Up
-- Failures at the door by a hash of what they count under. Not written to the log of the database: what a crash forgets is
-- a quarter of an hour of slips.
CREATE UNLOGGED TABLE tussock.throttle (
    coop_id   uuid NOT NULL DEFAULT '00000000-0000-0000-0000-000000000000', -- before anybody is known
    name_hash bytea NOT NULL CHECK (length(name_hash) = 32),
    n         integer NOT NULL,
    last_at   timestamptz NOT NULL,
    next_at   timestamptz NOT NULL DEFAULT '-infinity', -- when the next try may be looked at
    CONSTRAINT throttle_pkey PRIMARY KEY (coop_id, name_hash)
);
CREATE INDEX throttle_last ON tussock.throttle (last_at);
ALTER TABLE tussock.throttle ENABLE ROW LEVEL SECURITY;
ALTER TABLE tussock.throttle FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON tussock.throttle TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON tussock.throttle AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));

-- +goose StatementBegin
-- How many seconds a try waits before it is looked at, NULL where too many wait already: nothing for as many failures as
-- are free, then doubling from a quarter of a second to five seconds, never longer. Tries under a name that lines up wait
-- for each other, up to twelve seconds.
CREATE FUNCTION tussock.throttle_wait(names bytea[], free integer[], lines boolean[], at timestamptz) RETURNS double precision
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    nobody constant uuid := '00000000-0000-0000-0000-000000000000';
    longest interval := interval '0';
    wait interval;
    f record;
BEGIN
    FOR i IN 1 .. cardinality(names) LOOP
        IF lines[i] THEN
            SELECT t.n, t.last_at, t.next_at INTO f FROM tussock.throttle t WHERE t.coop_id = nobody AND t.name_hash = names[i] FOR UPDATE;
        ELSE
            SELECT t.n, t.last_at, t.next_at INTO f FROM tussock.throttle t WHERE t.coop_id = nobody AND t.name_hash = names[i];
        END IF;
        CONTINUE WHEN NOT FOUND OR f.n < free[i] OR at - f.last_at > interval '15 minutes';
        wait := least(interval '5 seconds', interval '250 milliseconds' * power(2, least(f.n - free[i], 8)));
        IF lines[i] THEN
            IF f.next_at > at THEN
                wait := wait + (f.next_at - at);
            END IF;
            IF wait > interval '12 seconds' THEN
                RETURN NULL;
            END IF;
            UPDATE tussock.throttle t SET next_at = at + wait WHERE t.coop_id = nobody AND t.name_hash = names[i];
        END IF;
        longest := greatest(longest, wait);
    END LOOP;
    RETURN extract(epoch FROM longest);
END
$$;

-- Counts a failure under each name, and forgets what a quarter of an hour has forgiven.
CREATE FUNCTION tussock.throttle_failed(names bytea[], at timestamptz) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM tussock.throttle t USING (
        SELECT o.coop_id, o.name_hash FROM tussock.throttle o WHERE o.last_at < at - interval '15 minutes' ORDER BY o.last_at LIMIT 200 FOR UPDATE SKIP LOCKED) o
    WHERE t.coop_id = o.coop_id AND t.name_hash = o.name_hash;
    INSERT INTO tussock.throttle AS t (name_hash, n, last_at)
    SELECT x, 1, at FROM unnest(names) x ORDER BY x -- always in one order, so that two never wait for each other
    ON CONFLICT (coop_id, name_hash) DO UPDATE
    SET n = CASE WHEN at - t.last_at > interval '15 minutes' THEN 1 ELSE t.n + 1 END, last_at = greatest(t.last_at, at);
END
$$;

CREATE FUNCTION tussock.throttle_forgive(name bytea) RETURNS void
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM tussock.throttle t WHERE t.coop_id = '00000000-0000-0000-0000-000000000000' AND t.name_hash = name;
END
$$;

-- Counts towards a limit within a quarter of an hour since the last, and tells whether it was not reached before.
CREATE FUNCTION tussock.throttle_spend(name bytea, most integer, at timestamptz) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM tussock.throttle_failed(ARRAY[name], at);
    RETURN (SELECT t.n <= most FROM tussock.throttle t WHERE t.coop_id = '00000000-0000-0000-0000-000000000000' AND t.name_hash = name);
END
$$;

-- Secrets that are not sealed with a key, to be sealed with it. The first five bytes of a sealed one name its key; those
-- from before are 20 bytes long and in the open.
CREATE FUNCTION tussock.code_unsealed(seal bytea) RETURNS TABLE (coop uuid, person uuid, secret bytea)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY
    SELECT k.coop_id, k.person_id, k.secret FROM tussock.code_secret k WHERE length(k.secret) = 20 OR substring(k.secret FROM 1 FOR 5) <> seal;
END
$$;

CREATE FUNCTION tussock.reseal_code(coop uuid, person uuid, old bytea, new bytea) RETURNS boolean
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE tussock.code_secret k SET secret = new WHERE k.coop_id = coop AND k.person_id = person AND k.secret = old;
    RETURN FOUND;
END
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION tussock.throttle_wait(bytea[], integer[], boolean[], timestamptz), tussock.throttle_failed(bytea[], timestamptz),
    tussock.throttle_forgive(bytea), tussock.throttle_spend(bytea, integer, timestamptz),
    tussock.code_unsealed(bytea), tussock.reseal_code(uuid, uuid, bytea, bytea) TO tussock_door;
