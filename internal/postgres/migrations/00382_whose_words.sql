-- What an owner's answers explained holds for all sheets of the ranch, what a hand's did for hands' sheets alone: else a hand answers a sheet of
-- their own so that a column is not used, and the owner's next sheet is read without it.

-- +goose Up
ALTER TABLE tussock.word ADD owners boolean NOT NULL DEFAULT true;
ALTER TABLE tussock.word DROP CONSTRAINT word_pkey, ADD CONSTRAINT word_pkey PRIMARY KEY (coop_id, ranch_id, word, owners);
CREATE POLICY whose ON tussock.word AS RESTRICTIVE FOR UPDATE TO tussock_app USING (NOT owners OR ranch_id = ANY ((SELECT tussock.my_own_ranches())::uuid[]));
-- +goose StatementBegin
CREATE FUNCTION tussock.whose_word() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF tussock.my_person() IS NOT NULL THEN
        NEW.owners := NEW.ranch_id = ANY (tussock.my_own_ranches());
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER whose_word BEFORE INSERT ON tussock.word FOR EACH ROW EXECUTE FUNCTION tussock.whose_word();
-- +goose StatementEnd
REVOKE ALL ON FUNCTION tussock.whose_word() FROM PUBLIC;

-- Asking to delete a ranch, and how it ended, is a line among the changes and in the ranch's log, as is asking to hand it over.
-- +goose StatementBegin
DO $$
DECLARE
    f text[];
    was text;
    now text;
BEGIN
    EXECUTE 'ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check, ADD CONSTRAINT roster_change_kind_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'roster_change_kind_check'), 'ARRAY[', 'ARRAY[''erase''::text, ''erase ended''::text, ');
    EXECUTE 'ALTER TABLE tussock.view_log DROP CONSTRAINT view_log_what_check, ADD CONSTRAINT view_log_what_check '
        || replace((SELECT pg_get_constraintdef(c.oid) FROM pg_constraint c WHERE c.conname = 'view_log_what_check'), 'ARRAY[',
            'ARRAY[''erase''::text, ''erase ended''::text, ''hand over''::text, ''hand over ended''::text, ');
    FOREACH f SLICE 1 IN ARRAY ARRAY[
        ['ring()', 'work text[] := ARRAY[', 'work text[] := ARRAY[''erase'', ''erase ended'', ''hand over'', ''hand over ended'', '],
        ['log_hand_over()', 'THEN ''hand over'' WHEN', 'THEN NEW.kind WHEN'],
        ['log_hand_over()', 'THEN ''hand over ended''
', 'THEN NEW.kind || '' ended''
'],
        ['log_hand_over()', 'NEW.done_at IS NOT NULL THEN ''handed over''', 'NEW.done_at IS NOT NULL AND NEW.kind = ''hand over'' THEN ''handed over'''],
        ['log_hand_over()', 'CASE kind WHEN ''hand over ended'' THEN NEW.called_off_by', 'CASE WHEN kind LIKE ''% ended'' THEN NEW.called_off_by'],
        ['log_hand_over()', '    RETURN NULL;
END', '    IF kind <> ''handed over'' AND (kind NOT LIKE ''% ended'' OR NEW.called_off_by IS NOT NULL) THEN
        INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what)
        SELECT NEW.coop_id, NEW.ranch_id, CASE WHEN kind LIKE ''% ended'' THEN NEW.called_off_by ELSE NEW.person_id END, now(), kind;
    END IF;
    RETURN NULL;
END']] LOOP
        was := pg_get_functiondef(('tussock.' || f[1])::regprocedure);
        now := replace(was, f[2], f[3]);
        IF now = was THEN
            RAISE EXCEPTION '% is another: %', f[1], f[2];
        END IF;
        EXECUTE now;
    END LOOP;
END
$$;
-- +goose StatementEnd
DROP TRIGGER log_hand_over ON tussock.departure;
CREATE TRIGGER log_hand_over AFTER INSERT OR UPDATE ON tussock.departure FOR EACH ROW WHEN (NEW.kind IN ('erase', 'hand over')) EXECUTE FUNCTION tussock.log_hand_over();
