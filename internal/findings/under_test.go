package findings_test

import (
	"math"
	"testing"

	"tussock/internal/findings"
)

// Results that were kept before a design effect was published have the ranges under it that they would have had with it, to the last digits, and
// nothing else of them changes; kept and read back they are the same.
func TestUnder(t *testing.T) {
	d := season(t)
	published := func(int) float64 { return 1.75 }
	want := findings.Compute(d, findings.Options{DesignEffect: published})
	before := findings.Compute(d, findings.Options{})
	kept, err := before.Pack()
	if err != nil {
		t.Fatal(err)
	}
	back, err := findings.Unpack(kept)
	if err != nil {
		t.Fatal(err)
	}
	got := back.Under(published)
	moved := 0
	for i := range want.Survival {
		w, g, b := &want.Survival[i], &got.Survival[i], &before.Survival[i]
		if w.Day28.SE == nil {
			continue
		}
		if math.Abs(*w.Day28.Low-*b.Day28.Low) > 1e-6 {
			moved++
		}
		for _, x := range [][2]*float64{{w.Day28.Low, g.Day28.Low}, {w.Day28.High, g.Day28.High}, {w.Day28.SE, g.Day28.SE}, {w.Day28.Estimate, g.Day28.Estimate}} {
			if math.Abs(*x[0]-*x[1]) > 1e-9 {
				t.Errorf("row %d: got %v to %v, want %v to %v", i, *g.Day28.Low, *g.Day28.High, *w.Day28.Low, *w.Day28.High)
				break
			}
		}
	}
	if moved == 0 {
		t.Error("the published design effect changes no range: nothing was tested")
	}
}
