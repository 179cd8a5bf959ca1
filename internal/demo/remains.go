package demo

import (
	"math/rand/v2"
	"slices"

	"tussock/internal/stat/predator"
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
	switch x := f.r.Float64(); {
	case x < 0.15: // nobody wrote anything down
	case x < 0.45: // looked, and found nothing
		n.Remains = &survey.Remains{Bits: "none", BitsFar: "none", Heaps: "none", Ground: "calm"}
	default:
		n.Remains = signs(f.r, f.key, by)
	}
	if f.r.Float64() < 0.12 {
		n.Guess = pick(f.r, "coyote?", "skunk", "coon", "badger or fox", "no idea")
	}
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

// signs draws each sign from the key's own table of what the animal tends to leave; one in five is not written down.
// Rooted ground never is: there are no hogs in this country, and an owner who reads of rooting thinks of them.
func signs(r *rand.Rand, key *predator.Key, by survey.Predator) *survey.Remains {
	var seen survey.Remains
	animal := slices.Index(predator.Predators(), string(by))
	for i, name := range key.Features() {
		x, blank := r.Float64(), r.Float64() < 0.2
		for c, choice := range key.Choices(i) {
			if x -= key.Chance(i, animal, c); x >= 0 {
				continue
			}
			if !blank && choice != "rooted" {
				*answer(&seen, name) = choice
			}
			break
		}
	}
	return &seen
}

func answer(seen *survey.Remains, feature string) *string {
	i := slices.IndexFunc(survey.Features, func(f survey.Feature) bool { return f.Name == feature })
	return survey.Features[i].Value(seen)
}
