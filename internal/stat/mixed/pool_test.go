package mixed_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distmv"

	"tussock/internal/stat/mixed"
)

// Forty nests of one kind, visited on day 14: 30 were intact. By hand: the daily hazard is −log(30/40)/14, so the
// intercept log(0.02054872) = −3.885 with standard error √(0.25/(40·0.75))/0.28768 = 0.317, and day 28 is 0.75² = 0.5625.
func ExamplePool() {
	var list []mixed.Interval
	for i := range 40 {
		list = append(list, mixed.Interval{Ranch: "North", Transect: "1", Substrate: "yucca", Season: 2025, To: 14, Intact: i < 30})
	}
	r := mixed.Pool(list, mixed.Options{})
	fmt.Printf("intercept %.3f, standard error %.3f\n", r.Fixed[0].Estimate, r.Fixed[0].SE)
	p := r.Standardised[0]
	fmt.Printf("%d, %s: %.4f to day 28\n", p.Season, p.Substrate, p.Value)
	// Output:
	// intercept -3.885, standard error 0.317
	// 2025, yucca: 0.5625 to day 28
}

// finite fails where any number of a result is not one, or an interval does not hold its estimate.
func finite(t *testing.T, r *mixed.Result) {
	t.Helper()
	check := func(what string, v ...float64) {
		for _, x := range v {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("%s: %v", what, v)
			}
		}
	}
	estimate := func(what string, e mixed.Estimate) {
		check(what, e.Value, e.Low, e.High)
		if !(0 <= e.Low && e.Low <= e.Value && e.Value <= e.High && e.High <= 1) {
			t.Errorf("%s: %g not within %g to %g", what, e.Value, e.Low, e.High)
		}
	}
	for _, e := range r.Fixed {
		check(e.Term+" "+e.Level, e.Estimate, e.SE)
	}
	check("summary", r.RanchSD, r.TransectSD, r.LogLik)
	for _, p := range r.Standardised {
		estimate(fmt.Sprint(p.Season, p.Substrate), p.Estimate)
	}
	for _, x := range r.RanchEffects {
		check(x.Ranch, x.Effect, x.SE)
		estimate(x.Ranch, x.Day28)
	}
}

// change returns the invented cooperative with every interval passed through f; f returns false to drop it.
func change(f func(*mixed.Interval) bool) []mixed.Interval {
	var list []mixed.Interval
	for _, v := range cooperative(3, 6, 3, 3, 8) {
		if f(&v) {
			list = append(list, v)
		}
	}
	return list
}

func TestEdges(t *testing.T) {
	keep := func(*mixed.Interval) bool { return true }
	few := cooperative(5, 1, 1, 1, 1)
	tests := []struct {
		name  string
		list  []mixed.Interval
		notes int // at least
	}{
		{"Nothing", nil, 1},
		{"OneInterval", few[:1], 1},
		{"OneIntervalLost", []mixed.Interval{{Ranch: "A", Transect: "1", Substrate: "yucca", Season: 2024, To: 14}}, 1},
		{"OneIntervalIntact", []mixed.Interval{{Ranch: "A", Transect: "1", Substrate: "yucca", Season: 2024, To: 14, Intact: true}}, 1},
		{"AllIntact", change(func(v *mixed.Interval) bool { v.Intact = true; return true }), 1},
		{"AllLost", change(func(v *mixed.Interval) bool { v.Intact = false; return v.From == 0 }), 1},
		{"RanchWithoutLoss", change(func(v *mixed.Interval) bool { v.Intact = v.Intact || v.Ranch == "R2"; return true }), 0},
		{"RanchAllLost", change(func(v *mixed.Interval) bool { v.Intact = v.Intact && v.Ranch != "R2"; return true }), 0},
		{"SubstrateWithoutLoss", change(func(v *mixed.Interval) bool { v.Intact = v.Intact || v.Substrate == "yucca"; return true }), 1},
		{"SubstrateAllLost", change(func(v *mixed.Interval) bool { v.Intact = v.Intact && v.Substrate != "yucca"; return true }), 1},
		{"ReferenceWithoutLoss", change(func(v *mixed.Interval) bool { v.Intact = v.Intact || v.Substrate == "bunchgrass"; return true }), 2},
		{"SeasonWithoutLoss", change(func(v *mixed.Interval) bool { v.Intact = v.Intact || v.Season == 2020; return true }), 2},
		{"SiteTypeWithoutLoss", change(func(v *mixed.Interval) bool { v.Intact = v.Intact || v.SiteType == "sand"; return true }), 1},
		{"CornerWithoutLoss", change(func(v *mixed.Interval) bool {
			v.Intact = v.Intact || v.SiteType == "sand" || v.Substrate != "yucca"
			return true
		}), 1},
		{"NoLossLate", change(func(v *mixed.Interval) bool { v.Intact = v.Intact || v.From > 0; return true }), 1},
		{"NoLossEarly", change(func(v *mixed.Interval) bool { v.Intact = v.Intact || v.From == 0; return true }), 1},
		{"NoLossLateWithCrossing", change(func(v *mixed.Interval) bool {
			v.Intact = v.Intact || v.From > 0
			if v.From > 0 && v.Ranch == "R1" {
				v.From = 13
			}
			return true
		}), 1},
		{"OneVisitOnDay28", change(func(v *mixed.Interval) bool { v.To = 28; return v.From == 0 }), 0},
		{"EarlyOnly", change(func(v *mixed.Interval) bool { return v.From == 0 }), 1},
		{"OneRanch", change(func(v *mixed.Interval) bool { return v.Ranch == "R1" }), 1},
		{"OneTransect", change(func(v *mixed.Interval) bool { v.Ranch, v.Transect = "A", "1"; return true }), 2},
		{"OneTransectEach", change(func(v *mixed.Interval) bool { v.Transect = "1"; return true }), 1},
		{"OneLevel", change(func(v *mixed.Interval) bool { v.Substrate, v.Season, v.SiteType = "yucca", 2024, ""; return true }), 0},
		{"SiteTypePartlyKnown", change(func(v *mixed.Interval) bool {
			if v.Ranch == "R3" {
				v.SiteType = ""
			}
			return true
		}), 0},
		{"SiteTypeIsRanch", change(func(v *mixed.Interval) bool { v.SiteType = v.Ranch; return true }), 0},
		{"SeasonIsSubstrate", change(func(v *mixed.Interval) bool { v.Substrate = fmt.Sprint(v.Season); return true }), 0},
		{"VeryLong", change(func(v *mixed.Interval) bool { v.To += 400; return true }), 0},
		{"VeryShort", change(func(v *mixed.Interval) bool { v.To = v.From + 0.01; return true }), 0},
		{"NoLength", change(func(v *mixed.Interval) bool { v.To = v.From; return true }), 1},
		{"NotANumber", append(change(keep), mixed.Interval{To: math.NaN()}, mixed.Interval{To: math.Inf(1)}), 1},
		{"EveryNestItsOwnTransect", func() []mixed.Interval {
			n := 0
			return change(func(v *mixed.Interval) bool { n++; v.Transect = fmt.Sprint(n); return true })
		}(), 0},
		{"RanchesUtterlyDifferent", change(func(v *mixed.Interval) bool { v.Intact = v.Ranch < "R3"; return v.From == 0 }), 0},
		{"TwoIntervals", []mixed.Interval{
			{Ranch: "A", Transect: "1", Substrate: "yucca", Season: 2024, To: 14},
			{Ranch: "B", Transect: "1", Substrate: "yucca", Season: 2024, To: 14, Intact: true}}, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := mixed.Pool(tt.list, mixed.Options{})
			finite(t, r)
			if len(r.Notes) < tt.notes {
				t.Errorf("got notes %q, want %d at least", r.Notes, tt.notes)
			}
			if os.Getenv("TUSSOCK_SHOW") != "" {
				t.Logf("%+v", r)
			}
		})
	}
}

// Leaving out a level without a loss is the limit of keeping it: the other effects, and the likelihood, are those that
// the fit with the level in it runs towards.
func TestLevelWithoutLossIsTheLimit(t *testing.T) {
	list := change(func(v *mixed.Interval) bool { v.Intact = v.Intact || v.Substrate == "yucca"; return true })
	r := mixed.Pool(list, mixed.Options{})
	g := mixed.Group(list)
	columns := slices.Concat([]mixed.Column{mixed.Intercept()},
		mixed.BySubstrate().Columns([]string{"bunchgrass", "prickly pear", "shrub", "yucca"}),
		mixed.BySeason().Columns([]string{"2020", "2021", "2022"}), mixed.BySiteType().Columns([]string{"clay", "sand"}))
	whole := model(g, mixed.Rows(columns, g.Settings)).Run()
	if whole.Known[3] || whole.Coef[3] > -8 {
		t.Errorf("effect of yucca: got %g, known %v; want it to have run off", whole.Coef[3], whole.Known[3])
	}
	close(t, "log likelihood", r.LogLik, whole.LogLik, 1e-3)
	close(t, "shrub", r.Fixed[2].Estimate, whole.Coef[2], 1e-3)
	close(t, "its standard error", r.Fixed[2].SE, whole.SE(2), 1e-3)
}

func TestOrderOfRowsChangesNothing(t *testing.T) {
	list := cooperative(4, 8, 3, 3, 8)
	want := mixed.Pool(list, mixed.Options{})
	rand.New(rand.NewPCG(1, 1)).Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	got := mixed.Pool(list, mixed.Options{})
	close(t, "log likelihood", got.LogLik, want.LogLik, 1e-8)
	for j := range want.Fixed {
		if got.Fixed[j].Level != want.Fixed[j].Level {
			t.Fatalf("level %d: got %q, want %q", j, got.Fixed[j].Level, want.Fixed[j].Level)
		}
		close(t, "estimate", got.Fixed[j].Estimate, want.Fixed[j].Estimate, 1e-6)
		close(t, "standard error", got.Fixed[j].SE, want.Fixed[j].SE, 1e-6)
	}
	for r := range want.RanchEffects {
		close(t, "ranch", got.RanchEffects[r].Day28.Value, want.RanchEffects[r].Day28.Value, 1e-7)
	}
}

// A visit that changes nothing carries nothing: cutting an intact interval in two on the way leaves the likelihood as
// it is.
func TestExtraVisitToAnIntactNest(t *testing.T) {
	var cut []mixed.Interval
	list := cooperative(6, 6, 2, 3, 8)
	for _, v := range list {
		if v.Intact {
			first, second := v, v
			first.To, second.From = v.From+6, v.From+6
			cut = append(cut, first, second)
		} else {
			cut = append(cut, v)
		}
	}
	a, b := mixed.Pool(list, mixed.Options{}), mixed.Pool(cut, mixed.Options{})
	// The expected information in the determinant sees the visits that were planned, so the two differ by that alone.
	close(t, "log likelihood", a.LogLik, b.LogLik, 0.5)
	for j := range a.Fixed {
		close(t, a.Fixed[j].Term+" "+a.Fixed[j].Level, b.Fixed[j].Estimate, a.Fixed[j].Estimate, 0.1*a.Fixed[j].SE)
	}
}

// The intervals of predictions against draws of the parameters from their estimated distribution.
func TestPredictionInterval(t *testing.T) {
	g := nested(t, all)
	design := rows(g, false)
	f := model(g, design).Run()
	part := []mixed.Part{{Weight: 1, Row: design[0]}, {Weight: 2, Row: design[4]}}
	got := f.Predictor(mixed.Periods{Apart: true, Days: mixed.Days{Early: 14, Late: 14}}, 0.95, math.Inf(1)).Region(part)

	n := len(f.Coef) + 2 // without the slope's standard deviation
	cov := mat.NewSymDense(n, nil)
	mean := append(append([]float64(nil), f.Coef...), f.TransectSD, f.RanchSD)
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, f.Cov.At(i, j))
		}
	}
	normal, ok := distmv.NewNormal(mean, cov, rand.New(rand.NewPCG(1, 2)))
	if !ok {
		t.Fatal("the covariance is not positive definite")
	}
	survival := func(phi []float64) float64 {
		sd := math.Hypot(phi[n-2], phi[n-1])
		total := 0.0
		for _, p := range part {
			eta := 0.0
			for j, x := range p.Row {
				eta += x * phi[j]
			}
			h := math.Exp(eta) * (14 + 14*math.Exp(phi[n-3]))
			const step = 0.01 // the trapezoid rule over ±8 is as good as exact for so smooth a function
			for z := -8.0; z <= 8; z += step {
				total += p.Weight / 3 * step * math.Exp(-z*z/2-h*math.Exp(sd*z)) / math.Sqrt(2*math.Pi)
			}
		}
		return total
	}
	close(t, "survival", got.Value, survival(mean), 1e-9)
	var draws []float64
	for range 2000 {
		draws = append(draws, math.Log(-math.Log(survival(normal.Rand(nil)))))
	}
	se := (math.Log(-math.Log(got.Low)) - math.Log(-math.Log(got.High))) / (2 * 1.959963984540054)
	close(t, "standard error on log(−log)", se, stat.StdDev(draws, nil), 0.06*se) // 2000 draws: 1.6 % of noise, and the delta method's own error
}

// A ranch with many nests stands near its own data, one with few near the region.
func TestShrinkage(t *testing.T) {
	var list []mixed.Interval
	add := func(ranch string, transects, nests int, lost float64) {
		for g := range transects {
			for i := range nests {
				list = append(list, mixed.Interval{Ranch: ranch, Transect: fmt.Sprint(g), Substrate: "yucca", Season: 2025,
					To: 14, Intact: float64(i) >= lost*float64(nests)})
			}
		}
	}
	for r := range 8 {
		add(fmt.Sprint("r", r), 6, 10, []float64{0.3, 0.5, 0.2, 0.6}[r%4])
	}
	add("many", 20, 10, 0.8)
	add("few", 1, 8, 0.8)
	r := mixed.Pool(list, mixed.Options{})
	effect := make(map[string]mixed.RanchEffect)
	for _, e := range r.RanchEffects {
		effect[e.Ranch] = e
	}
	if many, few := effect["many"], effect["few"]; !(many.Effect > few.Effect && few.Effect > 0 && many.SE < few.SE) {
		t.Errorf("effects: many %+v, few %+v", many, few)
	}
	own := 0.2 * 0.2 // two periods like the one seen
	if many := effect["many"].Day28; math.Abs(many.Value-own) > 0.04 {
		t.Errorf("day 28 where there are many nests: got %.3f, want near %.3f", many.Value, own)
	}
}

// Fits to invented cooperatives of known truth: 95 % intervals of the fixed effects and of the predictions should
// cover it in about 95 of 100. Short by default; TUSSOCK_LONG=1 runs 2000.
func TestCoverage(t *testing.T) {
	replicates, slack := 120, 0.05
	if os.Getenv("TUSSOCK_LONG") != "" {
		replicates, slack = 2000, 0.02
	}
	truth := map[string]float64{"substrate prickly pear": -0.2, "substrate shrub": -0.4, "substrate yucca": -0.6,
		"period 14-28": math.Log(0.7), "season 2021": 0.1, "season 2022": 0.2, "site_type sand": 0.2}
	covered := make(map[string]int)
	mean := make(map[string]float64)
	predicted := 0
	for i := range replicates {
		r := mixed.Pool(cooperative(uint64(1000+i), 10, 3, 4, 8), mixed.Options{})
		for _, e := range r.Fixed {
			k := e.Term + " " + e.Level
			want, judged := truth[k]
			if !judged {
				continue
			}
			mean[k] += e.Estimate / float64(replicates)
			if e.Low <= want && want <= e.High {
				covered[k]++
			}
		}
		for j, p := range r.Standardised {
			if p.Low <= survival(j%4, j/4) && survival(j%4, j/4) <= p.High {
				predicted++
			}
		}
	}
	most := 0.98
	if os.Getenv("TUSSOCK_LONG") != "" {
		most = 0.97
	}
	t.Logf("predictions: covered in %.3f of %d", float64(predicted)/float64(12*replicates), 12*replicates)
	if share := float64(predicted) / float64(12*replicates); share < 0.93 || share > most {
		t.Errorf("predictions: covered in %.3f of %d", share, 12*replicates)
	}
	for k, want := range truth {
		share := float64(covered[k]) / float64(replicates)
		if math.Abs(share-0.95) > slack {
			t.Errorf("%s: covered in %.3f of %d", k, share, replicates)
		}
		slack := 0.06
		if k == "site_type sand" { // the standard error of one is 0.29
			slack = 0.1
		}
		close(t, "mean of "+k, mean[k], want, slack)
	}
	t.Logf("coverage of %d: %v", replicates, covered)
}

// survival is the true survival to day 28 in cooperative, over ranches, transects and the two types of site.
func survival(substrate, season int) float64 {
	sd := math.Hypot(0.4, 0.5)
	total := 0.0
	const step = 0.05
	for z := -8.0; z <= 8; z += step {
		for site := range 2 {
			h := math.Exp(-3.4-0.2*float64(substrate)+0.1*float64(season)+0.2*float64(site)+sd*z) * (14 + 14*0.7)
			total += step / 2 * math.Exp(-z*z/2-h) / math.Sqrt(2*math.Pi)
		}
	}
	return total
}

// One nest that lasted to day 14 and no longer leaves 97.5 of 100 open: with one of one lost, survival is below
// 1 − 0.025 (the exact binomial bound, R: binom.test(0, 1)$conf.int).
func TestOneNestLost(t *testing.T) {
	r := mixed.Pool([]mixed.Interval{
		{Ranch: "A", Transect: "1", Substrate: "yucca", Season: 2026, To: 14, Intact: true},
		{Ranch: "A", Transect: "1", Substrate: "yucca", Season: 2026, From: 14, To: 28},
	}, mixed.Options{})
	got := r.Standardised[0]
	if got.Value != 0 || got.Low != 0 || math.Abs(got.High-0.975) > 1e-9 {
		t.Errorf("got %v (%v to %v), want 0 (0 to 0.975)", got.Value, got.Low, got.High)
	}
	if want := []string{"Every nest was lost, so there is nothing to tell the effects by."}; !slices.Equal(r.Notes, want) {
		t.Errorf("notes: got %q, want %q", r.Notes, want)
	}
}
