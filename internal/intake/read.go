package intake

import (
	"io"
	"slices"
	"strings"

	"tussock/internal/errs"
	"tussock/internal/sheet"
	"tussock/internal/survey"
	tongue "tussock/internal/words"
)

// Read reads the files as one batch: nests may stand in one and their checks in another.
//
// A file in the wrong order of day and month shows it by days above 12, often far down. So the batch is read month
// first, and once more where a file turns out to be day first.
//
// The error is of a kind of package errs and comes only where nothing at all could be read.
func Read(files []File, opt Options) (*Result, error) {
	if len(files) == 0 {
		return nil, errs.New(errs.Invalid, opt.Say.Say("No file came with it. Choose a season sheet, as .xlsx or CSV."))
	}
	r := newReader(files, opt)
	err := r.readAll()
	if r.decideOrder() {
		again := newReader(files, opt)
		for i := range r.files {
			again.files[i].order, again.files[i].earlier = r.files[i].order, r.files[i].slashes
		}
		r = again
		err = r.readAll()
	}
	if err != nil {
		return nil, err
	}
	r.settle()
	r.finishPrompts()
	return &r.out, nil
}

// A file is what the whole of one file shows.
type file struct {
	File
	order    fileOrder
	slashes  evidence
	earlier  evidence // of the first reading
	zeros    bool     // a 0 stands for a state somewhere
	counts   bool     // 2s and 3s stand for states, so a 0 is a count of eggs
	sawEggs  bool     // a nest marked 0 was visited again and had eggs
	sawGone  bool     // a nest marked 0 has remains
	failed   bool     // refused as a whole
	hasTable bool
}

// An evidence counts the dates of one file that only one order can read.
type evidence struct {
	month, day, either int
	monthAt, dayAt     survey.Cell
	monthIs, dayIs     string
}

type fileOrder uint8

const (
	orderOpen fileOrder = iota
	orderMonth
	orderDay
	orderStopped // both occur and nobody has said which
)

type reader struct {
	voice
	opt       Options
	lex       *lexicon
	many      bool
	files     []*file
	tables    []*table
	out       Result
	sentences map[string]string
	texts     map[string]string
	people    map[string]int32 // who looked, numbered: see person

	asked, noted           map[string]*group
	askedOrder, notedOrder []*group
	singles                map[string]int // questions asked nest by nest, by kind
	unused                 map[string]bool

	names  [4]names // ranches, sites, transects, nests
	only   map[string]string
	byKey  map[nestKey]int32
	work   []work
	looks  []look
	subs   map[string]survey.Substrate // own words, by fold, as first spelled
	belts  map[string]int
	siteAt map[string]int
}

// names gives each spelling of a name a number, the same for spellings that differ by case or space only.
type names struct {
	ids    map[string]uint32
	folded map[string]uint32
	text   []string
}

func (n *names) of(raw string) uint32 {
	if id, ok := n.ids[raw]; ok {
		return id
	}
	text := raw
	if whole, ok := strings.CutSuffix(raw, ".0"); ok {
		if _, number := atoi(whole); number {
			text = whole
		}
	}
	f := strings.ToLower(text)
	id, ok := n.folded[f]
	if !ok {
		id = uint32(len(n.text))
		n.text = append(n.text, strings.Clone(text))
		n.folded[strings.Clone(f)] = id
	}
	n.ids[strings.Clone(raw)] = id
	return id
}

const (
	nameRanch = iota
	nameSite
	nameTransect
	nameNest
)

func newReader(files []File, opt Options) *reader {
	r := &reader{
		voice: voice{opt.Say}, opt: opt, lex: newLexicon(), sentences: map[string]string{}, texts: map[string]string{}, people: map[string]int32{},
		asked: map[string]*group{}, noted: map[string]*group{}, unused: map[string]bool{}, singles: map[string]int{},
		byKey: map[nestKey]int32{}, subs: map[string]survey.Substrate{}, belts: map[string]int{}, siteAt: map[string]int{},
	}
	r.out.Words = map[string]string{}
	for i := range r.names {
		r.names[i] = names{ids: map[string]uint32{}, folded: map[string]uint32{}}
	}
	if opt.OnlyRanches != nil {
		r.only = map[string]string{}
		for _, name := range opt.OnlyRanches {
			r.only[strings.ToLower(tidy(name))] = name
		}
	}
	r.many = len(files) > 1
	for _, f := range files {
		r.files = append(r.files, &file{File: f})
	}
	return r
}

// readAll reads every file; a file that cannot be read is refused and the others go on.
func (r *reader) readAll() error {
	var first error
	read := 0
	for _, f := range r.files {
		if err := r.readFile(f); err != nil {
			if first == nil {
				first = err
			}
			f.failed = true
			message, ok := errs.Message(err)
			if !ok {
				return err
			}
			r.refuse(survey.Cell{File: f.Name}, "", message)
			continue
		}
		read++
	}
	if read == 0 {
		return first
	}
	return nil
}

func (r *reader) readFile(f *file) error {
	book, err := sheet.Open(f.Name, f.Data, r.opt.Say)
	if err != nil {
		return err
	}
	defer book.Close() // only temporary files were written
	if book.Encoding == "Windows-1252" {
		r.note(survey.Cell{File: f.Name}, "encoding", f.Name, "", func(g *group) string {
			return r.Say("%s was saved in an older set of letters (Windows-1252); we read it so that ñ and é come out right.", f.Name)
		})
	}
	if f.order == orderStopped {
		r.refuseOrder(f)
		return nil
	}
	r.many = r.many || len(book.Tables) > 1
	before := r.mark()
	var found []*table
	for _, s := range book.Tables {
		t, err := r.readTable(f, s)
		if err != nil {
			r.rollback(before)
			return err
		}
		if t != nil {
			found = append(found, t)
		}
	}
	if len(found) == 0 {
		r.rollback(before)
		return errs.New(errs.Invalid, r.Say("We found no table in %s that we know. A table of nests has the columns transect, nest, substrate, set_on, check1_on, check1; one of belts has transect, length, width and count_…. Please look at the headings, or start from the blank workbook.", f.Name))
	}
	f.hasTable = true
	r.askOrder(f)
	r.askTabs(f, found)
	return nil
}

// A state of the reading to go back to where a file fails half way.
type savedState struct{ nests, belts, sites, looks, rows int }

func (r *reader) mark() savedState {
	return savedState{len(r.out.Data.Nests), len(r.out.Data.Belts), len(r.out.Data.Sites), len(r.looks), r.out.Rows}
}

// rollback takes out what a failed file brought, so that half a file never counts.
func (r *reader) rollback(s savedState) {
	for i := s.nests; i < len(r.work); i++ {
		r.work[i].dead = true
	}
	for i := s.looks; i < len(r.looks); i++ {
		r.looks[i].mark = markSkipped
	}
	r.out.Data.Belts = r.out.Data.Belts[:s.belts]
	r.out.Data.Sites = r.out.Data.Sites[:s.sites]
	r.out.Rows = s.rows
}

// readTable reads one worksheet or CSV file; nil where it is none of our tables.
func (r *reader) readTable(f *file, s *sheet.Table) (*table, error) {
	if r.leftOut(f, s) {
		return nil, nil
	}
	var head []bufferedRow
	var t *table
	for row, err := range s.Rows() {
		if err != nil {
			return nil, err
		}
		if t != nil {
			r.row(t, row)
			continue
		}
		head = append(head, bufferedRow{row.Number, slices.Clone(row.Cells), row.Hidden, row.Mended})
		if len(head) == headRows {
			if t = r.begin(f, s, head); t == nil {
				break
			}
		}
	}
	if t == nil && len(head) < headRows {
		t = r.begin(f, s, head)
	}
	if t == nil {
		if len(head) > 0 && !oneOf(fold(s.Name), "readme", "leame", "lists", "listas") {
			r.unusedTab(f, s)
		}
		return nil, nil
	}
	r.endTable(t)
	return t, nil
}

// begin finds the headings among the first rows and reads the rows of data below them.
func (r *reader) begin(f *file, s *sheet.Table, head []bufferedRow) *table {
	cols, kind, from, to := r.findHeadings(s, head)
	if kind == kindNone {
		return nil
	}
	t := &table{
		Table: s, index: len(r.tables), file: f, kind: kind, cols: cols, headRow: head[to].number, double: from != to,
		last: make([]string, len(cols)), dates: map[string]dateReading{}, states: map[string]stateReading{}, substrates: map[string]survey.Substrate{}, from: len(r.out.Data.Nests),
	}
	r.tables = append(r.tables, t)
	r.settleColumns(t)
	for _, row := range head[:from] {
		t.titles = append(t.titles, row.number)
	}
	r.noteLayout(t)
	if t.at[roleTransect] < 0 && kind != kindSites {
		t.line = lineFromTab(s.Name)
		if t.line != "" && !r.note(t.cell(0, -1), "line-from-tab", t.place(), "", func(g *group) string {
			return r.Say("There is no column for the line, so we took it from the tab: “%s” is line %s.", t.Name, t.line)
		}) {
			t.line = ""
		}
	}
	if kind == kindNests && cap(r.out.Data.Nests)-len(r.out.Data.Nests) < s.RowsHint {
		n := min(s.RowsHint, sheet.MaxRows)
		r.out.Data.Nests = slices.Grow(r.out.Data.Nests, n)
		r.work = slices.Grow(r.work, n)
		r.looks = slices.Grow(r.looks, n*len(t.pairs))
	}
	if missing := t.missing(r.voice); missing != nil {
		r.refuse(survey.Cell{File: t.File, Sheet: t.Name, Row: t.headRow}, "", r.Say("This table has no column for the %s, and without it no row can be placed. Please add the column and send the file again.", r.list(missing)))
		t.kind = kindNone
	}
	for _, b := range head[to+1:] {
		r.row(t, &sheet.Row{Number: b.number, Cells: b.cells, Hidden: b.hidden, Mended: b.mended})
	}
	return t
}

// noteLayout tells what was unusual about where the table stands.
func (r *reader) noteLayout(t *table) {
	if len(t.titles) > 0 {
		r.note(t.cell(t.titles[0], -1), "title", t.place(), "", func(g *group) string {
			return r.Count("We skipped %d title row above the headings and start at row %d%s.", "We skipped %d title rows above the headings and start at row %d%s.",
				len(t.titles), len(t.titles), t.headRow, r.in(t, r.many))
		})
	}
	if t.double {
		r.note(t.cell(t.headRow, -1), "two-headings", t.place(), "", func(g *group) string {
			var hs []string
			for _, c := range t.cols {
				if c.role == rolePairOn || c.role == rolePairState || c.role == rolePairEggs {
					hs = append(hs, c.heading)
				}
			}
			return r.Say("Your headings sit on two rows%s; we read them together, as in %s.", r.in(t, r.many), r.quoted(hs[:min(2, len(hs))]))
		})
	}
	if slices.ContainsFunc(t.pairs, func(p pair) bool { return p.number > 1000 }) {
		r.note(t.cell(t.headRow, -1), "wide", t.place(), "", func(g *group) string {
			return r.Say("One row a nest, with a column for each check: common and fine%s. We read %s as the days of the checks.", r.in(t, r.many), r.quoted(t.pairHeadings()))
		})
	}
}

func (t *table) pairHeadings() []string {
	var out []string
	for _, p := range t.pairs {
		if p.number > 1000 && len(out) < 6 {
			out = append(out, t.cols[p.state].heading)
		}
	}
	return out
}

func (r *reader) unusedTab(f *file, s *sheet.Table) {
	if s.Name == "" {
		return // the whole file is refused
	}
	r.out.NotUsed = append(r.out.NotUsed, r.Say("The tab “%s” of %s was not used: we know none of its columns as a table of nests, checks, belts or sites.", s.Name, f.Name))
}

func (r *reader) notUsed(t *table, heading string) {
	key := t.File + "\x00" + t.Name + "\x00" + heading
	if r.unused[key] || len(r.unused) > 1000 {
		return
	}
	r.unused[key] = true
	if len(heading) > 80 {
		heading = strings.ToValidUTF8(heading[:80], "") + "…"
	}
	r.out.NotUsed = append(r.out.NotUsed, r.Say("The column “%s”%s was not used.", heading, r.in(t, r.many)))
}

// row reads one row of data.
func (r *reader) row(t *table, row *sheet.Row) {
	for _, m := range row.Mended {
		r.noteMended(t, row, m)
	}
	if r.aside(t, row) {
		return
	}
	r.out.Rows++
	switch t.kind {
	case kindNests:
		r.nestRow(t, row)
	case kindChecks:
		r.checkRow(t, row)
	case kindBelts:
		r.beltRow(t, row)
	case kindSites:
		r.siteRow(t, row)
	}
}

func (r *reader) noteMended(t *table, row *sheet.Row, m sheet.Mend) {
	is := row.Cells[m.Column]
	if !r.note(t.cell(row.Number, m.Column), "accents", "", r.Say("%s” to “%s", m.Was, is), func(g *group) string {
		return r.Say("An earlier program broke some accents; we mended %s.", r.quoted(g.words[:min(3, len(g.words))]))
	}) {
		row.Cells[m.Column] = m.Was
	}
}

// WriteTemplate writes the blank season workbook, explained by say.
func WriteTemplate(w io.Writer, say tongue.Speaker) error {
	return sheet.WriteWorkbook(w, voice{say}.template())
}
