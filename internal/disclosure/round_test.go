package disclosure_test

import (
	"fmt"
	"math"
	"testing"

	"tussock/internal/disclosure"
)

func show(f disclosure.Figure) string {
	text := func(x *float64) string {
		if x == nil {
			return "-"
		}
		return fmt.Sprint(*x)
	}
	return text(f.Estimate) + " " + text(f.Low) + " " + text(f.High)
}

// TestGrids: the expected values are worked by hand from the grids: 5, 2 and 1 points of survival at 5, 10 and 30
// entities, 10 and 5 points of a share, bands and two digits of density.
func TestGrids(t *testing.T) {
	p := disclosure.Default()
	for _, tt := range []struct {
		name string
		got  disclosure.Figure
		want string
	}{
		{"5 entities", p.Rate(5, 0.537, 0.412, 0.671), "0.55 0.4 0.7"},
		{"9 entities", p.Rate(9, 0.5249, 0.45, 0.55), "0.5 0.45 0.55"},
		{"10 entities", p.Rate(10, 0.537, 0.412, 0.671), "0.54 0.4 0.68"},
		{"29 entities", p.Rate(29, 0.5499, 0.501, 0.599), "0.54 0.5 0.6"},
		{"30 entities", p.Rate(30, 0.537, 0.412, 0.671), "0.54 0.41 0.68"},
		{"ends", p.Rate(5, 0.99, 0.96, 1), "1 0.95 1"},
		{"share of 5", p.Share(5, 0.537, 0.412, 0.671), "0.5 0.4 0.7"},
		{"share of 10", p.Share(10, 0.537, 0.412, 0.671), "0.55 0.4 0.7"},
		{"density of 9", p.Density(9, 212, 180, 260), "- 150 300"},
		{"density of 9 at an end", p.Density(9, 300, 280, 320), "- 300 600"},
		{"density of 9, none", p.Density(9, 0, 0, 3), "- 0 75"},
		{"density of 9, high", p.Density(9, 2000, 1500, 2500), "- 600 -"},
		{"density of 10", p.Density(10, 212.4, 187.2, 261.3), "210 180 270"},
		{"density of 10, low", p.Density(10, 6.24, 5.81, 6.82), "6.2 5.8 6.9"},
		{"density of 10, very low", p.Density(10, 0.0624, 0.05, 0.07), "0.062 0.05 0.07"},
		{"density of 10 on the grid", p.Density(10, 210, 180, 260), "210 180 260"},
	} {
		if got := show(tt.got); got != tt.want {
			t.Errorf("%s: got %s, want %s", tt.name, got, tt.want)
		}
	}
}

func TestEntityBand(t *testing.T) {
	for n, want := range map[int]string{0: "", 4: "", 5: "5-9", 9: "5-9", 10: "10-19", 19: "10-19", 20: "20-49", 49: "20-49", 50: "50+", 300: "50+"} {
		if got := disclosure.EntityBand(n); got != want {
			t.Errorf("%d: got %q, want %q", n, got, want)
		}
	}
}

// TestInversion works a published estimate with its Wilson limits back to counts: at three decimals 0.600 with 0.531
// to 0.665 fits one pair, 120 of 200; on the grid it must fit at least 50 numbers of nests.
func TestInversion(t *testing.T) {
	wilson := func(y, n int) (low, high float64) {
		const z = 1.959963984540054
		p, m := float64(y)/float64(n), float64(n)
		mid, half := p+z*z/(2*m), z*math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
		return (mid - half) / (1 + z*z/m), (mid + half) / (1 + z*z/m)
	}
	fits := func(shown func(est, low, high float64) string) int {
		low, high := wilson(120, 200)
		want, found := shown(0.6, low, high), 0
		for n := 30; n <= 1000; n++ {
			for y := range n + 1 {
				if low, high := wilson(y, n); shown(float64(y)/float64(n), low, high) == want {
					found++
					break
				}
			}
		}
		return found
	}
	exact := fits(func(e, l, h float64) string { return fmt.Sprintf("%.3f %.3f %.3f", e, l, h) })
	grid := fits(func(e, l, h float64) string { return show(disclosure.Default().Rate(5, e, l, h)) })
	if exact != 1 || grid < 50 {
		t.Errorf("three decimals fit %d numbers of nests, want 1; the grid fits %d, want 50 or more", exact, grid)
	}
}

// TestRandomRoundingAveragesOut shows why nothing is rounded at random here. Cases R21 and R22 (Handbook, chapter 5):
// unbiased random rounding takes x to the multiple below with probability 1 − r/base, r the remainder, else to the one
// above; 7 on base 5 gives 5 at 3/5 and 10 at 2/5, and 1 on base 3 gives 0 at 2/3 and 3 at 1/3. Its mean is x, so
// drawn anew it averages to the secret; our rounding gives the same value each time.
func TestRandomRoundingAveragesOut(t *testing.T) {
	for _, tt := range []struct{ x, base, below, above, pBelow, pAbove float64 }{
		{7, 5, 5, 10, 3. / 5, 2. / 5},
		{1, 3, 0, 3, 2. / 3, 1. / 3},
		{2, 3, 0, 3, 1. / 3, 2. / 3},
	} {
		up := math.Mod(tt.x, tt.base) / tt.base
		below := tt.x - up*tt.base
		if below != tt.below || below+tt.base != tt.above || math.Abs(up-tt.pAbove)+math.Abs(1-up-tt.pBelow) > 1e-12 {
			t.Errorf("%v on base %v: %v, or %v at %v", tt.x, tt.base, below, below+tt.base, up)
		}
		if mean := tt.below*tt.pBelow + tt.above*tt.pAbove; math.Abs(mean-tt.x) > 1e-12 {
			t.Errorf("%v on base %v averages to %v", tt.x, tt.base, mean)
		}
	}
	first := show(disclosure.Default().Rate(6, 0.5123, 0.43, 0.59))
	for range 200 {
		if again := show(disclosure.Default().Rate(6, 0.5123, 0.43, 0.59)); again != first {
			t.Fatalf("got %s after %s", again, first)
		}
	}
}
