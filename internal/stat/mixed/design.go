package mixed

import (
	"sort"
	"strconv"
)

// Column is one column of a design: a term, the level of a factor where it is one, and its value in a setting.
type Column struct {
	Term, Level string
	Of          func(Setting) float64
}

// Intercept is the column of ones.
func Intercept() Column {
	return Column{Term: "intercept", Of: func(Setting) float64 { return 1 }}
}

// A Factor is what sorts settings into levels.
type Factor struct {
	Term string
	Of   func(Setting) string
}

// BySubstrate is the factor substrate.
func BySubstrate() Factor {
	return Factor{"substrate", func(s Setting) string { return s.Substrate }}
}

// BySeason is the factor season, its levels the years.
func BySeason() Factor {
	return Factor{"season", func(s Setting) string { return strconv.Itoa(s.Season) }}
}

// BySiteType is the factor site_type. Where the type is not known the level is empty.
func BySiteType() Factor {
	return Factor{"site_type", func(s Setting) string { return s.SiteType }}
}

// Levels returns the factor's levels in settings in alphabetical order, the empty one last, so that it is never
// the reference unless alone.
func (f Factor) Levels(settings []Setting) []string {
	seen := make(map[string]bool)
	var levels []string
	for _, s := range settings {
		if l := f.Of(s); !seen[l] {
			seen[l] = true
			levels = append(levels, l)
		}
	}
	sort.Slice(levels, func(i, j int) bool {
		if levels[i] == "" || levels[j] == "" {
			return levels[j] == ""
		}
		return levels[i] < levels[j]
	})
	return levels
}

// Columns are the dummies of the factor's levels but the first, which is the reference.
func (f Factor) Columns(levels []string) []Column {
	var columns []Column
	for i, level := range levels {
		if i == 0 {
			continue
		}
		columns = append(columns, Column{f.Term, level, func(s Setting) float64 {
			if f.Of(s) == level {
				return 1
			}
			return 0
		}})
	}
	return columns
}

// Rows are the values of columns in each setting.
func Rows(columns []Column, settings []Setting) [][]float64 {
	rows := make([][]float64, len(settings))
	for i, s := range settings {
		rows[i] = Row(columns, s)
	}
	return rows
}

// Row is the values of columns in one setting.
func Row(columns []Column, s Setting) []float64 {
	row := make([]float64, len(columns))
	for j, c := range columns {
		row[j] = c.Of(s)
	}
	return row
}

// Side is a level at which every nest came to the same end, so that the likelihood has no maximum in its effect: it
// grows for ever as the effect goes to minus or plus infinity. In that limit the level's intervals weigh nothing and
// the others are fitted without them.
type Side struct {
	Term, Level string
	Lost        bool    // every interval ended in a loss; else none did
	N           int     // intervals
	Days        float64 // their length together
}

// Split takes out the intervals of levels where every nest came to the same end, until none is left. A factor keeps
// one level at least, and where all nests of all levels came to one end nothing is taken out.
func (g *Grouped) Split(factors ...Factor) (rest *Grouped, sides []Side) {
	rest = g
	for rest.mixed() {
		side, of, found := rest.oneSided(factors)
		if !found {
			break
		}
		sides = append(sides, side)
		kept := *rest
		kept.Counts = nil
		for _, c := range rest.Counts {
			if of(rest.Settings[c.Row]) != side.Level {
				kept.Counts = append(kept.Counts, c)
			}
		}
		rest = &kept
	}
	return rest, sides
}

// mixed says whether some intervals ended in a loss and some did not.
func (g *Grouped) mixed() bool {
	n, lost := 0, 0
	for _, c := range g.Counts {
		n, lost = n+c.N, lost+c.Lost
	}
	return lost > 0 && lost < n
}

// oneSided returns the first level it finds where nests came to one end only.
func (g *Grouped) oneSided(factors []Factor) (Side, func(Setting) string, bool) {
	for _, f := range factors {
		levels := make(map[string]*Side)
		lost := make(map[string]int)
		for _, c := range g.Counts {
			l := f.Of(g.Settings[c.Row])
			if levels[l] == nil {
				levels[l] = &Side{Term: f.Term, Level: l}
			}
			levels[l].N += c.N
			levels[l].Days += float64(c.N) * (c.Early + c.Late)
			lost[l] += c.Lost
		}
		if len(levels) < 2 {
			continue
		}
		for _, l := range f.Levels(g.Settings) {
			s := levels[l]
			if s == nil || lost[l] > 0 && lost[l] < s.N {
				continue
			}
			s.Lost = lost[l] > 0
			return *s, f.Of, true
		}
	}
	return Side{}, nil, false
}

// Used returns the settings that have intervals left.
func (g *Grouped) Used() []Setting {
	seen := make([]bool, len(g.Settings))
	for _, c := range g.Counts {
		seen[c.Row] = true
	}
	var list []Setting
	for i, s := range g.Settings {
		if seen[i] {
			list = append(list, s)
		}
	}
	return list
}

// Periods is what can be told of the days before and after day 14.
type Periods struct {
	Apart  bool    // whether each has its own hazard
	Days   Days    // what of the 28 days a prediction spans
	Counts []Count // to fit
	Note   string  // what a reader should know, if anything
}

// Days are how many of the early and of the late period a prediction spans.
type Days struct{ Early, Late float64 }

// Periods looks at where losses fall. Where one period saw none its days drop out, as those of a one-sided level do.
func (g *Grouped) Periods() Periods {
	var early, late, earlyLost, lateLost, acrossLost int
	for _, c := range g.Counts {
		switch {
		case c.Late == 0:
			early, earlyLost = early+c.N, earlyLost+c.Lost
		case c.Early == 0:
			late, lateLost = late+c.N, lateLost+c.Lost
		default:
			early, late, acrossLost = early+c.N, late+c.N, acrossLost+c.Lost
		}
	}
	whole := func(c Count) float64 { return c.Early + c.Late }
	switch {
	case !g.mixed(): // nothing to fit at all
		return Periods{Days: Days{Day28, 0}, Counts: only(g.Counts, whole)}
	case early == 0 || late == 0:
		return Periods{Days: Days{Day28, 0}, Counts: only(g.Counts, whole),
			Note: "All visits fall on one side of day 14, so the other period is taken to be like it."}
	case lateLost+acrossLost == 0:
		return Periods{Days: Days{Cut, 0}, Counts: only(g.Counts, func(c Count) float64 { return c.Early }),
			Note: "No nest was lost after day 14, so the later period is taken to be without loss."}
	case earlyLost+acrossLost == 0:
		return Periods{Days: Days{Day28 - Cut, 0}, Counts: only(g.Counts, func(c Count) float64 { return c.Late }),
			Note: "No nest was lost before day 14, so the intercept is that of the days after it."}
	}
	return Periods{Apart: true, Days: Days{Cut, Day28 - Cut}, Counts: g.Counts}
}

// only returns counts with the days that of gives, those without any left out.
func only(counts []Count, of func(Count) float64) []Count {
	var kept []Count
	for _, c := range counts {
		if d := of(c); d > 0 {
			c.Early, c.Late = d, 0
			kept = append(kept, c)
		}
	}
	return kept
}

// Model is the model with these columns and both random intercepts.
func (g *Grouped) Model(columns []Column, p Periods) *Model {
	return &Model{Rows: Rows(columns, g.Settings), Period: p.Apart, Ranches: len(g.Ranches), Of: g.Of, Counts: p.Counts}
}
