package reading

import (
	"tussock/internal/lexicon"
)

// countsHead tells whether row i heads counts of clumps by its covers alone: "| grass | yucca | plum" above rows of whole
// numbers. Each cover stands there once, else they are those of nests.
func (s *bandScan) countsHead(i, to int) bool {
	l := &s.g.lines[i]
	if i+1 >= to || s.cur != nil && len(s.cur.heads) > 0 && len(s.cur.records) == 0 {
		return false
	}
	below := &s.g.lines[i+1]
	seen := map[string]bool{}
	covers := 0
	for col := s.left; col < min(s.right, len(l.cells)); col++ {
		c := l.at(col)
		if c.text == "" || c.span {
			continue
		}
		if col == s.left && saysClumps(c.text) && between(s.r.scan(c.text), aMeasure) { // "Belt 500 x 6 ft | bunchgrass | yucca"
			continue
		}
		k := s.r.kind(c)
		if k.isNum || k.ditto || k.date.Form != lexicon.NoDate || k.words > 4 {
			return false
		}
		if k.head.Role != lexicon.Count && !k.isCover {
			continue
		}
		n := s.r.kindOf(below.at(col).text)
		if seen[lexicon.Fold(c.text)] || !n.whole || col == s.left {
			return false
		}
		seen[lexicon.Fold(c.text)] = true
		covers++
	}
	return covers >= 2
}

// linesAcross returns how many rows from i on are a table of belts on its side: lines across, sizes and clumps down; 0 where
// none begins there.
func (s *bandScan) linesAcross(i, to int) int {
	head := &s.g.lines[i]
	corner := head.at(s.left).text
	if corner != "" && s.r.kindOf(corner).head.Role != lexicon.Line {
		return 0
	}
	names := map[string]bool{}
	last := s.left
	for col := s.left + 1; col < s.right; col++ {
		t := head.at(col).text
		if t == "" {
			continue
		}
		k := s.r.kindOf(t)
		if names[t] || lineLabel(t) == "" && (corner == "" || len([]rune(t)) > 12 || k.date.Form != lexicon.NoDate && !k.isNum) {
			return 0
		}
		names[t] = true
		last = col
	}
	if len(names) < 2 {
		return 0
	}
	covers, end := 0, i+1
	for ; end < to; end++ {
		l := &s.g.lines[end]
		k := s.r.kind(l.at(s.left))
		cover := k.isCover || k.head.Role == lexicon.Count
		if !cover && !isSize(k.head.Role) && !lengthHead.MatchString(l.at(s.left).text) && !beltWords.MatchString(l.at(s.left).text) || !s.onlyNumbers(l, last) {
			break
		}
		if cover {
			covers++
		}
	}
	if covers == 0 {
		return 0
	}
	return end - i
}

// onlyNumbers tells whether a row holds numbers behind its first cell, none of them beyond a column.
func (s *bandScan) onlyNumbers(l *line, last int) bool {
	n := 0
	for col := s.left + 1; col < s.right; col++ {
		switch t := l.at(col).text; {
		case t == "" || t == "-":
		case col > last || !hasDigits(t) || s.r.kindOf(t).date.Form != lexicon.NoDate && !s.r.kindOf(t).isNum:
			return false
		default:
			n++
		}
	}
	return n > 0
}

// isSize tells whether a role is one of the sizes of a belt.
func isSize(role lexicon.Role) bool {
	switch role {
	case lexicon.Length, lexicon.Width, lexicon.Steps, lexicon.StepLength, lexicon.BeltArea, lexicon.Area:
		return true
	}
	return false
}

// headsReachDown tells whether headings in row i are merged with the cells below them, so that the row below is of headings
// too, whatever it holds: "Checks" over "1st (May 11)" and "2nd (May 25)".
func (s *bandScan) headsReachDown(i, to int) bool {
	if i+1 >= to {
		return false
	}
	top, below := &s.g.lines[i], &s.g.lines[i+1]
	down, own := 0, 0
	for col := s.left; col < s.right; col++ {
		switch c := below.at(col); {
		case c.text == "":
		case c.down && c.text == top.at(col).text && !top.at(col).down:
			down++
		case !c.down && top.at(col).text != "":
			own++
		}
	}
	return down > 0 && own > 0 && (i+2 >= to || !s.g.lines[i+2].at(s.left).down)
}
