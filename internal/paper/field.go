package paper

import (
	"fmt"

	"tussock/internal/fieldwork"
	"tussock/internal/survey"
)

// A Field is one answer on a page.
type Field struct {
	Name  string // as it is keyed: "cover.3", see fieldwork.Keyed
	Boxes []Rect // to tick; the first stands for 1
	Tally bool   // whether the boxes are counted; otherwise one of them is ticked
	Place Rect   // where something is written by hand; empty where the boxes say all
}

// CutOut returns the part of the page that shows the field, with a margin.
func (f *Field) CutOut() Rect {
	all := f.Place
	for _, b := range f.Boxes {
		all = all.Union(b)
	}
	return all.Grow(1.8)
}

// Number returns where the small number stands in a box that is not for a tally.
func Number(box Rect) Rect { return Rect{box.X + .4, box.Y + .3, 1.7, 1.8} }

// A Column is one answer in each row of a table: boxes to tick beside one another, or a place to write.
type Column struct {
	Box     string // as it is keyed, without the stop
	X, Wide float64
	Choices int     // boxes to tick; 0 for a place to write
	Pitch   float64 // how far apart they stand
}

// Columns returns the columns of the table of nests or remains, left to right.
func (s Sheet) Columns() []Column {
	if s.Page == Remains {
		return remainsColumns()
	}
	w, _ := s.Size.MM()
	const pitch = 7.4
	list := []Column{
		{Box: "cover", Choices: len(fieldwork.Covers)}, {Box: "eggs", Wide: 8}, {Box: "place", Wide: 34},
		{Box: "found2", Choices: len(fieldwork.Founds)}, {Box: "left2", Wide: 9}, {Box: "how2", Wide: 9}, {Box: "fresh2", Wide: 9},
		{Box: "found3", Choices: len(fieldwork.Founds)}, {Box: "left3", Wide: 9}, {Box: "how3", Wide: 9},
		{Box: "note"},
	}
	x := Left + StopWide
	for i := range list {
		c := &list[i]
		c.X = x
		switch {
		case c.Choices > 0:
			c.Pitch, c.Wide = pitch, float64(c.Choices)*pitch
		case c.Wide == 0:
			c.Wide = w - Left - x
		}
		x += c.Wide
	}
	return list
}

// StopWide is how wide the column with the stop's number is.
const StopWide = 9.0

func remainsColumns() []Column {
	const pitch, gap = 6.2, .8
	var list []Column
	x := Left + StopWide - 1
	for _, f := range survey.Features {
		wide := float64(len(f.Choices)) * pitch
		list = append(list, Column{f.Name, x, wide, len(f.Choices), pitch})
		x += wide + gap
	}
	return list
}

// Body returns where the first row of a table begins, and how tall each of its rows is.
func (s Sheet) Body() (top, tall float64) {
	_, h := s.Size.MM()
	top, bottom := Top+36, h-28
	if s.Page == Remains {
		top, bottom = Top+34.5, h-25
	}
	return top, (bottom - top) / Rows
}

// Fields returns everything that is filled in on the page, row by row.
func (s Sheet) Fields() []Field {
	switch s.Page {
	case Belt:
		return s.beltFields()
	case Remains:
		return s.rowFields(.4, func(row Rect) []Field { return inWords(row) })
	}
	_, tall := s.Body()
	return append(s.dayFields(), s.rowFields((tall-Tick)/2, func(Rect) []Field { return nil })...)
}

// rowFields returns the fields of all rows: those of the columns, with their boxes so far below the row's top, and those
// that more adds.
func (s Sheet) rowFields(boxTop float64, more func(row Rect) []Field) []Field {
	w, _ := s.Size.MM()
	top, tall := s.Body()
	var list []Field
	for stop := s.First; stop <= s.Last; stop++ {
		row := Rect{Left, top + float64(stop-s.First)*tall, w - 2*Left, tall}
		fields := make([]Field, 0, 16)
		for _, c := range s.Columns() {
			f := Field{Name: c.Box}
			for i := range c.Choices {
				f.Boxes = append(f.Boxes, Rect{c.X + float64(i)*c.Pitch + (c.Pitch-Tick)/2, row.Y + boxTop, Tick, Tick})
			}
			if c.Choices == 0 {
				f.Place = Rect{c.X, row.Y, c.Wide, tall}.Grow(-Border)
			}
			fields = append(fields, f)
		}
		for _, f := range append(fields, more(row)...) {
			f.Name = fmt.Sprintf("%s.%d", f.Name, stop)
			list = append(list, f)
		}
	}
	return list
}

// DayTall is how tall the heading of a day's block is: its name, and below it the day and the initials.
const DayTall = 10.5

// Days returns where the blocks of the three days stand: set out, week 2, week 4.
func (s Sheet) Days() [3]Rect {
	var days [3]Rect
	i := 0
	for _, c := range s.Columns() {
		switch c.Box {
		case "found2", "found3":
			i++
		case "note":
			return days
		}
		days[i] = days[i].Union(Rect{c.X, Top, c.Wide, DayTall})
	}
	return days
}

func (s Sheet) dayFields() []Field {
	var list []Field
	for i, d := range s.Days() {
		half := d.X + d.W*.55
		y, tall := d.Y+4, d.H-5.2
		list = append(list, Field{Name: fmt.Sprintf("on%d", i+1), Place: Rect{d.X + 9, y, d.W*.52 - 9, tall}},
			Field{Name: fmt.Sprintf("who%d", i+1), Place: Rect{half + 13, y, d.X + d.W - 1.5 - half - 13, tall}})
	}
	return list
}

// A Line is a place to write on, with room for its label before it.
type Line struct {
	Box   string // "" where it is not keyed
	Label Rect
	Place Rect
}

// InWords returns the lines below a stop's boxes on the page of the remains: traces, the photo's number, the guess.
func InWords(row Rect) []Line {
	x := Left + StopWide - 1
	whole := row.X + row.W - x
	y, tall := row.Y+Tick+.9, row.H-Tick-2.2
	var list []Line
	for _, f := range []struct {
		box          string
		share, label float64
	}{{"trace", .42, 40}, {"", .2, 26}, {"guess", .38, 42}} {
		w := whole * f.share
		list = append(list, Line{f.box, Rect{x, y, f.label, tall}, Rect{x + f.label, y, w - f.label - 2, tall}})
		x += w
	}
	return list
}

func inWords(row Rect) []Field {
	var list []Field
	for _, l := range InWords(row) {
		if l.Box != "" {
			list = append(list, Field{Name: l.Box, Place: l.Place})
		}
	}
	return list
}
