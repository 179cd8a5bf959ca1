package reading

import (
	"regexp"
	"strconv"

	"tussock/internal/lexicon"
)

var numberAndCode = regexp.MustCompile(`^(\d{1,2})\s?([A-Z]{1,2})$`)

// codesBehindNests cuts the names of nests that are a number and the code of a cover, "1Y 2G 3G 4P", into two columns of
// tables on their side. The numbers must count up from 1 and the codes come back, else both are a name.
func (r *reader) codesBehindNests() {
	for _, b := range r.blocks {
		if !b.g.turn || b.hasHead(lexicon.Substrate) || b.hasHead(lexicon.Plant) {
			continue
		}
		for i := range b.cols {
			if b.cols[i].head.Role == lexicon.Nest {
				r.cutCodes(b, b.cols[i].at)
				break
			}
		}
	}
}

// cutCodes moves the codes behind the numbers of nests in one column to a column of covers.
func (r *reader) cutCodes(b *block, at int) {
	seen := map[string]int{}
	for n, rec := range b.records {
		m := numberAndCode.FindStringSubmatch(b.g.lines[rec.row].at(at).text)
		if m == nil {
			return
		}
		if v, _ := lexicon.Atoi(m[1]); v != n+1 {
			return
		}
		seen[m[2]]++
	}
	if len(seen) < 2 || len(seen)*2 > len(b.records) {
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
		m := numberAndCode.FindStringSubmatch(c.text)
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
