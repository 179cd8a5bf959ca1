package sheet

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
)

// A layout is what a worksheet holds besides values. It is read in one pass over the worksheet's part, since asking
// the library for it would load the whole sheet into memory.
type layout struct {
	rows     int
	merges   []Merge
	unworked map[[2]int]bool
	coloured []Colour
}

// How much of it is kept; more than this says nothing new to anyone.
const (
	maxMerges   = 100_000
	maxUnworked = 10_000
	maxColoured = 5_000
)

var errCutShort = errors.New("worksheet ends before its data does")

func (l *layout) byColumn() map[int][]Merge {
	if len(l.merges) == 0 {
		return nil
	}
	m := map[int][]Merge{}
	for _, g := range l.merges {
		for c := g.Left; c <= min(g.Right, g.Left+MaxColumns); c++ {
			m[c] = append(m[c], g)
		}
	}
	for _, list := range m {
		slices.SortFunc(list, func(a, b Merge) int { return a.Top - b.Top })
	}
	return m
}

// parts are the pieces of a workbook: where each worksheet lies and which styles fill a cell.
type parts struct {
	files map[string]*zip.File
	sheet map[string]string // worksheet name to part
	fill  []string          // style to colour name, "" for none
}

func readParts(z *zip.Reader) (*parts, error) {
	p := &parts{files: map[string]*zip.File{}, sheet: map[string]string{}}
	for _, f := range z.File {
		p.files[strings.TrimPrefix(strings.ReplaceAll(f.Name, `\`, "/"), "/")] = f
	}
	var book struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
			ID   string `xml:"http://schemas.openxmlformats.org/officeDocument/2006/relationships id,attr"`
		} `xml:"sheets>sheet"`
	}
	var rels struct {
		List []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	// A workbook whose main part has another name is read without its layout.
	if err := errors.Join(p.decode("xl/workbook.xml", &book), p.decode("xl/_rels/workbook.xml.rels", &rels)); err != nil {
		return nil, err
	}
	target := map[string]string{}
	for _, r := range rels.List {
		if strings.HasPrefix(r.Target, "/") {
			target[r.ID] = r.Target[1:]
		} else {
			target[r.ID] = path.Join("xl", r.Target)
		}
	}
	for _, s := range book.Sheets {
		p.sheet[s.Name] = target[s.ID]
	}
	return p, p.readFills()
}

// decode reads a small part; one that is not there stays empty.
func (p *parts) decode(name string, into any) error {
	f := p.files[name]
	if f == nil {
		return nil
	}
	if f.UncompressedSize64 > maxInMemory {
		return fmt.Errorf("%s: %d bytes", name, f.UncompressedSize64)
	}
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close() // only read
	if err := xml.NewDecoder(r).Decode(into); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

func (p *parts) readFills() error {
	var styles struct {
		Fills []struct {
			Pattern struct {
				Type  string `xml:"patternType,attr"`
				Color struct {
					RGB   string `xml:"rgb,attr"`
					Theme string `xml:"theme,attr"`
				} `xml:"fgColor"`
			} `xml:"patternFill"`
		} `xml:"fills>fill"`
		Xfs []struct {
			Fill int `xml:"fillId,attr"`
		} `xml:"cellXfs>xf"`
	}
	if err := p.decode("xl/styles.xml", &styles); err != nil {
		return err
	}
	for _, xf := range styles.Xfs {
		name := ""
		if xf.Fill >= 0 && xf.Fill < len(styles.Fills) {
			if f := styles.Fills[xf.Fill].Pattern; f.Type == "solid" && f.Color.Theme != "0" {
				name = colourName(f.Color.RGB)
			}
		}
		p.fill = append(p.fill, name)
	}
	return nil
}

// colourName puts a plain word to an ARGB colour; "" for white.
func colourName(argb string) string {
	v, err := strconv.ParseUint(argb, 16, 32)
	if err != nil || len(argb) < 6 {
		return "coloured"
	}
	r, g, b := int(v>>16&255), int(v>>8&255), int(v&255)
	most, least := max(r, g, b), min(r, g, b)
	switch {
	case least > 245:
		return ""
	case most-least < 24:
		return "grey"
	case r == most && g > 200 && b < g:
		return "yellow"
	case r == most && g > b+40 && g > 100:
		return "orange"
	case r == most:
		return "red"
	case g == most:
		return "green"
	}
	return "blue"
}

func (p *parts) scan(sheet string) (*layout, error) {
	f := p.files[p.sheet[sheet]]
	if f == nil || !strings.Contains(p.sheet[sheet], "worksheets/") {
		return &layout{}, nil
	}
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close() // only read
	return scanWorksheet(r, p.fill)
}

// scanWorksheet goes through the tags of a worksheet part without building a tree.
func scanWorksheet(r io.Reader, fill []string) (*layout, error) {
	l := &layout{unworked: map[[2]int]bool{}}
	br := bufio.NewReaderSize(r, 64<<10)
	var row, col int
	var formula, value, ended, rooted bool
	for {
		tag, err := nextTag(br)
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		name, rest, _ := bytes.Cut(tag, []byte(" "))
		if i := bytes.IndexByte(name, ':'); i >= 0 && name[0] != '/' {
			name = name[i+1:]
		} else if i >= 0 {
			name = append([]byte("/"), name[i+1:]...)
		}
		closed := bytes.HasSuffix(tag, []byte("/"))
		switch string(bytes.TrimRight(name, "/\t\r\n")) {
		case "worksheet":
			rooted = true
		case "sheetData":
			ended = ended || closed
		case "/sheetData":
			ended = true
		case "row":
			l.rows++
		case "c":
			row, col = cellAt(attr(rest, "r"))
			formula, value = false, false
			l.colour(row, col, attr(rest, "s"), fill)
		case "f":
			formula = true
		case "v":
			value = value || !closed
		case "is":
			value = true
		case "/c":
			if formula && !value && row > 0 && len(l.unworked) < maxUnworked {
				l.unworked[[2]int{row, col}] = true
			}
		case "mergeCell":
			l.merge(attr(rest, "ref"))
		}
	}
	if rooted && !ended {
		return nil, errCutShort
	}
	return l, nil
}

// nextTag returns what stands between the next < and >. A tag longer than the buffer is cut.
func nextTag(br *bufio.Reader) ([]byte, error) {
	for {
		_, err := br.ReadSlice('<')
		if err == nil {
			break
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return nil, err
		}
	}
	tag, err := br.ReadSlice('>')
	if errors.Is(err, bufio.ErrBufferFull) {
		return tag, nil
	}
	if err != nil {
		return nil, err
	}
	return tag[:len(tag)-1], nil
}

// attr returns the value of an attribute among attrs.
func attr(attrs []byte, name string) []byte {
	for {
		i := bytes.IndexByte(attrs, '=')
		if i < 0 || i+1 >= len(attrs) {
			return nil
		}
		key := bytes.TrimSpace(attrs[:i])
		quote := attrs[i+1]
		end := bytes.IndexByte(attrs[i+2:], quote)
		if end < 0 {
			return nil
		}
		if string(key) == name {
			return attrs[i+2 : i+2+end]
		}
		attrs = attrs[i+2+end+1:]
	}
}

// cellAt reads a reference such as B12 into row from 1 and column from 0; 0 where it is none.
func cellAt(ref []byte) (row, col int) {
	i := 0
	for i < len(ref) && i < 3 && ref[i] >= 'A' && ref[i] <= 'Z' {
		col = col*26 + int(ref[i]-'A') + 1
		i++
	}
	row, err := strconv.Atoi(string(ref[i:]))
	if err != nil || row < 1 || col == 0 {
		return 0, 0
	}
	return row, col - 1
}

func (l *layout) merge(ref []byte) {
	from, to, ok := bytes.Cut(ref, []byte(":"))
	if !ok || len(l.merges) == maxMerges {
		return
	}
	top, left := cellAt(from)
	bottom, right := cellAt(to)
	if top > 0 && bottom >= top && right >= left {
		l.merges = append(l.merges, Merge{Top: top, Bottom: bottom, Left: left, Right: right})
	}
}

func (l *layout) colour(row, col int, style []byte, fill []string) {
	s, err := strconv.Atoi(string(style))
	if err != nil || s < 0 || s >= len(fill) || fill[s] == "" || len(l.coloured) == maxColoured {
		return
	}
	l.coloured = append(l.coloured, Colour{Row: row, Column: col, Name: fill[s]})
}
