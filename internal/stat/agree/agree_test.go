package agree_test

import (
	"math"
	"testing"

	"tussock/internal/stat/agree"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.8g, want %.8g", what, got, want)
	}
}

// TestKappa: the skin conditions of 88 patients as two dermatologists saw them, in SAS/STAT 13.1 User's Guide, The FREQ
// Procedure, "Agreement Study", table 40.2 and figure 40.5: kappa 0.3449, its ASE 0.0724, 95 % limits 0.2030 and 0.4868
// (the four results from memory; the table looked up).
func TestKappa(t *testing.T) {
	k := agree.Of([][]int{{10, 4, 1, 0}, {5, 10, 12, 2}, {2, 4, 12, 5}, {0, 2, 6, 13}})
	near(t, "kappa", k.Kappa, 0.3449, 5e-5)
	near(t, "standard error", k.SE, 0.0724, 5e-5)
	low, high := k.Interval(0.95)
	near(t, "low", low, 0.2030, 5e-5)
	near(t, "high", high, 0.4868, 5e-5)
	if k.N != 88 || !k.Known {
		t.Errorf("got %+v", k)
	}
}

// TestKappaFleiss: 100 patients, by two psychiatrists (Fleiss 1981, Statistical Methods for Rates and Proportions, p. 213).
// By hand: p₀ = 0.89, pₑ = 0.8·0.8 + 0.05·0.1 + 0.15·0.1 = 0.66, κ = 0.23/0.34.
func TestKappaFleiss(t *testing.T) {
	k := agree.Of([][]int{{75, 1, 4}, {5, 4, 1}, {0, 0, 10}})
	near(t, "observed", k.Observed, 0.89, 1e-12)
	near(t, "expected", k.Expected, 0.66, 1e-12)
	near(t, "kappa", k.Kappa, 0.23/0.34, 1e-12)
}

func TestKappaEdges(t *testing.T) {
	for name, table := range map[string][][]int{"nothing": {}, "empty": {{0, 0}, {0, 0}}, "one answer only": {{7, 0}, {0, 0}}} {
		if k := agree.Of(table); k.Known || math.IsNaN(k.Kappa) {
			t.Errorf("%s: got %+v", name, k)
		}
	}
	k := agree.Of([][]int{{5, 0}, {0, 5}})
	near(t, "always", k.Kappa, 1, 1e-12)
	near(t, "always, standard error", k.SE, 0, 1e-7)
	near(t, "never", agree.Of([][]int{{0, 5}, {5, 0}}).Kappa, -1, 1e-12)
	near(t, "by chance", agree.Of([][]int{{4, 4}, {4, 4}}).Kappa, 0, 1e-12)
}

// TestCounts: the ten cities of boot::city in R (population 1920 and 1930 in thousands; Davison and Hinkley 1997): ratio
// 973/640 = 1.5203125; linearised standard error, with n − 1, by R 4.2.2 0.1899933733.
func TestCounts(t *testing.T) {
	u := []int{138, 93, 61, 179, 48, 37, 29, 23, 30, 2}
	x := []int{143, 104, 69, 260, 75, 63, 50, 48, 111, 50}
	var pairs []agree.Pair
	for i := range u {
		pairs = append(pairs, agree.Pair{First: u[i], Second: x[i]})
	}
	r := agree.Counts(pairs)
	near(t, "ratio", r.Ratio, 1.5203125, 1e-12)
	near(t, "standard error", r.SE, 0.1899933733, 1e-9)
	if low, high, ok := r.Interval(0.95); !ok || !(low < r.Ratio && r.Ratio < high) {
		t.Errorf("interval %g to %g", low, high)
	}
	if r := agree.Counts([]agree.Pair{{30, 33}}); !r.Known || r.Ratio != 1.1 {
		t.Errorf("one pair: got %+v", r)
	} else if _, _, ok := r.Interval(0.95); ok {
		t.Error("one pair has an interval")
	}
	for _, none := range [][]agree.Pair{nil, {{0, 4}}, {{4, 0}}} {
		if r := agree.Counts(none); r.Known {
			t.Errorf("%v: got %+v", none, r)
		}
	}
}
