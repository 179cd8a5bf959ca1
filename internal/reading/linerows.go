package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/narration"
)

// Some people keep a row a line, and in it only what went wrong: "Road | 10 | May 3 | May 17 | 3, 5 eaten; 10 not found". Each
// row is told as a sentence would tell it.

// A lineRows table has a row for each line.
type lineRows struct {
	head, line, nests, set int   // the row of headings; columns, -1 for none
	covers, groups, belts  []int // columns
	dayOf                  map[int]int
}

// mostLines is how many rows such a table may have: a person walks a few lines.
const mostLines = 60

// rowsOfLines reads a grid of which each row tells of a line; nil where it does not.
func (r *reader) rowsOfLines(g *grid) []passage {
	t, ok := r.lineRowsIn(g)
	if !ok {
		return nil
	}
	tab := r.tabScope[g.index]
	var out []passage
	say := func(c *cell, text, line string, date lexicon.Date, is narration.About) {
		out = append(out, passage{narration.Passage{Text: text, Line: line, Date: date, Gap: true, Is: is}, c, tab})
	}
	head := &g.lines[t.head]
	for i := range g.lines {
		l := &g.lines[i]
		name := lineName(l.at(t.line).text)
		if i == t.head {
			continue
		}
		if i < t.head || name == "" || l.filled(0, len(l.cells)) <= 2 { // what stands above and below
			for k := range l.cells {
				if c := &l.cells[k]; c.text != "" && !c.span {
					say(c, wholeText(c), "", lexicon.Date{}, narration.Anything)
				}
			}
			continue
		}
		set := lexicon.Date{}
		if t.set >= 0 {
			set = r.dateOf(l.at(t.set), false)
			say(l.at(t.set), "set out", name, set, narration.Setting)
		}
		if c := l.at(t.nests); t.nests >= 0 && c.text != "" {
			text := c.text + " nests"
			if !r.kind(c).whole {
				text = "nests " + strings.TrimSpace(nestsLead.ReplaceAllString(c.text, ""))
			}
			say(c, text, name, set, narration.Setting)
		}
		for _, k := range t.covers {
			if c := l.at(k); c.text != "" {
				say(c, c.text, name, set, narration.Setting)
			}
		}
		for _, k := range t.groups {
			c := l.at(k)
			date := lexicon.Date{}
			if at, ok := t.dayOf[k]; ok {
				date = r.dateOf(l.at(at), false)
			} else if d := r.kindOf(head.at(k).text).head.Date; d.Form != lexicon.NoDate {
				date = d
			}
			if date.Form != lexicon.NoDate {
				say(l.at(k), "checked", name, date, narration.Check)
			}
			if c.text != "" && !nobodyLost(c.text) {
				say(c, wholeText(c), name, date, narration.Check)
			}
		}
		for _, k := range t.belts {
			if c := l.at(k); c.text != "" {
				say(c, head.at(k).text+": "+c.text, name, lexicon.Date{}, narration.Anything)
			}
		}
	}
	return out
}

var (
	nestsLead = regexp.MustCompile(`(?i)^(?:nests?|nidos?|#)\s*`)
	noLoss    = regexp.MustCompile(`(?i)^\W*(?:none|no|ningun[oa]?s?|nada|nothing|0|-+|–)\W*$`)
	someNest  = regexp.MustCompile(`\d{1,2}`)
)

// nobodyLost tells whether a cell of what went wrong says that nothing did.
func nobodyLost(text string) bool { return noLoss.MatchString(text) }

// lineRowsIn finds the headings of a table of which each row is a line, with cells that name nests and what was found.
func (r *reader) lineRowsIn(g *grid) (t lineRows, ok bool) {
	if len(g.lines) > mostLines {
		return t, false
	}
	for i := 0; i < min(len(g.lines)-2, 12); i++ {
		t = lineRows{head: i, line: -1, nests: -1, set: -1, dayOf: map[int]int{}}
		if g.lines[i].filled(0, g.width) < 4 || !slices.ContainsFunc(g.lines[i].cells, func(c cell) bool { return r.kind(&c).head.Role == lexicon.Line }) {
			continue
		}
		day, rows := -1, 0
		for k := i + 1; k < len(g.lines); k++ {
			if g.lines[k].filled(0, g.width) > 2 {
				rows++
			}
		}
		days := map[int]bool{}
		for k := range g.lines[i].cells {
			head := r.kind(&g.lines[i].cells[k]).head
			n, dated, group, covers, belts, numbers := 0, 0, 0, 0, 0, 0
			seen := map[string]bool{}
			for _, l := range g.lines[i+1:] {
				c := l.at(k)
				if c.text == "" || l.filled(0, g.width) <= 2 {
					continue
				}
				n++
				seen[c.text] = true
				items := r.scan(c.text)
				switch {
				case head.Role == lexicon.Nest && rangePattern.MatchString(c.text): // 1-10 is no day
					numbers++
				case r.dateOf(c, false).Form != lexicon.NoDate && !r.kind(c).isNum:
					dated++
				case r.kind(c).whole || nestList.MatchString(c.text) || rangePattern.MatchString(c.text):
					numbers++
				case between(items, aMeasure) && between(items, aCover):
					belts++
				case r.groupCell(c.text, items):
					group++
				case nobodyLost(c.text):
				case between(items, aCover) || r.coverRuleIn(items) != nil:
					covers++
				}
			}
			switch {
			case n < 2:
			case head.Role == lexicon.Line && t.line < 0 && len(seen) == n && n == rows:
				t.line = k
			case dated == n && (head.Role == lexicon.SetOn || head.Set || t.set < 0 && len(days) == 0):
				t.set, day = k, -1
				days[k] = true
			case dated == n:
				day = k
				days[k] = true
			case belts*2 > n:
				t.belts = append(t.belts, k)
			case group*2 > n || group > 0 && group+covers*2 < n && day >= 0:
				t.groups = append(t.groups, k)
				if day >= 0 {
					t.dayOf[k] = day
				}
			case covers*2 > n:
				t.covers = append(t.covers, k)
			case numbers == n && t.nests < 0:
				t.nests = k
			}
		}
		if t.line >= 0 && len(t.groups) > 0 && t.nests >= 0 && t.set >= 0 {
			return t, true
		}
	}
	return lineRows{}, false
}

// groupCell tells whether a cell says of several nests what was found: "3, 5 eaten; 10 could not be found", "all fine".
func (r *reader) groupCell(text string, items []item) bool {
	if between(items, theRest, aBut) && between(items, aState) {
		return true
	}
	found := between(items, aState)
	if !found {
		rest := strings.Trim(someNest.ReplaceAllString(text, " "), " ,.;:&")
		m := r.lex.Sight(rest).Mark
		found = m.State() != ""
	}
	return found && someNest.MatchString(text)
}
