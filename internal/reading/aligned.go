package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

var (
	wideGap  = regexp.MustCompile(`\t|\s{2,}`)
	ruleLine = regexp.MustCompile(`^[\s\-–—=_+*|.~#─━═│║┌┐└┘├┤┬┴┼╔╗╚╝╠╣╦╩╬]+$`)
)

// isRule tells whether a line of text is only drawn: dashes, bars, boxes.
func isRule(text string) bool { return len(text) >= 4 && ruleLine.MatchString(text) }

// alignText finds tables within plain text: a line of headings with spaces between them, and lines below it that leave the
// same columns of letters blank. Their cells become cells of the grid; all other lines stay as they are.
func (r *reader) alignText(g *grid) {
	if g.held > 0 || g.width <= 1 && !r.firing("aligned", g.File+"\x00"+g.Name) {
		return
	}
	unbox(g)
	ruled(g)
	for i := 0; i < len(g.lines); i++ {
		if g.lines[i].filled(1, g.width) > 0 {
			continue
		}
		head := []rune(untab(g.lines[i].at(0).raw))
		heads := wideGap.Split(strings.TrimSpace(string(head)), -1)
		if lineHead(strings.TrimSpace(string(head))) || r.namedHead(strings.TrimSpace(string(head))) {
			continue
		}
		if len(heads) < 2 || !r.isAlignedHead(heads, string(head)) {
			if end, cuts := r.alignedBare(g, i); len(cuts) > 0 {
				for ; i < end; i++ {
					g.lines[i].cut(cuts, []rune(untab(g.lines[i].at(0).raw)))
				}
				g.width = max(g.width, len(cuts))
				i--
			}
			continue
		}
		rows, texts := []int{i}, [][]rune{head}
		end := i + 1
		for ; end < len(g.lines) && g.lines[end].number == g.lines[end-1].number+1 && g.lines[end].filled(1, g.width) == 0; end++ {
			raw := untab(g.lines[end].at(0).raw)
			if isRule(raw) {
				continue
			}
			if !r.isAlignedRow(head, []rune(raw)) {
				break
			}
			rows, texts = append(rows, end), append(texts, []rune(raw))
		}
		rows, texts = withoutStrays(rows, texts)
		cuts := r.wholeDays(gutters(texts), texts[1:])
		if len(rows) < 3 || len(cuts) < 2 {
			continue
		}
		end = rows[len(rows)-1] + 1
		for k, row := range rows {
			g.lines[row].cut(cuts, texts[k])
		}
		for k := i; k < end; k++ {
			if isRule(g.lines[k].at(0).raw) {
				g.lines[k].cells = nil
				g.lines[k].number = g.lines[i].number // no blank row, but nothing
			}
		}
		g.lines = deleteRules(g.lines, i, end)
		g.width = max(g.width, len(cuts))
	}
}

// namedLead is a name before the word for line at the head of a line of text: "NORTH FENCE LINE   put out May 3".
var namedLead = regexp.MustCompile(`(?i)^((?:\pL[\pL'’.]+ ){1,3})(?:line|transect)\b`)

// namedHead tells whether a text begins as the head of a line that has a name does.
func (r *reader) namedHead(text string) bool {
	m := namedLead.FindStringSubmatch(text)
	if m == nil {
		return false
	}
	for _, w := range strings.Fields(m[1]) {
		if r.kindOf(w).head.Role != lexicon.NoRole {
			return false
		}
	}
	return setPattern.MatchString(text) || len(lexicon.FindDates(text)) > 0
}

// rulerGroups are the runs of dashes of a line that holds nothing else: they show where columns begin.
var (
	rulerLine   = regexp.MustCompile(`^\s*-+(?:\s+-+){2,}\s*$`)
	rulerGroups = regexp.MustCompile(`-+`)
)

// mostHeadLines is how many lines of headings may stand above such a line.
const mostHeadLines = 3

// ruled cuts listings whose columns are drawn: a line of dashes in groups below the headings, as databases and old programs
// print it.
func ruled(g *grid) {
	single := func(i int) bool {
		return i >= 0 && i < len(g.lines) && g.lines[i].filled(0, g.width) == 1 && g.lines[i].at(0).text != ""
	}
	for i := 0; i < len(g.lines); i++ {
		if !single(i) || !single(i-1) || !single(i+1) {
			continue
		}
		raw := untab(g.lines[i].at(0).raw)
		if !rulerLine.MatchString(raw) {
			continue
		}
		var cuts []int
		for _, m := range rulerGroups.FindAllStringIndex(raw, -1) {
			cuts = append(cuts, m[0])
		}
		from, to := i-1, i+1
		for from > 0 && i-from < mostHeadLines && single(from-1) && g.lines[from-1].number == g.lines[from].number-1 {
			from--
		}
		for to < len(g.lines) && single(to) && g.lines[to].number == g.lines[to-1].number+1 && !isRule(g.lines[to].at(0).raw) {
			to++
		}
		heads := make([]string, len(cuts))
		for k := from; k < i; k++ { // one above the other; what is written across a border belongs to both
			text := []rune(untab(g.lines[k].at(0).raw))
			g.lines[k].cut(cuts, text)
			above := ""
			for c := range cuts {
				word := strings.Trim(g.lines[k].cells[c].text, "- ")
				if at := cuts[c]; word == "" && at > 0 && at < len(text) && text[at] != ' ' && text[at-1] != ' ' {
					word = above
				}
				above = word
				heads[c] = strings.TrimSpace(heads[c] + " " + word)
			}
		}
		for c, h := range heads {
			cell := &g.lines[i-1].cells[c]
			cell.text, cell.raw = h, h
		}
		for k := i + 1; k < to; k++ {
			g.lines[k].cut(cuts, []rune(untab(g.lines[k].at(0).raw)))
		}
		shift := g.lines[i+1].number - g.lines[i-1].number - 1
		for k := i + 1; k < to; k++ { // no blank row, but nothing
			g.lines[k].number -= shift
		}
		g.lines = slices.Delete(g.lines, i, i+1)
		g.lines = slices.Delete(g.lines, from, i-1)
		to -= i - from
		g.width = max(g.width, len(cuts))
		i = to - 1
	}
}

// alignedBare finds lines without headings that leave the same columns of letters blank: several pieces each, most of them
// numbers, days, names, covers or states.
func (r *reader) alignedBare(g *grid, from int) (end int, cuts []int) {
	var texts [][]rune
	data, all := 0, 0
	for end = from; end < len(g.lines) && (end == from || g.lines[end].number == g.lines[end-1].number+1) && g.lines[end].filled(1, g.width) == 0; end++ {
		raw := untab(g.lines[end].at(0).raw)
		parts := wideGap.Split(strings.TrimSpace(raw), -1)
		if len(parts) < 3 || lineHead(strings.TrimSpace(raw)) {
			break
		}
		for _, p := range parts {
			k := r.kindOf(lexicon.Tidy(p))
			if k.isNum || k.isID || k.isCover || k.date.Form != lexicon.NoDate || k.sight.Mark != lexicon.Unknown {
				data++
			}
			all++
		}
		texts = append(texts, []rune(raw))
	}
	if len(texts) < 4 || data*10 < all*7 {
		return 0, nil
	}
	if cuts = gutters(append([][]rune{nil}, texts...)); len(cuts) < 3 {
		return 0, nil
	}
	return end, cuts
}

// withoutStrays takes out lines of few pieces, such as a count below the table or the title of its next page, that lie across
// its columns, and any such line at its end.
func withoutStrays(rows []int, texts [][]rune) ([]int, [][]rune) {
	pieces := func(k int) int { return len(wideGap.Split(strings.TrimSpace(string(texts[k])), -1)) }
	var usual []int
	for k := range texts {
		usual = append(usual, pieces(k))
	}
	slices.Sort(usual)
	few := max(2, usual[len(usual)/2]/2)
	for k := len(rows) - 1; k > 0; k-- {
		if pieces(k) > few && k < len(rows)-1 {
			continue
		}
		others := slices.Delete(slices.Clone(texts), k, k+1)
		if len(gutters(others)) > len(gutters(texts)) {
			rows, texts = slices.Delete(rows, k, k+1), others
		}
	}
	return rows, texts
}

// deleteRules takes drawn lines out from within a table.
func deleteRules(lines []line, from, to int) []line {
	kept := lines[:from]
	for k := from; k < len(lines); k++ {
		if k >= to || lines[k].cells != nil {
			kept = append(kept, lines[k])
		}
	}
	return kept
}

// unbox cuts lines of text that drawn bars divide into cells.
func unbox(g *grid) {
	boxed := false
	for i := range g.lines {
		l := &g.lines[i]
		text := strings.TrimSpace(l.at(0).raw)
		if l.filled(1, g.width) > 0 || strings.Count(text, "│")+strings.Count(text, "║") < 3 || isRule(text) {
			continue
		}
		cells := l.cells[:1]
		for k, part := range strings.FieldsFunc(boxBar.ReplaceAllString(text, " $0 "), func(c rune) bool { return c == '│' || c == '║' }) {
			c := cell{row: l.number, col: k, raw: strings.TrimSpace(part), text: lexicon.Tidy(part), shown: cells[0].shown}
			cells = append(cells, c)
		}
		l.cells = cells[1:]
		g.width = max(g.width, len(l.cells))
		boxed = true
	}
	if boxed {
		g.lines = slices.DeleteFunc(g.lines, func(l line) bool {
			return l.filled(1, g.width) == 0 && strings.ContainsAny(l.at(0).text, "─═") && isRule(l.at(0).text)
		})
	}
}

var boxBar = regexp.MustCompile(`[│║]`)

// leaders are the dots that lead the eye from one column to the next.
var leaders = regexp.MustCompile(`\.{4,}`)

// untab writes tabs, the marks of a comment and dots that lead to the next column as the spaces they stand for.
func untab(s string) string {
	s = leaders.ReplaceAllStringFunc(s, func(dots string) string { return strings.Repeat(" ", len(dots)) })
	for i := 0; i < len(s) && s[i] == '#'; i++ {
		s = s[:i] + " " + s[i+1:]
	}
	if !strings.Contains(s, "\t") {
		return s
	}
	var b strings.Builder
	n := 0
	for _, c := range s {
		if c != '\t' {
			b.WriteRune(c)
			n++
			continue
		}
		for {
			b.WriteByte(' ')
			if n++; n%8 == 0 {
				break
			}
		}
	}
	return b.String()
}

// isAlignedHead tells whether pieces of a line of text head the columns of a table.
func (r *reader) isAlignedHead(heads []string, text string) bool {
	labels := 0
	for _, h := range heads {
		if r.isLabel(r.kindOf(lexicon.Tidy(h))) {
			labels++
		}
	}
	words := strings.Fields(text)
	return labels >= 2 && (r.headScoreOf(heads) >= 1.2 || r.headScoreOf(words) >= 1.5) || labels >= 1 && r.headScoreOf(heads) >= 1.8
}

// isAlignedRow tells whether a line of text can be a row under the headings: it begins near the first and is no sentence.
func (r *reader) isAlignedRow(head, row []rune) bool {
	text := strings.TrimSpace(string(row))
	if text == "" {
		return false
	}
	first := wideGap.Split(text, 2)[0]
	indent := len(row) - len([]rune(strings.TrimLeft(string(row), " ")))
	starts := len(head) - len([]rune(strings.TrimLeft(string(head), " ")))
	if len(strings.Fields(first)) > 4 && !startsWithNumber(first) || strings.HasSuffix(first, ":") {
		return false
	}
	return indent <= starts+12 && !(lineHead(text) && len(text) > 12)
}

func startsWithNumber(s string) bool { return s != "" && lexicon.Digit(s[0]) }

// gutters returns where the columns of aligned lines begin: after letters that are blank in every line. The first line has
// the headings, and each column has one; without headings two blanks or more keep columns apart.
func gutters(texts [][]rune) []int {
	width := 0
	for _, t := range texts {
		width = max(width, len(t))
	}
	used := func(t []rune, k int) bool { return k < len(t) && t[k] != ' ' }
	blank := make([]bool, width+1)
	for k := range blank {
		blank[k] = true
		for _, t := range texts {
			blank[k] = blank[k] && !used(t, k)
		}
	}
	any := func(list [][]rune, from, to int) bool {
		for _, t := range list {
			for k := from; k < to; k++ {
				if used(t, k) {
					return true
				}
			}
		}
		return false
	}
	var cuts []int
	for k := 0; k < width; {
		if blank[k] {
			k++
			continue
		}
		end := k
		for end < width && !blank[end] {
			end++
		}
		headed := any(texts[:1], k, end) || len(texts[0]) == 0 && k >= 2 && blank[k-2]
		switch {
		case len(cuts) == 0:
			cuts = append(cuts, k)
		case !headed && k >= 3 && blank[k-2] && blank[k-3] && !any(texts[:1], k, width): // remarks at the end of lines
			cuts = append(cuts, k)
			k = width
			continue
		case !headed: // belongs to the column at its left
		case !any(texts[1:], k, end) && k >= 2 && !blank[k-2]: // a second word of a heading
		default:
			cuts = append(cuts, k)
		}
		k = end
	}
	return cuts
}

// wholeDays takes out the cuts that part the days of most rows: "15 jun" under "2a rev.".
func (r *reader) wholeDays(cuts []int, rows [][]rune) []int {
	piece := func(t []rune, from, to int) string {
		to = min(to, len(t))
		if from >= to {
			return ""
		}
		return lexicon.Tidy(string(t[from:to]))
	}
	for c := len(cuts) - 1; c > 0; c-- {
		end := 1 << 20
		if c+1 < len(cuts) {
			end = cuts[c+1]
		}
		days, n := 0, 0
		for _, t := range rows {
			left, right := piece(t, cuts[c-1], cuts[c]), piece(t, cuts[c], end)
			if left == "" || right == "" {
				continue
			}
			n++
			for _, d := range lexicon.FindDates(left + " " + right) {
				if d.From < len(left) && d.To > len(left)+1 && len(lexicon.FindDates(left))+len(lexicon.FindDates(right)) == 0 {
					days++
				}
			}
		}
		if n >= 2 && days*10 >= n*8 {
			cuts = slices.Delete(cuts, c, c+1)
		}
	}
	return cuts
}

// cut makes cells of the pieces of a line that begin at the cuts.
func (l *line) cut(cuts []int, text []rune) {
	shown := l.at(0).shown
	cells := make([]cell, len(cuts))
	for c, from := range cuts {
		cells[c] = cell{row: l.number, col: c, shown: shown}
		to := len(text)
		if c+1 < len(cuts) {
			to = min(to, cuts[c+1])
		}
		if c == 0 {
			from = 0
		}
		if from < to {
			cells[c].raw = strings.TrimSpace(string(text[from:to]))
			cells[c].text = lexicon.Tidy(cells[c].raw)
		}
	}
	l.cells = cells
}
