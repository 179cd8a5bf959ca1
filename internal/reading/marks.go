package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// tickedColumns finds columns that each stand for one state, or one cover, with a tick in the one that was found, and makes
// one column of those of a visit: the first holds the word over the one ticked. That they belong together shows in the rows:
// hardly any has two ticks.
func (r *reader) tickedColumns(b *block) {
	if len(b.heads) == 0 || b.tail {
		return
	}
	last := &b.g.lines[b.heads[len(b.heads)-1]]
	for i := 0; i < len(b.cols); i++ {
		end := i
		states, covers := 0, 0
		for end < len(b.cols) {
			c := &b.cols[end]
			text := last.at(c.at).text
			if text == "" || len(b.heads) > 1 && end > i && topOf(b, c) != topOf(b, &b.cols[i]) || !r.onlyTicks(b, c) {
				break
			}
			k := r.kindOf(text)
			switch {
			case k.isCover && !(k.cover.Weak && covers == 0):
				covers++
			case k.sight.Mark.State() != "" || k.sight.Mark == lexicon.Skipped || k.animal:
				states++
			case len(b.heads) < 2: // words nobody knows stand among the others only below a heading that holds them together
				goto done
			}
			end++
		}
	done:
		if covers > 0 && states > 0 && covers < states {
			covers = 0
		}
		if known := max(states, covers); end-i < 2 || known < 2 || known*2 < end-i || !r.oneTick(b, i, end) {
			continue
		}
		r.joinTicks(b, i, end, last, covers > states)
		i = end - 1
	}
}

// topOf is what stands over a column in the first of two rows of headings.
func topOf(b *block, c *column) string {
	if len(b.heads) < 2 {
		return ""
	}
	for at := c.at; at >= b.left; at-- { // written once over several columns
		if t := b.g.lines[b.heads[0]].at(at).text; t != "" {
			return t
		}
	}
	return ""
}

// onlyTicks tells whether the cells of a column are blank, ticked or unticked.
func (r *reader) onlyTicks(b *block, c *column) bool {
	ticks, others := 0, 0
	for _, rec := range b.records {
		switch t := b.g.lines[rec.row].at(c.at).text; {
		case t == "" || unticked(t):
		case tick(t):
			ticks++
		default:
			if others++; others > 1+len(b.records)/10 { // a sum below, or another thing
				return false
			}
		}
	}
	return others <= 1+ticks/10
}

// oneTick tells whether the columns from i to end are ticked at all, and hardly any row has two ticks.
func (r *reader) oneTick(b *block, i, end int) bool {
	one, more := 0, 0
	for _, rec := range b.records {
		n := 0
		for k := i; k < end; k++ {
			if tick(b.g.lines[rec.row].at(b.cols[k].at).text) {
				n++
			}
		}
		if n == 1 {
			one++
		} else if n > 1 {
			more++
		}
	}
	return one > 0 && more*10 <= one
}

func tick(t string) bool {
	if len(t) > len("verdadero") {
		return false
	}
	switch strings.ToLower(t) {
	case "x", "√", "✓", "✔", "☑", "☒", "✅", "■", "●", "1", "yes", "y", "true", "verdadero", "si", "sí", "s", "+", "*", "•", "o", "xx", "✗", "✘":
		return true
	}
	return false
}

func unticked(t string) bool {
	if len(t) > len("false") {
		return false
	}
	switch strings.ToLower(t) {
	case "☐", "□", "○", "0", "no", "n", "false", "falso", "-", "–", ".":
		return true
	}
	return false
}

func (r *reader) joinTicks(b *block, from, to int, heads *line, covers bool) {
	first := &b.cols[from]
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		word := ""
		for i := from; i < to; i++ {
			c := l.at(b.cols[i].at)
			if tick(c.text) {
				if word != "" {
					word += " / " // two ticks contradict each other
				}
				word += heads.at(b.cols[i].at).text
			}
		}
		for i := from; i < to; i++ {
			if at := b.cols[i].at; at < len(l.cells) && (word != "" || unticked(l.cells[at].text)) {
				l.cells[at].text = ""
			}
		}
		if word == "" {
			continue
		}
		l.cells[first.at].text = word
		if l.cells[first.at].row == 0 {
			l.cells[first.at].row, l.cells[first.at].col = l.number, first.at
		}
	}
	visit, on, after := first.head.Visit, first.head.Date, first.head.After
	if len(b.heads) > 1 { // what stands over them all; "All 3 OK" is no third visit
		if top := r.lex.Heading(topOf(b, first)); top.Visit != 0 || top.After != 0 || top.Date.Form != lexicon.NoDate || visit == 0 && after == 0 && on.Form == lexicon.NoDate {
			visit, on, after = top.Visit, top.Date, top.After
		}
	}
	first.head = lexicon.Heading{Text: heads.at(first.at).text, Role: lexicon.Found, Sure: 1, Visit: visit, Date: on, After: after, Feature: -1}
	if covers {
		first.head = lexicon.Heading{Text: heads.at(first.at).text, Role: lexicon.Substrate, Sure: 1, Feature: -1}
	}
	for i := from + 1; i < to; i++ {
		b.cols[i].head = lexicon.Heading{Text: b.cols[i].head.Text, Role: lexicon.Passed, Feature: -1}
		b.cols[i].why = "ticks"
	}
}

// histories finds a column of strings with one sign for each visit, such as 110 or 1.0, and makes a column of each sign.
func (r *reader) histories(b *block) {
	if !b.hasHead(lexicon.Nest) || b.tail {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		if c.head.Role != lexicon.NoRole && c.head.Role != lexicon.Found || c.head.Text == "" && len(b.heads) > 0 {
			continue
		}
		n, ok := r.historyLength(b, c)
		if !ok {
			continue
		}
		r.splitHistory(b, i, n)
		return
	}
}

// historyLength returns how many signs each cell of a column has, if all have as many and a key or the usual signs explain
// them.
func (r *reader) historyLength(b *block, c *column) (int, bool) {
	length, dots, strings := 0, 0, map[string]bool{}
	signs := map[byte]bool{}
	for _, rec := range b.records {
		t := b.g.lines[rec.row].at(c.at).text
		if t == "" {
			continue
		}
		if length == 0 {
			length = len(t)
		}
		if len(t) != length || length < 2 || length > 6 {
			return 0, false
		}
		strings[t] = true
		for k := range len(t) {
			signs[t[k]] = true
			if t[k] == '.' || t[k] == '-' {
				dots++
			}
		}
	}
	if len(strings) < 2 || len(signs) > 7 || dots == 0 {
		return 0, false
	}
	for s := range signs {
		known := s == '.' || s == '-' || s == '0' || s == '1'
		for _, k := range r.codes {
			_, has := k.codes[foldCode(string(s))]
			known = known || has && !k.covers && k.file == b.g.File
		}
		if !known {
			return 0, false
		}
	}
	return length, length > 0
}

// splitHistory makes columns of the signs of column i: one of its own, the others at the end of the rows.
func (r *reader) splitHistory(b *block, i, n int) {
	at, right := b.cols[i].at, b.right
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		t := l.at(at).text
		if len(t) != n {
			continue
		}
		for len(l.cells) < right+n-1 {
			l.cells = append(l.cells, cell{row: l.number, col: at})
		}
		for k := range n {
			sign := t[k : k+1]
			if sign == "." {
				sign = "-"
			}
			to := at
			if k > 0 {
				to = right + k - 1
			}
			l.cells[to] = cell{text: sign, raw: sign, row: l.number, col: at}
		}
	}
	head := b.cols[i].head.Text
	visit := func(k int) lexicon.Heading {
		return lexicon.Heading{Text: head, Role: lexicon.Found, Sure: 0.9, Visit: k, Feature: -1}
	}
	b.cols[i].head = visit(1)
	for k := 1; k < n; k++ {
		b.cols = append(b.cols, column{at: right + k - 1, visit: -1, head: visit(k + 1)})
	}
	b.right += n - 1
}

func (b *block) hasHead(role lexicon.Role) bool {
	for i := range b.cols {
		if b.cols[i].head.Role == role {
			return true
		}
	}
	return false
}
