package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// Some keep, in place of looks, the last day on which a nest had its eggs and the day on which it was found lost: "Last good | Found
// bad | How", or "LastPresent | LastChecked | Fate" as programs for nest survival take it. Here such columns become two looks.

var (
	lastGood  = regexp.MustCompile(`(?i)^(?:date |day |fecha )?(?:last|[uú]ltim[oa])[\s_]*(?:day |date |time |vez |d[ií]a )?(?:seen )?(?:good|ok|seen|present|alive|active|intact|whole|there|with|bueno|bien|completo|vivo|con)\b|^last(?:present|alive|active|good|seen)`)
	firstBad  = regexp.MustCompile(`(?i)^(?:(?:date|day|first|fecha|d[ií]a) )?(?:found|seen|first|hallado|encontrado|visto)[\s_]*(?:gone|bad|dead|lost|empty|failed|missing|mal|vac[ií]o|perdido)\b|^(?:date|day) (?:gone|lost|failed)\b|^first[\s_]*(?:gone|missing)|^last[\s_]*check(?:ed)?(?:[\s_]*(?:doy|day|date|on))?$`)
	causeHead = regexp.MustCompile(`(?i)^(?:how|cause|why|reason|fate|outcome|result|what happened|what got it|causa|c[oó]mo|qu[eé] pas[oó])`)
	everyNest = regexp.MustCompile(`(?i)\b(?:every|each|all)\b[^.]{0,60}\b(?:both|each|all)\b[^.]{0,20}\bdays?\b|\bwent (?:round|around) all\b`)
)

// lastGoodLooks writes the columns of a table of last good and first bad days as looks.
func (r *reader) lastGoodLooks(b *block) {
	if b.tail || len(b.heads) != 1 || b.g.columns != nil {
		return
	}
	good, bad, set, lines := -1, -1, -1, -1
	var causes []int
	for i := range b.cols {
		switch h := b.cols[i].head; {
		case lastGood.MatchString(h.Text) && good < 0:
			good = b.cols[i].at
		case firstBad.MatchString(h.Text) && bad < 0:
			bad = b.cols[i].at
		case causeHead.MatchString(h.Text) && bad >= 0:
			causes = append(causes, b.cols[i].at)
		case (h.Role == lexicon.SetOn || strings.HasPrefix(lexicon.Fold(h.Text), "firstfound")) && set < 0:
			set = b.cols[i].at
		case h.Role == lexicon.Line && lines < 0:
			lines = b.cols[i].at
		}
	}
	if good < 0 || bad < 0 {
		return
	}
	r.ordinals(b, good, bad, set)
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		for _, col := range []int{good, bad} {
			if c := l.at(col); c.text != "" && r.dateOf(c, false).Form == lexicon.NoDate && r.kind(c).sight.Mark != lexicon.Skipped {
				return
			}
		}
	}
	rounds := r.rounds(b, good, bad, set, lines)
	v := &grid{Table: b.g.Table, index: b.g.index, turn: b.g.turn}
	for i := range b.g.lines {
		old := &b.g.lines[i]
		l := line{number: old.number, hidden: old.hidden}
		for col := b.left; col < b.right; col++ {
			c := *old.at(col)
			if c.row == 0 {
				c.row, c.col = old.number, col
			}
			say := func(texts ...string) {
				for _, t := range texts {
					c.text, c.raw = t, t
					l.cells = append(l.cells, c)
				}
			}
			head := i == b.heads[0]
			switch {
			case i < b.heads[0]:
				l.cells = append(l.cells, c)
			case col == good && head:
				say("Check 1 date", "Check 1", "Check 2 date", "Check 2")
			case col == good:
				round := rounds[lineText(old, lines)]
				switch was := c.text; {
				case was == "" || r.setOn(&c, old, set, b):
					say("", "-", "", "-")
				case round != nil && !r.sameDayAs(round, &c):
					say(round.text, "intact", was, "intact")
				default:
					say("", "-", was, "intact")
				}
			case col == bad && head:
				say("Check 3 date", "Check 3")
			case col == bad:
				if lost := c.text != "" && c.text != old.at(good).text && r.dateOf(&c, false).Form != lexicon.NoDate; lost {
					say(c.text, r.causeOf(old, causes))
				} else {
					say("", "-")
				}
			case head && slices.Contains(causes, col):
				say("Notes")
			case head && col == set:
				say("Set")
			default:
				l.cells = append(l.cells, c)
			}
			for len(v.columns) < len(l.cells) {
				v.columns = append(v.columns, col)
			}
		}
		v.width = max(v.width, len(l.cells))
		v.lines = append(v.lines, l)
	}
	b.g, b.left, b.right = v, 0, v.width
	b.cols = r.headed(b)
}

// ordinals writes numbers of days of the year in some columns as the days they are, where the rows or the sheet name the year.
func (r *reader) ordinals(b *block, columns ...int) {
	years := -1
	for i := range b.cols {
		if b.cols[i].head.Role == lexicon.Season {
			years = b.cols[i].at
		}
	}
	for _, col := range columns {
		if col < 0 {
			continue
		}
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			c := l.at(col)
			k := r.kind(c)
			year := r.opt.Season
			if f := rec.scope.find(func(f *facts) bool { return f.season != 0 }); f != nil {
				year = f.season
			}
			if years >= 0 {
				if y := r.kind(l.at(years)); y.whole {
					year = int(y.num)
				}
			}
			if !k.whole || k.num < 60 || k.num > 330 || year < 1950 || year > 2100 {
				continue
			}
			day := survey.DateOf(year, 1, 1) + survey.Date(k.num) - 1
			was := c.text
			if r.Note(survey.Cell{File: b.g.File, Sheet: b.g.Name, Row: l.number}, "day-of-year", b.g.File+"\x00"+b.g.Name, was, func(g *group) string {
				return r.Say("Days are numbers of the day of the year (%s); “%s” is %s.", g.Where(), was, r.Date(day))
			}) {
				l.cells[col].text, l.cells[col].raw = day.String(), day.String()
			}
		}
	}
}

func lineText(l *line, col int) string {
	if col < 0 {
		return ""
	}
	return l.at(col).text
}

// setOn tells whether a cell names the day on which the nest of a row was set out: that of the row, or the one that stands above.
func (r *reader) setOn(c *cell, l *line, set int, b *block) bool {
	if set >= 0 {
		return r.sameDayAs(c, l.at(set))
	}
	f := b.top.find(func(f *facts) bool { return f.set.at != nil })
	if f == nil {
		f = r.titleDays[r.tabScope[b.g.index]]
	}
	return f != nil && f.set.at != nil && r.dateOf(c, false) == f.set.date
}

// sameDayAs tells whether two cells name one day.
func (r *reader) sameDayAs(c, other *cell) bool { return r.dateOf(c, false) == r.dateOf(other, false) }

// causeOf is what a lost nest came to, as its row says.
func (r *reader) causeOf(l *line, causes []int) string {
	for _, col := range causes {
		c := l.at(col)
		if k := r.kind(c); c.text != "" && !k.isNum && (k.sight.Mark.State() != "" && k.sight.Mark != lexicon.Intact || k.animal) {
			return c.text
		}
		if r.lex.CauseUnknown(c.text, true) && !r.kind(c).isNum {
			return c.text
		}
	}
	return string(survey.Taken)
}

// rounds returns, by line, the first of two days on which every nest of the line was looked at, where the sheet says that it was so.
func (r *reader) rounds(b *block, good, bad, set, line int) map[string]*cell {
	said := len(b.top.allChecks()) >= 2 // the title names the days
	for _, c := range r.captions {
		said = said || c.g.index == b.g.index && everyNest.MatchString(c.c.text)
	}
	if !said {
		return nil
	}
	days := map[string]map[lexicon.Date]*cell{}
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		name := lineText(l, line)
		if days[name] == nil {
			days[name] = map[lexicon.Date]*cell{}
		}
		for _, col := range []int{good, bad} {
			if c := l.at(col); c.text != "" && !r.setOn(c, l, set, b) {
				days[name][r.dateOf(c, false)] = c
			}
		}
	}
	out := map[string]*cell{}
	for name, list := range days {
		var first, last *cell
		from, to := survey.Date(0), survey.Date(0)
		for d, c := range list {
			on := d.On(false, 2000)
			if on == 0 || len(list) != 2 {
				first = nil
				break
			}
			if first == nil || on < from {
				first, from = c, on
			}
			if last == nil || on > to {
				last, to = c, on
			}
		}
		if first != nil && from < to {
			out[name] = first
		}
	}
	return out
}
