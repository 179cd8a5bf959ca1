package disclosure_test

import (
	"testing"

	"tussock/internal/disclosure"
)

// TestAuditEditions: seven with 40 nests each, the figures our own. Each edition passes by itself; what both together tell is
// worked out in the cases' names.
func TestAuditEditions(t *testing.T) {
	const n = 40
	parts := func(of int, kept ...float64) (ps []disclosure.Part) {
		for i, k := range kept {
			p := disclosure.Part{Entity: string(rune('A' + i)), Kept: k, Of: n}
			if i >= of {
				p.Kept, p.Of = 0, 0
			}
			ps = append(ps, p)
		}
		return ps
	}
	half := []float64{20, 18, 22, 20, 19, 21, 20}
	after := func(kept ...float64) []float64 { return append(kept, half[len(kept):]...) }
	ten := func(late ...float64) []float64 { return append([]float64{20, 18, 22, 20, 19}, late...) }
	for _, tt := range []struct {
		name          string
		before, after []disclosure.Part
		held          bool
	}{
		{"nothing changed", parts(7, half...), parts(7, half...), false},
		{"five lose one more each", parts(7, half...), parts(7, after(19, 17, 21, 19, 18)...), false},
		{"five who send late keep half", parts(5, ten(20, 20, 20, 20, 20)...), parts(10, ten(20, 20, 20, 20, 20)...), false},
		{"five who send late keep all but one: of three unknown each has at least 38 of 40", parts(5, ten(39, 39, 39, 39, 39)...), parts(10, ten(39, 39, 39, 39, 39)...), true},
		{"five who send late keep one: of three unknown each has at most 3 of 40", parts(5, ten(1, 1, 1, 1, 1)...), parts(10, ten(1, 1, 1, 1, 1)...), true},
		{"five go from all to none: the difference is that, 200 of 200", parts(7, 40, 40, 40, 40, 40, 20, 2), parts(7, 0, 0, 0, 0, 0, 20, 2), true},
		// F and G stay; the others make up for nothing before and for nothing after: F has at least what all else being kept
		// leaves of the first edition, and at most what all else being lost leaves of the second.
		{"the two who stay stand between", parts(7, 40, 40, 40, 40, 39, 20, 39), parts(7, 0, 0, 0, 0, 1, 20, 39), true},
	} {
		p := disclosure.Default()
		if got := p.AuditEditions(tt.before, tt.after); (got != "") != tt.held {
			t.Errorf("%s: got %q, held is to be %v", tt.name, got, tt.held)
		}
		if p.MinRange = 0; p.AuditEditions(tt.before, tt.after) != "" {
			t.Errorf("%s: held with the audit off", tt.name)
		}
	}
	// Whose figures everybody knows protects nobody: four late ones beside one of them are four, two of whom pool.
	known := parts(10, ten(12, 14, 0, 0, 40)...)
	if disclosure.Default().AuditEditions(parts(5, ten(0, 0, 0, 0, 0)...), known) != "" {
		t.Error("five late ones of whom one keeps all are held")
	}
	known[9].Known = true
	if disclosure.Default().AuditEditions(parts(5, ten(0, 0, 0, 0, 0)...), known) == "" {
		t.Error("four late ones beside one whom everybody knows: two of them know that the others kept nothing")
	}
}
