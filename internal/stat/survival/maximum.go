package survival

import "math"

// A maximum is the point at which the likelihood is highest: an ordinary point, or one on the edge where a hazard is
// 0 or grows without bound.
//
// The log-likelihood −h·E + Σ n·log(1 − exp(−h·x)) is concave in h, so there is one maximum, and the slope at an edge
// tells for certain whether it lies there.
type maximum struct {
	h        [2]float64 // +Inf where a period left none
	free     [2]bool    // estimated in the interior, so that it carries variance
	known    [2]bool    // the data say something about this period
	together bool       // one rate for both periods: h[0] = h[1]
	shape    Case

	logLik     float64
	iterations int
}

func maximise(d *data) maximum {
	switch {
	case d.losses == 0:
		return d.withoutLoss()
	case d.intact == days{}:
		return d.noneEverIntact()
	case d.proportional():
		return d.withOneRate()
	}
	m := d.withBoth()
	if m.free[0] && m.free[1] && d.nearlyProportional(&m) {
		return d.withOneRate()
	}
	return m
}

// withOneRate finds the maximum with h₁ = h₂. Of all pairs that explain the data equally well it is the one that
// supposes least.
func (d *data) withOneRate() maximum {
	m := maximum{shape: OneRate, together: true, known: [2]bool{true, true}, free: [2]bool{true, true}}
	d.climb(&m)
	return m
}

// withoutLoss: every rate seen is 1.
func (d *data) withoutLoss() maximum {
	m := maximum{shape: AllLasted, known: [2]bool{d.intact[0] > 0, d.intact[1] > 0}}
	if !m.known[1] && d.cut < Horizon {
		m.shape = NoLateLook
	}
	return m
}

// noneEverIntact: every nest had failed by its first look. Where one of these looks came by the cut, the first rate
// is 0; where all came later, either period may have taken them, and no rate is told.
func (d *data) noneEverIntact() maximum {
	m := maximum{shape: NoneLasted, h: [2]float64{math.Inf(1), math.Inf(1)}}
	for _, c := range d.cells {
		if c.x[1] == 0 {
			m.known[0] = true
		}
	}
	return m
}

// proportional tells whether the days before and after the cut stand in one ratio throughout, as when each nest had a
// single look on day 28. Then only a sum of the two hazards is told.
func (d *data) proportional() bool {
	if d.intact[1] == 0 {
		return false
	}
	for _, c := range d.cells {
		if d.intact[0]*c.x[1] != d.intact[1]*c.x[0] {
			return false
		}
	}
	return true
}

// nearlyProportional tells whether the information is singular to nine digits.
func (d *data) nearlyProportional(m *maximum) bool {
	_, a := d.slope(m)
	return a[0][0]*a[1][1]-a[0][1]*a[1][0] <= 1e-9*a[0][0]*a[1][1]
}

// withBoth finds the maximum where some nests were seen intact and some were lost.
func (d *data) withBoth() maximum {
	m := maximum{shape: Between, known: [2]bool{true, true}}
	lateLoss := false
	for _, c := range d.cells {
		lateLoss = lateLoss || c.x[1] > 0
	}

	switch {
	case !lateLoss && d.intact[1] == 0:
		if d.cut < Horizon {
			m.shape = NoLateLook
		}
		m.known[1] = false
		m.free[0] = true

	case d.intact[1] == 0:
		// Each nest seen after the cut was lost: no hazard is high enough. These losses then need no other cause, and the
		// first rate rests on the losses before the cut.
		m.shape = NoneLasted
		m.h[1] = math.Inf(1)
		m.free[0] = d.anyBeforeCut()

	default:
		m.free = d.interior()
	}
	d.climb(&m)
	return m
}

func (d *data) anyBeforeCut() bool {
	for _, c := range d.cells {
		if c.x[1] == 0 {
			return true
		}
	}
	return false
}

// interior says which hazards are above 0 at the maximum. A hazard is 0 where, with the other one fitted alone, the
// likelihood falls as it leaves 0. This holds in a period without a loss, and may hold in one whose losses the
// other period explains as well.
func (d *data) interior() [2]bool {
	for k := range 2 {
		alone := maximum{}
		alone.free[1-k] = true
		if !d.explains(1 - k) {
			continue
		}
		d.climb(&alone)
		if slope, _ := d.slope(&alone); slope[k] <= 1e-9*d.intact[k] {
			return alone.free
		}
	}
	return [2]bool{true, true}
}

// explains tells whether each loss may have come in period k.
func (d *data) explains(k int) bool {
	for _, c := range d.cells {
		if c.x[k] == 0 {
			return false
		}
	}
	return true
}

// climb runs Newton's method on the logarithms of the free hazards, with step halving. The information used is
// h_j·h_k·Σ n·x_j·x_k·r(1+r), which is positive definite wherever it is computed and equals the observed information
// on that scale at the maximum, so each step is uphill and the last ones are Newton's.
func (d *data) climb(m *maximum) {
	start := float64(d.losses) / (d.intact[0] + d.intact[1] + d.cellDays()/2)
	for k := range 2 {
		if m.free[k] {
			m.h[k] = start
		}
	}
	m.logLik = d.logLik(m)
	for m.iterations = 1; m.iterations <= 100; m.iterations++ {
		step, size := d.step(m)
		if size < 1e-7 {
			// The error squares with each step, so this one ends it; the likelihood is too flat here to compare.
			d.take(m, step)
			return
		}
		if !d.move(m, step) {
			return
		}
	}
}

// take multiplies the free hazards by exp(step).
func (d *data) take(m *maximum, step [2]float64) {
	for k := range 2 {
		if m.free[k] {
			m.h[k] *= math.Exp(step[k])
		}
	}
	m.logLik = d.logLik(m)
}

func (d *data) cellDays() float64 {
	var t float64
	for _, c := range d.cells {
		t += c.n * (c.x[0] + c.x[1])
	}
	return t
}

// step returns the Newton step on log h and its largest element.
func (d *data) step(m *maximum) (step [2]float64, size float64) {
	slope, info := d.slope(m)
	var u [2]float64
	var a [2][2]float64
	for j := range 2 {
		for k := range 2 {
			if m.free[j] && m.free[k] {
				u[j] = slope[j] * m.h[j]
				a[j][k] = info[j][k] * m.h[j] * m.h[k]
			}
		}
	}
	inverse, ok := invert(a, m.free, m.together)
	if !ok {
		return step, 0
	}
	for j := range 2 {
		step[j] = inverse[j][0]*u[0] + inverse[j][1]*u[1]
		size = math.Max(size, math.Abs(step[j]))
	}
	return step, size
}

// move takes the longest of the step, its half, its quarter … that does not lower the likelihood, at most a factor e²
// a time. It returns false where none does: the maximum is reached as well as floating point can tell.
func (d *data) move(m *maximum, step [2]float64) bool {
	scale := 1.0
	if big := math.Max(math.Abs(step[0]), math.Abs(step[1])); big > 2 {
		scale = 2 / big
	}
	for range 40 {
		next := *m
		d.take(&next, [2]float64{scale * step[0], scale * step[1]})
		if next.logLik >= m.logLik {
			*m = next
			return true
		}
		scale /= 2
	}
	return false
}

// logLik returns the log-likelihood. Losses in a period with a boundless hazard are certain and add nothing.
func (d *data) logLik(m *maximum) float64 {
	l := -d.intact.dot(m.h)
	for _, c := range d.cells {
		if z := c.x.dot(m.h); !math.IsInf(z, 1) {
			l += c.n * math.Log(-math.Expm1(-z))
		}
	}
	return l
}

// slope returns ∂l/∂h and the information −∂²l/∂h∂hᵀ.
func (d *data) slope(m *maximum) (slope [2]float64, info [2][2]float64) {
	slope = [2]float64{-d.intact[0], -d.intact[1]}
	for _, c := range d.cells {
		r := odds(c.x.dot(m.h))
		for j := range 2 {
			slope[j] += c.n * c.x[j] * r
			for k := range 2 {
				info[j][k] += c.n * c.x[j] * c.x[k] * r * (1 + r)
			}
		}
	}
	return slope, info
}

// odds returns e⁻ᶻ/(1 − e⁻ᶻ): the odds of having lasted through a gathered hazard z.
func odds(z float64) float64 {
	if math.IsInf(z, 1) {
		return 0
	}
	return 1 / math.Expm1(z)
}

// invert returns the inverse of the information among the free hazards, 0 elsewhere. Where the two are held together
// the one hazard h = h₁ = h₂ has the information of the sum of all elements, and the inverse maps the two slopes to
// equal steps.
func invert(a [2][2]float64, free [2]bool, together bool) (inv [2][2]float64, ok bool) {
	switch {
	case together:
		sum := a[0][0] + a[0][1] + a[1][0] + a[1][1]
		if !(sum > 0) {
			return inv, false
		}
		return [2][2]float64{{1 / sum, 1 / sum}, {1 / sum, 1 / sum}}, true
	case free[0] && free[1]:
		det := a[0][0]*a[1][1] - a[0][1]*a[1][0]
		if !(det > 0) {
			return inv, false
		}
		return [2][2]float64{{a[1][1] / det, -a[0][1] / det}, {-a[1][0] / det, a[0][0] / det}}, true
	}
	for k := range 2 {
		if free[k] {
			if !(a[k][k] > 0) {
				return inv, false
			}
			inv[k][k] = 1 / a[k][k]
			return inv, true
		}
	}
	return inv, true
}
