package sheet

import (
	"iter"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// A Table is one worksheet, or a CSV file's only table.
type Table struct {
	File, Name string // Name is "" for CSV
	Hidden     bool   // the worksheet is hidden
	Delimiter  rune   // of CSV; 0 in a workbook
	Date1904   bool   // serial dates count from 1904, as old Macintosh workbooks do
	RowsHint   int    // about how many rows there are; 0 where it cannot be told cheaply
	Coloured   []Colour

	merges   map[int][]Merge // by column from 0, in order of rows
	unworked map[[2]int]bool // row and column of formulas without a value

	rows func(yield func(*Row, error) bool)
}

// A Row is one row that holds anything.
type Row struct {
	Number int      // from 1, as the spreadsheet program numbers it
	Cells  []string // by column; the slice is used again for the next row, the strings may be kept
	Looks  []Look   // by column, used again like Cells; shorter than Cells, or nil, where nothing is to be told
	Hidden bool
	Mended []Mend // cells in which broken accents were mended
}

// A Look is what a cell shows besides its text.
type Look struct {
	Fill     string // the name of its background colour, as Colour names it; "" for none or white
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

// A Colour is a filled cell. Columns count from 0.
type Colour struct {
	Row, Column int
	Name        string // "yellow", or "coloured" where the workbook's theme decides
}

// Rows goes through the rows in order, without those that hold nothing. An error ends it and carries a sentence for
// the sender.
func (t *Table) Rows() iter.Seq2[*Row, error] { return t.rows }

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

// Unworked tells whether a cell holds a formula whose value the workbook does not hold.
func (t *Table) Unworked(row, column int) bool { return t.unworked[[2]int{row, column}] }

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
const suspicious = "ÃÂ√¬"

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

func mendRow(row *Row) {
	for i, cell := range row.Cells {
		if mended, ok := mend(cell); ok {
			row.Mended = append(row.Mended, Mend{Column: i, Was: cell})
			row.Cells[i] = mended
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
