package bulletin_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/survey"
)

func compose(t testing.TB, in bulletin.Input) bulletin.Bulletin {
	t.Helper()
	b, err := bulletin.Compose(in)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func composeWith(p disclosure.Policy, in bulletin.Input) bulletin.Bulletin {
	b, err := bulletin.ComposeUnder(p, in)
	if err != nil {
		panic(err)
	}
	return b
}

func TestWhatIsHeld(t *testing.T) {
	private := func(hs []holding) []holding {
		hs[0].consent = 0
		return hs
	}
	for _, tt := range []struct {
		name     string
		holdings []holding
		measure  string
		want     disclosure.Reason
	}{
		{"five owners", owners("North", "ABCDE"), bulletin.Survival28, ""},
		{"four owners", owners("North", "ABCD"), bulletin.Survival28, disclosure.TooFew},
		{"five ranches, two of one owner", owners("North", "AABCD"), bulletin.Survival28, disclosure.TooFew},
		{"the owner spelled in two ways", owners("North", "AaBCD"), bulletin.Survival28, disclosure.TooFew},
		{"seven ranches, two of one owner", owners("North", "AABCDEF"), bulletin.Survival28, ""},
		{"six ranches, two of one owner, who has a third", owners("North", "AABCDE"), bulletin.Survival28, disclosure.TooMuch},
		{"one of five is private", private(owners("North", "ABCDE")), bulletin.Survival28, disclosure.TooFew},
		{"one of six is private", private(owners("North", "ABCDEF")), bulletin.Survival28, ""},
		{"one of five shows the own figures by name", with(owners("North", "ABCDE"), func(h *holding) { h.consent = 3 }), bulletin.Survival28, disclosure.TooFew},
		{"one has most nests", with(owners("North", "ABCDE"), func(h *holding) { h.nests = 120 }), bulletin.Survival28, disclosure.Dominated},
		{"five owners", owners("North", "ABCDE"), bulletin.ClumpsPerAcre, ""},
		{"five with nests, four with belts", with(owners("North", "ABCDE"), func(h *holding) { h.clumps = -1 }), bulletin.ClumpsPerAcre, disclosure.TooFew},
		{"five with belts, four with clumps", with(owners("North", "ABCDE"), func(h *holding) { h.clumps = 0 }), bulletin.ClumpsPerAcre, disclosure.TooFew},
		{"one has most clumps", with(owners("North", "ABCDE"), func(h *holding) { h.clumps = 110 }), bulletin.ClumpsPerAcre, disclosure.Dominated},
		{"seven owners", owners("North", "ABCDEFG"), bulletin.PredatorShare, disclosure.TooMuch},
	} {
		t.Run(tt.measure+" "+tt.name, func(t *testing.T) {
			// One substrate, so that "all substrates" is judged on the same amounts.
			b := compose(t, input(2025, 1, grassAndPear[:1], tt.holdings...))
			animal := ""
			if tt.measure == bulletin.PredatorShare {
				animal = bulletin.OtherOrUnknown
			}
			cell, ok := find(b, tt.measure, "", "", animal)
			if !ok || cell.HeldBecause != string(tt.want) || cell.Published != (tt.want == "") {
				t.Errorf("got published %v, %q, want %q", cell.Published, cell.HeldBecause, tt.want)
			}
		})
	}
}

// with changes the first holding.
func with(hs []holding, change func(*holding)) []holding {
	change(&hs[0])
	return hs
}

// TestFewGetAWindow: below eight landowners, or where few have most of the nests, an estimate would tell too much: there is a wide range
// alone, and no figure by cover.
func TestFewGetAWindow(t *testing.T) {
	large := many("North", 12)
	for i := range 4 {
		large[i].nests = 90
	}
	for name, tt := range map[string]struct {
		holdings []holding
		exact    bool
	}{"five": {many("North", 5), false}, "seven": {many("North", 7), false}, "eight": {many("North", 8), true}, "twelve, of whom four have most": {large, false}} {
		b := compose(t, input(2025, 1, grassAndPear[:1], tt.holdings...))
		c, _ := find(b, bulletin.Survival28, "", "", "")
		if !c.Published || (c.Estimate != nil) != tt.exact || c.Low == nil || !tt.exact && math.Abs(*c.High-*c.Low-0.4) > 1e-9 {
			t.Errorf("%s: published %v (%s): %s, %s to %s", name, c.Published, c.HeldBecause, number(c.Estimate), number(c.Low), number(c.High))
		}
		if grass, _ := find(compose(t, input(2025, 1, grassAndPear, tt.holdings...)), bulletin.Survival28, "", "bunchgrass", ""); grass.Published {
			t.Errorf("%s: a figure by cover", name)
		}
	}
}

// TestEachMeasureHasItsOwnN is case Q10: enough entities with nests, three of them with remains.
func TestEachMeasureHasItsOwnN(t *testing.T) {
	in := input(2025, 1, grassAndPear, many("North", 8)...)
	for i := range in.Data.Nests {
		if n := &in.Data.Nests[i]; n.Ranch >= "ranch 03" {
			n.Camera = ""
		}
	}
	b := compose(t, in)
	if cell, _ := find(b, bulletin.Survival28, "", "", ""); !cell.Published {
		t.Errorf("survival is held: %s", cell.HeldBecause)
	}
	if cell, _ := find(b, bulletin.PredatorShare, "", "", "coyote"); cell.Published || cell.HeldBecause != string(disclosure.TooFew) {
		t.Errorf("the mix: got published %v, %q", cell.Published, cell.HeldBecause)
	}
}

// TestPlaces: areas stand by themselves, or with their groups under the group's name, or only the whole is given.
func TestPlaces(t *testing.T) {
	large := func(area string, n int) (hs []holding) {
		for _, h := range many(area, n) {
			h.nests = 60
			hs = append(hs, h)
		}
		return hs
	}
	thin := many("West", 12)
	for i := range thin {
		thin[i].nests = 8
	}
	for _, tt := range []struct {
		name     string
		holdings []holding
		groups   map[string]string
		want     string // area=label, in order
	}{
		{"each by itself", slices.Concat(large("East", 24), large("West", 24)), nil, "East=East West=West"},
		{"one has too few", slices.Concat(large("East", 24), large("West", 9)), nil, "East= West="},
		{"one has too few nests to tell anything", slices.Concat(large("East", 24), thin), nil, "East= West="},
		{"neighbours join under their group's name", slices.Concat(large("East", 24), large("West", 9), large("Hills", 15)), map[string]string{"West": "Breaks", "Hills": "Breaks"},
			"East=East Hills=Breaks West=Breaks"},
		{"one area alone is the cooperative", large("East", 24), nil, "East="},
	} {
		t.Run(tt.name, func(t *testing.T) {
			in := input(2025, 3, grassAndPear[:1], tt.holdings...)
			for area, group := range tt.groups {
				in.Areas = append(in.Areas, bulletin.Area{Name: area, Group: group})
			}
			b := compose(t, in)
			var got []string
			for _, p := range b.Places {
				got = append(got, p.Area+"="+p.Label)
			}
			if strings.Join(got, " ") != tt.want {
				t.Errorf("got %v, want %s", got, tt.want)
			}
			if cell, _ := find(b, bulletin.Survival28, "", "", ""); !cell.Published {
				t.Errorf("the whole cooperative is held: %s", cell.HeldBecause)
			}
			for _, c := range b.Cells {
				if c.Area != nil && !strings.Contains(tt.want, "="+*c.Area) {
					t.Errorf("a cell of %s", *c.Area)
				}
				if c.Published && c.Area != nil && c.Measure == bulletin.Survival28 && (*c.High-*c.Low > 0.14+1e-9 || c.Estimate == nil) {
					t.Errorf("%s: %s to %s tells one place from another seldom", *c.Area, number(c.Low), number(c.High))
				}
			}
		})
	}
}

// TestRareSubstrate: nests in a plant that too few have are in no figure, so that no total minus the rest is theirs.
func TestRareSubstrate(t *testing.T) {
	in := input(2025, 5, grassAndPear, many("East", 18)...)
	before := compose(t, in)
	r := rand.New(rand.NewPCG(9, 9))
	for i := range 15 {
		in.Data.Nests = append(in.Data.Nests, nest(r, "ranch 00", 2025, i, survey.Yucca, 1), nest(r, "ranch 01", 2025, i, "tasajillo", 1))
	}
	after := compose(t, in)
	if got, want := shown(t, after), shown(t, before); got != want {
		t.Errorf("published cells changed:\n%s\n%s", want, got)
	}
	if _, listed := find(after, bulletin.Survival28, "", "tasajillo", ""); listed {
		t.Error("a rare plant's own word is listed")
	}
}

// shown returns the published survival cells as JSON.
func shown(t *testing.T, b bulletin.Bulletin) string {
	t.Helper()
	return string(jsonOf(t, slices.DeleteFunc(slices.Clone(b.Cells), func(c bulletin.Cell) bool { return !c.Published || c.Measure != bulletin.Survival28 })))
}

func jsonOf(t *testing.T, v any) []byte {
	t.Helper()
	out, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestStandards: a substrate is a standard one where it passes the rules and is common.
func TestStandards(t *testing.T) {
	for _, tt := range []struct {
		name          string
		owners, nests int // with yucca
		grass         int // nests of each of eight
		standard      bool
	}{
		{"five", 5, 10, 20, true}, {"four", 4, 10, 20, false}, {"too few nests", 5, 5, 20, false}, {"less than a tenth", 5, 7, 50, false},
	} {
		hs := many("East", 8)
		for i := range hs {
			hs[i].nests = tt.grass
		}
		in := input(2025, 17, grassAndPear[:1], hs...)
		r := rand.New(rand.NewPCG(17, 17))
		for i := range tt.owners {
			for n := range tt.nests {
				in.Data.Nests = append(in.Data.Nests, nest(r, fmt.Sprintf("ranch %02d", i), 2025, n, survey.Yucca, 0.5))
			}
		}
		b := compose(t, in)
		if got := slices.Contains(b.Covers, "yucca"); got != tt.standard {
			t.Errorf("%s: yucca is a standard substrate: %v, want %v", tt.name, got, tt.standard)
		}
		if all, _ := find(b, bulletin.Survival28, "", "", ""); !all.Published {
			t.Errorf("%s: the figure over all substrates is held: %s", tt.name, all.HeldBecause)
		}
	}
}

// TestAsOneRanch: before rounding, the whole cooperative's figure is the one that package findings gives to a single
// ranch with all the nests.
func TestAsOneRanch(t *testing.T) {
	in := input(2025, 6, grassAndPear, many("East", 18)...)
	for i := range in.Data.Nests { // some looked at late, some not found again
		switch n := &in.Data.Nests[i]; {
		case i%7 == 0:
			n.Visits[len(n.Visits)-1].On += 3
		case i%11 == 0:
			n.Visits[len(n.Visits)-1].State = survey.Lost
		}
	}
	b := compose(t, in)

	one := &survey.Data{}
	for _, n := range in.Data.Nests {
		n.Transect, n.Ranch = n.Ranch, "all"
		one.Nests = append(one.Nests, n)
	}
	for _, b := range in.Data.Belts {
		b.Transect, b.Ranch = b.Ranch, "all"
		one.Belts = append(one.Belts, b)
	}
	res := findings.Compute(one, findings.Options{})
	p := disclosure.Default()
	for _, h := range []survey.Substrate{"", survey.Bunchgrass, survey.PricklyPear} {
		row, ok := res.Find("all", "", 2025, h)
		if !ok {
			t.Fatal("no such row")
		}
		want := p.Rate(18, *row.Day28.Estimate, *row.Day28.Low, *row.Day28.High)
		got, _ := find(b, bulletin.Survival28, "", string(h), "")
		if number(got.Estimate) != number(want.Estimate) {
			t.Errorf("%q: got %s (%s), want %s", h, number(got.Estimate), got.HeldBecause, number(want.Estimate))
		}
		if *got.Low >= *got.Estimate || *got.High <= *got.Estimate {
			t.Errorf("%q: %s does not lie within %s to %s", h, number(got.Estimate), number(got.Low), number(got.High))
		}
		// Nests not found again may have been taken: that reaches down and not up.
		if *got.Estimate-*got.Low <= *got.High-*got.Estimate {
			t.Errorf("%q: %s to %s reaches no further down than up", h, number(got.Low), number(got.High))
		}
	}
	row, _ := res.DensityOf("all", 2025)
	want := p.Density(*row.PerAcre.Estimate, *row.PerAcre.Low, *row.PerAcre.High)
	if got, _ := find(b, bulletin.ClumpsPerAcre, "", "", ""); number(got.Estimate) != number(want.Estimate) {
		t.Errorf("density: got %s, want %s", number(got.Estimate), number(want.Estimate))
	}
}

// TestT38SameBytes: whatever the order of rows, members and areas, and however often composed, a bulletin is the same to
// the byte.
func TestT38SameBytes(t *testing.T) {
	in := input(2025, 7, grassAndPear, slices.Concat(many("East", 10), many("West", 10))...)
	for i := range in.Data.Belts { // acres that do not add up exactly
		in.Data.Belts[i].LengthFt += float64(i) / 3
	}
	before := compose(t, in).Log
	in.Before = &before
	first := compose(t, in)
	r := rand.New(rand.NewPCG(1, 1))
	for range 20 {
		d := in.Data
		r.Shuffle(len(d.Nests), func(i, j int) { d.Nests[i], d.Nests[j] = d.Nests[j], d.Nests[i] })
		r.Shuffle(len(d.Belts), func(i, j int) { d.Belts[i], d.Belts[j] = d.Belts[j], d.Belts[i] })
		r.Shuffle(len(in.Roster), func(i, j int) { in.Roster[i], in.Roster[j] = in.Roster[j], in.Roster[i] })
		again := compose(t, in)
		if !bytes.Equal(jsonOf(t, first), jsonOf(t, again)) || !bytes.Equal(jsonOf(t, first.Log), jsonOf(t, again.Log)) || again.Hash != first.Hash || len(first.Hash) != 64 {
			t.Fatal("the order of the input changed the bulletin")
		}
	}
}

// TestT15NothingElseInTheJSON holds the JSON of cells to the contract: these names and no other, rates and densities on
// their grids, entities as bands, counts in tens and none for few; no lowest, highest, quantile or standard error (T20).
func TestT15NothingElseInTheJSON(t *testing.T) {
	var cells []map[string]any
	measures := map[string]bool{}
	for seed, hs := range [][]holding{many("East", 6), many("East", 9), many("East", 20), slices.Concat(many("East", 30), many("West", 30))} {
		b := compose(t, input(2025, uint64(seed), grassAndPear, hs...))
		var some []map[string]any
		if err := json.Unmarshal(jsonOf(t, b.Cells), &some); err != nil {
			t.Fatal(err)
		}
		cells = append(cells, some...)
	}
	allowed := []string{"season", "area", "substrate", "measure", "predator", "clumps", "published", "estimate", "low", "high", "entities", "held_because", "nests", "transects", "belts"}
	bands := []any{"5-9", "10-19", "20-49", "50+"}
	published := 0
	for _, c := range cells {
		measures[c["measure"].(string)] = true
		for name := range c {
			if !slices.Contains(allowed, name) {
				t.Errorf("%q is in the JSON of a cell", name)
			}
		}
		if len(c) != len(allowed) {
			t.Errorf("%d names, want %d: %v", len(c), len(allowed), c)
		}
		if c["published"] == false {
			if c["estimate"] != nil || c["low"] != nil || c["high"] != nil || c["entities"] != nil || c["nests"] != nil || c["transects"] != nil || c["belts"] != nil || c["held_because"] == nil {
				t.Errorf("a held cell says %v", c)
			}
			continue
		}
		published++
		for _, name := range []string{"nests", "transects", "belts"} {
			if n, ok := c[name].(float64); ok && (math.Mod(n, 10) != 0 || c["entities"] == "5-9") {
				t.Errorf("%s of %v is off the grid", name, c)
			}
		}
		if !slices.Contains(bands, c["entities"]) || c["held_because"] != nil {
			t.Errorf("a published cell says %v", c)
		}
		for _, name := range []string{"estimate", "low", "high"} {
			if x, ok := c[name].(float64); ok && !onGrid(c["measure"].(string), c["entities"].(string), x) {
				t.Errorf("%s of %v is off the grid", name, c)
			}
		}
	}
	if published == 0 {
		t.Error("nothing was published: nothing was tested")
	}
	for m := range measures {
		if !slices.Contains(bulletin.Measures, m) {
			t.Errorf("the measure %q", m)
		}
	}
}

func onGrid(measure, entities string, x float64) bool {
	step := 1.0
	switch {
	case measure == bulletin.ClumpsPerAcre:
		return len(strings.Trim(strings.ReplaceAll(fmt.Sprint(x), ".", ""), "0")) <= 2
	case measure == bulletin.DesignEffect:
		step = 25
	case (measure == bulletin.PredatorShare || measure == bulletin.SignShare) && entities == "5-9":
		step = 10
	case measure == bulletin.Survival28 && entities == "10-19" || entities == "20-49" && measure == bulletin.Survival28:
		step = 1 // 2 up to 29 landowners
	case measure != bulletin.Survival28 || entities == "5-9":
		step = 5
	}
	return math.Abs(math.Mod(100*x+1e-7, step)) < 1e-5
}

// TestMixByCameras: where cameras settled every loss, the shares are the plain ones, of few entities and of
// many, and they are given for the whole cooperative only.
func TestMixByCameras(t *testing.T) {
	for _, hs := range [][]holding{many("East", 8), slices.Concat(many("East", 6), many("West", 6))} {
		in := input(2025, 8, grassAndPear, hs...)
		counts := map[survey.Predator]float64{}
		for _, n := range in.Data.Nests {
			if n.Camera != "" {
				counts[n.Camera]++
				counts[""]++
			}
		}
		b := compose(t, in)
		p := disclosure.Default()
		for animal, name := range map[survey.Predator]string{
			survey.Raccoon: "raccoon", survey.Coyote: "coyote", survey.Skunk: "skunk", survey.Other: bulletin.OtherOrUnknown} {
			cell, _ := find(b, bulletin.PredatorShare, "", "", name)
			if animal == survey.Other {
				counts[animal] = counts[""] // less what is named
				for _, a := range []survey.Predator{survey.Raccoon, survey.Coyote, survey.Skunk} {
					if c, _ := find(b, bulletin.PredatorShare, "", "", string(a)); c.Published {
						counts[animal] -= counts[a]
					}
				}
			} else if !cell.Published {
				continue // joined the rest, which must hold two kinds
			}
			share := counts[animal] / counts[""]
			if want := p.Share(len(hs), share, share, share); number(cell.Estimate) != number(want.Estimate) {
				t.Errorf("%d entities, %s: got %s (%s), want %s", len(hs), name, number(cell.Estimate), cell.HeldBecause, number(want.Estimate))
			}
			if cell.Low == nil || *cell.Low > share || *cell.High < share {
				t.Errorf("%d entities, %s: %v lies outside %s to %s", len(hs), name, share, number(cell.Low), number(cell.High))
			}
		}
		for _, c := range b.Cells {
			if c.Measure == bulletin.PredatorShare && c.Area != nil {
				t.Errorf("a mix by place: %v", c)
			}
		}
	}
}

// TestSigns: the three counts of what taken nests showed add up to all of them, a camera's answer is one that fits one, and where one of them is
// too rare none is given.
func TestSigns(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	in, _ := usual(20).draw(r).season(r, 2025, nil)
	sum := 0.0
	for _, sign := range bulletin.Signs {
		c, _ := find(compose(t, in), bulletin.SignShare, "", "", sign)
		if !c.Published || *c.Low > *c.Estimate || *c.High < *c.Estimate {
			t.Fatalf("%s: published %v (%s)", sign, c.Published, c.HeldBecause)
		}
		sum += *c.Estimate
	}
	if math.Abs(sum-1) > 0.051 {
		t.Errorf("the three add up to %v", sum)
	}
	in = input(2025, 4, grassAndPear, many("East", 12)...) // each taken nest was seen by a camera
	for _, sign := range bulletin.Signs {
		if c, _ := find(compose(t, in), bulletin.SignShare, "", "", sign); c.Published {
			t.Errorf("%s is given though no nest is without sign", sign)
		}
	}
}

// TestMixOfOneOwner: an animal that half the owners have may be named; where one owner has most of it, and without that
// owner the share would fall by more than a step, it may not.
func TestMixOfOneOwner(t *testing.T) {
	in := input(2025, 8, grassAndPear, owners("East", "ABCDEFGHIJKL")...)
	for i := range in.Data.Nests {
		if n := &in.Data.Nests[i]; n.Camera == survey.Raccoon && n.Ranch != "ranch 00" && n.Ranch != "ranch 01" {
			n.Camera = survey.Coyote
		} else if n.Camera != "" && (n.Ranch == "ranch 00" || n.Ranch == "ranch 01") {
			n.Camera = survey.Raccoon
		}
	}
	b := compose(t, in)
	if cell, _ := find(b, bulletin.PredatorShare, "", "", "raccoon"); cell.Published {
		t.Error("two owners' raccoons are named")
	}
	if cell, _ := find(b, bulletin.PredatorShare, "", "", "coyote"); !cell.Published {
		t.Errorf("coyote is held: %s", cell.HeldBecause)
	}
}

// TestT18NoneLooksLikeFew: an animal that took nothing and one that took too little look the same, and shares are given with
// the rest.
func TestT18NoneLooksLikeFew(t *testing.T) {
	in := input(2025, 9, grassAndPear, many("East", 9)...)
	for i := range in.Data.Nests {
		if n := &in.Data.Nests[i]; n.Camera != "" {
			n.Camera = survey.Hog
			break
		}
	}
	b := compose(t, in)
	hog, _ := find(b, bulletin.PredatorShare, "", "", "feral hog")
	snake, _ := find(b, bulletin.PredatorShare, "", "", "snake")
	hog.Predator = snake.Predator
	if got, want := string(jsonOf(t, hog)), string(jsonOf(t, snake)); got != want || hog.Published {
		t.Errorf("one event: %s\nnone:      %s", got, want)
	}
	rest, _ := find(b, bulletin.PredatorShare, "", "", bulletin.OtherOrUnknown)
	if !rest.Published {
		t.Errorf("the rest is held: %s", rest.HeldBecause)
	}
	for _, c := range b.Cells {
		if c.Measure == bulletin.PredatorShare && c.Published && *c.Estimate == 0 {
			t.Errorf("%s is published as 0", c.Predator)
		}
	}
}

// TestCurve: survival in bunchgrass rises with clumps where it does, and nobody's nests alone hold the line.
func TestCurve(t *testing.T) {
	rising := func(n int) bulletin.Input {
		hs := many("East", n)
		for i := range hs {
			hs[i].clumps = 12 + 38*i/n // of a tenth of an acre: 120 to 500 an acre
			hs[i].kept = 0.3 + 0.4*float64(i)/float64(n)
			hs[i].nests = 30
		}
		return input(2025, 21, []survey.Substrate{survey.Bunchgrass}, hs...)
	}
	curve := func(b bulletin.Bulletin) (list []bulletin.Cell) {
		for _, c := range b.Cells {
			if c.Measure == bulletin.SurvivalAt && c.Published {
				list = append(list, c)
			}
		}
		return list
	}
	list := curve(compose(t, rising(40)))
	if len(list) != len(bulletin.Clumps) {
		t.Fatalf("%d densities, want %d", len(list), len(bulletin.Clumps))
	}
	for i, c := range list {
		if *c.Clumps != bulletin.Clumps[i] || *c.Low > *c.Estimate || *c.High < *c.Estimate || i > 0 && *c.Estimate < *list[i-1].Estimate {
			t.Errorf("at %v clumps %s, %s to %s", *c.Clumps, number(c.Estimate), number(c.Low), number(c.High))
		}
	}
	if rise := *list[4].Estimate - *list[0].Estimate; rise < 0.15 {
		t.Errorf("from 150 to 450 clumps it rises by %.2f", rise)
	}
	if list := curve(compose(t, rising(9))); len(list) > 0 {
		t.Errorf("%d points from nine landowners", len(list))
	}
	// Where only four have thin cover there is no figure for it.
	in := rising(40)
	for i := range in.Data.Belts {
		if in.Data.Belts[i].Ranch > "ranch 03" {
			in.Data.Belts[i].Counts = map[survey.Substrate]int{survey.Bunchgrass: 32 + i%12}
		}
	}
	for _, c := range curve(compose(t, in)) {
		if *c.Clumps < 300 {
			t.Errorf("a figure at %v clumps from four landowners' nests", *c.Clumps)
		}
	}
}

// TestQuality: shares of the season's nests in steps of five points, from ten landowners on; how well two people agree has a gate of its own.
func TestQuality(t *testing.T) {
	season := func(n, twice int) bulletin.Input {
		in := input(2025, 22, grassAndPear, many("East", n)...)
		seen := map[string]int{}
		for i := range in.Data.Nests {
			nest := &in.Data.Nests[i]
			if seen[nest.Ranch]++; nest.Ranch < fmt.Sprintf("ranch %02d", twice) && seen[nest.Ranch]%2 == 0 {
				v := &nest.Visits[len(nest.Visits)-1]
				if v.Second = v.State; seen[nest.Ranch]%20 == 0 {
					v.Second = survey.Flooded
				}
			}
		}
		return in
	}
	for _, tt := range []struct {
		n, twice       int
		looks, agree   string
		first, ranches string
	}{{12, 12, "0.5", "0.9", "1", "0.25"}, {12, 4, "0.15", "-", "1", "0.25"}, {9, 9, "-", "-", "-", "-"}} {
		in := season(tt.n, tt.twice)
		in.Open = map[string]bool{"ranch 00": true, "ranch 01": true, "ranch 02": true}
		b := compose(t, in)
		for measure, want := range map[string]string{bulletin.SecondLooks: tt.looks, bulletin.SecondAgree: tt.agree, bulletin.FirstOnDay: tt.first, bulletin.OpenQuestions: tt.ranches} {
			if c, _ := find(b, measure, "", "", ""); number(c.Estimate) != want {
				t.Errorf("%d landowners, %d with second looks, %s: got %s (%s), want %s", tt.n, tt.twice, measure, number(c.Estimate), c.HeldBecause, want)
			}
		}
	}
}

// TestCounts: numbers of nests, transects and belts are the rows' own to the nearest ten, of the whole cooperative and from ten landowners on.
func TestCounts(t *testing.T) {
	b := compose(t, input(2025, 5, grassAndPear, many("East", 21)...))
	for _, tt := range []struct {
		measure, substrate      string
		nests, transects, belts int // 20 nests on two transects in each of two substrates, and a belt, a ranch
	}{
		{bulletin.Survival28, "", 840, 40, 0}, {bulletin.Survival28, "bunchgrass", 420, 0, 0}, {bulletin.ClumpsPerAcre, "", 0, 0, 20},
	} {
		c, _ := find(b, tt.measure, "", tt.substrate, "")
		for i, got := range []*int{c.Nests, c.Transects, c.Belts} {
			want := []int{tt.nests, tt.transects, tt.belts}[i]
			if !c.Published || want == 0 && got != nil || want > 0 && (got == nil || *got != want) {
				t.Errorf("%s %q: %d of nests, transects, belts is %v, want %d", tt.measure, tt.substrate, i, got, want)
			}
		}
	}
	for _, c := range compose(t, input(2025, 5, grassAndPear, many("East", 9)...)).Cells {
		if c.Nests != nil || c.Transects != nil || c.Belts != nil {
			t.Errorf("%s of nine landowners has counts", c.Measure)
		}
	}
	// Where one landowner walks most transects there is no number of them.
	in := input(2025, 6, grassAndPear, many("East", 11)...)
	for i := range in.Data.Nests {
		if n := &in.Data.Nests[i]; n.Ranch == "ranch 00" {
			n.Transect = fmt.Sprint(i)
		}
	}
	if c, _ := find(compose(t, in), bulletin.Survival28, "", "", ""); c.Nests == nil || c.Transects != nil {
		t.Errorf("one walks most: nests %v, transects %v", c.Nests, c.Transects)
	}
}

func TestErrors(t *testing.T) {
	in := input(2025, 13, grassAndPear, owners("East", "ABCDE")...)
	twice := in
	twice.Roster = append(slices.Clone(in.Roster), in.Roster[0])
	if _, err := bulletin.Compose(twice); !errors.Is(err, errs.Invalid) {
		t.Errorf("a ranch twice: got %v", err)
	}
	b := compose(t, bulletin.Input{Season: 2025})
	if len(b.Cells) == 0 || b.Held() != len(b.Cells) {
		t.Error("without data every cell is listed as held")
	}
}

func TestFromSites(t *testing.T) {
	d := &survey.Data{
		Sites: []survey.Site{
			{Ranch: "One", Name: "a", Owner: "Ann", Region: "North  Breaks"}, {Ranch: "One", Name: "b", Region: "north breaks"}, {Ranch: "One", Name: "c", Region: "South"},
			{Ranch: "Two", Region: "South"},
		},
		Nests: []survey.Nest{{Ranch: "Three"}},
		Belts: []survey.Belt{{Ranch: "Four"}},
	}
	members, areas := bulletin.FromSites(d)
	want := []bulletin.Member{{Ranch: "Four", Entity: "Four", Consent: 1}, {Ranch: "One", Entity: "Ann", Area: "North Breaks", Consent: 1},
		{Ranch: "Three", Entity: "Three", Consent: 1}, {Ranch: "Two", Entity: "Two", Area: "South", Consent: 1}}
	if !slices.Equal(members, want) {
		t.Errorf("got %v, want %v", members, want)
	}
	if want := []bulletin.Area{{Name: "North Breaks"}, {Name: "South"}}; !slices.Equal(areas, want) {
		t.Errorf("got %v, want %v", areas, want)
	}
}

// A cell's spread gives back its range; a band, and what is withheld, tells nothing.
func TestSpread(t *testing.T) {
	x := func(v float64) *float64 { return &v }
	for _, tt := range []struct {
		cell      bulletin.Cell
		low, high float64
	}{
		{bulletin.Cell{Published: true, Measure: bulletin.Survival28, Estimate: x(0.5), Low: x(0.4), High: x(0.6)}, 0.4, 0.6},
		{bulletin.Cell{Published: true, Measure: bulletin.ClumpsPerAcre, Estimate: x(300), Low: x(200), High: x(450)}, 200, 450},
		{bulletin.Cell{Published: true, Measure: bulletin.Survival28, Low: x(0.3), High: x(0.7)}, 0.3, 0.7},
		{bulletin.Cell{Published: true, Measure: bulletin.Survival28, Low: x(0), High: x(0.4)}, 0, 0.4},
	} {
		low, high := tt.cell.Spread().Interval(0.95)
		if math.Abs(low-tt.low) > 1e-9 || high != tt.high && math.Abs(high-tt.high) > 1e-9 {
			t.Errorf("got %v to %v, want %v to %v", low, high, tt.low, tt.high)
		}
	}
	for _, c := range []bulletin.Cell{{Measure: bulletin.Survival28, Low: x(0.4), High: x(0.6)}, {Published: true, Measure: bulletin.ClumpsPerAcre, Low: x(150), High: x(300)}, {Published: true, Measure: bulletin.DesignEffect, Estimate: x(2)}} {
		if c.Spread().Known() {
			t.Errorf("%+v tells something", c)
		}
	}
}

func TestMix(t *testing.T) {
	b := compose(t, input(2025, 14, grassAndPear, owners("East", "ABCDE")...))
	mix := bulletin.Mix(b.Covers)
	if len(mix) != 2 || mix[survey.Bunchgrass] != 0.5 || mix[survey.PricklyPear] != 0.5 {
		t.Errorf("got %v, want halves", mix)
	}
	if mix := bulletin.Mix(nil); mix != nil {
		t.Errorf("no covers: got %v", mix)
	}
}

// TestHashConfirmsNoGuess: who holds every published cell, those hidden from them guessed right, cannot tell by the hash that
// the guess is right: it takes the secret that the press alone has.
func TestHashConfirmsNoGuess(t *testing.T) {
	in := input(2025, 7, grassAndPear, slices.Concat(owners("East", "ABCDEF"), owners("West", "GHIJKL"))...)
	in.Salt = "the cooperative's secret"
	b := compose(t, in)
	if b.Hash != compose(t, in).Hash {
		t.Error("the same press gives another hash")
	}
	for _, known := range []string{"", "another", b.Hash} {
		guess := in
		guess.Salt = known
		if compose(t, guess).Hash == b.Hash {
			t.Errorf("with %q for the secret, the right guess has the bulletin's hash", known)
		}
	}
}
