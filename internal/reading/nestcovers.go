package reading

import (
	"regexp"
	"slices"
	"strconv"

	"tussock/internal/lexicon"
)

var nameAndCode = regexp.MustCompile(`^(.{0,16}?\d{1,3})\s?([A-Z]{1,2})$`)

// codesBehindNests cuts the names of nests that are a number and the code of a cover, "1Y 2G 3G 4P", into two columns of
// tables on their side. The numbers must count up from 1 and the codes come back, else both are a name.
func (r *reader) codesBehindNests() {
	for _, b := range r.blocks {
		if b.hasHead(lexicon.Substrate) || b.hasHead(lexicon.Plant) {
			continue
		}
		for i := range b.cols {
			if h := b.cols[i].head; h.Role == lexicon.Nest || !b.g.turn && slices.Contains(h.Also, lexicon.Nest) {
				r.cutCodes(b, b.cols[i].at)
				break
			}
		}
	}
}

// cutCodes moves the codes of covers behind the names of nests in one column to a column of covers: "1Y 2G 3G", "1-1G 1-2Y". The
// names without them must be as many, and the codes few; on its side a table may hold codes that nobody knows, where the numbers
// count up.
func (r *reader) cutCodes(b *block, at int) {
	codes, names := map[string]int{}, map[string]bool{}
	counts, known, n := true, true, 0
	for _, rec := range b.records {
		text := b.g.lines[rec.row].at(at).text
		if text == "" && !b.g.turn {
			continue
		}
		m := nameAndCode.FindStringSubmatch(text)
		if m == nil || !b.g.turn && names[b.lineOf(rec.row)+m[1]] {
			return
		}
		n++
		v, _ := lexicon.Atoi(m[1])
		counts = counts && v == n
		known = known && r.kindOf(m[2]).isCover
		names[b.lineOf(rec.row)+m[1]] = true
		codes[m[2]]++
	}
	if len(codes) < 2 || len(codes)*2 > n || !(b.g.turn && counts) && (!known || n < 6) {
		return
	}
	put := func(row int, c cell) {
		l := &b.g.lines[row]
		for len(l.cells) < b.right {
			l.cells = append(l.cells, cell{})
		}
		l.cells = append(l.cells[:b.right], c)
	}
	for _, rec := range b.records {
		c := b.g.lines[rec.row].at(at)
		m := nameAndCode.FindStringSubmatch(c.text)
		if m == nil {
			continue
		}
		code := *c
		code.text, code.raw = m[2], m[2]
		c.text, c.raw = m[1], m[1]
		put(rec.row, code)
	}
	for k, h := range b.heads {
		head := cell{row: b.g.lines[h].at(at).row, col: b.g.lines[h].at(at).col}
		if k == len(b.heads)-1 {
			head.text, head.raw = "Cover", "Cover"
		}
		put(h, head)
	}
	b.right++
	b.g.width = max(b.g.width, b.right)
	b.cols = r.headed(b)
}

// lineOf is the text of the column of lines in a row; "" where there is none.
func (b *block) lineOf(row int) string {
	for i := range b.cols {
		if b.cols[i].head.Role == lexicon.Line {
			return b.g.lines[row].at(b.cols[i].at).text + "\x00"
		}
	}
	return ""
}

// splitCover cuts a column of nests whose cells name the cover too, "3 bunchgrass", where the numbers count up and no other column
// tells the cover.
func (r *reader) splitCover(b *block) {
	if b.tail || b.kind == keyTable || b.hasHead(lexicon.Nest) && b.hasHead(lexicon.Substrate) || b.hasHead(lexicon.Count) || b.hasHead(lexicon.Clumps) {
		return
	}
	for at := b.left; at < b.right; at++ {
		n, two, up, last := 0, 0, 0, 0
		for _, rec := range b.records {
			t := b.g.lines[rec.row].at(at).text
			if t == "" {
				continue
			}
			n++
			if number, cover := r.nestHead(t); cover != "" {
				two++
				if number == last+1 || number == 1 {
					up++
				}
				last = number
			}
		}
		if two < 4 || two*10 < n*8 || up*10 < two*8 {
			continue
		}
		r.cutColumn(b, at, "Nest", "Cover", func(t string) (string, string) {
			if number, cover := r.nestHead(t); cover != "" {
				return strconv.Itoa(number), cover
			}
			return t, ""
		})
		return
	}
}

// outOn is the day in the head of a line behind the word out: "Line 1   out 5/3/23".
var outOn = regexp.MustCompile(`(?i)\bout\W+$`)

// setOut takes the only day in the head of a line, behind the word out, for that of setting.
func setOut(f *facts, items []item, c *cell) {
	if f.set.at != nil || f.line.text == "" || countOf(items, aDate) != 1 {
		return
	}
	for _, it := range items {
		if it.is == aDate && outOn.MatchString(c.text[:it.from]) {
			f.set = dayFact{it.date, c}
		}
	}
}
