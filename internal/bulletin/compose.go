package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"tussock/internal/disclosure"
	"tussock/internal/findings"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// Compose makes the bulletin of a season. The order of rows, ranches and areas changes nothing in it.
//
// It is Invalid to list a ranch twice on the roster.
func Compose(in Input) (Bulletin, error) { return composeUnder(disclosure.Default(), in) }

func composeUnder(policy disclosure.Policy, in Input) (Bulletin, error) {
	c, err := newComposer(policy, in)
	if err != nil {
		return Bulletin{}, err
	}
	c.survival()
	c.density()
	c.predators()
	c.quality()
	c.doubts()
	return c.bulletin(in)
}

func (c *composer) bulletin(in Input) (Bulletin, error) {
	gates(c.cells)
	slices.SortStableFunc(c.cells, inOrder)
	b := Bulletin{Season: in.Season, Edition: 1, Version: in.Version, Key: KeyNote{in.KeyVersion, in.Key.Source, !in.Key.Assumed()}, First: c.days[0], Last: c.days[1],
		Cells: c.cells, Places: c.places(), Log: c.logged(), Covers: []string{}}
	for _, h := range c.standards {
		b.Covers = append(b.Covers, string(h))
	}
	return b, b.seal(in.Salt)
}

// A composer holds what the measures share while a bulletin is made.
type composer struct {
	policy  disclosure.Policy
	data    *survey.Data
	key     *predator.Key
	first   findings.FirstChecks
	season  int
	salt    string
	before  *Log
	open    map[string]bool
	days    [2]int            // of the checks
	members map[string]member // by ranch
	areas   []Area            // in order of name, those of the roster included

	nests     []*looked
	standards []survey.Substrate
	labels    map[string]string // of each area, its place; "" where no figure is given by place
	effects   effects
	cover     [][]Walked // as in Log
	cells     []Cell
}

// A member is a ranch that is counted.
type member struct {
	entity, area string
	id           string // the ranch's
	known        bool
	fresh        bool // its entity is new
}

func newComposer(policy disclosure.Policy, in Input) (*composer, error) {
	c := &composer{policy: policy, data: in.Data, season: in.Season, salt: in.Salt, before: in.Before, open: in.Open, key: in.Key.Key(), labels: map[string]string{},
		days: [2]int{cmp.Or(in.First, findings.CommonMarks.First), cmp.Or(in.Last, findings.CommonMarks.Last)}}
	if c.data == nil {
		c.data = &survey.Data{}
	}
	c.first = findings.FirstChecksOf(c.data.Nests)
	if err := c.enrol(in.Roster); err != nil {
		return nil, err
	}
	byName := map[string]Area{}
	for _, m := range in.Roster {
		byName[m.Area] = Area{Name: m.Area}
	}
	for _, a := range in.Areas {
		byName[a.Name] = a
	}
	c.areas = slices.SortedFunc(maps.Values(byName), func(a, b Area) int { return cmp.Compare(a.Name, b.Name) })
	c.nests = c.looked()
	c.standards = c.common()
	return c, nil
}

// places says where each area's figures are.
func (c *composer) places() (places []Place) {
	for _, a := range c.areas {
		if a.Name != "" {
			places = append(places, Place{a.Name, c.labels[a.Name]})
		}
	}
	return places
}

// logged is the log for the next bulletin.
func (c *composer) logged() Log {
	log := Log{Places: map[string]string{}}
	if c.before != nil {
		log.Cover = slices.Clone(c.before.Cover)
	}
	for _, n := range c.nests {
		log.Places[c.token("ranch", n.id)] = n.label
	}
	log.Cover = append(log.Cover, c.cover...)
	return log
}

// cell starts a cell of the season at a place and substrate, "" for the whole cooperative and for all substrates.
func (c *composer) cell(measure, place, substrate string) Cell {
	cell := Cell{Season: c.season, Measure: measure}
	if place != "" {
		cell.Area = &place
	}
	if substrate != "" {
		cell.Substrate = &substrate
	}
	return cell
}

func (c *composer) publish(cell Cell, entities int, f disclosure.Figure) {
	cell.Published = true
	cell.Estimate, cell.Low, cell.High = f.Estimate, f.Low, f.High
	cell.N, cell.Entities = entities, disclosure.EntityBand(entities)
	c.cells = append(c.cells, cell)
}

func (c *composer) hold(cell Cell, why disclosure.Reason) {
	cell.Basis = Basis{}
	cell.HeldBecause = string(why)
	c.cells = append(c.cells, cell)
}

// inOrder sorts cells by measure, place, substrate, density and predator, the totals first.
func inOrder(a, b Cell) int {
	text := func(s *string) string {
		if s == nil {
			return ""
		}
		return *s
	}
	density := func(x *float64) float64 {
		if x == nil {
			return 0
		}
		return *x
	}
	return cmp.Or(
		cmp.Compare(slices.Index(Measures, a.Measure), slices.Index(Measures, b.Measure)),
		strings.Compare(text(a.Area), text(b.Area)),
		strings.Compare(text(a.Substrate), text(b.Substrate)),
		cmp.Compare(density(a.Clumps), density(b.Clumps)),
		cmp.Compare(predatorOrder(a.Predator), predatorOrder(b.Predator)),
	)
}

// A Basis is how many rows of the season stand behind a published number of the whole cooperative, to the nearest ten; nil below ten landowners and
// where the number does not pass the rules on amounts. That of nests has passed them with the cell itself; transects and belts are amounts of
// their own.
type Basis struct {
	Nests     *int `json:"nests"`
	Transects *int `json:"transects"`
	Belts     *int `json:"belts"`
}

// count gives a number of rows behind a figure of n entities.
func (c *composer) count(n, rows int) *int {
	if step := c.policy.CountStep; step > 0 && n >= c.policy.CountEntities {
		return new(step * int(math.Round(float64(rows)/float64(step))))
	}
	return nil
}

// countUnits is count for rows that are an amount of their own, one unit each.
func (c *composer) countUnits(n int, units []disclosure.Unit) *int {
	if held, _ := c.policy.CheckUnits(units); held != "" {
		return nil
	}
	return c.count(n, len(units))
}

// gates fills in what a reader's own gate asks of each cell, so that nobody works out by subtraction a place that the gate
// keeps from them: the whole less all other places is the one left out. Of the places of a measure each is therefore judged by the
// landowners behind the next smaller one: where a reader may not see the smallest, they do not see the next either, and what
// the others leave open is then of both together.
func gates(cells []Cell) {
	places := map[string][]*Cell{}
	for i := range cells {
		cell := &cells[i]
		if cell.Gate = cell.N; cell.Area != nil && cell.N > 0 {
			places[cell.Measure] = append(places[cell.Measure], cell)
		}
	}
	for _, list := range places {
		slices.SortStableFunc(list, func(a, b *Cell) int { return cmp.Compare(a.N, b.N) })
		for i, cell := range list {
			cell.Gate = list[max(0, i-1)].N
		}
	}
}

// only picks the rows in some covers.
func only(nests []*looked, covers ...survey.Substrate) (picked []*looked) {
	for _, n := range nests {
		if slices.Contains(covers, n.substrate) {
			picked = append(picked, n)
		}
	}
	return picked
}

// pick returns the rows that match.
func pick[T any](rows []T, match func(T) bool) (picked []T) {
	for _, r := range rows {
		if match(r) {
			picked = append(picked, r)
		}
	}
	return picked
}
