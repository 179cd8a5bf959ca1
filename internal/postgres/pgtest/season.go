package pgtest

import (
	"context"
	"testing"

	"tussock/internal/access"
)

// Vouch has every owner vouched for: by the first coordinator and by a landowner of another entity.
func (f *Fixture) Vouch(t testing.TB, coop access.ID) {
	t.Helper()
	f.exec(t, `INSERT INTO tussock.vouch (coop_id, owner_id, person_id)
		SELECT e.coop_id, o.id, v.id FROM tussock.ranch x JOIN tussock.entity e ON e.coop_id = x.coop_id AND e.id = x.entity_id
		CROSS JOIN LATERAL unnest(tussock.ranch_owners(x.coop_id, x.id)) o (id) CROSS JOIN LATERAL (
			(SELECT p.id FROM tussock.person p WHERE p.coop_id = e.coop_id AND p.role = 'coordinator' AND p.left_at IS NULL ORDER BY p.joined_at LIMIT 1)
			UNION ALL
			(SELECT a.person_id FROM tussock.assignment a JOIN tussock.ranch r ON r.coop_id = a.coop_id AND r.id = a.ranch_id JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
			 WHERE a.coop_id = e.coop_id AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND r.entity_id <> e.id AND p.left_at IS NULL
			   AND NOT EXISTS (SELECT 1 FROM tussock.assignment m JOIN tussock.assignment n ON n.coop_id = m.coop_id AND n.ranch_id = m.ranch_id AND n.person_id = a.person_id WHERE m.coop_id = e.coop_id AND m.person_id = o.id)
			 ORDER BY a.since LIMIT 1)) v
		WHERE e.coop_id = $1 AND x.erased_at IS NULL ON CONFLICT DO NOTHING`, coop)
}

// Open has a season open today: roster, areas and owners count as they stand now.
func (f *Fixture) Open(t testing.TB, coop access.ID, year int) {
	t.Helper()
	f.exec(t, `INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on)
		SELECT $1, $2, d, d + 60, d + 61, d + 62 FROM (SELECT (now() AT TIME ZONE 'UTC')::date AS d) x`, coop, year)
	f.exec(t, "SELECT tussock.freeze_due($1)", coop)
}

// Cut has the cut-off of a season that is open be past: results count as they stand now.
func (f *Fixture) Cut(t testing.TB, coop access.ID, year int) {
	t.Helper()
	f.exec(t, `UPDATE tussock.season SET opens_on = d - 3, cut_off_on = d - 2, composed_on = d - 2, published_on = d - 2
		FROM (SELECT (now() AT TIME ZONE 'UTC')::date AS d) x WHERE coop_id = $1 AND year = $2`, coop, year)
	f.exec(t, "SELECT tussock.freeze_due($1)", coop)
}

// Approve has all coordinators say yes to an edition, which comes out.
func (f *Fixture) Approve(t testing.TB, coop access.ID, year, edition int) {
	t.Helper()
	f.exec(t, `INSERT INTO tussock.approval (coop_id, season, edition, person_id, yes)
		SELECT coop_id, $2, $3, id, true FROM tussock.person WHERE coop_id = $1 AND role = 'coordinator' AND left_at IS NULL ON CONFLICT DO NOTHING`, coop, year, edition)
	f.exec(t, "SELECT tussock.publish_due($1)", coop)
}

// Later has a bulletin be out for 31 days, so that its final revision is due.
func (f *Fixture) Later(t testing.TB, coop access.ID, year int) {
	t.Helper()
	f.exec(t, "UPDATE pub.bulletin SET published_at = published_at - interval '31 days' WHERE coop_id = $1 AND season = $2", coop, year)
	f.exec(t, "SELECT tussock.freeze_due($1)", coop)
}

func (f *Fixture) exec(t testing.TB, statement string, args ...any) {
	t.Helper()
	if _, err := f.Owner.Exec(context.Background(), statement, args...); err != nil {
		t.Fatal(err)
	}
}
