package bulletin_test

import (
	"fmt"
	"slices"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// TestGateBySubtraction: whom their own gate keeps from a place does not get it as the whole less the other places. The
// attacker reads all that a gate of so many landowners leaves, and knows which are missing.
func TestGateBySubtraction(t *testing.T) {
	for _, sizes := range [][]int{{5, 12}, {9, 11, 12}, {5, 6, 12, 13}, {6, 6, 6}, {10, 11, 12}} {
		var hs []holding
		names := "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
		for i, n := range sizes {
			hs = append(hs, owners(fmt.Sprint("area ", i), names[:n])...)
			names = names[n:]
		}
		b := composeWith(disclosure.Default(), input(2025, 12, grassAndPear, hs...))
		for least := 5; least <= 14; least++ {
			if found := gateBySubtraction(b, least, func(c bulletin.Cell) int { return c.Gate }); found != "" {
				t.Errorf("%v, a gate of %d: %s", sizes, least, found)
			}
		}
		for _, c := range b.Cells {
			if c.Gate > c.N || c.Area == nil && c.Gate != c.N {
				t.Errorf("%v: %s of %s has %d landowners and a gate of %d", sizes, c.Measure, text(c.Area), c.N, c.Gate)
			}
		}
	}
	// A place whose figure is only too vague to be given is left over all the same.
	vague := recordsOf("West", [2]int{2, 8}, [2]int{2, 8}, [2]int{2, 8}, [2]int{2, 8}, [2]int{2, 8})
	for i := range 12 {
		vague = append(vague, record{"East", 8 + i%5, 20})
	}
	b := composeWith(disclosure.Default(), keepingIn(vague))
	if east, _ := find(b, bulletin.Survival28, "East", "bunchgrass", ""); !east.Published || east.Gate != 5 {
		t.Errorf("the east (published: %v) has a gate of %d; with the whole it tells the five of the west", east.Published, east.Gate)
	}
	b = composeWith(disclosure.Default(), input(2025, 12, grassAndPear, slices.Concat(owners("East", "ABCDE"), owners("West", "FGHIJKLMNOPQ"))...))
	if gateBySubtraction(b, 10, func(c bulletin.Cell) int { return c.N }) == "" {
		t.Error("each cell by its own number: nothing found, the attacker is too weak")
	}
}

// gateBySubtraction looks for a measure of which the whole is read and all places but some, and those of fewer landowners
// together than the gate asks.
func gateBySubtraction(b bulletin.Bulletin, least int, gate func(bulletin.Cell) int) string {
	for _, whole := range b.Cells {
		if whole.Area != nil || !whole.Published || gate(whole) < least {
			continue
		}
		missing, read := 0, 0
		for _, c := range b.Cells {
			if c.Area == nil || c.Measure != whole.Measure || text(c.Substrate) != text(whole.Substrate) {
				continue
			}
			if c.Published && gate(c) >= least {
				read++
			} else {
				missing += c.N
			}
		}
		if read > 0 && missing > 0 && missing < least {
			return fmt.Sprintf("%s %s: what is left is %d landowners'", whole.Measure, text(whole.Substrate), missing)
		}
	}
	return ""
}

// TestGateOverSubstrates: whom their own gate keeps from a place in one substrate does not get it as the place's figure over
// all substrates less the others, neither where that figure by itself is of enough landowners.
func TestGateOverSubstrates(t *testing.T) {
	var hs []holding
	has := map[string]bool{}
	for _, n := range []struct {
		area        string
		grass, pear int
	}{{"East", 10, 20}, {"West", 20, 9}, {"South", 5, 30}} {
		for i := range max(n.grass, n.pear) {
			owner := fmt.Sprint(n.area, " ", i)
			has[owner+" bunchgrass"], has[owner+" prickly pear"] = i < n.grass, i < n.pear
			hs = append(hs, holding{owner: owner, area: n.area, consent: 1, nests: 20, kept: 0.5, clumps: -1})
		}
	}
	in := withoutRemains(input(2025, 14, grassAndPear, hs...))
	owner := map[string]string{}
	for _, m := range in.Roster {
		owner[m.Ranch] = m.Entity
	}
	in.Data.Nests = slices.DeleteFunc(in.Data.Nests, func(n survey.Nest) bool { return !has[owner[n.Ranch]+" "+string(n.Substrate)] })
	b := composeWith(disclosure.Default(), in)
	for _, area := range []string{"East", "West", "South"} {
		for _, measure := range []string{bulletin.Survival28, bulletin.SurvivalCrude} {
			all, _ := find(b, measure, area, "", "")
			for _, substrate := range grassAndPear {
				if one, _ := find(b, bulletin.Survival28, area, string(substrate), ""); !one.Published || all.Published && all.Gate > one.Gate {
					t.Errorf("%s of %s has a gate of %d, in %s (published: %v) of %d", measure, area, all.Gate, substrate, one.Published, one.Gate)
				}
			}
		}
	}
}

// TestGateOfFigures: a figure from a model about a place comes near the place's own, so that it is for no reader from whom
// that is kept.
func TestGateOfFigures(t *testing.T) {
	in := region(3, 2, alike(27, 8))
	for i := range in.Roster {
		in.Roster[i].Area = "East"
		if i < 11 {
			in.Roster[i].Area = "West"
		}
	}
	b := compose(t, in)
	rate, _ := find(b, bulletin.Survival28, "East", "", "")
	figures := 0
	for _, f := range b.Figures {
		if text(f.Place) != "East" {
			continue
		}
		figures++
		if f.N > rate.Gate {
			t.Errorf("%s of the east is for a gate of %d, its survival for one of %d", f.Kind, f.N, rate.Gate)
		}
	}
	if figures == 0 || rate.Gate != 11 {
		t.Errorf("%d figures of the east, whose survival has a gate of %d: nothing was tried", figures, rate.Gate)
	}
}
