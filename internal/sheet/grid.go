package sheet

import (
	"bytes"
	"slices"
	"unicode/utf8"

	"tussock/internal/words"
)

// A grid holds the rows of one worksheet that hold anything, in about the memory of their text: a worksheet is known
// whole only at its end, where its merged cells stand, or not in order at all. Cells lie in blocks of some 64 kB, their
// looks as numbers into a list.
type grid struct {
	*room
	table  *Table
	blocks []block

	text   []byte // of the block being filled
	ends   []uint32
	styles []uint16
	rows   []gridRow
	looked bool // some cell of the block has a look

	row     []gridCell // the row being filled, by column
	tooLong bool       // one of its cells is, or all together are; the row will be refused
	far     int        // column behind the last that we read no more of, from 1
	rowText []byte
	looks   []Look
	number  map[Look]uint16
}

// A room is what is left of one file's limits.
type room struct {
	limits
	rows  int
	bytes int
}

// How many bytes the cells of one file may take: what 200 000 rows of 29 columns need, and a third more; and the text of
// one row.
const (
	maxHeld    = 128 << 20
	maxRowText = 4 << 20
)

func newRoom(name string, say words.Speaker) *room {
	return &room{limits: limits{name, say}, bytes: maxHeld}
}

type block struct {
	text   string
	ends   []uint32
	styles []uint16 // nil where no cell of the block has a look
	rows   []gridRow
	mended bool // may hold broken accents
}

type gridRow struct {
	number, cells int
	hidden        bool
}

type gridCell struct {
	from, to int // in rowText
	look     uint16
}

const blockBytes = 64 << 10

func (r *room) grid(t *Table) *grid {
	g := &grid{room: r, table: t, looks: []Look{{}}, number: map[Look]uint16{{}: 0}}
	t.rows = g.each
	return g
}

// set puts a cell into the row being filled. A cell without text matters by its look alone; beyond the columns we read
// such a cell is let go, and one with text has the row refused.
func (g *grid) set(column int, text []byte, look Look) {
	switch {
	case column < 0 || g.tooLong || len(text) == 0 && look == Look{}:
		return
	case column >= MaxColumns:
		if len(bytes.TrimSpace(text)) > 0 {
			g.far = max(g.far, column+1)
		}
		return
	case len(text) > 4*MaxCell:
		text, g.tooLong = text[:4*MaxCell+1], true
	case len(g.rowText) > maxRowText:
		g.tooLong = true
		return
	}
	for len(g.row) <= column {
		g.row = append(g.row, gridCell{})
	}
	from := len(g.rowText)
	g.rowText = appendClean(g.rowText, text)
	g.row[column] = gridCell{from, len(g.rowText), g.lookNumber(look)}
}

// appendClean adds text without the characters that no text may hold: what is not UTF-8, and all control characters but
// tabs and line ends. Line ends become single.
func appendClean(into, text []byte) []byte {
	plain := true
	for _, c := range text {
		if c < ' ' || c >= utf8.RuneSelf {
			plain = false
			break
		}
	}
	if plain {
		return append(into, text...)
	}
	text = asSeen(text)
	for len(text) > 0 {
		c, size := utf8.DecodeRune(text)
		if c >= ' ' && c != utf8.RuneError || c == '\n' || c == '\t' {
			into = append(into, text[:size]...)
		} else if c == utf8.RuneError {
			into = append(into, "\ufffd"...)
		}
		text = text[size:]
	}
	return into
}

func (g *grid) lookNumber(l Look) uint16 {
	n, ok := g.number[l]
	if !ok {
		if len(g.looks) == 1<<16 { // only comments can be so many
			l.Comment = ""
			return g.number[l]
		}
		n = uint16(len(g.looks))
		g.looks, g.number[l] = append(g.looks, l), n
	}
	return n
}

// end closes the row being filled, and lets it go where it holds nothing. The error is a sentence about a limit.
func (g *grid) end(number int, hidden bool) error {
	row, text, far := g.row, g.rowText, g.far
	g.row, g.rowText, g.tooLong, g.far = g.row[:0], g.rowText[:0], false, 0
	switch {
	case far > 0:
		return g.tooWide(number, far)
	case len(bytes.TrimSpace(text)) == 0:
		return nil
	case len(text) > maxRowText:
		return unpacksTooFar(g.name, g.say)
	}
	g.room.rows++
	if g.room.rows > MaxRows || len(text) > MaxCell {
		if err := g.fits(&Row{Number: number, Cells: rowCells(row, text)}, g.room.rows); err != nil {
			return err
		}
	}
	g.rows = append(g.rows, gridRow{number, len(row), hidden})
	for _, c := range row {
		g.text = append(g.text, text[c.from:c.to]...)
		g.ends = append(g.ends, uint32(len(g.text)))
		g.styles = append(g.styles, c.look)
		g.looked = g.looked || c.look != 0
	}
	if len(g.text)+6*len(g.ends) > blockBytes {
		return g.freeze()
	}
	return nil
}

func rowCells(row []gridCell, text []byte) []string {
	cells := make([]string, len(row))
	for i, c := range row {
		cells[i] = string(text[c.from:c.to])
	}
	return cells
}

// freeze turns what is being filled into a block.
func (g *grid) freeze() error {
	if len(g.rows) == 0 {
		return nil
	}
	b := block{text: string(g.text), ends: slices.Clone(g.ends), rows: slices.Clone(g.rows)}
	if g.looked {
		b.styles = slices.Clone(g.styles)
	}
	b.mended = mayBeBroken(g.text)
	g.blocks = append(g.blocks, b)
	g.text, g.ends, g.styles, g.rows, g.looked = g.text[:0], g.ends[:0], g.styles[:0], g.rows[:0], false
	if g.room.bytes -= len(b.text) + 4*len(b.ends) + 2*len(b.styles) + 24*len(b.rows); g.room.bytes < 0 {
		return unpacksTooFar(g.name, g.say)
	}
	return nil
}

// done freezes the last rows and lets go of what was needed to fill them.
func (g *grid) done() error {
	err := g.freeze()
	g.text, g.ends, g.styles, g.rows, g.row, g.rowText, g.number = nil, nil, nil, nil, nil, nil, nil
	for _, b := range g.blocks {
		g.table.RowsHint += len(b.rows)
	}
	return err
}

func (g *grid) each(yield func(*Row, error) bool) {
	var row Row
	var cells []string
	var looks []Look
	for i := range g.blocks {
		b := &g.blocks[i]
		start, at := uint32(0), 0
		for _, r := range b.rows {
			cells, looks = cells[:0], looks[:0]
			looked := false
			for c := at; c < at+r.cells; c++ {
				cells = append(cells, b.text[start:b.ends[c]])
				start = b.ends[c]
				if b.styles != nil {
					looks = append(looks, g.looks[b.styles[c]])
					looked = looked || b.styles[c] != 0
				}
			}
			at += r.cells
			row = Row{Number: r.number, Cells: cells, Hidden: r.hidden}
			if looked {
				row.Looks = looks
			}
			if b.mended {
				mendRow(&row)
			}
			if !yield(&row, nil) {
				return
			}
		}
	}
}
