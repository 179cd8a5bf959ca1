package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"tussock/internal/disclosure"
	"tussock/internal/findings"
	"tussock/internal/stat/mixed"
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
)

// evidence is all that the figures of a season are made of: the rows of every season up to it, of ranches that are
// counted, in an order that does not depend on theirs.
type evidence struct {
	c         *composer
	standards []string
	seasons   []int // in which there were nests, rising
	visits    []visit
	nests     []nest // of all substrates
	open      map[string]bool
	own       map[string][]float64 // by ranch: its survival to day 28 in each of seasons, NaN where it has none
	ranchOf   map[string]member    // by the key of own
	all       []block
	held      map[string]disclosure.Reason // by number; "" where it is shown
	whole     scope                        // the cooperative, where it may have figures
}

// A visit is one interval between two looks at a nest in a standard substrate.
type visit struct {
	mixed.Interval // X is the density of all clumps at the site that season, 0 where it is not known
	entity, label  string
}

// A nest is one that was looked at.
type nest struct {
	member
	ranch, label string
	season       int
	standard     bool
	*survey.Nest
}

// evidence gathers the rows of the season and of those before it.
func (c *composer) evidence(open map[string]bool) *evidence {
	e := &evidence{c: c, standards: c.log.Standards, open: open, own: map[string][]float64{}, held: map[string]disclosure.Reason{}, ranchOf: map[string]member{}}
	counted := survey.Data{Sites: c.data.Sites}
	seasons := map[int]bool{}
	for i := range c.data.Nests {
		n := &c.data.Nests[i]
		m, ok := c.members[n.Ranch]
		if h := c.history(n); !ok || n.Season > c.season || h.Intact == 0 && h.Lost == 0 {
			continue
		}
		standard := slices.Contains(e.standards, string(n.Substrate))
		e.nests = append(e.nests, nest{member: m, ranch: n.Ranch, label: c.labels[m.area], season: n.Season, standard: standard, Nest: n})
		if standard {
			counted.Nests = append(counted.Nests, *n)
			seasons[n.Season] = true
		}
	}
	e.seasons = slices.Sorted(maps.Keys(seasons))
	densities := c.siteDensities()
	for _, v := range findings.Intervals(&counted, densities.at) {
		m := c.members[v.Ranch]
		e.visits = append(e.visits, visit{v, m.entity, c.labels[m.area]})
	}
	slices.SortFunc(e.visits, func(a, b visit) int {
		return cmp.Or(strings.Compare(a.Ranch, b.Ranch), cmp.Compare(a.Season, b.Season), strings.Compare(a.Transect, b.Transect),
			strings.Compare(a.Substrate, b.Substrate), cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To), order(a.Intact, b.Intact))
	})
	e.all = e.blocks()
	e.ownSurvivals()
	return e
}

func order(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// ownSurvivals fills own: of each ranch and season with nests in every standard substrate, the mean of their survivals.
func (e *evidence) ownSurvivals() {
	type key struct {
		ranch     string
		season    int
		substrate survey.Substrate
	}
	nests := map[key][]survival.Nest{}
	for _, n := range e.nests {
		if n.standard {
			k := key{n.ranch, n.season, n.Substrate}
			nests[k] = append(nests[k], e.c.history(n.Nest))
			e.ranchOf[n.ranch] = n.member
		}
	}
	for ranch := range e.ranchOf {
		row := make([]float64, len(e.seasons))
		for i, season := range e.seasons {
			for _, h := range e.standards {
				fit := survival.Fit(nests[key{ranch, season, survey.Substrate(h)}])
				if !fit.Told() {
					row[i] = math.NaN()
					break
				}
				row[i] += fit.S28 / float64(len(e.standards))
			}
		}
		e.own[ranch] = row
	}
}

// siteDensities are the clumps an acre of all kinds, by site and season and by ranch and season.
type siteDensities map[siteSeason]*tallied

type siteSeason struct {
	ranch, site string
	season      int
}

type tallied struct{ clumps, acres float64 }

// siteDensities adds up the belts of ranches that are counted. A site without belts has its ranch's density.
func (c *composer) siteDensities() siteDensities {
	all := siteDensities{}
	belts := slices.Clone(c.data.Belts)
	slices.SortStableFunc(belts, func(a, b survey.Belt) int { // sums of acres depend on their order in the last bits
		return cmp.Or(strings.Compare(a.Ranch, b.Ranch), strings.Compare(a.Site, b.Site), cmp.Compare(a.Season, b.Season), cmp.Compare(a.Acres(), b.Acres()))
	})
	for i := range belts {
		b := &belts[i]
		if _, counted := c.members[b.Ranch]; !counted || !(b.Acres() > 0) || len(b.Counts) == 0 {
			continue
		}
		keys := []siteSeason{{b.Ranch, b.Site, b.Season}}
		if b.Site != "" {
			keys = append(keys, siteSeason{b.Ranch, "", b.Season})
		}
		for _, k := range keys {
			if all[k] == nil {
				all[k] = &tallied{}
			}
			all[k].acres += b.Acres()
			for _, n := range b.Counts {
				all[k].clumps += float64(n)
			}
		}
	}
	return all
}

// at is the density where a nest was, 0 where it is not known.
func (s siteDensities) at(n *survey.Nest) float64 {
	for _, site := range []string{n.Site, ""} {
		if t := s[siteSeason{n.Ranch, site, n.Season}]; t != nil {
			return t.clumps / t.acres
		}
	}
	return 0
}

// in tells whether a row of a place is in a scope: "" is the whole cooperative.
func in(scope, label string) bool { return scope == "" || scope == label }

// allowed is the gate before anything is fitted: it returns the number of entities with nests that match, and whether
// they are ten at least and none of them has more than a quarter of the nests. Entities that everybody knows are in no
// number.
func (e *evidence) allowed(match func(*nest) bool) (n int, ok bool) {
	a := disclosure.Amounts{}
	for i := range e.nests {
		if x := &e.nests[i]; !x.known && match(x) {
			a[x.entity]++
		}
	}
	return len(a), e.c.policy.CheckModel(a) == ""
}

// entities lists those with nests in a scope, in order.
func (e *evidence) entities(scope string) []string {
	seen := map[string]bool{}
	for i := range e.nests {
		if n := &e.nests[i]; in(scope, n.label) {
			seen[n.entity] = true
		}
	}
	return slices.Sorted(maps.Keys(seen))
}
