package bulletin_test

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/survey"
)

// The attacks below are functions of a policy: they compose under it and return what they found, "" where nothing.
// TestT34EachStepIsNeeded runs them with a step turned off.

// A secret is what one entity has in one area: nests in a substrate, or clumps.
type secret struct{ entity, area, substrate string }

// populations lists for each published cell the amounts it is a total of, told from what readers see alone: the cell
// and the places. A figure over all covers is taken for the total of them.
func populations(b bulletin.Bulletin, measure string, secrets map[secret]float64) (cells []map[secret]float64) {
	label := map[string]string{}
	for _, p := range b.Places {
		label[p.Area] = p.Label
	}
	for _, c := range b.Cells {
		if !c.Published || c.Measure != measure || c.Clumps != nil {
			continue
		}
		population := map[secret]float64{}
		for s, x := range secrets {
			if measure == bulletin.Survival28 && !slices.Contains(b.Covers, s.substrate) {
				continue
			}
			if (c.Area == nil || *c.Area == label[s.area]) && (c.Substrate == nil || *c.Substrate == s.substrate) {
				population[s] = x
			}
		}
		cells = append(cells, population)
	}
	return cells
}

func amountsOf(in bulletin.Input) (nests, clumps map[secret]float64) {
	member := map[string]bulletin.Member{}
	for _, m := range in.Roster {
		if m.Consent > 0 {
			member[m.Ranch] = m
		}
	}
	nests, clumps = map[secret]float64{}, map[secret]float64{}
	for _, n := range in.Data.Nests {
		if m, ok := member[n.Ranch]; ok && n.Season == in.Season {
			nests[secret{m.Entity, m.Area, string(n.Substrate)}]++
		}
	}
	for _, b := range in.Data.Belts {
		if m, ok := member[b.Ranch]; ok && b.Season == in.Season {
			clumps[secret{m.Entity, m.Area, ""}] += float64(b.Counts[survey.Bunchgrass])
		}
	}
	return nests, clumps
}

// randomInput makes a cooperative of skewed sizes in one to four areas, some of them neighbours, some owners with two
// ranches, some private.
func randomInput(seed uint64) bulletin.Input {
	r := rand.New(rand.NewPCG(seed, 77))
	areas := 1 + r.IntN(4)
	var hs []holding
	for range 5 + r.IntN(90) {
		hs = append(hs, holding{
			owner: fmt.Sprint("owner ", len(hs)-r.IntN(2)), area: fmt.Sprint("area ", r.IntN(areas)), consent: min(1, r.IntN(8)),
			nests: 8 + int(20*r.ExpFloat64()), kept: 0.3 + 0.4*r.Float64(), clumps: r.IntN(60),
		})
	}
	in := input(2025, seed, []survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca}[:1+r.IntN(3)], hs...)
	for a := range areas {
		in.Areas = append(in.Areas, bulletin.Area{Name: fmt.Sprint("area ", a), Group: fmt.Sprint("group ", a/2)})
	}
	return in
}

// TestT01T02T07SubsetAttack: in each published cell one who subtracts the own amount (T1) and two insiders who pool (T2) leave
// at least half of any other's amount unknown; and the same holds for what any sum or difference of up to three cells leaves,
// where it leaves anything (T7).
func TestT01T02T07SubsetAttack(t *testing.T) {
	published, byPlace := 0, 0
	for seed := range uint64(60) {
		in := withoutRemains(randomInput(seed))
		b := compose(t, in)
		cells, found := subtract(b, in)
		published += cells
		if found != "" {
			t.Fatalf("seed %d: %s", seed, found)
		}
		for _, c := range b.Cells {
			if c.Published && c.Area != nil {
				byPlace++
			}
		}
	}
	if byPlace == 0 {
		t.Error("no cooperative had a figure by place: little was tested")
	}
	t.Logf("%d totals published, %d figures by place", published, byPlace)
}

// subtract combines published totals, up to three at a time, each added or taken off, and describes the first combination that
// tells too much.
func subtract(b bulletin.Bulletin, in bulletin.Input) (published int, found string) {
	nests, clumps := amountsOf(in)
	for _, cells := range [][]map[secret]float64{populations(b, bulletin.Survival28, nests), populations(b, bulletin.ClumpsPerAcre, clumps)} {
		published += len(cells)
		rows, owner, entities := vectors(cells)
		for i := range rows {
			found = cmp.Or(found, tellsTooMuch(left(owner, entities, rows[i])))
			for j, y := range rows[:i] {
				if j == i^1 {
					continue // a total less itself
				}
				found = cmp.Or(found, tellsTooMuch(left(owner, entities, rows[i], y)))
				for k, z := range rows[:j] {
					if k != j^1 && k != i^1 {
						found = cmp.Or(found, tellsTooMuch(left(owner, entities, rows[i], y, z)))
					}
				}
			}
		}
	}
	return published, found
}

// vectors writes populations as rows over their secrets, each followed by its negative, with the number of each secret's
// entity.
func vectors(cells []map[secret]float64) (rows [][]float64, owner []int, entities int) {
	column, entity := map[secret]int{}, map[string]int{}
	for _, c := range cells {
		for s := range c {
			if _, ok := column[s]; ok {
				continue
			}
			if _, ok := entity[s.entity]; !ok {
				entity[s.entity] = len(entity)
			}
			column[s] = len(owner)
			owner = append(owner, entity[s.entity])
		}
	}
	for _, c := range cells {
		plus, minus := make([]float64, len(owner)), make([]float64, len(owner))
		for s, x := range c {
			plus[column[s]], minus[column[s]] = x, -x
		}
		rows = append(rows, plus, minus)
	}
	return rows, owner, len(entity)
}

// left adds rows and returns how much of each entity is left in the sum.
func left(owner []int, entities int, rows ...[]float64) []float64 {
	of := make([]float64, entities)
	for i, e := range owner {
		x := 0.0
		for _, r := range rows {
			x += r[i]
		}
		of[e] += math.Abs(x)
	}
	return of
}

// tellsTooMuch holds what is left against the promise: five entities, and after the largest and two insiders half of it.
func tellsTooMuch(of []float64) string {
	var largest [3]float64
	n, total := 0, 0.0
	for _, x := range of {
		if x <= 0 {
			continue
		}
		n, total = n+1, total+x
		for i, l := range largest {
			if x > l {
				x, largest[i] = l, x
			}
		}
	}
	if n > 0 && (n < 5 || total-largest[0]-largest[1]-largest[2] < 0.5*largest[0]) {
		return fmt.Sprintf("a combination of published totals rests on %v", of)
	}
	return ""
}

// TestT06SpanAttack: linear recovery from everything published over seasons, with the cover of a ranch one secret
// for all seasons as long as no crowd hides it: nobody's is worked out by two insiders.
func TestT06SpanAttack(t *testing.T) {
	if found := attackNewcomer(disclosure.Default()); found != "" {
		t.Error(found)
	}
	for seed := range uint64(20) {
		in := withoutRemains(randomInput(200 + seed))
		if found := spanFinds(totalsOf(compose(t, in), in, true)); found != "" {
			t.Errorf("seed %d: %s", seed, found)
		}
	}
}

// A cellSet is the secrets in a total: secret to its entity.
type cellSet map[string]string

// totalsOf reads the totals of densities finer than a band, and of survival, told from the cells and places alone.
func totalsOf(b bulletin.Bulletin, in bulletin.Input, nests bool) (sets []cellSet) {
	of, clumps := amountsOf(in)
	of = maps.Clone(of)
	measures := map[string]map[secret]float64{bulletin.ClumpsPerAcre: clumps}
	if nests {
		measures[bulletin.Survival28] = of
	}
	fine := b
	fine.Cells = slices.DeleteFunc(slices.Clone(b.Cells), func(c bulletin.Cell) bool { return c.Measure == bulletin.ClumpsPerAcre && c.Estimate == nil })
	for measure, secrets := range measures {
		for _, population := range populations(fine, measure, secrets) {
			set := cellSet{}
			for s := range population {
				set[fmt.Sprint(measure, s)] = s.entity
			}
			sets = append(sets, set)
		}
	}
	return sets
}

// spanFinds eliminates over the integers modulo a large prime and tries every
// target with the pairs who share a class of at most three owners with it.
func spanFinds(sets []cellSet) string {
	patterns, owner := map[string][]byte{}, map[string]string{}
	for i, set := range sets {
		for s, e := range set {
			if patterns[s] == nil {
				patterns[s] = make([]byte, len(sets))
			}
			patterns[s][i] = 1
			owner[s] = e
		}
	}
	classes := map[string]map[string]bool{}
	for s, p := range patterns {
		if classes[string(p)] == nil {
			classes[string(p)] = map[string]bool{}
		}
		classes[string(p)][owner[s]] = true
	}
	rankWithout := func(who ...string) int {
		var rows [][]int64
		for p, members := range classes {
			left := len(members)
			for e := range members {
				if slices.Contains(who, e) {
					left--
				}
			}
			if left > 0 {
				r := make([]int64, len(p))
				for i := range p {
					r[i] = int64(p[i])
				}
				rows = append(rows, r)
			}
		}
		return rankMod(rows)
	}
	for _, members := range classes {
		if len(members) > 3 {
			continue
		}
		list := slices.Sorted(maps.Keys(members))
		for i, target := range list {
			coalition := slices.Delete(slices.Clone(list), i, i+1)
			if rankWithout(append(slices.Clone(coalition), target)...) < rankWithout(coalition...) {
				return fmt.Sprintf("%s is worked out by %v", target, coalition)
			}
		}
	}
	return ""
}

func rankMod(m [][]int64) (rank int) {
	const p = 1_000_003
	inverse := func(a int64) int64 {
		r, e := int64(1), p-2
		for a %= p; e > 0; e >>= 1 {
			if e&1 == 1 {
				r = r * a % p
			}
			a = a * a % p
		}
		return r
	}
	for col := 0; len(m) > 0 && col < len(m[0]) && rank < len(m); col++ {
		i := rank
		for i < len(m) && m[i][col]%p == 0 {
			i++
		}
		if i == len(m) {
			continue
		}
		m[rank], m[i] = m[i], m[rank]
		inv := inverse(m[rank][col])
		for i := rank + 1; i < len(m); i++ {
			f := m[i][col] * inv % p
			for j := range m[i] {
				m[i][j] = ((m[i][j]-f*m[rank][j])%p + p) % p
			}
		}
		rank++
	}
	return rank
}

// TestT13Newcomer is the attack on what changes slowly: 62 clumps an acre over so many, next season 70 over one more, so that
// the newcomer has what the difference of the totals says. The figure stays with those of before, so there is nothing to subtract,
// until five have come or gone; where one of them is gone there is none, unless a crowd is left.
func TestT13Newcomer(t *testing.T) {
	if found := attackNewcomer(disclosure.Default()); found != "" {
		t.Error(found)
	}
	names := "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
	seasons := func(cohorts ...string) (list []string) {
		var before *bulletin.Log
		for i, who := range cohorts {
			in := withoutRemains(input(2020+i, 51, grassAndPear[:1], owners("East", who)...))
			for j := range in.Roster { // a ranch is its owner's, whatever its number
				old := in.Roster[j].Ranch
				in.Roster[j].Ranch = "ranch of " + in.Roster[j].Entity + "."
				for n := range in.Data.Nests {
					if in.Data.Nests[n].Ranch == old {
						in.Data.Nests[n].Ranch = in.Roster[j].Ranch
					}
				}
				in.Data.Belts[j].Ranch = in.Roster[j].Ranch
			}
			in.Before = before
			b := compose(t, in)
			cell, _ := find(b, bulletin.ClumpsPerAcre, "", "", "")
			said := fmt.Sprint(cell.N)
			switch {
			case !cell.Published:
				said = "held"
			case cell.Estimate == nil:
				said += ", a band"
			}
			list = append(list, said)
			before = &b.Log
		}
		return list
	}
	for name, tt := range map[string]struct{ cohorts, want []string }{
		"the same ten":                     {[]string{names[:10], names[:10]}, []string{"10", "10"}},
		"a newcomer waits":                 {[]string{names[:10], names[:11], names[:11]}, []string{"10", "10", "10"}},
		"four newcomers wait for a fifth":  {[]string{names[:10], names[:14], names[:15]}, []string{"10", "10", "15"}},
		"one of ten has left":              {[]string{names[:10], names[1:10], names[:10]}, []string{"10", "held", "10"}},
		"five of fifteen have left":        {[]string{names[:15], names[5:15]}, []string{"15", "10"}},
		"one of twenty-five has left":      {[]string{names[:25], names[1:25]}, []string{"25", "held"}},
		"one of twenty-six has left":       {[]string{names[:26], names[1:26]}, []string{"26", "25"}},
		"five came, then others went":      {[]string{names[:10], names[:15], names[:10] + names[14:15]}, []string{"10", "15", "held"}},
		"one of six has left":              {[]string{names[:6], names[1:6], names[:6]}, []string{"6, a band", "held", "6, a band"}},
		"one left and one came to a crowd": {[]string{names[:26], names[1:27]}, []string{"26", "25"}},
	} {
		if got := seasons(tt.cohorts...); !slices.Equal(got, tt.want) {
			t.Errorf("%s: got %v, want %v", name, got, tt.want)
		}
	}
}

// TestT13Places: where one of sixty landowners in three places is gone, the whole is a crowd and its place is not: clumps an acre are given for the
// whole alone. Where nobody is gone, or without the rule, they are given by place.
func TestT13Places(t *testing.T) {
	r := rand.New(rand.NewPCG(0, 13))
	c := usual(60)
	c.areas, c.bare = 3, true
	g := c.draw(r)
	first, _ := g.season(r, 2024, nil)
	one := compose(t, first)
	given := func(b bulletin.Bulletin) (n int) {
		for _, c := range b.Cells {
			if c.Measure == bulletin.ClumpsPerAcre && c.Published {
				n++
			}
		}
		return n
	}
	if got := given(one); got != 4 {
		t.Fatalf("at first: %d figures, want the whole and three places", got)
	}
	unruled := disclosure.Default()
	unruled.Waits = false
	for _, tt := range []struct {
		gone   int
		policy disclosure.Policy
		want   int
	}{{-1, disclosure.Default(), 4}, {7, disclosure.Default(), 1}, {7, unruled, 4}} {
		second, _ := g.season(r, 2025, func(owner int) bool { return owner != tt.gone })
		second.Before = &one.Log
		if got := given(composeWith(tt.policy, second)); got != tt.want {
			t.Errorf("landowner %d gone, waiting %v: %d figures, want %d", tt.gone, tt.policy.Waits, got, tt.want)
		}
	}
}

// attackNewcomer subtracts the first season's total from the second's: 6.2 clumps an acre over n ranches of ten acres of
// belt, and then a newcomer of 11.0. It asks whether that is worked out to within a quarter.
func attackNewcomer(p disclosure.Policy) string {
	const newcomer = 11.0
	for _, n := range []int{5, 8, 10} {
		r := rand.New(rand.NewPCG(1, 52))
		hs := many("East", n+1)
		for i := range hs {
			hs[i].clumps = 62 + r.IntN(9) - 4
		}
		hs[n].clumps = 10 * newcomer
		wide := func(season int, hs ...holding) bulletin.Input {
			in := withoutRemains(input(season, 52, grassAndPear[:1], hs...))
			for i := range in.Data.Belts {
				in.Data.Belts[i].WidthFt = 1000
			}
			return in
		}
		first, second := wide(2024, hs[:n]...), wide(2025, hs...)
		one := composeWith(p, first)
		second.Before = &one.Log
		before, _ := find(one, bulletin.ClumpsPerAcre, "", "", "")
		after, _ := find(composeWith(p, second), bulletin.ClumpsPerAcre, "", "", "")
		if before.Estimate == nil || after.Estimate == nil { // bands: the difference of two sums that lie in them
			least, most := *after.Low*float64(n+1)-*before.High*float64(n), *after.High*float64(n+1)-*before.Low*float64(n)
			if most-least < newcomer/2 {
				return fmt.Sprintf("%d and a newcomer: it has %v to %v", n, least, most)
			}
			continue
		}
		// Of the same number there is no difference to take: both are sums over the same ranches.
		if guess := *after.Estimate*float64(n+1) - *before.Estimate*float64(n); after.N != before.N && math.Abs(guess-newcomer) < newcomer/4 {
			return fmt.Sprintf("%d and a newcomer: its %v clumps an acre are worked out as %.1f", n, newcomer, guess)
		}
	}
	return ""
}

// TestT14NoRollingWindows: 2022–24 less 2023–25 is 2022 less 2025. A cell is of one season, and rows of other seasons change nothing
// in it: no cell of several exists.
func TestT14NoRollingWindows(t *testing.T) {
	in := input(2025, 14, grassAndPear, many("East", 20)...)
	want := compose(t, in)
	for _, c := range want.Cells {
		if c.Season != 2025 {
			t.Errorf("a cell of %d in the bulletin of 2025", c.Season)
		}
	}
	for _, year := range []int{2023, 2024, 2026} {
		other := input(year, 15, grassAndPear, many("East", 20)...)
		in.Data.Nests = append(in.Data.Nests, other.Data.Nests...)
		in.Data.Belts = append(in.Data.Belts, other.Data.Belts...)
	}
	if got := compose(t, in); got.Hash != want.Hash {
		t.Error("rows of other seasons changed the bulletin")
	}
}

// TestT16InvertToCounts: an estimate with its range fits at least fifty numbers of nests, for every published rate. The attacker knows how ranges are made, and that they
// are as wide as one over the root of the number of nests; nothing rests on that being hidden, for everybody's nests are taken to be known.
func TestT16InvertToCounts(t *testing.T) {
	fewest := math.MaxInt
	for seed := range uint64(30) {
		in := withoutRemains(randomInput(300 + seed))
		for _, c := range compose(t, in).Cells {
			if c.Measure == bulletin.Survival28 && c.Published && c.Estimate != nil {
				nests := 0
				for _, n := range in.Data.Nests {
					if c.Substrate == nil || string(n.Substrate) == *c.Substrate {
						nests++
					}
				}
				fewest = min(fewest, candidates(c, nests))
			}
		}
	}
	if fewest < 50 {
		t.Errorf("a cell fits %d numbers of nests alone", fewest)
	}
	t.Logf("the fewest candidates for a cell: %d", fewest)
}

// candidates counts the numbers of nests that would give the same ends, on the grid.
func candidates(c bulletin.Cell, nests int) (fit int) {
	step := disclosure.Default().Points(c.N) / 100
	down, up := *c.Estimate-*c.Low, *c.High-*c.Estimate
	for n := 1; n < 20*nests; n++ {
		scale := math.Sqrt(float64(nests) / float64(n))
		// Estimate and ends are each within half a step of what they were.
		if math.Abs(down*scale-down) <= step && math.Abs(up*scale-up) <= step {
			fit++
		}
	}
	return fit
}

// TestT17RarePredators: an animal of up to three owners, of four with nine events, or of one owner for more than half is
// merged with others, and the rest is never one animal alone.
func TestT17RarePredators(t *testing.T) {
	if found := attackMix(disclosure.Default()); found != "" {
		t.Error(found)
	}
}

func attackMix(p disclosure.Policy) string {
	for name, hogs := range map[string]map[int]int{ // ranch: losses by hogs
		"one owner": {0: 12}, "two owners": {0: 8, 1: 8}, "three owners": {0: 6, 1: 5, 2: 5}, "four owners with nine": {0: 3, 1: 2, 2: 2, 3: 2},
		"one has more than half": {0: 15, 1: 2, 2: 2, 3: 2, 4: 2, 5: 2, 6: 2},
	} {
		in := input(2025, 61, grassAndPear, owners("East", "ABCDEFGH")...)
		left, badger := map[string]int{}, false
		for ranch, n := range hogs {
			left[fmt.Sprintf("ranch %02d", ranch)] = n
		}
		for i := range in.Data.Nests {
			switch n := &in.Data.Nests[i]; {
			case n.Camera != "" && left[n.Ranch] > 0:
				left[n.Ranch]--
				n.Camera = survey.Hog
			case n.Camera != "" && n.Ranch == "ranch 07" && !badger: // so that the rest holds two kinds without the hogs
				badger = true
				n.Camera = survey.Badger
			}
		}
		b := composeWith(p, in)
		if c, _ := find(b, bulletin.PredatorShare, "", "", "feral hog"); c.Published {
			return name + ": hogs are named"
		}
		events := map[survey.Predator]int{}
		for _, n := range in.Data.Nests {
			if n.Camera != "" {
				events[n.Camera]++
			}
		}
		merged := 0
		mix := false
		for animal := range events {
			c, _ := find(b, bulletin.PredatorShare, "", "", string(animal))
			mix = mix || c.Published
			if !c.Published {
				merged++
			}
		}
		if mix && merged < 2 {
			return name + ": the rest is one animal"
		}
	}
	return ""
}

// A record is what one owner has: nests, and how many of them lasted.
type record struct{ kept, of int }

// keeping makes a season of one owner a record.
func keeping(rs ...record) bulletin.Input {
	in := bulletin.Input{Data: &survey.Data{}, Season: 2025}
	set := survey.DateOf(2025, 5, 1)
	for i, r := range rs {
		ranch := fmt.Sprintf("ranch %02d", i)
		in.Roster = append(in.Roster, bulletin.Member{Ranch: ranch, Entity: ranch, Consent: 1})
		for j := range r.of {
			x := survey.Nest{Ranch: ranch, Season: 2025, Transect: "1", Number: fmt.Sprint(j), Substrate: survey.Bunchgrass, SetOn: set,
				Visits: []survey.Visit{{On: set + 14, State: survey.Intact}, {On: set + 28, State: survey.Intact}}}
			if j >= r.kept {
				x.Visits = []survey.Visit{{On: set + 14, State: survey.Taken}}
			}
			in.Data.Nests = append(in.Data.Nests, x)
		}
	}
	return in
}

// alike is n owners with the same record.
func alike(n, kept, of int) (rs []record) {
	return slices.Repeat([]record{{kept, of}}, n)
}

// TestT19AllAlike: where all do well, a figure would say so of each; the band says less, where nobody can reckon back from its being
// given. And two insiders leave everybody 30 points of room in whatever is published.
func TestT19AllAlike(t *testing.T) {
	for n, want := range map[int]string{5: "- 0.7 1", 8: "- 0.85 1", 12: "- 0.85 1"} {
		cell, _ := find(compose(t, keeping(alike(n, 38, 40)...)), bulletin.Survival28, "", "", "")
		if got := fmt.Sprint(number(cell.Estimate), " ", number(cell.Low), " ", number(cell.High)); got != want {
			t.Errorf("%d owners: got %s (%s), want %s", n, got, cell.HeldBecause, want)
		}
	}
	if found := attackAlike(disclosure.Default()); found != "" {
		t.Error(found)
	}
}

// attackAlike takes every published rate for exact and lets each pair of insiders narrow each other owner.
func attackAlike(p disclosure.Policy) string {
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 19))
		var rs []record
		for range 5 + r.IntN(10) {
			of := 20 + r.IntN(60)
			rs = append(rs, record{of - r.IntN(1+of/8), of})
		}
		b := composeWith(p, keeping(rs...))
		for _, c := range b.Cells {
			if c.Measure != bulletin.Survival28 || !c.Published {
				continue
			}
			of := 0.0
			for _, x := range rs {
				of += float64(x.of)
			}
			low, high := *c.Low*of, *c.High*of
			if c.Estimate != nil {
				low, high = 0, 0
				for _, x := range rs {
					low, high = low+float64(x.kept), high+float64(x.kept)
				}
			}
			for i, target := range rs {
				for j, one := range rs {
					for k, other := range rs[:j] {
						if i == j || i == k {
							continue
						}
						own, rest := float64(one.kept+other.kept), of-float64(target.of+one.of+other.of)
						if from, to := max(0, low-own-rest), min(float64(target.of), high-own); to-from < 0.30*float64(target.of)-1e-6 {
							return fmt.Sprintf("seed %d, %v: two know that another kept %.1f to %.1f of %d", seed, rs, from, to, target.of)
						}
					}
				}
			}
		}
	}
	return ""
}

// TestT37ShowCase: somebody who shows the own figures under the own name protects nobody: five with one of them are four. So is
// one of whom it is not settled that there is somebody behind it.
func TestT37ShowCase(t *testing.T) {
	for name, change := range map[string]func(*bulletin.Member){
		"shows figures": func(m *bulletin.Member) { m.Consent = 3 }, "unsettled": func(m *bulletin.Member) { m.Unsettled = true },
	} {
		in := input(2025, 81, grassAndPear, owners("East", "ABCDE")...)
		change(&in.Roster[0])
		for _, c := range compose(t, in).Cells {
			if c.Published {
				t.Errorf("%s: %s %s is published on four owners and one whom everybody knows", name, c.Measure, text(c.Substrate))
			}
		}
	}
}

// TestNewcomersFillNoCell: at most a third of a cell's owners may be new; one with an old ranch and a new one is not.
func TestNewcomersFillNoCell(t *testing.T) {
	if found := attackFilled(disclosure.Default()); found != "" {
		t.Error(found)
	}
	for who, want := range map[string]bool{"ABCDEFGH": true, "ABCDEFGHijkl": true, "ABCDEFGHijklm": false, "ABCDExyz": false, "ABCDEFGHijklA": true} {
		in := joined(input(2025, 82, grassAndPear[:1], owners("East", who)...), who)
		c, _ := find(compose(t, in), bulletin.Survival28, "", "", "")
		if c.Published != want {
			t.Errorf("%s: published %v (%s), want %v", who, c.Published, c.HeldBecause, want)
		}
	}
}

// joined makes those owners new whose letters are small; the last of one letter is new too.
func joined(in bulletin.Input, who string) bulletin.Input {
	for i := range in.Roster {
		in.Roster[i].New = who[i] >= 'a' || strings.IndexByte(who, who[i]) < i
	}
	return in
}

// attackFilled is a cooperative of three that somebody fills with eight names of their own between two seasons.
func attackFilled(p disclosure.Policy) string {
	const who = "ABCstuvwxyz"
	in := joined(input(2025, 83, grassAndPear[:1], owners("East", who)...), who)
	if c, _ := find(composeWith(p, in), bulletin.Survival28, "", "", ""); c.Published {
		return "three owners and eight shells of one of them make a cell"
	}
	return ""
}

// TestFixedLabels is A9: the substrates and animals listed are the same whoever has what.
func TestFixedLabels(t *testing.T) {
	labels := func(in bulletin.Input) (list []string) {
		for _, c := range compose(t, in).Cells {
			if c.Area == nil && c.Measure != bulletin.SurvivalAt {
				list = append(list, fmt.Sprint(c.Measure, "/", text(c.Substrate), "/", c.Predator))
			}
		}
		return list
	}
	few := labels(input(2025, 91, grassAndPear[:1], owners("East", "ABC")...))
	in := input(2025, 91, grassAndPear, owners("East", "ABCDEFGHIJKL")...)
	r := rand.New(rand.NewPCG(9, 9))
	for i := range 3 {
		in.Data.Nests = append(in.Data.Nests, nest(r, "ranch 00", 2025, 900+i, "windmill clump", 0.5))
	}
	if many := labels(in); !slices.Equal(few, many) {
		t.Errorf("the labels tell who has what:\n%v\n%v", few, many)
	}
}

// TestGateBySubtraction: a place that the gate keeps from a reader is not left over where they read the others and the whole.
func TestGateBySubtraction(t *testing.T) {
	hs := slices.Concat(many("East", 24), many("South", 13), many("West", 11))
	for i := range hs {
		hs[i].nests = 90
	}
	b := compose(t, withoutRemains(input(2025, 14, grassAndPear[:1], hs...)))
	gates := map[string]int{}
	for _, c := range b.Cells {
		if c.Measure == bulletin.Survival28 && c.Published && c.Substrate == nil {
			gates[text(c.Area)] = c.Gate
		}
	}
	if want := map[string]int{"": 48, "West": 11, "South": 11, "East": 13}; !maps.Equal(gates, want) {
		t.Errorf("the gates are %v, want %v", gates, want)
	}
}

// TestMoversWait: whoever moves from place to place stays in the old one's figure until five have moved: else the places' figures of two
// seasons, which move together otherwise, tell the one's.
func TestMoversWait(t *testing.T) {
	hs := slices.Concat(many("East", 24), many("West", 24))
	for i := range hs {
		hs[i].nests = 60
	}
	season := func(year, moved int, before *bulletin.Log) bulletin.Bulletin {
		in := withoutRemains(input(year, 15, grassAndPear[:1], hs...))
		for i := range moved {
			in.Roster[i].Area = "West"
		}
		in.Before = before
		return compose(t, in)
	}
	first := season(2024, 0, nil)
	for moved, want := range map[int]int{0: 24, 1: 24, 4: 24, 5: 29} {
		b := season(2025, moved, &first.Log)
		if c, _ := find(b, bulletin.Survival28, "West", "", ""); c.N != want {
			t.Errorf("%d have moved: %d landowners are in the west's figure, want %d (%s)", moved, c.N, want, c.HeldBecause)
		}
	}
}

// revisable is a season and its late sheets: of each of the first ranches so many lasting nests turn out to be taken.
func revisable(p disclosure.Policy) (bulletin.Input, bulletin.Bulletin) {
	in := withoutRemains(input(2025, 41, grassAndPear[:1], owners("East", "ABCDEFGHIJKL")...))
	return in, composeWith(p, in)
}

func changeSheets(in bulletin.Input, nests ...int) bulletin.Input {
	d := *in.Data
	d.Nests = slices.Clone(d.Nests)
	for i, n := range nests {
		for j := range d.Nests {
			if nest := &d.Nests[j]; n > 0 && nest.Ranch == fmt.Sprintf("ranch %02d", i) && nest.Fate() == survey.Intact {
				nest.Visits = []survey.Visit{nest.Visits[0], {On: nest.Visits[1].On, State: survey.Taken}}
				n--
			}
		}
	}
	in.Data = &d
	return in
}

// TestT11FinalRevision: four changed are refused, five accepted; and not where one of the five has most of the change. All but survival stays as it
// was, and nothing appears.
func TestT11FinalRevision(t *testing.T) {
	if found := attackRevision(disclosure.Default()); found != "" {
		t.Error(found)
	}
	in, one := revisable(disclosure.Default())
	two, err := bulletin.Revise(one, in, changeSheets(in, 1, 1, 1, 1, 1))
	if err != nil {
		t.Fatalf("five changed alike: %v", err)
	}
	if two.Edition != 2 || two.Hash == one.Hash || len(two.Cells) != len(one.Cells) {
		t.Errorf("got edition %d of %d cells, want %d", two.Edition, len(two.Cells), len(one.Cells))
	}
	for i, c := range two.Cells {
		before := one.Cells[i]
		if c.Measure != bulletin.Survival28 && string(jsonOf(t, c)) != string(jsonOf(t, before)) || c.Published != before.Published {
			t.Errorf("%v became %v", before, c)
		}
	}
	if _, err := bulletin.Revise(one, in, in); !errors.Is(err, errs.Conflict) {
		t.Errorf("nothing changed: got %v", err)
	}
}

func attackRevision(p disclosure.Policy) string {
	in, one := revisable(p)
	for name, nests := range map[string][]int{"four changed": {1, 1, 1, 1}, "one changed": {3}, "five changed, one of them most": {6, 1, 1, 1, 1}} {
		if _, err := bulletin.ReviseUnder(p, one, in, changeSheets(in, nests...)); !errors.Is(err, errs.Conflict) {
			return fmt.Sprintf("%s: the difference of two editions is theirs (%v)", name, err)
		}
	}
	gone := changeSheets(in, 1, 1, 1, 1, 1)
	gone.Roster = slices.Clone(in.Roster)
	gone.Roster[11].Consent = 0
	if _, err := bulletin.ReviseUnder(p, one, in, gone); !errors.Is(err, errs.Conflict) {
		return "one left while five changed: a second edition is made without them"
	}
	return ""
}

// TestT34EachStepIsNeeded turns each step of the gate off: an attack then finds something that it does not find with it.
func TestT34EachStepIsNeeded(t *testing.T) {
	t.Parallel()
	subsets := func(p disclosure.Policy) string {
		for seed := range uint64(60) {
			in := withoutRemains(randomInput(seed))
			if _, found := subtract(composeWith(p, in), in); found != "" {
				return found
			}
		}
		return ""
	}
	// Amounts that only one rule holds; the cases are those of package disclosure.
	amounts := func(nests ...int) func(disclosure.Policy) string {
		return func(p disclosure.Policy) string {
			hs := many("East", len(nests))
			for i := range hs {
				hs[i].nests, hs[i].clumps = nests[i], -1
			}
			if c, _ := find(composeWith(p, input(2025, 101, grassAndPear[:1], hs...)), bulletin.Survival28, "", "", ""); c.Published {
				return fmt.Sprintf("%v nests are published", nests)
			}
			return ""
		}
	}
	counts := func(p disclosure.Policy) string {
		for n := 5; n <= 12; n++ {
			for _, c := range composeWith(p, input(2025, 7, grassAndPear[:1], many("East", n)...)).Cells {
				for _, count := range []*int{c.Nests, c.Transects, c.Belts} {
					if count != nil && (c.N < 10 || math.Mod(float64(*count), 10) != 0) {
						return fmt.Sprintf("%d landowners: %s says %d", n, c.Measure, *count)
					}
				}
			}
		}
		return ""
	}
	for _, tt := range []struct {
		step   string
		off    func(*disclosure.Policy)
		attack func(disclosure.Policy) string
	}{
		// Of these and the budget of bits, which TestT44ExactAttacker turns off, each alone is enough.
		{"minimum frequency", func(p *disclosure.Policy) { p.MinEntities, p.BitsMost = 0, 0 }, amounts(40, 40, 40, 40)},
		{"(1,50)", func(p *disclosure.Policy) { p.Dominance, p.BitsMost = p.Dominance[1:], 0 }, amounts(102, 18, 16, 16, 14, 14, 8, 6, 4, 2)},
		{"(2,67)", func(p *disclosure.Policy) { p.Dominance, p.BitsMost = p.Dominance[:1], 0 }, amounts(80, 56, 10, 10, 10, 10, 8, 6, 6, 4)},
		{"p%", func(p *disclosure.Policy) { p.Remainder, p.BitsMost = 0, 0 }, amounts(64, 64, 50, 10, 10)},
		{"the second insider", func(p *disclosure.Policy) { p.Coalition, p.BitsMost = 1, 0 }, amounts(64, 64, 50, 10, 10)},
		{"p% over combinations", func(p *disclosure.Policy) { p.Remainder = 0 }, subsets},
		{"a third may be new", func(p *disclosure.Policy) { p.NewShare = 0 }, attackFilled},
		{"interval audit", func(p *disclosure.Policy) { p.MinRange = 0 }, attackAlike},
		{"ten for a count", func(p *disclosure.Policy) { p.CountEntities = 0 }, counts},
		{"tens for a count", func(p *disclosure.Policy) { p.CountStep = 1 }, counts},
		{"difference check", func(p *disclosure.Policy) { p.Revisions = false }, attackRevision},
		{"newcomers wait", func(p *disclosure.Policy) { p.Waits = false }, attackNewcomer},
		{"p% of an animal", func(p *disclosure.Policy) { p.Remainder = 0 }, attackMix},
		{"events of an animal", func(p *disclosure.Policy) { p.CategoryEvents = 0 }, attackMix},
		{"one owner's animal", func(p *disclosure.Policy) { p.CategoryTop = 100 }, attackMix},
	} {
		t.Run(tt.step, func(t *testing.T) {
			p := disclosure.Default()
			if found := tt.attack(p); found != "" {
				t.Errorf("with it: %s", found)
			}
			tt.off(&p)
			if found := tt.attack(p); found == "" {
				t.Error("turned off, the attack finds nothing: no test needs this step")
			} else {
				t.Log(found)
			}
		})
	}
}

// TestT33RandomCooperatives: cooperatives of 8 to 300 landowners of skewed sizes. Nothing is disclosed by subtraction,
// by pairs, by combinations of cells or by elimination, and each bulletin comes out the same a second time.
//
// Five hundred in the short form, ten thousand on demand. Remains are left out of most, for the mix takes as long as all else
// and is attacked in T17; every thirty-second has them and is composed a second time.
func TestT33RandomCooperatives(t *testing.T) {
	runs := uint64(500)
	if *long {
		runs = 10000
	}
	var published, largest atomic.Int64
	t.Run("all", func(t *testing.T) { // ends when its parallel parts have
		for part := range uint64(4) {
			t.Run(fmt.Sprint(part), func(t *testing.T) {
				t.Parallel()
				for seed := part; seed < runs; seed += 4 {
					cells, ranches := attackRandom(t, seed)
					published.Add(int64(cells))
					largest.Store(max(largest.Load(), int64(ranches)))
				}
			})
		}
	})
	t.Logf("%d cooperatives of up to %d ranches, %d totals published, no disclosure", runs, largest.Load(), published.Load())
}

func attackRandom(t *testing.T, seed uint64) (cells, ranches int) {
	in, whole := skewed(seed), seed%32 == 0
	if !whole {
		in = withoutRemains(in)
	}
	b := compose(t, in)
	cells, found := subtract(b, in)
	if found == "" {
		found = spanFinds(totalsOf(b, in, true))
	}
	if found != "" {
		t.Fatalf("seed %d, %d ranches: %s", seed, len(in.Roster), found)
	}
	if whole {
		r := rand.New(rand.NewPCG(seed, 1))
		d := in.Data
		r.Shuffle(len(d.Nests), func(i, j int) { d.Nests[i], d.Nests[j] = d.Nests[j], d.Nests[i] })
		if again := compose(t, in); again.Hash != b.Hash {
			t.Fatalf("seed %d: composed again it is another bulletin", seed)
		}
	}
	return cells, len(in.Roster)
}

// withoutRemains leaves out what takes as long as all else.
func withoutRemains(in bulletin.Input) bulletin.Input {
	for i := range in.Data.Nests {
		in.Data.Nests[i].Remains, in.Data.Nests[i].Camera = nil, ""
	}
	return in
}

// skewed makes a cooperative of 8 to 300 landowners, small ones more often, of log-normal sizes.
func skewed(seed uint64) bulletin.Input {
	r := rand.New(rand.NewPCG(seed, 33))
	n := int(8 * math.Exp(r.Float64()*r.Float64()*math.Log(300.0/8)))
	areas := 1 + r.IntN(1+min(11, n/4))
	sigma := r.Float64()
	var hs []holding
	for range n {
		hs = append(hs, holding{
			owner: fmt.Sprint("owner ", max(0, len(hs)-r.IntN(2)*r.IntN(2))), area: fmt.Sprint("area ", r.IntN(areas)), consent: min(1, r.IntN(10)),
			nests: int(math.Min(80, 12*math.Exp(sigma*r.NormFloat64()))), kept: 0.2 + 0.6*r.Float64(), clumps: int(30 * math.Exp(sigma*r.NormFloat64())),
		})
	}
	in := input(2025, seed, []survey.Substrate{survey.Bunchgrass, survey.Yucca, survey.Shrub}[:1+r.IntN(3)], hs...)
	for a := range areas {
		in.Areas = append(in.Areas, bulletin.Area{Name: fmt.Sprint("area ", a), Group: strings.Repeat("group ", r.IntN(2)) + fmt.Sprint(a/2)})
	}
	return in
}

// TestT38Refresh: whoever composes or reads again gets the same values: no noise is drawn.
func TestT38Refresh(t *testing.T) {
	in := input(2025, 38, grassAndPear, many("East", 12)...)
	first := jsonOf(t, compose(t, in).Cells)
	for range 200 {
		if again := jsonOf(t, compose(t, in).Cells); string(again) != string(first) {
			t.Fatal("composed again, a value is another")
		}
	}
}
