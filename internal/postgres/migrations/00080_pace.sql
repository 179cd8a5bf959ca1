-- One way to say how fast something may be had, for all servers: so many at once, then one more each while. It takes the
-- place of a count that each try began anew: whoever kept asking in a member's name kept their letters from them for good.

-- +goose Up
-- +goose StatementBegin
-- Takes one, or says in how many seconds there is one; what is refused costs nothing more. All is back when next_at is over,
-- which must be within a quarter of an hour: older rows are forgotten.
CREATE FUNCTION tussock.throttle_take(name bytea, most integer, every interval, at timestamptz) RETURNS double precision
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM tussock.throttle_failed('{}', at); -- forgets what is old
    INSERT INTO tussock.throttle AS t (name_hash, n, last_at, next_at) VALUES (name, 0, at, at + every)
    ON CONFLICT (coop_id, name_hash) DO UPDATE SET last_at = greatest(t.last_at, at), next_at = greatest(t.next_at, at) + every
    WHERE greatest(t.next_at, at) + every <= at + most * every;
    IF FOUND THEN
        RETURN 0;
    END IF;
    RETURN (SELECT extract(epoch FROM t.next_at + every - at - most * every)
        FROM tussock.throttle t WHERE t.coop_id = '00000000-0000-0000-0000-000000000000' AND t.name_hash = name);
END
$$;
-- +goose StatementEnd
DROP FUNCTION tussock.throttle_spend(bytea, integer, timestamptz);
GRANT EXECUTE ON FUNCTION tussock.throttle_take(bytea, integer, interval, timestamptz) TO tussock_door;
