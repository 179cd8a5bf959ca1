package reading

import (
	"regexp"

	"tussock/internal/lexicon"
)

// Which way a table runs is told by how many of its cells make sense. Each way of reading it gives its columns roles by
// their headings; the share of cells that can be what their column holds is the score.

// layoutRows is how many records are looked at to score a layout.
const layoutRows = 60

// fitOf scores a table with a number of rows of headings: 0 to 1.
func (r *reader) fitOf(g *grid, from, to, left, right, heads int) float64 {
	if to-from <= heads {
		return 0
	}
	b := &block{g: g, left: left, right: right}
	for k := range heads {
		b.heads = append(b.heads, from+k)
	}
	for i := from + heads; i < min(to, from+heads+layoutRows); i++ {
		b.records = append(b.records, record{row: i})
	}
	b.cols = r.headed(b)
	r.measure(b)
	explained, total, labels := 0.0, 0, 0
	seen := map[lexicon.Role]bool{}
	for i := range b.cols {
		c := &b.cols[i]
		total += c.n
		if c.head.Role != lexicon.NoRole && r.isLabel(r.kindOf(c.head.Text)) || c.head.Date.Form != lexicon.NoDate {
			labels++
		}
		fit := r.makesSense(c)
		switch c.head.Role {
		case lexicon.Line, lexicon.Nest, lexicon.Site, lexicon.Ranch: // a table has one of each
			if seen[c.head.Role] {
				fit *= 0.3
			}
			seen[c.head.Role] = true
		}
		explained += fit
	}
	if total == 0 || heads > 0 && labels == 0 {
		return 0
	}
	return explained / float64(total)
}

// makesSense counts the cells that can be what the heading says; without a heading, a part of those that are alike.
func (r *reader) makesSense(c *column) float64 {
	n := c.n - c.ditto
	if n == 0 {
		return 0
	}
	codes := 0 // a few short marks, again and again
	if len(c.distinct)*2 <= n || n < 6 {
		for t, k := range c.distinct {
			if len([]rune(t)) <= 4 {
				codes += k
			}
		}
	}
	var of int
	switch c.head.Role {
	case lexicon.Nest:
		of = max(c.whole+c.id, c.range_)
	case lexicon.Line, lexicon.Site, lexicon.Ranch, lexicon.Who:
		of = n - c.date - c.prose
		if c.sight > n/2 {
			of -= c.sight
		}
	case lexicon.Season:
		of = max(c.year, c.whole)
	case lexicon.Substrate, lexicon.Plant:
		of = max(c.cover+c.coverWeak, codes*8/10)
	case lexicon.SetOn, lexicon.CheckOn:
		of = max(c.date+c.after+c.monthDay, c.doy, c.event, c.small)
		if c.head.Date.Form != lexicon.NoDate && len(c.distinct) <= 2 { // one mark for all that were set
			of = n
		}
		if c.whole == n && c.rising && c.unique { // the corner above the days names them, not the nests beside it
			of = n
		}
	case lexicon.DaysOut:
		of = c.whole
	case lexicon.Check:
		of = max(c.date+c.after+c.monthDay, c.sight+c.weak, c.dated, codes*8/10, c.long)
	case lexicon.Found:
		of = max(c.sight+c.weak, codes*8/10, c.long, c.dated)
	case lexicon.EggsLeft, lexicon.EggsSet:
		of = max(c.small+c.fraction+c.sight, c.sight+c.weak)
	case lexicon.Count, lexicon.Clumps, lexicon.Length, lexicon.Width, lexicon.StepLength, lexicon.BeltArea, lexicon.Area, lexicon.Steps:
		of = c.num
		if hasDigits(c.first) {
			of = max(of, n/2)
		}
	case lexicon.Event:
		return r.tellsEvent(c) * float64(c.n)
	case lexicon.NoRole:
		return 0.3 * float64(max(c.date, c.sight, c.cover, c.whole, c.id))
	default:
		of = n
	}
	return float64(min(of, n)) + float64(c.ditto)
}

// sideways tells whether the rows from i to end read better on their side, and how many columns then hold headings; 0 where
// they do not.
func (s *bandScan) sideways(i, end int) int {
	r := s.r
	if end-i < 2 || end-i > 60 || s.right-s.left < 4 {
		return 0
	}
	labels, wide := 0, 0
	distinct := map[string]bool{}
	sizes := s.sizeLabels(i, end)
	for k := i; k < end; k++ {
		l := &s.g.lines[k]
		distinct[l.at(s.left).text] = true
		kind := r.kind(l.at(s.left))
		if sizes && kind.isCover { // clumps of it
			labels++
		} else if l.at(s.left).text != "" && (r.isLabel(kind) || kind.head.Date.Form != lexicon.NoDate || lineHead(l.at(s.left).text)) {
			labels++
		}
		wide = max(wide, l.filled(s.left+1, s.right))
	}
	if labels < 2 || labels*2 < end-i || wide < 3 || len(distinct)*4 < (end-i)*3 {
		return 0
	}
	upright := r.fitOf(s.g, i, end, s.left, s.right, 0)
	if n := s.heads(i, end); n > 0 {
		upright = max(upright, r.fitOf(s.g, i, end, s.left, s.right, n))
	}
	t := turned(s.g, i, end, s.left, s.right)
	s.nestCorner(t)
	best, heads := r.fitOf(t, 0, len(t.lines), 0, t.width, 1), 1
	if s.datesBeside(i, end) {
		if two := r.fitOf(t, 0, len(t.lines), 0, t.width, 2); two >= best {
			best, heads = two, 2
		}
	}
	if best < 0.6 || best < upright+0.1 {
		return r.choose("turned", s.at(i), 0, 1)
	}
	return r.choose("turned", s.at(i), heads, 0)
}

// sizeLabels tells whether one of the rows is headed by the size of a belt.
func (s *bandScan) sizeLabels(i, end int) bool {
	for k := i; k < end; k++ {
		switch s.r.kind(s.g.lines[k].at(s.left)).head.Role {
		case lexicon.Length, lexicon.Width, lexicon.Steps, lexicon.BeltArea:
			return true
		}
	}
	return false
}

// datesBeside tells whether the second column of a table on its side holds the days of its rows.
func (s *bandScan) datesBeside(i, end int) bool {
	days, other := 0, 0
	for k := i; k < end; k++ {
		c := s.g.lines[k].at(s.left + 1)
		switch d := s.r.dateOf(c, false); {
		case c.text == "" || s.r.kind(c).head.Role == lexicon.CheckOn:
		case d.Form != lexicon.NoDate && d.Form != lexicon.AfterDate && !s.r.kind(c).isNum:
			days++
		default:
			other++
		}
	}
	return days >= 1 && other == 0
}

// nestCorner reads the head of a line that stands before the names of its nests as the heading of the nests.
func (s *bandScan) nestCorner(t *grid) bool {
	corner := t.lines[0].at(0)
	if lineLabel(corner.text) == "" || len(t.lines) < 3 {
		return false
	}
	for _, l := range t.lines[len(t.lines)-1:] {
		k := s.r.kind(l.at(0))
		if !k.whole && !k.isID && !hasDigits(l.at(0).text) {
			return false
		}
	}
	t.lines[0].cells[0].text = "Nest"
	if len(t.lines) > 1 && t.lines[1].at(0).text != "" && s.r.kindOf(t.lines[1].at(0).text).head.Role == lexicon.CheckOn {
		t.lines[1].cells[0].text = ""
	}
	return true
}

var lineLabelPattern = regexp.MustCompile(`(?i)^(?:line|transect|l[ií]n[ei]a|transecto|trail|row|ruta)\s*(?:no\.?|#)?\s*(:?)\s*(\S.{0,30})$`)

// lineLabel returns the name of the line that a text heads: "Line 3", "Line: West"; "" where it heads none.
func lineLabel(text string) string {
	m := lineLabelPattern.FindStringSubmatch(text)
	switch {
	case lineHead(text):
		return lineName(text)
	case m == nil || m[1] == "" && !isUpper(m[2][0]) && !lexicon.Digit(m[2][0]):
		return ""
	}
	return m[2]
}

func isUpper(c byte) bool { return c >= 'A' && c <= 'Z' }
