package bulletin

import (
	"tussock/internal/disclosure"
	"tussock/internal/stat/predator"
)

// CurveSlopes returns the slopes behind the curve, bunchgrass's and that of all other covers, with their standard errors.
func CurveSlopes(in Input) (slopes, errors []float64) {
	c, err := newComposer(disclosure.Default(), in)
	if err != nil {
		panic(err)
	}
	c.survival()
	f := c.line().fit()
	for j, column := range f.columns {
		if column.Term == "density" {
			slopes, errors = append(slopes, f.fit.Coef[j]), append(errors, f.fit.SE(j)*f.wider)
		}
	}
	return slopes, errors
}

// ComposeUnder and ReviseUnder work under another policy, so that tests can turn a rule off.
var (
	ComposeUnder = composeUnder
	ReviseUnder  = reviseUnder
)

// MixEffect returns how many times owners' own mixes widen the variances of a season's mix, and what each owner adds to that.
func MixEffect(in Input) (effect float64, squares []float64) {
	c, err := newComposer(disclosure.Default(), in)
	if err != nil {
		panic(err)
	}
	losses := pick(c.losses(), func(l loss) bool { return l.sign != NoSign })
	m := &mix{likelihoods: taught(c.key, losses).Nests(sightings(losses))}
	m.likely = predator.Estimate(m.likelihoods)
	m.chance = predator.Covariance(m.likelihoods, m.likely)
	return m.likeness(losses), m.apart(losses)
}
