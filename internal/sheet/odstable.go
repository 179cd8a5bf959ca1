package sheet

import (
	"bytes"
	"strconv"
	"strings"
)

// An odsTable is a table being read.
type odsTable struct {
	*ods
	m        *markup
	t        *Table
	g        *grid
	row, col int // from 0
	columns  []odsColumns
	text     []byte
	scratch  []byte
}

func (o *ods) readTable(m *markup) error {
	t := &Table{File: o.name, Name: attrText(m, "table:name"), Hidden: o.unseen[attrText(m, "table:style-name")]}
	if len(o.b.Tables) == 1000 {
		return unpacksTooFar(o.name, o.say)
	}
	o.b.Tables = append(o.b.Tables, t)
	p := &odsTable{ods: o, m: m, t: t, g: o.room.grid(t)}
	for {
		if err := m.next(); err != nil {
			return cutShort(err)
		}
		var err error
		switch full := string(m.full); {
		case m.closes && full == "table:table":
			t.sortMerges()
			return p.g.done()
		case m.closes:
		case full == "table:table-column":
			p.column()
		case full == "table:table-row":
			err = p.readRow()
		case full == "table:shapes":
			err = p.shapes()
		case full == "table:table" || full == "office:forms": // a table within one is none of the sheet's rows
			err = m.skip()
		}
		if err != nil {
			return err
		}
	}
}

// Columns that follow each other share a style, which their cells have where they name none.
type odsColumns struct {
	to    int // behind the last
	style string
}

func (p *odsTable) column() {
	from := 0
	if n := len(p.columns); n > 0 {
		from = p.columns[n-1].to
	}
	to := min(from+max(p.m.number("table:number-columns-repeated", 1), 1), 1<<20)
	if v := string(p.m.attr("table:visibility")); v == "collapse" || v == "filter" {
		p.t.hideColumns(from, to-1)
	}
	if from < MaxColumns {
		p.columns = append(p.columns, odsColumns{to, attrText(p.m, "table:default-cell-style-name")})
	}
}

// styleAt returns the style of a cell: its own by name, else its column's.
func (p *odsTable) styleAt(own string, col int) odsStyle {
	if own != "" {
		return p.styles[own]
	}
	for _, c := range p.columns {
		if col < c.to {
			return p.styles[c.style]
		}
	}
	return odsStyle{}
}

// readRow reads a row and repeats it as often as it says; one that holds nothing costs nothing however often.
func (p *odsTable) readRow() error {
	repeated := max(p.m.number("table:number-rows-repeated", 1), 1)
	v := string(p.m.attr("table:visibility"))
	hidden := v == "collapse" || v == "filter"
	p.col = 0
	for !p.m.empty || string(p.m.full) != "table:table-row" {
		if err := p.m.next(); err != nil {
			return cutShort(err)
		}
		full := string(p.m.full)
		if p.m.closes && full == "table:table-row" {
			break
		}
		if !p.m.closes && (full == "table:table-cell" || full == "table:covered-table-cell") {
			if err := p.cell(full); err != nil {
				return err
			}
		}
	}
	row := append([]gridCell(nil), p.g.row...)
	text := append([]byte(nil), p.g.rowText...)
	filled := len(bytes.TrimSpace(text)) > 0
	for i := range repeated {
		if i > 0 {
			p.g.row, p.g.rowText = append(p.g.row[:0], row...), append(p.g.rowText[:0], text...)
		}
		if err := p.g.end(p.row+i+1, hidden); err != nil {
			return err
		}
		if !filled {
			break
		}
	}
	p.row = min(p.row+repeated, 1<<30)
	return nil
}

// An odsCell is what a cell's tag says.
type odsCell struct {
	kind, value string
	formula     bool
	repeated    int
	style       string // its own
}

// cell reads the cell just come to, with what stands in it.
func (p *odsTable) cell(full string) error {
	m := p.m
	c := odsCell{
		kind: string(m.attr("office:value-type")), formula: m.attr("table:formula") != nil,
		repeated: max(m.number("table:number-columns-repeated", 1), 1), style: attrText(m, "table:style-name"),
	}
	switch c.kind {
	case "date":
		c.value = attrText(m, "office:date-value")
	case "time":
		c.value = attrText(m, "office:time-value")
	case "boolean":
		c.value = attrText(m, "office:boolean-value")
	case "string":
		c.value = attrText(m, "office:string-value")
	default:
		c.value = attrText(m, "office:value")
	}
	if across, down := m.number("table:number-columns-spanned", 1), m.number("table:number-rows-spanned", 1); (across > 1 || down > 1) && across < 1<<20 && down < 1<<20 {
		p.t.merge(Merge{Top: p.row + 1, Bottom: p.row + down, Left: p.col, Right: p.col + across - 1})
	}
	p.text = p.text[:0]
	var inside Look
	if !m.empty {
		if err := p.inside(full, &inside); err != nil {
			return err
		}
	}
	p.put(&c, inside)
	p.col = min(p.col+c.repeated, 1<<20)
	return nil
}

// put puts a cell into the grid as often as it is repeated. An empty one repeated far is a row painted to its end.
func (p *odsTable) put(c *odsCell, inside Look) {
	if c.kind == "" && len(p.text) == 0 && c.repeated > 64 {
		return
	}
	for i := range min(c.repeated, MaxColumns+1) {
		style := p.styleAt(c.style, p.col+i)
		look := style.look
		look.Struck = look.Struck || inside.Struck
		look.Comment = inside.Comment
		text := p.shown(c, style.format, &look)
		look.Unworked = c.formula && len(text) == 0 && c.kind == ""
		p.g.set(p.col+i, text, look)
	}
}

// shown returns what a person reads in the cell.
func (p *odsTable) shown(c *odsCell, format string, look *Look) []byte {
	f := p.formats[format]
	switch c.kind {
	case "date":
		if day, ok := isoDay(c.value); ok {
			look.Date = DateYear
			if f.kind == formatDate && f.noYear || f.kind != formatDate && len(p.text) > 0 && !showsYear(string(p.text), day[:4]) {
				look.Date = DateNoYear
			}
			return []byte(day)
		}
	case "float", "currency", "percentage":
		v, err := strconv.ParseFloat(c.value, 64)
		if err != nil {
			break
		}
		if c.kind == "percentage" {
			f = numberFormat{kind: formatPercent}
		} else if f.kind != formatPercent {
			if worded := wordedNumber(p.text); worded {
				break
			}
			f = numberFormat{}
		}
		p.scratch, _ = f.show(p.scratch[:0], v, false)
		return p.scratch
	case "boolean":
		return truth(c.value == "true", c.value != "")
	}
	if len(p.text) == 0 {
		return []byte(c.value)
	}
	return p.text
}

// showsYear tells whether a date as it is written shows its year: 5/12/25, 12-May-25, but not May 12.
func showsYear(written, year string) bool {
	if strings.Contains(written, year) {
		return true
	}
	groups := len(strings.FieldsFunc(written, func(c rune) bool { return c < '0' || c > '9' }))
	return groups > 2 || groups == 2 && letterIn(written)
}

// wordedNumber tells whether a number is shown with letters beside it or zeros before it: 12 ft, T3, 007.
func wordedNumber(text []byte) bool {
	s := string(text)
	if len(s) > 1 && s[0] == '0' && s[1] >= '0' && s[1] <= '9' {
		return true
	}
	return letterIn(strings.Map(func(c rune) rune {
		if c == 'E' { // 1.2E+10
			return -1
		}
		return c
	}, s))
}

// inside reads the paragraphs of a cell, and its comment.
func (p *odsTable) inside(full string, look *Look) error {
	m := p.m
	begun, reading, struckRuns, runs := false, false, 0, 0
	var spans []bool
	for {
		if err := m.next(); err != nil {
			return cutShort(err)
		}
		name := string(m.full)
		if reading && len(m.text) > 0 {
			before := len(p.text)
			p.text = plain(p.text, collapse(m.text))
			if len(bytes.TrimSpace(p.text[before:])) > 0 {
				runs++
				if len(spans) > 0 && spans[len(spans)-1] {
					struckRuns++
				}
			}
		}
		switch {
		case m.closes && name == full:
			look.Struck = look.Struck || runs > 0 && runs == struckRuns
			return nil
		case name == "text:span" && m.closes:
			if len(spans) > 0 {
				spans = spans[:len(spans)-1]
			}
		case name == "text:span" && !m.empty && len(spans) < 100:
			spans = append(spans, p.struckT[attrText(m, "text:style-name")])
		case name == "text:p" && m.closes:
			reading = false
		case name == "text:p":
			if begun {
				p.text = append(p.text, '\n')
			}
			begun, reading = true, !m.empty
		case m.closes:
		case name == "text:s":
			p.text = append(p.text, strings.Repeat(" ", min(max(m.number("text:c", 1), 1), 100))...)
		case name == "text:tab":
			p.text = append(p.text, '\t')
		case name == "text:line-break":
			p.text = append(p.text, '\n')
		case name == "office:annotation":
			text, err := p.gather("office:annotation")
			if err != nil {
				return err
			}
			look.Comment = text
		case name == "table:table" || name == "draw:frame" || name == "draw:custom-shape":
			text, err := p.gather(name)
			if err != nil {
				return err
			}
			p.t.box(text)
		}
	}
}

// collapse makes one blank of the blanks and line ends between words, as OpenDocument has it.
func collapse(text []byte) []byte {
	if !bytes.ContainsAny(text, "\n\t") && !bytes.Contains(text, []byte("  ")) {
		return text
	}
	out := make([]byte, 0, len(text))
	for i, c := range text {
		if c == '\n' || c == '\t' || c == '\r' {
			c = ' '
		}
		if c == ' ' && i > 0 && len(out) > 0 && out[len(out)-1] == ' ' {
			continue
		}
		out = append(out, c)
	}
	return out
}

// gather returns the paragraphs inside the element just come to, and passes over it.
func (p *odsTable) gather(full string) (string, error) {
	var text []byte
	if p.m.empty {
		return "", nil
	}
	depth, reading := 1, false
	for depth > 0 {
		if err := p.m.next(); err != nil {
			return "", cutShort(err)
		}
		if reading && len(text) < 8*maxCommentText {
			text = plain(text, collapse(p.m.text))
		}
		switch name := string(p.m.full); {
		case name == full && p.m.closes:
			depth--
		case name == full && !p.m.empty:
			depth++
		case name == "text:p" && p.m.closes:
			text, reading = append(text, '\n'), false
		case name == "text:p":
			reading = !p.m.empty
		}
	}
	return commentText(string(text)), nil
}

// shapes reads the text boxes over a table.
func (p *odsTable) shapes() error {
	if p.m.empty {
		return nil
	}
	for {
		if err := p.m.next(); err != nil {
			return cutShort(err)
		}
		name := string(p.m.full)
		if p.m.closes && name == "table:shapes" {
			return nil
		}
		if !p.m.closes && !p.m.empty && strings.HasPrefix(name, "draw:") {
			text, err := p.gather(name)
			if err != nil {
				return err
			}
			p.t.box(text)
		}
	}
}
