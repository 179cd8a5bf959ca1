package reading

import (
	"math"
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// readBelts reads tables of belts, counts in columns beside the nests, and belts told in a sentence.
func (r *reader) readBelts(sink Sink) {
	for _, b := range r.blocks {
		switch b.kind {
		case beltTable:
			r.beltTable(b, sink, false)
		case nestTable, visitTable:
			if b.has(lexicon.Count) || b.clumpsBeside() {
				r.beltTable(b, sink, true)
			}
		case lineTable:
			if b.has(lexicon.Count) {
				r.beltTable(b, sink, false)
			}
		}
	}
	r.readCountLists(sink)
	r.asideBelts(sink)
}

// A beltReader reads the belts of one block.
type beltReader struct {
	*emitter
	length, width, unit, lengthUnit, widthUnit, step, clumps, belt, area *column
	counts                                                               []*column
	names                                                                map[string]bool // of the lines of all nests
}

func (r *reader) beltTable(b *block, sink Sink, beside bool) {
	br := &beltReader{emitter: r.newEmitter(b, sink)}
	for i := range b.cols {
		c := &b.cols[i]
		for role, into := range map[lexicon.Role]**column{
			lexicon.Length: &br.length, lexicon.Width: &br.width, lexicon.Unit: &br.unit, lexicon.LengthUnit: &br.lengthUnit, lexicon.WidthUnit: &br.widthUnit,
			lexicon.StepLength: &br.step, lexicon.Clumps: &br.clumps, lexicon.Belt: &br.belt, lexicon.BeltArea: &br.area,
		} {
			if c.role == role && *into == nil {
				*into = c
			}
		}
		if c.role == lexicon.Area && br.area == nil {
			br.area = c
		}
		if c.role == lexicon.Count {
			br.counts = append(br.counts, c)
		}
	}
	if br.length == nil && br.steps != nil {
		br.length = br.steps
	}
	if beside && br.belt != nil {
		br.names = r.nameLines()
	}
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		if beside && !br.any(l) {
			continue
		}
		br.one(l, rec.scope, beside)
	}
	if !beside {
		r.use(b, "belts")
	}
}

func (br *beltReader) any(l *line) bool {
	for _, c := range append(slices.Clone(br.counts), br.clumps) {
		if c != nil && l.at(c.at).text != "" {
			return true
		}
	}
	return false
}

// clumpsBeside tells whether a column beside nests counts the clumps of each line once.
func (b *block) clumpsBeside() bool {
	c, line := b.column(lexicon.Clumps), b.column(lexicon.Line)
	return c != nil && clumpPattern.MatchString(c.head.Text) && c.n > 0 && c.whole == c.n && (line != nil && c.n <= len(line.distinct) || line == nil && c.n <= 2 || c.n*3 <= c.rows)
}

// one reads one row of belts.
func (br *beltReader) one(l *line, sc *scope, beside bool) {
	if br.asideRecord(l) {
		return
	}
	n := l.filled(br.b.left, br.b.right)
	if n == 0 || n == 1 && !br.any(l) && br.line != nil {
		br.setAsideLine(l, "short")
		return
	}
	br.row = Row{At: survey.Cell{File: br.b.g.File, Sheet: br.b.g.Name, Row: rowNumber(l)}}
	row := &BeltRow{At: br.row.At, Counts: map[survey.Substrate]int{}}
	if !beside {
		br.rows++
	}
	row.Season = br.seasonOf(l)
	line, lineCell := br.told(l, br.line, true)
	row.Line = lineName(line)
	if row.Line == "" {
		row.Line = sc.lineName()
	}
	if row.Line == "" && br.b.g.turn {
		row.Line = br.turnedLines[lineKeyOf(br.b.g, l)]
	}
	if beside && row.Line == "" && br.belt != nil { // a list of belts at the right of nests names its own lines
		if t := lineName(l.at(br.belt.at).text); br.names[strings.ToUpper(t)] || br.names[strings.ToUpper(l.at(br.belt.at).text)] {
			row.Line = t
		}
	}
	if row.Line == "" && br.nest != nil {
		if k := br.kind(l.at(br.nest.at)); k.isID {
			row.Line = br.idLine(k.id)
		}
	}
	if br.length != nil && l.at(br.length.at).text == "" && slices.Contains(totalWords, lexicon.Words(row.Line)) {
		br.setAsideLine(l, "total")
		return
	}
	row.Ranch = br.ranchOf(l, sc, row.Line, true)
	row.Site = br.siteOf(l, sc, row.Line, true)
	if row.Season == 0 {
		row.Season = br.seasonFrom(sc)
	}
	said := ""
	ok := true
	for _, c := range br.counts {
		ok = br.count(l, c, br.countName(c), row, &said) && ok
	}
	if br.clumps != nil && br.clumps.told {
		if c := l.at(br.clumps.at); c.text != "" {
			told, all := br.clumpsTold(c.text)
			if !all {
				br.Refuse(br.place(c, br.clumps), c.text, br.Say("We could not read all of these counts. Please write each with its cover, such as “32 bunchgrass, 22 yucca”."))
				return
			}
			row.Counts = told
		}
	} else if br.clumps != nil && l.at(br.clumps.at).text != "" {
		name := survey.AnyCover
		if len(br.counts) > 0 { // beside counts of other covers, the clumps are those of grass
			name = survey.Bunchgrass
		} else if br.cover != nil {
			row.Long = true
			if v, c := br.told(l, br.cover, true); v != "" {
				name, _ = br.coverWord(v, c, br.cover)
			}
		} else {
			br.Note(br.place(l.at(br.clumps.at), br.clumps), "clump-kind", br.key(0), "", func(g *group) string {
				return br.Say("The clumps are not told apart by kind; they count together.")
			})
		}
		ok = br.count(l, br.clumps, name, row, &said) && ok
	}
	if br.belt != nil {
		row.Belt = l.at(br.belt.at).text
	}
	if row.Line == "" && row.Belt != "" {
		row.Line = row.Belt
	}
	row.Whole = row.Line == "" && br.line == nil && !beside && (br.site != nil && row.Site != "" || br.ranch != nil && row.Ranch != "")
	if len(row.Counts) == 0 && n <= 2 && br.line != nil { // a row of another kind
		br.setAsideLine(l, "short")
		return
	}
	if !br.sizes(l, sc, row, said) || !ok || br.row.Waits {
		return
	}
	if len(row.Counts) == 0 {
		if br.line == nil || line != "" && n > 2 {
			br.Refuse(row.At, "", br.Say("No clumps are counted on this belt. Please fill in a count, 0 where there were none."))
		} else {
			br.setAsideLine(l, "short")
		}
		return
	}
	_ = lineCell
	br.sink.Belt(row)
}

// countName is the cover of a column of counts, in the spelling first seen anywhere in the batch.
func (br *beltReader) countName(c *column) survey.Substrate {
	name := string(c.head.Cover)
	if s, ok := br.coverHeads[lexicon.Fold(c.head.Text)]; ok {
		return s
	}
	if settled := br.opt.Words["substrate/"+lexicon.Words(name)]; settled != "" && settled != "keep" {
		return survey.Substrate(settled)
	}
	if k := br.kindOf(name); k.isCover {
		return k.cover.Substrate
	}
	return br.own(name)
}

var (
	doubtfulClumps = regexp.MustCompile(`^\(?\s*\+`)
	inLength       = regexp.MustCompile(`(?i)^in\s+(?:a\s+)?`)
)

// count reads one count of clumps. An empty cell says nothing.
func (br *beltReader) count(l *line, c *column, name survey.Substrate, row *BeltRow, said *string) bool {
	cl := l.at(c.at)
	raw := cl.text
	if raw == "" || raw == "-" || raw == "—" || raw == "–" || br.kindOf(raw).sight.Mark == lexicon.Skipped {
		return true
	}
	cell := br.place(cl, c)
	comma := br.b.g.Delimiter == ';'
	n, rest, ok := lexicon.Number(raw, comma)
	if i := strings.IndexAny(raw, "0123456789"); !ok && i > 0 { // "about 12"
		n, rest, ok = lexicon.Number(raw[i:], comma)
		rest += " "
	}
	if !ok || n < 0 || n > 1e6 || n != math.Trunc(n) || strings.HasPrefix(strings.TrimSpace(rest), "%") {
		if c.head.Sure < 1 && c.textual*2 > c.n {
			return true
		}
		br.Refuse(cell, raw, br.Say("“%s” is not a count of clumps. Please write a whole number, 0 where there were none.", inquiry.Short(raw)))
		return false
	}
	switch {
	case rest == "" || rest == "?":
	case inLength.MatchString(rest):
		*said = inLength.ReplaceAllString(rest, "")
	case doubtfulClumps.MatchString(rest):
		br.Note(cell, "count-words", br.key(c.at), raw, func(g *group) string {
			return br.Say("Some counts have words beside the number (%s); we kept the number.", br.Quoted(g.Words[:min(3, len(g.Words))]))
		})
	default:
		if second, found := secondNumber(rest); found && math.Abs(float64(second)-n) > max(2, n/4) {
			first := int(n)
			if br.Ask(cell, inquiry.Prompt{
				Kind: "belt", Place: br.key(c.at) + "two", Weight: inquiry.PleaseLook, Default: "first", Rank: 7,
				Text: func(g *group) string {
					if g.N > 1 {
						return br.Say("Some counts have two numbers (%s). We keep the first, and your note. Or is it the second?", g.Where())
					}
					return br.Say("“%s” in row %d: we keep %d and your note. Or is it %d?", inquiry.Short(raw), cell.Row, first, second)
				},
				Choices: []inquiry.Choice{{ID: "first", Label: br.Say("Keep the first number")}, {ID: "second", Label: br.Say("Use the second number")}},
			}) == "second" {
				n = float64(second)
			}
		} else {
			br.Note(cell, "count-words", br.key(c.at), raw, func(g *group) string {
				return br.Say("Some counts have words beside the number (%s); we kept the number.", br.Quoted(g.Words[:min(3, len(g.Words))]))
			})
		}
	}
	row.Counts[name] += int(n)
	return true
}

func secondNumber(s string) (int, bool) {
	i := strings.IndexAny(s, "0123456789")
	if i < 0 {
		return 0, false
	}
	n, _, ok := lexicon.Number(s[i:], false)
	if !ok || n > 1e6 || n != math.Trunc(n) {
		return 0, false
	}
	return int(n), true
}

// sizes reads length and width in feet; 0 where one, its unit or the length of a step is not told.
func (br *beltReader) sizes(l *line, sc *scope, row *BeltRow, said string) bool {
	step := br.stepOf(l, sc)
	widthOK, lengthOK := true, true
	row.WidthFt, widthOK = br.widthOf(l, sc, step)
	if br.notes != nil { // "8 ft wide here"
		if t := l.at(br.notes.at).text; t != "" {
			f := facts{}
			br.measuresIn(&f, t, br.scan(t))
			if f.width > 0 {
				row.WidthFt = f.width
			}
		}
	}
	row.LengthFt, lengthOK = br.lengthOf(l, sc, step, row.WidthFt, said)
	return widthOK && lengthOK
}

func (br *beltReader) stepOf(l *line, sc *scope) float64 {
	if br.step != nil {
		if t, _ := br.told(l, br.step, true); t != "" {
			unit := br.step.head.Unit
			if unit == "" {
				unit = "ft"
				if v, _, ok := lexicon.Number(t, br.b.g.Delimiter == ';'); ok && v > 12 {
					unit = "in"
				}
			}
			if m, ok := br.lex.Measure(t, unit, br.b.g.Delimiter == ';'); ok && m.Feet >= 0.8 && m.Feet <= 6 {
				return m.Feet
			}
			br.Refuse(br.place(l.at(br.step.at), br.step), t, br.Say("“%s” is not the length of a step. Please write it in feet, such as 2.5.", inquiry.Short(t)))
			br.row.Waits = true
		}
	}
	if br.length != nil && br.length.head.Step > 0 {
		return br.length.head.Step
	}
	if br.who != nil {
		if t, _ := br.told(l, br.who, true); br.walkers[lexicon.Fold(t)] > 0 {
			return br.walkers[lexicon.Fold(t)]
		}
	}
	if f := sc.find(func(f *facts) bool { return f.step > 0 }); f != nil {
		return f.step
	}
	return br.batchStep
}

func (br *beltReader) unitFor(l *line, own, shared *column, head string) string {
	if own != nil {
		if t, _ := br.told(l, own, true); t != "" {
			return lexicon.Words(t)
		}
	}
	if head != "" {
		return head
	}
	if shared != nil {
		if t, _ := br.told(l, shared, true); t != "" {
			return lexicon.Words(t)
		}
	}
	for _, c := range []*column{br.length, br.width} { // one heading may say it for both
		if c != nil && own == nil && c.head.Unit != "" && c.head.Unit != "steps" {
			return c.head.Unit
		}
	}
	return br.unitSaid(br.b.g)
}

func (br *beltReader) widthOf(l *line, sc *scope, step float64) (float64, bool) {
	if br.width != nil {
		if t, c := br.told(l, br.width, true); t != "" {
			unit := br.unitFor(l, br.widthUnit, br.unit, br.width.head.Unit)
			return br.measure(t, unit, step, br.place(c, br.width), "width", br.widthUnit)
		}
	}
	if f := br.sizesBeside(l); f.width > 0 {
		return f.width, true
	}
	for _, c := range append(br.counts, br.length, br.area) { // a heading may say it: "Clumps on a strip 6 ft wide"
		if c == nil {
			continue
		}
		if f := br.sizeInHead(c); f.width > 0 {
			return f.width, true
		}
	}
	if f := sc.find(func(f *facts) bool { return f.width > 0 }); f != nil {
		return f.width, true
	}
	if br.batchWidth > 0 {
		return br.batchWidth, true
	}
	return br.askSize("width"), true
}

// sizeInHead is what a heading says of the size of belts.
func (br *beltReader) sizeInHead(c *column) facts {
	f := facts{}
	br.measuresIn(&f, c.head.Text, br.scan(c.head.Text))
	if f.width == 0 {
		br.bareSize(&f, c.head.Text)
	}
	return f
}

func (br *beltReader) lengthOf(l *line, sc *scope, step, width float64, said string) (float64, bool) {
	if br.length != nil || said != "" {
		t, c := said, l.at(0)
		if br.length != nil {
			if lt, lc := br.told(l, br.length, true); lt != "" {
				t, c = lt, lc
			}
		}
		if t != "" {
			unit := ""
			if br.length != nil {
				head := br.length.head.Unit
				if head == "" && br.length.role == lexicon.Steps {
					head = "steps"
				}
				unit = br.unitFor(l, br.lengthUnit, br.unit, head)
			}
			if m, ok := br.lex.Measure(t, unit, br.b.g.Delimiter == ';'); ok && m.Acres > 0 {
				return br.byArea(m.Acres, width)
			}
			return br.measure(t, unit, step, br.place(c, br.length), "length", br.lengthUnit)
		}
	}
	if f := br.sizesBeside(l); f.length != (lexicon.Measure{}) {
		if v := measured(f.length, step, width); v > 0 {
			return v, true
		}
	}
	if br.area != nil {
		if t, c := br.told(l, br.area, true); t != "" {
			unit := br.area.head.Unit
			if unit == "" {
				unit = "acre"
			}
			if m, ok := br.lex.Measure(t, unit, br.b.g.Delimiter == ';'); ok && m.Acres > 0 {
				return br.byArea(m.Acres, width)
			}
			br.Refuse(br.place(c, br.area), t, br.Say("“%s” is not an area we can read. Please write a number, with acre or ha in “area_unit”.", inquiry.Short(t)))
			return 0, false
		}
	}
	for _, c := range br.counts { // "Bunchgrass clumps 300x12 ft"
		if f := br.sizeInHead(c); f.length != (lexicon.Measure{}) {
			if v := measured(f.length, step, width); v > 0 {
				return v, true
			}
		}
	}
	if f := sc.find(func(f *facts) bool { return f.length != (lexicon.Measure{}) }); f != nil {
		if v := measured(f.length, step, width); v > 0 {
			return v, true
		}
	}
	if v := measured(br.batchLength, step, width); v > 0 {
		return v, true
	}
	return br.askSize("length"), true
}

// sizesBeside reads the sizes that stand beside the counts: in a cell, "300 x 10 ft", or in a heading, "Clumps on a strip 6 ft
// wide".
func (br *beltReader) sizesBeside(l *line) facts {
	f := facts{}
	if br.belt != nil {
		t := l.at(br.belt.at).text
		br.measuresIn(&f, t, br.scan(t))
	}
	for _, c := range append(slices.Clone(br.counts), br.clumps, br.belt, br.length, br.area, br.line) {
		if c != nil && (f.width == 0 || f.length == (lexicon.Measure{})) {
			g := facts{}
			br.measuresIn(&g, c.head.Text, br.scan(c.head.Text))
			f = merged(f, g)
		}
	}
	return f
}

// byArea turns an area into the length of a belt of known width.
func (br *beltReader) byArea(acres, width float64) (float64, bool) {
	if width <= 0 {
		return 0, true
	}
	return acres * lexicon.SquareFeetPerAcre / width, true
}

// measured turns a length into feet where that can be done.
func measured(m lexicon.Measure, step, width float64) float64 {
	switch {
	case m.Feet > 0:
		return m.Feet
	case m.Steps > 0:
		return m.Steps * step
	case m.Acres > 0 && width > 0:
		return m.Acres * lexicon.SquareFeetPerAcre / width
	}
	return 0
}

// measure reads one length or width.
func (br *beltReader) measure(raw, unit string, step float64, cell survey.Cell, what string, unitCol *column) (float64, bool) {
	if cell.Column == "" {
		cell.Column = what
	}
	m, ok := br.lex.Measure(raw, unit, br.b.g.Delimiter == ';')
	if !ok || m.Feet < 0 || m.Bare < 0 || m.Feet == 0 && m.Steps == 0 && m.Bare == 0 && m.Acres == 0 || m.Feet > 1e6 {
		unread := br.Say("“%s” is not a length we can read. Please write a number above 0, with its unit in “length_unit”.", inquiry.Short(raw))
		if what == "width" {
			unread = br.Say("“%s” is not a width we can read. Please write a number above 0, with its unit in “width_unit”.", inquiry.Short(raw))
		}
		br.Refuse(cell, raw, unread)
		return 0, false
	}
	switch {
	case m.Feet > 0:
		return m.Feet, true
	case m.Steps > 0:
		if m.Step > 0 {
			step = m.Step
		}
		if step == 0 {
			br.askSize("step")
			return 0, true
		}
		return m.Steps * step, true
	case unit == "" || unit == "steps":
		if unit == "" {
			br.askSize(what + "-unit")
		}
		return 0, true
	}
	if unitCol != nil {
		cell.Column = unitCol.head.Text
	}
	br.Refuse(cell, unit, br.Say("“%s” is not a unit we know; we know ft, yd, m, in and steps.", inquiry.Short(unit)))
	return 0, false
}

// askSize asks for what a belt's area needs; the count is kept meanwhile. It returns the size answered, in feet.
func (br *beltReader) askSize(what string) float64 {
	c := br.row.At
	choices := []inquiry.Choice{{ID: "count-only", Label: br.Say("Keep the count alone")}}
	switch what {
	case "width", "width-unit":
		for _, ft := range []string{"6", "5", "4", "7", "8", "10", "12"} {
			choices = append(choices, inquiry.Choice{ID: ft + "ft", Label: br.Say("%s feet wide", ft)})
		}
	case "step":
		for _, ft := range []string{"2.5", "2.6", "2.4", "2.7", "2.3", "2.8", "3"} {
			choices = append(choices, inquiry.Choice{ID: ft + "ft", Label: br.Say("A step is %s feet", ft)})
		}
	}
	place := c.File + "\x00" + c.Sheet + "\x00" + what
	if what == "step" { // a walker's, not a tab's
		place = c.File + "\x00" + what
	}
	a := br.Ask(c, inquiry.Prompt{
		Kind: "belt", Place: place, Weight: inquiry.PleaseLook, Default: "count-only", Rank: 6,
		Text: func(g *group) string {
			return unmeasured(g, what) + " " + br.Say("Without it we keep the count but can't give clumps an acre. Please write it in the sheet and send it again.")
		},
		Choices: choices,
	})
	if v, ok := strings.CutSuffix(a, "ft"); ok {
		ft, _, _ := lexicon.Number(v, false)
		return ft
	}
	return 0
}

// unmeasured says what belts lack.
func unmeasured(g *group, what string) string {
	switch where := g.Where(); what {
	case "length":
		return g.Count("The length of %d belt is not written down (%s).", "The length of %d belts is not written down (%s).", g.N, g.N, where)
	case "width":
		return g.Count("The width of %d belt is not written down (%s).", "The width of %d belts is not written down (%s).", g.N, g.N, where)
	case "length-unit":
		return g.Count("The length of %d belt has no unit (%s).", "The length of %d belts has no unit (%s).", g.N, g.N, where)
	case "width-unit":
		return g.Count("The width of %d belt has no unit (%s).", "The width of %d belts has no unit (%s).", g.N, g.N, where)
	default:
		return g.Count("The length of %d belt is counted in steps, and the length of a step is not written down (%s).",
			"The length of %d belts is counted in steps, and the length of a step is not written down (%s).", g.N, g.N, where)
	}
}

// nameLines gathers the names of the lines of all nests.
func (r *reader) nameLines() map[string]bool {
	names := map[string]bool{}
	for _, b := range r.blocks {
		if b.kind != nestTable && b.kind != visitTable && b.kind != lineTable {
			continue
		}
		if c := b.column(lexicon.Line); c != nil {
			for t := range c.distinct {
				names[strings.ToUpper(lineName(t))] = true
			}
		}
		if c := b.column(lexicon.Nest); c != nil && c.share(c.id) >= 0.5 {
			for t := range c.distinct {
				if k := r.kindOf(t); k.isID {
					names[strings.ToUpper(k.id.line)] = true
				}
			}
		}
		if n := b.top.lineName(); n != "" {
			names[strings.ToUpper(n)] = true
		}
		for _, rec := range b.records {
			if n := rec.scope.lineName(); n != "" {
				names[strings.ToUpper(n)] = true
			}
		}
	}
	return names
}
