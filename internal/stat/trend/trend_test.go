package trend_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/stat/differ"
	"tussock/internal/stat/mixed"
	"tussock/internal/stat/trend"
)

func close(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.10g, want %.10g (within %g)", what, got, want, tolerance)
	}
}

func count(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = float64(i + 1)
	}
	return v
}

// nile is the yearly flow of the Nile at Aswan, 1871 to 1970, in 10⁸ m³: the data set Nile of R (Cobb 1978,
// Biometrika 65:243-251).
func nile() []float64 {
	return []float64{1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140,
		1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969,
		831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759,
		781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890,
		744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740}
}

func TestMannKendall(t *testing.T) {
	tests := []struct {
		name string
		x, y []float64
		want trend.Kendall
	}{
		// Gilbert 1987, Statistical Methods for Environmental Pollution Monitoring, §16.4: S = 4, one-sided 0.167 in
		// the book's table (from memory of the source; the arithmetic is 4 orders of 24). Two-sided 8/24.
		{"Gilbert", count(4), []float64{10, 15, 14, 20},
			trend.Kendall{N: 4, S: 4, Tau: 4. / 6, Variance: 26. / 3, Z: 3 / math.Sqrt(26./3), P: 8. / 24, Exact: true}},
		// Helsel and Hirsch 2002 (USGS TWRI 4-A3), chapter 8, ten pairs: S 21, tau 0.47. R 4.2.2 cor.test(method =
		// "kendall", exact = TRUE) gives p 0.07255015432; variance and Z by the formula.
		{"HelselHirsch", []float64{2, 24, 99, 197, 377, 544, 632, 3452, 6587, 53170},
			[]float64{1.22, 2.20, 4.80, 1.28, 1.97, 1.46, 2.64, 2.34, 4.84, 2.96},
			trend.Kendall{N: 10, S: 21, Tau: 0.4666666667, Variance: 125, Z: 1.788854382, P: 0.07255015432, Exact: true}},
		// The same book, chapter 10: S 19, exact p 0.002777777778 (14 orders of 5040).
		{"HelselHirschLine", count(7), []float64{1, 2, 3, 4, 5, 16, 7},
			trend.Kendall{N: 7, S: 19, Tau: 0.9047619048, Variance: 44.33333333, Z: 18 / math.Sqrt(44.33333333333333), P: 0.002777777778, Exact: true}},
		// R 4.2.2 with the tie-corrected variance written out (script beside the data in R: Nile).
		{"Nile", count(100), nile(),
			trend.Kendall{N: 100, S: -1387, Tau: -0.2802020202, Variance: 112728.3333, Z: -4.128066523, P: 3.658262922e-05}},
		{"Ties", count(5), []float64{1, 1, 2, 2, 3},
			trend.Kendall{N: 5, S: 8, Tau: 0.8, Variance: 14.66666667, Z: 1.827815388, P: 0.06757726306}},
		{"Nothing", nil, nil, trend.Kendall{P: 1}},
		{"OneValue", count(1), count(1), trend.Kendall{N: 1, P: 1}},
		{"AllEqual", count(4), []float64{3, 3, 3, 3}, trend.Kendall{N: 4, P: 1}},
		{"Missing", count(6), []float64{10, math.NaN(), 15, 14, math.NaN(), 20},
			trend.Kendall{N: 4, S: 4, Tau: 4. / 6, Variance: 26. / 3, Z: 3 / math.Sqrt(26./3), P: 8. / 24, Exact: true}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := trend.MannKendall(tt.x, tt.y)
			if got.N != tt.want.N || got.S != tt.want.S || got.Exact != tt.want.Exact {
				t.Errorf("got %+v, want %+v", got, tt.want)
			}
			close(t, "tau", got.Tau, tt.want.Tau, 1e-9)
			close(t, "variance", got.Variance, tt.want.Variance, 1e-4*(1+tt.want.Variance/1e3))
			close(t, "Z", got.Z, tt.want.Z, 1e-8)
			close(t, "P", got.P, tt.want.P, 1e-10+1e-8*tt.want.P)
		})
	}
}

// Outputs printed by the Kendall programs of USGS SIR 2005-5275 (Helsel, Mueller and Slack 2006), files MKL4a_out.txt
// and MKL4b_out.txt: S −179, tau −0.057, z −0.740, p 0.4596; and S −110, tau −0.524, z −3.291, p 0.0010. The files do
// not print n; tau gives 80 and 21. Any series of that length with that S will do; 80 values have an even number of
// pairs, so two of them were equal.
func TestPrintedOutputs(t *testing.T) {
	tests := []struct {
		n, s      int
		tie       bool
		tau, z, p float64
	}{
		{80, -179, true, -0.057, -0.740, 0.4596},
		{21, -110, false, -0.524, -3.291, 0.0010},
	}
	for _, tt := range tests {
		y := withS(tt.n, tt.s)
		if tt.tie {
			y = withS(tt.n, tt.s+1)
			tie(y)
		}
		got := trend.MannKendall(count(tt.n), y)
		if got.S != tt.s {
			t.Fatalf("n %d: got S %d, want %d", tt.n, got.S, tt.s)
		}
		close(t, "tau", got.Tau, tt.tau, 0.0005)
		close(t, "z", got.Z, tt.z, 0.0005)
		close(t, "p", got.P, tt.p, 0.00005)
	}
}

// tie makes two neighbours in value equal that came in rising order, which takes one from S.
func tie(y []float64) {
	for i := range y {
		for j := i + 1; j < len(y); j++ {
			if y[j] == y[i]+1 {
				y[j] = y[i]
				return
			}
		}
	}
}

// withS is an order of n different values with the given S: inversions are spent from the back.
func withS(n, s int) []float64 {
	inversions := (n*(n-1)/2 - s) / 2
	rest := count(n)
	var y []float64
	for len(rest) > 0 {
		take := min(inversions, len(rest)-1) // taking the value at place k makes k inversions
		y = append(y, rest[take])
		rest = append(rest[:take:take], rest[take+1:]...)
		inversions -= take
	}
	return y
}

func TestSen(t *testing.T) {
	// Sen 1968: 21 slopes, median 4. The slopes of rank 4 and 18, 26/7 and 35/8, hold the truth with 97.0 %, those of
	// rank 5 and 17 with 93.1 % (exact distribution of S for seven values). scipy 1.10.1 theilslopes gives the same
	// limits at 95 %.
	s := trend.Sen([]float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78}, 0.95)
	if !s.Known || s.Pairs != 21 || !s.Bounded {
		t.Errorf("got %+v", s)
	}
	close(t, "slope", s.Slope, 4, 1e-12)
	close(t, "low", s.Low, 26./7, 1e-12)
	close(t, "high", s.High, 35./8, 1e-12)

	// Helsel and Hirsch 2002, chapter 10: slope 1, intercept 0.
	s = trend.Sen(count(7), []float64{1, 2, 3, 4, 5, 16, 7}, 0.95)
	close(t, "slope", s.Slope, 1, 1e-12)
	close(t, "intercept", s.Intercept, 0, 1e-12)

	// Gilbert 1987: slopes −1, 2, 2.5, 3.33, 5, 6; too few for an interval.
	s = trend.Sen(count(4), []float64{10, 15, 14, 20}, 0.95)
	close(t, "slope", s.Slope, 2.916666667, 1e-9)
	if s.Bounded {
		t.Errorf("bounded by four values: %+v", s)
	}

	// R 4.2.2: Nile, slope −2.6, ranks 2145 and 2806 of 4950.
	s = trend.Sen(count(100), nile(), 0.95)
	close(t, "slope", s.Slope, -2.6, 1e-9)
	close(t, "low", s.Low, -3.628571429, 1e-9)
	close(t, "high", s.High, -1.424242424, 1e-9)

	if s := trend.Sen([]float64{2020, 2020}, []float64{1, 2}, 0.95); s.Known {
		t.Errorf("a slope from one year: %+v", s)
	}
}

// Our own data, the numbers from base R written out twice (4.2.2); homogeneity and covariance likewise.
func TestRegional(t *testing.T) {
	years := []float64{2018, 2019, 2020, 2021, 2022, 2023}
	rows := [][]float64{{41, 44, 39, 47, 50, 52}, {60, 58, 63, 61, 66, 64}, {35, 35, 38, 34, 40, 41}, {52, 49, 50, 47, 55, math.NaN()}}
	r := trend.Regional(years, rows)
	if r.S != 28 || r.Ranches != 4 || r.HomogeneityDF != 3 || r.Reliable {
		t.Errorf("got %+v", r)
	}
	close(t, "variance", r.Variance, 100.6666667, 1e-6)
	close(t, "Z", r.Z, 2.691044751, 1e-8)
	close(t, "P", r.P, 0.007122863935, 1e-9)
	close(t, "slope", r.Slope, 1.5, 1e-12)
	close(t, "homogeneity", r.Homogeneity, 2.48138218, 1e-7)
	close(t, "its p", r.HomogeneityP, 0.4786651386, 1e-8)

	r = trend.Regional(years, rows[:3])
	close(t, "variance with covariances", r.CovVariance, 176.6666667, 1e-6)
	close(t, "Z with covariances", r.CovZ, 2.031357943, 1e-8)
	close(t, "P with covariances", r.CovP, 0.04221869744, 1e-9)
	close(t, "Z without", r.Z, 2.945941518, 1e-8)

	for _, none := range [][][]float64{nil, {{}}, {{math.NaN(), 1, math.NaN(), math.NaN(), math.NaN(), math.NaN()}}} {
		if none != nil && len(none[0]) == 0 {
			none = [][]float64{}
		}
		if r := trend.Regional(years, none); r.P != 1 || r.Known || r.Ranches != 0 {
			t.Errorf("got %+v", r)
		}
	}
}

// The covariance of a ranch with itself is its variance.
func TestRegionalTwins(t *testing.T) {
	years, row := count(12), []float64{3, 1, 4, 1.5, 5, 9, 2, 6, 5.5, 3.5, 5.8, 9.7}
	one := trend.MannKendall(years, row)
	r := trend.Regional(years, [][]float64{row, row})
	close(t, "variance", r.CovVariance, 4*one.Variance, 1e-9)
	if !r.Reliable {
		t.Error("twelve years are enough")
	}
}

// invented has ranches with a common change of log hazard a year, each its own on top, and shocks that a year brings
// to all, in runs.
func invented(seed uint64, ranches, seasons int, slope, own, shock float64) []mixed.Interval {
	rng := rand.New(rand.NewPCG(seed, 5))
	var list []mixed.Interval
	shocks := make([]float64, seasons)
	for s := range shocks {
		shocks[s] = shock * rng.NormFloat64()
		if s > 0 {
			shocks[s] = trend.Runs*shocks[s-1] + math.Sqrt(1-trend.Runs*trend.Runs)*shocks[s]
		}
	}
	for r := range ranches {
		u, w := 0.3*rng.NormFloat64(), own*rng.NormFloat64()
		for s := range seasons {
			for g := range 4 {
				v := 0.3 * rng.NormFloat64()
				for i := range 10 {
					h := math.Exp(-3.6 + (slope+w)*(float64(s)-float64(seasons-1)/2) + shocks[s] + u + v - 0.3*float64(i%2))
					from := 0.0
					for _, to := range []float64{14, 28} {
						lost := rng.ExpFloat64() < 14*h
						list = append(list, mixed.Interval{Ranch: fmt.Sprint(r), Transect: fmt.Sprint(g), Substrate: []string{"bunchgrass", "yucca"}[i%2],
							Season: 2018 + s, From: from, To: to, Intact: !lost})
						if lost {
							break
						}
						from = to
					}
				}
			}
		}
	}
	return list
}

func TestFit(t *testing.T) {
	y := trend.Fit(invented(1, 10, 6, 0.25, 0.05, 0))
	if !y.Known || !y.Outcome.Higher() {
		t.Errorf("got %+v", y)
	}
	close(t, "slope", y.Slope, 0.25, 3*y.SE)
	if y := trend.Fit(invented(2, 10, 6, 0, 0, 0)); !y.Known || y.Outcome.Verdict == differ.Differs {
		t.Errorf("got %+v", y)
	}
	if y := trend.Fit(invented(3, 6, 2, 1, 0, 0)); y.Known || len(y.Notes) == 0 {
		t.Errorf("a trend from two seasons: %+v", y)
	}
	for _, list := range [][]mixed.Interval{nil, invented(4, 3, 1, 0, 0, 0)} {
		if y := trend.Fit(list); y.Known || y.Outcome.Verdict != differ.CannotTell {
			t.Errorf("got %+v", y)
		}
	}
	intact := invented(5, 4, 5, 0, 0, 0)
	for i := range intact {
		intact[i].Intact = true
	}
	if y := trend.Fit(intact); y.Known {
		t.Errorf("got %+v", y)
	}
}

// A season's name for the transects of two seasons does not matter: they are laid anew.
func TestTransectsOfSeasonsAreApart(t *testing.T) {
	list := invented(6, 6, 5, 0.1, 0, 0)
	a := trend.Fit(list)
	for i := range list {
		list[i].Transect = fmt.Sprint(list[i].Season, "/", list[i].Transect)
	}
	b := trend.Fit(list)
	close(t, "slope", a.Slope, b.Slope, 1e-9)
	close(t, "standard error", a.SE, b.SE, 1e-9)
}

// The 95 % interval of the yearly hazard ratio should hold the true one in about 95 of 100 invented regions, where years bring
// good and bad luck to all, in runs, or more often: it makes ready for more than there may be. In no more than one in twenty is a
// trend told without one.
func TestSlopeCoverage(t *testing.T) {
	replicates, least, bar := 30, 0.83, 0.17
	if *long {
		replicates, least, bar = 1000, 0.93, 0.05
	}
	for _, tt := range []struct {
		name              string
		slope, own, shock float64
	}{{"NoTrend", 0, 0, 0}, {"OwnTrends", 0.1, 0.15, 0}, {"YearsInRuns", 0, 0, 0.4}} {
		t.Run(tt.name, func(t *testing.T) {
			held, told := 0, 0
			for i := range replicates {
				y := trend.Fit(invented(uint64(1000+i), 8, 6, tt.slope, tt.own, tt.shock))
				if truth := math.Exp(tt.slope); y.Low <= truth && truth <= y.High {
					held++
				}
				if y.Outcome.Verdict == differ.Differs {
					told++
				}
			}
			share, moves := float64(held)/float64(replicates), float64(told)/float64(replicates)
			t.Logf("held in %.3f of %d, a trend told in %.3f", share, replicates, moves)
			if share < least {
				t.Errorf("held in %.3f of %d, want %.2f", share, replicates, least)
			}
			if tt.slope == 0 && moves > bar {
				t.Errorf("a trend told in %.3f of %d without one", moves, replicates)
			}
		})
	}
}

// Gilbert 1987, §16.4: four values, S = 4.
func ExampleMannKendall() {
	k := trend.MannKendall([]float64{1, 2, 3, 4}, []float64{10, 15, 14, 20})
	fmt.Printf("S = %d, p = %.3f\n", k.S, k.P)
	// Output: S = 4, p = 0.333
}

func ExampleRegional() {
	years := []float64{2021, 2022, 2023}
	r := trend.Regional(years, [][]float64{{40, 42, 44}, {55, 57, 59}})
	fmt.Printf("S = %d over %d ranches, %.0f points a year\n", r.S, r.Ranches, r.Slope)
	// Output: S = 6 over 2 ranches, 2 points a year
}
