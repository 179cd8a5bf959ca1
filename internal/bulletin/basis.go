package bulletin

import (
	"math"

	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// A Basis is how many rows of the season stand behind a published number, to the nearest ten; nil below ten landowners and
// where a number does not pass the rules. It says nothing about rows of earlier seasons, which models read as well: their
// bulletins do. A count of all seasons together, less the last bulletin's, would be what came late, and that is perhaps one
// landowner's.
//
// Counts are safe as the cells' figures are. That of nests is the total of an atom, or of atoms together, and each atom's
// nests have passed the rules on amounts; the interval audit supposes anyhow that everybody's nests are known. Transects and
// belts are amounts of their own: they are given by place only where every place passes the rules on them, and over
// substrates only, for one transect may hold several. Where one place may have no count, no place has one (see evenCounts):
// the whole less the others would be the one left out. Rounding comes on top. Figures from models have no counts but those
// of the cells beside them.
type Basis struct {
	Nests     *int `json:"nests"`
	Transects *int `json:"transects"`
	Belts     *int `json:"belts"`
}

// count gives a number of rows behind a figure of n entities.
func (c *composer) count(n, rows int) *int {
	if step := c.policy.CountStep; step > 0 && n >= c.policy.CountEntities {
		return new(step * int(math.Round(float64(rows)/float64(step))))
	}
	return nil
}

// evenCounts takes a count back from all places where one of them has none, whatever the reason: beside the count of the
// whole, those of the others would tell it. It looks at one measure and substrate at a time: over all
// substrates a place has a count only where there are ten landowners in each.
func evenCounts(cells []Cell) {
	type group struct{ measure, substrate string }
	counts := func(cell *Cell) [3]**int { return [3]**int{&cell.Nests, &cell.Transects, &cell.Belts} }
	lacking := map[group][3]bool{}
	each := func(do func(g group, cell *Cell)) {
		for i := range cells {
			if cells[i].Area == nil {
				continue
			}
			g := group{measure: cells[i].Measure}
			if cells[i].Substrate != nil {
				g.substrate = *cells[i].Substrate
			}
			do(g, &cells[i])
		}
	}
	each(func(g group, cell *Cell) {
		lacks := lacking[g]
		for i, n := range counts(cell) {
			lacks[i] = lacks[i] || *n == nil
		}
		lacking[g] = lacks
	})
	each(func(g group, cell *Cell) {
		for i, n := range counts(cell) {
			if lacking[g][i] {
				*n = nil
			}
		}
	})
}

// countsByPlace returns the number of units of the whole cooperative ("") and of each place that it may be given for.
func (c *composer) countsByPlace(units []disclosure.Unit) map[string]int {
	counts := map[string]int{}
	root := c.policy.Split(units, nil, 0)
	for _, node := range append([]*disclosure.Node{root}, root.Children...) {
		if node.Held != "" {
			continue
		}
		for _, u := range units {
			if label := at(node); label == "" || label == u.At[0] {
				counts[label]++
			}
		}
	}
	return counts
}

// transects lists the season's transects with nests in standard substrates, one unit each.
func (c *composer) transects(standards []survey.Substrate) (units []disclosure.Unit) {
	type transect struct{ ranch, name string }
	standard := map[survey.Substrate]bool{}
	for _, h := range standards {
		standard[h] = true
	}
	seen := map[transect]bool{}
	for i := range c.data.Nests {
		n := &c.data.Nests[i]
		m, counted := c.members[n.Ranch]
		h := c.history(n)
		if k := (transect{n.Ranch, n.Transect}); counted && n.Season == c.season && standard[n.Substrate] && (h.Intact > 0 || h.Lost > 0) && !seen[k] {
			seen[k] = true
			units = append(units, disclosure.Unit{Entity: m.entity, Known: m.known, At: []string{c.labels[m.area]}, Amounts: []float64{1}})
		}
	}
	return units
}

// beltUnits is one unit for each belt.
func beltUnits(belts []counts) (units []disclosure.Unit) {
	for _, b := range belts {
		units = append(units, disclosure.Unit{Entity: b.entity, Known: b.known, At: []string{b.label}, Amounts: []float64{1}})
	}
	return units
}

// basis is what the season's cells of a place say of what they rest on, and the fewest entities behind a cell that says so:
// who may not see the cell is not to see it beside a figure.
func (c *composer) basis(label string) (b Basis, least int) {
	least = math.MaxInt
	for _, cell := range c.cells {
		if !cell.Published || cell.Substrate != nil || !same(cell.Area, placeOf(label)) {
			continue
		}
		switch {
		case cell.Measure == Survival28 && cell.Nests != nil:
			b.Nests, b.Transects = cell.Nests, cell.Transects
		case cell.Measure == ClumpsPerAcre && cell.Belts != nil:
			b.Belts = cell.Belts
		default:
			continue
		}
		least = min(least, cell.Gate)
	}
	return b, least
}
