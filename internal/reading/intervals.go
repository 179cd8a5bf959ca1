package reading

import (
	"regexp"
	"slices"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A table of intervals tells a nest's end by two days: the last on which all eggs were there, and the one on which it was
// found to have failed; a column beside them may say how.

var (
	lastGood = regexp.MustCompile(`(?i)\blast\s*(?:day\s+|date\s+|time\s+|look\s+|check\s+)?(?:seen\b|known\b|good\b|ok\b|okay\b|fine\b|whole\b|alive\b|present\b|active\b|intact\b|all there\b|with (?:all|3|three)\b)|\b[uú]ltim[ao]s?\s+(?:d[ií]a\s+|fecha\s+|vez\s+)?(?:que\s+)?(?:vist[oa]s?|bien|buen[oa]|complet[oa]s?|sano|activo|intacto|con)\b`)
	firstBad = regexp.MustCompile(`(?i)\b(?:found|first|seen|noticed|discovered)\s*(?:seen\s+|found\s+|noticed\s+)?(?:to be\s+)?(?:gone|bad|lost|empty|failed|dead|destroyed|eaten|taken|missing|ruined)\b|\b(?:gone|lost|failed|eaten|taken|dead)\s+(?:on|by|date|day)\b|\b(?:date|day)\s+(?:gone|lost|failed|found gone|of loss|of failure)\b|\blast\s*(?:checked|visited|visit|check|look|looked)\b|\b(?:encontrad[oa]|hallad[oa]|primer[ao]?)\s+(?:d[ií]a\s+|vez\s+)?(?:vac[ií][oa]|perdid[oa]|destruid[oa]|comid[oa]|mal|sin)\b|\b(?:fecha|d[ií]a)\s+(?:de\s+)?(?:p[eé]rdida|perdid[oa])\b`)
	endHow   = regexp.MustCompile(`(?i)\b(?:how|what happened|cause|why|reason|fate|outcome|result|what|who|c[oó]mo|causa|qu[eé] pas[oó]|resultado|por qu[eé])\b`)
)

// spaced writes a heading such as LastPresent as two words.
func spaced(heading string) string { return humps.ReplaceAllString(heading, "$1 $2") }

var humps = regexp.MustCompile(`(\p{Ll})(\p{Lu})`)

// findIntervals tells whether a table of nests is one of intervals, and which columns hold them.
func (r *reader) findIntervals(b *block) bool {
	good, bad := -1, -1
	for i := range b.cols {
		c := &b.cols[i]
		if !c.isDate() {
			continue
		}
		switch text := spaced(c.head.Text); {
		case lastGood.MatchString(text) && good < 0:
			good = i
		case firstBad.MatchString(text) && bad < 0:
			bad = i
		}
	}
	if good < 0 || bad < 0 || !b.has(lexicon.Nest) || b.has(lexicon.Event) {
		return false
	}
	how := -1
	for i := range b.cols {
		if c := &b.cols[i]; how < 0 && !c.isDate() && c.role != lexicon.Notes && endHow.MatchString(spaced(c.head.Text)) && c.share(c.whole) < 0.5 {
			how = i
		}
	}
	set := -1
	for i := range b.cols {
		if c := &b.cols[i]; c.isDate() && i != good && i != bad && (set < 0 || c.role == lexicon.SetOn) && c.at < b.cols[good].at {
			set = i
		}
	}
	if set >= 0 {
		b.cols[set].role = lexicon.SetOn
	}
	b.interval = true
	b.visits = []visit{newVisit(), newVisit()}
	for k, i := range []int{good, bad} {
		b.visits[k].on, b.visits[k].number = i, k+1
		b.cols[i].role, b.cols[i].visit = lexicon.CheckOn, k
	}
	if how >= 0 {
		b.visits[1].found = how
		b.cols[how].role, b.cols[how].visit = lexicon.Found, 1
	}
	for i := range b.cols { // a code for whether it failed says no more than the days
		if c := &b.cols[i]; i != how && (c.role == lexicon.Found || c.role == lexicon.Check) {
			c.role, c.why = lexicon.NoRole, "interval"
		}
	}
	return true
}

// intervalLooks reads the looks of a nest of which the last good day and the day of its end are told. On the days of the
// checks that the sheet names elsewhere, up to the last good day, it was good too.
func (e *emitter) intervalLooks(l *line, sc *scope) {
	day := func(k int) (survey.Date, *cell, *column) {
		col := &e.b.cols[e.b.visits[k].on]
		c := l.at(col.at)
		if c.text == "" || e.noDay(c.text, c, "") {
			return 0, c, col
		}
		if d := e.kind(c); d.date.Form == lexicon.NoDate && (d.sight.Mark != lexicon.Unknown) {
			return 0, c, col
		}
		return e.dayIn(c, c.text, col, sc, e.row.SetOn), c, col
	}
	good, goodAt, goodCol := day(0)
	bad, badAt, badCol := day(1)
	if bad != 0 && bad == good {
		bad = 0
	}
	add := func(on survey.Date, s lexicon.Sight, c *cell, col *column, worded bool) {
		e.row.Looks = append(e.row.Looks, Look{Mark: s.Mark, Eggs: s.Eggs, Of: s.Of, On: on, At: e.place(c, col), Used: true, Worded: worded, Failed: s.Failed})
	}
	if good > e.row.SetOn {
		fine := lexicon.Sight{Mark: lexicon.Intact, Eggs: -1}
		for _, on := range e.checkDays(sc) {
			if on > e.row.SetOn && on < good {
				add(on, fine, goodAt, goodCol, true)
			}
		}
		add(good, fine, goodAt, goodCol, true)
	}
	how, howAt, howCol := "", (*cell)(nil), (*column)(nil)
	if i := e.b.visits[1].found; i >= 0 {
		howCol = &e.b.cols[i]
		howAt = l.at(howCol.at)
		how = howAt.text
	}
	if bad == 0 {
		if how == "" {
			return
		}
		if s := e.sight(how, howAt, howCol); s.Mark == lexicon.Unknown {
			e.row.Waits = true
		} else if s.Mark != lexicon.Intact && s.Mark != lexicon.Skipped && s.Mark != lexicon.Blank { // an end without its day
			e.noLookDay(&e.b.visits[1], 1, badAt, badCol, how)
		}
		return
	}
	var s lexicon.Sight
	if how != "" {
		s = e.sight(how, howAt, howCol)
	} else if s = e.lex.Sight(spaced(badCol.head.Text)); s.Mark.State() == "" || s.Mark == lexicon.Intact || s.Mark == lexicon.NotFound {
		s = lexicon.Sight{Mark: lexicon.Taken, Eggs: -1, Failed: true}
		if cause := e.causeAt(l); cause != "" {
			if c := e.lex.Sight(cause); c.Mark.State() != "" && c.Mark != lexicon.Intact {
				s = c
			}
		}
	}
	if s.Mark == lexicon.Unknown || s.Mark == lexicon.Intact {
		if s.Mark == lexicon.Intact {
			e.Refuse(e.place(howAt, howCol), how, e.Say("The nest was found “%s”, and a day of its end is written down too. Please correct one of them.", inquiry.Short(how)))
		}
		e.row.Waits = true
	}
	add(bad, s, badAt, badCol, how != "")
}

// causeAt is what the columns of causes say of a nest.
func (e *emitter) causeAt(l *line) string {
	for _, c := range e.lostHow {
		if t := l.at(c.at).text; t != "" {
			return t
		}
	}
	return ""
}

// checkDays are the days of all checks that stand above the table or in the schedule of the line, in order.
func (e *emitter) checkDays(sc *scope) []survey.Date {
	checks := sc.allChecks()
	if len(checks) == 0 {
		if s := e.schedule(sc, e.row.Line); s != nil {
			checks = s.checks
		}
	}
	var out []survey.Date
	for _, c := range checks {
		if on := e.day(c.date, sc, e.row.SetOn, c.at, nil, c.at.text); on != 0 && !slices.Contains(out, on) {
			out = append(out, on)
		}
	}
	slices.Sort(out)
	return out
}
