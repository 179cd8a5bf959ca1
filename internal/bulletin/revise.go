package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// notBefore is why a final revision does not give a figure that the first edition held.
const notBefore disclosure.Reason = "the first edition does not give it"

// revise makes the final revision of a season's survival. The density and the mix stay as they are: the one is bound to
// its roster, the other is a model's.
//
// Whoever lays two editions side by side has the difference of their totals, so who changed must be a cell by itself:
// five landowners at least in every total that changed, and none of them most of the change in nests, in days or in
// losses; nor may they have changed all alike. And a revision only gives anew what the first edition gave: what appeared or
// went would tell as well.
func (c *composer) revise() error {
	if err := c.stayed(); err != nil {
		return err
	}
	held, changed := c.difference()
	c.step(Survival28, "difference to the first edition", held)
	switch {
	case !changed:
		return errs.Tell(errs.Conflict, words.Later("Nothing in the figures of %d has changed.", c.season), nil)
	case held != "":
		return tooLittle(c.season)
	}
	given := map[string]bool{}
	for _, cell := range c.prior.Cells {
		if revised(cell.Measure) && cell.Published {
			given[cell.name()] = true
		}
	}
	var cells []Cell
	for _, cell := range c.cells {
		switch {
		case !revised(cell.Measure):
			continue
		case cell.Published && !given[cell.name()]:
			cell = Cell{Season: cell.Season, Area: cell.Area, Substrate: cell.Substrate, Measure: cell.Measure, HeldBecause: string(notBefore)}
		case cell.Published:
			delete(given, cell.name())
			cell.Transects = nil // who differs was checked on nests, days and losses
		}
		cells = append(cells, cell)
	}
	if len(given) > 0 {
		return tooLittle(c.season)
	}
	for _, cell := range c.prior.Cells {
		if !revised(cell.Measure) {
			cells = append(cells, cell)
		}
	}
	c.cells = cells
	c.log.Roster, c.log.RosterSince = c.prior.Log.Roster, c.prior.Log.RosterSince
	return nil
}

// revised tells what a final revision gives anew. The totals of the crude rate are sums of those of the others, and so are
// the differences of two editions.
func revised(measure string) bool { return measure == Survival28 || measure == SurvivalCrude }

func tooLittle(season int) error {
	return errs.Tell(errs.Conflict, words.Later("Too few landowners' sheets have changed, or all of them alike, for a final revision of %d: the difference would show what changed. The figures stay as they are, and what came later counts for the next bulletin.", season), nil)
}

// difference checks, total by total, who differs from the first edition.
func (c *composer) difference() (held disclosure.Reason, changed bool) {
	known := map[string]bool{}
	for _, m := range c.members {
		if m.known {
			known[c.token("entity", m.entity)] = true
		}
	}
	before, after := versions(c.prior.Log.Totals), versions(c.log.Totals)
	cells := maps.Clone(before)
	maps.Copy(cells, after)
	substrates := map[string]bool{} // in which something changed
	for _, cell := range slices.Sorted(maps.Keys(cells)) {
		if measureOf(cell) != Survival28 {
			continue
		}
		who, by := disclosure.Amounts{}, []disclosure.Amounts{{}, {}, {}}
		entities := maps.Clone(before[cell])
		if entities == nil {
			entities = map[string]version{}
		}
		maps.Copy(entities, after[cell])
		for e := range entities {
			x, y := before[cell][e], after[cell][e]
			if x.columns == y.columns {
				continue
			}
			changed, substrates[substrateOf(cell)] = true, true
			if known[e] {
				continue
			}
			who[e] = 1
			for i := range by {
				by[i][e] = math.Abs(x.amounts[i] - y.amounts[i])
			}
		}
		if !c.policy.Revisions || len(who) == 0 {
			continue
		}
		for _, a := range append(by, who) {
			if why := c.policy.Check(a); why != "" && why != disclosure.Nobody && held == "" {
				held = why
			}
		}
	}
	// Also of a place where nothing changed: beside two editions of the others' roundings, an open band is narrower.
	for _, cell := range slices.Sorted(maps.Keys(cells)) {
		if c.policy.Revisions && measureOf(cell) == Survival28 && substrates[substrateOf(cell)] {
			held = cmp.Or(held, c.policy.AuditEditions(keptIn(before[cell], known), keptIn(after[cell], known)))
		}
	}
	return held, changed
}

// keptIn gives each entity's nests in a total and those not lost.
func keptIn(total map[string]version, known map[string]bool) (ps []disclosure.Part) {
	for e, v := range total {
		ps = append(ps, disclosure.Part{Entity: e, Known: known[e], Kept: v.amounts[0] - v.amounts[2], Of: v.amounts[0]})
	}
	return ps
}

// A version is what one entity has in a total.
type version struct {
	columns string
	amounts [3]float64
}

func versions(totals []LoggedTotal) map[string]map[string]version {
	all := map[string]map[string]version{}
	for _, t := range totals {
		all[t.Cell] = map[string]version{}
		for _, p := range t.Parts { // in order of entity and column
			v := all[t.Cell][p.Entity]
			v.columns += p.Column + "\n"
			for i, x := range p.Amounts {
				v.amounts[i] += x
			}
			all[t.Cell][p.Entity] = v
		}
	}
	return all
}
