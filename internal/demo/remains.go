package demo

import (
	"math/rand/v2"

	"tussock/internal/survey"
)

// evidence is what the crew finds at a taken nest: often nothing, and seldom enough to name anybody.
func (f *field) evidence(n *survey.Nest, camera bool) {
	by := f.predator()
	if camera {
		n.Camera = by
	}
	if f.r.Float64() < 0.5 {
		n.EggsLeft = 0
		if f.r.Float64() < 0.1 {
			n.EggsLeft = 1 + f.r.IntN(2)
		}
	}
	if f.r.Float64() < 0.3 {
		return // nobody looked, or nobody wrote it down
	}
	n.Remains = signs(f.r, by)
}

func (f *field) predator() survey.Predator {
	x := f.r.Float64()
	mix := predatorMix()
	for _, p := range survey.Predators {
		if x -= mix[p]; x < 0 {
			return p
		}
	}
	return survey.Skunk // the shares' rounding
}

func signs(r *rand.Rand, by survey.Predator) survey.Remains { return survey.Remains{} }
