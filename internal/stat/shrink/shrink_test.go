package shrink_test

import (
	"math"
	"testing"

	"tussock/internal/stat/shrink"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.10g, want %.10g (within %g)", what, got, want, tolerance)
	}
}

// one is the figure of one season with the spread taken for true.
func one(own shrink.Own, mean, meanSE, sd float64) shrink.Figure {
	return shrink.Together([]shrink.Season{{Mean: mean, MeanSE: meanSE, Own: own}}, 0, shrink.Others{SD: sd})
}

// The eight schools of Rubin 1981 (J. Educ. Stat. 6:377-401), the example of Gelman and others, Bayesian Data Analysis,
// 5.5: effects, standard errors, and their means given τ and the μ that goes with it, computed with R 4.2.2:
//
//	y <- c(28,8,-3,7,-1,1,18,12); s <- c(15,10,16,11,9,11,10,18); w <- 1/(s^2+tau^2)
//	mu <- sum(w*y)/sum(w); (y/s^2 + mu/tau^2)/(1/s^2 + 1/tau^2)
func TestEightSchools(t *testing.T) {
	y := []float64{28, 8, -3, 7, -1, 1, 18, 12}
	s := []float64{15, 10, 16, 11, 9, 11, 10, 18}
	for _, tt := range []struct {
		mean, sd float64
		want     []float64
	}{
		{7.850983234, 5, []float64{9.865884911, 7.880786587, 6.885593266, 7.705266927, 5.763487188, 6.677869666, 9.880786587, 8.148190739}},
		{8.126472186, 10, []float64{14.24140382, 8.063236093, 5.00105865, 7.616756264, 3.084222359, 4.901824138, 13.06323609, 9.040040066}},
	} {
		for i, want := range tt.want {
			f := one(shrink.Normal(y[i], s[i]), tt.mean, 0, tt.sd)
			near(t, "effect", f.Mean(), want, 1e-8)
			near(t, "variance", 1/(f.SD()*f.SD()), 1/(s[i]*s[i])+1/(tt.sd*tt.sd), 1e-9)
		}
	}
}

// Conditional modes of lme4 1.1-31 (R 4.2.2), given its fixed effects and standard deviations: its data cbpp summed by herd,
//
//	glmer(cbind(incidence, size - incidence) ~ 1 + (1 | herd), h, binomial("cloglog"))
//
// (testdata/modes.R), and its standard errors, which take the expected curvature where we take the observed one: within 8 %.
func TestModesOfLme4(t *testing.T) {
	const mean, sd = -2.12101801066, 0.747032763183
	for _, h := range []struct{ lost, of, mode, se float64 }{
		{9, 40, -1.499650540562, 0.320078175913}, {5, 61, -2.372597773402, 0.372201909132}, {12, 74, -1.783797033537, 0.275149166034},
		{4, 35, -2.112717058560, 0.416194900462}, {6, 71, -2.358523399386, 0.349359019042}, {4, 72, -2.649409593580, 0.386217568267},
		{12, 40, -1.183277381949, 0.285569665736}, {12, 34, -1.014839390676, 0.288473301314}, {2, 29, -2.408989364285, 0.483156246990},
		{4, 84, -2.766258761499, 0.380394389652}, {9, 96, -2.285966736386, 0.300624666944}, {3, 29, -2.179950281002, 0.452285858839},
		{3, 87, -2.948226911038, 0.400480227708}, {11, 26, -0.837599325192, 0.304517264175}, {3, 64, -2.727256291979, 0.413729977368},
	} {
		f := one(shrink.Lasted(1-h.lost/h.of, h.of), mean, 0, sd)
		near(t, "mode", f.Mean(), h.mode, 1e-5)
		near(t, "standard error", f.SD()/h.se, 1, 0.08)
	}
}

// The same with herds over periods, of which herds 1, 2, 4 and 7 stand here: glmer(cbind(incidence, size - incidence) ~ period +
// (1 | herd) + (1 | herd:period)). What stays with a herd is the first of its two spreads.
func TestSeasonsBorrowAsInLme4(t *testing.T) {
	const season, stays = 0.79142987259, 0.19303506847
	means := map[int]float64{1: -1.62753345227, 2: -2.73549956508, 3: -2.81815799475, 4: -3.34037435715}
	sd := math.Hypot(season, stays)
	others := shrink.Others{SD: sd, Lasting: stays * stays / sd / sd}
	type row struct {
		period   int
		lost, of float64
		mode     float64
	}
	for herd, rows := range map[int][]row{
		1: {{1, 2, 14, -1.719396860544}, {2, 3, 12, -1.813638765013}, {3, 4, 9, -1.337858382151}, {4, 0, 5, -3.340297582141}},
		2: {{1, 3, 22, -1.827360931751}, {2, 1, 18, -2.795949625213}, {3, 1, 21, -2.909337564091}},
		4: {{1, 2, 10, -1.549478504569}, {2, 0, 10, -3.022623185084}, {3, 2, 9, -2.137353418133}, {4, 0, 6, -3.442794963987}},
		7: {{1, 8, 16, -0.579565711873}, {2, 1, 10, -2.486770933901}, {3, 3, 9, -1.686561616836}, {4, 0, 5, -3.334964285037}},
	} {
		var seasons []shrink.Season
		for _, r := range rows {
			seasons = append(seasons, shrink.Season{Mean: means[r.period], Own: shrink.Lasted(1-r.lost/r.of, r.of)})
		}
		for i, r := range rows {
			if got := shrink.Together(seasons, i, others).Mean(); math.Abs(got-r.mode) > 1e-4 {
				t.Errorf("herd %d, period %d: got %.6f, want %.6f", herd, r.period, got, r.mode)
			}
		}
	}
}

// Hectares of corn a segment in twelve counties of Iowa, 36 segments: the data of Battese, Harter and Fuller 1988 (J. Am. Stat. Assoc. 83:28-36) as in R package sae 1.3
// (cornsoybean, without the outlying row 33), by lme4 1.1-31, REML. The documentation of R package agridat (data set battese.survey; repository kwstat/agridat,
// reference/battese.survey.md) has the same fit, variances of 140 between and 147.3 within counties, and notes that it is the paper's own on its page 33. g₂ is what the fixed
// effects add to the variance, and the last three numbers are the asymptotic variances and covariance of the two variances; the script for all is testdata/corn.R.
//
// The standard errors are held against the mean squared error g₁ + g₂ + g₃ of Prasad and Rao 1990 (J. Am. Stat. Assoc. 85:163-171), their g₃ being
//
//	n⁻²·(σᵥ² + σₑ²/n)⁻³·(σₑ⁴·Var σᵥ² + σᵥ⁴·Var σₑ² − 2·σₑ²·σᵥ²·Cov)
//
// (formula cited from memory). Theirs are means over counties of that many segments; ours are larger where a county lies far off and smaller where it does not, and take the variance within
// counties for known: so each within 12 %, and all together within 6 %.
func TestCornOfIowa(t *testing.T) {
	between, within := 140.0238897, 147.2686295
	varBetween, covariance, varWithin := 7886.39, -781.16, 1930.22
	var ours, theirs float64
	logSD := math.Sqrt(varBetween) / between / 2
	for _, c := range []struct {
		county             string
		segments           float64
		synthetic, off, g2 float64
		blup               float64
	}{
		{"Cerro Gordo", 1, 122.611004, -0.851061, 9.952771, 122.196204},
		{"Hamilton", 1, 123.355521, 5.882682, 7.871739, 126.222689},
		{"Worth", 1, 118.644001, -24.514884, 4.922122, 106.695658},
		{"Humboldt", 2, 117.008291, -13.068853, 9.014583, 108.443436},
		{"Franklin", 3, 130.365998, 18.793618, 1.311270, 144.281221},
		{"Pocahontas", 3, 102.351865, 13.220365, 1.957811, 112.140524},
		{"Winnebago", 3, 122.036585, -12.468993, 1.788630, 112.804258},
		{"Wright", 3, 120.313036, 2.276813, 3.000821, 121.998840},
		{"Webster", 4, 104.000857, 14.303560, 0.819677, 115.326509},
		{"Hancock", 5, 127.647696, -3.906231, 1.668874, 124.420334},
		{"Kossuth", 5, 121.709093, -17.918826, 0.701125, 106.904402},
		{"Hardin", 5, 134.405052, 10.420941, 4.543205, 143.014924},
	} {
		own := shrink.Normal(c.synthetic+c.off, math.Sqrt(within/c.segments))
		near(t, c.county+", predictor", one(own, c.synthetic, 0, math.Sqrt(between)).Mean(), c.blup, 1e-4)
		season := []shrink.Season{{Mean: c.synthetic, Own: own}}
		f := shrink.Together(season, 0, shrink.Others{SD: math.Sqrt(between), LogSD: logSD})
		se := math.Sqrt(f.SD()*f.SD() + c.g2) // g₂ has no part in the spread's

		both := between + within/c.segments
		g1 := between * within / c.segments / both
		g3 := (within*within*varBetween + between*between*varWithin - 2*within*between*covariance) / (c.segments * c.segments * both * both * both)
		want := math.Sqrt(g1 + c.g2 + g3)
		t.Logf("%-12s %.1f (%.2f), best linear predictor %.1f (%.2f)", c.county, f.Mean(), se, c.blup, want)
		near(t, c.county+", figure", f.Mean(), c.blup, 1.5)
		near(t, c.county+", standard error over the formula's", se/want, 1, 0.12)
		ours, theirs = ours+se*se, theirs+want*want
	}
	near(t, "root mean square of the standard errors over the formula's", math.Sqrt(ours/theirs), 1, 0.06)
}

func TestAtTheEnds(t *testing.T) {
	if f := one(shrink.Normal(3, 1e9), 1, 0, 0.5); math.Abs(f.Mean()-1) > 1e-9 {
		t.Errorf("knowing nothing: %v, want the others' 1", f.Mean())
	}
	if f := one(shrink.Normal(3, 1e-6), 1, 0, 0.5); math.Abs(f.Mean()-3) > 1e-9 {
		t.Errorf("knowing all: %v, want its own 3", f.Mean())
	}
	for _, share := range []float64{0, 1} {
		s, low, high := one(shrink.Lasted(share, 20), shrink.LogLog(0.5), 0.1, 0.3).Survival(0.95)
		if !(0 < low && low < s && s < high && high < 1) || (s > 0.5) != (share == 1) {
			t.Errorf("a share of %v: %v, %v to %v", share, s, low, high)
		}
	}
	// A season of which nothing is known borrows from the one before, and from nothing where nothing stays.
	for lasting, moved := range map[float64]bool{0.5: true, 0: false} {
		f := shrink.Together([]shrink.Season{{Mean: 0, Own: shrink.Normal(1, 0.1)}, {Mean: 0}}, 1, shrink.Others{SD: 0.4, Lasting: lasting})
		if (f.Mean() > 0.1) != moved {
			t.Errorf("lasting %v: %v", lasting, f.Mean())
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("no spread at all: no panic")
		}
	}()
	one(shrink.Normal(3, 1), 1, 0, 0)
}

func TestScale(t *testing.T) {
	for _, s := range []float64{0.01, 0.3, 0.5, 0.99} {
		near(t, "there and back", shrink.FromLogLog(shrink.LogLog(s)), s, 1e-12)
		near(t, "worth", shrink.Worth(s, math.Sqrt((1-s)/s/40)/-math.Log(s)), 40, 1e-9)
	}
}

// The derivatives of the binomial likelihood are checked where the posterior's slope must vanish: at the mode the quantiles are
// even about the mean, for one normal distribution.
func TestQuantile(t *testing.T) {
	f := one(shrink.Lasted(0.4, 30), -0.2, 0.05, 0.3)
	for _, p := range []float64{0.025, 0.3} {
		near(t, "even", f.Quantile(p)+f.Quantile(1-p), 2*f.Mean(), 1e-9)
	}
}
