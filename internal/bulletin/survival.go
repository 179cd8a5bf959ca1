package bulletin

import (
	"cmp"
	"fmt"
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
	c.effect = c.policy.Scatter(disclosure.Rates, keptOf(now, standards)...)
	c.over = c.effectOver(keptTogether(now, standards), len(standards))

	figures := map[string][]*rate{} // by place, of the standard substrates in order
	for _, h := range standards {
		c.log.Standards = append(c.log.Standards, string(h))
		for _, r := range c.rates(h, only(now, h), only(plan, h)) {
			c.release(r)
			figures[r.label] = append(figures[r.label], r)
		}
	}
	transects := c.countsByPlace(c.transects(standards))
	for _, label := range append([]string{""}, c.placeLabels()...) {
		if len(standards) == 0 {
			for _, measure := range []string{Survival28, SurvivalCrude} {
				c.hold(c.cell(measure, label, ""), cmp.Or(c.safe(now), disclosure.TooFew))
			}
			continue
		}
		c.allSubstrates(label, figures[label], transects)
	}
	c.spread(now, standards)
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
		if h := c.history(n); h.Intact > 0 || h.Lost > 0 {
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

// history reads one nest as package findings does for a ranch's own figure: all causes of loss, and a nest that was not
// found again counts up to its last good look.
func (c *composer) history(n *survey.Nest) survival.Nest {
	h := survival.Nest{Intact: max(0, n.LastIntact())}
	if n.Fate().Failed() {
		last := n.Visits[len(n.Visits)-1]
		h.Lost = c.first.LostBy(n, int(last.On-n.SetOn), h.Intact)
	}
	return h
}

// standards returns the substrates that may be shown for the whole cooperative and are common in it, in order of name.
func (c *composer) standards(now, plan []*looked) []survey.Substrate {
	var standards []survey.Substrate
	if c.prior != nil {
		for _, h := range c.prior.Log.Standards {
			standards = append(standards, survey.Substrate(h))
		}
		return standards
	}
	base := now
	if len(plan) > 0 {
		base = plan
	}
	for _, h := range slices.Sorted(maps.Keys(bySubstrate(base))) {
		n := len(only(base, h))
		common := n >= c.policy.MinNests && float64(n) >= commonShare*float64(len(base))
		if common && c.safe(only(now, h)) == "" && c.safe(only(base, h)) == "" {
			standards = append(standards, h)
		}
	}
	return standards
}

// A rate is the survival of a place in a substrate, on its way to be published or held.
type rate struct {
	label     string
	substrate survey.Substrate
	nests     []*looked
	n         int
	safe      bool // an atom or a union of atoms: held, if at all, for being unreliable
	held      disclosure.Reason
	coarse    bool // one of the same substrate is an open band: on its grid it would tell nearly everybody's
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
	all := c.auditRates(whole, places)
	for _, label := range c.placeLabels() {
		if !slices.ContainsFunc(places, func(r *rate) bool { return r.label == label }) {
			all = append(all, &rate{label: label, substrate: h, held: unsplit(root.Held, len(groups[label]))})
		}
	}
	for _, r := range all {
		if r.safe {
			c.recordRate(r)
		}
	}
	return all
}

// auditRates is the interval audit. It is passed first as if every rounding could be undone: then it holds beside
// anything else that is made of the same totals. A place that fails is given as an open band, and that only where the
// others and the whole leave the band as wide as it must be; else the places are merged, as where amounts fail.
func (c *composer) auditRates(whole *rate, places []*rate) []*rate {
	all := append([]*rate{whole}, places...)
	split := len(places) > 0 && places[0].safe // all of them, or none
	banded := false
	if split && slices.ContainsFunc(places, func(r *rate) bool { return !c.stands(r) }) {
		if banded = c.bands(whole, places); !banded {
			split = false
			for _, r := range places {
				r.safe, r.held = false, disclosure.Sibling
				if !c.stands(r) {
					r.held = disclosure.TooAlike
				}
			}
		}
	}
	if !split && whole.safe && !c.stands(whole) {
		banded = true
		whole.openBand(c.policy)
	}
	for _, r := range all {
		r.coarse = banded
		if len(r.nests) > 0 {
			c.step(c.cell(Survival28, r.label, string(r.substrate)).name(), "interval audit", r.held)
		}
	}
	return all
}

// keptOf gives each entity's nests in each standard substrate, and those of them that lasted.
func keptOf(nests []*looked, standards []survey.Substrate) (rates [][]disclosure.Part) {
	for _, h := range standards {
		rates = append(rates, keptTogether(nests, []survey.Substrate{h}))
	}
	return rates
}

// keptTogether is keptOf over all the substrates as one.
func keptTogether(nests []*looked, substrates []survey.Substrate) (ps []disclosure.Part) {
	for _, n := range nests { // in order of entity
		if !slices.Contains(substrates, n.substrate) {
			continue
		}
		if len(ps) == 0 || ps[len(ps)-1].Entity != n.entity {
			ps = append(ps, disclosure.Part{Entity: n.entity, Known: n.known})
		}
		last := &ps[len(ps)-1]
		last.Of++
		if n.nest.Lost == 0 {
			last.Kept++
		}
	}
	return ps
}

// effectOver is the design effect of rates over all standard substrates. An owner's luck is the same in all of them, and
// the more nests share it the more it counts: where it is not told from the data, each substrate adds what one alone has.
func (c *composer) effectOver(ps []disclosure.Part, substrates int) float64 {
	secret := 0
	for _, p := range ps {
		if !p.Known {
			secret++
		}
	}
	policy := c.policy
	if policy.EffectRatio > 1 && secret < policy.EffectEntities {
		policy.EffectFloor = 1 + float64(substrates)*(policy.EffectFloor-1)
	}
	return policy.Scatter(disclosure.Rates, ps)
}

// stands tells whether each entity's rate stays free though the rate of all is known exactly.
func (c *composer) stands(r *rate) bool {
	ps := parts(r)
	kept, of := 0.0, 0.0
	for _, p := range ps {
		kept, of = kept+p.Kept, of+p.Of
	}
	return of == 0 || c.policy.Audit(ps, kept/of, kept/of) == ""
}

// bands gives the places that would tell too much as open bands, or returns false where that would not do.
func (c *composer) bands(whole *rate, places []*rate) bool {
	bounds := func(r *rate) (low, high float64) {
		switch {
		case r.held != "":
			return 0, 1
		case r.figure.Estimate == nil:
			return *r.figure.Low, *r.figure.High
		}
		half := c.policy.Points(r.n) / 200
		return max(0, *r.figure.Estimate-half), min(1, *r.figure.Estimate+half)
	}
	figures := make([]disclosure.Figure, len(places))
	atoms := make([]disclosure.Rated, len(places))
	for i, r := range places {
		low, high := bounds(r)
		if !c.stands(r) {
			band, ok := c.policy.Extreme(r.fit.S28)
			if !ok {
				return false
			}
			figures[i], low, high = band, *band.Low, *band.High
		}
		atoms[i] = disclosure.Rated{Parts: parts(r), Low: low, High: high}
	}
	low, high := bounds(whole)
	for _, held := range c.policy.AuditTogether(atoms, low, high) {
		if held != "" {
			return false
		}
	}
	for i, r := range places {
		if figures[i].Low != nil {
			r.figure = figures[i]
		}
	}
	return true
}

// recordRate logs the total behind a rate: who has nests in it, and of which version.
func (c *composer) recordRate(r *rate) {
	t := LoggedTotal{Cell: c.cell(Survival28, r.label, string(r.substrate)).name()}
	type key struct{ entity, label string }
	amounts, versions := map[key][]float64{}, map[key]string{}
	for _, n := range r.nests { // sorted, so that a version does not depend on the order of rows
		k := key{n.entity, n.label}
		if amounts[k] == nil {
			amounts[k] = make([]float64, 3)
		}
		for i, x := range n.unit().Amounts {
			amounts[k][i] += x
		}
		if n.nest.Lost > 0 {
			amounts[k][2]++
		}
		versions[k] += fmt.Sprint(n.nest.Intact, " ", n.nest.Lost, ";")
	}
	for k, a := range amounts {
		column := fmt.Sprint(c.season, "|", k.label, "|", r.substrate, "|", digest(versions[k])[:12])
		t.Parts = append(t.Parts, LoggedPart{Entity: c.token("entity", k.entity), Column: column, Amounts: a})
	}
	c.record(t)
}

func (c *composer) rate(label string, h survey.Substrate, nests []*looked, node *disclosure.Node) *rate {
	r := &rate{label: label, substrate: h, nests: nests, n: node.N, held: node.Held, safe: node.Held == ""}
	if !r.safe {
		return r
	}
	r.fit = fit(nests)
	r.figure, r.held = c.survivalFigure(r.n, nests, c.effect, standard.Stratum{Share: 1, Fit: r.fit})
	return r
}

// fit estimates the survival of nests with chance's variance: how much owners differ comes in as one effect for all
// intervals.
func fit(nests []*looked) survival.Estimate {
	histories := make([]survival.Nest, len(nests))
	for i, n := range nests {
		histories[i] = n.nest
		histories[i].Transect = 0
	}
	return survival.Fit(histories)
}

// survivalFigure standardises over strata and puts the result on the grid, where it is reliable.
func (c *composer) survivalFigure(n int, nests []*looked, effect float64, strata ...standard.Stratum) (disclosure.Figure, disclosure.Reason) {
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
	if e.SE > 0 && e.S28 > 0 && e.S28 < 1 {
		s := interval.LogLog(e.S28, e.SE*math.Sqrt(effect), float64(n-1))
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
	band, ok := p.Extreme(r.fit.S28)
	if !ok || p.Audit(parts(r), *band.Low, *band.High) != "" {
		r.held, r.safe = disclosure.TooAlike, false
		return
	}
	r.figure = band
}

func (c *composer) release(r *rate) {
	cell := c.cell(Survival28, r.label, string(r.substrate))
	if r.safe {
		cell.N = r.n
	}
	if r.held != "" {
		c.hold(cell, r.held)
		return
	}
	cell.Nests = c.count(r.n, len(r.nests))
	c.publish(cell, r.n, r.figure)
}

// allSubstrates adds the two figures of a place over its standard substrates: on the same footing, the mean of theirs, and
// crude, the rate of all their nests as they stand. The number of entities is the least of theirs. They are given where all
// substrates pass the rules, also where one by itself is not reliable enough to show: both are made of the same atoms'
// totals, and together they may be reliable. The crude rate's total is the sum of totals that the span audit has, so that
// it adds nothing there; and the interval audit supposes that these are known to the nest.
func (c *composer) allSubstrates(label string, rates []*rate, transects map[string]int) {
	n, coarse := math.MaxInt, false
	var nests []*looked
	var strata []standard.Stratum
	for _, r := range rates {
		if !r.safe {
			c.hold(c.cell(Survival28, label, ""), r.held)
			c.hold(c.cell(SurvivalCrude, label, ""), r.held)
			return
		}
		coarse = coarse || r.coarse
		n = min(n, r.n)
		nests = append(nests, r.nests...)
		strata = append(strata, standard.Stratum{Share: 1 / float64(len(rates)), Fit: r.fit})
	}
	give := func(measure string, strata ...standard.Stratum) {
		cell := c.cell(measure, label, "")
		cell.N, cell.Nests = n, c.count(n, len(nests))
		if t, ok := transects[label]; ok {
			cell.Transects = c.count(n, t)
		}
		switch {
		case coarse && sameBand(rates):
			c.publish(cell, n, rates[0].figure) // a mean of rates in one band is in it
			return
		case coarse: // beside the others a figure would narrow the rate behind the band
			c.hold(cell, disclosure.Sibling)
			return
		}
		figure, why := c.survivalFigure(n, nests, c.over, strata...)
		if why != "" {
			c.hold(cell, why)
			return
		}
		c.publish(cell, n, figure)
	}
	give(Survival28, strata...)
	give(SurvivalCrude, standard.Stratum{Share: 1, Fit: fit(nests)})
}

func sameBand(rates []*rate) bool {
	for _, r := range rates {
		if r.held != "" || r.figure.Estimate != nil || *r.figure.Low != *rates[0].figure.Low {
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
