package press_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// TestKeyOfABulletin: each bulletin is made with the key of its season's opening, says so, and stays as it is when another is set. The same
// remains in two seasons; the key that is set between their openings has raccoon and skunk change places, and so they do in the bulletin.
func TestKeyOfABulletin(t *testing.T) {
	c := newCoop(t, 12)
	send := func(season int) {
		for i := range c.ranches {
			d := rowsOf(t, i, season)
			for n := range d.Nests {
				if nest := &d.Nests[n]; nest.Fate() == survey.Taken {
					nest.Remains = &survey.Remains{Bits: "halves", Holes: "paired"}
					switch n / 3 % 4 {
					case 0:
						nest.Remains = &survey.Remains{Bits: "near_whole", Holes: "pecked", Inside: "pooled"}
					case 1:
						nest.Remains = &survey.Remains{Holes: "pin", Inside: "full"} // ants, for one
					}
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
		return 0 // not named
	}
	set := func(table predator.Table) {
		c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.SetKey(table) })
	}
	ours := predator.Common()
	ours.Source = "A book that has them the other way round"
	for i, l := range ours.Leanings {
		if other, ok := map[string]string{"raccoon": "skunk", "skunk": "raccoon"}[l.Animal]; ok {
			ours.Leanings[i].Animal = other
		}
	}

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
	for i, want := range []bulletin.KeyNote{{Version: 1, Source: ours.Source}, {}} {
		if diff := cmp.Diff(want, heads[i].Key); diff != "" {
			t.Errorf("the key of %d (-want +got):\n%s", heads[i].Season, diff)
		}
	}
	const step = 0.05 // by which draws may differ
	if was, is := share(2027, survey.Raccoon), share(2028, survey.Skunk); was < 0.3 || math.Abs(is-was) > step+1e-9 || share(2028, survey.Raccoon) != share(2027, survey.Skunk) {
		t.Errorf("2027, by common practice: raccoon %v, skunk %v; 2028, by the other table: raccoon %v, skunk %v", was, share(2027, survey.Skunk), share(2028, survey.Raccoon), is)
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
