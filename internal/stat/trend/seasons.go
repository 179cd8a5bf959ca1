package trend

import (
	"math"

	"tussock/internal/stat/interval"
)

// A Season is a survival as it was published, with the ends of its 95 % range: fractions of 1, above 0 and below 1.
type Season struct {
	Year                int
	Estimate, Low, High float64
}

// OverSeasons is how the daily hazard changes from year to year over published seasons: the multiple of the year before, with
// the ends of its 95 % range. Known is false for fewer than three seasons.
type OverSeasons struct {
	Yearly, Low, High float64
	Known             bool
}

// Published reads a trend off published survivals and their ranges alone: a regression of log(−log S) on the year with a
// random effect of the season, whose variance is DerSimonian and Laird's for a regression; its range by Hartung and Knapp with Student's t
// (2001, Statistics in Medicine 20:3875–3889), no narrower than without their factor. What a range says of an estimate is its width on that scale
// over 2·1.96; roundings are in it.
func Published(seasons []Season) (o OverSeasons) {
	n := float64(len(seasons))
	if n < 3 {
		return o
	}
	x, y, v := make([]float64, len(seasons)), make([]float64, len(seasons)), make([]float64, len(seasons))
	for i, s := range seasons {
		x[i], y[i] = float64(s.Year), logLog(s.Estimate)
		se := (logLog(s.Low) - logLog(s.High)) / (2 * interval.Quantile(0.975, 0))
		v[i] = se * se
	}
	fixed := weigh(x, y, v, 0)
	between := 0.0
	if fixed.trace > 0 {
		between = max(0, (fixed.q-(n-2))/fixed.trace)
	}
	fit := weigh(x, y, v, between)
	if fit.spread == 0 {
		return o
	}
	se := math.Sqrt(max(1, fit.q/(n-2)) / fit.spread)
	t := interval.Quantile(0.975, n-2)
	return OverSeasons{math.Exp(fit.slope), math.Exp(fit.slope - t*se), math.Exp(fit.slope + t*se), true}
}

// A weighed is a weighted straight line: its slope, the information on it, the weighted squares left over, and what a variance
// between seasons of 1 adds to these.
type weighed struct{ slope, spread, q, trace float64 }

func weigh(x, y, v []float64, between float64) (f weighed) {
	var w, wx, wy, wxx, wxy, ww, wwx, wwxx float64
	for i := range x {
		k := 1 / (v[i] + between)
		w, wx, wy = w+k, wx+k*x[i], wy+k*y[i]
	}
	mx, my := wx/w, wy/w
	for i := range x {
		k, dx := 1/(v[i]+between), x[i]-mx
		wxx, wxy = wxx+k*dx*dx, wxy+k*dx*(y[i]-my)
		ww, wwx, wwxx = ww+k*k, wwx+k*k*dx, wwxx+k*k*dx*dx
	}
	if wxx == 0 {
		return f
	}
	f.slope, f.spread = wxy/wxx, wxx
	for i := range x {
		r := y[i] - my - f.slope*(x[i]-mx)
		f.q += r * r / (v[i] + between)
	}
	f.trace = w - ww/w - wwxx/wxx
	return f
}

func logLog(s float64) float64 { return math.Log(-math.Log(s)) }
