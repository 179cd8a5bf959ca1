package readback

import (
	"slices"

	"tussock/internal/intake"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A tab names one table of a reading.
type tab struct{ file, sheet string }

// A told is what one cell, or one row, was named in.
type told struct {
	column string // as the reading names it: a heading, a letter, one of our own names; "" for the whole row
	mark   Mark
	ref    int
}

// tabMarks are all cells of one table that something was said of, by row.
type tabMarks struct {
	rows map[int][]told
}

// marksOf gathers every cell that a reading names, by table.
func marksOf(res *intake.Result) map[tab]*tabMarks {
	all := map[tab]*tabMarks{}
	add := func(cells []survey.Cell, mark Mark, ref int) {
		for _, c := range cells {
			if c.Row <= 0 {
				continue
			}
			key := tab{c.File, c.Sheet}
			if all[key] == nil {
				all[key] = &tabMarks{rows: map[int][]told{}}
			}
			all[key].rows[c.Row] = append(all[key].rows[c.Row], told{c.Column, mark, ref})
		}
	}
	for i, t := range res.Tidied {
		add(t.Cells, Tidied, i)
	}
	for i, a := range res.NotUsed {
		add(a.Cells, Aside, i)
	}
	for i, r := range refusals(res) {
		add(r.cells, Refused, i)
	}
	for i, q := range res.Questions {
		add(q.Cells, Asked, i)
	}
	return all
}

// put marks the cells of a row and tells whether it has more to say than that a word in it was tidied, or that a column is not
// used.
func (m *tabMarks) put(r *Row, b *blocks) (loud bool) {
	for _, t := range m.rows[r.N] {
		if t.column == "" {
			if t.mark > r.Mark && t.mark != Tidied { // the note names its rows, and nothing in them is written otherwise
				r.Mark, r.Ref = t.mark, t.ref
			}
			continue
		}
		for _, col := range b.columns(t.column, r) {
			for len(r.Cells) <= col {
				r.Cells = append(r.Cells, Cell{})
			}
			if c := &r.Cells[col]; t.mark > c.Mark {
				c.Mark, c.Ref = t.mark, t.ref
			}
		}
	}
	return r.loud()
}

// columns are the columns of a row that a name can stand for: the ones so headed, else the one of that letter, else the one
// that holds what we call so. Where tables side by side head columns alike, empty cells are left out.
func (b *blocks) columns(name string, r *Row) []int {
	var found []int
	filled := func(col int) bool { return col < len(r.Cells) && r.Cells[col].Text != "" }
	for _, col := range b.headed[name] {
		if len(b.headed[name]) == 1 || filled(col) {
			found = append(found, col)
		}
	}
	if col := column(name); col >= 0 && (len(found) == 0 || filled(col) && !slices.ContainsFunc(found, filled)) {
		return keep(col)
	}
	if len(found) == 0 {
		for _, col := range b.roles[name] {
			if len(b.roles[name]) == 1 || filled(col) {
				found = append(found, col)
			}
		}
	}
	return slices.DeleteFunc(found, func(col int) bool { return col >= columnsMost })
}

func keep(col int) []int {
	if col >= columnsMost {
		return nil
	}
	return []int{col}
}

// column is the number of the column that spreadsheet programs call by letters, from 0; -1 for anything else.
func column(letters string) int {
	n := 0
	for i := range len(letters) {
		c := letters[i]
		if c < 'A' || c > 'Z' || i > 2 {
			return -1
		}
		n = n*26 + int(c-'A') + 1
	}
	return n - 1
}

// sameHeading tells whether a cell heads a column, alone or as one of two rows of headings.
func sameHeading(heading, cell string) bool {
	cell = lexicon.Tidy(cell)
	if cell == "" || heading == "" {
		return false
	}
	if cell == heading {
		return true
	}
	if len(cell) >= len(heading) {
		return false
	}
	return heading[:len(cell)] == cell && heading[len(cell)] == ' ' || heading[len(heading)-len(cell):] == cell && heading[len(heading)-len(cell)-1] == ' '
}
