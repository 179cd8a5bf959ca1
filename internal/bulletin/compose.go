package bulletin

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Compose makes the bulletin of a season. The order of rows, ranches and areas changes nothing in it.
//
// It is Invalid to list a ranch twice on the roster, and a Conflict to compose a season that has a bulletin, but for its
// one final revision: that is a Conflict where too little has changed for it.
func Compose(in Input) (Bulletin, error) { return composeUnder(disclosure.Default(), in) }

func composeUnder(policy disclosure.Policy, in Input) (Bulletin, error) {
	c, err := newComposer(policy, in)
	if err != nil {
		return Bulletin{}, err
	}
	c.survival() // settles the places, which the others use
	c.span(Survival28)
	b := Bulletin{Season: in.Season, Edition: 1, Version: in.Version, Seed: in.Seed}
	if c.prior != nil {
		if err := c.revise(); err != nil {
			return Bulletin{}, err
		}
		evenCounts(c.cells)
		gates(c.cells)
		b.Places, b.Figures, b.Edition = c.prior.Places, c.prior.Figures, 2
	} else {
		c.density()
		c.predators()
		c.span(PredatorShare)
		evenCounts(c.cells)
		gates(c.cells)
		b.Places = c.places()
		if in.WithFigures {
			if b.Figures, err = c.figures(in.Open); err != nil {
				return Bulletin{}, err
			}
		}
	}

	b.Cells, b.Verdicts = c.cells, c.verdicts
	slices.SortFunc(b.Cells, inOrder)
	if err := b.seal(in.Salt); err != nil {
		return Bulletin{}, err
	}
	c.log.Edition = b.Edition
	if err := c.seal(); err != nil {
		return Bulletin{}, err
	}
	b.Log = c.log
	return b, nil
}

// span is the span audit of a measure's cells together with all that is published already. Where something could be
// worked out, the measure has no cells this season.
func (c *composer) span(measure string) {
	exposed := c.exposes(measure, c.log.Totals...)
	held := disclosure.Reason("")
	if exposed != nil {
		held = disclosure.Exposed
	}
	c.step(measure, "span audit", held)
	if exposed == nil {
		return
	}
	c.log.Totals = slices.DeleteFunc(c.log.Totals, func(t LoggedTotal) bool { return measureOf(t.Cell) == measure })
	for i, cell := range c.cells {
		if cell.Published && (cell.Measure == measure || measure == Survival28 && ofSurvival(cell.Measure)) {
			c.cells[i] = Cell{Season: cell.Season, Area: cell.Area, Substrate: cell.Substrate, Measure: cell.Measure, Predator: cell.Predator, HeldBecause: string(held)}
		}
	}
}

// A composer holds what the measures share while a bulletin is made.
type composer struct {
	policy  disclosure.Policy
	data    *survey.Data
	first   findings.FirstChecks
	season  int
	plan    int // the season that the partition is planned from, 0 for none
	earlier []Bulletin
	prior   *Bulletin // what a final revision revises
	salt    string
	members map[string]member // by ranch
	areas   []Area            // in order of name, those of the roster included
	labels  map[string]string // the place of each area
	cells   []Cell
	effect  float64  // how much more owners differ than chance would have it, for every interval of survival in one substrate
	over    float64  // and for every one over all substrates
	belts   []counts // what the season's density is made of
	log     Log

	verdicts []Verdict
}

// A member is a ranch that is counted.
type member struct {
	entity, area string
	id           string // the ranch's
	known        bool
}

func newComposer(policy disclosure.Policy, in Input) (*composer, error) {
	c := &composer{policy: policy, data: in.Data, season: in.Season, earlier: in.Earlier, salt: in.Salt, first: findings.FirstChecksOf(in.Data.Nests)}
	if c.data == nil {
		c.data = &survey.Data{}
	}
	for i, b := range in.Earlier {
		switch {
		case b.Season == in.Season && !in.Final:
			return nil, errs.Tell(errs.Conflict, words.Later("The season %d has its bulletin, and a bulletin is never made again.", b.Season), nil)
		case b.Season == in.Season && (b.Edition == 2 || c.prior != nil):
			return nil, errs.Tell(errs.Conflict, words.Later("The season %d has had its final revision.", b.Season), nil)
		case b.Season == in.Season:
			c.prior = &in.Earlier[i]
		case b.Season < in.Season:
			c.plan = max(c.plan, b.Season)
		}
	}
	if in.Final && c.prior == nil {
		return nil, errs.Tell(errs.Conflict, words.Later("The season %d has no bulletin to revise.", in.Season), nil)
	}
	if err := c.enrol(in.Roster); err != nil {
		return nil, err
	}
	c.areas = areasOf(in)
	return c, nil
}

// areasOf returns the cooperative's areas and those that only the roster names, in order of name.
func areasOf(in Input) []Area {
	byName := map[string]Area{}
	for _, m := range in.Roster {
		byName[m.Area] = Area{Name: m.Area}
	}
	for _, a := range in.Areas {
		byName[a.Name] = a
	}
	return slices.SortedFunc(maps.Values(byName), func(a, b Area) int { return cmp.Compare(a.Name, b.Name) })
}

// places says where each area's figures are. Where no figure is given by place at all, areas have none.
func (c *composer) places() []Place {
	shown := map[string]bool{}
	for _, cell := range c.cells {
		if cell.Published && cell.Area != nil {
			shown[*cell.Area] = true
		}
	}
	var places []Place
	for _, a := range c.areas {
		p := Place{Area: a.Name}
		if label := c.labels[a.Name]; shown[label] {
			p.Label = label
		}
		if a.Name != "" {
			places = append(places, p)
		}
	}
	return places
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
	c.step(cell.name(), "published", "")
}

func (c *composer) hold(cell Cell, why disclosure.Reason) {
	cell.Basis = Basis{}
	cell.HeldBecause = string(why)
	c.cells = append(c.cells, cell)
	c.step(cell.name(), "published", why)
}

// inOrder sorts cells by measure, place, substrate and predator, the totals first.
func inOrder(a, b Cell) int {
	text := func(s *string) string {
		if s == nil {
			return ""
		}
		return *s
	}
	measures := []string{Survival28, SurvivalCrude, SurvivalSpread, ClumpsPerAcre, PredatorShare}
	return cmp.Or(
		cmp.Compare(slices.Index(measures, a.Measure), slices.Index(measures, b.Measure)),
		strings.Compare(text(a.Area), text(b.Area)),
		strings.Compare(text(a.Substrate), text(b.Substrate)),
		cmp.Compare(predatorOrder(a.Predator), predatorOrder(b.Predator)),
	)
}

// byPlace groups rows by the label of their place.
func byPlace[T any](rows []T, label func(T) string) map[string][]T {
	groups := map[string][]T{}
	for _, r := range rows {
		groups[label(r)] = append(groups[label(r)], r)
	}
	return groups
}

// placeLabels lists the places in order; a cooperative of one place has none beside the whole.
func (c *composer) placeLabels() []string {
	labels := slices.Compact(slices.Sorted(maps.Values(c.labels)))
	if len(labels) < 2 {
		return nil
	}
	return labels
}

// sameAsWhole is no secret but a repetition: only one place has results.
const sameAsWhole disclosure.Reason = "the same as the whole cooperative's figure"

// unsplit returns why a place is not among the parts of the whole: the whole is held, or it is all this place's, or
// the place has no rows.
func unsplit(whole disclosure.Reason, rows int) disclosure.Reason {
	switch {
	case whole != "":
		return whole
	case rows > 0:
		return sameAsWhole
	}
	return disclosure.Nobody
}
