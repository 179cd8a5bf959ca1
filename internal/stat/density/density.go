// Package density estimates how many suitable clumps stand on an acre from counts on belts.
//
// Belts are of different areas, so the estimate is the ratio of totals (Cochran 1977, ch. 6):
//
//	D = Σn/Σa,   var D = Σ(n_j − D·a_j)² / (m(m−1)·ā²)
//
// over m belts, with the interval on log D by Student's t on m − 1 degrees of freedom. Clumps stand in patches,
// so the spread is taken from the belts and not from the count. One belt has no spread of its own: then the clumps are taken
// to lie at random and the interval is the exact Poisson one (Garwood 1936), which is too narrow where they are
// patchy.
package density

import (
	"math"

	"tussock/internal/stat/interval"
)

// A Belt is a strip on which clumps were counted.
type Belt struct {
	Count int
	Area  float64 // in any unit of area, above 0
}

// A Basis says where the spread comes from.
type Basis int

// The bases of an Estimate.
const (
	Nothing    Basis = iota // no belt
	BeltToBelt              // the differences between belts
	OneBelt                 // one belt: Poisson
	NoneFound               // no clump on any belt: Poisson
	AllAlike                // belts of exactly one density, which chance can bring: Poisson
)

// An Estimate is a density per unit of area.
type Estimate struct {
	Basis   Basis
	Belts   int
	Count   int
	Area    float64
	Density float64
	SE      float64 // 0 in NoneFound, where there is none
	Spread  interval.Spread
}

// Interval returns the 95 % interval of the density. There must be a belt.
func (e *Estimate) Interval() (low, high float64) { return e.Spread.Interval(interval.Level) }

// Fit estimates the density over any number of belts.
func Fit(belts []Belt) Estimate {
	e := Estimate{Belts: len(belts)}
	for _, b := range belts {
		if b.Count < 0 || !(b.Area > 0) {
			panic("density: a belt needs an area and a count of 0 or more")
		}
		e.Count += b.Count
		e.Area += b.Area
	}
	if len(belts) == 0 {
		return e
	}
	e.Density = float64(e.Count) / e.Area

	ratioSE := e.ratioSE(belts)
	switch {
	case e.Count == 0:
		e.Basis = NoneFound
	case len(belts) == 1:
		e.Basis = OneBelt
	case ratioSE <= 1e-9*e.Density:
		e.Basis = AllAlike
	default:
		e.Basis = BeltToBelt
		e.SE = ratioSE
		e.Spread = interval.Log(e.Density, e.SE, float64(len(belts)-1))
		return e
	}
	e.SE = math.Sqrt(float64(e.Count)) / e.Area
	e.Spread = interval.Counted(e.Count, e.Area)
	return e
}

func (e *Estimate) ratioSE(belts []Belt) float64 {
	m := float64(len(belts))
	if m < 2 {
		return 0
	}
	var squares float64
	for _, b := range belts {
		residual := float64(b.Count) - e.Density*b.Area
		squares += residual * residual
	}
	mean := e.Area / m
	return math.Sqrt(squares/(m*(m-1))) / mean
}
