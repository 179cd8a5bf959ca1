package predator_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/stat/predator"
)

// TestScoreLeavesOut: with one case the key has learned from nothing, and with several each is scored by the key taught by
// the others alone.
func TestScoreLeavesOut(t *testing.T) {
	k := predator.NewKey()
	cases := drawn(k, 7, 6)
	one := k.Score(cases[:1])
	if one.Tuned != one.Untuned {
		t.Errorf("one case: tuned %v, want the untuned %v", one.Tuned, one.Untuned)
	}

	kinds := len(predator.Predators())
	even := make([]float64, kinds)
	for i := range even {
		even[i] = 1 / float64(kinds)
	}
	var want float64
	for i, c := range cases {
		var others []predator.Case
		for j, o := range cases {
			if j != i {
				others = append(others, o)
			}
		}
		want += math.Log(predator.Posterior(even, k.Learn(others).Likelihood(c.Signs))[c.Animal]) / float64(len(cases))
	}
	got := k.Score(cases)
	if math.Abs(got.Tuned-want) > 1e-12 {
		t.Errorf("tuned: got %v, want %v", got.Tuned, want)
	}
	if math.Abs(got.Flat+math.Log(float64(kinds))) > 1e-15 {
		t.Errorf("flat: got %v, want −log %d", got.Flat, kinds)
	}
}

// TestScoreOfLearning: where the animals of a place leave other signs than common practice says, a key taught by cameras
// tells them better than one that is not. Where they leave just those, any key is better than none, and teaching costs
// what its own noise costs: less and less with more cameras.
func TestScoreOfLearning(t *testing.T) {
	k := predator.NewKey()
	few, many := k.Score(drawn(k, 11, 300)), k.Score(drawn(k, 11, 6000))
	for _, s := range []predator.Score{few, many} {
		if s.Untuned <= s.Flat || s.Tuned <= s.Flat {
			t.Errorf("usual signs: tuned %.3f, untuned %.3f, flat %.3f", s.Tuned, s.Untuned, s.Flat)
		}
	}
	if lost, before := many.Untuned-many.Tuned, few.Untuned-few.Tuned; lost > 0.05 || lost > before/4 {
		t.Errorf("usual signs: teaching costs %.3f with 6000 cameras, %.3f with 300", lost, before)
	}

	// The same animals, each leaving what the next one in the list commonly leaves.
	shifted := drawn(k, 12, 300)
	for i := range shifted {
		shifted[i].Animal = (shifted[i].Animal + 1) % len(predator.Predators())
	}
	if s := k.Score(shifted); s.Tuned <= s.Untuned+0.1 {
		t.Errorf("other signs: tuned %.3f, untuned %.3f: want the taught key ahead", s.Tuned, s.Untuned)
	}
}

// drawn are cases with animals equally likely and signs by the key's own table.
func drawn(k *predator.Key, seed uint64, n int) []predator.Case {
	rng := rand.New(rand.NewPCG(seed, 1))
	cases := make([]predator.Case, n)
	for i := range cases {
		c := predator.Case{Animal: rng.IntN(len(predator.Predators())), Signs: make(predator.Signs, len(k.Features()))}
		for f := range c.Signs {
			u := rng.Float64()
			for choice, name := range k.Choices(f) {
				c.Signs[f] = choice
				if u -= k.Probability(f, c.Animal, name); u < 0 {
					break
				}
			}
		}
		cases[i] = c
	}
	return cases
}
