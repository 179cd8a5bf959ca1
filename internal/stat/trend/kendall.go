package trend

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Kendall is the Mann–Kendall test: does y go up or down as x does? The null hypothesis is that the values come in
// random order.
type Kendall struct {
	N        int
	S        int     // pairs that go up less pairs that go down
	Tau      float64 // S as a share of all pairs (tau-a)
	Variance float64 // of S under the null hypothesis, with Kendall's correction for ties in y and x
	Z        float64 // with the correction for continuity; 0 where S is 0
	P        float64 // two-sided
	Exact    bool    // whether P is from the exact distribution of S, else from Z
}

// exactBelow is the number of values up to which P is exact, where no two are equal (Helsel et al. 2020, USGS TM
// 4-A3, §8.2: the normal distribution serves above ten).
const exactBelow = 10

// MannKendall tests y against x. Pairs with a NaN are left out. With fewer than two values, or all equal, S is 0 and P 1.
func MannKendall(x, y []float64) Kendall {
	if len(x) != len(y) {
		panic("trend: x and y differ in length")
	}
	x, y = complete(x, y)
	n := len(x)
	k := Kendall{N: n, P: 1}
	for i := range n {
		for j := i + 1; j < n; j++ {
			k.S += sign(x[j]-x[i]) * sign(y[j]-y[i])
		}
	}
	if n < 2 {
		return k
	}
	pairs := float64(n*(n-1)) / 2
	k.Tau = float64(k.S) / pairs
	k.Variance = variance(x, y)
	k.Z = standard(float64(k.S), k.Variance)
	if n <= exactBelow && len(ties(x)) == 0 && len(ties(y)) == 0 {
		k.Exact = true
		k.P = exact(k.S, n)
		return k
	}
	k.P = twoSided(k.Z)
	return k
}

func complete(x, y []float64) (a, b []float64) {
	for i := range x {
		if !math.IsNaN(x[i]) && !math.IsNaN(y[i]) {
			a, b = append(a, x[i]), append(b, y[i])
		}
	}
	return a, b
}

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// standard is S less one toward zero, in standard deviations: S moves in steps of two, so its distribution is met
// half-way.
func standard(s, variance float64) float64 {
	if s == 0 || variance <= 0 {
		return 0
	}
	return (s - math.Copysign(1, s)) / math.Sqrt(variance)
}

func twoSided(z float64) float64 {
	return min(1, 2*distuv.UnitNormal.CDF(-math.Abs(z)))
}

// ties are the sizes of the groups of equal values.
func ties(v []float64) []float64 {
	sorted := slices.Sorted(slices.Values(v))
	var sizes []float64
	for i := 0; i < len(sorted); {
		j := i
		for j < len(sorted) && sorted[j] == sorted[i] {
			j++
		}
		if j-i > 1 {
			sizes = append(sizes, float64(j-i))
		}
		i = j
	}
	return sizes
}

// variance of S: with ties of sizes t in one and u in the other (Kendall 1975, Rank Correlation Methods, eq. 4.4).
func variance(x, y []float64) float64 {
	n := float64(len(x))
	a := n * (n - 1) * (2*n + 5)
	var t2, u2, t3, u3 float64
	for _, t := range ties(x) {
		a -= t * (t - 1) * (2*t + 5)
		t2 += t * (t - 1)
		t3 += t * (t - 1) * (t - 2)
	}
	for _, u := range ties(y) {
		a -= u * (u - 1) * (2*u + 5)
		u2 += u * (u - 1)
		u3 += u * (u - 1) * (u - 2)
	}
	v := a / 18
	if n > 2 {
		v += t3 * u3 / (9 * n * (n - 1) * (n - 2))
	}
	return v + t2*u2/(2*n*(n-1))
}

// exact is P(|S| ≥ |s|) over all orders of n different values: the number of orders with k inversions is the
// convolution of 1 + q + … + q^(i−1), i = 2 to n.
func exact(s, n int) float64 {
	counts := []float64{1}
	for i := 2; i <= n; i++ {
		next := make([]float64, len(counts)+i-1)
		for k, c := range counts {
			for j := range i {
				next[k+j] += c
			}
		}
		counts = next
	}
	var hit, all float64
	for inversions, c := range counts {
		all += c
		if at := n*(n-1)/2 - 2*inversions; max(at, -at) >= max(s, -s) {
			hit += c
		}
	}
	return hit / all
}

// Slope is Sen's: the median of the slopes between all pairs (Sen 1968, J. Am. Stat. Assoc. 63:1379-1389).
type Slope struct {
	Known     bool // false with fewer than two different x
	Slope     float64
	Intercept float64 // median y less Slope times median x (Conover)
	Pairs     int
	Bounded   bool // whether there are enough pairs for an interval
	Low, High float64
}

// Sen returns the slope of y on x, in units of y per unit of x, with its interval at level, 0.95 for 95 %.
func Sen(x, y []float64, level float64) Slope {
	if len(x) != len(y) {
		panic("trend: x and y differ in length")
	}
	x, y = complete(x, y)
	slopes := slopes(x, y)
	s := Slope{Pairs: len(slopes)}
	if len(slopes) == 0 {
		return s
	}
	s.Known = true
	slices.Sort(slopes)
	s.Slope = median(slopes)
	s.Intercept = median(slices.Sorted(slices.Values(y))) - s.Slope*median(slices.Sorted(slices.Values(x)))

	if low, high := limits(x, y, len(slopes), level); low >= 1 && high <= len(slopes) {
		s.Bounded = true
		s.Low, s.High = slopes[low-1], slopes[high-1]
	}
	return s
}

// limits are the ranks, counted from one, of the slopes between which the true one lies at level. The slopes k and n
// + 1 − k fail to hold it with the chance that |S| is n − 2k + 2 or more; where that is known exactly the largest k
// that will do is taken, else the normal approximation to it, rounded outward.
func limits(x, y []float64, n int, level float64) (low, high int) {
	if len(x) <= exactBelow && len(ties(x)) == 0 && len(ties(y)) == 0 {
		for exact(n-2*low, len(x)) <= 1-level { // low + 1 will do
			low++
		}
		return low, n + 1 - low
	}
	c := distuv.UnitNormal.Quantile(1-(1-level)/2) * math.Sqrt(variance(x, y))
	return int(math.Floor((float64(n) - c) / 2)), int(math.Ceil((float64(n)+c)/2)) + 1
}

// slopes between all pairs of different x.
func slopes(x, y []float64) []float64 {
	var list []float64
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				list = append(list, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	return list
}

// median of sorted values.
func median(v []float64) float64 {
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}
