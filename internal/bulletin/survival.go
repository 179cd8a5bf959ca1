package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/standard"
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
)

// commonShare is the share of the cooperative's nests that makes a substrate a standard one, so that a rare plant is
// not given the weight of a common one. Ours.
const commonShare = 0.10

// elsewhere is the place of ranches without an area.
const elsewhere = "elsewhere"

// A looked is a nest that was looked at, of a ranch that is counted.
type looked struct {
	member
	label     string // its place
	substrate survey.Substrate
	nest      survival.Nest // its Transect is the number of its entity: the cluster
}

func (n *looked) unit() disclosure.Unit {
	return disclosure.Unit{
		Entity: n.entity, Known: n.known, At: []string{n.label},
		Amounts: []float64{1, float64(max(n.nest.Intact, n.nest.Lost))}, // nests, exposure-days
	}
}

// survival adds the cells of survival to day 28, and settles the places.
func (c *composer) survival() {
	now := c.looked(c.season)
	var plan []*looked
	if c.plan > 0 {
		plan = c.looked(c.plan)
	}
	standards := c.standards(now, plan)
	c.settle(now, plan, standards)

	figures := map[string][]*rate{} // by place, of the standard substrates in order
	for _, h := range standards {
		for _, r := range c.rates(h, only(now, h), only(plan, h)) {
			c.release(r)
			figures[r.label] = append(figures[r.label], r)
		}
	}
	for _, label := range append([]string{""}, c.placeLabels()...) {
		if len(standards) == 0 {
			c.hold(c.cell(Survival28, label, ""), cmp.Or(c.safe(now), disclosure.TooFew))
			continue
		}
		c.allSubstrates(label, figures[label])
	}
	c.listRare(now, standards)
}

// looked reads the nests of a season that were looked at.
func (c *composer) looked(season int) []*looked {
	var nests []*looked
	for i := range c.data.Nests {
		n := &c.data.Nests[i]
		m, counted := c.members[n.Ranch]
		if !counted || n.Season != season {
			continue
		}
		if h := history(n); h.Intact > 0 || h.Lost > 0 {
			nests = append(nests, &looked{member: m, substrate: n.Substrate, nest: h})
		}
	}
	slices.SortFunc(nests, func(a, b *looked) int {
		return cmp.Or(cmp.Compare(a.entity, b.entity), cmp.Compare(a.area, b.area), cmp.Compare(a.substrate, b.substrate),
			cmp.Compare(a.nest.Intact, b.nest.Intact), cmp.Compare(a.nest.Lost, b.nest.Lost))
	})
	for i, n := range nests { // in order of entity
		if i > 0 {
			n.nest.Transect = nests[i-1].nest.Transect
			if n.entity != nests[i-1].entity {
				n.nest.Transect++
			}
		}
	}
	return nests
}

// history reads one nest as package findings does for a ranch's own figure: all causes of loss, a nest that was not
// found again counts up to its last good look, and a loss found on the day of that look came within a day.
func history(n *survey.Nest) survival.Nest {
	h := survival.Nest{Intact: max(0, n.LastIntact())}
	if n.Fate().Failed() {
		last := n.Visits[len(n.Visits)-1]
		h.Lost = max(int(last.On-n.SetOn), h.Intact+1)
	}
	return h
}

// standards returns the substrates that may be shown for the whole cooperative and are common in it, in order of name.
func (c *composer) standards(now, plan []*looked) []survey.Substrate {
	base := now
	if len(plan) > 0 {
		base = plan
	}
	var standards []survey.Substrate
	for _, h := range slices.Sorted(maps.Keys(bySubstrate(base))) {
		n := len(only(base, h))
		common := n >= c.policy.MinNests && float64(n) >= commonShare*float64(len(base))
		if common && c.safe(only(now, h)) == "" && c.safe(only(base, h)) == "" {
			standards = append(standards, h)
		}
	}
	return standards
}

// settle decides the places: an area by itself where it passes in every standard substrate, else with its group.
func (c *composer) settle(now, plan []*looked, standards []survey.Substrate) {
	inArea := func(nests []*looked, area string) []*looked {
		return pick(nests, func(n *looked) bool { return n.area == area })
	}
	passes := func(area string) bool {
		for _, h := range standards {
			if c.safe(only(inArea(now, area), h)) != "" || len(plan) > 0 && c.safe(only(inArea(plan, area), h)) != "" {
				return false
			}
		}
		return true
	}
	merged := map[string]string{} // the joint label of a group of which an area with nests fails
	for _, a := range c.areas {
		if a.Group != "" && len(inArea(now, a.Name)) > 0 && !passes(a.Name) {
			merged[a.Group] = ""
		}
	}
	for _, a := range c.areas {
		if label, ok := merged[a.Group]; ok && a.Group != "" {
			merged[a.Group] = join(label, a.Name)
		}
	}
	c.labels = map[string]string{}
	for _, a := range c.areas {
		c.labels[a.Name] = cmp.Or(merged[a.Group], a.Name, elsewhere)
	}
	for _, n := range now {
		n.label = c.labels[n.area]
	}
	for _, n := range plan {
		n.label = c.labels[n.area]
	}
}

func join(label, name string) string {
	if label == "" {
		return name
	}
	return label + " + " + name
}

// A rate is the survival of a place in a substrate, on its way to be published or held.
type rate struct {
	label     string
	substrate survey.Substrate
	nests     []*looked
	n         int
	held      disclosure.Reason
	alike     bool // the rate on its grid would tell nearly everybody's
	fit       survival.Estimate
	figure    disclosure.Figure
}

// rates returns the survival of one substrate for the whole cooperative and for each place.
func (c *composer) rates(h survey.Substrate, now, plan []*looked) []*rate {
	root := c.policy.Split(units(now), units(plan), 0)
	whole := c.rate("", h, now, root)
	var places []*rate
	groups := byPlace(now, func(n *looked) string { return n.label })
	for _, node := range root.Children {
		places = append(places, c.rate(node.At[0], h, groups[node.At[0]], node))
	}

	for _, label := range c.placeLabels() {
		if !slices.ContainsFunc(places, func(r *rate) bool { return r.label == label }) {
			places = append(places, &rate{label: label, substrate: h, held: unsplit(root.Held, len(groups[label]))})
		}
	}

	// Where the rates of places would tell nearly everybody's, the places are merged, as where amounts fail.
	for _, r := range places {
		if r.held == "" && c.audit(r) {
			r.held = disclosure.TooAlike
		}
	}
	if whole.held == "" && c.audit(whole) {
		whole.openBand(c.policy)
	}
	if whole.alike || slices.ContainsFunc(places, func(r *rate) bool { return r.held == disclosure.TooAlike }) {
		for _, r := range places {
			r.held = cmp.Or(r.held, disclosure.Sibling)
		}
	}
	return append([]*rate{whole}, places...)
}

func (c *composer) rate(label string, h survey.Substrate, nests []*looked, node *disclosure.Node) *rate {
	r := &rate{label: label, substrate: h, nests: nests, n: node.N, held: node.Held}
	if r.held != "" {
		return r
	}
	histories := make([]survival.Nest, len(nests))
	for i, n := range nests {
		histories[i] = n.nest
	}
	r.fit = survival.Fit(histories)
	r.figure, r.held = c.survivalFigure(r.n, nests, []standard.Stratum{{Share: 1, Fit: r.fit}})
	return r
}

// survivalFigure standardises over strata and puts the result on the grid, where it is reliable.
func (c *composer) survivalFigure(n int, nests []*looked, strata []standard.Stratum) (disclosure.Figure, disclosure.Reason) {
	failed := 0
	for _, x := range nests {
		if x.nest.Lost > 0 {
			failed++
		}
	}
	for _, s := range strata {
		if !s.Fit.Told() {
			return disclosure.Figure{}, disclosure.TooSmall
		}
	}
	e := standard.Survival(strata)
	low, high := e.Interval()
	if e.Clustered && e.DesignEffect < 1 { // entities more alike than luck makes them: the model's variance
		s := interval.LogLog(e.S28, e.SE/math.Sqrt(e.DesignEffect), float64(e.Transects-1))
		low, high = s.Interval(interval.Level)
	}
	why := c.policy.Reliable(len(nests), failed, e.S28, low, high)
	if why == "" {
		return c.policy.Rate(n, e.S28, low, high), ""
	}
	if band, ok := c.policy.Extreme(e.S28); ok && len(nests) >= c.policy.MinNests { // too few losses for an interval
		return band, ""
	}
	return disclosure.Figure{}, why
}

// audit tells whether a rate on its grid would tell nearly every entity's.
func (c *composer) audit(r *rate) bool {
	s := r.fit.S28
	shown, half := *c.policy.Rate(r.n, s, s, s).Estimate, c.policy.Points(r.n)/200
	return c.policy.Audit(parts(r), shown-half, shown+half) != ""
}

// parts gives each entity its nests, and the share of them that the fitted rate says lasted: nests that were not
// followed to day 28 count with the others.
func parts(r *rate) []disclosure.Part {
	at := map[string]int{}
	var ps []disclosure.Part
	kept := 0.0
	for _, n := range r.nests {
		i, ok := at[n.entity]
		if !ok {
			i = len(ps)
			at[n.entity] = i
			ps = append(ps, disclosure.Part{Entity: n.entity, Known: n.known})
		}
		ps[i].Of++
		if n.nest.Lost == 0 {
			ps[i].Kept++
			kept++
		}
	}
	for i := range ps {
		if kept > 0 {
			ps[i].Kept = math.Min(ps[i].Of, ps[i].Kept*r.fit.S28*float64(len(r.nests))/kept)
		}
	}
	return ps
}

// openBand replaces a rate that would tell too much by an open band at the end of the scale, or holds it.
func (r *rate) openBand(p disclosure.Policy) {
	r.alike = true
	band, ok := p.Extreme(r.fit.S28)
	if !ok || p.Audit(parts(r), *band.Low, *band.High) != "" {
		r.held = disclosure.TooAlike
		return
	}
	r.figure = band
}

func (c *composer) release(r *rate) {
	cell := c.cell(Survival28, r.label, string(r.substrate))
	if r.held != "" {
		c.hold(cell, r.held)
		return
	}
	c.publish(cell, r.n, r.figure)
}

// allSubstrates adds the figure of a place on the same footing: the mean of its standard substrates. Its number of
// entities is the least of theirs.
func (c *composer) allSubstrates(label string, rates []*rate) {
	cell := c.cell(Survival28, label, "")
	n, alike := math.MaxInt, false
	var nests []*looked
	var strata []standard.Stratum
	for _, r := range rates {
		if r.held != "" {
			c.hold(cell, r.held)
			return
		}
		alike = alike || r.alike
		n = min(n, r.n)
		nests = append(nests, r.nests...)
		strata = append(strata, standard.Stratum{Share: 1 / float64(len(rates)), Fit: r.fit})
	}
	switch {
	case alike && sameBand(rates):
		c.publish(cell, n, rates[0].figure) // the mean of rates in one band is in it
		return
	case alike: // beside the others a figure would give away the rate behind the band
		c.hold(cell, disclosure.Sibling)
		return
	}
	figure, why := c.survivalFigure(n, nests, strata)
	if why != "" {
		c.hold(cell, why)
		return
	}
	c.publish(cell, n, figure)
}

func sameBand(rates []*rate) bool {
	for _, r := range rates {
		if r.figure.Estimate != nil || *r.figure.Low != *rates[0].figure.Low {
			return false
		}
	}
	return true
}

// listRare lists the commonly named substrates that are not standard as held, used or not: that somebody has nests in
// one says where. Any other word is listed only as a standard.
func (c *composer) listRare(now []*looked, standards []survey.Substrate) {
	for _, h := range []survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca, survey.Shrub, survey.Forb} {
		if !slices.Contains(standards, h) {
			c.hold(c.cell(Survival28, "", string(h)), cmp.Or(c.safe(only(now, h)), disclosure.TooSmall))
		}
	}
}

// safe applies the rules to nests and exposure-days.
func (c *composer) safe(nests []*looked) disclosure.Reason {
	held, _ := c.policy.CheckUnits(units(nests))
	return held
}

func units(nests []*looked) []disclosure.Unit {
	if nests == nil {
		return nil
	}
	us := make([]disclosure.Unit, len(nests))
	for i, n := range nests {
		us[i] = n.unit()
	}
	return us
}

func only(nests []*looked, h survey.Substrate) []*looked {
	return pick(nests, func(n *looked) bool { return n.substrate == h })
}

func bySubstrate(nests []*looked) map[survey.Substrate]bool {
	present := map[survey.Substrate]bool{}
	for _, n := range nests {
		present[n.substrate] = true
	}
	return present
}

// pick returns the rows that match, nil where the list was nil.
func pick[T any](rows []T, match func(T) bool) []T {
	if rows == nil {
		return nil
	}
	picked := []T{}
	for _, r := range rows {
		if match(r) {
			picked = append(picked, r)
		}
	}
	return picked
}
