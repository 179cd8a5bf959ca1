package reading

import (
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// splitPairs writes rows that tell of two nests or more, each with the same columns and under a cover of its own, as rows of one
// nest: "stop | grass nest | 5/27 | 6/11 | yucca nest | 5/27 | 6/11".
func (r *reader) splitPairs(b *block) {
	if b.tail || b.kind == keyTable || b.g.turn || len(b.heads) == 0 {
		return
	}
	head := &b.g.lines[b.heads[len(b.heads)-1]]
	for from := b.left; from < b.right; from++ {
		if !r.kind(head.at(from)).isCover {
			continue
		}
		for width := 2; from+2*width <= b.right; width++ {
			n := r.alikeFrom(head, from, width, b.right)
			if n > 1 && r.namesDown(b, from, width, n) {
				r.stack(b, from, width, n)
				return
			}
		}
	}
}

// alikeFrom is how many groups of columns stand side by side from a column on, whose first headings name different covers and whose
// others are the same.
func (r *reader) alikeFrom(head *line, from, width, right int) int {
	covers := map[survey.Substrate]bool{}
	n := 0
	for at := from; at+width <= right; at += width {
		k := r.kind(head.at(at))
		c := k.cover
		if !k.isCover || c.Weak || covers[c.Substrate] {
			break
		}
		for i := 1; i < width; i++ {
			if t := head.at(at + i).text; t == "" || !strings.EqualFold(t, head.at(from+i).text) {
				return n
			}
		}
		covers[c.Substrate] = true
		n++
	}
	return n
}

// namesDown tells whether the first columns of the groups name nests: each name once on a line, none of them a finding or a count
// of clumps.
func (r *reader) namesDown(b *block, from, width, n int) bool {
	for at := from; at < from+n*width; at += width {
		seen := map[string]int{}
		told := 0
		for _, rec := range b.records {
			t := b.g.lines[rec.row].at(at).text
			if t == "" {
				continue
			}
			if k := r.kindOf(t); k.sight.Mark.State() != "" && !k.isNum || k.date.Form != lexicon.NoDate && !k.isNum || len(t) > 12 {
				return false
			}
			told++
			seen[t]++
		}
		if told < 3 || len(seen)*2 < told && len(seen) < 4 {
			return false
		}
		looks := 0
		for i := 1; i < width; i++ {
			for _, rec := range b.records {
				if r.kind(b.g.lines[rec.row].at(at+i)).sight.Mark.State() != "" {
					looks++
				}
			}
		}
		if looks < told {
			return false
		}
	}
	return true
}

// stack lays groups of columns one below the other, with the cover that their first heading names.
func (r *reader) stack(b *block, from, width, n int) {
	v := &grid{Table: b.g.Table, index: b.g.index}
	last := b.heads[len(b.heads)-1]
	dropped := r.beginNames(b, from)
	write := func(i, group int) line {
		old := &b.g.lines[i]
		l := line{number: old.number, hidden: old.hidden}
		cell := func(col int) cell {
			c := *old.at(col)
			if c.row == 0 {
				c.row, c.col = old.number, col
			}
			return c
		}
		for col := b.left; col < b.right; col++ {
			switch {
			case col == from:
				name, cover := cell(from+group*width), cell(from+group*width)
				cover.text = b.g.lines[last].at(from + group*width).text
				if i == last {
					name.text, cover.text = "Nest", "Cover"
				} else if name.text == "" {
					cover.text = ""
				}
				name.raw, cover.raw = name.text, cover.text
				l.cells = append(l.cells, name, cover)
			case col > from && col < from+width:
				l.cells = append(l.cells, cell(col+group*width))
			case col >= from && col < from+n*width || col == dropped:
			default:
				l.cells = append(l.cells, cell(col))
			}
		}
		v.width = max(v.width, len(l.cells))
		return l
	}
	for i := range b.g.lines {
		v.lines = append(v.lines, write(i, 0))
	}
	var records []record
	for _, rec := range b.records {
		records = append(records, rec)
		for group := 1; group < n; group++ {
			if b.g.lines[rec.row].at(from+group*width).text != "" {
				v.lines = append(v.lines, write(rec.row, group))
				records = append(records, record{row: len(v.lines) - 1, scope: rec.scope})
			}
		}
	}
	b.records = records
	b.g, b.left, b.right = v, 0, v.width
	b.cols = r.headed(b)
}

// beginNames finds the column left of the groups whose numbers the names of the nests begin with, -1 for none: it tells nothing
// beside them.
func (r *reader) beginNames(b *block, from int) int {
	for col := b.left; col < from; col++ {
		n := 0
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			if t := l.at(col).text; t == "" || !strings.HasPrefix(l.at(from).text, t) {
				n = -1
				break
			}
			n++
		}
		if n > 0 {
			return col
		}
	}
	return -1
}
