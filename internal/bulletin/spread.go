package bulletin

import (
	"math"

	"tussock/internal/stat/interval"
	"tussock/internal/survey"
)

// Spread returns what the cell says of its figure, to be compared with another. It is unknown where nothing is published, where
// the measure has no range, and of a band of clumps: it is where the estimate lies, and says nothing of how sure that is.
func (c Cell) Spread() interval.Spread {
	if !c.Published || c.Low == nil && c.High == nil {
		return interval.Spread{}
	}
	at := func(x *float64, none float64) float64 {
		if x == nil {
			return none
		}
		return *x
	}
	switch {
	case c.Measure == ClumpsPerAcre && c.Estimate == nil:
		return interval.Spread{}
	case c.Measure == ClumpsPerAcre:
		return interval.PublishedLog(*c.Estimate, at(c.Low, 0), at(c.High, math.Inf(1)))
	}
	return interval.Published(at(c.Estimate, math.NaN()), at(c.Low, 0), at(c.High, 1))
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
