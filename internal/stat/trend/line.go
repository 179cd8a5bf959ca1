package trend

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"tussock/internal/stat/differ"
	"tussock/internal/stat/interval"
)

// LongSeries is how many seasons it takes to see how long good and bad years last. Below it that is taken for granted, and no word
// about a trend may stand without saying so.
const LongSeries = 8

// Runs is the correlation between the luck of one season and the next that is taken for granted: rain, cover and predators last
// beyond a year. Common practice, no source; a series of LongSeries seasons or more may raise it, never lower it, since so few
// seasons make it seem smaller than it is.
const Runs = 0.6

// seasonsForLine is the fewest seasons of a line.
const seasonsForLine = 3

// A Line is a straight line through the seasons' log(−log S), each with an error of its own and a luck that all nests share:
//
//	y_t = a + b·t + w_t + e_t,   cov(w_t, w_s) = τ²·φ^|t − s|,   cov(e) known
//
// b is that of generalised least squares, averaged over τ by the restricted likelihood and a half-normal prior of scale usualLuck
// (Gelman 2006, Bayesian Analysis 1:515–533): few seasons tell little of τ, and the likeliest value is too small too often. φ is Runs;
// of LongSeries seasons or more it is averaged from there to 0.9. The interval is normal, or has Student's t where ranches have slopes
// of their own.
type Line struct {
	Known                bool
	Seasons, First, Last int

	Yearly, Low, High float64 // the daily hazard of a year as a multiple of the year's before, and its 95 % interval
	Slope, SE, DF     float64 // b, its standard error, the degrees of freedom
	Tau, Correlation  float64 // the averages of τ and φ

	// Outcome sets Yearly against 1. What matters is a change of survival by Margin from the first season to the last.
	Outcome differ.Outcome
	Margin  float64
}

// through fits a line to y at years, whose errors have the covariance matrix cov (in the order of y), about a mean survival of
// middle; most is a further limit to the degrees of freedom.
func through(years []int, y []float64, cov mat.Symmetric, middle, most float64) Line {
	n := len(years)
	l := Line{Seasons: n, Margin: differ.Survival.Size}
	if n > 0 {
		l.First, l.Last = years[0], years[n-1]
	}
	if n < seasonsForLine {
		return l
	}
	runs := []float64{Runs}
	if n >= LongSeries {
		runs = []float64{Runs, 0.7, 0.8, 0.9}
	}
	f, ok := fit(years, y, cov, runs)
	if !ok {
		return l
	}
	l.Known = true
	l.Slope, l.SE, l.Tau, l.Correlation = f.slope, math.Sqrt(f.variance), f.tau, f.phi
	l.DF = most
	at := func(x float64) float64 { return math.Exp(min(max(x, -700), 700)) }
	half := quantile(l.DF) * l.SE
	l.Yearly, l.Low, l.High = at(l.Slope), at(l.Slope-half), at(l.Slope+half)

	// A survival S moves by S·|log S| for each unit of log(−log S).
	change := l.Margin / max(1e-3, middle*-math.Log(middle)) / float64(l.Last-l.First)
	l.Outcome = differ.Compare(differ.Question{
		Of: interval.Log(l.Yearly, l.Yearly*l.SE, 0).WithDF(l.DF), With: interval.Exactly(1),
		Margin: differ.Margin{Size: math.Expm1(change), Factor: true}, Fixed: true,
	})
	return l
}

// A fitted line, at one τ and φ or averaged.
type fitted struct{ tau, phi, slope, variance, reml float64 }

// usualLuck is how far one season commonly lies from another on the scale of log hazard. Common practice, no source.
const usualLuck = 0.5

// The grid of τ: at 3 a bad year takes twenty times what a middling one does.
const (
	tauStep  = 0.02
	tauSteps = 150
)

// fit averages the line over τ and φ; false where the errors' matrix is none.
func fit(years []int, y []float64, cov mat.Symmetric, runs []float64) (mean fitted, ok bool) {
	var all []fitted
	highest := math.Inf(-1)
	for _, phi := range runs {
		s, whole := seriesOf(years, y, cov, phi)
		if !whole {
			return mean, false
		}
		for i := range tauSteps {
			f := s.at((float64(i) + 0.5) * tauStep)
			f.phi = phi
			all, highest = append(all, f), max(highest, f.reml)
		}
	}
	total, squares := 0.0, 0.0
	for _, f := range all {
		w := math.Exp(f.reml - highest - f.tau*f.tau/(2*usualLuck*usualLuck))
		total += w
		mean.tau += w * f.tau
		mean.phi += w * f.phi
		mean.slope += w * f.slope
		mean.variance += w * f.variance
		squares += w * f.slope * f.slope
	}
	mean.tau, mean.phi, mean.slope = mean.tau/total, mean.phi/total, mean.slope/total
	mean.variance = mean.variance/total + max(0, squares/total-mean.slope*mean.slope)
	return mean, true
}

// A series is the seasons in coordinates in which both their errors and their shared luck are independent: the errors of variance 1,
// the luck of variance τ²·luck.
type series struct {
	y, one, year []float64
	luck         []float64
	logDet       float64 // of the errors' matrix
}

func seriesOf(years []int, y []float64, cov mat.Symmetric, phi float64) (*series, bool) {
	n := len(years)
	var c mat.Cholesky
	if !c.Factorize(cov) {
		return nil, false
	}
	var l mat.TriDense
	c.LTo(&l)
	data := mat.NewDense(n, 3, nil)
	runs := mat.NewDense(n, n, nil)
	for i := range n {
		data.SetRow(i, []float64{y[i], 1, float64(years[i]) - float64(years[0]+years[n-1])/2})
		for j := range n {
			runs.Set(i, j, math.Pow(phi, math.Abs(float64(years[i]-years[j]))))
		}
	}
	var half, both, white mat.Dense // L⁻¹R, L⁻¹RL⁻ᵀ
	if half.Solve(&l, runs) != nil || both.Solve(&l, half.T()) != nil || white.Solve(&l, data) != nil {
		return nil, false
	}
	even := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			even.SetSym(i, j, (both.At(i, j)+both.At(j, i))/2)
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(even, true) {
		return nil, false
	}
	var vectors, turned mat.Dense
	eigen.VectorsTo(&vectors)
	turned.Mul(vectors.T(), &white)
	return &series{mat.Col(nil, 0, &turned), mat.Col(nil, 1, &turned), mat.Col(nil, 2, &turned), eigen.Values(nil), c.LogDet()}, true
}

// at is the line of weighted least squares at one τ, with its restricted log likelihood but for a constant.
func (s *series) at(tau float64) fitted {
	var a, b, c, ya, yb, yy, logDet float64 // the information of level and slope, and what y has to say of them
	for i := range s.y {
		v := 1 + tau*tau*max(0, s.luck[i])
		logDet += math.Log(v)
		a, b, c = a+s.one[i]*s.one[i]/v, b+s.one[i]*s.year[i]/v, c+s.year[i]*s.year[i]/v
		ya, yb, yy = ya+s.y[i]*s.one[i]/v, yb+s.y[i]*s.year[i]/v, yy+s.y[i]*s.y[i]/v
	}
	det := a*c - b*b
	slope := (a*yb - b*ya) / det
	level := (ya - b*slope) / a
	left := yy - level*ya - slope*yb
	return fitted{tau: tau, slope: slope, variance: a / det, reml: -(s.logDet + logDet + math.Log(det) + left) / 2}
}

func quantile(df float64) float64 {
	if math.IsInf(df, 1) {
		df = 0
	}
	return interval.Quantile((1+interval.Level)/2, df)
}
