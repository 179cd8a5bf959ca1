package sheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"

	"tussock/internal/words"
)

// An ods reads one OpenDocument workbook (OASIS OpenDocument 1.2 and 1.3, part 3), from its content alone or, where it is
// one flat file, from the whole. Elements and attributes are known by the prefixes that all programs give them.
type ods struct {
	*room
	b       *Book
	formats map[string]numberFormat // data styles by name
	styles  map[string]odsStyle     // of cells
	struckT map[string]bool         // styles of text that is crossed out
	unseen  map[string]bool         // styles of tables that are not shown
}

// An odsStyle is how the cells of one style look.
type odsStyle struct {
	format string // name of its data style
	look   Look
}

func openODS(name string, z *zip.Reader, say words.Speaker) (*Book, error) {
	o, p := newODS(name, say), newPack(z)
	if p.part("content.xml") == nil {
		return nil, errors.New("ods: no content")
	}
	for _, part := range []string{"styles.xml", "content.xml"} {
		f := p.part(part)
		if f == nil {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil, err
		}
		err = errors.Join(o.read(newMarkup(io.LimitReader(r, maxUnpacked))), r.Close())
		if err != nil {
			return nil, err
		}
	}
	return o.b, nil
}

func openFODS(name string, data []byte, say words.Speaker) (*Book, error) {
	o := newODS(name, say)
	text, _, _ := toUTF8(data)
	return o.b, o.read(newMarkup(bytes.NewReader(text)))
}

func newODS(name string, say words.Speaker) *ods {
	return &ods{
		room: newRoom(name, say), b: &Book{File: name}, formats: map[string]numberFormat{}, styles: map[string]odsStyle{},
		struckT: map[string]bool{}, unseen: map[string]bool{},
	}
}

// read goes through one part: styles first, tables after them.
func (o *ods) read(m *markup) error {
	root, ended := "", false
	for {
		err := m.next()
		if errors.Is(err, io.EOF) && ended {
			return nil
		}
		if err != nil {
			return cutShort(err)
		}
		full := string(m.full)
		switch {
		case m.closes:
			ended = ended || full == root
		case root == "":
			root = full
		case full == "style:style":
			err = o.readStyle(m)
		case full == "number:date-style" || full == "number:time-style" || full == "number:percentage-style":
			err = o.readFormat(m)
		case full == "table:table" && !m.empty:
			err = o.readTable(m)
		}
		if err != nil {
			return err
		}
	}
}

func attrText(m *markup, name string) string { return string(plain(nil, m.attr(name))) }

// readStyle reads the style just come to. Its parent's looks come first.
func (o *ods) readStyle(m *markup) error {
	name, family := attrText(m, "style:name"), string(m.attr("style:family"))
	style := o.styles[attrText(m, "style:parent-style-name")]
	if f := attrText(m, "style:data-style-name"); f != "" {
		style.format = f
	}
	struck, unseen := false, false
	if !m.empty {
		for {
			if err := m.next(); err != nil {
				return cutShort(err)
			}
			if m.closes && string(m.full) == "style:style" {
				break
			}
			switch string(m.full) {
			case "style:table-cell-properties":
				if c := string(m.attr("fo:background-color")); c == "transparent" {
					style.look.Fill = ""
				} else if c != "" {
					style.look.Fill = colorName(c)
				}
			case "style:text-properties":
				if k := string(m.attr("style:text-line-through-style")); k != "" {
					struck = k != "none"
					style.look.Struck = struck
				}
			case "style:table-properties":
				unseen = string(m.attr("table:display")) == "false"
			}
		}
	}
	switch family {
	case "table-cell":
		o.styles[name] = style
	case "text":
		o.struckT[name] = struck
	case "table":
		o.unseen[name] = unseen
	}
	return nil
}

// readFormat reads a data style: which parts of a day it shows.
func (o *ods) readFormat(m *markup) error {
	full, name := string(m.full), attrText(m, "style:name")
	f := numberFormat{kind: formatDate, noYear: true}
	switch full {
	case "number:time-style":
		f = numberFormat{kind: formatTime}
	case "number:percentage-style":
		f = numberFormat{kind: formatPercent}
	}
	for !m.empty || string(m.full) != full {
		if err := m.next(); err != nil {
			return cutShort(err)
		}
		if m.closes && string(m.full) == full {
			break
		}
		if string(m.full) == "number:year" {
			f.noYear = false
		}
	}
	o.formats[name] = f
	return nil
}
