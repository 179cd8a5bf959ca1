package bulletin

import (
	"fmt"
	"maps"
	"math"
	"runtime"
	"slices"
	"sync"

	"tussock/internal/disclosure"
	"tussock/internal/findings"
	"tussock/internal/stat/cover"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/mixed"
	"tussock/internal/stat/trend"
	"tussock/internal/survey"
)

const (
	mark = findings.CoverMark
	half = 0.5 // of the nests lasting: the hope that is common practice
)

// curveDensities are where a gap may be drawn, clumps an acre. A fixed list, so that no point tells of a site.
func curveDensities() []float64 {
	return []float64{50, 75, 100, 125, 150, 175, 200, 225, 250, 275, 300, 325, 350, 375, 400, 450, 500, 550, 600, 700, 800, 900, 1000}
}

// A scope is the whole cooperative ("") or a place, with what may be given of it. It is settled on all rows, and stays
// as it is while one entity after the other is left out.
type scope struct {
	label string
	n     int            // entities behind all seasons
	rates map[rateOf]int // the season's and substrate's that may be given, with their entities
	gains []scope        // of the cooperative: itself and the places whose gain may be given
	cover int            // entities behind the cover model
	low   float64        // the ends of the curve
	high  float64
	pairs [][2]string
	now   int // entities in the season, 0 where it may not be spoken of
	belts int // entities with belts, 0 where what limits may not
}

type rateOf struct {
	season    int
	substrate string // "" is all
}

// fits are the models of a scope, from near which they are fitted again.
type fits struct {
	pool  *mixed.Result
	trend *trend.Yearly
	cover *cover.Model
}

// scopes returns the cooperative and the places that may have figures: those whose cells of survival are all atoms, which
// they are where the place has a cell over all substrates.
func (e *evidence) scopes() (list []scope) {
	atoms := map[string]bool{"": true}
	for _, cell := range e.c.cells {
		if cell.Measure == Survival28 && cell.Published && cell.Area != nil && cell.Substrate == nil {
			atoms[*cell.Area] = true
		}
	}
	for _, label := range append([]string{""}, e.c.placeLabels()...) {
		s := scope{label: label, rates: map[rateOf]int{}}
		var ok bool
		if !atoms[label] {
			continue
		}
		if s.n, ok = e.allowed(func(n *nest) bool { return n.standard && in(label, n.label) }); !ok {
			continue
		}
		for _, season := range e.seasons {
			for _, h := range append([]string{""}, e.standards...) {
				n, ok := e.allowed(func(n *nest) bool {
					return n.standard && n.season == season && in(label, n.label) && (h == "" || string(n.Substrate) == h)
				})
				if ok {
					s.rates[rateOf{season, h}] = n
				}
			}
		}
		s.now = s.rates[rateOf{e.c.season, ""}]
		s.belts = e.enoughBelts(label)
		list = append(list, s)
	}
	if len(list) > 0 && list[0].label == "" {
		e.whole = list[0]
		e.settleCover(list)
	}
	return list
}

func (e *evidence) enoughBelts(label string) int {
	acres := disclosure.Amounts{}
	for _, b := range belts(e.c.belts, label) {
		if !b.known {
			acres[b.entity] += b.acres
		}
	}
	if e.c.policy.CheckModel(acres) != "" {
		return 0
	}
	return len(acres)
}

// beyond is how many entities must have sites beyond an end of the curve, on either side: the policy's for quantiles, and
// one more so that it holds without any of them.
func (e *evidence) beyond() int { return e.c.policy.QuantileBeyond + 1 }

// settleCover settles what the cover model of the cooperative, the first of list, is asked.
func (e *evidence) settleCover(list []scope) {
	whole := &list[0]
	nests, low, high := disclosure.Amounts{}, map[string]float64{}, map[string]float64{}
	for _, v := range e.visits {
		if e.known(v.Ranch) || !(v.X > 0) {
			continue
		}
		nests[v.entity]++
		if x, ok := low[v.entity]; !ok || v.X < x {
			low[v.entity] = v.X
		}
		high[v.entity] = max(high[v.entity], v.X)
	}
	if e.c.policy.CheckModel(nests) != "" {
		return
	}
	for _, d := range curveDensities() {
		under, over := 0, 0
		for entity := range nests {
			if low[entity] <= d {
				under++
			}
			if high[entity] >= d {
				over++
			}
		}
		if under >= e.beyond() && over >= e.beyond() {
			if whole.low == 0 {
				whole.low = d
			}
			whole.high = d
		}
	}
	for _, b := range e.standards {
		if a := e.reference(); a != "" && a != b {
			whole.pairs = append(whole.pairs, [2]string{a, b})
		}
	}
	for i := range list {
		list[i].cover = len(nests)
		if list[i].now > 0 {
			whole.gains = append(whole.gains, list[i])
		}
	}
}

func (e *evidence) known(ranch string) bool { return e.c.members[ranch].known }

// reference is the substrate that others are held against: bunchgrass, or the commonest where that is no standard one.
func (e *evidence) reference() string {
	if slices.Contains(e.standards, string(survey.Bunchgrass)) {
		return string(survey.Bunchgrass)
	}
	count, best := map[string]int{}, ""
	for i := range e.nests {
		if n := &e.nests[i]; n.standard {
			count[string(n.Substrate)]++
		}
	}
	for _, h := range e.standards {
		if best == "" || count[h] > count[best] {
			best = h
		}
	}
	return best
}

// numbers computes the figures of a scope without one entity, or with "" of all. near are the fits of all, from which
// those without one go on.
func (e *evidence) numbers(s scope, without string, near *fits) (numbers, *fits) {
	rows := e.intervals(s, without, false)
	opt := mixed.Options{Level: interval.Level}
	f := &fits{}
	if near != nil {
		opt.Near = near.pool
	}
	f.pool = mixed.Pool(rows, opt)
	switch {
	case len(e.seasons) < 3: // two seasons are a difference
	case near != nil && near.trend != nil:
		f.trend = near.trend.Without(rows)
	default:
		f.trend = trend.Fit(rows, interval.Level)
	}
	switch {
	case len(s.gains) == 0:
	case near != nil && near.cover != nil:
		f.cover = near.cover.Without(e.intervals(s, without, true))
	default:
		f.cover = cover.Fit(e.intervals(s, without, true), interval.Level)
	}
	return e.numbersOf(s, without, f), f
}

// quickly is numbers with the models by one step from near; nil where that is not enough.
func (e *evidence) quickly(s scope, without string, near *fits) numbers {
	var ranches []string
	for ranch, m := range e.ranchOf {
		if m.entity == without {
			ranches = append(ranches, ranch)
		}
	}
	f := &fits{pool: near.pool.Less(ranches)}
	if near.trend != nil {
		f.trend = near.trend.Less(ranches)
	}
	if near.cover != nil {
		f.cover = near.cover.Less(ranches)
	}
	if f.pool == nil || near.trend != nil && f.trend == nil || near.cover != nil && f.cover == nil {
		return nil
	}
	return e.numbersOf(s, without, f)
}

// numbersOf reads the numbers off the fits.
func (e *evidence) numbersOf(s scope, without string, f *fits) numbers {
	all := numbers{}
	add := func(n number, format string, a ...any) {
		if len(n) > 0 {
			all[s.label+"|"+fmt.Sprintf(format, a...)] = n
		}
	}
	r := e.ranges(s, without)
	e.rates(s, f.pool, r, add)
	if y := f.trend; y != nil && y.Known {
		se, df := r.yearly(e.seasons, e.standards)
		add(ranged(y.HazardRatio, around(se*quantile(s.n, df)), yearlyGrid(s.n)), "yearly")
	}
	e.ranks(s, without, add)
	e.limits(s, without, f.pool, r, add)
	e.quality(s, without, add)
	if f.cover != nil {
		e.cover(s, without, f.cover, r, all)
	}
	return all
}

type adder func(n number, format string, a ...any)

// intervals lists the visit intervals of a scope without one entity, with or without the densities: a model that does
// not need them is fitted faster without.
func (e *evidence) intervals(s scope, without string, densities bool) (list []mixed.Interval) {
	list = make([]mixed.Interval, 0, len(e.visits))
	for i := range e.visits {
		v := &e.visits[i]
		if !in(s.label, v.label) || without != "" && v.entity == without {
			continue
		}
		list = append(list, v.Interval)
		if !densities {
			list[len(list)-1].X = 0
		}
	}
	return list
}

func (e *evidence) rates(s scope, pool *mixed.Result, r *ranges, add adder) {
	if !pool.Converged {
		return
	}
	for _, p := range slices.Concat(pool.OverSubstrates, pool.Standardised) {
		if n, ok := s.rates[rateOf{p.Season, p.Substrate}]; ok && p.Seen {
			half := r.survival(p.Season, p.Substrate, e.standards) * quantile(n, 0)
			add(ranged(p.Value, aroundSurvival(half), survivalGrid(e.c.policy, n)), "rate|%d|%s", p.Season, p.Substrate)
		}
	}
}

// ranks adds the Regional Kendall test.
func (e *evidence) ranks(s scope, without string, add adder) {
	var years []float64
	for _, season := range e.seasons {
		years = append(years, float64(season))
	}
	var rows [][]float64
	for _, ranch := range slices.Sorted(maps.Keys(e.own)) {
		if m := e.ranchOf[ranch]; in(s.label, e.c.labels[m.area]) && (without == "" || m.entity != without) {
			rows = append(rows, e.own[ranch])
		}
	}
	if len(years) < 3 {
		return
	}
	r := trend.Regional(years, rows)
	if !r.Known {
		return
	}
	add(slices.Concat(
		single(r.Tau, math.Round, shareGrid(10)),
		single(r.Slope, math.Round, survivalGrid(e.c.policy, s.n)),
		single(alikeYears(r.S, years, rows), math.Round, pGrid())), "ranks")
}

// alikeYears is the two-sided p of S over ranches as if good and bad years came to all of them alike. Then their S add up
// like one ranch's: its standard deviation is the sum of theirs, each √(n(n−1)(2n+5)/18) of n years. How alike the ranches
// are is in the covariances that the test could estimate instead, so those are not used; p is never too small.
func alikeYears(s int, years []float64, rows [][]float64) float64 {
	sd := 0.0
	for _, row := range rows {
		n := 0.0
		for _, x := range row {
			if !math.IsNaN(x) {
				n++
			}
		}
		sd += math.Sqrt(n * (n - 1) * (2*n + 5) / 18)
	}
	return 2 * (1 - interval.CDF(max(0, math.Abs(float64(s))-1)/sd, 0))
}

// limits adds the chances behind what limits nests.
func (e *evidence) limits(s scope, without string, pool *mixed.Result, r *ranges, add adder) {
	if s.belts == 0 || s.now == 0 {
		return
	}
	rows := pick(e.c.belts, func(b counts) bool { return without == "" || b.entity != without })
	short, ok := e.belowMark(belts(rows, s.label), coverOf(rows), s.belts)
	if !ok {
		return
	}
	lasting, ok := e.moreThanHalf(s, pool, r)
	if !ok {
		return
	}
	add(chance(short), "short")
	add(chance((1-short)*(1-lasting)), "losses")
	add(chance((1-short)*lasting), "lasting")
}

// belowMark is the chance that the density is below the mark, going by the interval that its cell has.
func (e *evidence) belowMark(rows []counts, all []disclosure.Part, n int) (float64, bool) {
	clumps, acres := 0.0, 0.0
	for _, p := range coverOf(rows) {
		clumps, acres = clumps+p.Kept, acres+p.Of
	}
	if clumps == 0 || n < 2 {
		return 0, false
	}
	se := math.Sqrt(e.c.policy.Scatter(disclosure.Counts, all) / clumps)
	return interval.CDF(math.Log(mark*acres/clumps)/se, float64(n-1)), true
}

// moreThanHalf is the chance that survival in the season is above a half, going by its published value and its interval on
// log(−log S).
func (e *evidence) moreThanHalf(s scope, pool *mixed.Result, r *ranges) (float64, bool) {
	for _, p := range pool.OverSubstrates {
		g := survivalGrid(e.c.policy, s.now)
		value := g.exact(math.Round(g.steps(p.Value)))
		if p.Season != e.c.season || !p.Seen || !pool.Converged || !(value > 0 && value < 1-1e-9) {
			continue
		}
		se := r.survival(p.Season, "", e.standards)
		return interval.CDF((logLog(half)-logLog(value))/se, float64(s.now-1)), true
	}
	return 0, false
}

// cover adds the gaps and gains of the cooperative's cover model.
func (e *evidence) cover(s scope, without string, m *cover.Model, r *ranges, all numbers) {
	line := r.cover(e.standards, e.seasons)
	if line == nil {
		return
	}
	for _, pair := range s.pairs {
		e.gap(s, m.Gap(pair[0], pair[1]), line, all)
	}
	for _, at := range s.gains {
		if gain, ok := m.Gain(e.stands(at.label, without), mark); ok {
			half := line.gain(e.c.season, at.label) * quantile(min(at.now, s.cover), 0)
			x := ranged(gain.Value, func(g float64) (low, high float64) { return max(-1, g-half), min(1, g+half) }, survivalGrid(e.c.policy, at.now))
			if len(x) > 0 {
				all[at.label+"|gain"] = x
			}
		}
	}
}

// around gives the interval of a ratio by the half-width of its logarithm.
func around(half float64) func(float64) (low, high float64) {
	return func(x float64) (low, high float64) { return x * math.Exp(-half), x * math.Exp(half) }
}

// aroundSurvival gives that of a survival by the half-width of log(−log S). One that is none or all on its grid has no
// interval, and so is not published.
func aroundSurvival(half float64) func(float64) (low, high float64) {
	return func(s float64) (low, high float64) {
		if s <= 0 || s >= 1-1e-9 {
			return math.NaN(), math.NaN()
		}
		return math.Exp(-math.Exp(logLog(s) + half)), math.Exp(-math.Exp(logLog(s) - half))
	}
}

func logLog(s float64) float64 { return math.Log(-math.Log(s)) }

func (e *evidence) gap(s scope, g cover.Gap, line *coverLine, all numbers) {
	if !g.Known || s.low == 0 {
		return
	}
	name, spread, width := "|gap|"+g.B+"|", line.gap(g.A, g.B), quantile(s.cover, 0)
	for _, d := range curveDensities() {
		if d < s.low || d > s.high {
			continue
		}
		if x := ranged(math.Exp(g.At(d).Gap), around(width*spread.at(d)), gapGrid(s.cover)); len(x) > 0 {
			all[name+fmt.Sprint(d)] = x
		}
	}
	if g.Slope == 0 {
		return
	}
	// Anything further than the coarsest step beyond the curve is alike: there is no crossing in the range.
	near := func(density float64) float64 { return min(max(density, s.low/coarsest), s.high*coarsest) }
	all[name+"crossing"] = roughly(single(near(g.Crossing.Density), math.Round, crossingGrid(s.cover)))
	low, high, closed := spread.fieller(g.At(mark).Gap, g.Slope, width)
	if closed {
		all[name+"ends"] = roughly(slices.Concat(single(near(low), outwardDown, crossingGrid(s.cover).twice()), single(near(high), outwardUp, crossingGrid(s.cover).twice())))
	}
	said := single(map[bool]float64{true: 1}[closed], math.Round, strictly())
	if z := math.Abs(g.Slope) / (width * math.Sqrt(spread.slope)); z > 0.9 && z < 1.1 {
		said[0].rough = 2 // not to be told by a one-step fit
	}
	all[name+"closed"] = said
}

// stands are the season's nests of a place as the cover model knows them: as many to a stand as there are visit intervals
// from day 0, so that each nest counts once.
func (e *evidence) stands(label, without string) (list []cover.Stand) {
	at := map[cover.Stand]float64{}
	for i := range e.visits {
		v := &e.visits[i]
		if v.Season == e.c.season && v.From == 0 && in(label, v.label) && (without == "" || v.entity != without) && v.X > 0 {
			at[cover.Stand{Substrate: v.Substrate, SiteType: v.SiteType, Season: v.Season, Density: v.X}]++
			if k := (cover.Stand{Substrate: v.Substrate, SiteType: v.SiteType, Season: v.Season, Density: v.X}); at[k] == 1 {
				list = append(list, k)
			}
		}
	}
	for i, s := range list {
		list[i].Weight = at[s]
	}
	return list
}

// quality adds how well the season was carried out, of nests in all plants.
func (e *evidence) quality(s scope, without string, add adder) {
	if s.now == 0 {
		return
	}
	var first, firstOn, second, secondOn, nests, lost, ended, twice, looks, alike float64
	ranches, open := map[string]bool{}, 0.0
	for i := range e.nests {
		n := &e.nests[i]
		if n.season != e.c.season || !in(s.label, n.label) || without != "" && n.entity == without {
			continue
		}
		if !ranches[n.ranch] && e.open[n.ranch] {
			open++
		}
		ranches[n.ranch] = true
		nests++
		for j, v := range n.Visits {
			day := int(v.On - n.SetOn)
			switch j {
			case 0:
				first, firstOn = first+1, firstOn+within(day, 14)
			case 1:
				second, secondOn = second+1, secondOn+within(day, 28)
			}
		}
		if seenTwice(n) {
			twice++
		}
		for _, v := range n.Visits {
			if v.Second != "" {
				looks++
				if v.Second == v.State {
					alike++
				}
			}
		}
		if n.Fate() == survey.Lost {
			lost++
		}
		if n.Fate().Failed() || n.Fate() == survey.Intact && n.LastIntact() >= 25 {
			ended++
		}
	}
	share := func(name string, part, of float64) {
		add(single(part/of, math.Round, shareGrid(5)), "quality|%s", name)
	}
	share("first", firstOn, first)
	share("second", secondOn, second)
	share("lost", lost, nests)
	share("ended", ended, nests)
	share("looks", twice, nests)
	// Who had a second look is a choice of few: how well two people agree has a gate of its own.
	if _, ok := e.allowed(func(n *nest) bool { return n.season == e.c.season && in(s.label, n.label) && seenTwice(n) }); ok && looks > 0 {
		share("agree", alike, looks)
	}
	if e.open != nil {
		share("open", open, float64(len(ranches)))
	}
}

// seenTwice tells whether a second person looked at the nest on their own.
func seenTwice(n *nest) bool {
	return slices.ContainsFunc(n.Visits, func(v survey.Visit) bool { return v.Second != "" })
}

// within tells whether a check was within three days of the day it was meant for.
func within(day, meant int) float64 {
	if max(day-meant, meant-day) <= 3 {
		return 1
	}
	return 0
}

// screened is from how many entities on one step of the models tells most entities' influence.
const screened = 60

// released computes the numbers of a scope and puts on their grids those that hang on no entity. Everything is fitted
// again without each of them, from near by; where there are many, only without those of whom one step does not show that
// they move nothing.
func (e *evidence) released(s scope) map[string][]float64 {
	all, near := e.numbers(s, "", nil)
	entities := e.entities(s.label)
	without := make([]numbers, len(entities))
	concurrently(len(entities), func(i int) {
		if len(entities) >= screened {
			if without[i] = e.quickly(s, entities[i], near); without[i] != nil && all.surely(without[i]) {
				return
			}
		}
		without[i], _ = e.numbers(s, entities[i], near)
	})
	shown := all.release(without)
	alike := e.audit(s, shown)
	for _, name := range slices.Sorted(maps.Keys(all)) {
		e.held[name] = disclosure.Unsteady
		if alike[name] {
			e.held[name] = disclosure.TooAlike
		} else if shown[name] != nil {
			e.held[name] = ""
		}
		e.c.step(name, "number", e.held[name])
	}
	return shown
}

// audit is the interval audit of the cells for rates: where one would tell nearly everybody's, it is not shown. It returns
// which.
func (e *evidence) audit(s scope, shown map[string][]float64) map[string]bool {
	alike := map[string]bool{}
	for at := range s.rates {
		name := fmt.Sprintf("%s|rate|%d|%s", s.label, at.season, at.substrate)
		rate, ok := shown[name]
		if !ok {
			continue
		}
		parts := e.parts(func(n *nest) bool {
			return n.standard && n.season == at.season && in(s.label, n.label) && (at.substrate == "" || string(n.Substrate) == at.substrate)
		}, rate[0])
		if e.c.policy.Audit(parts, rate[0], rate[0]) != "" {
			delete(shown, name)
			alike[name] = true
		}
	}
	return alike
}

// parts gives each entity its nests, and the share of them that a rate says lasted.
func (e *evidence) parts(match func(*nest) bool, rate float64) []disclosure.Part {
	ps := e.tally(match)
	nests, kept := 0.0, 0.0
	for _, p := range ps {
		nests, kept = nests+p.Of, kept+p.Kept
	}
	for j := range ps {
		if kept > 0 {
			ps[j].Kept = math.Min(ps[j].Of, ps[j].Kept*rate*nests/kept)
		}
	}
	return ps
}

// tally gives each entity its nests and those of them that lasted.
func (e *evidence) tally(match func(*nest) bool) []disclosure.Part {
	at := map[string]int{}
	var ps []disclosure.Part
	for i := range e.nests {
		n := &e.nests[i]
		if !match(n) {
			continue
		}
		j, ok := at[n.entity]
		if !ok {
			j = len(ps)
			at[n.entity] = j
			ps = append(ps, disclosure.Part{Entity: n.entity, Known: n.known})
		}
		ps[j].Of++
		if !n.Fate().Failed() {
			ps[j].Kept++
		}
	}
	return ps
}

// concurrently does work for 0 to n−1 on all processors. What panics in one of them panics here.
func concurrently(n int, work func(i int)) {
	var group sync.WaitGroup
	jobs := make(chan int)
	faults := make(chan any, n)
	for range min(n, runtime.GOMAXPROCS(0)) {
		group.Go(func() {
			for i := range jobs {
				func() {
					defer func() {
						if r := recover(); r != nil {
							faults <- r
						}
					}()
					work(i)
				}()
			}
		})
	}
	for i := range n {
		jobs <- i
	}
	close(jobs)
	group.Wait()
	select {
	case r := <-faults:
		panic(r)
	default:
	}
}
