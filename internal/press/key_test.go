package press_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// TestKeyOfABulletin: each bulletin is made with the key of its season's opening, says so, and stays as it is when another is set. The same
// remains in two seasons, shells in halves: raccoons by common practice, skunks by the key that is set between the openings.
func TestKeyOfABulletin(t *testing.T) {
	c := newCoop(t, 12)
	send := func(season int) {
		for i := range c.ranches {
			d := rowsOf(t, i, season)
			for n := range d.Nests {
				if nest := &d.Nests[n]; nest.Fate() == survey.Taken {
					nest.Remains = survey.Remains{Bits: "halves", Bowl: "pulled"}
				}
			}
			c.send(t, i, d, "")
		}
	}
	share := func(season int, animal survey.Predator) float64 {
		t.Helper()
		for _, cell := range c.cells(t, c.owners[0], season) {
			if cell.Measure == bulletin.PredatorShare && cell.Predator == string(animal) && cell.Estimate != nil {
				return *cell.Estimate
			}
		}
		return 0
	}
	set := func(table predator.Table) {
		c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.SetKey(table) })
	}
	ours := predator.Table{Source: "Our cameras", Counts: []predator.Count{
		{Sign: "bits", Answer: "halves", Animal: "skunk", Nests: 180}, {Sign: "bits", Answer: "crumbs", Animal: "skunk", Nests: 20},
		{Sign: "bits", Answer: "halves", Animal: "raccoon", Nests: 2}, {Sign: "bits", Answer: "crumbs", Animal: "raccoon", Nests: 198}}}

	send(2027)
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2027)
	set(ours) // after the opening: for the next season
	c.Cut(t, c.boss.Coop, 2027)
	presstest.Compose(t, c.Fixture)
	c.Approve(t, c.boss.Coop, 2027, 1)
	send(2028)
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2028)

	var heads []postgres.BulletinHead
	c.As(t, c.owners[0], func(tx *postgres.Tx) (err error) {
		heads, err = tx.Bulletins()
		return err
	})
	if len(heads) != 2 {
		t.Fatalf("%d bulletins", len(heads))
	}
	for i, want := range []bulletin.KeyNote{{Version: 1, Source: "Our cameras", Counted: true}, {}} {
		if diff := cmp.Diff(want, heads[i].Key); diff != "" {
			t.Errorf("the key of %d (-want +got):\n%s", heads[i].Season, diff)
		}
	}
	if r, s := share(2027, survey.Raccoon), share(2027, survey.Skunk); r < 0.5 || s > r {
		t.Errorf("2027, by common practice: raccoon %v, skunk %v", r, s)
	}
	if r, s := share(2028, survey.Raccoon), share(2028, survey.Skunk); s < 0.5 || r > 0.1 {
		t.Errorf("2028, by our own cameras: raccoon %v, skunk %v", r, s)
	}

	before, in := c.frozen(t), c.due(t, 2028, 1)
	set(predator.Table{})
	if c.frozen(t) != before {
		t.Error("what is published changes with the key")
	}
	after := c.due(t, 2028, 1)
	if diff := cmp.Diff(in.Key, after.Key); diff != "" || in.KeyVersion != 1 || after.KeyVersion != 1 {
		t.Errorf("the key of 2028 changes from version %d to %d:\n%s", in.KeyVersion, after.KeyVersion, diff)
	}
}
