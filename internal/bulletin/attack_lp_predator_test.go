package bulletin_test

import (
	"fmt"
	"math"
	"slices"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// taken is the truth of a mix: the nests that a camera saw taken, by animal and entity.
func taken(b bulletin.Bulletin, in bulletin.Input) map[string]map[string]float64 {
	events := map[string]map[string]float64{}
	for _, animal := range predator.Predators() {
		events[animal] = map[string]float64{}
	}
	eachNest(b, in, func(_ atomKey, entity string, n *survey.Nest) {
		if n.Fate() == survey.Taken && n.Camera != "" {
			events[string(n.Camera)][entity]++
		}
	})
	return events
}

// A share is a published part of the mix: its animals are the one it names, or for the rest all that no cell names.
type share struct {
	name      string
	animals   []string
	low, high float64
}

// shares reads the mix; an animal that is "fewer or none" is in the rest, as far as anybody can tell.
func (r *release) shares(p disclosure.Policy) (list []share) {
	rest := predator.Predators()
	for _, c := range r.Cells {
		if c.Measure != bulletin.PredatorShare || !c.Published {
			continue
		}
		half := p.ShareSteps[0].Points / 200
		for _, s := range p.ShareSteps {
			if c.N >= s.Entities {
				half = s.Points / 200
			}
		}
		list = append(list, share{c.Predator, []string{c.Predator}, *c.Estimate - half, *c.Estimate + half})
		rest = slices.DeleteFunc(rest, func(a string) bool { return a == c.Predator })
	}
	for i := range list {
		if list[i].name == bulletin.OtherOrUnknown {
			list[i].animals = rest
		}
	}
	return list
}

// predators adds what a season's mix says: of each share the target's losses and those of the others. Their total is known only
// as far as it is published, and by what was lost at all.
func (a *attacker) predators(r *release) {
	shares := r.shares(a.policy)
	if len(shares) == 0 {
		return
	}
	var mine, others lasted // nests, and those that lasted
	for _, who := range r.nests {
		for e, l := range who {
			switch {
			case a.insiders[e]:
			case e == a.target:
				mine = lasted{mine.kept + l.kept, mine.of + l.of}
			default:
				others = lasted{others.kept + l.kept, others.of + l.of}
			}
		}
	}
	target, rest, own, all := make([]int, len(shares)), make([]int, len(shares)), make([]float64, len(shares)), 0.0
	for i, s := range shares {
		var hers, theirs float64
		for e, x := range r.by(s.animals...) {
			switch {
			case a.insiders[e]:
				own[i] += x
			case e == a.target:
				hers = x
			default:
				theirs += x
			}
		}
		target[i], rest[i] = a.unknown(mine.of, hers), a.unknown(others.of, theirs)
		all += own[i]
	}
	a.taken[r] = target

	losses, mineLost, othersLost := map[int]float64{}, map[int]float64{}, map[int]float64{}
	for i := range shares {
		losses[target[i]], losses[rest[i]] = 1, 1
		mineLost[target[i]], othersLost[rest[i]] = 1, 1
	}
	for i, s := range shares {
		less := func(times float64) map[int]float64 { // the share less so many times all losses
			coef := map[int]float64{}
			for j := range losses {
				coef[j] = -times
			}
			coef[target[i]], coef[rest[i]] = 1-times, 1-times
			return coef
		}
		a.bound(less(s.low), s.low*all-own[i], math.Inf(1))
		a.bound(less(s.high), math.Inf(-1), s.high*all-own[i])
	}
	for _, c := range r.Cells {
		if c.Measure == bulletin.PredatorShare && c.Nests != nil {
			half := float64(a.policy.CountStep) / 2
			a.bound(losses, float64(*c.Nests)-half-all, float64(*c.Nests)+half-all)
			break
		}
	}
	for _, s := range a.stakes[r] { // what was taken did not last
		if s.target >= 0 {
			mineLost[s.target] = 1
		}
		for _, i := range s.others {
			othersLost[i] = 1
		}
	}
	a.bound(mineLost, math.Inf(-1), mine.of)
	a.bound(othersLost, math.Inf(-1), others.of)
}

// by adds up what some animals took of each entity.
func (r *release) by(animals ...string) map[string]float64 {
	events := map[string]float64{}
	for _, animal := range animals {
		for e, x := range r.events[animal] {
			events[e] += x
		}
	}
	return events
}

// askMix asks for the target's losses to a share. The p% rule promises that nobody comes as near as half of them from above.
// That there are no more than the target lost at all is what rates say. For an animal that is "fewer or none" the same bound
// holds as for all the rest, and nothing below 0: it is no nearer.
func (a *attacker) askMix(found *report, r *release, share int, name string) {
	kept, of := map[int]float64{}, 0.0
	for k, stake := range a.stakes[r] {
		if stake.target >= 0 {
			kept[stake.target] = 1
			of += r.nests[k][a.target].of
		}
	}
	least, err := a.least(kept)
	if err != nil {
		found.failed++
		return
	}
	a.room(found, ofMix, fmt.Sprintf("%d, %s", r.Season, name), map[int]float64{a.taken[r][share]: 1}, 0, of-least)
}
