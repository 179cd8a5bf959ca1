package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/stat/density"
	"tussock/internal/stat/interval"
)

// counts is what one ranch counted on one belt.
type counts struct {
	member
	ranch  string
	label  string
	acres  float64
	clumps int
}

// density adds the cells of clumps an acre, the plants of every belt together.
func (c *composer) density() {
	now := c.counts(c.season)
	var plan []disclosure.Unit
	if c.plan > 0 {
		plan = countUnits(c.counts(c.plan))
	}
	root := c.policy.Split(countUnits(now), plan, 0)
	c.densityCell("", root, now)

	groups := byPlace(now, func(b counts) string { return b.label })
	for _, node := range root.Children {
		c.densityCell(node.At[0], node, groups[node.At[0]])
	}
	for _, label := range c.placeLabels() {
		if !slices.ContainsFunc(root.Children, func(n *disclosure.Node) bool { return n.At[0] == label }) {
			c.hold(c.cell(ClumpsPerAcre, label, ""), unsplit(root.Held, len(groups[label])))
		}
	}
}

// counts reads the belts of a season on which something was counted over a known area.
func (c *composer) counts(season int) []counts {
	var belts []counts
	for i := range c.data.Belts {
		b := &c.data.Belts[i]
		m, counted := c.members[b.Ranch]
		if !counted || b.Season != season || !(b.Acres() > 0) || len(b.Counts) == 0 {
			continue
		}
		row := counts{member: m, ranch: b.Ranch, label: c.labels[m.area], acres: b.Acres()}
		for _, n := range b.Counts {
			row.clumps += n
		}
		belts = append(belts, row)
	}
	// Sums of acres depend on their order in the last bits.
	slices.SortFunc(belts, func(a, b counts) int {
		return cmp.Or(cmp.Compare(a.entity, b.entity), cmp.Compare(a.ranch, b.ranch), cmp.Compare(a.acres, b.acres), cmp.Compare(a.clumps, b.clumps))
	})
	return belts
}

func countUnits(belts []counts) []disclosure.Unit {
	if len(belts) == 0 {
		return nil
	}
	us := make([]disclosure.Unit, len(belts))
	for i, b := range belts {
		us[i] = disclosure.Unit{Entity: b.entity, Known: b.known, At: []string{b.label}, Amounts: []float64{b.acres, float64(b.clumps)}}
	}
	return us
}

func (c *composer) densityCell(label string, node *disclosure.Node, belts []counts) {
	cell := c.cell(ClumpsPerAcre, label, "")
	if node.Held != "" {
		c.hold(cell, node.Held)
		return
	}
	estimate, low, high := perAcre(belts)
	switch {
	case high-low > c.policy.MaxRelativeWidth*estimate:
		c.hold(cell, disclosure.TooVague)
	case c.steady(label, belts):
		c.publish(cell, node.N, c.policy.Density(node.N, estimate, low, high))
	default:
		c.publish(cell, node.N, c.policy.Band(estimate))
	}
}

// perAcre estimates a density with entities as the clusters, from the total of each; the interval is never narrower
// than that of clumps at random.
func perAcre(belts []counts) (estimate, low, high float64) {
	totals := map[string]density.Belt{}
	for _, b := range belts {
		t := totals[b.entity]
		totals[b.entity] = density.Belt{Count: t.Count + b.clumps, Area: t.Area + b.acres}
	}
	var clusters []density.Belt
	for _, entity := range slices.Sorted(maps.Keys(totals)) {
		clusters = append(clusters, totals[entity])
	}
	fit := density.Fit(clusters)
	low, high = fit.Interval()
	if random := math.Sqrt(float64(fit.Count)) / fit.Area; fit.Basis == density.BeltToBelt && fit.SE < random {
		low, high = interval.Log(fit.Density, random, float64(len(clusters)-1)).Interval(interval.Level)
	}
	return fit.Density, low, high
}

// steady tells whether a density may be published finer than a band. Cover changes slowly, so the figures of two
// seasons work like two versions of one: with one ranch more in the second, their difference is its value. So the
// ranches must be those of every earlier season whose figure was finer than a band, or differ by a set that would
// pass as a cell by itself. Where the earlier contributors are not all in the data any more, nobody can tell.
func (c *composer) steady(label string, belts []counts) bool {
	for _, b := range c.earlier {
		for _, cell := range b.Cells {
			same := cell.Area == nil && label == "" || cell.Area != nil && *cell.Area == label
			if cell.Measure != ClumpsPerAcre || cell.Estimate == nil || !same {
				continue
			}
			then := pick(c.counts(b.Season), func(b counts) bool { return label == "" || b.label == label })
			if _, n := c.policy.CheckUnits(countUnits(then)); n != cell.N {
				return false
			}
			if changed := difference(belts, then); len(changed) > 0 {
				if held, _ := c.policy.CheckUnits(countUnits(changed)); held != "" {
					return false
				}
			}
		}
	}
	return true
}

// difference returns the belts of ranches that are in one season only.
func difference(a, b []counts) []counts {
	ranches := func(belts []counts) map[string]bool {
		in := map[string]bool{}
		for _, x := range belts {
			in[x.ranch] = true
		}
		return in
	}
	inA, inB := ranches(a), ranches(b)
	return append(
		pick(a, func(x counts) bool { return !inB[x.ranch] }),
		pick(b, func(x counts) bool { return !inA[x.ranch] })...)
}
