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

func compose(t *testing.T, in bulletin.Input) bulletin.Bulletin {
	t.Helper()
	b, err := bulletin.Compose(in)
	if err != nil {
		t.Fatal(err)
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
		{"six ranches, two of one owner", owners("North", "AABCDE"), bulletin.Survival28, ""},
		{"one of five is private", private(owners("North", "ABCDE")), bulletin.Survival28, disclosure.TooFew},
		{"one of six is private", private(owners("North", "ABCDEF")), bulletin.Survival28, ""},
		{"one of five shows the own figures by name", with(owners("North", "ABCDE"), func(h *holding) { h.consent = 3 }), bulletin.Survival28, disclosure.TooFew},
		{"one has most nests", with(owners("North", "ABCDE"), func(h *holding) { h.nests = 120 }), bulletin.Survival28, disclosure.Dominated},
		{"five owners", owners("North", "ABCDE"), bulletin.ClumpsPerAcre, ""},
		{"five with nests, four with belts", with(owners("North", "ABCDE"), func(h *holding) { h.clumps = -1 }), bulletin.ClumpsPerAcre, disclosure.TooFew},
		{"five with belts, four with clumps", with(owners("North", "ABCDE"), func(h *holding) { h.clumps = 0 }), bulletin.ClumpsPerAcre, disclosure.TooFew},
		{"one has most clumps", with(owners("North", "ABCDE"), func(h *holding) { h.clumps = 110 }), bulletin.ClumpsPerAcre, disclosure.Dominated},
	} {
		t.Run(tt.measure+" "+tt.name, func(t *testing.T) {
			// One substrate, so that "all substrates" is judged on the same amounts.
			b := compose(t, input(2025, 1, grassAndPear[:1], tt.holdings...))
			cell, ok := find(b, tt.measure, "", "", "")
			if !ok || cell.HeldBecause != string(tt.want) || cell.Published != (tt.want == "") {
				t.Errorf("got published %v, %q, want %q", cell.Published, cell.HeldBecause, tt.want)
			}
		})
	}
}

// TestAreaDominated: whoever walked most of the belts' area has most of a density, also where others found as many clumps.
func TestAreaDominated(t *testing.T) {
	in := input(2025, 1, grassAndPear[:1], owners("North", "ABCDE")...)
	in.Data.Belts[0].LengthFt *= 5
	b := compose(t, in)
	if c, _ := find(b, bulletin.ClumpsPerAcre, "", "", ""); c.HeldBecause != string(disclosure.Dominated) {
		t.Errorf("got published %v, %q", c.Published, c.HeldBecause)
	}
}

// with changes the first holding.
func with(hs []holding, change func(*holding)) []holding {
	change(&hs[0])
	return hs
}

// TestEachMeasureHasItsOwnN is case Q10: five entities with nests, three of them with remains.
func TestEachMeasureHasItsOwnN(t *testing.T) {
	in := input(2025, 1, grassAndPear, owners("North", "ABCDE")...)
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

// TestPlaces: an area stands by itself, with its group where it fails, or nowhere.
func TestPlaces(t *testing.T) {
	for _, tt := range []struct {
		name     string
		holdings []holding
		groups   map[string]string
		want     string // area=label, in order
	}{
		{"each by itself", slices.Concat(owners("East", "ABCDE"), owners("West", "FGHIJ")), nil, "East=East West=West"},
		{"one fails and has no neighbours", slices.Concat(owners("East", "ABCDE"), owners("West", "FGHI")), nil, "East= West="},
		{"neighbours join", slices.Concat(owners("East", "ABCDE"), owners("West", "FGH"), owners("Hills", "IJ")), map[string]string{"West": "w", "Hills": "w"},
			"East=East Hills=Hills + West West=Hills + West"},
		{"neighbours that pass stay apart", slices.Concat(owners("East", "ABCDE"), owners("West", "FGHIJ")), map[string]string{"West": "w", "East": "w"},
			"East=East West=West"},
		{"one area alone is the cooperative", owners("East", "ABCDE"), nil, "East="},
		{"two of one owner make four", slices.Concat(owners("East", "ABCDE"), owners("West", "FFGHI")), nil, "East= West="},
	} {
		t.Run(tt.name, func(t *testing.T) {
			in := input(2025, 3, grassAndPear, tt.holdings...)
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
		})
	}
}

// TestThinSubstrate: where one place fails in a substrate that the cooperative can show, that substrate is given for
// the whole only, and no place has a figure over all substrates, which would lead to it.
func TestThinSubstrate(t *testing.T) {
	in := input(2025, 4, grassAndPear, slices.Concat(owners("East", "ABCDE"), owners("West", "FGHIJ"))...)
	in.Data.Nests = slices.DeleteFunc(in.Data.Nests, func(n survey.Nest) bool {
		return n.Ranch >= "ranch 06" && n.Substrate == survey.PricklyPear // West: one owner's pears left
	})
	b := compose(t, in)
	for cell, want := range map[[2]string]bool{
		{"", ""}: true, {"", "bunchgrass"}: true, {"", "prickly pear"}: true,
		{"East", "bunchgrass"}: true, {"West", "bunchgrass"}: true,
		{"East", "prickly pear"}: false, {"West", "prickly pear"}: false, {"East", ""}: false, {"West", ""}: false,
	} {
		if got, ok := find(b, bulletin.Survival28, cell[0], cell[1], ""); !ok || got.Published != want {
			t.Errorf("%q: got published %v (%s), want %v", cell, got.Published, got.HeldBecause, want)
		}
	}
}

// TestRareSubstrate: nests in a plant that too few have are in no figure, so that no total minus the rest is theirs.
func TestRareSubstrate(t *testing.T) {
	in := input(2025, 5, grassAndPear, owners("East", "ABCDEF")...)
	before := compose(t, in)
	r := rand.New(rand.NewPCG(9, 9))
	for i := range 15 {
		in.Data.Nests = append(in.Data.Nests, nest(r, "ranch 00", 2025, i, survey.Yucca, 1), nest(r, "ranch 01", 2025, i, "tasajillo", 1))
	}
	after := compose(t, in)
	// The mix counts what took nests in any plant; none was taken here.
	if got, want := shown(t, after), shown(t, before); got != want || before.Hash != after.Hash {
		t.Errorf("published cells changed:\n%s\n%s", want, got)
	}
	if _, listed := find(after, bulletin.Survival28, "", "tasajillo", ""); listed {
		t.Error("a rare plant's own word is listed")
	}
}

// shown returns the published survival cells as JSON.
func shown(t *testing.T, b bulletin.Bulletin) string {
	t.Helper()
	var cells []bulletin.Cell
	for _, c := range b.Cells {
		if c.Published && c.Measure == bulletin.Survival28 {
			cells = append(cells, c)
		}
	}
	out, err := json.Marshal(cells)
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// TestStandards: a substrate is a standard one where it passes the rules and is common, last season and this. One that is not is
// in no figure over all substrates, and that figure is given all the same.
func TestStandards(t *testing.T) {
	season := func(year, owners, nests, grass int) *survey.Data {
		hs := ownersOf(8)
		for i := range hs {
			hs[i].nests = grass
		}
		in := input(year, 17, grassAndPear[:1], hs...)
		r := rand.New(rand.NewPCG(17, uint64(year)))
		for i := range owners {
			for n := range nests {
				in.Data.Nests = append(in.Data.Nests, nest(r, fmt.Sprintf("ranch %02d", i), year, n, survey.Yucca, 0.5))
			}
		}
		return in.Data
	}
	for _, tt := range []struct {
		name                string
		before, beforeNests int // owners with yucca, and their nests; nobody: there was no bulletin
		now, nowNests       int
		grass               int // nests of each of the eight
		standard            bool
	}{
		{"five", 0, 0, 5, 10, 20, true},
		{"four", 0, 0, 4, 10, 20, false},
		{"five and then four", 5, 10, 4, 10, 20, false},
		{"four and then five", 4, 10, 5, 10, 20, false},
		{"five and then five", 5, 10, 5, 10, 20, true},
		{"too few nests", 0, 0, 5, 5, 20, false},
		{"less than a tenth", 0, 0, 5, 7, 50, false},
		{"less than a tenth, and then more", 5, 7, 5, 20, 50, false},
		{"more than a tenth, and then less", 5, 20, 5, 7, 50, true},
	} {
		in := input(2025, 17, grassAndPear[:1], ownersOf(8)...)
		in.Data = season(2025, tt.now, tt.nowNests, tt.grass)
		if tt.before > 0 {
			last := in
			last.Season, last.Data = 2024, season(2024, tt.before, tt.beforeNests, tt.grass)
			in.Earlier = []bulletin.Bulletin{compose(t, last)}
			in.Data.Nests = append(in.Data.Nests, last.Data.Nests...)
		}
		b := compose(t, in)
		if got := slices.Contains(b.Log.Standards, "yucca"); got != tt.standard {
			t.Errorf("%s: yucca is a standard substrate: %v, want %v", tt.name, got, tt.standard)
		}
		if all, _ := find(b, bulletin.Survival28, "", "", ""); !all.Published {
			t.Errorf("%s: the figure over all substrates is held: %s", tt.name, all.HeldBecause)
		}
	}
}

// ownersOf makes that many holdings alike.
func ownersOf(n int) []holding { return owners("East", "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[:n]) }

// TestUnreliable: a rate of too few nests or losses is not given, and one that its interval leaves wide open is not either; near
// an end of the scale a band is, of thirty nests.
func TestUnreliable(t *testing.T) {
	for _, tt := range []struct {
		name             string
		owners, kept, of int // of each in the east
		want             string
	}{
		{"24 nests", 8, 2, 3, string(disclosure.TooSmall)},
		{"24 nests that lasted", 8, 3, 3, string(disclosure.TooSmall)},
		{"32 nests that lasted", 8, 4, 4, ""},
		{"40 nests and few lasted", 5, 2, 8, string(disclosure.TooVague)},
		{"100 nests, of which half lasted", 5, 10, 20, ""},
	} {
		rs := recordsOf("West", [2]int{4, 20}, [2]int{16, 20}, [2]int{8, 20}, [2]int{12, 20}, [2]int{10, 20})
		for range tt.owners {
			rs = append(rs, record{"East", tt.kept, tt.of})
		}
		c, _ := find(compose(t, keepingIn(rs)), bulletin.Survival28, "East", "bunchgrass", "")
		if c.Published != (tt.want == "") || c.HeldBecause != tt.want {
			t.Errorf("%s: published %v, %q", tt.name, c.Published, c.HeldBecause)
		}
	}
}

// TestAmountsOfSurvival: nests and days are amounts of their own. Whoever has most nests, all lost at once, has few days.
func TestAmountsOfSurvival(t *testing.T) {
	for name, tt := range map[string]struct {
		nests  int
		on     survey.Date // of the only look at each nest of the first owner
		intact bool
		want   disclosure.Reason
	}{
		"as the others": {20, 14, false, ""}, "most nests, few days": {120, 1, false, disclosure.Dominated}, "most days, few nests": {20, 300, true, disclosure.Dominated},
	} {
		in := keeping(20, 0, 10, 10, 10, 10)
		in.Data.Nests = in.Data.Nests[20:]
		for i := range tt.nests {
			x := in.Data.Nests[0]
			x.Ranch, x.Number = "ranch 0", fmt.Sprint("more ", i)
			x.Visits = []survey.Visit{{On: x.SetOn + tt.on, State: survey.Taken}}
			if tt.intact {
				x.Visits[0].State = survey.Intact
			}
			in.Data.Nests = append(in.Data.Nests, x)
		}
		b := compose(t, in)
		for _, substrate := range []string{"", "bunchgrass"} {
			c, _ := find(b, bulletin.Survival28, "", substrate, "")
			if c.Published != (tt.want == "") || substrate == "" && c.HeldBecause != string(tt.want) {
				t.Errorf("%s: %q published %v (%s), want %q", name, substrate, c.Published, c.HeldBecause, tt.want)
			}
		}
	}
}

// TestSameResultsAreNotTheSameSecret: that an owner has the same results in another season, substrate or place does not make them
// one secret to the span audit, which would then see newcomers in the difference.
func TestSameResultsAreNotTheSameSecret(t *testing.T) {
	first := keepingIn(recordsOf("East", [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}))
	first.Season = 2024
	for i := range first.Data.Nests {
		n := &first.Data.Nests[i]
		n.Season = 2024
		for j := range n.Visits {
			n.Visits[j].On += survey.DateOf(2024, 5, 1) - n.SetOn
		}
		n.SetOn = survey.DateOf(2024, 5, 1)
	}
	second := keepingIn(slices.Concat(recordsOf("East", [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20})))
	for _, n := range slices.Clone(second.Data.Nests) {
		if n.Substrate = survey.Yucca; n.Ranch != "ranch 6" {
			second.Data.Nests = append(second.Data.Nests, n)
		}
	}
	two := keepingIn(slices.Concat(recordsOf("East", [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}),
		recordsOf("West", [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20}, [2]int{10, 20})))
	two.Roster[9].Entity = "ranch 0"
	two.Roster = append(two.Roster, bulletin.Member{Ranch: "ranch 10", Entity: "ranch 10", Area: "West", Consent: 1})
	for i := range 20 {
		n := two.Data.Nests[i]
		n.Ranch = "ranch 10"
		two.Data.Nests = append(two.Data.Nests, n)
	}
	later := second
	later.Earlier = []bulletin.Bulletin{compose(t, first)}
	later.Data = &survey.Data{Nests: slices.Concat(second.Data.Nests, first.Data.Nests)}
	for name, in := range map[string]bulletin.Input{"another substrate": second, "another season": later, "another place": two} {
		if c, _ := find(compose(t, in), bulletin.Survival28, "", "bunchgrass", ""); !c.Published {
			t.Errorf("%s: held, %s", name, c.HeldBecause)
		}
	}
}

// TestAsOneRanch: before rounding, the whole cooperative's figure is the one that package findings gives to a single
// ranch with all the nests.
func TestAsOneRanch(t *testing.T) {
	in := input(2025, 6, grassAndPear, owners("East", "ABCDEFGHIJKL")...)
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
		n.Transect, n.Ranch = n.Ranch, "all" // an owner's nests are one cluster
		one.Nests = append(one.Nests, n)
	}
	for _, b := range in.Data.Belts {
		b.Transect, b.Ranch = b.Ranch, "all"
		one.Belts = append(one.Belts, b)
	}
	res := findings.Compute(one, findings.Options{Replicates: 10})
	p := disclosure.Default()
	for _, h := range []survey.Substrate{"", survey.Bunchgrass, survey.PricklyPear} {
		row, ok := res.Find("all", "", 2025, h)
		if !ok {
			t.Fatal("no such row")
		}
		want := p.Rate(12, *row.Day28.Estimate, *row.Day28.Low, *row.Day28.High)
		got, _ := find(b, bulletin.Survival28, "", string(h), "")
		if number(got.Estimate) != number(want.Estimate) {
			t.Errorf("%q: got %s, want %s", h, number(got.Estimate), number(want.Estimate))
		}
		if *got.Low >= *got.Estimate || *got.High <= *got.Estimate {
			t.Errorf("%q: %s does not lie within %s to %s", h, number(got.Estimate), number(got.Low), number(got.High))
		}
	}
	row, _ := res.DensityOf("all", 2025)
	want := p.Density(12, *row.PerAcre.Estimate, *row.PerAcre.Low, *row.PerAcre.High)
	if got, _ := find(b, bulletin.ClumpsPerAcre, "", "", ""); number(got.Estimate) != number(want.Estimate) {
		t.Errorf("density: got %s, want %s", number(got.Estimate), number(want.Estimate))
	}
}

// TestT38SameBytes: whatever the order of rows, members and areas, and however often composed, a bulletin is the same to
// the byte. Another fate of one nest is another bulletin, which is why a season is composed once.
func TestT38SameBytes(t *testing.T) {
	in := input(2025, 7, grassAndPear, slices.Concat(owners("East", "ABCDEF"), owners("West", "GHIJKL"))...)
	for i := range in.Data.Belts { // acres that do not add up exactly
		in.Data.Belts[i].LengthFt += float64(i) / 3
	}
	first := compose(t, in)
	r := rand.New(rand.NewPCG(1, 1))
	for range 20 {
		d := in.Data
		r.Shuffle(len(d.Nests), func(i, j int) { d.Nests[i], d.Nests[j] = d.Nests[j], d.Nests[i] })
		r.Shuffle(len(d.Belts), func(i, j int) { d.Belts[i], d.Belts[j] = d.Belts[j], d.Belts[i] })
		r.Shuffle(len(in.Roster), func(i, j int) { in.Roster[i], in.Roster[j] = in.Roster[j], in.Roster[i] })
		again := compose(t, in)
		if !bytes.Equal(jsonOf(t, first), jsonOf(t, again)) || again.Hash != first.Hash || len(first.Hash) != 64 {
			t.Fatal("the order of the input changed the bulletin")
		}
	}
}

func jsonOf(t *testing.T, v any) []byte {
	t.Helper()
	out, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestT15NothingElseInTheJSON holds the JSON of cells to the contract: these names and no other, rates and densities on
// their grids, entities as bands, counts in tens and none for few.
func TestT15NothingElseInTheJSON(t *testing.T) {
	var cells []map[string]any
	for seed := range uint64(8) {
		b := compose(t, input(2025, seed, grassAndPear, slices.Concat(owners("East", "ABCDEF"), owners("West", "GHIJKLMNOP"))...))
		var some []map[string]any
		if err := json.Unmarshal(jsonOf(t, b.Cells), &some); err != nil {
			t.Fatal(err)
		}
		cells = append(cells, some...)
	}
	allowed := []string{"season", "area", "substrate", "measure", "predator", "published", "estimate", "low", "high", "entities", "held_because", "nests", "transects", "belts"}
	bands := []any{"5-9", "10-19", "20-49", "50+"}
	published := 0
	for _, c := range cells {
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
			if x, ok := c[name].(float64); ok && !onGrid(c["measure"].(string), c["entities"] == "5-9", x) {
				t.Errorf("%s of %v is off the grid", name, c)
			}
		}
	}
	if published == 0 {
		t.Error("nothing was published: nothing was tested")
	}
}

func onGrid(measure string, few bool, x float64) bool {
	step := 2.0
	switch {
	case measure == bulletin.ClumpsPerAcre:
		return len(strings.Trim(strings.ReplaceAll(fmt.Sprint(x), ".", ""), "0")) <= 2
	case measure == bulletin.PredatorShare && few:
		step = 10
	case measure == bulletin.PredatorShare || few:
		step = 5
	}
	return math.Abs(math.Mod(100*x+1e-9, step)) < 1e-6
}

// TestMixByCameras: where cameras settled every loss, the shares are the plain ones, by counting (few entities) and by
// the model (many), and they are given for the whole cooperative only.
func TestMixByCameras(t *testing.T) {
	for _, hs := range [][]holding{owners("East", "ABCDEF"), slices.Concat(owners("East", "ABCDEF"), owners("West", "GHIJKL"))} {
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
			if *cell.Low > share || *cell.High < share {
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
	in := input(2025, 9, grassAndPear, owners("East", "ABCDEF")...)
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

// TestT19AllAlike: where all do well, a figure would say so of each; the band says less. Of five it says too much still: who
// knows the rules of the release reckons back from its being given.
func TestT19AllAlike(t *testing.T) {
	for names, want := range map[string]string{"ABCDE": "- - -", "ABCDEF": "- 0.85 1"} {
		in := input(2025, 10, grassAndPear[:1], owners("East", names)...)
		in.Data.Nests = nil
		for _, m := range in.Roster {
			for i := range 40 {
				n := nest(rand.New(rand.NewPCG(1, 1)), m.Ranch, 2025, i, survey.Bunchgrass, 1)
				if i < 2 {
					n.Visits = []survey.Visit{{On: n.SetOn + 14, State: survey.Taken}}
				}
				in.Data.Nests = append(in.Data.Nests, n)
			}
		}
		for _, substrate := range []string{"", "bunchgrass"} {
			cell, _ := find(compose(t, in), bulletin.Survival28, "", substrate, "")
			if got := fmt.Sprint(number(cell.Estimate), " ", number(cell.Low), " ", number(cell.High)); got != want {
				t.Errorf("%d owners, %q: got %s (%s), want %s", len(names), substrate, got, cell.HeldBecause, want)
			}
		}
	}
}

// TestT13Newcomer is the attack on what changes slowly: 62 clumps an acre over ten, next season 70 over eleven, so that
// the newcomer has 70·11 − 62·10. The figure stays with the ten of the roster, so there is nothing to subtract; where one
// of them is gone it is a band.
func TestT13Newcomer(t *testing.T) {
	ten, eleven := owners("East", "ABCDEFGHIJ"), owners("East", "ABCDEFGHIJK")
	first := input(2024, 11, grassAndPear, ten...)
	b2024 := compose(t, first)
	if cell, _ := find(b2024, bulletin.ClumpsPerAcre, "", "", ""); cell.Estimate == nil {
		t.Fatalf("2024: got no estimate (%s)", cell.HeldBecause)
	}
	second := func(hs []holding) bulletin.Cell {
		in := input(2025, 11, grassAndPear, hs...)
		in.Data.Nests = append(in.Data.Nests, first.Data.Nests...)
		in.Data.Belts = append(in.Data.Belts, first.Data.Belts...)
		for i := range in.Data.Belts {
			if b := &in.Data.Belts[i]; b.Season == 2025 && b.Ranch >= "ranch 10" {
				b.Counts = map[survey.Substrate]int{survey.Bunchgrass: 500} // a newcomer unlike the ten
			}
		}
		in.Earlier = []bulletin.Bulletin{b2024}
		cell, _ := find(compose(t, in), bulletin.ClumpsPerAcre, "", "", "")
		return cell
	}
	same := second(ten)
	if !same.Published || same.Estimate == nil {
		t.Fatalf("the same ten: got published %v, no estimate (%s)", same.Published, same.HeldBecause)
	}
	for name, hs := range map[string][]holding{
		"one newcomer": eleven, "four newcomers": owners("East", "ABCDEFGHIJKLMN"), "five newcomers": owners("East", "ABCDEFGHIJKLMNO"),
	} {
		if cell := second(hs); !cell.Published || number(cell.Estimate) != number(same.Estimate) || number(cell.High) != number(same.High) {
			t.Errorf("%s: got %s to %s, want the figure of the ten, %s to %s", name, number(cell.Estimate), number(cell.High), number(same.Estimate), number(same.High))
		}
	}
	if cell := second(ten[:9]); !cell.Published || cell.Estimate != nil {
		t.Errorf("one has left: got published %v, estimate %s, want a band", cell.Published, number(cell.Estimate))
	}
}

// TestPlannedFromLastSeason: places are those that passed last season; an area that has grown waits a season.
func TestPlannedFromLastSeason(t *testing.T) {
	grown := slices.Concat(owners("East", "ABCDE"), owners("West", "FGHIJ"))
	in := input(2025, 12, grassAndPear, grown...)
	before := input(2024, 12, grassAndPear, grown[:9]...)
	in.Data.Nests = append(in.Data.Nests, before.Data.Nests...)
	if cell, _ := find(compose(t, in), bulletin.Survival28, "West", "", ""); !cell.Published {
		t.Fatalf("a first season: held, %s", cell.HeldBecause)
	}
	in.Earlier = []bulletin.Bulletin{compose(t, before)}
	b := compose(t, in)
	if cell, _ := find(b, bulletin.Survival28, "West", "", ""); cell.Published {
		t.Error("West is published although it had four owners last season")
	}
	if cell, _ := find(b, bulletin.Survival28, "", "", ""); !cell.Published {
		t.Errorf("the whole is held: %s", cell.HeldBecause)
	}
}

// TestCoverPlannedFromLastSeason: so are places for cover; where one had too few belts last season, it waits.
func TestCoverPlannedFromLastSeason(t *testing.T) {
	hs := slices.Concat(owners("East", "ABCDE"), owners("West", "FGHIJ"))
	in := input(2025, 15, grassAndPear[:1], hs...)
	before := input(2024, 15, grassAndPear[:1], hs...)
	before.Data.Belts = before.Data.Belts[:9]
	in.Data.Nests, in.Data.Belts = append(in.Data.Nests, before.Data.Nests...), append(in.Data.Belts, before.Data.Belts...)
	if c, _ := find(compose(t, in), bulletin.ClumpsPerAcre, "West", "", ""); !c.Published {
		t.Fatalf("a first season: held, %s", c.HeldBecause)
	}
	in.Earlier = []bulletin.Bulletin{compose(t, before)}
	if c, _ := find(compose(t, in), bulletin.ClumpsPerAcre, "West", "", ""); c.Published {
		t.Error("the west's cover is given although it had belts of four last season")
	}
}

func TestErrors(t *testing.T) {
	in := input(2025, 13, grassAndPear, owners("East", "ABCDE")...)
	twice := in
	twice.Roster = append(slices.Clone(in.Roster), in.Roster[0])
	if _, err := bulletin.Compose(twice); !errors.Is(err, errs.Invalid) {
		t.Errorf("a ranch twice: got %v", err)
	}
	again := in
	again.Earlier = []bulletin.Bulletin{compose(t, in)}
	if _, err := bulletin.Compose(again); !errors.Is(err, errs.Conflict) {
		t.Errorf("a season that has its bulletin: got %v", err)
	}
	b := compose(t, bulletin.Input{Season: 2025})
	if len(b.Cells) == 0 || slices.ContainsFunc(b.Cells, func(c bulletin.Cell) bool { return c.Published }) {
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

func TestBeside(t *testing.T) {
	x := func(v float64) *float64 { return &v }
	for _, tt := range []struct {
		own            float64
		est, low, high *float64
		want           string
	}{
		{0.39, x(0.5), x(0.4), x(0.6), "lower"},
		{0.40, x(0.5), x(0.4), x(0.6), "similar"},
		{0.60, x(0.5), x(0.4), x(0.6), "similar"},
		{0.61, x(0.5), x(0.4), x(0.6), "higher"},
		{900, nil, x(600), nil, "similar"},
		{500, nil, x(600), nil, "lower"},
		{0.5, nil, nil, nil, ""},
	} {
		if got := bulletin.Beside(tt.own, tt.est, tt.low, tt.high); got != tt.want {
			t.Errorf("%v beside %s %s: got %q, want %q", tt.own, number(tt.low), number(tt.high), got, tt.want)
		}
	}
}

func TestMix(t *testing.T) {
	b := compose(t, input(2025, 14, grassAndPear, owners("East", "ABCDE")...))
	mix := bulletin.Mix(b.Cells, 2025)
	if len(mix) != 2 || mix[survey.Bunchgrass] != 0.5 || mix[survey.PricklyPear] != 0.5 {
		t.Errorf("got %v, want halves", mix)
	}
	if mix := bulletin.Mix(b.Cells, 2024); mix != nil {
		t.Errorf("a season without a bulletin: got %v", mix)
	}
}

func ExampleBeside() {
	own, low, high := 0.62, 0.45, 0.60
	fmt.Println(bulletin.Beside(own, nil, &low, &high))
	// Output: higher
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
	for _, known := range []string{"", "another", b.Hash, b.Log.Hash} {
		guess := in
		guess.Salt = known
		if compose(t, guess).Hash == b.Hash {
			t.Errorf("with %q for the secret, the right guess has the bulletin's hash", known)
		}
	}
}
