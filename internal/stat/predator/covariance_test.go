package predator_test

import (
	"testing"

	"tussock/internal/stat/predator"
)

// TestCovariance: where all nests are certain it is the multinomial's, p(1−p)/N and −pq/N. Of nests of which each sign fits two
// animals unevenly, the values are by hand: with likelihoods (a, 1−a) and (1−a, a) the share is an odds ratio undone, so its
// variance is the multinomial's of the signs over (2a−1)².
func TestCovariance(t *testing.T) {
	certain := append(append(repeat(50, 0, 1, 0, 0), repeat(30, 100, 0, 1, 0)...), repeat(20, 200, 0, 0, 1)...)
	got := predator.Covariance(certain, predator.Estimate(certain))
	p := []float64{0.5, 0.3, 0.2}
	for k := range p {
		for q := range p {
			want := -p[k] * p[q] / 100
			if k == q {
				want = p[k] * (1 - p[k]) / 100
			}
			near(t, "certain", got[k][q], want, 1e-9)
		}
	}
	vague := append(repeat(60, 0, 0.8, 0.2), repeat(40, 100, 0.2, 0.8)...)
	got = predator.Covariance(vague, predator.Estimate(vague))
	near(t, "vague", got[0][0], 0.6*0.4/100/(0.6*0.6), 1e-6)
	if got := predator.Covariance(repeat(20, 0, 0.5, 0.5), []float64{0.5, 0.5}); got != nil {
		t.Errorf("nests that tell nothing apart: got %v, want none", got)
	}
}

// TestNear: from a start that is near it comes to the same shares, a share of 0 in the start among them.
func TestNear(t *testing.T) {
	nests := append(append(repeat(50, 0, 0.8, 0.1, 0.1), repeat(30, 100, 0.1, 0.8, 0.1)...), repeat(20, 200, 0.1, 0.2, 0.7)...)
	want := predator.Estimate(nests)
	for k, got := range predator.Near(nests, []float64{0.7, 0.3, 0}) {
		near(t, "share", got, want[k], 1e-4)
	}
}
