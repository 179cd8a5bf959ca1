package sheet

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
	"golang.org/x/net/html/charset"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// A webPage reads the tables of a web page. What stands above a table is rows of one cell, since titles stand there. A
// table within a cell is a table of its own.
type webPage struct {
	*room
	b       *Book
	outside []string  // lines since the last table
	line    []byte    // of them, being read
	open    []*webTab // tables being read, the innermost last
	silent  int       // inside scripts and styles
	title   string    // the last heading
	heading bool
	comment bool // inside one, which some programs write into the cell
}

// A webTab is one table being read.
type webTab struct {
	t       *Table
	g       *grid
	above   int // rows of one cell above it
	row     int // from 0, within the table
	col     int
	inRow   bool
	inCell  bool
	hidden  bool
	fill    string
	rowFill string
	text    []byte
	comment []byte
	struck  int // elements open that cross out
	plain   int // letters that are not crossed out
	crossed int
	across  int
	down    int
	spans   []int // by column, rows that a cell above still reaches down
}

// markupText returns markup in UTF-8: as it says itself, else by trial.
func markupText(data []byte) []byte {
	utf16 := len(data) > 1 && (data[0] == 0xff && data[1] == 0xfe || data[0] == 0xfe && data[1] == 0xff)
	head := data[:min(len(data), 1024)]
	declared := xmlEncoding.FindSubmatch(head)
	if !utf16 && !bytes.HasPrefix(data, []byte("\xef\xbb\xbf")) {
		if declared != nil {
			if e, name := charset.Lookup(string(declared[1])); e != nil && name != "utf-8" {
				if out, err := e.NewDecoder().Bytes(data); err == nil {
					return out
				}
			}
		} else if e, name, certain := charset.DetermineEncoding(head, ""); certain && name != "utf-8" {
			if out, err := e.NewDecoder().Bytes(data); err == nil {
				return out
			}
		}
	}
	text, _, _ := toUTF8(data)
	return text
}

var xmlEncoding = regexp.MustCompile(`^<\?xml[^>]*encoding=["']([A-Za-z0-9._-]+)["']`)

func openHTML(name string, data []byte, say words.Speaker) (*Book, error) {
	w := &webPage{room: newRoom(name, say), b: &Book{File: name}}
	z := html.NewTokenizer(bytes.NewReader(markupText(data)))
	z.SetMaxBuf(maxMarkup)
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			if err := z.Err(); !errors.Is(err, io.EOF) {
				return nil, err
			}
			break
		}
		if err := w.token(z, kind); err != nil {
			return nil, err
		}
	}
	for len(w.open) > 0 { // a page may end in the middle of a table
		if err := w.endTable(); err != nil {
			return nil, err
		}
	}
	if err := w.endPage(); err != nil {
		return nil, err
	}
	w.b.Tables = slices.DeleteFunc(w.b.Tables, func(t *Table) bool { return t.RowsHint == 0 })
	if len(w.b.Tables) == 0 {
		return nil, errs.New(errs.Invalid, say.Say("%s is a web page without a table. Please send the table as .xlsx or CSV.", name))
	}
	return w.b, nil
}

// inner returns the table being read, nil outside tables.
func (w *webPage) inner() *webTab {
	if len(w.open) == 0 {
		return nil
	}
	return w.open[len(w.open)-1]
}

func (w *webPage) token(z *html.Tokenizer, kind html.TokenType) error {
	switch kind {
	case html.TextToken:
		w.write(z.Text())
	case html.StartTagToken, html.SelfClosingTagToken:
		name, more := z.TagName()
		if t := w.inner(); string(name) == "comment" && t != nil && t.inCell {
			w.comment = kind == html.StartTagToken
		}
		attrs := map[string]string{}
		for more {
			var key, value []byte
			key, value, more = z.TagAttr()
			if len(attrs) < 30 && len(value) < 4096 {
				attrs[string(key)] = string(value)
			}
		}
		return w.begin(atom.Lookup(name), attrs, kind == html.SelfClosingTagToken)
	case html.EndTagToken:
		name, _ := z.TagName()
		if string(name) == "comment" {
			w.comment = false
		}
		return w.end(atom.Lookup(name))
	}
	return nil
}

func (w *webPage) begin(tag atom.Atom, attrs map[string]string, alone bool) error {
	t := w.inner()
	switch tag {
	case atom.Script, atom.Style, atom.Title:
		if !alone {
			w.silent++
		}
	case atom.Table:
		w.beginTable(attrs)
	case atom.Tr:
		if t != nil {
			if err := w.endRow(t); err != nil {
				return err
			}
			t.inRow, t.hidden, t.rowFill = true, hiddenStyle(attrs), fillOf(attrs)
		}
	case atom.Td, atom.Th:
		if t != nil {
			w.beginCell(t, attrs)
		}
	case atom.Br, atom.Hr:
		w.lineEnd()
	case atom.S, atom.Strike, atom.Del:
		if t != nil && !alone {
			t.struck++
		}
	case atom.P, atom.Div, atom.Li, atom.H1, atom.H2, atom.H3, atom.H4, atom.Caption:
		w.lineEnd()
		w.heading = tag != atom.P && tag != atom.Div && tag != atom.Li
	}
	return nil
}

func (w *webPage) end(tag atom.Atom) error {
	t := w.inner()
	switch tag {
	case atom.Script, atom.Style, atom.Title:
		w.silent = max(0, w.silent-1)
	case atom.Table:
		return w.endTable()
	case atom.Tr:
		if t != nil {
			return w.endRow(t)
		}
	case atom.Td, atom.Th:
		if t != nil {
			w.endCell(t)
		}
	case atom.S, atom.Strike, atom.Del:
		if t != nil {
			t.struck = max(0, t.struck-1)
		}
	case atom.P, atom.Div, atom.Li, atom.H1, atom.H2, atom.H3, atom.H4, atom.Caption:
		w.lineEnd()
		w.heading = false
	}
	return nil
}

// write adds text to the cell being read, or to the line outside tables. Blanks and line ends are one blank.
func (w *webPage) write(text []byte) {
	t := w.inner()
	if w.silent > 0 || t != nil && !t.inCell && !w.heading && len(bytes.TrimSpace(text)) == 0 {
		return
	}
	if t == nil || !t.inCell {
		w.line = appendCollapsed(w.line, text)
		return
	}
	if w.comment {
		t.comment = appendCollapsed(t.comment, text)
		return
	}
	before := len(t.text)
	t.text = appendCollapsed(t.text, text)
	if n := len(bytes.TrimSpace(t.text[before:])); t.struck > 0 {
		t.crossed += n
	} else {
		t.plain += n
	}
}

func appendCollapsed(into, text []byte) []byte {
	if len(into) > 8*MaxCell {
		return into // long past every limit; the row is refused
	}
	for _, c := range string(text) {
		if unicode.IsSpace(c) {
			if n := len(into); n > 0 && into[n-1] != ' ' && into[n-1] != '\n' {
				into = append(into, ' ')
			}
			continue
		}
		into = append(into, string(c)...)
	}
	return into
}

func (w *webPage) lineEnd() {
	if t := w.inner(); t != nil && t.inCell {
		if t.text = bytes.TrimRight(t.text, " "); len(t.text) > 0 && t.text[len(t.text)-1] != '\n' {
			t.text = append(t.text, '\n')
		}
		return
	}
	line := strings.TrimSpace(string(w.line))
	w.line = w.line[:0]
	if line == "" {
		return
	}
	if t := w.inner(); t != nil && w.heading && !t.inRow && t.row == 0 { // its caption
		t.t.Name = line
		return
	}
	if w.heading {
		w.title = line
	}
	if len(w.outside) < MaxColumns {
		w.outside = append(w.outside, line)
	}
}

func (w *webPage) beginTable(attrs map[string]string) {
	w.lineEnd()
	if len(w.open) == 100 || len(w.b.Tables) == 1000 { // what lies deeper reads as text
		return
	}
	w.open = append(w.open, w.newTable(attrs))
}

// newTable begins a table with the lines that stand before it.
func (w *webPage) newTable(attrs map[string]string) *webTab {
	t := &Table{File: w.name, Name: w.title, Hidden: hiddenStyle(attrs)}
	w.b.Tables = append(w.b.Tables, t)
	tab := &webTab{t: t, g: w.room.grid(t), fill: fillOf(attrs)}
	for _, line := range w.outside {
		tab.g.set(0, []byte(line), Look{})
		if err := tab.g.end(tab.above+1, false); err != nil {
			break // told at the table's first row
		}
		tab.above++
	}
	w.outside, w.title = nil, ""
	return tab
}

// endPage keeps the lines behind the last table as a table of their own.
func (w *webPage) endPage() error {
	w.lineEnd()
	if len(w.open) > 0 || len(w.b.Tables) == 0 || len(w.b.Tables) == 1000 || len(w.outside) == 0 {
		return nil
	}
	tab := w.newTable(nil)
	tab.t.sortMerges()
	return tab.g.done()
}

func (w *webPage) endTable() error {
	t := w.inner()
	if t == nil {
		return nil
	}
	if err := w.endRow(t); err != nil {
		return err
	}
	w.open = w.open[:len(w.open)-1]
	t.t.sortMerges()
	return t.g.done()
}

func (w *webPage) endRow(t *webTab) error {
	if !t.inRow {
		return nil
	}
	w.endCell(t)
	for c := range t.spans {
		t.spans[c] = max(0, t.spans[c]-1)
	}
	t.inRow, t.col = false, 0
	t.row++
	return t.g.end(t.above+t.row, t.hidden)
}

func (w *webPage) beginCell(t *webTab, attrs map[string]string) {
	w.endCell(t)
	t.inRow, t.inCell = true, true
	t.text, t.comment, w.comment = t.text[:0], t.comment[:0], false
	t.struck, t.plain, t.crossed = 0, 0, 0
	for t.col < len(t.spans) && t.spans[t.col] > 0 {
		t.col++
	}
	t.across, t.down = span(attrs["colspan"]), span(attrs["rowspan"])
	t.fill = fillOf(attrs)
	if t.fill == "" {
		t.fill = t.rowFill
	}
	if strings.Contains(attrs["style"], "line-through") {
		t.struck = 1
	}
}

func span(s string) int {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil || n < 1 {
		return 1
	}
	return min(n, 65_534) // as browsers have it
}

func (w *webPage) endCell(t *webTab) {
	if !t.inCell {
		return
	}
	t.inCell = false
	look := Look{Fill: t.fill, Struck: t.crossed > 0 && t.plain == 0, Comment: commentText(string(t.comment))}
	text := bytes.TrimSpace(t.text)
	if rest, minus := bytes.CutPrefix(text, []byte("−")); minus && len(rest) > 0 && rest[0] >= '0' && rest[0] <= '9' {
		text = append([]byte("-"), rest...)
	}
	t.g.set(t.col, text, look)
	if t.across > 1 || t.down > 1 {
		t.t.merge(Merge{Top: t.above + t.row + 1, Bottom: t.above + t.row + t.down, Left: t.col, Right: t.col + t.across - 1})
	}
	for range min(t.across, MaxColumns+1) {
		if t.down > 1 && t.col <= MaxColumns {
			for len(t.spans) <= t.col {
				t.spans = append(t.spans, 0)
			}
			t.spans[t.col] = t.down
		}
		t.col++
	}
}

var styleFill = regexp.MustCompile(`background(?:-color)?\s*:\s*(#[0-9A-Fa-f]{3,8}|[a-zA-Z]+|rgb\([^)]*\))`)

// fillOf returns the name of the background color that an element says it has.
func fillOf(attrs map[string]string) string {
	color := attrs["bgcolor"]
	if m := styleFill.FindStringSubmatch(attrs["style"]); m != nil {
		color = m[1]
	}
	return webColor(color)
}

// webColor puts a plain word to a color as web pages write it.
func webColor(c string) string {
	c = strings.ToLower(strings.TrimSpace(c))
	switch {
	case c == "" || c == "white" || c == "transparent" || c == "none" || c == "inherit":
		return ""
	case len(c) == 4 && c[0] == '#':
		return colorName("#" + c[1:2] + c[1:2] + c[2:3] + c[2:3] + c[3:4] + c[3:4])
	case strings.HasPrefix(c, "rgb("):
		var v rgb
		for part := range strings.SplitSeq(strings.TrimSuffix(c[4:], ")"), ",") {
			n, err := strconv.Atoi(strings.TrimSpace(part))
			if err != nil {
				return "coloured"
			}
			v = v<<8 | rgb(n&255)
		}
		return nameOf(v & 0xFFFFFF)
	}
	if words := map[string]string{"gray": "grey", "silver": "grey", "lime": "green", "lightgreen": "green", "lightblue": "blue", "navy": "blue", "aqua": "blue", "cyan": "blue", "gold": "yellow"}; words[c] != "" {
		return words[c]
	}
	if slices.Contains([]string{"yellow", "orange", "red", "green", "blue", "grey", "pink", "purple", "brown"}, c) {
		return c
	}
	return colorName(c)
}

func hiddenStyle(attrs map[string]string) bool {
	_, hidden := attrs["hidden"]
	return hidden || strings.Contains(strings.ReplaceAll(attrs["style"], " ", ""), "display:none")
}
