package misfit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/stat/misfit"
)

// cameras draws the records of cameras at a part of the nests of a drawn world: a camera's day is the calendar day of the loss where nests are set and looked at at the hour
// given, and fault moves it.
func (w world) cameras(r *rand.Rand, part, hour float64, fault func(r *rand.Rand, rec *misfit.Record)) (records []misfit.Record) {
	for owner := range w.owners {
		u := w.spread * r.NormFloat64()
		for range w.lines {
			v := u + w.luck*r.NormFloat64()
			days := []int{8 + r.IntN(12), 24 + r.IntN(10)}
			for range w.nests {
				lost := w.lostOn(r, v, 0)
				camera := r.Float64() < part
				from := 0
				for _, to := range days {
					if lost <= float64(to) {
						rec := misfit.Record{Owner: owner, From: from, To: to, Day: int(lost + hour/24)}
						if camera {
							if fault != nil {
								fault(r, &rec)
							}
							records = append(records, rec)
						}
						break
					}
					from = to
				}
			}
		}
	}
	return records
}

// TestCameras: days of loss as the model has them are called a misfit in at most one of twenty draws, three standard errors of the simulation allowed, also where lines differ much and where
// looks are at eight in the morning; days that are those of the look that found the nest gone, and losses mostly soon after a look, are found. What is outside its interval is not weighed.
func TestCameras(t *testing.T) {
	const runs = 200
	for _, tt := range []struct {
		name  string
		world world
		part  float64
		hour  float64
		fault func(r *rand.Rand, rec *misfit.Record)
		least float64
	}{
		{"true, 12 owners", world{owners: 12, lines: 5, nests: 10, spread: 0.25, luck: 0.4}, 0.08, 12, nil, 0},
		{"true, 34 owners", world{owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4}, 0.08, 12, nil, 0},
		{"true, 34 owners, lines differ much", world{owners: 34, lines: 5, nests: 10, spread: 0.4, luck: 0.8}, 0.08, 12, nil, 0},
		{"true, 34 owners, at eight", world{owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4}, 0.08, 8, nil, 0},
		{"true, 34 owners, one nest in three", world{owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4}, 0.33, 12, nil, 0},
		{"true, a ranch of 8 lines", world{owners: 8, lines: 1, nests: 10, luck: 0.4}, 0.5, 12, nil, 0},
		{"half are the day of the look", world{owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4}, 0.08, 12, func(r *rand.Rand, rec *misfit.Record) {
			if r.Float64() < 0.5 {
				rec.Day = rec.To
			}
		}, 0.9},
		{"half are the day of the look, a ranch of 8 lines", world{owners: 8, lines: 1, nests: 10, luck: 0.4}, 0.5, 12, func(r *rand.Rand, rec *misfit.Record) {
			if r.Float64() < 0.5 {
				rec.Day = rec.To
			}
		}, 0.3},
		{"twice as many in the first half", world{owners: 34, lines: 5, nests: 10, spread: 0.25, luck: 0.4}, 0.08, 12, func(r *rand.Rand, rec *misfit.Record) {
			if 2*rec.Day > rec.From+rec.To && r.Float64() < 1./3 {
				rec.Day = rec.From + rec.To - rec.Day
			}
		}, 0},
	} {
		said, n, all := 0.0, 0.0, 0.0
		for run := range runs {
			records := tt.world.cameras(rand.New(rand.NewPCG(uint64(run), 7)), tt.part, tt.hour, tt.fault)
			mean, chance := misfit.Cameras(records, []misfit.Rates{rates})
			if chance < 0.05 {
				said++
			}
			n, all = n+float64(len(records))/runs, all+mean/runs
		}
		rate := said / runs
		t.Logf("%s: %.0f records, mean %.3f, called a misfit %.3f", tt.name, n, all, rate)
		if tt.fault == nil && rate > 0.05+3*math.Sqrt(0.05*0.95/runs) || rate < tt.least {
			t.Errorf("%s: called a misfit in %.3f", tt.name, rate)
		}
	}
}
