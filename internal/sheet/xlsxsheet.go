package sheet

import (
	"errors"
	"strconv"
	"strings"
)

// An xlsxSheet reads one worksheet part.
type xlsxSheet struct {
	*xlsx
	t        *Table
	g        *grid
	comments map[[2]int]string // row from 1, column from 0

	row, col      int
	hidden, inRow bool
	style         int
	kind          string // of the cell: s, str, inlineStr, b, e, d, n
	formula       bool
	value         []byte
	valued        bool
	rich          richText
	scratch       []byte

	rooted, ended bool
}

func (x *xlsx) readSheet(t *Table, part string) error {
	s := &xlsxSheet{xlsx: x, t: t, g: x.room.grid(t), comments: map[[2]int]string{}}
	if err := s.readNotes(part); err != nil {
		return err
	}
	if err := x.scan(part, s.visit); err != nil {
		return err
	}
	if s.rooted && !s.ended {
		return errCutShort
	}
	t.sortMerges()
	return s.g.done()
}

func (s *xlsxSheet) visit(m *markup) error {
	switch string(m.name) {
	case "worksheet":
		s.rooted = true
	case "sheetData":
		s.ended = s.ended || m.closes || m.empty
	case "col":
		if !m.closes && m.yes("hidden") {
			s.t.hideColumns(m.number("min", 0)-1, m.number("max", 0)-1)
		}
	case "row":
		return s.visitRow(m)
	case "c":
		if !s.inRow {
			return errMarkup
		}
		s.visitCell(m)
	case "f":
		s.formula = true
	case "v":
		if s.valued = m.closes || m.empty; m.closes {
			s.value = append(s.value[:0], m.text...)
		}
	case "mergeCell":
		if from, to, ok := strings.Cut(string(m.attr("ref")), ":"); ok && !m.closes {
			top, left := cellAt(from)
			bottom, right := cellAt(to)
			s.t.merge(Merge{Top: top, Bottom: bottom, Left: left, Right: right})
		}
	default:
		if s.kind == "inlineStr" {
			return s.rich.visit(m)
		}
	}
	return nil
}

func (s *xlsxSheet) visitRow(m *markup) error {
	if s.inRow != m.closes { // a row that was never closed, or never begun
		return errMarkup
	}
	if m.closes {
		s.inRow = false
		return s.g.end(s.row, s.hidden)
	}
	if s.row, s.col, s.hidden = max(m.number("r", 0), s.row+1), -1, m.yes("hidden"); s.row > maxRowNumber {
		return errMarkup
	}
	s.inRow = !m.empty
	return nil
}

func (s *xlsxSheet) visitCell(m *markup) {
	if !m.closes {
		s.col++
		if ref := m.attr("r"); len(ref) > 0 {
			if row, col := cellAt(string(ref)); row > 0 {
				s.col = col
			}
		}
		s.style, s.kind, s.formula, s.valued = m.number("s", 0), cellKind(m.attr("t")), false, false
		s.value = s.value[:0]
		s.rich.reset()
	}
	if m.closes || m.empty {
		s.cell()
		s.kind = ""
	}
}

func cellKind(t []byte) string {
	switch string(t) {
	case "s":
		return "s"
	case "str":
		return "str"
	case "inlineStr":
		return "inlineStr"
	case "b":
		return "b"
	case "e":
		return "e"
	case "d":
		return "d"
	}
	return "n"
}

// cell puts the cell just read into the grid.
func (s *xlsxSheet) cell() {
	var style xlsxStyle
	if s.style < len(s.styles) {
		style = s.styles[s.style]
	}
	look := style.look
	text := s.value
	switch s.kind {
	case "s":
		i, err := strconv.Atoi(string(s.value))
		if err != nil {
			i = -1
		}
		var struck bool
		text, struck = s.strings.at(i)
		look.Struck = look.Struck || struck
	case "inlineStr":
		text = s.rich.text
		look.Struck = look.Struck || s.rich.struck()
	case "str", "e":
		s.scratch = unescape(plain(s.scratch[:0], s.value))
		text = s.scratch
	case "b":
		text = truth(string(s.value) == "1" || string(s.value) == "true", len(s.value) > 0)
	case "d":
		if day, ok := isoDay(string(s.value)); ok {
			text, look.Date = []byte(day), DateYear
			if style.format.noYear {
				look.Date = DateNoYear
			}
		}
	default:
		text = s.numeric(&style.format, &look)
	}
	look.Unworked = s.formula && len(text) == 0 && (s.kind != "str" || !s.valued) // a text of no letters is a value too
	if len(s.comments) > 0 {
		look.Comment = s.comments[[2]int{s.row, s.col}]
	}
	s.g.set(s.col, text, look)
}

func (s *xlsxSheet) numeric(f *numberFormat, look *Look) []byte {
	if len(s.value) == 0 {
		return nil
	}
	if *f == (numberFormat{}) && plainInteger(s.value) {
		return s.value
	}
	v, err := strconv.ParseFloat(string(s.value), 64)
	if err != nil {
		return s.value
	}
	s.scratch, look.Date = f.show(s.scratch[:0], v, s.date1904)
	return s.scratch
}

// plainInteger tells whether digits are a whole number as anyone writes it, which most are.
func plainInteger(digits []byte) bool {
	if len(digits) > 15 || digits[0] == '0' && len(digits) > 1 {
		return false
	}
	for _, c := range digits {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

func truth(yes, known bool) []byte {
	switch {
	case !known:
		return nil
	case yes:
		return []byte("TRUE")
	}
	return []byte("FALSE")
}

// cellAt reads a reference such as B12 into row from 1 and column from 0; 0 where it is none.
func cellAt(ref string) (row, col int) {
	i := 0
	for i < len(ref) && i < 3 && ref[i] >= 'A' && ref[i] <= 'Z' {
		col = col*26 + int(ref[i]-'A') + 1
		i++
	}
	row, err := strconv.Atoi(ref[i:])
	if err != nil || row < 1 || row > 1<<20 || col == 0 {
		return 0, 0
	}
	return row, col - 1
}

// How much of a worksheet's notes is kept; more says nothing new to anyone.
const (
	maxComments    = 20_000
	maxCommentText = 2_000 // bytes
	maxBoxes       = 100
)

// readNotes reads the comments on cells and the text boxes that belong to a worksheet.
func (s *xlsxSheet) readNotes(part string) error {
	kinds, _, err := s.related(part)
	if err != nil {
		return err
	}
	for _, p := range kinds["comments"] {
		err = errors.Join(err, s.readComments(p))
	}
	for _, p := range kinds["threadedComment"] {
		err = errors.Join(err, s.readThreads(p))
	}
	for _, p := range kinds["drawing"] {
		err = errors.Join(err, s.readBoxes(p))
	}
	return err
}

func (s *xlsxSheet) readComments(part string) error {
	var list struct {
		Authors  []string `xml:"authors>author"`
		Comments []struct {
			Ref    string `xml:"ref,attr"`
			Author int    `xml:"authorId,attr"`
			Text   struct {
				Plain string   `xml:"t"`
				Runs  []string `xml:"r>t"`
			} `xml:"text"`
		} `xml:"commentList>comment"`
	}
	if err := s.decode(part, &list); err != nil {
		return err
	}
	for _, c := range list.Comments {
		text := c.Text.Plain + strings.Join(c.Text.Runs, "")
		if c.Author >= 0 && c.Author < len(list.Authors) && list.Authors[c.Author] != "" {
			text = strings.TrimPrefix(text, list.Authors[c.Author]+":")
		}
		s.comment(c.Ref, text, false)
	}
	return nil
}

// readThreads reads comments that others answered. The workbook repeats them as plain comments with a preface of the
// program's own, which these replace.
func (s *xlsxSheet) readThreads(part string) error {
	var list struct {
		Comments []struct {
			Ref  string `xml:"ref,attr"`
			Text string `xml:"text"`
		} `xml:"threadedComment"`
	}
	if err := s.decode(part, &list); err != nil {
		return err
	}
	begun := map[string]bool{}
	for _, c := range list.Comments {
		s.comment(c.Ref, c.Text, begun[c.Ref])
		begun[c.Ref] = true
	}
	return nil
}

func (s *xlsxSheet) comment(ref, text string, more bool) {
	row, col := cellAt(ref)
	text = commentText(text)
	if row == 0 || text == "" || len(s.comments) == maxComments {
		return
	}
	at := [2]int{row, col}
	if more {
		text = commentText(s.comments[at] + "\n" + text)
	}
	s.comments[at] = text
}

// commentText tidies the text of a comment and cuts it where nobody would read on.
func commentText(s string) string {
	s = strings.TrimSpace(string(appendClean(nil, []byte(s))))
	if len(s) > maxCommentText {
		s = strings.ToValidUTF8(s[:maxCommentText], "") + "…"
	}
	return s
}

// readBoxes reads the text boxes drawn over the cells.
func (s *xlsxSheet) readBoxes(part string) error {
	var text []byte
	inside := false
	return s.scan(part, func(m *markup) error {
		switch name := string(m.name); {
		case name == "txBody" && m.closes:
			s.t.box(string(text))
			text, inside = text[:0], false
		case name == "txBody":
			inside = !m.empty
		case name == "t" && m.closes && inside:
			text = plain(text, m.text)
		case (name == "p" && m.closes || name == "br" && !m.closes) && inside:
			text = append(text, '\n')
		}
		return nil
	})
}
