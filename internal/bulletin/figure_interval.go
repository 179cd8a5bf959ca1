package bulletin

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"tussock/internal/disclosure"
	"tussock/internal/stat/interval"
)

// The interval that a model computes for its figures is wide where landowners differ and narrow where they are alike. Two
// insiders who make all the difference there is would read off it that the others are alike, and so what each one has: the
// leak that disclosure.Scatter closes for cells. So no interval and no chance of a figure is the model's own. Each is
//
//	V = D · V₀
//
// with V₀ the variance by chance alone, which follows from totals and denominators, and D the design effect of
// disclosure.Scatter: of all landowners but the two who differ most, on coarse steps, with a floor, and never below what
// leaves everybody 30 points. The interval stands about the published estimate, not about the one before rounding.
//
// V₀ takes losses as Poisson: the log hazard of a season and substrate with L losses has variance 1/L. Losses fall on a
// landowner's nests in proportion to their days, whatever really befell them. For a contrast c of a regression with rows x
// and weights W, those losses, V₀ = c′(X′WX)⁻¹c, and an entity's part in the figure is Σ c′(X′WX)⁻¹x·(losses − expected),
// expected being what the regression has after one step from the totals. The squares of those parts over V₀ are what D is
// made of (the sandwich by entity: Liang and Zeger 1986, Biometrika 73:13-22).
type ranges struct {
	policy disclosure.Policy
	blocks []block
	rate   map[atSeason]hazard // of the rows
	one    float64             // the design effect of a survival in one substrate
	over   float64             // and of one over all substrates
}

// A block is what one entity has of nests that a model tells apart by nothing.
type block struct {
	entity, label string
	known         bool
	atSeason
	siteType            string
	density             float64 // 0 where it is not known
	nests, days, losses float64
	weight              float64 // its share of the losses of the season and substrate
}

type atSeason struct {
	season    int
	substrate string
}

type hazard struct{ losses, days float64 }

// survival to day 28 at the hazard.
func (h hazard) survival() float64 { return math.Exp(-28 * h.losses / h.days) }

// blocks gathers the visits.
func (e *evidence) blocks() (list []block) {
	at := map[block]int{}
	for i := range e.visits {
		v := &e.visits[i]
		k := block{entity: v.entity, label: v.label, known: e.known(v.Ranch), atSeason: atSeason{v.Season, v.Substrate}, siteType: v.SiteType, density: v.X}
		j, ok := at[k]
		if !ok {
			j = len(list)
			at[k] = j
			list = append(list, k)
		}
		b := &list[j]
		b.days += v.To - v.From
		if v.From == 0 {
			b.nests++
		}
		if !v.Intact {
			b.losses++
		}
	}
	slices.SortFunc(list, func(a, b block) int {
		return cmp.Or(strings.Compare(a.entity, b.entity), strings.Compare(a.label, b.label), cmp.Compare(a.season, b.season),
			strings.Compare(a.substrate, b.substrate), strings.Compare(a.siteType, b.siteType), cmp.Compare(a.density, b.density))
	})
	return list
}

// ranges settles the design effects of survivals on the whole cooperative, and the rows of a scope, without one entity.
// Which rates count is settled on all rows, and so is whether there are enough entities for an effect of their own.
func (e *evidence) ranges(s scope, without string) *ranges {
	r := &ranges{policy: e.c.policy, rate: map[atSeason]hazard{}}
	if without != "" {
		r.policy.EffectEntities--
	}
	for _, b := range e.all {
		if in(s.label, b.label) && (without == "" || b.entity != without) {
			r.blocks = append(r.blocks, b)
		}
	}
	for _, b := range r.blocks {
		h := r.rate[b.atSeason]
		r.rate[b.atSeason] = hazard{h.losses + b.losses, h.days + b.days}
	}
	for i := range r.blocks {
		b := &r.blocks[i]
		h := r.rate[b.atSeason]
		b.weight = h.losses * b.days / h.days
	}
	var one, over [][]disclosure.Part
	for _, season := range e.seasons {
		for _, h := range append([]string{""}, e.standards...) {
			if _, ok := e.whole.rates[rateOf{season, h}]; !ok {
				continue
			}
			ps := e.lasted(season, h, without)
			if h == "" {
				over = append(over, ps)
			} else {
				one = append(one, ps)
			}
		}
	}
	r.one, r.over = r.policy.Scatter(disclosure.Rates, one...), r.policy.Scatter(disclosure.Rates, over...)
	return r
}

// lasted gives each entity its nests of a season and substrate, "" all standard ones, and those that lasted.
func (e *evidence) lasted(season int, substrate, without string) []disclosure.Part {
	return e.tally(func(n *nest) bool {
		return n.standard && n.season == season && (substrate == "" || string(n.Substrate) == substrate) && (without == "" || n.entity != without)
	})
}

// survival is the standard error of log(−log S) for a season and substrate, "" all of them in equal shares. Over substrates
// it is that of the sum of their logarithms' errors weighted by how much each moves the mean.
func (r *ranges) survival(season int, substrate string, standards []string) float64 {
	if substrate != "" {
		return math.Sqrt(r.one / r.rate[atSeason{season, substrate}].losses)
	}
	mean, variance := 0.0, 0.0
	for _, h := range standards {
		rate := r.rate[atSeason{season, h}]
		s := rate.survival()
		mean += s / float64(len(standards))
		slope := s * -math.Log(s) / float64(len(standards)) // of the mean, by the log hazard
		variance += slope * slope / rate.losses
	}
	return math.Sqrt(r.over*variance) / (mean * -math.Log(mean))
}

// A regression is the log hazard as a line of some columns.
type regression struct {
	*ranges
	rows  []block
	x     [][]float64
	cov   *mat.Dense
	coef  []float64 // by one step from the totals
	width int
}

// regress weighs rows that have all columns; it is nil where they do not tell the columns apart.
func (r *ranges) regress(columns func(b block) []float64) *regression {
	g := &regression{ranges: r}
	for _, b := range r.blocks {
		if x := columns(b); x != nil && b.weight > 0 {
			g.rows, g.x = append(g.rows, b), append(g.x, x)
		}
	}
	if len(g.rows) == 0 {
		return nil
	}
	g.width = len(g.x[0])
	sums, score := make([]float64, g.width*g.width), make([]float64, g.width)
	for i, x := range g.x {
		w, left := g.rows[i].weight, g.rows[i].losses-g.rows[i].weight
		for j, xj := range x {
			if xj == 0 {
				continue
			}
			score[j] += xj * left
			row := sums[j*g.width : (j+1)*g.width]
			for k, xk := range x {
				row[k] += w * xj * xk
			}
		}
	}
	for j := range g.width { // columns that nothing tells apart get a very wide interval, the others theirs
		sums[j*g.width+j] = sums[j*g.width+j]*(1+1e-9) + 1e-9
	}
	information := mat.NewDense(g.width, g.width, sums)
	g.cov = &mat.Dense{}
	if g.cov.Inverse(information) != nil && mat.Cond(information, 2) > 1e14 {
		return nil
	}
	g.coef = make([]float64, g.width)
	for j := range g.coef {
		for k := range score {
			g.coef[j] += g.cov.At(j, k) * score[k]
		}
	}
	return g
}

// variance is that of a contrast by chance alone, and with another their covariance.
func (g *regression) variance(c, other []float64) (v float64) {
	for j := range c {
		for k := range other {
			v += c[j] * g.cov.At(j, k) * other[k]
		}
	}
	return v
}

// effect is the design effect of a contrast. What an entity must be free to have is MinRange in the season and substrate
// where that moves the figure most.
func (g *regression) effect(c []float64) float64 {
	direction := make([]float64, g.width)
	for j := range direction {
		for k := range c {
			direction[j] += g.cov.At(j, k) * c[k]
		}
	}
	unit := math.Sqrt(g.variance(c, c))
	var ps []disclosure.Part
	moves := map[atSeason]float64{}
	for i, b := range g.rows { // in order of entity
		if len(ps) == 0 || ps[len(ps)-1].Entity != b.entity {
			ps = append(ps, disclosure.Part{Entity: b.entity, Known: b.known})
			clear(moves)
		}
		along, fitted := 0.0, 0.0
		for j, x := range g.x[i] {
			along += direction[j] * x / unit
			fitted += g.coef[j] * x
		}
		p := &ps[len(ps)-1]
		p.Kept += along * (b.losses - b.weight*(1+fitted))
		moves[b.atSeason] += math.Abs(along) * b.nests
		p.Of = max(p.Of, moves[b.atSeason])
	}
	return g.policy.Scatter(disclosure.Scores, ps)
}

// se is the standard error of a contrast.
func (g *regression) se(c []float64) float64 { return math.Sqrt(g.effect(c) * g.variance(c, c)) }

// factors returns a column for each level but the first: 1 at the level.
func factors[T comparable](levels []T, at T) (x []float64) {
	for _, l := range levels[min(1, len(levels)):] {
		x = append(x, 0)
		if l == at {
			x[len(x)-1] = 1
		}
	}
	return x
}

func (r *ranges) siteTypes() (list []string) {
	for _, b := range r.blocks {
		list = append(list, b.siteType)
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// yearly is the standard error of the log hazard ratio from year to year, and the degrees of freedom that the seasons leave
// where they scatter about the line more than landowners do. A bad year is bad for all, and the totals of the seasons say
// how bad.
func (r *ranges) yearly(seasons []int, standards []string) (se, df float64) {
	sites, middle := r.siteTypes(), float64(seasons[0]+seasons[len(seasons)-1])/2
	g := r.regress(func(b block) []float64 {
		x := append([]float64{float64(b.season) - middle, 1}, factors(standards, b.substrate)...)
		return append(x, factors(sites, b.siteType)...)
	})
	if g == nil {
		return math.Inf(1), 0
	}
	slope := make([]float64, g.width)
	slope[0] = 1
	left, weight := map[int]float64{}, map[int]float64{}
	for i, b := range g.rows {
		fitted := 0.0
		for j, x := range g.x[i] {
			fitted += g.coef[j] * x
		}
		left[b.season] += b.losses - b.weight*(1+fitted)
		weight[b.season] += b.weight
	}
	scatter, effect := 0.0, g.effect(slope)
	for season, l := range left {
		scatter += l * l / weight[season]
	}
	if scatter /= float64(len(seasons) - 2); scatter > effect {
		effect, df = scatter, float64(len(seasons)-2)
	}
	return math.Sqrt(effect * g.variance(slope, slope)), df
}

// A coverLine is the regression on the logarithm of cover over the mark, for each substrate its own line.
type coverLine struct {
	*regression
	standards []string
	columns   func(b block) []float64
}

func (r *ranges) cover(standards []string, seasons []int) *coverLine {
	sites := r.siteTypes()
	l := &coverLine{standards: standards}
	l.columns = func(b block) []float64 {
		at := slices.Index(standards, b.substrate)
		if !(b.density > 0) || at < 0 {
			return nil
		}
		x := make([]float64, 2*len(standards))
		x[2*at], x[2*at+1] = 1, math.Log(b.density/mark)
		return append(append(x, factors(seasons, b.season)...), factors(sites, b.siteType)...)
	}
	if l.regression = r.regress(l.columns); l.regression == nil {
		return nil
	}
	return l
}

// A gapRange is the variance of the gap of two substrates at the mark, of its slope, and their covariance.
type gapRange struct{ level, slope, both float64 }

// gap has one design effect for the whole line: the larger of its two.
func (l *coverLine) gap(a, b string) gapRange {
	level, slope := make([]float64, l.width), make([]float64, l.width)
	for i, h := range l.standards {
		switch h {
		case a:
			level[2*i], slope[2*i+1] = 1, 1
		case b:
			level[2*i], slope[2*i+1] = -1, -1
		}
	}
	effect := max(l.effect(level), l.effect(slope))
	return gapRange{effect * l.variance(level, level), effect * l.variance(slope, slope), effect * l.variance(level, slope)}
}

// at is the standard error of the gap at a density.
func (g gapRange) at(density float64) float64 {
	x := math.Log(density / mark)
	return math.Sqrt(max(0, g.level+2*x*g.both+x*x*g.slope))
}

// fieller is the interval of the density at which the gap, so much at the mark and on such a slope, is none; open where the
// data do not close it (Fieller 1954, J. R. Stat. Soc. B 16:175-185).
func (g gapRange) fieller(at, slope, width float64) (low, high float64, closed bool) {
	z2 := width * width
	square, half, constant := slope*slope-z2*g.slope, at*slope-z2*g.both, at*at-z2*g.level
	root := half*half - square*constant
	if !(square > 0 && root > 0) {
		return 0, 0, false
	}
	return mark * math.Exp((-half-math.Sqrt(root))/square), mark * math.Exp((-half+math.Sqrt(root))/square), true
}

// gain is the standard error of what survival changes by where sites below the mark are at it: by the delta method, with
// the hazards of the totals.
func (l *coverLine) gain(season int, label string) float64 {
	grad, nests := make([]float64, l.width), 0.0
	for _, b := range l.rows {
		if b.season != season || !in(label, b.label) {
			continue
		}
		now := l.columns(b)
		b.density = max(b.density, mark)
		then := l.columns(b)
		s := l.rate[b.atSeason].survival()
		change := 0.0
		for j := range now {
			change += l.coef[j] * (then[j] - now[j])
		}
		hazard := -math.Log(s)
		after := hazard * math.Exp(change)
		for j := range now {
			grad[j] += b.nests * (hazard*s*now[j] - after*math.Exp(-after)*then[j])
		}
		nests += b.nests
	}
	for j := range grad {
		grad[j] /= nests
	}
	return l.se(grad)
}

// quantile is the half-width of a 95 % interval in standard errors, for n entities or fewer degrees of freedom.
func quantile(n int, df float64) float64 {
	if least := float64(n - 1); df == 0 || least < df {
		df = least
	}
	return interval.Quantile((1+interval.Level)/2, df)
}
