package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// joining are words that stand between two values of a form.
var joining = wordSet(`and y e then to al luego`)

// formHead returns how many rows from i on, up to a blank one, are the head of a form: labels and their values side by side, "Set out |
// May 10" below "Bar Eleven | | Line | 1"; 0 where they are a table.
func (s *bandScan) formHead(i, to int) int {
	if s.cur != nil || to-i < 2 || to-i > 12 {
		return 0
	}
	pairs, dated := 0, 0
	seen := map[string]bool{}
	for k := i; k < to; k++ {
		l := &s.g.lines[k]
		if l.filled(s.left, s.right) > 8 {
			return 0
		}
		labels := 0
		for col := s.left; col+1 < min(s.right, len(l.cells)); col++ {
			c, v := l.at(col), l.at(col+1)
			if c.text == "" || v.text == "" || c.span || v.span {
				continue
			}
			label := s.r.kindOf(strings.TrimRight(c.text, ": "))
			value := s.r.kind(v)
			if !s.r.isLabel(label) || s.r.isLabel(value) && !lexicon.Digit(v.text[0]) {
				continue
			}
			if seen[lexicon.Fold(c.text)] { // a label stands once on a form
				return 0
			}
			seen[lexicon.Fold(c.text)] = true
			labels++
			if s.r.dateOf(v, false).Form != lexicon.NoDate {
				dated++
			}
		}
		filled := l.filled(s.left, s.right)
		for col := s.left; col < min(s.right, len(l.cells)); col++ {
			if joining[lexicon.Fold(l.at(col).text)] {
				filled--
			}
		}
		switch {
		case labels > 0 && filled > 2*labels+1: // one label and many values: a table on its side
			return 0
		case labels > 0:
			pairs++
		case k > i && filled > 1:
			return 0
		}
	}
	if pairs < 2 || pairs*3 < (to-i)*2 || dated == 0 {
		return 0
	}
	return to - i
}
