package mixed

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"
)

// ending is where a search ended and what was learnt there.
type ending struct {
	keep   []int
	period bool
	phi    []float64 // all parameters of the layout
	active []int
	// correction is what the second derivatives of the likelihood are beyond the information, by active parameter: the
	// curvature of the determinant, and what the data lack of what the standard deviations were expected to tell.
	correction *mat.SymDense

	hessian *mat.SymDense // the second derivatives, by active parameter
	search  *search
	once    sync.Once
	parts   []share // by ranch, for Less
}

// correction returns the second derivatives h at the search's point less the information there.
func (s *search) correction(h *mat.SymDense) *mat.SymDense {
	c := s.informed()
	for i := range c.SymmetricDim() {
		for j := i; j < c.SymmetricDim(); j++ {
			c.SetSym(i, j, h.At(i, j)-c.At(i, j))
		}
	}
	return c
}

// informed is the information at the search's point, by active parameter.
func (s *search) informed() *mat.SymDense {
	s.at(s.phi, s.grad)
	info := s.e.information(nil)
	m := mat.NewSymDense(len(s.active), nil)
	for i, a := range s.active {
		for j := i; j < len(s.active); j++ {
			m.SetSym(i, j, info.At(a, s.active[j]))
		}
	}
	return m
}

// Near fits m, which is f's model without some of its ranches, starting where f ended. It is for leaving out one owner
// after the other: the coefficients and standard deviations are the maximum of m's own likelihood, found in a few
// steps; for the standard errors the second derivatives are not taken anew, which is most of the work of [Model.Run].
// They are m's own information where it ended, plus what f's second derivatives were beyond its information, in
// proportion to the ranches left. Ranch effects are not computed.
//
// Where the two do not have the same effects to estimate, or a standard deviation comes or goes, m is fitted with Run.
// The tests hold Near to Run over cooperatives from ten ranches on.
func (m *Model) Near(f *Fit) *Fit {
	if f.end == nil || f.end.correction == nil || !f.Converged || m.columns() != len(f.Coef) {
		return m.Run()
	}
	keep, period := independent(m)
	reduced := *m
	reduced.Period = period
	l := newLayout(&reduced, keep)
	near := &Fit{Coef: make([]float64, len(f.Coef)), Known: make([]bool, len(f.Coef)),
		Cov: mat.NewSymDense(len(f.Coef)+sds, nil), Ranches: make([]RanchMode, m.Ranches), Cells: len(l.rowKind)}
	same := slices.Equal(keep, f.end.keep) && l.period == f.end.period && !l.oneSided()
	if !same || !near.from(m, l, keep, f) {
		return m.Run()
	}
	return near
}

// oneSided says whether all intervals came to the same end.
func (l *layout) oneSided() bool {
	n, lost := 0.0, 0.0
	for i := range l.rowN {
		n, lost = n+l.rowN[i], lost+l.rowLost[i]
	}
	return lost == 0 || lost == n
}

// from searches from where f ended, and returns false where that will not do.
func (f *Fit) from(m *Model, l *layout, keep []int, whole *Fit) bool {
	q := l.fixed()
	possible := m.random(l, f)
	for _, j := range whole.end.active[q:] {
		if !slices.Contains(possible, j-q) {
			return false
		}
	}
	s := newSearch(newEvaluation(l), slices.Clone(whole.end.phi), slices.Clone(whole.end.active))
	if !s.run() || s.e.stuck {
		return false
	}
	for _, j := range s.active[q:] {
		if math.Abs(s.phi[j]) <= smallestSD {
			return false
		}
	}
	for _, j := range possible {
		if !slices.Contains(s.active, q+j) && s.wants(q+j) {
			return false
		}
	}
	hessian := s.curvature(whole.end.correction, float64(f.RanchesSeen)/float64(max(whole.RanchesSeen, 1)))
	cov := mat.NewSymDense(len(s.active), nil)
	var chol mat.Cholesky
	if !chol.Factorize(hessian) || chol.InverseTo(cov) != nil {
		return false
	}
	f.LogLik, f.Converged, f.Lookups = -s.value, true, s.attempts
	f.fill(l, keep, s, cov)
	return true
}

// manyRows is where the second derivatives are worth saving: with fewer rows they cost little, and with few ranches the
// information says least.
const manyRows = 2048

// curvature is the second derivatives at the search's point, or with many rows what stands for them.
func (s *search) curvature(correction *mat.SymDense, share float64) *mat.SymDense {
	if len(s.e.l.rowKind) < manyRows {
		return s.hessian()
	}
	h := s.informed()
	for i := range h.SymmetricDim() {
		for j := i; j < h.SymmetricDim(); j++ {
			h.SetSym(i, j, h.At(i, j)+share*correction.At(i, j))
		}
	}
	return h
}

// wants says whether the likelihood grows as the standard deviation j leaves zero.
func (s *search) wants(j int) bool {
	phi := slices.Clone(s.phi)
	for _, sd := range []float64{smallestSD, 3 * smallestSD} {
		phi[j] = sd
		if s.at(phi, s.grad) < s.value {
			return true
		}
	}
	return false
}
