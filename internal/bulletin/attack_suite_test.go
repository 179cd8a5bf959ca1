package bulletin_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/stat/interval"
	"tussock/internal/survey"
)

// The attacks below are functions of a policy: they compose under it and return what they found, "" where nothing.
// TestT34EachStepIsNeeded runs them with a step turned off.

func composeWith(p disclosure.Policy, in bulletin.Input) bulletin.Bulletin {
	b, err := bulletin.ComposeUnder(p, in)
	if err != nil {
		panic(err)
	}
	return b
}

// TestT06SpanAttack: linear recovery from everything published over the seasons, with the cover of a ranch one secret
// for all seasons. A ranch that moves from one area to another changes two totals by its own cover and nothing else.
func TestT06SpanAttack(t *testing.T) {
	if found := attackMover(disclosure.Default()); found != "" {
		t.Error(found)
	}
	for seed := range uint64(12) {
		in := randomInput(200 + seed)
		if found := spanFinds(slow(compose(t, in), in, true)); found != "" {
			t.Errorf("seed %d: %s", seed, found)
		}
	}
}

func attackMover(p disclosure.Policy) string {
	hs := slices.Concat(owners("East", "ABCDEFGHIJK"), owners("West", "LMNOPQRSTUV"))
	first := input(2024, 31, grassAndPear, hs...)
	one := composeWith(p, first)
	moved := slices.Clone(hs)
	moved[0].area = "West"
	second := input(2025, 31, grassAndPear, moved...)
	second.Data.Nests = append(second.Data.Nests, first.Data.Nests...)
	second.Data.Belts = append(second.Data.Belts, first.Data.Belts...)
	second.Earlier = []bulletin.Bulletin{one}
	two := composeWith(p, second)
	return spanFinds(append(slow(one, first, false), slow(two, second, false)...))
}

// A cellSet is the secrets in a total.
type cellSet map[string]string // secret: its entity

// slow reads the totals of survival and of densities finer than a band, told from the cells and places alone.
func slow(b bulletin.Bulletin, in bulletin.Input, nests bool) (sets []cellSet) {
	label := map[string]string{}
	for _, p := range b.Places {
		label[p.Area] = p.Label
	}
	here := func(c bulletin.Cell, m bulletin.Member) bool {
		return m.Consent > 0 && (c.Area == nil || *c.Area == label[m.Area])
	}
	who := map[string]bulletin.Member{}
	for _, m := range in.Roster {
		who[m.Ranch] = m
	}
	for _, c := range b.Cells {
		set := cellSet{}
		switch {
		case !c.Published:
			continue
		case c.Measure == bulletin.ClumpsPerAcre && c.Estimate != nil:
			for _, belt := range in.Data.Belts {
				if m := who[belt.Ranch]; belt.Season == b.Season && here(c, m) {
					set["cover of "+belt.Ranch] = m.Entity
				}
			}
		case nests && (c.Measure == bulletin.Survival28 && c.Substrate != nil || c.Measure == bulletin.SurvivalCrude):
			of := b.Log.Standards
			if c.Substrate != nil {
				of = []string{*c.Substrate}
			}
			for _, n := range in.Data.Nests {
				if m := who[n.Ranch]; n.Season == b.Season && slices.Contains(of, string(n.Substrate)) && here(c, m) {
					set[fmt.Sprint(b.Season, n.Ranch, n.Substrate)] = m.Entity
				}
			}
		default:
			continue
		}
		sets = append(sets, set)
	}
	return sets
}

// spanFinds is another attacker than the audit: it eliminates over the integers modulo a large prime and tries every
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
		list := slices.Sorted(keys(members))
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

// TestT11FinalRevision: four changed are refused, five accepted; and not where one of the five has most of the change.
func TestT11FinalRevision(t *testing.T) {
	if found := attackRevision(disclosure.Default()); found != "" {
		t.Error(found)
	}
	in, one := firstEdition(disclosure.Default())
	five := changeSheets(in, 1, 1, 1, 1, 1)
	five.Earlier, five.Final = []bulletin.Bulletin{one}, true
	two, err := bulletin.Compose(five)
	if err != nil {
		t.Fatalf("five changed alike: %v", err)
	}
	if two.Edition != 2 || two.Hash == one.Hash {
		t.Errorf("got edition %d", two.Edition)
	}
	given := func(b bulletin.Bulletin) (names []string) {
		for _, c := range b.Cells {
			if c.Published {
				names = append(names, fmt.Sprint(c.Measure, text(c.Area), text(c.Substrate), c.Predator))
			}
		}
		return names
	}
	if got, want := given(two), given(one); !slices.Equal(got, want) {
		t.Errorf("the revision gives\n%v, the first edition\n%v", got, want)
	}
	for i, c := range two.Cells {
		if c.Measure != bulletin.Survival28 && c.Measure != bulletin.SurvivalCrude && c.Published && !bytes.Equal(jsonOf(t, c), jsonOf(t, one.Cells[i])) {
			t.Errorf("%v changed", c)
		}
	}
	again := five
	again.Earlier = []bulletin.Bulletin{one, two}
	if _, err := bulletin.Compose(again); !errors.Is(err, errs.Conflict) {
		t.Errorf("a second revision: got %v", err)
	}
	same := in
	same.Earlier, same.Final = []bulletin.Bulletin{one}, true
	if _, err := bulletin.Compose(same); !errors.Is(err, errs.Conflict) {
		t.Errorf("nothing changed: got %v", err)
	}
	same.Earlier = nil
	if _, err := bulletin.Compose(same); !errors.Is(err, errs.Conflict) {
		t.Errorf("nothing to revise: got %v", err)
	}
}

func firstEdition(p disclosure.Policy) (bulletin.Input, bulletin.Bulletin) {
	in := input(2025, 41, grassAndPear[:1], owners("East", "ABCDEFGHIJKL")...)
	return in, composeWith(p, in)
}

// changeSheets takes that many lasting nests of each of the first ranches.
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

// TestRevisionGivesNothingNew: what the first edition held stays held in the second, also where it would pass by then. That
// it had not passed before would tell of whoever stood in the way.
func TestRevisionGivesNothingNew(t *testing.T) {
	east, west := owners("East", "ABCDEFGHIJKL"), owners("West", "MNOPQR")
	west[0].nests, west[0].clumps = 90, -1
	whole := input(2025, 47, grassAndPear[:1], slices.Concat(east, west)...)
	first := whole
	d := *whole.Data
	d.Nests = slices.Clone(d.Nests)
	sent := map[string]int{} // of the others in the west half came late
	d.Nests = slices.DeleteFunc(d.Nests, func(n survey.Nest) bool {
		sent[n.Ranch]++
		return n.Ranch >= "ranch 13" && sent[n.Ranch] > 10
	})
	first.Data = &d
	one := composeWith(disclosure.Default(), first)
	if c, _ := find(one, bulletin.Survival28, "West", "bunchgrass", ""); c.Published {
		t.Fatal("the first edition gives the west, where one landowner has most")
	}
	if c, _ := find(composeWith(disclosure.Default(), whole), bulletin.Survival28, "West", "bunchgrass", ""); !c.Published {
		t.Fatalf("a first edition of all sheets would hold the west as well: %s", c.HeldBecause)
	}
	whole.Earlier, whole.Final = []bulletin.Bulletin{one}, true
	two, err := bulletin.Compose(whole)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range two.Cells {
		if before, _ := find(one, c.Measure, text(c.Area), text(c.Substrate), c.Predator); c.Published && !before.Published {
			t.Errorf("%s of %s %s appears", c.Measure, text(c.Area), text(c.Substrate))
		}
	}
}

func attackRevision(p disclosure.Policy) string {
	in, one := firstEdition(p)
	for name, nests := range map[string][]int{"four changed": {1, 1, 1, 1}, "one changed": {3}, "five changed, one of them most": {6, 1, 1, 1, 1}} {
		late := changeSheets(in, nests...)
		late.Earlier, late.Final = []bulletin.Bulletin{one}, true
		if _, err := bulletin.ComposeUnder(p, late); !errors.Is(err, errs.Conflict) {
			return fmt.Sprintf("%s: the difference of two editions is theirs (%v)", name, err)
		}
	}
	left := changeSheets(in, 1, 1, 1, 1, 1)
	left.Earlier, left.Final, left.Roster = []bulletin.Bulletin{one}, true, slices.Clone(in.Roster)
	left.Roster[11].Consent = 0
	if _, err := bulletin.ComposeUnder(p, left); !errors.Is(err, errs.Conflict) {
		return "one left while five changed: a second edition is made without them"
	}
	joined := input(2025, 41, grassAndPear[:1], owners("East", "ABCDEFGHIJKLM")...)
	joined.Earlier, joined.Final = []bulletin.Bulletin{one}, true
	if _, err := bulletin.ComposeUnder(p, joined); !errors.Is(err, errs.Conflict) {
		return "one joined: the difference of two editions is theirs"
	}
	return ""
}

// TestT13Roster: the newcomer of 11.0 clumps an acre, seen from the mean of five and then of six, cannot be worked out;
// neither with ten and then eleven, where digits are given. The roster is exchanged when three seasons have passed and
// five have changed, not before either.
func TestT13Roster(t *testing.T) {
	if found := attackNewcomer(disclosure.Default()); found != "" {
		t.Error(found)
	}
	var earlier []bulletin.Bulletin
	data := &survey.Data{}
	for i, tt := range []struct {
		owners string
		n      int
	}{
		{"ABCDEFGHIJ", 10}, {"ABCDEFGHIJKLMNO", 10}, {"ABCDEFGHIJKLMNO", 10}, // five newcomers wait two seasons
		{"ABCDEFGHIJKLMNO", 15}, {"ABCDEFGHIJKLMNOPQRST", 15}, {"ABCDEFGHIJKLMNOPQRST", 15}, // so do the next five
		{"ABCDEFGHIJKLMNOPQRST", 20}, {"ABCDEFGHIJKLMNOPQRST", 20}, {"ABCDEFGHIJKLMNOPQRSTU", 20},
		{"ABCDEFGHIJKLMNOPQRSTUVWX", 20}, {"ABCDEFGHIJKLMNOPQRSTUVWXY", 25}, // and four wait for a fifth
	} {
		in := input(2020+i, 51, grassAndPear[:1], owners("East", tt.owners)...)
		data.Belts = append(data.Belts, in.Data.Belts...)
		in.Data.Belts, in.Earlier = data.Belts, earlier
		b := compose(t, in)
		cell, _ := find(b, bulletin.ClumpsPerAcre, "", "", "")
		if cell.N != tt.n || cell.Estimate == nil {
			t.Errorf("%d: got %d on the roster, estimate %s, want %d", in.Season, cell.N, number(cell.Estimate), tt.n)
		}
		earlier = append(earlier, b)
	}
}

// TestRosterOfThoseWhoLeft: where some of a roster are gone, be they too many for the span audit to see any one of them, what is
// left is a band; and so it is where nobody knows what an earlier figure was made of. Who just walked no belt this season
// counts with the last ones.
func TestRosterOfThoseWhoLeft(t *testing.T) {
	first := input(2024, 54, grassAndPear[:1], owners("East", "ABCDEFGHIJKLMN")...)
	one := composeWith(disclosure.Default(), first)
	second := func(names string, earlier bulletin.Bulletin) bulletin.Input {
		in := input(2025, 54, grassAndPear[:1], owners("East", names)...)
		in.Data.Belts = append(in.Data.Belts, first.Data.Belts...)
		in.Earlier = []bulletin.Bulletin{earlier}
		return in
	}
	unlogged := one
	unlogged.Log = bulletin.Log{}
	unwalked := second("ABCDEFGHIJKLMN", one)
	unwalked.Data.Belts = slices.DeleteFunc(unwalked.Data.Belts, func(b survey.Belt) bool { return b.Season == 2025 && b.Ranch == "ranch 02" })
	for name, tt := range map[string]struct {
		in     bulletin.Input
		digits bool
	}{
		"all are here": {second("ABCDEFGHIJKLMN", one), true}, "four left": {second("ABCDEFGHIJ", one), false},
		"no log": {second("ABCDEFGHIJKLMN", unlogged), false}, "one walked no belt": {unwalked, true},
	} {
		c, _ := find(composeWith(disclosure.Default(), tt.in), bulletin.ClumpsPerAcre, "", "", "")
		if !c.Published || (c.Estimate != nil) != tt.digits || tt.digits && c.N != 14 {
			t.Errorf("%s: published %v of %d (%s), digits %s, want them: %v", name, c.Published, c.N, c.HeldBecause, number(c.Estimate), tt.digits)
		}
	}
}

// TestKnownInTheAudit: what owners lost who show their results by name hides nobody: everybody takes it off.
func TestKnownInTheAudit(t *testing.T) {
	var rs []record
	for range 10 {
		rs = append(rs, record{"", 40, 40})
	}
	secret := slices.Clone(rs)
	for i := range 5 {
		rs = append(rs, record{"", 25 + (i+1)/3, 40})
	}
	in := keepingIn(rs)
	for i := range in.Roster[10:] {
		in.Roster[10+i].Consent = 3
	}
	p := disclosure.Default()
	if c, _ := find(composeWith(p, in), bulletin.Survival28, "", "bunchgrass", ""); c.Published {
		low, high := rangeOf(p, c)
		if found := pairsNarrow(secret, low*600-128, high*600-128); found != "" {
			t.Error(found)
		}
	}
}

// TestKnownDoNotMakeTen: below ten secret owners an interval says nothing of how they differ, whoever else there is.
func TestKnownDoNotMakeTen(t *testing.T) {
	cells := func(kept ...int) string {
		in := keeping(40, append(kept, 20)...)
		for i := range slices.Clone(in.Data.Nests) {
			n := in.Data.Nests[i]
			n.Substrate = survey.Yucca
			in.Data.Nests = append(in.Data.Nests, n)
		}
		in.Roster[9].Consent = 3
		b := composeWith(disclosure.Default(), in)
		one, _ := find(b, bulletin.Survival28, "", "bunchgrass", "")
		all, _ := find(b, bulletin.Survival28, "", "", "")
		return fmt.Sprint(one.Published, all.Published, number(one.Low), number(one.High), number(all.Low), number(all.High))
	}
	if a, b := cells(20, 20, 20, 20, 20, 20, 20, 20, 20), cells(2, 38, 4, 36, 6, 34, 20, 8, 32); a != b || !strings.HasPrefix(a, "true true") {
		t.Errorf("alike: %s; apart: %s", a, b)
	}
}

// TestBandsOverAll: a figure over all substrates is a band where each of them is the same one, and held where any is not.
func TestBandsOverAll(t *testing.T) {
	for name, tt := range map[string]struct {
		kept int // in yucca, of 30; in bunchgrass it is 28 of 30
		of   int
		want bool
	}{"the same band": {28, 30, true}, "the other band": {2, 30, false}, "no figure": {1, 4, false}} {
		in := keeping(30, 28, 28, 28, 28, 28, 28, 28, 28)
		for _, n := range keeping(tt.of, tt.kept, tt.kept, tt.kept, tt.kept, tt.kept, tt.kept, tt.kept, tt.kept).Data.Nests {
			n.Substrate = survey.Yucca
			in.Data.Nests = append(in.Data.Nests, n)
		}
		b := composeWith(disclosure.Default(), in)
		grass, _ := find(b, bulletin.Survival28, "", "bunchgrass", "")
		for _, measure := range []string{bulletin.Survival28, bulletin.SurvivalCrude} {
			c, _ := find(b, measure, "", "", "")
			if c.Published != tt.want || !grass.Published || tt.want && (c.Estimate != nil || *c.Low != 0.85) {
				t.Errorf("%s: %s %v, %s to %s (%s)", name, measure, c.Published, number(c.Low), number(c.High), c.HeldBecause)
			}
		}
	}
}

// TestLatePlant: a final revision has the standard substrates of the first edition. With one more, the means of two editions
// would be over different ones, and their difference that one's.
func TestLatePlant(t *testing.T) {
	whole := input(2025, 55, []survey.Substrate{survey.Bunchgrass, survey.Yucca}, owners("East", "ABCDEFGH")...)
	first := whole
	first.Data = &survey.Data{Nests: slices.DeleteFunc(slices.Clone(whole.Data.Nests), func(n survey.Nest) bool { return n.Substrate == survey.Yucca && n.Ranch >= "ranch 04" }), Belts: whole.Data.Belts}
	one := composeWith(disclosure.Default(), first)
	late := changeSheets(whole, 1, 1, 1, 1, 1, 1)
	late.Earlier, late.Final = []bulletin.Bulletin{one}, true
	two, err := bulletin.Compose(late)
	if err != nil {
		t.Fatal(err)
	}
	mean, _ := find(two, bulletin.Survival28, "", "", "")
	grass, _ := find(two, bulletin.Survival28, "", "bunchgrass", "")
	if !slices.Equal(two.Log.Standards, one.Log.Standards) || !mean.Published || *mean.Estimate != *grass.Estimate {
		t.Errorf("the first edition is over %v, the second over %v: %s beside %s", one.Log.Standards, two.Log.Standards, number(mean.Estimate), number(grass.Estimate))
	}
}

// attackNewcomer subtracts the first season's total from the second's: 6.2 clumps an acre over n ranches of ten acres of
// belt, and then a newcomer of 11.0. It asks whether that is worked out to within a quarter.
func attackNewcomer(p disclosure.Policy) string {
	const newcomer = 11.0
	for _, n := range []int{5, 10} {
		r := rand.New(rand.NewPCG(1, 52))
		hs := owners("East", "ABCDEFGHIJK"[:n+1])
		for i := range hs {
			hs[i].clumps = 62 + r.IntN(9) - 4
		}
		hs[n].clumps = 10 * newcomer
		wide := func(season int, hs ...holding) bulletin.Input {
			in := input(season, 52, grassAndPear[:1], hs...)
			for i := range in.Data.Belts {
				in.Data.Belts[i].WidthFt = 1000
			}
			return in
		}
		first, second := wide(2024, hs[:n]...), wide(2025, hs...)
		one := composeWith(p, first)
		second.Data.Belts = append(second.Data.Belts, first.Data.Belts...)
		second.Earlier = []bulletin.Bulletin{one}
		before, _ := find(one, bulletin.ClumpsPerAcre, "", "", "")
		after, _ := find(composeWith(p, second), bulletin.ClumpsPerAcre, "", "", "")
		if before.Estimate == nil || after.Estimate == nil { // bands: the difference of two sums that lie in them
			least, most := *after.Low*float64(n+1)-*before.High*float64(n), *after.High*float64(n+1)-*before.Low*float64(n)
			if most-least < newcomer/2 {
				return fmt.Sprintf("%d and a newcomer: it has %v to %v", n, least, most)
			}
			continue
		}
		// Of the same number there is no difference to take: both are sums over the roster.
		if guess := *after.Estimate*float64(n+1) - *before.Estimate*float64(n); after.N != before.N && math.Abs(guess-newcomer) < newcomer/4 {
			return fmt.Sprintf("%d and a newcomer: its %v clumps an acre are worked out as %.1f", n, newcomer, guess)
		}
	}
	return ""
}

// attackDigits is about use, not safety: with the roster, a newcomer costs nobody the digits.
func attackDigits(p disclosure.Policy) string {
	first := input(2024, 53, grassAndPear[:1], owners("East", "ABCDEFGHIJ")...)
	second := input(2025, 53, grassAndPear[:1], owners("East", "ABCDEFGHIJK")...)
	second.Data.Belts = append(second.Data.Belts, first.Data.Belts...)
	second.Earlier = []bulletin.Bulletin{composeWith(p, first)}
	if c, _ := find(composeWith(p, second), bulletin.ClumpsPerAcre, "", "", ""); c.Estimate == nil {
		return "a newcomer leaves a band"
	}
	return ""
}

// TestT14NoRollingWindows: 2022–24 less 2023–25 is 2022 less 2025. A cell is of one season; no cell of several exists.
func TestT14NoRollingWindows(t *testing.T) {
	windows := []disclosure.Total{{Name: "2022 to 2024"}, {Name: "2023 to 2025"}}
	for i := range windows { // one ranch was surveyed in 2022 only; its season stands for all it did
		for year := 2022 + i; year <= 2024+i; year++ {
			for _, e := range "ABCDE" {
				windows[i].Terms = append(windows[i].Terms, disclosure.Term{Entity: string(e), Column: fmt.Sprint(year)})
			}
			if year == 2022 {
				windows[i].Terms = append(windows[i].Terms, disclosure.Term{Entity: "F", Column: "2022"})
			}
		}
	}
	// Alone they hold; with the seasons' own totals the one ranch is alone in nothing, and with its season's others it is.
	others := disclosure.Total{Name: "2022 less F"}
	for _, e := range "ABCDE" {
		others.Terms = append(others.Terms, disclosure.Term{Entity: string(e), Column: "2022"})
	}
	p := disclosure.Default()
	whole := disclosure.Total{Name: "2022", Terms: append(slices.Clone(others.Terms), disclosure.Term{Entity: "F", Column: "2022"})}
	if p.Span([]disclosure.Total{others, whole}, nil) == nil {
		t.Error("the audit does not see a difference of two windows of one season")
	}
	b := compose(t, input(2025, 14, grassAndPear, owners("East", "ABCDE")...))
	for _, c := range b.Cells {
		if c.Season != 2025 {
			t.Errorf("a cell of %d in the bulletin of 2025", c.Season)
		}
	}
}

// TestT16InvertToCounts: an estimate with its interval fits at least fifty numbers of nests, for every published rate. From
// ten landowners on a number of nests is given beside it, in tens; nothing rests on that being hidden, for the interval audit
// supposes that everybody's nests are known.
func TestT16InvertToCounts(t *testing.T) {
	if found, fewest := attackCounts(disclosure.Default(), 30); found != "" {
		t.Error(found)
	} else {
		t.Logf("the fewest candidates for a cell: %d", fewest)
	}
}

// attackCounts inverts each cell to numbers of nests. The attacker knows the formula, and that owners' shared luck may
// widen the interval, but not by how much.
func attackCounts(p disclosure.Policy, runs uint64) (found string, fewest int) {
	fewest = math.MaxInt
	for seed := range runs {
		b := composeWith(p, randomInput(300+seed))
		for _, c := range b.Cells {
			rate := c.Measure == bulletin.Survival28 && c.Substrate != nil || c.Measure == bulletin.SurvivalCrude
			if !rate || !c.Published || c.Estimate == nil {
				continue
			}
			if n := candidates(p, c); n < fewest {
				fewest = n
			}
			if fewest < 50 {
				return fmt.Sprintf("seed %d: %s %s, %v (%v to %v) of %d, fits %d numbers of nests", seed, text(c.Area), text(c.Substrate), *c.Estimate, *c.Low, *c.High, c.N, fewest), fewest
			}
		}
	}
	return "", fewest
}

// candidates counts the numbers of nests that fit a cell. For a rate S = y/N the ends of the interval are
// exp(−exp(θ ± k)) with θ = log(−log S) and k = t·se/(S·|log S|); rounded outward they bound k from both sides, k bounds
// the effective number S(1−S)/se², and that times the design effect is N.
func candidates(p disclosure.Policy, c bulletin.Cell) (fit int) {
	step := p.Points(c.N) / 100
	t := interval.Quantile((1+interval.Level)/2, float64(c.N-1))
	loglog := func(x float64) float64 {
		return math.Log(-math.Log(math.Min(1-1e-12, math.Max(1e-12, x))))
	}
	for n := 30; n <= 3000 && fit < 200; n++ {
		for y := math.Ceil((*c.Estimate - step/2) * float64(n)); y <= (*c.Estimate+step/2)*float64(n); y++ {
			s := y / float64(n)
			if s <= 0 || s >= 1 {
				continue
			}
			theta := loglog(s)
			least := math.Max(loglog(*c.Low+step)-theta, theta-loglog(*c.High-step))
			most := math.Min(loglog(*c.Low)-theta, theta-loglog(*c.High))
			unit := s * -math.Log(s) / t
			if most <= 0 || least > most {
				continue
			}
			fewest, largest := s*(1-s)/(most*unit*most*unit), math.Inf(1)
			if least > 0 {
				largest = s * (1 - s) / (least * unit * least * unit)
			}
			if float64(n) >= fewest && float64(n) <= largest*mostEffect {
				fit++
				break
			}
		}
	}
	return fit
}

// mostEffect is the design effect up to which the attacker reckons: owners of 20 nests whose rates correlate by a quarter.
const mostEffect = 6

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

// TestT20Spread: the spread of landowners' own survivals: nothing at nine, the median at ten, quartiles from twenty.
func TestT20Spread(t *testing.T) {
	if found := attackQuantiles(disclosure.Default()); found != "" {
		t.Error(found)
	}
	for n, want := range map[int]string{9: "held", 10: "median", 19: "median", 20: "quartiles"} {
		if got := spreadOf(disclosure.Default(), n); got != want {
			t.Errorf("%d owners: got %s, want %s", n, got, want)
		}
	}
	hs := owners("East", "ABCDEFGHIJ")
	hs[0].consent = 3 // what everybody knows is no tenth
	if c, _ := find(compose(t, input(2025, 71, grassAndPear, hs...)), bulletin.SurvivalSpread, "", "", ""); c.Published {
		t.Error("the median of nine whose results are not known is given")
	}
}

func spreadOf(p disclosure.Policy, n int) string {
	c, _ := find(composeWith(p, input(2025, 71, grassAndPear, owners("East", "ABCDEFGHIJKLMNOPQRST"[:n])...)), bulletin.SurvivalSpread, "", "", "")
	switch {
	case !c.Published:
		return "held"
	case c.Low == nil:
		return "median"
	}
	return "quartiles"
}

func attackQuantiles(p disclosure.Policy) string {
	for _, n := range []int{5, 9} {
		if got := spreadOf(p, n); got != "held" {
			return fmt.Sprintf("%d owners: %s", n, got)
		}
	}
	if got := spreadOf(p, 12); got == "quartiles" {
		return "12 owners: a quartile is one of their values, nearly"
	}
	return ""
}

// TestIntervalsTellLittle: an interval is wide where owners differ. Two insiders who make all the difference by themselves
// would know that the three others are alike, to the nest. The attacker composes a bulletin from every guess at the
// others and keeps the guesses that give the same cell; what is left for each other owner must be 30 points wide.
func TestIntervalsTellLittle(t *testing.T) {
	if found := attackIntervals(disclosure.Default()); found != "" {
		t.Error(found)
	}
}

func attackIntervals(p disclosure.Policy) string {
	const n, step = 60, 3
	show := func(kept ...int) string {
		b := composeWith(p, keeping(n, kept...))
		c, _ := find(b, bulletin.Survival28, "", "bunchgrass", "")
		return fmt.Sprint(number(c.Estimate), number(c.Low), number(c.High), c.HeldBecause)
	}
	for _, kept := range [][]int{{30, 30, 30, 30, 30}, {24, 36, 30, 30, 30}} {
		want := show(kept...)
		if strings.Contains(want, "-") {
			continue // held
		}
		least, most := n, 0
		for x := 0; x <= n; x += step { // of the third; of the others every way to make up for it
			seen := false
			for y := 0; y <= n && !seen; y += step {
				for d := -6; d <= 6 && !seen; d += step {
					z := 90 + d - x - y
					seen = z >= 0 && z <= n && show(kept[0], kept[1], x, y, z) == want
				}
			}
			if seen {
				least, most = min(least, x), max(most, x)
			}
		}
		if 100*(most-least) < 30*n {
			return fmt.Sprintf("two kept %d and %d of %d and read %s: each other kept %d to %d", kept[0], kept[1], n, want, least, most)
		}
	}
	return ""
}

// TestT19OpenBand: a place in which nearly every nest lasts is given as an open band, and only where the others and the whole
// leave it as open as it is.
func TestT19OpenBand(t *testing.T) {
	if found := attackBand(disclosure.Default()); found != "" {
		t.Error(found)
	}
	bands, places := 0, 0
	for _, rs := range alikeOwners() {
		if c, _ := find(composeWith(disclosure.Default(), keepingIn(rs)), bulletin.Survival28, "East", "bunchgrass", ""); c.Published {
			places++
			if c.Estimate == nil {
				bands++
			}
		}
	}
	if bands == 0 || places == len(alikeOwners()) {
		t.Errorf("%d bands and %d places of %d: little was tested", bands, places, len(alikeOwners()))
	}
}

// A record is what one owner has: a place, nests there, and how many of them lasted.
type record struct {
	place    string
	kept, of int
}

// recordsOf makes records of one place from pairs of kept and of.
func recordsOf(place string, keptOf ...[2]int) (rs []record) {
	for _, x := range keptOf {
		rs = append(rs, record{place, x[0], x[1]})
	}
	return rs
}

// alikeOwners lists cooperatives in which most of the east are alike, at nearly all of their nests or at hardly any, beside
// others in the west.
func alikeOwners() (all [][]record) {
	for seed := range uint64(16) {
		r := rand.New(rand.NewPCG(seed, 5))
		var rs []record
		of, gone := 30+r.IntN(20), 1+r.IntN(2)
		for range 5 + r.IntN(4) {
			rs = append(rs, record{"East", of - gone, of})
		}
		for range 5 + r.IntN(30) {
			n := 10 + r.IntN(40)
			rs = append(rs, record{"West", int(float64(n) * (0.2 + 0.6*r.Float64())), n})
		}
		if seed%2 == 1 {
			for i := range rs {
				rs[i].kept = rs[i].of - rs[i].kept
			}
		}
		all = append(all, rs)
	}
	// A grid of 5 points, or a band, leaves the east open. What is left of the whole by a small west of many is finer.
	for few := range 8 {
		var west []record
		for i := range 30 {
			west = append(west, record{"West", min(1, i/(few+1)%2) + 1, 3})
		}
		all = append(all,
			slices.Concat(recordsOf("East", [2]int{28, 40}, [2]int{28, 40}, [2]int{38, 40}, [2]int{37, 40}, [2]int{37, 40}), west),
			slices.Concat(recordsOf("East", [2]int{39, 40}, [2]int{39, 40}, [2]int{40, 40}, [2]int{39, 40}, [2]int{39, 40}, [2]int{39, 40}, [2]int{40, 40}), west))
	}
	// The west is a band because its few nests tell no more; from the whole it leaves little for an east of nearly all.
	for lost := range 8 {
		var rs []record
		for i := range 8 {
			rs = append(rs, record{"West", 1, 8}, record{"East", 40 - min(1, (lost+7-i)/8), 40})
		}
		all = append(all, rs)
	}
	differ := recordsOf("West", [2]int{10, 40}, [2]int{16, 40}, [2]int{20, 40}, [2]int{24, 40}, [2]int{30, 40})
	apart := recordsOf("East", [2]int{4, 40}, [2]int{4, 40}, [2]int{40, 40}, [2]int{40, 40}, [2]int{40, 40})
	return append(all,
		// Two have nearly all losses: the three others are alike, and no band at the end of the scale is true of the five.
		slices.Concat(apart, differ),
		// So it is in the whole.
		slices.Concat(apart, recordsOf("West", [2]int{40, 40}, [2]int{40, 40}, [2]int{40, 40}, [2]int{40, 40}, [2]int{40, 40})),
		// A band of the whole is too narrow where two have all losses.
		recordsOf("", [2]int{30, 40}, [2]int{30, 40}, [2]int{40, 40}, [2]int{40, 40}, [2]int{40, 40}),
	)
}

// attackBand reads the cells of a substrate as an attacker does: the total of a place lies within its own cell, and within the
// whole's less those of the others. It looks at what that leaves an owner, for any two others of the place or of the whole, who
// know all but their own. Everybody's nests are known.
func attackBand(p disclosure.Policy) string {
	for i, rs := range alikeOwners() {
		b := composeWith(p, keepingIn(rs))
		of, least, most := map[string]float64{}, map[string]float64{}, map[string]float64{}
		for _, r := range rs {
			of[""] += float64(r.of)
			if r.place != "" {
				of[r.place] += float64(r.of)
			}
		}
		for place, n := range of {
			least[place], most[place] = 0, n
			if c, _ := find(b, bulletin.Survival28, place, "bunchgrass", ""); c.Published {
				low, high := rangeOf(p, c)
				least[place], most[place] = low*n, high*n
			}
		}
		for place := range of {
			low, high := least[place], most[place]
			if there := map[string]string{"East": "West", "West": "East"}[place]; there != "" {
				low, high = max(low, least[""]-most[there]), min(high, most[""]-least[there])
			}
			inside := slices.DeleteFunc(slices.Clone(rs), func(r record) bool { return place != "" && r.place != place })
			if found := pairsNarrow(inside, low, high); found != "" {
				return fmt.Sprintf("cooperative %d, %q: %s", i, place, found)
			}
		}
	}
	return ""
}

// rangeOf is what a published rate says of the rate behind it.
func rangeOf(p disclosure.Policy, c bulletin.Cell) (low, high float64) {
	if c.Estimate == nil {
		return *c.Low, *c.High
	}
	half := p.Points(c.N) / 200
	return *c.Estimate - half, *c.Estimate + half
}

// pairsNarrow looks for two who know of another's rate less than 30 points of the scale, from the ends of what all kept.
func pairsNarrow(rs []record, low, high float64) string {
	of := 0.0
	for _, r := range rs {
		of += float64(r.of)
	}
	for i, target := range rs {
		for j, one := range rs {
			for k, other := range rs[:j] {
				own, rest := float64(one.kept+other.kept), of-float64(target.of+one.of+other.of)
				from, to := max(0, low-own-rest), min(float64(target.of), high-own)
				if i != j && i != k && to-from < 0.30*float64(target.of)-1e-6 {
					return fmt.Sprintf("two know that another kept %.1f to %.1f of %d", from, to, target.of)
				}
			}
		}
	}
	return ""
}

// TestMeanBesideItsParts: over two substrates a mean is given, which with one of them tells the other. Where the other is held
// or a band for being alike, so is the mean.
func TestMeanBesideItsParts(t *testing.T) {
	// The three largest hold most: what two of them lost is nearly all that was lost, or nobody lost anything.
	large := func(place string, small int, kept ...int) (rs []record) {
		for _, k := range kept {
			rs = append(rs, record{place, k, 100})
		}
		for range small {
			rs = append(rs, record{place, 10, 10})
		}
		return rs
	}
	differ := func(rs []record) (differing []record) {
		for i, r := range rs {
			differing = append(differing, record{r.place, r.of * (3 + i%5) / 10, r.of})
		}
		return differing
	}
	p, given := disclosure.Default(), 0
	for name, alike := range map[string][]record{
		"held":              large("East", 7, 0, 0, 100),
		"held of the whole": large("", 15, 0, 0, 100), "a band of the whole": large("", 32, 70, 70, 100),
	} {
		other := differ(alike)
		if alike[0].place != "" {
			west := differ(large("West", 7, 0, 0, 0))
			alike, other = slices.Concat(alike, west), slices.Concat(other, west)
		}
		for _, order := range [][]survey.Substrate{{survey.Bunchgrass, survey.Yucca}, {survey.Yucca, survey.Bunchgrass}} {
			in := keepingIn(alike)
			for _, more := range keepingIn(other).Data.Nests {
				more.Substrate = survey.Yucca
				in.Data.Nests = append(in.Data.Nests, more)
			}
			for i := range in.Data.Nests {
				in.Data.Nests[i].Substrate = map[survey.Substrate]survey.Substrate{survey.Bunchgrass: order[0], survey.Yucca: order[1]}[in.Data.Nests[i].Substrate]
			}
			place := alike[0].place
			inside := slices.DeleteFunc(slices.Clone(alike), func(r record) bool { return r.place != place })
			of := 0.0
			for _, r := range inside {
				of += float64(r.of)
			}
			b := composeWith(p, in)
			part, _ := find(b, bulletin.Survival28, place, string(order[1]), "")
			if !part.Published {
				continue
			}
			given++
			for _, measure := range []string{bulletin.Survival28, bulletin.SurvivalCrude} { // of as many nests in both substrates
				if mean, _ := find(b, measure, place, "", ""); mean.Published {
					low, high := rangeOf(p, mean)
					least, most := rangeOf(p, part)
					if found := pairsNarrow(inside, (2*low-most)*of, (2*high-least)*of); found != "" {
						t.Errorf("%s, %v, %s: %s", name, order, measure, found)
					}
				}
			}
		}
	}
	if given < 4 {
		t.Errorf("the other substrate is given in %d of 6: little was tested", given)
	}
}

// keeping makes a season of one owner a number, who keeps that many of n nests.
func keeping(n int, kept ...int) bulletin.Input {
	var rs []record
	for _, k := range kept {
		rs = append(rs, record{"", k, n})
	}
	return keepingIn(rs)
}

// keepingIn makes a season of one owner a record.
func keepingIn(rs []record) bulletin.Input {
	in := bulletin.Input{Data: &survey.Data{}, Season: 2025}
	set := survey.DateOf(2025, 5, 1)
	for i, r := range rs {
		ranch := fmt.Sprint("ranch ", i)
		in.Roster = append(in.Roster, bulletin.Member{Ranch: ranch, Entity: ranch, Area: r.place, Consent: 1})
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

// TestIntervalsCover: published intervals still hold the truth 95 times in 100 where owners differ, as far as 300 seasons
// tell (3.5 standard errors below).
func TestIntervalsCover(t *testing.T) {
	t.Parallel()
	const runs = 300
	for _, spread := range []float64{0, 0.15} { // of owners' chances around a half
		held := 0
		for seed := range uint64(runs) {
			r := rand.New(rand.NewPCG(seed, 111))
			hs := owners("East", "ABCDEFGHIJKL")
			for i := range hs {
				hs[i].kept, hs[i].clumps = 0.5+spread*(2*r.Float64()-1)*math.Sqrt(3), -1
			}
			c, _ := find(compose(t, withoutRemains(input(2025, seed, grassAndPear[:1], hs...))), bulletin.Survival28, "", "bunchgrass", "")
			if c.Published && *c.Low <= 0.5 && *c.High >= 0.5 {
				held++
			}
		}
		t.Logf("owners differ by %v: %d of %d intervals hold the truth", spread, held, runs)
		if held < runs*95/100-13 {
			t.Errorf("owners differ by %v: %d of %d intervals hold the truth", spread, held, runs)
		}
	}
}

// TestT37ShowCase: somebody who shows the own figures under the own name protects nobody: five with one of them are four.
func TestT37ShowCase(t *testing.T) {
	hs := owners("East", "ABCDE")
	hs[0].consent = 3
	b := compose(t, input(2025, 81, grassAndPear, hs...))
	for _, c := range b.Cells {
		if c.Published {
			t.Errorf("%s %s is published on four owners and one whom everybody knows", c.Measure, text(c.Substrate))
		}
	}
}

// TestPuppets: shell names of one person do not fill a cell: who is new and not vouched for counts to no number. Once a
// bulletin has had their results, they do.
func TestPuppets(t *testing.T) {
	if found := attackPuppets(disclosure.Default()); found != "" {
		t.Error(found)
	}
	six := input(2024, 82, grassAndPear, owners("East", "ABCDEFG")...)
	for i := range six.Roster {
		six.Roster[i].Unvouched = i == 6
	}
	later := puppets(2025)
	later.Roster[3].Unvouched, later.Roster[4].Unvouched = false, false
	later.Roster = append(later.Roster, bulletin.Member{Ranch: "ranch 06", Entity: "G", Area: "East", Consent: 1, Unvouched: true})
	r := rand.New(rand.NewPCG(8, 8))
	for i := range 20 {
		later.Data.Nests = append(later.Data.Nests, nest(r, "ranch 06", 2025, i, survey.Bunchgrass, 0.5))
	}
	counted := func(earlier ...bulletin.Bulletin) int {
		later.Earlier = earlier
		c, _ := find(compose(t, later), bulletin.Survival28, "", "bunchgrass", "")
		return c.N
	}
	later.Data.Nests = append(later.Data.Nests, six.Data.Nests...) // the plan
	if before, after := counted(), counted(compose(t, six)); before != 5 || after != 6 {
		t.Errorf("a newcomer's first season counts %d and the next %d, want 5 and 6", before, after)
	}
}

func puppets(season int) bulletin.Input {
	in := input(season, 82, grassAndPear[:1], owners("East", "ABCDE")...)
	in.Roster[3].Unvouched, in.Roster[4].Unvouched = true, true
	return in
}

func attackPuppets(p disclosure.Policy) string {
	if c, _ := find(composeWith(p, puppets(2025)), bulletin.Survival28, "", "bunchgrass", ""); c.Published {
		return "three owners and two shells of one of them make a cell of five"
	}
	return ""
}

// TestFixedLabels is A9: the substrates and animals listed are the same whoever has what.
func TestFixedLabels(t *testing.T) {
	labels := func(in bulletin.Input) (list []string) {
		for _, c := range compose(t, in).Cells {
			if c.Area == nil {
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

// TestT34EachStepIsNeeded turns each step of the gate off: an attack then finds something that it does not find with it.
func TestT34EachStepIsNeeded(t *testing.T) {
	t.Parallel()
	subsets := func(p disclosure.Policy) string {
		for seed := range uint64(40) {
			in := randomInput(seed)
			if _, found := attack(composeWith(p, in), in); found != "" {
				return found
			}
		}
		return ""
	}
	// Amounts that only one rule holds; the cases are those of package disclosure.
	amounts := func(nests ...int) func(disclosure.Policy) string {
		return func(p disclosure.Policy) string {
			hs := owners("East", "ABCDEFGHIJ"[:len(nests)])
			for i := range hs {
				hs[i].nests, hs[i].clumps = nests[i], -1
			}
			if c, _ := find(composeWith(p, input(2025, 101, grassAndPear[:1], hs...)), bulletin.Survival28, "", "bunchgrass", ""); c.Published {
				return fmt.Sprintf("%v nests are published", nests)
			}
			return ""
		}
	}
	counts := func(p disclosure.Policy) string { found, _ := attackCounts(p, 6); return found }
	steps := []disclosure.Step{{Entities: 5, Points: 0.1}}
	for _, tt := range []struct {
		step   string
		off    func(*disclosure.Policy)
		attack func(disclosure.Policy) string
	}{
		{"minimum frequency", func(p *disclosure.Policy) { p.MinEntities = 0 }, amounts(40, 40, 40, 40)},
		{"(1,50)", func(p *disclosure.Policy) { p.Dominance = p.Dominance[1:] }, amounts(102, 18, 16, 16, 14, 14, 8, 6, 4, 2)},
		{"(2,67)", func(p *disclosure.Policy) { p.Dominance = p.Dominance[:1] }, amounts(80, 56, 10, 10, 10, 10, 8, 6, 6, 4)},
		{"p%", func(p *disclosure.Policy) { p.Remainder = 0 }, amounts(64, 64, 50, 10, 10)},
		{"p% over combinations", func(p *disclosure.Policy) { p.Remainder = 0 }, subsets},
		{"the second insider", func(p *disclosure.Policy) { p.Coalition = 1 }, amounts(64, 64, 50, 10, 10)},
		{"interval audit", func(p *disclosure.Policy) { p.MinRange = 0 }, attackAlike},
		{"places beside the whole", func(p *disclosure.Policy) { p.Together = false }, attackBand},
		{"one rounded effect for intervals", func(p *disclosure.Policy) { p.EffectRatio = 0 }, attackIntervals},
		{"one rounded effect for intervals of figures", func(p *disclosure.Policy) { p.EffectRatio = 0 }, func(p disclosure.Policy) string {
			found, _ := attackFigureIntervals(t, p, 2)
			return found
		}},
		{"ten for a count", func(p *disclosure.Policy) { p.CountEntities = 0 }, attackRowCounts},
		{"tens for a count", func(p *disclosure.Policy) { p.CountStep = 1 }, attackRowCounts},
		{"span audit", func(p *disclosure.Policy) { p.SpanAudit = false }, attackMover},
		{"difference check", func(p *disclosure.Policy) { p.Revisions = false }, attackRevision},
		// Each alone is enough against a newcomer: without a roster the span audit leaves a band.
		{"roster and span audit", func(p *disclosure.Policy) { p.RosterSeasons, p.SpanAudit = 0, false }, attackNewcomer},
		{"roster", func(p *disclosure.Policy) { p.RosterSeasons = 0 }, attackDigits},
		{"established owners", func(p *disclosure.Policy) { p.Established = false }, attackPuppets},
		{"grid of rates", func(p *disclosure.Policy) { p.SurvivalSteps = steps }, counts},
		{"quantiles", func(p *disclosure.Policy) { p.QuantileBeyond = 1 }, attackQuantiles},
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
// A thousand in the short form, ten thousand on demand. Remains are left out of most, for the mix takes as long as all else
// and is attacked in T17; every thirty-second has them and is composed a second time.
func TestT33RandomCooperatives(t *testing.T) {
	runs := uint64(1000)
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
	cells, found := attack(b, in)
	if found == "" {
		found = spanFinds(slow(b, in, true))
	}
	if found != "" {
		t.Fatalf("seed %d, %d ranches: %s", seed, len(in.Roster), found)
	}
	if whole {
		r := rand.New(rand.NewPCG(seed, 1))
		d := in.Data
		r.Shuffle(len(d.Nests), func(i, j int) { d.Nests[i], d.Nests[j] = d.Nests[j], d.Nests[i] })
		if again := compose(t, in); again.Hash != b.Hash || again.Log.Hash != b.Log.Hash || b.Log.Input == "" {
			t.Fatalf("seed %d: composed again it is another bulletin", seed)
		}
	}
	return cells, len(in.Roster)
}

// withoutRemains leaves out what takes as long as all else.
func withoutRemains(in bulletin.Input) bulletin.Input {
	for i := range in.Data.Nests {
		in.Data.Nests[i].Remains, in.Data.Nests[i].Camera = survey.Remains{}, ""
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
	in := input(2025, 38, grassAndPear, owners("East", "ABCDEFGHIJKL")...)
	first := jsonOf(t, compose(t, in).Cells)
	for range 200 {
		if again := jsonOf(t, compose(t, in).Cells); !bytes.Equal(again, first) {
			t.Fatal("composed again, a value is another")
		}
	}
}
