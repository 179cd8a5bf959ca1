package mixed

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// search minimises an evaluation's value over some of its parameters, the others staying as they are.
type search struct {
	e      *evaluation
	phi    []float64 // all parameters, the best so far
	active []int     // the ones sought

	value    float64
	grad     []float64 // by active parameter
	full     []float64 // scratch: gradient in all parameters
	trial    []float64 // scratch: all parameters
	attempts int       // evaluations so far
}

func newSearch(e *evaluation, phi []float64, active []int) *search {
	s := &search{e: e, phi: phi, active: active,
		grad: make([]float64, len(active)), full: make([]float64, len(phi)), trial: make([]float64, len(phi))}
	s.value = s.at(phi, s.grad)
	return s
}

// at evaluates at the full vector phi.
func (s *search) at(phi, grad []float64) float64 {
	s.attempts++
	v := s.e.value(phi, s.full)
	for i, j := range s.active {
		grad[i] = s.full[j]
	}
	return v
}

const (
	maxIterations = 200
	tolerance     = 1e-9 // of the Newton decrement: what is left to gain is half of it
	maxFixedMove  = 3.0  // in one step, on the log hazard scale
	maxSDMove     = 0.7
)

// run searches until nothing is left to gain and reports whether it got there: first scoring steps with fresh
// information, which come near from anywhere, then BFGS (Nocedal and Wright 2006, Numerical Optimization, §6.1) from
// the last of them.
func (s *search) run() bool {
	n := len(s.active)
	if n == 0 {
		return true
	}
	inverse := mat.NewSymDense(n, nil)
	step, grad := make([]float64, n), make([]float64, n)
	change := mat.NewVecDense(n, nil)
	moved := mat.NewVecDense(n, nil)
	scoring := true
	for range maxIterations {
		if scoring {
			s.inverse(inverse)
		}
		decrement := 0.0
		for i := range n {
			step[i] = 0
			for j := range n {
				step[i] -= inverse.At(i, j) * s.grad[j]
			}
			decrement -= step[i] * s.grad[i]
		}
		if decrement < tolerance {
			return true
		}
		value, part := s.line(step, grad, decrement)
		if part == 0 {
			if !scoring { // once more with fresh information, before giving up
				scoring = true
				continue
			}
			return decrement < math.Sqrt(tolerance)
		}
		for i, j := range s.active {
			s.phi[j] += part * step[i]
			moved.SetVec(i, part*step[i])
			change.SetVec(i, grad[i]-s.grad[i])
			s.grad[i] = grad[i]
		}
		s.value = value
		scoring = scoring && decrement > 1
		if !scoring {
			bfgs(inverse, moved, change)
		}
	}
	return false
}

// line goes along step, halving until the value falls enough, and returns the value there and the part of the step
// taken: zero where none would do. It leaves the gradient in grad.
func (s *search) line(step, grad []float64, decrement float64) (value, part float64) {
	part = 1
	fixed := s.e.l.fixed()
	for i, j := range s.active {
		limit := maxFixedMove
		if j >= fixed {
			limit = maxSDMove
		}
		if m := math.Abs(step[i]); m > limit {
			part = min(part, limit/m)
		}
	}
	for range 40 {
		copy(s.trial, s.phi)
		for i, j := range s.active {
			s.trial[j] += part * step[i]
		}
		value = s.at(s.trial, grad)
		// The Armijo rule, with room for rounding in a sum of many terms.
		if value <= s.value-1e-4*part*decrement+1e-13*math.Abs(s.value) {
			return value, part
		}
		part /= 2
	}
	return s.value, 0
}

// inverse writes the inverse of the information in the active parameters at phi, adding to its diagonal where it
// is not positive.
func (s *search) inverse(to *mat.SymDense) {
	s.e.set(s.phi)
	info := s.e.information(nil)
	n := len(s.active)
	m := mat.NewSymDense(n, nil)
	for i, a := range s.active {
		for j := i; j < n; j++ {
			m.SetSym(i, j, info.At(a, s.active[j]))
		}
	}
	var chol mat.Cholesky
	for ridge := 0.0; ; ridge = max(10*ridge, 1e-6) {
		r := mat.NewSymDense(n, nil)
		r.CopySym(m)
		for i := range n {
			r.SetSym(i, i, m.At(i, i)+ridge*(1+math.Abs(m.At(i, i))))
		}
		if chol.Factorize(r) && chol.InverseTo(to) == nil {
			return
		}
		if ridge > 1e12 {
			break
		}
	}
	to.Zero()
	for i := range n {
		to.SetSym(i, i, 1)
	}
}

// bfgs updates the inverse Hessian h after a move s that changed the gradient by y. Without positive curvature along
// the move it stays.
func bfgs(h *mat.SymDense, s, y *mat.VecDense) {
	sy := mat.Dot(s, y)
	if sy <= 1e-12*mat.Norm(s, 2)*mat.Norm(y, 2) {
		return
	}
	var hy mat.VecDense
	hy.MulVec(h, y)
	h.RankTwo(h, -1/sy, s, &hy)
	h.SymRankOne(h, (1+mat.Dot(y, &hy)/sy)/sy, s)
}

// hessian returns the second derivatives at phi by central differences of the exact gradient, in steps of a hundredth
// of a standard error.
func (s *search) hessian() *mat.SymDense {
	n := len(s.active)
	scale := mat.NewSymDense(n, nil)
	s.inverse(scale)
	h := mat.NewDense(n, n, nil)
	up, down := make([]float64, n), make([]float64, n)
	phi := append([]float64(nil), s.phi...)
	for i, j := range s.active {
		d := 0.01 * math.Sqrt(scale.At(i, i))
		phi[j] = s.phi[j] + d
		s.at(phi, up)
		phi[j] = s.phi[j] - d
		s.at(phi, down)
		phi[j] = s.phi[j]
		for k := range n {
			h.Set(i, k, (up[k]-down[k])/(2*d))
		}
	}
	sym := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			sym.SetSym(i, k, (h.At(i, k)+h.At(k, i))/2)
		}
	}
	return sym
}
