// Package turnbull estimates survival from intervals without any model of the hazard: the nonparametric maximum of the likelihood where a loss is known only
// to lie between two checks (Turnbull 1976, J. R. Stat. Soc. B 38:290-295). It stands beside a model to show where the model does not fit.
package turnbull

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// A Span is when one nest was lost: after day Intact, and by day Lost. Lost is 0 where it was not lost while it was followed.
type Span struct{ Intact, Lost int }

// A Step is a stretch of days (From, To] in which the curve falls by Mass. Where in the stretch it falls, the data cannot say.
type Step struct {
	From, To int
	Mass     float64
}

// A Curve is the estimate. Steps are in order, and do not overlap; Rest is the mass after the last day on which anything was lost.
type Curve struct {
	Steps []Step
	Rest  float64
}

// Fit returns the curve by the self-consistency (EM) algorithm on the innermost intervals; without spans it is all Rest. It panics where a
// span ends before it begins.
func Fit(spans []Span) Curve {
	steps := innermost(spans)
	if len(spans) == 0 || len(steps) == 0 {
		return Curve{Rest: 1}
	}
	// The last place is Rest. A span holds the places from first to last, and as many spans are alike as count says.
	count := map[Span]float64{}
	for _, s := range spans {
		count[s]++
	}
	type held struct {
		first, last int
		share       float64 // of all spans
	}
	var holds []held
	for _, s := range slices.SortedFunc(maps.Keys(count), func(a, b Span) int { return cmp.Or(cmp.Compare(a.Intact, b.Intact), cmp.Compare(a.Lost, b.Lost)) }) {
		h := held{0, len(steps), count[s] / float64(len(spans))}
		for h.first < len(steps) && steps[h.first].From < s.Intact {
			h.first++
		}
		for s.Lost != 0 && (h.last == len(steps) || steps[h.last].To > s.Lost) {
			h.last--
		}
		holds = append(holds, h)
	}
	mass := make([]float64, len(steps)+1)
	for k := range mass {
		mass[k] = 1 / float64(len(mass))
	}
	sums, times := make([]float64, len(mass)+1), make([]float64, len(mass)+1)
	for range 20000 {
		for k, x := range mass {
			sums[k+1] = sums[k] + x
		}
		clear(times)
		for _, h := range holds {
			x := h.share / (sums[h.last+1] - sums[h.first])
			times[h.first] += x
			times[h.last+1] -= x
		}
		moved, t := 0.0, 0.0
		for k, x := range mass {
			t += times[k]
			mass[k] = x * max(0, t)
			moved = math.Max(moved, math.Abs(mass[k]-x))
		}
		if moved < 1e-10 {
			break
		}
	}
	for k := range steps {
		steps[k].Mass = mass[k]
	}
	return Curve{Steps: steps, Rest: mass[len(steps)]}
}

// innermost returns the intervals that begin where some span begins, end where one ends, and hold no other such end: all mass lies in them or after.
func innermost(spans []Span) (steps []Step) {
	var begins, ends []int
	for _, s := range spans {
		begins = append(begins, s.Intact)
		if s.Lost != 0 {
			if s.Lost <= s.Intact {
				panic("turnbull: a span ends before it begins")
			}
			ends = append(ends, s.Lost)
		}
	}
	slices.Sort(begins)
	slices.Sort(ends)
	begins, ends = slices.Compact(begins), slices.Compact(ends)
	for _, end := range ends {
		i, _ := slices.BinarySearch(begins, end)
		if i == 0 {
			continue
		}
		from := begins[i-1]
		if j, _ := slices.BinarySearch(ends, from+1); ends[j] == end {
			steps = append(steps, Step{From: from, To: end})
		}
	}
	return steps
}

// At returns the range in which the curve lies on a day: between the ends of a step it may have fallen already, or not yet.
func (c Curve) At(day int) (low, high float64) {
	low, high = 1, 1
	for _, s := range c.Steps {
		if s.To <= day {
			high -= s.Mass
		}
		if s.From < day {
			low -= s.Mass
		}
	}
	return max(0, low), max(0, high)
}
