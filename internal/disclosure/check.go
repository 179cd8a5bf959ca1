package disclosure

import (
	"cmp"
	"slices"
)

// Amounts are what each entity contributes to a cell: nests, exposure-days, acres, clumps or events.
type Amounts map[string]float64

// A Reason says in plain words why a cell is held; "" is a cell that may be published. It is for the eyes of whoever
// runs the cooperative: readers of a bulletin are told "not shown" and nothing else, since a reason is itself a
// statement about the contributors.
type Reason string

// The reasons of this package.
const (
	Nobody    Reason = "nobody has results here"
	TooFew    Reason = "too few landowners"
	Dominated Reason = "one or two landowners make up too much of it"
	Guessable Reason = "landowners who pool what they know could come too close to another's amount"
	Sibling   Reason = "beside the others it would tell too much"
	TooAlike  Reason = "the figure would tell nearly every landowner's result"
	TooSmall  Reason = "too few nests for a figure"
	TooVague  Reason = "too uncertain for a figure"
	TooRare   Reason = "fewer or none"
	TooMuch   Reason = "it would tell too much of some landowner's results"
	TooNew    Reason = "too many of its landowners are new this season"
	TooBroad  Reason = "too broad to tell one place from another"
	Unsteady  Reason = "it hangs on one landowner's results"
)

// Check applies the minimum frequency, the dominance rules and the p% rule to one amount of one cell, in this order,
// and returns the first that fails. Only entities with a positive amount count as contributors: that somebody has
// none may be known.
func (p Policy) Check(a Amounts) Reason {
	xs := make([]float64, 0, len(a))
	for _, x := range a {
		if x > 0 {
			xs = append(xs, x)
		}
	}
	slices.SortFunc(xs, func(x, y float64) int { return cmp.Compare(y, x) })

	switch {
	case len(xs) == 0:
		return Nobody
	case len(xs) < p.MinEntities:
		return TooFew
	}
	total := sum(xs)
	for _, d := range p.Dominance {
		if 100*sum(xs[:min(d.Largest, len(xs))]) > d.Percent*total {
			return Dominated
		}
	}
	if p.guessable(xs) {
		return Guessable
	}
	return ""
}

// guessable is the p% rule on amounts, the largest first. The largest is the target hardest to protect: for any other target
// the same coalition leaves at least as much.
func (p Policy) guessable(xs []float64) bool {
	return len(xs) > 0 && 100*sum(xs[min(1+p.Coalition, len(xs)):]) < p.Remainder*xs[0]
}

// Reliable applies the rules for a survival figure: enough nests, enough of them failed for an interval, and the
// interval not too wide beside the estimate. They protect the reader from noise rather than anybody's secret.
func (p Policy) Reliable(nests, failed int, estimate, low, high float64) Reason {
	switch {
	case nests < p.MinNests || failed < p.MinFailures:
		return TooSmall
	case high-low > p.MaxRelativeWidth*estimate:
		return TooVague
	}
	return ""
}

func sum(xs []float64) (total float64) {
	for _, x := range xs {
		total += x
	}
	return total
}
