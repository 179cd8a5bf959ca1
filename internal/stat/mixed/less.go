package mixed

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// share is what one ranch adds to minus the log likelihood where the search ended, with its first and second derivatives
// by active parameter.
type share struct {
	seen      bool
	transects int
	value     float64
	grad      []float64
	info      *mat.SymDense
}

// shares takes the likelihood apart by ranch. The first derivatives are exact, the second are the information.
func (s *search) shares() []share {
	e, l := s.e, s.e.l
	parts := make([]share, l.ranches())
	s.at(s.phi, s.grad)
	q := l.fixed()
	e.each(func(c *chunk) {
		clear(c.slope)
		clear(c.curvature)
		full := make([]float64, q+sds)
		for r := c.from; r < c.to; r++ {
			from, to := l.transectRow[l.ranchTransect[r]], l.transectRow[l.ranchTransect[r+1]]
			if from == to {
				continue
			}
			clear(full)
			c.value, c.sdGrad = 0, [sds]float64{}
			c.info.Zero()
			e.ranch(c, r)
			e.ranchInformation(c, r, nil)
			for _, k := range l.rowKind[from:to] { // each kind once: then it is zero
				for j, x := range l.design[k] {
					full[j] += x * c.slope[k]
				}
				rankOne(c.info, c.curvature[k], l.design[k])
				c.slope[k], c.curvature[k] = 0, 0
			}
			copy(full[q:], c.sdGrad[:])
			p := share{seen: true, value: c.value, grad: make([]float64, len(s.active)), info: mat.NewSymDense(len(s.active), nil)}
			for g := l.ranchTransect[r]; g < l.ranchTransect[r+1]; g++ {
				if l.transectRow[g+1] > l.transectRow[g] {
					p.transects++
				}
			}
			for i, a := range s.active {
				p.grad[i] = full[a]
				for j := i; j < len(s.active); j++ {
					p.info.SetSym(i, j, c.info.At(a, s.active[j]))
				}
			}
			parts[r] = p
		}
	})
	return parts
}

// farthest is the decrement of a Newton step up to which the step is taken for the way: its square root is the length in
// standard errors, over all parameters together.
const farthest = 1.0

// Less is the fit without some ranches by one Newton step from f, nothing being evaluated anew: the influence of those
// ranches (Cook and Weisberg 1982, Residuals and Influence in Regression, §3.4, there for one case at a time). It is
// meant for screening: with a hundred ranches or more, each left out has moved coefficients to within 0.01 of their standard errors of
// where [Model.Run] has them, and standard errors to within 5 %, which the tests check. It returns nil where one step
// is not enough; [Model.Near] is then.
func (f *Fit) Less(ranches []int) *Fit {
	end := f.end
	if end == nil || end.search == nil || !f.Converged {
		return nil
	}
	end.once.Do(func() { end.parts = end.search.shares() })
	less := &Fit{Coef: make([]float64, len(f.Coef)), Known: make([]bool, len(f.Coef)), Cov: mat.NewSymDense(f.Cov.SymmetricDim(), nil),
		Ranches: make([]RanchMode, len(f.Ranches)), Converged: true, Cells: f.Cells, Lookups: f.Lookups,
		RanchesSeen: f.RanchesSeen, TransectsSeen: f.TransectsSeen, LogLik: f.LogLik}
	n := len(end.active)
	h, g := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	h.CopySym(end.hessian)
	for _, r := range ranches {
		p := end.parts[r]
		if !p.seen {
			continue
		}
		less.RanchesSeen--
		less.TransectsSeen -= p.transects
		less.LogLik += p.value
		for i := range n {
			g.SetVec(i, g.AtVec(i)+p.grad[i])
			for j := i; j < n; j++ {
				h.SetSym(i, j, h.At(i, j)-p.info.At(i, j)-end.correction.At(i, j)/float64(f.RanchesSeen))
			}
		}
	}
	cov := mat.NewSymDense(n, nil)
	var chol mat.Cholesky
	if !chol.Factorize(h) || chol.InverseTo(cov) != nil {
		return nil
	}
	step := mat.NewVecDense(n, nil)
	step.MulVec(cov, g)
	decrement := mat.Dot(step, g)
	if !(decrement < farthest) {
		return nil
	}
	less.LogLik += decrement / 2
	to := &search{e: end.search.e, phi: slices.Clone(end.search.phi), active: end.active}
	for i, a := range end.active {
		to.phi[a] += step.AtVec(i)
	}
	for _, j := range end.active {
		if j >= end.search.e.l.fixed() && math.Abs(to.phi[j]) <= smallestSD {
			return nil
		}
	}
	less.fill(end.search.e.l, end.keep, to, cov)
	return less
}
