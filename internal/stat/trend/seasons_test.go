package trend_test

import (
	"testing"

	"tussock/internal/stat/trend"
)

// TestPublished: the values are those of weighted least squares written out with matrices in R 4. In the first series the seasons
// scatter by chance alone, in the second far more, and the range says so.
func TestPublished(t *testing.T) {
	series := func(half float64, survivals ...float64) (list []trend.Season) {
		for i, s := range survivals {
			list = append(list, trend.Season{Year: 2022 + i, Estimate: s, Low: s - half, High: s + half})
		}
		return list
	}
	for _, tt := range []struct {
		name              string
		seasons           []trend.Season
		yearly, low, high float64
	}{
		{"falling", series(0.05, 0.52, 0.44, 0.47, 0.38, 0.35), 1.11710290, 1.02689020, 1.21524083},
		{"scattered", series(0.04, 0.52, 0.24, 0.57, 0.28, 0.55), 0.97115767, 0.57853956, 1.63022077},
	} {
		got := trend.Published(tt.seasons)
		if !got.Known {
			t.Errorf("%s: not known", tt.name)
		}
		close(t, tt.name, got.Yearly, tt.yearly, 1e-6)
		close(t, tt.name+", low", got.Low, tt.low, 1e-6)
		close(t, tt.name+", high", got.High, tt.high, 1e-6)
	}
	if trend.Published(series(0.05, 0.5, 0.4)).Known {
		t.Error("two seasons have a trend")
	}
}
