package interval_test

import (
	"fmt"
	"math"
	"testing"

	"tussock/internal/stat/interval"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.12g, want %.12g ± %g", what, got, want, tolerance)
	}
}

// Newcombe 1998 (Statistics in Medicine 17:857–872) gives the four examples to four digits (from memory of the
// paper); the digits here are R 4.2.2's (qbeta and the formula) and Python statsmodels 0.13.5's, which agree. 7/50 is the example of
// scipy's binomtest.
func TestProportions(t *testing.T) {
	tests := []struct {
		x, n                            int
		wilsonLow, wilsonHigh, cpL, cpH float64
	}{
		{81, 263, 0.2552885199, 0.3662095770, 0.2527367456, 0.3676219226},
		{15, 148, 0.0623863995, 0.1604872417, 0.0578440101, 0.1616504903},
		{0, 20, 0, 0.1611251581, 0, 0.1684334710},
		{1, 29, 0.0061132143, 0.1717552188, 0.0008726469, 0.1776442955},
		{7, 50, 0.06950833427, 0.2618619371, 0.05819170034, 0.2673960025},
		{45, 132, 0.2655691313, 0.4252469100, 0, 0}, // camera-watched model clutches that survived, PeerJ 4:e2460 (2016); R 4.2.2
		{12, 100, 0.06999406437, 0.1981209943, 0.06356890256, 0.2002356836},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprintf("%d of %d", tt.x, tt.n), func(t *testing.T) {
			low, high := interval.Wilson(tt.x, tt.n, 0.95)
			near(t, "Wilson low", low, tt.wilsonLow, 1e-9)
			near(t, "Wilson high", high, tt.wilsonHigh, 1e-9)
			if tt.cpH == 0 {
				return
			}
			low, high = interval.ClopperPearson(tt.x, tt.n, 0.95)
			near(t, "Clopper–Pearson low", low, tt.cpL, 1e-9)
			near(t, "Clopper–Pearson high", high, tt.cpH, 1e-9)
		})
	}
}

// NIST/SEMATECH e-Handbook 7.2.4.1: exact 90 % limits for 4 defects of 20 (printed 0.071 and 0.401).
func TestOtherLevel(t *testing.T) {
	low, high := interval.ClopperPearson(4, 20, 0.90)
	near(t, "low", low, 0.07135388431, 1e-9)
	near(t, "high", high, 0.4010281173, 1e-9)
}

// At the ends floating point must not leave 0 to 1, and without nests nothing is known.
func TestProportionEnds(t *testing.T) {
	for n := range 40 {
		for _, f := range []func(int, int, float64) (float64, float64){interval.Wilson, interval.ClopperPearson} {
			if low, _ := f(0, n, 0.95); low != 0 {
				t.Errorf("0 of %d: low %v", n, low)
			}
			if _, high := f(n, n, 0.95); high != 1 {
				t.Errorf("%d of %d: high %v", n, n, high)
			}
		}
	}
}

// Brown, Cai & DasGupta 2001 (Statistical Science 16:101–133) compare coverages; with n = 50 and p = 0.2 Wilson's interval
// covers 0.9507005622 and Clopper–Pearson's 0.9670623276 of the time (sums of binomial probabilities, R 4.2.2).
func TestCoverage(t *testing.T) {
	cover := func(f func(int, int, float64) (float64, float64)) float64 {
		var sum float64
		for x := range 51 {
			if low, high := f(x, 50, 0.95); low <= 0.2 && 0.2 <= high {
				sum += math.Exp(logChoose(50, x) + float64(x)*math.Log(0.2) + float64(50-x)*math.Log(0.8))
			}
		}
		return sum
	}
	near(t, "Wilson", cover(interval.Wilson), 0.9507005622, 1e-8)
	near(t, "Clopper–Pearson", cover(interval.ClopperPearson), 0.9670623276, 1e-8)
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// Garwood 1936 (Biometrika 28:437–442), by the χ² form of Ulm 1990; digits by R 4.2.2 qchisq.
func TestGarwood(t *testing.T) {
	for x, want := range map[int][2]float64{
		0: {0, 3.688879454}, 1: {0.02531780798, 5.571643391}, 2: {0.2422092785, 7.224687668},
		3: {0.6186721229, 8.767273070}, 5: {1.623486390, 11.66833208}, 10: {4.795388696, 18.39035604},
		20: {12.21651959, 30.88837790}, 50: {37.11096374, 65.91876666}, 100: {81.36399125, 121.6267938},
	} {
		low, high := interval.Garwood(x, 0.95)
		near(t, fmt.Sprintf("%d low", x), low, want[0], 1e-8*math.Max(1, want[0]))
		near(t, fmt.Sprintf("%d high", x), high, want[1], 1e-8*want[1])
	}
}

// The example of R's help on poisson.test: 137 events on a base of 24.19893 are 5.661407343 (4.753124805 to 6.692709334); R 4.2.2.
func TestCounted(t *testing.T) {
	low, high := interval.Counted(137, 24.19893).Interval(0.95)
	near(t, "low", low, 4.753124805, 1e-8)
	near(t, "high", high, 6.692709334, 1e-8)
}

// Student's t at 0.975, as in every printed table; the digits are R 4.2.2's qt.
func TestQuantile(t *testing.T) {
	for df, want := range map[float64]float64{
		0: 1.959963984540054, 1: 12.70620473617471, 2: 4.302652729749464, 3: 3.182446305284263,
		9: 2.262157162740992, 11: 2.200985160082949, 30: 2.042272456301238, 120: 1.979930405052777,
	} {
		near(t, fmt.Sprintf("df %v", df), interval.Quantile(0.975, df), want, 1e-9*want)
		near(t, fmt.Sprintf("df %v, other tail", df), interval.Quantile(0.025, df), -want, 1e-9*want)
		near(t, fmt.Sprintf("df %v back", df), interval.CDF(want, df), 0.975, 1e-10)
	}
}

// Each spread must agree with itself: a quantile is what its probability says, and the interval lies at the 2.5 % and
// 97.5 % quantiles where it is exact there.
func TestSpread(t *testing.T) {
	spreads := map[string]interval.Spread{
		"log":         interval.Log(300, 60, 5),
		"log(−log)":   interval.LogLog(0.6, 0.1, 3),
		"from hazard": interval.LogHazard(-math.Log(0.6), 0.1/0.6, 3),
		"all lasted":  interval.AllLasted(12),
		"none lasted": interval.NoneLasted(12),
		"counted":     interval.Counted(7, 0.5),
		"none found":  interval.Counted(0, 0.5),
		"published":   interval.Published(0.6, 0.45, 0.7),
		"cover":       interval.PublishedLog(300, 200, 350),
	}
	for name, s := range spreads {
		t.Run(name, func(t *testing.T) {
			last := math.Inf(-1)
			for _, p := range []float64{0.001, 0.025, 0.3, 0.5, 0.9, 0.975, 0.999} {
				q := s.Quantile(p)
				if !(q >= last) {
					t.Errorf("quantile %v: %v is below %v", p, q, last)
				}
				last = q
				near(t, fmt.Sprintf("at least quantile %v", p), s.AtLeast(q), 1-p, 1e-9)
			}
			low, high := s.Interval(0.95)
			if !(0 <= low && low < high) {
				t.Errorf("got %v to %v", low, high)
			}
			if s.AtLeast(-1) != 1 {
				t.Errorf("at least −1: got %v", s.AtLeast(-1))
			}
		})
	}
	low, high := spreads["log(−log)"].Interval(0.95)
	low2, high2 := spreads["from hazard"].Interval(0.95)
	near(t, "low both ways", low, low2, 1e-12)
	near(t, "high both ways", high, high2, 1e-12)
}

// With one degree of freedom the limits run out towards 0 and 1 and stay numbers.
func TestSpreadFarOut(t *testing.T) {
	for _, se := range []float64{0.1, 1, 10, 1000} {
		low, high := interval.LogHazard(0.7, se, 1).Interval(0.95)
		if !(0 <= low && low < high && high <= 1) {
			t.Errorf("se %v: got %v to %v", se, low, high)
		}
		low, high = interval.Log(300, 300*se, 1).Interval(0.95)
		if !(0 <= low && low < high && !math.IsInf(high, 0)) {
			t.Errorf("density, se %v: got %v to %v", se, low, high)
		}
	}
}

// A published figure gives back its range, and its middle where it had no estimate; an end that was not published leaves all
// beyond it open.
func TestPublished(t *testing.T) {
	low, high := interval.Published(0.6, 0.45, 0.7).Interval(0.95)
	near(t, "low", low, 0.45, 1e-12)
	near(t, "high", high, 0.7, 1e-12)
	low, high = interval.PublishedLog(300, 200, 350).Interval(0.95)
	near(t, "low", low, 200, 1e-9)
	near(t, "high", high, 350, 1e-9)
	near(t, "middle", interval.PublishedLog(math.NaN(), 100, 400).Point(), 200, 1e-9)
	low, high = interval.Published(0.9, 0.8, 1).Interval(0.99)
	if !(low < 0.8 && high == 1) {
		t.Errorf("got %v to %v", low, high)
	}
	low, high = interval.PublishedLog(math.NaN(), 0, 80).Interval(0.99)
	if low != 0 || math.Abs(high-80) > 1e-9 {
		t.Errorf("80 or fewer: got %v to %v", low, high)
	}
	if interval.Published(math.NaN(), 0, 1).Known() {
		t.Error("a figure without ends and estimate counts as known")
	}
	if s := interval.Exactly(300); s.AtLeast(300) != 1 || s.AtLeast(301) != 0 || s.Point() != 300 {
		t.Error("an exact figure is not what it is")
	}
}

func Example() {
	low, high := interval.Wilson(15, 24, interval.Level)
	fmt.Printf("15 of 24: %.0f to %.0f of 100\n", 100*low, 100*high)
	// Output: 15 of 24: 43 to 79 of 100
}
