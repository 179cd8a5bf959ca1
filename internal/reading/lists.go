package reading

import (
	"maps"
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/narration"
	"tussock/internal/survey"
)

// nestList is a cell that lists nests: "1, 2, 4-8, 10".
var nestList = regexp.MustCompile(`(?i)^(?:nests?|nidos?|#|nos?\.)?\s*\d{1,3}(?:\s*(?:,|;|-|–|/|&|\+|\s|and|y|to|al|a|thru)\s*\d{1,3})*\.?$`)

// A listTable is a table whose columns are states and whose cells list the nests found so: a row a visit of a line.
type listTable struct {
	head      int // the row of headings
	line, day int // columns; -1 for none
	states    map[int]survey.State
	dayOf     map[int]int // of states in a row that tells of several visits: the column of their day
	set       int         // the column of the day of setting, -1 for none
	nests     int         // the column of all nests of a line, -1 for none
}

// nestLists reads a grid that lists nests under what became of them. It returns nil where the grid does not.
func (r *reader) nestLists(g *grid) []passage {
	t, ok := r.listTable(g)
	if !ok {
		return nil
	}
	tab := r.tabScope[g.index]
	var out []passage
	for i := range g.lines {
		l := &g.lines[i]
		if i <= t.head {
			continue
		}
		line := ""
		if t.line >= 0 {
			line = lineName(l.at(t.line).text)
		}
		if line == "" || l.filled(0, len(l.cells)) == 1 && len(strings.Fields(line)) > 3 { // a remark
			for k := range l.cells {
				if c := &l.cells[k]; c.text != "" {
					out = append(out, passage{narration.Passage{Text: c.text, New: true}, c, tab})
				}
			}
			continue
		}
		var date lexicon.Date
		if t.day >= 0 {
			date = r.dateOf(l.at(t.day), false)
		}
		if t.set >= 0 && l.at(t.set).text != "" {
			d := r.dateOf(l.at(t.set), false)
			out = append(out, passage{narration.Passage{Text: "set out", Line: line, Date: d, Gap: true, Is: narration.Setting}, l.at(t.set), tab})
		}
		if t.nests >= 0 && l.at(t.nests).text != "" {
			out = append(out, passage{narration.Passage{Text: "nests " + l.at(t.nests).text, Line: line, Is: narration.Setting}, l.at(t.nests), tab})
		}
		for _, at := range slices.Compact(slices.Sorted(maps.Values(t.dayOf))) {
			if c := l.at(at); c.text != "" { // somebody was there, whatever is listed
				out = append(out, passage{narration.Passage{Text: "checked", Line: line, Date: r.dateOf(c, false), Gap: true, Is: narration.Check}, c, tab})
			}
		}
		for k := range l.cells {
			c := &l.cells[k]
			if at, ok := t.dayOf[k]; ok {
				date = r.dateOf(l.at(at), false)
			}
			if c.text == "" || k == t.line || k == t.day || k == t.set || k == t.nests || c.span || r.dateOf(c, false).Form != lexicon.NoDate {
				continue
			}
			p := passage{narration.Passage{Text: c.text, Line: line, Date: date, Gap: true}, c, tab}
			if state := t.states[k]; state != "" {
				p.Text = string(state) + ": " + c.text
				p.Is = narration.Check
			}
			out = append(out, p)
		}
	}
	return out
}

// listTable finds the headings of a table that lists nests under states.
func (r *reader) listTable(g *grid) (t listTable, ok bool) {
	for i := 0; i < min(len(g.lines), 12); i++ {
		t = listTable{head: i, line: -1, day: -1, set: -1, nests: -1, states: map[int]survey.State{}}
		if !r.headsLists(&g.lines[i]) {
			continue
		}
		days := map[int]int{}
		for k := range g.lines[i].cells {
			head := r.kind(&g.lines[i].cells[k])
			if head.head.Role == lexicon.Line {
				t.line = k
			}
			lists, other := 0, 0
			for _, l := range g.lines[i+1:] {
				switch c := l.at(k); {
				case c.text == "":
				case r.dateOf(c, false).Form != lexicon.NoDate:
					days[k]++
				case nestList.MatchString(c.text):
					lists++
				default:
					other++
				}
			}
			if s := head.sight; s.Mark.State() != "" && !s.Weak && lists > 0 && lists > 3*other {
				t.states[k] = s.Mark.State()
			}
			if days[k] > 0 && (t.day < 0 || days[k] > days[t.day] || days[k] == days[t.day] && head.head.Role != lexicon.NoRole && !entered(head.head.Text)) {
				t.day = k
			}
		}
		r.visitsAcross(g, &t, days)
		if t.line >= 0 && len(t.states) >= 2 && r.listed(g, t) {
			return t, true
		}
	}
	return listTable{}, false
}

// headsLists tells whether a row heads lines and two states at least.
func (r *reader) headsLists(l *line) bool {
	lines, states := 0, 0
	for k := range l.cells {
		head := r.kind(&l.cells[k])
		if head.head.Role == lexicon.Line {
			lines++
		}
		if s := head.sight; s.Mark.State() != "" && !s.Weak {
			states++
		}
	}
	return lines > 0 && states >= 2
}

// visitsAcross settles which day each state is of where a row tells of several visits, one behind the other, and which
// columns tell of the setting.
func (r *reader) visitsAcross(g *grid, t *listTable, days map[int]int) {
	width := len(g.lines[t.head].cells)
	var visits []int
	for k := range width {
		head := r.kindOf(g.lines[t.head].at(k).text).head
		switch {
		case head.Role == lexicon.Nest:
			t.nests = k
		case days[k] > 0 && (head.Role == lexicon.SetOn || head.Set):
			t.set = k
		case days[k] > 0 && t.states[k] == "":
			visits = append(visits, k)
		}
	}
	dayOf, own := map[int]int{}, map[int]bool{}
	for k := range t.states {
		for _, v := range visits {
			if v < k {
				dayOf[k] = v
			}
		}
		own[dayOf[k]] = true
	}
	if len(own) < 2 { // one visit a row
		t.set, t.nests = -1, -1
		return
	}
	t.dayOf, t.day = dayOf, visits[0]
}

// listed tells whether some cell lists several nests, so that the columns are no counts of eggs.
func (r *reader) listed(g *grid, t listTable) bool {
	for _, l := range g.lines[t.head+1:] {
		for k := range t.states {
			if c := l.at(k).text; strings.ContainsAny(c, ",-&") && nestList.MatchString(c) {
				return true
			}
		}
	}
	return false
}

// entered tells whether a heading is that of the day on which a row was written down.
func entered(heading string) bool {
	switch lexicon.Fold(heading) {
	case "called", "entered", "recorded", "typed", "anotado", "llamo", "logged", "received", "recibido":
		return true
	}
	return false
}
