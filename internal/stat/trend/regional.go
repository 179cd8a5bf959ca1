package trend

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Region is the Regional Kendall test: is there one direction over all ranches?
type Region struct {
	Ranches int // with two years at least
	S       int
	Tau     float64

	// Variance and P take the ranches to be independent given no trend.
	Variance, Z, P float64

	// The same with the covariances between ranches that good and bad years for all bring (Hirsch and Slack 1984,
	// Water Resour. Res. 20:727-732; missing years as in Dietz and Killeen 1981, J. Am. Stat. Assoc. 76:169-174).
	// Reliable says whether there are enough years to estimate them: more than ten (USGS SIR 2005-5275). Where it is
	// false, ranches that had the same weather make P too small.
	CovVariance, CovZ, CovP float64
	Reliable                bool

	Known bool    // whether there is a slope
	Slope float64 // the median of the slopes between years within ranches, per year

	// Homogeneity tests whether the ranches go the same way (van Belle and Hughes 1984, Water Resour. Res. 20:127-136).
	Homogeneity, HomogeneityP float64
	HomogeneityDF             int
}

// reliableYears is how many years it takes to estimate the covariances between ranches.
const reliableYears = 10

// Regional tests rows, one a ranch, with a value for each of years, NaN where a ranch has none.
func Regional(years []float64, rows [][]float64) Region {
	r := Region{P: 1, CovP: 1, HomogeneityP: 1}
	var all, z []float64
	var used [][]float64
	var pairs float64
	for _, row := range rows {
		k := MannKendall(years, row)
		if k.N < 2 {
			continue
		}
		used = append(used, row)
		r.Ranches++
		r.S += k.S
		r.Variance += k.Variance
		pairs += float64(k.N*(k.N-1)) / 2
		x, y := complete(years, row)
		all = append(all, slopes(x, y)...)
		if k.Variance > 0 {
			z = append(z, float64(k.S)/math.Sqrt(k.Variance))
		}
	}
	if r.Ranches == 0 {
		return r
	}
	r.Tau = float64(r.S) / pairs
	r.Z = standard(float64(r.S), r.Variance)
	r.P = twoSided(r.Z)

	r.CovVariance = r.Variance
	of := make([]ranked, len(used))
	for g := range used {
		of[g].ranks, of[g].n = ranks(used[g])
	}
	for g := range used {
		for h := range g {
			r.CovVariance += 2 * covariance(used[g], used[h], of[g], of[h])
		}
	}
	r.CovZ = standard(float64(r.S), r.CovVariance)
	r.CovP = twoSided(r.CovZ)
	r.Reliable = len(years) > reliableYears && r.CovVariance > 0

	if len(all) > 0 {
		slices.Sort(all)
		r.Known, r.Slope = true, median(all)
	}
	if r.HomogeneityDF = len(z) - 1; r.HomogeneityDF > 0 {
		var sum, squares float64
		for _, v := range z {
			sum += v
			squares += v * v
		}
		r.Homogeneity = squares - sum*sum/float64(len(z))
		r.HomogeneityP = distuv.ChiSquared{K: float64(r.HomogeneityDF)}.Survival(r.Homogeneity)
	}
	return r
}

// ranked is the ranks of a row of which n values are there.
type ranked struct {
	ranks []float64
	n     int
}

// covariance of S between two ranches: (K + 4 Σ R_g R_h − n (n_g + 1)(n_h + 1)) / 3, K the sum of the signs of the
// products of their changes and R ranks, a missing year having the middle rank.
func covariance(g, h []float64, ofG, ofH ranked) float64 {
	n := len(g)
	var k int
	var cross float64
	for i := range n {
		cross += ofG.ranks[i] * ofH.ranks[i]
		for j := i + 1; j < n; j++ {
			if d := (g[j] - g[i]) * (h[j] - h[i]); !math.IsNaN(d) {
				k += sign(d)
			}
		}
	}
	return (float64(k) + 4*cross - float64(n)*float64(ofG.n+1)*float64(ofH.n+1)) / 3
}

// ranks of v, equal values sharing the mean of theirs, NaN having the middle one; n counts the others.
func ranks(v []float64) (r []float64, n int) {
	r = make([]float64, len(v))
	for _, x := range v {
		if !math.IsNaN(x) {
			n++
		}
	}
	for i, x := range v {
		if math.IsNaN(x) {
			r[i] = float64(n+1) / 2
			continue
		}
		below, same := 0, 0
		for _, o := range v {
			switch {
			case o < x:
				below++
			case o == x:
				same++
			}
		}
		r[i] = float64(below) + float64(same+1)/2
	}
	return r, n
}
