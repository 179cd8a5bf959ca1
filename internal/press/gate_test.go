package press_test

import (
	"testing"

	"tussock/internal/access"
	"tussock/internal/press/presstest"
)

// TestT03T21WhoSeesACell: seven landowners are in a cell. Who opens four of their ranches is not shown it, for what is left would
// be of three (T3); a member with one ranch is. A planner, who gives nothing, is shown none of five to nine landowners (T21), and in
// the next season one of ten.
func TestT03T21WhoSeesACell(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 7)
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
	crew := c.Member(t, c.boss, access.Landowner, "Crew", c.ranches[:4]...)
	planner := c.Member(t, c.boss, access.Planner, "Planner")
	for _, tt := range []struct {
		name  string
		actor access.Actor
		want  bool
	}{{"a member with one ranch", c.owners[6], true}, {"who opens four ranches", crew, false}, {"a planner", planner, false}} {
		if got := len(c.cells(t, tt.actor, 2026)); got > 0 != tt.want {
			t.Errorf("%s sees %d cells on seven landowners", tt.name, got)
		}
	}
	for _, ranch := range c.ranches[:4] { // four owners with a person in common would be one
		c.TakeOff(t, c.boss, crew.Person, ranch)
	}
	for i := 7; i < 10; i++ {
		c.add(t, i)
	}
	for i := range 10 {
		c.send(t, i, rowsOf(t, i, 2027), "")
	}
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2027)
	if got := len(c.cells(t, planner, 2027)); got == 0 {
		t.Error("a planner sees no cell on ten landowners")
	}
	if got := len(c.cells(t, planner, 2026)); got != 0 {
		t.Errorf("a planner sees %d cells on seven landowners a season later", got)
	}
}
