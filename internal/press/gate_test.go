package press_test

import (
	"fmt"
	"testing"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
)

// TestT03T21WhoSeesACell: five landowners are in a cell. Who opens four of their ranches is not shown it, for the fifth's
// amount would be the total less four known ones (T3); a member with one ranch is. A planner, who gives nothing, is shown none
// of five to nine landowners (T21), and in the next season one of ten.
func TestT03T21WhoSeesACell(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 5)
	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s: %s", o.State, o.Note)
	}
	crew := c.Member(t, c.boss, access.Landowner, "Crew", c.ranches[:4]...)
	planner := c.Member(t, c.boss, access.Planner, "Planner")
	for _, tt := range []struct {
		name  string
		actor access.Actor
		want  bool
	}{{"a member with one ranch", c.owners[0], true}, {"who opens four ranches", crew, false}, {"a planner", planner, false}} {
		if got := len(c.cells(t, tt.actor, 2026)); got > 0 != tt.want {
			t.Errorf("%s sees %d cells on five landowners", tt.name, got)
		}
	}
	for i := 5; i < 10; i++ {
		c.add(t, i)
	}
	for i := range 10 {
		d := rows(t, i)
		for j := range d.Nests {
			n := &d.Nests[j]
			n.Season = 2027
			n.SetOn += 365
			for k := range n.Visits {
				n.Visits[k].On += 365
			}
		}
		for j := range d.Belts {
			d.Belts[j].Season = 2027
		}
		c.As(t, c.owners[i], func(tx *postgres.Tx) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: c.ranches[i], File: "later", Data: fmt.Append(nil, "2027 ", i), Rows: d})
			return err
		})
	}
	if o := c.order(t, 2027, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s: %s", o.State, o.Note)
	}
	if got := len(c.cells(t, planner, 2027)); got == 0 {
		t.Error("a planner sees no cell on ten landowners")
	}
	if got := len(c.cells(t, planner, 2026)); got != 0 {
		t.Errorf("a planner sees %d cells on five landowners a season later", got)
	}
}

// TestT03T21Subtraction: twelve landowners in one place and five in the other. Whose gate keeps the small place from them is
// not shown the big one beside the whole either.
func TestT03T21Subtraction(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 17)
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		if err := tx.SaveArea("South", ""); err != nil {
			return err
		}
		ranches, err := tx.AllRanches()
		for _, r := range ranches {
			if r.Name < "Ranch 12" || err != nil {
				continue
			}
			r.Area = "South"
			_, err = tx.SaveRanch(r)
		}
		return err
	})
	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s: %s", o.State, o.Note)
	}
	crew := c.Member(t, c.boss, access.Landowner, "Crew", c.ranches[12:16]...)
	planner := c.Member(t, c.boss, access.Planner, "Planner")
	for _, tt := range []struct {
		name  string
		actor access.Actor
		want  string // places of which survival is shown
	}{{"a member with one ranch", c.owners[0], " North South"}, {"who opens four of the five", crew, ""}, {"a planner", planner, ""}} {
		places, whole := "", false
		for _, cell := range c.cells(t, tt.actor, 2026) {
			switch {
			case cell.Measure != bulletin.Survival28 || cell.Substrate != nil:
			case cell.Area == nil:
				whole = true
			default:
				places += " " + *cell.Area
			}
		}
		if places != tt.want || !whole {
			t.Errorf("%s reads the whole (%v) and of places%s, want%s", tt.name, whole, places, tt.want)
		}
	}
}
