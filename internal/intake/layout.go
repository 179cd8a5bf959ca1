package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

type tableKind uint8

const (
	kindNone tableKind = iota
	kindNests
	kindChecks
	kindBelts
	kindSites
)

// A table is one sheet.Table once its headings are understood.
type table struct {
	*sheet.Table
	index   int
	file    *file
	kind    tableKind
	cols    []column
	at      [roleAreaUnit + 1]int // the column of each single role, -1 where there is none
	pairs   []pair
	notes   []int  // columns of notes and of features, in order
	headRow int    // the last row of headings
	titles  []int  // rows above the headings
	double  bool   // two heading rows
	line    string // the transect, where it is the tab's name

	last       []string // by column: the last value that stood there, for ditto marks and merged cells
	dates      map[string]dateReading
	states     map[string]stateReading
	substrates map[string]survey.Substrate // our own words, as spelled here
	year       int                         // of the first date written with its year

	totals []totalRow
	agrees string // how our count compares with the total row, as a sentence with a space before it
	from   int    // the first nest of the table
}

// A pair is one visit of a wide table: where its date and its state stand.
type pair struct {
	number          int
	on, state, eggs int         // columns, -1 for none
	heading         dateReading // the date in the heading, for columns headed by one
	filled          int         // how many rows say anything here
}

type totalRow struct {
	row   int
	cells []string
}

// headRows is how many of the first rows are searched for headings.
const headRows = 25

// findHeadings looks for the row, or the two rows, that head a table.
func (r *reader) findHeadings(t *sheet.Table, rows []bufferedRow) (cols []column, kind tableKind, from, to int) {
	best := 0
	consider := func(candidate []column, i, j int) {
		k := kindOf(candidate)
		if k == kindNone {
			return
		}
		score := 0
		for _, c := range candidate {
			if c.role != roleNone {
				score++
			}
		}
		if score > best {
			best, cols, kind, from, to = score, candidate, k, i, j
		}
	}
	for i := range rows {
		consider(r.headings(rows[i].cells), i, i)
	}
	for i := 0; i+1 < len(rows); i++ {
		consider(r.headings(stacked(t, rows[i], rows[i+1], r.lex.vocabulary)), i, i+1)
	}
	return cols, kind, from, to
}

func (r *reader) headings(cells []string) []column {
	cols := make([]column, len(cells))
	for i, c := range cells {
		cols[i] = r.lex.vocabulary.heading(c)
	}
	return cols
}

// stacked joins two heading rows: what stands above a blank reaches over to it.
func stacked(t *sheet.Table, top, bottom bufferedRow, v vocabulary) []string {
	out := make([]string, max(len(top.cells), len(bottom.cells)))
	above := ""
	for i := range out {
		var a, b string
		if i < len(top.cells) {
			a = tidy(top.cells[i])
		}
		if i < len(bottom.cells) {
			b = tidy(bottom.cells[i])
		}
		if a != "" {
			above = a
		}
		switch {
		case b == "":
			out[i] = a
		case a == "" && above != "" && v.heading(above+" "+b).role != roleNone:
			out[i] = above + " " + b
		case a != "" && v.heading(a+" "+b).role != roleNone:
			out[i] = a + " " + b
		default:
			out[i] = b
		}
	}
	return out
}

// kindOf tells the four tables apart by their columns.
func kindOf(cols []column) tableKind {
	var has [roleAreaUnit + 1]bool
	for _, c := range cols {
		has[c.role] = true
	}
	switch {
	case has[roleNest] && has[roleCheckedOn] && (has[roleState] || has[roleEggsLeft]) && !has[rolePairState]:
		return kindChecks
	case has[roleNest] && (has[roleSetOn] || has[rolePairState] || has[rolePairEggs] || has[roleDated] || has[roleSubstrate] || has[roleTransect]):
		return kindNests
	case has[roleLength] || has[roleWidth] || has[roleCount] || has[roleClumps] && (has[roleBelt] || has[roleTransect]):
		return kindBelts
	case (has[roleRanch] || has[roleSite]) && (has[roleOwner] || has[roleRegion] || has[roleType] || has[roleArea]):
		return kindSites
	}
	return kindNone
}

// uses tells whether a column of this role means anything in a table of this kind.
func (k tableKind) uses(ro role) bool {
	switch k {
	case kindBelts:
		return ro <= roleTransect || ro == roleSubstrate || ro == roleNotes || ro >= roleLength && ro <= roleBelt
	case kindSites:
		return ro <= roleSite || ro == roleNotes || ro >= roleOwner
	case kindChecks:
		return ro < roleLength && ro != rolePairOn && ro != rolePairEggs && ro != roleDated
	}
	return ro < roleLength
}

// settleColumns gives each role its column and makes the pairs.
func (r *reader) settleColumns(t *table) {
	for i := range t.at {
		t.at[i] = -1
	}
	var has [roleAreaUnit + 1]bool
	for _, c := range t.cols {
		has[c.role] = true
	}
	for i := range t.cols {
		c := &t.cols[i]
		if c.role == roleLook && !has[roleState] && t.kind == kindChecks {
			c.role = roleState
		}
		if t.kind == kindNests && (c.role == roleState || c.role == roleCheckedOn) { // a single check without a number
			if c.role == roleState {
				c.role, c.number = rolePairState, 1
			} else if has[roleState] || has[roleEggsLeft] {
				c.role, c.number = rolePairOn, 1
			}
		}
		if t.kind == kindBelts {
			r.beltColumn(t, c)
		}
	}
	for i := range t.cols {
		c := &t.cols[i]
		if !t.kind.uses(c.role) {
			c.role = roleNone
		}
		switch c.role {
		case roleNone:
			if c.heading != "" {
				r.notUsed(t, c.heading)
			}
		case rolePairOn, rolePairState, rolePairEggs, roleDated:
		case roleFeature, roleCount:
			t.notes = append(t.notes, i)
		default:
			if t.at[c.role] >= 0 {
				if c.role != roleNotes && c.role != roleLook {
					r.notUsed(t, c.heading)
				}
				continue
			}
			t.at[c.role] = i
		}
	}
	t.makePairs(t.Date1904)
}

// beltColumn reads headings that mean something in a table of belts only.
func (r *reader) beltColumn(t *table, c *column) {
	switch c.role {
	case roleNone:
		if s, ok := substrateOf(fold(c.heading)); ok && c.heading != "" {
			c.role, c.count = roleCount, s
		}
	case roleSteps:
		c.role, c.unit = roleLength, "steps"
	case roleSite:
		if oneOf(fold(c.heading), "unit", "unidad") && !slices.ContainsFunc(t.cols, func(c column) bool { return c.role == roleLengthUnit }) {
			c.role = roleUnit
		}
	}
}

func (t *table) makePairs(date1904 bool) {
	find := func(n int) *pair {
		for i := range t.pairs {
			if t.pairs[i].number == n {
				return &t.pairs[i]
			}
		}
		t.pairs = append(t.pairs, pair{number: n, on: -1, state: -1, eggs: -1})
		return &t.pairs[len(t.pairs)-1]
	}
	weeks := map[int]bool{} // days after setting of columns such as "week 2 date"
	for _, c := range t.cols {
		if c.role == rolePairOn && c.number < 0 {
			weeks[-c.number] = true
		}
	}
	for i, c := range t.cols {
		switch {
		case c.role == rolePairOn && c.number > 0:
			find(c.number).on = i
		case c.role == rolePairOn:
			find(1000 - c.number).on = i
		case c.role == rolePairState:
			find(c.number).state = i
		case c.role == rolePairEggs:
			find(c.number).eggs = i
		case c.role == roleDated && c.number > 0:
			p := find(1000 + c.number)
			p.state = i
			if !weeks[c.number] {
				p.heading = dateReading{form: dateWeek, after: c.number}
			}
		case c.role == roleDated:
			p := find(2000 + i)
			p.state = i
			p.heading = readDate(c.date, date1904)
		}
	}
	for i := range t.pairs { // eggs without a word are the word
		if p := &t.pairs[i]; p.state < 0 && p.eggs >= 0 {
			p.state, p.eggs = p.eggs, -1
		}
	}
	t.pairs = slices.DeleteFunc(t.pairs, func(p pair) bool { return p.state < 0 })
	slices.SortStableFunc(t.pairs, func(a, b pair) int { return a.number - b.number })
}

// missing names the needed columns a table lacks, with the other spellings people use.
func (t *table) missing(v voice) []string {
	var out []string
	need := func(r role, name string) {
		if t.at[r] < 0 {
			out = append(out, name)
		}
	}
	switch t.kind {
	case kindNests, kindChecks, kindBelts:
		if t.line == "" {
			need(roleTransect, v.Say("transect (or line, línea)"))
		}
	}
	return out
}

// lineFromTab reads the transect from a tab's name where there is a tab for each line.
func lineFromTab(name string) string {
	w := words(name)
	for _, lead := range []string{"line ", "transect ", "linea ", "transecto ", "trans "} {
		if rest, ok := strings.CutPrefix(w, lead); ok && rest != "" {
			fields := strings.Fields(name)
			return fields[len(fields)-1]
		}
	}
	if _, err := strconv.Atoi(w); err == nil {
		return tidy(name)
	}
	return ""
}

func (t *table) cell(row int, col int) survey.Cell {
	c := survey.Cell{File: t.File, Sheet: t.Name, Row: row}
	if col >= 0 && col < len(t.cols) {
		c.Column = t.cols[col].heading
	}
	return c
}

func (t *table) place(rest ...any) string {
	return t.File + "\x00" + t.Name + "\x00" + fmt.Sprint(rest...)
}

// A bufferedRow is kept while the headings are searched for.
type bufferedRow struct {
	number int
	cells  []string
	hidden bool
	mended []sheet.Mend
}
