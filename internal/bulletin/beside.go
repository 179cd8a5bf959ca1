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

// Mix returns the standard mix that a season's survival is standardised to: equal shares of the standard substrates.
// A ranch's own figure is on the same footing with it. It is nil where the season has no such figure.
func Mix(cells []Cell, season int) map[survey.Substrate]float64 {
	mix := map[survey.Substrate]float64{}
	for _, c := range cells {
		if c.Season == season && c.Measure == Survival28 && c.Published && c.Area == nil && c.Substrate != nil {
			mix[survey.Substrate(*c.Substrate)] = 0
		}
	}
	if len(mix) == 0 {
		return nil
	}
	for h := range mix {
		mix[h] = 1 / float64(len(mix))
	}
	return mix
}
