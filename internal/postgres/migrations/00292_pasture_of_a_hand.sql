-- A copy says which of its sheets stand below an owner's: rows of those whose line and nest an owner's sheet has under another pasture wait.

-- +goose Up
ALTER TABLE tussock.snapshot ADD hands uuid[] NOT NULL DEFAULT '{}';
-- +goose StatementBegin
CREATE FUNCTION tussock.note_hands() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.hands := ARRAY(SELECT unnest(NEW.hands) UNION SELECT u.id FROM tussock.upload u
        WHERE u.coop_id = NEW.coop_id AND u.ranch_id = NEW.ranch_id AND u.state = 'current' AND u.rank < 2);
    RETURN NEW;
END
$$;
-- +goose StatementEnd
CREATE TRIGGER note_hands BEFORE INSERT OR UPDATE OF nests ON tussock.snapshot FOR EACH ROW EXECUTE FUNCTION tussock.note_hands();
REVOKE ALL ON FUNCTION tussock.note_hands() FROM PUBLIC;
DELETE FROM tussock.finding; -- what they come to without the rows that wait
