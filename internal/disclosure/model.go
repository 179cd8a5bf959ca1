package disclosure

import "math"

// CheckModel is for figures that come from a model over all rows rather than from totals, for which the partition
// proves nothing: more entities, none of them with a quarter of the rows. Such a figure must be Steady as well.
func (p Policy) CheckModel(a Amounts) Reason {
	if held := p.Check(a); held != "" {
		return held
	}
	entities, top, all := 0, 0.0, total(a)
	for _, x := range a {
		if x > 0 {
			entities++
		}
		top = max(top, x)
	}
	switch {
	case entities < p.ModelEntities:
		return TooFew
	case 100*top > p.ModelTop*all:
		return Dominated
	}
	return ""
}

// Steady tells whether a share that is published for n entities, from a model, hangs on none of them: fitted again
// without any one, it must move by no more than one step of its grid.
func (p Policy) Steady(n int, share float64, without []float64) bool {
	step := points(p.ShareSteps, n) / 100
	at := func(x float64) float64 { return *p.Share(n, x, x, x).Estimate }
	for _, x := range without {
		if math.Abs(at(x)-at(share)) > step+1e-9 {
			return false
		}
	}
	return true
}
