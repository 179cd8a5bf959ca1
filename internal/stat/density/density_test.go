package density_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"tussock/internal/stat/density"
	"tussock/internal/stat/interval"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

const squareFeetPerAcre = 43560 // NIST Handbook 44, Appendix C

// Eight belts 6 ft wide, invented; the figures are those of svyratio() in R's survey 4.1-1 and of the formulas in R 4.2.2.
func TestBelts(t *testing.T) {
	e := density.Fit(eightBelts())
	near(t, "acres", e.Area, 1.046831956, 1e-9)
	near(t, "density", e.Density, 89.79473684, 1e-9)
	near(t, "SE", e.SE, 12.43017781, 1e-9)
	low, high := e.Interval()
	near(t, "low", low, 64.72802512, 1e-9)
	near(t, "high", high, 124.5688363, 1e-9)
}

func eightBelts() []density.Belt {
	feet := []float64{1000, 1000, 800, 1200, 1000, 600, 1000, 1000}
	counts := []int{14, 9, 11, 22, 6, 3, 17, 12}
	belts := make([]density.Belt, len(feet))
	for i := range belts {
		belts[i] = density.Belt{Count: counts[i], Area: feet[i] * 6 / squareFeetPerAcre}
	}
	return belts
}

// Ten cities of R's boot::city (population 1920 and 1930 in thousands; Davison & Hinkley 1997): ratio 1.5203125, linearised
// standard error with n − 1 by R 4.2.2 0.1899933733.
func TestTenCities(t *testing.T) {
	u := []float64{138, 93, 61, 179, 48, 37, 29, 23, 30, 2}
	x := []int{143, 104, 69, 260, 75, 63, 50, 48, 111, 50}
	var belts []density.Belt
	for i := range u {
		belts = append(belts, density.Belt{Count: x[i], Area: u[i]})
	}
	e := density.Fit(belts)
	near(t, "ratio", e.Density, 1.5203125, 1e-9)
	near(t, "SE", e.SE, 0.1899933733, 1e-9)
}

// One belt: 37 clumps on 2.4 acres, Garwood's limits (R 4.2.2, qchisq).
func TestOneBelt(t *testing.T) {
	e := density.Fit([]density.Belt{{37, 2.4}})
	low, high := e.Interval()
	near(t, "density", e.Density, 15.41666667, 1e-9)
	near(t, "low", low, 10.85475607, 1e-8)
	near(t, "high", high, 21.24984423, 1e-8)
	if e.Basis != density.OneBelt {
		t.Errorf("got basis %v", e.Basis)
	}
}

func TestEdges(t *testing.T) {
	if e := density.Fit(nil); e.Basis != density.Nothing || e.Spread.Known() {
		t.Errorf("no belt: got %+v", e)
	}
	e := density.Fit([]density.Belt{{0, 0.2}, {0, 0.3}})
	low, high := e.Interval()
	if e.Basis != density.NoneFound || e.Density != 0 || e.SE != 0 || low != 0 {
		t.Errorf("none found: got %+v from %v", e, low)
	}
	near(t, "none found, high", high, 3.688879454/0.5, 1e-8)

	e = density.Fit([]density.Belt{{10, 0.1}, {10, 0.1}})
	low, high = e.Interval()
	wantLow, wantHigh := interval.Garwood(20, 0.95)
	if e.Basis != density.AllAlike {
		t.Errorf("alike: got %+v", e)
	}
	near(t, "alike, low", low, wantLow/0.2, 1e-12)
	near(t, "alike, high", high, wantHigh/0.2, 1e-12)
}

func TestNothingStrange(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 5000 {
		belts := make([]density.Belt, 1+rng.IntN(5))
		for i := range belts {
			belts[i] = density.Belt{Count: rng.IntN(3) * rng.IntN(200), Area: math.Exp(rng.NormFloat64()*3 - 2)}
		}
		e := density.Fit(belts)
		low, high := e.Interval()
		chance := e.Spread.AtLeast(300)
		if !(0 <= low && low <= e.Density && e.Density <= high && high <= math.MaxFloat64 && 0 <= chance && chance <= 1) || math.IsNaN(e.SE) {
			t.Fatalf("belts %v: got %+v, %v to %v, chance %v", belts, e, low, high, chance)
		}
	}
}

// Known truth: clumps in patches (a gamma factor on each belt), 10 belts. The interval should hold it about 95 times of 100.
func TestCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	const truth, replications = 250.0, 2000
	covered := 0
	for range replications {
		belts := make([]density.Belt, 10)
		for i := range belts {
			area := 0.1 + 0.1*rng.Float64()
			patch := (rng.ExpFloat64() + rng.ExpFloat64() + rng.ExpFloat64() + rng.ExpFloat64() + rng.ExpFloat64()) / 5
			belts[i] = density.Belt{Count: poisson(rng, truth*area*patch), Area: area}
		}
		e := density.Fit(belts)
		if low, high := e.Interval(); low <= truth && truth <= high {
			covered++
		}
	}
	if got := float64(covered) / replications; got < 0.93 || got > 0.97 {
		t.Errorf("covered %.3f", got)
	}
}

func poisson(rng *rand.Rand, mean float64) int {
	n := -1
	for sum := 0.0; sum < mean; n++ {
		sum += rng.ExpFloat64()
	}
	return max(n, 0)
}

func ExampleFit() {
	e := density.Fit([]density.Belt{{Count: 41, Area: 0.1377}, {Count: 22, Area: 0.1377}, {Count: 35, Area: 0.1377}})
	low, high := e.Interval()
	fmt.Printf("%.0f clumps an acre, %.0f to %.0f\n", e.Density, low, high)
	// Output: 237 clumps an acre, 113 to 497
}

// Belts with clumps at random are not patchy, whatever their counts; a spread of one half beyond that is told, near enough.
func TestPatchiness(t *testing.T) {
	for _, cv := range []float64{0, 0.5} {
		r := rand.New(rand.NewPCG(1, uint64(10*cv)))
		var mean float64
		const runs = 2000
		for range runs {
			var belts []density.Belt
			for range 8 {
				at := 30 * math.Exp(cv*r.NormFloat64()-cv*cv/2)
				belts = append(belts, density.Belt{Count: int(distuv.Poisson{Lambda: at, Src: r}.Rand()), Area: 0.1})
			}
			got, ok := density.Patchiness(belts)
			if !ok {
				t.Fatal("eight belts tell nothing")
			}
			mean += got * got / runs
		}
		// Of a lognormal spread cv the relative variance is exp(cv²) − 1; over the square of the mean of eight belts, which errs itself, about
		// an eighth of that less. Cutting off below 0 leaves a little where there is none.
		want := math.Exp(cv*cv) - 1
		if want /= 1 + want/8; math.Abs(mean-want) > 0.025 {
			t.Errorf("spread %v: relative variance %.4f, want %.4f", cv, mean, want)
		}
	}
	if _, ok := density.Patchiness([]density.Belt{{Count: 3, Area: 1}}); ok {
		t.Error("one belt has no spread")
	}
}

// The slope of a normal outcome on log density, by least squares, is right on calibrated densities and 25 % and more too flat on counted ones: 40
// sites of 2 to 4 belts, in truth 0.3 apart on the log scale, belts 0.5 apart.
func TestCalibrated(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	var naive, calibrated float64
	const runs = 400
	for range runs {
		var sites [][]density.Belt
		var y, x []float64
		for i := range 40 {
			true := math.Log(300) + 0.3*r.NormFloat64()
			y = append(y, true+0.1*r.NormFloat64())
			var belts []density.Belt
			for range 2 + i%3 {
				at := math.Exp(true+0.5*r.NormFloat64()-0.125) * 0.15
				belts = append(belts, density.Belt{Count: int(distuv.Poisson{Lambda: at, Src: r}.Rand()), Area: 0.15})
			}
			e := density.Fit(belts)
			sites, x = append(sites, belts), append(x, math.Log(e.Density))
		}
		var z []float64
		for _, d := range density.Calibrated(sites) {
			z = append(z, math.Log(d))
		}
		_, a := stat.LinearRegression(x, y, nil, false)
		_, b := stat.LinearRegression(z, y, nil, false)
		naive, calibrated = naive+a/runs, calibrated+b/runs
	}
	t.Logf("slope 1: %.2f on counted densities, %.2f on calibrated ones", naive, calibrated)
	if math.Abs(calibrated-1) > 0.1 || naive > 0.75 {
		t.Errorf("slope 1: %.2f on counted densities, %.2f on calibrated ones", naive, calibrated)
	}
	sites := [][]density.Belt{{{Count: 3, Area: 1}}, {{Count: 4, Area: 1}}}
	if got := density.Calibrated(sites); got[0] != 3 || got[1] != 4 {
		t.Errorf("two sites of one belt: %v, want as counted", got)
	}
}
