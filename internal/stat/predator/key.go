// Package predator tells from the remains at taken nests, and from trail cameras, which animals took them and in what
// shares.
//
// The key turns remains into probabilities, P(k | signs) ∝ π_k·Π_j P(sign_j | k); a sign nobody wrote down is
// skipped. The table P(sign | k) starts from common practice as Dirichlet pseudo-counts of weight 5 a row, and
// camera nests add to it. No remains at all tells nothing: the answer is π itself. A single nest names an animal only
// where its probability is 0.6 or more.
//
// A mix is the mean of what is held of the shares once all nests with remains and with cameras are read by a key that is as uncertain as its
// counts say (Mix), so that what the key confuses is undone and the nests themselves teach the key. The cooperative's begins from next to nothing;
// a ranch's own begins from the cooperative's and is moved by the ranch's nests: nine nests say little by themselves.
//
// Estimate is the maximum of Π_i Σ_k π_k·L_ik by the EM algorithm (Dawid & Skene 1979), the key held to be right; with two kinds and one test it
// is the estimator of Rogan & Gladen 1978. It is fast, and serves where a mix is asked again without each landowner.
//
// Two limits the reader must hear. Nests without sign are taken to have fallen to the same animals as the others; IfUnlike says what if not.
// And technicians' readings of remains are known to be poor: the shares are a hint about what to look into, never a
// verdict.
package predator

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Sure is the probability from which one nest's answer names an animal.
const Sure = 0.6

// rowWeight is the number of pseudo-counts in each row of the starting table: so many camera nests weigh as much as
// common practice.
const rowWeight = 5

// A Key is the table P(sign | animal). It is not changed once made: Learn returns another.
type Key struct {
	source   string
	assumed  bool // the strengths are: nobody counted them
	features []feature
	counts   [][][]float64 // feature, animal, choice: pseudo-counts and camera nests
}

// NewKey returns the key of common practice, before any camera nest.
func NewKey() *Key { return Table{}.Key() }

func (f *feature) startingRow(animal int, weight float64) []float64 {
	row := make([]float64, len(f.choices))
	var sum float64
	for c, choice := range f.choices {
		row[c] = 1
		if lean, ok := choice.lean[animal]; ok {
			row[c] = lean
		}
		sum += row[c]
	}
	for c := range row {
		row[c] *= weight / sum
	}
	return row
}

// Source says where the strengths of the key come from; "" is common practice, assumed.
func (k *Key) Source() string { return k.source }

// Assumed tells whether the strengths of the key are assumed; else nests were counted whose animal a camera settled.
func (k *Key) Assumed() bool { return k.assumed }

// Predators lists the animals in the order of every slice of shares.
func Predators() []string { return slices.Clone(names[:]) }

// Features lists the names of the scored signs, and Choices the answers that tell something for one of them.
func (k *Key) Features() []string {
	list := make([]string, len(k.features))
	for i, f := range k.features {
		list[i] = f.name
	}
	return list
}

// Choices lists the answers of the i-th feature that the key scores.
func (k *Key) Choices(i int) []string {
	list := make([]string, len(k.features[i].choices))
	for c, choice := range k.features[i].choices {
		list[c] = choice.name
	}
	return list
}

// Probability returns P(choice | animal) for the i-th feature, 0 for a choice it does not score.
func (k *Key) Probability(i, animal int, name string) float64 {
	for c, choice := range k.features[i].choices {
		if choice.name == name {
			row := k.counts[i][animal]
			return row[c] / sum(row)
		}
	}
	return 0
}

// Signs are what was seen at one nest: for each feature of the key the number of the choice, or −1 where nothing that
// can be scored was written down.
type Signs []int

// Read turns answers by feature name into Signs. Found is false where there were no remains at all: nothing was
// written down, or nothing but quiet answers (no shell, calm ground, a neat bowl). The Signs are then empty.
func (k *Key) Read(answer func(feature string) string) (s Signs, found bool) {
	s = make(Signs, len(k.features))
	for i, f := range k.features {
		a := answer(f.name)
		s[i] = slices.IndexFunc(f.choices, func(c choice) bool { return c.name == a })
		found = found || s[i] >= 0 && !quiet[a]
	}
	if !found {
		return nil, false
	}
	return s, true
}

// Likelihood returns P(signs | animal) for each animal, scaled so that the largest is 1. Without signs all are 1.
func (k *Key) Likelihood(s Signs) []float64 {
	logs := make([]float64, len(names))
	for i, c := range s {
		if c < 0 {
			continue
		}
		for animal, row := range k.counts[i] {
			logs[animal] += math.Log(row[c] / sum(row))
		}
	}
	top := slices.Max(logs)
	for i := range logs {
		logs[i] = math.Exp(logs[i] - top)
	}
	return logs
}

// A Case is a nest whose predator a camera settled, with the signs it left.
type Case struct {
	Animal int
	Signs  Signs
}

// Learn returns the key with camera nests added to its counts.
func (k *Key) Learn(cases []Case) *Key {
	learnt := &Key{source: k.source, assumed: k.assumed, features: k.features}
	for _, rows := range k.counts {
		copied := make([][]float64, len(rows))
		for animal, row := range rows {
			copied[animal] = slices.Clone(row)
		}
		learnt.counts = append(learnt.counts, copied)
	}
	for _, c := range cases {
		learnt.add(c, 1)
	}
	return learnt
}

// add counts a case n times.
func (k *Key) add(c Case, n float64) {
	for i, choice := range c.Signs {
		if choice >= 0 {
			k.counts[i][c.Animal][choice] += n
		}
	}
}

// Posterior returns π·L divided by its sum: the probabilities of the animals at one nest.
func Posterior(mix, likelihood []float64) []float64 {
	post := make([]float64, len(mix))
	var total float64
	for i := range post {
		post[i] = mix[i] * likelihood[i]
		total += post[i]
	}
	for i := range post {
		post[i] /= total
	}
	return post
}

// Name returns the animal that the probabilities name, and false where none reaches Sure: "can't tell".
func Name(posterior []float64) (animal int, ok bool) {
	animal = 0
	for i, p := range posterior {
		if p > posterior[animal] {
			animal = i
		}
	}
	return animal, posterior[animal] >= Sure
}

// Certain returns the likelihood of a nest whose predator a camera settled.
func Certain(animal int) []float64 {
	l := make([]float64, len(names))
	l[animal] = 1
	return l
}

func sum(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v
	}
	return s
}

// A Sighting is what one taken nest showed.
type Sighting struct {
	Transect int
	Animal   int   // what a camera settled; −1 for none
	Signs    Signs // nil where nothing was left to go by
}

// What a taken nest may show, in the order in which it is told everywhere; then come the animals.
const (
	NoSign      = "no sign left"
	FitsSeveral = "fits several"
	FitsOne     = "fits one"
)

// Rest is the part of a mix that is not named: animals too seldom to name.
const Rest = "other or unknown"

// Fits says what a nest shows: NoSign, FitsSeveral, or FitsOne with the animal, which is −1 otherwise. All animals are held equally likely
// beforehand; a camera's answer fits one.
func (k *Key) Fits(s Sighting) (sign string, animal int) {
	switch {
	case s.Animal >= 0:
		return FitsOne, s.Animal
	case s.Signs == nil:
		return NoSign, -1
	}
	if animal, sure := Name(Posterior(Even(1).Shares, k.Likelihood(s.Signs))); sure {
		return FitsOne, animal
	}
	return FitsSeveral, -1
}

// Nests reads sightings by the key.
func (k *Key) Nests(seen []Sighting) []Nest {
	nests := make([]Nest, len(seen))
	for i, s := range seen {
		nests[i] = Nest{Transect: s.Transect}
		if s.Animal >= 0 {
			nests[i].Likelihood = Certain(s.Animal)
		} else {
			nests[i].Likelihood = k.Likelihood(s.Signs)
		}
	}
	return nests
}

// Drawn returns a key that could be the true one: each row drawn from the Dirichlet distribution of its counts.
func (k *Key) Drawn(r *rand.Rand) *Key {
	drawn := &Key{source: k.source, assumed: k.assumed, features: k.features}
	for _, rows := range k.counts {
		copied := make([][]float64, len(rows))
		for animal, row := range rows {
			copied[animal] = make([]float64, len(row))
			for c, count := range row {
				copied[animal][c] = max(gamma(r, count), 1e-12) // no draw is proof
			}
		}
		drawn.counts = append(drawn.counts, copied)
	}
	return drawn
}
