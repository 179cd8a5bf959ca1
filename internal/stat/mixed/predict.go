package mixed

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Estimate is a survival with its interval.
type Estimate struct{ Value, Low, High float64 }

// Part is one of the settings that a prediction averages over.
type Part struct {
	Weight float64
	Row    []float64
	// Fixed, where not nil, is the survival itself, taken as known.
	Fixed *float64
}

// hermite are the nodes and weights for the mean of a function of a standard normal variable. Forty are exact to more
// digits than anyone reads for standard deviations below 3.
func hermite() (z, w []float64) {
	z, w = make([]float64, 40), make([]float64, 40)
	quad.Hermite{}.FixedLocations(z, w, math.Inf(-1), math.Inf(1))
	for i := range z {
		z[i] *= math.Sqrt2
		w[i] /= math.SqrtPi
	}
	return z, w
}

// Predictor computes survivals from a fit.
type Predictor struct {
	fit    *Fit
	period bool
	days   Days
	width  float64 // half the width of an interval, in standard errors
	z, w   []float64
}

// Predictor returns what predicts survival over the days of over at the confidence level, 0.95 for 95 %. Intervals
// use Student's t on df degrees of freedom; infinity is the normal distribution.
func (f *Fit) Predictor(over Periods, level, df float64) *Predictor {
	z, w := hermite()
	return &Predictor{f, over.Apart, over.Days, Quantile(level, df), z, w}
}

// Quantile is the half-width of a two-sided interval in standard errors.
func Quantile(level, df float64) float64 {
	p := 1 - (1-level)/2
	if math.IsInf(df, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(p)
}

// Region is the survival expected on a ranch and transect of which nothing is known: the mean over both random
// effects. Their sum is normal, so one integral does.
func (p *Predictor) Region(parts []Part) Estimate {
	return p.mean(parts, nil)
}

// Ranch is the survival expected on a transect of ranch r of which nothing is known. What is not known of the
// ranch's effect beyond the parameters is its conditional variance (Kass and Steffey 1989, J. Am. Stat. Assoc.
// 84:717-726).
func (p *Predictor) Ranch(r int, parts []Part) Estimate {
	return p.mean(parts, &p.fit.Ranches[r])
}

// mean is the weighted mean of the parts' survivals. The interval is made on log(−log S) by the delta method with the
// covariances of all parameters.
func (p *Predictor) mean(parts []Part, ranch *RanchMode) Estimate {
	sum := p.sum(parts, ranch)
	if sum.weight == 0 {
		return Estimate{High: 1}
	}
	g := mat.NewVecDense(len(sum.grad), sum.grad)
	se := math.Sqrt(max(0, mat.Inner(g, p.fit.Cov, g)+sum.extra)) / sum.weight
	return p.interval(sum.s/sum.weight, se)
}

// weighted is a weighted sum of survivals, its derivatives in all parameters, and the variance that a ranch's effect
// adds beyond them.
type weighted struct {
	s, weight, extra float64
	grad             []float64
}

func (p *Predictor) sum(parts []Part, ranch *RanchMode) weighted {
	f := p.fit
	width := len(f.Coef)
	shift, variance := 0.0, f.TransectSD*f.TransectSD+f.RanchSD*f.RanchSD
	if ranch != nil {
		shift, variance = ranch.Effect, f.TransectSD*f.TransectSD
	}
	sd := math.Sqrt(variance)

	var total, s, bySD, byShift float64
	grad := make([]float64, width+sds)
	for _, part := range parts {
		total += part.Weight
		if part.Fixed != nil {
			s += part.Weight * *part.Fixed
			continue
		}
		hazard, late := p.hazard(part.Row)
		value, byEta, bySpread := p.integrate(hazard*math.Exp(shift), sd)
		s += part.Weight * value
		bySD += part.Weight * bySpread
		byShift += part.Weight * byEta
		for j, x := range part.Row {
			grad[j] += part.Weight * byEta * x
		}
		if p.period {
			grad[width-1] += part.Weight * byEta * late
		}
	}
	if sd > 0 {
		grad[width+sdTransect] += bySD * f.TransectSD / sd
		if ranch == nil {
			grad[width+sdRanch] += bySD * f.RanchSD / sd
		}
	}
	extra := 0.0
	if ranch != nil {
		for j, g := range ranch.Gradient {
			grad[j] += byShift * g
		}
		extra = byShift * byShift * ranch.SE * ranch.SE
	}
	return weighted{s, total, extra, grad}
}

// hazard returns H of a row over the predictor's days without random effects, and the share of the late period in it.
func (p *Predictor) hazard(row []float64) (h, late float64) {
	f := p.fit
	var eta float64
	for j, x := range row {
		eta += f.Coef[j] * x
	}
	days := p.days.Early + p.days.Late
	if p.period {
		after := p.days.Late * math.Exp(f.Coef[len(f.Coef)-1])
		days = p.days.Early + after
		late = after / days
	}
	return min(math.Exp(eta)*days, maxHazard), late
}

// integrate is the mean of exp(−h·e^(sd·Z)) over a standard normal Z, with its derivatives in log h and in sd.
func (p *Predictor) integrate(h, sd float64) (value, byEta, bySD float64) {
	if sd == 0 {
		value = math.Exp(-h)
		return value, -h * value, 0
	}
	for i, z := range p.z {
		hz := min(h*math.Exp(sd*z), maxHazard)
		v := p.w[i] * math.Exp(-hz)
		value += v
		byEta -= v * hz
		bySD -= v * hz * z
	}
	return value, byEta, bySD
}

// interval is s ± on the log(−log) scale. se is the standard error of s.
func (p *Predictor) interval(s, se float64) Estimate {
	s = min(max(s, 0), 1)
	if s == 0 || s == 1 || se == 0 {
		return Estimate{s, s, s}
	}
	centre := math.Log(-math.Log(s))
	half := p.width * se / (s * -math.Log(s))
	return Estimate{s, math.Exp(-math.Exp(centre + half)), math.Exp(-math.Exp(centre - half))}
}

// bounded widens a survival of 0 or 1 by what the side's intervals leave possible.
func bounded(e Estimate, side Side, level float64) Estimate {
	tail := (1 - level) / 2
	switch {
	case side.N == 0:
		e.Low, e.High = 0, 1
	case e.Value == 1 && !side.Lost:
		e.Low = math.Pow(tail, Day28/side.Days)
	case e.Value == 0 && side.Lost:
		e.High = 1 - math.Pow(tail, 1/float64(side.N))
	}
	return e
}
