package bulletin_test

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// A release is a bulletin with what it was made from. What was taken back since has been seen: it is here as it was published.
type release struct {
	bulletin.Bulletin
	in     bulletin.Input
	nests  map[atomKey]map[string]lasted
	sheets map[atomKey]map[string]string // what became of each nest, to tell who changed
	events map[string]map[string]float64 // nests taken, by animal and entity
	first  *release                      // of a final edition
}

func released(b bulletin.Bulletin, in bulletin.Input) *release {
	r := &release{Bulletin: b, in: in, nests: world(b, in), events: taken(b, in), sheets: map[atomKey]map[string]string{}}
	eachNest(b, in, func(k atomKey, entity string, n *survey.Nest) {
		if r.sheets[k] == nil {
			r.sheets[k] = map[string]string{}
		}
		r.sheets[k][entity] += fmt.Sprint(n.Ranch, n.Number, n.Visits)
	})
	return r
}

// An attacker is what a coalition knows and what it does not, of one target, over all releases.
type attacker struct {
	system
	policy   disclosure.Policy
	releases []*release
	target   string
	by       []string
	insiders map[string]bool // the coalition, and whose figures everybody knows
	told     bool            // who changed between two editions, and which way
	undone   bool            // the rounding of rates

	stakes map[*release]map[atomKey]stake // in nests that lasted
	taken  map[*release][]int             // the target's losses by share of the mix
	clumps map[string]float64             // of each entity
	grown  map[string]int                 // likewise, where they are not known
}

func newAttacker(p disclosure.Policy, releases []*release, target string, by []string, told, undone bool) *attacker {
	a := &attacker{policy: p, releases: releases, target: target, by: by, told: told, undone: undone, insiders: map[string]bool{},
		stakes: map[*release]map[atomKey]stake{}, taken: map[*release][]int{}}
	for _, e := range by {
		a.insiders[e] = true
	}
	for _, r := range releases {
		for _, m := range r.in.Roster {
			a.insiders[m.Entity] = a.insiders[m.Entity] || m.Consent >= 3
		}
	}
	for _, r := range releases {
		if r.first != nil {
			continue
		}
		editions := []*release{r}
		for _, o := range releases {
			if o.first == r {
				editions = append(editions, o)
			}
		}
		a.survival(editions...)
		a.predators(r)
	}
	a.cover()
	return a
}

// The kinds of secrets.
const (
	ofRates     = "rates"
	ofChanges   = "changes"
	ofCover     = "cover"
	ofNewcomers = "cover over seasons"
	ofMix       = "predators"
)

// allowed is what the policy leaves unknown: of a rate a range of MinRange of the scale, of an amount Remainder of it above the
// truth, or a range as wide.
func allowed(kind string) float64 {
	p := disclosure.Default()
	if strings.HasPrefix(kind, ofRates) {
		return p.MinRange
	}
	return p.Remainder / 100
}

// A proof is the nearest that a coalition comes to a secret.
type proof struct {
	left   float64 // unknown, as a share of the scale or of the amount
	target string
	by     []string
	of     string
}

// A report is the nearest proof of each kind, and how many programs there were.
type report struct {
	nearest        map[string]proof
	asked          map[string]int
	solved, failed int
	wrong          int // bounds that the truth does not keep, and proofs that more knowledge made weaker
}

func newReport() *report { return &report{nearest: map[string]proof{}, asked: map[string]int{}} }

func (r *report) take(kind string, p proof) {
	r.asked[kind]++
	if best, ok := r.nearest[kind]; !ok || p.left < best.left {
		r.nearest[kind] = p
	}
}

func (r *report) add(o *report) {
	for kind, p := range o.nearest {
		r.take(kind, p)
		r.asked[kind] += o.asked[kind] - 1
	}
	r.failed, r.wrong, r.solved = r.failed+o.failed, r.wrong+o.wrong, r.solved+o.solved
}

// nearer describes the proofs that are nearer than the policy allows, "" where there are none.
func (r *report) nearer(kinds ...string) (found string) {
	for _, kind := range kinds {
		if p, ok := r.nearest[kind]; ok && p.left < allowed(kind)-1e-4 {
			found += r.line(kind) + "\n"
		}
	}
	return found
}

func (r *report) line(kind string) string {
	p := r.nearest[kind]
	unit := "% above the amount"
	switch {
	case strings.HasPrefix(kind, ofRates):
		unit = "points of the scale"
	case kind == ofNewcomers:
		unit = "% of the amount, as a range,"
	}
	return fmt.Sprintf("%s: %.1f %s left for %s (%s) by %v, %d asked", kind, 100*p.left, unit, p.target, p.of, p.by, r.asked[kind])
}

func (r *report) String() (text string) {
	for _, kind := range slices.Sorted(maps.Keys(r.nearest)) {
		text += r.line(kind) + "\n"
	}
	return text + fmt.Sprintf("%d linear programs, %d without a solution", r.solved, r.failed)
}

func (a *attacker) kind(name string) string {
	if a.undone {
		name += ", rounding undone"
	}
	return name
}

// width asks how wide the interval for a sum of unknowns is, beside its size.
func (a *attacker) width(found *report, kind, of string, sum map[int]float64, size float64) {
	found.solved += 2
	most, err := a.most(sum)
	least, err2 := a.least(sum)
	if err != nil || err2 != nil {
		found.failed++
		return
	}
	found.take(a.kind(kind), proof{(most - least) / size, a.target, a.by, of})
}

// room asks how far above the truth an upper bound of an amount stays: that is what the p% rule is about, for from below there
// is always nothing. A bound that is there without the publication attacked is none of its doing.
func (a *attacker) room(found *report, kind, of string, sum map[int]float64, constant, prior float64) {
	truth := constant
	for i, x := range sum {
		truth += x * a.truth[i]
	}
	if truth <= 0 {
		return
	}
	found.solved++
	most, err := a.most(sum)
	if err != nil {
		found.failed++
		return
	}
	if most += constant; most < prior-1e-3 {
		found.take(a.kind(kind), proof{(most - truth) / truth, a.target, a.by, of})
	}
}

// prove lets those coalitions attack that know most: of some targets' rates, and of the largest amounts, which are the hardest to
// protect. Each has one system for all releases and all kinds of secrets.
func prove(p disclosure.Policy, releases []*release, seed uint64, targets int) *report {
	r, found := rand.New(rand.NewPCG(seed, 28)), newReport()
	last := releases[len(releases)-1]
	all := map[string]map[atomKey]lasted{}
	for k, who := range last.nests {
		for e, l := range who {
			if all[e] == nil {
				all[e] = map[atomKey]lasted{}
			}
			all[e][k] = l
		}
	}
	entities := namesIn(all)
	from := func(releases []*release, target string, by []string, told, undone bool) *attacker {
		a := newAttacker(p, releases, target, by, told, undone)
		found.wrong += a.wrong
		return a
	}
	open := func(target string, by []string, told, undone bool) *attacker {
		return from(releases, target, by, told, undone)
	}
	secret := func(e string) bool { return !open(e, nil, false, false).insiders[e] }

	r.Shuffle(len(entities), func(i, j int) { entities[i], entities[j] = entities[j], entities[i] })
	for _, target := range entities[:min(targets, len(entities))] {
		if !secret(target) {
			continue
		}
		for _, by := range coalitionsAgainst(target, entities, all, r) {
			open(target, by, true, false).askRates(found)
			open(target, by, true, true).askRates(found)
		}
	}
	// Of an amount the two largest others know most.
	largest := func(amounts map[string]float64, attack func(target string, by []string)) {
		list := namesIn(amounts)
		list = slices.DeleteFunc(list, func(e string) bool { return amounts[e] <= 0 || !secret(e) })
		slices.SortStableFunc(list, func(a, b string) int { return cmp.Compare(amounts[b], amounts[a]) })
		for i, target := range list[:min(2, len(list))] {
			others := slices.Delete(slices.Clone(list), i, i+1)
			attack(target, others[:min(2, len(others))])
		}
	}
	for _, final := range releases {
		if final.first == nil {
			continue
		}
		for _, k := range atomsOf(final.first, final) {
			largest(final.changed(k), func(target string, by []string) {
				for _, undone := range []bool{false, true} {
					a, apart := open(target, by, true, undone), open(target, by, false, undone)
					a.askChanges(found, apart)
					a.askRates(found)
				}
			})
		}
	}
	largest(open("", nil, false, false).clumps, func(target string, by []string) {
		open(target, by, true, false).askCover(found)
	})
	for _, rel := range releases {
		if rel.first != nil {
			continue
		}
		if one := []*release{rel}; len(releases) > 1 {
			largest(from(one, "", nil, false, false).clumps, func(target string, by []string) {
				from(one, target, by, true, false).askCover(found)
			})
		}
		for i, s := range rel.shares(p) {
			largest(rel.by(s.animals...), func(target string, by []string) {
				open(target, by, true, false).askMix(found, rel, i, s.name)
			})
		}
	}
	return found
}

// changed is by how much each entity's losses changed in a final edition.
func (r *release) changed(k atomKey) map[string]float64 {
	by := map[string]float64{}
	for e := range union(r.first.nests[k], r.nests[k]) {
		x, y := r.first.nests[k][e], r.nests[k][e]
		by[e] = math.Abs((y.of - y.kept) - (x.of - x.kept))
	}
	return by
}

func namesIn[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

func keys[K comparable, V any](m map[K]V) func(func(K) bool) {
	return func(yield func(K) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}
