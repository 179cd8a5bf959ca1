package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// looks reads the visits of a nest a row.
func (e *emitter) looks(l *line, sc *scope) {
	if e.sentence != nil {
		e.sentenceLooks(l, sc)
		return
	}
	any, ended, byHead := false, false, false
	above := ""
	defer func() { e.sortLooks(byHead) }()
	for k := range e.b.visits {
		v := &e.b.visits[k]
		if v.found < 0 {
			byHead = e.dayAlone(l, sc, k) || byHead
			continue
		}
		col := &e.b.cols[v.found]
		c := l.at(col.at)
		if c.row == 0 {
			c = e.missing(rowNumber(l), col.at)
		}
		text := c.text
		if text != "" && e.kind(c).ditto {
			if text = e.last[col.at]; e.b.g.turn && k > 0 && above != "" { // on its side the check before stands above
				text = above
			}
		} else if text != "" {
			e.last[col.at] = text
		}
		above = text
		if e.notGone(l, v, text) {
			continue
		}
		if v.on >= 0 && text != "" {
			if c := l.at(e.b.cols[v.on].at); c.text != "" && strings.EqualFold(c.text, text) && e.noDay(c.text, c, text) {
				continue
			}
		}
		s := e.sight(text, c, col)
		worded := s.Mark.State() != "" && s.Eggs < 0 && e.kindIn(c, text).sight.Mark != lexicon.No // a bare no leaves open what happened
		if v.eggs >= 0 {
			if t := l.at(e.b.cols[v.eggs].at).text; t != "" && text == "" && v.on >= 0 && l.at(e.b.cols[v.on].at).text == "" {
				if n := e.kindOf(t); n.whole && k > 0 { // of the nest's last visit, which came before
					e.row.EggsLeft, e.row.EggsCell = int(n.num), e.place(l.at(e.b.cols[v.eggs].at), &e.b.cols[v.eggs])
				}
			} else if t != "" {
				if es := e.kindOf(t).sight; es.Mark == lexicon.Zero || es.Mark == lexicon.One || es.Eggs >= 0 {
					s = withEggs(s, es, t)
				}
			}
		}
		worded = worded && !(e.lostByCause && bareLost(text))
		before := s.Mark == lexicon.Skipped && s.Already && !any
		if before { // nobody had looked before
			s.Mark = lexicon.Taken
		}
		if s.Mark == lexicon.Skipped || s.Mark == lexicon.SetOut && v.date.date.Form != lexicon.NoDate {
			continue
		}
		look := Look{Mark: s.Mark, Eggs: s.Eggs, Of: s.Of, At: e.place(c, col), Used: col.n > 0 || col.colors, Worded: worded, Before: before}
		on, dated := e.lookDay(l, sc, k, v, c, text)
		if s.Mark == lexicon.Blank && e.lossesOnly && dated && !ended {
			s.Mark = e.silent(c, col)
			look.Mark = s.Mark
		}
		if s.Mark == lexicon.Blank {
			if c.look().Unworked {
				e.refuseWait(c, col, "", e.unworked())
				continue
			}
			if !any && !dated || e.blankIsNoLook(sc, k) {
				continue
			}
			look.On = on
			e.row.Looks = append(e.row.Looks, look)
			continue
		}
		any = true
		ended = ended || s.Mark != lexicon.Intact
		e.marked(k, s)
		if s.Mark == lexicon.Unknown {
			e.row.Waits = true
		}
		if !dated {
			e.noLookDay(v, k, c, col, text)
			continue
		}
		look.On = on
		e.row.Looks = append(e.row.Looks, look)
	}
}

// dayAlone takes the day of a check for which no column says what was found, so that it is asked about.
func (e *emitter) dayAlone(l *line, sc *scope, k int) (byHead bool) {
	v := &e.b.visits[k]
	if v.on < 0 {
		return false
	}
	col := &e.b.cols[v.on]
	c := l.at(col.at)
	if c.text == "" || e.kind(c).ditto {
		return false
	}
	if !slices.ContainsFunc(e.b.visits, func(o visit) bool { return o.found >= 0 }) {
		if on := e.dateOf(c, col.style == "doy").On(e.days(e.b.g).order == dayFirst, orYear(0, e.row.SetOn.Year())); on > e.row.SetOn && on <= e.opt.Today && e.row.SetOn != 0 {
			e.row.Unfound = e.place(c, col)
		}
		return false
	}
	if on, ok := e.lookDay(l, sc, k, v, c, ""); ok {
		if e.headTells(on, c, col) {
			return true
		}
		e.row.Looks = append(e.row.Looks, Look{Mark: lexicon.Blank, Eggs: -1, On: on, At: e.place(c, col), Used: true})
	}
	return false
}

// findLossesOnly tells whether a table has states, and none of them says that eggs were there: only losses are written down.
func (e *emitter) findLossesOnly() bool {
	if e.b.kind != nestTable || e.b.tail || len(e.b.visits) == 0 {
		return false
	}
	losses := 0
	for _, v := range e.b.visits {
		if v.found < 0 {
			continue
		}
		col := &e.b.cols[v.found]
		if col.colors || v.eggs >= 0 {
			return false
		}
		for _, rec := range e.b.records {
			t := e.b.g.lines[rec.row].at(col.at).text
			if t == "" || e.kindOf(t).ditto {
				continue
			}
			s, ok := col.codes.of(t)
			if !ok {
				s = e.kindOf(t).sight
			}
			switch s.Mark {
			case lexicon.Skipped:
			case lexicon.Taken, lexicon.Trampled, lexicon.Flooded, lexicon.Spoiled, lexicon.NotFound:
				losses++
			default:
				return false
			}
		}
	}
	return losses > 0 && losses*4 < len(e.b.records)*3
}

// silent is what a blank means where only losses are written down.
func (e *emitter) silent(c *cell, col *column) lexicon.Mark {
	if e.silence {
		return lexicon.Intact
	}
	a := e.Ask(e.place(c, col), inquiry.Prompt{
		Kind: "blank", Place: "losses\x00" + e.b.g.File, Weight: inquiry.MustAnswer,
		Text: func(g *group) string {
			return e.Say("Only losses are written down (%s). Does a blank mean that all eggs were there? These nests wait for your answer.", g.Where())
		},
		Choices: []inquiry.Choice{{ID: "intact", Label: e.Say("Yes, a blank means all eggs there")}, {ID: "not-checked", Label: e.Say("No, nobody looked there")}},
	})
	switch a {
	case "intact":
		return lexicon.Intact
	case "":
		e.row.Waits = true
	}
	return lexicon.Blank
}

func withEggs(s, eggs lexicon.Sight, text string) lexicon.Sight {
	n := eggs.Eggs
	switch eggs.Mark {
	case lexicon.Zero:
		n = 0
	case lexicon.One:
		n = 1
	}
	if s.Mark == lexicon.Blank {
		s = eggs
		if n == 0 {
			s.Mark = lexicon.Taken
		} else if n < 3 {
			s.Mark = lexicon.Taken
		}
	}
	s.Eggs = n
	return s
}

// lookDay finds the day of a visit: in its column, in its heading, in the rows of the same line, in what stands above, or
// in the schedule of the line.
func (e *emitter) lookDay(l *line, sc *scope, k int, v *visit, state *cell, text string) (survey.Date, bool) {
	set := e.row.SetOn
	if v.on >= 0 {
		col := &e.b.cols[v.on]
		if t, c := e.told(l, col, false); t != "" {
			if e.noDay(t, c, text) {
				return 0, false
			}
			if e.lineDays != nil {
				e.dayAbove[k] = above{*c, e.row.Line}
			}
			if n := e.kindIn(c, t); col.ofMonth && n.whole {
				if on := e.dayOfMonth(int(n.num)); on != 0 {
					return on, true
				}
			}
			on := e.dayIn(c, t, col, sc, set)
			return on, on != 0 || e.row.Waits
		}
		if text != "" {
			c := e.lineDay(sc, k)
			if c == nil && e.lineDays != nil && e.dayAbove[k].line == e.row.Line { // several days: each holds until the next
				c = &e.dayAbove[k].day
			}
			if c != nil && c.text != "" {
				if n := e.kind(c); col.ofMonth && n.whole {
					if on := e.dayOfMonth(int(n.num)); on != 0 {
						return on, true
					}
				}
				if e.Note(e.place(state, col), "line-day", e.key(0), "", func(g *group) string {
					return e.Say("The day of a check is blank in %s; we took the day of the nests beside it on the line.", g.Where())
				}) {
					on := e.day(e.dateAt(c, c.text, col), sc, set, c, col, c.text)
					return on, on != 0 || e.row.Waits
				}
			}
		}
	}
	if v.date.date.Form != lexicon.NoDate {
		col := &e.b.cols[v.found]
		on := e.day(v.date.date, sc, set, state, col, col.head.Text)
		return on, on != 0 || e.row.Waits
	}
	if d, at := e.scheduled(sc, k, v); d.Form != lexicon.NoDate {
		on := e.day(d, sc, set, at, nil, at.text)
		return on, on != 0 || e.row.Waits
	}
	if v.after > 0 && set != 0 {
		on := set + survey.Date(v.after)
		if e.weekdays == "" {
			if !e.Note(e.place(state, &e.b.cols[v.found]), "week", e.b.g.File, e.b.cols[v.found].head.Text, func(g *group) string {
				return e.Say("You wrote %s; we counted that from the day the nest was set. The exact day helps, if you know it.", e.Quoted(g.Words[:min(4, len(g.Words))]))
			}) {
				return 0, false
			}
		}
		return on, true
	}
	return 0, false
}

// noDay tells whether a mark in the place of a day says that nobody went: "x" or "-" beside no word for what was found, or
// beside the same mark.
func (e *emitter) noDay(t string, c *cell, found string) bool {
	if c.shown == nil && e.kind(c).value == dayValue { // mostly
		return false
	}
	if e.dateOf(c, true).Form != lexicon.NoDate || found != "" && !strings.EqualFold(found, t) {
		return false
	}
	m := e.kindIn(c, t).sight.Mark
	return m == lexicon.Skipped || len([]rune(t)) <= 2 && !hasDigits(t)
}

func (e *emitter) lineDay(sc *scope, k int) *cell {
	if e.lineDays == nil {
		return nil
	}
	return e.lineDays[e.lineKey(sc)][k]
}

// lineKey names the line being read within its table.
func (e *emitter) lineKey(sc *scope) string {
	name := ""
	if e.line != nil {
		name = e.last[e.line.at]
	} else if e.nest != nil {
		name = e.row.Line
	}
	return sc.lineName() + "\x00" + name
}

// A lineVisit is one visit to one line.
type lineVisit struct {
	line  string
	visit int
}

// blankIsNoLook tells whether a blank means that nobody was there: the sheet says so, or the headings are the days on which
// somebody was out, and nothing was found on the whole line that day.
func (e *emitter) blankIsNoLook(sc *scope, k int) bool {
	if e.unvisited {
		return true
	}
	return len(e.b.visits) >= 3 && e.b.visits[k].date.date.Form != lexicon.NoDate && e.walked != nil && !e.walked[lineVisit{e.lineKey(sc), k}]
}

// allChecks are the days of checks that stand above, each on a line of its own or together, in the order of the sheet.
func (s *scope) allChecks() []checkFact {
	if s == nil {
		return nil
	}
	if s.up == nil || s.line.text != "" && len(s.checks) > 0 {
		return s.checks
	}
	return append(slices.Clone(s.up.allChecks()), s.checks...)
}

// scheduled finds the day of the k-th visit in what stands above the table, or in the schedule of the line.
func (e *emitter) scheduled(sc *scope, k int, v *visit) (lexicon.Date, *cell) {
	pick := func(list []checkFact) (lexicon.Date, *cell) {
		name := ""
		if v.found >= 0 && len(list) > 0 {
			name = lexicon.Fold(e.b.cols[v.found].head.Text)
		}
		for _, c := range list {
			if c.name != "" && c.name == name || c.after > 0 && c.after == v.after {
				return c.date, c.at
			}
		}
		order := 0
		for i, c := range list {
			n := c.visit
			if n == 0 {
				order++
				n = order
			}
			if n == lexicon.Last && i == len(list)-1 && k == len(e.b.visits)-1 || n == k+1 || v.number > 0 && n == v.number {
				return c.date, c.at
			}
		}
		return lexicon.Date{}, nil
	}
	if len(e.b.visits) == 1 && v.number == 0 { // a table of one look has the day that stands right above it
		if f := sc.find(func(f *facts) bool { return len(f.checks) > 0 }); f != nil && len(f.checks) == 1 && (f.line.text == "" || strings.EqualFold(f.line.text, e.row.Line)) {
			return f.checks[0].date, f.checks[0].at
		}
	}
	if d, at := pick(sc.allChecks()); at != nil {
		return d, at
	}
	if s := e.schedule(sc, e.row.Line); s != nil && len(s.checks) > 0 {
		return pick(s.checks)
	}
	if t := e.titleDays[e.tabScope[e.b.g.index]]; t != nil {
		return pick(t.checks)
	}
	return lexicon.Date{}, nil
}

func (e *emitter) noLookDay(v *visit, k int, c *cell, col *column, text string) {
	if e.row.Waits {
		return
	}
	where := e.place(c, nil)
	where.Column = lexicon.CheckName(lexicon.CheckOn, k+1)
	if v.on >= 0 {
		where.Column = e.b.cols[v.on].head.Text
	}
	e.Refuse(where, "", e.Say("The nest was found “%s”, but the day of that check is not written down. Please fill in the date.", inquiry.Short(text)))
	e.row.Waits = true
}

// sentenceLooks reads visits told in sentences.
func (e *emitter) sentenceLooks(l *line, sc *scope) {
	c := l.at(e.sentence.at)
	text := c.raw
	if text == "" {
		text = c.text
	}
	for _, t := range e.allTellings(text) {
		if t.set {
			continue
		}
		if t.sight.Mark == lexicon.Unknown {
			if t.sight = e.sight(t.text, c, e.sentence); t.sight.Mark == lexicon.Unknown {
				e.row.Waits = true
			}
		}
		look := Look{Mark: t.sight.Mark, Eggs: t.sight.Eggs, Of: t.sight.Of, At: e.place(c, e.sentence), Used: true}
		switch {
		case t.date.Form != lexicon.NoDate:
			look.On = e.day(t.date, sc, e.row.SetOn, c, e.sentence, t.when)
		case t.visit > 0 && t.visit <= len(e.b.visits) && e.b.visits[t.visit-1].on >= 0:
			on, ok := e.lookDay(l, sc, t.visit-1, &e.b.visits[t.visit-1], c, t.text)
			if !ok {
				e.noLookDay(&e.b.visits[t.visit-1], t.visit-1, c, e.sentence, t.text)
				continue
			}
			look.On = on
		default:
			if d, at := e.scheduled(sc, t.visit-1, &visit{number: t.visit}); d.Form != lexicon.NoDate {
				look.On = e.day(d, sc, e.row.SetOn, at, nil, at.text)
			}
		}
		if t.sight.Mark == lexicon.Skipped || look.On == 0 {
			continue
		}
		e.row.Looks = append(e.row.Looks, look)
	}
	e.noteSentence(c, text)
}

func (e *emitter) noteSentence(c *cell, text string) {
	if text == "" {
		return
	}
	e.Note(e.place(c, e.sentence), "sentences", e.b.g.File, "", func(g *group) string {
		return e.Say("We took the checks out of the sentences under “%s”.", g.Cells[0].Column)
	})
}

// visitLook reads the one look of a row of a table of visits.
func (e *emitter) visitLook(l *line, sc *scope) {
	if len(e.b.visits) == 0 {
		return
	}
	v := &e.b.visits[0]
	look := Look{Eggs: -1, Used: true}
	var s lexicon.Sight
	var c *cell
	var col *column
	s.Mark, s.Eggs = lexicon.Blank, -1
	if v.found >= 0 {
		col = &e.b.cols[v.found]
		c = l.at(col.at)
		if c.row == 0 {
			c = e.missing(rowNumber(l), col.at)
		}
		s = e.sight(c.text, c, col)
	}
	look.Worded = s.Mark.State() != "" && s.Eggs < 0
	if e.eggsLeft != nil {
		if t := l.at(e.eggsLeft.at).text; t != "" {
			if es := e.kindOf(t).sight; es.Mark == lexicon.Zero || es.Mark == lexicon.One || es.Eggs >= 0 {
				s = withEggs(s, es, t)
			}
		}
	}
	if v.eggs >= 0 {
		if t := l.at(e.b.cols[v.eggs].at).text; t != "" {
			if es := e.kindOf(t).sight; es.Mark == lexicon.Zero || es.Mark == lexicon.One || es.Eggs >= 0 {
				s = withEggs(s, es, t)
			}
		}
	}
	if c == nil {
		c, col = e.missing(rowNumber(l), 0), nil
		if e.event != nil && s.Mark == lexicon.Blank { // what was done may say what was found: "gone"
			c, col = l.at(e.event.at), e.event
			s = e.kind(c).sight
		}
	}
	look.Mark, look.Eggs, look.Of, look.At = s.Mark, s.Eggs, s.Of, e.place(c, col)
	if e.second != nil {
		if t := l.at(e.second.at).text; t != "" {
			look.Second = e.sight(t, l.at(e.second.at), e.second).Mark
		}
	}
	if e.who != nil {
		look.Who = lexicon.Fold(l.at(e.who.at).text)
	}
	if s.Mark == lexicon.Skipped {
		return
	}
	if s.Mark == lexicon.Unknown {
		e.row.Waits = true
	}
	on, dated := e.visitDay(l, sc, v, c)
	if !dated {
		if s.Mark == lexicon.Blank {
			return
		}
		where := e.place(c, nil)
		where.Column = "checked_on"
		if v.on >= 0 {
			where.Column = e.b.cols[v.on].head.Text
		}
		if !e.row.Waits {
			e.Refuse(where, "", e.Say("The day of this check is not written down. Please fill in the date."))
		}
		e.row.Waits = true
		return
	}
	look.On = on
	if s.Mark == lexicon.Blank && c.look().Unworked {
		e.refuseWait(c, col, "", e.unworked())
	}
	e.row.Looks = append(e.row.Looks, look)
}

// visitDay finds the day of a visit that is a row of its own.
func (e *emitter) visitDay(l *line, sc *scope, v *visit, c *cell) (survey.Date, bool) {
	if v.on >= 0 {
		col := &e.b.cols[v.on]
		if t, dc := e.told(l, col, false); t != "" {
			on := e.dayIn(dc, t, col, sc, e.row.SetOn)
			return on, on != 0 || e.row.Waits
		}
		if e.last[col.at] != "" && e.b.kind == visitTable && col.n*2 < col.rows { // written once for a run of rows
			on := e.day(e.dateAt(c, e.last[col.at], col), sc, e.row.SetOn, c, col, e.last[col.at])
			return on, on != 0 || e.row.Waits
		}
	}
	if f := sc.find(func(f *facts) bool { return len(f.checks) > 0 }); f != nil {
		k := f.checks[len(f.checks)-1]
		on := e.day(k.date, sc, e.row.SetOn, k.at, nil, k.at.text)
		return on, on != 0 || e.row.Waits
	}
	number := e.b.visitOf()
	if s := e.schedule(sc, e.row.Line); s != nil && number > 0 && number <= len(s.checks) {
		k := s.checks[number-1]
		on := e.day(k.date, sc, e.row.SetOn, k.at, nil, k.at.text)
		return on, on != 0 || e.row.Waits
	}
	return 0, false
}

// visitOf is the number of the visit that a whole table tells of, by its tab's name: "Check 2".
func (b *block) visitOf() int {
	if m := visitPattern.FindStringSubmatch(b.g.Name); m != nil {
		for _, w := range m[1:] {
			if n, ok := visitNumbers[strings.ToLower(w)]; ok {
				return n
			}
			if n, ok := lexicon.Atoi(w); ok {
				return n
			}
		}
	}
	return 0
}

// sight reads a cell of what was found. The same word of a column is read once: what was said of it is said of each cell.
func (e *emitter) sight(text string, c *cell, col *column) lexicon.Sight {
	k := e.kindIn(c, text)
	if text == "" || c.shown != nil || k.number == 0 {
		return e.sightOf(text, c, col)
	}
	read := col.sights.at(k)
	if *read == nil {
		*read = &readSight{}
		(*read).said = e.Listen(func() { (*read).sight = e.sightOf(text, c, col) })
	} else if len((*read).said) > 0 {
		e.Repeat((*read).said, e.place(c, col))
	}
	return (*read).sight
}

// A readSight is what a word of a column was read as, and what was said of it.
type readSight struct {
	sight lexicon.Sight
	said  inquiry.Said
}

// sightOf reads a cell of what was found: by its key, its color, its words; a word nobody knows is asked about once.
func (e *emitter) sightOf(text string, c *cell, col *column) lexicon.Sight {
	if col.colors && (text == "" || col.role == lexicon.CheckOn || e.kindOf(text).whole || c.look().Fill != "" && e.kindOf(text).sight.Mark == lexicon.Unknown) {
		return e.colorSight(c, col)
	}
	if text == "" {
		if c.look().Fill != "" && !col.colors && col.loneColor() {
			return e.askColor(c, col)
		}
		return lexicon.Sight{Mark: lexicon.Blank, Eggs: -1}
	}
	if m, ok := col.codes.of(text); ok && !col.codes.covers {
		e.noteKey(c, col)
		if col.codes.vague(text) {
			m.Doubt, m.How, m.Word = true, lexicon.Known, lexicon.Words(text)
			return e.sightTold(text, c, col, m)
		}
		return m
	}
	word := lexicon.Words(text)
	if settled, ok := e.opt.Words["state/"+word]; ok {
		if m := markNamed(settled); m != lexicon.Unknown {
			return lexicon.Sight{Mark: m, Eggs: -1, Word: word}
		}
	}
	if col.codes.unsaid(text) {
		return e.askState(text, c, col, lexicon.Sight{Eggs: -1})
	}
	if e.kindOf(text).whole && e.numbersAreCodes() {
		return e.askState(text, c, col, lexicon.Sight{Eggs: -1})
	}
	s := e.kindOf(text).sight
	if cause := noneAnd.FindStringSubmatch(text); cause != nil && e.countsEggs() { // "0 pred" among "3" and "3 eggs"
		if s = e.kindOf(cause[1]).sight; s.Mark == lexicon.Unknown || s.Mark == lexicon.Intact {
			s = lexicon.Sight{Mark: lexicon.Taken}
		}
		s.Eggs, s.Word, s.How = 0, word, lexicon.Known
	}
	if m, ok := e.loneCode(text); s.Mark == lexicon.Unknown && ok {
		e.noteKey(c, col)
		return m
	}
	if s.Mark == lexicon.Unknown && c.look().Comment != "" {
		if said, ok := e.commented(text, c.look().Comment); ok {
			return e.sightTold(text, c, col, said)
		}
	}
	if s.Mark == lexicon.Zero && col.head.OfEggs && isLetters(text) { // none, under "Eggs left"
		s.Mark, s.Eggs, s.Weak = lexicon.Taken, 0, false
	}
	if s.Mark == lexicon.NotFound && s.How == lexicon.Plain && e.lostByCause {
		s = lexicon.Sight{Mark: lexicon.Taken, Eggs: -1, How: lexicon.Known, Word: s.Word}
	}
	if s.Mark == lexicon.Taken && vagueLoss.MatchString(text) && e.namesTakers() {
		s.Doubt, s.How = true, lexicon.Known
	}
	if s.Mark == lexicon.NotFound && s.How == lexicon.Plain && lostEggs(col, text) {
		s.Doubt, s.How = true, lexicon.Known
	}
	switch s.Mark {
	case lexicon.Yes, lexicon.No, lexicon.Zero, lexicon.One:
		if asked, ok := e.asked(s, col); ok {
			return asked
		}
	}
	switch s.Mark {
	case lexicon.Unknown, lexicon.Yes, lexicon.No, lexicon.SetOut:
		if s.Mark == lexicon.SetOut && col.head.Set {
			return lexicon.Sight{Mark: lexicon.Skipped, Eggs: -1}
		}
		return e.askState(text, c, col, s)
	}
	return e.sightTold(text, c, col, s)
}

// numbersAreCodes tells whether the whole numbers of what was found cannot be eggs left: one is above any clutch that is set out, and neither a
// heading nor a column of the eggs that were set speaks of eggs. What each means is asked.
func (e *emitter) numbersAreCodes() bool {
	if e.eggsSet != nil {
		return false
	}
	above := false
	for _, v := range e.b.visits {
		if v.found < 0 {
			continue
		}
		col := &e.b.cols[v.found]
		if col.head.OfEggs || v.eggs >= 0 {
			return false
		}
		for t := range col.distinct {
			k := e.kindOf(t)
			above = above || k.whole && k.num > mostEggs
		}
	}
	return above
}

// vagueLoss is a word for a nest that came to nothing, and says nothing of how.
var vagueLoss = regexp.MustCompile(`(?i)^(?:failed|fail|failure|fracas[oó]|fallido|(?:eggs? |nest )?(?:gone|lost|missing|destroyed|loss|unknown)?[\s,;:(/–-]*(?:(?:cause|reason|fate|loss|predator)?\s*(?:is |was )?(?:unknown|undetermined|not known|not determined|unk\.?|unclear)|(?:unknown|undetermined|unclear) (?:cause|reason|loss|fate))\)?)$`)

// vague tells whether a key says of a code that the eggs were gone and nobody knows how, beside one for those that were taken.
func (k *codeGroup) vague(text string) bool {
	m, ok := k.codes[foldCode(text)]
	if !ok || m.sight.Mark != lexicon.Taken || !vagueLoss.MatchString(m.text) {
		return false
	}
	for code, o := range k.codes {
		if code != foldCode(text) && o.sight.Mark == lexicon.Taken && !vagueLoss.MatchString(o.text) {
			return true
		}
	}
	return false
}

// namesTakers tells whether other words of the table say that eggs were taken, so that a vague one may mean another end.
func (e *emitter) namesTakers() bool {
	return slices.ContainsFunc(e.b.visits, func(v visit) bool {
		if v.found < 0 {
			return false
		}
		for t := range e.b.cols[v.found].distinct {
			if s := e.kindOf(t).sight; s.Mark == lexicon.Taken && !s.Weak && s.Eggs < 0 && !vagueLoss.MatchString(t) {
				return true
			}
		}
		return false
	})
}

// noneAnd is no egg and what became of them: "0 pred", "0 - cow".
var noneAnd = regexp.MustCompile(`(?i)^(?:0|none)\s*[,:(–-]?\s*(\pL[\pL ]*)\)?$`)

// countsEggs tells whether what was found is told by how many eggs there were: bare threes stand in its columns.
func (e *emitter) countsEggs() bool {
	return slices.ContainsFunc(e.b.visits, func(v visit) bool {
		return v.found >= 0 && (e.b.cols[v.found].distinct["3"] > 0 || e.b.cols[v.found].distinct["3 eggs"] > 0)
	})
}

// mostEggs is more than anybody sets out in one nest: common practice is three, no source.
const mostEggs = 6

// loneCode looks a code that says nothing itself up in the keys of the file.
func (e *emitter) loneCode(text string) (lexicon.Sight, bool) {
	if len([]rune(text)) > 4 {
		return lexicon.Sight{}, false
	}
	for _, k := range e.codes {
		if m, ok := k.codes[foldCode(text)]; ok && !k.covers && k.field == "" && k.file == e.b.g.File && m.sight.Mark != lexicon.Unknown {
			return m.sight, true
		}
	}
	return lexicon.Sight{}, false
}

var seeComment = regexp.MustCompile(`(?i)\b(?:see|read|comment|note|nota|ver|comentario)\b`)

// commented reads what was found from the note attached to a cell that sends one there.
func (e *emitter) commented(text, comment string) (lexicon.Sight, bool) {
	if !seeComment.MatchString(text) || len(comment) > 300 {
		return lexicon.Sight{}, false
	}
	if _, after, ok := strings.Cut(comment, ":"); ok { // who wrote it
		comment = after
	}
	s := e.lex.Sight(lexicon.Tidy(comment))
	return s, s.Mark != lexicon.Unknown && s.Mark != lexicon.Yes && s.Mark != lexicon.No
}

// of looks a cell up in a key: the code alone, or with words beside it.
func (k *codeGroup) of(text string) (lexicon.Sight, bool) {
	if k == nil {
		return lexicon.Sight{}, false
	}
	if m, ok := k.codes[foldCode(text)]; ok {
		return m.sight, m.sight.Mark != lexicon.Unknown
	}
	if first, _, more := strings.Cut(text, " "); more && !k.covers {
		if m, ok := k.codes[foldCode(first)]; ok {
			return m.sight, m.sight.Mark != lexicon.Unknown
		}
	}
	return lexicon.Sight{}, false
}

func (e *emitter) noteKey(c *cell, col *column) {
	e.Note(e.place(c, col), "key", e.b.g.File, "", func(g *group) string {
		return e.Say("We read the codes under “%s” by the key on the sheet.", g.Cells[0].Column)
	})
}

func markNamed(s string) lexicon.Mark {
	if s == "not-checked" {
		return lexicon.Skipped
	}
	return lexicon.MarkOf(survey.State(s))
}

// asked reads yes and no, or 1 and 0, by the question that the heading puts.
func (e *emitter) asked(s lexicon.Sight, col *column) (lexicon.Sight, bool) {
	asks := col.asks
	if asks == lexicon.Unknown {
		return s, false
	}
	if (s.Mark == lexicon.Zero || s.Mark == lexicon.One) && (col.maxNum > 1 || col.sight > 0) {
		return s, false
	}
	yes := s.Mark == lexicon.Yes || s.Mark == lexicon.One
	if asks == lexicon.NotFound {
		s.Mark, s.Eggs = lexicon.NotFound, -1
		if yes {
			s.Mark = lexicon.Blank
		}
		return s, true
	}
	s.Mark = lexicon.Taken
	if yes == (asks == lexicon.Intact) {
		s.Mark = lexicon.Intact
	}
	s.Eggs = -1
	return s, true
}

// askState asks what a word or letter means that nobody knows.
func (e *emitter) askState(text string, c *cell, col *column, s lexicon.Sight) lexicon.Sight {
	word := lexicon.Words(text)
	cell := e.place(c, col)
	a := ""
	if e.Asked("state", word) {
		a = e.Again(cell, "state", word)
	} else {
		prompt := inquiry.Prompt{
			Kind: "state", Place: word, Weight: inquiry.MustAnswer, Word: "state/" + word,
			Text: func(g *group) string {
				return e.Say("“%s” stands under “%s” (%s). What was found? These nests wait for your answer.", inquiry.Short(text), cell.Column, g.Where())
			},
			Choices: e.stateChoices(),
		}
		a = e.Ask(cell, prompt)
	}
	if m := markNamed(a); m != lexicon.Unknown {
		return lexicon.Sight{Mark: m, Eggs: -1, Word: word}
	}
	e.Refuse(cell, text, e.Say("“%s” is not a state we know; %s. Please use one of these words.", inquiry.Short(text), e.states()))
	return lexicon.Sight{Mark: lexicon.Unknown, Eggs: -1, Word: word}
}

func (r *reader) stateChoices() []inquiry.Choice {
	return []inquiry.Choice{
		{ID: string(survey.Taken), Label: r.Say("Eggs taken, all or some")}, {ID: string(survey.Intact), Label: r.Say("All eggs there")},
		{ID: string(survey.Lost), Label: r.Say("The nest was not found again")}, {ID: string(survey.Spoiled), Label: r.Say("Spoiled: burst, hail, fire, plow")},
		{ID: string(survey.Trampled), Label: r.Say("Trampled by livestock")}, {ID: string(survey.Flooded), Label: r.Say("Flooded")},
		{ID: "not-checked", Label: r.Say("Nobody looked, or nothing was left to look at")},
	}
}

// states lists the words for a state that sheets mostly use, as the middle of a sentence.
func (r *reader) states() string {
	return r.Say("we know intact (ok, good, whole), taken (gone, eaten, depredated), lost (not found again), spoiled, trampled and flooded")
}

// sightTold tells of a word that was read as a state, and asks where it has two usual meanings.
func (e *emitter) sightTold(text string, c *cell, col *column, s lexicon.Sight) lexicon.Sight {
	if s.How == lexicon.Plain || s.Mark == lexicon.Skipped || s.Mark == lexicon.Zero || s.Mark == lexicon.One {
		return s
	}
	cell := e.place(c, col)
	if s.Doubt && s.Mark != lexicon.Taken && s.Mark != lexicon.NotFound {
		return e.askSure(text, cell, s)
	}
	if s.Doubt && s.Mark == lexicon.NotFound && e.eggsMissing(col) {
		s.Mark, s.Doubt = lexicon.Taken, false
	}
	if s.Doubt {
		byDefault := s.Mark.State()
		a := e.Ask(cell, inquiry.Prompt{
			Kind: "state", Place: s.Word, Weight: inquiry.PleaseLook, Default: string(byDefault), Word: "state/" + s.Word,
			Text: func(g *group) string {
				if byDefault == survey.Taken {
					return e.Say("“%s” stands in %s. Were the eggs gone, or could the nest not be found again? We took it that the eggs were taken.", text, g.Where())
				}
				return e.Say("“%s” stands in %s. Were the eggs gone, or could the nest not be found again? We took it that the nest could not be found again.", text, g.Where())
			},
			Choices: []inquiry.Choice{{ID: string(survey.Taken), Label: e.Say("The eggs were gone")}, {ID: string(survey.Lost), Label: e.Say("The nest was not found again")}},
		})
		s.Mark = lexicon.MarkOf(survey.State(a))
		return s
	}
	state := s.Mark.State()
	if !e.Note(cell, "state", string(state), text, func(g *group) string {
		return e.Say("We read %s as %s.", e.Quoted(g.Words), e.Found(state))
	}) {
		e.Refuse(cell, text, e.Say("“%s” is not a state we know; %s. Please use one of these words.", inquiry.Short(text), e.states()))
		s.Mark = lexicon.Unknown
	}
	return s
}

// eggsMissing tells whether "missing" in a column is said of eggs: the heading names them, or other cells say that some are
// missing, or that a nest was not found.
func (e *emitter) eggsMissing(col *column) bool {
	if col.head.OfEggs {
		return true
	}
	for t := range col.distinct {
		if s := e.kindOf(t).sight; s.Mark == lexicon.NotFound && !s.Doubt || s.Mark == lexicon.Taken && s.Eggs >= 0 && strings.ContainsAny(t, "0123456789") && len(t) > 1 {
			return true
		}
	}
	return false
}

// bareLost tells whether a cell says "lost" and no more.
func bareLost(text string) bool { return strings.EqualFold(text, "lost") }

// findLost tells whether "lost" is said of eggs, as the remarks beside it name who took or broke them.
func (e *emitter) findLost() bool {
	if e.b.tail || e.b.inOurForm() || e.notes == nil && e.b.column(lexicon.LostHow) == nil {
		return false
	}
	how := e.b.column(lexicon.LostHow)
	caused, lost := 0, 0
	for _, rec := range e.b.records[:min(len(e.b.records), sampleRows)] {
		l := &e.b.g.lines[rec.row]
		for _, v := range e.b.visits {
			if v.found < 0 || !bareLost(l.at(e.b.cols[v.found].at).text) {
				continue
			}
			lost++
			for _, c := range []*column{e.notes, how} {
				if c == nil {
					continue
				}
				switch s := e.kind(l.at(c.at)).sight; s.Mark {
				case lexicon.Taken, lexicon.Trampled, lexicon.Flooded, lexicon.Spoiled:
					if !s.Weak && len(l.at(c.at).text) > 2 {
						caused++
					}
				}
			}
		}
	}
	return lost > 0 && caused*2 >= lost
}

// lostEggs tells whether a bare "lost" is said of eggs, as other cells that begin with the same word say it: "lost 2", "lost all".
func lostEggs(col *column, word string) bool {
	for t := range col.distinct {
		if rest, ok := cutFold(t, word+" "); ok && rest != "" && (lexicon.Digit(rest[0]) || lexicon.Words(rest) == "all" || lexicon.Words(rest) == "todos" || strings.Contains(lexicon.Words(rest), "egg")) {
			return true
		}
	}
	return false
}

// askSure asks about a word with a question mark: ok?
func (e *emitter) askSure(text string, at survey.Cell, s lexicon.Sight) lexicon.Sight {
	state := s.Mark.State()
	a := e.Ask(at, inquiry.Prompt{
		Kind: "state", Place: s.Word, Weight: inquiry.PleaseLook, Default: string(state), Word: "state/" + s.Word,
		Text: func(g *group) string {
			return e.Say("“%s” stands in %s. Is that certain? We took it as %s.", text, g.Where(), e.Found(state))
		},
		Choices: e.stateChoices(),
	})
	s.Mark = lexicon.MarkOf(survey.State(a))
	return s
}

// colorSight reads what was found from the color of a cell, by the key of colors.
func (e *emitter) colorSight(c *cell, col *column) lexicon.Sight {
	if c.look().Fill == "" {
		return lexicon.Sight{Mark: lexicon.Blank, Eggs: -1}
	}
	if k := e.colorKey(e.b); k != nil {
		if m, ok := k.colors[c.look().Fill]; ok {
			e.Note(e.place(c, col), "colors", e.b.g.File, "", func(g *group) string {
				return e.Say("We read the colors under “%s” by the key on the sheet.", g.Cells[0].Column)
			})
			s := m.sight
			s.Eggs = -1
			return s
		}
	}
	return e.askColor(c, col)
}

// loneColor tells whether a painted empty cell stands among cells with words, so that its color must say something: few cells are
// painted, or none of those with words.
func (c *column) loneColor() bool {
	return c.n > 0 && c.fill > 0 && (c.fill*3 < c.rows || c.fillWords == 0)
}

func (e *emitter) askColor(c *cell, col *column) lexicon.Sight {
	cell := e.place(c, col)
	color := c.look().Fill
	a := e.Ask(cell, inquiry.Prompt{
		Kind: "colour", Place: e.b.g.File + "\x00" + color, Weight: inquiry.MustAnswer,
		Text: func(g *group) string {
			return g.Count("%d cell is %s (%s), and nothing on the sheet says what that color means. What was found there? It waits for your answer.",
				"%d cells are %s (%s), and nothing on the sheet says what that color means. What was found there? They wait for your answer.", g.N, g.N, e.color(color), g.Where())
		},
		Choices: append(e.stateChoices(), inquiry.Choice{ID: "nothing", Label: e.Say("It says nothing about the nests")}),
	})
	if a == "nothing" {
		return lexicon.Sight{Mark: lexicon.Blank, Eggs: -1}
	}
	return lexicon.Sight{Mark: markNamed(a), Eggs: -1}
}

// color names the color of a cell.
func (r *reader) color(name string) string {
	switch name {
	case "yellow":
		return r.Say("yellow")
	case "orange":
		return r.Say("orange")
	case "red":
		return r.Say("red")
	case "green":
		return r.Say("green")
	case "blue":
		return r.Say("blue")
	case "grey":
		return r.Say("gray")
	}
	return r.Say("colored")
}

// coverWord reads a cover, telling what was tidied; a word nobody knows is asked about once.
func (r *reader) coverWordAt(v string, cell survey.Cell, codes *codeGroup) (s survey.Substrate, plant string) {
	if codes != nil && codes.covers {
		if m, ok := codes.codes[foldCode(v)]; ok && m.cover.Substrate != "" {
			return m.cover.Substrate, ""
		}
	}
	if settled := r.opt.Words["substrate/"+lexicon.Words(v)]; settled != "" {
		if settled == "keep" {
			return r.own(v), ""
		}
		return survey.Substrate(settled), ""
	}
	k := r.kindOf(v)
	if k.isCover {
		c := k.cover
		switch {
		case c.How == lexicon.Plain:
			return c.Substrate, ""
		case c.Plant:
			if r.Note(cell, "plant", string(c.Substrate), v, func(g *group) string {
				return r.Say("We read %s as %s and kept the plant's name too.", r.Quoted(g.Words), r.Cover(c.Substrate))
			}) {
				return c.Substrate, strings.Clone(v)
			}
		case r.Note(cell, "substrate", string(c.Substrate), v, func(g *group) string {
			if len(g.Words) > 1 {
				return r.Say("We put %s together as %s.", r.Quoted(g.Words), r.Cover(c.Substrate))
			}
			return r.Say("We read %s as %s.", r.Quoted(g.Words), r.Cover(c.Substrate))
		}):
			return c.Substrate, ""
		}
		return r.own(v), ""
	}
	if (r.words[v] < 3 || r.words[v]*8 < r.words[""]) && len(v) > 3 && r.Answer("substrate", lexicon.Fold(v)) == "" {
		r.Note(cell, "own-cover", "", v, func(g *group) string {
			return r.Say("%s: new to us as a place for a nest; it stands as a kind of its own.", r.Quoted(g.Words))
		})
		return r.own(v), ""
	}
	a := ""
	if place := lexicon.Fold(v); r.Asked("substrate", place) {
		a = r.Again(cell, "substrate", place)
	} else {
		a = r.Ask(cell, inquiry.Prompt{
			Kind: "substrate", Place: place, Weight: inquiry.PleaseLook, Default: "keep", Word: "substrate/" + lexicon.Words(v),
			Text: func(g *group) string {
				return r.Say("“%s” is new to us as a place for a nest (%s). What is it most like? Until you say, it stands as a kind of its own.", inquiry.Short(v), g.Where())
			},
			Choices: r.coverChoices(true),
		})
	}
	if a == "keep" {
		return r.own(v), ""
	}
	return survey.Substrate(a), strings.Clone(v)
}

func (r *reader) coverChoices(keep bool) []inquiry.Choice {
	list := []inquiry.Choice{
		{ID: string(survey.Bunchgrass), Label: inquiry.Capital(r.Cover(survey.Bunchgrass))}, {ID: string(survey.PricklyPear), Label: r.Say("Prickly pear or other cactus")},
		{ID: string(survey.Yucca), Label: inquiry.Capital(r.Cover(survey.Yucca))}, {ID: string(survey.Shrub), Label: inquiry.Capital(r.Cover(survey.Shrub))}, {ID: string(survey.Forb), Label: r.Say("Forb or weed")},
	}
	if keep {
		list = append(list, inquiry.Choice{ID: "keep", Label: r.Say("A kind of its own")})
	}
	return list
}

// coverWord reads a cover in a cell, or told from above. The same word of a column is read once.
func (e *emitter) coverWord(v string, c *cell, col *column) (survey.Substrate, string) {
	k := e.kindIn(c, v)
	if k.number == 0 {
		return e.coverWordAt(v, e.place(c, col), col.codes)
	}
	read := col.coverWords.at(k)
	if *read == nil {
		w := &readCover{}
		w.said = e.Listen(func() { w.cover, w.plant = e.coverWordAt(v, e.place(c, col), col.codes) })
		*read = w
	} else if len((*read).said) > 0 {
		e.Repeat((*read).said, e.place(c, col))
	}
	return (*read).cover, (*read).plant
}

// A readCover is what a word of a column was read as, and what was said of it.
type readCover struct {
	cover survey.Substrate
	plant string
	said  inquiry.Said
}

// own keeps a sheet's own word in the spelling in which it was first seen.
func (r *reader) own(v string) survey.Substrate {
	key := lexicon.Fold(v)
	if key == "" {
		key = v
	}
	s, ok := r.subs[key]
	if !ok {
		s = survey.Substrate(strings.ReplaceAll(v, "_", " "))
		r.subs[key] = s
	}
	return s
}
