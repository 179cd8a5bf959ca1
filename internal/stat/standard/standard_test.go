package standard_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"tussock/internal/stat/standard"
	"tussock/internal/stat/survival"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.12g, want %.12g ± %g", what, got, want, tolerance)
	}
}

// US standard population of 2000 (Anderson & Rosenberg 1998, NVSR 47(3); Klein & Schoenborn 2001, Statistical Notes 20):
// thousands by age, and the weights as printed. That table rounds the last but one up to bring the sum to 1.
func TestShares(t *testing.T) {
	counts := []float64{3795, 15192, 39977, 38077, 37233, 44659, 37030, 23961, 18136, 12315, 4259}
	printed := []float64{.013818, .055317, .145565, .138646, .135573, .162613, .134834, .087247, .066037, .044842, .015508}
	for i, got := range standard.Shares(counts) {
		near(t, fmt.Sprintf("age group %d", i), got, printed[i], 1.1e-6)
	}
}

// Two strata, 14 of 20 and 30 of 50, weights 0.7 and 0.3: 0.67 with standard error 0.0746793144 where each nest has luck of its
// own (R 4.2.2, √Σ w²p(1−p)/n). One transect makes it so.
func TestTwoProportions(t *testing.T) {
	e := standard.Survival([]standard.Stratum{
		{Share: 0.7, Fit: survival.Fit(looked(14, 6))},
		{Share: 0.3, Fit: survival.Fit(looked(30, 20))},
	})
	near(t, "S28", e.S28, 0.67, 1e-12)
	near(t, "SE", e.SE, 0.0746793144, 1e-9)
	if e.Rests != survival.OnNests {
		t.Error("one transect has no spread between transects")
	}
}

// looked returns nests that lasted and nests that did not, looked at on days 14 and 28, on one transect.
func looked(lasted, lost int) []survival.Nest {
	var nests []survival.Nest
	for range lasted {
		nests = append(nests, survival.Nest{Intact: 28})
	}
	for i := range lost {
		nests = append(nests, survival.Nest{Intact: 14 * (i % 2), Lost: 14 + 14*(i%2)})
	}
	return nests
}

// Grass and pear on the same 12 transects, half and half: optim(), numerical derivatives and the stacked scores in
// ../testdata/oracle.R, R 4.2.2.
func TestJointSandwichOracle(t *testing.T) {
	for label, want := range readOracle(t) {
		var year int
		if _, err := fmt.Sscanf(label, "half and half %d", &year); err != nil {
			continue
		}
		e := standard.Survival([]standard.Stratum{
			{Share: 0.5, Fit: survival.Fit(nestsOf(t, year, "grass"))},
			{Share: 0.5, Fit: survival.Fit(nestsOf(t, year, "pear"))},
		})
		low, high := e.Interval()
		for i, got := range []float64{e.S28, e.SE, low, high, e.DesignEffect} {
			near(t, fmt.Sprintf("%s, column %d", label, i), got, want[i], []float64{1e-7, 1e-6, 1e-5, 1e-5, 1e-4}[i])
		}
		if e.Transects != 12 || e.Rests != survival.OnTransects {
			t.Errorf("got %d transects, resting on %v", e.Transects, e.Rests)
		}
	}
}

// The daily rates of the standardised curve must give its survival.
func TestRatesGiveSurvival(t *testing.T) {
	e := standard.Survival([]standard.Stratum{
		{Share: 0.5, Fit: survival.Fit(nestsOf(t, 2022, "grass"))},
		{Share: 0.5, Fit: survival.Fit(nestsOf(t, 2022, "pear"))},
	})
	near(t, "s1¹⁴·s2¹⁴", math.Pow(e.Rates[0].Daily*e.Rates[1].Daily, 14), e.S28, 1e-12)

	// Two strata of the same nests are that stratum, in everything but that the shares add to 1 in two parts.
	fit := survival.Fit(nestsOf(t, 2022, "grass"))
	twice := standard.Survival([]standard.Stratum{{Share: 0.25, Fit: fit}, {Share: 0.75, Fit: fit}})
	once := standard.Survival([]standard.Stratum{{Share: 1, Fit: fit}})
	near(t, "S28", twice.S28, once.S28, 1e-12)
	near(t, "SE", twice.SE, once.SE, 1e-12)
	for k := range 2 {
		near(t, "rate", twice.Rates[k].Daily, once.Rates[k].Daily, 1e-12)
		near(t, "SE of rate", twice.Rates[k].SE, once.Rates[k].SE, 1e-10)
	}
}

func TestEdges(t *testing.T) {
	all := survival.Fit(looked(12, 0))
	none := survival.Fit(looked(0, 12))
	some := survival.Fit(looked(6, 6))

	e := standard.Survival([]standard.Stratum{{Share: 0.5, Fit: all}, {Share: 0.5, Fit: all}})
	low, high := e.Interval()
	if e.S28 != 1 || high != 1 || e.SE != 0 {
		t.Errorf("all lasted: got %+v", e)
	}
	near(t, "all lasted, low", low, math.Pow(0.025, 1.0/24), 1e-12)

	e = standard.Survival([]standard.Stratum{{Share: 0.5, Fit: none}, {Share: 0.5, Fit: none}})
	low, high = e.Interval()
	if e.S28 != 0 || low != 0 {
		t.Errorf("none lasted: got %+v", e)
	}
	near(t, "none lasted, high", high, 1-math.Pow(0.025, 1.0/24), 1e-12)

	e = standard.Survival([]standard.Stratum{{Share: 0.5, Fit: all}, {Share: 0.5, Fit: none}})
	low, high = e.Interval()
	if e.S28 != 0.5 || !(low < 0.5 && 0.5 < high) {
		t.Errorf("all and none: got %+v, %v to %v", e, low, high)
	}

	e = standard.Survival([]standard.Stratum{{Share: 0.5, Fit: all}, {Share: 0.5, Fit: some}})
	near(t, "all and some, SE", e.SE, 0.5*math.Sqrt(0.25/12), 1e-10)
	if !slices.Equal(e.Certain, []int{0}) {
		t.Errorf("all and some: got certain %v", e.Certain)
	}
}

// Whatever the strata hold, nothing is NaN or infinite and the interval holds the estimate.
func TestNothingStrange(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 20000 {
		var strata []standard.Stratum
		for range 1 + rng.IntN(4) {
			fit := survival.Fit(randomNests(rng))
			if fit.Told() {
				strata = append(strata, standard.Stratum{Fit: fit, Share: rng.Float64() + 0.01})
			}
		}
		if len(strata) == 0 {
			continue
		}
		weights := make([]float64, len(strata))
		for i := range strata {
			weights[i] = strata[i].Share
		}
		for i, s := range standard.Shares(weights) {
			strata[i].Share = s
		}
		e := standard.Survival(strata)
		low, high := e.Interval()
		for _, v := range []float64{e.S14, e.S28, e.SE, e.DesignEffect, e.Rates[0].Daily, e.Rates[0].SE, e.Rates[1].Daily, e.Rates[1].SE} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("got %+v of %+v", e, strata)
			}
		}
		if !(0 <= low && low <= e.S28+1e-9 && e.S28 <= high+1e-9 && high <= 1) {
			t.Fatalf("%v is not in %v to %v: %+v", e.S28, low, high, strata)
		}
	}
}

func randomNests(rng *rand.Rand) []survival.Nest {
	days := []int{0, 1, 2, 7, 13, 14, 15, 20, 27, 28, 30, 60, 400}
	nests := make([]survival.Nest, rng.IntN(8))
	for i := range nests {
		a := days[rng.IntN(len(days))]
		nests[i] = survival.Nest{Transect: rng.IntN(3), Intact: a}
		if rng.IntN(2) == 0 {
			nests[i].Lost = a + 1 + days[rng.IntN(len(days))]
		}
	}
	return nests
}

func nestsOf(t *testing.T, year int, substrate string) []survival.Nest {
	t.Helper()
	byNest := map[string]*survival.Nest{}
	var nests []*survival.Nest
	for _, r := range readCSV(t, "../testdata/intervals.csv")[1:] { // in order of nest and visit
		if r[2] != strconv.Itoa(year) || r[3] != substrate {
			continue
		}
		n, ok := byNest[r[0]]
		if !ok {
			n = &survival.Nest{Transect: number(t, r[1])}
			byNest[r[0]] = n
			nests = append(nests, n)
		}
		if r[6] == "1" {
			n.Intact += number(t, r[5])
		} else {
			n.Lost = n.Intact + number(t, r[5])
		}
	}
	out := make([]survival.Nest, len(nests))
	for i, n := range nests {
		out[i] = *n
	}
	return out
}

func readOracle(t *testing.T) map[string][]float64 {
	t.Helper()
	values := map[string][]float64{}
	for _, r := range readCSV(t, "../testdata/oracle.out")[1:] {
		for _, s := range r[1:] {
			if x, err := strconv.ParseFloat(s, 64); err == nil {
				values[r[0]] = append(values[r[0]], x)
			}
		}
	}
	return values
}

func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func number(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func ExampleSurvival() {
	grass := survival.Fit(looked(10, 14))
	pear := survival.Fit(looked(6, 2))
	e := standard.Survival([]standard.Stratum{{Share: 0.5, Fit: grass}, {Share: 0.5, Fit: pear}})
	fmt.Printf("grass %.3f, pear %.3f, half and half %.3f\n", grass.S28, pear.S28, e.S28)
	// Output: grass 0.417, pear 0.750, half and half 0.583
}
