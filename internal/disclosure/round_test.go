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
		{"5 entities", p.Rate(5, 0.537, 0.412, 0.671), "0.55 0.4 0.65"},
		{"9 entities", p.Rate(9, 0.5249, 0.45, 0.58), "0.5 0.45 0.6"},
		{"10 entities", p.Rate(10, 0.537, 0.412, 0.671), "0.54 0.42 0.68"},
		{"29 entities", p.Rate(29, 0.5499, 0.501, 0.599), "0.54 0.5 0.6"},
		{"30 entities", p.Rate(30, 0.537, 0.412, 0.671), "0.54 0.41 0.67"},
		{"ends", p.Rate(5, 0.99, 0.96, 1), "1 0.95 1"},
		{"share of 5", p.Share(5, 0.537, 0.412, 0.671), "0.5 0.4 0.7"},
		{"share of 10", p.Share(10, 0.537, 0.412, 0.671), "0.55 0.4 0.65"},
		{"band", p.Band(212), "- 150 300"},
		{"band at an end", p.Band(300), "- 300 600"},
		{"band, none", p.Band(0), "- 0 75"},
		{"band, high", p.Band(2000), "- 600 -"},
		{"density", p.Density(212.4, 187.2, 261.3), "210 190 260"},
		{"density, low", p.Density(6.24, 5.81, 6.87), "6.2 5.8 6.9"},
		{"density, very low", p.Density(0.0624, 0.05, 0.07), "0.062 0.05 0.07"},
		{"density on the grid", p.Density(210, 180, 260), "210 180 260"},
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
// drawn again it averages to the secret; our rounding gives the same value each time.
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

// TestWindow: four tenths of the scale about the fifth that holds the rate, and no more than is left at its ends; nothing where
// the rate's own range does not lie in it.
func TestWindow(t *testing.T) {
	for _, tt := range []struct {
		rate, low, high float64
		want            string
		fits            bool
	}{
		{0.5, 0.35, 0.65, "- 0.3 0.7", true},
		{0.41, 0.31, 0.69, "- 0.3 0.7", true},
		{0.5, 0.29, 0.65, "- 0.3 0.7", false},
		{0.5, 0.35, 0.71, "- 0.3 0.7", false},
		{0.1, 0, 0.3, "- 0 0.3", true},
		{1, 0.9, 1, "- 0.7 1", true},
	} {
		got, fits := disclosure.Default().Window(tt.rate, tt.low, tt.high)
		if show(got) != tt.want || fits != tt.fits {
			t.Errorf("%v from %v to %v: got %s, %v, want %s, %v", tt.rate, tt.low, tt.high, show(got), fits, tt.want, tt.fits)
		}
	}
}
