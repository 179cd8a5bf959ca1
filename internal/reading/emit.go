package reading

import (
	"slices"
	"strconv"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// An emitter turns the records of one block of nests or visits into rows.
type emitter struct {
	*reader
	b    *block
	sink Sink

	ranch, site, season, line, nest, cover, plant, set, event *column
	notes, who, second, guess, camera, cameraOn, eggsLeft     *column
	eggsSet, steps, bearing, spot, trace                      *column
	features, remarks, lostHow                                []*column
	sentence                                                  *column

	last        []string // by column: what stood there last, for ditto marks and merged cells
	kept        []string // by column: the text kept last
	keys        []string // by column: see key
	table       survey.Cell
	missed      []cell // by column, of a row being read of which nothing is kept: see missing
	lastLine    string
	lineDays    map[string]map[int]*cell // by line and visit: a day written in some row of it
	signs       bool
	lossesOnly  bool              // only losses are written down
	lostByCause bool              // "lost" is said of eggs
	twins       map[string]string // by all that a row says: its pasture
	firstSets   map[string]bool   // the nests of whose rows one was met, where the first sets them; nil where not
	setWord     string            // the event that is the setting, where it is told by what stands beside it
	row         Row
	dayAbove    []above            // by visit
	walked      map[lineVisit]bool // something was found on the line
	batch       [2]string          // the ranch and season of the rows being read
	begun       bool               // a row was read
	nests       int                // how many rows told of nests
	marks       [][256]int         // by visit: how often each was read
	seen        map[[2]string]int  // names that hold a line and a nest, for 1.1 after 1.9
	byLine      map[string]int     // how many nests of a line so far, where nests have no number
}

// Above is the day of a visit that was written last, and the line it was written for.
type above struct {
	day  cell
	line string
}

// bareEmitter is one for what is told of a table in words: it knows no columns.
func (r *reader) bareEmitter(b *block, sink Sink) *emitter {
	e := &emitter{reader: r, b: b, sink: sink}
	if b != nil {
		e.table = survey.Cell{File: b.g.File, Sheet: b.g.Name}
	}
	return e
}

func (r *reader) newEmitter(b *block, sink Sink) *emitter {
	e := r.bareEmitter(b, sink)
	e.last, e.dayAbove = make([]string, max(b.right, b.g.width)), make([]above, len(b.visits))
	e.kept = make([]string, len(e.last))
	e.seen, e.byLine = map[[2]string]int{}, map[string]int{}
	for col := range e.last {
		e.keys = append(e.keys, e.keyOf(col))
	}
	for i := range b.cols {
		c := &b.cols[i]
		for role, into := range map[lexicon.Role]**column{
			lexicon.Ranch: &e.ranch, lexicon.Site: &e.site, lexicon.Season: &e.season, lexicon.Line: &e.line, lexicon.Nest: &e.nest,
			lexicon.Substrate: &e.cover, lexicon.Plant: &e.plant, lexicon.SetOn: &e.set, lexicon.Event: &e.event, lexicon.Notes: &e.notes,
			lexicon.Who: &e.who, lexicon.SecondLook: &e.second, lexicon.Guess: &e.guess, lexicon.Camera: &e.camera, lexicon.CameraOn: &e.cameraOn,
			lexicon.EggsSet: &e.eggsSet, lexicon.Steps: &e.steps, lexicon.Bearing: &e.bearing, lexicon.Spot: &e.spot, lexicon.Trace: &e.trace,
		} {
			if c.role == role && *into == nil {
				*into = c
			}
		}
		if c.role == lexicon.EggsLeft && c.visit < 0 && e.eggsLeft == nil {
			e.eggsLeft = c
		}
		switch c.role {
		case lexicon.Feature:
			e.features = append(e.features, c)
		case lexicon.Notes:
			e.remarks = append(e.remarks, c)
		case lexicon.LostHow: // one column, or one beside each check
			e.lostHow = append(e.lostHow, c)
		}
		if c.sentence {
			e.sentence = c
		}
	}
	e.signs = e.guess != nil || len(e.features) > 0
	e.findLineDays()
	e.findSetting()
	e.lostByCause = e.findLost()
	e.findFirstRows()
	e.lossesOnly = sink != nil && e.findLossesOnly()
	return e
}

// emit reads all records of a block of nests or visits.
func (e *emitter) emit() error {
	defer func() {
		e.reader.who = ""
		e.nestRows[e.b.g.index] += e.nests
	}()
	last := e.lastNamed()
	if e.b.tail && e.b.kind != visitTable {
		e.sink.Expect(e.b.g.RowsHint, len(e.b.visits))
	}
	for i, rec := range e.b.records {
		l := &e.b.g.lines[rec.row]
		if i > last && e.footer(l) {
			e.setAsideLine(l, "total")
			e.totals = append(e.totals, totalRow{g: e.b.g, row: rec.row, block: e.b, left: e.b.left, right: e.b.right})
			continue
		}
		e.record(l, rec.scope)
		e.keepDays(l)
	}
	if !e.b.tail {
		e.compareTotals()
		return nil
	}
	scope := e.b.top
	if n := len(e.b.records); n > 0 {
		scope = e.b.records[n-1].scope
	}
	if e.alone() {
		clear(e.b.g.lines[min(sampleRows, len(e.b.g.lines)):]) // they have been read
	}
	var l line
	e.missed = make([]cell, len(e.last))
	for row, err := range e.b.g.rest() { // nothing keeps the cells of a row that has been read
		if err != nil {
			return err
		}
		l = e.lineOf(e.b.g, row, l.cells, l.cells)
		if e.headingAgain(&l) || len(l.cells) > 0 && e.kind(&l.cells[0]).headsTotal() {
			continue
		}
		e.record(&l, scope)
		e.keepDays(&l)
	}
	return nil
}

// keepDays remembers the days of a row for ditto marks below it, those of looks that were not read too.
func (e *emitter) keepDays(l *line) {
	for i := range e.b.visits {
		if on := e.b.visits[i].on; on >= 0 && e.b.cols[on].ditto > 0 {
			if c := l.at(e.b.cols[on].at); c.text != "" && !c.down && e.kind(c).date.Form != lexicon.NoDate && !e.kind(c).ditto {
				e.last[e.b.cols[on].at] = c.text
			}
		}
	}
}

// alone tells whether no other block is of the same grid.
func (e *emitter) alone() bool {
	return !slices.ContainsFunc(e.blocks, func(b *block) bool { return b != e.b && b.g == e.b.g })
}

// lastNamed is the last record that names a nest, or the last of all where none is named.
func (e *emitter) lastNamed() int {
	n := len(e.b.records)
	if e.nest == nil || e.b.tail {
		return n
	}
	numbered := e.nest.share(e.nest.whole+e.nest.id) >= 0.7
	for i := n - 1; i >= 0; i-- {
		if t := e.b.g.lines[e.b.records[i].row].at(e.nest.at).text; t != "" && (!numbered || hasDigits(t) || e.kindOf(t).ditto || len(t) <= 3) {
			return i
		}
	}
	return n
}

// footer tells whether a record below the last nest is of sums: it has no cover and no day.
func (e *emitter) footer(l *line) bool {
	for i := range e.b.cols {
		c := &e.b.cols[i]
		text := l.at(c.at).text
		if text == "" || e.kindOf(text).ditto {
			continue
		}
		switch c.role {
		case lexicon.Substrate:
			if e.kindOf(text).isCover {
				return false
			}
		case lexicon.SetOn, lexicon.CheckOn:
			if d := e.kindOf(text).date; d.Form != lexicon.NoDate && d.Form != lexicon.SerialDate || l.at(c.at).look().Date != 0 {
				return false
			}
		}
	}
	return true
}

func (e *emitter) headingAgain(l *line) bool {
	if len(e.b.heads) == 0 {
		return false
	}
	h := &e.b.g.lines[e.b.heads[len(e.b.heads)-1]]
	n := 0
	for i := range l.cells {
		if l.cells[i].text == "" {
			continue
		}
		if !strings.EqualFold(l.cells[i].text, h.at(i).text) {
			return false
		}
		n++
	}
	return n > 1
}

// findLineDays notes the days of checks that are written in some rows of a line only.
func (e *emitter) findLineDays() {
	blank := false
	for _, v := range e.b.visits {
		if v.on < 0 {
			continue
		}
		c := &e.b.cols[v.on]
		blank = blank || c.n < c.rows
	}
	if !blank || len(e.b.records) > wholeRows {
		return
	}
	e.lineDays, e.walked = map[string]map[int]*cell{}, map[lineVisit]bool{}
	lineName := ""
	several := map[string]bool{}
	var of struct { // the record before
		scope *scope
		line  string
		key   string
		days  map[int]*cell
	}
	for _, rec := range e.b.records {
		l := &e.b.g.lines[rec.row]
		if e.line != nil {
			if c := l.at(e.line.at); c.text != "" && !e.kind(c).ditto {
				lineName = c.text
			}
		} else if e.nest != nil {
			if k := e.kind(l.at(e.nest.at)); k.isID {
				lineName = k.id.line
			}
		}
		if of.days == nil || of.scope != rec.scope || of.line != lineName {
			of.scope, of.line, of.key = rec.scope, lineName, rec.scope.lineName()+"\x00"+lineName
			if e.lineDays[of.key] == nil {
				e.lineDays[of.key] = map[int]*cell{}
			}
			of.days = e.lineDays[of.key]
		}
		key := of.key
		for k, v := range e.b.visits {
			if v.found >= 0 && l.at(e.b.cols[v.found].at).text != "" {
				e.walked[lineVisit{key, k}] = true
			}
			if v.on < 0 {
				continue
			}
			c := l.at(e.b.cols[v.on].at)
			if c.text == "" || e.kind(c).ditto {
				continue
			}
			if was := of.days[k]; was != nil && was.text != c.text {
				several[key+strconv.Itoa(k)] = true
			}
			of.days[k] = c
		}
	}
	for key, visits := range e.lineDays {
		for k := range visits {
			if several[key+strconv.Itoa(k)] {
				delete(visits, k)
			}
		}
	}
}

// place names a cell of the block for the sender: by its heading, else by its letter.
func (e *emitter) place(c *cell, col *column) survey.Cell {
	p := e.table
	p.Row = c.row
	if col != nil {
		if p.Column = col.head.Text; p.Column == "" {
			p.Column = letter(col.at)
		}
	}
	return p
}

// missing is a cell that a short row does not have.
func (e *emitter) missing(row, col int) *cell {
	if e.missed == nil {
		return &cell{row: row, col: col}
	}
	e.missed[col] = cell{row: row, col: col}
	return &e.missed[col]
}

// told returns what a record says in a column that people write once for several rows: merged cells, ditto marks and, for
// lines and ranches, blanks are filled from above.
func (e *emitter) told(l *line, col *column, named bool) (string, *cell) {
	if col == nil {
		return "", e.missing(l.number, 0)
	}
	c := l.at(col.at)
	if c.row == 0 {
		c = e.missing(l.number, col.at)
	}
	k := col.at
	switch {
	case c.text != "" && !c.down && !e.kind(c).ditto:
		e.last[k] = c.text
		return c.text, c
	case c.text != "" && c.down:
		if e.Note(e.place(c, col), "merged", e.key(k), c.text, func(g *group) string {
			return e.Say("%s under “%s” was written once for several rows (%s); we filled it down.", e.Quoted(g.Words[:min(3, len(g.Words))]), g.Cells[0].Column, g.Where())
		}) {
			e.last[k] = c.text
			return c.text, c
		}
		return e.notFilled(c, col)
	}
	above := e.last[k]
	if above == "" {
		return "", c
	}
	if c.text != "" { // a ditto mark
		if e.Note(e.place(c, col), "ditto", e.key(k), "", func(g *group) string {
			return e.Say("We read the ditto marks under “%s” in %s as the same as above.", g.Cells[0].Column, g.Where())
		}) {
			return above, c
		}
		return e.notFilled(c, col)
	}
	if !named {
		return "", c
	}
	switch col.role {
	case lexicon.Line, lexicon.Ranch, lexicon.Site:
		if e.Note(e.place(c, col), "once", e.key(k), "", func(g *group) string {
			return e.Say("“%s” is written once for several rows; we took blanks below it (%s) as the same as above.", g.Cells[0].Column, g.Where())
		}) {
			return above, c
		}
	}
	return "", c
}

// notFilled is what a cell says that its sender does not want to be as the one above: nothing.
func (e *emitter) notFilled(c *cell, col *column) (string, *cell) {
	e.row.Lineless = e.row.Lineless || col.role == lexicon.Line
	return "", c
}

func (e *emitter) key(col int) string {
	if col < len(e.keys) {
		return e.keys[col]
	}
	return e.keyOf(col)
}

func (e *emitter) keyOf(col int) string {
	return e.b.g.File + "\x00" + e.b.g.Name + "\x00" + strconv.Itoa(e.b.number) + "\x00" + strconv.Itoa(col)
}

// record reads one record.
func (e *emitter) record(l *line, sc *scope) {
	if e.asideRecord(l) {
		return
	}
	row := &e.row
	looks := row.Looks[:0]
	*row = Row{} // and filled where it stands, as it is large
	row.At = e.table
	row.At.Row = rowNumber(l)
	row.Table, row.EggsLeft, row.Looks = e.b.g.index<<16+e.b.number, -1, looks
	row.Sets, row.Waits, row.Signs = e.b.kind != visitTable && !e.b.elsewhere, e.b.waits, e.signs
	nestText, nestCell := e.nestText(l)
	named := nestText != ""
	if !named && e.nest != nil && len(e.b.records) < wholeRows && l.filled(e.b.left, e.b.right) <= 1 {
		e.setAsideLine(l, "short")
		return
	}
	if !named && e.nest != nil && e.nest.n*10 >= e.nest.rows*8 && !e.tellsOfNest(l) {
		e.setAsideLine(l, "other-point")
		return
	}
	if named && e.unfilled(l) {
		e.setAsideLine(l, "unfilled")
		return
	}
	if named && e.neverSet(l) {
		e.setAsideLine(l, "unfilled")
		return
	}
	if named && e.sumsRow(l, nestText) || !named && e.sumsUnnamed(l) {
		e.setAsideLine(l, "total")
		return
	}
	if e.strangeRow(l, nestText) {
		e.setAsideLine(l, "other-point")
		return
	}
	e.newBatch(l)
	if !named && (e.stripRow(l, sc) || e.countsOnly(l)) {
		return
	}
	e.rows++
	row.NestCell = e.place(nestCell, e.nest)
	if row.NestCell.Column == "" {
		row.NestCell.Column = "nest"
	}
	row.Season = e.seasonOf(l)
	nest := e.kindIn(nestCell, nestText)
	row.Line, row.Nest = e.lineAndNest(l, sc, nest, named)
	row.Ranch = e.ranchOf(l, sc, row.Line, named)
	row.Site = e.siteOf(l, sc, row.Line, named)
	if id := &nest.id; id.place != "" && row.Site == "" && e.nest != nil && e.nest.idStyle == id.style && !isYear(id.place) && e.placesDiffer() {
		row.Site = id.place
	}
	e.sameTwice(l)
	setting := e.settingRow(l)
	if e.b.kind == visitTable {
		row.Sets = setting
	}
	e.coverOf(l, sc, setting, named)
	e.setDay(l, sc, setting)
	if e.b.kind == visitTable {
		if !setting {
			e.visitLook(l, sc)
		}
	} else {
		e.looks(l, sc)
	}
	e.beside(l)
	e.cameraDay(l, sc)
	e.noteCause(l)
	e.correction()
	if row.Season == 0 {
		row.Season = e.seasonFrom(sc)
	}
	e.nests++
	e.sink.Nest(row)
}

// unfilled tells whether a row of a form has the number of a nest and nothing else.
func (e *emitter) unfilled(l *line) bool {
	if e.b.kind != nestTable || len(e.b.heads) == 0 || e.cover == nil && e.plant == nil && !e.b.hasHead(lexicon.Plant) && !e.b.hasHead(lexicon.Substrate) {
		return false
	}
	for i := range e.b.cols {
		c := &e.b.cols[i]
		if t := l.at(c.at).text; t != "" && c.role != lexicon.Nest && c.role != lexicon.Line && c.role != lexicon.Site && c.role != lexicon.Ranch && c.role != lexicon.Season && c.role != lexicon.RowNumber {
			return false
		}
		if l.at(c.at).look().Fill != "" {
			return false
		}
	}
	return true
}

// tellsOfNest tells whether a row without a nest's name says what could only be said of a nest: its cover, or what was found.
func (e *emitter) tellsOfNest(l *line) bool {
	for i := range e.b.cols {
		c := &e.b.cols[i]
		switch c.role {
		case lexicon.Substrate, lexicon.Plant, lexicon.Found, lexicon.EggsLeft, lexicon.SetOn, lexicon.Count, lexicon.Clumps, lexicon.Line, lexicon.SecondLook:
			if !l.at(c.at).empty() {
				return true
			}
		}
	}
	return e.sentence != nil && l.at(e.sentence.at).text != ""
}

// sameTwice takes the pasture of a row for that of an earlier one that says the very same of the same nest: a page that came twice
// need not say again where it was.
func (e *emitter) sameTwice(l *line) {
	if e.b.kind != nestTable || e.site != nil || e.b.tail || len(e.b.records) > 2000 {
		return
	}
	var key strings.Builder
	key.WriteString(e.row.Ranch + "\x00" + e.row.Line)
	for col := e.b.left; col < e.b.right; col++ {
		key.WriteString("\x00" + l.at(col).text)
	}
	if e.twins == nil {
		e.twins = map[string]string{}
	}
	if site, twice := e.twins[key.String()]; twice {
		e.row.Site = site
		return
	}
	e.twins[key.String()] = e.row.Site
}

// neverSet tells whether a row names a nest of which nothing came: it has no day and no finding, where nearly all others have a day
// of setting, and a remark.
func (e *emitter) neverSet(l *line) bool {
	if e.b.kind != nestTable || e.set == nil || e.b.tail || e.notes == nil || l.at(e.notes.at).text == "" || e.set.n*10 < e.set.rows*8 || l.at(e.set.at).text != "" {
		return false
	}
	for _, v := range e.b.visits {
		for _, i := range []int{v.on, v.found, v.eggs} {
			if i >= 0 && !l.at(e.b.cols[i].at).empty() {
				return false
			}
		}
	}
	return len(e.b.visits) > 0
}

// newBatch forgets what stood above where the rows of another ranch or season begin.
func (e *emitter) newBatch(l *line) {
	e.whose(e.b, l)
	var now [2]string
	for i, col := range [2]*column{e.ranch, e.season} {
		if col == nil {
			continue
		}
		if c := l.at(col.at); c.text != "" && !e.kind(c).ditto {
			now[i] = c.text
		} else {
			now[i] = e.last[col.at]
		}
	}
	if now == e.batch && e.begun {
		return
	}
	if e.begun {
		for _, col := range [3]*column{e.site, e.line, e.set} {
			if col != nil {
				e.last[col.at] = ""
			}
		}
	}
	e.batch, e.begun = now, true
}

// stripRow finds a belt told in words among the records of nests: "strip | | 300 steps by 6 ft: 19 bunchgrass, 6 yucca".
func (e *emitter) stripRow(l *line, sc *scope) bool {
	for i := range l.cells {
		c := &l.cells[i]
		if len(c.text) < 12 || !hasDigits(c.text) {
			continue
		}
		items := e.scan(c.text)
		if !between(items, aMeasure) || !between(items, aCover) {
			continue
		}
		f := facts{season: e.seasonOf(l)}
		if t, at := e.told(l, e.line, true); t != "" {
			f.line = fact{text: lineName(t), at: at}
		}
		if t, at := e.told(l, e.site, true); t != "" {
			f.site = fact{text: t, at: at}
		}
		if t := e.ranchOf(l, sc, f.line.text, true); t != "" {
			f.ranch = fact{text: t, at: c}
		}
		e.captions = append(e.captions, &caption{g: e.b.g, c: c, scope: sc.child(f)})
		return true
	}
	return false
}

// countsOnly tells whether a row among nests is of a belt: no nest, but counts of clumps in columns of their own.
func (e *emitter) countsOnly(l *line) bool {
	for i := range e.b.cols {
		if c := &e.b.cols[i]; c.role == lexicon.Count && l.at(c.at).text != "" {
			return true
		}
	}
	return false
}

// strangeRow tells whether a row of another kind stands among the nests: a gate among points named T3N01, T3N02.
func (e *emitter) strangeRow(l *line, nest string) bool {
	if e.nest == nil || e.nest.share(e.nest.id) < 0.7 || e.kindOf(nest).whole || nest == "" {
		return false
	}
	if k := e.kindOf(nest); k.isID && (k.id.style == e.nest.idStyle || e.nest.idStyle == "") {
		return false
	}
	if e.cover != nil && e.kind(l.at(e.cover.at)).isCover {
		return false
	}
	for _, v := range e.b.visits {
		if v.found >= 0 && e.kind(l.at(e.b.cols[v.found].at)).sight.Mark > lexicon.Skipped {
			return false
		}
	}
	return e.sentence == nil || len(e.tellings(l.at(e.sentence.at).text)) == 0
}

func rowNumber(l *line) int {
	if l.number != 0 {
		return l.number
	}
	for i := range l.cells {
		if l.cells[i].row != 0 {
			return l.cells[i].row
		}
	}
	return 0
}

// asideRecord recognises records that are no data: those crossed out, hidden ones the sender wants left out, and the
// example of the blank workbook.
func (e *emitter) asideRecord(l *line) bool {
	if l.hidden && e.Ask(survey.Cell{File: e.b.g.File, Sheet: e.b.g.Name, Row: l.number}, inquiry.Prompt{
		Kind: "other", Place: "hidden\x00" + e.b.g.File, Weight: inquiry.PleaseLook, Default: "count",
		Text: func(g *group) string {
			return g.Count("One row is hidden in your sheet (%[2]s). We counted it in. Right?", "%d rows are hidden in your sheet (%s). We counted them in. Right?", g.N, g.N, g.Where())
		},
		Choices: []inquiry.Choice{{ID: "count", Label: e.Say("Count them in")}, {ID: "leave-out", Label: e.Say("Leave them out")}},
	}) == "leave-out" {
		return true
	}
	struck, n := 0, 0
	for i := range l.cells {
		if c := &l.cells[i]; c.shown != nil && c.text != "" && c.shown.Struck {
			struck++
		}
	}
	for i := range l.cells[:min(struck, 1)*len(l.cells)] {
		if l.cells[i].text != "" {
			n++
		}
	}
	if struck*2 > n && e.Note(survey.Cell{File: e.b.g.File, Sheet: e.b.g.Name, Row: l.number}, "struck", e.b.g.File+e.b.g.Name, "", func(g *group) string {
		return inquiry.Capital(e.Say("%s is crossed out; we left it out.", g.Where()))
	}) {
		return true
	}
	for _, col := range [4]*column{e.ranch, e.site, e.line, e.nest} {
		if col == nil {
			continue
		}
		switch c := l.at(col.at); e.kind(c).saysNoData() {
		case anExample:
			return e.Note(e.place(c, col), "example", "", "", func(g *group) string {
				return e.Say("The example in %s was left out. It may stay in the sheet.", g.Where())
			})
		case aTest:
			return e.Note(e.place(c, col), "test-row", e.b.g.File, c.text, func(g *group) string {
				return e.Say("%s in %s says it is a test; we left it out.", e.Quoted(g.Words), g.Where())
			})
		}
	}
	return false
}

// nestText returns the nest's own name. Where states are painted over it, it stands in the painted cells.
func (e *emitter) nestText(l *line) (string, *cell) {
	if e.nest != nil {
		c := l.at(e.nest.at)
		if c.row == 0 {
			c = e.missing(rowNumber(l), e.nest.at)
		}
		name := strings.TrimPrefix(c.text, "#")
		if n := strings.TrimRight(name, ".)"); n != "" && lexicon.Digit(n[len(n)-1]) { // 7. and 7)
			name = n
		}
		return name, c
	}
	for _, v := range e.b.visits {
		if v.found >= 0 && e.b.cols[v.found].colors {
			if c := l.at(e.b.cols[v.found].at); e.kind(c).whole {
				return c.text, c
			}
		}
	}
	return "", e.missing(rowNumber(l), 0)
}

func (e *emitter) seasonOf(l *line) int {
	if e.season == nil {
		return 0
	}
	c := l.at(e.season.at)
	v := c.text
	if v == "" {
		return 0
	}
	if y := e.kind(c).findYear(); y != 0 {
		return y
	}
	if n, ok := lexicon.Atoi(strings.TrimLeft(v, "'’")); ok && len(v) <= 3 && n < 100 {
		return lexicon.Century(n)
	}
	e.Refuse(e.place(c, e.season), v, e.Say("We read no year in “%s”. Please write the season as a year, such as 2025.", inquiry.Short(v)))
	e.row.Waits = true
	return 0
}

func (e *emitter) seasonFrom(sc *scope) int {
	if e.row.SetOn != 0 {
		return e.row.SetOn.Year()
	}
	if f := sc.find(func(f *facts) bool { return f.season != 0 }); f != nil {
		return f.season
	}
	if len(e.row.Looks) > 0 && e.row.Looks[0].On != 0 {
		return e.row.Looks[0].On.Year()
	}
	return e.opt.Season
}

func (e *emitter) ranchOf(l *line, sc *scope, line string, named bool) string {
	if v, _ := e.told(l, e.ranch, named); v != "" {
		if len(e.ranchCodes) > 0 {
			if name := e.ranchCodes[foldCode(v)]; name != "" {
				return name
			}
		}
		return v
	}
	return e.ranchFrom(sc, line)
}

// ranchFrom is the ranch of rows that name none: the one the upload is for, else the one of the line, else the one the sheet
// is headed by.
func (r *reader) ranchFrom(sc *scope, line string) string {
	if r.opt.Ranch != "" {
		return r.opt.Ranch
	}
	if s := r.schedule(sc, line); s != nil && s.ranch != "" {
		return s.ranch
	}
	if f := sc.find(func(f *facts) bool { return f.ranch.text != "" && !f.ranch.weak }); f != nil {
		return f.ranch.text
	}
	if r.sureRanch {
		return r.onlyRanch
	}
	if f := sc.find(func(f *facts) bool { return f.ranch.text != "" }); f != nil {
		return f.ranch.text
	}
	return r.onlyRanch
}

// lineAndNest takes line and nest from their columns, from a name that holds both, or from what stands above.
func (e *emitter) lineAndNest(l *line, sc *scope, k *kind, named bool) (line, nest string) {
	lineText, lineCell := e.told(l, e.line, named)
	lineText = e.kindIn(lineCell, lineText).lineName()
	nest = k.text
	if lineText == "" {
		lineText = sc.lineName()
	}
	if k.isID && e.nest != nil && (e.nest.share(e.nest.id) >= 0.5 || lineText == "") {
		id := k.id
		switch {
		case lineText == "":
			lineText = e.idLine(id)
			nest = e.nestOf(nest, id, lineText)
		case e.line != nil && e.wholeNames: // A1 on line A: as the sheet calls it everywhere
		case strings.EqualFold(id.line, lineText) || strings.EqualFold(id.bareLine, lineText):
			nest = e.nestOf(nest, id, lineText)
		}
	}
	if n, ok := cutFold(nest, "nest ", "nido ", "stop ", "n "); ok {
		nest = n
	}
	return lineText, nest
}

// placesDiffer tells whether what stands before line and nest in the names of nests is not the same in all.
func (e *emitter) placesDiffer() bool {
	first := ""
	for t := range e.nest.distinct {
		if p := e.kindOf(t).id.place; first == "" {
			first = p
		} else if p != first {
			return true
		}
	}
	return false
}

// idLine is the line within names such as L2N5: where a text on the sheet says what the letters mean, the number alone.
func (e *emitter) idLine(id ident) string {
	if e.idExplained && id.bareLine != "" {
		return id.bareLine
	}
	return id.line
}

// nestOf undoes what a spreadsheet does to names such as 1.10, which it takes for the number 1.1.
func (e *emitter) nestOf(text string, id ident, line string) string {
	if !strings.Contains(text, ".") || len(id.nest) != 1 {
		e.seen[[2]string{line, id.nest}]++
		return id.nest
	}
	n, _ := lexicon.Atoi(id.nest)
	if n > 0 && e.seen[[2]string{line, id.nest}] > 0 && e.seen[[2]string{line, "9"}] > 0 {
		ten := strconv.Itoa(n * 10)
		if e.seen[[2]string{line, ten}] == 0 {
			e.seen[[2]string{line, ten}]++
			return ten
		}
	}
	e.seen[[2]string{line, id.nest}]++
	return id.nest
}

func cutFold(s string, prefixes ...string) (string, bool) {
	for _, p := range prefixes {
		if len(s) > len(p) && strings.EqualFold(s[:len(p)], p) {
			return strings.TrimSpace(s[len(p):]), true
		}
	}
	return s, false
}

func (e *emitter) siteOf(l *line, sc *scope, line string, named bool) string {
	if v, c := e.told(l, e.site, named); v != "" {
		switch e.kindIn(c, v).fold() {
		case "wholeranch", "ranchoentero", "todoelrancho":
			return ""
		}
		return v
	}
	return e.siteFrom(sc, line)
}

func (r *reader) siteFrom(sc *scope, line string) string {
	if f := sc.find(func(f *facts) bool { return f.site.text != "" }); f != nil {
		return f.site.text
	}
	if s := r.schedule(sc, line); s != nil && s.site != "" {
		return s.site
	}
	return ""
}

// settingRow tells whether a row of a table of visits tells of the setting of the nest.
func (e *emitter) settingRow(l *line) bool {
	if e.b.kind != visitTable {
		return false
	}
	if e.event != nil {
		t, _ := e.told(l, e.event, false)
		k := e.kindOf(t)
		if k.whole && k.num == 0 && e.event.minNum == 0 {
			return true
		}
		return t != "" && (setEvent(t) || t == e.setWord)
	}
	if e.settingTab() || e.firstOfNest() {
		return true
	}
	for _, v := range e.b.visits {
		if v.found >= 0 {
			if t := l.at(e.b.cols[v.found].at).text; t != "" && (e.kindOf(t).sight.Mark == lexicon.SetOut || e.setsInto(t)) {
				return true
			}
		}
	}
	for i := range e.b.cols { // a remark says so
		switch c := &e.b.cols[i]; c.role {
		case lexicon.Notes, lexicon.NoRole, lexicon.Trace:
			if t := l.at(c.at).text; t != "" && e.kindOf(t).sight.Mark == lexicon.SetOut {
				return true
			}
		}
	}
	return false
}

// settingTab tells whether a tab is named for the setting and says in what each nest sits: its days are those of setting.
func (e *emitter) settingTab() bool {
	return e.kindOf(e.b.g.Name).sight.Mark == lexicon.SetOut && e.b.has(lexicon.Substrate) && e.set == nil
}

// findSetting finds the event beside which nothing is ever found, where every other has something found beside it and no
// word names the setting: P beside C for placing and checking.
func (e *emitter) findSetting() {
	if e.event == nil || e.set != nil || e.b.kind != visitTable || len(e.b.visits) != 1 || e.b.visits[0].found < 0 {
		return
	}
	found := &e.b.cols[e.b.visits[0].found]
	rows, empty := map[string]int{}, map[string]int{}
	for _, rec := range e.b.records {
		l := &e.b.g.lines[rec.row]
		t := l.at(e.event.at).text
		if setEvent(t) {
			return
		}
		if rows[t]++; l.at(found.at).text == "" {
			empty[t]++
		}
	}
	word := ""
	for t, n := range rows {
		switch {
		case t != "" && empty[t] == n && word == "" && n > 1:
			word = t
		case empty[t]*5 > n: // another with nothing beside it
			return
		}
	}
	if len(rows) >= 2 {
		e.setWord = word
	}
}

// setEvent tells whether the name of a visit is that of setting out.
func setEvent(t string) bool {
	if one, two, ok := twoTongues(t); ok {
		return setEvent(one) || setEvent(two)
	}
	w := lexicon.Words(t)
	for _, p := range []string{"set", "put out", "putting", "setting", "deploy", "place", "out", "pues", "puso", "puse", "pusi", "coloc", "instal", "new nest", "nest set", "start", "initial", "setup", "establish", "siembra", "plant"} {
		if strings.HasPrefix(w, p) {
			return true
		}
	}
	loc := setPattern.FindStringIndex(t)
	return loc != nil && loc[0] <= 3
}

// coverOf reads what the nest sits in.
func (e *emitter) coverOf(l *line, sc *scope, setting, named bool) {
	v, c := e.told(l, e.cover, false)
	if e.cover != nil && v == "" && c.text == "" && named && e.last[e.cover.at] != "" && (e.b.kind != visitTable) {
		switch rule := e.ruleFrom(sc); {
		case rule.of(e.row.Nest) != "":
		case e.b.g.turn && e.cover.n*2 <= e.cover.rows && e.Note(e.place(c, e.cover), "once", e.key(e.cover.at), "", func(g *group) string { // written once over several nests
			return e.Say("“%s” is written once for several rows; we took blanks below it (%s) as the same as above.", g.Cells[0].Column, g.Where())
		}):
			v = e.last[e.cover.at]
		default:
			v = e.askDitto(c)
		}
	}
	if e.cover != nil && e.cover.rule > 0 && v != "" { // "odd grass even yucca"
		if rule := e.ruleText(v, c); rule != nil {
			e.row.Cover = rule.of(e.row.Nest)
			return
		}
	}
	if v != "" {
		e.row.Cover, e.row.Plant = e.coverWord(v, c, e.cover)
	} else if rule := e.ruleFrom(sc); rule != nil {
		e.row.Cover = rule.of(e.row.Nest)
	}
	if e.row.Cover == "" {
		if s := e.schedule(sc, e.row.Line); s != nil && s.rule != nil {
			e.row.Cover = s.rule.of(e.row.Nest)
		}
	}
	if e.plant != nil && e.plant != e.cover {
		if v, _ := e.told(l, e.plant, false); v != "" {
			e.row.Plant = v
			if e.row.Cover == "" {
				e.row.Cover, _ = e.coverWord(v, l.at(e.plant.at), e.plant)
			}
		}
	}
	if e.row.Cover == "" && setting && e.cover == nil { // "put out in bunchgrass"
		for _, v := range e.b.visits {
			if v.found < 0 {
				continue
			}
			for _, it := range e.scan(l.at(e.b.cols[v.found].at).text) {
				if it.is == aCover {
					e.row.Cover = it.cover.Substrate
				}
			}
		}
	}
}

func (e *emitter) ruleFrom(sc *scope) *coverRule {
	if f := sc.find(func(f *facts) bool { return f.rule != nil }); f != nil {
		return f.rule
	}
	return e.tabRules[e.b.g.index]
}

// askDitto asks about a blank cover below a written one.
func (e *emitter) askDitto(c *cell) string {
	cell := e.place(c, e.cover)
	a := e.Ask(cell, inquiry.Prompt{
		Kind: "ditto", Place: e.key(e.cover.at), Weight: inquiry.MustAnswer,
		Text: func(g *group) string {
			return e.Say("“%s” is blank under a filled cell in %s. The same as above, or not written down? These rows wait for your answer.", cell.Column, g.Where())
		},
		Choices: []inquiry.Choice{{ID: "same", Label: e.Say("Same as above")}, {ID: "blank", Label: e.Say("Not written down")}},
	})
	if a == "same" {
		return e.last[e.cover.at]
	}
	e.row.Waits = true
	if a == "" {
		e.Refuse(cell, "", e.Say("What the nest sits in is not written down. Please fill in the substrate, such as bunchgrass or prickly pear."))
	}
	return ""
}

// setDay reads the day of setting.
func (e *emitter) setDay(l *line, sc *scope, setting bool) {
	if e.b.kind == visitTable && setting {
		for _, v := range e.b.visits {
			if v.on < 0 {
				continue
			}
			if t, c := e.told(l, &e.b.cols[v.on], false); t != "" {
				e.row.SetOn = e.dayIn(c, t, &e.b.cols[v.on], sc, 0)
				return
			}
		}
	}
	if e.set != nil {
		t, c := e.told(l, e.set, false)
		if t == "" && c.text == "" && e.last[e.set.at] != "" && (e.sameLine() || e.onlyFirstSet()) && e.b.kind != visitTable && l.filled(e.b.left, e.b.right) > 1 {
			if e.Note(e.place(c, e.set), "set-once", e.key(e.set.at), "", func(g *group) string {
				return e.Say("The day of setting is blank in %s; we took the day of the nests above on the same line.", g.Where())
			}) {
				t = e.last[e.set.at]
			}
		}
		if t != "" {
			if u := c.look().Unworked; u {
				e.refuseWait(c, e.set, t, e.unworked())
				return
			}
			e.row.SetOn = e.dayIn(c, t, e.set, sc, 0)
			e.lastLine = e.row.Line
			return
		}
		if c.look().Unworked {
			e.refuseWait(c, e.set, "", e.unworked())
			return
		}
	}
	if e.b.kind == visitTable && !slices.ContainsFunc(e.b.visits, func(v visit) bool { return v.on >= 0 && e.b.cols[v.on].role == lexicon.DaysOut }) {
		return
	}
	if e.sentence != nil {
		for _, t := range e.tellings(l.at(e.sentence.at).text) {
			if t.set {
				c := l.at(e.sentence.at)
				e.row.SetOn = e.day(t.date, sc, 0, c, e.sentence, c.text)
				if t.cover.Substrate != "" && e.row.Cover == "" {
					e.row.Cover = t.cover.Substrate
				}
				return
			}
		}
	}
	if f := sc.find(func(f *facts) bool { return f.set.at != nil }); f != nil {
		e.row.SetOn = e.day(f.set.date, sc, 0, f.set.at, nil, f.set.at.text)
		return
	}
	if s := e.schedule(sc, e.row.Line); s != nil && s.set.at != nil {
		e.row.SetOn = e.day(s.set.date, sc, 0, s.set.at, nil, s.set.at.text)
		return
	}
	if e.setByHeading(l, sc); e.row.SetOn != 0 || e.row.Waits {
		return
	}
	if t := e.titleDays[e.tabScope[e.b.g.index]]; t != nil && t.set.at != nil {
		e.row.SetOn = e.day(t.set.date, sc, 0, t.set.at, nil, t.set.at.text)
	}
}

// setByHeading takes the day of setting from the heading of another column: "put out May 6" above the covers, or the day
// above a cell that says "set".
func (e *emitter) setByHeading(l *line, sc *scope) {
	var by *column
	several := false
	for i := range e.b.cols {
		c := &e.b.cols[i]
		if c.head.Date.Form == lexicon.NoDate {
			continue
		}
		t := l.at(c.at).text
		s, ok := c.codes.of(t)
		if !ok {
			s = e.kindOf(t).sight
		}
		if s.Mark == lexicon.SetOut {
			by, several = c, false
			break
		}
		if c.head.Set || c.role == lexicon.EggsSet {
			several = by != nil && l.at(by.at).text == ""
			if by == nil || several && l.at(c.at).text != "" {
				by, several = c, false
			}
		}
	}
	if by != nil && !several {
		e.row.SetOn = e.day(by.head.Date, sc, 0, &cell{row: l.number, text: by.head.Text}, by, by.head.Text)
	}
}

// onlyFirstSet tells whether the first record alone says when it was set, for all below it.
func (e *emitter) onlyFirstSet() bool {
	return e.set.n == 1 && !e.b.tail && len(e.b.records) > 1 && e.b.g.lines[e.b.records[0].row].at(e.set.at).text != ""
}

func (e *emitter) sameLine() bool { return e.lastLine == e.row.Line }

// dateAt reads a day cell; a text filled from above is read as it stood there.
func (e *emitter) dateAt(c *cell, text string, col *column) lexicon.Date {
	if c.text != text {
		c = &cell{text: text, shown: c.shown, row: c.row, col: c.col}
	}
	if col != nil && col.role == lexicon.DaysOut {
		if k := e.kind(c); k.whole {
			return lexicon.Date{Form: lexicon.AfterDate, After: int(k.num)}
		}
	}
	return e.dateOf(c, col != nil && col.style == "doy")
}

func (e *emitter) unworked() string {
	return e.Say("This cell holds a formula that has not been worked out. Please open the file in the spreadsheet program, save it and send it again.")
}

func (e *emitter) refuseWait(c *cell, col *column, value, problem string) {
	e.Refuse(e.place(c, col), value, problem)
	e.row.Waits = true
}

// dayIn settles the day that a cell tells, or the text told from above.
func (e *emitter) dayIn(c *cell, text string, col *column, sc *scope, set survey.Date) survey.Date {
	k := e.kindIn(c, text)
	if k.number == 0 || !k.date.Plain() || c.shown != nil || col.style == "doy" || col.role == lexicon.DaysOut {
		return e.day(e.dateAt(c, text, col), sc, set, c, col, text)
	}
	on := e.days(e.b.g).plain.at(k)
	if *on == 0 {
		*on = e.day(k.date, sc, set, c, col, text)
	}
	return *on
}

// day settles a day, or says why it cannot be.
func (e *emitter) day(d lexicon.Date, sc *scope, set survey.Date, c *cell, col *column, raw string) survey.Date {
	where := e.place(c, col)
	got := e.resolve(d, e.b, sc, e.row.Season, set, where, raw)
	switch got.note {
	case "":
		if e.noteForm(d, where, raw, got.on) {
			return got.on
		}
		e.refuseWait(c, col, raw, e.Say("We could not read “%s” as a date. Please write it like 2025-05-12.", inquiry.Short(raw)))
	case "order":
		e.row.Waits = true
	case "year":
		e.refuseWait(c, col, raw, e.Say("“%s” has no year. Fill in the column “season”, or answer which season it is.", inquiry.Short(raw)))
	case "set":
		e.refuseWait(c, col, raw, e.Say("“%s” counts from the day the nest was set, and that day is missing. Please write the date like 2025-05-12.", inquiry.Short(raw)))
	case "none":
		e.refuseWait(c, col, raw, e.Say("There is no such day as “%s”. Please write the date like 2025-05-12.", inquiry.Short(raw)))
	case "early", "late":
		return e.farDay(got, d, where, c, col, raw)
	default:
		problem := e.Say("We could not read “%s” as a date. Please write it like 2025-05-12.", inquiry.Short(raw))
		if n, err := strconv.ParseFloat(raw, 64); err == nil && n >= 0 && n < 15_000 {
			problem = e.Say("“%s” is not a day we can read; spreadsheets show such a number as a day around 1900. Did a key stick? Please write the date like 2025-05-12.", inquiry.Short(raw))
		}
		e.refuseWait(c, col, raw, problem)
	}
	return 0
}

// farDay asks about a day on which nobody can have been out: mostly a key stuck in the year.
func (e *emitter) farDay(got dayRead, d lexicon.Date, where survey.Cell, c *cell, col *column, raw string) survey.Date {
	if y := only(e.days(e.b.g).years); y != 0 && e.days(e.b.g).years[y] > 3 && y != got.on.Year() && (e.opt.Today == 0 || y <= e.opt.Today.Year()) {
		t := got.on.Time()
		mended := survey.DateOf(y, t.Month(), t.Day())
		a := e.Ask(where, inquiry.Prompt{
			Kind: "year", Place: "far\x00" + e.b.g.File + strconv.Itoa(got.on.Year()), Weight: inquiry.MustAnswer,
			Text: func(g *group) string {
				return e.Say("“%s” (%s) is of the year %d, and the other dates of the sheet are of %d. Did a key stick? The nest waits for your answer.", inquiry.Short(raw), g.Where(), got.on.Year(), y)
			},
			Choices: []inquiry.Choice{{ID: "mend", Label: e.Say("It was %d", y)}, {ID: "leave-out", Label: e.Say("Leave this look out")}},
		})
		if a == "mend" {
			return mended
		}
		if a == "leave-out" {
			return 0
		}
	}
	problem := e.Say("%s has not come yet. Did a key stick? Please correct the date.", e.Date(got.on))
	if got.note == "early" {
		problem = e.Say("%s is before anyone set these nests. Did a key stick? Please correct the date.", e.Date(got.on))
	}
	e.refuseWait(c, col, raw, problem)
	return 0
}

// noteForm tells of days that were written in a form that had to be worked out; false where their sender took that back.
func (e *emitter) noteForm(d lexicon.Date, where survey.Cell, raw string, on survey.Date) bool {
	switch {
	case d.Form == lexicon.AfterDate && d.Weeks:
		return e.Note(where, "week", e.b.g.File, raw, func(g *group) string {
			return e.Say("You wrote %s; we counted that from the day the nest was set. The exact day helps, if you know it.", e.Quoted(g.Words[:min(4, len(g.Words))]))
		})
	case d.Form == lexicon.SerialDate && e.b.g.Delimiter != 0:
		return e.Note(where, "serial", e.b.g.File, e.Date(on), func(g *group) string {
			return e.Say("Some dates stood as the numbers spreadsheets store; we changed them to days, such as %s.", e.List(g.Words[:min(3, len(g.Words))]))
		})
	case d.Yearless():
		return e.Note(where, "date-text", e.b.g.File, e.Say("%s” as “%s", raw, e.Date(on)), func(g *group) string {
			return e.Say("We read %s, with the year from the season.", e.Quoted(g.Words[:min(3, len(g.Words))]))
		})
	}
	return true
}
