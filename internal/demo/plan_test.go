package demo_test

import (
	"testing"

	"tussock/internal/season"
)

// TestPlans: each planned season has all its lines, where lines may lie.
func TestPlans(t *testing.T) {
	for _, p := range theDemo().Plans() {
		if len(p.Lines) < 4 {
			t.Errorf("%s: %d lines found room", p.Ranch, len(p.Lines))
		}
		for i := range p.Lines {
			if !season.Fits(&p.Ground, &p.Plan, &p.Lines[i], p.Lines[:i]) {
				t.Errorf("%s: line %s does not fit", p.Ranch, p.Lines[i].Name)
			}
		}
	}
}
