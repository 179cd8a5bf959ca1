package findings

import (
	"math"
	"slices"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/survival"
)

// Under returns the results with the ranges of survival that they have under a published design effect, as Compute makes them with
// Options.DesignEffect: what is published comes after a ranch's results are kept, and not every reader may see it. Figures stay, and so
// does what rests on ten transects or more. Losses to predators alone keep the range they have.
func (r *Result) Under(published func(season int) float64) *Result {
	if r == nil {
		return nil
	}
	under := *r
	under.Survival = slices.Clone(r.Survival)
	for i := range under.Survival {
		under.Survival[i].under(published(under.Survival[i].Season))
	}
	under.compare()
	return &under
}

func (s *Survival) under(published float64) {
	d := s.Day28
	if d.SE == nil || d.Estimate == nil || !(*d.Estimate > 0 && *d.Estimate < 1) {
		return
	}
	// What the row's error rests on without a published design effect says what the two errors were.
	model, effect := *d.SE**d.SE, 0.0
	if s.DesignEffect != nil {
		effect = *s.DesignEffect
	}
	if effect > 1 || s.Transects >= survival.Few && effect > 0 {
		model /= effect
	}
	rests, times, df, _ := survival.Resting(model*effect, model, s.Transects, published)
	if rests != survival.OnPublished {
		return
	}
	se := math.Sqrt(times * model)
	s.spread = interval.LogLog(*d.Estimate, se, df)
	s.Day28 = estimate(*d.Estimate, se, s.spread)
	s.Daily = slices.Clone(s.Daily)
	for k := range s.Daily {
		if old := s.Daily[k].SE; old != nil {
			s.Daily[k].SE = number(*old * se / *d.SE)
		}
	}
}
