package funnel_test

import (
	"fmt"
	"math"
	"testing"

	"tussock/internal/stat/funnel"
)

func close(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.10g, want %.10g (within %g)", what, got, want, tolerance)
	}
}

// qbinom and pbinom of R 4.2.2, interpolated by the formula of Spiegelhalter's appendix. The third row's first two
// are below zero by it (−0.0487, −0.0177) and kept at zero.
func TestLimit(t *testing.T) {
	chances := []float64{0.001, 0.025, 0.975, 0.999}
	tests := []struct {
		target float64
		n      int
		want   []float64
	}{
		{0.5, 20, []float64{0.1367357895, 0.2558235294, 0.6941764706, 0.8132642105}},
		{0.5, 250, []float64{0.4004689614, 0.4360701701, 0.5599298299, 0.5955310386}},
		{0.15, 20, []float64{0, 0, 0.2966225424, 0.4152198219}},
		{0.15, 100, []float64{0.04509685593, 0.07838301069, 0.2183322029, 0.2649527791}},
	}
	for _, tt := range tests {
		for i, p := range chances {
			close(t, fmt.Sprintf("target %g, %d nests, chance %g", tt.target, tt.n, p), funnel.Limit(tt.target, tt.n, p), tt.want[i], 1e-9)
		}
	}
	close(t, "none intact", funnel.Limit(0, 10, 0.975), 0, 0)
	close(t, "all intact", funnel.Limit(1, 10, 0.025), 1, 0)
}

// R 4.2.2: 0.5 ± qnorm(.975)·√(0.25/50), the check value with 1.96.
func TestWide(t *testing.T) {
	close(t, "low", funnel.Wide(0.5, 50, 0.025, 1), 0.3614070709, 5e-6)
	close(t, "high", funnel.Wide(0.5, 50, 0.975, 0.3), 0.6385929291, 5e-6)
	close(t, "wider", funnel.Wide(0.5, 50, 0.975, 4), 0.5+2*0.1385929291, 1e-5)
}

// Our own eight ranches; base R 4.2.2, quantile(type = 7): 2.372114930 after drawing in.
func TestDispersion(t *testing.T) {
	ranches := []funnel.Ranch{{40, 22}, {50, 31}, {30, 12}, {60, 40}, {45, 19}, {42, 27}, {48, 35}, {25, 8}, {}}
	target, ok := funnel.Target(ranches)
	if !ok {
		t.Fatal("no target")
	}
	close(t, "target", target, 0.5705882353, 1e-9)
	factor, ok := funnel.Dispersion(ranches, target)
	if !ok {
		t.Fatal("no factor")
	}
	close(t, "factor", factor, 2.372114930, 1e-8)

	if _, ok := funnel.Target(nil); ok {
		t.Error("a target from nothing")
	}
	for _, few := range [][]funnel.Ranch{nil, {{10, 5}}, {{}, {}}} {
		if f, ok := funnel.Dispersion(few, 0.5); ok || f != 1 {
			t.Errorf("%v: got %g, %v", few, f, ok)
		}
	}
}

// With half of all nests intact, a ranch of 20 nests stays within these limits in 95 of 100 seasons.
func ExampleLimit() {
	fmt.Printf("%.0f %% to %.0f %%\n", 100*funnel.Limit(0.5, 20, 0.025), 100*funnel.Limit(0.5, 20, 0.975))
	// Output: 26 % to 69 %
}
