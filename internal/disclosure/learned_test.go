package disclosure_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"tussock/internal/disclosure"
)

// alike are n entities with the same part in the same figures.
func alike(n int, spread ...[]float64) (stakes []disclosure.Stake) {
	for i := range n {
		stakes = append(stakes, disclosure.Stake{Entity: fmt.Sprint(i), Spread: spread})
	}
	return stakes
}

// TestLearned: values by hand. One figure of n alike leaves 1 − 1/n of a part's variance, so it tells ½·log₂(n/(n−1)) bits; each
// who pools what they know takes one from n.
func TestLearned(t *testing.T) {
	half := func(x float64) float64 { return math.Log2(x) / 2 }
	nobody := disclosure.Policy{}
	three := disclosure.Policy{Watchers: 3}
	one := []float64{1}
	known := alike(10, one)
	known[0].Known = true
	rounded := append(alike(9, one), disclosure.Stake{Entity: "rounding", Spread: [][]float64{{1}}, Rounding: true})
	uneven := append(alike(4, one), disclosure.Stake{Entity: "large", Spread: [][]float64{{6}}})
	// Two figures of ten apart by the last, who is in the first alone: it is told whole. And one told twice tells nothing more.
	apart := alike(9, []float64{1, 1}, []float64{1, 1})
	apart = append(apart, disclosure.Stake{Entity: "9", Spread: [][]float64{{1, 0}, {0, 0}}})
	twice := alike(10, []float64{1, 2}, []float64{2, 4})
	for _, tt := range []struct {
		name       string
		policy     disclosure.Policy
		stakes     []disclosure.Stake
		most, mean float64
	}{
		{"ten", nobody, alike(10, one), half(10. / 9), half(10. / 9)},
		{"ten, three pool", three, alike(10, one), half(7. / 6), (half(10./9) + half(9./8) + half(8./7) + half(7./6)) / 4},
		{"ten, one of them public", nobody, known, half(9. / 8), half(9. / 8)},
		{"nine and a rounding as wide as one", nobody, rounded, half(10. / 9), half(10. / 9)},
		{"one of six tenths", nobody, uneven, half(10. / 4), (half(10./4) + 4*half(10./9)) / 5},
		{"the same told twice", nobody, twice, half(10. / 9), half(10. / 9)},
		{"nobody", nobody, nil, 0, 0},
		{"one alone", nobody, alike(1, one), math.Inf(1), math.Inf(1)},
		{"one apart from two figures", nobody, apart, math.Inf(1), math.Inf(1)},
		{"two, one pools", three, alike(2, one), math.Inf(1), math.Inf(1)},
	} {
		most, mean := tt.policy.Learned(tt.stakes)
		near := func(got, want float64) bool { return got == want || math.Abs(got-want) < 1e-6 }
		if !near(most, tt.most) || !near(mean, tt.mean) {
			t.Errorf("%s: got %v at most, %v in the mean, want %v, %v", tt.name, most, mean, tt.most, tt.mean)
		}
	}
}

// TestTells: the bounds are those of the policy, and none where it names none.
func TestTells(t *testing.T) {
	p := disclosure.Default()
	if got := p.Tells(alike(12, []float64{1})); got != "" {
		t.Errorf("twelve alike: got %q", got)
	}
	if got := p.Tells(alike(5, []float64{1})); got != disclosure.TooMuch {
		t.Errorf("five alike, of whom three pool: got %q, want %q", got, disclosure.TooMuch)
	}
	p.BitsMost = 0
	if got := p.Tells(alike(5, []float64{1})); got != "" {
		t.Errorf("without a bound: got %q", got)
	}
}

// TestLearnedFindsPublishedLeaks: leaks that others describe, each with the repair they prescribe where they give one. One row a
// total, one column a secret: 1 where the secret is part of the total. What is worked out exactly is told without bound.
func TestLearnedFindsPublishedLeaks(t *testing.T) {
	for _, tt := range []struct {
		name, source string
		totals       [][]float64
		target       int
		coalition    []int
		found        bool
	}{
		{"R7 boundaries", "Handbook, chapter 5.2: 52 in one version of an area, 50 in the other", [][]float64{{1, 1}, {1, 0}}, 1, nil, true},
		{"R8 recoding", "Handbook, chapter 5.2: 7 under 25 hours, 6 under 20", [][]float64{{1, 1}, {1, 0}}, 1, nil, true},
		{"R14 part and total", "CMS: 25 in all, one part 18, the other hidden", [][]float64{{1, 1}, {1, 0}}, 1, nil, true},
		{"R14 two parts hidden", "CMS: as prescribed", [][]float64{{1, 1}}, 1, nil, false},
		{"R23 one county of a district hidden", "USDA NASS, notice of 6 December 2018", [][]float64{{1, 1, 1}, {1, 0, 0}, {0, 1, 0}}, 2, nil, true},
		{"R23 two counties hidden", "USDA NASS: as prescribed", [][]float64{{1, 1, 1}, {1, 0, 0}}, 2, nil, false},
		{"R5 corners of a table", "Handbook, chapter 4, example 3: no value is exact", [][]float64{{1, 1, 0, 0}, {0, 0, 1, 1}, {1, 0, 1, 0}, {0, 1, 0, 1}}, 0, nil, false},
		{"two ranches, one subtracts itself", "by hand", [][]float64{{1, 1}}, 1, []int{0}, true},
		{"three ranches, two pool", "by hand", [][]float64{{1, 1, 1}}, 2, []int{0, 1}, true},
	} {
		var stakes []disclosure.Stake
		for j := range tt.totals[0] {
			s := disclosure.Stake{Entity: fmt.Sprint(j), Known: slices.Contains(tt.coalition, j), Rounding: j != tt.target}
			for _, total := range tt.totals {
				row := make([]float64, len(tt.totals))
				for k, other := range tt.totals {
					row[k] = total[j] * other[j]
				}
				s.Spread = append(s.Spread, row)
			}
			stakes = append(stakes, s)
		}
		if most, _ := (disclosure.Policy{}).Learned(stakes); math.IsInf(most, 1) != tt.found {
			t.Errorf("%s, %s: told %v bits, found %v", tt.name, tt.source, most, tt.found)
		}
	}
}
