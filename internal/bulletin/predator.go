package bulletin

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// A loss is a taken nest that left something to go by.
type loss struct {
	member
	camera int // the animal's number, -1 where no camera settled it
	signs  predator.Signs
}

// A mix is the shares of the animals in the losses, on its way to be published.
type mix struct {
	losses  int
	n       int // entities
	shares  []float64
	events  []disclosure.Amounts // of each animal, by entity, in whole losses
	without [][]float64          // the shares without each entity in turn; nil where the mix is a plain count
	effect  float64              // the design effect of every share
}

// predators adds the mix. From ten entities on it is the one that undoes what the key confuses, which takes all losses
// together; below, each nest is read by itself and counted, so that it counts for its own entity alone.
func (c *composer) predators() {
	losses := c.losses()
	held, n := c.policy.CheckUnits(lossUnits(losses))
	if held != "" {
		c.noMix(held)
		return
	}
	m := plainMix(losses)
	if c.policy.CheckModel(lossesBy(losses)) == "" {
		m = modelMix(losses)
	}
	m.n = n
	m.effect = c.mixEffect(m, losses)
	c.name(m)
	t := LoggedTotal{Cell: c.cell(PredatorShare, "", "").name()}
	for e := range lossesBy(losses) {
		t.Parts = append(t.Parts, LoggedPart{Entity: c.token("entity", e), Column: fmt.Sprint(c.season)})
	}
	c.record(t)
}

// losses reads the season's taken nests that left remains or were seen by a camera, in an order of their own.
func (c *composer) losses() []loss {
	key, animals := predator.NewKey(), predator.Predators()
	var losses []loss
	for i := range c.data.Nests {
		n := &c.data.Nests[i]
		m, counted := c.members[n.Ranch]
		if !counted || n.Season != c.season || n.Fate() != survey.Taken {
			continue
		}
		l := loss{member: m, camera: -1}
		if n.Camera != "" {
			if l.camera = slices.Index(animals, string(n.Camera)); l.camera < 0 {
				l.camera = slices.Index(animals, string(survey.Other))
			}
		}
		found := false
		l.signs, found = key.Read(func(feature string) string { return answer(&n.Remains, feature) })
		if found || l.camera >= 0 {
			losses = append(losses, l)
		}
	}
	slices.SortFunc(losses, func(a, b loss) int {
		return cmp.Or(cmp.Compare(a.entity, b.entity), cmp.Compare(a.camera, b.camera), slices.Compare(a.signs, b.signs))
	})
	return losses
}

func answer(r *survey.Remains, feature string) string {
	for _, f := range survey.Features {
		if f.Name == feature {
			return *f.Value(r)
		}
	}
	return ""
}

func lossUnits(losses []loss) []disclosure.Unit {
	us := make([]disclosure.Unit, len(losses))
	for i, l := range losses {
		us[i] = disclosure.Unit{Entity: l.entity, Known: l.known, Amounts: []float64{1}}
	}
	return us
}

func lossesBy(losses []loss) disclosure.Amounts {
	a := disclosure.Amounts{}
	for _, l := range losses {
		if !l.known {
			a[l.entity]++
		}
	}
	return a
}

// likelihoods returns P(what was seen | animal) of each loss under the key that their own camera nests have taught.
func likelihoods(losses []loss) []predator.Nest {
	key := predator.NewKey()
	var cases []predator.Case
	for _, l := range losses {
		if l.camera >= 0 && l.signs != nil {
			cases = append(cases, predator.Case{Animal: l.camera, Signs: l.signs})
		}
	}
	key = key.Learn(cases)
	nests := make([]predator.Nest, len(losses))
	for i, l := range losses {
		if l.camera >= 0 {
			nests[i].Likelihood = predator.Certain(l.camera)
		} else {
			nests[i].Likelihood = key.Likelihood(l.signs)
		}
	}
	return nests
}

// modelMix estimates the shares by EM, and again without each entity in turn. Its events are those that EM allots to
// each animal at each nest.
func modelMix(losses []loss) *mix {
	nests := likelihoods(losses)
	m := &mix{losses: len(losses), shares: predator.Estimate(nests), events: noEvents()}
	for i, l := range losses {
		for animal, p := range predator.Posterior(m.shares, nests[i].Likelihood) {
			if !l.known {
				m.events[animal][l.entity] += p
			}
		}
	}
	for _, events := range m.events {
		for entity, x := range events {
			events[entity] = math.Round(x)
		}
	}
	for _, entity := range slices.Sorted(maps.Keys(lossesBy(losses))) {
		rest := pick(losses, func(l loss) bool { return l.entity != entity })
		m.without = append(m.without, predator.Estimate(likelihoods(rest)))
	}
	return m
}

// plainMix counts what each nest's own answer is, under the key of common practice and with nothing known of the mix.
// What no answer names counts as another animal's.
func plainMix(losses []loss) *mix {
	key, animals := predator.NewKey(), predator.Predators()
	other := slices.Index(animals, string(survey.Other))
	even := predator.Prior(make([]float64, len(animals)), 0)
	m := &mix{losses: len(losses), shares: make([]float64, len(animals)), events: noEvents()}
	named := make([]int, len(losses))
	for i, l := range losses {
		named[i] = l.camera
		if l.camera < 0 {
			var sure bool
			if named[i], sure = predator.Name(predator.Posterior(even, key.Likelihood(l.signs))); !sure {
				named[i] = other
			}
		}
		m.shares[named[i]]++
		if !l.known {
			m.events[named[i]][l.entity]++
		}
	}
	for animal := range m.shares {
		m.shares[animal] /= float64(len(losses))
	}
	return m
}

// mixEffect returns the design effect of the shares, one for all of them: how much more owners differ in what takes their
// nests than chance would have it. From the model it is at least the jackknife's over entities, which holds what the key
// leaves open as well: V = (G−1)/G·Σ (p_(−g) − mean)² (Tukey 1958) over p(1−p)/N, the mean over the animals.
func (c *composer) mixEffect(m *mix, losses []loss) float64 {
	by := lossesBy(losses)
	var rates [][]disclosure.Part
	for _, events := range m.events {
		var ps []disclosure.Part
		for _, entity := range slices.Sorted(maps.Keys(by)) {
			ps = append(ps, disclosure.Part{Entity: entity, Kept: min(events[entity], by[entity]), Of: by[entity]})
		}
		rates = append(rates, ps)
	}
	effect := c.policy.Scatter(disclosure.Shares, rates...)
	if c.policy.EffectRatio > 1 {
		for jack := m.jackknife(); effect < jack; {
			effect *= c.policy.EffectRatio
		}
	}
	return effect
}

func (m *mix) jackknife() (effect float64) {
	g, animals := float64(len(m.without)), 0.0
	if g < 2 {
		return 0
	}
	for animal, p := range m.shares {
		chance := p * (1 - p) / float64(m.losses)
		if chance < 1e-9 {
			continue
		}
		mean, v := 0.0, 0.0
		for _, shares := range m.without {
			mean += shares[animal] / g
		}
		for _, shares := range m.without {
			v += (g - 1) / g * (shares[animal] - mean) * (shares[animal] - mean)
		}
		animals++
		effect += v / chance
	}
	return effect / max(1, animals)
}

func noEvents() []disclosure.Amounts {
	events := make([]disclosure.Amounts, len(predator.Predators()))
	for i := range events {
		events[i] = disclosure.Amounts{}
	}
	return events
}

// name publishes the animals that may be named, one cell for every animal of the list whether it occurred or not, and
// one for the rest. An animal whose share would show as 0, or hangs on one entity, goes to the rest too.
func (c *composer) name(m *mix) {
	animals := predator.Predators()
	unnamed := map[string]bool{string(survey.Other): true}
	for {
		var all []disclosure.Category
		for i, a := range animals {
			all = append(all, disclosure.Category{Name: a, Unnamed: unnamed[a], Events: m.events[i]})
		}
		named, ok := c.policy.Categories(all)
		if !ok {
			c.noMix(disclosure.TooRare)
			return
		}
		bad := slices.IndexFunc(named, func(a string) bool {
			return !c.showable(m, func(i int) bool { return animals[i] == a })
		})
		if bad >= 0 {
			unnamed[named[bad]] = true
			continue
		}
		rest := func(i int) bool { return !slices.Contains(named, animals[i]) }
		if !c.showable(m, rest) {
			c.noMix(disclosure.Unsteady)
			return
		}
		for _, a := range named {
			c.publishShare(m, a, func(i int) bool { return animals[i] == a })
		}
		c.publishShare(m, OtherOrUnknown, rest)
		c.holdMix(disclosure.TooRare, func(a string) bool { return !slices.Contains(named, a) && a != OtherOrUnknown })
		return
	}
}

func (c *composer) noMix(why disclosure.Reason) { c.holdMix(why, func(string) bool { return true }) }

func (c *composer) holdMix(why disclosure.Reason, which func(name string) bool) {
	for _, name := range mixNames() {
		if which(name) {
			cell := c.cell(PredatorShare, "", "")
			cell.Predator = name
			c.hold(cell, why)
		}
	}
}

func (c *composer) publishShare(m *mix, name string, in func(animal int) bool) {
	cell := c.cell(PredatorShare, "", "")
	cell.Predator, cell.Nests = name, c.count(m.n, m.losses)
	c.publish(cell, m.n, c.share(m, in))
}

func (c *composer) showable(m *mix, in func(animal int) bool) bool {
	if *c.share(m, in).Estimate == 0 {
		return false
	}
	var without []float64
	for _, shares := range m.without {
		without = append(without, part(shares, in))
	}
	return c.policy.Steady(m.n, part(m.shares, in), without)
}

// share puts a share on the grid with Wilson's interval (Wilson 1927) for as many independent events as would have its
// variance (Rao & Scott 1992), with t on G − 1 degrees of freedom.
func (c *composer) share(m *mix, in func(animal int) bool) disclosure.Figure {
	p, all := part(m.shares, in), float64(m.losses)
	if math.IsInf(m.effect, 1) { // nothing that an interval says may be said
		return c.policy.Share(m.n, p, 0, 1)
	}
	effective := all / m.effect
	t := interval.Quantile((1+interval.Level)/2, float64(m.n-1))
	mid := (p + t*t/(2*effective)) / (1 + t*t/effective)
	half := t * math.Sqrt(p*(1-p)/effective+t*t/(4*effective*effective)) / (1 + t*t/effective)
	return c.policy.Share(m.n, p, mid-half, mid+half)
}

// part adds up the shares of some animals.
func part(shares []float64, in func(animal int) bool) (p float64) {
	for i, x := range shares {
		if in(i) {
			p += x
		}
	}
	return p
}

// mixNames lists the animals of a mix in the order they are listed, the rest last.
func mixNames() []string {
	names := slices.DeleteFunc(predator.Predators(), func(a string) bool { return a == string(survey.Other) })
	return append(names, OtherOrUnknown)
}

func predatorOrder(name string) int { return slices.Index(mixNames(), name) }
