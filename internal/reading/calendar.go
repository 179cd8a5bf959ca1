package reading

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"tussock/internal/lexicon"
	"tussock/internal/narration"
)

var (
	weekdayName = regexp.MustCompile(`(?i)^(?:sun|mon|tue|wed|thu|fri|sat|dom|lun|mar|mi[eé]|jue|vie|s[aá]b)[\pL]*\.?$`)
	monthName   = regexp.MustCompile(`(?i)\b(jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?|ene(?:ro)?|feb(?:rero)?|marzo|abr(?:il)?|mayo|junio|julio|ago(?:sto)?|sep(?:tiembre)?|oct(?:ubre)?|nov(?:iembre)?|dic(?:iembre)?)\b`)
	dayLead     = regexp.MustCompile(`^\s*(\d{1,2})(?:\s|\n|$|[.):-])`)
)

// A month is the month of a calendar.
type month struct {
	year  int
	month time.Month
}

// monthIn reads the month that a title or the name of a tab names; the zero month for none.
func monthIn(text string) month {
	m := monthName.FindString(text)
	if m == "" || len(strings.Fields(text)) > 5 {
		return month{}
	}
	d := lexicon.ReadDate(m+" 1", false)
	if d.Form != lexicon.TextDate {
		return month{}
	}
	return month{lexicon.FindYear(text), time.Month(d.A)}
}

// calendar reads a grid that is a calendar: weekdays across, a day a cell, and what was done on it in the cell or in the
// rows below. It returns nil where the grid is none.
func (r *reader) calendar(g *grid) []passage {
	if !slices.ContainsFunc(g.lines, func(l line) bool { return weekdayRow(&l) }) {
		return nil
	}
	of := monthIn(g.Name)
	if of.month == 0 {
		of = monthIn(g.File)
	}
	tab := r.tabScope[g.index]
	days := map[int]int{} // by column: the day written last
	begun, last, told := false, 0, 0
	var out []passage
	for i := range g.lines {
		l := &g.lines[i]
		if weekdayRow(l) {
			begun, last = true, 0
			clear(days)
			continue
		}
		if m := monthIn(firstText(l)); m.month != 0 && l.filled(0, g.width) == 1 {
			if m.year == 0 {
				m.year = of.year
			}
			of, begun, last = m, false, 0
			continue
		}
		if begun && of.month == 0 {
			return nil
		}
		for k := range l.cells {
			c := &l.cells[k]
			if c.text == "" || c.span || c.down {
				continue
			}
			p := passage{narration.Passage{Text: c.raw, Gap: true}, c, tab}
			if p.Text == "" {
				p.Text = c.text
			}
			if !begun || l.filled(0, g.width) == 1 && dayLead.FindString(p.Text) == "" && len(days) == 0 {
				p.New = true // beside the calendar
				out = append(out, p)
				continue
			}
			if m := dayLead.FindStringSubmatch(p.Text); m != nil {
				if n, _ := lexicon.Atoi(m[1]); n >= 1 && n <= 31 && n > last {
					days[k], last = n, n
					p.Text = p.Text[len(m[0]):]
				}
			}
			if days[k] == 0 || lexicon.Tidy(p.Text) == "" {
				if days[k] == 0 {
					p.New = true
					out = append(out, p)
				}
				continue
			}
			p.Date = lexicon.Date{Form: lexicon.TextDate, Year: of.year, A: int(of.month), B: days[k]}
			out = append(out, p)
			told++
		}
		if begun && last >= 28 && l.filled(0, g.width) > 0 && r.monthEnds(g, i, of, last) {
			begun = false
		}
	}
	if told == 0 {
		return nil
	}
	return out
}

// monthEnds tells whether the last day of a month stands in row i and no row of the calendar follows directly.
func (r *reader) monthEnds(g *grid, i int, of month, last int) bool {
	end := time.Date(max(of.year, 2023), of.month+1, 0, 0, 0, 0, 0, time.UTC).Day()
	return last >= end && (i+1 == len(g.lines) || g.lines[i+1].number > g.lines[i].number+1)
}

func weekdayRow(l *line) bool {
	if len(l.cells) < 5 {
		return false
	}
	n := 0
	for i := range l.cells {
		if t := l.cells[i].text; len(t) >= 3 && t[0] >= 'A' && weekdayName.MatchString(t) {
			n++
		}
	}
	return n >= 5
}

func firstText(l *line) string {
	for i := range l.cells {
		if l.cells[i].text != "" {
			return l.cells[i].text
		}
	}
	return ""
}
