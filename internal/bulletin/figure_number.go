package bulletin

import (
	"math"
	"slices"
	"strconv"

	"tussock/internal/disclosure"
)

// numbers are the figures of a season by name, before anything is rounded.
type numbers map[string]number

// A number is one published figure: its values are shown together or not at all.
type number []reading

// A reading is a value on its way to its grid.
type reading struct {
	raw   float64
	round func(float64) float64 // to a whole number of steps
	grids []grid                // the one of its number of landowners, then coarser ones
	rough float64               // how far off a one-step fit may have it, in steps of the finest grid
}

// A grid is what values are rounded to: the ends of a list, or else steps by a factor, counted from anchor, or else steps
// by a difference, counted from zero.
type grid struct {
	ends   []float64
	step   float64
	anchor float64 // 0 on a grid of differences
	digits int     // significant ones on a grid of factors
}

// steps returns x in steps.
func (g grid) steps(x float64) float64 {
	switch {
	case g.ends != nil: // the first end that is not below x
		i, _ := slices.BinarySearch(g.ends, x)
		return float64(min(i, len(g.ends)-1))
	case g.anchor > 0:
		return math.Log(x/g.anchor) / math.Log(g.step)
	}
	return x / g.step
}

// at returns the value after so many steps, without the noise of the last digits.
func (g grid) at(steps float64) float64 {
	switch {
	case g.ends != nil:
		return g.ends[int(steps)]
	case g.anchor > 0:
		x, _ := strconv.ParseFloat(strconv.FormatFloat(g.anchor*math.Pow(g.step, steps), 'g', g.digits, 64), 64)
		return x
	}
	return math.Round(1e4*steps*g.step)/1e4 + 0 // never −0
}

// Values a whole number of steps but for the last bits of their computation are taken as that.
func outwardDown(x float64) float64 { return math.Floor(x + 1e-9) }
func outwardUp(x float64) float64   { return math.Ceil(x - 1e-9) }

// estimated makes a number of an estimate and its interval, rounded outward. It is none where a value cannot be put on
// the grids.
func estimated(estimate, low, high float64, grids []grid) number {
	rough := 0.02 + 0.05*(grids[0].steps(high)-grids[0].steps(low))/2
	return number{{estimate, math.Round, grids, rough}, {low, outwardDown, grids, rough}, {high, outwardUp, grids, rough}}.told()
}

// single makes a number of one value.
func single(x float64, round func(float64) float64, grids []grid) number {
	return number{{raw: x, round: round, grids: grids}}.told()
}

func (n number) told() number {
	for _, r := range n {
		for _, g := range r.grids {
			if s := g.steps(r.raw); math.IsNaN(s) || math.IsInf(s, 0) || math.Abs(s) > 1e9 {
				return nil
			}
		}
	}
	return n
}

// on returns a number's values on its grid of this coarseness, in steps.
func (n number) on(level int) []float64 {
	at := make([]float64, len(n))
	for i, r := range n {
		at[i] = r.round(r.grids[level].steps(r.raw))
	}
	return at
}

// values returns a number as it is published.
func (n number) values(level int) []float64 {
	at := n.on(level)
	for i := range at {
		at[i] = n[i].grids[level].at(at[i])
	}
	return at
}

// release puts every number on the finest of its grids on which leaving out any one entity moves none of its values by
// more than a step; without holds the same numbers, each time without one of them. A number that moves on every grid,
// or that cannot be told without somebody, is held: it is not in what release returns.
func (all numbers) release(without []numbers) map[string][]float64 {
	shown := map[string][]float64{}
	for name, n := range all {
		if level, ok := n.steady(name, without); ok {
			shown[name] = n.values(level)
		}
	}
	return shown
}

// surely tells whether numbers of a one-step fit are certain to be within a step of all on the finest grids, so that the
// fit itself need not be made. A step on the finest grid is no more than one on a coarser one.
func (all numbers) surely(quick numbers) bool {
	for name, n := range all {
		other := quick[name]
		if len(other) != len(n) {
			return false
		}
		at := n.on(0)
		for i, r := range other {
			for _, off := range []float64{-r.rough, r.rough} {
				if math.Abs(r.round(r.grids[0].steps(r.raw)+off)-at[i]) > 1+1e-9 {
					return false
				}
			}
		}
	}
	return true
}

func (n number) steady(name string, without []numbers) (level int, ok bool) {
	if len(n) == 0 {
		return 0, false
	}
levels:
	for level := range n[0].grids {
		at := n.on(level)
		for _, w := range without {
			other := w[name]
			if len(other) != len(n) {
				return 0, false
			}
			for i, x := range other.on(level) {
				if math.Abs(x-at[i]) > 1+1e-9 {
					continue levels
				}
			}
		}
		return level, true
	}
	return 0, false
}

// The grids of figures that section 3.1 of the policy's rules has none for. A step of the yearly hazard ratio by 1.02
// or 1.05 moves a survival of a half by 0.7 or 1.7 points: by about the step of the grid of survival. The gap between
// two substrates rests on less, and a density where they cross on less again.
func yearlyGrids(n int) []grid {
	if n >= manyEntities {
		return ratios(1, 3, 1.02, 1.05, 1.1)
	}
	return ratios(1, 3, 1.05, 1.1)
}

func gapGrids(n int) []grid {
	if n >= manyEntities {
		return ratios(1, 3, 1.05, 1.1, 1.2)
	}
	return ratios(1, 3, 1.1, 1.2)
}

// crossingGrids are anchored at the mark, so that it is one of their values.
func crossingGrids(n int) []grid {
	if n >= manyEntities {
		return ratios(mark, 2, 1.1, 1.2, coarsest)
	}
	return ratios(mark, 2, 1.2, coarsest)
}

const coarsest = 1.4 // step of a crossing

// manyEntities is from where on the grids of section 3.1 are finest.
const manyEntities = 30

func ratios(anchor float64, digits int, steps ...float64) (grids []grid) {
	for _, s := range steps {
		grids = append(grids, grid{step: s, anchor: anchor, digits: digits})
	}
	return grids
}

// shareGrids have steps of so many percentage points.
func shareGrids(points ...float64) (grids []grid) {
	for _, p := range points {
		grids = append(grids, grid{step: p / 100})
	}
	return grids
}

// survivalGrids are the policy's for n entities and those for fewer.
func survivalGrids(p disclosure.Policy, n int) (grids []grid) {
	own := p.Points(n)
	for i := len(p.SurvivalSteps) - 1; i >= 0; i-- {
		if s := p.SurvivalSteps[i].Points; s >= own {
			grids = append(grids, grid{step: s / 100})
		}
	}
	return grids
}

// chance makes a number of a chance that something is so. It is never shown as none or certain.
func chance(p float64, n int) number {
	grids := shareGrids(10)
	if n >= manyEntities {
		grids = shareGrids(5, 10)
	}
	return roughly(single(min(max(p, 0.051), 0.949), math.Round, grids))
}

// roughly gives a number without an interval room for the error of a one-step fit: a quarter of a step.
func roughly(n number) number {
	for i := range n {
		n[i].rough = 0.25
	}
	return n
}

// pGrids are those of the p of a test, rounded up: what people tell apart.
func pGrids() []grid { return []grid{{ends: []float64{0.01, 0.05, 0.1, 0.2, 0.5, 1}}} }

// strictly is the grid of a statement that may not turn: a turn is two steps.
func strictly() []grid { return []grid{{step: 0.5}} }
