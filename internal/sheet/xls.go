package sheet

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"

	"golang.org/x/text/encoding/charmap"

	"tussock/internal/errs"
	"tussock/internal/words"
)

func float64from(bits uint64) float64 { return math.Float64frombits(bits) }

// An xls reads one workbook of 1995 to 2003: BIFF8, and BIFF5 before it ([MS-XLS], cited from memory). The libraries to
// be had lose what formulas came to, and long texts, or panic on rows that are not there.
type xls struct {
	*room
	data     []byte
	wide     bool // BIFF8: letters of two bytes, and texts in one table
	letters  *charmap.Charmap
	strings  stringTable
	formats  map[int]numberFormat
	struck   []bool // by font
	xfs      []xlsXF
	styles   []xlsxStyle
	palette  []rgb
	date1904 bool
	sheets   []xlsSheet
	left     int // bytes that may still be gone through: worksheets may not all claim the same records
}

// An xlsXF is a cell's style before its parts are known.
type xlsXF struct{ font, format, pattern, fore, back int }

type xlsSheet struct {
	at     int // its place in the stream
	name   string
	hidden bool
}

func openXLS(name string, data []byte, say words.Speaker) (*Book, error) {
	data, err := workbookStream(data)
	if err != nil {
		return nil, err
	}
	x := &xls{room: newRoom(name, say), data: data, letters: charmap.Windows1252, formats: map[int]numberFormat{}, palette: indexed[:], left: 4 * len(data)}
	if err := x.readGlobals(); err != nil {
		return nil, err
	}
	b := &Book{File: name}
	for _, s := range x.sheets {
		t := &Table{File: name, Name: s.name, Hidden: s.hidden, Date1904: x.date1904}
		b.Tables = append(b.Tables, t)
		if err := x.readSheet(t, s.at); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// readGlobals reads what stands before the first worksheet.
func (x *xls) readGlobals() error {
	s := &stream{data: x.data}
	r, ok := s.next()
	if !ok || r.kind != recBOF {
		return errBIFF
	}
	x.wide = r.fields().u16() == 0x0600
	for {
		if r, ok = s.next(); !ok {
			return errCutShort
		}
		f := r.fields()
		switch r.kind {
		case recEOF:
			x.settleStyles()
			return nil
		case recFilePass:
			return errs.New(errs.Invalid, x.say.Say(refusals[Locked], x.name))
		case recDate1904:
			x.date1904 = f.u16() == 1
		case recCodePage:
			if page := codePages[f.u16()]; page != nil {
				x.letters = page
			}
		case recFont:
			if len(x.struck) == 4 {
				x.struck = append(x.struck, false) // number 4 is never used
			}
			f.skip(2)
			x.struck = append(x.struck, f.u16()&8 != 0)
		case recFormat:
			number := f.u16()
			if x.wide {
				x.formats[number] = parseFormat(string(f.text(f.u16())))
			} else {
				x.formats[number] = parseFormat(string(x.narrow(f, f.u8())))
			}
		case recXF:
			x.xfs = append(x.xfs, x.readXF(f))
		case recPalette:
			x.readPalette(f)
		case recBoundSheet:
			x.readBound(f)
		case recSST:
			if err := x.readStrings(f); err != nil {
				return err
			}
		}
	}
}

// narrow reads n letters of one byte.
func (x *xls) narrow(f *fields, n int) []byte {
	return decodeSingle(f.bytes(n), x.letters)
}

func (x *xls) readXF(f *fields) xlsXF {
	xf := xlsXF{font: f.u16(), format: f.u16()}
	if x.wide {
		f.skip(10)
		xf.pattern = int(f.u32() >> 26)
		colors := f.u16()
		xf.fore, xf.back = colors&127, colors>>7&127
		return xf
	}
	f.skip(4)
	colors := f.u32()
	xf.fore, xf.back, xf.pattern = int(colors&127), int(colors>>7&127), int(colors>>16&63)
	return xf
}

func (x *xls) readPalette(f *fields) {
	var list []rgb
	for range min(f.u16(), 56) {
		c := f.bytes(4)
		list = append(list, rgb(c[0])<<16|rgb(c[1])<<8|rgb(c[2]))
	}
	if len(list) >= 8 && !f.short {
		x.palette = list
	}
}

func (x *xls) readBound(f *fields) {
	s := xlsSheet{at: int(f.u32()), hidden: f.u8()&3 != 0}
	kind, n := f.u8(), f.u8()
	if x.wide {
		s.name = string(f.letters(n, f.u8()&1 != 0))
	} else {
		s.name = string(x.narrow(f, n))
	}
	if kind == 0 && len(x.sheets) < 1000 { // no chart, no macros
		x.sheets = append(x.sheets, s)
	}
}

func (x *xls) readStrings(f *fields) error {
	f.skip(4)
	for range f.u32() {
		t := f.text(f.u16())
		if f.short {
			return errBIFF
		}
		x.strings.text = append(x.strings.text, t...)
		x.strings.ends = append(x.strings.ends, uint32(len(x.strings.text)))
	}
	return nil
}

func (x *xls) settleStyles() {
	for _, xf := range x.xfs {
		format, own := x.formats[xf.format]
		if !own {
			format = parseFormat(builtinFormats[xf.format])
		}
		s := xlsxStyle{format: format}
		s.look.Struck = xf.font < len(x.struck) && x.struck[xf.font]
		switch {
		case xf.pattern == 1:
			s.look.Fill = fromPalette(x.palette, xf.fore)
		case xf.pattern > 1:
			s.look.Fill = fromPalette(x.palette, xf.back)
		}
		x.styles = append(x.styles, s)
	}
}

// A place is where a cell stands in the stream, so that cells can be put in order.
type place struct {
	row, col uint16
	at       uint32 // of its record
}

// readSheet reads the worksheet at a place of the stream. Cells are first found and put in order, since programs write
// them by blocks of rows.
func (x *xls) readSheet(t *Table, at int) error {
	if at < 0 || at >= len(x.data) {
		return errCutShort
	}
	p := &xlsPage{xls: x, t: t, g: x.room.grid(t), hidden: map[int]bool{}, comments: map[[2]int]string{}, texts: map[int]string{}}
	if err := p.find(at); err != nil {
		return err
	}
	slices.SortStableFunc(p.places, func(a, b place) int { return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.col, b.col)) })
	t.sortMerges()
	slices.Sort(t.HiddenColumns)
	for i, c := range p.places {
		p.put(c)
		if i+1 == len(p.places) || p.places[i+1].row != c.row {
			if err := p.g.end(int(c.row)+1, p.hidden[int(c.row)]); err != nil {
				return err
			}
		}
	}
	return p.g.done()
}

// An xlsPage is a worksheet being read.
type xlsPage struct {
	*xls
	t        *Table
	g        *grid
	places   []place
	hidden   map[int]bool // rows from 0
	comments map[[2]int]string
	texts    map[int]string // of notes, by the number of what is drawn
	object   int            // the last of it
	worked   bool           // some formula came to something
	scratch  []byte
}

// find goes through the records of a worksheet and notes where its cells are.
func (p *xlsPage) find(at int) error {
	s := &stream{data: p.data, at: at}
	r, ok := s.next()
	if !ok || r.kind != recBOF {
		return errBIFF
	}
	inner := 0 // charts that lie within the sheet
	for {
		at := s.at
		if r, ok = s.next(); !ok || p.left < 0 {
			return errCutShort
		}
		p.left -= s.at - at
		switch {
		case r.kind == recBOF:
			inner++
			continue
		case r.kind == recEOF:
			if inner == 0 {
				return nil
			}
			inner--
			continue
		case inner > 0:
			continue
		}
		if err := p.note(r, at); err != nil {
			return err
		}
	}
}

func (p *xlsPage) note(r record, at int) error {
	f := r.fields()
	switch r.kind {
	case recLabelSST, recLabel, recRString, recNumber, recRK, recBoolErr, recBlank:
		p.place(f.u16(), f.u16(), at)
	case recFormula:
		p.place(f.u16(), f.u16(), at)
		f.skip(2)
		v := f.bytes(8)
		p.worked = p.worked || v[6] != 0xFF || v[7] != 0xFF || v[0] != 3
	case recMulRK, recMulBlank:
		row, col := f.u16(), f.u16()
		width := 6
		if r.kind == recMulBlank {
			width = 2
		}
		for i := range (len(f.parts[0]) - 2) / width { // the last column's number stands at the end
			p.place(row, col+i, at)
		}
	case recRow:
		row := f.u16()
		f.skip(10)
		if f.u16()&0x20 != 0 && !f.short {
			p.hidden[row] = true
		}
	case recColInfo:
		from, to := f.u16(), f.u16()
		f.skip(4)
		if f.u16()&1 != 0 && !f.short {
			p.t.hideColumns(from, to)
		}
	case recMergedCells:
		for range f.u16() {
			top, bottom, left, right := f.u16(), f.u16(), f.u16(), f.u16()
			if f.short {
				return errBIFF
			}
			p.t.merge(Merge{Top: top + 1, Bottom: bottom + 1, Left: left, Right: right})
		}
	case recObj:
		f.skip(6)
		p.object = f.u16()
	case recText:
		p.boxText(r)
	case recNote:
		p.comment(f)
	}
	if f.short {
		return errBIFF
	}
	return nil
}

func (p *xlsPage) place(row, col, at int) {
	p.places = append(p.places, place{uint16(row), uint16(col), uint32(at)})
}

// boxText keeps the text of what is drawn; it stands in the first continuation.
func (p *xlsPage) boxText(r record) {
	f := r.fields()
	f.skip(10)
	n := f.u16()
	if len(r.parts) < 2 || n == 0 || f.short {
		return
	}
	letters := &fields{parts: r.parts[1:]}
	text := commentText(string(letters.letters(n, letters.u8()&1 != 0)))
	if len(p.texts) < maxComments {
		p.texts[p.object] = text
	}
}

func (p *xlsPage) comment(f *fields) {
	row, col := f.u16(), f.u16()
	if len(p.comments) == maxComments {
		return
	}
	if !p.wide {
		n := f.u16()
		if n == 0xFFFF {
			n = 0
		}
		p.comments[[2]int{row, col}] = commentText(string(p.narrow(f, min(n, len(f.parts[0])))))
		return
	}
	f.skip(2)
	p.comments[[2]int{row, col}] = p.texts[f.u16()]
}

// put puts the cell at a place into the grid.
func (p *xlsPage) put(c place) {
	s := &stream{data: p.data, at: int(c.at)}
	r, ok := s.next()
	if !ok {
		return
	}
	f := r.fields()
	f.skip(2)
	first := f.u16()
	switch r.kind {
	case recMulRK:
		f.skip(6 * (int(c.col) - first))
	case recMulBlank:
		f.skip(2 * (int(c.col) - first))
	}
	var style xlsxStyle
	if xf := f.u16(); xf < len(p.styles) {
		style = p.styles[xf]
	}
	look := style.look
	var text []byte
	switch r.kind {
	case recLabelSST:
		text, _ = p.strings.at(int(f.u32()))
	case recLabel, recRString:
		text = p.label(f)
	case recNumber:
		text = p.number(f.bytes(8), &style, &look)
	case recRK, recMulRK:
		text = p.show(rk(f.u32()), &style, &look)
	case recBoolErr:
		text = boolOrError(f.u8(), f.u8())
	case recFormula:
		text = p.formula(f, s, &style, &look)
	}
	look.Comment = p.comments[[2]int{int(c.row), int(c.col)}]
	p.g.set(int(c.col), text, look)
}

func (p *xlsPage) label(f *fields) []byte {
	if p.wide {
		return f.text(f.u16())
	}
	return p.narrow(f, f.u16())
}

func (p *xlsPage) number(b []byte, style *xlsxStyle, look *Look) []byte {
	return p.show(float64from(binary.LittleEndian.Uint64(b)), style, look)
}

func (p *xlsPage) show(v float64, style *xlsxStyle, look *Look) []byte {
	p.scratch, look.Date = style.format.show(p.scratch[:0], v, p.date1904)
	return p.scratch
}

// formula returns what a formula came to. A text of no letters is a value, but where all formulas of a sheet have it they
// were written by a program that cannot work them out.
func (p *xlsPage) formula(f *fields, s *stream, style *xlsxStyle, look *Look) []byte {
	v := f.bytes(8)
	if v[6] != 0xFF || v[7] != 0xFF {
		return p.number(v, style, look)
	}
	switch v[0] {
	case 1, 2:
		return boolOrError(int(v[2]), int(v[0]-1))
	case 3:
		look.Unworked = !p.worked
		return nil
	}
	for range 3 { // a shared formula may stand before the text
		r, ok := s.next()
		if ok && r.kind == recString {
			return p.label(r.fields())
		}
		if !ok || r.kind == recFormula {
			break
		}
	}
	look.Unworked = true
	return nil
}

// boolOrError writes a truth, or a fault of a formula as the program shows it.
func boolOrError(value, isError int) []byte {
	if isError == 0 {
		return truth(value != 0, true)
	}
	known := map[int]string{0x00: "#NULL!", 0x07: "#DIV/0!", 0x0F: "#VALUE!", 0x17: "#REF!", 0x1D: "#NAME?", 0x24: "#NUM!", 0x2A: "#N/A"}
	return []byte(known[value])
}
