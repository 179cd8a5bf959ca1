-- What an owner takes of their own ranch is not a coordinator's to know: such an alarm is that ranch's owners' alone.

-- +goose Up
ALTER TABLE tussock.alarm ADD own boolean NOT NULL DEFAULT false; -- who took it owns all of these ranches
GRANT SELECT (own) ON tussock.alarm TO tussock_app;
DROP POLICY coordinator ON tussock.alarm;
CREATE POLICY coordinator ON tussock.alarm FOR SELECT TO tussock_app USING (NOT own AND (SELECT tussock.my_role()) = 'coordinator');
-- +goose StatementBegin
CREATE FUNCTION tussock.own_alarm() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.own := NOT EXISTS (SELECT 1 FROM unnest(NEW.ranches) r WHERE NOT tussock.owns(NEW.coop_id, r, NEW.person_id));
    RETURN NEW;
END
$$;

DO $$
DECLARE
    was text := pg_get_functiondef('tussock.alarm_letters()'::regprocedure);
    now text := replace(replace(was, 'a.span, a.told_at,', 'a.span, a.told_at, a.own,'), 'WHERE d.told_at IS NULL AND p.role = ''coordinator''', 'WHERE d.told_at IS NULL AND NOT d.own AND p.role = ''coordinator''');
BEGIN
    IF length(now) <> length(was) + length(' a.own,') + length(' AND NOT d.own') THEN
        RAISE EXCEPTION 'alarm_letters is another';
    END IF;
    EXECUTE now;
    PERFORM set_config('tussock.session', '', true);
    UPDATE tussock.alarm a SET own = NOT EXISTS (SELECT 1 FROM unnest(a.ranches) r WHERE NOT tussock.owns(a.coop_id, r, a.person_id));
END
$$;
-- +goose StatementEnd
CREATE TRIGGER own_alarm BEFORE INSERT OR UPDATE OF ranches ON tussock.alarm FOR EACH ROW EXECUTE FUNCTION tussock.own_alarm();
REVOKE ALL ON FUNCTION tussock.own_alarm() FROM PUBLIC;
