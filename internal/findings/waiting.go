package findings

import (
	"slices"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// waiting lists the nests of a place and substrate that wait for an answer of their sender. A nest that does not say its
// ranch or its season may belong to any, and one whose cover is not known to any substrate; substrate "" is all.
func (c *computation) waiting(p place, substrate survey.Substrate) []*survey.Nest {
	var list []*survey.Nest
	for i := range c.opt.Waiting {
		n := &c.opt.Waiting[i]
		switch {
		case n.Ranch != "" && n.Ranch != p.ranch:
		case n.Season != 0 && n.Season != p.season:
		case !p.whole && n.Site != p.site:
		case substrate != "" && n.Substrate != "" && n.Substrate != substrate:
		default:
			list = append(list, n)
		}
	}
	return list
}

// onlyWaiting lists the places all of whose nests wait.
func (c *computation) onlyWaiting(groups []group[survey.Nest]) []group[survey.Nest] {
	var named []survey.Nest
	for i := range c.opt.Waiting {
		if n := &c.opt.Waiting[i]; n.Ranch != "" && n.Season != 0 {
			named = append(named, *n)
		}
	}
	var only []group[survey.Nest]
	for _, g := range groupNests(named) {
		if !slices.ContainsFunc(groups, func(o group[survey.Nest]) bool { return o.place == g.place }) {
			only = append(only, group[survey.Nest]{place: g.place})
		}
	}
	return only
}

// hold takes the figures back from a row whose nests wait in part: the readable part alone would pass for the whole. What
// remains is the range from none of the waiting nests having lasted to all of them.
func (c *computation) hold(row *Survival, p place, strata []stratum) {
	substrate := deref(row.Substrate)
	open := c.waiting(p, substrate)
	if len(open) == 0 {
		return
	}
	row.Waiting = len(open)
	row.Apparent = Range{}
	low, _ := interval.Wilson(row.Intact, row.Known+len(open), interval.Level)
	_, high := interval.Wilson(row.Intact+len(open), row.Known+len(open), interval.Level)
	row.Apparent.Low, row.Apparent.High = number(low), number(high)
	for k := range row.Daily {
		row.Daily[k].Rate, row.Daily[k].SE = nil, nil
	}
	row.Day28, row.Day28Predators, row.IfLost, row.DesignEffect = Estimate{}, Estimate{}, IfLost{}, nil
	row.spread, row.early = interval.Spread{}, Estimate{}

	var n note
	n.say(words.LaterCount("%d nest waits for an answer and is not counted yet.", "%d nests wait for answers and are not counted yet.", len(open)))
	if none, ok := c.ifWaiting(p.season, strata, open, survival.Nest{Lost: survival.Cut}); ok {
		if all, ok := c.ifWaiting(p.season, strata, open, survival.Nest{Intact: survival.Horizon}); ok {
			row.Day28.Low, row.Day28.High = none.Low, all.High
			n.say(words.Later("The low end is that of the range if none of them lasted, the high end if all of them did."))
		}
	}
	row.Note, row.Notes = n.String(), n
}

// ifWaiting returns survival to day 28 over all substrates if what is handed in had become of every waiting nest; false
// where it cannot be told, as where one of them sits in nobody knows what.
func (c *computation) ifWaiting(season int, strata []stratum, open []*survey.Nest, became survival.Nest) (Range, bool) {
	filled := slices.Clone(strata)
	for i := range filled {
		filled[i].nests = slices.Clone(filled[i].nests)
	}
	for _, n := range open {
		if n.Substrate == "" {
			return Range{}, false
		}
		i := slices.IndexFunc(filled, func(s stratum) bool { return s.substrate == n.Substrate })
		if i < 0 {
			i = len(filled)
			filled = append(filled, stratum{substrate: n.Substrate})
		}
		became.Transect = c.transects[n.Key()]
		filled[i].nests = append(filled[i].nests, became)
	}
	for i := range filled {
		filled[i].fit = c.fit(season, filled[i].nests)
	}
	var quiet note
	e := c.standardise(filled, headline, &quiet)
	if !e.told || len(quiet) > 0 {
		return Range{}, false
	}
	return estimate(e.S28, e.SE, e.Spread).Range, true
}
