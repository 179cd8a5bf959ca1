package predator

import (
	"math/rand/v2"
	"slices"
)

// Looks returns the key to what nests look most like: of one feature, whose choices are pairs of animals, the one that a nest looks most like and
// the second. Written is how often each sign of the key is written down at a nest. An animal's row is how often its nests look like each pair, and
// counts as many nests as have the variance that it has over keys that could be the true one (a Dirichlet distribution by moments). Both are from
// draws, the same each time.
func (k *Key) Looks(written []float64) *Key {
	const nests, keys, each = 2000, 20, 100
	r := rand.New(rand.NewPCG(1, 1))
	looks := &Key{source: k.source, assumed: k.assumed, features: []feature{{name: "looks like"}}, counts: [][][]float64{{}}}
	for _, first := range names {
		for _, second := range names {
			looks.features[0].choices = append(looks.features[0].choices, choice{name: first + ", " + second})
		}
	}
	for animal := range names {
		row := k.looksBy(k, r, animal, written, nests)
		one, all := 0.0, 0.0 // the variances of a single nest's look, and of the row
		for range keys {
			for look, p := range k.Drawn(r).looksBy(k, r, animal, written, each) {
				all += ((p-row[look])*(p-row[look]) - row[look]*(1-row[look])/each) / keys
			}
		}
		for _, p := range row {
			one += p * (1 - p)
		}
		weight := max(1, one/max(all, 1e-9)-1)
		for look := range row {
			row[look] = weight*row[look] + 0.01 // no draw is proof
		}
		looks.counts[0] = append(looks.counts[0], row)
	}
	return looks
}

// Look is which animal signs look most like and which second, as a number; the same twice where they name it with all animals held equally likely.
func (k *Key) Look(s Signs) int {
	likelihood := k.Likelihood(s)
	top := slices.Max(likelihood)
	first := slices.Index(likelihood, top)
	if top >= Sure*sum(likelihood) {
		return len(names)*first + first
	}
	likelihood[first] = -1
	return len(names)*first + slices.Index(likelihood, slices.Max(likelihood))
}

// Leaves draws what an animal leaves by the key, each sign written down as often as it is.
func (k *Key) Leaves(r *rand.Rand, animal int, written []float64) Signs {
	signs := make(Signs, len(written))
	for i := range signs {
		signs[i] = -1
		x, choices := r.Float64(), len(k.features[i].choices)
		if r.Float64() >= written[i] {
			continue
		}
		for signs[i] = 0; signs[i]+1 < choices && x >= k.Chance(i, animal, signs[i]); signs[i]++ {
			x -= k.Chance(i, animal, signs[i])
		}
	}
	return signs
}

// looksBy is how often nests of an animal, which leaves what it leaves by this key, look most like each by another.
func (k *Key) looksBy(by *Key, r *rand.Rand, animal int, written []float64, nests int) []float64 {
	shares := make([]float64, len(names)*len(names))
	for range nests {
		shares[by.Look(k.Leaves(r, animal, written))] += 1 / float64(nests)
	}
	return shares
}
