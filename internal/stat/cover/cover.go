// Package cover asks how the gap between two kinds of nest site changes with how dense cover is: whether nests in
// bunchgrass, say, do worse than nests in yucca where bunchgrass is thin, and as well where it is thick.
//
// It is the regional model of package mixed with the logarithm of the site's density, and its product with
// substrate, among the covariates. The gap between substrates a and b at density D is then a straight line,
//
//	log h_a − log h_b = A + B·log D
//
// h being daily hazards: above zero, nests in a are lost faster. Where the line crosses zero the two are alike; that
// density is a ratio of two estimates, so its interval is Fieller's (Fieller 1954, J. R. Stat. Soc. B 16:175-185),
// which is open where the data do not close it.
//
// Densities were not assigned to sites by lot. The line is an association, and what another density would do is a
// guess from other sites, not a promise. The figures are of simulated nests.
package cover

import (
	"fmt"
	"math"
	"slices"

	"tussock/internal/stat/mixed"
)

// Model is a fitted gap model.
type Model struct {
	Substrates []string // those with nests, in order
	Low, High  float64  // the range of densities seen
	Intervals  int
	Notes      []string

	list    []mixed.Interval // with densities
	g       *mixed.Grouped   // with their logarithms
	columns []mixed.Column
	fit     *mixed.Fit
	over    mixed.Periods
	sides   []mixed.Side
	centre  float64 // of log density, so that A and B are nearly uncorrelated
	level   float64
}

// minDensities is how many different densities a line needs before it says anything.
const minDensities = 3

// Fit fits the model to list, X of an interval being the density of its site, in clumps per acre. Intervals with
// a density that is not above zero are left out. level is that of the intervals: 0.95 for 95 %.
func Fit(list []mixed.Interval, level float64) *Model { return fit(list, level, nil) }

// Without is Fit for part of the list that m was fitted to: the search starts where m's ended. See [mixed.Model.Near].
func (m *Model) Without(list []mixed.Interval) *Model { return fit(list, m.level, m.fit) }

// Less is m without some ranches by one Newton step, as [mixed.Fit.Less] has it: for Gap and Gain. It is nil where that is
// not enough.
func (m *Model) Less(ranches []string) *Model {
	if m.fit == nil {
		return nil
	}
	var which []int
	for i, name := range m.g.Ranches {
		if slices.Contains(ranches, name) {
			which = append(which, i)
		}
	}
	less := *m
	if less.fit = m.fit.Less(which); less.fit == nil {
		return nil
	}
	return &less
}

func fit(list []mixed.Interval, level float64, near *mixed.Fit) *Model {
	m := &Model{level: level}
	densities := make(map[float64]bool)
	for _, v := range list {
		if !(v.X > 0) || math.IsInf(v.X, 0) {
			continue
		}
		densities[v.X] = true
		m.list = append(m.list, v)
	}
	if left := len(list) - len(m.list); left > 0 {
		m.note("%d visit intervals at sites without a density were left out.", left)
	}
	if m.Intervals = len(m.list); m.Intervals == 0 {
		m.note("There are no nests at sites with a density.")
		return m
	}
	m.Low, m.High = math.Inf(1), 0
	for d := range densities {
		m.Low, m.High = min(m.Low, d), max(m.High, d)
	}
	if len(densities) < minDensities {
		m.note("There are fewer than %d different densities, too few to draw a line through.", minDensities)
		return m
	}
	m.run(near)
	return m
}

func (m *Model) note(format string, a ...any) { m.Notes = append(m.Notes, fmt.Sprintf(format, a...)) }

func (m *Model) run(near *mixed.Fit) {
	logs := slices.Clone(m.list)
	for i := range logs {
		logs[i].X = math.Log(logs[i].X)
	}
	whole := mixed.Group(logs)
	m.Substrates = mixed.BySubstrate().Levels(whole.Settings)
	factors := []mixed.Factor{mixed.BySubstrate(), mixed.BySeason(), mixed.BySiteType()}
	m.g, m.sides = whole.Split(factors...)
	used := m.g.Used()
	for _, s := range used {
		m.centre += s.X / float64(len(used))
	}

	m.columns = []mixed.Column{mixed.Intercept()}
	for _, f := range factors {
		m.columns = append(m.columns, f.Columns(f.Levels(used))...)
	}
	density := func(s mixed.Setting) float64 { return s.X - m.centre }
	m.columns = append(m.columns, mixed.Column{Term: "density", Of: density})
	for _, c := range mixed.BySubstrate().Columns(mixed.BySubstrate().Levels(used)) {
		m.columns = append(m.columns, mixed.Column{Term: "substrate:density", Level: c.Level,
			Of: func(s mixed.Setting) float64 { return c.Of(s) * density(s) }})
	}
	m.over = m.g.Periods()
	if model := m.g.Model(m.columns, m.over); near != nil {
		m.fit = model.Near(near)
	} else {
		m.fit = model.Run()
	}
	m.Notes = append(m.Notes, m.fit.Notes...)
	if m.over.Note != "" {
		m.note("%s", m.over.Note)
	}
}

// Gap is the gap between substrates A and B as a line in log density.
type Gap struct {
	A, B      string
	Known     bool // false where the data do not tell; the rest then means nothing
	Why       string
	Slope, SE float64 // change of the gap with one unit of log density, that is with 2.7 times the density
	Crossing  Crossing

	centre, at        float64 // the gap at log density centre
	varAt, cov, varSl float64
	width             float64 // half the width of an interval in standard errors
}

// Crossing is the density at which two substrates do equally well.
type Crossing struct {
	Found     bool   // within the range of densities seen
	Why       string // where not found
	Density   float64
	Closed    bool    // whether the data close Fieller's interval; else any density, or all but some, would do
	Low, High float64 // the interval, where closed
}

// Point is the gap at one density, with its band.
type Point struct{ Density, Gap, Low, High float64 }

// Gap returns the gap between two substrates.
func (m *Model) Gap(a, b string) Gap {
	g := Gap{A: a, B: b}
	if a == b {
		g.Why = "A substrate has no gap to itself."
		return g
	}
	if m.fit == nil || m.fit.Lookups == 0 {
		g.Why = "There is nothing to fit a line to."
		return g
	}
	for _, s := range []string{a, b} {
		if !slices.Contains(m.Substrates, s) {
			g.Why = fmt.Sprintf("There are no nests in %s at sites with a density.", s)
			return g
		}
		if slices.ContainsFunc(m.sides, func(x mixed.Side) bool { return x.Term == "substrate" && x.Level == s }) {
			g.Why = fmt.Sprintf("All nests in %s came to the same end, so there is no rate to hold against the other's.", s)
			return g
		}
	}
	contrast := func(term string) []float64 {
		v := make([]float64, len(m.columns))
		for j, c := range m.columns {
			switch {
			case c.Term != term || c.Level != a && c.Level != b:
			case !m.fit.Known[j]:
				g.Why = "The nests of the two are too few, or too much at one density, to tell."
			case c.Level == a:
				v[j] = 1
			default:
				v[j] = -1
			}
		}
		return v
	}
	level, slope := contrast("substrate"), contrast("substrate:density")
	if g.Why != "" {
		return g
	}
	g.Known = true
	g.centre = m.centre
	g.at, g.Slope = dot(level, m.fit.Coef), dot(slope, m.fit.Coef)
	g.varAt, g.cov, g.varSl = m.quadratic(level, level), m.quadratic(level, slope), m.quadratic(slope, slope)
	g.SE = math.Sqrt(g.varSl)
	g.width = mixed.Quantile(m.level, math.Inf(1))
	g.Crossing = g.crossing(m.Low, m.High)
	return g
}

func dot(a, b []float64) float64 {
	var s float64
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

// quadratic is a'Cb with C the covariance of the coefficients.
func (m *Model) quadratic(a, b []float64) float64 {
	var s float64
	for i := range a {
		for j := range b {
			if a[i] != 0 && b[j] != 0 {
				s += a[i] * m.fit.Cov.At(i, j) * b[j]
			}
		}
	}
	return s
}

// At returns the gap at a density above zero.
func (g Gap) At(density float64) Point {
	x := math.Log(density) - g.centre
	gap := g.at + g.Slope*x
	half := g.width * math.Sqrt(max(0, g.varAt+2*x*g.cov+x*x*g.varSl))
	return Point{density, gap, gap - half, gap + half}
}

// Curve returns n points from low to high, evenly spaced in log density.
func (g Gap) Curve(low, high float64, n int) []Point {
	var points []Point
	for i := range n {
		share := float64(i) / float64(max(n-1, 1))
		points = append(points, g.At(low*math.Pow(high/low, share)))
	}
	return points
}

// crossing solves A + Bx = 0 and, for the interval, (A + Bx)² = z²·Var(A + Bx), a quadratic in x. All x where the
// left is the smaller are in the interval: between the roots where B differs from zero at this level; else outside
// them, or everywhere.
func (g Gap) crossing(low, high float64) Crossing {
	var c Crossing
	z2 := g.width * g.width
	square := g.Slope*g.Slope - z2*g.varSl
	half := g.at*g.Slope - z2*g.cov
	constant := g.at*g.at - z2*g.varAt
	if disc := half*half - square*constant; square > 0 && disc > 0 {
		root := math.Sqrt(disc)
		c.Closed = true
		c.Low = math.Exp(g.centre + (-half-root)/square)
		c.High = math.Exp(g.centre + (-half+root)/square)
	}
	if g.Slope == 0 {
		c.Why = "The gap does not change with density."
		return c
	}
	c.Density = math.Exp(g.centre - g.at/g.Slope)
	switch {
	case c.Density >= low && c.Density <= high:
		c.Found = true
	default:
		c.Why = "The two do not cross in the range of densities seen."
	}
	return c
}

// Site is one site's own gap, for the dots on the curve.
type Site struct {
	Ranch        string
	Density, Gap float64
	Intervals    int
}

// Sites returns the gap between a and b at each ranch and density where nests of both were lost and kept, each from
// its own nests alone, one hazard for the whole time.
func (m *Model) Sites(a, b string) []Site {
	if m.g == nil {
		return nil
	}
	type key struct {
		ranch   string
		density float64
	}
	parts := make(map[key][]mixed.Interval)
	var order []key
	for _, v := range m.list {
		if v.Substrate != a && v.Substrate != b {
			continue
		}
		k := key{v.Ranch, v.X}
		if parts[k] == nil {
			order = append(order, k)
		}
		parts[k] = append(parts[k], v)
	}
	slices.SortFunc(order, func(p, q key) int {
		switch {
		case p.density < q.density || p.density == q.density && p.ranch < q.ranch:
			return -1
		case p == q:
			return 0
		}
		return 1
	})
	var sites []Site
	for _, k := range order {
		g := mixed.Group(parts[k])
		columns := []mixed.Column{mixed.Intercept(), {Term: "gap", Of: func(s mixed.Setting) float64 {
			if s.Substrate == a {
				return 1
			}
			return 0
		}}}
		if _, sides := g.Split(mixed.BySubstrate()); len(sides) > 0 || len(mixed.BySubstrate().Levels(g.Settings)) < 2 {
			continue
		}
		model := g.Model(columns, mixed.Periods{Counts: g.Counts})
		model.NoRanchEffect, model.NoTransectEffect = true, true
		if f := model.Run(); f.Converged && f.Known[1] {
			sites = append(sites, Site{k.ranch, k.density, f.Coef[1], len(parts[k])})
		}
	}
	return sites
}

// predictor has the degrees of freedom of mixed.Pool: ranches less the types of site.
func (m *Model) predictor() *mixed.Predictor {
	ranches := m.fit.RanchesSeen - len(mixed.BySiteType().Levels(m.g.Used()))
	return m.fit.Predictor(m.over, m.level, math.Max(1, float64(ranches)))
}

// WhatIf returns the survival to day 28 of nests in substrate on a site of ranch, season and site type, had it this
// density; an empty ranch stands for a ranch of which nothing is known. ok is false where the model cannot say. It is
// what sites of that density have gone together with, not what planting would bring.
func (m *Model) WhatIf(ranch, substrate, siteType string, season int, density float64) (e mixed.Estimate, ok bool) {
	if m.fit == nil || m.fit.Lookups == 0 || !(density > 0) || math.IsInf(density, 0) {
		return e, false
	}
	at := mixed.Setting{Substrate: substrate, SiteType: siteType, Season: season, X: math.Log(density)}
	used := m.g.Used()
	for _, f := range []mixed.Factor{mixed.BySubstrate(), mixed.BySeason(), mixed.BySiteType()} {
		if !slices.Contains(f.Levels(used), f.Of(at)) {
			return e, false
		}
	}
	row := mixed.Row(m.columns, at)
	for j := range row {
		if row[j] != 0 && !m.fit.Known[j] {
			return e, false
		}
	}
	predict := m.predictor()
	parts := []mixed.Part{{Weight: 1, Row: row}}
	if ranch == "" {
		return predict.Region(parts), true
	}
	r := slices.Index(m.g.Ranches, ranch)
	if r < 0 {
		return e, false
	}
	return predict.Ranch(r, parts), true
}
