package predator

import (
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// A sampler is the state of Mix's Gibbs sampler.
type sampler struct {
	r       *rand.Rand
	counts  [][][]float64 // of the key, with the nests at their animals of the moment: feature, choice, animal
	sums    [][]float64   // of each feature's rows, by animal
	prior   []float64     // of the mix: w·b
	lines   []line
	mix     []float64 // π
	follows float64   // ρ
	chance  []float64 // scratch, by animal
}

// A line is a transect with its nests and the animal of its own.
type line struct {
	animal int
	nests  []taken
}

type taken struct {
	Sighting
	animal int
	own    bool // it fell to an animal drawn from the mix, not to its line's
}

func newSampler(k *Key, seen []Sighting, belief Belief, seed uint64) *sampler {
	s := &sampler{r: rand.New(rand.NewPCG(seed, 1)), mix: slices.Clone(belief.Shares), follows: 1. / 3, chance: make([]float64, len(names))}
	for _, rows := range k.counts {
		turned, sums := make([][]float64, len(rows[0])), make([]float64, len(rows))
		for choice := range turned {
			turned[choice] = make([]float64, len(rows))
			for animal, row := range rows {
				turned[choice][animal] = row[choice]
				sums[animal] += row[choice]
			}
		}
		s.counts, s.sums = append(s.counts, turned), append(s.sums, sums)
	}
	for _, share := range belief.Shares {
		s.prior = append(s.prior, belief.Weight*share)
	}
	for _, members := range byTransect(seen) {
		l := line{animal: s.draw(s.mix)}
		for _, n := range members {
			t := taken{Sighting: n, own: true}
			copy(s.chance, s.mix)
			t.animal = s.draw(s.chance)
			if n.Animal >= 0 {
				t.animal = n.Animal
			}
			s.count(&t, 1)
			l.nests = append(l.nests, t)
		}
		s.lines = append(s.lines, l)
	}
	return s
}

// byTransect returns the sightings of each transect; neither their order nor that of the transects depends on the order given.
func byTransect(seen []Sighting) (groups [][]Sighting) {
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
	for i, n := range seen {
		if i == 0 || n.Transect != seen[i-1].Transect {
			groups = append(groups, nil)
		}
		groups[len(groups)-1] = append(groups[len(groups)-1], n)
	}
	return groups
}

// count adds a nest's signs to the key n times, at its animal. What cameras settled the key was taught already.
func (s *sampler) count(t *taken, n float64) {
	if t.Animal >= 0 {
		return
	}
	for i, choice := range t.Signs {
		if choice >= 0 {
			s.counts[i][choice][t.animal] += n
			s.sums[i][t.animal] += n
		}
	}
}

// likelihood is P(what the nest shows | animal) under the key of the moment.
func (s *sampler) likelihood(t *taken, animal int) float64 {
	if t.Animal >= 0 {
		if t.Animal == animal {
			return 1
		}
		return 0
	}
	p := 1.0
	for i, choice := range t.Signs {
		if choice >= 0 {
			p *= s.counts[i][choice][animal] / s.sums[i][animal]
		}
	}
	return p
}

// likelihoods sets chance to the likelihood under each animal.
func (s *sampler) likelihoods(t *taken) {
	for animal := range s.chance {
		s.chance[animal] = 1
		if t.Animal >= 0 && t.Animal != animal {
			s.chance[animal] = 0
		}
	}
	if t.Animal >= 0 {
		return
	}
	for i, choice := range t.Signs {
		if choice >= 0 {
			counts, sums := s.counts[i][choice], s.sums[i]
			for animal := range s.chance {
				s.chance[animal] *= counts[animal] / sums[animal]
			}
		}
	}
}

// sweep draws each nest's animal, each line's, the mix and ρ, given all the others.
func (s *sampler) sweep() {
	followers, owners := 0.0, 0.0
	for g := range s.lines {
		l := &s.lines[g]
		for i := range l.nests {
			t := &l.nests[i]
			s.count(t, -1)
			s.likelihoods(t)
			follow, all := s.follows*s.chance[l.animal], 0.0
			for animal, share := range s.mix {
				s.chance[animal] *= share
				all += s.chance[animal]
			}
			t.own = s.r.Float64()*(follow+(1-s.follows)*all) >= follow
			t.animal = l.animal
			if t.own {
				owners++
				t.animal = s.draw(s.chance)
			} else {
				followers++
			}
			s.count(t, 1)
		}
		s.drawLine(l)
	}
	for animal, a := range s.totals() {
		s.mix[animal] = gamma(s.r, a)
	}
	scale(s.mix, 1/sum(s.mix))
	s.follows = distuv.Beta{Alpha: 1 + followers, Beta: 2 + owners, Src: s.r}.Rand()
}

// drawLine draws the animal of a line, with those nests that fell to it.
func (s *sampler) drawLine(l *line) {
	for i := range l.nests {
		if !l.nests[i].own {
			s.count(&l.nests[i], -1)
		}
	}
	for animal := range s.chance {
		p := s.mix[animal]
		for i := range l.nests { // each with those before it counted
			if t := &l.nests[i]; !t.own {
				p *= s.likelihood(t, animal)
				t.animal = animal
				s.count(t, 1)
			}
		}
		for i := range l.nests {
			if !l.nests[i].own {
				s.count(&l.nests[i], -1)
			}
		}
		s.chance[animal] = p
	}
	l.animal = s.draw(s.chance)
	for i := range l.nests {
		if t := &l.nests[i]; !t.own {
			t.animal = l.animal
			s.count(t, 1)
		}
	}
}

// totals are the counts of the mix's own distribution: those of the belief, of the lines' animals, and of the nests of their own.
func (s *sampler) totals() []float64 {
	totals := slices.Clone(s.prior)
	for _, l := range s.lines {
		totals[l.animal]++
		for _, t := range l.nests {
			if t.own {
				totals[t.animal]++
			}
		}
	}
	return totals
}

// expected is the mean of the mix given the animals of the moment.
func (s *sampler) expected() []float64 {
	totals := s.totals()
	scale(totals, 1/sum(totals))
	return totals
}

// draw returns an animal by chances that need not add up to 1.
func (s *sampler) draw(chance []float64) int {
	u := s.r.Float64() * sum(chance)
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
