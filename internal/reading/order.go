package reading

import (
	"slices"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// visitsInOrder puts the visits of a table whose last one stands first into the order of their days: in nearly all rows each
// day is later than the one at its right, in whichever order day and month are read.
func (r *reader) visitsInOrder(b *block) {
	if len(b.visits) < 2 || slices.ContainsFunc(b.visits, func(v visit) bool { return v.on < 0 || v.days || v.number != 0 && v.number != lexicon.Last }) {
		return
	}
	for _, byDay := range []bool{false, true} {
		back, n := 0, 0
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			last := survey.Date(0)
			for _, v := range b.visits {
				d := r.dateOf(l.at(b.cols[v.on].at), false)
				on := d.On(byDay, orYear(d.Year, 2024))
				if d.Form == lexicon.NoDate || on == 0 {
					continue
				}
				if last != 0 {
					if n++; on < last {
						back++
					}
				}
				last = on
			}
		}
		if n < 3 || back*10 < n*9 {
			return
		}
	}
	slices.Reverse(b.visits)
	for i := range b.cols {
		if c := &b.cols[i]; c.visit >= 0 && c.visit < len(b.visits) {
			c.visit = len(b.visits) - 1 - c.visit
		}
	}
}

// initialCovers gives a column whose heading names covers, above their first letters, the meaning of these: "Grass or yucca"
// above G and Y.
func (r *reader) initialCovers(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.codes != nil || c.n < 3 || len(c.distinct) < 1 || len(c.distinct) > 6 || c.cover > 0 {
			continue
		}
		k := &codeGroup{covers: true, codes: map[string]meaning{}, colors: map[string]meaning{}, file: b.g.File, sheet: b.g.Name}
		for _, it := range r.scan(c.head.Text) {
			if it.is != aCover {
				continue
			}
			letter := foldCode(string([]rune(c.head.Text[it.from:it.to])[:1]))
			if _, twice := k.codes[letter]; twice {
				k.codes = nil
				break
			}
			k.codes[letter] = meaning{cover: it.cover, text: c.head.Text[it.from:it.to]}
		}
		if len(k.codes) < 2 {
			continue
		}
		all := true
		for t := range c.distinct {
			_, known := k.codes[foldCode(t)]
			all = all && known
		}
		if all {
			c.codes, c.head.Role, c.head.Sure = k, lexicon.Substrate, 1
		}
	}
}
