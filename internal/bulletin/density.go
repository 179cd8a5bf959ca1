package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/stat/interval"
)

// A belt is what was counted on one, the plants of all kinds together.
type belt struct {
	member
	ranch  string
	label  string // its place
	acres  float64
	clumps int
}

func (b belt) unit() disclosure.Unit {
	return disclosure.Unit{Entity: b.entity, Known: b.known, New: b.fresh, Amounts: []float64{b.acres, float64(b.clumps)}}
}

func beltUnits(belts []belt) (us []disclosure.Unit) {
	for _, b := range belts {
		us = append(us, b.unit())
	}
	return us
}

// density adds the cells of clumps an acre.
//
// Cover changes slowly, so the figures of two seasons work like two versions of one: with one ranch more in the second,
// their difference is its value. So whoever joins waits until as many landowners as make a cell have come or gone. Where a few
// left, or walked no belt, and the others are no crowd, nothing is given, not even a band: beside the figure of before it would tell of them
// almost as much as digits do. What was given last still serves.
func (c *composer) density() {
	whole := c.cell(ClumpsPerAcre, "", "")
	now, apart := c.waited(c.belts())
	held, n := c.policy.CheckUnits(beltUnits(now))
	if held == "" && !apart {
		held = disclosure.TooMuch
	}
	if held != "" {
		c.hold(whole, held)
		return
	}
	rows := []func(belt) float64{func(belt) float64 { return 1 }}
	digits := c.fit(now, rows)
	c.cover = [][]Walked{c.walked(now)}
	scatter := scatterOf(now)
	whole.Belts = c.countUnits(n, pickUnits(now))
	c.densityCell(whole, now, n, scatter, digits)

	places := map[string][]belt{}
	for _, b := range now {
		places[b.label] = append(places[b.label], b)
	}
	if places[""] != nil { // nothing is given by place
		return
	}
	names := slices.Sorted(maps.Keys(places))
	for _, name := range names[:len(names)-1] {
		rows = append(rows, func(b belt) float64 {
			if b.label == name {
				return 1
			}
			return 0
		})
	}
	for _, name := range names {
		held, n := c.policy.CheckUnits(beltUnits(places[name]))
		if held != "" || n < c.policy.ModelEntities || c.policy.Waits && !c.apart(places[name]) {
			return
		}
	}
	digits = digits && c.fit(now, rows)
	for _, name := range names {
		_, n := c.policy.CheckUnits(beltUnits(places[name]))
		c.cover = slices.Insert(c.cover, 0, c.walked(places[name]))
		c.densityCell(c.cell(ClumpsPerAcre, name, ""), places[name], n, scatter, digits)
	}
}

// fit tells whether totals of clumps do not tell too much. Beforehand an owner's clumps vary as the square of the ground
// that they were counted on.
func (c *composer) fit(belts []belt, rows []func(belt) float64) bool {
	var list []disclosure.Stake
	var acres []float64
	for i, b := range belts { // in order of owner
		if i == 0 || b.entity != belts[i-1].entity {
			list = append(list, disclosure.Stake{Entity: b.entity, Known: b.known})
			acres = make([]float64, len(rows))
		}
		for r, of := range rows {
			acres[r] += of(b) * b.acres
		}
		spread := square(len(rows))
		for r := range rows {
			for q := range rows {
				spread[r][q] = acres[r] * acres[q]
			}
		}
		list[len(list)-1].Spread = spread
	}
	return c.policy.Tells(list) == ""
}

func pickUnits(belts []belt) (us []disclosure.Unit) {
	for _, b := range belts {
		us = append(us, disclosure.Unit{Entity: b.entity, Known: b.known, Amounts: []float64{1}})
	}
	return us
}

// crowd is from how many landowners on one who left is nearly lost among the others: T40 reads their clumps from two seasons with r = 0.07, where
// chance does with 0.06 in a thousand cases and 0.14 in two hundred. Ours.
const crowd = 25

// waited returns the belts that the season's figure is made of: those of today, or those of today among whom it was last given for. It
// is false where either would tell of a few.
func (c *composer) waited(today []belt) (rows []belt, apart bool) {
	if !c.policy.Waits || c.apart(today) {
		return today, true
	}
	was := map[string]bool{}
	for _, w := range c.before.Cover[len(c.before.Cover)-1] {
		was[w.Ranch] = true
	}
	rows = pick(today, func(b belt) bool { return was[c.token("ranch", b.id)] })
	return rows, len(rows) > 0 && c.apart(rows)
}

// apart tells whether the difference of a figure on these belts and of any earlier one, of the whole or of a place, is nobody's: the same
// ranches, or so many landowners came or went as make a cell; or a crowd is left.
func (c *composer) apart(rows []belt) bool {
	if c.before == nil {
		return true
	}
	is, entities := map[string]string{}, map[string]bool{}
	for _, w := range c.walked(rows) {
		is[w.Ranch], entities[w.Entity] = w.Entity, true
	}
	for _, set := range c.before.Cover {
		changed, was, came := map[string]bool{}, map[string]bool{}, false
		for _, w := range set {
			was[w.Ranch] = true
			if is[w.Ranch] == "" {
				changed[w.Entity] = true
			}
		}
		for ranch, entity := range is {
			if !was[ranch] {
				changed[entity], came = true, true
			}
		}
		if n := len(changed); n > 0 && n < c.policy.MinEntities && (came || len(entities) < crowd) {
			return false
		}
	}
	return true
}

// walked lists the ranches with belts, as tokens.
func (c *composer) walked(rows []belt) (list []Walked) {
	for _, b := range rows {
		if w := (Walked{c.token("entity", b.entity), c.token("ranch", b.id)}); !slices.Contains(list, w) {
			list = append(list, w)
		}
	}
	return list
}

// belts reads those of the season on which something was counted over a known area.
func (c *composer) belts() (list []belt) {
	places := map[string]string{}
	for _, n := range c.nests {
		places[n.Ranch] = n.label
	}
	for i := range c.data.Belts {
		b := &c.data.Belts[i]
		m, counted := c.members[b.Ranch]
		if !counted || b.Season != c.season || !(b.Acres() > 0) || len(b.Counts) == 0 {
			continue
		}
		row := belt{member: m, ranch: b.Ranch, label: c.labels[m.area], acres: b.Acres()}
		if place, ok := places[b.Ranch]; ok {
			row.label = place
		}
		for _, n := range b.Counts {
			row.clumps += n
		}
		list = append(list, row)
	}
	// Sums of acres depend on their order in the last bits.
	slices.SortFunc(list, func(a, b belt) int {
		return cmp.Or(cmp.Compare(a.entity, b.entity), cmp.Compare(a.ranch, b.ranch), cmp.Compare(a.acres, b.acres), cmp.Compare(a.clumps, b.clumps))
	})
	return list
}

// scatterOf is how far belts lie apart: the standard deviation of a belt of usual size over the mean, on steps, as the ratio
// estimator has it (Cochran 1977, Sampling Techniques, 6.3). One for all figures of the season.
func scatterOf(belts []belt) float64 {
	clumps, acres := sums(belts)
	if clumps == 0 || len(belts) < 2 {
		return 0
	}
	v := 0.0
	for _, b := range belts {
		r := float64(b.clumps) - clumps/acres*b.acres
		v += r * r
	}
	m := float64(len(belts))
	return onStep(math.Sqrt(v*m/(m-1))*math.Sqrt(m)/clumps, 0.05, 3, 0.05)
}

func sums(belts []belt) (clumps, acres float64) {
	for _, b := range belts {
		clumps, acres = clumps+float64(b.clumps), acres+b.acres
	}
	return clumps, acres
}

func (c *composer) densityCell(cell Cell, belts []belt, n int, scatter float64, digits bool) {
	clumps, acres := sums(belts)
	estimate := clumps / acres // above 0: five entities have clumps
	if !digits {
		c.publish(cell, n, c.policy.Band(estimate))
		return
	}
	m := float64(len(belts))
	low, high := interval.Log(estimate, estimate*scatter/math.Sqrt(m), m-1).Interval(interval.Level)
	if high-low > c.policy.MaxRelativeWidth*estimate {
		c.hold(cell, disclosure.TooVague)
		return
	}
	c.publish(cell, n, c.policy.Density(estimate, low, high))
}
