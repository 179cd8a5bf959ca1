package sheet

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"tussock/internal/errs"
	"tussock/internal/words"
)

func openText(name string, data []byte, say words.Speaker) (*Book, error) {
	decoded, encoding, orelse := toUTF8(data)
	decoded = bytes.TrimRight(decoded, "\x1a") // DOS marked the end so
	if i := bytes.IndexByte(decoded, 0); i >= 0 {
		return nil, errs.New(errs.Invalid, say.Say("%s is not a table of text: byte %d is zero. Please save the sheet as .xlsx or as “CSV UTF-8” and send that.", name, i+1))
	}
	broken := mayBeBroken(decoded)
	text := string(asSeen(decoded))
	if !strings.Contains(text, "\n") {
		text = strings.ReplaceAll(text, "\r", "\n")
	}
	t := &Table{File: name, RowsHint: strings.Count(text, "\n") + 1}
	text, first, separator := cutSeparatorLine(text)
	d := detect(text, separator)
	if inner, ok := unwrap(text); ok && d.comma == 0 {
		if d = detect(inner, separator); d.comma != 0 {
			text = inner
		}
	}
	t.Delimiter = d.shown()
	t.rows = func(yield func(*Row, error) bool) {
		textRows(&cutter{dialect: d, text: text}, limits{name, say}, first, broken, yield)
	}
	return &Book{File: name, Tables: []*Table{t}, Encoding: encoding, OrElse: orelse}, nil
}

// asSeen writes letters as most programs do, n and a tilde as ñ, and leaves out what nobody sees: blanks without width and
// marks of byte order, as text copied from web pages has them.
func asSeen(text []byte) []byte {
	for _, unseen := range []string{"\u200b", "\ufeff"} {
		if bytes.Contains(text, []byte(unseen)) {
			text = bytes.ReplaceAll(text, []byte(unseen), nil)
		}
	}
	if bytes.IndexByte(text, 0xCC) >= 0 { // where the marks on letters begin
		text = norm.NFC.Bytes(text)
	}
	return text
}

// cutSeparatorLine takes off the line sep=; by which spreadsheet programs are told what separates the cells, and returns
// the number of the row that follows.
func cutSeparatorLine(text string) (rest string, first int, separator byte) {
	line, rest, _ := strings.Cut(text, "\n")
	line = strings.Trim(line, "\"\r ")
	if len(line) == 5 && strings.EqualFold(line[:4], "sep=") && line[4] < utf8.RuneSelf {
		return rest, 2, line[4]
	}
	return text, 1, 0
}

// unwrap takes off the quotation marks around whole lines, as programs put them that take a line for one cell.
func unwrap(text string) (inner string, ok bool) {
	sample := sampleOf(text)
	for line := range strings.Lines(sample) {
		if line = strings.TrimSpace(line); line != "" {
			if _, ok = unquote(line); !ok {
				return "", false
			}
		}
	}
	if !ok {
		return "", false
	}
	var b strings.Builder
	for line := range strings.Lines(text) {
		line, _ = unquote(strings.TrimSpace(line))
		b.WriteString(line)
		b.WriteByte('\n')
	}
	return b.String(), true
}

// unquote returns what stands between the quotation marks around a line; the line itself where there are none.
func unquote(line string) (string, bool) {
	if len(line) < 2 || line[0] != '"' || line[len(line)-1] != '"' {
		return line, false
	}
	inner := line[1 : len(line)-1]
	if strings.Contains(strings.ReplaceAll(inner, `""`, ""), `"`) {
		return line, false
	}
	return strings.ReplaceAll(inner, `""`, `"`), true
}

// textRows yields the rows. Their numbers count as a spreadsheet program does: a cell of several lines is one row, an
// empty line is a row too.
func textRows(c *cutter, l limits, first int, broken bool, yield func(*Row, error) bool) {
	var row Row
	for number, rows := first, 0; c.next(); number++ {
		if blank(c.cells) {
			continue
		}
		row = Row{Number: number, Cells: c.cells}
		rows++
		if rows > MaxRows || len(c.cells) > MaxColumns || c.length > MaxCell {
			if err := l.fits(&row, rows); err != nil {
				yield(nil, err)
				return
			}
		}
		if broken {
			mendRow(&row)
		}
		if !yield(&row, nil) {
			return
		}
	}
}

func blank(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// limits say in words which limit of a file is passed.
type limits struct {
	name string
	say  words.Speaker
}

// fits holds a row to the limits; rows counts it too.
func (l limits) fits(row *Row, rows int) error {
	switch {
	case rows > MaxRows:
		return errs.New(errs.TooLarge, l.say.Say("%s has more than 200 000 rows. Send one season or one ranch at a time.", l.name))
	case len(row.Cells) > MaxColumns:
		return l.tooWide(row.Number, len(row.Cells))
	}
	for _, c := range row.Cells {
		if len(c) > MaxCell && utf8.RuneCountInString(c) > MaxCell {
			return errs.New(errs.TooLarge, l.say.Say("A cell in row %d of %s runs to %d characters. Is it the right file?", row.Number, l.name, utf8.RuneCountInString(c)))
		}
	}
	return nil
}

func (l limits) tooWide(row, columns int) error {
	return errs.New(errs.TooLarge, l.say.Say("Row %d of %s has %d columns; we read up to 1 000. Is it the right file?", row, l.name, columns))
}

// A cutter cuts text into rows of cells that share its memory.
type cutter struct {
	dialect
	text   string
	at     int
	cells  []string // of the row just cut; used again
	length int      // of that row in bytes
	spent  int      // up to here no quoted cell was found to close
	marked []byte   // of a quoted cell with marks inside; used again
}

// next cuts the next row; false at the end.
func (c *cutter) next() bool {
	if c.at >= len(c.text) {
		return false
	}
	c.cells = c.cells[:0]
	from := c.at
	switch {
	case c.comma == 0:
		c.whole(c.line())
	default:
		c.separated()
	}
	c.length = c.at - from
	return true
}

// line returns the next line without its end.
func (c *cutter) line() string {
	line, _, found := strings.Cut(c.text[c.at:], "\n")
	c.at += len(line)
	if found {
		c.at++
	}
	return strings.TrimSuffix(line, "\r")
}

// whole makes one cell of a line. Blanks at its front may line it up with others.
func (c *cutter) whole(line string) {
	if cell, ok := unquote(strings.TrimSpace(line)); ok {
		line = cell
	}
	c.cells = append(c.cells, strings.TrimRight(line, " \t\f\v"))
}

// separated cuts a row at its separators. Blanks before a cell are no part of it.
func (c *cutter) separated() {
	text, comma, quote, cells := c.text, c.comma, c.quote, c.cells
	begin, start, i, quoted := c.at, c.at, c.at, false
loop:
	for ; i < len(text); i++ {
		switch b := text[i]; b {
		case comma:
			cells = append(cells, text[start:i])
			start = i + 1
		case '\n':
			break loop
		case ' ':
			if i == start {
				start++
			}
		case quote:
			if i != start {
				continue
			}
			cell, end, ok := c.quoted(i)
			if !ok {
				continue
			}
			quoted = true
			cells = append(cells, cell)
			if end < len(text) && text[end] == '\r' {
				end++
			}
			if start, i = end+1, end; end >= len(text) || text[end] == '\n' {
				break loop
			}
		}
	}
	end := min(i, len(text))
	c.at = min(i+1, len(text))
	if end > begin && text[end-1] == '\r' {
		end--
	}
	if start <= i { // else a quoted cell was the last
		cells = append(cells, text[start:max(start, end)])
	}
	c.cells = cells
	c.finish(begin, end, quoted)
}

// finish tidies the row that stands from begin to end. A title such as "Dry Fork, nests of 2025" above a table whose
// commas have no space behind them is one cell.
func (c *cutter) finish(begin, end int, quoted bool) {
	if c.tight && !quoted && len(c.cells) > 1 && len(c.cells) < c.columns && spaced(c.text[begin:end], c.comma) {
		c.cells = append(c.cells[:0], strings.TrimSpace(c.text[begin:end]))
	}
	if c.longDates {
		c.cells = joinDates(c.cells)
	}
	if c.trim {
		c.trimCells(c.text[begin:end])
	}
}

// spaced tells whether a blank and a word stand behind every comma.
func spaced(line string, comma byte) bool {
	for {
		i := strings.IndexByte(line, comma)
		if i < 0 {
			return true
		}
		line = line[i+1:]
		if len(line) < 2 || line[0] != ' ' || line[1] == comma || line[1] == ' ' {
			return false
		}
	}
}

// trimCells takes the blanks off cells between bars, the bars at both ends, and lines that only rule.
func (c *cutter) trimCells(line string) {
	if rule(line) {
		c.cells = c.cells[:0]
		return
	}
	for i, s := range c.cells {
		c.cells[i] = strings.TrimSpace(s)
	}
	if n := len(c.cells); c.comma == '|' && n > 2 && c.cells[0] == "" && c.cells[n-1] == "" {
		copy(c.cells, c.cells[1:n-1])
		c.cells = c.cells[:n-2]
	}
}

// rule tells whether a line only draws one.
func rule(line string) bool {
	return len(line) > 2 && strings.Trim(line, "-=+|_:*\t\r ") == "" && strings.ContainsAny(line, "-=_")
}

// quoted reads a quoted cell that opens at i, and returns where it ends: at a separator, a line end, or the end of text.
// False means that the mark is no more than a mark, since nothing closes it: 5" tall.
func (c *cutter) quoted(i int) (cell string, end int, ok bool) {
	if i < c.spent {
		return "", 0, false
	}
	text := c.text
	out := c.marked[:0] // where a mark inside is doubled or escaped
	from, lines, odd := i+1, false, false
	most := min(len(text), i+4*MaxCell)
	for j := i + 1; j < most; j++ {
		switch b := text[j]; {
		case b == '\n':
			if lines = true; odd {
				c.spent = j
				return "", 0, false
			}
		case b == '\\' && c.backslash && j+1 < len(text):
			out = append(append(out, text[from:j]...), text[j+1])
			from = j + 2
			j++
		case b != c.quote:
		case j+1 < len(text) && text[j+1] == c.quote && !c.backslash:
			out = append(out, text[from:j+1]...)
			from = j + 2
			j++
		default:
			end := c.closed(j)
			switch {
			case end < 0 && lines: // a mark opens another cell, so the one at i never closed
				c.spent = j
				return "", 0, false
			case end < 0:
				odd = true // a mark inside that nothing doubled
				continue
			case lines && c.swallows(text[i:end]):
				return "", 0, false
			}
			cell := text[from:j]
			if len(out) > 0 {
				c.marked = append(out, cell...)
				cell = string(c.marked)
			}
			return cell, end, true
		}
	}
	c.spent = most
	return "", 0, false
}

// closed returns where the cell ends that the mark at j closes; -1 where text goes on behind the mark.
func (c *cutter) closed(j int) int {
	end := j + 1
	for end < len(c.text) && c.text[end] == ' ' {
		end++
	}
	if end == len(c.text) || c.text[end] == c.comma || c.text[end] == '\n' || strings.HasPrefix(c.text[end:], "\r\n") {
		return end
	}
	return -1
}

// swallows tells whether whole rows of the table stand in a quoted cell of several lines, since its mark was never closed.
func (c *cutter) swallows(cell string) bool {
	_, inner, _ := strings.Cut(cell, "\n")
	for c.columns > 2 {
		line, rest, more := strings.Cut(inner, "\n")
		if !more {
			return false
		}
		if strings.Count(line, string(rune(c.comma))) == c.columns-1 {
			return true
		}
		inner = rest
	}
	return false
}
