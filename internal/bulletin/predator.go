package bulletin

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"tussock/internal/disclosure"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// A loss is a taken nest with what it showed.
type loss struct {
	member
	camera int            // the animal's number, -1 where no camera settled it
	signs  predator.Signs // nil where nothing was left to go by
	sign   string         // of Signs
	named  int            // the animal that the nest's own answer names, -1 where none
}

// predators adds what taken nests showed, and the mix of those that left something to go by.
func (c *composer) predators() {
	losses := c.losses()
	c.signs(losses)
	losses = pick(losses, func(l loss) bool { return l.sign != NoSign })
	held, n := c.policy.CheckUnits(lossUnits(losses))
	if held == "" && !(&budget{c: c, nests: c.nests}).fits(func(*looked) float64 { return 1 }) {
		held = disclosure.TooMuch
	}
	if held != "" {
		c.noMix(held)
		return
	}
	// What the key confuses is undone. From ten landowners on from each nest's own remains; below from how many nests look most
	// like each animal's, so that the mix is a function of totals and of nothing else.
	nests := likelihoods
	if c.policy.CheckModel(lossesBy(losses)) != "" {
		nests = blurred
	}
	m := mixOf(losses, nests)
	m.n = n
	m.effect = assumedMix
	if n >= c.policy.SpreadEntities {
		m.effect = m.likeness(losses)
	}
	c.name(m)
}

// losses reads the season's taken nests, in an order of their own.
func (c *composer) losses() (losses []loss) {
	key, animals := predator.NewKey(), predator.Predators()
	even := predator.Prior(make([]float64, len(animals)), 0)
	for _, n := range c.nests {
		if n.Fate() != survey.Taken {
			continue
		}
		l := loss{member: n.member, camera: -1, sign: NoSign}
		if n.Camera != "" {
			if l.camera = slices.Index(animals, string(n.Camera)); l.camera < 0 {
				l.camera = slices.Index(animals, string(survey.Other))
			}
			l.sign = FitsOne
		}
		signs, found := key.Read(func(feature string) string { return answer(&n.Remains, feature) })
		if found {
			l.signs = signs
		}
		if found && l.camera < 0 {
			l.sign = FitsSeveral
			if _, sure := predator.Name(predator.Posterior(even, key.Likelihood(signs))); sure {
				l.sign = FitsOne
			}
		}
		losses = append(losses, l)
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

func lossUnits(losses []loss) (us []disclosure.Unit) {
	for _, l := range losses {
		us = append(us, disclosure.Unit{Entity: l.entity, Known: l.known, New: l.fresh, Amounts: []float64{1}})
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

// signs gives the three counts of what taken nests showed, as shares, where each of them may be named.
func (c *composer) signs(losses []loss) {
	held, n := c.policy.CheckUnits(lossUnits(losses))
	if held == "" && !(&budget{c: c, nests: c.nests}).fits(func(*looked) float64 { return 1 }) {
		held = disclosure.TooMuch
	}
	count := map[string]float64{}
	for _, sign := range Signs {
		some := pick(losses, func(l loss) bool { return l.sign == sign })
		count[sign] = float64(len(some))
		if held == "" && !c.policy.Common(lossesBy(some)) {
			held = disclosure.TooRare
		}
	}
	for _, sign := range Signs {
		cell := c.cell(SignShare, "", "")
		cell.Predator = sign
		if held != "" {
			c.hold(cell, held)
			continue
		}
		cell.Nests = c.count(n, len(losses))
		p, all := count[sign]/float64(len(losses)), float64(len(losses))
		c.publish(cell, n, c.share(n, p, all/assumedEffect))
	}
}

// share puts a share on the grid with Wilson's interval (Wilson 1927) for as many independent events as would have its
// variance (Rao & Scott 1992).
func (c *composer) share(n int, p, events float64) disclosure.Figure {
	t := interval.Quantile((1+interval.Level)/2, freedom)
	mid := (p + t*t/(2*events)) / (1 + t*t/events)
	half := t * math.Sqrt(p*(1-p)/events+t*t/(4*events*events)) / (1 + t*t/events)
	return c.policy.Share(n, p, mid-half, mid+half)
}

// A mix is the shares of the animals in the losses, on its way to be published.
type mix struct {
	losses  int
	n       int // entities
	shares  []float64
	chance  [][]float64          // their variances and covariances by chance alone
	events  []disclosure.Amounts // of each animal, by entity, in whole losses
	without [][]float64          // the shares without each entity in turn
	effect  float64              // how many times owners' own mixes widen the variances

	likelihoods []predator.Nest
}

// likelihoods returns P(what was seen | animal) of each loss under the key that the season's own camera nests have taught.
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

// blurred returns P(the animal that it looks most like | animal) of each loss, from draws of what each animal leaves, written down
// as often as it was.
func blurred(losses []loss) []predator.Nest {
	key, animals := predator.NewKey(), predator.Predators()
	written, of := make([]float64, len(key.Features())), 0.0
	for _, l := range losses {
		if l.camera < 0 {
			of++
			for i, choice := range l.signs {
				if choice >= 0 {
					written[i]++
				}
			}
		}
	}
	most := func(signs predator.Signs) int {
		likelihood := key.Likelihood(signs)
		return slices.Index(likelihood, slices.Max(likelihood))
	}
	r := rand.New(rand.NewPCG(1, 1)) // the same draws each time
	looks := square(len(animals))    // by what it looks like, and animal
	for animal := range animals {
		const draws = 2000
		for range draws {
			signs := make(predator.Signs, len(written))
			for i := range signs {
				signs[i] = -1
				x, choices := r.Float64(), len(key.Choices(i))
				if r.Float64()*of >= written[i] {
					continue
				}
				for signs[i] = 0; signs[i]+1 < choices && x >= key.Chance(i, animal, signs[i]); signs[i]++ {
					x -= key.Chance(i, animal, signs[i])
				}
			}
			looks[most(signs)][animal] += 1.0 / draws
		}
	}
	nests := make([]predator.Nest, len(losses))
	for i, l := range losses {
		switch {
		case l.camera >= 0:
			nests[i].Likelihood = predator.Certain(l.camera)
		default:
			nests[i].Likelihood = slices.Clone(looks[most(l.signs)])
			for animal := range animals { // no draw is proof
				nests[i].Likelihood[animal] = max(nests[i].Likelihood[animal], 1e-3)
			}
		}
	}
	return nests
}

// mixOf estimates the shares by EM, and again without each entity in turn. Its events are those that EM allots to
// each animal at each nest.
func mixOf(losses []loss, read func([]loss) []predator.Nest) *mix {
	nests := read(losses)
	m := &mix{losses: len(losses), shares: predator.Estimate(nests), likelihoods: nests}
	for range m.shares {
		m.events = append(m.events, disclosure.Amounts{})
	}
	m.chance = predator.Covariance(nests, m.shares)
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
	var entities []string
	for _, l := range losses {
		if !l.known && (len(entities) == 0 || entities[len(entities)-1] != l.entity) {
			entities = append(entities, l.entity)
		}
	}
	m.without = make([][]float64, len(entities))
	concurrently(len(entities), func(i int) {
		var left []predator.Nest
		taught := false // the key by their cameras
		for j, l := range losses {
			if l.entity == entities[i] {
				taught = taught || l.camera >= 0 && l.signs != nil
				continue
			}
			left = append(left, nests[j])
		}
		if taught {
			left = read(pick(losses, func(l loss) bool { return l.entity != entities[i] }))
		}
		m.without[i] = predator.Near(left, m.shares)
	})
	return m
}

// likeness is how many times owners' own mixes widen the variances: the mean over the animals that occur of Σ pull²·G/(G−1) over owners, over the variance by
// chance; a pull is an owner's losses times the covariance (the sandwich by owner: Liang and Zeger 1986, Biometrika 73:13-22). It stands on
// steps and is 1 at least.
func (m *mix) likeness(losses []loss) float64 {
	if m.chance == nil {
		return assumedEffect
	}
	effect, animals := 0.0, 0.0
	for k, share := range m.shares {
		if share < 0.02 {
			continue
		}
		squares, pull, owners := 0.0, 0.0, 0.0
		for i, n := range m.likelihoods {
			p := 0.0
			for j, l := range n.Likelihood {
				p += m.shares[j] * l
			}
			for j, l := range n.Likelihood {
				pull += m.chance[k][j] * l / p
			}
			if i+1 == len(losses) || losses[i+1].entity != losses[i].entity {
				squares, pull, owners = squares+pull*pull, 0, owners+1
			}
		}
		effect += squares * owners / (owners - 1) / m.chance[k][k]
		animals++
	}
	return onStep(effect/max(1, animals), 1, 6, 0.5)
}

// name publishes the animals that may be named, one cell for every animal of the list whether it occurred or not, and
// one for the rest. An animal whose share would show as 0, or hangs on one entity, goes to the rest too.
func (c *composer) name(m *mix) {
	animals := predator.Predators()
	unnamed := map[string]bool{string(survey.Other): true}
	for m.chance != nil {
		var all []disclosure.Category
		for i, a := range animals {
			all = append(all, disclosure.Category{Name: a, Unnamed: unnamed[a], Events: m.events[i]})
		}
		named, ok := c.policy.Categories(all)
		if !ok {
			break
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
	c.noMix(disclosure.TooRare)
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
	c.publish(cell, m.n, c.mixShare(m, in))
}

func (c *composer) mixShare(m *mix, in func(animal int) bool) disclosure.Figure {
	v := 0.0
	for i, row := range m.chance {
		for j, x := range row {
			if in(i) && in(j) {
				v += x
			}
		}
	}
	p := part(m.shares, in)
	return c.share(m.n, p, max(1, p*(1-p)/max(v*m.effect, 1e-9)))
}

func (c *composer) showable(m *mix, in func(animal int) bool) bool {
	if *c.mixShare(m, in).Estimate == 0 {
		return false
	}
	var without []float64
	for _, shares := range m.without {
		without = append(without, part(shares, in))
	}
	return c.policy.Steady(m.n, part(m.shares, in), without)
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

func predatorOrder(name string) int { return slices.Index(append(mixNames(), Signs...), name) }
