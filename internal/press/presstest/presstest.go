// Package presstest lets seasons pass in tests.
package presstest

import (
	"context"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/press"
)

// Compose composes what is due, as the press does when its day has come and a sheet that nobody reads has been waited for long enough.
func Compose(t testing.TB, f *pgtest.Fixture) {
	t.Helper()
	ctx := context.Background()
	p := f.Press(t)
	p.Version = "the test's"
	if _, err := f.Owner.Exec(ctx, "DELETE FROM tussock.unread"); err != nil {
		t.Fatal(err)
	}
	for {
		due, err := f.Owner.Text(ctx, `SELECT count(*)::text FROM tussock.edition e JOIN tussock.season s ON s.coop_id = e.coop_id AND s.year = e.season
			WHERE e.composed_at IS NULL AND e.note = '' AND (e.edition = 2 OR s.composed_on <= (now() AT TIME ZONE 'UTC')::date)`)
		if err != nil {
			t.Fatal(err)
		}
		if due == "0" {
			break
		}
		if err := press.Once(ctx, p); err != nil {
			t.Fatal(err)
		}
	}
	p.Close()
}

// Publish has a season pass from its opening to the day its bulletin is out, with everybody vouched for.
func Publish(t testing.TB, f *pgtest.Fixture, coop access.ID, year int) {
	t.Helper()
	f.Vouch(t, coop)
	f.Open(t, coop, year)
	f.Cut(t, coop, year)
	Compose(t, f)
	f.Approve(t, coop, year, 1)
	out, err := f.Owner.Text(context.Background(), "SELECT coalesce(published_at::text, '') FROM pub.bulletin WHERE coop_id = $1 AND season = $2", coop, year)
	if err != nil || out == "" {
		note, _ := f.Owner.Text(context.Background(), "SELECT note FROM tussock.edition WHERE coop_id = $1 AND season = $2 AND edition = 1", coop, year)
		t.Fatalf("the bulletin of %d is not out: %v, %q", year, err, note)
	}
}
