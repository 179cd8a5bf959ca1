-- What somebody did with a ranch of theirs is noted beside the looks, and is none: it rings no alarm.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION tussock.ring()
 RETURNS trigger
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
DECLARE
    limits record;
    taken record;
    work text[] := ARRAY['page', 'sent', 'phone', 'keyed', 'undone', 'restored', 'owner', 'accepted', 'share', 'share ended', 'letting', 'letting ended'];
BEGIN
    -- What is of no ranch is published: posters, the bulletins' files. A ranch's own people open its pages as often as they like.
    IF NEW.ranch_id IS NULL OR NEW.what = ANY (work) THEN
        RETURN NULL;
    END IF;
    FOR limits IN SELECT * FROM (VALUES ('hour', interval '1 hour', 30), ('day', interval '1 day', 100)) v (span, long, most) LOOP
        -- A page that shows several ranches is one look: its rows have one time.
        SELECT count(DISTINCT l.looked_at) AS n, array_agg(DISTINCT l.ranch_id) AS ranches
        INTO taken FROM tussock.view_log l
        WHERE l.coop_id = NEW.coop_id AND l.person_id = NEW.person_id AND l.looked_at > NEW.looked_at - limits.long AND l.looked_at <= NEW.looked_at
          AND l.ranch_id IS NOT NULL AND l.what <> ALL (work);
        CONTINUE WHEN taken.n <= limits.most;
        UPDATE tussock.alarm a SET ranches = ARRAY(SELECT DISTINCT r FROM unnest(a.ranches || taken.ranches) r)
        WHERE a.coop_id = NEW.coop_id AND a.person_id = NEW.person_id AND a.span = limits.span AND a.rung_at > NEW.looked_at - limits.long;
        IF NOT FOUND THEN
            INSERT INTO tussock.alarm (coop_id, person_id, span, rung_at, ranches) VALUES (NEW.coop_id, NEW.person_id, limits.span, NEW.looked_at, taken.ranches);
        END IF;
    END LOOP;
    RETURN NULL;
END
$function$;
-- +goose StatementEnd
