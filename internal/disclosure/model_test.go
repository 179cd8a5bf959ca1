package disclosure_test

import (
	"testing"

	"tussock/internal/disclosure"
)

func TestCheckModel(t *testing.T) {
	p := disclosure.Default()
	for _, tt := range []struct {
		name    string
		amounts disclosure.Amounts
		want    disclosure.Reason
	}{
		{"ten alike", amounts(9, 9, 9, 9, 9, 9, 9, 9, 9, 9), ""},
		{"nine", amounts(9, 9, 9, 9, 9, 9, 9, 9, 9), disclosure.TooFew},
		{"ten, one without any", amounts(9, 9, 9, 9, 9, 9, 9, 9, 9, 0), disclosure.TooFew},
		{"one with 25 %", amounts(30, 10, 10, 10, 10, 10, 10, 10, 10, 10), ""},
		{"one with more", amounts(31, 10, 10, 10, 10, 10, 10, 10, 10, 10), disclosure.Dominated},
		{"four", amounts(9, 9, 9, 9), disclosure.TooFew},
	} {
		if got := p.CheckModel(tt.amounts); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}

// TestSteady: on the 5-point grid of ten entities 0.26 shows as 0.25; 0.31 as 0.30, one step; 0.33 as 0.35, two.
func TestSteady(t *testing.T) {
	p := disclosure.Default()
	if !p.Steady(10, 0.26, []float64{0.20, 0.31, 0.26}) {
		t.Error("one step is refused")
	}
	if p.Steady(10, 0.26, []float64{0.26, 0.33}) {
		t.Error("two steps are allowed")
	}
}
