package predator_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/stat/predator"
)

// even holds two animals equally likely and none else.
func even(weight float64, animals ...int) predator.Belief {
	b := predator.Belief{Shares: make([]float64, len(predator.Predators())), Weight: weight}
	for i := range b.Shares {
		b.Shares[i] = 1e-9
	}
	for _, a := range animals {
		b.Shares[a] = 1 / float64(len(animals))
	}
	return b
}

// TestAnotherKey: with another key the mix is another, worked by hand. Two animals, raccoon and skunk, equally likely beforehand; one nest, shells in halves.
// P(halves | animal) is the mean of the row, and P(raccoon | halves) = r/(r+s) by Bayes. The belief in the shares counts as one nest, and the nest moves it: the
// share's mean is (1·½ + P)/(1 + 1).
//
//	common practice: r = 4/(¼+1+4+1) = 0.64, s = 2/(1+1+2+4) = 0.25: P = 0.719101
//	leanings 1 and 9: r = 1/4, s = 9/12: P = 0.25
//	counts of 10 nests, 1 and 9 halves, with ¼ more on each of four answers: r = 1.25/11, s = 9.25/11: P = 0.119048
//	counts of 1000, 100 and 900 halves: r = 100.25/1001, s = 900.25/1001: P = 0.100200
//	counts of the skunk alone, 9 of 10 halves: r = ¼ (nothing known), s = 9.25/11: P = 0.229167
func TestAnotherKey(t *testing.T) {
	counts := func(n int, raccoon, skunk int) predator.Table {
		table := predator.Table{Source: "two animals, one sign", Counts: []predator.Count{{"bits", "halves", "skunk", skunk}, {"bits", "crumbs", "skunk", n - skunk}}}
		if raccoon > 0 {
			table.Counts = append(table.Counts, predator.Count{"bits", "halves", "raccoon", raccoon}, predator.Count{"bits", "near_whole", "raccoon", n - raccoon})
		}
		return table
	}
	for _, tt := range []struct {
		name    string
		table   predator.Table
		raccoon float64
		assumed bool
	}{
		{"common practice", predator.Table{}, 0.719101, true},
		{"leanings", predator.Table{Source: "x", Leanings: []predator.Leaning{{"bits", "halves", "raccoon", 1}, {"bits", "halves", "skunk", 9}}}, 0.25, true},
		{"ten nests each", counts(10, 1, 9), 0.119048, false},
		{"a thousand nests each", counts(1000, 100, 900), 0.100200, false},
		{"one animal counted", counts(10, 0, 9), 0.229167, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			k := tt.table.Key()
			if k.Source() != tt.table.Source || k.Assumed() != tt.assumed {
				t.Errorf("source %q, assumed %v", k.Source(), k.Assumed())
			}
			signs, found := k.Read(func(sign string) string { return map[string]string{"bits": "halves"}[sign] })
			if !found {
				t.Fatal("halves tell nothing")
			}
			belief := even(1, 0, 1)
			near(t, "one nest", predator.Posterior(belief.Shares, k.Likelihood(signs))[0], tt.raccoon, 1e-5)
			m := k.Mix([]predator.Sighting{{Animal: -1, Signs: signs}}, belief, predator.Chain{Draws: 4000})
			near(t, "share", m.Animal(0).Estimate, (0.5+tt.raccoon)/2, 0.02)
		})
	}
}

// TestCountsAreAsSureAsTheirNumber: each row of a counted table is as uncertain as a Dirichlet distribution of its counts: the variance of P(answer) is
// p(1−p)/(n+1), with n one more than the nests (Johnson, Kotz & Balakrishnan 2000, Continuous Multivariate Distributions, ch. 49, cited from memory).
func TestCountsAreAsSureAsTheirNumber(t *testing.T) {
	for _, nests := range []int{4, 40, 400} {
		k := predator.Table{Counts: []predator.Count{{"bits", "halves", "raccoon", nests / 2}, {"bits", "crumbs", "raccoon", nests / 2}}}.Key()
		r := rand.New(rand.NewPCG(1, 7))
		const draws = 8000
		var sum, squares float64
		for range draws {
			p := k.Drawn(r).Probability(0, 0, "halves")
			sum, squares = sum+p, squares+p*p
		}
		n := float64(nests) + 1
		p := (float64(nests)/2 + 0.25) / n
		mean := sum / draws
		near(t, fmt.Sprintf("mean of %d", nests), mean, p, 0.01)
		want := math.Sqrt(p * (1 - p) / (n + 1))
		near(t, fmt.Sprintf("standard deviation of %d", nests), math.Sqrt(squares/draws-mean*mean), want, want/20)
	}
}

// TestZeroTable: a table that says nothing is that of common practice, and one out of bounds says nothing of what is.
func TestZeroTable(t *testing.T) {
	common := predator.Common().Key()
	for name, table := range map[string]predator.Table{"zero": {}, "out of bounds": {Leanings: []predator.Leaning{{"bits", "halves", "fox", 1}, {"bits", "halves", "raccoon", 1e300}, {"bits", "halves", "skunk", math.NaN()}}},
		"unknown": {Counts: []predator.Count{{"bits", "halves", "wolf", 9}, {"bits", "halves", "fox", predator.MostNests + 1}}}} {
		k := table.Key()
		for i := range k.Features() {
			for animal := range predator.Predators() {
				for choice := range k.Choices(i) {
					want := 1 / float64(len(k.Choices(i)))
					if name == "zero" {
						want = common.Chance(i, animal, choice)
					}
					near(t, name, k.Chance(i, animal, choice), want, 1e-12)
				}
			}
		}
	}
}
