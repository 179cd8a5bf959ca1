package bulletin

import (
	"maps"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/findings"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// event is a taken nest with remains or a camera.
type event struct {
	member
	label    string
	predator string // OtherOrUnknown where nothing names one
}

// predators adds the cells of the predator mix: the share of each animal in the taken nests that left something to go
// by, each read by itself with the key of common practice. (A ranch's own mix is finer: it undoes what the key
// confuses, which takes all nests together. Here every nest must count for its own entity alone.)
func (c *composer) predators() {
	events := c.events()
	groups := byPlace(events, func(e event) string { return e.label })
	labels := slices.Sorted(maps.Keys(groups))

	named, n, held := c.mix(events)
	byPlaceToo := held == "" && len(labels) > 1
	why := map[string]disclosure.Reason{}
	for _, label := range labels {
		same, _, placeHeld := c.mix(groups[label])
		if placeHeld == "" && !slices.Equal(same, named) {
			placeHeld = disclosure.TooRare
		}
		why[label] = placeHeld
		byPlaceToo = byPlaceToo && placeHeld == ""
	}

	c.mixCells("", events, named, n, held)
	for _, label := range c.placeLabels() {
		switch reason := why[label]; {
		case len(labels) < 2 || len(groups[label]) == 0:
			c.mixCells(label, nil, nil, 0, unsplit(held, len(groups[label])))
		case byPlaceToo:
			_, n, _ := c.mix(groups[label])
			c.mixCells(label, groups[label], named, n, "")
		case reason == "":
			c.mixCells(label, nil, nil, 0, disclosure.Sibling)
		default:
			c.mixCells(label, nil, nil, 0, reason)
		}
	}
}

// events reads the taken nests of the season.
func (c *composer) events() []event {
	var events []event
	for i := range c.data.Nests {
		n := &c.data.Nests[i]
		m, counted := c.members[n.Ranch]
		if !counted || n.Season != c.season || n.Fate() != survey.Taken {
			continue
		}
		if name, ok := taker(n); ok {
			events = append(events, event{member: m, label: c.labels[m.area], predator: name})
		}
	}
	return events
}

// taker names what took a nest, and returns false where nothing was left to go by.
func taker(n *survey.Nest) (name string, ok bool) {
	if n.Camera != "" {
		return publicName(n.Camera), true
	}
	odds, ok := findings.Odds(n.Remains)
	switch {
	case !ok:
		return "", false
	case odds[0].Share >= predator.Sure:
		return publicName(odds[0].Predator), true
	}
	return OtherOrUnknown, true
}

func publicName(p survey.Predator) string {
	if p == survey.Other || !slices.Contains(survey.Predators, p) {
		return OtherOrUnknown
	}
	return string(p)
}

// mix decides which animals a place's mix may name, and behind how many entities.
func (c *composer) mix(events []event) (named []string, n int, held disclosure.Reason) {
	us := make([]disclosure.Unit, len(events))
	categories := map[string]disclosure.Amounts{}
	for i, e := range events {
		us[i] = disclosure.Unit{Entity: e.entity, Known: e.known, Amounts: []float64{1}}
		if categories[e.predator] == nil {
			categories[e.predator] = disclosure.Amounts{}
		}
		if !e.known {
			categories[e.predator][e.entity]++
		}
	}
	if held, n = c.policy.CheckUnits(us); held != "" {
		return nil, n, held
	}
	var all []disclosure.Category
	for _, name := range mixNames() {
		all = append(all, disclosure.Category{Name: name, Unnamed: name == OtherOrUnknown, Events: categories[name]})
	}
	named, ok := c.policy.Categories(all)
	if !ok {
		return nil, n, disclosure.TooRare
	}
	return named, n, ""
}

// mixCells adds one cell for every animal of the list, whether it occurred or not, and one for the rest.
func (c *composer) mixCells(label string, events []event, named []string, n int, held disclosure.Reason) {
	for _, name := range mixNames() {
		cell := c.cell(PredatorShare, label, "")
		cell.Predator = name
		switch {
		case held != "":
			c.hold(cell, held)
		case name == OtherOrUnknown:
			rest := func(e event) bool { return !slices.Contains(named, e.predator) }
			c.publish(cell, n, c.share(events, n, rest))
		case slices.Contains(named, name):
			c.publish(cell, n, c.share(events, n, func(e event) bool { return e.predator == name }))
		default:
			c.hold(cell, disclosure.TooRare)
		}
	}
}

// share estimates the share of the events that match, clustered by entity: p = Σy/Σm with
// V = G/(G−1)·Σ(y_e − p·m_e)²/M², at least p(1−p)/M, and Wilson's interval (Wilson 1927) for as many independent
// events as would have this variance (Rao & Scott 1992), with t on G − 1 degrees of freedom.
func (c *composer) share(events []event, n int, match func(event) bool) disclosure.Figure {
	y, m := map[string]float64{}, map[string]float64{}
	hits, all := 0.0, float64(len(events))
	for _, e := range events {
		m[e.entity]++
		if match(e) {
			y[e.entity]++
			hits++
		}
	}
	p := hits / all
	spread := 0.0
	for _, e := range slices.Sorted(maps.Keys(m)) {
		spread += (y[e] - p*m[e]) * (y[e] - p*m[e])
	}
	g := float64(len(m))
	effective := all
	if v := g / (g - 1) * spread / (all * all); v > p*(1-p)/all {
		effective = p * (1 - p) / v
	}
	t := interval.Quantile((1+interval.Level)/2, g-1)
	mid := (p + t*t/(2*effective)) / (1 + t*t/effective)
	half := t * math.Sqrt(p*(1-p)/effective+t*t/(4*effective*effective)) / (1 + t*t/effective)
	return c.policy.Share(n, p, mid-half, mid+half)
}

// mixNames lists the animals of a mix in the order they are listed, the rest last.
func mixNames() []string {
	var names []string
	for _, p := range survey.Predators {
		if p != survey.Other {
			names = append(names, string(p))
		}
	}
	return append(names, OtherOrUnknown)
}

func predatorOrder(name string) int { return slices.Index(mixNames(), name) }
