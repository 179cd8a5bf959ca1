package bulletin

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// A ground is who has what where, this season and in the one that the partition is planned from: units by area and
// substrate, one for each entity.
type ground struct {
	c         *composer
	standards []survey.Substrate
	now, plan map[string]map[survey.Substrate][]disclosure.Unit
}

// settle decides the places: an area by itself where it passes in every standard substrate, else with its group. Where
// places are left that fail, the smallest of them joins the next smallest, as long as that makes more figures: nobody's
// area need be without one because a neighbour's has too few landowners.
func (c *composer) settle(now, plan []*looked, standards []survey.Substrate) {
	switch {
	case c.prior != nil:
		c.labels = maps.Clone(c.prior.Log.Labels)
		for _, a := range c.areas { // new since
			c.labels[a.Name] = cmp.Or(c.labels[a.Name], elsewhere)
		}
	default:
		g := &ground{c: c, standards: standards, now: unitsOf(now), plan: unitsOf(plan)}
		places := g.grouped()
		best, most := places, g.figures(places)
		for len(places) > 2 {
			var ok bool
			if places, ok = g.join(places); !ok {
				break
			}
			if n := g.figures(places); n > most {
				best, most = places, n
			}
		}
		c.labels = map[string]string{}
		for _, areas := range best {
			for _, a := range areas {
				c.labels[a] = cmp.Or(strings.Join(areas, " + "), elsewhere)
			}
		}
	}
	for _, n := range slices.Concat(now, plan) {
		n.label = c.labels[n.area]
	}
}

// unitsOf adds nests up.
func unitsOf(nests []*looked) map[string]map[survey.Substrate][]disclosure.Unit {
	if len(nests) == 0 {
		return nil
	}
	all := map[string]map[survey.Substrate][]disclosure.Unit{}
	for _, n := range nests { // in order of entity
		if all[n.area] == nil {
			all[n.area] = map[survey.Substrate][]disclosure.Unit{}
		}
		us, u := all[n.area][n.substrate], n.unit()
		if last := len(us) - 1; last >= 0 && us[last].Entity == u.Entity {
			for i, x := range u.Amounts {
				us[last].Amounts[i] += x
			}
			continue
		}
		all[n.area][n.substrate] = append(us, u)
	}
	return all
}

// grouped is the partition by area and group: each place is its areas in order of name.
func (g *ground) grouped() (places [][]string) {
	failing := map[string]bool{} // groups of which an area with nests fails
	for _, a := range g.c.areas {
		if a.Group != "" && len(g.now[a.Name]) > 0 && !g.passes([]string{a.Name}) {
			failing[a.Group] = true
		}
	}
	at := map[string]int{}
	for _, a := range g.c.areas {
		if i, joined := at[a.Group]; joined && failing[a.Group] {
			places[i] = append(places[i], a.Name)
			continue
		}
		at[a.Group] = len(places)
		places = append(places, []string{a.Name})
	}
	return places
}

// join puts the smallest place that fails with the smallest other, or returns false where none fails.
func (g *ground) join(places [][]string) ([][]string, bool) {
	bySize := slices.Clone(places)
	bySize = slices.DeleteFunc(bySize, func(p []string) bool { return g.size(p) == 0 })
	slices.SortFunc(bySize, func(a, b []string) int { return cmp.Or(cmp.Compare(g.size(a), g.size(b)), slices.Compare(a, b)) })
	i := slices.IndexFunc(bySize, func(p []string) bool { return !g.passes(p) })
	if i < 0 || len(bySize) < 2 {
		return places, false
	}
	other := 0
	if i == 0 {
		other = 1
	}
	joined := slices.Sorted(slices.Values(slices.Concat(bySize[i], bySize[other])))
	var next [][]string
	for _, p := range places {
		if !slices.Equal(p, bySize[i]) && !slices.Equal(p, bySize[other]) {
			next = append(next, p)
		}
	}
	return append(next, joined), true
}

// size is the number of nests in a place.
func (g *ground) size(place []string) (n float64) {
	for _, a := range place {
		for _, us := range g.now[a] {
			for _, u := range us {
				n += u.Amounts[0]
			}
		}
	}
	return n
}

// figures counts the cells by place that a partition would give.
func (g *ground) figures(places [][]string) int {
	n, fail := 0, map[survey.Substrate]bool{}
	for _, p := range places {
		if g.size(p) == 0 {
			continue
		}
		n++
		for _, h := range g.standards {
			fail[h] = fail[h] || !g.passesIn(p, h)
		}
	}
	good := 0
	for _, h := range g.standards {
		if !fail[h] {
			good++
		}
	}
	switch {
	case n < 2:
		return 0
	case good == len(g.standards):
		return n * (good + 1) // and all substrates
	}
	return n * good
}

func (g *ground) passes(place []string) bool {
	return !slices.ContainsFunc(g.standards, func(h survey.Substrate) bool { return !g.passesIn(place, h) })
}

func (g *ground) passesIn(place []string, h survey.Substrate) bool {
	in := func(all map[string]map[survey.Substrate][]disclosure.Unit) (us []disclosure.Unit) {
		for _, a := range place {
			us = append(us, all[a][h]...)
		}
		return us
	}
	if held, _ := g.c.policy.CheckUnits(in(g.now)); held != "" {
		return false
	}
	if g.plan == nil {
		return true
	}
	held, _ := g.c.policy.CheckUnits(in(g.plan))
	return held == ""
}
