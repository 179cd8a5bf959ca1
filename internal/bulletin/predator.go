package bulletin

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"tussock/internal/disclosure"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// A loss is a taken nest with what it showed.
type loss struct {
	member
	predator.Sighting        // its Transect is the number of its line
	sign              string // of Signs
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
		c.hold(c.cell(MixWeight, "", ""), held)
		return
	}
	// What the key confuses is undone. From ten landowners on from each nest's own remains; below from how many nests look most
	// like each animal's, and second most like each, so that the mix is a function of totals and of nothing else.
	key, totals := c.key, c.policy.CheckModel(lossesBy(losses)) != ""
	if totals {
		key = key.Looks(written(losses, len(key.Features())))
		for i, l := range losses {
			if l.Signs != nil {
				losses[i].Signs = predator.Signs{c.key.Look(l.Signs)}
			}
		}
	}
	m := mixOf(losses, key)
	m.n = n
	m.effect = assumedMix
	if !totals {
		m.effect = m.likeness(losses)
	}
	c.name(m)
	c.mixWeight(m, losses)
}

// losses reads the season's taken nests, in an order of their own.
func (c *composer) losses() (losses []loss) {
	animals := predator.Predators()
	for _, n := range c.nests {
		if n.Fate() != survey.Taken {
			continue
		}
		l := loss{member: n.member, Sighting: predator.Sighting{Transect: n.nest.Transect, Animal: -1}}
		if n.Camera != "" {
			if l.Animal = slices.Index(animals, string(n.Camera)); l.Animal < 0 {
				l.Animal = slices.Index(animals, string(survey.Other))
			}
		}
		remains := n.Signs()
		if signs, found := c.key.Read(func(feature string) string { return answer(&remains, feature) }); found {
			l.Signs = signs
		}
		l.sign, _ = c.key.Fits(l.Sighting)
		losses = append(losses, l)
	}
	slices.SortFunc(losses, func(a, b loss) int {
		return cmp.Or(cmp.Compare(a.entity, b.entity), cmp.Compare(a.Transect, b.Transect), cmp.Compare(a.Animal, b.Animal), slices.Compare(a.Signs, b.Signs))
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

// most is how many losses a mix is made of: the draws take as long as there are many. Ours.
const most = 1000

// A mix is the shares of the animals in the losses, on its way to be published.
type mix struct {
	predator.Mixture

	losses  int
	n       int                  // entities
	likely  []float64            // the shares by EM, by which is judged what they hang on
	chance  [][]float64          // their variances and covariances by chance alone
	events  []disclosure.Amounts // of each animal, by entity, in whole losses
	without [][]float64          // the shares by EM without each entity in turn
	effect  float64              // how many times owners' own mixes widen the variances

	likelihoods []predator.Nest
}

// taught is a key that the cameras of losses have taught.
func taught(key *predator.Key, losses []loss) *predator.Key {
	var cases []predator.Case
	for _, l := range losses {
		if l.Animal >= 0 && l.Signs != nil {
			cases = append(cases, predator.Case{Animal: l.Animal, Signs: l.Signs})
		}
	}
	return key.Learn(cases)
}

func sightings(losses []loss) []predator.Sighting {
	seen := make([]predator.Sighting, len(losses))
	for i, l := range losses {
		seen[i] = l.Sighting
	}
	return seen
}

// written is how often each of so many signs was written down at losses that no camera settled.
func written(losses []loss, signs int) []float64 {
	written, of := make([]float64, signs), 0.0
	for _, l := range losses {
		if l.Animal < 0 {
			of++
			for i, choice := range l.Signs {
				if choice >= 0 {
					written[i]++
				}
			}
		}
	}
	for i := range written {
		written[i] /= max(1, of)
	}
	return written
}

// mixOf tells the shares, by a key as uncertain as it is; and estimates them by EM, as if it were certain, and so again without each
// entity in turn. Its events are those that EM allots to each animal at each nest.
func mixOf(losses []loss, key *predator.Key) *mix {
	right := taught(key, losses)
	nests := right.Nests(sightings(losses))
	m := &mix{losses: len(losses), likely: predator.Estimate(nests), likelihoods: nests}
	m.Mixture = right.Mix(predator.Some(sightings(losses), most), predator.Jeffreys(), predator.Chain{Seed: 1})
	for range m.likely {
		m.events = append(m.events, disclosure.Amounts{})
	}
	m.chance = predator.Covariance(nests, m.likely)
	for i, l := range losses {
		for animal, p := range predator.Posterior(m.likely, nests[i].Likelihood) {
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
		teaches := false // the key by its cameras
		for j, l := range losses {
			if l.entity == entities[i] {
				teaches = teaches || l.Animal >= 0 && l.Signs != nil
				continue
			}
			left = append(left, nests[j])
		}
		if teaches {
			others := pick(losses, func(l loss) bool { return l.entity != entities[i] })
			left = taught(key, others).Nests(sightings(others))
		}
		m.without[i] = predator.Near(left, m.likely)
	})
	return m
}

// likeness is how many times owners' own mixes widen the variances: the mean over the animals that occur of Σ pull²·G/(G−1) over owners, over the variance by
// chance; a pull is an owner's losses times the covariance (the sandwich by owner: Liang and Zeger 1986, Biometrika 73:13-22). It stands on
// steps of a half and is 1 at least; leaving out any one landowner moves it by no more than a step, else it is the assumed one.
func (m *mix) likeness(losses []loss) float64 {
	squares := m.apart(losses)
	owners, sum := float64(len(squares)), floats.Sum(squares)
	on := func(x float64) float64 { return onStep(x, 1, 6, 0.5) }
	effect := on(sum * owners / (owners - 1))
	for _, square := range squares {
		// With one owner less the variance by chance is G/(G−1) times as large.
		if math.Abs(on((sum-square)*owners/(owners-2))-effect) > 0.5 {
			return assumedMix
		}
	}
	return effect
}

// apart is the square of each owner's pull over the variance by chance, the mean over the animals that occur.
func (m *mix) apart(losses []loss) (squares []float64) {
	var animals []int
	for k, share := range m.likely {
		if share >= 0.02 && m.chance != nil {
			animals = append(animals, k)
		}
	}
	pull := make([]float64, len(m.likely))
	for i, n := range m.likelihoods {
		p := 0.0
		for j, l := range n.Likelihood {
			p += m.likely[j] * l
		}
		for _, k := range animals {
			for j, l := range n.Likelihood {
				pull[k] += m.chance[k][j] * l / p
			}
		}
		if i+1 == len(losses) || losses[i+1].entity != losses[i].entity {
			square := 0.0
			for _, k := range animals {
				square += pull[k] * pull[k] / m.chance[k][k] / float64(len(animals))
			}
			squares = append(squares, square)
			clear(pull)
		}
	}
	return squares
}

// pulled adds up by owner what the pairs of losses on different lines of one owner tell of how alike an owner's losses are: of
// E[Σ pull·pull′] over such pairs, pairs·ρ·π(1−π)/N², the sum over the animals that occur and the number of pairs.
func (m *mix) pulled(losses []loss) (sums, pairs []float64) {
	for from := 0; from < len(losses); {
		to, lines := from, map[int][]int{}
		for ; to < len(losses) && losses[to].entity == losses[from].entity; to++ {
			lines[losses[to].Transect] = append(lines[losses[to].Transect], to)
		}
		sum, n := 0.0, float64(to-from)
		together := n * n
		for k, share := range m.likely {
			if share < 0.02 {
				continue
			}
			all, squares := 0.0, 0.0
			for _, line := range slices.Sorted(maps.Keys(lines)) {
				pull := 0.0
				for _, i := range lines[line] {
					l, p := m.likelihoods[i].Likelihood, 0.0
					for j, share := range m.likely {
						p += share * l[j]
					}
					for j := range m.likely {
						pull += m.chance[k][j] * l[j] / p
					}
				}
				all, squares = all+pull, squares+pull*pull
			}
			sum += all*all - squares
		}
		for _, line := range lines {
			together -= float64(len(line) * len(line))
		}
		sums, pairs = append(sums, sum), append(pairs, together)
		from = to
	}
	return sums, pairs
}

// mixWeights are the steps of MixWeight.
var mixWeights = []float64{3, 6, 12, 25, 50}

// mixWeight gives how many nests the cooperative's mix is worth where a landowner's own mix begins, 1/ρ − 1 with ρ how alike the losses of one
// owner are (the intraclass correlation of a Dirichlet-multinomial: Mosimann 1962, Biometrika 49:65-82, cited from memory). With few landowners a usual
// ρ weighs more, as with the spread. Leaving out any one landowner moves it by no more than a step; else it is held.
func (c *composer) mixWeight(m *mix, losses []loss) {
	cell := c.cell(MixWeight, "", "")
	if m.chance == nil || m.n < c.policy.SpreadEntities {
		c.hold(cell, disclosure.TooFew)
		return
	}
	sums, pairs := m.pulled(losses)
	binomial := 0.0
	for _, share := range m.likely {
		if share >= 0.02 {
			binomial += share * (1 - share)
		}
	}
	step := func(leave int) int {
		const worth, usual = 8, 1 / (1 + predator.UsualWeight)
		sum, of, owners := 0.0, 0.0, 0.0
		for i := range sums {
			if i != leave {
				sum, of, owners = sum+sums[i], of+pairs[i], owners+1
			}
		}
		rho := 0.0
		if of > 0 && binomial > 0 {
			rho = max(0, sum*float64(m.losses*m.losses)/(of*binomial))
		}
		rho = (owners*rho + worth*usual) / (owners + worth)
		nearest := 0
		for i, w := range mixWeights {
			if math.Abs(math.Log(w*rho/(1-min(rho, 0.99)))) < math.Abs(math.Log(mixWeights[nearest]*rho/(1-min(rho, 0.99)))) {
				nearest = i
			}
		}
		return nearest
	}
	all := step(-1)
	for i := range sums {
		if at := step(i); at < all-1 || at > all+1 {
			c.hold(cell, disclosure.Unsteady)
			return
		}
	}
	c.publish(cell, m.n, disclosure.Figure{Estimate: new(mixWeights[all])})
}

// name publishes the animals that may be named, one cell for every animal of the list whether it occurred or not, and
// one for the rest. An animal whose share would show as 0, or hangs on one entity, goes to the rest too; and where that is so of the rest, the
// smallest that is named.
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
			unnamed[slices.MinFunc(named, func(a, b string) int {
				return cmp.Compare(m.Shares[slices.Index(animals, a)], m.Shares[slices.Index(animals, b)])
			})] = true
			continue
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
	s, wider := m.Of(in), math.Sqrt(m.effect)
	return c.policy.Share(m.n, s.Estimate, s.Estimate-wider*(s.Estimate-s.Low), s.Estimate+wider*(s.High-s.Estimate))
}

func (c *composer) showable(m *mix, in func(animal int) bool) bool {
	if *c.mixShare(m, in).Estimate == 0 {
		return false
	}
	var without []float64
	for _, shares := range m.without {
		without = append(without, part(shares, in))
	}
	return c.policy.Steady(m.n, part(m.likely, in), without)
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
