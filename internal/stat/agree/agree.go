// Package agree tells how far two people agree who looked at the same thing on their own: Cohen's kappa for what they saw,
// the ratio of their counts for what they counted.
//
// Kappa is agreement beyond what chance would bring, κ = (p₀ − pₑ) / (1 − pₑ) (Cohen 1960, Educational and Psychological
// Measurement 20:37-46), with the large-sample standard error of Fleiss, Cohen and Everitt (1969, Psychological Bulletin
// 72:323-327). It is 1 where they agree always, 0 where no more than by chance, and says little where nearly all answers
// are the same one.
package agree

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Kappa is the agreement of two people over N things.
type Kappa struct {
	N                  int
	Observed, Expected float64 // shares of things they agree on, and would by chance
	Known              bool    // false where there is nothing, or where chance alone would make them agree always
	Kappa, SE          float64
}

// Of returns the kappa of a square table: of how many things the first said the row and the second the column.
func Of(table [][]int) Kappa {
	k := Kappa{}
	rows, columns := make([]float64, len(table)), make([]float64, len(table))
	for i, row := range table {
		if len(row) != len(table) {
			panic("agree: the table is not square")
		}
		for j, n := range row {
			if n < 0 {
				panic("agree: a negative count")
			}
			k.N += n
			rows[i] += float64(n)
			columns[j] += float64(n)
		}
	}
	if k.N == 0 {
		return k
	}
	n := float64(k.N)
	for i := range table {
		rows[i] /= n
		columns[i] /= n
	}
	for i := range table {
		k.Observed += float64(table[i][i]) / n
		k.Expected += rows[i] * columns[i]
	}
	if k.Expected > 1-1e-12 {
		return k
	}
	k.Known = true
	k.Kappa = (k.Observed - k.Expected) / (1 - k.Expected)
	// Fleiss, Cohen and Everitt, eq. 13.
	var a, b float64
	for i := range table {
		for j := range table {
			p := float64(table[i][j]) / n
			if i == j {
				d := 1 - (rows[i]+columns[i])*(1-k.Kappa)
				a += p * d * d
			} else {
				d := columns[i] + rows[j]
				b += p * d * d
			}
		}
	}
	c := k.Kappa - k.Expected*(1-k.Kappa)
	k.SE = math.Sqrt(math.Max(0, a+(1-k.Kappa)*(1-k.Kappa)*b-c*c)/n) / (1 - k.Expected)
	return k
}

// Interval returns the interval of kappa at level, such as 0.95, within what kappa can be. It is rough below some twenty
// things, and no interval at all where they agreed on everything: SE is then 0.
func (k Kappa) Interval(level float64) (low, high float64) {
	z := distuv.UnitNormal.Quantile(1 - (1-level)/2)
	return math.Max(-1, k.Kappa-z*k.SE), math.Min(1, k.Kappa+z*k.SE)
}

// A Pair is one thing counted by two people.
type Pair struct{ First, Second int }

// Ratio is the second person's counts to the first's.
type Ratio struct {
	Pairs     int
	Known     bool // false where one of them counted nothing at all
	Ratio, SE float64
}

// Counts returns the ratio of totals, R = Σs/Σf, with the linearised standard error √(Σ(sᵢ − R·fᵢ)² / (m(m−1))) / f̄
// over m pairs (Cochran 1977, Sampling Techniques, eq. 6.13 without the finite correction); 0 for a single pair.
func Counts(pairs []Pair) Ratio {
	r := Ratio{Pairs: len(pairs)}
	var f, s float64
	for _, p := range pairs {
		if p.First < 0 || p.Second < 0 {
			panic("agree: a negative count")
		}
		f, s = f+float64(p.First), s+float64(p.Second)
	}
	if f == 0 || s == 0 {
		return r
	}
	r.Known, r.Ratio = true, s/f
	m := float64(len(pairs))
	if m < 2 {
		return r
	}
	var sum float64
	for _, p := range pairs {
		d := float64(p.Second) - r.Ratio*float64(p.First)
		sum += d * d
	}
	r.SE = math.Sqrt(sum/(m*(m-1))) / (f / m)
	return r
}

// Interval returns the interval of the ratio at level, by Student's t with one degree of freedom fewer than pairs, on the
// logarithm. With a single pair, which has no spread, ok is false.
func (r Ratio) Interval(level float64) (low, high float64, ok bool) {
	if !r.Known || r.Pairs < 2 {
		return 0, 0, false
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(r.Pairs - 1)}.Quantile(1 - (1-level)/2)
	w := math.Exp(t * r.SE / r.Ratio)
	return r.Ratio / w, r.Ratio * w, true
}
