package predator_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tussock/internal/stat/predator"
)

var long = flag.Bool("long", false, "run the simulations with 2,000 places each")

// usual is a cooperative's mix, in the order of predator.Predators.
var usual = []float64{.22, .24, .06, .20, .06, .03, .07, .02, .01, .04, .01, .03, .01}

// TestCoverage: places whose mixes lie about the cooperative's by the weight of the belief, whose animals leave remains by a key drawn from
// what is known of the key, and of whose nests one in three on a transect fell to the transect's own animal. The 95 % ranges
// of the animals with a twentieth or more of the cooperative's losses must hold the place's true share, with every number of
// nests; and they must not where the key is held to be certain.
func TestCoverage(t *testing.T) {
	for _, tt := range []struct {
		nests, lines int
		weight       float64
		certain      bool // the key is held to be certain
		low, high    float64
	}{
		{9, 3, 8, false, .93, .97},
		{40, 10, 8, false, .93, .97},
		{150, 38, 8, false, .93, .97},
		{150, 38, 30, false, .93, .97},
		{200, 50, 8, false, .93, .97},
		{150, 38, 8, true, 0, .87},
	} {
		t.Run(fmt.Sprintf("%d nests, weight %g, key certain: %v", tt.nests, tt.weight, tt.certain), func(t *testing.T) {
			places, low, high := 40, tt.low-0.04, tt.high+0.03 // so few places are that far off by chance
			if *long {
				places, low, high = 2000, tt.low, tt.high
			}
			rng := rand.New(rand.NewPCG(uint64(tt.nests), 5))
			belief := predator.Belief{Shares: usual, Weight: tt.weight}
			key := predator.NewKey()
			held, of, width := 0.0, 0.0, 0.0
			for place := range places {
				truth, leaves := dirichlet(rng, belief), key.Drawn(rng)
				var seen []predator.Sighting
				for i := range tt.nests {
					line := i % tt.lines
					seen = append(seen, predator.Sighting{Transect: line, Animal: -1})
				}
				own := make([]int, tt.lines)
				for i := range own {
					own[i] = draw(rng, truth)
				}
				for i := range seen {
					animal := own[seen[i].Transect]
					if rng.Float64() > 1./3 {
						animal = draw(rng, truth)
					}
					seen[i].Signs = drawSigns(rng, leaves, animal)
					if rng.Float64() < 0.05 {
						seen[i].Animal = animal
					}
				}
				read := key
				if tt.certain {
					read = key.Certain()
				}
				m := read.Mix(seen, belief, predator.Chain{Seed: uint64(place)})
				for k, share := range usual {
					if share < 0.05 {
						continue
					}
					s := m.Animal(k)
					of++
					width += s.High - s.Low
					if s.Low <= truth[k] && truth[k] <= s.High {
						held++
					}
				}
			}
			t.Logf("%.3f of %d places' ranges hold, %.2f wide", held/of, places, width/of)
			if got := held / of; got < low || got > high {
				t.Errorf("%.3f of the ranges hold, want %.2f to %.2f", got, low, high)
			}
		})
	}
}

func dirichlet(rng *rand.Rand, b predator.Belief) []float64 {
	shares, all := make([]float64, len(b.Shares)), 0.0
	for k, share := range b.Shares {
		shares[k] = distuv.Gamma{Alpha: b.Weight * share, Beta: 1, Src: rng}.Rand()
		all += shares[k]
	}
	for k := range shares {
		shares[k] /= all
	}
	return shares
}
