// Package shrink steadies one ranch's figure by what is known of the others: a ranch with few nests comes to sit near
// them, one with many near its own data.
//
// With the others' figures θ ~ N(μ, τ²), known, and the ranch's own y ~ N(θ, s²), the steadied figure is
//
//	(y/s² + μ/τ²) / (1/s² + 1/τ²), with the conditional variance 1 / (1/s² + 1/τ²),
//
// the mean and the variance of θ given y (Gelman and others, Bayesian Data Analysis, 5.4: the normal model with known
// variances). Survival is steadied on the scale log(−log S), where it is nearly normal.
package shrink

import "math"

// Others is how the others lie: the mean and the standard deviation of their true figures.
type Others struct{ Mean, SD float64 }

// Towards returns a figure steadied towards others, and its conditional standard error. An own figure without error stays
// as it is. It panics where either spread is negative or both are zero: there is nothing to weigh then.
func Towards(own, se float64, others Others) (steadied, conditional float64) {
	if !(se >= 0 && others.SD >= 0) || se == 0 && others.SD == 0 {
		panic("shrink: no spread to weigh by")
	}
	weight := others.SD * others.SD / (se*se + others.SD*others.SD)
	return others.Mean + weight*(own-others.Mean), math.Sqrt(weight) * se
}

// LogLog is the scale that survival is steadied on; FromLogLog leads back. LogLog falls as survival rises.
func LogLog(survival float64) float64 { return math.Log(-math.Log(survival)) }

// FromLogLog returns the survival at a point of the scale log(−log S).
func FromLogLog(x float64) float64 { return math.Exp(-math.Exp(x)) }
