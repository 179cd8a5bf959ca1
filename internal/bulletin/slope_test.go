package bulletin_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/bulletin"
)

// TestSlopeOnCover: where each ranch has two to four belts, the slopes of the log hazard on log density behind the curve are right within a tenth and
// their 95 % intervals hold the truth at least 92 times in 100, whatever the belts' own error. 40 landowners, 0.4 apart in log clumps.
func TestSlopeOnCover(t *testing.T) {
	runs := 40
	if *long {
		runs = 400
	}
	for _, truth := range []float64{-0.5, -0.8} {
		for _, belts := range []int{2, 3, 4} {
			c := usual(40)
			c.bare, c.slope, c.belts, c.cover, c.patchy, c.moist = true, truth, belts, 0.35, 0.3, 0
			var mean, holds, n float64
			for run := range runs {
				r := rand.New(rand.NewPCG(uint64(run), 97))
				in, _ := c.draw(r).season(r, 2025, nil)
				slopes, errors := bulletin.CurveSlopes(in)
				for i, slope := range slopes {
					n++
					mean += slope
					if math.Abs(slope-truth) <= 2*errors[i] {
						holds++
					}
				}
			}
			mean, holds = mean/n, holds/n
			t.Logf("slope %.1f, %d belts: mean %.3f, %.3f hold", truth, belts, mean, holds)
			slack, off := 3*math.Sqrt(0.08*0.92/n), 0.1+3*0.35/math.Sqrt(n)
			if *long {
				slack, off = 0, 0.1
			}
			if holds < 0.92-slack || math.Abs(mean/truth-1) > off {
				t.Errorf("slope %.1f, %d belts: mean %.3f, %.3f hold", truth, belts, mean, holds)
			}
		}
	}
}
