package export

import (
	"tussock/internal/survey"
)

// A kind is what the cells of a column hold; a nil cell is "nobody wrote it down" in all of them.
type kind int

const (
	text    kind = iota // string
	word                // string, one of the column's choices
	integer             // int
	number              // float64
	date                // survey.Date
	year                // int
)

// A column is one variable, described once for every format.
type column struct {
	name    string
	kind    kind
	en, es  string // its title
	meaning string
	choices []string // of a word
	least   *float64 // of an integer or number
	most    *float64
	needed  bool   // never nil
	unique  bool   // names the row
	private bool   // leads back to a nest: in the owner's own CSV only
	term    string // its Darwin Core term, in a Darwin Core archive
}

// A table is rows of one thing.
type table struct {
	name    string // of the file, without its ending
	en, es  string
	meaning string
	columns []column
	links   []link
	unique  []string // columns that together name a row, some of which may be nil
	rows    [][]any
}

// A link says that a column repeats the key of another table.
type link struct{ column, table, key string }

// shared is the table without its private columns.
func (t table) shared() table {
	var keep []int
	columns := t.columns
	t.columns = nil
	for i, c := range columns {
		if !c.private {
			keep = append(keep, i)
			t.columns = append(t.columns, c)
		}
	}
	rows := t.rows
	t.rows = make([][]any, len(rows))
	for i, row := range rows {
		for _, k := range keep {
			t.rows[i] = append(t.rows[i], row[k])
		}
	}
	return t
}

// The cells of values for which zero means "nobody wrote it down".

func textOr(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func dateOr(d survey.Date) any {
	if d == 0 {
		return nil
	}
	return d
}

func positive(x float64) any {
	if x <= 0 {
		return nil
	}
	return x
}

func numberOr(x *float64) any {
	if x == nil {
		return nil
	}
	return *x
}

func ptr(x float64) *float64 { return &x }
