package mixed

import "math"

// maxHazard bounds H (and the odds), so that products stay finite however far a trial step goes. At it a nest is gone
// for certain.
const maxHazard = 1e8

// ratio is ρ(H) = H/(e^H − 1). Below a quarter, where the quotient loses digits, by its series with the Bernoulli
// numbers (Abramowitz and Stegun 23.1.1), to 1e-14; above, a plain exponential loses one digit at most and costs a
// third of math.Expm1.
func ratio(h float64) float64 {
	switch {
	case h < 0.25:
		s := h * h
		return 1 - h/2 + s*(1./12-s*(1./720-s*(1./30240-s/1209600)))
	case h > 700: // e^H overflows soon after
		return 0
	}
	return h / (math.Exp(h) - 1)
}

// logLost is log P(lost) = log(1 − e^−H), given ρ(H): e^H − 1 is H/ρ.
func logLost(h, rho float64) float64 {
	if h > 36 { // 1 − e^−36 is 1 in floating point
		return 0
	}
	return math.Log(h/rho) - h
}

// A curve is the log likelihood of one transect as a function of a shift of its linear predictor, by its
// derivatives at that shift.
type curve struct {
	score    float64 // first derivative
	observed float64 // minus the second derivative
	expected float64 // its expectation
	turn     float64 // derivative of expected
}

// climb sums score and observed information of rows from to to, scale being e^shift. It is the inner loop of the
// search for the modes.
func (e *evaluation) climb(from, to int, scale float64) (score, observed float64) {
	l := e.l
	kinds, lost, n := l.rowKind[from:to], l.rowLost[from:to], l.rowN[from:to]
	if l.link == Logit {
		for i, k := range kinds {
			odds := min(e.base[k]*scale, maxHazard)
			p := odds / (1 + odds)
			score += lost[i] - n[i]*p
			observed += n[i] * p / (1 + odds)
		}
		return score, observed
	}
	for i, k := range kinds {
		h := min(e.base[k]*scale, maxHazard)
		y, kept := lost[i], n[i]-lost[i]
		score -= kept * h
		observed += kept * h
		if y > 0 {
			// dρ/dη = ρ(1−H−ρ), where η = log H
			rho := ratio(h)
			score += y * rho
			observed -= y * rho * (1 - h - rho)
		}
	}
	return score, observed
}

// measure is climb with all that the likelihood and its gradient need. The rows' own derivatives go to c.row.
func (e *evaluation) measure(c *chunk, from, to, at int, scale float64) (loglik float64, t curve) {
	l := e.l
	kinds, lost, n := l.rowKind[from:to], l.rowLost[from:to], l.rowN[from:to]
	rows := c.row[at : at+to-from]
	if l.link == Logit {
		for i, k := range kinds {
			odds := min(e.base[k]*scale, maxHazard)
			p, q := odds/(1+odds), 1/(1+odds)
			y := lost[i]
			w := n[i] * p * q
			d := curve{score: y - n[i]*p, observed: w, expected: w, turn: w * (q - p)}
			loglik += n[i] * math.Log(q)
			if y > 0 {
				loglik += y * math.Log(odds)
			}
			t.add(d)
			rows[i] = d
		}
		return loglik, t
	}
	for i, k := range kinds {
		h := min(e.base[k]*scale, maxHazard)
		y, kept := lost[i], n[i]-lost[i]
		rho := ratio(h)
		// The expected information of one interval is (dP/dη)²/(P(1−P)) = Hρ.
		w := n[i] * h * rho
		d := curve{
			score:    y*rho - kept*h,
			observed: kept*h - y*rho*(1-h-rho),
			expected: w,
			turn:     w * (2 - h - rho),
		}
		loglik -= kept * h
		if y > 0 {
			loglik += y * logLost(h, rho)
		}
		t.add(d)
		rows[i] = d
	}
	return loglik, t
}

func (t *curve) add(d curve) {
	t.score += d.score
	t.observed += d.observed
	t.expected += d.expected
	t.turn += d.turn
}
