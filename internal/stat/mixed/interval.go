package mixed

import (
	"math"
	"sort"
)

// Cut is the day after setting at which the daily hazard may change.
const Cut = 14

// Day28 is the day to which survival is told.
const Day28 = 28

// Interval is the time between two visits to one nest that was intact at the first.
type Interval struct {
	Ranch     string
	Transect  string // its name within the ranch, or within ranch and season if it is another one each season
	Substrate string
	SiteType  string // empty where not known
	Season    int
	X         float64 // a measure of the site that a model may use, such as log density
	From, To  float64 // days after setting
	Intact    bool    // at To
}

// Setting is what the fixed effects of an interval depend on, its days apart.
type Setting struct {
	Substrate, SiteType string
	Season              int
	X                   float64
}

// Grouped is a list of intervals with names turned into numbers. Ranches and settings are in sorted order, so results
// do not depend on the order of the rows.
type Grouped struct {
	Ranches  []string
	Of       []int // Of[g] is the ranch of transect g
	Settings []Setting
	Counts   []Count // one for each interval, Row being its setting
	LeftOut  int     // intervals without length or with days that are no numbers
}

// SplitDays returns the days of an interval before and after [Cut].
func SplitDays(from, to float64) (early, late float64) {
	early = max(0, min(to, Cut)-from)
	return early, to - from - early
}

// Group numbers the ranches, transects and settings of list.
func Group(list []Interval) *Grouped {
	type transect struct{ ranch, name string }
	g := &Grouped{}
	ranches := make(map[string]int)
	transects := make(map[transect]int)
	settings := make(map[Setting]int)
	g.Counts = make([]Count, 0, len(list))

	var lastTransect transect
	var lastSetting Setting
	var t, s int
	for i := range list {
		v := &list[i]
		if !(v.From >= 0 && v.To > v.From) || math.IsInf(v.To, 0) || math.IsNaN(v.X) || math.IsInf(v.X, 0) {
			g.LeftOut++
			continue
		}
		first := len(g.Counts) == 0
		if k := (transect{v.Ranch, v.Transect}); first || k != lastTransect {
			r := number(ranches, v.Ranch, &g.Ranches)
			n, ok := transects[k]
			if !ok {
				n = len(g.Of)
				transects[k] = n
				g.Of = append(g.Of, r)
			}
			t, lastTransect = n, k
		}
		if k := (Setting{v.Substrate, v.SiteType, v.Season, v.X}); first || k != lastSetting {
			s, lastSetting = number(settings, k, &g.Settings), k
		}
		c := Count{Transect: t, Row: s, N: 1}
		c.Early, c.Late = SplitDays(v.From, v.To)
		if !v.Intact {
			c.Lost = 1
		}
		g.Counts = append(g.Counts, c)
	}
	g.sort()
	return g
}

// number is the place of k in names, where it is put if it is not there.
func number[K comparable](index map[K]int, k K, names *[]K) int {
	n, ok := index[k]
	if !ok {
		n = len(*names)
		index[k] = n
		*names = append(*names, k)
	}
	return n
}

// sort renumbers ranches and settings in sorted order.
func (g *Grouped) sort() {
	ranch := order(g.Ranches, func(a, b string) bool { return a < b })
	for t := range g.Of {
		g.Of[t] = ranch[g.Of[t]]
	}
	setting := order(g.Settings, func(a, b Setting) bool {
		switch {
		case a.Season != b.Season:
			return a.Season < b.Season
		case a.Substrate != b.Substrate:
			return a.Substrate < b.Substrate
		case a.SiteType != b.SiteType:
			return a.SiteType < b.SiteType
		}
		return a.X < b.X
	})
	for i := range g.Counts {
		g.Counts[i].Row = setting[g.Counts[i].Row]
	}
}

// order sorts list and returns the new place of each old one.
func order[T any](list []T, less func(a, b T) bool) []int {
	old := make([]int, len(list))
	for i := range old {
		old[i] = i
	}
	sort.Slice(old, func(i, j int) bool { return less(list[old[i]], list[old[j]]) })
	sorted := make([]T, len(list))
	place := make([]int, len(list))
	for i, o := range old {
		sorted[i] = list[o]
		place[o] = i
	}
	copy(list, sorted)
	return place
}
