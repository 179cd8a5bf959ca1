package narration

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// columnsIn takes a line that has only days, and words that head columns, as the head of a small table: "Nest   May 14
// May 28".
func (r *teller) columnsIn(x *say) bool {
	if x.days < 2 || len(x.states) > 0 || x.set {
		return false
	}
	var columns []column
	line := r.text[r.lines[x.line].from:x.from]
	rest := ""
	at := x.from
	for _, it := range x.items {
		switch {
		case it.is == aDay && it.after == noWord && it.day.Day != 0:
			columns = append(columns, column{it.day.Day, strings.Count(line+r.text[x.from:it.from], "\t")})
		case it.is != aDay && it.is != aCover && it.is != aCheck && it.is != aVisit && it.is != aComma:
			return false
		}
		rest += r.text[at:it.from] + " "
		at = it.to
	}
	rest += r.text[at:x.to]
	if len(columns) < 2 || len(strings.Fields(plainLetters(rest))) > 2 || !strings.Contains(r.text[x.from:x.to], "  ") && !strings.Contains(r.text[x.from:x.to], "\t") {
		return false
	}
	r.now.columns, r.now.rows = columns, map[string]bool{}
	return true
}

// gutter parts the columns of a line of text: tabs, wide gaps, dots that lead over.
var gutter = regexp.MustCompile(`\t|\s{2,}|\.{3,}`)

// columnLooks takes a row below days: a nest, perhaps its cover, and what was found under each day. It returns false where
// the row is of another kind.
func (r *teller) columnLooks(x *say, p *linePart, c *clause, lines, list []string, pieces [][2]int) bool {
	if len(r.now.columns) == 0 || x.days > 0 || len(list) != 1 || len(pieces) == 0 {
		return false
	}
	if r.now.rows[list[0]] {
		r.add(fact{is: repeatFact, nests: list, at: r.span(c.ref.from, c.ref.to)}, lines)
	}
	r.now.rows[list[0]] = true
	from, to := pieces[0][0], pieces[len(pieces)-1][1]
	text := r.text[from:to]
	unclear := func() bool {
		said := strings.Join(strings.Fields(gutter.ReplaceAllString(r.words(p, pieces), " ")), " ")
		for _, col := range r.now.columns {
			r.add(fact{is: unclearFact, nests: list, day: col.day, text: said, at: r.span(c.ref.from, c.ref.to)}, lines)
		}
		return true
	}
	if strings.Contains(text, "\t") {
		line := &r.lines[x.line]
		before := strings.Count(r.text[line.from:from], "\t")
		cells := strings.Split(text, "\t")
		for i, cell := range cells {
			k := slices.IndexFunc(r.now.columns, func(c column) bool { return c.tab == before+i })
			if k < 0 || !speaks(cell) {
				continue
			}
			r.lookTold(x, c, lines, byNumber, list, cell, r.now.columns[k].day, p)
		}
		return true
	}
	var cells, remarks []string
	for _, cell := range gutter.Split(text, -1) {
		switch bracketed := strings.HasPrefix(strings.TrimSpace(cell), "["); {
		case bracketed:
			remarks = append(remarks, cell)
		case speaks(cell) || strings.Contains(cell, "--"):
			cells = append(cells, cell)
		}
	}
	if len(cells) > len(r.now.columns) || r.gainsaid(cells, remarks) {
		return unclear()
	}
	for i, cell := range cells {
		if speaks(cell) {
			r.lookTold(x, c, lines, byNumber, list, cell, r.now.columns[i].day, p)
		}
	}
	return true
}

func speaks(s string) bool {
	return strings.ContainsFunc(s, func(c rune) bool {
		return unicode.IsLetter(c) || unicode.IsDigit(c) || c == '√' || c == '+' || c == '?'
	})
}

// gainsaid tells whether a remark in brackets beside a row says something that no cell of the row says.
func (r *teller) gainsaid(cells, remarks []string) bool {
	for _, remark := range remarks {
		said := r.sight(remark)
		if said.Mark.State() != "" && !slices.ContainsFunc(cells, func(cell string) bool {
			s := r.sight(cell)
			return s.Mark.State() == "" || s.Mark.State() == said.Mark.State()
		}) {
			return true
		}
	}
	return false
}
