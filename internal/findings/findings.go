// Package findings turns what the sheets hold into results ready to show: survival to day 28, clumps an acre and the
// predators, for each ranch and each of its sites, season by season.
//
// The numbers come from the packages under stat; here they are grouped, put into words where they cannot be had,
// and laid out as the command line and the pages give them. Results of simulated nests are an index of risk where nests could
// be, not the success of real ones: see Limits.
package findings

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Options say how results are computed. The zero value is the usual way.
type Options struct {
	Mix map[survey.Substrate]float64 // the cooperative's standard mix of substrates; nil: equal shares of those present
	// Key is the table of the key to remains with which a season is read; nil: that of common practice in all.
	Key func(season int) predator.Table
	// DesignEffect is the cooperative's published one of a season, 1 or more, or 0 where none is at hand; nil: none is. It
	// makes the ranges of figures with few transects: see survival.Resting, and Under for results that were computed without.
	DesignEffect func(season int) float64
	// Waiting are nests that cannot count until their sender has answered a question about them. While a place has some
	// in a season, no estimate is given there, but the range that they leave open.
	Waiting []survey.Nest
}

// A Result holds the rows of every ranch in the data, sorted by ranch, site (the whole ranch first), season and
// substrate (all of them first).
type Result struct {
	Survival  []Survival  `json:"survival"`
	Density   []Density   `json:"density"`
	Predators []Predators `json:"predators"`

	Comparisons []Comparison `json:"comparisons"` // of one ranch's figures with each other
	Fit         []Fit        `json:"fit"`         // whether the model behind survival fits, of each whole ranch's season of which something can be told

	Past Past `json:"-"`

	cameras []predator.Case // what taught the key
}

// A Range is an estimate with its 95 % interval; nil where it cannot be had, with the reason in the row's Note.
type Range struct {
	Estimate *float64 `json:"estimate"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
}

// An Estimate is a Range with its standard error, nil where there is none (as at an estimate of exactly 0 or 1).
type Estimate struct {
	Range
	SE *float64 `json:"se"`
}

// Compute computes every row. It never fails: what the data cannot tell is nil in a row that says why. The shares of the animals are made where they
// are shown, by MixOf: they take longest, and start from what their reader may see of what is published.
func Compute(d *survey.Data, opt Options) *Result {
	c := &computation{opt: opt, transects: labelTransects(d.Nests), first: FirstChecksOf(d.Nests)}
	for i := range opt.Waiting {
		k := opt.Waiting[i].Key()
		if _, named := c.transects[k]; !named {
			c.transects[k] = len(c.transects)
		}
	}
	r := &Result{Survival: []Survival{}, Density: []Density{}, Predators: []Predators{}, Fit: []Fit{}, Past: pastOf(d)}
	c.cameras = startKey(predator.Table{}).cases(d.Nests)
	r.cameras = c.cameras

	groups := groupNests(d.Nests)
	groups = append(groups, c.onlyWaiting(groups)...)
	slices.SortFunc(groups, func(a, b group[survey.Nest]) int { return comparePlaces(a.place, b.place) })
	for _, g := range groups {
		rows, fit := c.survival(g)
		r.Survival = append(r.Survival, rows...)
		if fit != nil {
			r.Fit = append(r.Fit, *fit)
		}
		if len(g.rows) > 0 {
			r.Predators = append(r.Predators, c.predators(g))
		}
	}
	for _, g := range groupBelts(d.Belts) {
		r.Density = append(r.Density, c.density(g)...)
	}
	r.markFirstSeasons()
	r.compare()
	return r
}

type computation struct {
	opt       Options
	transects map[survey.TransectKey]int
	first     FirstChecks
	cameras   []predator.Case
	keys      map[int]*key // by season, taught by cameras
}

// keyOf returns the key with which a season is read.
func (c *computation) keyOf(season int) *key {
	if k := c.keys[season]; k != nil {
		return k
	}
	k := startKey(c.opt.table(season))
	k.Key = k.Learn(c.cameras)
	if c.keys == nil {
		c.keys = map[int]*key{}
	}
	c.keys[season] = k
	return k
}

// table is that of a season's key.
func (o Options) table(season int) predator.Table {
	if o.Key == nil {
		return predator.Table{}
	}
	return o.Key(season)
}

// A place is a ranch, or one of its sites, in one season.
type place struct {
	ranch  string
	site   string
	whole  bool // the whole ranch, with all its sites
	season int
}

// A group is what the sheets hold of one place.
type group[T any] struct {
	place
	rows []*T
}

// sitePointer is nil for the whole ranch, as the rows have it.
func (p place) sitePointer() *string {
	if p.whole {
		return nil
	}
	return &p.site
}

func comparePlaces(a, b place) int {
	return cmp.Or(
		strings.Compare(a.ranch, b.ranch),
		-compareBools(a.whole, b.whole),
		strings.Compare(a.site, b.site),
		cmp.Compare(a.season, b.season),
	)
}

func compareBools(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

func groupNests(nests []survey.Nest) []group[survey.Nest] {
	return groupBy(nests, func(n *survey.Nest) place { return place{ranch: n.Ranch, site: n.Site, season: n.Season} })
}

func groupBelts(belts []survey.Belt) []group[survey.Belt] {
	return groupBy(belts, func(b *survey.Belt) place { return place{ranch: b.Ranch, site: b.Site, season: b.Season} })
}

// groupBy puts each row into its ranch and, where it names a site, into that site.
func groupBy[T any](rows []T, at func(*T) place) []group[T] {
	found := map[place][]*T{}
	for i := range rows {
		p := at(&rows[i])
		if p.site != "" {
			found[p] = append(found[p], &rows[i])
		}
		p.site, p.whole = "", true
		found[p] = append(found[p], &rows[i])
	}
	groups := make([]group[T], 0, len(found))
	for p, rows := range found {
		groups = append(groups, group[T]{p, rows})
	}
	slices.SortFunc(groups, func(a, b group[T]) int { return comparePlaces(a.place, b.place) })
	return groups
}

// labelTransects numbers the transects in the order of their names, so that the order of the rows changes nothing, not
// even the draws of the bootstrap.
func labelTransects(nests []survey.Nest) map[survey.TransectKey]int {
	labels := map[survey.TransectKey]int{}
	for i := range nests {
		labels[nests[i].Key()] = 0
	}
	keys := make([]survey.TransectKey, 0, len(labels))
	for k := range labels {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b survey.TransectKey) int {
		return cmp.Or(strings.Compare(a.Ranch, b.Ranch), strings.Compare(a.Site, b.Site),
			cmp.Compare(a.Season, b.Season), strings.Compare(a.Transect, b.Transect))
	})
	for i, k := range keys {
		labels[k] = i
	}
	return labels
}

// number returns a pointer to x, or nil where x is no number: nothing that leaves this package is NaN or infinite.
func number(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// A note gathers the sentences of a row's Note: in English there, and in Notes for whoever says them in another tongue.
type note []words.Phrase

func (n *note) say(sentence words.Phrase) { *n = append(*n, sentence) }

func (n note) String() string { return strings.Join(words.Speaker{}.TellAll(n), " ") }

// named are the names of substrates, to be said.
func named(list []string) []words.Phrase {
	said := make([]words.Phrase, len(list))
	for i, s := range list {
		said[i] = words.Later(s)
	}
	return said
}
