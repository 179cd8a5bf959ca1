package bulletin

import (
	"cmp"
	"math"
	"slices"
)

// gates fills in what a reader's own gate asks of each cell, so that nobody works out by subtraction a place that the gate
// keeps from them: the whole less all other places is the one left out. Somebody who works for four of the five landowners of
// a place must not have the fifth's results in that way either, nor a planner those of nine.
//
// Of the places of a measure and substrate each is therefore judged by the landowners behind the next smaller one: where a
// reader may not see the smallest, they do not see the next either, and what the others leave open is then of both together.
// A place's figure over all substrates needs those of each: with all but one it would tell the one left out.
func gates(cells []Cell) {
	type group struct{ measure, substrate string }
	places := map[group][]*Cell{}
	for i := range cells {
		cell := &cells[i]
		if cell.Gate > 0 {
			continue // of an earlier edition
		}
		if cell.Gate = cell.N; cell.Area != nil && cell.N > 0 {
			g := group{measure: cell.Measure}
			if cell.Substrate != nil {
				g.substrate = *cell.Substrate
			}
			places[g] = append(places[g], cell)
		}
	}
	least := map[string]int{} // by place, over substrates
	for _, list := range places {
		slices.SortStableFunc(list, func(a, b *Cell) int { return cmp.Compare(a.N, b.N) })
		for i, cell := range list {
			cell.Gate = list[max(0, i-1)].N
			if cell.Substrate != nil {
				least[*cell.Area] = min(cmp.Or(least[*cell.Area], math.MaxInt), cell.Gate)
			}
		}
	}
	for i := range cells {
		if c := &cells[i]; c.Area != nil && c.Substrate == nil && c.Measure != ClumpsPerAcre && least[*c.Area] > 0 {
			c.Gate = min(c.Gate, least[*c.Area])
		}
	}
}

// gate is what a reader's gate asks of figures from models about a place: that of its cells, which they come near.
func (c *composer) gate(label string) int {
	least := math.MaxInt
	for _, cell := range c.cells {
		if label != "" && cell.Published && cell.Area != nil && *cell.Area == label {
			least = min(least, cell.Gate)
		}
	}
	return least
}
