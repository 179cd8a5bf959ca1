package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// A dictionary is a table that explains the headings of another: a field a row, with what it means or what its codes mean.

// maxDictionary is how many rows a dictionary may have.
const maxDictionary = 80

// readDictionaries finds tables that explain the headings of others, and remembers what each heading means.
func (r *reader) readDictionaries() {
	for _, d := range r.grids {
		if len(d.lines) > maxDictionary || d.held > 0 {
			continue
		}
		if explainsBlank(d) {
			d.explains = true
			for k := range d.lines {
				r.setAsideRow(d, k, 0, d.width, "note")
			}
			continue
		}
		for _, g := range r.grids {
			if g != d {
				r.explain(d, g)
			}
		}
	}
}

// explainsBlank tells whether a tab is the one of our blank workbook that explains the others: in each row a tab of it, and
// the name of a column.
func explainsBlank(d *grid) bool {
	n := 0
	for k := range d.lines {
		switch d.lines[k].at(0).text {
		case "nests", "belts", "sites":
			n++
		}
	}
	return n >= 20 && n*2 > len(d.lines)
}

// explain holds the first cells of a small table against the headings of another.
func (r *reader) explain(d, g *grid) {
	for i := 0; i < min(len(g.lines), 10); i++ {
		heads := map[string]bool{}
		for col := range g.lines[i].cells {
			if t := g.lines[i].cells[col].text; t != "" && len(t) <= 24 && r.namesField(t) {
				heads[lexicon.Fold(t)] = true
			}
		}
		if len(heads) < 4 {
			continue
		}
		named := map[string]bool{}
		for k := range d.lines {
			for _, f := range fieldsOf(d.lines[k].at(0).text) {
				if heads[lexicon.Fold(f)] {
					named[lexicon.Fold(f)] = true
				}
			}
		}
		if len(named) < 3 || len(named)*3 < len(heads) || r.headsAlso(d, heads) {
			continue
		}
		for k := range d.lines {
			r.explainRow(d, &d.lines[k], heads)
		}
		d.explains = true
		return
	}
}

// headsAlso tells whether a small table has such headings itself, so that it is another table of the same kind.
func (r *reader) headsAlso(d *grid, heads map[string]bool) bool {
	for k := range d.lines {
		n := 0
		for col := range d.lines[k].cells {
			if t := d.lines[k].cells[col].text; t != "" && heads[lexicon.Fold(t)] {
				n++
			}
		}
		if n >= 3 {
			return true
		}
	}
	return false
}

// namesField tells whether a text can be a heading that needs explaining: no number, no day, no cover, no state.
func (r *reader) namesField(t string) bool {
	k := &kind{sight: r.lex.Sight(t), date: lexicon.ReadDate(t, false)}
	_, _, number := lexicon.Number(t, false)
	_, cover := r.lex.Cover(t)
	return !number && !cover && k.date.Form == lexicon.NoDate && (k.sight.Mark == lexicon.Unknown || r.lex.Heading(t).Role != lexicon.NoRole) && !lexicon.IsDitto(t)
}

// explainRow takes one row of a dictionary. A row that explains nothing is a note.
func (r *reader) explainRow(d *grid, l *line, heads map[string]bool) {
	used := false
	for _, f := range fieldsOf(l.at(0).text) {
		key := lexicon.Fold(f)
		if !heads[key] {
			continue
		}
		used = true
		code, text := r.codeOf(l)
		if code != "" {
			if m, covers, ok := r.understood(text); ok {
				r.addCode(covers, key, code, m, d, l.at(0))
				if covers { // counts of one cover may be headed by field and code
					r.aliases[key+lexicon.Fold(code)] = string(m.cover.Substrate) + " clumps"
				}
			}
		}
		if r.aliases[key] == "" {
			if means := r.meansOf(code, text, f); means != "" {
				r.aliases[key] = means
			}
		}
	}
	for i := range l.cells {
		if c := &l.cells[i]; c.text != "" {
			as := ""
			if used {
				as = "key"
			}
			r.captions = append(r.captions, &caption{g: d, c: c, scope: r.tabScope[d.index], used: as})
		}
	}
}

// codeOf takes the code and the meaning out of a row of a dictionary.
func (r *reader) codeOf(l *line) (code, text string) {
	var cells []string
	for col := 1; col < len(l.cells); col++ {
		if t := l.cells[col].text; t != "" {
			cells = append(cells, t)
		}
	}
	switch {
	case len(cells) == 0:
		return "", ""
	case len(cells) == 1 || len(cells[0]) > 6:
		return "", cells[len(cells)-1]
	}
	return cells[0], cells[len(cells)-1]
}

// fieldsOf takes the headings out of the first cell of a dictionary's row: "F1, F2", "OB0-2".
func fieldsOf(text string) []string {
	if text == "" || len(text) > 60 {
		return nil
	}
	var out []string
	for _, f := range strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == '/' || c == ';' || c == '&' }) {
		f = strings.TrimSpace(f)
		if n := len(f); n >= 4 && f[n-2] == '-' && lexicon.Digit(f[n-3]) && lexicon.Digit(f[n-1]) { // OB0-2
			for d := f[n-3]; d <= f[n-1]; d++ {
				out = append(out, f[:n-3]+string(d))
			}
			continue
		}
		out = append(out, f)
	}
	return out
}

// meansOf puts what a row says of a field in the words of a heading: the meaning as it stands, or what its codes are.
func (r *reader) meansOf(code, text, field string) string {
	number := ""
	if n := len(field); n > 1 && lexicon.Digit(field[n-1]) && !lexicon.Digit(field[n-2]) && field[n-1] != '0' {
		number = " " + field[n-1:]
	}
	if code == "" {
		first, _, _ := strings.Cut(text, ",")
		first = strings.TrimSpace(first)
		for _, means := range []string{first + number, first} {
			if r.lex.Heading(means).Role != lexicon.NoRole {
				return means
			}
		}
		return ""
	}
	switch _, covers, ok := r.understood(text); {
	case ok && covers:
		return "cover"
	case ok && number != "":
		return "check" + number + " found"
	case ok:
		return "found"
	}
	return ""
}
