package density

import "math"

// Patchiness is how far the densities of belts lie apart over their mean, as a standard deviation, without what counting clumps that lie at
// random would give by itself: √max(0, s² − D·mean(1/a)) / D, s² the variance of the belts' densities. It is false of fewer than two
// belts, and where there is no clump.
func Patchiness(belts []Belt) (cv float64, ok bool) {
	e := Fit(belts)
	m := float64(len(belts))
	if m < 2 || e.Count == 0 {
		return 0, false
	}
	var mean, squares, random float64
	for _, b := range belts {
		mean += float64(b.Count) / b.Area / m
		random += e.Density / b.Area / m
	}
	for _, b := range belts {
		d := float64(b.Count)/b.Area - mean
		squares += d * d / (m - 1)
	}
	return math.Sqrt(math.Max(0, squares-random)) / e.Density, true
}

// Calibrated returns the densities of sites as they are best put into a regression: what is to be expected of the true one given the belts,
// on the log scale. A site's few belts err, and a slope on figures that err is too flat; on these it is not (regression
// calibration: Carroll, Ruppert, Stefanski and Crainiceanu 2006, Measurement Error in Nonlinear Models, ch. 4):
//
//	x̃ = μ + (x − μ)·σ²/(σ² + v),   v = cv²/m
//
// with x = log D of a site of m belts, cv the spread of belts within sites over their density, pooled over all sites, and μ and σ²
// mean and variance of the true x between sites, by moments. A site on whose belts no clump stood counts as one with half a clump. With
// fewer than three sites, or no site of two belts, and where the sites lie no farther apart than their errors would have them, which leaves
// nothing to draw a line through, densities come back as they were counted. Where they lie hardly farther apart, σ² is held to a quarter of the
// spread between sites, ours: the quotient has no mean without a bound, and a season's slope would be anything (Fuller 1987, Measurement Error
// Models, 2.5, cited from memory, bounds it likewise).
func Calibrated(sites [][]Belt) []float64 {
	n := len(sites)
	densities, x := make([]float64, n), make([]float64, n)
	var squares, free float64
	for i, belts := range sites {
		e := Fit(belts)
		densities[i] = e.Density
		x[i] = math.Log(math.Max(0.5, float64(e.Count)) / e.Area)
		if e.Count == 0 {
			continue
		}
		mean := e.Area / float64(len(belts))
		for _, b := range belts {
			r := (float64(b.Count) - e.Density*b.Area) / (e.Density * mean)
			squares += r * r
		}
		free += float64(len(belts) - 1)
	}
	if n < 3 || free == 0 {
		return densities
	}
	v, weight := make([]float64, n), make([]float64, n)
	for i := range sites {
		v[i], weight[i] = squares/free/float64(len(sites[i])), 1
	}
	var mu, between float64
	for range 50 { // weights by the variance between, which rests on the weights
		var sum, of, spread, error float64
		for i := range x {
			sum, of = sum+weight[i]*x[i], of+weight[i]
		}
		mu = sum / of
		for i := range x {
			spread += (x[i] - mu) * (x[i] - mu) / float64(n-1)
			error += v[i] / float64(n)
		}
		between = spread - error
		if between <= 0 {
			return densities
		}
		between = math.Max(between, spread/4)
		for i := range x {
			weight[i] = 1 / (between + v[i])
		}
	}
	for i := range x {
		densities[i] = math.Exp(mu + (x[i]-mu)*between/(between+v[i]))
	}
	return densities
}
