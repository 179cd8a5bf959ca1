package bulletin

import (
	"cmp"
	"maps"
	"slices"

	"tussock/internal/disclosure"
)

// byPlace gives survival by place, where it fits into the budget and readers can tell something by it: where each place has
// landowners enough for everybody, and no range is so wide that two places would not be told apart. Areas stand alone, or all of
// them with their groups. Where neither will do, only the whole cooperative is given, and nobody reads which places there would have been.
func (c *composer) byPlace(b *budget, exact bool) {
	if !exact {
		return
	}
	for _, label := range []func(Area) string{
		func(a Area) string { return a.Name },
		func(a Area) string { return cmp.Or(a.Group, a.Name) },
	} {
		if c.placed(b, label) {
			return
		}
	}
	for _, n := range c.nests {
		n.label = ""
	}
}

// placed gives survival in the places of a partition, or returns false.
func (c *composer) placed(b *budget, label func(Area) string) bool {
	of := map[string]string{}
	for _, a := range c.areas {
		of[a.Name] = label(a)
	}
	c.settlePlaces(of)
	places := map[string][]*looked{}
	for _, n := range b.nests {
		places[n.label] = append(places[n.label], n)
	}
	if len(places) < 2 || places[""] != nil {
		return false
	}
	names := slices.Sorted(maps.Keys(places))
	cells, figures := make([]Cell, len(names)), make([]disclosure.Figure, len(names))
	var rows []row
	for i, name := range names {
		list := places[name]
		n := c.behind(list, c.standards...)
		for _, h := range c.standards {
			if held, _ := c.policy.CheckUnits(units(only(list, h))); held != "" || n < c.policy.ModelEntities {
				return false
			}
		}
		r := c.rateOf(list, c.standards...)
		figure, held := c.rateFigure(r, n, true)
		if held != "" || figure.Estimate == nil || *figure.High-*figure.Low > c.policy.PlaceWidth+1e-9 {
			return false
		}
		cells[i], figures[i] = c.cell(Survival28, name, ""), figure
		cells[i].N = n
		if rows = append(rows, c.meanRow(name)); len(rows) == len(names) {
			rows = rows[:i] // the last follows from the whole and the others, or nearly
		}
	}
	if !b.fits(rows...) {
		return false
	}
	for i, cell := range cells {
		c.publish(cell, cell.N, figures[i])
	}
	c.labels = of
	return true
}

// settlePlaces sets the place of each nest. Whoever is in another place than in the bulletin before stays in the old one until
// as many landowners as make a cell have moved: else the places' figures of two seasons would tell the one's.
func (c *composer) settlePlaces(of map[string]string) {
	exists, moved := map[string]bool{}, map[string]bool{}
	for _, place := range of {
		exists[place] = true
	}
	old := func(n *looked) string {
		if c.before == nil || !c.policy.Waits {
			return of[n.area]
		}
		place := c.before.Places[c.token("ranch", n.id)]
		if !exists[place] {
			return of[n.area]
		}
		return place
	}
	for _, n := range c.nests {
		if n.label = of[n.area]; old(n) != n.label {
			moved[n.entity] = true
		}
	}
	if len(moved) >= c.policy.MinEntities {
		return
	}
	for _, n := range c.nests {
		n.label = old(n)
	}
}
