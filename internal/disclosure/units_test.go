package disclosure_test

import (
	"testing"

	"tussock/internal/disclosure"
)

// TestNewShare: of nine entities three may be new and four may not; one with two ranches is new once.
func TestNewShare(t *testing.T) {
	units := func(old, fresh string) (us []disclosure.Unit) {
		for _, e := range old {
			us = append(us, disclosure.Unit{Entity: string(e), Amounts: []float64{40}})
		}
		for _, e := range fresh {
			us = append(us, disclosure.Unit{Entity: string(e), New: true, Amounts: []float64{40}})
		}
		return us
	}
	off := disclosure.Default()
	off.NewShare = 0
	for _, tt := range []struct {
		old, fresh string
		policy     disclosure.Policy
		want       disclosure.Reason
	}{
		{"ABCDEF", "GHI", disclosure.Default(), ""},
		{"ABCDE", "FGHI", disclosure.Default(), disclosure.TooNew},
		{"ABCDEF", "GHHI", disclosure.Default(), ""},
		{"ABCDE", "FGHI", off, ""},
	} {
		if got, _ := tt.policy.CheckUnits(units(tt.old, tt.fresh)); got != tt.want {
			t.Errorf("%s and new %s: got %q, want %q", tt.old, tt.fresh, got, tt.want)
		}
	}
}
