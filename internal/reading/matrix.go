package reading

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A matrix is a table in which each cell is a nest: lines down and nests across, or nests down and lines across. It is read
// as the list it stands for, a nest a row.
type matrix struct {
	from, to int  // the columns whose cells are nests
	lines    bool // the columns are lines, and the rows nests; else the other way round
	days     int  // rows below the headings that hold days of each line
}

var nestWord = regexp.MustCompile(`(?i)^(?:nests?|nidos?|stops?|n|#|no\.?)\s*#?\s*(\d{1,3})$`)

// nestNumber returns the number of a nest in a heading: 3, nest 3, #3; 0 where there is none.
func nestNumber(text string) int {
	if m := nestWord.FindStringSubmatch(text); m != nil {
		text = m[1]
	}
	n, ok := lexicon.Atoi(text)
	if !ok || n > 400 {
		return 0
	}
	return n
}

// nestHead returns the number of a nest in a heading and, where it stands there too, what the nest sits in: "3 BG", "nest 4
// (yucca)".
func (r *reader) nestHead(text string) (number int, cover string) {
	if n := nestNumber(text); n != 0 {
		return n, ""
	}
	m := nestAndCover.FindStringSubmatch(text)
	if m == nil {
		return 0, ""
	}
	if k := r.kindOf(m[2]); !k.isCover {
		return 0, ""
	}
	return nestNumber(m[1]), m[2]
}

var nestAndCover = regexp.MustCompile(`(?i)^((?:nests?|nidos?|n|#)?\s*#?\s*\d{1,3})\s*[-–:.,(/]?\s*(\pL[\pL .]*?)\)?$`)

// matrixAt tells whether a matrix begins with the headings in row i.
func (s *bandScan) matrixAt(i, end int) (matrix, bool) {
	head := &s.g.lines[i]
	if end-i < 2 || s.right-s.left < 3 {
		return matrix{}, false
	}
	for from := s.left + 1; from < s.right; from++ {
		to := from
		number := func(col int) int { n, _ := s.r.nestHead(head.at(col).text); return n }
		for to < s.right && number(to) != 0 && (to == from || number(to) == number(to-1)+1) {
			to++
		}
		if to-from >= 4 && s.linesDown(i, end) {
			return s.told(matrix{from: from, to: to}, i, end)
		}
		to = from
		for to < s.right && lineLabel(head.at(to).text) != "" {
			to++
		}
		if to-from >= 2 && s.nestsDown(i, end) {
			return s.told(matrix{from: from, to: to, lines: true}, i, end)
		}
		if from == s.left+1 {
			if m := s.linesWithDays(i, end); m.days > 0 {
				return s.told(m, i, end)
			}
		}
	}
	return matrix{}, false
}

// linesDown tells whether the first column below row i names lines, each once.
func (s *bandScan) linesDown(i, end int) bool {
	corner := s.r.kindOf(s.g.lines[i].at(s.left).text)
	across := corner.head.Role == lexicon.Nest // the corner names what stands across: "Stop | 1 | 2 | 3"
	seen := map[string]bool{}
	for k := i + 1; k < end; k++ {
		t := s.g.lines[k].at(s.left).text
		if t == "" || seen[t] || len(t) > 24 {
			return false
		}
		seen[t] = true
		kind := s.r.kindOf(t)
		if lineLabel(t) != "" {
			continue
		}
		if s.r.isLabel(kind) || kind.head.Role != lexicon.NoRole && kind.head.Sure >= 0.5 || kind.date.Form != lexicon.NoDate || kind.isCover || corner.head.Role != lexicon.Line && !isShortName(t) && !(across && !kind.isNum && kind.words <= 3 && kind.sight.Mark.State() == "") {
			return false
		}
	}
	return across || corner.head.Role == lexicon.Line && !strings.Contains(corner.head.Text, ":") || (corner.head.Role == lexicon.NoRole || corner.head.Date.Form != lexicon.NoDate) && !corner.isNum
}

// linesWithDays finds a matrix of nests below each other whose columns are lines, with the days of each line above them: "Line | 1 | 2",
// "Set | May 3 | May 4", "1st check | ...", "Nest 1 | ok | gone".
func (s *bandScan) linesWithDays(i, end int) (m matrix) {
	head := &s.g.lines[i]
	if k := s.r.kind(head.at(s.left)); k.head.Role != lexicon.Line {
		return m
	}
	m = matrix{from: s.left + 1, to: s.left + 1, lines: true}
	for m.to < s.right && head.at(m.to).text != "" && len(head.at(m.to).text) <= 24 {
		m.to++
	}
	k := i + 1
	for ; k < end; k++ {
		label := s.r.kind(s.g.lines[k].at(s.left)).head
		if label.Role != lexicon.SetOn && label.Role != lexicon.CheckOn && label.Role != lexicon.Check {
			break
		}
		for col := m.from; col < m.to; col++ {
			if c := s.g.lines[k].at(col); c.text != "" && s.r.dateOf(c, true).Form == lexicon.NoDate {
				return matrix{}
			}
		}
	}
	named := 0
	for n := k; n < end; n++ {
		t := s.g.lines[n].at(s.left).text
		if nestWord.MatchString(t) {
			named++
		} else if nestNumber(t) == 0 {
			return matrix{}
		}
	}
	if m.to-m.from < 2 || named < 2 {
		return matrix{}
	}
	m.days = k - i - 1
	return m
}

// isShortName tells whether a text can be the name of a line that nothing else says is one.
func isShortName(t string) bool { return len(t) <= 3 }

// nestsDown tells whether the first column below row i counts nests.
func (s *bandScan) nestsDown(i, end int) bool {
	last := 0
	for k := i + 1; k < end; k++ {
		n := nestNumber(s.g.lines[k].at(s.left).text)
		if n == 0 || last != 0 && n != last+1 {
			return false
		}
		last = n
	}
	return last > 0
}

// told tells whether most cells of a matrix could say what was found, or what a nest sits in.
func (s *bandScan) told(m matrix, i, end int) (matrix, bool) {
	good, n := 0, 0
	for k := i + 1 + m.days; k < end; k++ {
		for col := m.from; col < m.to; col++ {
			c := s.g.lines[k].at(col)
			if c.empty() {
				continue
			}
			n++
			kind := s.r.kind(c)
			_, _, two := s.r.twoSights(c.text)
			if c.text == "" || two || kind.isCover || kind.sight.Mark != lexicon.Unknown || len([]rune(c.text)) <= 2 {
				good++
			}
		}
	}
	return m, n >= 3 && good*10 >= n*6
}

// list writes a matrix as the list it stands for.
func (s *bandScan) list(m matrix, i, end int) *grid {
	var side []int // columns that say something of the whole row
	for col := s.left; col < s.right; col++ {
		if (col < m.from || col >= m.to) && s.g.lines[i].at(col).text != "" {
			side = append(side, col)
		}
	}
	painted, covers := s.paintedMatrix(m, i, end)
	t := &grid{Table: s.g.Table, index: s.g.index, turn: true}
	head := line{number: s.g.lines[i].number}
	for n, col := range side {
		c := *s.g.lines[i].at(col)
		if n == 0 && col == s.left {
			c.text = "Line"
			if m.lines {
				c.text = "Nest"
			}
		}
		head.cells = append(head.cells, c)
	}
	other := "Nest"
	if m.lines {
		other = "Line"
	}
	if len(side) == 0 || side[0] != s.left { // the corner is blank
		side = append([]int{s.left}, side...)
		first := cell{text: "Line", row: head.number, col: s.left}
		if m.lines {
			first.text = "Nest"
		}
		head.cells = append([]cell{first}, head.cells...)
	}
	head.cells = append(head.cells, cell{text: other, row: head.number, col: m.from})
	for k := i + 1; k <= i+m.days; k++ {
		head.cells = append(head.cells, *s.g.lines[k].at(s.left))
	}
	headCovers := 0
	for col := m.from; col < m.to; col++ {
		if _, cover := s.r.nestHead(s.g.lines[i].at(col).text); cover != "" {
			headCovers++
		}
	}
	if headCovers > 0 {
		head.cells = append(head.cells, cell{text: "Cover", row: head.number, col: m.from})
	}
	value := cell{text: "Found", row: head.number, col: m.from}
	if day := s.matrixDay(i); day != "" {
		value.text = day
	}
	if (covers || painted) && headCovers == 0 {
		value.text = "Cover"
	}
	head.cells = append(head.cells, value)
	if painted {
		head.cells = append(head.cells, cell{text: "Found", row: head.number, col: m.from})
	}
	t.lines = append(t.lines, head)
	for k := i + 1 + m.days; k < end; k++ {
		row := &s.g.lines[k]
		for col := m.from; col < m.to; col++ {
			c := *row.at(col)
			if c.empty() {
				continue
			}
			l := line{number: row.number, hidden: row.hidden}
			for _, from := range side {
				of := *row.at(from)
				of.row, of.col = row.number, from
				l.cells = append(l.cells, of)
			}
			name := s.g.lines[i].at(col).text
			if label := lineLabel(name); m.lines && (label != "" || m.days == 0) {
				name = label
			}
			cover := ""
			if n := nestWord.FindStringSubmatch(name); n != nil && !m.lines {
				name = n[1]
			} else if n, in := s.r.nestHead(name); in != "" && !m.lines {
				name, cover = strconv.Itoa(n), in
			}
			l.cells = append(l.cells, cell{text: name, raw: name, row: row.number, col: col})
			for k := i + 1; k <= i+m.days; k++ {
				l.cells = append(l.cells, *s.g.lines[k].at(col))
			}
			if headCovers > 0 {
				l.cells = append(l.cells, cell{text: cover, raw: cover, row: row.number, col: col})
			}
			if painted {
				word := c
				word.shown = nil
				l.cells = append(l.cells, word)
				c.text, c.raw = "", ""
			}
			l.cells = append(l.cells, c)
			t.lines = append(t.lines, l)
		}
	}
	t.width = len(head.cells)
	return t
}

// paintedMatrix tells whether the cells of a matrix say by their colors what was found, and whether their words name covers.
func (s *bandScan) paintedMatrix(m matrix, i, end int) (painted, covers bool) {
	fills := map[string]bool{}
	n, filled, cover := 0, 0, 0
	for k := i + 1 + m.days; k < end; k++ {
		for col := m.from; col < m.to; col++ {
			c := s.g.lines[k].at(col)
			if c.empty() {
				continue
			}
			n++
			if fill := c.look().Fill; fill != "" {
				filled++
				fills[fill] = true
			}
			if s.r.kind(c).isCover {
				cover++
			}
		}
	}
	return filled*10 >= n*8 && len(fills) >= 2, cover*10 >= n*8
}

// takeMatrix opens the block of a matrix.
func (s *bandScan) takeMatrix(m matrix, i, end int) {
	t := s.list(m, i, end)
	if s.anotherLook(t, i) {
		return
	}
	b := &block{g: t, left: 0, right: t.width, heads: []int{0}, top: s.scope}
	b.cols = s.r.headed(b)
	for k := 1; k < len(t.lines); k++ {
		b.records = append(b.records, record{k, s.scope})
	}
	s.open(b)
	if s.matrixDay(i) != "" {
		s.matrix = b
	}
}

// matrixDay is the heading of the look that a matrix tells of: the day in its corner, or the line above that names it; "" for none.
func (s *bandScan) matrixDay(i int) string {
	corner := s.g.lines[i].at(s.left).text
	if k := s.r.kindOf(corner); k.head.Date.Form != lexicon.NoDate && !k.isNum {
		return corner
	}
	if n := len(s.r.captions); n > 0 {
		c := s.r.captions[n-1]
		if c.g == s.g && c.row == i-1 && len(c.c.text) < 60 && len(s.r.factsIn(c.c, false).checks) == 1 && s.r.kindOf(c.c.text).head.Date.Form != lexicon.NoDate {
			return c.c.text
		}
	}
	return ""
}

// anotherLook adds a matrix of the same nests, on another day, to the one before as one more column.
func (s *bandScan) anotherLook(t *grid, i int) bool {
	if s.matrix == nil || s.matrixDay(i) == "" || s.matrix.g.Name != t.Name || len(t.lines) < 2 {
		return false
	}
	was := s.matrix.g
	last := was.width - 1
	name := func(l *line, width int) string { return l.at(width-3).text + "\x00" + l.at(width-2).text }
	if s.matrixNames == nil {
		s.matrixNames = map[string]int{}
		for k := 1; k < len(was.lines); k++ {
			s.matrixNames[name(&was.lines[k], was.width)] = k
		}
	}
	same := 0
	for k := 1; k < len(t.lines); k++ {
		if _, ok := s.matrixNames[name(&t.lines[k], t.width)]; ok {
			same++
		}
	}
	if t.width != 3 || same < len(t.lines)-1 {
		return false
	}
	was.width++
	was.lines[0].cells = append(was.lines[0].cells, t.lines[0].cells[t.width-1])
	for k := 1; k < len(t.lines); k++ {
		if at, ok := s.matrixNames[name(&t.lines[k], t.width)]; ok {
			l := &was.lines[at]
			for len(l.cells) <= last {
				l.cells = append(l.cells, cell{row: l.number})
			}
			l.cells = append(l.cells, *t.lines[k].at(t.width - 1))
		}
	}
	s.matrix.right = was.width
	s.matrix.cols = s.r.headed(s.matrix)
	return true
}

// eggsOf is a share of the eggs with a word beside it: "eaten (0/3)".
var eggsOf = regexp.MustCompile(`\pL.*\d/\d|\d/\d.*\pL`)

var twoParts = regexp.MustCompile(`\s*(?:/|→|->|;|,?\s+then\s+|\|)\s*`)

// twoSights cuts a cell that tells of two checks: "ok / eaten".
func (r *reader) twoSights(text string) (first, second string, ok bool) {
	parts := twoParts.Split(text, -1)
	if len(parts) != 2 || eggsOf.MatchString(text) || parts[0] == "" || hasDigits(parts[0]) && hasDigits(parts[1]) && len(text) <= 4 {
		return "", "", false
	}
	tells := func(t string) bool {
		k := r.kindOf(t)
		return t == "" || k.sight.Mark != lexicon.Unknown && k.sight.Mark != lexicon.SetOut && k.sight.Mark != lexicon.Blank || k.animal || r.stateCode(t)
	}
	return parts[0], parts[1], tells(parts[0]) && tells(parts[1])
}

// stateCode tells whether a key of the batch says what was found where a cell holds this code.
func (r *reader) stateCode(text string) bool {
	return slices.ContainsFunc(r.codes, func(g *codeGroup) bool {
		_, ok := g.codes[foldCode(text)]
		return ok && !g.covers
	})
}

// splitTwo cuts columns whose cells tell of two checks into two.
func (r *reader) splitTwo(b *block) {
	if b.tail || b.kind == keyTable {
		return
	}
	seen := map[string]bool{} // by text: it tells of two
	for at := b.left; at < b.right; at++ {
		n, two := 0, 0
		for _, rec := range b.records {
			t := b.g.lines[rec.row].at(at).text
			if t == "" || r.kindOf(t).ditto {
				continue
			}
			n++
			ok, known := seen[t]
			if !known {
				_, _, ok = r.twoSights(t)
				seen[t] = ok
			}
			if ok {
				two++
			}
		}
		if two < 3 || two*2 < n || r.inTwoTongues(b, at) {
			continue
		}
		r.cut(b, at)
		return
	}
}

// cut writes one column of two checks as two columns.
func (r *reader) cut(b *block, at int) {
	r.cutColumn(b, at, "Check 1", "Check 2", func(t string) (string, string) {
		if a, z, ok := r.twoSights(t); ok {
			return a, z
		}
		return t, ""
	})
}

// cutColumn writes one column as two under their own headings.
func (r *reader) cutColumn(b *block, at int, head, second string, cut func(string) (string, string)) {
	v := &grid{Table: b.g.Table, index: b.g.index, turn: b.g.turn}
	for i := range b.g.lines {
		old := &b.g.lines[i]
		l := line{number: old.number, hidden: old.hidden}
		for col := b.left; col < b.right; col++ {
			c := *old.at(col)
			if c.row == 0 {
				c.row, c.col = old.number, col
			}
			if col != at {
				l.cells = append(l.cells, c)
				continue
			}
			left, right := c, c
			switch at := slices.Index(b.heads, i); {
			case at < 0:
				left.text, right.text = cut(c.text)
			case at == len(b.heads)-1:
				left.text, right.text = head, second
			default:
				left.text, right.text = "", ""
			}
			left.raw, right.raw = left.text, right.text
			l.cells = append(l.cells, left, right)
		}
		v.width = max(v.width, len(l.cells))
		v.lines = append(v.lines, l)
	}
	b.g, b.left, b.right = v, 0, v.width
	b.cols = r.headed(b)
}

// matrixHere opens the matrix that begins at row i, if one does, and returns the row after it.
func (s *bandScan) matrixHere(i, to int) int {
	end := i + 1
	counts := func(row int) bool {
		if row >= to {
			return false
		}
		name := s.g.lines[row].at(s.left)
		return len(name.text) > 3 && !s.r.kind(name).isNum && countTalk.MatchString(name.text)
	}
	for end < to {
		name := s.g.lines[end].at(s.left)
		if strings.TrimSpace(name.text) == "" || s.r.kind(name).headsTotal() || s.sumsBelow(end) || counts(end) { // counts of clumps are no nests
			break
		}
		end++
	}
	m, ok := s.matrixAt(i, end)
	if !ok || !s.r.firing("matrix", s.at(i)) {
		return i
	}
	s.takeMatrix(m, i, end)
	s.cur = nil
	for end < to && s.sumsBelow(end) {
		s.r.setAsideRow(s.g, end, s.left, s.right, "total")
		end++
	}
	if m.lines && counts(end) {
		end += s.countsUnder(m, i, end, to)
	}
	return end
}

// countsUnder takes the clumps of each line below its nests, from row k on: "Clumps (300 x 12 ft) | 34 | 18". It returns how many rows
// there are.
func (s *bandScan) countsUnder(m matrix, head, k, to int) int {
	list := &countList{g: s.g}
	for col := m.from; col < m.to; col++ {
		h := s.g.lines[head].at(col)
		name := h.text
		if label := lineLabel(name); label != "" {
			name = label
		}
		list.rows = append(list.rows, countRow{line: name, at: h, counts: map[survey.Substrate]int{}})
	}
	var used []*cell
	var size facts
	n := 0
	for ; k+n < to; n++ {
		l := &s.g.lines[k+n]
		label := l.at(s.left)
		if !countTalk.MatchString(label.text) {
			break
		}
		cover := s.onlyCover(label.text)
		size = merged(size, s.sizesIn(label))
		used = append(used, label)
		for col := m.from; col < m.to; col++ {
			c := l.at(col)
			if c.text == "" {
				continue
			}
			v, whole := lexicon.Atoi(c.text)
			if !whole {
				return 0
			}
			list.rows[col-m.from].counts[cover] += v
			used = append(used, c)
		}
	}
	list.rows = slices.DeleteFunc(list.rows, func(row countRow) bool { return len(row.counts) == 0 })
	list.scope = s.scope.child(size)
	s.takeCounts(list, k, used)
	return n
}

// sumsBelow tells whether a row below words holds a word and numbers alone: "left | 7 | 8".
func (s *bandScan) sumsBelow(i int) bool {
	numbers, words := 0, 0
	for col := s.left + 1; col < s.right; col++ {
		if c := s.g.lines[i].at(col); c.text != "" {
			if !s.r.kind(c).isNum {
				return false
			}
			numbers++
		}
		if c := s.g.lines[i-1].at(col); c.text != "" && !s.r.kind(c).isNum {
			words++
		}
	}
	if numbers < 2 || words < 2 {
		return false
	}
	name := s.g.lines[i].at(s.left).text
	return !hasDigits(name) && (wholeWords.MatchString(name) || goneWords.MatchString(name) || isTotal(name))
}
