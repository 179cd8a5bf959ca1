package bulletin

import (
	"fmt"
	"maps"
	"math"

	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Revise makes the one final revision of a season's survival, from the rows as they were at the first cut-off and as they were at the last one; the
// roster is the same. All else stays as it was published.
//
// Whoever lays two editions side by side has the difference of their totals, so who changed must be a cell by itself:
// five landowners at least in every total that changed, and none of them most of the change in nests, in days or in
// losses; nor may they have changed all alike. And a revision only gives anew what the first edition gave: what appeared or
// went would tell as well. It is a Conflict where any of this is not so, or nothing has changed.
func Revise(published Bulletin, first, last Input) (Bulletin, error) {
	return reviseUnder(disclosure.Default(), published, first, last)
}

func reviseUnder(policy disclosure.Policy, published Bulletin, first, last Input) (Bulletin, error) {
	one, err := newComposer(policy, first)
	if err != nil {
		return Bulletin{}, err
	}
	one.survival()
	two, err := newComposer(policy, last)
	if err != nil {
		return Bulletin{}, err
	}
	two.standards, two.labels = one.standards, one.labels
	labels := map[string]string{}
	for _, n := range one.nests {
		labels[n.Ranch] = n.label
	}
	for _, n := range two.nests {
		place, ok := labels[n.Ranch]
		if n.label = place; !ok {
			n.label = two.labels[n.area]
		}
	}
	switch held, changed := two.difference(one, published); {
	case !changed:
		return Bulletin{}, errs.Tell(errs.Conflict, words.Later("Nothing in the figures of %d has changed.", last.Season), nil)
	case held != "":
		return Bulletin{}, tooLittle(last.Season)
	}
	return two.revised(published, last)
}

// revised gives anew each survival that was given, and copies all else.
func (c *composer) revised(published Bulletin, in Input) (Bulletin, error) {
	c.assume(c.rateOf(only(c.nests, c.standards...), c.standards...))
	for _, cell := range published.Cells {
		if cell.Published && cell.Measure == DesignEffect {
			c.effects.design = *cell.Estimate
		}
		if cell.Published && cell.Measure == OwnerSpread {
			c.effects.spread = *cell.Estimate
		}
	}
	c.settle(c.rateOf(only(c.nests, c.standards...), c.standards...))
	for _, cell := range published.Cells {
		if cell.Measure != Survival28 || !cell.Published {
			c.cells = append(c.cells, cell)
			continue
		}
		covers := c.standards
		if cell.Substrate != nil {
			covers = []survey.Substrate{survey.Substrate(*cell.Substrate)}
		}
		nests := pick(only(c.nests, covers...), func(n *looked) bool { return cell.Area == nil || n.label == *cell.Area })
		figure, held := c.rateFigure(c.rateOf(nests, covers...), c.behind(nests, covers...), cell.Estimate != nil)
		if held != "" || (figure.Estimate == nil) != (cell.Estimate == nil) {
			return Bulletin{}, tooLittle(c.season)
		}
		cell.Estimate, cell.Low, cell.High = figure.Estimate, figure.Low, figure.High
		cell.Basis = Basis{} // who differs was checked on nests, days and losses
		c.cells = append(c.cells, cell)
	}
	b := Bulletin{Season: in.Season, Edition: 2, Version: in.Version, Cells: c.cells, Covers: published.Covers, Places: published.Places, Log: published.Log}
	return b, b.seal(in.Salt)
}

// Gone says that a season has no final revision because somebody who was counted is counted no longer.
func Gone(season int) error {
	return errs.Tell(errs.Conflict, words.Later("The figures of %d stay as they are: not everybody who was counted in them is counted now, and figures without them would show what was theirs. What came later counts for the next bulletin.", season), nil)
}

func tooLittle(season int) error {
	return errs.Tell(errs.Conflict, words.Later("Too few landowners' sheets have changed, or all of them alike, for a final revision of %d: the difference would show what changed. The figures stay as they are, and what came later counts for the next bulletin.", season), nil)
}

// A version is what one entity has in a total.
type version struct {
	rows    string
	amounts [3]float64 // nests, days and losses
	known   bool
}

// versions gives what each entity has in the total of a cell.
func (c *composer) versions(cell Cell) map[string]version {
	all := map[string]version{}
	for _, n := range only(c.nests, c.standards...) { // in an order of their own
		if cell.Substrate != nil && *cell.Substrate != string(n.substrate) || cell.Area != nil && *cell.Area != n.label {
			continue
		}
		v := all[n.entity]
		v.rows += fmt.Sprint(n.substrate, n.nest.Intact, n.nest.Lost, n.taken.Lost, ";")
		v.known = n.known
		for i, x := range n.unit().Amounts {
			v.amounts[i] += x
		}
		if n.nest.Lost > 0 {
			v.amounts[2]++
		}
		all[n.entity] = v
	}
	return all
}

// difference checks, total by total, who differs from the first edition.
func (c *composer) difference(one *composer, published Bulletin) (held disclosure.Reason, changed bool) {
	fail := func(why disclosure.Reason) {
		if held == "" && why != disclosure.Nobody {
			held = why
		}
	}
	for _, cell := range published.Cells {
		if cell.Measure != Survival28 || !cell.Published {
			continue
		}
		before, after := one.versions(cell), c.versions(cell)
		who, by := disclosure.Amounts{}, []disclosure.Amounts{{}, {}, {}}
		entities := maps.Clone(before)
		maps.Copy(entities, after)
		for e, v := range entities {
			x, y := before[e], after[e]
			if x.rows == y.rows {
				continue
			}
			changed = true
			if v.known {
				continue
			}
			who[e] = 1
			for i := range by {
				by[i][e] = math.Abs(x.amounts[i] - y.amounts[i])
			}
		}
		if !c.policy.Revisions {
			continue
		}
		if len(who) > 0 {
			for _, a := range append(by, who) {
				fail(c.policy.Check(a))
			}
		}
		// Also of a place where nothing changed: beside two editions of the others' roundings, an open band is narrower.
		fail(c.policy.AuditEditions(keptIn(before), keptIn(after)))
	}
	return held, changed
}

// keptIn gives each entity's nests in a total and those not lost.
func keptIn(total map[string]version) (ps []disclosure.Part) {
	for e, v := range total {
		ps = append(ps, disclosure.Part{Entity: e, Known: v.known, Kept: v.amounts[0] - v.amounts[2], Of: v.amounts[0]})
	}
	return ps
}
