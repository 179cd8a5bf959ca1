package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
)

const (
	// commonShare is the share of the cooperative's nests that makes a substrate a standard one, so that a rare plant is
	// not given the weight of a common one. Ours.
	commonShare = 0.10
	// mostly is the part of the nests not found again that a range allows to have been taken. Ours, and stated beside each figure.
	mostly = 0.9
	// freedom is that of Student's t in ranges, whose variance rests on two numbers that are rounded and partly assumed. Ours.
	freedom = 60
	// assumedSpread and assumedEffect stand in for what too few landowners would tell. Ours, on the safe side of what ranches
	// of simulated nests show; assumedMix lies between landowners who lose to the same animals and such as have mixes of their own.
	assumedSpread, assumedEffect, assumedMix = 0.3, 1.5, 1.2
	// likeness is how much an attacker takes the nests of one owner to share their luck (intraclass correlation). Ours.
	likeness = 0.1
)

// A looked is a nest that was looked at, of a ranch that is counted.
type looked struct {
	member
	label     string // its place, "" where no figure is given by place
	substrate survey.Substrate
	nest      survival.Nest // its Transect is the number of its line
	taken     survival.Nest // where it was not found again, as if it had been taken
	density   float64       // clumps an acre where it was, 0 where it is not known
	*survey.Nest
}

func (n *looked) unit() disclosure.Unit {
	return disclosure.Unit{Entity: n.entity, Known: n.known, New: n.fresh,
		Amounts: []float64{1, float64(max(n.nest.Intact, n.nest.Lost))}} // nests, exposure-days
}

func units(nests []*looked) (us []disclosure.Unit) {
	for _, n := range nests {
		us = append(us, n.unit())
	}
	return us
}

// looked reads the season's nests that were looked at, in an order that does not depend on theirs.
func (c *composer) looked() (nests []*looked) {
	densities := c.siteDensities()
	type line struct {
		entity, ranch, site, name string
	}
	lineOf := func(n *looked) line { return line{n.entity, n.Ranch, n.Site, n.Transect} }
	for i := range c.data.Nests {
		n := &c.data.Nests[i]
		m, counted := c.members[n.Ranch]
		if !counted || n.Season != c.season {
			continue
		}
		if h, taken := c.histories(n); h.Intact > 0 || taken.Lost > 0 {
			nests = append(nests, &looked{member: m, substrate: n.Substrate, nest: h, taken: taken, density: densities.at(n), Nest: n})
		}
	}
	slices.SortFunc(nests, func(a, b *looked) int {
		return cmp.Or(cmp.Compare(a.entity, b.entity), cmp.Compare(a.Ranch, b.Ranch), cmp.Compare(a.Site, b.Site), cmp.Compare(a.Transect, b.Transect),
			cmp.Compare(a.substrate, b.substrate), cmp.Compare(a.nest.Intact, b.nest.Intact), cmp.Compare(a.nest.Lost, b.nest.Lost), cmp.Compare(a.taken.Lost, b.taken.Lost))
	})
	for i, n := range nests {
		if i > 0 {
			n.nest.Transect = nests[i-1].nest.Transect
			if lineOf(n) != lineOf(nests[i-1]) {
				n.nest.Transect++
			}
		}
		n.taken.Transect = n.nest.Transect
	}
	return nests
}

// histories reads one nest as package findings does for a ranch's own figure: all causes of loss, and a nest that was not found
// again counts up to its last good look. The second is the same but for a nest not found again: it had been taken by the day it
// was looked for.
func (c *composer) histories(n *survey.Nest) (h, taken survival.Nest) {
	h.Intact = max(0, n.LastIntact())
	taken = h
	if len(n.Visits) == 0 {
		return h, taken
	}
	gone := c.first.LostBy(n, int(n.Visits[len(n.Visits)-1].On-n.SetOn), h.Intact)
	switch {
	case n.Fate().Failed():
		h.Lost, taken.Lost = gone, gone
	case n.Fate() == survey.Lost:
		taken.Lost = gone
	}
	return h, taken
}

// common returns the standard substrates: those that pass the rules and are common, in order of name.
func (c *composer) common() (standards []survey.Substrate) {
	present := map[survey.Substrate]bool{}
	for _, n := range c.nests {
		present[n.substrate] = true
	}
	for _, h := range slices.Sorted(maps.Keys(present)) {
		list := only(c.nests, h)
		held, _ := c.policy.CheckUnits(units(list))
		if held == "" && len(list) >= c.policy.MinNests && float64(len(list)) >= commonShare*float64(len(c.nests)) {
			standards = append(standards, h)
		}
	}
	return standards
}

// survival adds all figures on survival, each where it fits into the budget beside those before it.
func (c *composer) survival() {
	whole := c.cell(Survival28, "", "")
	listed := append([]survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca, survey.Shrub, survey.Forb}, c.standards...)
	slices.Sort(listed)
	listed = slices.Compact(listed)
	if len(c.standards) == 0 {
		held, _ := c.policy.CheckUnits(units(c.nests))
		c.hold(whole, cmp.Or(held, disclosure.TooFew))
		c.byCover(listed, nil, 0, disclosure.TooFew)
		c.steady(false, 0)
		c.curve(nil, "")
		c.left(nil, false)
		return
	}
	all := c.rateOf(only(c.nests, c.standards...), c.standards...)
	n := c.behind(c.nests, c.standards...)
	budget := &budget{c: c, nests: all.nests}
	exact := budget.fits(c.meanRow(""))
	if exact {
		c.measure(all, n)
	} else {
		c.assume(all)
	}
	whole.Nests = c.count(n, len(all.nests))
	whole.Transects = c.countUnits(n, lines(all.nests))
	if exact || budget.fitsWindow() {
		c.give(whole, all, n, exact)
	} else {
		c.hold(whole, disclosure.TooMuch)
	}

	held := disclosure.TooMuch
	if exact && budget.fits(c.coverRows()...) {
		held = ""
	}
	c.byCover(listed, c.standards, n, held)
	c.steady(exact, n)
	c.curve(budget, held)
	c.byPlace(budget, exact)
	c.left(budget, exact)
}

// behind is how many entities have nests in each of the covers.
func (c *composer) behind(nests []*looked, covers ...survey.Substrate) int {
	n := len(nests)
	for _, h := range covers {
		_, of := c.policy.CheckUnits(units(only(nests, h)))
		n = min(n, of)
	}
	return n
}

// byCover gives survival in each standard cover where nothing holds them all back. Where one of them would tell nearly everybody's, none is given: with
// the mean over all, the others would.
func (c *composer) byCover(listed, standards []survey.Substrate, n int, held disclosure.Reason) {
	var rates []*rate
	for _, h := range standards {
		r := c.rateOf(only(c.nests, h), h)
		rates = append(rates, r)
		if held == "" && c.policy.Audit(r.parts(), r.s, r.s) != "" && len(standards) > 1 {
			held = disclosure.TooAlike
		}
	}
	for _, h := range listed {
		cell := c.cell(Survival28, "", string(h))
		i := slices.Index(standards, h)
		switch {
		case i < 0:
			why, _ := c.policy.CheckUnits(units(only(c.nests, h)))
			c.hold(cell, cmp.Or(why, disclosure.TooSmall))
		case held != "" && len(standards) > 1:
			c.hold(cell, held)
		default: // where there is one cover alone, it is the whole once more
			of := c.behind(rates[i].nests, h)
			cell.Nests = c.count(of, len(rates[i].nests))
			c.give(cell, rates[i], of, held == "")
		}
	}
}

// give puts a rate on the grid, or in a window where it is not exact; or, where it would tell nearly everybody's, an open band
// at the end of the scale.
func (c *composer) give(cell Cell, r *rate, n int, exact bool) {
	figure, held := c.rateFigure(r, n, exact)
	if held != "" {
		c.hold(cell, held)
		return
	}
	c.publish(cell, n, figure)
}

func (c *composer) rateFigure(r *rate, n int, exact bool) (disclosure.Figure, disclosure.Reason) {
	if !r.told || len(r.nests) < c.policy.MinNests {
		return disclosure.Figure{}, disclosure.TooSmall
	}
	low, high := c.span(r, c.policy.Points(n))
	why := c.policy.Reliable(len(r.nests), r.failed, r.s, low, high)
	if why == "" && !exact {
		window, holds := c.policy.Window(r.s, low, high)
		if !holds {
			return disclosure.Figure{}, disclosure.TooVague
		}
		if why = c.policy.Audit(r.parts(), *window.Low, *window.High); why == "" {
			return window, ""
		}
	}
	if why == "" {
		if why = c.policy.Audit(r.parts(), r.s, r.s); why == "" {
			return c.policy.Rate(n, r.s, low, high), ""
		}
	}
	if band, ok := c.policy.Extreme(r.s); ok && why != disclosure.TooVague && c.policy.Audit(r.parts(), *band.Low, *band.High) == "" {
		return band, ""
	}
	return disclosure.Figure{}, why
}

// A rate is the survival of some nests, standardised over covers in equal shares, with what its range is made of.
type rate struct {
	nests  []*looked
	told   bool
	failed int
	s      float64
	low    float64 // if the nests not found again had mostly been taken
	chance float64 // variance by chance alone
	// What a variance of 1 of the logarithm of the hazard between lines, and between owners, adds to the variance.
	lines, owners float64
	// What each line adds to the estimate, with its owner's number: the line's number is the index.
	pulls []pull
}

type pull struct {
	entity string
	f      float64 // of the line's luck, in S
	weight float64 // of a shift of the logarithm of the line's hazard, in S
}

// rateOf fits one survival for each cover and takes their mean.
func (c *composer) rateOf(nests []*looked, covers ...survey.Substrate) *rate {
	r := &rate{nests: nests, told: true}
	if len(nests) > 0 {
		r.pulls = make([]pull, nests[len(nests)-1].nest.Transect+1)
	}
	share := 1 / float64(len(covers))
	for _, h := range covers {
		list := only(nests, h)
		histories, taken := make([]survival.Nest, len(list)), make([]survival.Nest, len(list))
		for i, n := range list {
			histories[i], taken[i] = n.nest, n.taken
			if n.nest.Lost > 0 {
				r.failed++
			}
		}
		fit, other := survival.Fit(histories), survival.Fit(taken)
		r.told = r.told && fit.Told()
		if !r.told {
			return r
		}
		r.s += share * fit.S28
		r.low += share * (fit.S28 - mostly*max(0, fit.S28-other.S28))
		r.chance += share * share * fit.ModelCov[1][1]
		slope := share * steep(fit.S28)
		for _, n := range list {
			p := &r.pulls[n.nest.Transect]
			p.entity = n.entity
			p.weight += slope / float64(len(list))
		}
		for _, f := range fit.Influence {
			r.pulls[f.Transect].f += share * f.S28
		}
	}
	r.lines, r.owners = squares(r.pulls, func(p pull) float64 { return p.weight })
	return r
}

// steep is how much survival to day 28 falls for a rise of 1 in the logarithm of the hazard.
func steep(s float64) float64 {
	if s <= 0 || s >= 1 {
		return 0
	}
	return -s * math.Log(s)
}

// squares adds the squares of what each line has, and of what each owner has in all; pulls are in order of owner.
func squares(pulls []pull, of func(pull) float64) (lines, owners float64) {
	sum, entity := 0.0, ""
	for _, p := range pulls {
		if p.entity == "" {
			continue // a line without such nests
		}
		if p.entity != entity {
			owners += sum * sum
			sum, entity = 0, p.entity
		}
		x := of(p)
		lines += x * x
		sum += x
	}
	return lines, owners + sum*sum
}

// parts gives each entity its nests, and the share of them that the rate says lasted: nests that were not
// followed to day 28 count with the others.
func (r *rate) parts() (ps []disclosure.Part) {
	kept := 0.0
	for _, n := range r.nests { // in order of entity
		if len(ps) == 0 || ps[len(ps)-1].Entity != n.entity {
			ps = append(ps, disclosure.Part{Entity: n.entity, Known: n.known})
		}
		p := &ps[len(ps)-1]
		p.Of++
		if n.nest.Lost == 0 {
			p.Kept++
			kept++
		}
	}
	for i := range ps {
		if kept > 0 {
			ps[i].Kept = math.Min(ps[i].Of, ps[i].Kept*r.s*float64(len(r.nests))/kept)
		}
	}
	return ps
}

// lines is one unit for each line with nests.
func lines(nests []*looked) (us []disclosure.Unit) {
	for i, n := range nests {
		if i == 0 || n.nest.Transect != nests[i-1].nest.Transect {
			us = append(us, disclosure.Unit{Entity: n.entity, Known: n.known, Amounts: []float64{1}})
		}
	}
	return us
}

// span is the range of a rate that is given on a grid of so many points.
//
// Its variance is chance's, more what lines and owners add by the published design effect and spread, and the grid's. The interval is
// made on log(−log S). It reaches from the estimate upward, and downward from where the estimate would be had mostly all the
// nests not found again been taken; how many standard errors, is what makes it hold the truth 95 times in 100 wherever in between that is
// (Imbens and Manski 2004, Econometrica 72:1845-1857).
func (c *composer) span(r *rate, points float64) (low, high float64) {
	slope := steep(r.s)
	if slope == 0 {
		return 0, 1
	}
	v := r.chance + c.effects.lines*r.lines + c.effects.owners*r.owners + points*points/12e4
	se := math.Sqrt(v) / slope
	shift := logLog(max(r.low, 1e-6)) - logLog(r.s)
	k := reach(shift / se)
	return fromLogLog(logLog(r.s) + shift + k*se), fromLogLog(logLog(r.s) - k*se)
}

// reach solves P(t ≤ k + shift) − P(t ≤ −k) = 0.95.
func reach(shift float64) float64 {
	low, high := 0.0, 10.0
	for range 60 {
		if k := (low + high) / 2; interval.CDF(k+shift, freedom)-interval.CDF(-k, freedom) < interval.Level {
			low = k
		} else {
			high = k
		}
	}
	return high
}

func logLog(s float64) float64     { return math.Log(-math.Log(s)) }
func fromLogLog(x float64) float64 { return math.Exp(-math.Exp(x)) }

// effects are the variances of the logarithm of the hazard between lines and between owners that all ranges of survival are made with, and
// the two published numbers that say so.
type effects struct {
	lines, owners  float64
	design, spread float64
}

// measure estimates the effects from how far lines and owners pull the estimate:
//
//	Σ f²     over lines   chance + (σ² + τ²)·Σ weight²
//	Σ (Σ f)² over owners  chance + σ²·Σ weight² + τ²·Σ (Σ weight)²
//
// each times G/(G−1), with σ² the variance between lines of an owner and τ² that between owners. What is used is what is published, on coarse steps.
func (c *composer) measure(r *rate, n int) {
	byLine, byOwner := squares(r.pulls, func(p pull) float64 { return p.f })
	lines, owners, last := 0.0, 0.0, ""
	for _, p := range r.pulls {
		if p.entity == "" {
			continue
		}
		lines++
		if p.entity != last {
			owners, last = owners+1, p.entity
		}
	}
	if !r.told || r.chance == 0 || r.lines == 0 || owners < 2 {
		c.assume(r)
		return
	}
	byLine, byOwner = byLine*lines/(lines-1), byOwner*owners/(owners-1)
	spread := 0.0
	if r.owners > r.lines {
		spread = max(0, (byOwner-byLine)/(r.owners-r.lines))
	}
	c.effects.design = onStep(1+max(0, (byLine-r.chance)/r.lines-spread)*r.lines/r.chance, 1, 4, 0.25)
	c.effects.spread = assumedSpread
	if n >= c.policy.SpreadEntities { // steadied by eight landowners' worth of a usual spread
		const usual, worth = 0.25, 8
		c.effects.spread = onStep(math.Sqrt((owners*spread+worth*usual*usual)/(owners+worth)), 0.05, 0.8, 0.05)
	}
	c.settle(r)
}

func (c *composer) assume(r *rate) {
	c.effects = effects{design: assumedEffect, spread: assumedSpread}
	c.settle(r)
}

func (c *composer) settle(r *rate) {
	c.effects.owners = c.effects.spread * c.effects.spread
	if r.lines > 0 {
		c.effects.lines = (c.effects.design - 1) * r.chance / r.lines
	}
}

func onStep(x, least, most, step float64) float64 {
	return math.Round(min(max(x, least), most)/step) * step
}

// steady gives the two numbers that ranges are made with.
func (c *composer) steady(exact bool, n int) {
	effect, spread := c.cell(DesignEffect, "", ""), c.cell(OwnerSpread, "", "")
	if !exact {
		c.hold(effect, disclosure.TooFew)
		c.hold(spread, disclosure.TooFew)
		return
	}
	c.publish(effect, n, disclosure.Figure{Estimate: new(c.effects.design)})
	if n < c.policy.SpreadEntities {
		c.hold(spread, disclosure.TooFew)
		return
	}
	c.publish(spread, n, disclosure.Figure{Estimate: new(math.Round(100*c.effects.spread) / 100)})
}
