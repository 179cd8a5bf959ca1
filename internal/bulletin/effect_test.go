package bulletin_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"

	"tussock/internal/bulletin"
	"tussock/internal/survey"
)

// TestDesignEffectTells: the two coarse numbers that ranges are made with, the design effect and the spread between landowners, rest on how results
// lie apart, so they are no total that one could subtract from. What they tell somebody who knows nothing else of how one owner's nests did (how far
// from the mean, to either side, and in which direction) is, by correlation over simulated seasons of like cooperatives, far below the mean of 0.15
// bits that a season's figures may tell together. The design effect is never below 1, and on steps of a quarter.
func TestDesignEffectTells(t *testing.T) {
	runs := map[int]int{8: 150, 12: 60}
	if *long {
		runs = map[int]int{8: 1000, 12: 1000, 34: 400}
	}
	for owners, n := range runs {
		c := usual(owners)
		c.bare, c.cover = true, 0
		var effects, spreads, off, far []float64
		for run := range n {
			r := rand.New(rand.NewPCG(uint64(run), 98))
			in, _ := c.draw(r).season(r, 2025, nil)
			in.Data.Belts = nil // the curve takes most of the time, and has no part in this
			b := compose(t, in)
			cell, ok := find(b, bulletin.DesignEffect, "", "", "")
			if !ok || !cell.Published {
				continue
			}
			if x := *cell.Estimate; x < 1 || math.Mod(x, 0.25) != 0 {
				t.Fatalf("a design effect of %v", x)
			}
			share := func(ranch string) float64 {
				lasted, of := 0.0, 0.0
				for _, nest := range in.Data.Nests {
					if ranch == "" || nest.Ranch == ranch {
						if of++; nest.Fate() == survey.Intact {
							lasted++
						}
					}
				}
				return lasted / of
			}
			d := share("ranch 000") - share("")
			effects, off, far = append(effects, *cell.Estimate), append(off, d), append(far, d*d)
			if s, ok := find(b, bulletin.OwnerSpread, "", "", ""); ok && s.Published {
				spreads = append(spreads, *s.Estimate)
			}
		}
		bits := func(x []float64) float64 {
			if len(x) != len(off) || stat.Variance(x, nil) == 0 {
				return 0
			}
			a, b := stat.Correlation(x, off, nil), stat.Correlation(x, far, nil)
			return -math.Log2(1-a*a)/2 - math.Log2(1-b*b)/2
		}
		chance := 2 / float64(len(effects)) / math.Ln2 / 2 // what as many seasons of pure chance give on the average
		t.Logf("%d owners, %d seasons: the design effect tells %.3f bits, the spread %.3f; chance alone %.3f", owners, len(effects), bits(effects), bits(spreads), chance)
		if limit := 0.15 + 3*chance; bits(effects) > limit || bits(spreads) > limit {
			t.Errorf("%d owners: %.3f and %.3f bits", owners, bits(effects), bits(spreads))
		}
	}
}

// TestMixEffectTells holds the same of the number by which ranges of animals are widened from ten landowners on: it is not published, but the ranges are as wide as it says. What
// it tells of how far one owner's mix lies from the others'.
func TestMixEffectTells(t *testing.T) {
	runs := 150
	if *long {
		runs = 1000
	}
	for _, owners := range []int{10, 20} {
		for _, alike := range []float64{0, 8} {
			c := usual(owners)
			c.mixes, c.belts = alike, 1
			var effects, far []float64
			for run := range runs {
				r := rand.New(rand.NewPCG(uint64(run), 97))
				in, _ := c.draw(r).season(r, 2025, nil)
				effect, squares := bulletin.MixEffect(in)
				if effect < 1 || effect != 1.2 && math.Mod(effect, 0.5) != 0 {
					t.Fatalf("an effect of %v", effect)
				}
				effects, far = append(effects, effect), append(far, squares[0])
			}
			bits := 0.0
			if stat.Variance(effects, nil) > 0 {
				r := stat.Correlation(effects, far, nil)
				bits = -math.Log2(1-r*r) / 2
			}
			chance := 1 / float64(runs) / math.Ln2 / 2
			t.Logf("%d owners, mixes alike %v: the effect tells %.3f bits; chance alone %.3f", owners, alike, bits, chance)
			if bits > 0.15+3*chance {
				t.Errorf("%d owners, mixes alike %v: %.3f bits", owners, alike, bits)
			}
		}
	}
}
