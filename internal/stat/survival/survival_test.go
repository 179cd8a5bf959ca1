package survival_test

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/survival"
)

// repeat returns n equal nests, the i-th on transect i modulo the number of transects.
func repeat(n, transects int, nest survival.Nest) []survival.Nest {
	nests := make([]survival.Nest, n)
	for i := range nests {
		nests[i] = nest
		nests[i].Transect = i % transects
	}
	return nests
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.12g, want %.12g ± %g", what, got, want, tolerance)
	}
}

// With every look on day 14 or 28 and nothing lost from view, S(28) is the fraction intact: 20 nests, 6 lost by day 14 and
// 4 by day 28. The variance of a fraction is p(1−p)/n, which the model's must equal.
func TestPlainFraction(t *testing.T) {
	nests := slices.Concat(
		repeat(6, 1, survival.Nest{Lost: 14}),
		repeat(4, 1, survival.Nest{Intact: 14, Lost: 28}),
		repeat(10, 1, survival.Nest{Intact: 28}),
	)
	e := survival.Fit(nests)
	near(t, "S28", e.S28, 0.5, 1e-12)
	near(t, "SE", e.SE, math.Sqrt(0.5*0.5/20), 1e-10)
	near(t, "s1", e.Rates[0].Daily, math.Pow(0.7, 1.0/14), 1e-12)
	near(t, "s2", e.Rates[1].Daily, math.Pow(10.0/14, 1.0/14), 1e-12)

	// One rate over both periods, "Midpoint vs exact": s = (24/34)^(1/14), the delta standard error of s²⁸ follows from
	// that of s, 0.007712977261 (R 4.2.2, glm with complementary log-log link and offset log d; optimize).
	c := survival.FitConstant(nests)
	near(t, "constant s", c.Rates[0].Daily, 0.9754278833, 1e-10)
	near(t, "constant SE of s", c.Rates[0].SE, 0.007712977261, 1e-9)
	near(t, "constant S28", c.S28, 0.4982698962, 1e-9)
}

// Reference values for one constant rate from intervals of d days, by R 4.2.2 (glm with complementary log-log link and
// offset log d; survreg interval2 exponential; optimize) and Python statsmodels 0.13.5. The standard errors are
// those from observed information.
func TestConstantRateReference(t *testing.T) {
	tests := []struct {
		name                 string
		nests                []survival.Nest
		s, logHazardSE, logL float64
	}{
		{"40 intervals of 14 days, 30 intact", slices.Concat(
			repeat(30, 1, survival.Nest{Intact: 14}), repeat(10, 1, survival.Nest{Lost: 14})),
			0.9796609668, 0.3173193663, -22.49340578},
		{"10 days 8 of 10, 20 days 6 of 10", slices.Concat(
			repeat(8, 1, survival.Nest{Intact: 10}), repeat(2, 1, survival.Nest{Lost: 10}),
			repeat(6, 1, survival.Nest{Intact: 20}), repeat(4, 1, survival.Nest{Lost: 20})),
			0.9759395752, 0.4112759144, -11.74635227},
		{"13 days 18 of 25, 14 days 33 of 40, 17 days 9 of 15", slices.Concat(
			repeat(18, 1, survival.Nest{Intact: 13}), repeat(7, 1, survival.Nest{Lost: 13}),
			repeat(33, 1, survival.Nest{Intact: 14}), repeat(7, 1, survival.Nest{Lost: 14}),
			repeat(9, 1, survival.Nest{Intact: 17}), repeat(6, 1, survival.Nest{Lost: 17})),
			0.9799459430, 0.2244274521, -44.63008130},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			e := survival.FitConstant(tt.nests)
			s := e.Rates[0]
			near(t, "s", s.Daily, tt.s, 1e-9)
			near(t, "SE(log h)", s.SE/(s.Daily*-math.Log(s.Daily)), tt.logHazardSE, 1e-8)
			near(t, "log-likelihood", e.LogLik, tt.logL, 1e-7)
		})
	}
}

// Midpoint bias by interval length: of 100 nests 30 are lost within d days; the exact rate, same source as above.
func TestOneInterval(t *testing.T) {
	for d, want := range map[int]float64{1: 0.7, 7: 0.9503227992, 14: 0.9748450129, 28: 0.9873423990} {
		e := survival.FitConstant(slices.Concat(repeat(70, 1, survival.Nest{Intact: d}), repeat(30, 1, survival.Nest{Lost: d})))
		near(t, fmt.Sprintf("d = %d", d), e.Rates[0].Daily, want, 1e-9)
	}
}

// Mayfield's Kirtland's warblers (Wilson Bulletin 73:255–261): 35 losses in 878 nest-days give a daily rate of 0.9601 and
// Johnson's standard error (Auk 96:651–661) is 0.006602. Daily looks make the exact method theirs: with intervals of
// one day the rate is 1 − losses/days. Numbers from memory of the papers; the arithmetic is checked.
func TestMayfield(t *testing.T) {
	nests := slices.Concat(repeat(878-35, 1, survival.Nest{Intact: 1}), repeat(35, 1, survival.Nest{Lost: 1}))
	e := survival.FitConstant(nests)
	near(t, "s", e.Rates[0].Daily, 1-35.0/878, 1e-12)
	near(t, "Johnson's SE", e.Rates[0].SE, 0.006602463905, 1e-10)
}

// intervals.csv, one constant rate over all intervals with the sandwich over 12 transects. R 4.2.2: optimize() for
// log h, then A and the scores from their formulas; log h and the log-likelihood also by glm and survreg.
func TestClusteredConstantRate(t *testing.T) {
	var nests []survival.Nest
	for _, r := range readIntervals(t) {
		n := survival.Nest{Transect: r.transect, Intact: r.days}
		if !r.intact {
			n.Intact, n.Lost = 0, r.days
		}
		nests = append(nests, n)
	}
	e := survival.FitConstant(nests)
	s := e.Rates[0]
	hazard := -math.Log(s.Daily)
	near(t, "log h", math.Log(hazard), -3.732335809, 1e-8)
	near(t, "log-likelihood", e.LogLik, -291.77586873, 1e-7)
	near(t, "SE(log h)", s.SE/(s.Daily*hazard), 0.129695209426, 1e-7)
	near(t, "SE(log h), model", math.Sqrt(e.ModelCov[1][1])/(e.S28*28*hazard), 0.0849270274944, 1e-7)
}

// The two-period fit with its sandwich against optim() and numerical derivatives: testdata/oracle.R, R 4.2.2. That
// oracle's derivatives are good to about six digits.
func TestPiecewiseOracle(t *testing.T) {
	oracle := readOracle(t)
	for _, year := range []int{2022, 2023} {
		for _, substrate := range []string{"grass", "pear"} {
			e := survival.Fit(nestsOf(t, year, substrate))
			name := fmt.Sprintf("%s %d", substrate, year)
			low, high := e.Interval()
			got := []float64{e.S28, e.SE, low, high, e.DesignEffect}
			for i, want := range oracle[name] {
				near(t, name+" "+[]string{"day28", "se", "low", "high", "design effect"}[i], got[i], want, []float64{1e-7, 1e-6, 1e-5, 1e-5, 1e-4}[i])
			}
			rates := oracle["rates "+name]
			near(t, name+" s1", e.Rates[0].Daily, rates[0], 1e-7)
			near(t, name+" s2", e.Rates[1].Daily, rates[1], 1e-7)
			near(t, name+" log-likelihood", e.LogLik, rates[2], 1e-7)
		}
	}
}

// No losses over 560 nest-days: a Wald standard error is undefined and none may be given. The exact lower limit for n
// nests is (α/2)^(1/n), the Clopper–Pearson limit for n of n.
func TestAllLasted(t *testing.T) {
	e := survival.Fit(repeat(20, 4, survival.Nest{Intact: 28}))
	low, high := e.Interval()
	wantLow, _ := interval.ClopperPearson(20, 20, 0.95)
	if e.Case != survival.AllLasted || e.S28 != 1 || high != 1 || e.SE != 0 || e.Rates[0].SE != 0 {
		t.Errorf("got %+v", e)
	}
	near(t, "low", low, wantLow, 1e-12)
	near(t, "low by formula", low, math.Pow(0.025, 1.0/20), 1e-12)

	// The same nests looked at once, on day 14, tell nothing of day 28; on day 26 they count as seen through.
	if e := survival.Fit(repeat(20, 4, survival.Nest{Intact: 14})); e.Case != survival.NoLateLook || e.Told() {
		t.Errorf("day 14 only: got %v", e.Case)
	}
	e = survival.Fit(repeat(20, 4, survival.Nest{Intact: 26}))
	low, _ = e.Interval()
	near(t, "low from day 26", low, wantLow, 1e-12)
	// On day 21 each counts three quarters.
	e = survival.Fit(repeat(20, 4, survival.Nest{Intact: 21}))
	low, _ = e.Interval()
	near(t, "low from day 21", low, math.Pow(0.025, 1.0/15), 1e-12)
}

func TestNoneLasted(t *testing.T) {
	_, want := interval.ClopperPearson(0, 12, 0.95)
	tests := []struct {
		name   string
		nests  []survival.Nest
		s1, s2 survival.Rate
	}{
		{"all by day 14", repeat(12, 3, survival.Nest{Lost: 14}), survival.Rate{Known: true}, survival.Rate{}},
		{"all at one late look", repeat(12, 3, survival.Nest{Lost: 28}), survival.Rate{}, survival.Rate{}},
		{"all after day 14", repeat(12, 3, survival.Nest{Intact: 14, Lost: 28}),
			survival.Rate{Known: true, Daily: 1}, survival.Rate{Known: true}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			e := survival.Fit(tt.nests)
			low, high := e.Interval()
			if e.Case != survival.NoneLasted || e.S28 != 0 || low != 0 {
				t.Errorf("got case %v, %v, low %v", e.Case, e.S28, low)
			}
			near(t, "high", high, want, 1e-12)
			if e.Rates != [2]survival.Rate{tt.s1, tt.s2} {
				t.Errorf("got rates %+v", e.Rates)
			}
		})
	}
}

// The only nest followed past day 14 was lost, of ten that reached it. Survival is estimated at 0, and the range must not
// be that of twenty failures.
func TestNoneLastedFewFollowed(t *testing.T) {
	e := survival.Fit(slices.Concat(
		repeat(10, 5, survival.Nest{Lost: 14}), repeat(9, 5, survival.Nest{Intact: 14}), repeat(1, 1, survival.Nest{Intact: 14, Lost: 20})))
	low, high := e.Interval()
	if e.S28 != 0 || low != 0 {
		t.Errorf("got %v from %v", e.S28, low)
	}
	near(t, "high", high, 1-math.Pow(0.025, 1.0/2), 1e-12) // 20 nests · 1 of 10
}

// One period without a loss: its rate is 1 and has no standard error; the other's is that of a plain fraction.
func TestPeriodWithoutLoss(t *testing.T) {
	early := survival.Fit(slices.Concat(repeat(6, 1, survival.Nest{Lost: 14}), repeat(14, 1, survival.Nest{Intact: 28})))
	late := survival.Fit(slices.Concat(repeat(6, 1, survival.Nest{Intact: 14, Lost: 28}), repeat(14, 1, survival.Nest{Intact: 28})))
	for i, e := range []survival.Estimate{early, late} {
		near(t, "S28", e.S28, 0.7, 1e-12)
		near(t, "SE", e.SE, math.Sqrt(0.7*0.3/20), 1e-10)
		if whole := e.Rates[1-i]; whole.Daily != 1 || whole.SE != 0 {
			t.Errorf("got rate %+v in the period without a loss", whole)
		}
	}
}

// Looks that cannot part the periods: one look each, on day 28 or on day 400. Then one rate is used, and on day 28
// survival is still the plain fraction.
func TestOneLook(t *testing.T) {
	e := survival.Fit(slices.Concat(repeat(6, 1, survival.Nest{Lost: 28}), repeat(14, 1, survival.Nest{Intact: 28})))
	if e.Case != survival.OneRate {
		t.Errorf("got case %v", e.Case)
	}
	near(t, "S28", e.S28, 0.7, 1e-12)
	near(t, "SE", e.SE, math.Sqrt(0.7*0.3/20), 1e-10)

	e = survival.Fit(slices.Concat(repeat(6, 1, survival.Nest{Lost: 400}), repeat(14, 1, survival.Nest{Intact: 400})))
	near(t, "S28 from day 400", e.S28, math.Pow(0.7, 28.0/400), 1e-12)
}

// A loss that may have come in either period moves the maximum to the edge where the other rate explains it. There the
// likelihood must fall in both directions.
func TestEdgeOfTheLikelihood(t *testing.T) {
	nests := slices.Concat(
		repeat(10, 2, survival.Nest{Lost: 11}), repeat(4, 2, survival.Nest{Lost: 20}),
		repeat(12, 2, survival.Nest{Intact: 24}))
	e := survival.Fit(nests)
	if e.Rates[1].Daily != 1 {
		t.Fatalf("got s2 = %v, want the edge", e.Rates[1].Daily)
	}
	at := func(h1, h2 float64) float64 { return logLik(nests, h1, h2) }
	h1 := -math.Log(e.Rates[0].Daily)
	near(t, "log-likelihood", e.LogLik, at(h1, 0), 1e-10)
	for _, step := range [][2]float64{{1e-4, 0}, {-1e-4, 0}, {0, 1e-4}, {-1e-4, 1e-4}, {1e-4, 1e-4}} {
		if at(h1+step[0], step[1]) > e.LogLik {
			t.Errorf("the likelihood rises at %v", step)
		}
	}
}

// logLik is the likelihood written down again, plainly.
func logLik(nests []survival.Nest, h1, h2 float64) float64 {
	hazard := func(day int) float64 { return h1*float64(min(day, 14)) + h2*float64(max(day-14, 0)) }
	var l float64
	for _, n := range nests {
		if n.Lost == 0 {
			l -= hazard(n.Intact)
			continue
		}
		l += math.Log(math.Exp(-hazard(n.Intact)) - math.Exp(-hazard(n.Lost)))
	}
	return l
}

// At a maximum inside, the slope by finite differences of the plain likelihood is 0, and the scores of the transects add to 0.
func TestSlopeIsZero(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 200 {
		nests := simulate(rng, 8, 6, 0.03, 0.02, 0.3)
		e := survival.Fit(nests)
		if e.Case != survival.Between || e.Rates[0].SE == 0 || e.Rates[1].SE == 0 {
			continue
		}
		h1, h2 := -math.Log(e.Rates[0].Daily), -math.Log(e.Rates[1].Daily)
		const step = 1e-6
		near(t, "slope in log h1", (logLik(nests, h1*(1+step), h2)-logLik(nests, h1*(1-step), h2))/(2*step), 0, 1e-4)
		near(t, "slope in log h2", (logLik(nests, h1, h2*(1+step))-logLik(nests, h1, h2*(1-step)))/(2*step), 0, 1e-4)
		var total float64
		for _, f := range e.Influence {
			total += f.S28
		}
		near(t, "sum of influences", total, 0, 1e-9)
	}
}

func TestOrderOfRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	nests := simulate(rng, 10, 6, 0.03, 0.02, 0.3)
	want := survival.Fit(nests)
	for range 20 {
		rng.Shuffle(len(nests), func(i, j int) { nests[i], nests[j] = nests[j], nests[i] })
		got := survival.Fit(nests)
		near(t, "S28", got.S28, want.S28, 1e-13)
		near(t, "SE", got.SE, want.SE, 1e-13)
	}
}

// Two transects that came out exactly alike say nothing of how transects differ: the model's variance stands in.
func TestTransectsAlike(t *testing.T) {
	nests := slices.Concat(repeat(6, 2, survival.Nest{Lost: 14}), repeat(6, 2, survival.Nest{Intact: 28}))
	e := survival.Fit(nests)
	if e.Rests != survival.OnNests || e.DesignEffect != 0 || e.Transects != 2 {
		t.Errorf("got %+v", e)
	}
	near(t, "SE", e.SE, math.Sqrt(0.25/12), 1e-10)
}

// Whatever a sheet can hold, nothing is NaN or infinite, and the interval holds the estimate.
func TestNothingStrange(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	days := []int{0, 1, 2, 7, 13, 14, 15, 20, 27, 28, 30, 60, 400}
	for range 20000 {
		nests := make([]survival.Nest, rng.IntN(8))
		transects := 1 + rng.IntN(3)
		for i := range nests {
			a := days[rng.IntN(len(days))]
			nests[i] = survival.Nest{Transect: rng.IntN(transects), Intact: a}
			if rng.IntN(2) == 0 {
				nests[i].Lost = a + 1 + days[rng.IntN(len(days))]
			}
		}
		e := survival.Fit(nests)
		if err := sound(&e); err != nil {
			t.Fatalf("%v\nnests %+v\n%+v", err, nests, e)
		}
	}
}

func sound(e *survival.Estimate) error {
	values := []float64{e.S14, e.S28, e.SE, e.DesignEffect, e.LogLik, e.Rates[0].Daily, e.Rates[0].SE, e.Rates[1].Daily, e.Rates[1].SE}
	for _, f := range e.Influence {
		values = append(values, f.S14, f.S28)
	}
	for _, row := range e.ModelCov {
		values = append(values, row[:]...)
	}
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("value %d is %v", i, v)
		}
	}
	low, high := e.Interval()
	if !(0 <= low && low <= e.S28+1e-12 && e.S28 <= high+1e-12 && high <= 1) && e.Told() {
		return fmt.Errorf("%v is not in %v to %v", e.S28, low, high)
	}
	if e.Iterations > 60 {
		return fmt.Errorf("%d iterations", e.Iterations)
	}
	return nil
}

var long = flag.Bool("long", false, "simulate as often as the bars on coverage want")

// Known truth: 3 to 20 transects of 8 nests, looked at about days 14 and 28, luck shared within transects as a frailty with
// mean hazard as given. The 95 % interval should hold the population's survival 93 to 97 times of 100: with the design effect of many
// such transects published, and without (where it may hold it more often, being the larger of
// two). Both forms allow for
// two standard errors of their own.
func TestCoverage(t *testing.T) {
	replications := 600
	if *long {
		replications = 4000
	}
	slack := 2 * math.Sqrt(0.05*0.95/float64(replications))
	for _, sd := range []float64{0, 0.5} {
		truth := meanSurvival(0.03, 0.02, sd)
		many := survival.Fit(simulate(rand.New(rand.NewPCG(9, 9)), 2000, 8, 0.03, 0.02, sd))
		published := math.Max(1, many.DesignEffect)
		for _, transects := range []int{3, 4, 6, 10, 20} {
			for _, effect := range []float64{0, published} {
				rng := rand.New(rand.NewPCG(4, uint64(sd*10)))
				covered, width := 0, 0.0
				for range replications {
					e := survival.FitWith(simulate(rng, transects, 8, 0.03, 0.02, sd), effect)
					l, h := e.Interval()
					if width += h - l; l <= truth && truth <= h {
						covered++
					}
				}
				got := float64(covered) / float64(replications)
				t.Logf("spread of luck %v, %d transects, published %.2f: covered %.3f, %.0f points wide", sd, transects, effect, got, 100*width/float64(replications))
				if got < 0.93-slack || got > 0.97+slack && effect > 0 {
					t.Errorf("spread of luck %v, %d transects, published %.2f: covered %.3f", sd, transects, effect, got)
				}
			}
		}
	}
}

// simulate draws nests with a shared lognormal factor of the hazard on each transect.
func simulate(rng *rand.Rand, transects, each int, h1, h2, sd float64) []survival.Nest {
	var nests []survival.Nest
	for g := range transects {
		factor := math.Exp(sd * rng.NormFloat64())
		first, second := 13+rng.IntN(3), 27+rng.IntN(3)
		for range each {
			left := rng.ExpFloat64() / factor
			day := left / h1
			if day > 14 {
				day = 14 + (left-14*h1)/h2
			}
			n := survival.Nest{Transect: g}
			switch {
			case day <= float64(first):
				n.Lost = first
			case day <= float64(second):
				n.Intact, n.Lost = first, second
			default:
				n.Intact = second
			}
			nests = append(nests, n)
		}
	}
	return nests
}

// meanSurvival integrates exp(−f·H) over the lognormal factor f by a fine sum.
func meanSurvival(h1, h2, sd float64) float64 {
	var sum, weights float64
	for x := -6.0; x <= 6; x += 0.01 {
		w := math.Exp(-x * x / 2)
		sum += w * math.Exp(-14*(h1+h2)*math.Exp(sd*x))
		weights += w
	}
	return sum / weights
}

func BenchmarkFit(b *testing.B) {
	nests := simulate(rand.New(rand.NewPCG(5, 1)), 4, 6, 0.03, 0.02, 0.3)
	b.ReportAllocs()
	for b.Loop() {
		survival.Fit(nests)
	}
}

type look struct {
	nest, transect, year, visit, days int
	substrate                         string
	intact                            bool
}

func readIntervals(t *testing.T) []look {
	t.Helper()
	var looks []look
	for _, r := range readCSV(t, "../testdata/intervals.csv")[1:] {
		looks = append(looks, look{number(t, r[0]), number(t, r[1]), number(t, r[2]), number(t, r[4]), number(t, r[5]), r[3], r[6] == "1"})
	}
	return looks
}

func nestsOf(t *testing.T, year int, substrate string) []survival.Nest {
	t.Helper()
	byNest := map[int]*survival.Nest{}
	for _, l := range readIntervals(t) { // in order of nest and visit
		if l.year != year || l.substrate != substrate {
			continue
		}
		n, ok := byNest[l.nest]
		if !ok {
			n = &survival.Nest{Transect: l.transect}
			byNest[l.nest] = n
		}
		if l.intact {
			n.Intact += l.days
		} else {
			n.Lost = n.Intact + l.days
		}
	}
	var nests []survival.Nest
	for _, n := range byNest {
		nests = append(nests, *n)
	}
	return nests
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
