package plan

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"tussock/internal/stat/interval"
)

// A Model is what is known, or taken, of how nests lie apart, on log(−log S): survival about P, the error of what is published of the
// others, and the standard deviations between ranches, between the pastures of one, and between lines.
type Model struct {
	P                            float64
	Others, Ranch, Pasture, Line float64
}

// LineSpread is the standard deviation between lines that makes a design effect at so many nests a line, with survival p.
func LineSpread(p, effect, perLine float64) float64 {
	return math.Sqrt(math.Max(0, effect-1) * nestError(p) / perLine)
}

// nestError is the variance of log(−log p) of one nest.
func nestError(p float64) float64 {
	h := -math.Log(p)
	return (1 - p) / (p * h * h)
}

// A Pasture is a part of a ranch: its share of the ground and the nests on each of its lines.
type Pasture struct {
	Share float64
	Lines []int
}

// Width is how wide the 95 % range of a ranch's hierarchical figure will be with nests set like this, as a fraction of one: the figure is
// the mean of its pastures by ground, each with luck of its own, and what no nest tells comes from the others. Linear normal theory: the
// conditional variance given all lines (as in package shrink, with the spreads taken for true).
func (m Model) Width(pastures []Pasture) float64 {
	n := len(pastures)
	prior := mat.NewSymDense(n, nil)
	info := mat.NewSymDense(n, nil)
	share := mat.NewVecDense(n, nil)
	for i, p := range pastures {
		share.SetVec(i, p.Share)
		for j := i; j < n; j++ {
			v := m.Ranch*m.Ranch + m.Others*m.Others
			if i == j {
				v += m.Pasture*m.Pasture + 1e-9
			}
			prior.SetSym(i, j, v)
		}
		told := 0.0
		for _, nests := range p.Lines {
			told += 1 / (m.Line*m.Line + nestError(m.P)/float64(nests))
		}
		info.SetSym(i, i, told)
	}
	var chol mat.Cholesky
	chol.Factorize(prior)
	var precision mat.SymDense
	_ = chol.InverseTo(&precision)
	precision.AddSym(&precision, info)
	var post mat.Cholesky
	post.Factorize(&precision)
	x := mat.NewVecDense(n, nil)
	_ = post.SolveVecTo(x, share)
	return width(m.P, math.Sqrt(mat.Dot(share, x)))
}

func width(p, se float64) float64 {
	x, reach := math.Log(-math.Log(p)), interval.Quantile((1+interval.Level)/2, 0)*se
	return math.Exp(-math.Exp(x-reach)) - math.Exp(-math.Exp(x+reach))
}

// Whole is how wide the 95 % range of a cooperative's figure will be, each owner's lines with so many nests given: each owner
// weighs as its nests do, as in the bulletin.
func (m Model) Whole(owners [][]int) float64 {
	var all, v float64
	for _, lines := range owners {
		for _, nests := range lines {
			all += float64(nests)
		}
	}
	for _, lines := range owners {
		own := 0.0
		for _, nests := range lines {
			k := float64(nests) / all
			own += k
			v += k * k * (m.Line*m.Line + nestError(m.P)/float64(nests))
		}
		v += own * own * m.Ranch * m.Ranch
	}
	return width(m.P, math.Sqrt(v))
}
