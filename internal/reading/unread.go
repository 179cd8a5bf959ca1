package reading

import (
	"strconv"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// leastTelling is how many cells that nobody could use must speak of nests before the sender hears that nests may be missing
// (common practice, no source: a remark or two below a table does).
const leastTelling = 3

// refuseUnread says where a sheet seems to tell of nests and none were read: silence would look like a sheet without them.
func (r *reader) refuseUnread() {
	type found struct {
		g           *grid
		first, last int
		cells       int
	}
	at := map[int]*found{}
	apart := map[int]int{} // by tab: cells in tables of which we know nothing
	count := func(g *grid, c *cell) {
		if c.text == "" || c.span || c.down {
			return
		}
		f := at[g.index]
		if f == nil {
			f = &found{g: g, first: c.row}
			at[g.index] = f
		}
		f.first, f.last = min(f.first, c.row), max(f.last, c.row)
		f.cells++
	}
	tell := func(g *grid, c *cell) {
		if c.text != "" && r.tellsOfNest(c.text) {
			count(g, c)
		}
	}
	for _, c := range r.captions {
		if c.used == "" && !r.spoke(c) {
			tell(c.g, c.c)
		}
	}
	for _, b := range r.blocks {
		if b.kind == lineTable && b.name != "told" { // what was found on a line, of which no nest came
			for _, v := range b.visits {
				for _, rec := range b.records {
					if v.found >= 0 {
						count(b.g, b.g.lines[rec.row].at(b.cols[v.found].at))
					}
				}
			}
		}
		if b.kind == notOurs && b.name == "" {
			for _, rec := range b.records {
				l := &b.g.lines[rec.row]
				for col := b.left; col < min(b.right, len(l.cells)); col++ {
					c := &l.cells[col]
					tell(b.g, c)
					if b.right-b.left >= 4 && !c.span && !c.down && (c.text != "" && r.tellsOfNest(c.text) || c.text == "" && c.look().Fill != "" && r.colorKey(b) != nil) {
						apart[b.g.index]++
						if f := at[b.g.index]; f == nil {
							at[b.g.index] = &found{g: b.g, first: c.row, last: c.row}
						} else {
							f.first, f.last = min(f.first, c.row), max(f.last, c.row)
						}
					}
				}
			}
		}
	}
	for _, g := range r.grids {
		f := at[g.index]
		if f == nil || apart[g.index] <= leastTelling && (f.cells < leastTelling || f.cells <= r.nestRows[g.index]) {
			continue
		}
		where := strconv.Itoa(f.first)
		if f.last > f.first {
			where += "–" + strconv.Itoa(f.last)
		}
		r.Refuse(survey.Cell{File: g.File, Sheet: g.Name, Row: f.first}, "", r.Say("Rows %s seem to tell of nests, and we could not read them. Nothing from there counts. Please write one nest a row: its line and number, its cover, the day it was set, and for each check the day and what was found.", where))
	}
}

// tellsOfNest tells whether a cell can only be about what became of a nest: a state alone, or a state with a day or a nest
// beside it.
func (r *reader) tellsOfNest(text string) bool {
	if k := r.kindOf(text); k.words <= 4 && k.sight.Mark.State() != "" && !k.sight.Weak {
		return true
	}
	state, more := false, false
	for _, it := range r.scan(text) {
		switch it.is {
		case aState:
			state = state || it.sight.Mark.State() != "" || it.mark.State() != ""
		case aDate, someNests, aVisit:
			more = true
		}
	}
	return state && (more || lexicon.Digit(text[0]))
}
