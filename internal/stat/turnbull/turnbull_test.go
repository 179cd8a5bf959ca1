package turnbull_test

import (
	"math"
	"testing"

	"tussock/internal/stat/turnbull"
)

// spans are 46 made-up spans, many of which overlap.
var spans = []turnbull.Span{
	{45, 0}, {6, 10}, {0, 7}, {46, 0}, {46, 0}, {7, 16}, {17, 0}, {7, 14}, {37, 44}, {0, 8}, {4, 11}, {15, 0}, {11, 15}, {22, 0}, {46, 0}, {46, 0},
	{25, 37}, {46, 0}, {26, 40}, {46, 0}, {27, 34}, {36, 44}, {46, 0}, {32, 0}, {46, 0}, {40, 0}, {36, 48}, {24, 0}, {34, 0}, {37, 0}, {40, 0},
	{5, 12}, {17, 25}, {46, 0}, {19, 35}, {7, 11}, {37, 0}, {37, 0}, {24, 0}, {0, 5}, {4, 8}, {11, 18}, {46, 0}, {46, 0}, {35, 0}, {46, 0},
}

// TestAgainstR: R 4.2.2 with survival 3.5-3, survfit(Surv(Intact, Lost, type = "interval2") ~ 1) with NA for 0, gives the survival after each step. It stops
// at a tolerance of its own, a few units in the fourth digit before the maximum (TestNoBetterCurve): so to 0.001.
func TestAgainstR(t *testing.T) {
	c := turnbull.Fit(spans)
	for _, want := range []struct {
		day      int
		survival float64
	}{{5, .935187905}, {8, .802865318}, {12, .743388078}, {18, .728886476}, {25, .709853762}, {34, .622032389}, {41, .533006971}} {
		if low, high := c.At(want.day); math.Abs(low-want.survival) > 1e-3 || math.Abs(high-want.survival) > 1e-3 {
			t.Errorf("day %d: %.6f to %.6f, want %.6f", want.day, low, high, want.survival)
		}
	}
}

// TestNothingMissed: where every nest is seen on the same days the curve is the plain share, and between those days it is open.
func TestNothingMissed(t *testing.T) {
	c := turnbull.Fit([]turnbull.Span{{0, 14}, {14, 28}, {28, 0}, {28, 0}})
	for _, tt := range []struct {
		day       int
		low, high float64
	}{{0, 1, 1}, {7, .75, 1}, {14, .75, .75}, {20, .5, .75}, {28, .5, .5}, {40, .5, .5}} {
		if low, high := c.At(tt.day); math.Abs(low-tt.low) > 1e-9 || math.Abs(high-tt.high) > 1e-9 {
			t.Errorf("day %d: %v to %v, want %v to %v", tt.day, low, high, tt.low, tt.high)
		}
	}
	if c := turnbull.Fit(nil); c.Rest != 1 {
		t.Errorf("no nests: %v", c)
	}
	if c := turnbull.Fit([]turnbull.Span{{28, 0}}); c.Rest != 1 || len(c.Steps) != 0 {
		t.Errorf("no loss: %v", c)
	}
}

// TestNoBetterCurve: at the maximum no move of mass to another step gains likelihood: Σ_i [the step fits i] / P(i) ≤ n, with equality where there is mass (Gentleman & Geyer
// 1994, Biometrika 81:618-623, cited from memory).
func TestNoBetterCurve(t *testing.T) {
	c := turnbull.Fit(spans)
	fits := func(s turnbull.Span, st turnbull.Step) bool {
		return st.From >= s.Intact && (s.Lost == 0 || st.To <= s.Lost)
	}
	for _, st := range c.Steps {
		gain := 0.0
		for _, s := range spans {
			p := 0.0
			for _, other := range c.Steps {
				if fits(s, other) {
					p += other.Mass
				}
			}
			if s.Lost == 0 {
				p += c.Rest
			}
			if fits(s, st) {
				gain += 1 / p
			}
		}
		if n := float64(len(spans)); gain > n+1e-3 || st.Mass > 1e-4 && gain < n-1e-3 {
			t.Errorf("%v: gain %v, want %v at most", st, gain, n)
		}
	}
}
