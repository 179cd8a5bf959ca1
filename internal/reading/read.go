package reading

import (
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/sheet"
	"tussock/internal/survey"
)

// Options are what the sender or the cooperative settles beforehand.
type Options struct {
	Ranch     string            // the ranch for rows that name none
	Season    int               // the season of dates without a year; 0 where none is given
	DateOrder string            // "month" or "day" first in 03/04/2025; "" where the files show it
	Words     map[string]string // what was settled before: "substrate/tasajillo" is "shrub", "state/hit" is "taken", "order" is "day"
	Answers   map[string]string // question ID to choice ID
	Today     survey.Date       // dates after it are asked about; 0 allows any
	Weigh     bool              // list the choices of the reading
	Try       map[string]int    // with Weigh: what to choose, by Choice.ID
}

// A Role is how one column was read.
type Role struct {
	File, Sheet string
	Block       int    // of the tab, from 1
	Column      string // the letter, or the row's number where the table lies on its side
	Heading     string
	Role        string // as our own columns are headed; "" for a column that is not used
	ID          string // of the question that changes it
}

// A reader is one reading of a batch of files.
type reader struct {
	*inquiry.Log
	lex     *lexicon.Lexicon
	opt     Options
	kinds   map[string]*kind
	recent  [1024]*kind       // of them, those met last
	nothing *kind             // of an empty text
	aliases map[string]string // what a dictionary on the sheet says of headings, by fold

	spare      []cell // see room
	grids      []*grid
	blocks     []*block
	captions   []*caption
	totals     []totalRow
	countLists []*countList
	codes      []*codeGroup
	ranchCodes map[string]string       // names of ranches by their folded code
	fileDays   map[[2]string]*fileDays // by file, and by ranch in it
	daysOf     struct {                // the one asked for last
		g    *sheet.Table
		who  string
		days *fileDays
	}
	who         string          // whose row is being read, in a table of several ranches
	byTab       map[string]bool // files whose tabs write days in different orders
	ordered     bool            // the orders of day and month are settled
	batchYears  map[int]int
	tabScope    map[int]*scope
	tabRules    map[int]*coverRule
	titleDays   map[*scope]*facts // by tab: the days in its title, for tables that have none of their own
	lines       map[lineAt]*lineFacts
	words       map[string]int              // how often a cover nobody knows is written; under "" how often any is
	subs        map[string]survey.Substrate // own words, by fold, as first spelled
	texts       map[string]string
	remarks     map[string]*remark
	coverHeads  map[string]survey.Substrate // headings of counts that a key explains
	turnedLines map[string]string           // by place: the line a turned table stands under
	corrections []correcting
	batchStep   float64
	walkers     map[string]float64 // by folded name: how long their step is, in feet
	batchWidth  float64
	batchLength lexicon.Measure
	wholeNames  bool // nests are named with their line in every table, beside a column of lines
	onlyRanch   string
	sureRanch   bool // it is named as a ranch somewhere, and no more than one other name could be
	weekdays    string
	idExplained bool
	silence     bool // what is not written down was all right
	unvisited   bool // a blank says that nobody was there
	told        *told
	rows        int
	choices     []Choice
	chosen      map[string]bool // of them, by ID
	nestRows    map[int]int     // by table: how many rows told of nests
}

// A totalRow is a row of sums below a table.
type totalRow struct {
	g           *grid
	row         int
	block       *block
	left, right int
}

// Result is what a reading tells beside its rows.
type Result struct {
	Rows    int // of data seen, whether they went through or not
	Roles   []Role
	Found   bool     // anything was understood as a table of ours
	Choices []Choice // with Options.Weigh
}

// Read reads the books as one batch and gives what it finds to the sink, row by row. The error is of a kind of package
// errs and comes where a file cannot be read on.
func Read(books []*sheet.Book, log *inquiry.Log, opt Options, sink Sink) (*Result, error) {
	r := &reader{
		Log: log, lex: lexicon.New(), opt: opt, kinds: map[string]*kind{}, aliases: map[string]string{}, fileDays: map[[2]string]*fileDays{}, batchYears: map[int]int{}, byTab: map[string]bool{},
		tabScope: map[int]*scope{}, tabRules: map[int]*coverRule{}, titleDays: map[*scope]*facts{}, words: map[string]int{}, lines: map[lineAt]*lineFacts{}, subs: map[string]survey.Substrate{}, texts: map[string]string{}, remarks: map[string]*remark{},
		coverHeads: map[string]survey.Substrate{}, turnedLines: map[string]string{}, nestRows: map[int]int{}, walkers: map[string]float64{}, chosen: map[string]bool{},
	}
	if err := r.loadAll(books); err != nil {
		return nil, err
	}
	r.headsByContrast()
	r.lendHeads()
	r.explained()
	r.codesBehindNests()
	r.readKeys()
	for _, b := range r.blocks {
		r.headsBelow(b)
		r.splitPairs(b)
		r.splitDated(b)
		r.splitTwo(b)
		r.splitCover(b)
		r.splitSizes(b)
		r.understand(b)
	}
	r.sameHeads()
	r.countHeads()
	r.copies()
	r.chooseTabs()
	r.setElsewhere()
	r.partsOfOne()
	r.gatherTold()
	r.readLines()
	r.ranchesOfLines()
	r.tabLines()
	r.nameRanch()
	r.studyDays()
	r.countCovers()
	r.noteCorrections()
	r.silence = r.saidOnce(silencePattern)
	r.unvisited = r.saidOnce(unvisitedPattern)
	r.hearTold()
	if err := r.emitNests(sink); err != nil {
		return nil, err
	}
	r.readTold(sink)
	r.readBelts(sink)
	r.readSites(sink)
	res := &Result{Rows: r.rows, Roles: r.roles(), Found: r.anything(), Choices: r.choices}
	r.refuseUnread()
	r.account()
	return res, nil
}

// loadAll loads the tables and cuts them into blocks.
func (r *reader) loadAll(books []*sheet.Book) error {
	n := 0
	tables := 0
	for _, b := range books {
		tables += len(b.Tables)
	}
	r.Many = len(books) > 1 || tables > 1
	for _, b := range books {
		file := &scope{}
		file.facts = r.nameFacts(path.Base(b.File), true)
		for _, t := range b.Tables {
			r.Table(t.File, t.Name)
			if r.leftOut(t) {
				continue
			}
			g, err := r.load(t, n)
			if err != nil {
				return err
			}
			n++
			r.unnest(g)
			r.grids = append(r.grids, g)
			tab := file.child(r.nameFacts(t.Name, false))
			r.tabScope[g.index] = tab
		}
	}
	r.readDictionaries()
	r.joinLinked()
	page := map[string]*scope{} // by file: the tab of the first table; those without names below it are of the same page
	for _, g := range r.grids {
		tab := r.tabScope[g.index]
		if first := page[g.File]; first != nil && g.Name == "" {
			above := first.facts
			above.line, above.site = fact{}, fact{}
			tab.up = first.up.child(above)
			if days := r.titleDays[first]; days != nil {
				r.titleDays[tab] = &facts{set: days.set, checks: slices.Clone(days.checks)}
			}
		}
		if g.explains {
			continue
		}
		g.plain = slices.Clone(g.lines)
		cards := false
		if g.width <= 1 && g.held == 0 {
			_, cards = r.cardsIn(r.cardGrid(g))
		}
		if !cards {
			r.alignText(g)
		}
		r.split(g, tab)
		if page[g.File] == nil {
			page[g.File] = tab
		}
	}
	return nil
}

// nameFacts are what the name of a file or a tab says: a year, a line, a pasture, a ranch.
func (r *reader) nameFacts(name string, file bool) facts {
	f := facts{}
	if file {
		if i := strings.LastIndexByte(name, '.'); i > 0 {
			name = name[:i]
		}
	}
	c := &cell{text: lexicon.Tidy(strings.NewReplacer("_", " ").Replace(name))}
	if c.text == "" {
		return f
	}
	f.season = lexicon.FindYear(c.text)
	if f.season != 0 {
		f.year = c
	}
	if n := ranchNamed(c.text); n != "" {
		f.ranch = fact{text: n, at: c}
	} else if file {
		if n := whatIsLeft(c.text, true); n != "" {
			f.ranch = fact{text: n, at: c, weak: true}
		}
	}
	if l := lineFromName(c.text, file); l != "" {
		f.line = fact{text: l, at: c}
		return f
	}
	dated := &cell{text: dashedDay.ReplaceAllString(c.text, "$1/$2")} // names hold no strokes
	if r.datesIn(&f, r.scan(dated.text), dated); f.set.at != nil || len(f.checks) > 0 {
		return f
	}
	if file || f.season != 0 {
		return f
	}
	if s := r.siteIn(c.text, c, false); s.text != "" {
		f.site = s
	} else if r.placeName(c.text) {
		f.site = fact{text: c.text, at: c, weak: true}
	}
	return f
}

var dashedDay = regexp.MustCompile(`\b(\d{1,2})[-.](\d{1,2})\b`)

// lineFromName reads the line from a tab's or a file's name where there is one for each: Line 3, T1, 2.
func lineFromName(name string, file bool) string {
	if loc := linePattern.FindStringSubmatchIndex(name); loc != nil && loc[4] == loc[5] && (loc[0] <= 1 || file) {
		return name[loc[2]:loc[3]]
	}
	if n := lineName(name); n != name && !topicWords[lexicon.Fold(n)] || n != name && compass[lexicon.Fold(n)] { // Red line
		return n
	}
	for _, lead := range []string{"line ", "transect ", "linea ", "línea ", "transecto ", "trans ", "line", "linea"} {
		if rest, ok := cutFold(name, lead); ok && len(strings.Fields(rest)) == 1 && len(rest) <= 12 {
			return rest
		}
	}
	if len(name) <= 3 && name != "" && (lexicon.Digit(name[len(name)-1])) && !isYear(name) || len(name) <= 2 && lexicon.Digit(name[0]) {
		return name
	}
	return ""
}

// placeName tells whether a tab's name can be that of a pasture.
func (r *reader) placeName(name string) bool {
	low := lexicon.Words(name)
	for _, w := range strings.Fields(low) {
		if topicWords[w] || len(w) <= 1 {
			return false
		}
		switch w {
		case "sheet", "sheet1", "sheet2", "sheet3", "hoja", "hoja1", "hoja2", "table", "tab", "key", "codes", "code", "readme", "lists", "summary", "old", "look", "looks", "visit", "visits", "week", "set", "setout", "raw", "chart", "total", "totals", "tabla", "resumen", "clave", "claves", "codigos", "planilla", "tabelle", "main", "first", "second", "dates", "schedule", "remains", "legend", "instructions", "info", "about", "photos", "map", "pasos", "belt", "weather", "draft", "tmp", "temp", "print", "numbers", "finished", "todo", "misc", "blank", "template":
			return false
		}
	}
	if strings.ContainsAny(name, "0123456789") {
		return false
	}
	k := r.kindOf(name)
	return k.head.Role == lexicon.NoRole && !k.isCover && k.words <= 3
}

// leftOut tells whether the sender took a tab out at an earlier reading.
func (r *reader) leftOut(t *sheet.Table) bool {
	return t.Name != "" && r.Answer("tab", t.File+"\x00"+t.Name) == "leave-out" && r.askTab(t, "read") == "leave-out"
}

func (r *reader) askTab(t *sheet.Table, byDefault string) string {
	return r.Ask(survey.Cell{File: t.File, Sheet: t.Name}, inquiry.Prompt{
		Kind: "tab", Place: t.File + "\x00" + t.Name, Weight: inquiry.PleaseLook, Default: byDefault, Rank: 3,
		Text: func(*group) string {
			if byDefault == "leave-out" {
				return r.Say("Does the tab “%s” of %s belong to what you are sending? By its name it does not; we left it out.", t.Name, t.File)
			}
			if t.Hidden {
				return r.Say("Does the tab “%s”, which is hidden, of %s belong to what you are sending? We read it with the others.", t.Name, t.File)
			}
			return r.Say("Does the tab “%s” of %s belong to what you are sending? We read it with the others.", t.Name, t.File)
		},
		Choices: []inquiry.Choice{{ID: "read", Label: r.Say("Yes, read it")}, {ID: "leave-out", Label: r.Say("Leave it out")}},
	})
}

// noteBelow takes up what a line below a table says of the whole tab.
func (r *reader) noteBelow(tab *scope, f facts) {
	r.noteDays(tab, f)
	r.noteSizes(tab, f)
	if f.rule != nil && tab.rule == nil {
		tab.rule = f.rule
	}
	if f.season != 0 && tab.season == 0 {
		tab.season, tab.year = f.season, f.year
	}
	if f.ranch.text != "" && !f.ranch.weak && tab.ranch.text == "" {
		tab.ranch = f.ranch
	}
}

// noteSizes takes up the sizes of belts and steps that a line below a table tells.
func (r *reader) noteSizes(tab *scope, f facts) {
	if f.step > 0 && tab.step == 0 {
		tab.step = f.step
	}
	if f.width > 0 && tab.width == 0 {
		tab.width = f.width
	}
	if f.length != (lexicon.Measure{}) && tab.length == (lexicon.Measure{}) && f.line.text == "" {
		tab.length = f.length
	}
}

// noteTitle takes up what a title says of the whole tab.
func (r *reader) noteTitle(tab *scope, f facts) {
	r.noteDays(tab, f)
	if tab.season == 0 {
		tab.season, tab.year = f.season, f.year
	}
	if f.ranch.text != "" && (tab.ranch.text == "" || tab.ranch.weak) {
		tab.ranch = f.ranch
	}
}

// noteDays keeps the days that a text tells of the whole tab, for tables that tell none themselves.
func (r *reader) noteDays(tab *scope, f facts) {
	if f.line.text == "" && (f.set.at != nil || len(f.checks) > 0) {
		t := r.titleDays[tab]
		if t == nil {
			t = &facts{}
			r.titleDays[tab] = t
		}
		if t.set.at == nil {
			t.set = f.set
		}
		t.checks = append(t.checks, f.checks...)
	}
}

// nameTurned remembers under which line each column of a turned table stands, for tables below it in the same columns.
func (r *reader) nameTurned(g, t *grid, left, from int) {
	lineCol := -1
	for col := range t.lines[0].cells {
		if r.kindOf(t.lines[0].cells[col].text).head.Role == lexicon.Line {
			lineCol = col
		}
	}
	for i := 1; i < len(t.lines); i++ {
		l := &t.lines[i]
		key := lineKeyOf(t, l)
		if lineCol >= 0 && l.at(lineCol).text != "" {
			r.turnedLines[key] = lineName(l.at(lineCol).text)
		}
	}
}

// lineKeyOf names a column of a sheet that a turned table stands in.
func lineKeyOf(g *grid, l *line) string {
	for i := range l.cells {
		if c := &l.cells[i]; c.row != 0 && !c.empty() {
			return fmt.Sprintf("%s\x00%s\x00%d", g.File, g.Name, c.col)
		}
	}
	return ""
}

// explained looks for sentences that explain how names are made, and for batch-wide measures.
func (r *reader) explained() {
	for _, c := range r.captions {
		low := lexicon.Words(c.c.text)
		if strings.Contains(low, "line 2 nest") || strings.Contains(low, "reads line") || strings.Contains(low, "is line") && strings.Contains(low, "nest") || strings.Contains(low, "means line") {
			r.idExplained = true
			c.used = "rule"
		}
	}
	r.teams()
	var steps, widths []float64
	var lengths []lexicon.Measure
	for _, c := range r.captions {
		f := facts{}
		r.measuresIn(&f, c.c.text, r.scan(c.c.text))
		if by := r.stepsByName(c.c.text); len(by) > 0 {
			maps.Copy(r.walkers, by)
			f.step = 0
		}
		if f.step > 0 && !slices.Contains(steps, f.step) {
			steps = append(steps, f.step)
		}
		if f.width > 0 && !slices.Contains(widths, f.width) {
			widths = append(widths, f.width)
		}
		if f.length != (lexicon.Measure{}) && (f.width > 0 || beltWords.MatchString(c.c.text)) && !slices.Contains(lengths, f.length) {
			lengths = append(lengths, f.length)
		}
	}
	if len(lengths) == 1 {
		r.batchLength = lengths[0]
	}
	if len(steps) == 1 {
		r.batchStep = steps[0]
	}
	if len(widths) == 1 {
		r.batchWidth = widths[0]
	}
	r.yearsInHeads()
	for _, g := range r.grids {
		tab := r.tabScope[g.index]
		if f := tab.find(func(f *facts) bool { return f.season != 0 }); f != nil {
			r.batchYears[f.season]++
		}
		for _, c := range r.captions {
			if c.g.index != g.index || r.tabRules[g.index] != nil {
				continue
			}
			if rule := r.coverRuleIn(r.scan(c.c.text)); rule != nil && !between(r.scan(c.c.text), aLine) {
				rule.at = c.c
				r.tabRules[g.index] = rule
			}
		}
	}
	var rule *coverRule // one rule anywhere holds for a batch that has no other
	several := false
	for _, x := range r.tabRules {
		several = several || rule != nil
		rule = x
	}
	if rule != nil && !several {
		for _, g := range r.grids {
			if r.tabRules[g.index] == nil {
				r.tabRules[g.index] = rule
			}
		}
	}
}

// yearsInHeads takes the one year that the headings of a tab name, beside no day, for its season where nothing else names one: "History
// (2020)".
func (r *reader) yearsInHeads() {
	for _, b := range r.blocks {
		tab := r.tabScope[b.g.index]
		if tab == nil || tab.find(func(f *facts) bool { return f.season != 0 }) != nil {
			continue
		}
		year, at := 0, 0
		for i := range b.cols {
			y := lexicon.FindYear(b.cols[i].head.Text)
			switch {
			case y == 0 || b.cols[i].head.Date.Form != lexicon.NoDate || y == year:
			case year != 0:
				year, at = -1, 0
			default:
				year, at = y, b.cols[i].at
			}
		}
		if year > 0 && len(b.heads) > 0 {
			tab.season, tab.year = year, b.g.lines[b.heads[len(b.heads)-1]].at(at)
		}
	}
}

// nameRanch settles which ranch the batch is of where rows do not say.
func (r *reader) nameRanch() {
	if r.opt.Ranch != "" || r.linesNameRanches() {
		return
	}
	need := false
	for _, b := range r.blocks {
		if b.kind == notOurs || b.kind == keyTable {
			continue
		}
		if b.has(lexicon.Ranch) {
			continue
		}
		if b.top.find(func(f *facts) bool { return f.ranch.text != "" && !f.ranch.weak }) == nil {
			need = true
		}
	}
	if !need {
		return
	}
	strong, weak := map[string]int{}, map[string]int{}
	var order []string
	var where *cell
	see := func(f *facts) {
		if f.ranch.text == "" {
			return
		}
		m := strong
		if f.ranch.weak {
			m = weak
		}
		if strong[f.ranch.text]+weak[f.ranch.text] == 0 {
			order = append(order, f.ranch.text)
		}
		m[f.ranch.text]++
		if where == nil {
			where = f.ranch.at
		}
	}
	for _, g := range r.grids {
		for s := r.tabScope[g.index]; s != nil; s = s.up {
			see(&s.facts)
		}
	}
	for _, c := range r.captions {
		for s := c.scope; s != nil; s = s.up {
			see(&s.facts)
		}
		if n := ranchNamed(c.c.text); n != "" && len(c.c.text) < 80 {
			see(&facts{ranch: fact{text: n, at: c.c}})
		}
	}
	for _, b := range r.blocks { // a ranch named in a column of one table
		if col := b.column(lexicon.Ranch); col != nil && len(col.distinct) == 1 {
			for name := range col.distinct {
				see(&facts{ranch: fact{text: name}})
			}
		}
	}
	switch {
	case len(strong) == 1:
		for n := range strong {
			r.onlyRanch, r.sureRanch = n, len(weak) <= 1
		}
		return
	case len(strong) == 0 && len(order) > 0:
		r.onlyRanch = order[0]
		return
	}
	cell := survey.Cell{File: r.grids[0].File, Sheet: r.grids[0].Name}
	p := inquiry.Prompt{
		Kind: "ranch", Weight: inquiry.PleaseLook, Rank: 4,
		Text: func(*group) string {
			return r.Say("Which ranch are these nests of? The sheet does not say. Until you say, they stand together as one ranch without a name; on the command line, --ranch names it.")
		},
	}
	for _, n := range order {
		p.Choices = append(p.Choices, inquiry.Choice{ID: n, Label: n})
	}
	p.Choices = append(p.Choices, inquiry.Choice{ID: "one", Label: r.Say("One ranch, without a name")})
	p.Default = p.Choices[0].ID
	if a := r.Ask(cell, p); a != "one" {
		r.onlyRanch = a
	} else {
		r.onlyRanch = r.Say("One ranch")
	}
}

var teamPattern = regexp.MustCompile(`(?i)^\W*(?:team|crew|group|class|period|equipo|grupo)\s+(.+)$`)

// teams takes the names of tabs that are those of crews from the pastures.
func (r *reader) teams() {
	for _, c := range r.captions {
		m := teamPattern.FindStringSubmatch(c.c.text)
		if tab := r.tabScope[c.g.index]; m != nil && tab != nil && tab.site.weak && lexicon.Fold(m[1]) == lexicon.Fold(tab.site.text) {
			tab.site = fact{}
		}
	}
}

// linesNameRanches tells whether a table of lines says whose each is.
func (r *reader) linesNameRanches() bool {
	for _, f := range r.lines {
		if f.ranch == "" {
			return false
		}
	}
	return len(r.lines) > 0
}

// tabLines takes the names of tabs, or of files, for lines where nothing else names any and the nests of several begin again
// at the same numbers.
func (r *reader) tabLines() {
	lineless := map[int]map[string]bool{} // by tab: its nests
	byIndex := map[int]*grid{}
	for _, b := range r.blocks {
		nest := b.column(lexicon.Nest)
		if b.kind != nestTable && b.kind != visitTable || nest == nil {
			continue
		}
		if b.has(lexicon.Line) || nest.share(nest.id) >= 0.5 || len(b.records) > 0 && b.records[0].scope.lineName() != "" {
			return
		}
		if lineless[b.g.index] == nil {
			lineless[b.g.index] = map[string]bool{}
			byIndex[b.g.index] = b.g
		}
		for t := range nest.distinct {
			if lineless[b.g.index][t] && b.number > 1 {
				return
			}
			lineless[b.g.index][t] = true
		}
	}
	names, again := map[string]bool{}, 0
	for at, nests := range lineless {
		name := tabLine(byIndex[at])
		if name == "" || names[name] || lineFromName(name, false) == "" && !r.placeName(name) && !compass[lexicon.Fold(name)] {
			return
		}
		names[name] = true
		for t := range nests {
			if n := r.kindOf(t); n.whole && n.num == 1 {
				again++
			}
		}
	}
	if len(names) < 2 || again < len(names) {
		return
	}
	for at, g := range byIndex {
		tab := r.tabScope[at]
		name := tabLine(g)
		tab.line = fact{text: lineName(name), at: &cell{text: name}}
		if tab.site.text == name {
			tab.site = fact{}
		}
		r.Note(survey.Cell{File: g.File, Sheet: g.Name}, "tab-line", "", name, func(gr *group) string {
			return r.Say("No line is written, and the nests of %s begin again at 1; we took each for a line.", r.Quoted(gr.Words))
		})
	}
}

// tabLine is what a tab calls itself, or a file of one table.
func tabLine(g *grid) string {
	if g.Name != "" {
		return g.Name
	}
	return strings.TrimSuffix(path.Base(g.File), path.Ext(g.File))
}

// emitNests gives the nests and visits of all blocks to the sink, in the order of the sheets.
func (r *reader) emitNests(sink Sink) error {
	r.wholeNames = true
	for _, b := range r.blocks {
		if nest := b.column(lexicon.Nest); nest != nil && (b.kind == nestTable || b.kind == visitTable) {
			r.wholeNames = r.wholeNames && b.has(lexicon.Line) && b.g.columns == nil && nest.share(nest.id) >= 0.9 && nest.idStyle == "letter"
		}
	}
	for _, b := range r.blocks {
		if b.kind != nestTable && b.kind != visitTable {
			continue
		}
		e := r.newEmitter(b, sink)
		if err := e.emit(); err != nil {
			return err
		}
		r.use(b, "nests")
	}
	return nil
}

// countCovers counts how often each cover that nobody knows is written.
func (r *reader) countCovers() {
	for _, b := range r.blocks {
		if c := b.column(lexicon.Substrate); c != nil {
			for t, n := range c.distinct {
				r.words[""] += n
				if !r.kindOf(t).isCover {
					r.words[t] += n
				}
			}
		}
	}
}

// anything tells whether any table of ours was found.
func (r *reader) anything() bool {
	return slices.ContainsFunc(r.blocks, func(b *block) bool { return b.kind != notOurs && b.kind != keyTable }) || slices.ContainsFunc(r.captions, func(c *caption) bool { return c.used == "belt" || c.used == "told" })
}
