package misfit_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tussock/internal/stat/misfit"
	"tussock/internal/stat/survival"
)

// A world is what nests are drawn from.
type world struct {
	owners, lines, nests int
	spread, luck         float64
	shape                float64 // of the logarithm of the hazard in the first week of each period, and less of it in the second
	late                 float64 // the standard deviation of the logarithm of late over early hazard between owners
	bad                  float64 // the chance that a line loses six times as fast
}

var rates = misfit.Rates{0.025, 0.018}

// draw gives looks of one kind, each line checked on days of its own, and the rates as fitted to them.
func (w world) draw(r *rand.Rand) ([]misfit.Look, []misfit.Rates) {
	var looks []misfit.Look
	var nests []survival.Nest
	for owner := range w.owners {
		u, late := w.spread*r.NormFloat64(), w.late*r.NormFloat64()
		for i := range w.lines {
			line := owner*w.lines + i
			v := u + w.luck*r.NormFloat64()
			if r.Float64() < w.bad {
				v += math.Log(6)
			}
			days := []int{8 + r.IntN(12), 24 + r.IntN(10)}
			for n := range w.nests {
				lost := w.lostOn(r, v, late)
				from, label := 0, line*w.nests+n
				nest := survival.Nest{Transect: line}
				for _, day := range days {
					gone := lost <= float64(day)
					looks = append(looks, misfit.Look{Owner: owner, Line: line, Nest: label, From: from, To: day, Lost: gone})
					if gone {
						nest.Lost = day
						break
					}
					nest.Intact, from = day, day
				}
				nests = append(nests, nest)
			}
		}
	}
	fit := survival.Fit(nests)
	return looks, []misfit.Rates{{-math.Log(fit.Rates[0].Daily), -math.Log(fit.Rates[1].Daily)}}
}

func (w world) lostOn(r *rand.Rand, luck, late float64) float64 {
	left, day := r.ExpFloat64(), 0.0
	for {
		h := rates[0]
		if day >= 14 {
			h = rates[1] * math.Exp(late)
		}
		if int(day/7)%2 == 0 && day < 28 {
			h *= math.Exp(w.shape)
		} else {
			h *= math.Exp(-w.shape)
		}
		if h *= math.Exp(luck); left < h || day > 400 {
			return day + left/h
		}
		left, day = left-h, day+1
	}
}

// TestResidualsAreNormal: under the true model the randomized quantile residuals are independent and standard normal (Dunn and Smyth 1996, section 2). The statistic of
// Kolmogorov and Smirnov over all of them is below 1.63/√n, its limit at 1 in 100 (Massey 1951, Journal of the American Statistical Association 46:68-78, table 1).
func TestResidualsAreNormal(t *testing.T) {
	w := world{owners: 40, lines: 5, nests: 12, luck: 0.5}
	var all []float64
	for run := range 10 {
		looks, _ := w.draw(rand.New(rand.NewPCG(uint64(run), 1)))
		all = append(all, misfit.LinesOf(looks, []misfit.Rates{rates}).Residuals(0.5, uint64(run))...)
	}
	slices.Sort(all)
	n, far, square := float64(len(all)), 0.0, 0.0
	for i, x := range all {
		p := distuv.UnitNormal.CDF(x)
		far = math.Max(far, math.Max(p-float64(i)/n, float64(i+1)/n-p))
		square += x * x / n
	}
	t.Logf("%d residuals: furthest from the normal curve %.4f of %.4f allowed, mean square %.3f", len(all), far, 1.63/math.Sqrt(n), square)
	if far > 1.63/math.Sqrt(n) || math.Abs(square-1) > 4*math.Sqrt(2/n) {
		t.Errorf("furthest %.4f, mean square %.3f", far, square)
	}
	// Without the luck of lines they are too far out.
	looks, _ := w.draw(rand.New(rand.NewPCG(1, 1)))
	lines := misfit.LinesOf(looks, []misfit.Rates{rates})
	if beyond, chance := misfit.Tails(lines.Residuals(0, 1), lines.Owners); chance > 0.001 {
		t.Errorf("with luck left out %d of 200 are beyond 1.96", beyond)
	}
}

// TestDistributionOfLosses: of nests that are all alike the number lost on a line is binomial, so a residual lies between the normal scores of the binomial's
// steps (R's or any other table of it: gonum's here).
func TestDistributionOfLosses(t *testing.T) {
	var looks []misfit.Look
	for n := range 8 {
		looks = append(looks, misfit.Look{Nest: n, Line: 0, From: 0, To: 14, Lost: n < 3})
	}
	p := 3.0 / 8 // as many are expected in all as were lost
	b := distuv.Binomial{N: 8, P: p}
	low, high := distuv.UnitNormal.Quantile(b.CDF(2)), distuv.UnitNormal.Quantile(b.CDF(3))
	for seed := range uint64(50) {
		if x := misfit.LinesOf(looks, []misfit.Rates{{0.02, 0.02}}).Residuals(0, seed)[0]; x < low-1e-3 || x > high+1e-3 {
			t.Errorf("residual %.4f, want %.4f to %.4f", x, low, high)
		}
	}
}

// TestSizeAndPower: each test calls a true model a misfit in at most one of twenty draws, three standard errors of the simulation allowed, and finds its own
// fault more often than not where it is large.
func TestSizeAndPower(t *testing.T) {
	const runs = 100
	for _, w := range []world{
		{owners: 12, lines: 5, nests: 10, spread: 0.25, luck: 0.4}, {owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4},
		{owners: 34, lines: 5, nests: 10, luck: 0.8}, {owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4, shape: 0.7}, {owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4, late: 0.8},
		{owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4, bad: 0.15},
	} {
		var early, late, periods, lines float64
		for run := range runs {
			looks, fitted := w.draw(rand.New(rand.NewPCG(uint64(run), 2)))
			shape := misfit.Shape(looks, fitted)
			said := func(p float64) float64 {
				if p < 0.05 {
					return 1.0 / runs
				}
				return 0
			}
			early, late, periods = early+said(shape[0]), late+said(shape[1]), periods+said(misfit.Periods(looks, fitted))
			all := misfit.LinesOf(looks, fitted)
			_, chance := misfit.Tails(all.Residuals(math.Hypot(w.spread, w.luck), uint64(run)), all.Owners)
			lines += said(chance)
		}
		t.Logf("%+v: first weeks %.3f, last weeks %.3f, periods %.3f, lines %.3f", w, early, late, periods, lines)
		most := 0.05 + 3*math.Sqrt(0.05*0.95/runs)
		if w.shape == 0 && w.late == 0 && w.bad == 0 && max(early, late, periods, lines) > most {
			t.Errorf("%+v: called a misfit too often", w)
		}
		if w.shape > 0 && early < 0.5 || w.late > 0 && periods < 0.5 || w.bad > 0 && lines < 0.5 {
			t.Errorf("%+v: its own fault is not found", w)
		}
	}
}

// TestNothingToSay: without looks, with one owner, or with checks on two days alone nothing is called a misfit.
func TestNothingToSay(t *testing.T) {
	for _, looks := range [][]misfit.Look{nil, {{From: 0, To: 14}}, {{From: 0, To: 14, Lost: true}, {Nest: 1, From: 0, To: 14}, {Nest: 1, From: 14, To: 28}}} {
		if shape := misfit.Shape(looks, []misfit.Rates{rates}); shape != [3]float64{1, 1, 1} {
			t.Errorf("shape %v", shape)
		}
		if p := misfit.Periods(looks, []misfit.Rates{rates}); p != 1 {
			t.Errorf("periods %v", p)
		}
		lines := misfit.LinesOf(looks, []misfit.Rates{rates})
		if _, p := misfit.Tails(lines.Residuals(0.4, 1), lines.Owners); p < 0.05 {
			t.Errorf("lines %v", p)
		}
	}
}
