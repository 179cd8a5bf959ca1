package disclosure

import "math"

// A Stake is what one entity has in figures that are published together, in the eyes of somebody who knows everything
// about it but its results: the variances of its parts in the figures, and their covariances.
type Stake struct {
	Entity string
	Known  bool        // everybody knows its results
	Spread [][]float64 // by figure and figure
	// Rounding marks what is nobody's: the variance of a rounding that nothing undoes.
	Rounding bool
}

// Learned returns how much figures tell of an entity's results, in bits: the most that any entity is told of, and the mean
// over all of them and over coalitions of nobody, one, two and up to Watchers others, the worst ones.
//
// The attacker knows who is in each figure and how many rows each has, undoes every rounding but those listed, takes off what the coalition
// knows of itself, and has taken everybody's parts for normal beforehand. With M the covariance of the figures over those whose results are secret, and
// B that of the target's parts, the figures tell
//
//	½·log₂( det M / det(M − B) )
//
// bits of the target's results together (mutual information; Cover and Thomas, Elements of Information Theory, 8.4). It is without
// bound where the target is worked out exactly. It depends on numbers of rows alone, never on a result: so whether figures pass
// says nothing of anybody's results, to whomever it is told, however often.
func (p Policy) Learned(stakes []Stake) (most, mean float64) {
	var bs []*matrix
	var whole *matrix
	for _, s := range stakes {
		if s.Known || len(s.Spread) == 0 {
			continue
		}
		b := newMatrix(s.Spread)
		if whole == nil {
			whole = &matrix{n: b.n, x: make([]float64, len(b.x))}
		}
		if whole.add(b, 1); !s.Rounding {
			bs = append(bs, b)
		}
	}
	if len(bs) == 0 {
		return 0, 0
	}
	if whole, bs = whole.whiten(bs); whole.n == 0 {
		return 0, 0
	}
	cases := 0.0
	for t, b := range bs {
		left := whole.clone()
		gone := map[int]bool{t: true}
		for size := 0; ; size++ {
			told := bits(left, b)
			most, mean, cases = math.Max(most, told), mean+told, cases+1
			if size == p.Watchers || size+1 == len(bs) {
				break
			}
			next := worst(left, bs, b, gone)
			gone[next] = true
			left.add(bs[next], -1)
		}
	}
	return most, mean / cases
}

// Tells is TooMuch where figures tell more than the policy allows, of anybody or in the mean.
func (p Policy) Tells(stakes []Stake) Reason {
	if p.BitsMost == 0 {
		return ""
	}
	if most, mean := p.Learned(stakes); most > p.BitsMost || mean > p.BitsMean {
		return TooMuch
	}
	return ""
}

// worst is the other whose results, pooled as well, tell most of the target.
func worst(left *matrix, bs []*matrix, target *matrix, gone map[int]bool) (which int) {
	best := math.Inf(-1)
	for i, b := range bs {
		if gone[i] {
			continue
		}
		rest := left.clone()
		rest.add(b, -1)
		if told := bits(rest, target); told > best {
			best, which = told, i
		}
	}
	return which
}

func bits(left, target *matrix) float64 {
	rest := left.clone()
	rest.add(target, -1)
	before, after := left.logDet(), rest.logDet()
	if math.IsInf(after, -1) {
		if trace := target.trace(); trace < none {
			return 0 // the target has no part in it
		}
		return math.Inf(1)
	}
	return (before - after) / 2 / math.Ln2
}

// none is a part of the whole's variance that is nothing but the error of floating point.
const none = 1e-9

// A matrix is a symmetric one.
type matrix struct {
	n int
	x []float64
}

func newMatrix(rows [][]float64) *matrix {
	m := &matrix{n: len(rows)}
	for _, r := range rows {
		m.x = append(m.x, r...)
	}
	return m
}

func (m *matrix) clone() *matrix { return &matrix{m.n, append([]float64(nil), m.x...)} }

func (m *matrix) add(b *matrix, times float64) {
	for i, x := range b.x {
		m.x[i] += times * x
	}
}

func (m *matrix) at(i, j int) float64 { return m.x[i*m.n+j] }

func (m *matrix) trace() (t float64) {
	for i := range m.n {
		t += m.at(i, i)
	}
	return t
}

// logDet is −∞ where the matrix has no determinant to speak of.
func (m *matrix) logDet() (sum float64) {
	l := make([]float64, len(m.x))
	for j := range m.n {
		for i := j; i < m.n; i++ {
			s := m.at(i, j)
			for k := range j {
				s -= l[i*m.n+k] * l[j*m.n+k]
			}
			switch {
			case i > j:
				l[i*m.n+j] = s / l[j*m.n+j]
			case s < none:
				return math.Inf(-1)
			default:
				l[i*m.n+i] = math.Sqrt(s)
				sum += math.Log(s)
			}
		}
	}
	return sum
}

// whiten changes the figures so that m is the unit matrix, and leaves out those that follow from the others.
func (m *matrix) whiten(bs []*matrix) (*matrix, []*matrix) {
	rows := [][]float64{} // of the transformation
	for i := range m.n {
		row := make([]float64, m.n)
		row[i] = 1
		size := m.at(i, i)
		for _, r := range rows { // Gram and Schmidt, in the product that m defines
			inner := m.form(r, row)
			for k := range row {
				row[k] -= inner * r[k]
			}
		}
		if left := m.form(row, row); left > none*size && left > 0 {
			for k := range row {
				row[k] /= math.Sqrt(left)
			}
			rows = append(rows, row)
		}
	}
	change := func(a *matrix) *matrix {
		b := &matrix{n: len(rows)}
		for _, r := range rows {
			for _, s := range rows {
				b.x = append(b.x, a.form(r, s))
			}
		}
		return b
	}
	changed := make([]*matrix, len(bs))
	for i, b := range bs {
		changed[i] = change(b)
	}
	return change(m), changed
}

// form is r′·m·s.
func (m *matrix) form(r, s []float64) (sum float64) {
	for i, x := range r {
		if x == 0 {
			continue
		}
		for j, y := range s {
			sum += x * m.at(i, j) * y
		}
	}
	return sum
}
