package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/narration"
	"tussock/internal/survey"
)

// A countList is a list of clumps below a line of text that tells how large the belts are, a line a row: "Clumps, 300 x 12 ft",
// "Line 1 | grass | 30 | yucca | 3"; or one row of counts among the nests of a line.
type countList struct {
	g     *grid
	rows  []countRow
	scope *scope
	mixed bool // no cover is told: all kinds together
}

// A countRow is the row of one line.
type countRow struct {
	line   string
	at     *cell
	counts map[survey.Substrate]int
	sizes  facts // told in the row itself
}

var (
	countTalk = regexp.MustCompile(`(?i)\b(?:belts?|strips?|franjas?|fajas?|clumps?|bunches|tussocks|plants|matas|macollos|conteos?|cover|counts?|counted)\b`)
	rowLead   = regexp.MustCompile(`(?i)^\W*(?:belts?|strips?|franjas?|fajas?|clumps?|bunches|matas|macollos|conteo)\W*$`)
	countCut  = regexp.MustCompile(`\s*(?:[,;|/+&]|\band\b|\by\b)\s*|\s{2,}`)
	numberTop = regexp.MustCompile(`^(\d{1,4})(?:\s+(\pL.*))?$`)
	numberEnd = regexp.MustCompile(`^(\pL[^\d]*?)\s*[:=–-]?\s*(\d{1,4})$`)
	bareSizes = regexp.MustCompile(`(?i)\b(\d{1,4}(?:\.\d+)?)\s*(?:ft|feet|foot|pies|'|m|meters|metros|yd|yards)?\.?\s*(?:x|×|by|por)\s*(\d{1,4}(?:\.\d+)?)\s*(ft|feet|foot|pies|'|m|meters|metros|yd|yards)\b`)
)

// countList takes a list of clumps that begins at row i and returns how many rows it has; 0 where none does.
func (s *bandScan) countList(i, to int) int {
	texts := func(k int) []*cell { return s.appendTexts(nil, k) }
	s.texts = s.appendTexts(s.texts[:0], i)
	first := s.texts
	if len(first) == 0 || len(first) > 12 {
		return 0
	}
	var used []*cell
	k := i
	head := ""
	sized := func(c *cell) bool { return s.r.kind(c).tellsSize(s.r) }
	if n := s.coverRows(i, i, to, texts); n > 0 {
		return n
	}
	switch {
	case len(first) == 1 && len(first[0].text) < 160 && sized(first[0]):
		if s.countsInText(i, first[0]) {
			return 1
		}
		if n := s.coverRows(i, i+1, to, texts); n > 0 {
			return n
		}
		if _, ok := s.countRow(first, ""); ok && lineHead(first[0].text) { // it tells of one line itself
			return 0
		}
		head = first[0].text
		used = append(used, first[0])
		k++
	case len(first) > 2 && s.allLines(first[1:]) && countTalk.MatchString(first[0].text) && sized(first[0]):
		return s.coversByLines(i, to, first)
	case len(first) > 2 && s.r.kind(first[1]).headsLine && !s.r.kind(first[0]).headsLine && sized(first[0]): // "300 x 12 ft: | line 1 | 26 | bunch"
		head = first[0].text
		used = append(used, first[0])
		first = first[1:]
	case len(first) > 1 && s.scope.lineName() != "" && (rowLead.MatchString(first[0].text) || countTalk.MatchString(first[0].text) && sized(first[0])) && s.countsOfLine(first): // "clumps | 43 grass | 11 yucca | 300x12 ft"
		row, _ := s.countRow(first[1:], s.scope.lineName())
		row.sizes = merged(row.sizes, s.sizesIn(first[0]))
		s.takeCounts(&countList{g: s.g, rows: []countRow{row}, scope: s.scope}, i, first)
		return 1
	case len(first) > 1 && slices.ContainsFunc(first, sized) && slices.ContainsFunc(first, func(c *cell) bool { return countTalk.MatchString(c.text) }):
		return s.countTable(i, to, first)
	default:
		return 0
	}
	list := &countList{g: s.g}
	alone := k > i
	talk := countTalk.MatchString(head)
	cells := 0
	for ; k < to; k++ {
		row := texts(k)
		if len(row) == 0 && len(list.rows) == 0 && k == i+1 {
			continue
		}
		if k == i {
			row = first
		}
		got, ok := s.countRow(row, "")
		if !ok && talk {
			got, ok = s.namedCount(row)
		}
		if !ok || got.line == "" {
			break
		}
		for _, c := range list.rows {
			ok = ok && !strings.EqualFold(c.line, got.line)
		}
		if !ok {
			break
		}
		_, bare := got.counts[""]
		if bare && !talk {
			break
		}
		list.mixed = list.mixed || bare
		cells = max(cells, len(row))
		list.rows = append(list.rows, got)
		used = append(used, row...)
	}
	if len(list.rows) == 0 || alone && !talk && len(list.rows) < 2 {
		return 0
	}
	if alone && cells == 1 && !list.mixed && beltWords.MatchString(head) { // told in words: see asideBelts
		return 0
	}
	list.scope = s.scope.child(s.sizesIn(&cell{text: head}))
	if only := s.onlyCover(head); list.mixed && only != "" {
		for n := range list.rows {
			counts := list.rows[n].counts
			counts[only] += counts[""]
			delete(counts, "")
		}
		list.mixed = false
	}
	s.takeCounts(list, i, used)
	return k - i
}

// appendTexts adds the cells of a row that hold text of their own.
func (s *bandScan) appendTexts(cells []*cell, row int) []*cell {
	l := &s.g.lines[row]
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.span {
			cells = append(cells, c)
		}
	}
	return cells
}

var (
	oneCount   = regexp.MustCompile(`(?i)^(.*?\S)\s*[:=]\s*(\d{1,4})(?:\s+(?:(?:big|good|large)\s+)?(?:clumps?|bunches|plants|matas|macollos)\b[^\d]*)?\.?$`)
	lineCounts = regexp.MustCompile(`(?i)\b(?:line|transect|l[ií]nea|transecto)\s+([A-Za-z]?\d{1,3}|[A-Z])\s*(?:=|:|had|has|ten[ií]a)\s*(\d{1,4})\s+(?:clumps|bunches|plants|matas|macollos)\b`)
)

// countsInText takes a line of text that tells the size of belts and a number of clumps of no cover: "Belt 300 x 12 ft = 10 clumps"
// below a line's head, "Cover walk 290 steps, 6 ft wide. Line 1 = 35 clumps, line 2 = 20 clumps".
func (s *bandScan) countsInText(i int, c *cell) bool {
	if !countTalk.MatchString(c.text) {
		return false
	}
	list := &countList{g: s.g, mixed: true}
	add := func(line, number string) {
		n, _ := lexicon.Atoi(number)
		list.rows = append(list.rows, countRow{line: line, at: c, counts: map[survey.Substrate]int{"": n}})
	}
	if many := lineCounts.FindAllStringSubmatch(c.text, -1); len(many) > 0 {
		for _, m := range many {
			add(m[1], m[2])
		}
	} else if m := oneCount.FindStringSubmatch(c.text); m != nil {
		line := s.scope.lineName()
		if loc := linePattern.FindStringSubmatchIndex(m[1]); loc != nil && loc[4] == loc[5] {
			line = m[1][loc[2]:loc[3]]
		}
		if line == "" || !between(s.r.scan(m[1]), aMeasure) && !bareSizes.MatchString(m[1]) {
			return false
		}
		add(line, m[2])
	} else {
		return false
	}
	if only := s.onlyCover(c.text); only != "" {
		for _, row := range list.rows {
			row.counts[only] += row.counts[""]
			delete(row.counts, "")
		}
	} else if between(s.r.scan(c.text), aCover) {
		return false
	}
	list.scope = s.scope.child(s.sizesIn(c))
	s.takeCounts(list, i, []*cell{c})
	return true
}

// sizesIn is what a text tells of the size of belts.
func (s *bandScan) sizesIn(c *cell) facts {
	f := facts{}
	s.r.measuresIn(&f, c.text, s.r.scan(c.text))
	if f.width == 0 || f.length == (lexicon.Measure{}) {
		s.r.bareSize(&f, c.text)
	}
	for _, it := range s.r.scan(c.text) { // steps that are measured too: "290 steps (726 ft)"
		long := it.is == aMeasure && (it.measure.Steps >= 20 || it.measure.Feet > 60)
		if long && (f.length == (lexicon.Measure{}) || f.length.Feet == 0 && f.step == 0 && it.measure.Feet > 60) {
			f.length = it.measure
		}
	}
	return f
}

// allLines tells whether cells name lines and say so: "Line 1 | Line 2".
func (s *bandScan) allLines(cells []*cell) bool {
	return !slices.ContainsFunc(cells, func(c *cell) bool { k := s.r.kind(c); return !k.headsLine || k.lineName() == c.text })
}

// countsOfLine tells whether the cells behind the first count clumps by cover and the row tells how large the belt is.
func (s *bandScan) countsOfLine(cells []*cell) bool {
	row, ok := s.countRow(cells[1:], s.scope.lineName())
	size := merged(row.sizes, s.sizesIn(cells[0]))
	_, bare := row.counts[""]
	return ok && (!bare || len(cells) == 2) && (size.width > 0 || size.length != (lexicon.Measure{}))
}

// namedCount reads "North line: 23", "II | 23", "Creek 12 grass, 4 yucca" below a title of belts: the name of a line, which nothing
// else says is one, and its counts.
func (s *bandScan) namedCount(cells []*cell) (row countRow, ok bool) {
	name, rest := cells[0].text, cells[1:]
	if loc := nameThenCount.FindStringSubmatchIndex(name); loc != nil {
		tail := *cells[0]
		tail.text = name[loc[4]:]
		name, rest = name[loc[2]:loc[3]], append([]*cell{&tail}, rest...)
	}
	name = strings.Trim(name, " :=.-–")
	k := s.r.kindOf(name)
	if len(rest) == 0 || name == "" || len(strings.Fields(name)) > 3 || hasDigits(name) || k.isCover && !k.cover.Weak || k.sight.Mark != lexicon.Unknown && !k.sight.Weak || k.head.Role != lexicon.NoRole && lineName(name) == name || isTotal(name) || countTalk.MatchString(name) {
		return row, false
	}
	row, ok = s.countRow(rest, lineName(name))
	row.at = cells[0]
	return row, ok
}

var nameThenCount = regexp.MustCompile(`^(\pL[^\d:=]*?)\s*(?:[:=–-]\s*|\s)(\d{1,4}\b.*)$`)

// coverRows takes rows of a cover and its count below the nests of a line, from row k on: "Yucca clumps: | 5". What stands in row i
// above them tells their size. It returns how many rows were taken.
func (s *bandScan) coverRows(i, k, to int, texts func(int) []*cell) int {
	line := s.scope.lineName()
	if line == "" {
		return 0
	}
	row := countRow{line: line, counts: map[survey.Substrate]int{}}
	var used []*cell
	from := k
	for ; k < to; k++ {
		cells := texts(k)
		if len(cells) != 2 || !countTalk.MatchString(cells[0].text) || hasDigits(cells[0].text) || lineHead(cells[0].text) {
			break
		}
		n, whole := lexicon.Atoi(cells[1].text)
		cover := s.onlyCover(cells[0].text)
		if h := s.r.lex.Heading(strings.TrimRight(cells[0].text, " :=")); cover == "" && h.Role == lexicon.Count {
			cover = h.Cover
		}
		if _, twice := row.counts[cover]; !whole || cover == "" || twice {
			break
		}
		if row.at == nil {
			row.at = cells[0]
		}
		row.counts[cover] = n
		used = append(used, cells...)
	}
	if k == from {
		return 0
	}
	list := &countList{g: s.g, rows: []countRow{row}, scope: s.scope}
	if from > i {
		head := texts(i)[0]
		list.scope = s.scope.child(s.sizesIn(head))
		used = append(used, head)
	}
	s.takeCounts(list, i, used)
	return k - i
}

// countTable takes a table whose first heading tells how large the belts are, above their lines: "Belt 500 x 6 ft | bunchgrass |
// yucca". It returns how many rows it has.
func (s *bandScan) countTable(i, to int, heads []*cell) int {
	covers := map[int]survey.Substrate{}
	var size facts
	for n, c := range heads {
		words := bareSizes.ReplaceAllString(c.text, "")
		if f := s.sizesIn(c); f.width > 0 || f.length != (lexicon.Measure{}) {
			size = merged(size, f)
		}
		switch k := s.r.kind(c); {
		case n == 0:
		case k.isCover && !hasDigits(c.text):
			covers[c.col] = k.cover.Substrate
		case hasDigits(words):
			if n < len(heads)-1 { // the sizes alone, at the end
				return 0
			}
		case countTalk.MatchString(words):
			covers[c.col] = s.onlyCover(words)
		default:
			return 0
		}
	}
	if len(covers) == 0 && len(heads) == 2 && countTalk.MatchString(heads[0].text) && !hasDigits(heads[0].text) { // "Clumps | 300 feet by 12 feet": lines and counts below
		covers[-1] = ""
	}
	if len(covers) == 0 {
		return 0
	}
	list := &countList{g: s.g}
	used := slices.Clone(heads)
	k := i + 1
	for ; k < to; k++ {
		l := &s.g.lines[k]
		name := l.at(heads[0].col)
		if name.text == "" || len(name.text) > 20 || isTotal(name.text) || s.r.kind(name).isCover {
			break
		}
		row := countRow{line: lineName(name.text), at: name, counts: map[survey.Substrate]int{}}
		cells := []*cell{name}
		ok := true
		for col := s.left; col < min(s.right, len(l.cells)); col++ {
			c := &l.cells[col]
			if c.text == "" || col == heads[0].col {
				continue
			}
			n, whole := lexicon.Atoi(c.text)
			cover, headed := covers[col]
			if _, any := covers[-1]; any && len(cells) == 1 {
				headed = true
			}
			ok = ok && whole && headed
			row.counts[cover] += n
			cells = append(cells, c)
		}
		if !ok || len(cells) < 2 {
			break
		}
		list.rows, used = append(list.rows, row), append(used, cells...)
	}
	if len(list.rows) == 0 {
		return 0
	}
	list.scope = s.scope.child(size)
	s.takeCounts(list, i, used)
	return k - i
}

// coversByLines takes a table of the clumps on several lines, a cover a row: "Clumps, 300 x 12 ft | Line 1 | Line 2" above "grass | 7 |
// 18". It returns how many rows it has.
func (s *bandScan) coversByLines(i, to int, heads []*cell) int {
	list := &countList{g: s.g, scope: s.scope.child(s.sizesIn(heads[0]))}
	for _, h := range heads[1:] {
		list.rows = append(list.rows, countRow{line: lineName(h.text), at: h, counts: map[survey.Substrate]int{}})
	}
	used := slices.Clone(heads)
	k := i + 1
	for ; k < to; k++ {
		l := &s.g.lines[k]
		name := l.at(heads[0].col)
		cover := s.r.kind(name)
		any := cover.words <= 2 && (saysClumps(name.text) || isTotal(name.text)) && k == i+1
		if !cover.isCover && !any || l.filled(s.left, s.right) < 2 {
			break
		}
		used = append(used, name)
		for n, h := range heads[1:] {
			c := l.at(h.col)
			if v, whole := lexicon.Atoi(c.text); whole {
				list.rows[n].counts[cover.cover.Substrate] += v
				used = append(used, c)
			}
		}
	}
	if k == i+1 {
		return 0
	}
	s.takeCounts(list, i, used)
	return k - i
}

// takeCounts keeps a list of counts and the cells that it stands in.
func (s *bandScan) takeCounts(list *countList, row int, cells []*cell) {
	s.r.countLists = append(s.r.countLists, list)
	for _, c := range cells {
		s.r.captions = append(s.r.captions, &caption{g: s.g, c: c, row: row, scope: list.scope, used: "belt"})
	}
}

// onlyCover is the one cover that a text names; "" for none or several.
func (s *bandScan) onlyCover(text string) (only survey.Substrate) {
	for _, it := range s.r.scan(text) {
		if it.is == aCover {
			if only != "" && only != it.cover.Substrate {
				return ""
			}
			only = it.cover.Substrate
		}
	}
	return only
}

// countRow reads the counts of one line; each of its cells must be understood. Under the cover "" stands a number alone.
func (s *bandScan) countRow(cells []*cell, line string) (row countRow, ok bool) {
	if len(cells) == 0 {
		return row, false
	}
	row.line, row.at, row.counts = line, cells[0], map[survey.Substrate]int{}
	var parts []string
	for n, c := range cells {
		text := c.text
		if n == 0 && line == "" {
			loc := linePattern.FindStringSubmatchIndex(text)
			switch {
			case loc != nil && loc[0] == 0 && loc[4] == loc[5]:
				row.line = text[loc[2]:loc[3]]
				text = strings.TrimLeft(text[loc[1]:], " :=–—-.")
			default:
				return row, false
			}
			if text == "" {
				continue
			}
		}
		if bareSizes.MatchString(text) && numberTop.FindString(text) == "" {
			s.r.bareSize(&row.sizes, text)
			continue
		}
		for _, p := range countCut.Split(text, -1) {
			if p = strings.Trim(p, " .:="); p != "" {
				parts = append(parts, p)
			}
		}
	}
	cover := func(text string) (survey.Substrate, bool) {
		text = strings.Trim(strings.TrimSuffix(strings.TrimSuffix(strings.ToLower(text), " clumps"), " plants"), " .:=-–")
		c, ok := s.r.lex.Cover(text)
		return c.Substrate, ok && c.Substrate != ""
	}
	count := func(c survey.Substrate, n string) bool {
		v, _ := lexicon.Atoi(n)
		if _, twice := row.counts[c]; twice {
			return false
		}
		row.counts[c] = v
		return true
	}
	for n := 0; n < len(parts); n++ {
		p := parts[n]
		if m := numberTop.FindStringSubmatch(p); m != nil && m[2] != "" { // 30 grass
			if c, ok := cover(m[2]); !ok || !count(c, m[1]) {
				return row, false
			}
			continue
		}
		if m := numberEnd.FindStringSubmatch(p); m != nil { // grass: 30
			if c, ok := cover(m[1]); !ok || !count(c, m[2]) {
				return row, false
			}
			continue
		}
		next := ""
		if n+1 < len(parts) {
			next = parts[n+1]
		}
		_, number := lexicon.Atoi(p)
		_, nextNumber := lexicon.Atoi(next)
		switch {
		case number && next == "" && len(row.counts) == 0:
			if !count("", p) {
				return row, false
			}
		case number && next != "" && !nextNumber:
			if c, ok := cover(next); !ok || !count(c, p) {
				return row, false
			}
			n++
		case !number && nextNumber:
			if c, ok := cover(p); !ok || !count(c, next) {
				return row, false
			}
			n++
		default:
			return row, false
		}
	}
	return row, len(row.counts) > 0
}

// bareSize takes a length and a width of which one may have no unit: "300x12 ft". The longer is the length.
func (r *reader) bareSize(f *facts, text string) {
	m := bareSizes.FindStringSubmatch(text)
	if m == nil {
		return
	}
	per, ok := lexicon.FeetPer(strings.ToLower(m[3]))
	a, _, ok1 := lexicon.Number(m[1], false)
	b, _, ok2 := lexicon.Number(m[2], false)
	if !ok || !ok1 || !ok2 {
		return
	}
	if bothSizes.MatchString(text) {
		r.sizesBy(f, text)
		return
	}
	long, wide := max(a, b)*per, min(a, b)*per
	if wide >= 1.5 && wide <= 60 && long > 60 {
		f.length, f.width = lexicon.Measure{Feet: long}, wide
	}
}

// readCountLists gives the belts of lists of counts to the sink.
func (r *reader) readCountLists(sink Sink) {
	for _, list := range r.countLists {
		b := &block{g: list.g, top: list.scope}
		for _, row := range list.rows {
			if t := r.told; t != nil && slices.ContainsFunc(t.account.Belts, func(o *narration.Belt) bool {
				return t.gridOf(o.At) == list.g.index && strings.EqualFold(o.Line, row.line)
			}) {
				continue // the running text tells of it
			}
			sc := list.scope.child(row.sizes)
			where := at(list.g, row.at)
			if _, mixed := row.counts[survey.AnyCover]; mixed {
				r.Note(where, "clump-kind", list.g.File, "", func(g *group) string {
					return r.Say("The clumps are not told apart by kind; they count together.")
				})
			}
			r.loneBelt(b, sc, where, row.line, lexicon.Measure{}, row.counts, sink)
		}
	}
}

// loneBelt gives a belt to the sink whose sizes are told by what stands around it.
func (r *reader) loneBelt(b *block, sc *scope, where survey.Cell, line string, length lexicon.Measure, counts map[survey.Substrate]int, sink Sink) {
	br := &beltReader{emitter: r.bareEmitter(b, sink)}
	br.row.At = where
	find := func(has func(*facts) bool) *facts {
		if f := sc.find(has); f != nil {
			return f
		}
		return &facts{}
	}
	width := find(func(f *facts) bool { return f.width > 0 }).width
	if width == 0 {
		if width = r.batchWidth; width == 0 {
			width = br.askSize("width")
		}
	}
	step := find(func(f *facts) bool { return f.step > 0 }).step
	if step == 0 {
		step = r.batchStep
	}
	if length == (lexicon.Measure{}) {
		if length = find(func(f *facts) bool { return f.length != lexicon.Measure{} }).length; length == (lexicon.Measure{}) {
			length = r.batchLength
		}
	}
	if length.Step > 0 {
		step = length.Step
	}
	ft := measured(length, step, width)
	if ft == 0 && length.Steps > 0 {
		ft = length.Steps * br.askSize("step")
	} else if ft == 0 {
		ft = br.askSize("length")
	}
	season := find(func(f *facts) bool { return f.season != 0 }).season
	r.rows++
	sink.Belt(&BeltRow{At: where, Ranch: r.ranchFrom(sc, line), Site: r.siteFrom(sc, line), Season: orYear(season, r.opt.Season), Line: line, LengthFt: ft, WidthFt: width, Counts: counts})
}
