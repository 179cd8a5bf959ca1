package cover

import (
	"math"
	"slices"

	"tussock/internal/stat/mixed"
)

// Stand is a group of nests to be, alike in what the model knows.
type Stand struct {
	Substrate, SiteType string
	Season              int
	Density             float64 // clumps an acre
	Weight              float64
}

// Gain is by how much the survival to day 28 over the stands would be higher, were those below the mark at it, on ranches
// of which nothing else is known. It is what sites of such density have gone together with, not what planting would
// bring. Stands the model knows nothing of are left out; ok is false where none is left.
func (m *Model) Gain(stands []Stand, mark float64) (e mixed.Estimate, ok bool) {
	if m.fit == nil || m.fit.Lookups == 0 || !(mark > 0) {
		return e, false
	}
	var from, to []mixed.Part
	used := m.g.Used()
	known := map[mixed.Setting]bool{}
	for _, s := range used {
		known[mixed.Setting{Substrate: s.Substrate, SiteType: s.SiteType, Season: s.Season}] = true
	}
	for _, s := range stands {
		if !(s.Density > 0) || math.IsInf(s.Density, 0) || !(s.Weight > 0) {
			continue
		}
		at := mixed.Setting{Substrate: s.Substrate, SiteType: s.SiteType, Season: s.Season}
		if !known[at] {
			continue
		}
		at.X = math.Log(s.Density)
		before := mixed.Row(m.columns, at)
		at.X = math.Log(max(s.Density, mark))
		after := mixed.Row(m.columns, at)
		if slices.ContainsFunc(m.unknown(), func(j int) bool { return before[j] != 0 || after[j] != 0 }) {
			continue
		}
		from = append(from, mixed.Part{Weight: s.Weight, Row: before})
		to = append(to, mixed.Part{Weight: s.Weight, Row: after})
	}
	if len(from) == 0 {
		return e, false
	}
	return m.predictor().Change(from, to), true
}

// unknown are the columns whose effect the data do not tell.
func (m *Model) unknown() (columns []int) {
	for j := range m.columns {
		if !m.fit.Known[j] {
			columns = append(columns, j)
		}
	}
	return columns
}
