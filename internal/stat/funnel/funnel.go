// Package funnel draws the limits within which a ranch's survival stays by chance alone when it is like the others:
// wide for few nests, narrow for many (Spiegelhalter 2005, Stat. Med. 24:1185-1202). It judges no ranch and ranks
// none.
package funnel

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Ranch is what counts: nests of known fate and how many of them were intact.
type Ranch struct{ Nests, Intact int }

// Limit is the fraction intact below which a ranch of n nests falls with chance p when each nest is intact with
// chance target. Exact binomial, drawn straight between the steps so that the funnel has no teeth: with r the least count
// whose cumulative chance F(r) reaches p, (r − (F(r) − p)/(F(r) − F(r−1)))/n, kept within 0 and 1.
func Limit(target float64, n int, p float64) float64 {
	if n < 1 || !(target >= 0 && target <= 1) || !(p > 0 && p < 1) {
		panic("funnel: no nests, or a chance outside 0 to 1")
	}
	if target == 0 || target == 1 {
		return target
	}
	b := distuv.Binomial{N: float64(n), P: target}
	r := 0
	for b.CDF(float64(r)) < p && r < n {
		r++
	}
	at := b.CDF(float64(r))
	limit := (float64(r) - (at-p)/b.Prob(float64(r))) / float64(n)
	return min(1, max(0, limit))
}

// Wide is the same by the normal approximation with the variance made dispersion times the binomial one, for ranches
// that differ by more than chance. A dispersion below one counts as one.
func Wide(target float64, n int, p, dispersion float64) float64 {
	if n < 1 || !(target >= 0 && target <= 1) || !(p > 0 && p < 1) {
		panic("funnel: no nests, or a chance outside 0 to 1")
	}
	half := distuv.UnitNormal.Quantile(p) * math.Sqrt(max(1, dispersion)*target*(1-target)/float64(n))
	return min(1, max(0, target+half))
}

// Target is the fraction intact of all ranches' nests together; ok is false without nests.
func Target(ranches []Ranch) (target float64, ok bool) {
	var n, intact int
	for _, r := range ranches {
		n, intact = n+r.Nests, intact+r.Intact
	}
	if n == 0 {
		return 0, false
	}
	return float64(intact) / float64(n), true
}

// winsorised is the share of ranches at either end that are drawn in before the dispersion is taken, so that a few far
// ones do not widen the funnel until they fit in it.
const winsorised = 0.1

// Dispersion is how many times more the ranches vary around target than chance would make them: the mean square of
// their z-scores, the outer tenth on either side drawn in to the tenth's edge. ok is false with fewer than two
// ranches, or a target of 0 or 1.
func Dispersion(ranches []Ranch, target float64) (factor float64, ok bool) {
	var z []float64
	for _, r := range ranches {
		if r.Nests > 0 && target > 0 && target < 1 {
			n := float64(r.Nests)
			z = append(z, (float64(r.Intact)/n-target)/math.Sqrt(target*(1-target)/n))
		}
	}
	if len(z) < 2 {
		return 1, false
	}
	slices.Sort(z)
	low, high := quantile(z, winsorised), quantile(z, 1-winsorised)
	for _, v := range z {
		v = min(high, max(low, v))
		factor += v * v / float64(len(z))
	}
	return factor, true
}

// quantile of sorted values, interpolated between order statistics (Hyndman and Fan 1996, Am. Stat. 50:361-365, type 7).
func quantile(v []float64, p float64) float64 {
	at := p * float64(len(v)-1)
	i := min(int(at), len(v)-2)
	return v[i] + (at-float64(i))*(v[i+1]-v[i])
}
