package predator_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"tussock/internal/stat/predator"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.12g, want %.12g ± %g", what, got, want, tolerance)
	}
}

// repeat returns n nests with the same likelihood, each on a transect of its own from first.
func repeat(n, first int, likelihood ...float64) []predator.Nest {
	nests := make([]predator.Nest, n)
	for i := range nests {
		nests[i] = predator.Nest{Transect: first + i, Likelihood: likelihood}
	}
	return nests
}

// Rogan & Gladen 1978 (American Journal of Epidemiology 107:71–76), inputs as in the help of R's epiR: 23 of 150 positive with
// sensitivity 0.96 and specificity 0.89 means a true share of 0.05098039216; 60 of 120 with 0.8 and 0.9 means
// 0.5714285714; and 4 of 150 with 0.9 and 0.9 lies below 0, so the share is 0.
func TestRoganGladen(t *testing.T) {
	tests := []struct {
		x, n         int
		sens, spec   float64
		want, within float64
	}{
		{23, 150, 0.96, 0.89, 0.05098039216, 1e-7},
		{60, 120, 0.8, 0.9, 0.5714285714, 1e-7},
		{4, 150, 0.9, 0.9, 0, 1e-6},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprintf("%d of %d", tt.x, tt.n), func(t *testing.T) {
			nests := slices.Concat(
				repeat(tt.x, 0, tt.sens, 1-tt.spec),
				repeat(tt.n-tt.x, tt.x, 1-tt.sens, tt.spec))
			near(t, "share", predator.Estimate(nests)[0], tt.want, tt.within)
		})
	}
}

// A known confusion matrix, three kinds and three signs; 46, 38 and 16 nests show them. Where the maximum is inside, EM
// equals the inverse of the matrix (solve() in R 4.2.2); with 62, 33 and 5 it lies on the edge. Both by R 4.2.2.
func TestConfusionMatrix(t *testing.T) {
	matrix := [3][3]float64{{.70, .20, .10}, {.15, .75, .10}, {.25, .25, .50}}
	tests := []struct {
		name   string
		seen   [3]int
		want   []float64
		within float64
	}{
		{"inside", [3]int{46, 38, 16}, []float64{0.5363636364, 0.3136363636, 0.15}, 1e-7},
		{"on the edge", [3]int{62, 33, 5}, []float64{0.795215311, 0.204784689, 0}, 1e-6},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var nests []predator.Nest
			for sign, n := range tt.seen {
				nests = append(nests, repeat(n, len(nests), matrix[0][sign], matrix[1][sign], matrix[2][sign])...)
			}
			for k, got := range predator.Estimate(nests) {
				near(t, fmt.Sprintf("kind %d", k), got, tt.want[k], tt.within)
			}
		})
	}
	// The same shares as prior for one nest with the first sign: 0.816205534, 0.102272727, 0.081521739.
	post := predator.Posterior([]float64{0.5363636364, 0.3136363636, 0.15}, []float64{.70, .15, .25})
	for k, want := range []float64{0.816205534, 0.102272727, 0.081521739} {
		near(t, fmt.Sprintf("posterior %d", k), post[k], want, 1e-8)
	}
}

// Nests settled by cameras are certain, each on a transect of its own: the draws are those of the Dirichlet distribution w·b + n,
// whose marginals are beta. The ends of the ranges are qbeta(c(.025, .975), a, 21−a) in R 4.2.2.
func TestCamerasAlone(t *testing.T) {
	var seen []predator.Sighting
	for i, animal := range []int{0, 0, 0, 1, 1, 3, 0, 8} {
		seen = append(seen, predator.Sighting{Transect: i, Animal: animal})
	}
	m := predator.NewKey().Mix(seen, predator.Even(13), predator.Chain{Draws: 20000})
	for animal, want := range map[int]predator.Share{0: {5. / 21, .08657, .43661}, 1: {3. / 21, .03207, .31698}, 3: {2. / 21, .01235, .24873}, 5: {1. / 21, .00127, .16843}} {
		got := m.Animal(animal)
		near(t, predator.Predators()[animal]+" estimate", got.Estimate, want.Estimate, 0.002)
		near(t, predator.Predators()[animal]+" low", got.Low, want.Low, 0.004)
		near(t, predator.Predators()[animal]+" high", got.High, want.High, 0.01)
	}
}

// Without nests, and with nests that say nothing, the answer is the belief.
func TestBeliefAlone(t *testing.T) {
	belief := predator.Belief{Shares: usual, Weight: 20}
	k := predator.NewKey()
	for _, seen := range [][]predator.Sighting{nil, make([]predator.Sighting, 9)} {
		for i := range seen {
			seen[i] = predator.Sighting{Transect: i / 3, Animal: -1}
		}
		m := k.Mix(seen, belief, predator.Chain{Draws: 4000})
		for animal, want := range usual {
			s := m.Animal(animal)
			near(t, predator.Predators()[animal], s.Estimate, want, 0.01)
			if want > 0.1 && s.High-s.Low < 0.2 {
				t.Errorf("%s: nests that tell nothing leave %.2f to %.2f", predator.Predators()[animal], s.Low, s.High)
			}
		}
	}
}

// Each row of the key is a set of probabilities over the answers, and moves toward the share seen by cameras with the weight of
// five nests for common practice.
func TestLearn(t *testing.T) {
	k := predator.NewKey()
	crumbs, _ := k.Read(func(f string) string { return map[string]string{"bits": "crumbs"}[f] })
	sum := make([]float64, len(predator.Predators()))
	for _, c := range k.Choices(0) {
		for animal := range sum {
			sum[animal] += k.Probability(0, animal, c)
		}
	}
	for animal, s := range sum {
		near(t, predator.Predators()[animal], s, 1, 1e-12)
	}

	before := k.Probability(0, 0, "crumbs")
	var cases []predator.Case
	for range 5 {
		cases = append(cases, predator.Case{Animal: 0, Signs: crumbs})
	}
	near(t, "after five", k.Learn(cases).Probability(0, 0, "crumbs"), (before+1)/2, 1e-12)
	near(t, "the first key unchanged", k.Probability(0, 0, "crumbs"), before, 0)
}

// No remains at all tells nothing, whether nothing was written down or somebody looked and found none.
func TestNoRemains(t *testing.T) {
	k := predator.NewKey()
	for _, answers := range []map[string]string{
		{},
		{"bits": "none", "bits_far_ft": "none", "heaps": "none", "holes": "none"},
		{"bits": "none", "ground": "calm", "bowl": "neat"},
		{"bits": "a word nobody knows"},
	} {
		s, found := k.Read(func(f string) string { return answers[f] })
		if found {
			t.Errorf("%v: found", answers)
		}
		prior := []float64{.3, .1, .1, .1, .1, .05, .05, .05, .05, .04, .03, .02, .01}
		for i, p := range predator.Posterior(prior, k.Likelihood(s)) {
			near(t, "posterior", p, prior[i], 1e-12)
		}
	}
	// "None" beside a sign is skipped; calm ground beside a sign counts.
	with, found := k.Read(func(f string) string { return map[string]string{"bits": "halves", "holes": "none"}[f] })
	only, _ := k.Read(func(f string) string { return map[string]string{"bits": "halves"}[f] })
	if !found || !slices.Equal(with, only) {
		t.Errorf("got %v and %v", with, only)
	}
}

// The leanings of the key are those of common practice (no source): which animal each sign points to first when all
// are equally likely beforehand.
func TestLeanings(t *testing.T) {
	tests := []struct {
		signs map[string]string
		want  string
	}{
		{map[string]string{"bits": "halves", "bits_far_ft": "under_3", "bowl": "pulled"}, "raccoon"},
		{map[string]string{"bits": "near_whole", "bits_far_ft": "in_bowl", "opened_at": "end"}, "skunk"},
		{map[string]string{"bits": "crumbs", "bits_far_ft": "in_bowl", "opened_at": "crushed_flat"}, "coyote"},
		{map[string]string{"bits": "near_whole", "bits_far_ft": "in_bowl", "bite_way": "across"}, "bobcat"},
		{map[string]string{"holes": "pecked", "inside": "pooled", "bits_far_ft": "in_bowl"}, "bird"},
		{map[string]string{"ground": "rooted", "bowl": "gone"}, "feral hog"},
		{map[string]string{"bits": "bits", "inside": "smear", "heaps": "several"}, "opossum"},
		{map[string]string{"ground": "buried_egg", "bowl": "thrown"}, "badger"},
	}
	k := predator.NewKey()
	flat := make([]float64, len(predator.Predators()))
	for i := range flat {
		flat[i] = 1 / float64(len(flat))
	}
	for _, tt := range tests {
		t.Run(tt.want, func(t *testing.T) {
			s, _ := k.Read(func(f string) string { return tt.signs[f] })
			post := predator.Posterior(flat, k.Likelihood(s))
			best := 0
			for i, p := range post {
				if p > post[best] {
					best = i
				}
			}
			if got := predator.Predators()[best]; got != tt.want {
				t.Errorf("got %s (%.2f), want %s", got, post[best], tt.want)
			}
		})
	}
}

// One sign alone never names an animal where all are equally likely beforehand.
func TestOneSignIsNotEnough(t *testing.T) {
	k := predator.NewKey()
	flat := make([]float64, len(predator.Predators()))
	for i := range flat {
		flat[i] = 1 / float64(len(flat))
	}
	for i, f := range k.Features() {
		for _, c := range k.Choices(i) {
			s, found := k.Read(func(name string) string { return map[string]string{f: c}[name] })
			if !found {
				continue
			}
			if animal, ok := predator.Name(predator.Posterior(flat, k.Likelihood(s))); ok {
				t.Errorf("%s %s alone names the %s", f, c, predator.Predators()[animal])
			}
		}
	}
}

// Calibration: nests drawn from the key itself with known shares. Of the nests that get an animal a probability of about p, the
// part p must be that animal's; and EM must find the shares.
func TestCalibration(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	k := predator.NewKey()
	shares := []float64{.25, .2, .05, .2, .05, .02, .05, .03, .05, .05, .01, .03, .01}
	var expected, seen, count [10]float64
	var nests []predator.Nest
	const n = 5000
	for range n {
		truth := draw(rng, shares)
		s := drawSigns(rng, k, truth)
		l := k.Likelihood(s)
		nests = append(nests, predator.Nest{Likelihood: l})
		for animal, p := range predator.Posterior(shares, l) {
			bin := min(9, int(p*10))
			expected[bin] += p
			count[bin]++
			if animal == truth {
				seen[bin]++
			}
		}
	}
	for bin := range count {
		if count[bin] < 200 {
			continue
		}
		p := expected[bin] / count[bin]
		near(t, fmt.Sprintf("probability about %.2f", p), seen[bin]/count[bin], p, 4*math.Sqrt(p*(1-p)/count[bin]))
	}
	for i, got := range predator.Estimate(nests) {
		near(t, "share of "+predator.Predators()[i], got, shares[i], 0.05)
	}
}

func drawSigns(rng *rand.Rand, k *predator.Key, animal int) predator.Signs {
	answers := map[string]string{}
	for i, f := range k.Features() {
		if rng.Float64() < 0.2 {
			continue // not written down
		}
		choices := k.Choices(i)
		p := make([]float64, len(choices))
		for c := range choices {
			p[c] = k.Probability(i, animal, choices[c])
		}
		answers[f] = choices[draw(rng, p)]
	}
	s, _ := k.Read(func(f string) string { return answers[f] })
	return s
}

func draw(rng *rand.Rand, p []float64) int {
	u := rng.Float64()
	for i, x := range p {
		if u -= x; u < 0 {
			return i
		}
	}
	return len(p) - 1
}

// TestExact: the shares after three nests on two lines are those of all that could have happened, each weighed by its probability: what each
// line's animal is, which nests fell to it, and to which the others; the probabilities one after another, each given those before (Blackwell &
// MacQueen 1973, Ann. Stat. 1:353-355, cited from memory).
func TestExact(t *testing.T) {
	k, belief := predator.NewKey(), predator.Belief{Shares: usual, Weight: 8}
	signs := func(answers map[string]string) predator.Signs {
		s, _ := k.Read(func(f string) string { return answers[f] })
		return s
	}
	seen := []predator.Sighting{
		{Transect: 0, Animal: -1, Signs: signs(map[string]string{"bits": "halves", "bowl": "pulled"})},
		{Transect: 0, Animal: -1, Signs: signs(map[string]string{"bits": "halves", "ground": "cone_pits"})},
		{Transect: 1, Animal: 1},
	}
	shares, all := make([]float64, len(usual)), 0.0
	fell := make([]int, 0, len(seen))
	// shown is P(signs of the next nest | it fell to an animal, and to which the nests before it fell).
	shown := func(animal int) float64 {
		n := seen[len(fell)]
		if n.Animal >= 0 {
			if n.Animal == animal {
				return 1
			}
			return 0
		}
		p := 1.0
		for f, choice := range n.Signs {
			if choice < 0 {
				continue
			}
			same, of := 0.0, 0.0
			for i, at := range fell {
				if before := seen[i]; at == animal && before.Animal < 0 && before.Signs[f] >= 0 {
					of++
					if before.Signs[f] == choice {
						same++
					}
				}
			}
			p *= (5*k.Chance(f, animal, choice) + same) / (5 + of) // five pseudo-counts a row
		}
		return p
	}
	var drawn [13]float64 // how often the mix gave each animal
	times, followed := 0.0, 0.0
	from := func(animal int) float64 { return (8*usual[animal] + drawn[animal]) / (8 + times) }
	var happen func(lines []int, p float64)
	happen = func(lines []int, p float64) {
		if len(lines) < 2 {
			for animal := range usual {
				q := p * from(animal)
				drawn[animal]++
				times++
				happen(append(lines[:len(lines):len(lines)], animal), q)
				drawn[animal]--
				times--
			}
			return
		}
		if len(fell) == len(seen) {
			for animal := range shares {
				shares[animal] += p * from(animal)
			}
			all += p
			return
		}
		n, follow := float64(len(fell)), lines[seen[len(fell)].Transect]
		if q := p * (1 + followed) / (3 + n) * shown(follow); q > 0 {
			fell = append(fell, follow)
			followed++
			happen(lines, q)
			followed--
			fell = fell[:len(fell)-1]
		}
		for animal := range usual {
			q := p * (2 + n - followed) / (3 + n) * from(animal) * shown(animal)
			if q == 0 {
				continue
			}
			fell = append(fell, animal)
			drawn[animal]++
			times++
			happen(lines, q)
			drawn[animal]--
			times--
			fell = fell[:len(fell)-1]
		}
	}
	happen(nil, 1)
	m := k.Mix(seen, belief, predator.Chain{Draws: 20000})
	for animal, share := range shares {
		near(t, predator.Predators()[animal], m.Shares[animal], share/all, 0.003)
	}
}

// TestReadings: of many nests, whatever the draws began with, the shares are the same to within five in a hundred, and ten where two readings are nearly as likely: there who took a fifth of
// the nests is skunk or coyote. They are not where the draws stay in one of the readings.
func TestReadings(t *testing.T) {
	for _, tt := range []struct {
		set, stream uint64
		together    float64 // part of the nests that fell to their line's animal
		cameras     float64 // part of the nests with one
		most        float64
	}{{1, 9, 0, 0, 0.05}, {5, 19, 0.33, 0.05, 0.10}} {
		rng := rand.New(rand.NewPCG(tt.set, tt.stream))
		belief := predator.Belief{Shares: usual, Weight: 8}
		truth, leaves := dirichlet(rng, belief), predator.NewKey().Drawn(rng)
		var seen []predator.Sighting
		own := 0
		for i := range 200 {
			if tt.together > 0 && i%4 == 0 {
				own = draw(rng, truth)
			}
			animal := own
			if tt.together == 0 || rng.Float64() > tt.together {
				animal = draw(rng, truth)
			}
			s := predator.Sighting{Transect: i / 4, Animal: -1, Signs: drawSigns(rng, leaves, animal)}
			if tt.cameras > 0 && rng.Float64() < tt.cameras {
				s.Animal = animal
			}
			seen = append(seen, s)
		}
		low, high := make([]float64, len(usual)), make([]float64, len(usual))
		for seed := range 6 {
			for animal, share := range predator.NewKey().Mix(seen, belief, predator.Chain{Seed: uint64(seed)}).Shares {
				if seed == 0 {
					low[animal] = share
				}
				low[animal], high[animal] = min(low[animal], share), max(high[animal], share)
			}
		}
		widest := 0.0
		for animal, name := range predator.Predators() {
			widest = max(widest, high[animal]-low[animal])
			if high[animal]-low[animal] > tt.most {
				t.Errorf("%s: from %.3f to %.3f by the seed", name, low[animal], high[animal])
			}
		}
		t.Logf("shares differ by %.3f at most", widest)
	}
}

// The ranges are the same for the same seed, whatever the order of the nests.
func TestSeed(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	k := predator.NewKey()
	var seen []predator.Sighting
	for i := range 15 {
		seen = append(seen, predator.Sighting{Transect: i / 4, Animal: -1, Signs: drawSigns(rng, k, i%3)})
	}
	want := k.Mix(seen, predator.Even(8), predator.Chain{Seed: 7})
	rng.Shuffle(len(seen), func(i, j int) { seen[i], seen[j] = seen[j], seen[i] })
	m := k.Mix(seen, predator.Even(8), predator.Chain{Seed: 7})
	for animal := range want.Shares {
		if got, want := m.Animal(animal), want.Animal(animal); got != want {
			t.Errorf("%s: got %v, want %v", predator.Predators()[animal], got, want)
		}
	}
}

func BenchmarkMix(b *testing.B) {
	for _, nests := range []int{12, 60, 300} {
		rng := rand.New(rand.NewPCG(4, 1))
		k := predator.NewKey()
		var seen []predator.Sighting
		for i := range nests {
			seen = append(seen, predator.Sighting{Transect: i / 4, Animal: -1, Signs: drawSigns(rng, k, i%4)})
		}
		b.Run(strconv.Itoa(nests), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				k.Mix(seen, predator.Even(8), predator.Chain{})
			}
		})
	}
}

func Example() {
	k := predator.NewKey()
	signs, _ := k.Read(func(feature string) string {
		return map[string]string{"bits": "near_whole", "opened_at": "end", "bits_far_ft": "in_bowl"}[feature]
	})
	equal := predator.Even(1).Shares
	post := predator.Posterior(equal, k.Likelihood(signs))
	animal, sure := predator.Name(post)
	fmt.Printf("most likely %s, sure enough to name it: %v\n", predator.Predators()[animal], sure)
	// Output: most likely skunk, sure enough to name it: false
}
