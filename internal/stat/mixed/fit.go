package mixed

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Fit is a fitted [Model].
type Fit struct {
	// Coef has an effect for each column of the model's Rows and, with Period, γ behind them. Where Known is false
	// the column says nothing that the ones before it do not (Coef is 0 then), or its effect is without bound.
	Coef  []float64
	Known []bool

	TransectSD, RanchSD, SlopeSD float64

	// Cov is the covariance matrix of Coef followed by the three standard deviations. Rows of what is not known or
	// was not estimated are zero.
	Cov *mat.SymDense

	LogLik    float64 // Laplace, without binomial constants
	Converged bool
	Notes     []string // for the reader, a sentence each

	Ranches []RanchMode // by ranch

	RanchesSeen, TransectsSeen int // with intervals

	Cells   int // collapsed rows
	Lookups int // evaluations of the likelihood

	end *ending // for Near; nil where there was nothing to fit
}

// RanchMode is what the model says of one ranch: the modes of its effects given the data, on the scale of the linear
// predictor, with their conditional standard deviations.
type RanchMode struct {
	Effect, SE           float64
	SlopeEffect, SlopeSE float64

	// Gradient says how Effect moves with the parameters, in the order of Cov: what is not sure about them makes the
	// ranch less sure too.
	Gradient []float64
}

// SE is the standard error of coefficient j, 0 where it is not known.
func (f *Fit) SE(j int) float64 { return math.Sqrt(f.Cov.At(j, j)) }

const (
	startSD = 0.5
	// smallestSD is where a standard deviation is tried at zero.
	smallestSD = 0.05
	// A coefficient this large, and this unsure, has run off: the data only say "very low" or "very high".
	runaway   = 8.0
	runawaySE = 5.0
)

// Run fits m by maximum likelihood. It does not fail: see Converged and Notes.
func (m *Model) Run() *Fit {
	keep, period := independent(m)
	reduced := *m
	reduced.Period = period
	l := newLayout(&reduced, keep)
	width := m.columns()
	f := &Fit{Coef: make([]float64, width), Known: make([]bool, width), Cov: mat.NewSymDense(width+sds, nil),
		Ranches: make([]RanchMode, m.Ranches), Cells: len(l.rowKind)}
	for r := range f.Ranches {
		f.Ranches[r].Gradient = make([]float64, width+sds)
	}
	n, lost := 0.0, 0.0
	for i := range l.rowN {
		n += l.rowN[i]
		lost += l.rowLost[i]
	}
	switch {
	case n == 0:
		f.Notes = append(f.Notes, "There is nothing to fit a model to.")
		return f
	case lost == 0:
		f.Notes = append(f.Notes, "No nest was lost, so there is nothing to tell the effects by.")
		return f
	case lost == n:
		f.Notes = append(f.Notes, "Every nest was lost, so there is nothing to tell the effects by.")
		return f
	}
	m.fit(l, keep, f)
	return f
}

// columns is the length of Coef.
func (m *Model) columns() int {
	n := 0
	if len(m.Rows) > 0 {
		n = len(m.Rows[0])
	}
	if m.Period && m.Link == Cloglog {
		n++
	}
	return n
}

func (m *Model) fit(l *layout, keep []int, f *Fit) {
	q := l.fixed()
	e := newEvaluation(l)
	phi := make([]float64, q+sds)
	l.start(phi)
	active := make([]int, q, q+sds)
	for j := range active {
		active[j] = j
	}
	for _, j := range m.random(l, f) {
		phi[q+j] = startSD
		active = append(active, q+j)
	}

	s := newSearch(e, phi, active)
	f.Converged = s.run()
	for _, j := range append([]int(nil), active[q:]...) {
		if math.Abs(s.phi[j]) > smallestSD {
			continue
		}
		// Near zero the likelihood is flat in a standard deviation: settle whether zero is the better.
		phi := append([]float64(nil), s.phi...)
		phi[j] = 0
		zero := newSearch(e, phi, without(s.active, j))
		f.Converged = zero.run() && f.Converged
		if zero.value <= s.value+1e-6 {
			zero.attempts += s.attempts
			s = zero
			f.Notes = append(f.Notes, zeroNote[j-q])
		}
	}

	f.end = &ending{keep: keep, period: l.period, phi: append([]float64(nil), s.phi...), active: s.active, search: s}
	hessian := s.hessian()
	f.end.correction = s.correction(hessian)
	f.end.hessian = hessian
	for i := range hessian.SymmetricDim() {
		if math.IsNaN(hessian.At(i, i)) {
			hessian.Zero()
			break
		}
	}
	cov := mat.NewSymDense(len(s.active), nil)
	var chol mat.Cholesky
	if chol.Factorize(hessian) && chol.InverseTo(cov) == nil {
		s.polish(cov)
	} else {
		s.inverse(cov)
		f.Notes = append(f.Notes, "The standard errors are approximate: the likelihood is not curved in every direction.")
	}
	f.LogLik = -s.at(s.phi, s.grad)
	f.Converged = f.Converged && !e.stuck
	f.Lookups = s.attempts
	f.fill(l, keep, s, cov)
	f.modes(l, keep, s)
	if !f.Converged {
		f.Notes = append(f.Notes, "The search for the best fit did not end. Take the figures as rough.")
	}
}

var zeroNote = [sds]string{
	sdTransect: "No spread between transects of one ranch could be seen beside chance.",
	sdRanch:    "No spread between ranches could be seen beside chance.",
	sdSlope:    "No spread between the trends of ranches could be seen beside chance.",
}

// random returns which standard deviations can be estimated, and notes why others cannot.
func (m *Model) random(l *layout, f *Fit) []int {
	ranches, transects := 0, 0
	for r := range l.ranches() {
		seen := 0
		for g := l.ranchTransect[r]; g < l.ranchTransect[r+1]; g++ {
			if l.transectRow[g+1] > l.transectRow[g] {
				seen++
			}
		}
		transects += seen
		if seen > 0 {
			ranches++
		}
	}
	f.RanchesSeen, f.TransectsSeen = ranches, transects
	var which []int
	switch {
	case m.NoTransectEffect:
	case transects < 2:
		f.Notes = append(f.Notes, "There is one transect only, so how much transects differ cannot be told.")
	case transects == ranches && !m.NoRanchEffect && ranches > 1:
		f.Notes = append(f.Notes, "Each ranch has one transect, so ranches and transects cannot be told apart.")
	default:
		which = append(which, sdTransect)
	}
	switch {
	case m.NoRanchEffect:
	case ranches < 2:
		f.Notes = append(f.Notes, "There is one ranch only, so how much ranches differ cannot be told.")
	default:
		which = append(which, sdRanch)
	}
	if m.Slope != nil && ranches > 1 {
		which = append(which, sdSlope)
	}
	return which
}

func without(list []int, j int) []int {
	var rest []int
	for _, v := range list {
		if v != j {
			rest = append(rest, v)
		}
	}
	return rest
}

// start puts in fixed effects from one weighted least squares fit of the empirical linear predictor by kind.
func (l *layout) start(phi []float64) {
	n, lost := make([]float64, len(l.kinds)), make([]float64, len(l.kinds))
	for i, k := range l.rowKind {
		n[k] += l.rowN[i]
		lost[k] += l.rowLost[i]
	}
	normal, right := mat.NewSymDense(l.p, nil), make([]float64, l.p)
	for k, x := range l.design {
		if n[k] == 0 {
			continue
		}
		p := (lost[k] + 0.5) / (n[k] + 1)
		y, w := math.Log(p/(1-p)), n[k]*p*(1-p)
		if l.link == Cloglog {
			h := -math.Log1p(-p)
			y = math.Log(h / (l.kinds[k].early + l.kinds[k].late))
			w = n[k] * h * h * (1 - p) / p
		}
		rankOne(normal, w, x[:l.p])
		for j := range right {
			right[j] += w * y * x[j]
		}
	}
	for j := range l.p {
		normal.SetSym(j, j, normal.At(j, j)*(1+1e-8)+1e-8)
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) {
		return
	}
	beta := mat.NewVecDense(l.p, nil)
	if chol.SolveVecTo(beta, mat.NewVecDense(l.p, right)) != nil {
		return
	}
	copy(phi, beta.RawVector().Data)
}

// polish takes one Newton step with the inverse of the exact second derivatives.
func (s *search) polish(inverse *mat.SymDense) {
	step, grad := make([]float64, len(s.active)), make([]float64, len(s.active))
	var decrement float64
	s.value = s.at(s.phi, s.grad)
	for i := range step {
		for j, g := range s.grad {
			step[i] -= inverse.At(i, j) * g
		}
		decrement -= step[i] * s.grad[i]
	}
	value, part := s.line(step, grad, decrement)
	for i, j := range s.active {
		s.phi[j] += part * step[i]
	}
	s.value = value
}

// fill writes the parameters and their covariances, from the search's order into the fit's.
func (f *Fit) fill(l *layout, keep []int, s *search, cov *mat.SymDense) {
	width := len(f.Coef)
	place := place(l, keep, width)
	for i, a := range s.active {
		for k := i; k < len(s.active); k++ {
			f.Cov.SetSym(place[a], place[s.active[k]], cov.At(i, k))
		}
	}
	for j := range l.fixed() {
		f.Coef[place[j]] = s.phi[j]
		se := f.SE(place[j])
		f.Known[place[j]] = !(math.Abs(s.phi[j]) > runaway && se > runawaySE)
	}
	q := l.fixed()
	sd := s.phi[q:]
	for j := range sd {
		if sd[j] >= 0 {
			continue
		}
		sd[j] = -sd[j] // the likelihood is even in it
		for i := range width + sds {
			if i != width+j {
				f.Cov.SetSym(i, width+j, -f.Cov.At(i, width+j))
			}
		}
		for r := range s.e.a {
			switch j {
			case sdRanch:
				s.e.a[r][0] = -s.e.a[r][0]
			case sdSlope:
				s.e.a[r][1] = -s.e.a[r][1]
			}
		}
		if j == sdTransect {
			for g := range s.e.b {
				s.e.b[g] = -s.e.b[g]
			}
		}
	}
	f.TransectSD, f.RanchSD, f.SlopeSD = sd[sdTransect], sd[sdRanch], sd[sdSlope]
}

// place maps the layout's parameters to the fit's.
func place(l *layout, keep []int, width int) []int {
	place := append([]int(nil), keep...)
	if l.period {
		place = append(place, width-1)
	}
	for j := range sds {
		place = append(place, width+j)
	}
	return place
}

// modes writes the ranches' effects.
func (f *Fit) modes(l *layout, keep []int, s *search) {
	e := s.e
	e.set(s.phi)
	sens := make([][]float64, l.ranches())
	for r := range sens {
		sens[r] = make([]float64, len(s.phi))
	}
	e.information(sens)
	places := place(l, keep, len(f.Coef))
	c := e.chunks[0]
	for _, other := range e.chunks {
		if len(other.row) > len(c.row) {
			c = other
		}
	}
	sr, ss, st := e.sd[sdRanch], e.sd[sdSlope], e.sd[sdTransect]
	for r := range f.Ranches {
		spread := square{1, 0, 1}
		base := l.transectRow[l.ranchTransect[r]]
		for g := l.ranchTransect[r]; g < l.ranchTransect[r+1]; g++ {
			z := e.zeta(g)
			from, to := l.transectRow[g], l.transectRow[g+1]
			_, t := e.measure(c, from, to, from-base, math.Exp(z.dot(e.a[r])+st*e.b[g]))
			spread.addOuter(t.expected/(1+st*st*t.expected), z)
		}
		det := spread.det()
		out := &f.Ranches[r]
		out.Effect, out.SE = sr*e.a[r][0], sr*math.Sqrt(spread.d/det)
		out.SlopeEffect, out.SlopeSE = ss*e.a[r][1], ss*math.Sqrt(spread.a/det)
		for j, v := range sens[r] {
			out.Gradient[places[j]] = sr * v
		}
		out.Gradient[len(f.Coef)+sdRanch] += e.a[r][0]
	}
}
