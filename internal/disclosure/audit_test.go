package disclosure_test

import (
	"fmt"
	"testing"

	"tussock/internal/disclosure"
)

func parts(of float64, kept ...float64) (ps []disclosure.Part) {
	for i, k := range kept {
		ps = append(ps, disclosure.Part{Entity: fmt.Sprint(i), Kept: k, Of: of})
	}
	return ps
}

// TestAudit: the first two were worked by hand for a grid of 5 points. 24, 20, 28, 24, 20 of 40 show as 0.60 and leave
// each at 0 to 40. 38 of 40 for all shows as 0.95; two insiders then know the rest at 29 to 40, 27.5 % of the scale.
func TestAudit(t *testing.T) {
	p := disclosure.Default()
	for _, tt := range []struct {
		name      string
		parts     []disclosure.Part
		low, high float64
		want      disclosure.Reason
	}{
		{"spread", parts(40, 24, 20, 28, 24, 20), 0.575, 0.625, ""},
		{"all do well", parts(40, 38, 38, 38, 38, 38), 0.925, 0.975, disclosure.TooAlike},
		{"all do badly", parts(40, 2, 2, 2, 2, 2), 0.025, 0.075, disclosure.TooAlike},
		{"all do well, shown as 85 % or more", parts(40, 38, 38, 38, 38, 38), 0.85, 1, ""},
		{"nobody", nil, 0, 1, ""},
	} {
		if got := p.Audit(tt.parts, tt.low, tt.high); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
	p.MinRange = 0
	if got := p.Audit(parts(40, 38, 38, 38, 38, 38), 0.925, 0.975); got != "" {
		t.Errorf("turned off: got %q", got)
	}
}

func TestExtreme(t *testing.T) {
	for rate, want := range map[float64]string{0.95: "- 0.85 1", 0.85: "- 0.85 1", 0.10: "- 0 0.15"} {
		if f, ok := disclosure.Default().Extreme(rate); !ok || show(f) != want {
			t.Errorf("%v: got %s, want %s", rate, show(f), want)
		}
	}
	if f, ok := disclosure.Default().Extreme(0.5); ok {
		t.Errorf("0.5: got %s, want none", show(f))
	}
}
