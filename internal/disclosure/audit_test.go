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
		{"six do well, shown as 85 % or more", parts(40, 38, 38, 38, 38, 38, 38), 0.85, 1, ""},
		{"five do well, of whom a reader of the rule knows more", parts(40, 38, 38, 38, 38, 38), 0.85, 1, disclosure.TooAlike},
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

// TestAuditTellsNothing: that a rate passes is known, and who knows the rule calculates back. With 52 of 700 lasting, two
// insiders of 10 would know that nobody else has more than 12 of 100, where the verdict came from what each one has.
func TestAuditTellsNothing(t *testing.T) {
	p := disclosure.Default()
	given := func(kept ...float64) bool {
		all := 0.0
		for _, k := range kept {
			all += k
		}
		rate := all / float64(100*len(kept))
		return p.Audit(parts(100, kept...), rate, rate) == ""
	}
	for others := 4.0; others <= 12; others++ { // so that there are from 6 to 14 owners
		for _, more := range []float64{0, 10, 20, 30} {
			truth, other := []float64{10, 10, 8}, []float64{10, 10, more}
			for range int(others) {
				truth, other = append(truth, 8), append(other, 8-(more-8)/others)
			}
			if given(truth...) != given(other...) {
				t.Errorf("%v: given %v; %v: given %v", truth, given(truth...), other, given(other...))
			}
		}
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
