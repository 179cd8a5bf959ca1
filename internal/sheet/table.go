package sheet

import (
	"bytes"
	"iter"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// A Table is one worksheet, a table of a web page, or a text file's only table.
type Table struct {
	File, Name    string   // Name is "" for text
	Hidden        bool     // the worksheet is hidden
	Delimiter     rune     // of text: what separates its cells; 0 where each line is one cell, and in a workbook
	Date1904      bool     // serial dates count from 1904, as old Macintosh workbooks do
	RowsHint      int      // about how many rows there are
	HiddenColumns []int    // from 0, in order
	Boxes         []string // what is written in text boxes over the cells

	merges map[int][]Merge // by column from 0, in order of rows
	merged int             // how many entries that are

	rows func(yield func(*Row, error) bool)
}

// A Row is one row that holds anything.
type Row struct {
	Number int      // from 1, as the spreadsheet program numbers it
	Cells  []string // by column; the slice is used again for the next row. The strings may be kept; each holds on to text around it
	Looks  []Look   // by column, used again like Cells; shorter than Cells, or nil, where nothing is to be told
	Hidden bool
	Mended []Mend // cells in which broken accents were mended
}

// A Look is what a cell shows besides its text.
type Look struct {
	Fill     string // the name of its background color, as colorName gives it; "" for none or white
	Date     DateLook
	Struck   bool   // the text is crossed out
	Unworked bool   // a formula whose value the file does not hold
	Comment  string // the note attached to the cell
}

// A DateLook says whether a cell is a date to the spreadsheet program. Such a cell's text is its day in ISO 8601.
type DateLook uint8

// NoDate is any other cell; DateNoYear is a date whose format hides the year, so that whoever typed it never saw which
// year the program filled in.
const (
	NoDate DateLook = iota
	DateYear
	DateNoYear
)

// Look returns what the cell in column shows besides its text.
func (r *Row) Look(column int) Look {
	if column >= len(r.Looks) {
		return Look{}
	}
	return r.Looks[column]
}

// A Mend is a cell whose accents had been broken by an earlier program, and what stood there.
type Mend struct {
	Column int // from 0
	Was    string
}

// A Merge is a block of merged cells; its value stands at the top left. Columns count from 0, rows from 1.
type Merge struct{ Top, Bottom, Left, Right int }

// Rows goes through the rows in order, without those that hold nothing. An error ends it and carries a sentence for
// the sender.
func (t *Table) Rows() iter.Seq2[*Row, error] { return t.rows }

// maxMerged is how many merged blocks are kept, each as often as it is columns wide; more say nothing new to anyone.
const maxMerged = 500_000

// merge notes a block of merged cells; sortMerges is to follow once all are known.
func (t *Table) merge(m Merge) {
	if m.Top < 1 || m.Bottom < m.Top || m.Left < 0 || m.Right < m.Left || t.merged > maxMerged {
		return
	}
	t.merged += min(m.Right-m.Left, MaxColumns) + 1
	if t.merges == nil {
		t.merges = map[int][]Merge{}
	}
	for c := m.Left; c <= min(m.Right, MaxColumns); c++ {
		t.merges[c] = append(t.merges[c], m)
	}
}

func (t *Table) sortMerges() {
	for _, list := range t.merges {
		slices.SortFunc(list, func(a, b Merge) int { return a.Top - b.Top })
	}
}

// hideColumns notes that the columns from first to last are hidden, as far as we read.
func (t *Table) hideColumns(first, last int) {
	for c := max(first, 0); c <= min(last, MaxColumns-1) && len(t.HiddenColumns) < MaxColumns; c++ {
		t.HiddenColumns = append(t.HiddenColumns, c)
	}
}

func (t *Table) box(text string) {
	if text = commentText(text); text != "" && len(t.Boxes) < maxBoxes && !slices.Contains(t.Boxes, text) {
		t.Boxes = append(t.Boxes, text)
	}
}

// Merged returns the block of merged cells a cell belongs to.
func (t *Table) Merged(row, column int) (Merge, bool) {
	list := t.merges[column]
	if len(list) == 0 {
		return Merge{}, false
	}
	i, found := slices.BinarySearchFunc(list, row, func(m Merge, row int) int { return m.Top - row })
	if !found {
		i--
	}
	if i < 0 || row > list[i].Bottom {
		return Merge{}, false
	}
	return list[i], true
}

// HasMerges tells whether any cells are merged, so that a reader can save itself the look-ups.
func (t *Table) HasMerges() bool { return len(t.merges) > 0 }

// SerialDate turns the number by which spreadsheets store a day into that day. Serial 60 of the 1900 system is the
// 29 February 1900 that never was; days before it are shifted so that 1 is 1 January 1900
// (ECMA-376-1:2016, 18.17.4, cited from memory).
func SerialDate(serial float64, date1904 bool) time.Time {
	day := int(serial)
	if date1904 {
		return time.Date(1904, time.January, 1+day, 0, 0, 0, 0, time.UTC)
	}
	if day < 60 {
		day++
	}
	return time.Date(1899, time.December, 30+day, 0, 0, 0, 0, time.UTC)
}

// suspicious are the first letters of what UTF-8 looks like when read as Windows-1252 or as Mac Roman.
const suspicious = "ÃÂ√¬â‚"

// mend undoes one wrong reading of UTF-8: "niÃ±o" and "ni√±o" were both "niño".
func mend(s string) (string, bool) {
	if !strings.ContainsAny(s, suspicious) {
		return s, false
	}
	for _, as := range []*charmap.Charmap{charmap.Windows1252, charmap.ISO8859_1, charmap.Macintosh} {
		was, err := as.NewEncoder().String(s)
		if err == nil && utf8.ValidString(was) && utf8.RuneCountInString(was) < utf8.RuneCountInString(s) {
			return was, true
		}
	}
	return s, false
}

// mayBeBroken tells whether text holds any letter that broken accents begin with, so that most text is spared the search.
func mayBeBroken(text []byte) bool {
	return slices.ContainsFunc([]rune(suspicious), func(c rune) bool { return bytes.Contains(text, []byte(string(c))) })
}

func mendRow(row *Row) {
	for i, cell := range row.Cells {
		if mended, ok := mend(cell); ok {
			row.Mended = append(row.Mended, Mend{Column: i, Was: cell})
			row.Cells[i] = mended
		}
	}
}
