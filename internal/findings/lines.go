package findings

import (
	"maps"
	"slices"
	"strings"

	"tussock/internal/survey"
)

// A lineUp is so many transects of a ranch and season that have nests in the same covers. What a transect adds to the figures of its covers (see
// survival.Influence) is how these covary: a figure with weights w has the variance G/(G−1)·Σ w·w′·Products over G transects.
type lineUp struct {
	Covers   []survey.Substrate // in order
	Lines    int
	Products [][]float64 // by two of the covers: the sums of what the transects add to the one times what they add to the other
}

func linesUp(strata []stratum) []lineUp {
	type part struct {
		cover survey.Substrate
		adds  float64
	}
	lines := map[int][]part{}
	for i := range strata {
		for _, f := range strata[i].fit.Influence {
			lines[f.Transect] = append(lines[f.Transect], part{strata[i].substrate, f.S28})
		}
	}
	found := map[string]*lineUp{}
	for _, transect := range slices.Sorted(maps.Keys(lines)) {
		var covers []survey.Substrate
		name := ""
		for _, p := range lines[transect] {
			covers = append(covers, p.cover)
			name += string(p.cover) + "\n"
		}
		l := found[name]
		if l == nil {
			l = &lineUp{Covers: covers, Products: make([][]float64, len(covers))}
			for i := range l.Products {
				l.Products[i] = make([]float64, len(covers))
			}
			found[name] = l
		}
		l.Lines++
		for i, a := range lines[transect] {
			for j, b := range lines[transect] {
				l.Products[i][j] += a.adds * b.adds
			}
		}
	}
	var all []lineUp
	for _, name := range slices.SortedFunc(maps.Keys(found), strings.Compare) {
		all = append(all, *found[name])
	}
	return all
}

// product is the sum over all transects of what they add to one cover's figure times what they add to another's, and how many have both.
func product(all []lineUp, a, b survey.Substrate) (sum float64, lines int) {
	for _, l := range all {
		i, j := slices.Index(l.Covers, a), slices.Index(l.Covers, b)
		if i >= 0 && j >= 0 {
			sum += l.Products[i][j]
			lines += l.Lines
		}
	}
	return sum, lines
}
