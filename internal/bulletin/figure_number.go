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
	grid  grid                  // the one of its number of landowners
	rough float64               // how far off a one-step fit may have it, in steps
	or    []float64             // what else it may be, where such a fit leaves open what the estimate is rounded to
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

// twice is the grid of every other value.
func (g grid) twice() grid {
	if g.anchor > 0 {
		g.step *= g.step
	} else {
		g.step *= 2
	}
	return g
}

// exact returns the value after so many steps.
func (g grid) exact(steps float64) float64 {
	if g.anchor > 0 {
		return g.anchor * math.Pow(g.step, steps)
	}
	return steps * g.step
}

// at returns the value after so many steps, without the noise of the last digits.
func (g grid) at(steps float64) float64 {
	switch {
	case g.ends != nil:
		return g.ends[int(steps)]
	case g.anchor > 0:
		x, _ := strconv.ParseFloat(strconv.FormatFloat(g.exact(steps), 'g', g.digits, 64), 64)
		return x
	}
	return math.Round(1e4*g.exact(steps))/1e4 + 0 // never −0
}

// Values a whole number of steps but for the last bits of their computation are taken as that.
func outwardDown(x float64) float64 { return math.Floor(x + 1e-9) }
func outwardUp(x float64) float64   { return math.Ceil(x - 1e-9) }

// ranged makes a number of an estimate and of what gives its interval, which stands about the estimate as it is published and
// is rounded outward, on steps twice as wide: what moves an estimate by a step may move an end by a little more, and an end
// says no more than how far to trust the estimate. It is none where a value cannot be put on the grid.
func ranged(estimate float64, ends func(estimate float64) (low, high float64), g grid) number {
	n := single(estimate, math.Round, g)
	if n == nil {
		return nil
	}
	steps := g.steps(estimate)
	published := g.exact(math.Round(steps))
	low, high := ends(published)
	wide := g.twice()
	lower, upper := reading{raw: low, round: outwardDown, grid: wide}, reading{raw: high, round: outwardUp, grid: wide}
	n[0].rough = 0.02 + 0.05*(g.steps(high)-g.steps(low))/2
	for _, off := range []float64{-n[0].rough, n[0].rough} {
		if other := g.exact(math.Round(steps + off)); other != published {
			low, high := ends(other)
			lower.or, upper.or = append(lower.or, low), append(upper.or, high)
		}
	}
	return append(n, lower, upper).told()
}

// single makes a number of one value.
func single(x float64, round func(float64) float64, g grid) number {
	return number{{raw: x, round: round, grid: g}}.told()
}

func (n number) told() number {
	for _, r := range n {
		if s := r.grid.steps(r.raw); math.IsNaN(s) || math.IsInf(s, 0) || math.Abs(s) > 1e9 {
			return nil
		}
	}
	return n
}

// steps returns a number's values in steps.
func (n number) steps() []float64 {
	at := make([]float64, len(n))
	for i, r := range n {
		at[i] = r.round(r.grid.steps(r.raw))
	}
	return at
}

// values returns a number as it is published.
func (n number) values() []float64 {
	at := n.steps()
	for i := range at {
		at[i] = n[i].grid.at(at[i])
	}
	return at
}

// release puts every number on its grid, where leaving out any one entity moves none of its values by more than a step;
// without holds the same numbers, each time without one of them. A number that moves, or that cannot be told without
// somebody, is held: it is not in what release returns. There is no coarser grid to fall back on: which of two grids a
// number is on would tell how much the landowners differ.
func (all numbers) release(without []numbers) map[string][]float64 {
	shown := map[string][]float64{}
	for name, n := range all {
		if n.steady(name, without) {
			shown[name] = n.values()
		}
	}
	return shown
}

// surely tells whether numbers of a one-step fit are certain to be within a step of all, so that the fit itself need not be
// made.
func (all numbers) surely(quick numbers) bool {
	for name, n := range all {
		other := quick[name]
		if len(other) != len(n) {
			return false
		}
		at := n.steps()
		for i, r := range other {
			for _, x := range append(r.or, r.raw) {
				for _, off := range []float64{-r.rough, r.rough} {
					if !(math.Abs(r.round(r.grid.steps(x)+off)-at[i]) <= 1+1e-9) {
						return false
					}
				}
			}
		}
	}
	return true
}

func (n number) steady(name string, without []numbers) bool {
	if len(n) == 0 {
		return false
	}
	at := n.steps()
	for _, w := range without {
		other := w[name]
		if len(other) != len(n) {
			return false
		}
		for i, x := range other.steps() {
			if math.Abs(x-at[i]) > 1+1e-9 {
				return false
			}
		}
	}
	return true
}

// The grid of a number is the one of section 3.1 of the policy's rules for its number of landowners; chosen from that number
// alone, never from what they have. These are of figures that section 3.1 has none for. A step of the yearly hazard ratio by
// 1.02 or 1.05 moves a survival of a half by 0.7 or 1.7 points: by about the step of the grid of survival. The gap between
// two substrates rests on less, and a density where they cross on less again.
func yearlyGrid(n int) grid   { return byNumber(n, 1.05, 1.02, grid{anchor: 1, digits: 3}) }
func gapGrid(n int) grid      { return byNumber(n, 1.2, 1.1, grid{anchor: 1, digits: 3}) }
func crossingGrid(n int) grid { return byNumber(n, coarsest, 1.2, grid{anchor: mark, digits: 2}) } // so that the mark is one of its values

const coarsest = 1.4 // step of a crossing

// manyEntities is from where on the grids of section 3.1 are finest.
const manyEntities = 30

func byNumber(n int, few, many float64, g grid) grid {
	if g.step = few; n >= manyEntities {
		g.step = many
	}
	return g
}

// shareGrid has steps of so many percentage points.
func shareGrid(points float64) grid { return grid{step: points / 100} }

// survivalGrid is the policy's for n entities.
func survivalGrid(p disclosure.Policy, n int) grid { return shareGrid(p.Points(n)) }

// chance makes a number of a chance that something is so, in steps of 10 points. It is never shown as none or certain.
func chance(p float64) number {
	return roughly(single(min(max(p, 0.051), 0.949), math.Round, shareGrid(10)))
}

// roughly gives a number without an interval room for the error of a one-step fit: a quarter of a step.
func roughly(n number) number {
	for i := range n {
		n[i].rough = 0.25
	}
	return n
}

// pGrid is that of the p of a test, rounded up: what people tell apart.
func pGrid() grid { return grid{ends: []float64{0.01, 0.05, 0.1, 0.2, 0.5, 1}} }

// strictly is the grid of a statement that may not turn: a turn is two steps.
func strictly() grid { return grid{step: 0.5} }
