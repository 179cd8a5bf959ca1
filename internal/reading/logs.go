package reading

import (
	"regexp"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/narration"
)

// A log has a row for each time that somebody was out: the day, perhaps the line, and a remark that tells what was done and found.
type fieldLog struct {
	head            int // the row of headings
	day, line, site int // columns, -1 for none
	told            int // the column of remarks
}

// logRows reads a grid that is a log, each remark on the day and the line of its row; nil where it is none.
func (r *reader) logRows(g *grid) []passage {
	t, ok := r.logIn(g)
	if !ok {
		return nil
	}
	tab := r.tabScope[g.index]
	var out []passage
	for i := range g.lines {
		l := &g.lines[i]
		if i == t.head {
			continue
		}
		date, line := r.dateOf(l.at(t.day), false), ""
		if t.line >= 0 {
			line = lineName(l.at(t.line).text)
		}
		if i < t.head || date.Form == lexicon.NoDate { // what stands above and below
			for k := range l.cells {
				if c := &l.cells[k]; c.text != "" && !c.span {
					out = append(out, passage{narration.Passage{Text: wholeText(c), New: true}, c, tab})
				}
			}
			continue
		}
		c := l.at(t.told)
		if c.text == "" {
			continue
		}
		sc := tab
		if t.site >= 0 && l.at(t.site).text != "" {
			sc = tab.child(facts{site: fact{text: l.at(t.site).text, at: l.at(t.site)}})
		}
		out = append(out, passage{narration.Passage{Text: wholeText(c), Date: date, Line: line, Gap: true, New: line == "" && t.line >= 0}, c, sc})
	}
	return out
}

// logIn finds the headings of a log: a day, and remarks of which most that are of a line tell of nests.
func (r *reader) logIn(g *grid) (t fieldLog, ok bool) {
	if g.held > 0 || g.width < 2 || len(g.lines) > mostLines*5 {
		return t, false
	}
	for i := 0; i < min(len(g.lines)-2, 12); i++ {
		t = fieldLog{head: i, day: -1, line: -1, site: -1, told: -1}
		head := &g.lines[i]
		if head.filled(0, g.width) < 2 {
			continue
		}
		for k := range head.cells {
			switch role := r.kind(&head.cells[k]).head.Role; {
			case role == lexicon.Line && t.line < 0:
				t.line = k
			case role == lexicon.Site && t.site < 0:
				t.site = k
			case role == lexicon.Nest: // a row a nest
				return t, false
			}
		}
		most := 0
		for k := range head.cells {
			days, tells, lists, n := 0, 0, 0, 0
			distinct := map[string]bool{}
			for _, l := range g.lines[i+1:] {
				c := l.at(k)
				if c.text == "" || t.line >= 0 && l.at(t.line).text == "" {
					continue
				}
				n++
				distinct[c.text] = true
				if text := wholeText(c); r.logged(text) && manyNests.MatchString(text) {
					lists++
				}
				switch {
				case r.dateOf(c, false).Form != lexicon.NoDate && !r.kind(c).isNum:
					days++
				case r.logged(wholeText(c)):
					tells++
				}
			}
			switch {
			case days > 1 && days*10 >= n*9 && t.day < 0:
				t.day = k
			case tells > most && tells*10 >= n*6 && lists*3 >= n:
				t.told, most = k, tells
			case k != t.line && len(distinct) == n && n > 2 && tells == 0: // a name for each row: those of nests
				return t, false
			}
		}
		if t.day >= 0 && t.told >= 0 && r.dateOf(head.at(t.day), false).Form == lexicon.NoDate && len(head.at(t.told).text) < 40 && most >= 3 && (t.line < 0 || r.linesRepeat(g, t)) && (t.line >= 0 || head.filled(0, g.width) <= 3) {
			return t, true
		}
	}
	return t, false
}

// manyNests finds several numbers, or words for all.
var manyNests = regexp.MustCompile(`(?i)\d\D+\d|\b(?:all|rest|others?|every\w*|tod[oa]s?|dem[aá]s|otros)\b`)

// logged tells whether a remark speaks of several nests: their numbers, or all of them, and a cover, a setting or what was found.
func (r *reader) logged(text string) bool {
	items := r.scan(text)
	return strings.Contains(strings.TrimSpace(text), " ") && between(items, someNests, theRest, nestCount, aBut) && between(items, aState, aCover, aSetting)
}

// linesRepeat tells whether lines stand in several rows each.
func (r *reader) linesRepeat(g *grid, t fieldLog) bool {
	seen, rows := map[string]bool{}, 0
	for _, l := range g.lines[t.head+1:] {
		if text := l.at(t.line).text; text != "" && l.at(t.told).text != "" {
			seen[lexicon.Fold(text)] = true
			rows++
		}
	}
	return rows >= 2*len(seen)
}
