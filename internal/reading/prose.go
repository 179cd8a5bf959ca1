package reading

import (
	"regexp"
	"slices"
	"strconv"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/narration"
	"tussock/internal/survey"
)

// A told is the running text of a batch: the passages of all grids and tables that tell in sentences, and where they stand.
type told struct {
	doc     *narration.Document
	places  []toldPlace // of the passages
	days    map[narration.Span]survey.Date
	waits   map[int]bool // by grid: a day waits for its year or its order
	account *narration.Account
	blocks  map[int]*block
}

// A toldPlace is where one passage stands.
type toldPlace struct {
	g     *grid
	c     *cell
	scope *scope
}

// gatherTold gathers what the batch tells in running text, so that its days can be studied with the others.
func (r *reader) gatherTold() {
	t := &told{days: map[narration.Span]survey.Date{}, blocks: map[int]*block{}, waits: map[int]bool{}}
	var passages []narration.Passage
	for _, g := range r.grids {
		first := len(passages)
		for _, p := range r.passagesOf(g) {
			t.places = append(t.places, toldPlace{g, p.c, p.scope})
			passages = append(passages, p.Passage)
		}
		if len(passages) > first {
			passages[first].New = true
			b := &block{g: g, kind: proseTable, top: r.tabScope[g.index]}
			t.blocks[g.index] = b
			r.blocks = append(r.blocks, b)
		}
	}
	if len(passages) == 0 {
		return
	}
	r.told = t
	t.doc = narration.NewDocument(r.lex, passages)
	t.doc.Covers, t.doc.Whole = r.keyedCovers(), true
	t.doc.Known = r.nameLines()
	dates, at := t.doc.Dates()
	for i, d := range dates {
		p := t.places[at[i].Passage]
		r.studyDay(r.days(p.g), &cell{text: p.c.text[:min(len(p.c.text), 40)]}, d, t.place(at[i]), 1)
	}
}

// A passage is one for the narration and its cell.
type passage struct {
	narration.Passage
	c     *cell
	scope *scope
}

// passagesOf returns what a grid tells in running text; nil where it is a table of cells.
func (r *reader) passagesOf(g *grid) []passage {
	if g.held > 0 || g.explains {
		return nil
	}
	if out := r.calendar(g); out != nil {
		return out
	}
	if out := r.nestLists(g); out != nil {
		return out
	}
	out := r.rowsOfLines(g)
	if out == nil {
		out = r.logRows(g)
	}
	if out == nil {
		out = r.namedStories(g)
	}
	if out != nil {
		for _, b := range r.blocks { // what was taken for tables here is none
			if b.g.index == g.index && b.kind != keyTable {
				b.kind, b.name, b.cols, b.visits = notOurs, "told", nil, nil
			}
		}
		return out
	}
	headed := false
	for _, b := range r.blocks {
		if b.g.index != g.index {
			continue
		}
		switch {
		case b.name == "copy":
			return nil // left out
		case b.kind == lineTable && r.hasGroup(b):
			out = append(out, r.groupPassages(b)...)
			r.use(b, "told")
			headed = true
		case r.story(b) != nil:
			out = append(out, r.storyPassages(b, r.story(b))...)
			headed = true
		case b.kind == nestTable || b.kind == visitTable || b.kind == beltTable || b.kind == siteTable || b.kind == lineTable:
			headed = headed || len(b.heads) > 0
		}
	}
	if headed {
		return out
	}
	return r.plainPassages(g)
}

// plainPassages takes each row of a grid as it stands: all its cells in a row.
func (r *reader) plainPassages(g *grid) []passage {
	lines := g.plain
	if lines == nil {
		lines = g.lines
	}
	tab := r.tabScope[g.index]
	redo := redone.MatchString(g.File) || redone.MatchString(g.Name)
	var out []passage
	last := 0
	for i := range lines {
		l := &lines[i]
		var first *cell
		text := ""
		for k := range l.cells {
			c := &l.cells[k]
			if k > 0 {
				text += "\t"
			}
			if c.text == "" || c.span || c.down {
				continue
			}
			if first == nil {
				first = c
			}
			if c.raw != "" {
				text += c.raw
			} else {
				text += c.text
			}
		}
		if first == nil {
			continue
		}
		p := passage{narration.Passage{Text: text, Gap: l.number > last+1, Redo: redo}, first, tab}
		if i < 2 && redone.MatchString(text) && len(text) < 80 {
			redo = true
			p.Redo = true
			for k := range out {
				out[k].Redo = true
			}
		}
		if n := tab.lineName(); n != "" {
			p.Line = n
		}
		last = l.number
		out = append(out, p)
	}
	return out
}

// redone finds that a file or a tab holds what was done over.
var redone = regexp.MustCompile(`(?i)\b(?:re-?done|done over|over again|redo|corrected|corregid[oa]s?|de nuevo|otra vez)\b`)

// groupPassages takes a table that tells what was found for a line at once.
func (r *reader) groupPassages(b *block) []passage {
	e := r.newEmitter(b, nil)
	var out []passage
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		name, _ := e.told(l, e.line, true)
		if name = lineName(name); name == "" {
			name = rec.scope.lineName()
		}
		if name == "" {
			continue
		}
		sc := rec.scope
		if t, c := e.told(l, e.site, true); t != "" {
			sc = sc.child(facts{site: fact{text: t, at: c}})
		}
		say := func(c *cell, date lexicon.Date, is narration.About) {
			p := passage{narration.Passage{Text: c.raw, Line: name, Gap: true, Is: is}, c, sc}
			if p.Text == "" {
				p.Text = c.text
			}
			if date.Form != lexicon.NoDate {
				p.Date = date
			}
			out = append(out, p)
		}
		set := lexicon.Date{}
		if e.set != nil {
			if t, c := e.told(l, e.set, false); t != "" {
				set = e.dateAt(c, t, e.set)
			}
		}
		for _, col := range []*column{e.nest, e.cover, e.plant} {
			if col != nil {
				if c := l.at(col.at); c.text != "" {
					say(c, set, narration.Setting)
				}
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
			date := v.date.date
			if v.on >= 0 {
				if t, dc := e.told(l, &b.cols[v.on], false); t != "" {
					date = e.dateAt(dc, t, &b.cols[v.on])
				}
			}
			say(c, date, narration.Check)
		}
	}
	return out
}

// place names a piece of a passage for the sender.
func (t *told) place(at narration.Span) survey.Cell {
	p := t.places[at.Passage]
	c := survey.Cell{File: p.g.File, Sheet: p.g.Name, Row: p.c.row}
	if p.g.width > 1 {
		c.Column = letter(p.c.col)
	}
	return c
}

// hearTold reads the running text, and settles for each grid whether it is told or a table.
func (r *reader) hearTold() {
	t := r.told
	if t == nil {
		return
	}
	t.account = t.doc.Read(func(d lexicon.Date, near survey.Date, at narration.Span) survey.Date {
		return r.toldDay(t, d, near, at)
	}, r.silence)
	tables := false
	rows := map[int]int{} // by grid: records of tables of nests
	for _, b := range r.blocks {
		if b.kind != nestTable && b.kind != visitTable {
			continue
		}
		if t.blocks[b.g.index] == nil {
			tables = true
		}
		rows[b.g.index] += len(b.records)
	}
	whole := map[int]int{} // by grid: nests told in full
	for _, l := range t.account.Lines {
		for _, n := range l.Nests {
			if len(l.Problems) == 0 && len(n.Unclear) == 0 && len(n.Looks) > 0 && n.Cover != "" && l.Set() {
				whole[t.gridOf(n.At)]++
			}
		}
	}
	for grid := range t.blocks {
		if rows[grid] == 0 {
			continue
		}
		if whole[grid]*2 < rows[grid] {
			tables = true
			delete(t.blocks, grid)
			continue
		}
		for _, b := range r.blocks {
			if b.g.index == grid && (b.kind == nestTable || b.kind == visitTable) {
				b.kind, b.name = notOurs, "told"
			}
		}
	}
	t.account.Lines = slices.DeleteFunc(t.account.Lines, func(l *narration.Line) bool {
		grid := t.gridOf(l.At)
		if t.blocks[grid] == nil {
			return true
		}
		if !tables {
			return len(l.Nests) == 0 && len(whole) > 0 && len(l.Problems) == 1 || !r.hasChecks(l) && !l.Set()
		}
		return len(l.Problems) > 0 || !r.hasChecks(l) || !l.Set() || len(l.Nests) < 3
	})
	t.account.Belts = slices.DeleteFunc(t.account.Belts, func(b *narration.Belt) bool { return t.blocks[t.gridOf(b.At)] == nil })
}

func (t *told) gridOf(at narration.Span) int { return t.places[at.Passage].g.index }

func (r *reader) hasChecks(l *narration.Line) bool {
	return slices.ContainsFunc(l.Nests, func(n *narration.Nest) bool { return len(n.Looks)+len(n.Unclear) > 0 })
}

// readTold gives what the running text tells of nests, checks and belts to the sink.
func (r *reader) readTold(sink Sink) {
	t := r.told
	if t == nil {
		return
	}
	used := map[int]bool{} // grids
	for _, l := range t.account.Lines {
		r.toldLine(t, l, sink)
		used[t.gridOf(l.At)] = true
	}
	for _, b := range t.account.Belts {
		r.toldBelt(t, t.account, b, sink)
		used[t.gridOf(b.At)] = true
	}
	for grid, b := range t.blocks {
		if !used[grid] {
			b.kind = notOurs
		}
	}
	last := survey.Cell{}
	for _, at := range t.account.Lineless { // nests are not let go in silence
		if p, where := t.places[at.Passage], t.place(at); used[p.g.index] && len(t.account.Lineless) > 1 && where != last {
			last = where
			r.Refuse(where, p.c.text, r.Say("This tells of a nest, and no line is named for it. Please write the line's name above its nests, such as “North line”."))
		}
	}
	for _, at := range slices.Concat(t.account.Unused, t.account.Loose) {
		p := t.places[at.Passage]
		if used[p.g.index] {
			r.SetAside(t.place(at), "untold\x00"+p.g.File+"\x00"+p.g.Name, func(gr *group) string {
				return inquiry.Capital(r.Say("%s speaks of nests; we could not tell what it says of them, and it is not used.", gr.Where()))
			})
		}
	}
	for _, c := range r.captions {
		if used[c.g.index] {
			c.used = "told"
		}
	}
	for _, b := range r.blocks {
		if used[b.g.index] && t.blocks[b.g.index] != b && b.name == "" && b.kind == notOurs {
			b.name = "told"
		}
	}
}

// toldDay resolves a day of the running text. Where its year or its order is open, the nests wait, and any day will do
// meanwhile.
func (r *reader) toldDay(t *told, d lexicon.Date, near survey.Date, at narration.Span) survey.Date {
	if on, ok := t.days[at]; ok {
		return on
	}
	p := t.places[at.Passage]
	where := t.place(at)
	text := p.c.text
	season := 0
	if near != 0 && d.Yearless() {
		season = near.Year()
	}
	got := r.resolve(d, t.blocks[p.g.index], p.scope, season, 0, where, text)
	switch got.note {
	case "order", "year":
		t.waits[p.g.index] = true
		got.on = d.On(false, 2000)
	case "":
	default:
		got.on = 0
	}
	t.days[at] = got.on
	return got.on
}

// toldLine gives the nests of one line to the sink.
func (r *reader) toldLine(t *told, l *narration.Line, sink Sink) {
	p := t.places[l.At.Passage]
	waits := t.waits[p.g.index]
	for _, pr := range l.Problems {
		waits = true
		r.Refuse(t.place(pr.At), "", r.lineProblem(l, pr))
	}
	set, site := l.SetOn, l.Site
	sc := p.scope
	if f := r.schedule(sc, l.Name); f != nil && set == 0 && f.set.at != nil {
		set = r.bareEmitter(t.blocks[p.g.index], nil).day(f.set.date, sc, 0, f.set.at, nil, f.set.at.text)
	}
	if site == "" {
		if f := sc.find(func(f *facts) bool { return f.site.text != "" && !f.site.weak }); f != nil {
			site = f.site.text
		} else if f := r.schedule(sc, l.Name); f != nil {
			site = f.site
		}
	}
	season := 0
	if f := sc.find(func(f *facts) bool { return f.season != 0 }); f != nil {
		season = f.season
	}
	if set != 0 && !t.waits[p.g.index] {
		season = set.Year()
	}
	for _, n := range l.Nests {
		set := set
		if n.SetOn != 0 {
			set = n.SetOn
		}
		r.rows++
		row := &Row{
			At: t.place(n.At), Ranch: r.ranchFrom(sc, l.Name), Site: site, Season: orYear(season, r.opt.Season), Line: l.Name, Nest: n.Number,
			Cover: n.Cover, SetOn: set, Sets: true, EggsLeft: -1, Waits: waits,
		}
		row.NestCell = row.At
		for _, k := range n.Looks {
			r.toldLook(t, row, k)
		}
		for _, u := range n.Unclear {
			r.askTold(t, l, n, row, u)
		}
		sink.Nest(row)
	}
}

// toldLook adds one look to the row of its nest.
func (r *reader) toldLook(t *told, row *Row, k narration.Look) {
	if k.Sight.Mark == lexicon.Skipped || k.Sight.Mark == lexicon.Blank {
		return
	}
	on := k.On
	where := t.place(k.At)
	if on == 0 {
		if k.Weeks == 0 || row.SetOn == 0 {
			return // its day is asked for
		}
		on = row.SetOn + survey.Date(7*k.Weeks)
		raw := strconv.Itoa(k.Weeks)
		if !r.Note(where, "week", where.File, raw, func(g *group) string {
			return r.Say("You wrote %s; we counted that from the day the nest was set. The exact day helps, if you know it.", r.Quoted(g.Words[:min(4, len(g.Words))]))
		}) {
			return
		}
	}
	row.Looks = append(row.Looks, Look{On: on, Mark: k.Sight.Mark, Eggs: k.Sight.Eggs, Of: k.Sight.Of, Used: true, At: where})
}

// lineProblem says why a line cannot be read.
func (r *reader) lineProblem(l *narration.Line, p narration.Problem) string {
	switch p.Why {
	case narration.NoCount:
		return r.Say("Line %s is spoken of, but not how many nests it has. Please write it down, such as “line %s, nests 1 to 8”.", l.Name, l.Name)
	case narration.CountDiffers:
		return r.Say("Line %s: the number of nests and the nests that are named do not go together (%s). Please look at the text once more.", l.Name, p.Text)
	case narration.SumDiffers:
		return r.Say("Line %s: the text sums up how many nests were left, and by what it says of each there were %s. Please look at the text once more.", l.Name, p.Text)
	case narration.TwoDays:
		return r.Say("Line %s is told to have been set on two days. Please write which day it was.", l.Name)
	}
	return r.Say("A nest of line %s is told to sit in two kinds of cover. Please write which it was.", l.Name)
}

// askTold asks about a check that was not understood, and gives the nest what the answer says.
func (r *reader) askTold(t *told, l *narration.Line, n *narration.Nest, row *Row, u narration.Unclear) {
	where := t.place(u.At)
	name := r.Voice.Nest(&survey.Nest{Transect: l.Name, Number: n.Number})
	look := Look{On: u.On, Eggs: -1, Used: true, At: where}
	p := inquiry.Prompt{Weight: inquiry.MustAnswer}
	word := lexicon.Words(u.Text)
	switch {
	case u.Why == narration.TwoRows:
		row.Waits = true
		r.Refuse(where, "", inquiry.Capital(r.Say("%s stands in two rows. Please give one of them its right number; both wait.", name)))
		return
	case u.On == 0 && u.Why != narration.NoDay:
		u.Why = narration.NoDay
		fallthrough
	case u.Why == narration.NoDay:
		p.Kind, p.Place = "other", "told-day\x00"+where.File
		p.Text = func(g *group) string {
			return r.Say("The text does not say on which day some nests were looked at (%s). They wait; please write the day into the text, or leave these checks out.", g.Where())
		}
		p.Choices = []inquiry.Choice{{ID: "leave-out", Label: r.Say("Leave these checks out")}}
		if r.Ask(where, p) == "" {
			row.Waits = true
		}
		return
	case u.Why == narration.LeftOut:
		p.Kind, p.Place = "blank", "told-left-out\x00"+where.File
		p.Text = func(g *group) string {
			return r.Say("Nothing is said of %s on %s, though others of its line were looked at (%s). Was it as before? The nest waits for your answer, and others like it.", name, r.Date(u.On), g.Where())
		}
		p.Choices = []inquiry.Choice{{ID: string(survey.Intact), Label: r.Say("What is not named had all its eggs")}, {ID: "not-checked", Label: r.Say("Nobody looked at those nests")}}
	case u.Why == narration.Twice:
		p.Kind, p.Place = "state", "told-twice\x00"+where.File+"\x00"+u.Text+"\x00"+u.Also
		one, two := survey.State(u.Text), survey.State(u.Also)
		p.Text = func(g *group) string {
			return inquiry.Capital(r.Say("%s is told to have been %s and %s on %s (%s). Which was it? It waits for your answer.", name, r.Found(one), r.Found(two), r.Date(u.On), g.Where()))
		}
		p.Choices = []inquiry.Choice{{ID: u.Also, Label: inquiry.Capital(r.Found(two))}, {ID: u.Text, Label: inquiry.Capital(r.Found(one))}}
	case word == "":
		p.Kind, p.Place = "state", "told-owed\x00"+where.File
		p.Text = func(g *group) string {
			return inquiry.Capital(r.Say("%s is an exception on %s, and nothing says what was found there (%s). What was it? It waits for your answer.", name, r.Date(u.On), g.Where()))
		}
		p.Choices = r.stateChoices()
	default:
		if settled := markNamed(r.opt.Words["state/"+word]); settled != lexicon.Unknown {
			look.Mark = settled
			break
		}
		p.Kind, p.Place, p.Word = "state", word, "state/"+word
		p.Text = func(g *group) string {
			return r.Say("“%s” is said of %s (%s). What was found? These nests wait for your answer.", inquiry.Short(u.Text), name, g.Where())
		}
		p.Choices = r.stateChoices()
	}
	if look.Mark == lexicon.Unknown {
		look.Mark = markNamed(r.Ask(where, p))
	}
	switch look.Mark {
	case lexicon.Unknown:
		row.Waits = true
	case lexicon.Skipped:
	default:
		if u.Why == narration.Twice {
			row.Looks = slices.DeleteFunc(row.Looks, func(k Look) bool { return k.On == u.On })
		}
		row.Looks = append(row.Looks, look)
		slices.SortStableFunc(row.Looks, func(a, b Look) int { return int(a.On - b.On) })
	}
}

// toldBelt gives one belt to the sink.
func (r *reader) toldBelt(t *told, account *narration.Account, b *narration.Belt, sink Sink) {
	p := t.places[b.At.Passage]
	told := facts{width: b.WidthFt, step: b.StepFt}
	if told.width == 0 {
		told.width = account.Width
	}
	if told.step == 0 {
		told.step = account.StepFt
	}
	if f := p.scope.find(func(f *facts) bool { return f.season != 0 }); f == nil {
		told.season = t.season()
	}
	r.loneBelt(t.blocks[p.g.index], p.scope.child(told), t.place(b.At), b.Line, b.Length, b.Counts, sink)
}

// season is the one year of the days told; 0 where there are several.
func (t *told) season() int {
	years := map[int]int{}
	for _, on := range t.days {
		if on != 0 {
			years[on.Year()]++
		}
	}
	if len(t.waits) > 0 {
		return 0
	}
	return only(years)
}

var silencePattern = regexp.MustCompile(`(?i)(?:anything|everything|any|nests?|what|all)\s+(?:else\s+)?not (?:named|listed|mentioned|written)[^.]{0,30}(?:right|fine|ok|good|there|intact|eggs)|only (?:wrote|put|listed|write|mark(?:ed)?)[^.]{0,40}(?:wrong|missing|gone|lost|loss(?:es)?|bad)|s[oó]lo (?:apunt[eé]|anot[eé]|escrib[ií])[^.]{0,40}(?:falt|perd|mal)|lo dem[aá]s (?:estaba|todo)?[^.]{0,20}(?:complet|bien)|blanks?\s*(?:=|is|are|means?|was)\s*(?:it(?:'s| is| was) |they(?:'re| were) |still |all |that it was )?(?:ok|fine|good|all there|intact|no loss)|empty\s*(?:=|is|means)\s*(?:ok|fine|good|all there|intact)|(?:en )?blanco\s*(?:=|es|quiere decir)\s*(?:bien|completo)`)

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

// tableOf tells whether a tab has a table of nests.
func (r *reader) tableOf(g *grid) bool {
	return slices.ContainsFunc(r.blocks, func(b *block) bool {
		return b.g.index == g.index && (b.kind == nestTable || b.kind == visitTable)
	})
}
