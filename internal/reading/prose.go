package reading

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A lineStory is what sentences tell of one line: its nests and what each walk found.
type lineStory struct {
	line   string
	site   string
	nests  []string
	rule   *coverRule
	set    dayFact
	walks  []walk
	scope  *scope
	block  *block
	at     *cell
	season int
}

// A walk is one check of a line told as a whole.
type walk struct {
	day   dayFact
	found map[string]lexicon.Sight // by nest
	rest  lexicon.Sight            // of the nests not named; Unknown where nothing is said of them
	at    *cell
}

// readProse reads diaries, and tables that tell what was found for a line at once.
func (r *reader) readProse(sink Sink) {
	var stories []*lineStory
	index := map[string]*lineStory{}
	story := func(line string, sc *scope, b *block) *lineStory {
		key := b.g.File + "\x00" + strings.ToLower(line)
		s := index[key]
		if s == nil {
			s = &lineStory{line: line, scope: sc, block: b}
			index[key] = s
			stories = append(stories, s)
		}
		return s
	}
	for _, b := range r.blocks {
		switch {
		case b.kind == proseTable:
			r.diary(b, story)
		case b.kind == lineTable && r.hasGroup(b):
			r.groups(b, story)
		}
	}
	r.textBlocks(story)
	for _, s := range stories {
		r.tell(s, r.silence, sink)
	}
}

var silencePattern = regexp.MustCompile(`(?i)(?:anything|everything|any|nests?|what|all)\s+(?:else\s+)?not (?:named|listed|mentioned|written)[^.]{0,30}(?:right|fine|ok|good|there|intact)|only (?:wrote|put|listed|write|mark(?:ed)?)[^.]{0,40}(?:wrong|missing|gone|lost|loss(?:es)?|bad)|s[oó]lo (?:apunt[eé]|anot[eé]|escrib[ií])[^.]{0,40}(?:falt|perd|mal)|lo dem[aá]s (?:estaba|todo)?[^.]{0,20}(?:complet|bien)|blank\s*(?:=|is|means|was)\s*(?:ok|fine|good|all there|intact|no loss)|empty\s*(?:=|is|means)\s*(?:ok|fine|good|all there|intact)|(?:en )?blanco\s*(?:=|es|quiere decir)\s*(?:bien|completo)`)

// unvisitedPattern finds what people write where a blank means that nobody looked.
var unvisitedPattern = regexp.MustCompile(`(?i)(?:blanks?|empty|nothing written|(?:en )?blanco|vac[ií][oa]s?)\b[^.]{0,30}(?:=|:|\bis\b|\bare\b|\bmeans?\b|\bes\b|quiere decir)\s*(?:that\s+|que\s+)?(?:(?:was |were |did |i |we |nobody |no one )*not?(?:t|body)? (?:there|out|visited|checked|looked|walked|gone)|n[o']t (?:visited|checked|there)|nothing left|no visit|no check|did ?n[o']t (?:look|go)|no (?:fui|fuimos|se revis[oó]|hubo)|nadie fue|no one|nobody|ya no (?:hab[ií]a|quedaba))`)

// saidOnce tells whether the sheet says something anywhere.
func (r *reader) saidOnce(pattern *regexp.Regexp) bool {
	for _, c := range r.captions {
		if pattern.MatchString(c.c.text) {
			c.used = "rule"
			return true
		}
	}
	return false
}

// diary reads a table of days and sentences.
func (r *reader) diary(b *block, story func(string, *scope, *block) *lineStory) {
	dayCol, textCols := -1, []int{}
	for i := range b.cols {
		c := &b.cols[i]
		switch {
		case dayCol < 0 && c.isDate():
			dayCol = i
		case c.share(c.prose) >= 0.3 && c.n > 0:
			textCols = append(textCols, i)
		}
	}
	var day *cell
	last := ""
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		if dayCol >= 0 {
			if c := l.at(b.cols[dayCol].at); c.text != "" && !r.kindOf(c.text).ditto && r.dateOf(c, false).Form != lexicon.NoDate {
				day = c
			}
		}
		for _, i := range textCols {
			c := l.at(b.cols[i].at)
			if c.text == "" {
				continue
			}
			d := dayFact{}
			if day != nil {
				d = dayFact{r.dateOf(day, false), day}
			}
			last = r.entry(c, d, rec.scope, b, story, last)
		}
	}
	r.use(b, "diary")
}

// textBlocks reads captions that are sentences about lines, nests and days: whole texts without a table.
func (r *reader) textBlocks(story func(string, *scope, *block) *lineStory) {
	byGrid := map[*grid][]*caption{}
	var order []*grid
	for _, c := range r.captions {
		if c.used != "" && c.used != "line" {
			continue
		}
		items := r.scan(c.c.text)
		if !between(items, aState) && !(between(items, aSetting) && between(items, someNests, nestCount, aParity)) {
			continue
		}
		if !between(items, aLine) && c.scope.lineName() == "" || !between(items, someNests, theRest, aParity, nestCount) && !saysAll(items) {
			continue
		}
		if byGrid[c.g] == nil {
			order = append(order, c.g)
		}
		byGrid[c.g] = append(byGrid[c.g], c)
	}
	for _, g := range order {
		if r.tableOf(g) { // remarks under a table are not a second telling of it
			continue
		}
		b := &block{g: g, kind: proseTable, top: r.tabScope[g.index]}
		r.blocks = append(r.blocks, b)
		day, last := dayFact{}, ""
		for _, c := range byGrid[g] {
			if d := lexicon.FindDates(c.c.text); len(d) > 0 && d[0].From < 12 {
				day = dayFact{d[0].Date, c.c}
			}
			last = r.entry(c.c, day, c.scope, b, story, last)
			c.used = "diary"
		}
	}
}

// saysAll tells whether a text says of all nests at once what was found.
func saysAll(items []item) bool {
	return slices.ContainsFunc(items, func(it item) bool {
		return it.is == aState && (strings.HasPrefix(it.word, "all") || strings.HasPrefix(it.word, "tod"))
	})
}

// tableOf tells whether a tab has a table of nests.
func (r *reader) tableOf(g *grid) bool {
	return slices.ContainsFunc(r.blocks, func(b *block) bool {
		return b.g.index == g.index && (b.kind == nestTable || b.kind == visitTable)
	})
}

// entry reads one entry of a diary: sentences about lines and their nests. It returns the line spoken of last.
func (r *reader) entry(c *cell, day dayFact, sc *scope, b *block, story func(string, *scope, *block) *lineStory, last string) string {
	text := c.raw
	if text == "" {
		text = c.text
	}
	items := r.scan(text)
	if n := sc.lineName(); n != "" {
		last = n
	}
	var lines []string
	if last != "" && !between(items, aLine) {
		lines = []string{last}
	}
	// Cut the entry at each mention of a line. "Set line 3 …" belongs to the line that follows.
	start := 0
	lead := []item(nil)
	for i := 0; i <= len(items); i++ {
		if i < len(items) && items[i].is != aLine {
			continue
		}
		if i > start || len(lines) > 0 {
			from, to := 0, len(text)
			if start > 0 {
				from = items[start-1].to
			}
			part := items[start:i]
			if i < len(items) {
				to = items[i].from
				if n := len(part); n > 0 && part[n-1].is == aSetting {
					part = part[:n-1]
				}
			}
			r.said(lines, append(lead, part...), text[from:to], c, day, sc, b, story)
		}
		if i < len(items) {
			lead = nil
			if i > 0 && items[i-1].is == aSetting {
				lead = []item{items[i-1]}
			}
			lines = items[i].list
			start = i + 1
			last = lines[len(lines)-1]
		}
	}
	return last
}

// said takes what a part of an entry says of its lines.
func (r *reader) said(lines []string, items []item, text string, c *cell, day dayFact, sc *scope, b *block, story func(string, *scope, *block) *lineStory) {
	if len(lines) == 0 {
		return
	}
	if between(items, aMeasure) && between(items, aCover) && !between(items, aState) {
		return // clumps counted: see textBelts
	}
	for _, name := range lines {
		st := story(name, sc, b)
		if st.at == nil {
			st.at = c
		}
		if s := r.siteIn(text, c, false); s.text != "" {
			st.site = s.text
		}
		own := day
		for _, it := range items {
			if it.is == aDate {
				own = dayFact{it.date, c}
				break
			}
		}
		if between(items, aSetting) && !between(items, aState) || between(items, aSetting) && st.set.at == nil && len(st.nests) == 0 {
			st.set = own
			named := slices.ContainsFunc(items, func(it item) bool { return it.is == someNests && it.word == "named" })
			for _, it := range items {
				if it.is == someNests && (it.word == "named" || !named) {
					for _, n := range it.list {
						if !slices.Contains(st.nests, n) {
							st.nests = append(st.nests, n)
						}
					}
				}
			}
			for _, it := range items {
				if n, ok := lexicon.Atoi(it.word); it.is == nestCount && ok && len(st.nests) == 0 {
					for k := 1; k <= n; k++ {
						st.nests = append(st.nests, strconv.Itoa(k))
					}
				}
			}
			if rule := r.coverRuleIn(items); rule != nil {
				st.rule = rule
			} else if st.rule == nil {
				for _, it := range items {
					if it.is == aCover {
						st.rule = &coverRule{all: it.cover.Substrate, at: c}
						break
					}
				}
			}
			if !between(items, aState) {
				continue
			}
		}
		w := walk{day: own, found: map[string]lexicon.Sight{}, at: c}
		r.walked(&w, items, text)
		if len(w.found) > 0 || w.rest.Mark != lexicon.Unknown {
			st.walks = append(st.walks, w)
		}
	}
}

// walked pairs the nests and the states that a text names, sentence by sentence.
func (r *reader) walked(w *walk, items []item, text string) {
	var pend []string // nests whose state is still to come
	state := lexicon.Sight{Mark: lexicon.Unknown, Eggs: -1}
	var lastList []string
	rest := false
	give := func(list []string, s lexicon.Sight) {
		for _, n := range list {
			if was, ok := w.found[n]; !ok || refines(was, s) {
				w.found[n] = s
			}
		}
		lastList = list
	}
	inside := 0
	for _, it := range items {
		switch it.is {
		case aBracket:
			if it.word == "(" {
				inside++
			} else if inside > 0 {
				inside--
			}
		case theRest:
			rest = true
			pend = nil
		case aBut:
			rest = false
			state = lexicon.Sight{Mark: lexicon.Unknown}
		case someNests:
			if inside > 0 {
				continue
			}
			if state.Mark != lexicon.Unknown && len(pend) == 0 && !rest {
				give(it.list, state) // "could not find 3"
				state = lexicon.Sight{Mark: lexicon.Unknown}
				continue
			}
			if len(pend) > 0 {
				pend = append(slices.Clone(pend), it.list...)
			} else {
				pend = it.list
			}
			rest = false
		case aState:
			s := lexicon.Sight{Mark: it.mark, Eggs: -1, Word: it.word}
			switch {
			case inside > 0 && len(pend) == 0: // what is said in passing
			case it.mark == lexicon.Skipped:
				pend = nil
			case rest && it.mark == lexicon.Intact:
				w.rest = s
				rest = false
			case len(pend) > 0:
				give(pend, s)
				pend = nil
			case len(lastList) > 0 && sameClause(text, items, it):
				for _, n := range lastList {
					if refines(w.found[n], s) {
						w.found[n] = s
					}
				}
			case it.mark == lexicon.Intact && (strings.HasPrefix(it.word, "all") || strings.HasPrefix(it.word, "tod")):
				w.rest = s
			default:
				state = s
			}
		case anAnimal:
			if len(pend) > 0 {
				give(pend, lexicon.Sight{Mark: lexicon.Taken, Eggs: -1, Animal: it.word})
				pend = nil
			}
		case aStop:
			pend, lastList, rest = nil, nil, false
			state = lexicon.Sight{Mark: lexicon.Unknown}
		}
	}
}

// sameClause tells whether no list of nests follows a state before the sentence ends, so that the state adds to the nests
// named before it.
func sameClause(text string, items []item, state item) bool {
	for _, it := range items {
		if it.from <= state.from {
			continue
		}
		if it.is == someNests {
			return false
		}
		if it.is == aStop {
			return true
		}
	}
	return true
}

// refines tells whether a second state says more of a nest than a first one: eaten is less than stepped on.
func refines(was, is lexicon.Sight) bool {
	return was.Mark == lexicon.Taken && (is.Mark == lexicon.Trampled || is.Mark == lexicon.Flooded || is.Mark == lexicon.Spoiled)
}

// groups reads a table that tells what was found for a line at once.
func (r *reader) groups(b *block, story func(string, *scope, *block) *lineStory) {
	e := r.newEmitter(b, nil)
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		name, _ := e.told(l, e.line, true)
		if name = lineName(name); name == "" {
			name = rec.scope.lineName()
		}
		if name == "" {
			continue
		}
		st := story(name, rec.scope, b)
		if t, _ := e.told(l, e.site, true); t != "" {
			st.site = t
		}
		if e.nest != nil {
			if list, ok := nestRange(l.at(e.nest.at).text); ok {
				st.nests = list
			}
		}
		for _, col := range []*column{e.cover, e.plant} {
			if col != nil && st.rule == nil {
				st.rule = r.ruleText(l.at(col.at).text, l.at(col.at))
			}
		}
		if e.set != nil {
			if t, c := e.told(l, e.set, false); t != "" {
				st.set = dayFact{e.dateAt(c, t, e.set), c}
				st.at = c
			}
		}
		for k := range b.visits {
			v := &b.visits[k]
			if v.found < 0 {
				continue
			}
			c := l.at(b.cols[v.found].at)
			if c.text == "" {
				continue
			}
			w := walk{found: map[string]lexicon.Sight{}, at: c}
			if v.on >= 0 {
				if t, dc := e.told(l, &b.cols[v.on], false); t != "" {
					w.day = dayFact{e.dateAt(dc, t, &b.cols[v.on]), dc}
				}
			} else if v.date.date.Form != lexicon.NoDate {
				w.day = dayFact{v.date.date, c}
			}
			r.walked(&w, r.scan(c.text), c.text)
			st.walks = append(st.walks, w)
		}
	}
	r.use(b, "groups")
}

var rangePattern = regexp.MustCompile(`(?i)^(?:nests?|nidos?|#)?\s*(\d{1,3})\s*(?:-|–|to|thru|through|al?|…|\.\.+)\s*(\d{1,3})$`)

// nestRange reads "1 al 10" as the nests 1 to 10.
func nestRange(text string) ([]string, bool) {
	m := rangePattern.FindStringSubmatch(text)
	if m == nil {
		return nil, false
	}
	a, _ := strconv.Atoi(m[1])
	b, _ := strconv.Atoi(m[2])
	if b <= a || b-a > 200 {
		return nil, false
	}
	var out []string
	for n := a; n <= b; n++ {
		out = append(out, strconv.Itoa(n))
	}
	return out, true
}

// tell turns the story of a line into rows: each nest with its looks until it was finished.
func (r *reader) tell(s *lineStory, silence bool, sink Sink) {
	if f := r.schedule(s.scope, s.line); f != nil {
		if s.set.at == nil {
			s.set = f.set
		}
		if s.site == "" {
			s.site = f.site
		}
	}
	if len(s.nests) == 0 || s.set.at == nil {
		return
	}
	e := &emitter{reader: r, b: s.block, sink: sink}
	place := survey.Cell{File: s.block.g.File, Sheet: s.block.g.Name, Row: s.at.row}
	e.row = Row{At: place}
	set := e.day(s.set.date, s.scope, 0, s.set.at, nil, s.set.at.text)
	season := 0
	if set != 0 {
		season = set.Year()
	}
	walks := s.walks
	days := make([]survey.Date, len(walks))
	for i, w := range walks {
		if w.day.at != nil {
			days[i] = e.day(w.day.date, s.scope, set, w.day.at, nil, w.day.at.text)
		}
	}
	waits := e.row.Waits
	for _, n := range s.nests {
		r.rows++
		row := &Row{At: place, NestCell: place, Ranch: r.ranchFrom(s.scope, s.line), Site: s.site, Season: season, Line: s.line, Nest: n, Cover: s.rule.of(n), SetOn: set, Sets: true, EggsLeft: -1, Waits: waits}
		if row.Site == "" {
			row.Site = r.siteFrom(s.scope, s.line)
		}
		for i, w := range walks {
			sight, ok := w.found[n]
			if !ok {
				sight = w.rest
				if sight.Mark == lexicon.Unknown && silence {
					sight = lexicon.Sight{Mark: lexicon.Intact, Eggs: -1}
				}
			}
			if sight.Mark == lexicon.Unknown || days[i] == 0 {
				continue
			}
			if !ok && len(row.Looks) > 0 && row.Looks[len(row.Looks)-1].Mark != lexicon.Intact {
				continue // the rest are those that were still going
			}
			row.Looks = append(row.Looks, Look{On: days[i], Mark: sight.Mark, Eggs: sight.Eggs, Used: true, At: survey.Cell{File: place.File, Sheet: place.Sheet, Row: w.at.row, Column: letter(w.at.col)}})
		}
		sink.Nest(row)
	}
}
