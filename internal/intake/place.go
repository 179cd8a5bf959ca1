package intake

import "tussock/internal/survey"

// A place is a survey.Cell in a fifth of its size, of which there are several for each nest: its names are those of places. The
// zero place is the zero Cell.
type place struct {
	tab, column uint32
	row         int32
}

// places gives tabs and columns numbers.
type places struct {
	tabs      []survey.Cell // of each a file and a tab
	columns   []string
	tabIDs    map[survey.Cell]uint32
	columnIDs map[string]uint32
}

func newPlaces() places {
	return places{[]survey.Cell{{}}, []string{""}, map[survey.Cell]uint32{{}: 0}, map[string]uint32{"": 0}}
}

func (p *places) of(c survey.Cell) place {
	if c == (survey.Cell{}) {
		return place{} // of most nests
	}
	at := place{row: int32(c.Row)}
	at.column = p.column(c.Column)
	var ok bool
	c.Row, c.Column = 0, ""
	if last := uint32(len(p.tabs) - 1); p.tabs[last] == c { // mostly
		at.tab = last
	} else if at.tab, ok = p.tabIDs[c]; !ok {
		at.tab = last + 1
		p.tabs = append(p.tabs, c)
		p.tabIDs[c] = at.tab
	}
	return at
}

// column numbers a column: mostly one of the few first.
func (p *places) column(name string) uint32 {
	for i := range min(len(p.columns), 8) {
		if p.columns[i] == name {
			return uint32(i)
		}
	}
	n, ok := p.columnIDs[name]
	if !ok {
		n = uint32(len(p.columns))
		p.columns = append(p.columns, name)
		p.columnIDs[name] = n
	}
	return n
}

func (p *places) cell(at place) survey.Cell {
	c := p.tabs[at.tab]
	c.Row, c.Column = int(at.row), p.columns[at.column]
	return c
}

func (p *places) cells(list []place) []survey.Cell {
	var cells []survey.Cell
	for _, at := range list {
		cells = append(cells, p.cell(at))
	}
	return cells
}
