package bulletin

import (
	"maps"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
)

// leastNests is what an entity needs in each standard substrate for a survival of its own in the spread. Ours.
const leastNests = 5

// spread adds how landowners' own survivals lie apart: the median and, where there are enough of them, the quartiles,
// each landowner's being the mean over the standard substrates. It holds the luck of each one's few nests as well, so
// it is wider than the landowners differ.
func (c *composer) spread(now []*looked, standards []survey.Substrate) {
	cell := c.cell(SurvivalSpread, "", "")
	own := map[string]map[survey.Substrate][]survival.Nest{}
	for _, n := range now {
		if n.known || !slices.Contains(standards, n.substrate) {
			continue
		}
		if own[n.entity] == nil {
			own[n.entity] = map[survey.Substrate][]survival.Nest{}
		}
		own[n.entity][n.substrate] = append(own[n.entity][n.substrate], n.nest)
	}
	var values []float64
	for _, entity := range slices.Sorted(maps.Keys(own)) {
		if s, ok := ownSurvival(own[entity], standards); ok {
			values = append(values, s)
		}
	}
	median, ok := c.policy.Quantile(0.5, values)
	if !ok {
		c.hold(cell, disclosure.TooFew)
		return
	}
	f := c.policy.Rate(len(values), median, median, median)
	f.Low, f.High = nil, nil
	lower, ok1 := c.policy.Quantile(0.25, values)
	upper, ok2 := c.policy.Quantile(0.75, values)
	if ok1 && ok2 {
		f = c.policy.Rate(len(values), median, lower, upper)
	}
	c.publish(cell, len(values), f)
}

func ownSurvival(nests map[survey.Substrate][]survival.Nest, standards []survey.Substrate) (mean float64, ok bool) {
	for _, h := range standards {
		if len(nests[h]) < leastNests {
			return 0, false
		}
		fit := survival.Fit(nests[h])
		if !fit.Told() {
			return 0, false
		}
		mean += fit.S28 / float64(len(standards))
	}
	return mean, len(standards) > 0
}
