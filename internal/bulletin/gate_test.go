package bulletin_test

import (
	"fmt"
	"slices"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
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
