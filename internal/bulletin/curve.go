package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"tussock/internal/disclosure"
	"tussock/internal/findings"
	"tussock/internal/stat/density"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/mixed"
	"tussock/internal/survey"
)

// beyond is how many landowners must have nests at a density or a thinner one, and at it or a denser one, for a figure there.
const beyond = 5

// curve gives survival in each standard cover at the densities of Clumps: from a line through the logarithm of the daily hazard over the logarithm
// of the site's clumps an acre, one for bunchgrass and one that all other covers share, fitted to the season alone:
//
//	log h = cover + period + slope·log D
//
// with D as the belts have it, their error allowed for: see siteDensities.
//
// Sites beyond the densities of Clumps count as those at the end, so that nobody holds the line by themselves. Where the budget
// leaves no room for both lines there is bunchgrass's alone. From a model rather than a total, so for ten landowners or more, none with
// a quarter of the nests; and a point is given where leaving out any one landowner, and fitting again, moves it by no more than one
// step of its grid.
func (c *composer) curve(b *budget, held disclosure.Reason) {
	l := c.line()
	if held == "" {
		held = c.policy.CheckModel(amounts(l.nests))
	}
	if held == "" && !b.fits(l.rows()...) {
		l.others = nil
		if !b.fits(l.rows()...) {
			held = disclosure.TooMuch
		}
	}
	points := map[survey.Substrate][]point{}
	if held == "" {
		points = l.points()
	}
	for _, h := range c.standards {
		for i, density := range Clumps {
			cell := c.cell(SurvivalAt, "", string(h))
			cell.Clumps = &Clumps[i]
			switch p := points[h]; {
			case held != "":
				c.hold(cell, held)
			case !slices.Contains(l.main, h) && !slices.Contains(l.others, h):
				c.hold(cell, disclosure.TooMuch)
			case p == nil || p[i].held != "":
				c.hold(cell, cmp.Or(l.unseen(density), disclosure.Unsteady))
			default:
				c.publish(cell, p[i].n, p[i].figure)
			}
		}
	}
}

// line is the model over all nests in standard covers where there is a density.
func (c *composer) line() *line {
	l := &line{c: c, main: c.standards}
	for _, n := range only(c.nests, c.standards...) {
		if n.density > 0 {
			l.nests = append(l.nests, n)
		}
	}
	if slices.Contains(c.standards, survey.Bunchgrass) {
		l.main = []survey.Substrate{survey.Bunchgrass}
		l.others = pick(c.standards, func(h survey.Substrate) bool { return h != survey.Bunchgrass })
	}
	for _, n := range l.nests {
		l.centre += atCurve(n.density) / float64(len(l.nests))
	}
	return l
}

// amounts are the nests of each owner whose results are secret.
func amounts(nests []*looked) disclosure.Amounts {
	a := disclosure.Amounts{}
	for _, n := range nests {
		if !n.known {
			a[n.entity]++
		}
	}
	return a
}

// A line is the model behind a curve.
type line struct {
	c      *composer
	nests  []*looked
	main   []survey.Substrate // the covers that share the first slope
	others []survey.Substrate // those that share the second; the rest have none
	centre float64            // of log density
}

type point struct {
	n      int
	figure disclosure.Figure
	held   disclosure.Reason
}

// slopes are the covers that share one each.
func (l *line) slopes() [][]survey.Substrate {
	if len(l.others) == 0 {
		return [][]survey.Substrate{l.main}
	}
	return [][]survey.Substrate{l.main, l.others}
}

// rows are what the slopes rest on. What the line says at its middle is the covers' figures once more.
func (l *line) rows() (rows []row) {
	for _, covers := range l.slopes() {
		rows = append(rows, func(n *looked) float64 {
			if n.density == 0 || !slices.Contains(covers, n.substrate) {
				return 0
			}
			return atCurve(n.density) - l.centre
		})
	}
	return rows
}

// atCurve is where a density stands along the line.
func atCurve(density float64) float64 {
	return math.Log(min(max(density, Clumps[0]), Clumps[len(Clumps)-1]))
}

// unseen is why a density has no figure where too few landowners have nests on either side of it.
func (l *line) unseen(density float64) disclosure.Reason {
	thinner, denser := map[string]bool{}, map[string]bool{}
	for _, n := range l.nests {
		if n.known {
			continue
		}
		if n.density <= density {
			thinner[n.entity] = true
		}
		if n.density >= density {
			denser[n.entity] = true
		}
	}
	if min(len(thinner), len(denser)) < beyond {
		return disclosure.TooFew
	}
	return ""
}

// points are the curve's, on their grid, by cover.
func (l *line) points() map[survey.Substrate][]point {
	f := l.fit()
	all, ok := f.at(f.fit)
	if !ok {
		return nil
	}
	entities := slices.Sorted(maps.Keys(amounts(l.nests)))
	grid := func(x float64) float64 { return *l.c.policy.Share(len(entities), x, x, x).Estimate }
	step := l.c.policy.ShareSteps[len(l.c.policy.ShareSteps)-1].Points / 100
	without := make([]map[survey.Substrate][]mixed.Estimate, len(entities))
	concurrently(len(entities), func(i int) { without[i], _ = f.at(f.without(entities[i])) })
	points := map[survey.Substrate][]point{}
	for _, h := range l.c.standards {
		for i, e := range all[h] {
			p := point{n: len(entities), figure: l.c.policy.Share(len(entities), e.Value, e.Low, e.High)}
			moves := func(w map[survey.Substrate][]mixed.Estimate) bool {
				return w == nil || math.Abs(grid(w[h][i].Value)-grid(e.Value)) > step+1e-9
			}
			if p.held = l.unseen(Clumps[i]); p.held == "" && (slices.ContainsFunc(without, moves) || e.High-e.Low > 0.5) {
				p.held = disclosure.Unsteady
			}
			points[h] = append(points[h], p)
		}
	}
	return points
}

// A fitted line can be fitted again without an owner.
type fitted struct {
	*line
	g       *mixed.Grouped
	ranches map[string]string // the owner of each
	columns []mixed.Column
	periods mixed.Periods
	fit     *mixed.Fit // nil where there is nothing to fit, or all of a cover came to one end
	wider   float64    // than chance alone would have it: by what lines and owners add to the figure over all covers
}

func (l *line) fit() *fitted {
	f := &fitted{line: l, ranches: map[string]string{}, wider: math.Sqrt(l.inflation())}
	data := survey.Data{}
	for _, n := range l.nests {
		data.Nests = append(data.Nests, *n.Nest)
		f.ranches[n.Ranch] = n.entity
	}
	density := map[*survey.Nest]float64{}
	for i, n := range l.nests {
		density[&data.Nests[i]] = n.density
	}
	f.g = mixed.Group(findings.Intervals(&data, func(n *survey.Nest) float64 { return atCurve(density[n]) - l.centre }))
	if _, sides := f.g.Split(mixed.BySubstrate()); len(sides) > 0 || len(f.g.Used()) == 0 {
		return f
	}
	f.columns = append([]mixed.Column{mixed.Intercept()}, mixed.BySubstrate().Columns(mixed.BySubstrate().Levels(f.g.Used()))...)
	for _, covers := range l.slopes() {
		f.columns = append(f.columns, mixed.Column{Term: "density", Of: func(s mixed.Setting) float64 {
			if !slices.Contains(covers, survey.Substrate(s.Substrate)) {
				return 0
			}
			return s.X
		}})
	}
	f.periods = f.g.Periods()
	f.fit = f.model(f.g).Run()
	return f
}

func (f *fitted) model(g *mixed.Grouped) *mixed.Model {
	m := g.Model(f.columns, f.periods)
	m.NoRanchEffect, m.NoTransectEffect = true, true
	return m
}

// without is the fit without an owner's nests: by one step of the search from where it ended, which with these few coefficients is as good
// as the whole way, or the whole way where that is too far.
func (f *fitted) without(entity string) *mixed.Fit {
	var ranches []int
	for i, ranch := range f.g.Ranches {
		if f.ranches[ranch] == entity {
			ranches = append(ranches, i)
		}
	}
	if less := f.fit.Less(ranches); less != nil {
		return less
	}
	left := *f.g
	left.Counts = pick(f.g.Counts, func(c mixed.Count) bool { return f.ranches[f.g.Ranches[f.g.Of[c.Transect]]] != entity })
	if _, sides := left.Split(mixed.BySubstrate()); len(sides) > 0 {
		return nil
	}
	return f.model(&left).Near(f.fit)
}

// at returns a fit's survivals by cover at each of Clumps.
func (f *fitted) at(fit *mixed.Fit) (map[survey.Substrate][]mixed.Estimate, bool) {
	if fit == nil || !fit.Converged || slices.Contains(fit.Known, false) {
		return nil, false
	}
	predict := fit.Predictor(f.periods, interval.Level, freedom)
	all := map[survey.Substrate][]mixed.Estimate{}
	for _, h := range f.c.standards {
		for _, d := range Clumps {
			e := predict.Region([]mixed.Part{{Weight: 1, Row: mixed.Row(f.columns, mixed.Setting{Substrate: string(h), X: atCurve(d) - f.centre})}})
			if !(e.Low > 0 && e.High < 1) {
				return nil, false
			}
			at := logLog(e.Value)
			e.Low, e.High = fromLogLog(at+f.wider*(logLog(e.Low)-at)), fromLogLog(at-f.wider*(at-logLog(e.High)))
			all[h] = append(all[h], e)
		}
	}
	return all, true
}

// inflation is how many times lines and owners widen the variance of the figure over all covers.
func (l *line) inflation() float64 {
	r := l.c.rateOf(only(l.c.nests, l.c.standards...), l.c.standards...)
	if r.chance == 0 {
		return 1
	}
	return 1 + (l.c.effects.lines*r.lines+l.c.effects.owners*r.owners)/r.chance
}

// siteDensities are the clumps an acre of all kinds, by site and by ranch ("").
type siteDensities map[[2]string]float64

// siteDensities reads the season's belts of ranches that are counted, of all kinds of clumps together. What stands along the line is a site's density as
// it is best put there (density.Calibrated), since a few belts err: one line through what was counted would be too flat. A site without belts has its ranch's
// density.
func (c *composer) siteDensities() siteDensities {
	belts := map[[2]string][]density.Belt{}
	for i := range c.data.Belts {
		b := &c.data.Belts[i]
		if _, counted := c.members[b.Ranch]; !counted || b.Season != c.season || !(b.Acres() > 0) || len(b.Counts) == 0 {
			continue
		}
		clumps := 0
		for _, n := range b.Counts {
			clumps += n
		}
		for _, site := range slices.Compact([]string{b.Site, ""}) {
			k := [2]string{b.Ranch, site}
			belts[k] = append(belts[k], density.Belt{Count: clumps, Area: b.Acres()})
		}
	}
	all := siteDensities{}
	for _, ranches := range []bool{true, false} { // a ranch's belts are its sites' belts
		var keys [][2]string
		var lists [][]density.Belt
		for k := range belts {
			if (k[1] == "") == ranches {
				keys = append(keys, k)
			}
		}
		slices.SortFunc(keys, func(a, b [2]string) int { return cmp.Or(strings.Compare(a[0], b[0]), strings.Compare(a[1], b[1])) })
		for _, k := range keys {
			slices.SortFunc(belts[k], func(a, b density.Belt) int { // sums of acres depend on their order in the last bits
				return cmp.Or(cmp.Compare(a.Area, b.Area), cmp.Compare(a.Count, b.Count))
			})
			lists = append(lists, belts[k])
		}
		for i, d := range density.Calibrated(lists) {
			if density.Fit(lists[i]).Count > 0 {
				all[keys[i]] = d
			}
		}
	}
	return all
}

// at is the density where a nest was, 0 where it is not known or there are no clumps.
func (s siteDensities) at(n *survey.Nest) float64 {
	if d := s[[2]string{n.Ranch, n.Site}]; d > 0 {
		return d
	}
	return s[[2]string{n.Ranch, ""}]
}
