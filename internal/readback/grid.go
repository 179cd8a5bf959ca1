package readback

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/lexicon"
	"tussock/internal/sheet"
	"tussock/internal/words"
)

// How much of the sheets stands on the first page. A longer sheet is cut, and all of it is in parts.
const (
	cellsOnPage = 1_800 // of all tables together
	firstRows   = 10    // of a cut table
	leastRows   = 14    // of a table on the page; one that has no room even for these is named only
	columnsMost = 60    // of a table
	partCells   = 5_000
	partRows    = 200
	textMost    = 2_000 // bytes of a cell
	sumsMost    = 6
)

// A Mark says what became of a cell.
type Mark uint8

// The marks, a later one outdoing an earlier. A cell without one was read as it stands, or is empty.
const (
	AsIs    Mark = iota
	Tidied       // Ref counts the page's notes
	Aside        // became nothing, for a reason of the page
	Refused      // cannot be used
	Asked        // waits for an answer
)

// A Table is one tab of a workbook, or one file of text, as the sender has it.
type Table struct {
	File, Sheet string
	Hidden      bool `json:",omitempty"` // in the sender's workbook
	Width       int  // columns shown, from the first
	More        int  `json:",omitempty"` // columns that are not
	Count       int  // rows that hold anything
	Part, Parts int  `json:",omitempty"` // where those lie in full; none where all are on the page
	Heads       []Head
	Side        []Tag `json:",omitempty"` // beside rows, where the table lies on its side
	Rows        []Row // on the first page
}

// A Head is a row from which on columns hold what its tags say: a tab may have several tables. The first begins at the top.
type Head struct {
	Row  int
	Tags []Tag
}

// A Piece is a run of rows under one set of tags.
type Piece struct {
	Tags []Tag // over the columns
	Rows []Row
}

// A Tag says how one column was read.
type Tag struct {
	Column  int    // from 0, as the sender sees it
	Row     int    `json:",omitempty"` // beside which it stands; 0 over a column
	Heading string `json:",omitempty"`
	Role    string `json:",omitempty"` // as package reading names it; "" for a column that is not used
	ID      string // of the question that changes it
}

// A Row is one row of the sheet.
type Row struct {
	N      int    // as the sender's program numbers it
	Gap    int    `json:"G,omitempty"` // rows left out before it
	Hidden bool   `json:"H,omitempty"`
	Mark   Mark   `json:"M,omitempty"` // of the whole row
	Ref    int    `json:"R,omitempty"`
	Cells  []Cell `json:"C"`
}

// A Cell is one cell.
type Cell struct {
	Text   string `json:"T,omitempty"`
	Day    bool   `json:"D,omitempty"` // the text is a day in ISO 8601
	Struck bool   `json:"S,omitempty"`
	Note   string `json:"N,omitempty"` // attached to it
	Mark   Mark   `json:"M,omitempty"`
	Ref    int    `json:"R,omitempty"`
}

// A Part is a run of all rows of one table.
type Part struct {
	Table int // of the page's
	Rows  []Row
	Refs  []Ref // what the rows' marks refer to
}

// A Ref names one note, question, refusal or reason of a page.
type Ref struct {
	Mark Mark
	Ref  int
}

// UnpackPart reads a part; nil where it was written by another version of the program.
func UnpackPart(data []byte) (*Part, error) { return unpack[Part](data) }

// A Layout is the sheets of a reading, cell by cell. It is the same in every language.
type Layout struct {
	Tables []Table
	Sums   []Sum
	Parts  [][]byte // packed
}

// Lay lays the files of a reading out. Their text is that of the sender; what they mean is in res alone.
func Lay(files []intake.File, res *intake.Result) (*Layout, error) {
	l := &layer{res: res, left: cellsOnPage, marks: marksOf(res)}
	for _, f := range files {
		inside, err := sheet.Unpack(f.Name, f.Data, words.Speaker{})
		if err != nil {
			continue // the reading says so
		}
		for _, f := range inside {
			if err := l.file(f); err != nil {
				return nil, err
			}
		}
	}
	return &l.Layout, nil
}

// A layer is a layout under way.
type layer struct {
	Layout
	res   *intake.Result
	left  int // cells that still fit on the page
	marks map[tab]*tabMarks
}

func (l *layer) file(f sheet.File) error {
	b, err := sheet.Open(f.Name, f.Data, words.Speaker{})
	if err != nil {
		return nil // the reading says so
	}
	defer b.Close()
	for _, t := range b.Tables {
		if err := l.table(t); err != nil {
			return err
		}
	}
	return nil
}

// table lays one table out: the whole, or the first rows and those with something to say, and then all of it in parts.
func (l *layer) table(t *sheet.Table) error {
	g := newGrid(t, l.marks[tab{t.File, t.Name}], l.res)
	index, part := len(l.Tables), len(l.Parts)
	var run []Row // of the part under way
	flush := func() error {
		if len(run) == 0 {
			return nil
		}
		packed, err := pack(Part{Table: index, Rows: run, Refs: refsOf(run)})
		l.Parts = append(l.Parts, packed)
		run = nil
		return err
	}
	for row, err := range t.Rows() {
		if err != nil {
			break // the reading says so
		}
		r := g.take(row)
		if run = append(run, r); len(run) >= max(20, min(partRows, partCells/max(1, g.width))) {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	if g.rows == 0 {
		return nil
	}
	if err := flush(); err != nil {
		return err
	}
	table := Table{File: t.File, Sheet: t.Name, Hidden: t.Hidden, Width: min(g.width, columnsMost), More: max(0, g.width-columnsMost), Count: g.rows}
	table.Heads, table.Side, table.Rows = g.blocks.found(), g.blocks.side, g.choose(l.left)
	l.left -= len(table.Rows) * table.Width
	if len(table.Rows) == table.Count {
		l.Parts = l.Parts[:part]
	} else {
		table.Part, table.Parts = part, len(l.Parts)-part
	}
	l.Tables = append(l.Tables, table)
	l.Sums = append(l.Sums, g.sums[:min(len(g.sums), sumsMost-min(sumsMost, len(l.Sums)))]...)
	return nil
}

func refsOf(rows []Row) (refs []Ref) {
	add := func(m Mark, ref int) {
		if r := (Ref{m, ref}); m != AsIs && !slices.Contains(refs, r) {
			refs = append(refs, r)
		}
	}
	for i := range rows {
		add(rows[i].Mark, rows[i].Ref)
		for _, c := range rows[i].Cells {
			add(c.Mark, c.Ref)
		}
	}
	return refs
}

// A grid is one table being laid out.
type grid struct {
	marks  *tabMarks
	blocks *blocks
	rows   int
	width  int
	first  []Row // from the start
	loud   []Row // further ones with something to say
	sums   []Sum
	name   string
}

func newGrid(t *sheet.Table, marks *tabMarks, res *intake.Result) *grid {
	if marks == nil {
		marks = &tabMarks{}
	}
	return &grid{marks: marks, blocks: newBlocks(t, res), name: t.Name}
}

// take lays one row out.
func (g *grid) take(row *sheet.Row) Row {
	r := Row{N: row.Number, Hidden: row.Hidden}
	for i := range min(len(row.Cells), columnsMost) {
		look := row.Look(i)
		r.Cells = append(r.Cells, Cell{Text: cut(row.Cells[i]), Day: look.Date != sheet.NoDate, Struck: look.Struck, Note: cut(look.Comment)})
	}
	for len(r.Cells) > 0 && r.Cells[len(r.Cells)-1] == (Cell{}) {
		r.Cells = r.Cells[:len(r.Cells)-1]
	}
	loud := g.marks.put(&r, g.blocks)
	header := g.blocks.see(&r)
	g.rows++
	g.width = max(g.width, len(row.Cells), len(r.Cells))
	switch most := cellsOnPage / max(1, min(g.width, columnsMost)); {
	case len(g.first) < max(most, leastRows):
		g.first = append(g.first, r)
	case (loud || header) && len(g.loud) < most:
		g.loud = append(g.loud, r)
	}
	if s, ok := sumOf(&r); ok && len(g.sums) < sumsMost {
		s.Sheet = g.name
		g.sums = append(g.sums, s)
	}
	return r
}

func cut(s string) string {
	if len(s) > textMost {
		s = strings.ToValidUTF8(s[:textMost], "") + "…"
	}
	return strings.Clone(s) // the rest of the file is not held on to
}

// choose takes the rows for a page that has room for so many cells: all, or the first and those with something to say.
func (g *grid) choose(room int) []Row {
	most := room / max(1, min(g.width, columnsMost))
	switch {
	case g.rows <= min(most, len(g.first)):
		return g.first
	case most < leastRows:
		return nil
	}
	rows := slices.Clone(g.first[:min(firstRows, len(g.first))])
	for _, r := range append(slices.Clone(g.first[len(rows):]), g.loud...) {
		if len(rows) == most {
			break
		}
		if r.loud() || g.blocks.heads(r.N) {
			rows = append(rows, r)
		}
	}
	last := 0
	for i := range rows {
		rows[i].Gap = g.between(last, rows[i].N)
		last = rows[i].N
	}
	return rows
}

// between tells about how many rows stand between two; rows that hold nothing are not missed.
func (g *grid) between(last, next int) int {
	if last == 0 {
		return 0
	}
	return max(0, next-last-1)
}

// loud tells whether a row has more to say than that a word in it was tidied.
func (r *Row) loud() bool {
	if r.Mark >= Refused || r.Mark == Aside {
		return true
	}
	return slices.ContainsFunc(r.Cells, func(c Cell) bool { return c.Mark >= Refused })
}

// What people write beside their sums: a word that says so by itself, or one that does with a number in the same cell.
var (
	sumWords  = []string{"total", "totals", "totales", "sum", "suma"}
	leftWords = []string{"all nests", "left", "lasted", "still there", "survived", "made it", "good", "intact", "gone", "taken", "lost", "of", "quedan", "quedaron", "duraron", "comidos", "perdidos"}
)

// sumOf tells whether a row adds up: it was set aside, tells of no day, and holds a number with a word for a sum.
func sumOf(r *Row) (Sum, bool) {
	var cells []string
	word, number, aside := false, false, r.Mark == Aside
	for _, c := range r.Cells {
		if c.Day || dayLike.MatchString(c.Text) {
			return Sum{}, false
		}
		if c.Text == "" {
			continue
		}
		aside = aside || c.Mark == Aside
		cells = append(cells, inquiry.Short(c.Text))
		said := " " + lexicon.Words(c.Text) + " "
		has := func(w string) bool { return strings.Contains(said, " "+w+" ") }
		counts := strings.ContainsAny(said, "0123456789")
		number = number || counts
		word = word || slices.ContainsFunc(sumWords, has) || counts && slices.ContainsFunc(leftWords, has)
	}
	return Sum{Row: r.N, Cells: cells}, aside && word && number && len(cells) <= 12
}

var dayLike = regexp.MustCompile(`\d[-/.]\d{1,2}[-/.]\d`)
