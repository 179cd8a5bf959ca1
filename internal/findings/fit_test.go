package findings_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/findings"
	"tussock/internal/survey"
)

// A checkedRanch is what a ranch's season is drawn from.
type checkedRanch struct {
	lines, nests int     // of each line
	luck         float64 // standard deviation of the logarithm of the hazard between lines
	front        float64 // of the logarithm of the hazard in the first week of each two, and less of it in the second
	turn         float64 // standard deviation between lines of the logarithm of early over late hazard
	bad          int     // lines that lose nests ten times as fast
	daily        float64 // the hazard a day
	cameras      float64 // part of the nests with one
	looked       bool    // half of the cameras' days are those of the look
	weekly       bool    // lines are looked at each week
}

func (w checkedRanch) draw(r *rand.Rand) *survey.Data {
	d := &survey.Data{}
	for i := range w.lines {
		luck, turn := w.luck*r.NormFloat64(), w.turn*r.NormFloat64()
		if i < w.bad {
			luck = math.Log(10)
		}
		set := survey.DateOf(2025, 5, 1+r.IntN(5))
		looks := []survey.Date{set + survey.Date(11+r.IntN(7)), set + survey.Date(25+r.IntN(7))}
		if w.weekly {
			looks = []survey.Date{set + 7, set + 14, set + 21, set + 28}
		}
		for k := range w.nests {
			n := survey.Nest{Ranch: "own", Season: 2025, Transect: fmt.Sprint(i + 1), Number: fmt.Sprint(k + 1), SetOn: set, EggsLeft: -1,
				Substrate: []survey.Substrate{survey.Bunchgrass, survey.Shrub}[k%2]}
			gone, left := 0.0, r.ExpFloat64()
			for ; ; gone++ {
				h := w.daily * math.Exp(luck+turn)
				if gone >= 14 {
					h = w.daily * math.Exp(luck-turn)
				}
				if int(gone/7)%2 == 0 {
					h *= math.Exp(w.front)
				} else {
					h *= math.Exp(-w.front)
				}
				if left < h {
					gone += left / h
					break
				}
				left -= h
			}
			for _, on := range looks {
				if gone > float64(on-set) {
					n.Visits = append(n.Visits, survey.Visit{On: on, State: survey.Intact})
					continue
				}
				n.Visits = append(n.Visits, survey.Visit{On: on, State: survey.Taken})
				if r.Float64() < w.cameras {
					if n.CameraOn = set + survey.Date(gone+0.5); w.looked && r.Float64() < 0.5 {
						n.CameraOn = on
					}
				}
				break
			}
			d.Nests = append(d.Nests, n)
		}
	}
	return d
}

// TestOwnFit: of ranches of which the model is true, with lines that share little luck or much, something is said to fail in at most one of twenty, three standard errors of the
// simulation allowed; how often each check finds its own fault is printed. Below eight lines nothing is checked but cameras.
func TestOwnFit(t *testing.T) {
	runs := 200
	if *long {
		runs = 2000
	}
	for _, tt := range []struct {
		name  string
		ranch checkedRanch
		fault string
		least float64
	}{
		{"true, 8 lines of 8", checkedRanch{lines: 8, nests: 8, luck: 0.4, daily: 0.02, cameras: 0.3}, "", 0},
		{"true, 8 lines of 8, without luck", checkedRanch{lines: 8, nests: 8, daily: 0.03, cameras: 1}, "", 0},
		{"true, 12 lines of 10, much luck", checkedRanch{lines: 12, nests: 10, luck: 0.8, daily: 0.02, cameras: 0.5}, "", 0},
		{"true, 20 lines of 10", checkedRanch{lines: 20, nests: 10, luck: 0.4, daily: 0.025, cameras: 0.3}, "", 0},
		{"true, 40 lines of 10, few lost", checkedRanch{lines: 40, nests: 10, luck: 0.4, daily: 0.008, cameras: 0.3}, "", 0},
		{"true, 20 lines of 10, looked at each week", checkedRanch{lines: 20, nests: 10, luck: 0.4, daily: 0.02, cameras: 0.3, weekly: true}, "", 0},
		{"five times as fast in the first week", checkedRanch{lines: 20, nests: 10, luck: 0.4, daily: 0.02, front: 0.8, weekly: true}, findings.FitsWeeks, 0.5},
		{"some lines early, some late", checkedRanch{lines: 12, nests: 10, luck: 0.3, daily: 0.02, turn: 0.8}, findings.FitsPeriods, 0.3},
		{"one line ten times as fast", checkedRanch{lines: 20, nests: 10, luck: 0.2, daily: 0.01, bad: 1}, findings.FitsLines, 0.15},
		{"half are the day of the look", checkedRanch{lines: 12, nests: 10, luck: 0.4, daily: 0.02, cameras: 0.5, looked: true}, findings.FitsCameras, 0.3},
	} {
		fails, any := map[string]float64{}, 0.0
		for run := range runs {
			r := findings.Compute(tt.ranch.draw(rand.New(rand.NewPCG(uint64(run), 14))), findings.Options{})
			f := r.FitOf("own", 2025)
			if f == nil || len(f.Checks) == 0 {
				t.Fatalf("%s: %+v", tt.name, f)
			}
			for _, c := range f.Checks {
				if c.Fails {
					fails[c.What] += 1 / float64(runs)
				}
			}
			if len(f.Failing()) > 0 {
				any += 1 / float64(runs)
			}
		}
		t.Logf("%s: something fails in %.3f; weeks %.3f, periods %.3f, lines %.3f, cameras %.3f", tt.name, any, fails[findings.FitsWeeks], fails[findings.FitsPeriods], fails[findings.FitsLines], fails[findings.FitsCameras])
		if tt.fault == "" && any > 0.05+3*math.Sqrt(0.05*0.95/float64(runs)) {
			t.Errorf("%s: something fails in %.3f", tt.name, any)
		}
		if tt.fault != "" && fails[tt.fault] < tt.least {
			t.Errorf("%s: found in %.3f", tt.name, fails[tt.fault])
		}
	}
	if f := findings.Compute(checkedRanch{lines: 7, nests: 10, daily: 0.03, bad: 1}.draw(rand.New(rand.NewPCG(1, 1))), findings.Options{}).FitOf("own", 2025); f != nil {
		t.Errorf("seven lines are checked: %+v", f)
	}
}

// TestCameraOutside: days of loss outside the looks are counted, and said beside the figures.
func TestCameraOutside(t *testing.T) {
	d := checkedRanch{lines: 7, nests: 10, daily: 0.03, cameras: 1}.draw(rand.New(rand.NewPCG(1, 1)))
	want := 0
	for i := range d.Nests {
		if n := &d.Nests[i]; n.CameraOn != 0 && n.LastIntact() > 0 && want < 2 {
			n.CameraOn = n.SetOn + 1
			want++
		}
	}
	r := findings.Compute(d, findings.Options{})
	f := r.FitOf("own", 2025)
	if f == nil || f.Outside != 2 || want != 2 || f.CameraDays < 10 {
		t.Fatalf("%+v", f)
	}
	said := f.Failing()
	if want := fmt.Sprintf("Losses on camera that are dated outside the two looks that they lie between: 2 of %d. The figures go by the looks. Check the camera’s clock, and the days in the sheet.", f.CameraDays); len(said) != 1 || said[0].String() != want {
		t.Errorf("%q", said)
	}
}
