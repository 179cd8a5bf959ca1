package mixed

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Options of [Pool].
type Options struct {
	// SubstrateMix and SiteTypeMix are the weights to standardise with. Nil is equal shares of the substrates
	// present, and the share of transects that each type of site has.
	SubstrateMix, SiteTypeMix map[string]float64

	Level float64 // of the intervals; 0 is 0.95
}

// Effect is a fixed effect on the complementary log-log scale, where a difference is the logarithm of a hazard ratio.
type Effect struct {
	Term, Level  string
	Estimate, SE float64
	Low, High    float64 // its interval
	Known        bool    // false where the data cannot tell; the numbers then mean nothing
}

// Prediction is the survival to day 28 expected in a season and substrate on a ranch and transect of which nothing is
// known.
type Prediction struct {
	Season    int
	Substrate string
	Estimate
	Seen bool // whether there were nests of it; else the figure is the model's alone
}

// RanchEffect is one ranch beside the others.
type RanchEffect struct {
	Ranch      string
	Effect, SE float64  // log hazard against the mean ranch, drawn in, and its conditional standard error
	Day28      Estimate // over all seasons equally and the standard mix of substrates, at the ranch's own sites
}

// Result is the regional model.
type Result struct {
	Intervals, Ranches, Transects int

	Fixed               []Effect
	RanchSD, TransectSD float64
	LogLik              float64 // of the single visit intervals, without binomial constants
	Converged           bool
	Standardised        []Prediction
	OverSubstrates      []Prediction // a season each, over the mix of substrates; Substrate is empty
	Freedom             float64      // degrees of freedom of the intervals of these two
	RanchEffects        []RanchEffect
	Notes               []string
}

// Pool fits the regional model to the visit intervals of a region: substrate, period, season and type of site as
// fixed effects, ranches and transects within them as random ones. Without intervals the result is a note.
func Pool(list []Interval, opt Options) *Result {
	if opt.Level == 0 {
		opt.Level = 0.95
	}
	p := newPool(Group(list), opt)
	if len(p.g.Counts) == 0 {
		p.note("There are no visit intervals to fit a model to.")
		return p.out
	}
	p.run()
	p.fixed()
	p.standardise()
	p.ranches()
	return p.out
}

// pool is the work on one result.
type pool struct {
	opt Options
	out *Result

	g, rest *Grouped // all intervals, and those the model is fitted to
	sides   []Side
	columns []Column
	period  bool
	over    Periods
	fit     *Fit
	predict *Predictor
}

func newPool(g *Grouped, opt Options) *pool {
	p := &pool{opt: opt, g: g, out: &Result{Intervals: len(g.Counts), Ranches: len(g.Ranches), Transects: len(g.Of)}}
	if g.LeftOut > 0 {
		p.note("%d visit intervals had no length or no usable dates and were left out.", g.LeftOut)
	}
	factors := []Factor{BySubstrate(), BySeason(), BySiteType()}
	p.rest, p.sides = g.Split(factors...)
	for _, s := range p.sides {
		end := "No nest was lost"
		if s.Lost {
			end = "Every nest was lost"
		}
		p.note("%s at %s %s, so how it differs from the others cannot be told.", end, term(s.Term), name(s.Level))
	}
	p.columns = []Column{Intercept()}
	for _, f := range factors {
		levels := f.Levels(p.rest.Used())
		if all := f.Levels(g.Settings); len(levels) > 0 && levels[0] != all[0] {
			p.note("The others are therefore held against %s %s instead of %s.", term(f.Term), name(levels[0]), name(all[0]))
		}
		p.columns = append(p.columns, f.Columns(levels)...)
	}
	return p
}

func (p *pool) note(format string, a ...any) {
	p.out.Notes = append(p.out.Notes, fmt.Sprintf(format, a...))
}

func term(t string) string {
	if t == "site_type" {
		return "site type"
	}
	return t
}

func name(level string) string {
	if level == "" {
		return "not given"
	}
	return level
}

// run fits the model.
func (p *pool) run() {
	periods := p.rest.Periods()
	p.period, p.over = periods.Apart, periods
	p.fit = p.rest.Model(p.columns, periods).Run()
	p.out.Freedom = p.freedom()
	p.predict = p.fit.Predictor(periods, p.opt.Level, p.out.Freedom)
	p.out.RanchSD, p.out.TransectSD = p.fit.RanchSD, p.fit.TransectSD
	p.out.LogLik, p.out.Converged = p.fit.LogLik, p.fit.Converged
	if periods.Note != "" && p.fitted() {
		p.note("%s", periods.Note)
	}
	p.out.Notes = append(p.out.Notes, p.fit.Notes...)
	if !p.fitted() {
		return
	}
	for j, c := range p.columns {
		if !p.fit.Known[j] {
			p.note("What is due to %s cannot be told from the rest.", strings.TrimSpace(term(c.Term)+" "+c.Level))
		}
	}
	if p.period && !p.fit.Known[len(p.columns)] {
		p.note("The days before and after day 14 cannot be told apart.")
	}
}

// freedom is the degrees of freedom behind the level of survival in the region, which few ranches know less well than
// a normal interval has it: ranches less the types of site they are told apart by, or transects less fixed effects
// where no ranch effect is in the model (the between–within rule; Schluchter and Elashoff 1990, J. Stat. Comput.
// Simul. 37:69-87). In simulated cooperatives of 6, 10 and 20 ranches normal intervals cover the truth in 91, 92 and
// 94 of 100, these in 98, 96 and 95.
func (p *pool) freedom() float64 {
	types := len(BySiteType().Levels(p.rest.Used()))
	ranches, transects := p.fit.RanchesSeen, p.fit.TransectsSeen
	switch {
	case ranches > 1:
		return math.Max(1, float64(ranches-types))
	case transects > 1:
		return math.Max(1, float64(transects-len(p.columns)))
	}
	return math.Inf(1)
}

// fixed lists the effects: intercept, substrate, period, season, site type.
func (p *pool) fixed() {
	add := func(e Effect) {
		half := p.width(e.Term) * e.SE
		e.Low, e.High = e.Estimate-half, e.Estimate+half
		p.out.Fixed = append(p.out.Fixed, e)
	}
	list := func(t string) {
		for j, c := range p.columns {
			if c.Term == t {
				add(Effect{Term: t, Level: c.Level, Estimate: p.fit.Coef[j], SE: p.fit.SE(j), Known: p.fit.Known[j]})
			}
		}
		for _, s := range p.sides {
			if s.Term == t {
				add(Effect{Term: t, Level: s.Level})
			}
		}
	}
	list("intercept")
	list("substrate")
	e := Effect{Term: "period", Level: "14-28"}
	if j := len(p.columns); p.period {
		e.Estimate, e.SE, e.Known = p.fit.Coef[j], p.fit.SE(j), p.fit.Known[j]
	}
	add(e)
	list("season")
	list("site_type")
}

// width is half of a fixed effect's interval, in standard errors. What differs within ranches is told by many transects. A
// type of site is told by how ranches of one type differ from those of another, and of ranches there are few: there it is
// Student's t on the degrees of freedom of the level, times √(ranches/freedom), since likelihood estimates the variance
// between ranches with all of them for a divisor. In simulated cooperatives of 6, 10 and 20 ranches normal intervals cover
// the truth in 81, 87 and 95 of 100, these in 96, 95 and 97. Where one ranch has several types it is wider than it must be.
func (p *pool) width(term string) float64 {
	df := p.out.Freedom
	if term != "site_type" || math.IsInf(df, 1) {
		return Quantile(p.opt.Level, math.Inf(1))
	}
	return Quantile(p.opt.Level, df) * math.Sqrt(math.Max(1, float64(p.fit.RanchesSeen)/df))
}

// standardise predicts each season and substrate over the mix of site types.
func (p *pool) standardise() {
	sites := p.siteMix()
	type cell struct {
		season    int
		substrate string
	}
	seen := make(map[cell]bool)
	for _, s := range p.g.Settings {
		seen[cell{s.Season, s.Substrate}] = true
	}
	for _, season := range p.seasons() {
		var over []Part
		all := true
		for _, substrate := range BySubstrate().Levels(p.g.Settings) {
			var parts []Part
			share := p.share(substrate)
			for _, site := range BySiteType().Levels(p.g.Settings) {
				part := p.part(sites[site], Setting{Season: season, Substrate: substrate, SiteType: site})
				parts = append(parts, part)
				part.Weight *= share
				over = append(over, part)
			}
			at := Setting{Season: season, Substrate: substrate}
			p.out.Standardised = append(p.out.Standardised, Prediction{season, substrate,
				p.bound(p.predict.Region(parts), at), seen[cell{season, substrate}]})
			all = all && seen[cell{season, substrate}]
		}
		at := Setting{Season: season}
		p.out.OverSubstrates = append(p.out.OverSubstrates, Prediction{season, "", p.bound(p.predict.Region(over), at), all})
	}
}

// share is the weight of a substrate in the standard mix.
func (p *pool) share(substrate string) float64 {
	if p.opt.SubstrateMix == nil {
		return 1
	}
	return p.opt.SubstrateMix[substrate]
}

// ranches predicts each ranch at its own sites.
func (p *pool) ranches() {
	sites := p.sites()
	substrates := BySubstrate().Levels(p.g.Settings)
	siteTypes := BySiteType().Levels(p.g.Settings)
	for r, ranch := range p.g.Ranches {
		var parts []Part
		for _, site := range siteTypes {
			weight := sites[r][site]
			if weight == 0 {
				continue
			}
			for _, season := range p.seasons() {
				for _, substrate := range substrates {
					parts = append(parts, p.part(weight*p.share(substrate), Setting{Season: season, Substrate: substrate, SiteType: site}))
				}
			}
		}
		mode := p.fit.Ranches[r]
		p.out.RanchEffects = append(p.out.RanchEffects, RanchEffect{ranch, mode.Effect, mode.SE,
			p.bound(p.predict.Ranch(r, parts), Setting{})})
	}
}

// seasons in order.
func (p *pool) seasons() []int {
	var list []int
	for _, level := range BySeason().Levels(p.g.Settings) {
		if year, err := strconv.Atoi(level); err == nil {
			list = append(list, year)
		}
	}
	return list
}

// sites counts the transects of each ranch by type of site.
func (p *pool) sites() []map[string]float64 {
	sites := make([]map[string]float64, len(p.g.Ranches))
	for r := range sites {
		sites[r] = make(map[string]float64)
	}
	done := make([]bool, len(p.g.Of))
	for _, c := range p.g.Counts {
		if !done[c.Transect] {
			done[c.Transect] = true
			sites[p.g.Of[c.Transect]][p.g.Settings[c.Row].SiteType]++
		}
	}
	return sites
}

// siteMix is the weight of each type of site in the region.
func (p *pool) siteMix() map[string]float64 {
	if p.opt.SiteTypeMix != nil {
		return p.opt.SiteTypeMix
	}
	mix := make(map[string]float64)
	for _, ranch := range p.sites() {
		for site, n := range ranch {
			mix[site] += n
		}
	}
	return mix
}

// part is a setting in a prediction. Where a level of it is one-sided, or nothing could be fitted, the survival is
// what was seen: all or none.
func (p *pool) part(weight float64, s Setting) Part {
	for _, f := range []Factor{BySubstrate(), BySeason(), BySiteType()} {
		for _, side := range p.sides {
			if side.Term == f.Term && side.Level == f.Of(s) {
				return Part{Weight: weight, Fixed: end(side.Lost)}
			}
		}
	}
	if !p.fitted() {
		return Part{Weight: weight, Fixed: end(p.whole().Lost)}
	}
	return Part{Weight: weight, Row: Row(p.columns, s)}
}

// fitted says whether there was something to fit.
func (p *pool) fitted() bool { return p.fit.Cells > 0 && p.fit.Lookups > 0 }

// whole is the side of all intervals together, where every nest came to one end: of those that were lost in the end, the
// intervals in which they were.
func (p *pool) whole() Side {
	var all, lost Side
	for _, c := range p.rest.Counts {
		days := c.Early + c.Late
		all.N, all.Days = all.N+c.N, all.Days+float64(c.N)*days
		lost.N, lost.Days = lost.N+c.Lost, lost.Days+float64(c.Lost)*days
	}
	if lost.N > 0 {
		lost.Lost = true
		return lost
	}
	return all
}

func end(lost bool) *float64 {
	s := 1.0
	if lost {
		s = 0
	}
	return &s
}

// bound gives a survival of 0 or 1 an interval, from the intervals that all came to this end: without a loss in T days
// the daily survival is above (α/2)^(1/T); with n of n lost the survival of an interval is below 1 − (α/2)^(1/n).
func (p *pool) bound(e Estimate, at Setting) Estimate {
	if e.Low != e.High || e.Value > 0 && e.Value < 1 {
		return e
	}
	side := p.whole()
	for _, s := range p.sides {
		if s.Term == "substrate" && s.Level == at.Substrate || s.Term == "season" && s.Level == strconv.Itoa(at.Season) {
			side = s
			break
		}
	}
	return bounded(e, side, p.opt.Level)
}
