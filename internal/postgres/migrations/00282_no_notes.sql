-- What was said on the telephone stays there, and when members were last here is theirs: a coordinator reads neither. The list of landowners
-- counts a coordinator's word for as long as it counts.

-- +goose Up
ALTER TABLE tussock.late_call DROP COLUMN note;
-- +goose StatementBegin
DO $$
DECLARE
    x record;
    was text;
    now text;
BEGIN
    FOR x IN SELECT * FROM (VALUES
        ('open_session(uuid, uuid, interval, interval, text)', '    UPDATE tussock.person p SET seen_at = now() WHERE p.coop_id = coop AND p.id = person AND p.left_at IS NULL AND p.suspended_at IS NULL;' || chr(10), ''),
        ('whoami()', '        RETURNING s.coop_id, s.person_id' || chr(10) || '    ), seen AS (' || chr(10) || '        UPDATE tussock.person p SET seen_at = now() FROM touched t WHERE p.coop_id = t.coop_id AND p.id = t.person_id' || chr(10) || '    )', '    )'),
        ('owners_to_vouch()', '(SELECT count(*)::integer FROM tussock.vouch v WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND v.ended_at IS NULL)',
            '(SELECT count(*)::integer FROM tussock.vouch v JOIN tussock.person w ON w.coop_id = v.coop_id AND w.id = v.person_id
                WHERE v.coop_id = coop AND v.owner_id = o.owner_id AND (v.ended_at IS NULL OR w.role = ''coordinator'' AND v.ended_at > now() - interval ''30 days''))'),
        ('owners_to_vouch()', 'v.owner_id = x.id AND v.ended_at IS NULL', 'v.owner_id = x.id AND (v.ended_at IS NULL OR p.role = ''coordinator'' AND v.ended_at > now() - interval ''30 days'')')
    ) v (name, old, new) LOOP
        was := pg_get_functiondef(('tussock.' || x.name)::regprocedure);
        now := replace(was, x.old, x.new);
        IF now = was THEN
            RAISE EXCEPTION '% is another', x.name;
        END IF;
        EXECUTE now;
    END LOOP;
END
$$;
-- +goose StatementEnd
ALTER TABLE tussock.person DROP COLUMN seen_at;
