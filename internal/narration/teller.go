package narration

import (
	"slices"
	"sort"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A teller goes through the sentences of a document and notes each fact that they tell.
//
// It goes through twice: what the lines and nests are called, and how many there are, may be said after they are spoken of.
type teller struct {
	*Document
	resolve func(d lexicon.Date, near survey.Date, at Span) survey.Date

	lineNames  map[string]bool   // that were told so far, or at the first pass
	called     map[string]called // lines by what they are called: "north", "school section"
	idLines    map[string]bool   // the lines within names such as A7 or 1-4
	dashIDs    bool
	nameless   bool // the text names no line, and tells of one
	setsOut    bool // nests are set out somewhere
	feminine   bool // the text says "linea", so that "la 2" may be one
	ownUnits   map[string]float64
	ownCovers  map[string]survey.Substrate
	coverWords map[string]survey.Substrate // words of covers that were read
	nests      map[string]map[string]bool  // by line: those told at the first pass

	facts    []fact
	sums     []toldSum
	peers    map[survey.Date][][]survey.Date // checks of lines, by the day on which they were set
	belts    []*Belt
	unused   []Span
	lineless []Span
	step     toldSize
	width    toldSize

	eggsAt []stateAt // of the sentence being read
	now    context
}

// A context is what the talk is about.
type context struct {
	today   survey.Date // of the heading or the message
	day     survey.Date // spoken of last
	setting bool        // and that was the day of setting
	visit   int         // spoken of last
	lines   []string    // spoken of last
	said    bool        // the lines were named in this paragraph
	nest    []string    // the nest that what follows is about
	named   []string    // nests told of last
	nestAt  int         // the line of text in which it was named
	alone   bool        // it stands alone there, as on a card: "Nest 4."
	owed    bool        // what was found there is not said yet
	fixing  bool        // something said before is being put right
	topic   topic
	sight   lexicon.Sight // found last
	belt    beltTalk
	redo    bool
	short   string          // a line of which losses are told that are not named, at the check spoken of
	like    string          // the line whose setting was told last
	columns []column        // of a small table below which rows of nests stand
	rows    map[string]bool // the nests that have a row there
}

// A column is a day that stands over what was found on it.
type column struct {
	day survey.Date
	tab int // how many tabs stand before it
}

type topic uint8

const (
	noTopic topic = iota
	setTopic
	checkTopic
	beltTopic
)

// A fact is one thing a sentence tells of a line's nests.
type fact struct {
	is     factKind
	line   string
	who    selector
	nests  []string // of which it is told; of a day of setting, those it is told of alone
	count  int
	day    survey.Date
	visit  int // of a look whose day is not told
	weeks  int // of a look whose day is told by the plan alone: 2, 4
	cover  survey.Substrate
	sight  lexicon.Sight
	every  bool // of a look: at each check of the line
	fix    bool // it puts right what was said before
	redo   bool
	text   string
	at     Span
	strict bool // of nests: their number was told; of a walk: its place says that all nests were looked at
}

// A toldSum is how many nests of how many were left on a day, as it is told.
type toldSum struct {
	left, all int
	lines     []string
	day       survey.Date
	at        Span
}

type factKind uint8

const (
	setFact     factKind = iota // a day of setting
	nestsFact                   // which nests there are, or how many
	coverFact                   //
	lookFact                    //
	unclearFact                 // a look that was not understood
	siteFact                    //
	walkFact                    // a line was walked on a day
	repeatFact                  // a nest has two rows in one table
)

type selector uint8

const (
	byNumber selector = iota
	oddOnes
	evenOnes
	allOfThem // or all others
	endOnes   // the first so many, or the last
)

// Read goes through the document. The function resolve turns a day as it is written into a day; near is the day spoken of
// before, 0 for none. It returns 0 where that cannot be done.
func (d *Document) Read(resolve func(d lexicon.Date, near survey.Date, at Span) survey.Date, silence bool) *Account {
	r := d.teller(resolve)
	r.tellAll()
	r.learn()
	if r.nameless = d.Whole && len(r.lineNames) == 0 && r.setsOut && !r.several(); r.nameless {
		r.tellAll()
		r.learn()
	}
	r.tellAll()
	return r.account(silence)
}

func (d *Document) teller(resolve func(d lexicon.Date, near survey.Date, at Span) survey.Date) *teller {
	r := &teller{
		Document: d, resolve: resolve, lineNames: map[string]bool{}, called: map[string]called{}, idLines: map[string]bool{}, ownUnits: map[string]float64{"rod": 16.5, "rods": 16.5},
		ownCovers: map[string]survey.Substrate{}, coverWords: map[string]survey.Substrate{}, nests: map[string]map[string]bool{},
	}
	for name := range d.Known {
		r.lineNames[name] = true
	}
	for word, cover := range d.Covers {
		r.ownCovers[word] = cover
	}
	r.prepare()
	return r
}

// several tells whether a text speaks of lines.
func (r *teller) several() bool {
	return slices.ContainsFunc(r.tokens, func(t token) bool { return linesWord(t.word) })
}

func (r *teller) tellAll() {
	r.facts, r.sums, r.belts, r.unused, r.lineless, r.step, r.width = nil, nil, nil, nil, nil, toldSize{}, toldSize{}
	r.begin(context{})
	passage, line := -1, -1
	for i := range r.sentences {
		s := &r.sentences[i]
		if s.line != line {
			r.enterLine(s.line, &passage)
			line = s.line
		}
		r.tell(s)
	}
}

// begin begins another talk. Where the text names no line at all, it is of one without a name.
func (r *teller) begin(c context) {
	if r.nameless {
		c.lines, c.said = []string{""}, true
	}
	r.now = c
}

// enterLine goes on to another line of text.
func (r *teller) enterLine(k int, passage *int) {
	l := &r.lines[k]
	p := &r.passages[l.passage]
	if l.passage != *passage {
		*passage = l.passage
		if p.New {
			r.begin(context{redo: p.Redo})
		}
		if p.Date.Form != lexicon.NoDate {
			if on := r.resolve(p.Date, r.now.day, Span{Passage: l.passage, From: -1}); on != 0 {
				r.now.today, r.now.day, r.now.setting = on, on, false
				r.now.visit, r.now.topic = 0, noTopic
			}
		}
		if p.Line != "" {
			r.now.lines, r.now.said = []string{p.Line}, true
			r.lineNames[p.Line] = true
		}
	}
	if p.Nest != "" && l.first {
		r.beginStory(p, l)
	}
	if l.header == chatHeader || l.header == mailHeader {
		r.now.said, r.now.fixing, r.now.visit, r.now.topic, r.now.nest = false, false, 0, noTopic, nil
	}
	if l.gap && p.Nest == "" {
		r.now.columns, r.now.rows = nil, nil
		r.now.said, r.now.nest = r.now.said && p.Line != "", nil
	}
}

// numbered tells whether a line of text begins with a number.
func (r *teller) numbered(k, number int) bool {
	if k >= len(r.lines) {
		return false
	}
	i := r.firstToken(k)
	return i < len(r.tokens) && r.tokens[i].kind == digits && int(r.tokens[i].num) == number && r.tokens[i].from < r.lines[k].to
}

// firstToken is the first token of a line of text.
func (r *teller) firstToken(k int) int {
	return sort.Search(len(r.tokens), func(i int) bool { return r.tokens[i].from >= r.lines[k].from })
}

// prepare looks for what the text calls its lines and nests.
func (r *teller) prepare() {
	r.learnNames()
	t := r.tokens
	ids := map[string]map[int]bool{}
	for i := range t {
		switch {
		case lineWords[t[i].word] && strings.HasPrefix(t[i].word, "l") && t[i].word[len(t[i].word)-1] == 'a':
			r.feminine = true
		}
		if t[i].kind == digits && i+2 < len(t) && t[i+1].word == "-" && t[i+1].glued && t[i+2].glued && t[i+2].kind == digits && !(i+3 < len(t) && t[i+3].glued && (t[i+3].word == "-" || t[i+3].word == "/")) && !(i > 0 && t[i].glued && t[i-1].kind == mark && t[i-1].word != "(") {
			note(ids, t[i].word, int(t[i+2].num))
		}
		if t[i].kind == letters && t[i].to-t[i].from == 1 && i+1 < len(t) && t[i+1].glued && t[i+1].kind == digits && !t[i].glued && !strings.Contains("lntLT", t[i].word) {
			note(ids, strings.ToUpper(t[i].word), int(t[i+1].num))
		}
	}
	for line, nests := range ids {
		letter := line[0] >= 'A'
		if letter && len(nests) >= 2 || !letter && nests[1] && nests[2] && len(nests) >= 3 && len(line) <= 2 {
			r.idLines[line] = true
			r.dashIDs = r.dashIDs || !letter
		}
	}
	if r.dashIDs {
		for line, nests := range ids { // of lines with few nests
			if line[0] <= '9' && len(line) <= 2 && nests[1] {
				r.idLines[line] = true
			}
		}
	}
}

func note(ids map[string]map[int]bool, line string, nest int) {
	if ids[line] == nil {
		ids[line] = map[int]bool{}
	}
	ids[line][nest] = true
}

func numbersLine(t []token, i int) bool { _, n := wordNumberAt(t, i); return n > 0 }

// noName are words before "line" that name none.
var noName = wordSet(`the a an this that each every both all first second third last next same other one two three four five whole fence power flag water pipe our my his her your per any no of on in at by for from to
	and or with along down up off out old new property section ditch over which what another either neither base center long short straight road pole grid county fish dead bottom top is was`)

// placeNames are those of them that do name one where nothing else stands on their line of text.
var placeNames = wordSet(`fence power water road ditch section property county dead bottom top center base straight pipe flag pole grid fish long short old new`)

// learn keeps what the first pass told of lines and nests.
func (r *teller) learn() {
	for w := range r.ownCovers {
		if c := r.shortFor(w); c != "" && (r.Covers[w] == "" || strings.EqualFold(string(r.Covers[w]), w)) {
			r.ownCovers[w] = c
		}
	}
	a := r.account(false)
	for _, l := range a.Lines {
		if l.Name != "" {
			r.lineNames[l.Name] = true
		}
		set := map[string]bool{}
		for _, n := range l.Nests {
			set[n.Number] = true
		}
		if l.counted {
			r.nests[l.Name] = set
		}
	}
}

// A say is one sentence as it is being understood.
type say struct {
	items    []item
	states   []stateAt
	from, to int // in the text
	line     int
	day      survey.Date // the one day it names; 0 for none
	days     int         // how many it names
	visit    int
	visits   int // how many it names
	set      bool
	check    bool
	counts   bool
	fix      bool
	lines    int
}

// tell takes in one sentence.
func (r *teller) tell(s *sentence) {
	if s.from >= s.to {
		return
	}
	l := &r.lines[s.line]
	from, to := r.tokens[s.from].from, r.tokens[s.to-1].to
	if l.head > 0 && from < l.from+l.head {
		r.header(s, l)
		return
	}
	r.eggsAt = nil
	items, states := r.scan(s)
	x := &say{items: items, states: states, from: from, to: to, line: s.line}
	r.withoutLead(x, s)
	if r.now.nestAt != s.line && !r.now.alone {
		r.now.nest = nil
	}
	r.days(x)
	if own := r.ofStory(x); own != nil {
		r.about(own, s.line, true)
	}
	for _, it := range x.items {
		switch it.is {
		case aVisit:
			if x.visit != it.n {
				x.visits++
			}
			x.visit = it.n
		case aSetting:
			x.set = true
		case aCheck:
			x.check = true
		case aCount:
			x.counts = true
		case aCorrection:
			x.fix = true
		case aLine, allLines:
			x.lines++
		}
	}
	r.now.fixing = x.fix || r.now.fixing && x.lines == 0 && x.days == 0
	switch r.passages[r.lines[s.line].passage].Is {
	case Setting:
		x.set = true
	case Check:
		x.check, x.set = true, false
	}
	r.understand(x)
}

var leadWords = wordSet(`okay ok alright right well good bien bueno pues now so ahora and y entonces luego then hi hello hola`)

// withoutLead passes words with which people begin to talk: "Okay, the breaks line …".
func (r *teller) withoutLead(x *say, s *sentence) {
	t := r.tokens[s.from:s.to]
	k := 0
	for k < len(t) && (leadWords[t[k].word] || t[k].word == "all" && at(t, k+1) == "right" || k > 0 && t[k].word == ",") {
		k++
	}
	if k == 0 || k >= len(t) || t[k].kind != letters || t[k].word == "but" || t[k].word == "except" || t[k].word == "menos" || !slices.ContainsFunc(x.items, func(it item) bool {
		return it.is == aLine || it.is == allLines || it.is == aSetting || it.is == aCheck || it.is == aCount || it.is == aCorrection
	}) {
		return
	}
	x.from = t[k].from
	x.items = slices.DeleteFunc(x.items, func(it item) bool { return it.from < x.from })
	x.states = slices.DeleteFunc(x.states, func(s stateAt) bool { return s.from < x.from })
}

// header takes the day of a message.
func (r *teller) header(s *sentence, l *textLine) {
	if l.header == mailLine {
		return
	}
	for _, f := range r.dates {
		if f.from >= l.from && f.to <= l.to {
			if on := r.resolve(f.Date, r.now.today, r.span(f.from, f.to)); on != 0 {
				r.now.today, r.now.day, r.now.setting = on, on, false
			}
			break
		}
	}
}

// days settles which day a sentence speaks of.
func (r *teller) days(x *say) {
	var found []survey.Date
	for i := range x.items {
		it := &x.items[i]
		if it.is != aDay {
			continue
		}
		on := r.dayOf(it, x)
		it.day.Day = on
		beside := i > 0 && x.items[i-1].is == aDay && it.from-x.items[i-1].to <= 3
		switch {
		case on == 0:
		case it.after == onWeekday && beside: // "yesterday (Saturday)"
			it.day.Day = x.items[i-1].day.Day
		case beside && x.items[i-1].after == onWeekday: // "Saturday May 4"
			x.items[i-1].day.Day = on
			if n := len(found); n > 0 {
				found[n-1] = on
			} else {
				found = append(found, on)
			}
		default:
			found = append(found, on)
		}
	}
	if len(x.states) == 0 && r.denied(x) && !r.opens(x) { // "could not get there on Tuesday"
		found = nil
		for i := range x.items {
			x.items[i].day.Day = 0
		}
	}
	slices.Sort(found)
	found = slices.Compact(found)
	x.days = len(found)
	if len(found) == 1 {
		x.day = found[0]
		r.now.short = ""
	}
	if r.opens(x) {
		if x.days >= 1 {
			first := r.firstDay(x)
			r.now.today, r.now.day, r.now.setting = first, first, false
			r.now.visit, r.now.topic, r.now.nest, r.now.fixing = 0, noTopic, nil, false
		}
	}
}

// denied tells whether a sentence says that something was not done, or that it is still to be done.
func (r *teller) denied(x *say) bool {
	for k := r.tokenAt(x.from); k < len(r.tokens) && r.tokens[k].from < x.to; k++ {
		if notDone[r.tokens[k].word] {
			return true
		}
	}
	return false
}

var notDone = wordSet(`not no didnt did couldnt cant wont dont wasnt never will going plan planned should due next voy vamos iremos tengo hay pudo pude pudimos`)

func (r *teller) firstDay(x *say) survey.Date {
	for _, it := range x.items {
		if it.is == aDay && it.day.Day != 0 {
			return it.day.Day
		}
	}
	return 0
}

// opens tells whether a sentence begins its line with a day, as entries of a diary do.
func (r *teller) opens(x *say) bool {
	if len(x.items) == 0 {
		return false
	}
	k := 0
	for k < len(x.items) && (x.items[k].is == aDay && x.items[k].after == onWeekday || x.items[k].is == aNumber) {
		k++
	}
	if k == len(x.items) || x.items[k].is != aDay || x.items[k].after != noWord {
		return false
	}
	lead := strings.Fields(plainLetters(r.text[x.from:x.items[k].from]))
	if len(lead) > 2 {
		return false
	}
	l := &r.lines[x.line]
	return strings.TrimSpace(r.text[l.from+l.head:x.from]) == "" || r.onlyDays(x) && len(x.states) == 0 && x.from-l.from < 40
}

// onlyDays tells whether a sentence is a day and nothing else but perhaps one word.
func (r *teller) onlyDays(x *say) bool {
	at := x.from
	rest := ""
	for _, it := range x.items {
		if it.is != aDay && it.is != aNumber && it.is != aComma {
			return false
		}
		rest += r.text[at:it.from]
		at = it.to
	}
	rest += r.text[at:x.to]
	n := len(strings.Fields(plainLetters(rest)))
	return n == 0 || n == 1 && r.ofStory(x) == nil // "5/20 lopsided" in the story of a nest
}

// plainLetters leaves the words of a text.
func plainLetters(s string) string {
	return strings.Map(func(c rune) rune {
		if c >= 0x80 || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' {
			return c
		}
		return ' '
	}, s)
}

// dayOf resolves a day as it is told.
func (r *teller) dayOf(it *item, x *say) survey.Date {
	switch it.after {
	case today:
		return r.now.today
	case yesterday:
		return before(r.now.today, 1)
	case dayBefore:
		return before(r.now.today, 2)
	case sameDay:
		return r.now.day
	case later:
		if r.now.day == 0 {
			return 0
		}
		return r.now.day + survey.Date(it.n)
	case ofMonth:
		return ofMonthAfter(r.now.day, it.n)
	case onWeekday:
		if r.now.today == 0 {
			return 0
		}
		back := (int(r.now.today.Time().Weekday()+6)%7 - (it.n - 1) + 7) % 7 // Monday is 1
		return r.now.today - survey.Date(back)
	}
	near := r.now.day
	if near == 0 {
		near = r.now.today
	}
	return r.resolve(it.day.Date, near, r.span(it.from, it.to))
}

// ofMonthAfter is the next day of that number, from a day on.
func ofMonthAfter(day survey.Date, number int) survey.Date {
	if day == 0 {
		return 0
	}
	for on := day; on < day+32; on++ {
		if on.Time().Day() == number {
			return on
		}
	}
	return 0
}

func before(day survey.Date, days survey.Date) survey.Date {
	if day == 0 {
		return 0
	}
	return day - days
}
