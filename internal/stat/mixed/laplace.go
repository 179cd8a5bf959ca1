package mixed

import (
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/mat"
)

// The standard deviations stand behind the fixed effects in the vector of parameters, in this order. They enter as
// they are, not as logarithms: the likelihood is even in each, so zero is an ordinary point and needs no bound.
const (
	sdTransect = iota
	sdRanch
	sdSlope
	sds // how many
)

// pair holds what a ranch has in two: its intercept and its slope.
type pair [2]float64

func (a pair) dot(b pair) float64 { return a[0]*b[0] + a[1]*b[1] }

// square is a symmetric 2×2 matrix.
type square struct{ a, b, d float64 } // [a b; b d]

func (s *square) addOuter(w float64, z pair) {
	s.a += w * z[0] * z[0]
	s.b += w * z[0] * z[1]
	s.d += w * z[1] * z[1]
}

func (s square) det() float64 { return s.a*s.d - s.b*s.b }

// solve returns s⁻¹ v. Every square here is the identity plus something positive, so it can be inverted.
func (s square) solve(v pair) pair {
	det := s.det()
	return pair{(s.d*v[0] - s.b*v[1]) / det, (s.a*v[1] - s.b*v[0]) / det}
}

// evaluation computes minus the Laplace log likelihood and its derivatives. The random effects are kept in units of their
// standard deviations: ranch r adds ζ_g·a_r and its transect g adds σ_t·b_g, where ζ_g = (σ_r, σ_s·slope_g). The
// modes of the last evaluation are where the next one starts.
type evaluation struct {
	l      *layout
	base   []float64 // by kind: H, or the odds, before the random effects
	a      []pair    // by ranch: modes
	b      []float64 // by transect: modes
	sd     [sds]float64
	chunks []*chunk
	stuck  bool // whether the search for some ranch's modes did not end
}

// chunk is a run of ranches worked on by one goroutine, with room for what it needs. There are as many as the data
// ask for, whatever the machine, so that sums come out the same everywhere.
type chunk struct {
	from, to int // ranches

	value  float64
	slope  []float64 // by kind: derivative of value in η
	sdGrad [sds]float64
	failed bool

	curvature []float64 // by kind: observed information
	info      *mat.SymDense
	ahead     []float64 // scratch of information, one number a fixed effect
	total     [2][]float64

	row      []curve   // of the ranch at hand
	transect []curve   // likewise
	move     []float64 // likewise
}

// rowsAChunk is large enough that starting a goroutine does not matter.
const rowsAChunk = 4096

const maxChunks = 16

func newEvaluation(l *layout) *evaluation {
	e := &evaluation{
		l:    l,
		base: make([]float64, len(l.kinds)),
		a:    make([]pair, l.ranches()),
		b:    make([]float64, l.transects()),
	}
	size := max(rowsAChunk, (len(l.rowKind)+maxChunks-1)/maxChunks)
	for from := 0; from < l.ranches(); {
		to, rows := from, 0
		widest, most := 0, 0
		for to < l.ranches() && (rows < size || to == from) {
			first, last := l.ranchTransect[to], l.ranchTransect[to+1]
			n := l.transectRow[last] - l.transectRow[first]
			rows += n
			widest, most = max(widest, n), max(most, last-first)
			to++
		}
		q := l.fixed()
		e.chunks = append(e.chunks, &chunk{
			from: from, to: to,
			slope:     make([]float64, len(l.kinds)),
			curvature: make([]float64, len(l.kinds)),
			info:      mat.NewSymDense(q+sds, nil),
			ahead:     make([]float64, q),
			total:     [2][]float64{make([]float64, q), make([]float64, q)},
			row:       make([]curve, widest),
			transect:  make([]curve, most),
			move:      make([]float64, most),
		})
		from = to
	}
	return e
}

// each runs work on every chunk, on as many goroutines as there are processors.
func (e *evaluation) each(work func(*chunk)) {
	if len(e.chunks) == 1 || runtime.GOMAXPROCS(0) == 1 {
		for _, c := range e.chunks {
			work(c)
		}
		return
	}
	var group sync.WaitGroup
	queue := make(chan *chunk)
	for range min(runtime.GOMAXPROCS(0), len(e.chunks)) {
		group.Go(func() {
			for c := range queue {
				work(c)
			}
		})
	}
	for _, c := range e.chunks {
		queue <- c
	}
	close(queue)
	group.Wait()
}

// set puts the parameters phi in: the fixed effects, γ last, and the three standard deviations.
func (e *evaluation) set(phi []float64) {
	l := e.l
	q := l.fixed()
	copy(e.sd[:], phi[q:])
	late := 0.0
	if l.period {
		late = phi[l.p]
	}
	hazardRatio := math.Exp(late)
	for i, k := range l.kinds {
		row := l.design[i]
		var eta float64
		for j, x := range row[:l.p] {
			eta += x * phi[j]
		}
		e.base[i] = math.Exp(eta)
		if l.link == Logit {
			continue
		}
		e.base[i] *= k.early + k.late*hazardRatio
		if l.period {
			row[l.p] = k.late * hazardRatio / (k.early + k.late*hazardRatio)
		}
	}
}

// zeta is ζ_g, what one unit of the ranch's effects adds on transect g.
func (e *evaluation) zeta(g int) pair {
	return pair{e.sd[sdRanch], e.sd[sdSlope] * e.l.slope[g]}
}

// value returns minus the Laplace log likelihood at phi and writes its gradient to grad.
func (e *evaluation) value(phi, grad []float64) float64 {
	l := e.l
	e.set(phi)
	e.each(func(c *chunk) {
		c.value, c.sdGrad, c.failed = 0, [sds]float64{}, false
		clear(c.slope)
		for r := c.from; r < c.to; r++ {
			if !e.findModes(c, r) {
				c.failed = true
			}
			e.ranch(c, r)
		}
	})
	clear(grad)
	e.stuck = false
	var value float64
	q := l.fixed()
	for _, c := range e.chunks {
		value += c.value
		for k, s := range c.slope {
			for j, x := range l.design[k] {
				grad[j] += x * s
			}
		}
		for j, s := range c.sdGrad {
			grad[q+j] += s
		}
		e.stuck = e.stuck || c.failed
	}
	return value
}

const (
	maxModeSteps  = 100
	modeTolerance = 1e-8 // of the Newton decrement before the last step, which leaves its square
	maxModeMove   = 2.0  // on the scale of η: beyond it the quadratic says nothing
)

// findModes moves the effects of ranch r to their modes, by Newton's method with the observed information, which is
// positive since both links are log-concave. It reports whether it got there.
func (e *evaluation) findModes(c *chunk, r int) bool {
	l := e.l
	first, last := l.ranchTransect[r], l.ranchTransect[r+1]
	st := e.sd[sdTransect]
	if e.sd == [sds]float64{} {
		e.a[r] = pair{}
		clear(e.b[first:last])
		return true
	}
	seen := c.transect[:last-first]
	for range maxModeSteps {
		a := e.a[r]
		rest := pair{-a[0], -a[1]} // gradient in a, then less what the transects take
		schur := square{1, 0, 1}
		var decrement float64
		for g := first; g < last; g++ {
			z := e.zeta(g)
			s, k := e.climb(l.transectRow[g], l.transectRow[g+1], math.Exp(z.dot(a)+st*e.b[g]))
			seen[g-first] = curve{score: s, observed: k}
			own := 1 + st*st*k
			gb := st*s - e.b[g]
			decrement += gb * gb / own
			through := s - st*k*gb/own
			rest[0] += z[0] * through
			rest[1] += z[1] * through
			schur.addOuter(k/own, z)
		}
		da := schur.solve(rest)
		decrement += rest.dot(da)

		move := 0.0
		for g := first; g < last; g++ {
			z, s, k := e.zeta(g), seen[g-first].score, seen[g-first].observed
			db := (st*s - e.b[g] - st*k*z.dot(da)) / (1 + st*st*k)
			c.move[g-first] = db
			move = max(move, math.Abs(z.dot(da)+st*db))
		}
		part := 1.0
		if move > maxModeMove {
			part = maxModeMove / move
		}
		e.a[r] = pair{a[0] + part*da[0], a[1] + part*da[1]}
		for g := first; g < last; g++ {
			e.b[g] += part * c.move[g-first]
		}
		if decrement < modeTolerance {
			return true
		}
	}
	return false
}

// ranch adds what ranch r, at its modes, gives to minus the log likelihood and to its gradient.
//
// With w_g the expected information of transect g and q_g = w_g/(1+σ_t²w_g), the determinant of the arrow is
// Π(1+σ_t²w_g) · |S|, S = I + Σ q_g ζ_gζ_g'. The modes move with the parameters; since the penalised likelihood
// is flat there, only the determinant feels it, which is brought in by one solve with the matrix K of observed second
// derivatives (the adjoint λ of the implicit function theorem).
func (e *evaluation) ranch(c *chunk, r int) {
	l := e.l
	first, last := l.ranchTransect[r], l.ranchTransect[r+1]
	base := l.transectRow[first]
	st := e.sd[sdTransect]
	a := e.a[r]

	loglik := -a.dot(a) / 2
	var logDet float64
	s, k := square{1, 0, 1}, square{1, 0, 1}
	for g := first; g < last; g++ {
		z := e.zeta(g)
		from, to := l.transectRow[g], l.transectRow[g+1]
		ll, t := e.measure(c, from, to, from-base, math.Exp(z.dot(a)+st*e.b[g]))
		c.transect[g-first] = t
		loglik += ll - e.b[g]*e.b[g]/2
		own := 1 + st*st*t.expected
		logDet += math.Log(own)
		s.addOuter(t.expected/own, z)
		k.addOuter(t.observed/(1+st*st*t.observed), z)
	}
	c.value += (logDet+math.Log(s.det()))/2 - loglik

	// half[g] = ½ ∂ log det / ∂w_g; then λ = K⁻¹ (½ ∂ log det / ∂(a, b)).
	half := func(g int, z pair) float64 {
		own := 1 + st*st*c.transect[g-first].expected
		return (st*st/own + z.dot(s.solve(z))/(own*own)) / 2
	}
	var rest pair
	for g := first; g < last; g++ {
		z, t := e.zeta(g), c.transect[g-first]
		through := half(g, z) * t.turn / (1 + st*st*t.observed)
		rest[0] += z[0] * through
		rest[1] += z[1] * through
	}
	la := k.solve(rest)
	for g := first; g < last; g++ {
		z, t := e.zeta(g), c.transect[g-first]
		m := half(g, z)
		lb := st * (m*t.turn - t.observed*z.dot(la)) / (1 + st*st*t.observed)
		moved := z.dot(la) + st*lb

		for i, k := range l.rowKind[l.transectRow[g]:l.transectRow[g+1]] {
			d := c.row[l.transectRow[g]-base+i]
			c.slope[k] += m*d.turn - d.score - moved*d.observed
		}
		felt := m*t.turn - t.score - moved*t.observed
		q := t.expected / (1 + st*st*t.expected)
		sz := s.solve(z)
		c.sdGrad[sdTransect] += felt*e.b[g] + lb*t.score + st*q - st*q*q*z.dot(sz)
		c.sdGrad[sdRanch] += felt*a[0] + la[0]*t.score + q*sz[0]
		c.sdGrad[sdSlope] += l.slope[g] * (felt*a[1] + la[1]*t.score + q*sz[1])
	}
}

// information returns an approximation to the second derivatives of value at the parameters set last: exact in the
// fixed effects but for the determinant's small share, and the expected ones of a normal model in the standard
// deviations. It is what the search starts from. With sens not nil it also writes there, by ranch, how the ranch's
// intercept mode moves with each parameter.
func (e *evaluation) information(sens [][]float64) *mat.SymDense {
	l := e.l
	q := l.fixed()
	e.each(func(c *chunk) {
		c.info.Zero()
		clear(c.curvature)
		for r := c.from; r < c.to; r++ {
			var row []float64
			if sens != nil {
				row = sens[r]
			}
			e.ranchInformation(c, r, row)
		}
	})
	sum := mat.NewSymDense(q+sds, nil)
	for _, c := range e.chunks {
		sum.AddSym(sum, c.info)
		for k, w := range c.curvature {
			if w != 0 {
				rankOne(sum, w, l.design[k])
			}
		}
	}
	return sum
}

// smallSD stands in for a standard deviation near zero, where the expected information vanishes.
const smallSD = 0.05

func (e *evaluation) ranchInformation(c *chunk, r int, sens []float64) {
	l := e.l
	first, last := l.ranchTransect[r], l.ranchTransect[r+1]
	base := l.transectRow[first]
	st, a := e.sd[sdTransect], e.a[r]
	floor := func(j int) float64 { return max(e.sd[j]*e.sd[j], smallSD*smallSD) }
	clear(c.total[0])
	clear(c.total[1])
	fixed := l.fixed()
	schur, mass := square{1, 0, 1}, square{}
	var bend float64
	var byTransect, byRanch pair // right-hand sides for the modes' movement with σ_t and σ_r
	for g := first; g < last; g++ {
		z := e.zeta(g)
		from, to := l.transectRow[g], l.transectRow[g+1]
		_, t := e.measure(c, from, to, from-base, math.Exp(z.dot(a)+st*e.b[g]))
		clear(c.ahead)
		for i, k := range l.rowKind[from:to] {
			d := c.row[from-base+i]
			c.curvature[k] += d.observed
			for j, x := range l.design[k] {
				c.ahead[j] += d.observed * x
			}
			if l.period {
				// H is not log-linear in γ: d²η/dγ² = share·(1−share)
				share := l.design[k][l.p]
				bend += d.score * share * (1 - share)
			}
		}
		own := 1 + st*st*t.observed
		rankOne(c.info, -st*st/own, c.ahead)
		for j, x := range c.ahead {
			c.total[0][j] += z[0] * x / own
			c.total[1][j] += z[1] * x / own
		}
		schur.addOuter(t.observed/own, z)
		q := t.expected / (1 + st*st*t.expected)
		c.info.SetSym(fixed+sdTransect, fixed+sdTransect, c.info.At(fixed+sdTransect, fixed+sdTransect)+2*floor(sdTransect)*q*q)
		mass.addOuter(q, pair{1, l.slope[g]})

		// K·∂(a,b)/∂σ is the derivative of the penalised gradient; the transects are eliminated as in findModes.
		throughT := -t.observed*e.b[g] - st*t.observed*(t.score-st*t.observed*e.b[g])/own
		byTransect[0] += z[0] * throughT
		byTransect[1] += z[1] * throughT
		throughR := -t.observed * a[0] / own
		byRanch[0] += t.score + z[0]*throughR
		byRanch[1] += z[1] * throughR
	}
	if l.period {
		c.info.SetSym(l.p, l.p, c.info.At(l.p, l.p)-bend)
	}
	// −T S⁻¹ T', T having the two columns total.
	inv0, inv1 := schur.solve(pair{1, 0}), schur.solve(pair{0, 1})
	for i := range fixed {
		u := inv0[0]*c.total[0][i] + inv0[1]*c.total[1][i]
		v := inv1[0]*c.total[0][i] + inv1[1]*c.total[1][i]
		for j := i; j < fixed; j++ {
			c.info.SetSym(i, j, c.info.At(i, j)-u*c.total[0][j]-v*c.total[1][j])
		}
		if sens != nil {
			sens[i] = -u
		}
	}
	if sens != nil {
		sens[fixed+sdTransect] = schur.solve(byTransect)[0]
		sens[fixed+sdRanch] = schur.solve(byRanch)[0]
	}
	for j, m := range []float64{mass.a, mass.d} {
		at := fixed + sdRanch + j
		v := floor(sdRanch + j)
		share := m / (1 + v*m)
		c.info.SetSym(at, at, c.info.At(at, at)+2*v*share*share)
	}
}

// rankOne adds w·xx' to the leading block of s.
func rankOne(s *mat.SymDense, w float64, x []float64) {
	raw := s.RawSymmetric()
	for i, xi := range x {
		if xi == 0 {
			continue
		}
		row := raw.Data[i*raw.Stride:]
		for j := i; j < len(x); j++ {
			row[j] += w * xi * x[j]
		}
	}
}
