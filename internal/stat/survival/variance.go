package survival

import (
	"math"

	"tussock/internal/stat/interval"
)

// describe turns a maximum into the figures that people read.
func (m *maximum) describe(est *Estimate, d *data) {
	to14, to28 := d.split(0, Cut), d.split(0, Horizon)
	if m.known[0] {
		est.S14 = math.Exp(-to14.dot(m.h))
	}
	if est.Told() || m.free[0] {
		est.S28 = math.Exp(-to28.dot(m.h)) // in NoLateLook h₂ is 0
	}
	for k := range 2 {
		if m.known[k] {
			est.Rates[k] = Rate{Known: true, Daily: math.Exp(-m.h[k])}
		}
	}

	v := m.variance(d, to28, est.Published)
	for k := range 2 {
		if m.free[k] {
			est.Rates[k].SE = est.Rates[k].Daily * math.Sqrt(v.hazards[k][k])
		}
	}
	for _, t := range v.steps {
		est.Influence = append(est.Influence, Influence{
			Transect: t.transect,
			S14:      -est.S14 * to14.signedDot(t.step),
			S28:      -est.S28 * to28.signedDot(t.step),
		})
	}
	est.ModelCov = covariance(v.model, [2]days{to14, to28}, [2]float64{est.S14, est.S28})

	switch est.Case {
	case AllLasted:
		est.Effective = d.seenThrough()
		est.Spread = interval.AllLasted(est.Effective)
	case NoneLasted:
		est.Effective = d.knownFailed()
		est.Spread = interval.NoneLasted(est.Effective)
	case NoLateLook:
		if !m.free[0] {
			return
		}
		fallthrough
	case Between, OneRate:
		se := math.Sqrt(quadratic(v.hazards, to28))
		est.SE = est.S28 * se
		est.Spread = interval.LogHazard(to28.dot(m.h), se, v.df)
		est.Rests = v.rests
		est.DesignEffect = v.designEffect
	}
}

// A variance holds the variances of the two hazards and what they are made of.
type variance struct {
	hazards      [2][2]float64 // what the figure's range is made with
	model        [2][2]float64 // A⁻¹
	steps        []transectStep
	rests        Basis
	df           float64 // of t; 0 where the variance is taken as known
	designEffect float64
}

// A transectStep is A⁻¹·u_g: how far the transect alone would push the hazards.
type transectStep struct {
	transect int
	step     [2]float64
}

// variance computes the sandwich on the scale of h. On the scale of log h it is the same: at the maximum the two differ
// by factors that cancel in every figure made from them.
func (m *maximum) variance(d *data, target days, published float64) variance {
	var v variance
	var inverse [2][2]float64
	if m.free[0] || m.free[1] {
		_, info := d.slope(m)
		inverse, _ = invert(info, m.free, m.together)
	}
	v.model, v.hazards = inverse, inverse
	v.steps = d.transectSteps(m, inverse)

	g := float64(len(v.steps))
	var sandwich [2][2]float64
	if g >= 2 {
		for _, t := range v.steps {
			for j := range 2 {
				for k := range 2 {
					sandwich[j][k] += g / (g - 1) * t.step[j] * t.step[k]
				}
			}
		}
	}
	var times float64
	v.rests, times, v.df, v.designEffect = Resting(quadratic(sandwich, target), quadratic(v.model, target), len(v.steps), published)
	if v.rests == OnTransects {
		v.hazards, times = sandwich, 1
	}
	for j := range 2 {
		for k := range 2 {
			v.hazards[j][k] *= times
		}
	}
	return v
}

// transectSteps returns A⁻¹·u_g of each transect, in order.
func (d *data) transectSteps(m *maximum, inverse [2][2]float64) []transectStep {
	var steps []transectStep
	var u [2]float64
	for i, n := range d.nests {
		e := d.split(0, n.Intact)
		u[0] -= e[0]
		u[1] -= e[1]
		if n.Lost > 0 {
			x := d.split(n.Intact, n.Lost)
			r := odds(x.dot(m.h))
			u[0] += x[0] * r
			u[1] += x[1] * r
		}
		if i+1 < len(d.nests) && d.nests[i+1].Transect == n.Transect {
			continue
		}
		steps = append(steps, transectStep{n.Transect, [2]float64{
			inverse[0][0]*u[0] + inverse[0][1]*u[1],
			inverse[1][0]*u[0] + inverse[1][1]*u[1],
		}})
		u = [2]float64{}
	}
	return steps
}

// seenThrough counts the nests of a season without loss for the exact limit: one each where the last look came on
// day 25 or later, since the check of day 28 is commonly made a few days to either side, and otherwise the part of the
// 28 days that was seen.
func (d *data) seenThrough() float64 {
	const usualSlack = 3
	var n float64
	for _, nest := range d.nests {
		if nest.Intact >= Horizon-usualSlack {
			n++
			continue
		}
		n += float64(nest.Intact) / Horizon
	}
	return n
}

// knownFailed counts the nests of a season in which none lasted for the exact limit: all that tell anything, where
// each was found failed. Nests lost from view might have lasted, so then the count is scaled by the share that was
// followed among those that were not lost before the cut.
func (d *data) knownFailed() float64 {
	exposed := float64(len(d.nests))
	unknown := exposed - float64(d.losses)
	if unknown == 0 {
		return exposed
	}
	var late float64
	for _, c := range d.cells {
		if c.x[1] > 0 {
			late += c.n
		}
	}
	return exposed * late / (late + unknown)
}

func quadratic(v [2][2]float64, x days) float64 {
	return x[0]*x[0]*v[0][0] + 2*x[0]*x[1]*v[0][1] + x[1]*x[1]*v[1][1]
}

// covariance returns that of S₁ and S₂ where S_k = exp(−x_k·h).
func covariance(v [2][2]float64, x [2]days, s [2]float64) (cov [2][2]float64) {
	for a := range 2 {
		for b := range 2 {
			for j := range 2 {
				for k := range 2 {
					cov[a][b] += s[a] * s[b] * x[a][j] * x[b][k] * v[j][k]
				}
			}
		}
	}
	return cov
}

// signedDot is dot for a step, which may be negative and is never boundless.
func (d days) signedDot(step [2]float64) float64 { return d[0]*step[0] + d[1]*step[1] }
