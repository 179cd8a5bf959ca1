package bulletin

import "tussock/internal/survey"

// Beside tells how a ranch's own figure stands to a published one, given as its cell gives it: "lower", "similar"
// where it lies inside the published interval or band, "higher", or "" where neither is published. A rank or a distance
// would tell about the others. The estimate itself decides nothing: inside the interval, nobody can tell.
func Beside(own float64, _, low, high *float64) string {
	switch {
	case low == nil && high == nil:
		return ""
	case low != nil && own < *low:
		return "lower"
	case high != nil && own > *high:
		return "higher"
	}
	return "similar"
}

// Mix returns the standard mix that survival over some covers is standardised to: equal shares. A ranch's own figure is on
// the same footing with it. It is nil where there are none.
func Mix(covers []string) map[survey.Substrate]float64 {
	if len(covers) == 0 {
		return nil
	}
	mix := map[survey.Substrate]float64{}
	for _, h := range covers {
		mix[survey.Substrate(h)] = 1 / float64(len(covers))
	}
	return mix
}
