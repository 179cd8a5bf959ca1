package predator

import (
	"math"
	"math/rand/v2"
	"slices"

	"tussock/internal/stat/interval"
)

// A Nest is one loss that tells something: a transect and the likelihood of what was seen under each animal.
type Nest struct {
	Transect   int
	Likelihood []float64 // all of one length, each with an element above 0
}

// A Share is one animal's part of the losses with its 95 % range.
type Share struct {
	Estimate, Low, High float64
}

// A Belief is what is held of the shares before a place's own nests are seen: shares that count as much as Weight nests
// each settled by a camera, so a Dirichlet distribution with Weight·Shares.
type Belief struct {
	Shares []float64 // all above 0, Σ = 1
	Weight float64   // above 0
}

// Even holds all animals equally likely.
func Even(weight float64) Belief {
	b := Belief{Shares: make([]float64, len(names)), Weight: weight}
	for k := range b.Shares {
		b.Shares[k] = 1 / float64(len(names))
	}
	return b
}

// Jeffreys is what is held where nothing is known: half a nest for each animal (Jeffreys 1946, Proc. R. Soc. A 186:453-461, cited from memory).
func Jeffreys() Belief { return Even(float64(len(names)) / 2) }

// UsualWeight is that of a belief where nobody knows how far owners' mixes lie apart. Ours: owners' own shares of an animal
// that takes a quarter of the nests then have a standard deviation of 14 in 100.
const UsualWeight = 8

// Chain says how the draws are made. The seed makes them the same each time.
type Chain struct {
	Draws int // 0: DefaultDraws
	Seed  uint64
}

// Negligible is a share that is none: EM brings the share of an animal that explains nothing ever nearer to 0.
const Negligible = 0.0005

// DefaultDraws settles the ends of a 95 % range to a point or two in a hundred, finer than so few nests can tell.
const DefaultDraws = 400

// many is how many nests a single long sampler reads as well as several short ones (measured: of 800 nests shares differ by less than 0.1 between seeds), and in less time.
const many = 400

// Most is how many nests a ranch's mix is made of. How well so many tell the animals apart hangs on the key more than on their number, and of more the draws
// would not find all readings that are nearly as likely. Ours.
const Most = 200

// Some returns so many of the sightings at most, drawn by lot (the same each time, whatever their order).
func Some(seen []Sighting, most int) []Sighting {
	if len(seen) <= most {
		return seen
	}
	some := inOrder(seen)
	r := rand.New(rand.NewPCG(uint64(len(some)), 2))
	r.Shuffle(len(some), func(i, j int) { some[i], some[j] = some[j], some[i] })
	return some[:most:most]
}

// A Mixture is what is held of the shares of the animals in the losses of one place.
type Mixture struct {
	Shares []float64   // their means
	draws  [][]float64 // by draw, animal
}

// Mix updates a belief about the shares by a place's own nests, read by a key that is as uncertain as its counts say.
//
// The model: the mix π is drawn from the belief, Dirichlet(w·b); each row of the key from the Dirichlet of its counts. Each transect has an animal of
// its own, drawn from π. A nest fell to its transect's animal with probability ρ, else to one drawn from π; ρ has the prior
// Beta(1, 2), ours, and is learned. What it shows is drawn from the key, sign by sign. A camera's answer is certain.
//
// The draws are those of a Gibbs sampler with the mix, the key and ρ integrated out (Gelfand & Smith 1990, J. Am. Stat. Assoc. 85:398-409; Liu
// 1994, J. Am. Stat. Assoc. 89:958-966), which also lets two animals change places (Jasra, Holmes & Stephens 2005, Stat. Sci. 20:50-67; all
// cited from memory): many nests teach the key, and their readings with two animals changed may be as likely. Where one sampler would stay in the
// reading that it came upon first, several that begin apart come upon others, too (Gelman & Rubin 1992, Stat. Sci. 7:457-472). With certain nests, each on a
// transect of its own, they are those of the Dirichlet distribution w·b + n. Without nests they are those of the belief.
func (k *Key) Mix(seen []Sighting, belief Belief, c Chain) Mixture {
	samplers, before, every := 16, 80, 6
	if len(seen) > many {
		samplers, before, every = 1, 200, 3
	}
	if c.Draws == 0 {
		c.Draws = DefaultDraws
	}
	m := Mixture{Shares: make([]float64, len(names))}
	each := (c.Draws + samplers - 1) / samplers
	for i := range samplers {
		s := newSampler(k, seen, belief, c.Seed, i)
		for sweep := range before + every*each {
			s.sweep()
			if sweep < before {
				continue
			}
			s.expected(m.Shares, 1/float64(samplers*every*each))
			if (sweep-before)%every == 0 {
				m.draws = append(m.draws, s.mix())
			}
		}
	}
	return m
}

// Of returns the share of some animals together.
func (m Mixture) Of(in func(animal int) bool) Share {
	part := func(shares []float64) (p float64) {
		for k, share := range shares {
			if in(k) {
				p += share
			}
		}
		return p
	}
	s := Share{Estimate: part(m.Shares)}
	ends := make([]float64, len(m.draws))
	for i, draw := range m.draws {
		ends[i] = part(draw)
	}
	slices.Sort(ends)
	s.Low = min(s.Estimate, percentile(ends, (1-interval.Level)/2))
	s.High = max(s.Estimate, percentile(ends, (1+interval.Level)/2))
	return s
}

// Animal returns the share of one animal.
func (m Mixture) Animal(animal int) Share { return m.Of(func(k int) bool { return k == animal }) }

// distinct returns the different nests, and for each nest which of them it is: nests that left the same remains are one
// to the likelihood, which is then faster to compute.
func distinct(nests []Nest) (kinds []Nest, kind []int) {
	kind = make([]int, len(nests))
	at := map[float64][]int{} // by a sum, so that few have to be compared
	for i, n := range nests {
		key := sum(n.Likelihood)
		kind[i] = -1
		for _, k := range at[key] {
			if slices.Equal(kinds[k].Likelihood, n.Likelihood) {
				kind[i] = k
				break
			}
		}
		if kind[i] < 0 {
			kind[i] = len(kinds)
			at[key] = append(at[key], len(kinds))
			kinds = append(kinds, n)
		}
	}
	return kinds, kind
}

// Estimate returns the shares that the nests alone say, the maximum of the likelihood.
func Estimate(nests []Nest) []float64 {
	if len(nests) == 0 {
		return nil
	}
	kinds, times := counted(nests)
	return maximum(kinds, times, nil, 1e-9)
}

// Near is Estimate for nests whose shares are near those of others, to five digits: faster, because EM starts there.
func Near(nests []Nest, others []float64) []float64 {
	if len(nests) == 0 {
		return nil
	}
	kinds, times := counted(nests)
	return maximum(kinds, times, spreadOut(others), 1e-6)
}

// counted returns the different nests and how many there are of each.
func counted(nests []Nest) (kinds []Nest, times []float64) {
	kinds, kind := distinct(nests)
	times = make([]float64, len(kinds))
	for _, k := range kind {
		times[k]++
	}
	return kinds, times
}

// spreadOut spreads a tenth of a mix over all animals: EM cannot leave a share of 0.
func spreadOut(mix []float64) []float64 {
	start := make([]float64, len(mix))
	for k := range start {
		start[k] = 0.9*mix[k] + 0.1/float64(len(mix))
	}
	return start
}

// Unlike is how many times as often an animal may leave no sign, or how many times as seldom, as the others: the sensitivity that is
// stated beside a mix. Ours.
const Unlike = 3

// IfUnlike returns the range that a share of the nests with sign has among all taken nests, the part none of them without sign, if the animal leaves
// no sign up to Unlike times as often as the others, or as seldom: the ends of the range, with odds times or over Unlike among the nests without
// sign. Where remains are missing at random the share among all is the share itself.
func (s Share) IfUnlike(none float64) (low, high float64) {
	among := func(share, odds float64) float64 { return (1-none)*share + none*share*odds/(share*odds+1-share) }
	return among(s.Low, 1./Unlike), among(s.High, Unlike)
}

// maximum runs EM from the given shares, or from equal ones, until no share moves by more than the tolerance.
func maximum(nests []Nest, weights, start []float64, stop float64) []float64 {
	const most = 20000
	kinds := len(nests[0].Likelihood)
	mix := slices.Clone(start)
	if mix == nil {
		mix = make([]float64, kinds)
		for k := range mix {
			mix[k] = 1 / float64(kinds)
		}
	}
	next := make([]float64, kinds)
	for range most {
		step(nests, weights, mix, next)
		var moved float64
		for k := range mix {
			moved = math.Max(moved, math.Abs(next[k]-mix[k]))
		}
		mix, next = next, mix
		if moved < stop {
			break
		}
	}
	return mix
}

// step is one round of EM: share the nests out by the mix, then count.
func step(nests []Nest, weights, mix, next []float64) {
	clear(next)
	var total float64
	for i, n := range nests {
		if weights[i] == 0 {
			continue
		}
		var p float64
		for k, l := range n.Likelihood {
			p += mix[k] * l
		}
		if p == 0 { // only where rounding takes all that the nest fits
			continue
		}
		total += weights[i]
		f := weights[i] / p
		for k, l := range n.Likelihood {
			next[k] += f * l
		}
	}
	if total == 0 {
		copy(next, mix)
		return
	}
	for k := range next {
		next[k] *= mix[k] / total
	}
}

// percentile returns the p-quantile of sorted values, between the two nearest.
func percentile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
