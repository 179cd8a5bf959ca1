package predator

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// A sampler is the state of Mix's sampler: whose each nest and each line is. The mix, the key and ρ are integrated out.
type sampler struct {
	r        *rand.Rand
	features []columns // of the key
	start    []row     // counts of the key by choice; those of a feature follow one another
	nests    []row     // how many nests show each choice, at their animals of the moment
	counts   []row     // of both
	same     []float64 // scratch, by choice
	totals   row       // of the mix: the belief's, the lines' animals, and the nests of their own
	total    float64
	lines    []line

	followers, owners float64 // how many nests fell to their line's animal, and how many to one drawn from the mix
}

// A row has a number for each animal.
type row [len(names)]float64

// columns are the choices of a feature, from the first to before the next one's, with their sums.
type columns struct {
	first, next  int
	start, nests row
	over         row     // 1/(start + nests)
	same         float64 // scratch
}

// A line is a transect with its nests and the animal of its own.
type line struct {
	animal int
	nests  []taken
}

type taken struct {
	signs  []sign // none where a camera settled it: what cameras settled the key was taught already
	camera int    // −1 for none
	animal int
	own    bool // it fell to an animal drawn from the mix, not to its line's
}

type sign struct{ feature, choice int }

func newSampler(k *Key, seen []Sighting, belief Belief, seed uint64, which int) *sampler {
	s := &sampler{r: rand.New(rand.NewPCG(seed, uint64(1+which)))}
	for _, rows := range k.counts {
		f := columns{first: len(s.start), next: len(s.start) + len(rows[0])}
		s.start = append(s.start, make([]row, len(rows[0]))...)
		for animal, counts := range rows {
			f.start[animal] = sum(counts)
			f.over[animal] = 1 / f.start[animal]
			for choice, n := range counts {
				s.start[f.first+choice][animal] = n
			}
		}
		s.features = append(s.features, f)
	}
	s.nests, s.counts, s.same = make([]row, len(s.start)), slices.Clone(s.start), make([]float64, len(s.start))
	for animal, share := range belief.Shares {
		s.totals[animal] = belief.Weight * share
		s.total += s.totals[animal]
	}
	first := s.totals
	for _, members := range byTransect(seen) {
		l := line{animal: s.draw(&first)}
		s.totals[l.animal]++
		s.total++
		for _, n := range members {
			t := s.take(n)
			if t.camera < 0 {
				t.animal = s.draw(&first)
			}
			s.add(&t, 1)
			l.nests = append(l.nests, t)
		}
		s.lines = append(s.lines, l)
	}
	return s
}

func (s *sampler) take(n Sighting) taken {
	t := taken{camera: n.Animal, animal: n.Animal, own: true}
	if n.Animal >= 0 {
		return t
	}
	for f, choice := range n.Signs {
		if choice >= 0 {
			t.signs = append(t.signs, sign{f, s.features[f].first + choice})
		}
	}
	return t
}

// byTransect returns the sightings of each transect; neither their order nor that of the transects depends on the order given.
func byTransect(seen []Sighting) (groups [][]Sighting) {
	seen = inOrder(seen)
	for i, n := range seen {
		if i == 0 || n.Transect != seen[i-1].Transect {
			groups = append(groups, nil)
		}
		groups[len(groups)-1] = append(groups[len(groups)-1], n)
	}
	return groups
}

func inOrder(seen []Sighting) []Sighting {
	seen = slices.Clone(seen)
	slices.SortStableFunc(seen, func(a, b Sighting) int {
		if a.Transect != b.Transect {
			return a.Transect - b.Transect
		}
		if a.Animal != b.Animal {
			return a.Animal - b.Animal
		}
		return slices.Compare(a.Signs, b.Signs)
	})
	return seen
}

// add adds a nest n times, at its animal: its signs to the key, and itself to those that tell of the mix and of ρ.
func (s *sampler) add(t *taken, n float64) {
	s.count(t, n)
	if t.own {
		s.owners += n
		s.totals[t.animal] += n
		s.total += n
	} else {
		s.followers += n
	}
}

// count adds a nest's signs to the key n times, at its animal.
func (s *sampler) count(t *taken, n float64) {
	a := t.animal
	for _, at := range t.signs {
		f := &s.features[at.feature]
		f.nests[a] += n
		f.over[a] = 1 / (f.start[a] + f.nests[a])
		s.nests[at.choice][a] += n
		s.counts[at.choice][a] = s.start[at.choice][a] + s.nests[at.choice][a]
	}
}

// sweep draws each nest's animal and each line's, given all the others, and then two animals' places.
func (s *sampler) sweep() {
	for g := range s.lines {
		l := &s.lines[g]
		for i := range l.nests {
			s.drawNest(l, &l.nests[i])
		}
		s.drawLine(l)
	}
	for range 1 + int(s.followers+s.owners)/100 {
		s.trade()
	}
}

// drawNest draws whether a nest fell to its line's animal, ρ having the prior Beta(1, 2), and else to which.
func (s *sampler) drawNest(l *line, t *taken) {
	mix, total, followers, owners := s.totals, s.total, s.followers, s.owners // without it
	if t.own {
		mix[t.animal]--
		total--
		owners--
	} else {
		followers--
	}
	p := s.likelihood(t)
	follow := (1 + followers) * p[l.animal]
	for animal := range p {
		p[animal] *= mix[animal]
	}
	animal, own := l.animal, s.r.Float64()*(follow+(2+owners)*sum(p[:])/total) >= follow
	if own {
		animal = s.draw(&p)
	}
	if animal == t.animal && own == t.own {
		return
	}
	s.add(t, -1)
	t.animal, t.own = animal, own
	s.add(t, 1)
}

// likelihood is P(what a nest shows | animal) under the key of the moment, the nest itself not counted.
func (s *sampler) likelihood(t *taken) (p row) {
	if t.camera >= 0 {
		p[t.camera] = 1
		return p
	}
	for animal := range p {
		p[animal] = 1
	}
	a, here := t.animal, 1.0
	for _, at := range t.signs {
		counts, f := &s.counts[at.choice], &s.features[at.feature]
		for animal := range p {
			p[animal] *= counts[animal] * f.over[animal]
		}
		here *= (counts[a] - 1) / (f.start[a] + f.nests[a] - 1)
	}
	p[a] = here
	return p
}

// drawLine draws the animal of a line, with those nests that fell to it: each shows what it shows with those before it counted.
func (s *sampler) drawLine(l *line) {
	s.totals[l.animal]--
	p := s.totals
	for i := range l.nests {
		if t := &l.nests[i]; !t.own {
			s.count(t, -1)
		}
	}
	for i := range l.nests {
		if t := &l.nests[i]; !t.own {
			s.show(t, &p)
		}
	}
	l.animal = s.draw(&p)
	s.totals[l.animal]++
	for i := range l.nests {
		t := &l.nests[i]
		if t.own {
			continue
		}
		t.animal = l.animal
		s.count(t, 1)
		for _, at := range t.signs {
			s.same[at.choice], s.features[at.feature].same = 0, 0
		}
	}
}

// show multiplies each element of p with P(what a nest shows | animal), those that were shown before it having fallen to the same.
func (s *sampler) show(t *taken, p *row) {
	if t.camera >= 0 {
		settled := p[t.camera]
		*p = row{}
		p[t.camera] = settled
	}
	for _, at := range t.signs {
		same, f := s.same[at.choice], &s.features[at.feature]
		counts := &s.counts[at.choice]
		for animal := range p {
			p[animal] *= (counts[animal] + same) / (f.start[animal] + f.nests[animal] + f.same)
		}
		s.same[at.choice]++
		f.same++
	}
	if top := slices.Max(p[:]); top < 1e-100 { // as many nests bring it
		for animal := range p {
			p[animal] /= top
		}
	}
}

// trade proposes that two animals change places in all that no camera settled, and takes it by the odds (Metropolis). One by one, the nests of
// many lines would never get from one reading of them to another that is as likely.
func (s *sampler) trade() {
	a, b := s.r.IntN(len(names)), s.r.IntN(len(names)-1)
	if b >= a {
		b++
	}
	before := s.weight(a, b)
	s.swap(a, b)
	if math.Log(s.r.Float64()) >= s.weight(a, b)-before {
		s.swap(a, b)
	}
}

// weight is the logarithm of the part that two animals have in the probability of the state, up to what swap leaves alone.
func (s *sampler) weight(a, b int) (w float64) {
	for c := range s.nests {
		if n, m := s.nests[c][a], s.nests[c][b]; n > 0 || m > 0 {
			w += rising(s.start[c][a], n) + rising(s.start[c][b], m)
		}
	}
	for i := range s.features {
		if f := &s.features[i]; f.nests[a] > 0 || f.nests[b] > 0 {
			w -= rising(f.start[a], f.nests[a]) + rising(f.start[b], f.nests[b])
		}
	}
	return w + logGamma(s.totals[a]) + logGamma(s.totals[b])
}

func (s *sampler) swap(a, b int) {
	for g := range s.lines {
		l := &s.lines[g]
		settled := slices.ContainsFunc(l.nests, func(t taken) bool { return t.camera >= 0 && !t.own })
		if !settled {
			s.totals[l.animal]--
			l.animal = swapped(l.animal, a, b)
			s.totals[l.animal]++
		}
		for i := range l.nests {
			t := &l.nests[i]
			if t.animal != a && t.animal != b || t.camera >= 0 || !t.own && settled {
				continue
			}
			s.add(t, -1)
			t.animal = swapped(t.animal, a, b)
			s.add(t, 1)
		}
	}
}

func swapped(animal, a, b int) int {
	switch animal {
	case a:
		return b
	case b:
		return a
	}
	return animal
}

// rising is log Γ(x + n)/Γ(x), with n whole and not below 0.
func rising(x, n float64) (log float64) {
	switch {
	case n == 0:
		return 0
	case n > 8:
		return logGamma(x+n) - logGamma(x)
	}
	product := 1.0
	for i := range int(n) {
		product *= x + float64(i)
	}
	return math.Log(product)
}

func logGamma(x float64) float64 {
	log, _ := math.Lgamma(x)
	return log
}

// expected adds the mean of the mix given the animals of the moment, by a weight.
func (s *sampler) expected(shares []float64, weight float64) {
	for animal, a := range s.totals {
		shares[animal] += weight * a / s.total
	}
}

// mix draws the mix given the animals of the moment.
func (s *sampler) mix() []float64 {
	mix := make([]float64, len(names))
	for animal, a := range s.totals {
		mix[animal] = gamma(s.r, a)
	}
	scale(mix, 1/sum(mix))
	return mix
}

// draw returns an animal by chances that need not add up to 1.
func (s *sampler) draw(chance *row) int {
	u := s.r.Float64() * sum(chance[:])
	for animal, p := range chance {
		if u -= p; u < 0 {
			return animal
		}
	}
	return len(chance) - 1
}

func scale(x []float64, by float64) {
	for i := range x {
		x[i] *= by
	}
}

func gamma(r *rand.Rand, shape float64) float64 {
	if shape <= 0 {
		return 0
	}
	return distuv.Gamma{Alpha: shape, Beta: 1, Src: r}.Rand()
}
