// Package shrink makes the hierarchical figure of one ranch: its own figures drawn towards what is known of the others, the more
// so the less its own nests say. A ranch with few nests comes to sit near the others, one with many near its own data.
//
// On a scale where figures are nearly normal (survival: log(−log S), [LogLog]), the true figure of the ranch in season t is
//
//	θ_t = m_t + u + w_t,   u ~ N(0, ρτ²),   w_t ~ N(0, (1−ρ)τ²),   m_t ~ N(others' figure, its squared error)
//
// with τ the spread between ranches, of which the part ρ stays with the ranch from season to season: through it seasons of
// one ranch borrow from each other. Given τ and ρ the posterior is taken at its mode (with binomial data and the complementary
// log-log link the conditional mode of a generalized linear mixed model) and normal about it.
//
// τ is an estimate and ρ is not known at all. An interval that takes them for true is too narrow (90 of 100 at 95). So the posterior is averaged
// over both: log τ normal about the published value, ρ even from 0 to 1, each pair weighed by what it says of the ranch's own
// figures (Kass and Steffey 1989, J. Am. Stat. Assoc. 84:717-726; Gelman and others, Bayesian Data Analysis, ch. 5). To the first
// order this adds to the variance what Prasad and Rao (1990, J. Am. Stat. Assoc. 85:163-171) add as g₃.
//
// Nothing of another ranch goes in but the three numbers of [Others] and the mean of each season.
package shrink

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"tussock/internal/stat/interval"
)

// An Own is what a ranch's own data of a season say of its true figure: a log-likelihood with its first two derivatives. The
// zero value says nothing.
type Own struct {
	logLik func(x float64) (l, slope, curve float64)
	start  float64
}

// Known tells whether it says anything.
func (o Own) Known() bool { return o.logLik != nil }

// Normal is a figure with its standard error, which must be above 0.
func Normal(at, se float64) Own {
	if !(se > 0) {
		panic("shrink: a figure without error")
	}
	return Own{func(x float64) (l, slope, curve float64) {
		z := (x - at) / se
		return -z * z / 2, -z / se, -1 / (se * se)
	}, at}
}

// Lasted is what so many nests say of log(−log S) of which a share lasted, 0 to 1: the binomial likelihood. nests is above 0 and
// need not be whole: nests that share their luck count for fewer.
func Lasted(share, nests float64) Own {
	if !(nests > 0 && share >= 0 && share <= 1) {
		panic("shrink: no share, or of no nests")
	}
	return Own{func(x float64) (l, slope, curve float64) {
		h := math.Exp(x) // gathered hazard: S = exp(−h)
		odds := 1 / math.Expm1(h)
		lost := (1 - share) * nests
		l = -share * nests * h
		if lost > 0 {
			l += lost * math.Log(-math.Expm1(-h))
		}
		slope = h * (lost*odds - share*nests)
		// d²/dx² = h·l′ + h²·l″ with l″ = −lost·odds·(1 + odds)
		return l, slope, slope - h*h*lost*odds*(1+odds)
	}, LogLog(math.Min(0.95, math.Max(0.05, share)))}
}

// Worth is how many independent nests say as much as an estimate s of survival, 0 < s < 1, with the standard error se of log(−log s).
func Worth(s, se float64) float64 {
	h := -math.Log(s)
	return (1 - s) / (s * h * h * se * se)
}

// A Season of a ranch: the others' figure on the scale, its standard error, and the ranch's own data.
type Season struct {
	Mean, MeanSE float64
	Own          Own
}

// Others is how far ranches lie apart.
type Others struct {
	SD    float64 // between ranches, above 0
	LogSD float64 // standard error of log SD; 0 takes it for true
	// Lasting is the part of the variance that stays with a ranch from season to season, or below 0 where nobody knows.
	Lasting float64
}

// A Figure is the posterior of one season: normal distributions, each with its weight.
type Figure struct {
	weight, mean, sd []float64
}

// Together returns the figure of season at, out of all seasons of one ranch. It panics where there is no spread.
func Together(seasons []Season, at int, others Others) Figure {
	if !(others.SD > 0) {
		panic("shrink: no spread to weigh by")
	}
	steps, parts := []float64{0}, []float64{others.Lasting}
	if others.LogSD > 0 {
		steps = steps[:0]
		for z := -2.5; z <= 2.5; z += 0.5 {
			steps = append(steps, z)
		}
	}
	if others.Lasting < 0 {
		parts = []float64{0.1, 0.3, 0.5, 0.7, 0.9}
	}
	if len(seasons) == 1 {
		parts = []float64{0}
	}
	var f Figure
	var logs []float64
	most := math.Inf(-1)
	for _, z := range steps {
		for _, part := range parts {
			mean, sd, evidence := modal(seasons, at, others.SD*math.Exp(others.LogSD*z), part)
			f.mean, f.sd = append(f.mean, mean), append(f.sd, sd)
			logs = append(logs, evidence-z*z/2)
			most = math.Max(most, logs[len(logs)-1])
		}
	}
	var sum float64
	for _, l := range logs {
		f.weight = append(f.weight, math.Exp(l-most))
		sum += f.weight[len(f.weight)-1]
	}
	for i := range f.weight {
		f.weight[i] /= sum
	}
	return f
}

// modal returns the posterior's mode and standard deviation of one season for one spread, and the logarithm of the
// likelihood of the ranch's data by Laplace's approximation.
func modal(seasons []Season, at int, spread, lasting float64) (mode, sd, evidence float64) {
	n := len(seasons)
	prior := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			v := lasting * spread * spread
			if i == j {
				v = spread*spread + seasons[i].MeanSE*seasons[i].MeanSE
			}
			prior.SetSym(i, j, v)
		}
	}
	var chol mat.Cholesky
	chol.Factorize(prior)
	var precision mat.SymDense
	_ = chol.InverseTo(&precision) // positive definite: spread is above 0, and lasting at most 1 less than all

	x := make([]float64, n)
	for i, s := range seasons {
		if x[i] = s.Mean; s.Own.Known() {
			x[i] = (s.Mean + s.Own.start) / 2
		}
	}
	value := func(x []float64) float64 {
		off := mat.NewVecDense(n, nil)
		l := 0.0
		for i, s := range seasons {
			off.SetVec(i, x[i]-s.Mean)
			if s.Own.Known() {
				own, _, _ := s.Own.logLik(x[i])
				l += own
			}
		}
		return l - mat.Inner(off, &precision, off)/2
	}
	var post mat.Cholesky
	best := value(x)
	for range 100 {
		info := mat.NewSymDense(n, nil)
		info.CopySym(&precision)
		slope := mat.NewVecDense(n, nil)
		off := mat.NewVecDense(n, nil)
		for i, s := range seasons {
			off.SetVec(i, x[i]-s.Mean)
		}
		slope.MulVec(&precision, off)
		slope.ScaleVec(-1, slope)
		for i, s := range seasons {
			if s.Own.Known() {
				_, u, c := s.Own.logLik(x[i])
				slope.SetVec(i, slope.AtVec(i)+u)
				info.SetSym(i, i, info.At(i, i)-c)
			}
		}
		post.Factorize(info)
		step := mat.NewVecDense(n, nil)
		_ = post.SolveVecTo(step, slope)
		size, scale := mat.Norm(step, math.Inf(1)), 1.0
		next := make([]float64, n)
		for range 40 {
			for i := range next {
				next[i] = x[i] + scale*step.AtVec(i)
			}
			if v := value(next); v >= best || size*scale < 1e-9 {
				best = v
				break
			}
			scale /= 2
		}
		copy(x, next)
		if size < 1e-8 {
			break
		}
	}
	unit, col := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	unit.SetVec(at, 1)
	_ = post.SolveVecTo(col, unit)
	return x[at], math.Sqrt(col.AtVec(at)), best - chol.LogDet()/2 - post.LogDet()/2
}

// Mean and SD are those of the posterior.
func (f Figure) Mean() (m float64) {
	for i, w := range f.weight {
		m += w * f.mean[i]
	}
	return m
}

// SD is its standard deviation.
func (f Figure) SD() float64 {
	m, v := f.Mean(), 0.0
	for i, w := range f.weight {
		v += w * (f.sd[i]*f.sd[i] + (f.mean[i]-m)*(f.mean[i]-m))
	}
	return math.Sqrt(v)
}

// Quantile returns the value below which the figure lies with probability p.
func (f Figure) Quantile(p float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range f.mean {
		low, high = math.Min(low, f.mean[i]-12*f.sd[i]), math.Max(high, f.mean[i]+12*f.sd[i])
	}
	for range 100 {
		mid, below := (low+high)/2, 0.0
		for i, w := range f.weight {
			below += w * interval.CDF((mid-f.mean[i])/f.sd[i], 0)
		}
		if below < p {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// Survival returns the figure and its range as survival: the median and the quantiles, where the scale is LogLog.
func (f Figure) Survival(level float64) (s, low, high float64) {
	return FromLogLog(f.Quantile(0.5)), FromLogLog(f.Quantile((1 + level) / 2)), FromLogLog(f.Quantile((1 - level) / 2))
}

// LogLog is the scale of survival; FromLogLog leads back. LogLog falls as survival rises.
func LogLog(survival float64) float64 { return math.Log(-math.Log(survival)) }

// FromLogLog returns the survival at a point of the scale log(−log S).
func FromLogLog(x float64) float64 { return math.Exp(-math.Exp(x)) }
