package bulletin

import "slices"

// Containing returns the indices of the cells that go when one is taken back: the cell itself, and what it is part of,
// which with the others would give it away. Shares of one whole go together. With any survival goes what all ranges of survival are
// made with, and with any animal what a mix is worth.
func Containing(cells []Cell, taken Cell) (which []int) {
	there := false
	for i, c := range cells {
		along := ofSurvival(taken.Measure) && ofSurvival(c.Measure) || ofMix(taken.Measure) && ofMix(c.Measure)
		if c.Season != taken.Season || c.Measure != taken.Measure && !along {
			continue
		}
		there = there || c.Names(taken)
		inArea := c.Area == nil || same(c.Area, taken.Area)
		inSubstrate := c.Substrate == nil || same(c.Substrate, taken.Substrate)
		if inArea && inSubstrate {
			which = append(which, i)
		}
	}
	if !there {
		return nil
	}
	return which
}

// Names tells whether two cells are of the same figure of a season, whatever their values.
func (c Cell) Names(o Cell) bool {
	return c.Season == o.Season && c.Measure == o.Measure && same(c.Area, o.Area) && same(c.Substrate, o.Substrate) && c.Predator == o.Predator && same(c.Clumps, o.Clumps)
}

// ofSurvival tells whether a measure reads the fates of nests.
func ofSurvival(measure string) bool {
	return measure == Survival28 || measure == SurvivalAt || measure == DesignEffect || measure == OwnerSpread || slices.Contains(LeftMeasures, measure)
}

// ofMix tells whether a measure reads which animals took the nests.
func ofMix(measure string) bool { return measure == PredatorShare || measure == MixWeight }

func same[T comparable](a, b *T) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}
