package intake_test

import (
	"testing"

	"tussock/internal/intake"
)

func TestMatchRanch(t *testing.T) {
	ranches := []string{"Cottonwood Draw", "Cottonwood Flat", "Rancho El Nido", "The Vestal"}
	for name, want := range map[string]string{
		"Cottonwood Draw":       "Cottonwood Draw",
		"COTTONWOOD DRAW RANCH": "Cottonwood Draw",
		"cottonwood":            "", // two begin so
		"Draw":                  "Cottonwood Draw",
		"Vestal Ranch":          "The Vestal",
		"El Nido":               "Rancho El Nido",
		"Vestal north end":      "The Vestal",
		"Antelope Flat":         "",
		"Ranch":                 "",
		"":                      "",
	} {
		if got := intake.MatchRanch(name, ranches); got != want {
			t.Errorf("MatchRanch(%q) = %q, want %q", name, got, want)
		}
	}
}
