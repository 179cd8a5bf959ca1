package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// A block is one table as a person sees it: headings and records, on their side where the sheet is on its side.
type block struct {
	g           *grid
	left, right int
	heads       []int // the rows of headings in the grid, in order
	records     []record
	cols        []column
	kind        tableKind
	visits      []visit
	rivals      []rival
	mixed       bool // its rows are of several ranches
	elsewhere   bool // another table sets its nests out
	waits       bool // its nests wait for an answer about a column
	top         *scope
	tail        bool // the rest of a long table belongs to it
	number      int  // of the block within its tab, from 1
	name        string
	list        bool // of belts below a sentence about them
}

// A record is one row of a block, and what the lines above it say.
type record struct {
	row   int // in the grid
	scope *scope
}

// A caption is a cell with text that belongs to no table: a title, a line's head, a key, a remark below.
type caption struct {
	g     *grid
	c     *cell
	right *cell // its neighbor at the right, where there is one and nothing else
	row   int   // in the grid
	scope *scope
	used  string // what it became; "" for nothing yet
}

// split finds the blocks and captions of a grid.
func (r *reader) split(g *grid, tab *scope) {
	r.takeListed(g, tab)
	if r.cards(g, tab) {
		return
	}
	g = r.splitKinds(g, tab)
	bands := r.bands(g)
	for _, b := range bands {
		r.band(g, b[0], b[1], tab, b[0] == bands[0][0])
	}
}

// bands cuts a grid at blank columns where what stands at the right is a table of its own.
func (r *reader) bands(g *grid) [][2]int {
	filled := make([]bool, g.width+1)
	for i := range g.lines {
		for col := range g.lines[i].cells {
			if c := &g.lines[i].cells[col]; !c.empty() && !c.span {
				filled[col] = true
			}
		}
	}
	var out [][2]int
	left := 0
	for left < g.width {
		if !filled[left] {
			left++
			continue
		}
		right := left
		for right < g.width {
			for right < g.width && filled[right] {
				right++
			}
			gap := right
			for gap < g.width && !filled[gap] {
				gap++
			}
			if gap >= g.width || r.standsAlone(g, left, right, gap) {
				break
			}
			right = gap
		}
		out = append(out, r.repeatedBands(g, left, right)...)
		left = right
	}
	if len(out) == 0 {
		out = append(out, [2]int{0, g.width})
	}
	return out
}

// repeatedBands cuts columns whose headings begin again into tables side by side: "Nest | Cover | May 18 | Nest | Cover | May 18".
func (r *reader) repeatedBands(g *grid, left, right int) [][2]int {
	whole := [][2]int{{left, right}}
	if g.held > 0 {
		return whole
	}
	for i := 0; i < min(len(g.lines), 12); i++ {
		l := &g.lines[i]
		first := l.at(left)
		if k := r.kind(first); first.text == "" || k.head.Role != lexicon.Nest && k.head.Role != lexicon.Line {
			continue
		}
		for width := 3; left+2*width <= right; width++ {
			if (right-left)%width != 0 || !strings.EqualFold(l.at(left+width).text, first.text) {
				continue
			}
			same := true
			for col := left; col+width < right && same; col++ {
				a, b := l.at(col), l.at(col+width)
				same = strings.EqualFold(a.text, b.text) || r.dateOf(a, false).Form != lexicon.NoDate && r.dateOf(b, false).Form != lexicon.NoDate
			}
			if !same || r.headScore(l, left, left+width) < 1.2 {
				continue
			}
			var out [][2]int
			for col := left; col < right; col += width {
				out = append(out, [2]int{col, col + width})
			}
			return out
		}
	}
	return whole
}

// standsAlone tells whether what begins at column next is a table, a key or a note of its own, and no part of the table
// between left and right.
func (r *reader) standsAlone(g *grid, left, right, next int) bool {
	end := next
	for end < g.width {
		any := false
		for i := range g.lines {
			any = any || !g.lines[i].at(end).empty()
		}
		if !any {
			break
		}
		end++
	}
	if r.keysOnly(g, next, end) {
		return true
	}
	headOf := func(left, right int) (head int, best float64) {
		head = -1
		for i := 0; i < min(len(g.lines), 40); i++ {
			if s := r.headScore(&g.lines[i], left, right); s > best {
				head, best = i, s
			}
		}
		return head, best
	}
	head, best := headOf(left, right)
	if head < 0 || best < 1.2 {
		return true
	}
	if other, score := headOf(next, end); other >= 0 && other != head && score >= 1.5 && g.lines[head].filled(next, end) <= 1 {
		return true
	}
	// Headings of the same row that name no line and no nest again are more columns of the same table.
	own, named, rows := 0, false, 0
	for col := next; col < end; col++ {
		c := g.lines[head].at(col)
		if c.text == "" {
			continue
		}
		k := r.kind(c)
		if k.head.Role != lexicon.NoRole {
			own++
		}
		named = named || k.head.Role == lexicon.Nest || k.head.Role == lexicon.Line || head+1 < len(g.lines) && lineHead(g.lines[head+1].at(col).text)
	}
	for i := head + 1; i < len(g.lines); i++ {
		if !g.lines[i].blank(next, end) && !g.lines[i].blank(left, right) {
			rows++
		}
	}
	return own == 0 || named || rows == 0
}

// keysOnly tells whether the cells of one column, or of two, hold codes and what they mean and nothing else, each code once.
func (r *reader) keysOnly(g *grid, left, right int) bool {
	if right-left > 2 || g.held > 0 {
		return false
	}
	seen := map[string]bool{}
	n := 0
	for i := range g.lines {
		c, second := g.lines[i].at(left), g.lines[i].at(left+1)
		if c.text == "" {
			continue
		}
		n++
		code, rest, _ := strings.Cut(c.text, " ")
		if right-left == 2 && second.text != "" {
			code, rest = c.text, second.text
		}
		code = strings.TrimRight(code, "=:-–—")
		if _, _, ok := r.understood(rest); ok && len([]rune(code)) <= 4 && !hasDigits(code) && !seen[foldCode(code)] {
			seen[foldCode(code)] = true
		}
	}
	return len(seen) >= 3 && len(seen)*4 >= n*3
}

// headScore says how much a row looks like headings: about how many of its cells head a column.
func (r *reader) headScore(l *line, left, right int) float64 {
	var cells []string
	for col := left; col < min(right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.down && !c.span {
			cells = append(cells, c.text)
		}
	}
	return r.headScoreOf(cells)
}

func (r *reader) headScoreOf(cells []string) float64 {
	score, filled, data := 0.0, 0, 0
	dates, roles, labels := 0, 0, 0
	for _, text := range cells {
		filled++
		k := r.kindOf(text)
		h := &k.head
		if r.isLabel(k) {
			labels++
		}
		switch {
		case isKeyHead(text):
		case len(text) > 60:
			score -= 0.5
			data++
		case k.isID && h.Sure < 0.9: // A1, C2
			score -= 0.7
			data++
		case h.Role != lexicon.NoRole && h.Date.Form != lexicon.NoDate && (k.date.Form == lexicon.SlashDate || k.date.Form == lexicon.FullDate || k.date.Form == lexicon.TextDate):
			dates++
		case h.Role == lexicon.Count && h.Sure < 1 || h.Role != lexicon.NoRole && (k.isCover && !k.cover.Weak || k.sight.Mark != lexicon.Unknown && !k.sight.Weak && k.sight.Mark != lexicon.SetOut):
			score += 0.4
		case h.Role != lexicon.NoRole:
			score += h.Sure
			roles++
		case len(text) == 1 && k.sight.Weak && isLetters(text): // S may be a code
		case k.isNum || k.date.Form != lexicon.NoDate || k.isCover || k.isID || k.ditto || k.sight.Mark != lexicon.Unknown && k.sight.Mark != lexicon.SetOut:
			score -= 0.7
			data++
		case k.words > 4:
			score -= 0.4
		}
	}
	if dates > 0 && (roles >= 1 && score >= 0.9 || roles >= 2) {
		score += 0.9 * float64(dates)
	} else {
		score -= 0.7 * float64(dates)
		data += dates
	}
	if labels == 0 || labels < 2 && filled >= 5 {
		return 0
	}
	if filled == 0 || score/float64(filled) < 0.34 || data*3 > filled && roles < 3 {
		return 0
	}
	return score
}

// isLabel tells whether a text heads a column and could not be a day, a number, a name, a cover or a state itself.
func (r *reader) isLabel(k *kind) bool {
	if lexicon.IsNumberSign(k.head.Text) {
		return true
	}
	if k.head.Role == lexicon.NoRole || k.isNum || k.isID && k.head.Sure < 1 || k.date.Form != lexicon.NoDate || k.isCover && k.head.Sure < 1 {
		return false
	}
	return k.sight.Mark == lexicon.Unknown || k.sight.Mark == lexicon.SetOut || k.sight.Mark == lexicon.Skipped && k.head.Sure >= 0.9 || k.head.Sure == 1
}

// isPairs tells whether a row of a form holds labels and their values by turns: "Ranch: | Dry Fork | | Pasture: | North".
func (r *reader) isPairs(l *line, left, right int) bool {
	labels, values, last := 0, 0, false
	for col := left; col < min(right, len(l.cells)); col++ {
		c := &l.cells[col]
		if c.text == "" || c.span {
			continue
		}
		label := strings.HasSuffix(c.text, ":") && r.kindOf(strings.TrimRight(c.text, ": ")).head.Role != lexicon.NoRole
		switch {
		case label:
			labels++
		case last:
			values++
		default:
			return false // neither a label nor behind one
		}
		last = label
	}
	return labels >= 1 && labels+values >= 2 && values >= labels-1
}

// isHead tells whether a row heads a table.
func (r *reader) isHead(l *line, left, right int) bool {
	if r.isPairs(l, left, right) {
		return false
	}
	n := l.filled(left, right)
	s := r.headScore(l, left, right)
	return n >= 2 && s >= 1.2 && (s >= 1.5 || s/float64(n) >= 0.6)
}

// band goes down one band of columns and finds its blocks and captions.
func (r *reader) band(g *grid, left, right int, tab *scope, first bool) {
	s := &bandScan{r: r, g: g, left: left, right: right, tab: tab, scope: tab, first: first}
	for from := 0; from < len(g.lines); {
		if next := s.stripsHere(from); next > from {
			from = next
			continue
		}
		for from < len(g.lines) && g.lines[from].blank(left, right) {
			from++
		}
		to := from
		for to < len(g.lines) && !g.lines[to].blank(left, right) && (to == from || g.lines[to].number == g.lines[to-1].number+1) {
			to++
		}
		if from < to {
			s.run(from, to)
		}
		from = to
	}
	if s.cur != nil && g.held > 0 {
		s.cur.tail = true
	}
}

// A bandScan is how far the reading of a band has come.
type bandScan struct {
	headAt      int // the row of the last head of a line
	r           *reader
	g           *grid
	left, right int
	tab, scope  *scope
	first       bool // the leftmost band, whose first lines are the tab's title
	cur         *block
	begun       bool           // a table has been met
	matrix      *block         // the last table in which each cell is a nest, on a day
	matrixNames map[string]int // the rows of its nests
	ranchHeads  bool           // tables are headed by the ranches they are of
	texts       []*cell        // of a row being looked at; used again
}

// run reads rows without a blank one between them.
func (s *bandScan) run(from, to int) {
	r := s.r
	i := from
	for n := s.formHead(i, to); n > 0; n-- {
		s.caption(i)
		i++
	}
	for i < to && s.isCaption(i, to) && !s.turnsHere(i, to) {
		n := s.countList(i, to)
		if n == 0 {
			n = s.countRows(i, to)
		}
		if n > 0 {
			i += n
			continue
		}
		s.caption(i)
		i += 1 + s.countsBelow(i, to)
	}
	if i < to {
		if n := s.linesAcross(i, to); n > 0 {
			s.turn(i, i+n, 1)
			s.cur = nil
			i += n
		}
	}
	if i < to {
		i = s.matrixHere(i, to)
	}
	if i < to {
		end := i
		for end < to && (end == i || !s.isCaption(end, to) || s.labelRow(end)) {
			end++
		}
		heads := s.sideways(i, end)
		if heads == 0 && s.sizesBelow(i, end) {
			heads = 1
		}
		if heads > 0 {
			s.turn(i, end, heads)
			i = end
			s.cur = nil
		}
	}
	for i < to {
		n := s.countList(i, to)
		if n == 0 {
			n = s.countRows(i, to)
		}
		if n > 0 {
			i += n
			continue
		}
		switch n := s.heads(i, to); {
		case n > 0:
			if s.again(i, n) {
				for k := range n {
					r.setAsideRow(s.g, i+k, s.left, s.right, "heading-again")
				}
			} else {
				s.begin(i, n)
			}
			i += n
			continue
		case s.isCaption(i, to):
			s.caption(i)
			i += s.countsBelow(i, to)
		case s.cur != nil && (s.fits(i)):
			s.cur.records = append(s.cur.records, record{i, s.scope})
		case s.titleAbove(i), s.remarkRow(i, to):
			s.caption(i)
		case s.g.lines[i].filled(s.left, s.right) >= 2 || s.painted(i):
			s.beginBare(i)
		default:
			s.caption(i)
		}
		i++
	}
}

// turnsHere tells whether a row that could be a caption is the first of a table on its side: "Line | 1" above its nests.
func (s *bandScan) turnsHere(i, to int) bool {
	return s.labelRow(i) && s.sideways(i, to) > 0 || s.linesAcross(i, to) > 0
}

// labelRow tells whether a row begins with what could head a row of a table on its side.
func (s *bandScan) labelRow(i int) bool {
	l := &s.g.lines[i]
	first := l.at(s.left)
	return first.text != "" && !strings.HasSuffix(first.text, ":") && !lineHead(first.text) && s.r.isLabel(s.r.kind(first)) && l.filled(s.left, s.right) >= 2
}

// sizesBelow tells whether rows hold the sizes and counts of one belt, a label and its number each.
func (s *bandScan) sizesBelow(i, end int) bool {
	sizes, counts := 0, 0
	for k := i; k < end; k++ {
		l := &s.g.lines[k]
		value := s.secondCell(l, s.left)
		if l.filled(s.left, s.right) != 2 || !hasDigits(value.text) {
			return false
		}
		switch s.r.kind(l.at(s.left)).head.Role {
		case lexicon.Length, lexicon.Width, lexicon.Steps, lexicon.StepLength, lexicon.BeltArea, lexicon.Area:
			sizes++
		case lexicon.Count, lexicon.Clumps:
			counts++
		case lexicon.Line, lexicon.Season, lexicon.Site, lexicon.Belt:
		default:
			return false
		}
	}
	return sizes >= 1 && counts >= 1
}

// pairRow tells whether a row holds a label and its value, among others of the kind: "Eggs set | April 25" above "Check A |
// May 9".
func (s *bandScan) pairRow(i int) bool {
	pair := func(i int) bool {
		if i < 0 || i >= len(s.g.lines) || s.g.lines[i].filled(s.left, s.right) != 2 {
			return false
		}
		l := &s.g.lines[i]
		first, second := l.at(s.left), s.secondCell(l, s.left)
		if first.text == "" || first.span || second.text == "" {
			return false
		}
		k, v := s.r.kindOf(strings.TrimRight(first.text, ": ")), s.r.kind(second)
		return s.r.isLabel(k) && (v.isNum || v.date.Form != lexicon.NoDate || second.look().Date != 0 || v.head.Role == lexicon.NoRole)
	}
	dated := func(i int) bool {
		l := &s.g.lines[i]
		return s.r.dateOf(s.secondCell(l, s.left), false).Form != lexicon.NoDate
	}
	if !pair(i) {
		return false
	}
	return pair(i+1) && (dated(i) || dated(i+1)) || pair(i-1) && (dated(i) || dated(i-1))
}

// titleAbove tells whether a row of a few words stands above the headings of the first table: "Mill Ranch | nest days | 2023".
func (s *bandScan) titleAbove(i int) bool {
	if s.cur != nil || s.begun || s.dataLike(i) {
		return false
	}
	end := len(s.g.lines)
	for k := i + 1; k < min(end, i+6); k++ {
		if s.heads(k, end) > 0 {
			return s.g.lines[i].filled(s.left, s.right)*2 <= s.g.lines[k].filled(s.left, s.right) || s.namesYear(i)
		}
	}
	return false
}

// remarkRow tells whether a row stands in a few rows apart from any table that hold nothing but words: titles and keys cut into
// cells.
func (s *bandScan) remarkRow(i, to int) bool {
	if s.cur != nil && len(s.cur.records) > 0 {
		return false
	}
	from := i
	for !s.apart(from) {
		from--
	}
	if to-from > 5 {
		return false
	}
	for k := from; k < to; k++ {
		l := &s.g.lines[k]
		for col := s.left; col < min(s.right, len(l.cells)); col++ {
			if c := &l.cells[col]; c.text != "" && !c.span && s.valueKind(c) != wordValue && !strings.Contains(c.text, "=") {
				return false
			}
		}
	}
	return true
}

// apart tells whether nothing stands in the row above.
func (s *bandScan) apart(i int) bool {
	return i == 0 || s.g.lines[i-1].blank(s.left, s.right) || s.g.lines[i-1].number != s.g.lines[i].number-1
}

// namesYear tells whether a row holds a year and otherwise words that head nothing.
func (s *bandScan) namesYear(i int) bool {
	l := &s.g.lines[i]
	years := 0
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		switch c := &l.cells[col]; {
		case c.text == "" || c.span:
		case isYear(c.text):
			years++
		case s.r.kind(c).head.Sure >= 0.9 || s.r.kind(c).isNum:
			return false
		}
	}
	return years == 1
}

func (s *bandScan) painted(i int) bool {
	n := 0
	for col := s.left; col < s.right; col++ {
		if s.g.lines[i].at(col).look().Fill != "" {
			n++
		}
	}
	return n >= 3
}

// fits tells whether a row can be a record of the block being read.
func (s *bandScan) fits(i int) bool {
	l := &s.g.lines[i]
	if len(s.cur.heads) == 0 {
		return true
	}
	n := l.filled(s.left, s.right)
	if n == 1 {
		return true
	}
	if s.dayForNest(i) {
		return false
	}
	// A row that begins where the headings do not reach is none of theirs.
	headed := 0
	for col := s.left; col < s.right; col++ {
		if l.at(col).text == "" {
			continue
		}
		for _, h := range s.cur.heads {
			if s.g.lines[h].at(col).text != "" {
				headed++
				break
			}
		}
	}
	return headed > 0
}

// dayForNest tells whether a row holds a day where nests are headed, and the row before it none: a list of the days of lines below
// their nests.
func (s *bandScan) dayForNest(i int) bool {
	if len(s.cur.records) == 0 || s.cur.g != s.g {
		return false
	}
	last := &s.g.lines[s.cur.records[len(s.cur.records)-1].row]
	h := &s.g.lines[s.cur.heads[len(s.cur.heads)-1]]
	for col := s.left; col < s.right; col++ {
		if k := s.r.kind(h.at(col)); k.head.Role == lexicon.Nest && k.head.Sure >= 0.6 {
			return s.isDay(s.g.lines[i].at(col)) && last.at(col).text != "" && !s.isDay(last.at(col))
		}
	}
	return false
}

// heads tells how many rows of headings begin at row i: 0, 1 or 2.
func (s *bandScan) heads(i, to int) int {
	n := s.headsByRules(i, to)
	if !s.r.opt.Weigh || s.g.lines[i].filled(s.left, s.right) < 2 {
		return n
	}
	var others []int
	for _, k := range []int{0, 1, 2} {
		if k == 2 && (i+1 >= to || s.g.lines[i+1].filled(s.left, s.right) < 2 || s.stamped(i) || s.stamped(i+1)) {
			continue
		}
		if k != n && i+k < to && (k > 0 || !s.r.isHead(&s.g.lines[i], s.left, s.right)) && (n > 0 || s.r.headScore(&s.g.lines[i], s.left, s.right) > 0) {
			others = append(others, k)
		}
	}
	if len(others) == 0 {
		return n
	}
	return s.r.choose("heads", s.at(i), n, others...)
}

// stamped tells whether a row holds a day with a time of day, as rows of forms do and headings do not.
func (s *bandScan) stamped(i int) bool {
	for col := s.left; col < min(s.right, len(s.g.lines[i].cells)); col++ {
		if c := &s.g.lines[i].cells[col]; strings.Contains(c.text, ":") && s.r.kind(c).date.Form != lexicon.NoDate {
			return true
		}
	}
	return false
}

// unitsBelow tells whether the row below headings says more of some of them, such as a unit or a word, and holds nothing of a nest.
func (s *bandScan) unitsBelow(i, to int) bool {
	if i+2 >= to {
		return false
	}
	top, l, next := &s.g.lines[i], &s.g.lines[i+1], &s.g.lines[i+2]
	n := l.filled(s.left, s.right)
	if n == 0 || n*10 > top.filled(s.left, s.right)*7 || next.filled(s.left, s.right) <= n {
		return false
	}
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		c := &l.cells[col]
		if c.text == "" || c.span {
			continue
		}
		k := s.r.kind(c)
		if lexicon.IsNumberSign(c.text) && top.at(col).text != "" {
			continue
		}
		if top.at(col).text == "" || lineHead(c.text) || n == 1 && (k.words > 1 || k.head.Role == lexicon.NoRole) || len([]rune(c.text)) > 14 || hasDigits(c.text) || k.ditto || k.isCover || k.isID || k.animal || k.date.Form != lexicon.NoDate || k.sight.Mark != lexicon.Unknown {
			return false
		}
	}
	return true
}

func (s *bandScan) headsByRules(i, to int) int {
	r, g := s.r, s.g
	if s.pairRow(i) {
		return 0
	}
	if s.recordLike(i, to) {
		return 0
	}
	if s.daysUnderHeads(i, to) {
		return 2
	}
	one := r.isHead(&g.lines[i], s.left, s.right)
	if one && (s.headsReachDown(i, to) || s.unitsBelow(i, to)) {
		return 2
	}
	if i+1 < to {
		stacked := s.stacked(i, i+1)
		two := r.headScoreOf(nonBlank(stacked))
		top, bottom := r.headScore(&g.lines[i], s.left, s.right), r.headScore(&g.lines[i+1], s.left, s.right)
		dataBelow := s.dataLike(i + 1)
		if s.daysOver(i) && r.isHead(&g.lines[i+1], s.left, s.right) && !dataBelow && two >= bottom {
			return 2
		}
		if two >= 1.5 && two > top+0.5 && two > bottom+0.5 && !dataBelow && !s.dataLike(i) && g.lines[i].filled(s.left, s.right) >= 2 {
			return 2
		}
		if two >= 1.5 && one && r.isHead(&g.lines[i+1], s.left, s.right) && !dataBelow && gaps(&g.lines[i], &g.lines[i+1], s.left, s.right) {
			return 2
		}
	}
	if one || s.countsHead(i, to) || s.contrastHead(i, to) || s.mostlyAgain(i) {
		return 1
	}
	return 0
}

// daysUnderHeads tells whether row i heads visits and the row below holds their days beside the headings of the other columns:
// " | | set | 1st look" above "Line | Nest | May 6 | May 20".
func (s *bandScan) daysUnderHeads(i, to int) bool {
	if i+2 >= to {
		return false
	}
	top, below := &s.g.lines[i], &s.g.lines[i+1]
	days, heads := 0, 0
	for col := s.left; col < s.right; col++ {
		t, b := top.at(col), below.at(col)
		k := s.r.kind(b)
		date := b.text != "" && (k.date.Form != lexicon.NoDate && !k.isNum || b.look().Date != 0)
		switch {
		case t.text == "" && b.text == "":
		case t.text != "" && date:
			if h := s.r.kind(t).head; h.Role != lexicon.SetOn && !h.Set && h.Role != lexicon.Check && h.Role != lexicon.CheckOn && h.Visit == 0 && h.Role != lexicon.SecondLook {
				return false
			}
			days++
		case b.text != "" && !date && !k.isNum && k.head.Role != lexicon.NoRole && t.text == "":
			heads++
		case t.text != "" && b.text == "", t.text == "" && !date && !k.isNum:
		default:
			return false
		}
	}
	return days >= 2 && heads >= 1
}

// mostlyAgain tells whether a row repeats most of the words of the headings of the table being read, in their columns: the rest is
// headed otherwise from here on.
func (s *bandScan) mostlyAgain(i int) bool {
	if s.cur == nil || len(s.cur.heads) != 1 || s.cur.g != s.g {
		return false
	}
	was, is := &s.g.lines[s.cur.heads[0]], &s.g.lines[i]
	same, n := 0, 0
	for col := s.left; col < s.right; col++ {
		t := is.at(col).text
		if t == "" {
			continue
		}
		n++
		if strings.EqualFold(t, was.at(col).text) && hasLetters(t) {
			same++
		}
	}
	return same >= 2 && same*2 >= n
}

// daysOver tells whether a row holds nothing but days, each over a blank at its right: the days of looks over the headings of what each
// found.
func (s *bandScan) daysOver(i int) bool {
	l := &s.g.lines[i]
	n := 0
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		c := &l.cells[col]
		if c.text == "" || c.span {
			continue
		}
		if col == s.left || s.r.kind(c).isNum || c.look().Date == 0 && s.r.kind(c).head.Date.Form == lexicon.NoDate && s.r.dateOf(c, false).Form == lexicon.NoDate {
			return false
		}
		n++
	}
	return n >= 1
}

// contrastHead tells whether a row of words stands above rows of days and numbers in most of the same columns, so that it heads
// them in whatever language.
func (s *bandScan) contrastHead(i, to int) bool {
	head := &s.g.lines[i]
	n := head.filled(s.left, s.right)
	if n < 4 || to-i < 4 || s.cur != nil && len(s.cur.records) > 0 && (len(s.cur.heads) > 0 || s.cur.records[len(s.cur.records)-1].row == i-1 && !s.apart(i)) {
		return false
	}
	typed, open := 0, 0
	seen := map[string]bool{}
	for col := s.left; col < s.right; col++ {
		c := head.at(col)
		if c.text != "" && (s.valueKind(c) != wordValue && !s.r.isLabel(s.r.kind(c)) || len(c.text) > 60 || strings.ContainsAny(c.text, "=")) {
			return false
		}
		below, data, same := 0, 0, 0
		for k := i + 1; k < min(to, i+9); k++ {
			v := s.g.lines[k].at(col)
			if v.text == "" {
				continue
			}
			below++
			if v.text == c.text {
				same++
			}
			if kind := s.valueKind(v); kind == dayValue || kind == numberValue {
				data++
			}
		}
		switch {
		case same > 0:
			return false
		case c.text == "" && below > 1:
			open++
		case c.text != "" && below > 1 && data == below:
			typed++
		}
		seen[c.text] = true
	}
	return typed >= 3 && open <= 1
}

// recordLike tells whether a row holds the same kinds of values as the one below it or, within a table, the one above it, so
// that it is a record whatever words it holds.
func (s *bandScan) recordLike(i, to int) bool {
	if i+1 < to && s.sameKinds(i, i+1) {
		return true
	}
	if s.cur == nil || len(s.cur.records) == 0 {
		return false
	}
	last := s.cur.records[len(s.cur.records)-1].row
	return last == i-1 && s.sameKinds(last, i)
}

// sameKinds tells whether two rows hold values of the same kinds, two of them at least days, numbers, names, covers or states.
func (s *bandScan) sameKinds(i, j int) bool {
	same, both, data := 0, 0, 0
	for col := s.left; col < s.right; col++ {
		a, b := s.g.lines[i].at(col), s.g.lines[j].at(col)
		if a.text == "" || b.text == "" || a.span || b.span {
			continue
		}
		both++
		x, y := s.valueKind(a), s.valueKind(b)
		if x == y && x != wordValue {
			same++
			data++
		} else if a.text == b.text {
			same++
		}
	}
	return data >= 2 && same*10 >= both*7 && both*2 > s.g.lines[i].filled(s.left, s.right)
}

func (s *bandScan) valueKind(c *cell) valueKind {
	if c.shown != nil && c.shown.Date != 0 {
		return dayValue
	}
	return s.r.kind(c).value
}

// gaps tells whether a second row fills what a first one leaves open.
func gaps(top, bottom *line, left, right int) bool {
	n := 0
	for col := left; col < right; col++ {
		t, b := top.at(col), bottom.at(col)
		if b.text != "" && !b.down && (t.text == "" || t.span) {
			n++
		}
	}
	return n > 0
}

func nonBlank(list []string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(s string) bool { return s == "" })
}

// dataLike tells whether a row holds days, numbers or states, as records do.
func (s *bandScan) dataLike(i int) bool {
	l := &s.g.lines[i]
	data, labels, n := 0, 0, 0
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		c := &l.cells[col]
		if c.text == "" || c.span || c.down {
			continue
		}
		n++
		k := s.r.kind(c)
		if k.head.Sure == 1 && k.head.Role != lexicon.SetOn && standsFree(k.head.Role) && !k.isCover {
			labels++
		}
		told := k.sight.Mark != lexicon.Unknown && k.sight.Mark != lexicon.SetOut && k.head.Sure < 1
		if k.isNum || k.date.Form != lexicon.NoDate || c.look().Date != 0 || k.isID || k.isCover && !k.cover.Weak || told {
			data++
		}
	}
	return data*2 > n && labels < 2
}

// stacked joins two rows of headings: what stands above a blank reaches over to it.
func (s *bandScan) stacked(i, j int) []string {
	top, bottom := &s.g.lines[i], &s.g.lines[j]
	out := make([]string, s.right-s.left)
	above := ""
	for col := s.left; col < s.right; col++ {
		t, b := top.at(col), bottom.at(col)
		a, z := t.text, b.text
		if b.down {
			z = ""
		}
		if a != "" && !t.span {
			above = a
		}
		joined := strings.TrimSpace(a + " " + z)
		reach := strings.TrimSpace(above + " " + z)
		switch {
		case z == "":
			out[col-s.left] = a
			if t.span {
				out[col-s.left] = ""
			}
		case a == "" && above != "" && s.r.kindOf(reach).head.Role != lexicon.NoRole && !standsFree(s.r.kindOf(z).head.Role):
			out[col-s.left] = reach
		case a != "" && s.r.kindOf(joined).head.Role != lexicon.NoRole:
			out[col-s.left] = joined
		case a != "" && s.r.kindOf(a).head.Role != lexicon.NoRole && s.r.kindOf(z).head.Sure < s.r.kindOf(a).head.Sure: // a unit below its heading
			out[col-s.left] = a
		default:
			out[col-s.left] = z
		}
	}
	return out
}

// standsFree tells whether a heading belongs to no visit, so that nothing above reaches over to it.
func standsFree(role lexicon.Role) bool {
	switch role {
	case lexicon.Nest, lexicon.Line, lexicon.Notes, lexicon.Site, lexicon.Ranch, lexicon.Substrate, lexicon.Plant, lexicon.Season, lexicon.Trace, lexicon.Guess, lexicon.Count, lexicon.Length, lexicon.Width, lexicon.SetOn:
		return true
	}
	return false
}

// again tells whether rows of headings repeat those of the block being read.
func (s *bandScan) again(i, n int) bool {
	if s.cur == nil || len(s.cur.heads) != n {
		return false
	}
	for k := range n {
		was, is := &s.g.lines[s.cur.heads[k]], &s.g.lines[i+k]
		for col := s.left; col < s.right; col++ {
			if !strings.EqualFold(was.at(col).text, is.at(col).text) {
				return false
			}
		}
	}
	return true
}

// begin opens a block under its headings.
func (s *bandScan) begin(i, n int) {
	s.emptyHeads()
	b := &block{g: s.g, left: s.left, right: s.right, top: s.scope}
	for k := range n {
		b.heads = append(b.heads, i+k)
	}
	b.cols = s.r.headed(b)
	for k := range b.cols { // a heading may be the head of the line: "Line 3, North pasture"
		if h := &b.cols[k].head; lineHead(h.Text) && len(h.Text) > 6 {
			s.scope = s.scope.child(s.r.factsIn(s.g.lines[i].at(b.cols[k].at), false))
			b.top = s.scope
			h.Role, h.Also = lexicon.NoRole, nil
		}
	}
	s.open(b)
}

// emptyHeads takes headings with nothing below them, above other headings, for the title that they are: "Dry Fork Ranch | nest
// lines | 2022".
func (s *bandScan) emptyHeads() {
	b := s.cur
	if b == nil || len(b.heads) == 0 || len(b.records) > 0 || b.g != s.g || len(s.r.blocks) == 0 || s.r.blocks[len(s.r.blocks)-1] != b {
		return
	}
	s.r.blocks = s.r.blocks[:len(s.r.blocks)-1]
	s.cur, s.begun = nil, len(s.r.blocks) > 0 && s.begun
	for _, h := range b.heads {
		s.caption(h)
	}
}

// beginBare opens a block without headings.
func (s *bandScan) beginBare(i int) {
	b := &block{g: s.g, left: s.left, right: s.right, top: s.scope}
	b.cols = s.r.headed(b)
	b.records = append(b.records, record{i, s.scope})
	s.open(b)
}

func (s *bandScan) open(b *block) {
	s.begun = true
	s.cur = b
	s.r.addBlock(b)
}

func (r *reader) addBlock(b *block) {
	for _, o := range r.blocks {
		if o.g.index == b.g.index {
			b.number++
		}
	}
	b.number++
	r.blocks = append(r.blocks, b)
}

// turn reads rows from i to end on their side.
func (s *bandScan) turn(i, end, heads int) {
	t := turned(s.g, i, end, s.left, s.right)
	if len(t.lines) <= heads {
		return
	}
	corner := *s.g.lines[i].at(s.left)
	if s.nestCorner(t) {
		f := s.r.factsIn(&corner, false)
		if f.line.text == "" {
			f.line = fact{text: lineLabel(corner.text), at: &corner}
		}
		s.scope = s.lineless().child(f)
	}
	s.r.nameTurned(s.g, t, s.left, i)
	b := &block{g: t, left: 0, right: t.width, top: s.scope}
	for k := range heads {
		b.heads = append(b.heads, k)
	}
	b.cols = s.r.headed(b)
	for k := heads; k < len(t.lines); k++ {
		b.records = append(b.records, record{k, s.scope})
	}
	s.open(b)
}

// isCaption tells whether a row is text about tables rather than a record.
func (s *bandScan) isCaption(i, to int) bool {
	l := &s.g.lines[i]
	n := l.filled(s.left, s.right)
	if n == 0 {
		return false
	}
	var first *cell
	at := 0
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.span {
			first, at = c, col
			break
		}
	}
	if n >= 2 && s.listsDays(l, first) {
		return true
	}
	k := s.r.kind(first)
	headLine := k.head.Role == lexicon.NoRole && k.leadsLine || k.words > 1 && k.headsLine
	switch {
	case s.keyRow(l):
		return true
	case s.r.isPairs(l, s.left, s.right), s.beltLine(l, first) && !s.countsHead(i, to), s.cur == nil && s.pairRow(i):
		return true
	case n == 1:
		if s.cur == nil {
			return true
		}
		if k.isNum || k.isID || k.ditto || k.date.Form != lexicon.NoDate {
			return false // a record that is all blank
		}
		if at > s.left && s.headedAt(at) {
			return false
		}
		return k.words > 1 || len(first.text) > 3
	case headLine && n <= 3 && !s.recordLine(i), s.ranchTitle(i, to, n):
		return true
	case n <= 3 && i+1 < to && k.head.Sure < 1 && namedLine(first.text, first, true).text != "" && s.r.isHead(&s.g.lines[i+1], s.left, s.right): // "Línea norte | puestos el 6 de mayo"
		return true
	case n == 3 && s.cur == nil && strings.HasSuffix(first.text, ":") && s.isDay(s.secondCell(l, at)) && strings.HasPrefix(s.secondCell(l, s.filledAfter(l, at)).text, "("): // a day and a remark on it
		return true
	case n == 2 && at == s.left && s.cur == nil && s.titleBeforeHeads(i, to):
		return true
	case n == 2 && (strings.HasSuffix(first.text, ":") || s.cur == nil) && !s.r.isHead(l, s.left, s.right):
		second := s.secondCell(l, at)
		if k.head.Role != lexicon.NoRole && k.head.Sure >= 0.6 && s.r.kind(second).head.Role == lexicon.NoRole {
			return s.cur == nil && (strings.HasSuffix(first.text, ":") || s.onlyPairs(i, to))
		}
		return s.cur == nil && len(first.text)+len(second.text) > 40 && k.date.Form == lexicon.NoDate && first.look().Date == 0
	case k.headsTotal():
		return true
	}
	return false
}

// titleBeforeHeads tells whether a row of two cells is the title of the wider headings below it: it tells a day or a ranch's name.
func (s *bandScan) titleBeforeHeads(i, to int) bool {
	tells := false
	for col := s.left; col < min(s.right, len(s.g.lines[i].cells)); col++ {
		if c := &s.g.lines[i].cells[col]; c.text != "" {
			tells = tells || ranchNamed(c.text) != "" || between(s.r.scan(c.text), aDate) && len(strings.Fields(c.text)) > 2
		}
	}
	for k := i + 1; tells && k < min(to, i+3); k++ {
		l := &s.g.lines[k]
		if n := l.filled(s.left, s.right); n >= 4 && l.at(s.left).text != "" && s.r.isHead(l, s.left, s.right) {
			return true
		} else if n > 0 {
			return false
		}
	}
	return false
}

var keyCell = regexp.MustCompile(`^\s*\S{1,6}\s*[=:]\s*\pL`)

// keyRow tells whether each cell of a row is a code and what it means: "A = active | D = depredated".
func (s *bandScan) keyRow(l *line) bool {
	n := 0
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		c := &l.cells[col]
		if c.text == "" || c.span {
			continue
		}
		if !strings.Contains(c.text, "=") || !keyCell.MatchString(c.text) {
			return false
		}
		n++
	}
	return n >= 2
}

// ranchTitle tells whether a row names a ranch above the headings of the first table: "Stavig Ranch nests | | set May 8, 2021".
func (s *bandScan) ranchTitle(i, to, n int) bool {
	if s.begun || s.cur != nil || i+1 >= to || n*2 > s.g.lines[i+1].filled(s.left, s.right)+1 || !s.r.isHead(&s.g.lines[i+1], s.left, s.right) {
		return false
	}
	l := &s.g.lines[i]
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		if ranchNamed(l.cells[col].text) != "" {
			return true
		}
	}
	return false
}

// countsBelow takes rows of a cover and its count that follow a sentence about a belt, adds them to it, and returns how many
// there are.
func (s *bandScan) countsBelow(i, to int) int {
	if len(s.r.captions) == 0 {
		return 0
	}
	last := s.r.captions[len(s.r.captions)-1]
	if last.row != i || last.g != s.g || !beltWords.MatchString(last.c.text) {
		return 0
	}
	if n := s.beltList(i, to, last); n > 0 {
		return n
	}
	if !between(s.r.scan(last.c.text), aMeasure) {
		return 0
	}
	n := 0
	for k := i + 1; k < to; k++ {
		l := &s.g.lines[k]
		name := l.at(s.left)
		count := s.secondCell(l, s.left)
		cover := s.countedCover(name.text)
		if l.filled(s.left, s.right) != 2 || cover == "" || !s.r.kindOf(count.text).whole {
			break
		}
		joined := *last.c
		joined.text += ", " + cover + " " + count.text
		joined.raw = joined.text
		last.c = &joined
		n++
	}
	return n
}

// countedCover is the cover that a label before a count names: "grass", "Yucca clumps:", "Macollos de zacate en la franja"; "" for
// none.
func (s *bandScan) countedCover(label string) string {
	label = strings.TrimRight(label, ": ")
	cover := ""
	for _, it := range s.r.scan(label) {
		switch {
		case it.is == aCover && (cover == "" || clumpPattern.MatchString(cover)):
			cover = label[it.from:it.to]
		case it.is != aComma:
			return ""
		}
	}
	switch {
	case cover != "" && (s.r.kindOf(label).isCover || saysClumps(label)):
		return cover
	case s.r.kindOf(label).isCover:
		return label
	}
	return ""
}

// saysClumps tells whether a label speaks of belts or clumps.
func saysClumps(label string) bool {
	return clumpPattern.MatchString(label) || beltWords.MatchString(label)
}

// countRows takes rows of a label that names a cover and a belt, and its count, for a belt told in words, and returns how many
// there are.
func (s *bandScan) countRows(i, to int) int {
	n := 0
	var first *cell
	for k := i; k < to; k++ {
		l := &s.g.lines[k]
		label, count := l.at(s.left), s.secondCell(l, s.left)
		if l.filled(s.left, s.right) != 2 || !s.r.kindOf(count.text).whole || !saysClumps(label.text) {
			break
		}
		cover := s.countedCover(label.text)
		if cover == "" {
			break
		}
		if n == 0 {
			first = &cell{}
			*first = *label
			first.text = "belt:"
		}
		first.text += " " + cover + " " + count.text + ","
		n++
	}
	if n > 0 {
		first.text = strings.TrimRight(first.text, ",")
		first.raw = first.text
		s.r.captions = append(s.r.captions, &caption{g: s.g, c: first, row: i + n - 1, scope: s.scope})
	}
	return n
}

// beltList takes rows of a line's name and a number of clumps, below a sentence about belts, for a table of belts, and returns how
// many there are: "Line 1 | 21", "East | 12 | clumps".
func (s *bandScan) beltList(i, to int, about *caption) int {
	if clumpPattern.MatchString(about.c.text) && s.cur != nil && len(s.cur.heads) > 0 && len(s.cur.records) == 0 {
		return 0
	}
	n, right := 0, s.left
	seen := map[string]bool{}
	for k := i + 1; k < to; k++ {
		l := &s.g.lines[k]
		at := s.filledAfter(l, s.left)
		name, count := l.at(s.left), l.at(at)
		kind := s.r.kindOf(name.text)
		if f := l.filled(s.left, s.right); f != 2 && f != 3 || name.text == "" || !s.r.kindOf(count.text).whole || seen[name.text] ||
			kind.isCover && !lineHead(name.text) || kind.words > 4 || kind.date.Form != lexicon.NoDate && !kind.isNum || isTotal(name.text) || strings.HasSuffix(name.text, ":") && !lineHead(name.text) ||
			kind.head.Role != lexicon.NoRole && !lineHead(name.text) && !kind.isNum {
			break
		}
		if third := s.secondCell(l, at); third.text != "" && !clumpPattern.MatchString(third.text) || n > 0 && at != right-1 {
			break
		}
		seen[name.text], right = true, at+1
		n++
	}
	if n == 0 {
		return 0
	}
	f := facts{}
	s.r.measuresIn(&f, about.c.text, s.r.scan(about.c.text))
	about.used = "belt"
	b := &block{g: s.g, left: s.left, right: right, top: s.scope.child(f), list: true}
	b.cols = s.r.headed(b)
	b.cols[0].head = lexicon.Heading{Role: lexicon.Line, Sure: 1, Feature: -1}
	b.cols[len(b.cols)-1].head = lexicon.Heading{Role: lexicon.Clumps, Sure: 1, Feature: -1}
	for k := range n {
		b.records = append(b.records, record{i + 1 + k, b.top})
	}
	s.open(b)
	s.cur = nil
	return n
}

var clumpPattern = regexp.MustCompile(`(?i)\b(?:clumps?|macollos?|matas?|bunches)\b`)

var beltWords = regexp.MustCompile(`(?i)\b(?:belts?|strips?|franjas?|fajas?|clumps?|cover|walk|matas|macollos|conteo)\b`)

// beltLine tells whether a row tells of a belt in words, below or among nests: "Belt: 290 paces, 6 ft wide | grass | 36".
func (s *bandScan) beltLine(l *line, first *cell) bool {
	if !s.r.kind(first).leadsBelt() {
		return false
	}
	if hasDigits(first.text) && between(s.r.scan(first.text), aMeasure) {
		return true
	}
	if hasDigits(first.text) { // "Belt 1 | 290 paces | 6 ft | 22 grass"
		var words []string
		for col := first.col; col < min(s.right, len(l.cells)); col++ {
			words = append(words, l.cells[col].text)
		}
		items := s.r.scan(strings.Join(words, ", "))
		return len(words) >= 3 && between(items, aMeasure) && between(items, aCover)
	}
	if second := s.secondCell(l, s.left); l.filled(s.left, s.right) == 2 && hasDigits(second.text) { // "Belt | 290 paces x 6 ft"
		f := facts{}
		s.r.measuresIn(&f, second.text, s.r.scan(second.text))
		if f.width > 0 && f.length != (lexicon.Measure{}) || countOf(s.r.scan(second.text), aMeasure) >= 2 {
			return true
		}
	}
	numbers, names := 0, 0
	for col := first.col + 1; col < min(s.right, len(l.cells)); col++ {
		switch k := s.r.kind(&l.cells[col]); {
		case l.cells[col].text == "":
		case k.isNum || hasDigits(l.cells[col].text):
			numbers++
		default:
			names++
		}
	}
	return numbers >= 2 && names >= 1 && strings.Contains(first.text, ":")
}

var beltLead = regexp.MustCompile(`(?i)^\s*(?:the\s+|la\s+)?(?:belts?|strips?|franjas?|fajas?|clumps?|cover)\b`)

// headedAt tells whether the block being read has a heading over a column.
func (s *bandScan) headedAt(col int) bool {
	return slices.ContainsFunc(s.cur.heads, func(h int) bool { return s.g.lines[h].at(col).text != "" })
}

// recordLine tells whether "Line 1 | ..." is a record of the table being read, whose first column holds lines.
func (s *bandScan) recordLine(i int) bool {
	if s.cur == nil || len(s.cur.heads) == 0 {
		return false
	}
	h := s.g.lines[s.cur.heads[len(s.cur.heads)-1]].at(s.left).text
	return s.r.kindOf(h).head.Role == lexicon.Line
}

// onlyPairs tells whether the rows up to the next table hold a label and its value each.
func (s *bandScan) onlyPairs(i, to int) bool {
	for ; i < min(to, i+4); i++ {
		if s.g.lines[i].filled(s.left, s.right) > 2 {
			break
		}
	}
	return true
}

func (s *bandScan) secondCell(l *line, at int) *cell { return l.at(s.filledAfter(l, at)) }

// filledAfter is the next column with text behind another; -1 for none.
func (s *bandScan) filledAfter(l *line, at int) int {
	for col := at + 1; col < min(s.right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.span {
			return col
		}
	}
	return -1
}

// lineHead tells whether a text begins as the head of a line does.
func lineHead(text string) bool {
	loc := linePattern.FindStringSubmatchIndex(text)
	return loc != nil && loc[0] <= 2 && loc[4] == loc[5]
}

var totalWords = []string{"total", "totals", "totales", "sum", "suma", "average", "averages", "avg", "mean", "promedio", "media", "subtotal", "grand total", "percent", "porcentaje", "% intact", "all", "lasted", "nests set", "survived", "intact", "success", "rate", "duraron", "tot", "sums", "count"}

// totalLeads begin the head of a row of sums, a space behind it.
var totalLeads = []string{"total ", "sum ", "percent ", "totals ", "% ", "average ", "suma ", "total:", "all there at", "left at ", "left after ", "still there ", "alive at ", "made it ", "quedaron ", "nests set", "percent", "grand total", "carried forward", "brought forward", "in all ", "all told", "suma anterior", "subtotal ", "subtotales ", "sub total", "sub-total"}

// isTotal tells whether a cell heads a row of sums.
func isTotal(text string) bool {
	if len(text) > 40 || len(text) < 3 || text[0] >= '0' && text[0] <= '9' {
		return false
	}
	w := lexicon.Words(text)
	if slices.Contains(totalWords[:16], w) {
		return true
	}
	w += " "
	return slices.ContainsFunc(totalLeads, func(lead string) bool { return strings.HasPrefix(w, lead) })
}

// caption takes a row of text: what it says holds for what stands below.
func (s *bandScan) caption(i int) {
	r, l := s.r, &s.g.lines[i]
	var f facts
	if s.cur != nil && r.isPairs(l, s.left, s.right) { // a form begins anew
		if n := len(s.cur.records); n == 0 || s.cur.records[n-1].row > s.headAt { // else the head of its line stands above
			s.scope = s.tab
		}
		s.cur = nil
	}
	title := s.first && !s.begun && s.cur == nil
	var cells []*cell
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.span {
			cells = append(cells, c)
		}
	}
	if len(cells) > 1 && s.beltLine(l, cells[0]) { // one sentence over several cells
		var words []string
		for _, c := range cells {
			words = append(words, c.text)
		}
		joined := *cells[0]
		joined.text = strings.Join(words, " ")
		joined.raw = joined.text
		cells = []*cell{&joined}
	}
	for k := 0; k+1 < len(cells); k++ { // a belt in a form: "Belt 300 ft x 12 ft, clumps: | 13"
		if c := cells[k]; strings.HasSuffix(c.text, ":") && clumpPattern.MatchString(c.text) && between(r.scan(c.text), aMeasure) && r.kindOf(cells[k+1].text).whole {
			joined := *c
			joined.text += " " + cells[k+1].text
			joined.raw = joined.text
			cells[k], cells = &joined, slices.Delete(cells, k+1, k+2)
		}
	}
	total := isTotal(cells[0].text) && !s.dayBehind(cells)
	next := len(cells) == 1 && s.titleOfNext(i)
	labels := map[int]bool{}
	var days *cell // the label of the days that follow
	for k, c := range cells {
		if total {
			break
		}
		var one facts
		if !strings.HasSuffix(c.text, ":") || k+1 == len(cells) { // else a label
			one = r.factsIn(c, title && i == 0 || next && s.ranchHeads)
		}
		if next && one.ranch.text != "" && (!one.ranch.weak || s.ranchHeads) { // each table is headed by the ranch it is of
			s.ranchHeads = s.ranchHeads || strings.EqualFold(one.ranch.text, c.text)
			one.ranch.weak = false
			if s.ranchHeads && s.begun {
				s.cur, s.scope = nil, s.tab
			}
		}
		if k > 0 {
			labels[k-1] = r.labelled(&one, cells[k-1], c)
			if known := labels[k-1]; known && (len(one.checks) > 0 || one.set.at == c) {
				days = cells[k-1]
			} else if days != nil && s.isDay(c) && !strings.HasSuffix(cells[k-1].text, ":") && !known && len(one.checks) == 0 && one.set.at == nil { // "Looked | May 18 | and | June 1"
				r.labelled(&one, days, c)
				one.set = dayFact{}
			}
		}
		if k > 0 && len(f.checks) > 0 && len(one.checks) == 0 && one.set.at == nil && !labels[k-1] { // "checked 6/13 | and 6/27"
			if m := furtherDay.FindStringSubmatch(c.text); m != nil {
				if d := r.kindOf(m[1]).date; d.Form != lexicon.NoDate {
					one.checks = []checkFact{{dayFact: dayFact{d, c}}}
				}
			}
		}
		f = merged(f, one)
	}
	if next && f.line.text == "" && f.site.text == "" {
		f.line = s.titleOfLine(i)
	}
	if len(cells) == 2 && f.line.text != "" && f.line.at == cells[0] && f.site.text == "" && r.placeName(lexicon.Tidy(placeDigits.ReplaceAllString(cells[1].text, ""))) {
		f.site = fact{text: cells[1].text, at: cells[1]} // "Line 2 | Section 9"
	}
	scope := s.scope
	switch {
	case s.lineDays(cells):
		for _, c := range cells {
			r.captions = append(r.captions, &caption{g: s.g, c: c, row: i, scope: s.scope, used: "line"})
		}
		return
	case total:
	case f.line.text != "":
		s.scope = s.lineless().child(f)
		scope, s.headAt = s.scope, i
	case s.begun && s.cur != nil && len(s.cur.records) > 0 && s.cur.records[len(s.cur.records)-1].row > s.headAt: // below a table: it speaks of what was, and of the tab
		r.noteBelow(s.tab, f)
	default:
		if s.begun {
			r.noteSizes(s.tab, f)
		}
		s.scope = s.scope.child(f)
		scope = s.scope
	}
	if title && (f.ranch.text != "" || f.season != 0 || f.line.text == "" && (f.set.at != nil || len(f.checks) > 0)) { // a title holds for all tables beside it
		r.noteTitle(s.tab, f)
	}
	for k, c := range cells {
		cap := &caption{g: s.g, c: c, row: i, scope: scope}
		if k+1 < len(cells) {
			cap.right = cells[k+1]
		}
		if labels[k] {
			cap.used = "label"
		}
		if total {
			cap.used = "total"
		}
		r.captions = append(r.captions, cap)
	}
	if total {
		r.totals = append(r.totals, totalRow{g: s.g, row: i, block: s.cur, left: s.left, right: s.right})
	}
}

// furtherDay is the day of a further check behind that of the first.
var furtherDay = regexp.MustCompile(`(?i)^\W*(?:(?:and|then|again|y|luego)\b\s*|&\s*)?(?:again\s+|on\s+)?(.{3,20}?)\W*$`)

// dayBehind tells whether a label has a day behind it, as "Nests set: | 5/16/2022" does and no sum.
func (s *bandScan) dayBehind(cells []*cell) bool {
	return len(cells) > 1 && strings.HasSuffix(cells[0].text, ":") && s.isDay(cells[1])
}

// isDay tells whether a cell is a day and no bare number.
func (s *bandScan) isDay(c *cell) bool {
	return c.look().Date != 0 || s.r.kindOf(c.text).date.Form != lexicon.NoDate && !s.r.kindOf(c.text).isNum
}

var placeDigits = regexp.MustCompile(`\b\d{1,3}\b`)

// titleOfNext tells whether a row of one text stands right above the headings of a table, with nothing above it or a blank row.
func (s *bandScan) titleOfNext(i int) bool {
	if !s.apart(i) {
		return false
	}
	for k := i + 1; k < min(i+3, len(s.g.lines)); k++ {
		if s.g.lines[k].number > s.g.lines[i].number+2 {
			return false
		}
		if s.heads(k, len(s.g.lines)) > 0 {
			return true
		}
	}
	return false
}

// titleOfLine takes the title of a table for the name of its line: tables of nests with the same headings and no column of
// lines stand below each other, each under a title of its own.
func (s *bandScan) titleOfLine(i int) fact {
	k := i + 1
	for k < len(s.g.lines) && s.g.lines[k].blank(s.left, s.right) {
		k++
	}
	if k == len(s.g.lines) || k > i+2 {
		return fact{}
	}
	head := &s.g.lines[k]
	nest := false
	for col := s.left; col < min(s.right, len(head.cells)); col++ {
		switch s.r.kind(&head.cells[col]).head.Role {
		case lexicon.Line, lexicon.Site, lexicon.Ranch, lexicon.Season:
			return fact{}
		case lexicon.Nest:
			nest = true
		}
	}
	if !nest {
		return fact{}
	}
	titles := map[string]bool{}
	same := func(l *line) bool {
		for col := s.left; col < s.right; col++ {
			a, b := head.at(col), l.at(col)
			if !strings.EqualFold(a.text, b.text) && !(s.isDay(a) && s.isDay(b)) {
				return false
			}
		}
		return true
	}
	for j := 1; j < len(s.g.lines); j++ {
		if !same(&s.g.lines[j]) {
			continue
		}
		above := &s.g.lines[j-1]
		if above.blank(s.left, s.right) && j > 1 {
			above = &s.g.lines[j-2]
		}
		name := s.r.nameInTitle(above, s.left, s.right)
		if name == "" || titles[lexicon.Fold(name)] {
			return fact{}
		}
		titles[lexicon.Fold(name)] = true
	}
	if len(titles) < 2 {
		return fact{}
	}
	l := &s.g.lines[i]
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.span {
			return fact{text: s.r.nameInTitle(l, s.left, s.right), at: c}
		}
	}
	return fact{}
}

// crewWords end the name of a line that is called after who walks it: "Red team line".
var crewWords = regexp.MustCompile(`(?i)(?:['’]s?)?\s+(?:(?:team|crew|group|gang|kids|class|equipo|grupo)\b['’]?s?\s*)?(?:(?:line|transect|l[ií]nea|transecto)\b)?\s*:?\s*$`)

// nameInTitle returns the name that a row of one text can give to a line; "" where it tells of anything else.
func (r *reader) nameInTitle(l *line, left, right int) string {
	if l.filled(left, right) != 1 {
		return ""
	}
	text := ""
	for col := left; col < min(right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && !c.span {
			text = c.text
		}
	}
	headed := false
	for _, it := range r.scan(text) { // "North draw   set May 3"
		if it.is == aSetting && it.from > 0 && between(r.scan(text[it.from:]), aDate) {
			text, headed = strings.TrimRight(text[:it.from], " \t,;:-–—("), true
			break
		}
	}
	name := strings.TrimSpace(crewWords.ReplaceAllString(text+" ", ""))
	if name == "" || len(strings.Fields(name)) > 3 || len(name) > 24 || hasDigits(name) || lexicon.FindYear(text) != 0 || ranchNamed(text) != "" {
		return ""
	}
	if k := r.kindOf(name); !headed && (k.isCover || k.sight.Mark != lexicon.Unknown) || k.date.Form != lexicon.NoDate || topicWords[lexicon.Fold(name)] && !compass[lexicon.Fold(name)] {
		return ""
	}
	for _, it := range r.scan(text) {
		switch it.is {
		case aDate, aVisit, aSetting, aPasture, aMeasure:
			return ""
		case aState, aCover:
			if !headed { // Alkali flat
				return ""
			}
		}
	}
	return name
}

// lineDays takes up a row such as "Line 1 | May 20 | Jun 3" beside a table: the days of the checks of a line.
func (s *bandScan) lineDays(cells []*cell) bool {
	if len(cells) < 2 || !lineHead(cells[0].text) && !s.belowDays(cells[0]) {
		return false
	}
	for _, c := range cells[1:] {
		if s.r.dateOf(c, false).Form == lexicon.NoDate {
			return false
		}
	}
	s.r.takeDays(s.r.lineFacts(lineName(cells[0].text), s.tab), cells[1:])
	return true
}

// dayHeads head a list of lines with the days of their checks.
var dayHeads = regexp.MustCompile(`(?i)^\W*(?:(?:check|visit|look|walk)(?:ed|ing|s)?\s+(?:days?|dates?)|(?:days?|dates?)\s+(?:(?:we|of|i)\s+)?(?:the\s+)?(?:check|look|visit|walk)\w*|(?:d[ií]as|fechas)\s+(?:de\s+)?(?:revisi|visita)\w*)\W*$`)

// belowDays tells whether a cell is the name of a line in a list headed "Check days".
func (s *bandScan) belowDays(c *cell) bool {
	if len(c.text) > 20 || s.r.kind(c).date.Form != lexicon.NoDate {
		return false
	}
	for i := len(s.g.lines) - 1; i > 0; i-- {
		if s.g.lines[i].number >= c.row {
			continue
		}
		l := &s.g.lines[i]
		if l.filled(s.left, s.right) == 1 {
			return dayHeads.MatchString(s.secondCell(l, s.left-1).text)
		}
		if l.blank(s.left, s.right) {
			return false
		}
	}
	return false
}

// listsDays tells whether a row below "Check days" holds the name of a line and days.
func (s *bandScan) listsDays(l *line, first *cell) bool {
	for col := first.col + 1; col < min(s.right, len(l.cells)); col++ {
		if c := &l.cells[col]; c.text != "" && s.r.dateOf(c, false).Form == lexicon.NoDate {
			return false
		}
	}
	return s.belowDays(first)
}

// lineless is the scope above the line whose head was read last.
func (s *bandScan) lineless() *scope {
	up := s.scope
	for up != nil && up != s.tab && up.line.text != "" {
		up = up.up
	}
	if up == nil {
		return s.tab
	}
	return up
}

// labelled reads a value by the label at its left: Line | 1, Set out | 4/28. It tells whether the label is known.
func (r *reader) labelled(f *facts, label, c *cell) bool {
	h := r.kindOf(strings.TrimRight(label.text, ":")).head
	k := r.kind(c)
	if strings.HasSuffix(c.text, ":") || h.Date.Form != lexicon.NoDate { // a label itself, or behind a value
		return false
	}
	switch {
	case h.Role == lexicon.Ranch:
		f.ranch = fact{text: titleCase(c.text), at: c}
	case h.Role == lexicon.Site && k.date.Form == lexicon.NoDate && !between(r.scan(c.text), aDate):
		f.site = fact{text: c.text, at: c}
	case h.Role == lexicon.Line && k.words <= 3 && k.date.Form == lexicon.NoDate:
		f.line = fact{text: lineName(c.text), at: c}
	case (h.Role == lexicon.SetOn || h.Set || h.Role == lexicon.EggsSet) && k.date.Form != lexicon.NoDate && !k.isNum:
		f.set = dayFact{k.date, c}
	case (h.Role == lexicon.Check || h.Role == lexicon.CheckOn || h.Role == lexicon.SecondLook || h.Role == lexicon.Found && h.Visit != 0) && k.date.Form != lexicon.NoDate:
		f.checks = append(f.checks, checkFact{h.Visit, h.After, dayFact{k.date, c}, lexicon.Fold(h.Text)})
	case h.Role == lexicon.Season:
		if y := lexicon.FindYear(c.text); y != 0 {
			f.season, f.year = y, c
		}
	case h.Role == lexicon.StepLength || h.Role == lexicon.Steps && k.isNum:
		if m, ok := r.lex.Measure(c.text, "ft", false); ok && m.Feet >= 1 && m.Feet <= 4 {
			f.step = m.Feet
		}
	case h.Role == lexicon.Width:
		if m, ok := r.lex.Measure(c.text, h.Unit, false); ok && m.Feet > 0 {
			f.width = m.Feet
		}
	default: // the days of a line beside its name are taken up as a table of lines
		return false
	}
	return true
}

// lineName takes the word for line off a line's name.
func lineName(text string) string {
	if loc := linePattern.FindStringSubmatchIndex(text); loc != nil && loc[0] == 0 && loc[1] == len(text) && loc[4] == loc[5] {
		return text[loc[2]:loc[3]]
	}
	for _, lead := range []string{"line ", "transect ", "linea ", "línea ", "linia ", "transecto ", "trans ", "ln "} {
		if len(text) > len(lead) && strings.EqualFold(text[:len(lead)], lead) {
			return strings.TrimSpace(text[len(lead):])
		}
	}
	for _, end := range []string{" line", " transect"} { // North line
		if n := len(text) - len(end); n > 0 && strings.EqualFold(text[n:], end) {
			return strings.TrimSpace(text[:n])
		}
	}
	return text
}

// merged adds what another cell of the same row says.
func merged(a, b facts) facts {
	if a.ranch.text == "" || a.ranch.weak && b.ranch.text != "" && !b.ranch.weak {
		a.ranch = b.ranch
	}
	if a.season == 0 {
		a.season, a.year = b.season, b.year
	}
	if a.line.text == "" {
		a.line = b.line
	}
	if a.site.text == "" || a.site.weak && b.site.text != "" && !b.site.weak {
		a.site = b.site
	}
	if a.set.at == nil {
		a.set = b.set
	}
	a.checks = append(a.checks, b.checks...)
	if a.rule == nil {
		a.rule = b.rule
	}
	if a.step == 0 {
		a.step = b.step
	}
	if a.width == 0 {
		a.width = b.width
	}
	if a.length == (lexicon.Measure{}) {
		a.length = b.length
	}
	return a
}
