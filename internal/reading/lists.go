package reading

import (
	"regexp"
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
		if line == "" { // a remark
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
		for k := range l.cells {
			c := &l.cells[k]
			if c.text == "" || k == t.line || k == t.day || c.span || r.dateOf(c, false).Form != lexicon.NoDate {
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
		t = listTable{head: i, line: -1, day: -1, states: map[int]survey.State{}}
		days := map[int]int{}
		for k := range g.lines[i].cells {
			head := r.kindOf(g.lines[i].cells[k].text)
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
		if t.line >= 0 && len(t.states) >= 2 && r.listed(g, t) {
			return t, true
		}
	}
	return listTable{}, false
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
