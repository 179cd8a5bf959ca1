package bulletin

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/survey"
)

// Compose makes the bulletin of a season. The order of rows, ranches and areas changes nothing in it.
//
// It is Invalid to list a ranch twice on the roster, and a Conflict to compose a season that has a bulletin.
func Compose(in Input) (Bulletin, error) { return composeUnder(disclosure.Default(), in) }

func composeUnder(policy disclosure.Policy, in Input) (Bulletin, error) {
	c, err := newComposer(policy, in)
	if err != nil {
		return Bulletin{}, err
	}
	c.survival() // settles the places, which the others use
	c.density()
	c.predators()

	b := Bulletin{Season: in.Season, Places: c.places(), Cells: c.cells}
	slices.SortFunc(b.Cells, inOrder)
	if err := b.seal(); err != nil {
		return Bulletin{}, err
	}
	return b, nil
}

// A composer holds what the measures share while a bulletin is made.
type composer struct {
	policy  disclosure.Policy
	data    *survey.Data
	season  int
	plan    int // the season that the partition is planned from, 0 for none
	earlier []Bulletin
	members map[string]member // by ranch
	areas   []Area            // in order of name, those of the roster included
	labels  map[string]string // the place of each area
	cells   []Cell
}

// A member is a ranch that is counted.
type member struct {
	entity, area string
	known        bool
}

func newComposer(policy disclosure.Policy, in Input) (*composer, error) {
	c := &composer{policy: policy, data: in.Data, season: in.Season, earlier: in.Earlier}
	if c.data == nil {
		c.data = &survey.Data{}
	}
	for _, b := range in.Earlier {
		if b.Season == in.Season {
			return nil, errs.New(errs.Conflict, fmt.Sprintf("The season %d has its bulletin, and a bulletin is never made again.", b.Season))
		}
		if b.Season < in.Season {
			c.plan = max(c.plan, b.Season)
		}
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
}

func (c *composer) hold(cell Cell, why disclosure.Reason) {
	cell.HeldBecause = string(why)
	c.cells = append(c.cells, cell)
}

// inOrder sorts cells by measure, place, substrate and predator, the totals first.
func inOrder(a, b Cell) int {
	text := func(s *string) string {
		if s == nil {
			return ""
		}
		return *s
	}
	measures := []string{Survival28, ClumpsPerAcre, PredatorShare}
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
