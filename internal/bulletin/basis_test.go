package bulletin_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// TestCounts: numbers of nests, transects and belts are the rows' own to the nearest ten, from ten landowners on, and a
// figure from models says what the cells beside it say. A place of nine has none.
func TestCounts(t *testing.T) {
	if found := attackRowCounts(disclosure.Default()); found != "" {
		t.Error(found)
	}
	in := input(2025, 5, grassAndPear, slices.Concat(owners("East", "ABCDEFGHIJKL"), owners("West", "MNOPQRSTU"))...)
	in.WithFigures = true
	b := compose(t, in)
	for _, tt := range []struct {
		measure, place, substrate string
		nests, transects, belts   int // 20 nests on two transects in each of two substrates, and a belt, a ranch
	}{
		{bulletin.Survival28, "", "", 840, 40, 0},
		{bulletin.Survival28, "", "bunchgrass", 420, 0, 0},
		{bulletin.Survival28, "East", "", 0, 0, 0}, // with the whole it would tell that of nine
		{bulletin.Survival28, "East", "bunchgrass", 0, 0, 0},
		{bulletin.Survival28, "West", "", 0, 0, 0},
		{bulletin.ClumpsPerAcre, "", "", 0, 0, 20},
		{bulletin.ClumpsPerAcre, "East", "", 0, 0, 0},
		{bulletin.ClumpsPerAcre, "West", "", 0, 0, 0},
	} {
		c, _ := find(b, tt.measure, tt.place, tt.substrate, "")
		for i, got := range []*int{c.Nests, c.Transects, c.Belts} {
			want := []int{tt.nests, tt.transects, tt.belts}[i]
			if !c.Published || want == 0 && got != nil || want > 0 && (got == nil || *got != want) {
				t.Errorf("%s %q %q: %d of nests, transects, belts is %v, want %d", tt.measure, tt.place, tt.substrate, i, number(toFloat(got)), want)
			}
		}
	}
	s, ok := body[bulletin.Standardised](t, b, bulletin.StandardisedKind)
	if !ok || s.Nests == nil || *s.Nests != 840 || *s.Transects != 40 || *s.Belts != 20 {
		t.Errorf("the model's figure rests on %+v", s.Basis)
	}
}

// TestFewestOfSubstrates: a figure over all substrates rests on as many landowners as the one with the fewest, and has no counts
// where those are less than ten; a figure from models asks no less of its readers' gate.
func TestFewestOfSubstrates(t *testing.T) {
	for _, order := range [][]survey.Substrate{{survey.Bunchgrass, survey.Yucca}, {survey.Yucca, survey.Bunchgrass}} {
		in := input(2025, 18, order, owners("East", "ABCDEFGHIJKL")...)
		in.Data.Nests = slices.DeleteFunc(in.Data.Nests, func(n survey.Nest) bool { return n.Substrate == order[1] && n.Ranch >= "ranch 07" })
		b := compose(t, in)
		for _, measure := range []string{bulletin.Survival28, bulletin.SurvivalCrude} {
			c, _ := find(b, measure, "", "", "")
			if !c.Published || c.N != 7 || c.Entities != "5-9" || c.Nests != nil || c.Transects != nil {
				t.Errorf("%v: %s of %d landowners, %q, with %v nests on %v transects", order, measure, c.N, c.Entities, number(toFloat(c.Nests)), number(toFloat(c.Transects)))
			}
		}
	}
}

// TestTransectsThatCount: the number of transects is that of the season's with nests in standard substrates, of landowners whose
// results are secret or not; where too few of them are secret there is none.
func TestTransectsThatCount(t *testing.T) {
	in := input(2025, 19, grassAndPear[:1], owners("East", "ABCDEFGHIJKL")...)
	r := rand.New(rand.NewPCG(19, 19))
	for i := range 15 {
		old, rare := nest(r, "ranch 00", 2024, i, survey.Bunchgrass, 0.5), nest(r, "ranch 01", 2025, i, survey.Shrub, 0.5)
		old.Transect, rare.Transect = fmt.Sprint("old ", i), fmt.Sprint("rare ", i)
		in.Data.Nests = append(in.Data.Nests, old, rare)
	}
	b := compose(t, in)
	if c, _ := find(b, bulletin.Survival28, "", "", ""); c.Transects == nil || *c.Transects != 20 { // 24, two each
		t.Errorf("%s transects, want 20", number(toFloat(c.Transects)))
	}
	for i := range 3 {
		in.Roster[i].Consent = 3
	}
	b = compose(t, in)
	for _, measure := range []string{bulletin.Survival28, bulletin.ClumpsPerAcre} {
		if c, _ := find(b, measure, "", "", ""); !c.Published || c.N != 9 || c.Transects != nil || c.Belts != nil {
			t.Errorf("%s of nine and three known: published %v of %d, %s transects, %s belts", measure, c.Published, c.N, number(toFloat(c.Transects)), number(toFloat(c.Belts)))
		}
	}
}

// TestKnownRowsHideNobody: one of ten walks most transects and belts. Those of owners whose results are known hide it from
// nobody: there is no number of either.
func TestKnownRowsHideNobody(t *testing.T) {
	in := input(2025, 20, grassAndPear[:1], owners("East", "ABCDEFGHIJKLM")...)
	for i := range in.Data.Nests {
		if n := &in.Data.Nests[i]; n.Ranch == "ranch 00" || n.Ranch > "ranch 09" {
			n.Transect = n.Number
		}
	}
	for i := range 13 {
		if i == 0 || i > 9 {
			for j := range 19 {
				b := in.Data.Belts[i]
				b.Transect, b.LengthFt, b.Counts = fmt.Sprint(j), b.LengthFt/1000, map[survey.Substrate]int{survey.Bunchgrass: 0}
				in.Data.Belts = append(in.Data.Belts, b)
			}
		}
		if i > 9 {
			in.Roster[i].Consent = 3
		}
	}
	b := compose(t, in)
	if c, _ := find(b, bulletin.Survival28, "", "", ""); !c.Published || c.Nests == nil || c.Transects != nil {
		t.Errorf("survival: published %v, %s nests on %s transects", c.Published, number(toFloat(c.Nests)), number(toFloat(c.Transects)))
	}
	if c, _ := find(b, bulletin.ClumpsPerAcre, "", "", ""); !c.Published || c.Belts != nil {
		t.Errorf("cover: published %v (%s), %s belts", c.Published, c.HeldBecause, number(toFloat(c.Belts)))
	}
}

func toFloat(n *int) *float64 {
	if n == nil {
		return nil
	}
	return new(float64(*n))
}

// TestCountsOfOneOwnersTransects: where one landowner walks most transects of a place, places have no number of transects:
// the whole less the others would be that one's. The whole has one still.
func TestCountsOfOneOwnersTransects(t *testing.T) {
	in := input(2025, 6, grassAndPear, slices.Concat(owners("East", "ABCDEFGHIJ"), owners("West", "KLMNOPQRSTU"))...)
	for i := range in.Data.Nests {
		if n := &in.Data.Nests[i]; n.Ranch == "ranch 00" {
			n.Transect = fmt.Sprint(i) // forty of its own, where the nine others have two each
		}
	}
	b := compose(t, in)
	for place, want := range map[string]bool{"": true, "East": false, "West": false} {
		if c, _ := find(b, bulletin.Survival28, place, "", ""); !c.Published || c.Nests == nil || (c.Transects != nil) != want {
			t.Errorf("%q: nests %v, transects %v, want them: %v", place, c.Nests, c.Transects, want)
		}
	}
}

// attackRowCounts reads numbers of rows: below ten landowners there is none, also none by subtraction, and the nearest ten
// leaves nine nests open.
func attackRowCounts(p disclosure.Policy) string {
	for west := 5; west <= 12; west++ {
		hs := slices.Concat(owners("East", "ABCDEFGHIJKL"), owners("West", "MNOPQRSTUVWX"[:west]))
		b := composeWith(p, input(2025, 9, grassAndPear, hs...))
		if found := countBySubtraction(b); found != "" {
			return fmt.Sprintf("%d landowners in the west: %s", west, found)
		}
	}
	for n := 5; n <= 12; n++ {
		hs := owners("East", "ABCDEFGHIJKL"[:n])
		hs[0].nests = 23
		b := composeWith(p, input(2025, 7, []survey.Substrate{survey.Bunchgrass}, hs...))
		for _, c := range b.Cells {
			for _, count := range []*int{c.Nests, c.Transects, c.Belts} {
				if count != nil && (c.N < 10 || math.Mod(float64(*count), 10) != 0) {
					return fmt.Sprintf("%d landowners: %s says %d", n, c.Measure, *count)
				}
			}
		}
	}
	return ""
}

// countBySubtraction takes the counts of all places but one from that of the whole.
func countBySubtraction(b bulletin.Bulletin) string {
	for _, whole := range b.Cells {
		if whole.Area != nil {
			continue
		}
		for i, total := range []*int{whole.Nests, whole.Transects, whole.Belts} {
			left, open, without := 0, bulletin.Cell{}, 0
			if total != nil {
				left = *total
			}
			for _, c := range b.Cells {
				if c.Area == nil || c.Measure != whole.Measure || text(c.Substrate) != text(whole.Substrate) {
					continue
				}
				if n := []*int{c.Nests, c.Transects, c.Belts}[i]; n != nil {
					left -= *n
				} else {
					open, without = c, without+1
				}
			}
			if total != nil && without == 1 && open.N < 10 {
				return fmt.Sprintf("%s %s of %s, %d landowners: %d", whole.Measure, text(whole.Substrate), *open.Area, open.N, left)
			}
		}
	}
	return ""
}

// TestProvenance: a bulletin says which program made it and from which seed, and its hash holds that.
func TestProvenance(t *testing.T) {
	in := input(2025, 8, grassAndPear, owners("East", "ABCDEFGHIJKL")...)
	plain := compose(t, in)
	in.Version = "1.2.3"
	versioned := compose(t, in)
	in.Seed = 7
	seeded := compose(t, in)
	if versioned.Version != "1.2.3" || seeded.Seed != 7 || plain.Hash == versioned.Hash || versioned.Hash == seeded.Hash {
		t.Errorf("version %q, seed %d; hashes %s, %s, %s", versioned.Version, seeded.Seed, plain.Hash, versioned.Hash, seeded.Hash)
	}
	if !slices.EqualFunc(plain.Cells, seeded.Cells, func(a, b bulletin.Cell) bool { return number(a.Estimate) == number(b.Estimate) }) {
		t.Error("a figure depends on the seed: no random numbers are to be used")
	}
}
