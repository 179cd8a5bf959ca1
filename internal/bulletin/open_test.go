package bulletin_test

import (
	"testing"

	"tussock/internal/bulletin"
)

// TestOpenEnds: a share of quality at either end is told as all that rounds to it in steps of 5 points, 97.5 of 100 or more and 2.5 or less;
// other figures, and shares between, as they are.
func TestOpenEnds(t *testing.T) {
	for _, tt := range []struct {
		measure   string
		share     float64
		low, high float64 // -1 for none
	}{{bulletin.KnownEnd, 1, 0.975, -1}, {bulletin.KnownEnd, 0, -1, 0.025}, {bulletin.KnownEnd, 0.95, -1, -1}, {bulletin.Survival28, 1, -1, -1}} {
		c := bulletin.Cell{Measure: tt.measure, Estimate: &tt.share}.Open()
		is := func(got *float64, want float64) bool { return got == nil && want < 0 || got != nil && *got == want }
		if !is(c.Low, tt.low) || !is(c.High, tt.high) || (c.Estimate == nil) != (tt.low >= 0 || tt.high >= 0) {
			t.Errorf("%s %v: %+v", tt.measure, tt.share, c)
		}
	}
}
