package mixed

import (
	"fmt"
	"math"
	"sort"
)

// Link is the function from the linear predictor to the probability that a nest is lost.
type Link int

const (
	// Cloglog is the hazard form, P(lost) = 1 − exp(−days·e^η). It is the model's own.
	Cloglog Link = iota
	// Logit is P(lost) = 1/(1+e^−η), whatever the length of the interval.
	Logit
)

// Model is what [Fit] takes: the distinct covariate rows of the design and the counts seen under them.
type Model struct {
	Link Link

	// Rows are the distinct rows of the design matrix, all of one length, the intercept among them.
	Rows [][]float64

	// Period asks for the effect γ of days 14 on against days 0 to 14. Cloglog only.
	Period bool

	// Slope, one value for each of Rows, is a covariate whose effect differs by ranch around its mean of zero. It must be
	// the same for all of a transect. Nil for none.
	Slope []float64

	// NoRanchEffect and NoTransectEffect leave out a random intercept.
	NoRanchEffect, NoTransectEffect bool

	Ranches int   // how many ranches there are
	Of      []int // Of[g] is the ranch of transect g
	Counts  []Count
}

// Count is N intervals of one kind on one transect, Lost of which ended in a loss.
type Count struct {
	Transect    int
	Row         int     // which of the model's Rows
	Early, Late float64 // days of the interval before and after day 14; not looked at under Logit
	N, Lost     int
}

// kind is what makes two intervals of one transect exchangeable.
type kind struct {
	row         int
	early, late float64
}

// layout is a model made ready for computing: counts collapsed by kind, sorted by transect and transects by ranch,
// in flat slices, so that the inner loops walk memory in order.
type layout struct {
	link   Link
	p      int         // columns of the design
	period bool        // whether γ is estimated; its column comes after the p
	kinds  []kind      // the distinct kinds
	design [][]float64 // by kind: the p columns and, with period, the share of the late hazard in H, which depends on γ

	rowKind       []int32 // by collapsed row
	rowN, rowLost []float64
	transectRow   []int     // rows of sorted transect g: transectRow[g] to transectRow[g+1]
	ranchTransect []int     // transects of ranch r, likewise
	slope         []float64 // by sorted transect; zero without a slope
}

// newLayout collapses and sorts. It takes the columns keep of the model's rows.
func newLayout(m *Model, keep []int) *layout {
	l := &layout{link: m.Link, p: len(keep), period: m.Period && m.Link == Cloglog}
	order := make([]int, len(m.Of))
	for g := range order {
		order[g] = g
	}
	sort.SliceStable(order, func(i, j int) bool { return m.Of[order[i]] < m.Of[order[j]] })

	l.ranchTransect = make([]int, m.Ranches+1)
	place := make([]int, len(m.Of))
	for i, g := range order {
		if r := m.Of[g]; r < 0 || r >= m.Ranches {
			panic(fmt.Sprintf("mixed: transect %d is of ranch %d of %d", g, r, m.Ranches))
		}
		l.ranchTransect[m.Of[g]+1]++
		place[g] = i
	}
	for r := range m.Ranches {
		l.ranchTransect[r+1] += l.ranchTransect[r]
	}
	l.collapse(m, place)

	width := l.p
	if l.period {
		width++
	}
	cells := make([]float64, width*len(l.kinds))
	for _, k := range l.kinds {
		row := cells[:width:width]
		cells = cells[width:]
		for j, c := range keep {
			row[j] = m.Rows[k.row][c]
		}
		l.design = append(l.design, row)
	}
	return l
}

// collapse fills the rows. place is the position of each transect after sorting.
func (l *layout) collapse(m *Model, place []int) {
	index := make(map[kind]int32)
	kindOf := make([]int32, len(m.Counts))
	var last kind
	var lastIndex int32 = -1
	start := make([]int, len(place)+1)
	for i, c := range m.Counts {
		if c.N < 0 || c.Lost < 0 || c.Lost > c.N || c.Early < 0 || c.Late < 0 {
			panic(fmt.Sprintf("mixed: count %d has N %d, Lost %d, days %g and %g", i, c.N, c.Lost, c.Early, c.Late))
		}
		k := kind{c.Row, c.Early, c.Late}
		if m.Link == Logit {
			k.early, k.late = 1, 0
		}
		if lastIndex < 0 || k != last {
			n, ok := index[k]
			if !ok {
				n = int32(len(l.kinds))
				index[k] = n
				l.kinds = append(l.kinds, k)
			}
			last, lastIndex = k, n
		}
		kindOf[i] = lastIndex
		start[place[c.Transect]+1]++
	}
	for g := range place {
		start[g+1] += start[g]
	}
	sorted := make([]int32, len(m.Counts))
	next := append([]int(nil), start...)
	for i, c := range m.Counts {
		g := place[c.Transect]
		sorted[next[g]] = int32(i)
		next[g]++
	}

	l.transectRow = make([]int, len(place)+1)
	l.slope = make([]float64, len(place))
	at := make([]int, len(l.kinds)) // the row of this kind in the transect at hand, plus one
	for g := range place {
		first := len(l.rowKind)
		for _, i := range sorted[start[g]:start[g+1]] {
			c, k := m.Counts[i], kindOf[i]
			if c.N == 0 {
				continue
			}
			if at[k] <= first {
				l.rowKind = append(l.rowKind, k)
				l.rowN = append(l.rowN, 0)
				l.rowLost = append(l.rowLost, 0)
				at[k] = len(l.rowKind)
			}
			l.rowN[at[k]-1] += float64(c.N)
			l.rowLost[at[k]-1] += float64(c.Lost)
			if m.Slope != nil {
				l.slope[g] = m.Slope[c.Row]
			}
		}
		l.transectRow[g+1] = len(l.rowKind)
	}
}

// ranches is the number of ranches.
func (l *layout) ranches() int { return len(l.ranchTransect) - 1 }

// transects is the number of transects.
func (l *layout) transects() int { return len(l.transectRow) - 1 }

// fixed is the number of fixed effects, γ included.
func (l *layout) fixed() int {
	if l.period {
		return l.p + 1
	}
	return l.p
}

// aliasTolerance is the share of a column's length below which it counts as a combination of the columns before it,
// as in R's lm and glm.
const aliasTolerance = 1e-7

// independent returns which columns of the model's rows can be told apart, the earlier of two first, and whether
// the period can. Modified Gram–Schmidt on the distinct rows in use.
func independent(m *Model) (keep []int, period bool) {
	used := make(map[kind]bool)
	var kinds []kind
	for _, c := range m.Counts {
		k := kind{c.Row, c.Early, c.Late}
		if m.Link == Logit || !m.Period {
			k.early, k.late = 1, 0
		}
		if c.N > 0 && !used[k] {
			used[k] = true
			kinds = append(kinds, k)
		}
	}
	if len(kinds) == 0 {
		return nil, false
	}
	var basis [][]float64
	try := func(column []float64) bool {
		length := norm(column)
		for _, b := range basis {
			var dot float64
			for i := range b {
				dot += b[i] * column[i]
			}
			for i := range b {
				column[i] -= dot * b[i]
			}
		}
		rest := norm(column)
		if rest <= aliasTolerance*length {
			return false
		}
		for i := range column {
			column[i] /= rest
		}
		basis = append(basis, column)
		return true
	}
	for j := range m.Rows[kinds[0].row] {
		column := make([]float64, len(kinds))
		for i, k := range kinds {
			column[i] = m.Rows[k.row][j]
		}
		if try(column) {
			keep = append(keep, j)
		}
	}
	if m.Period && m.Link == Cloglog {
		column := make([]float64, len(kinds))
		for i, k := range kinds {
			column[i] = k.late / (k.early + k.late)
		}
		period = try(column)
	}
	return keep, period
}

func norm(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s)
}
