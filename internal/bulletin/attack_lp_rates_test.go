package bulletin_test

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// An atomKey is a place and substrate; lasted is what an entity has there: nests, and how many of them lasted.
type atomKey struct{ label, substrate string }

type lasted struct{ kept, of float64 }

// world is the truth that the attacker wants: by atom and entity.
func world(b bulletin.Bulletin, in bulletin.Input) map[atomKey]map[string]lasted {
	all := map[atomKey]map[string]lasted{}
	eachNest(b, in, func(k atomKey, entity string, n *survey.Nest) {
		if all[k] == nil {
			all[k] = map[string]lasted{}
		}
		l := all[k][entity]
		l.of++
		if n.Fate() == survey.Intact {
			l.kept++
		}
		all[k][entity] = l
	})
	return all
}

// eachNest goes through the nests that count.
func eachNest(b bulletin.Bulletin, in bulletin.Input, do func(k atomKey, entity string, n *survey.Nest)) {
	label, who := labels(b), members(in)
	for i := range in.Data.Nests {
		n := &in.Data.Nests[i]
		if m, ok := who[n.Ranch]; ok && n.Season == b.Season {
			do(atomKey{label[m.Area], string(n.Substrate)}, m.Entity, n)
		}
	}
}

func labels(b bulletin.Bulletin) map[string]string {
	label := map[string]string{}
	for _, p := range b.Places {
		label[p.Area] = p.Label
	}
	return label
}

func members(in bulletin.Input) map[string]bulletin.Member {
	who := map[string]bulletin.Member{}
	for _, m := range in.Roster {
		if m.Consent > 0 {
			who[m.Ranch] = m
		}
	}
	return who
}

// A rateRow bounds a mean of atoms' shares: the coefficients are of nests that lasted.
type rateRow struct {
	coef      map[atomKey]float64
	low, high float64
}

// rateRows reads the survival cells. Undone supposes that the rounding of a rate is undone, as the interval audit does where
// a substrate has no open band.
func (r *release) rateRows(p disclosure.Policy, undone bool) (rows []rateRow) {
	of := func(in func(atomKey) bool) (n float64) {
		for k, who := range r.nests {
			for _, l := range who {
				if in(k) {
					n += l.of
				}
			}
		}
		return n
	}
	rate := func(c bulletin.Cell) bool {
		return c.Published && (c.Measure == bulletin.Survival28 || c.Measure == bulletin.SurvivalCrude)
	}
	for _, c := range r.Cells {
		if !rate(c) {
			continue
		}
		substrates := []string{text(c.Substrate)}
		if c.Substrate == nil {
			substrates = r.Log.Standards
		}
		here := func(k atomKey) bool {
			return slices.Contains(substrates, k.substrate) && (c.Area == nil || k.label == *c.Area)
		}
		row := rateRow{coef: map[atomKey]float64{}, low: *c.Low, high: *c.High}
		exact := 0.0
		for k, who := range r.nests {
			if !here(k) {
				continue
			}
			if c.Measure == bulletin.SurvivalCrude || len(substrates) == 1 { // each nest weighs the same
				row.coef[k] = 1 / of(here)
			} else { // each substrate does
				row.coef[k] = 1 / of(func(o atomKey) bool { return here(o) && o.substrate == k.substrate }) / float64(len(substrates))
			}
			for _, l := range who {
				exact += row.coef[k] * l.kept
			}
		}
		if c.Estimate != nil {
			half := p.Points(c.N) / 200
			row.low, row.high = *c.Estimate-half, *c.Estimate+half
			banded := slices.ContainsFunc(r.Cells, func(o bulletin.Cell) bool {
				return rate(o) && o.Estimate == nil && slices.Contains(substrates, cmp.Or(text(o.Substrate), substrates[0]))
			})
			if undone && !banded {
				row.low, row.high = exact-1e-9, exact+1e-9
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// A stake is what an atom's nests that lasted are made of: the unknowns of the target, -1 where it has none, and of the
// others; and what the insiders have.
type stake struct {
	target int
	others []int
	own    float64
}

// survival adds what the editions of a season say. Unless told who changed, the attacker takes nothing for the same in two
// editions; else who did not change is one unknown. The others who changed are one in each edition.
//
// In another season the nests are others, and so are their fates: no unknown of one season's survival is one of another's, and
// no bound of the system holds both. Whoever need not believe that finds them in the same system.
func (a *attacker) survival(editions ...*release) {
	same := func(k atomKey, e string) bool {
		first := editions[0].sheets[k][e]
		return (a.told || len(editions) == 1) && !slices.ContainsFunc(editions, func(r *release) bool { return r.sheets[k][e] != first })
	}
	for _, k := range atomsOf(editions...) {
		target, steady := -1, -1 // unknowns that stay
		for _, r := range editions {
			s := stake{target: -1}
			var still, moved lasted
			for e, l := range r.nests[k] {
				switch {
				case a.insiders[e]:
					s.own += l.kept
				case e == a.target:
					if target < 0 || !same(k, e) {
						target = a.unknown(l.of, l.kept)
					}
					s.target = target
				case same(k, e):
					still = lasted{still.kept + l.kept, still.of + l.of}
				default:
					moved = lasted{moved.kept + l.kept, moved.of + l.of}
				}
			}
			if still.of > 0 {
				if steady < 0 {
					steady = a.unknown(still.of, still.kept)
				}
				s.others = append(s.others, steady)
			}
			if moved.of > 0 {
				s.others = append(s.others, a.unknown(moved.of, moved.kept))
			}
			if a.stakes[r] == nil {
				a.stakes[r] = map[atomKey]stake{}
			}
			a.stakes[r][k] = s
		}
		if a.told && len(editions) == 2 {
			a.direction(k, editions[0], editions[1])
		}
	}
	for _, r := range editions {
		for _, pub := range r.rateRows(a.policy, a.undone) {
			coef, own := map[int]float64{}, 0.0
			for k, f := range pub.coef {
				s := a.stakes[r][k]
				for _, i := range s.unknowns() {
					coef[i] += f
				}
				own += f * s.own
			}
			a.bound(coef, pub.low-own, pub.high-own)
		}
	}
}

func (s stake) unknowns() []int {
	if s.target < 0 {
		return s.others
	}
	return append([]int{s.target}, s.others...)
}

// direction tells the attacker in which direction everybody's losses changed, where it is the same for all.
func (a *attacker) direction(k atomKey, first, final *release) {
	signs := map[float64]bool{}
	var before, after lasted // of the others who changed
	for e := range union(first.nests[k], final.nests[k]) {
		if a.insiders[e] || first.sheets[k][e] == final.sheets[k][e] {
			continue
		}
		x, y := first.nests[k][e], final.nests[k][e]
		if d := (y.of - y.kept) - (x.of - x.kept); d != 0 {
			signs[sign(d)] = true
		}
		if e != a.target {
			before, after = lasted{before.kept + x.kept, before.of + x.of}, lasted{after.kept + y.kept, after.of + y.of}
		}
	}
	if len(signs) != 1 {
		return
	}
	way := func(i, j int, x, y lasted) {
		if i == j {
			return
		}
		coef := map[int]float64{} // of the losses that came
		if i >= 0 {
			coef[i] = 1
		}
		if j >= 0 {
			coef[j] = -1
		}
		if signs[1] {
			a.bound(coef, x.of-y.of, math.Inf(1))
		} else {
			a.bound(coef, math.Inf(-1), x.of-y.of)
		}
	}
	x, y := a.stakes[first][k], a.stakes[final][k]
	way(x.target, y.target, first.nests[k][a.target], final.nests[k][a.target])
	moved := func(s stake, of float64) int {
		if of == 0 {
			return -1
		}
		return s.others[len(s.others)-1]
	}
	way(moved(x, before.of), moved(y, after.of), before, after)
}

func sign(x float64) float64 { return math.Copysign(1, x) }

func union[K comparable, V any](a, b map[K]V) map[K]bool {
	all := map[K]bool{}
	for k := range a {
		all[k] = true
	}
	for k := range b {
		all[k] = true
	}
	return all
}

func atomsOf(rs ...*release) []atomKey {
	all := map[atomKey]bool{}
	for _, r := range rs {
		for k := range r.nests {
			all[k] = true
		}
	}
	return slices.SortedFunc(keys(all), func(a, b atomKey) int {
		return cmp.Or(cmp.Compare(a.label, b.label), cmp.Compare(a.substrate, b.substrate))
	})
}

// askRates asks for the target's share that lasted, in each atom and over all nests of each release.
func (a *attacker) askRates(found *report) {
	for _, r := range a.releases {
		all, size := map[int]float64{}, 0.0
		for _, k := range atomsOf(r) {
			s := a.stakes[r][k]
			if s.target < 0 {
				continue
			}
			of := r.nests[k][a.target].of
			all[s.target] = 1
			size += of
			a.width(found, ofRates, fmt.Sprintf("%d, edition %d, %s %s", r.Season, r.Edition, k.label, k.substrate), map[int]float64{s.target: 1}, of)
		}
		if len(all) > 1 {
			a.width(found, ofRates, fmt.Sprintf("%d, edition %d, all", r.Season, r.Edition), all, size)
		}
	}
}

// askChanges asks for what changed of the target's losses between two editions. A policy that holds who changed to the p% rule
// promises that nobody, knowing everybody's direction, comes as near as half of it from above, by laying the editions side by
// side: apart is an attacker who does not.
func (a *attacker) askChanges(found *report, apart *attacker) {
	for _, final := range a.releases {
		if final.first == nil {
			continue
		}
		for _, k := range atomsOf(final.first, final) {
			x, y := final.first.nests[k][a.target], final.nests[k][a.target]
			d := (y.of - y.kept) - (x.of - x.kept)
			if d == 0 {
				continue
			}
			more := func(a *attacker) (coef map[int]float64, constant float64) {
				coef = map[int]float64{}
				if i := a.stakes[final.first][k].target; i >= 0 {
					coef[i] += sign(d)
				}
				if i := a.stakes[final][k].target; i >= 0 {
					coef[i] -= sign(d)
				}
				return coef, sign(d) * (y.of - x.of)
			}
			coef, constant := more(apart)
			prior, err := apart.most(coef)
			if err != nil {
				found.failed++
				continue
			}
			coef, _ = more(a)
			if most, err := a.most(coef); err == nil && most > prior+1e-3 { // to know more never proves less
				found.wrong++
			}
			a.room(found, ofChanges, fmt.Sprintf("%d, %s %s", final.Season, k.label, k.substrate), coef, constant, prior+constant)
		}
	}
}

// coalitionsAgainst returns the two others who have most kept beside the target, the two who have most lost, and two at
// random.
func coalitionsAgainst(target string, entities []string, all map[string]map[atomKey]lasted, r *rand.Rand) [][]string {
	others := slices.DeleteFunc(slices.Clone(entities), func(e string) bool { return e == target })
	if len(others) < 2 {
		return [][]string{others}
	}
	beside := func(e string, lost bool) (n float64) {
		for k, l := range all[e] {
			if _, shares := all[target][k]; shares && lost {
				n += l.of - l.kept
			} else if shares {
				n += l.kept
			}
		}
		return n
	}
	top := func(lost bool) []string {
		xs := slices.Clone(others)
		slices.SortFunc(xs, func(a, b string) int { return cmp.Or(cmp.Compare(beside(b, lost), beside(a, lost)), cmp.Compare(a, b)) })
		return xs[:2]
	}
	i := r.IntN(len(others))
	return [][]string{top(false), top(true), {others[i], others[(i+1)%len(others)]}}
}
