package findings

import "slices"

// Marks are what figures are held against, and when nests are checked. They are settings of a cooperative; the usual ones are common practice,
// no source.
type Marks struct {
	Cover       float64 // suitable clumps an acre that are called enough
	Hope        float64 // the part of the nests that is hoped for to last to day 28, of 1
	First, Last int     // days after set-out of the two checks
	From        string  // where they come from, in the cooperative's words; "" is common practice
}

// CommonMarks are those of common practice.
var CommonMarks = Marks{Cover: CoverMark, Hope: 0.5, First: 14, Last: 28}

// Against returns the results with a cooperative's target of each season and the chance that the density reaches it.
func (r *Result) Against(of func(season int) Marks) *Result {
	if r == nil {
		return nil
	}
	held := *r
	held.Density = slices.Clone(r.Density)
	for i := range held.Density {
		d := &held.Density[i]
		if d.Target = of(d.Season).Cover; d.ReachesTarget != nil {
			d.ReachesTarget = number(d.spread.AtLeast(d.Target))
		}
	}
	return &held
}
