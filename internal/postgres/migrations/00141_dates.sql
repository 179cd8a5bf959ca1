-- A season's dates can be read for fourteen days before it opens, and stand from then on; each step has its time; and every date that is set
-- or moved stands among the changes. A planner or biologist reads of the changes what names nobody.

-- +goose Up
ALTER TABLE tussock.roster_change DROP CONSTRAINT roster_change_kind_check,
    ADD CONSTRAINT roster_change_kind_check CHECK (kind IN ('ranch', 'ranch name', 'ranch area', 'ranch owner', 'ranch erased', 'area', 'area name', 'area group', 'vouched', 'vouch ended', 'paper',
        'take off', 'take off ended', 'taken off', 'season', 'take back', 'taken back'));

-- +goose StatementBegin
-- What members set; the owner of the tables sets what is past.
CREATE FUNCTION tussock.check_season() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE soon date := tussock.today() + 14;
BEGIN
    IF tussock.my_role() IS DISTINCT FROM 'coordinator' THEN -- the policies refuse members
        RETURN coalesce(NEW, OLD);
    END IF;
    IF TG_OP <> 'INSERT' AND OLD.opens_on < soon THEN
        RAISE EXCEPTION 'the dates stand' USING ERRCODE = '23505', CONSTRAINT = 'season_stands_check';
    END IF;
    IF TG_OP = 'DELETE' THEN
        RETURN OLD;
    END IF;
    IF NEW.opens_on < soon THEN
        RAISE EXCEPTION 'no notice' USING ERRCODE = '23514', CONSTRAINT = 'season_notice_check';
    END IF;
    IF extract(year FROM NEW.opens_on) > NEW.year THEN
        RAISE EXCEPTION 'past' USING ERRCODE = '23514', CONSTRAINT = 'season_past_check';
    END IF;
    IF NEW.cut_off_on < NEW.opens_on + 28 OR NEW.composed_on < NEW.cut_off_on + 1 OR NEW.published_on < NEW.composed_on + 7 THEN
        RAISE EXCEPTION 'too soon' USING ERRCODE = '23514', CONSTRAINT = 'season_pace_check';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER check_season BEFORE INSERT OR DELETE OR UPDATE OF opens_on, cut_off_on, composed_on, published_on ON tussock.season FOR EACH ROW EXECUTE FUNCTION tussock.check_season();

CREATE FUNCTION tussock.log_season() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE me uuid := tussock.my_person();
BEGIN
    IF me IS NOT NULL THEN
        INSERT INTO tussock.roster_change (coop_id, person_id, kind, what, was, became) VALUES (coalesce(NEW.coop_id, OLD.coop_id), me, 'season', coalesce(NEW.year, OLD.year)::text,
            CASE WHEN TG_OP <> 'INSERT' THEN concat_ws(' ', OLD.opens_on, OLD.cut_off_on, OLD.composed_on, OLD.published_on) ELSE '' END,
            CASE WHEN TG_OP <> 'DELETE' THEN concat_ws(' ', NEW.opens_on, NEW.cut_off_on, NEW.composed_on, NEW.published_on) ELSE '' END);
    END IF;
    RETURN NULL;
END
$$;
CREATE TRIGGER log_season AFTER INSERT OR DELETE OR UPDATE OF opens_on, cut_off_on, composed_on, published_on ON tussock.season FOR EACH ROW EXECUTE FUNCTION tussock.log_season();

CREATE OR REPLACE FUNCTION tussock.roster_log(from_then timestamptz) RETURNS TABLE (at timestamptz, by_name text, kind text, what text, was text, became text, mine boolean)
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    own uuid[] := tussock.my_own_ranches();
    outside boolean := tussock.my_role() IN ('planner', 'biologist');
BEGIN
    RETURN QUERY
    SELECT x.at, coalesce(p.name, ''), x.kind, x.what, x.was, x.became, coalesce(x.ranch_id = ANY (own), false)
    FROM tussock.roster_change x LEFT JOIN tussock.person p ON p.coop_id = x.coop_id AND p.id = x.person_id
    WHERE x.coop_id = tussock.my_coop() AND x.at >= from_then AND (NOT outside OR x.kind IN ('area', 'area name', 'area group', 'season', 'take back', 'taken back'))
    ORDER BY x.at DESC, x.id;
END
$$;
-- +goose StatementEnd
