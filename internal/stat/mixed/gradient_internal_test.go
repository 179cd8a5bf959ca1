package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The gradient and the modes' sensitivity are not exported, so this test sits inside the package.

// invented makes a model with a period, crossing intervals and a slope, large enough for more than one chunk.
func invented(seed uint64, link Link, ranches, transects, nests int) *Model {
	rng := rand.New(rand.NewPCG(seed, 1))
	m := &Model{Link: link, Period: true, Ranches: ranches}
	for row := range 6 {
		m.Rows = append(m.Rows, []float64{1, float64(row % 2), float64(row/2) - 1})
		m.Slope = append(m.Slope, float64(row/2)-1)
	}
	for r := range ranches {
		u := 0.5 * rng.NormFloat64()
		for range transects {
			g := len(m.Of)
			m.Of = append(m.Of, r)
			year := rng.IntN(3)
			v := 0.4 * rng.NormFloat64()
			for range nests {
				row := 2*year + rng.IntN(2)
				h := math.Exp(-3.4 + u + v - 0.4*float64(row%2))
				from := 0.0
				for _, to := range []float64{13 + float64(rng.IntN(4)), 28} {
					c := Count{Transect: g, Row: row, N: 1}
					c.Early, c.Late = SplitDays(from, to)
					if rng.ExpFloat64() < h*(to-from) {
						c.Lost = 1
					}
					m.Counts = append(m.Counts, c)
					if c.Lost == 1 {
						break
					}
					from = to
				}
			}
		}
	}
	return m
}

func TestGradientAgainstDifferences(t *testing.T) {
	for _, link := range []Link{Cloglog, Logit} {
		m := invented(7, link, 9, 5, 12)
		l := newLayout(m, []int{0, 1, 2})
		e := newEvaluation(l)
		q := l.fixed()
		scratch := make([]float64, q+sds)
		for _, sd := range [][sds]float64{{0.5, 0.6, 0.3}, {0, 0, 0}, {0.4, 0, 0}, {0, 0.7, 0}, {-0.3, 0.2, 1}} {
			phi := make([]float64, q+sds)
			copy(phi, []float64{-2.9, -0.6, 0.2})
			if l.period {
				phi[3] = -0.4
			}
			copy(phi[q:], sd[:])
			got := make([]float64, q+sds)
			e.value(phi, got)
			for j := range phi {
				const d = 1e-4
				at := phi[j]
				f := func(step float64) float64 {
					phi[j] = at + step
					defer func() { phi[j] = at }()
					return e.value(phi, scratch)
				}
				want := (8*(f(d)-f(-d)) - (f(2*d) - f(-2*d))) / (12 * d) // error of order d⁴
				if math.Abs(got[j]-want) > 1e-6*(1+math.Abs(want)) {
					t.Errorf("link %d, sds %v, parameter %d: got %.9g, want %.9g", link, sd, j, got[j], want)
				}
			}
		}
	}
}

// How the modes move with the parameters, against evaluations on both sides.
func TestSensitivityAgainstDifferences(t *testing.T) {
	m := invented(8, Cloglog, 6, 4, 10)
	m.Slope = nil
	l := newLayout(m, []int{0, 1, 2})
	e := newEvaluation(l)
	q := l.fixed()
	phi := []float64{-3.2, -0.5, 0.1, -0.3, 0.4, 0.5, 0}
	scratch := make([]float64, q+sds)
	e.value(phi, scratch)
	sens := make([][]float64, l.ranches())
	for r := range sens {
		sens[r] = make([]float64, q+sds)
	}
	e.information(sens)
	for j := range q + 2 {
		const d = 1e-4
		at := phi[j]
		phi[j] = at + d
		e.value(phi, scratch)
		up := append([]pair(nil), e.a...)
		phi[j] = at - d
		e.value(phi, scratch)
		phi[j] = at
		for r := range sens {
			want := (up[r][0] - e.a[r][0]) / (2 * d)
			if math.Abs(sens[r][j]-want) > 1e-5 {
				t.Errorf("ranch %d, parameter %d: got %.8g, want %.8g", r, j, sens[r][j], want)
			}
		}
	}
}

// The determinant and the solves of the arrow against what they stand for: moving the modes away can only lower the
// penalised likelihood, so the score in every effect is zero there.
func TestModesAreStationary(t *testing.T) {
	m := invented(9, Cloglog, 5, 6, 8)
	l := newLayout(m, []int{0, 1, 2})
	e := newEvaluation(l)
	phi := []float64{-3, -0.5, 0.1, -0.3, 0.6, 0.9, 0.2}
	e.value(phi, make([]float64, len(phi)))
	for r := range l.ranches() {
		var a pair
		for g := l.ranchTransect[r]; g < l.ranchTransect[r+1]; g++ {
			z := e.zeta(g)
			s, _ := e.climb(l.transectRow[g], l.transectRow[g+1], math.Exp(z.dot(e.a[r])+phi[4]*e.b[g]))
			a[0] += z[0] * s
			a[1] += z[1] * s
			if d := phi[4]*s - e.b[g]; math.Abs(d) > 1e-8 {
				t.Errorf("transect %d: score %g", g, d)
			}
		}
		for i := range a {
			if math.Abs(a[i]-e.a[r][i]) > 1e-8 {
				t.Errorf("ranch %d: score %g", r, a[i]-e.a[r][i])
			}
		}
	}
}

func TestInnerLoopsDoNotAllocate(t *testing.T) {
	m := invented(10, Cloglog, 20, 6, 10)
	e := newEvaluation(newLayout(m, []int{0, 1, 2}))
	phi := []float64{-3, -0.5, 0.1, -0.3, 0.6, 0.5, 0.2}
	grad := make([]float64, len(phi))
	if n := testing.AllocsPerRun(5, func() { e.value(phi, grad) }); n > 2 {
		t.Errorf("one evaluation allocates %g times", n)
	}
}
