// Package interval makes the confidence intervals that the other methods share: for a proportion, for a count, and
// for figures that are estimated on a transformed scale.
package interval

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Level is the confidence of every interval that is shown.
const Level = 0.95

// Wilson returns the score interval for x successes of n (Wilson 1927): the proportions that a score test at the
// given level does not refuse. With n = 0 nothing is known: 0 to 1.
func Wilson(x, n int, level float64) (low, high float64) {
	check(x, n)
	if n == 0 {
		return 0, 1
	}
	return WilsonShare(float64(x)/float64(n), float64(n), level)
}

// WilsonShare is Wilson for a share p that was estimated from the weight of n > 0 observations.
func WilsonShare(p, n, level float64) (low, high float64) {
	z := Quantile((1+level)/2, 0)
	mid := p + z*z/(2*n)
	half := z * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	low, high = (mid-half)/(1+z*z/n), (mid+half)/(1+z*z/n)

	// At the ends the exact value is 0 or 1, which floating point misses by 1e-17.
	if p == 0 {
		low = 0
	}
	if p == 1 {
		high = 1
	}
	return low, high
}

// ClopperPearson returns the exact interval for x successes of n (Clopper & Pearson 1934), from the quantiles of the
// beta distribution. With n = 0 nothing is known: 0 to 1.
func ClopperPearson(x, n int, level float64) (low, high float64) {
	check(x, n)
	low, high = 0, 1
	tail := (1 - level) / 2
	if x > 0 {
		low = mathext.InvRegIncBeta(float64(x), float64(n-x+1), tail)
	}
	if x < n {
		high = mathext.InvRegIncBeta(float64(x+1), float64(n-x), 1-tail)
	}
	return low, high
}

// Garwood returns the exact interval for the mean of a Poisson count of which x were seen (Garwood 1936).
func Garwood(x int, level float64) (low, high float64) {
	check(x, x)
	tail := (1 - level) / 2
	if x > 0 {
		low = gammaQuantile(tail, float64(x))
	}
	return low, gammaQuantile(1-tail, float64(x+1))
}

// Quantile returns the p-quantile of Student's t with df degrees of freedom, or of the standard normal distribution
// where df is 0: the code for "the variance is taken as known".
func Quantile(p, df float64) float64 {
	if df == 0 {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(p)
}

// CDF returns the probability that Student's t with df degrees of freedom (0: the normal distribution) is at most x.
func CDF(x, df float64) float64 {
	if df == 0 {
		return distuv.UnitNormal.CDF(x)
	}
	return distuv.StudentsT{Sigma: 1, Nu: df}.CDF(x)
}

// gammaQuantile returns the p-quantile of the gamma distribution with the given shape and scale 1.
func gammaQuantile(p, shape float64) float64 {
	return mathext.GammaIncRegInv(shape, p)
}

func check(x, n int) {
	if x < 0 || n < x {
		panic("interval: a count must lie between 0 and n")
	}
}
