package sheet

import (
	"bytes"
	"errors"
	"io"
	"strconv"

	"tussock/internal/words"
)

// An xmlss reads a workbook of 2003 written as XML, which many programs save as .xls (SpreadsheetML 2003, cited from
// memory).
type xmlss struct {
	*room
	m       *markup
	b       *Book
	formats map[string]numberFormat // by style
	looks   map[string]Look

	t             *Table
	g             *grid
	row, col      int // from 0; col is the next cell's
	style         string
	hidden, inRow bool
	cell          xmlssCell
	column        int
	inData        bool
	inComment     bool
	comment, text []byte
	scratch       []byte
}

type xmlssCell struct {
	style, kind string
	formula     bool
	across      int
}

func openXMLSS(name string, data []byte, say words.Speaker) (*Book, error) {
	x := &xmlss{room: newRoom(name, say), b: &Book{File: name}, formats: map[string]numberFormat{}, looks: map[string]Look{}}
	x.m = newMarkup(bytes.NewReader(markupText(data)))
	ended := false
	for {
		err := x.m.next()
		if errors.Is(err, io.EOF) && ended {
			return x.b, nil
		}
		if err != nil {
			return nil, cutShort(err)
		}
		ended = ended || x.m.closes && string(x.m.name) == "Workbook"
		if err := x.visit(); err != nil {
			return nil, err
		}
	}
}

// namedFormats are number formats that the form knows by a name.
var namedFormats = map[string]string{
	"General Date": "m/d/yyyy h:mm", "Short Date": "m/d/yyyy", "Medium Date": "d-mmm-yy", "Long Date": "dddd, mmmm d, yyyy",
	"Long Time": "h:mm:ss", "Medium Time": "h:mm", "Short Time": "h:mm", "Percent": "0.00%",
	"General": "", "General Number": "", "Fixed": "", "Standard": "", "Currency": "", "Euro Currency": "", "Scientific": "", "Yes/No": "", "True/False": "", "On/Off": "",
}

func (x *xmlss) visit() error {
	m := x.m
	name := string(m.name)
	if x.inData && (name == "Data" && m.closes || !m.empty) && len(x.text) < 8*MaxCell {
		x.text = plain(x.text, m.text)
	}
	if x.t == nil {
		x.visitStyle(name)
		return nil
	}
	switch name {
	case "Worksheet":
		if m.closes {
			x.t.sortMerges()
			err := x.g.done()
			x.t = nil
			return err
		}
	case "Column":
		if !m.closes {
			from := max(m.number("Index", x.column+1)-1, 0)
			x.column = min(from+m.number("Span", 0)+1, 1<<20)
			if m.yes("Hidden") {
				x.t.hideColumns(from, x.column-1)
			}
		}
	case "Visible":
		if m.closes {
			x.t.Hidden = string(bytes.TrimSpace(m.text)) != "SheetVisible"
		}
	case "Row":
		return x.visitRow()
	case "Cell":
		if !x.inRow {
			return errMarkup
		}
		x.visitCell()
	case "Comment":
		x.inComment = !m.closes && !m.empty
	case "Data":
		x.visitData()
	}
	return nil
}

// visitStyle reads what stands outside the worksheets, and begins them.
func (x *xmlss) visitStyle(name string) {
	m := x.m
	switch name {
	case "Worksheet":
		if !m.closes && !m.empty && len(x.b.Tables) < 1000 {
			x.t = &Table{File: x.name, Name: attrText(m, "Name")}
			x.b.Tables = append(x.b.Tables, x.t)
			x.g = x.room.grid(x.t)
			x.row, x.col, x.column, x.inRow = -1, 0, 0, false
		}
	case "Style":
		if !m.closes {
			x.style = attrText(m, "ID")
			if p := attrText(m, "Parent"); p != "" {
				x.formats[x.style], x.looks[x.style] = x.formats[p], x.looks[p]
			}
		}
	case "NumberFormat":
		if code := attrText(m, "Format"); code != "" {
			if named, ok := namedFormats[code]; ok {
				code = named
			}
			x.formats[x.style] = parseFormat(code)
		}
	case "Interior":
		look := x.looks[x.style]
		if c := string(m.attr("Color")); c != "" && string(m.attr("Pattern")) != "None" {
			look.Fill = colorName(c)
		}
		x.looks[x.style] = look
	case "Font":
		look := x.looks[x.style]
		look.Struck = look.Struck || m.yes("StrikeThrough")
		x.looks[x.style] = look
	}
}

func (x *xmlss) visitRow() error {
	m := x.m
	if x.inRow != m.closes { // a row that was never closed, or never begun
		return errMarkup
	}
	if x.inRow = !m.closes && !m.empty; !m.closes {
		x.row = max(m.number("Index", 0)-1, x.row+1)
		x.col, x.hidden = 0, m.yes("Hidden")
	}
	if x.row > maxRowNumber {
		return errMarkup
	}
	if m.closes || m.empty {
		err := x.g.end(x.row+1, x.hidden)
		if m.empty { // as many empty rows follow as it spans
			x.row += min(m.number("Span", 0), maxRowNumber)
		}
		return err
	}
	return nil
}

func (x *xmlss) visitCell() {
	m := x.m
	if !m.closes {
		if i := m.number("Index", 0); i > x.col {
			x.col = i - 1
		}
		x.cell = xmlssCell{style: attrText(m, "StyleID"), formula: m.attr("Formula") != nil, across: min(m.number("MergeAcross", 0), 1<<20)}
		if down := m.number("MergeDown", 0); (down > 0 || x.cell.across > 0) && down < 1<<20 {
			x.t.merge(Merge{Top: x.row + 1, Bottom: x.row + 1 + down, Left: x.col, Right: x.col + x.cell.across})
		}
		x.text, x.comment = x.text[:0], x.comment[:0]
	}
	if m.closes || m.empty {
		look := x.looks[x.cell.style]
		text := x.shown(&look)
		look.Unworked = x.cell.formula && len(text) == 0 && x.cell.kind == ""
		look.Comment = commentText(string(x.comment))
		x.g.set(x.col, text, look)
		x.col = min(x.col+1+x.cell.across, 1<<20)
	}
}

// visitData begins or ends what a cell or its comment says.
func (x *xmlss) visitData() {
	m := x.m
	switch {
	case !m.closes && x.inComment:
		x.comment, x.text = append(x.comment, x.text...), x.text[:0] // the cell's own words are kept aside
		x.inData = !m.empty
	case !m.closes:
		x.cell.kind, x.text = string(m.attr("Type")), x.text[:0]
		x.inData = !m.empty
	case x.inComment:
		x.comment, x.text = append([]byte(nil), x.text...), x.comment
		x.inData = false
	default:
		x.inData = false
	}
}

// shown returns what a person reads in the cell.
func (x *xmlss) shown(look *Look) []byte {
	f := x.formats[x.cell.style]
	switch x.cell.kind {
	case "Number":
		if v, err := strconv.ParseFloat(string(x.text), 64); err == nil {
			x.scratch, look.Date = f.show(x.scratch[:0], v, false)
			return x.scratch
		}
	case "DateTime":
		day, ok := isoDay(string(x.text))
		switch {
		case ok && (f.kind == formatTime || day[:4] < "1900"): // a time of the day that never was
			if clock := x.text[min(len(x.text), 11):]; len(clock) >= 5 {
				return bytes.TrimPrefix(bytes.TrimSuffix(clock[:min(len(clock), 8)], []byte(":00")), []byte("0"))
			}
		case ok:
			look.Date = DateYear
			if f.kind == formatDate && f.noYear {
				look.Date = DateNoYear
			}
			return []byte(day)
		}
	case "Boolean":
		return truth(string(x.text) == "1", len(x.text) > 0)
	}
	return x.text
}
