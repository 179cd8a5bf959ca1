package bulletin_test

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// This attacker does not ask for exact values but for the narrowest interval that can be proved: by linear programming
// with the simplex method of gonum, a general library, over everything that was ever published: all cells of all seasons
// and of both editions of one, also those that were taken back since, for they have been seen. It knows the roster, the
// places, every denominator and the grids; and its coalition's own results.
//
// attack_lp_rates_test.go, attack_lp_cover_test.go and attack_lp_predator_test.go write down what is published of each kind of
// secret and what the attacker asks of it; attack_lp_proof_test.go puts them into one system for a target and a coalition, and
// attack_lp_found_test.go sets it on random cooperatives.

// A system is what the attacker knows of the unknowns, each at least 0 and at most its size. The true values are there to
// tell how near a proof comes, and whether it is one.
type system struct {
	size, truth []float64
	rows        []row
	wrong       int // rows that the truth does not satisfy
}

// A row bounds a sum of unknowns.
type row struct {
	coef      map[int]float64
	low, high float64
}

func (s *system) unknown(size, truth float64) int {
	s.size, s.truth = append(s.size, size), append(s.truth, truth)
	return len(s.size) - 1
}

// bound adds a row, unless it says no more than the sizes do.
func (s *system) bound(coef map[int]float64, low, high float64) {
	least, most, truth := 0.0, 0.0, 0.0
	for i, x := range coef {
		if x == 0 {
			delete(coef, i)
			continue
		}
		least, most, truth = least+math.Min(0, x*s.size[i]), most+math.Max(0, x*s.size[i]), truth+x*s.truth[i]
	}
	if truth < low-1e-6 || truth > high+1e-6 {
		s.wrong++
	}
	if low <= least+1e-12 {
		low = math.Inf(-1)
	}
	if high >= most-1e-12 {
		high = math.Inf(1)
	}
	if math.IsInf(low, -1) && math.IsInf(high, 1) {
		return
	}
	s.rows = append(s.rows, row{coef, low, high})
}

// most proves the most that a sum of unknowns can be, infinite where nothing bounds it. What is solved is the dual: the
// cheapest sum of bounds, each taken so many times, that is at least the sum asked for, whatever the unknowns are. That is the
// proof itself; and there are far fewer unknowns than bounds. Of the system it takes what hangs together with the sum: nothing
// else has a part in the proof.
func (s *system) most(sum map[int]float64) (float64, error) {
	rows, at := s.connected(sum)
	var cost []float64
	var columns []map[int]float64
	add := func(bound float64, coef map[int]float64, sign float64) {
		if math.IsInf(bound, 0) {
			return
		}
		column := map[int]float64{}
		for i, x := range coef {
			column[at[i]] = sign * x
		}
		cost, columns = append(cost, sign*bound), append(columns, column)
	}
	basis := make([]int, len(at)) // to begin with: the size of what is asked for, and nothing of the rest
	boxed := true
	for i := range s.size {
		j, in := at[i]
		if !in {
			continue
		}
		if basis[j] = -1; sum[i] > 0 {
			basis[j] = len(columns)
			boxed = boxed && !math.IsInf(s.size[i], 1)
		}
		add(s.size[i], map[int]float64{i: 1}, 1)
	}
	for _, r := range rows {
		add(r.high, r.coef, 1)
		add(r.low, r.coef, -1)
	}
	n, m := len(at), len(columns)
	a, b, c := mat.NewDense(n, m+n, nil), make([]float64, n), make([]float64, m+n)
	copy(c, cost)
	for j, column := range columns {
		for i, x := range column {
			a.Set(i, j, x)
		}
	}
	for i, j := range at {
		a.Set(j, m+j, -1)
		b[j] = sum[i] - 1e-10*float64(1+j) // so that no two steps are alike
		if basis[j] < 0 {
			basis[j] = m + j
		}
	}
	if !boxed {
		basis = nil
	}
	f, _, err := lp.Simplex(c, a, b, 1e-10, basis)
	if errors.Is(err, lp.ErrInfeasible) {
		return math.Inf(1), nil
	}
	return f, err
}

// least proves the least.
func (s *system) least(sum map[int]float64) (float64, error) {
	negative := map[int]float64{}
	for i, x := range sum {
		negative[i] = -x
	}
	most, err := s.most(negative)
	return -most, err
}

// connected returns the rows that a sum depends on, and a column for each of their unknowns.
func (s *system) connected(sum map[int]float64) (rows []row, at map[int]int) {
	at = map[int]int{}
	for i := range s.size { // in order, so that a proof comes out the same every time
		if _, ok := sum[i]; ok {
			at[i] = len(at)
		}
	}
	taken := make([]bool, len(s.rows))
	for grown := true; grown; {
		grown = false
		for r := range s.rows {
			if taken[r] {
				continue
			}
			for i := range s.rows[r].coef {
				_, touches := at[i]
				taken[r] = taken[r] || touches
			}
			if !taken[r] {
				continue
			}
			grown = true
			rows = append(rows, s.rows[r])
			for i := range s.size {
				if _, in := s.rows[r].coef[i]; in {
					if _, ok := at[i]; !ok {
						at[i] = len(at)
					}
				}
			}
		}
	}
	return rows, at
}

// TestLinearSystem: the feasible range of a case from the Handbook on Statistical Disclosure Control (chapter 4, example 3):
// rows a+b = 7 and c+d = 3, columns a+c = 9-3 and so on give a between 3 and 6.
func TestLinearSystem(t *testing.T) {
	s := &system{}
	a, b, c, d := s.unknown(math.Inf(1), 4), s.unknown(math.Inf(1), 3), s.unknown(math.Inf(1), 2), s.unknown(math.Inf(1), 1)
	for _, r := range []struct {
		i, j  int
		total float64
	}{{a, b, 7}, {c, d, 3}, {a, c, 6}, {b, d, 4}} {
		s.bound(map[int]float64{r.i: 1, r.j: 1}, r.total, r.total)
	}
	s.bound(map[int]float64{s.unknown(1, 1): 1}, 1, 1) // of something else
	least, err := s.least(map[int]float64{a: 1})
	if err != nil {
		t.Fatal(err)
	}
	most, err := s.most(map[int]float64{a: 1})
	if err != nil || math.Abs(least-3) > 1e-6 || math.Abs(most-6) > 1e-6 || s.wrong > 0 {
		t.Errorf("a is between %v and %v (%v), want 3 and 6", least, most, err)
	}
}
