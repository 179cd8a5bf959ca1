// Package narration reads running text, as somebody tells, writes or dictates a season, into lines, nests, looks and belts.
// What it cannot read stands in the account beside them, with its place in the text.
package narration

import (
	"regexp"
	"sort"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A Passage is one piece of text as it stands in a file: a line, a cell, a cell of a calendar.
type Passage struct {
	Text string
	Date lexicon.Date // that its place says: a calendar's cell, a column of days beside it
	Line string       // that its place says: a tab or a file of one line; "" for none
	Nest string       // that its place says: the row of a nest whose story stands in one cell; "" for none
	Gap  bool         // a blank line stands before it
	New  bool         // it begins another tab or file: what was spoken of before is over
	Redo bool         // its place says that it was done over and counts instead of what stands elsewhere
	Is   About        // that its place says: a column of what was set out, or of what was found
}

// About is what the place of a passage says that it tells of.
type About uint8

// A passage tells of anything, of setting nests out, or of a check.
const (
	Anything About = iota
	Setting
	Check
)

// A Span is a piece of a passage, in bytes.
type Span struct{ Passage, From, To int }

// A Document is a text cut into messages and sentences, with the days named in it.
type Document struct {
	Known     map[string]bool             // names of lines, in capitals, that are known from elsewhere
	Covers    map[string]survey.Substrate // of words that a key of the batch explains
	Whole     bool                        // it tells a season, so that it may tell of a line without a name
	lex       *lexicon.Lexicon
	passages  []Passage
	text      string
	lines     []textLine
	tokens    []token
	dates     []foundDate
	sentences []sentence
}

// A textLine is one line of the text as people wrote it.
type textLine struct {
	from, to int // in the text of the document
	passage  int
	offset   int  // of its first letter within the passage
	gap      bool // it begins a paragraph
	first    bool // it begins a passage
	joined   bool // it goes on with the sentence of the line before
	header   headerKind
	head     int // how many bytes of it are the header
}

type headerKind uint8

const (
	noHeader   headerKind = iota
	mailLine              // From:, To:, Subject:
	mailHeader            // the day a mail was sent
	chatHeader            // the day and the speaker before what a message says
)

type foundDate struct {
	lexicon.Date
	from, to int
}

// A sentence is a run of tokens up to a stop or the end of its line.
type sentence struct {
	from, to int // tokens
	line     int
}

// NewDocument cuts passages into lines and sentences and finds the days in them.
func NewDocument(lex *lexicon.Lexicon, passages []Passage) *Document {
	d := &Document{lex: lex, passages: passages}
	d.layLines()
	d.sortMail()
	var b strings.Builder
	for i := range d.lines {
		l := &d.lines[i]
		text := d.passages[l.passage].Text[l.offset : l.offset+l.to]
		l.from = b.Len()
		b.WriteString(text)
		l.to = b.Len()
		b.WriteByte('\n')
	}
	d.text = b.String()
	d.joinLines()
	d.tokens = tokenize(d.text)
	d.findDates()
	d.cut()
	return d
}

// Dates lists the days as they are written, with their places, so that their order of day and month can be settled first.
func (d *Document) Dates() (dates []lexicon.Date, at []Span) {
	for _, f := range d.dates {
		dates, at = append(dates, f.Date), append(at, d.span(f.from, f.to))
	}
	return dates, at
}

// span tells where a piece of the document's text stands.
func (d *Document) span(from, to int) Span {
	i := d.lineAt(from)
	l := &d.lines[i]
	return Span{l.passage, from - l.from + l.offset, min(to, l.to) - l.from + l.offset}
}

// lineAt returns the line that holds a byte of the text.
func (d *Document) lineAt(at int) int {
	return max(0, sort.Search(len(d.lines), func(i int) bool { return d.lines[i].from > at })-1)
}

var (
	quoteLead  = regexp.MustCompile(`^[\s>]*>\s?`)
	ruleLine   = regexp.MustCompile(`^[\s\-–—=_+*|.~#─━═│║┌┐└┘├┤┬┴┼╔╗╚╝╠╣╦╩╬]+$`)
	mailLead   = regexp.MustCompile(`(?i)^\s*(?:from|to|cc|subject|re|fw|fwd|de|para|asunto)\s*:\s`)
	mailDate   = regexp.MustCompile(`(?i)^\s*(?:date|sent|fecha|enviado(?: el)?)\s*:\s|^\s*(?:on|el)\s.{6,60}\b(?:wrote|escribi[oó])\s*:?\s*$`)
	chatLead   = regexp.MustCompile(`(?i)^\s*\[?\s*(?:\d{1,2}[/.\-]\d{1,2}[/.\-]\d{2,4}|\d{4}-\d{2}-\d{2})\s*,?\s+\d{1,2}:\d{2}(?::\d{2})?\s*(?:[ap]\.?\s?m\.?)?\s*\]?\s*[-–]?\s*[\pL][^:\n]{0,30}:\s`)
	bulletLead = regexp.MustCompile(`^\s*(?:[•·▪◦*]|[-–—]\s)\s*`)
)

// layLines cuts the passages at their line breaks and takes off the marks of quoted mail. Until the text is laid out, from
// is not known and to is the length of the line.
func (d *Document) layLines() {
	for k, p := range d.passages {
		gap := p.Gap || p.New
		for at, first := 0, true; at <= len(p.Text); {
			end := len(p.Text)
			if i := strings.IndexByte(p.Text[at:], '\n'); i >= 0 {
				end = at + i
			}
			from := at
			if m := quoteLead.FindStringIndex(p.Text[at:end]); m != nil {
				from += m[1]
			}
			if m := bulletLead.FindStringIndex(p.Text[from:end]); m != nil && m[1] < end-from {
				from += m[1]
			}
			text := strings.TrimRight(p.Text[from:end], " \t\r")
			switch {
			case strings.TrimSpace(text) == "" || len(text) > 3 && ruleLine.MatchString(text):
				gap = true
			default:
				l := textLine{passage: k, offset: from, to: len(text), gap: gap, first: first}
				switch {
				case mailDate.MatchString(text):
					l.header, l.head = mailHeader, len(text)
				case mailLead.MatchString(text + " "):
					l.header, l.head = mailLine, len(text)
				default:
					if m := chatLead.FindStringIndex(text + " "); m != nil {
						l.header, l.head = chatHeader, min(m[1], len(text))
					}
				}
				d.lines = append(d.lines, l)
				gap, first = false, false
			}
			at = end + 1
		}
	}
}

// sortMail puts the mails of a thread in the order in which they were sent: most programs put the newest on top.
func (d *Document) sortMail() {
	type mail struct {
		day   int
		lines []textLine
	}
	mails := []mail{{day: -1}}
	n := 0
	for _, l := range d.lines {
		if l.header == mailHeader {
			n++
			mails = append(mails, mail{day: d.mailDay(l)})
		}
		if d.passages[l.passage].New && l.first && l.header == noHeader {
			mails = append(mails, mail{day: 1 << 30}) // another file keeps its place behind them
		}
		mails[len(mails)-1].lines = append(mails[len(mails)-1].lines, l)
	}
	if n < 2 {
		return
	}
	sort.SliceStable(mails, func(i, j int) bool { return mails[i].day < mails[j].day })
	d.lines = d.lines[:0]
	for _, m := range mails {
		d.lines = append(d.lines, m.lines...)
	}
}

// mailDay brings the day of a mail to a number that sorts; days and months are told apart by the year alone where their
// order is open.
func (d *Document) mailDay(l textLine) int {
	for _, f := range lexicon.FindDates(d.passages[l.passage].Text[l.offset : l.offset+l.to]) {
		if on := f.On(false, 2000); on != 0 {
			return int(on)
		}
	}
	return 0
}

// joinLines finds lines that go on with the sentence of the line before: text that a program broke at the edge of the page.
func (d *Document) joinLines() {
	lower, letters := 0, 0 // where most lines begin in lower case, that says nothing
	for i := range d.lines {
		text := strings.TrimSpace(d.text[d.lines[i].from:d.lines[i].to])
		if text == "" {
			continue
		}
		if c := text[0]; c >= 'a' && c <= 'z' {
			lower++
			letters++
		} else if c >= 'A' && c <= 'Z' {
			letters++
		}
	}
	careless := letters >= 5 && lower*10 >= letters*8
	for i := 1; i < len(d.lines); i++ {
		l, was := &d.lines[i], &d.lines[i-1]
		if l.gap || l.header != noHeader || was.header != noHeader || l.passage != was.passage && d.passages[l.passage].New {
			continue
		}
		before, after := strings.TrimSpace(d.text[was.from:was.to]), strings.TrimSpace(d.text[l.from:l.to])
		if len(before) < 45 || strings.ContainsAny(before[len(before)-1:], ".;:!?") || labelLead.MatchString(after) {
			continue
		}
		last := before[strings.LastIndexByte(before, ' ')+1:]
		l.joined = after[0] == '(' || strings.HasSuffix(before, ",") || openEnd[plainWord(last)] || len(before) >= 66 && !careless && after[0] >= 'a' && after[0] <= 'z'
	}
}

// labelLead is a word and a colon: "belt: 300 steps".
var labelLead = regexp.MustCompile(`^\pL{2,12}\s?\pL{0,8}:`)

// openEnd are words with which no sentence ends.
var openEnd = wordSet(`the a an and or of in on at to from by with for y o e de del la el los las en al a con por para un una nest nests no nos line nido nidos linea`)

// dashedDay is a day as the story of a nest may write it; elsewhere such numbers are a range or a name.
var dashedDay = regexp.MustCompile(`\b\d{1,2}-\d{1,2}\b`)

// withStrokes writes the dashed days of a text with strokes.
func withStrokes(text string) string {
	b := []byte(text)
	for _, m := range dashedDay.FindAllStringIndex(text, -1) {
		before, after := text[:m[0]], text[m[1]:]
		if strings.HasSuffix(before, "-") || strings.HasSuffix(before, "/") || strings.HasSuffix(before, ".") || strings.HasPrefix(after, "-") || strings.HasPrefix(after, "/") {
			continue
		}
		b[m[0]+strings.IndexByte(text[m[0]:m[1]], '-')] = '/'
	}
	return string(b)
}

// wideGap parts what stands in columns.
var wideGap = regexp.MustCompile(`\t|[ \x{a0}]{3,}`)

// findDates finds the days in each line. None reaches over a wide gap: "17 may      31 may" are two.
func (d *Document) findDates() {
	for i := range d.lines {
		l := &d.lines[i]
		find := func(from, to int) {
			text := d.text[from:to]
			if d.passages[l.passage].Nest != "" {
				text = withStrokes(text)
			}
			for _, f := range lexicon.FindDates(text) {
				d.dates = append(d.dates, foundDate{f.Date, from + f.From, from + f.To})
			}
		}
		from := l.from
		for _, gap := range wideGap.FindAllStringIndex(d.text[l.from:l.to], -1) {
			find(from, l.from+gap[0])
			from = l.from + gap[1]
		}
		find(from, l.to)
	}
}

// abbreviations are followed by a point that ends no sentence.
var abbreviations = wordSet(`no nos num nums nro st mt mr mrs ms dr jr sr vs approx aprox ft in yd yds pr zac nop palm jan feb mar apr jun jul aug sep sept oct nov dec ene abr ago dic
	mon tue tues wed thu thur thurs fri sat sun lun mie jue vie sab dom am pm wk wks sem lin ln ca`)

// cut cuts the text into sentences: at full stops, semicolons and the ends of lines.
func (d *Document) cut() {
	from := 0
	end := func(to int) { // up to token to
		for from < to && d.tokens[from].kind == mark && strings.Contains(`",.:-)`, d.tokens[from].word) {
			from++
		}
		if to > from {
			d.sentences = append(d.sentences, sentence{from, to, d.lineAt(d.tokens[from].from)})
		}
		from = to
	}
	for i := range d.tokens {
		t := &d.tokens[i]
		if l := &d.lines[d.lineAt(t.from)]; l.head > 0 && i > 0 && t.kind != lineEnd && t.from >= l.from+l.head && d.tokens[i-1].from < l.from+l.head && d.tokens[i-1].from >= l.from {
			end(i) // a header is a sentence of its own
		}
		switch {
		case t.kind == lineEnd:
			if k := d.lineAt(t.from); k+1 < len(d.lines) && d.lines[k+1].joined {
				continue
			}
			end(i)
			from = i + 1
		case t.word == `"` && i+1 < len(d.tokens) && d.tokens[i+1].word == "," && d.tokens[i+1].glued: // where a quoted cell ends
			end(i)
			from = i + 2
		case t.word == ";" || t.word == "!" || t.word == "|" && d.passages[d.lines[d.lineAt(t.from)].passage].Nest != "" || t.word == "?" && i+1 < len(d.tokens) && !d.tokens[i+1].glued:
			end(i)
			from = i + 1
		case t.word == "." && d.ends(i):
			end(i)
			from = i + 1
		}
	}
	end(len(d.tokens))
}

// ends tells whether the point at token i ends a sentence.
func (d *Document) ends(i int) bool {
	if i+1 < len(d.tokens) && d.tokens[i+1].glued {
		return false
	}
	if i == 0 {
		return true
	}
	before := &d.tokens[i-1]
	if before.kind == digits && (i == 1 || d.tokens[i-2].kind == lineEnd) {
		return false // a number at the head of a line: "4. nopal"
	}
	if before.kind == letters && !before.glued && len(before.word) == 1 && i+1 < len(d.tokens) && d.tokens[i+1].kind != lineEnd {
		return false // an initial
	}
	if !abbreviations[before.word] {
		return true
	}
	if numberSign[before.word] {
		return i+1 >= len(d.tokens) || d.tokens[i+1].kind != digits
	}
	// "13 may. Line 2": a month may end one too
	if i+1 < len(d.tokens) {
		if next := &d.tokens[i+1]; next.kind == letters && monthOrUnit[before.word] {
			c := d.text[next.from]
			return c >= 'A' && c <= 'Z'
		}
	}
	return false
}

var numberSign = wordSet(`no nos num nums nro`)

var monthOrUnit = wordSet(`jan feb mar apr jun jul aug sep sept oct nov dec ene abr ago dic ft in yd yds mon tue wed thu fri sat sun lun mie jue vie sab dom am pm`)
