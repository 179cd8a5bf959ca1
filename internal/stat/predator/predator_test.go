package predator_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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

// Nests settled by cameras are certain: the shares are the counts.
func TestCamerasAlone(t *testing.T) {
	var nests []predator.Nest
	for i, animal := range []int{0, 0, 0, 1, 1, 3, 0, 8} {
		nests = append(nests, predator.Nest{Transect: i / 2, Likelihood: predator.Certain(animal)})
	}
	for k, s := range predator.Mix(nests, predator.Bootstrap{}) {
		want := map[int]float64{0: 0.5, 1: 0.25, 3: 0.125, 8: 0.125}[k]
		near(t, predator.Predators()[k], s.Estimate, want, 1e-9)
		if !(0 <= s.Low && s.Low <= s.Estimate && s.Estimate <= s.High && s.High <= 1) {
			t.Errorf("%s: got %+v", predator.Predators()[k], s)
		}
		if s.Estimate == 0 && s.High < 0.2 {
			t.Errorf("%s: eight nests cannot rule out more than %v", predator.Predators()[k], s.High)
		}
	}
}

// Remains that hardly tell one animal from another must leave a range that says so, however alike the nests are: with a
// likelihood ratio of 2 a nest, five nests cannot put one of two animals below a share of one half at 95 %. The
// likelihood ratio of shares 1 and c is (2/(1+c))⁵, which is e^1.92 at c = 2·e^(−1.92/5) − 1.
func TestVagueRemains(t *testing.T) {
	s := predator.Mix(repeat(5, 0, 2, 1), predator.Bootstrap{})
	near(t, "share", s[0].Estimate, 1, 1e-6)
	want := 2*math.Exp(-1.920729/5) - 1
	near(t, "low", s[0].Low, want, 0.01)
	near(t, "high", s[0].High, 1, 1e-9)
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

// The ranges are the same for the same seed, whatever the order of the nests.
func TestSeed(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	k := predator.NewKey()
	var nests []predator.Nest
	for i := range 15 {
		nests = append(nests, predator.Nest{Transect: i / 4, Likelihood: k.Likelihood(drawSigns(rng, k, i%3))})
	}
	want := predator.Mix(nests, predator.Bootstrap{Seed: 7})
	rng.Shuffle(len(nests), func(i, j int) { nests[i], nests[j] = nests[j], nests[i] })
	for i, got := range predator.Mix(nests, predator.Bootstrap{Seed: 7}) {
		near(t, "estimate", got.Estimate, want[i].Estimate, 1e-9)
		near(t, "low", got.Low, want[i].Low, 1e-9)
		near(t, "high", got.High, want[i].High, 1e-9)
	}
}

// Two sets drawn from one mix differ in about one test of twenty at 5 %; two sets with other animals differ surely.
func TestDiffer(t *testing.T) {
	set := func(rng *rand.Rand, shares []float64) []predator.Nest {
		var nests []predator.Nest
		for i := range 24 {
			nests = append(nests, predator.Nest{Transect: i / 3, Likelihood: predator.Certain(draw(rng, shares))})
		}
		return nests
	}
	one := []float64{.4, .4, .2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0}
	two := []float64{0, 0, .1, .5, .4, 0, 0, 0, 0, 0, 0, 0, 0}
	rng := rand.New(rand.NewPCG(3, 1))
	small := 0
	for i := range 100 {
		if _, p := predator.Differ(set(rng, one), set(rng, one), predator.Bootstrap{Replicates: 99, Seed: uint64(i)}); p <= 0.05 {
			small++
		}
	}
	if small > 14 { // 5 expected; 14 or more has probability 0.0005
		t.Errorf("%d of 100 equal mixes differ at 5 %%", small)
	}
	if _, p := predator.Differ(set(rng, one), set(rng, two), predator.Bootstrap{Replicates: 199}); p > 0.01 {
		t.Errorf("other animals: p = %v", p)
	}
	if lr, p := predator.Differ(nil, set(rng, one), predator.Bootstrap{}); lr != 0 || p != 1 {
		t.Errorf("without nests: got %v, %v", lr, p)
	}
}

func TestStandardised(t *testing.T) {
	got := predator.Standardised([]float64{0.5, 0.5}, [][]float64{{1, 0}, {0.2, 0.8}})
	near(t, "first", got[0], 0.6, 1e-12)
	near(t, "second", got[1], 0.4, 1e-12)
}

func BenchmarkMix(b *testing.B) {
	rng := rand.New(rand.NewPCG(4, 1))
	k := predator.NewKey()
	var nests []predator.Nest
	for i := range 12 {
		nests = append(nests, predator.Nest{Transect: i / 3, Likelihood: k.Likelihood(drawSigns(rng, k, i%4))})
	}
	for b.Loop() {
		predator.Mix(nests, predator.Bootstrap{})
	}
}

func Example() {
	k := predator.NewKey()
	signs, _ := k.Read(func(feature string) string {
		return map[string]string{"bits": "near_whole", "opened_at": "end", "bits_far_ft": "in_bowl"}[feature]
	})
	equal := predator.Prior(make([]float64, len(predator.Predators())), 0)
	post := predator.Posterior(equal, k.Likelihood(signs))
	animal, sure := predator.Name(post)
	fmt.Printf("most likely %s, sure enough to name it: %v\n", predator.Predators()[animal], sure)
	// Output: most likely skunk, sure enough to name it: false
}
