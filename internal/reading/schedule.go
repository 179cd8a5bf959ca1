package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// A lineFacts is what a table of lines, or a sentence, says of one line: its days, its pasture, its covers.
type lineFacts struct {
	set    dayFact
	checks []checkFact
	ranch  string
	site   string
	rule   *coverRule
	season int
	twice  bool // a line of two ranches by this name: nothing is said of either
}

// schedule returns what is said of a line elsewhere in the batch, nil where nothing is.
func (r *reader) schedule(sc *scope, line string) *lineFacts {
	if len(r.lines) == 0 || line == "" {
		return nil
	}
	season := 0
	if f := sc.find(func(f *facts) bool { return f.season != 0 }); f != nil {
		season = f.season
	}
	for _, y := range []int{season, 0} {
		if s := r.lines[lineAt{strings.ToLower(line), y}]; s != nil && !s.twice {
			return s
		}
	}
	if season == 0 { // said of one season only
		var only *lineFacts
		for k, s := range r.lines {
			if k.line == strings.ToLower(line) {
				if only != nil || s.twice {
					return nil
				}
				only = s
			}
		}
		return only
	}
	return nil
}

type lineAt struct {
	line   string
	season int
}

func (r *reader) lineFacts(line string, sc *scope) *lineFacts {
	season := 0
	if f := sc.find(func(f *facts) bool { return f.season != 0 }); f != nil {
		season = f.season
	}
	k := lineAt{strings.ToLower(line), season}
	if r.lines[k] == nil {
		r.lines[k] = &lineFacts{season: season}
	}
	return r.lines[k]
}

// readLines takes up the tables of lines, and sentences that speak of several lines.
func (r *reader) readLines() {
	for _, b := range r.blocks {
		if b.kind == lineTable && !r.hasGroup(b) {
			r.lineTable(b)
		}
		if b.kind == notOurs {
			r.bareLines(b)
		}
	}
	names := r.ownNames()
	for _, c := range r.captions {
		if c.used == "" {
			r.linesInText(c)
		}
		if c.used == "" {
			r.namedDays(c, names)
		}
	}
}

// hasGroup tells whether a table of lines tells what was found.
func (r *reader) hasGroup(b *block) bool {
	for _, v := range b.visits {
		if v.found >= 0 {
			return true
		}
	}
	return false
}

func (r *reader) lineTable(b *block) {
	line := b.column(lexicon.Line)
	if line == nil {
		return
	}
	e := r.newEmitter(b, nil)
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		name, _ := e.told(l, line, true)
		if name == "" {
			continue
		}
		f := r.lineFacts(lineName(name), rec.scope)
		if b.has(lexicon.Ranch) {
			ranch, _ := e.told(l, e.ranch, true)
			f.twice = f.twice || f.ranch != "" && f.ranch != ranch
			f.ranch = ranch
		}
		if e.set != nil {
			if t, c := e.told(l, e.set, false); t != "" {
				f.set = dayFact{e.dateAt(c, t, e.set), &cell{text: t, raw: t, shown: c.shown, row: c.row, col: c.col}}
			}
		}
		for _, v := range b.visits {
			if v.on < 0 {
				continue
			}
			col := &b.cols[v.on]
			if t, c := e.told(l, col, false); t != "" {
				f.checks = append(f.checks, checkFact{visit: v.number, name: lexicon.Fold(col.head.Text), dayFact: dayFact{e.dateAt(c, t, col), &cell{text: t, raw: t, shown: c.shown, row: c.row, col: c.col}}})
			}
		}
		if t, _ := e.told(l, e.site, true); t != "" {
			f.site = t
		}
		for i := range b.cols { // "odd grass, even yucca", under whatever heading
			c := &b.cols[i]
			if f.rule == nil && (c == e.cover || c.role == lexicon.NoRole || c.role == lexicon.Notes || c.role == lexicon.Plant) {
				f.rule = r.ruleText(l.at(c.at).text, l.at(c.at))
			}
		}
	}
	r.use(b, "lines")
}

// ruleText reads the covers of a line from one cell: "odd grass, even yucca", or one cover for all.
func (r *reader) ruleText(text string, c *cell) *coverRule {
	if text == "" {
		return nil
	}
	if rule := r.coverRuleIn(r.scan(text)); rule != nil {
		rule.at = c
		return rule
	}
	if cover, ok := r.lex.Cover(text); ok && !cover.Weak {
		return &coverRule{all: cover.Substrate, at: c}
	}
	return nil
}

// bareLines takes up rows such as "Line 1 | May 20 | Jun 3" beside a table: the days of the checks of a line. Above them
// may stand what the days are.
func (r *reader) bareLines(b *block) {
	n := 0
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		first := l.at(b.left)
		if !lineHead(first.text) {
			continue
		}
		name := lineName(first.text)
		var days []*cell
		for col := b.left + 1; col < b.right; col++ {
			if c := l.at(col); c.text != "" && r.dateOf(c, false).Form != lexicon.NoDate {
				days = append(days, c)
			}
		}
		if len(days) == 0 {
			continue
		}
		n++
		f := r.lineFacts(name, rec.scope)
		r.takeDays(f, days)
	}
	if n > 0 {
		r.use(b, "lines")
		b.kind = lineTable
	}
}

// takeDays gives a line its days in order: the checks where the sheet says when it was set, else setting first.
func (r *reader) takeDays(f *lineFacts, days []*cell) {
	for i, c := range days {
		d := dayFact{r.dateOf(c, false), c}
		if i == 0 && len(days) >= 3 && f.set.at == nil {
			f.set = d
			continue
		}
		f.checks = append(f.checks, checkFact{dayFact: d})
	}
}

var (
	weekdaySay = regexp.MustCompile(`(?i)\b(?:same|that)\s+(?:week)?day\b|\bweek 2 is\b`)
)

// linesInText takes what a sentence says of several lines: "Line 1 was put out May 4, line 2 May 5", "Lines 1 and 2 North
// pasture, line 3 Gumbo".
func (r *reader) linesInText(c *caption) {
	text := c.c.text
	items := r.scan(text)
	lines := 0
	for _, it := range items {
		if it.is == aLine {
			lines++
		}
	}
	if weekdaySay.MatchString(text) {
		r.weekdays = text
	}
	cellLine := ""
	if c.scope != nil && lines == 0 {
		cellLine = c.scope.line.text
	}
	if lines == 0 && cellLine == "" {
		return
	}
	setting := false
	var last lexicon.Date
	for i, it := range items {
		switch it.is {
		case aSetting:
			setting = true
		case aDate:
			last = it.date
		}
		if it.is != aLine {
			continue
		}
		end := len(items)
		for j := i + 1; j < len(items); j++ {
			if items[j].is == aLine {
				end = j
				break
			}
		}
		part := items[i+1 : end]
		if stop := slices.IndexFunc(part, func(it item) bool { return it.is == aStop }); stop > 0 {
			part = part[:stop]
		}
		to := len(text)
		if end < len(items) {
			to = items[end].from
		}
		if d, ok := dayAlone(text[it.to:to], last); ok && !between(part, aDate) {
			part = []item{{is: aDate, from: it.to, to: to, date: d}}
		}
		r.lineSaid(c, it.list, part, text[it.to:to], &setting, lines)
	}
}

var onlyDay = regexp.MustCompile(`(?i)^\s*[,:–-]?\s*(?:was |were |fue |on )?(?:the|el|d[ií]a)\s+(\d{1,2})(?:st|nd|rd|th)?\b`)

// dayAlone reads a day of the month that was named last: "line 1 on April 28, line 3 the 29th".
func dayAlone(text string, last lexicon.Date) (lexicon.Date, bool) {
	m := onlyDay.FindStringSubmatch(text)
	if m == nil || last.Form != lexicon.TextDate {
		return last, false
	}
	n, ok := lexicon.Atoi(m[1])
	last.B = n
	return last, ok && n >= 1 && n <= 31
}

// lineSaid takes what one part of a sentence says of its lines.
func (r *reader) lineSaid(c *caption, names []string, part []item, text string, setting *bool, lines int) {
	if between(part, theRest, someNests) || slices.ContainsFunc(part, func(it item) bool { return it.is == aState && it.mark.State() != "" }) {
		return // what was found there is for the diary
	}
	for k, it := range part {
		if it.is == aSetting {
			*setting = true
		}
		if it.is != aDate {
			continue
		}
		for _, name := range names {
			f := r.lineFacts(name, c.scope)
			d := dayFact{it.date, c.c}
			visit := 0
			if k > 0 && part[k-1].is == aVisit {
				visit = part[k-1].visit
			}
			switch {
			case visit != 0:
				f.checks = append(f.checks, checkFact{visit: visit, dayFact: d})
			case *setting && f.set.at == nil:
				f.set = d
			case checkLead.MatchString(c.c.text):
				f.checks = append(f.checks, checkFact{dayFact: d})
			}
			c.used = "line"
		}
	}
	if between(part, aMeasure, aCover) {
		return
	}
	if lines > 1 || between(part, aPasture) {
		if s := r.siteIn(text, c.c, lines > 1 && !between(part, aDate)); s.text != "" {
			for _, name := range names {
				r.lineFacts(name, c.scope).site = s.text
				c.used = "line"
			}
		}
	}
}
