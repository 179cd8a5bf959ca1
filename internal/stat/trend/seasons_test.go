package trend_test

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/trend"
)

var long = flag.Bool("long", false, "draw many more series to measure how often a trend is told where there is none")

// TestPublished: the values are those of the restricted likelihood and generalised least squares on the same grid, written out with
// matrices in R 4.2.2. In the first series the seasons scatter by their own errors alone, in the second far more, and the range says so.
func TestPublished(t *testing.T) {
	series := func(half float64, survivals ...float64) (list []trend.Season) {
		for i, s := range survivals {
			list = append(list, trend.Season{Year: 2022 + i, Estimate: s, Low: s - half, High: s + half})
		}
		return list
	}
	for _, tt := range []struct {
		name                         string
		seasons                      []trend.Season
		yearly, low, high, tau, runs float64
	}{
		{"falling", series(0.05, 0.52, 0.44, 0.47, 0.38, 0.35), 1.1199393924, 0.9732384743, 1.2887532459, 0.1523789575, 0.6},
		{"scattered", series(0.04, 0.52, 0.24, 0.57, 0.28, 0.55), 0.9760163879, 0.5654163164, 1.6847904132, 0.8163059205, 0.6},
		{"long", series(0.02, 0.52, 0.50, 0.55, 0.47, 0.40, 0.35, 0.38, 0.30, 0.33, 0.25), 1.0878489720, 1.0115240604, 1.1699330073, 0.2498418731, 0.7583235166},
	} {
		got := trend.Published(tt.seasons)
		if !got.Known {
			t.Errorf("%s: %+v", tt.name, got)
		}
		close(t, tt.name, got.Yearly, tt.yearly, 1e-6)
		close(t, tt.name+", low", got.Low, tt.low, 1e-6)
		close(t, tt.name+", high", got.High, tt.high, 1e-6)
		close(t, tt.name+", tau", got.Tau, tt.tau, 1e-6)
		close(t, tt.name+", correlation", got.Correlation, tt.runs, 1e-6)
		if got.Outcome.Higher() != (got.Low > 1) {
			t.Errorf("%s: %v with %v to %v", tt.name, got.Outcome.Verdict, got.Low, got.High)
		}
	}
	if trend.Published(series(0.05, 0.5, 0.4)).Known || trend.Published(nil).Known {
		t.Error("two seasons have a trend")
	}
}

// ofSeasons draws published seasons about half of the nests lasting: luck of seasons with the given standard deviation and
// correlation on the scale log(−log S), a slope, published errors of 0.1, estimates rounded to two digits.
func ofSeasons(r *rand.Rand, n int, sd, correlation, slope float64) (list []trend.Season) {
	luck := sd * r.NormFloat64()
	for i := range n {
		if i > 0 {
			luck = correlation*luck + sd*math.Sqrt(1-correlation*correlation)*r.NormFloat64()
		}
		const se = 0.1
		y := math.Log(math.Log(2)) + slope*(float64(i)-float64(n-1)/2) + luck + se*r.NormFloat64()
		at := func(y float64) float64 { return min(max(math.Round(100*math.Exp(-math.Exp(y)))/100, 0.03), 0.97) }
		half := se * interval.Quantile(0.975, 0)
		list = append(list, trend.Season{Year: 2000 + i, Estimate: at(y), Low: min(at(y+half), at(y)-0.01), High: max(at(y-half), at(y)+0.01)})
	}
	return list
}

// TestTrendRates: of series without a trend at most one in twenty is said to rise or fall, also where seasons go together to 0.6;
// of series whose survival changes by more than ten points of 100 at most one in twenty is said to stay the same. The power is printed.
// In the short form the bar is what 300 series tell at three standard errors.
func TestTrendRates(t *testing.T) {
	runs := 300
	if *long {
		runs = 4000
	}
	bar := 0.05
	if !*long {
		bar += 3 * math.Sqrt(0.05*0.95/float64(runs))
	}
	for _, n := range []int{3, 5, 8, 12, 20} {
		for _, correlation := range []float64{0, 0.6} {
			for _, sd := range []float64{0.1, 0.3} {
				told := func(slope float64) (moves, stays float64) {
					for run := range runs {
						o := trend.Published(ofSeasons(rand.New(rand.NewPCG(uint64(run), uint64(n))), n, sd, correlation, slope)).Outcome
						if o.Lower() || o.Higher() {
							moves++
						}
						if o.Verdict.String() == "alike" {
							stays++
						}
					}
					return moves / float64(runs), stays / float64(runs)
				}
				moves, stays := told(0)
				_, missed := told(0.3 / float64(n-1)) // 10.4 points of 100, from the first season to the last
				power, _ := told(0.08)
				t.Logf("%2d seasons, luck %.1f, correlation %.1f: moves without a trend %.3f (rightly alike %.3f), alike past the margin %.3f, power at 8 %% a year %.3f",
					n, sd, correlation, moves, stays, missed, power)
				if moves > bar || missed > bar {
					t.Errorf("%d seasons, luck %.1f, correlation %.1f: a trend without one %.3f, alike past the margin %.3f", n, sd, correlation, moves, missed)
				}
			}
		}
	}
}
