-- Coordinators say their word one after another: a no that comes in the same moment as the last yes is before it or after it.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.approve(which integer, nth smallint, says boolean) RETURNS boolean LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    coop uuid := tussock.my_coop();
    me uuid := tussock.my_person();
BEGIN
    PERFORM 1 FROM tussock.season s WHERE s.coop_id = coop AND s.year = which FOR UPDATE;
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

-- The same for taking a figure back.
DO $$
BEGIN
    EXECUTE replace(pg_get_functiondef('tussock.retract(integer, integer, integer[])'::regprocedure), '    INSERT INTO tussock.take_back',
        '    PERFORM 1 FROM tussock.season s WHERE s.coop_id = coop AND s.year = retract.year FOR UPDATE;' || E'\n' || '    INSERT INTO tussock.take_back');
END
$$;
-- +goose StatementEnd
