// Package predator tells from the remains at taken nests, and from trail cameras, which animals took them and in what
// shares.
//
// The key turns remains into probabilities, P(k | signs) ∝ π_k·Π_j P(sign_j | k); a sign nobody wrote down is
// skipped. The table P(sign | k) starts from common practice as Dirichlet pseudo-counts of weight 5 a row, and
// camera nests add to it. No remains at all tells nothing: the answer is π itself. A single nest names an animal only
// where its probability is 0.6 or more.
//
// The mix π is the maximum of Π_i Σ_k π_k·L_ik by the EM algorithm over nests with remains and with cameras together
// (Dawid & Skene 1979), so that what the key confuses is undone; with two kinds and one test this is the estimator
// of Rogan & Gladen 1978. Its ranges come from a bootstrap over transects, since one animal may work a whole
// transect.
//
// Two limits the reader must hear. Nests without remains are taken to have fallen to the same animals as the others.
// And technicians' readings of remains are known to be poor: the shares are a hint about what to look into, never a
// verdict.
package predator

import (
	"math"
	"slices"
)

// Sure is the probability from which one nest's answer names an animal.
const Sure = 0.6

// rowWeight is the number of pseudo-counts in each row of the starting table: so many camera nests weigh as much as
// common practice.
const rowWeight = 5

// A Key is the table P(sign | animal). It is not changed once made: Learn returns another.
type Key struct {
	features []feature
	counts   [][][]float64 // feature, animal, choice: pseudo-counts and camera nests
}

// NewKey returns the key of common practice, before any camera nest.
func NewKey() *Key {
	k := &Key{features: startingTable()}
	for _, f := range k.features {
		rows := make([][]float64, len(names))
		for animal := range rows {
			rows[animal] = f.startingRow(animal)
		}
		k.counts = append(k.counts, rows)
	}
	return k
}

func (f *feature) startingRow(animal int) []float64 {
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
		row[c] *= rowWeight / sum
	}
	return row
}

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
	learnt := &Key{features: k.features}
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
