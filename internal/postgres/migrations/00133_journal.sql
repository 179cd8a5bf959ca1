-- What a backup must not bring back. Whatever closes something (a no, an end of sharing, a removal, an erasure, a new password),
-- and what else somebody who restores a backup should know of, is noted here; a server moves the notes to a file in its data
-- folder within seconds. That file is no part of a backup, and "tussock restore" reads it. It has ids and no names.

-- +goose Up
-- +goose StatementBegin
CREATE TABLE migration.journal (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    at timestamptz NOT NULL DEFAULT clock_timestamp(),
    coop_id uuid,
    what text NOT NULL,
    ranch uuid,
    person uuid,
    thing text NOT NULL DEFAULT ''
);
CREATE TABLE migration.dumped (id uuid PRIMARY KEY DEFAULT gen_random_uuid(), at timestamptz NOT NULL DEFAULT clock_timestamp());

CREATE FUNCTION tussock.journal_consent() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, CASE WHEN NEW.level > 0 THEN 'yes' ELSE 'no' END, NEW.ranch_id, NEW.given_by);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_consent AFTER INSERT ON tussock.consent FOR EACH ROW EXECUTE FUNCTION tussock.journal_consent();

CREATE FUNCTION tussock.journal_person() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, person) VALUES (NEW.coop_id, CASE WHEN NEW.left_at IS NOT NULL THEN 'left' WHEN NEW.suspended_at IS NOT NULL THEN 'suspended' ELSE 'let in' END, NEW.id);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_person AFTER UPDATE OF left_at, suspended_at, role ON tussock.person FOR EACH ROW WHEN (NEW.left_at IS DISTINCT FROM OLD.left_at OR NEW.suspended_at IS DISTINCT FROM OLD.suspended_at OR NEW.role <> OLD.role) EXECUTE FUNCTION tussock.journal_person();

CREATE FUNCTION tussock.journal_assignment() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.until IS NOT NULL AND (TG_OP = 'INSERT' OR OLD.until IS NULL) THEN
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, 'taken off', NEW.ranch_id, NEW.person_id);
    ELSIF NEW.until IS NULL AND NEW.confirmed_at IS NOT NULL AND (TG_OP = 'INSERT' OR OLD.confirmed_at IS NULL) THEN
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, 'put on', NEW.ranch_id, NEW.person_id);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_assignment AFTER INSERT OR UPDATE OF until, confirmed_at ON tussock.assignment FOR EACH ROW EXECUTE FUNCTION tussock.journal_assignment();

CREATE FUNCTION tussock.journal_sharing() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.ended_at IS NULL THEN
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, 'shared', NEW.ranch_id, NEW.person_id);
    ELSIF TG_OP = 'INSERT' OR OLD.ended_at IS NULL THEN
        INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, 'sharing ended', NEW.ranch_id, NEW.person_id);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_sharing AFTER INSERT OR UPDATE OF ended_at ON tussock.sharing FOR EACH ROW EXECUTE FUNCTION tussock.journal_sharing();

CREATE FUNCTION tussock.journal_showcase() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, ranch, thing) VALUES (NEW.coop_id, 'taken down', NEW.ranch_id, NEW.id::text);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_showcase AFTER UPDATE OF ended_at ON tussock.showcase FOR EACH ROW WHEN (OLD.ended_at IS NULL AND NEW.ended_at IS NOT NULL) EXECUTE FUNCTION tussock.journal_showcase();

CREATE FUNCTION tussock.journal_departure() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, ranch, person) VALUES (NEW.coop_id, CASE NEW.kind WHEN 'erase' THEN 'erased' WHEN 'leave' THEN 'gone' ELSE 'handed over' END, NEW.ranch_id, NEW.person_id);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_departure AFTER UPDATE OF done_at ON tussock.departure FOR EACH ROW WHEN (OLD.done_at IS NULL AND NEW.done_at IS NOT NULL) EXECUTE FUNCTION tussock.journal_departure();

CREATE FUNCTION tussock.journal_account() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, person) VALUES (NEW.coop_id, CASE WHEN NEW.password_hash <> OLD.password_hash THEN 'password' ELSE 'address' END, NEW.person_id);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_account AFTER UPDATE OF password_hash, email ON tussock.account FOR EACH ROW WHEN (NEW.password_hash <> OLD.password_hash OR NEW.email <> OLD.email) EXECUTE FUNCTION tussock.journal_account();

CREATE FUNCTION tussock.journal_passkey() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, person, thing) VALUES (OLD.coop_id, 'passkey', OLD.person_id, OLD.id::text);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_passkey AFTER DELETE ON tussock.passkey FOR EACH ROW EXECUTE FUNCTION tussock.journal_passkey();

CREATE FUNCTION tussock.journal_codes() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, person) VALUES (OLD.coop_id, 'codes', OLD.person_id);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_codes AFTER DELETE ON tussock.code_secret FOR EACH ROW EXECUTE FUNCTION tussock.journal_codes();

CREATE FUNCTION tussock.journal_bulletin() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, thing) VALUES (NEW.coop_id, 'published', NEW.season::text);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_bulletin AFTER INSERT ON pub.bulletin FOR EACH ROW EXECUTE FUNCTION tussock.journal_bulletin();

CREATE FUNCTION tussock.journal_revision() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, thing) VALUES (NEW.coop_id, 'revised', NEW.season::text);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_revision AFTER INSERT ON pub.revision FOR EACH ROW EXECUTE FUNCTION tussock.journal_revision();

CREATE FUNCTION tussock.journal_retraction() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO migration.journal (coop_id, what, thing) VALUES (NEW.coop_id, 'taken back', NEW.season::text);
    RETURN NULL;
END
$$;
CREATE TRIGGER journal_retraction AFTER INSERT ON pub.retraction FOR EACH ROW EXECUTE FUNCTION tussock.journal_retraction();

-- What has not been moved yet, in the order in which it was noted.
CREATE FUNCTION tussock.journal_due(most integer) RETURNS TABLE (id bigint, at timestamptz, coop uuid, what text, ranch uuid, person uuid, thing text) LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RETURN QUERY SELECT j.id, j.at, j.coop_id, j.what, j.ranch, j.person, j.thing FROM migration.journal j ORDER BY j.id LIMIT most;
END
$$;
CREATE FUNCTION tussock.journal_done(which bigint[]) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM migration.journal j WHERE j.id = ANY (which);
END
$$;
GRANT EXECUTE ON FUNCTION tussock.journal_due(integer), tussock.journal_done(bigint[]) TO tussock_door;
-- +goose StatementEnd
