package sheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"

	"tussock/internal/errs"
	"tussock/internal/words"
)

func openText(name string, data []byte, say words.Speaker) (*Book, error) {
	text, encoding := toUTF8(data)
	if i := bytes.IndexByte(text, 0); i >= 0 {
		return nil, errs.New(errs.Invalid, say.Say("%s is not a table of text: byte %d is zero. Please save the sheet as .xlsx or as “CSV UTF-8” and send that.", name, i+1))
	}
	if bytes.IndexByte(text, '\n') < 0 {
		text = bytes.ReplaceAll(text, []byte("\r"), []byte("\n"))
	}
	t := &Table{File: name, RowsHint: bytes.Count(text, []byte("\n")) + 1}
	first := 1
	if rest, ok := bytes.CutPrefix(text, []byte("sep=")); ok && len(rest) > 1 && (rest[1] == '\n' || rest[1] == '\r') && strings.IndexByte(",;\t", rest[0]) >= 0 {
		t.Delimiter = rune(rest[0])
		_, text, _ = bytes.Cut(text, []byte("\n"))
		first = 2
	} else {
		t.Delimiter = sniff(text)
	}
	t.rows = func(yield func(*Row, error) bool) { csvRows(name, text, t.Delimiter, first, say, yield) }
	return &Book{File: name, Tables: []*Table{t}, Encoding: encoding}, nil
}

// csvRows yields the rows of text. Row numbers count as a spreadsheet program does: a quoted cell of several lines
// is one row, an empty line is a row too.
func csvRows(name string, text []byte, delimiter rune, first int, say words.Speaker, yield func(*Row, error) bool) {
	quoted := bytes.IndexByte(text, '"') >= 0
	broken := slices.ContainsFunc([]rune(suspicious), func(c rune) bool { return bytes.Contains(text, []byte(string(c))) })
	r := csv.NewReader(bytes.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes, r.ReuseRecord = delimiter, -1, true, true
	r.TrimLeadingSpace = quoted && delimiter != '\t' // so that a quotation mark after a space still opens a cell

	var row Row
	rows, inside := 0, 0
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			yield(nil, errs.Hide(errs.Invalid, say.Say("%s could not be read on from row %d. Please save it again as “CSV UTF-8” or .xlsx and send that.", name, row.Number+1), err))
			return
		}
		line, _ := r.FieldPos(0)
		row = Row{Number: line - inside + first - 1, Cells: cells}
		if quoted {
			for _, c := range cells {
				inside += strings.Count(c, "\n")
			}
		}
		if blank(cells) {
			continue
		}
		rows++
		if err := fits(name, &row, rows, say); err != nil {
			yield(nil, err)
			return
		}
		if broken {
			mendRow(&row)
		}
		if !yield(&row, nil) {
			return
		}
	}
}

// fits holds a row to the limits.
func fits(name string, row *Row, rows int, say words.Speaker) error {
	switch {
	case rows > MaxRows:
		return errs.New(errs.TooLarge, say.Say("%s has more than 200 000 rows. Send one season or one ranch at a time.", name))
	case len(row.Cells) > MaxColumns:
		return errs.New(errs.TooLarge, say.Say("Row %d of %s has %d columns; we read up to 1 000. Is it the right file?", row.Number, name, len(row.Cells)))
	}
	for _, c := range row.Cells {
		if len(c) > MaxCell {
			return errs.New(errs.TooLarge, say.Say("A cell in row %d of %s runs to %d characters. Most likely a quotation mark is opened there and never closed: please close it or take it out.", row.Number, name, len(c)))
		}
	}
	return nil
}

// sniff finds what separates the cells: of comma, semicolon and tab the one that cuts most of the first lines into
// the same number of cells, weighed by that number. Marks inside quotation marks do not count.
func sniff(text []byte) rune {
	const lines = 50
	best, bestScore := ',', 0
	for _, d := range []byte{',', ';', '\t'} {
		seen := map[int]int{}
		count, line, quoted := 0, 0, false
		for _, b := range text[:min(len(text), 64<<10)] {
			switch {
			case b == '"':
				quoted = !quoted
			case quoted:
			case b == d:
				count++
			case b == '\n':
				seen[count]++
				count = 0
				line++
			}
			if line == lines {
				break
			}
		}
		seen[count]++
		for count, n := range seen {
			if score := count * n; score > bestScore {
				best, bestScore = rune(d), score
			}
		}
	}
	return best
}
