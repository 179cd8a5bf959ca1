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
	for _, pair := range s.pairs { // whether an interval is closed must be certain as well
		g := f.cover.Gap(pair[0], pair[1])
		if z := math.Abs(g.Slope) / (g.SE * interval.Quantile((1+interval.Level)/2, 0)); g.Known && z > 0.9 && z < 1.1 {
			return nil
		}
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
	e.rates(s, f.pool, add)
	if y := f.trend; y != nil && y.Known {
		add(estimated(y.HazardRatio, y.Low, y.High, yearlyGrids(s.n)), "yearly")
	}
	e.ranks(s, without, add)
	e.limits(s, without, f.pool, add)
	e.quality(s, without, add)
	if f.cover != nil {
		e.cover(s, without, f.cover, all)
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

func (e *evidence) rates(s scope, pool *mixed.Result, add adder) {
	if !pool.Converged {
		return
	}
	for _, p := range slices.Concat(pool.OverSubstrates, pool.Standardised) {
		if n, ok := s.rates[rateOf{p.Season, p.Substrate}]; ok && p.Seen {
			add(estimated(p.Value, p.Low, p.High, survivalGrids(e.c.policy, n)), "rate|%d|%s", p.Season, p.Substrate)
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
	p := r.P
	if r.Reliable {
		p = r.CovP
	}
	add(slices.Concat(
		single(r.Tau, math.Round, shareGrids(10)),
		single(r.Slope, math.Round, survivalGrids(e.c.policy, s.n)[:1]),
		single(p, math.Round, pGrids())), "ranks")
}

// limits adds the chances behind what limits nests.
func (e *evidence) limits(s scope, without string, pool *mixed.Result, add adder) {
	if s.belts == 0 || s.now == 0 {
		return
	}
	rows := pick(belts(e.c.belts, s.label), func(b counts) bool { return without == "" || b.entity != without })
	short, ok := belowMark(rows)
	if !ok {
		return
	}
	lasting, ok := moreThanHalf(pool, e.c.season)
	if !ok {
		return
	}
	add(chance(short, s.now), "short")
	add(chance((1-short)*(1-lasting), s.now), "losses")
	add(chance((1-short)*lasting, s.now), "lasting")
}

// belowMark is the chance that the density is below the mark, going by its interval on the logarithm.
func belowMark(rows []counts) (float64, bool) {
	if len(rows) == 0 {
		return 0, false
	}
	estimate, low, high := perAcre(rows)
	clusters := map[string]bool{}
	for _, b := range rows {
		clusters[b.entity] = true
	}
	df := float64(len(clusters) - 1)
	if !(low > 0) || !(high > low) || df < 1 {
		return 0, false
	}
	se := (math.Log(high) - math.Log(low)) / 2 / interval.Quantile((1+interval.Level)/2, df)
	return interval.CDF((math.Log(mark)-math.Log(estimate))/se, df), true
}

// moreThanHalf is the chance that survival in the season is above a half, going by its interval on log(−log S).
func moreThanHalf(pool *mixed.Result, season int) (float64, bool) {
	for _, p := range pool.OverSubstrates {
		if p.Season != season || !p.Seen || !pool.Converged || !(p.Low > 0 && p.Low < p.Value && p.Value < p.High && p.High < 1) {
			continue
		}
		logLog := func(s float64) float64 { return math.Log(-math.Log(s)) }
		df := pool.Freedom
		if math.IsInf(df, 1) {
			df = 0 // the normal distribution
		}
		se := (logLog(p.Low) - logLog(p.High)) / 2 / interval.Quantile((1+interval.Level)/2, df)
		return interval.CDF((logLog(half)-logLog(p.Value))/se, df), true
	}
	return 0, false
}

// cover adds the gaps and gains of the cooperative's cover model.
func (e *evidence) cover(s scope, without string, m *cover.Model, all numbers) {
	for _, pair := range s.pairs {
		e.gap(s, m.Gap(pair[0], pair[1]), all)
	}
	for _, at := range s.gains {
		if gain, ok := m.Gain(e.stands(at.label, without), mark); ok {
			if x := estimated(gain.Value, gain.Low, gain.High, survivalGrids(e.c.policy, at.now)); len(x) > 0 {
				all[at.label+"|gain"] = x
			}
		}
	}
}

func (e *evidence) gap(s scope, g cover.Gap, all numbers) {
	if !g.Known || s.low == 0 {
		return
	}
	name := "|gap|" + g.B + "|"
	for _, d := range curveDensities() {
		if d < s.low || d > s.high {
			continue
		}
		p := g.At(d)
		if x := estimated(math.Exp(p.Gap), math.Exp(p.Low), math.Exp(p.High), gapGrids(s.n)); len(x) > 0 {
			all[name+fmt.Sprint(d)] = x
		}
	}
	c := g.Crossing
	if g.Slope == 0 {
		return
	}
	// Anything further than the coarsest step beyond the curve is alike: there is no crossing in the range.
	near := func(density float64) float64 { return min(max(density, s.low/coarsest), s.high*coarsest) }
	all[name+"crossing"] = roughly(single(near(c.Density), math.Round, crossingGrids(s.n)))
	closed := 0.0
	if c.Closed {
		closed = 1
		all[name+"ends"] = roughly(slices.Concat(single(near(c.Low), outwardDown, crossingGrids(s.n)), single(near(c.High), outwardUp, crossingGrids(s.n))))
	}
	all[name+"closed"] = single(closed, math.Round, strictly())
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
	var first, firstOn, second, secondOn, nests, lost, ended float64
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
		if n.Fate() == survey.Lost {
			lost++
		}
		if n.Fate().Failed() || n.Fate() == survey.Intact && n.LastIntact() >= 25 {
			ended++
		}
	}
	share := func(name string, part, of float64) {
		add(single(part/of, math.Round, shareGrids(5)), "quality|%s", name)
	}
	share("first", firstOn, first)
	share("second", secondOn, second)
	share("lost", lost, nests)
	share("ended", ended, nests)
	if e.open != nil {
		share("open", open, float64(len(ranches)))
	}
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
	e.audit(s, shown)
	return shown
}

// audit is the interval audit of the cells for rates: where one would tell nearly everybody's, it is not shown.
func (e *evidence) audit(s scope, shown map[string][]float64) {
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
		}
	}
}

// parts gives each entity its nests, and the share of them that a rate says lasted.
func (e *evidence) parts(match func(*nest) bool, rate float64) []disclosure.Part {
	at := map[string]int{}
	var ps []disclosure.Part
	nests, kept := 0.0, 0.0
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
		nests, ps[j].Of = nests+1, ps[j].Of+1
		if !n.Fate().Failed() {
			kept, ps[j].Kept = kept+1, ps[j].Kept+1
		}
	}
	for j := range ps {
		if kept > 0 {
			ps[j].Kept = math.Min(ps[j].Of, ps[j].Kept*rate*nests/kept)
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
