// Package reading sees in a sheet what a careful person sees: where its tables are, which way they run, what each column
// holds, and what titles, tabs, keys and notes around them say. It gives every nest, check, belt and site that it finds as
// one typed row, asks where two readings are about as likely, and accounts for every filled cell.
//
// It knows no season: whether a nest can have been looked at before it was set is for package intake.
package reading

import (
	"iter"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/sheet"
	"tussock/internal/survey"
)

// A table of more than wholeRows is not held whole: its first rows are looked at, and the rest follows row by row.
const (
	wholeRows = 20_000
	firstRows = 10_000
)

// A cell is one cell, and where the sender finds it.
type cell struct {
	text  string      // tidied
	raw   string      // as it stands, where line breaks matter
	is    *kind       // of the text, once somebody asked: see reader.kind
	shown *sheet.Look // nil where it shows nothing besides
	row   int         // the row's number; 0 where the cell was made up
	col   int
	down  bool // filled from the merged cell above
	span  bool // filled from the merged cell at the left

	since1904 bool // a bare day number in it counts from 1904
}

// look is what the cell shows besides its text.
func (c *cell) look() sheet.Look {
	if c.shown == nil {
		return sheet.Look{}
	}
	return *c.shown
}

func (c *cell) empty() bool { return c.text == "" && (c.shown == nil || c.shown.Fill == "") }

// A line is one row of a grid.
type line struct {
	cells  []cell
	number int
	hidden bool
}

// at returns the cell in a column; an empty one where the row is shorter.
func (l *line) at(col int) *cell {
	if col < 0 || col >= len(l.cells) {
		return &nowhere
	}
	return &l.cells[col]
}

var nowhere cell // nobody writes into it

// A grid is the cells of one table, or of the head of a long one.
type grid struct {
	*sheet.Table
	index    int // of the table in the batch
	lines    []line
	plain    []line // as they came, before tables were cut out of plain text; nil where nothing was cut
	width    int
	held     int   // how many of its rows, where there are more: see rest; 0 where all are
	explains bool  // it is a dictionary of another's headings
	turn     bool  // rows and columns are exchanged, or the grid was made up from cards
	columns  []int // where its columns stand in the sheet; nil where they stand there as here
}

// column is where a column stands in the sheet, from 0.
func (g *grid) column(col int) int {
	if col < len(g.columns) {
		return g.columns[col]
	}
	return col
}

func (r *reader) load(t *sheet.Table, index int) (*grid, error) {
	g := &grid{Table: t, index: index}
	most := wholeRows
	if t.RowsHint > wholeRows {
		most = firstRows
	}
	g.lines = make([]line, 0, min(max(t.RowsHint, 0), most))
	for row, err := range t.Rows() {
		if err != nil {
			return nil, err
		}
		if len(g.lines) == most {
			g.held = most
			break
		}
		var above []cell
		if n := len(g.lines); n > 0 {
			above = g.lines[n-1].cells
		}
		g.lines = append(g.lines, r.lineOf(g, row, nil, above))
	}
	r.fillMerged(g)
	return g, nil
}

// rest goes through the rows of a long table that are not held.
func (g *grid) rest() iter.Seq2[*sheet.Row, error] {
	return func(yield func(*sheet.Row, error) bool) {
		n := 0
		for row, err := range g.Rows() {
			if n++; n > g.held && !yield(row, err) {
				return
			}
		}
	}
}

// lineOf copies one row into the cells handed in, or into new ones where they are too few. What stands in the cells of the row
// above need not be looked at again where it is the same.
func (r *reader) lineOf(g *grid, row *sheet.Row, cells, above []cell) line {
	for _, m := range row.Mended {
		r.noteMended(g, row, m)
	}
	n := len(row.Cells)
	for i := n; i < len(row.Looks); i++ { // a painted cell may hold nothing
		if row.Looks[i].Fill != "" {
			n = i + 1
		}
	}
	if cells == nil {
		cells = r.room(n)
	}
	l := line{number: row.Number, hidden: row.Hidden, cells: slices.Grow(cells[:0], n)[:n]}
	last := 0
	for i := range l.cells {
		c := &l.cells[i]
		raw := ""
		if i < len(row.Cells) {
			raw = row.Cells[i]
		}
		again := i < len(above) && c == &above[i] && c.shown == nil // the place is right, and nothing stands beside
		switch same := i < len(above) && above[i].raw == raw; {
		case again && same:
			c.row = row.Number
		case again:
			c.raw, c.text, c.is, c.row = raw, lexicon.Tidy(raw), nil, row.Number
		case same:
			*c = cell{raw: raw, text: above[i].text, is: above[i].is, row: row.Number, col: i, since1904: g.Date1904}
		default:
			*c = cell{raw: raw, text: lexicon.Tidy(raw), row: row.Number, col: i, since1904: g.Date1904}
		}
		if i < len(row.Looks) && row.Looks[i] != (sheet.Look{}) {
			look := row.Looks[i] // on the heap, as few are
			look.Fill, look.Comment = strings.Clone(look.Fill), strings.Clone(look.Comment)
			c.shown = &look
		}
		if !c.empty() {
			last = i + 1
		}
	}
	l.cells = l.cells[:last]
	g.width = max(g.width, last)
	return l
}

// room makes room for cells, of many rows at once.
func (r *reader) room(n int) []cell {
	const many = 4096
	if n > many/8 {
		return make([]cell, 0, n)
	}
	if n > cap(r.spare) {
		r.spare = make([]cell, 0, many)
	}
	cells := r.spare[:0:n]
	r.spare = r.spare[n:n:cap(r.spare)]
	return cells
}

func (r *reader) noteMended(g *grid, row *sheet.Row, m sheet.Mend) {
	is := row.Cells[m.Column]
	at := survey.Cell{File: g.File, Sheet: g.Name, Row: row.Number, Column: letter(m.Column)}
	if !r.Note(at, "accents", "", r.Say("%s” to “%s", inquiry.Short(m.Was), inquiry.Short(is)), func(g *group) string {
		return r.Say("An earlier program broke some accents; we mended %s.", r.Quoted(g.Words[:min(3, len(g.Words))]))
	}) {
		row.Cells[m.Column] = m.Was
	}
}

// fillMerged writes the value of merged cells into all of them.
func (r *reader) fillMerged(g *grid) {
	if !g.HasMerges() {
		return
	}
	at := map[int]int{}
	for i := range g.lines {
		at[g.lines[i].number] = i
	}
	for i := range g.lines {
		l := &g.lines[i]
		for col := 0; col < g.width; col++ {
			m, ok := g.Merged(l.number, col)
			if !ok || m.Top == l.number && m.Left == col {
				continue
			}
			top, found := at[m.Top]
			if !found {
				continue
			}
			from := g.lines[top].at(m.Left)
			if from.empty() {
				continue
			}
			for len(l.cells) <= col {
				l.cells = append(l.cells, cell{row: l.number, col: len(l.cells)})
			}
			c := &l.cells[col]
			if c.text == "" {
				c.text, c.raw, c.shown = from.text, from.raw, from.shown
				c.down, c.span = m.Left == col, m.Left != col
			}
		}
	}
}

// turned exchanges rows and columns of a part of a grid. Each cell still knows where it stands.
func turned(g *grid, from, to, left, right int) *grid {
	t := &grid{Table: g.Table, index: g.index, turn: true, width: to - from}
	for col := left; col < right; col++ {
		l := line{number: 0, cells: make([]cell, to-from)}
		any := false
		for i := from; i < to; i++ {
			c := *g.lines[i].at(col)
			if c.row == 0 {
				c.row, c.col = g.lines[i].number, col
			}
			c.span, c.down = c.down, c.span
			l.cells[i-from] = c
			any = any || !c.empty()
			if l.number == 0 && !c.empty() {
				l.number = g.lines[i].number
			}
		}
		if any {
			t.lines = append(t.lines, l)
		}
	}
	return t
}

// filled counts the cells of a row between two columns that hold text of their own.
func (l *line) filled(left, right int) int {
	n := 0
	for col := left; col < min(right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.span {
			n++
		}
	}
	return n
}

// blank tells whether a row holds nothing between two columns.
func (l *line) blank(left, right int) bool {
	for col := left; col < min(right, len(l.cells)); col++ {
		if c := &l.cells[col]; !c.empty() {
			return false
		}
	}
	return true
}

// letter names a column as spreadsheet programs do: A, B, … Z, AA.
func letter(col int) string {
	const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	if col >= 0 && col < len(letters) {
		return letters[col : col+1]
	}
	s := ""
	for col++; col > 0; col = (col - 1) / 26 {
		s = string(rune('A'+(col-1)%26)) + s
	}
	return s
}

// A kind is all that one text could be. What is asked of most cells stands first.
type kind struct {
	text    string
	number  int // among the texts that were kept, from 1; 0 for others
	value   valueKind
	ditto   bool
	isNum   bool // the whole text is a number
	whole   bool // a whole number
	isCover bool
	isID    bool // a line and a nest in one
	animal  bool
	// what linePattern finds: the head of a line, with nothing but a lead before it; the same near the beginning, of one line
	leadsLine, headsLine bool
	asked                // once somebody wants to know
	num                  float64
	words                int
	date                 lexicon.Date
	sight                lexicon.Sight
	cover                lexicon.Cover
	id                   ident
	head                 lexicon.Heading
}

// Asked is what else a text could be, which few ask.
type asked struct {
	isFolded, isLine, isYear, isTotal, isBelt, isDated, isNoData, isSized bool // it has been asked

	total, belt  bool
	sized        bool
	state        bool
	day          lexicon.DateForm
	noData       noData
	year         int
	folded, line string
}

// A noData is a word by which a row says that it is no data.
type noData uint8

const (
	isData noData = iota
	anExample
	aTest
)

// saysNoData tells whether the text says that its row is an example or a test.
func (k *kind) saysNoData() noData {
	if !k.isNoData {
		k.isNoData = true
		switch k.fold() {
		case "example", "ejemplo":
			k.noData = anExample
		case "test", "tests", "testing", "prueba", "practice", "practica", "dummy", "demo", "training":
			k.noData = aTest
		}
	}
	return k.noData
}

// fold is the text as names are compared.
func (k *kind) fold() string {
	if !k.isFolded {
		k.folded, k.isFolded = lexicon.Fold(k.text), true
	}
	return k.folded
}

// lineName is the text without the word for line.
func (k *kind) lineName() string {
	if !k.isLine {
		k.line, k.isLine = lineName(k.text), true
	}
	return k.line
}

// findYear is the year that the text names; 0 for none.
func (k *kind) findYear() int {
	if !k.isYear {
		k.year, k.isYear = lexicon.FindYear(k.text), true
	}
	return k.year
}

// leadsBelt tells whether the text begins as what is told of a belt does.
func (k *kind) leadsBelt() bool {
	if !k.isBelt {
		k.belt, k.isBelt = beltLead.MatchString(k.text), true
	}
	return k.belt
}

// tellsSize tells whether the text tells a length, a width or an area.
func (k *kind) tellsSize(r *reader) bool {
	if !k.isSized {
		k.sized, k.isSized = hasDigits(k.text) && (between(r.scan(k.text), aMeasure) || bareSizes.MatchString(k.text)), true
	}
	return k.sized
}

// headsTotal tells whether the text heads a row of sums.
func (k *kind) headsTotal() bool {
	if !k.isTotal {
		k.total, k.isTotal = isTotal(k.text), true
	}
	return k.total
}

// A valueKind is what a text most likely is in a table.
type valueKind uint8

const (
	wordValue valueKind = iota
	dayValue
	numberValue
	nameValue
	coverValue
	stateValue
)

func (k *kind) mostLikely() valueKind {
	switch {
	case k.date.Form != lexicon.NoDate && !k.isNum && k.date.Form != lexicon.AfterDate:
		return dayValue
	case k.isNum:
		return numberValue
	case k.isID && hasDigits(k.text):
		return nameValue
	case k.isCover && !k.cover.Weak:
		return coverValue
	case k.sight.Mark != lexicon.Unknown && k.sight.Mark != lexicon.SetOut && !k.sight.Weak:
		return stateValue
	}
	return wordValue
}

// byText holds something about each text, by its number.
type byText[T any] []T

func (t *byText[T]) at(k *kind) *T {
	if n := k.number + 1 - len(*t); n > 0 {
		*t = append(*t, make([]T, n)...)
	}
	return &(*t)[k.number]
}

// kind returns what the text of a cell could be.
func (r *reader) kind(c *cell) *kind {
	if c.text == "" {
		if r.nothing == nil {
			r.nothing = r.kindOf("")
		}
		return r.nothing
	}
	if c.is == nil || c.is.text != c.text {
		c.is = r.kindOf(c.text)
		c.text = c.is.text // the same letters, so that the two are soon compared
	}
	return c.is
}

// kindIn returns what a text could be that stands in a cell, or is told from above.
func (r *reader) kindIn(c *cell, text string) *kind {
	if c.text == text {
		return r.kind(c)
	}
	return r.kindOf(text)
}

// mixed is a number that short texts of one column seldom share.
func mixed(s string) int {
	n := len(s)
	if n == 0 {
		return 0
	}
	return n + 7*int(s[0]) + 31*int(s[n-1]) + 17*int(s[n/2]) + 61*int(s[n/3])
}

// kindOf returns what a text could be. The same text is looked at once.
func (r *reader) kindOf(text string) *kind {
	recent := &r.recent[mixed(text)%len(r.recent)]
	if *recent != nil && (*recent).text == text {
		return *recent
	}
	if k, ok := r.kinds[text]; ok {
		*recent = k
		return k
	}
	k := &kind{date: readDay(text)}
	k.ditto = lexicon.IsDitto(text) || sameDay.MatchString(text)
	k.words = strings.Count(text, " ") + 1
	if v, rest, ok := lexicon.Number(text, false); ok && rest == "" && !strings.Contains(text, "/") {
		k.num, k.isNum, k.whole = v, true, v == float64(int(v)) && !strings.ContainsAny(text, "./")
	}
	k.sight = r.lex.Sight(text)
	if len(text) > 5 && text[0] == '[' && text[len(text)-1] == ']' { // what whoever copied the sheet says of it
		k.sight = lexicon.Sight{Eggs: -1}
	}
	if k.date.Form != lexicon.NoDate && !(k.date.Form == lexicon.SlashDate && k.date.Year == 0 && k.date.A <= k.date.B && k.date.B <= 4) && k.date.Form != lexicon.MonthDay {
		k.sight = lexicon.Sight{Eggs: -1, Word: k.sight.Word}
	}
	if len(text) <= 120 {
		k.cover, k.isCover = r.lex.Cover(text)
	}
	if !k.isCover && len(text) <= 80 {
		k.cover, k.isCover = r.coverExplained(text)
	}
	k.id, k.isID = splitID(text)
	k.isID = k.isID && k.date.Form != lexicon.TextDate && !(k.id.place != "" && (k.date.Form != lexicon.NoDate || k.isCover || k.sight.Mark != lexicon.Unknown))
	if loc := linePattern.FindStringSubmatchIndex(text); loc != nil {
		k.leadsLine, k.headsLine = lineLeads(text[:loc[0]]), loc[0] <= 2 && loc[4] == loc[5]
	}
	k.head = r.lex.Heading(text)
	if means := r.aliases[lexicon.Fold(text)]; means != "" {
		k.head = r.lex.Heading(means)
		k.head.Text, k.head.Sure = lexicon.Tidy(text), 1
	}
	if p, ok := r.lex.Predator(text); ok && p != "" {
		k.animal = true
	}
	if strings.Contains(text, " / ") {
		r.saidInBoth(k, text)
	}
	k.text = strings.Clone(text)
	k.value = k.mostLikely()
	if len(r.kinds) < 100_000 {
		r.kinds[k.text] = k
		k.number = len(r.kinds)
	}
	return k
}
