package disclosure

import (
	"math"
	"slices"
)

// Quantile returns a quantile of entities' own values, q from 0 to 1, or false where it may not be given: at least
// QuantileBeyond entities must lie on each side of it. A textbook quantile is practically one entity's value; this one
// is the mean of the three order statistics nearest to rank q(n+1). A lowest or highest value is never one.
func (p Policy) Quantile(q float64, values []float64) (float64, bool) {
	n := float64(len(values))
	beyond := math.Min(q, 1-q) * n
	if len(values) < 3 || beyond <= 0 || beyond < float64(p.QuantileBeyond)-1e-9 {
		return 0, false
	}
	xs := slices.Sorted(slices.Values(values))
	// Of two ranks equally near, the lower in the lower half and the upper in the upper, so that the quantiles of
	// mirrored values are mirrored; for the median of an even number both, which makes four neighbours.
	rank := q * (n + 1)
	low, high := int(math.Ceil(rank-0.5)), int(math.Floor(rank+0.5))
	switch {
	case q < 0.5:
		high = low
	case q > 0.5:
		low = high
	}
	low, high = max(low-1, 1), min(high+1, len(xs))
	return sum(xs[low-1:high]) / float64(high-low+1), true
}
