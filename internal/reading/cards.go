package reading

import (
	"fmt"
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// A label is a card's line: what it is called, and its value.
type label struct {
	name  string
	value cell
}

// labelOf reads a line of a card: "Nest: 3", or a label and its value in two cells.
func (r *reader) labelOf(l *line) (label, bool) {
	var cells []*cell
	for i := range l.cells {
		if c := &l.cells[i]; c.text != "" && !c.span {
			if cells = append(cells, c); len(cells) > 2 && !strings.HasSuffix(cells[0].text, ":") {
				return label{}, false
			}
		}
	}
	switch {
	case len(cells) == 1:
		name, value, ok := strings.Cut(cells[0].text, ":")
		if !ok || len(name) > 30 || r.kindOf(strings.TrimSpace(name)).head.Role == lexicon.NoRole {
			return label{}, false
		}
		v := *cells[0]
		v.text = lexicon.Tidy(value)
		v.raw = v.text
		return label{strings.TrimSpace(name), v}, true
	case len(cells) == 2:
		name := strings.TrimRight(cells[0].text, ": ")
		k := r.kindOf(name)
		if k.head.Role == lexicon.NoRole || k.head.Sure < 0.6 && !strings.HasSuffix(cells[0].text, ":") || k.isNum {
			return label{}, false
		}
		return label{name, *cells[1]}, true
	}
	if len(cells) > 2 && strings.HasSuffix(cells[0].text, ":") { // a value that was cut into pieces
		name := strings.TrimRight(cells[0].text, ": ")
		if r.kindOf(name).head.Role == lexicon.NoRole {
			return label{}, false
		}
		v := *cells[1]
		for _, c := range cells[2:] {
			v.text += " " + c.text
		}
		v.raw = v.text
		return label{name, v}, true
	}
	return label{}, false
}

// cards reads a sheet on which each nest has a card of its own: labels and values, again and again.
func (r *reader) cards(g *grid, tab *scope) bool {
	if g.held > 0 || len(g.lines) < 8 {
		return false
	}
	g = r.cardGrid(g)
	nests, ok := r.cardsIn(g)
	if !ok || !r.firing("cards", g.File+"\x00"+g.Name) {
		return false
	}
	often := r.recurring(g, nests)
	var names []string
	index := map[string]int{}
	column := func(name string) int {
		key := lexicon.Fold(name)
		k, known := index[key]
		if !known {
			k = len(names)
			index[key] = k
			names = append(names, name)
		}
		return k
	}
	var records [][]cell
	var cur map[int]cell
	first := -1
	flush := func() {
		if len(cur) == 0 {
			return
		}
		rec := make([]cell, len(names))
		for k, c := range cur {
			rec[k] = c
		}
		records = append(records, rec)
		cur = nil
	}
	put := func(name string, value cell) {
		k := column(name)
		if _, again := cur[k]; again {
			n := 2
			next := ""
			for ; k != 0; n++ { // the first label of a card begins the next one
				if next = r.nextVisit(name, n); next == "" {
					break
				}
				if _, taken := cur[column(next)]; !taken {
					break
				}
			}
			if next == "" {
				flush()
			} else {
				k = column(next)
				names[column(name)] = r.nextVisit(name, 1)
			}
		} else if r.kindOf(name).head.Role == lexicon.Belt {
			flush()
		}
		if cur == nil {
			cur = map[int]cell{}
		}
		cur[k] = value
	}
	sc := tab
	for i := range g.lines {
		l, ok := r.cardLabel(&g.lines[i], often)
		if !ok {
			if first < 0 || g.lines[i].filled(0, g.width) > 0 {
				sc = r.cardText(g, i, sc, first < 0)
			}
			continue
		}
		if first < 0 && !slices.ContainsFunc([]lexicon.Role{lexicon.Ranch, lexicon.Season}, func(x lexicon.Role) bool { return x == r.kindOf(l.name).head.Role }) {
			first = i
		}
		if first < 0 {
			sc = r.cardText(g, i, sc, true)
			continue
		}
		if l.value.row == 0 {
			l.value.row = g.lines[i].number
		}
		if r.kindOf(l.name).head.Role == lexicon.Belt && lineHead(l.value.text) { // "Belt: line 2"
			flush()
			l.name, l.value.text = "Line", lineName(l.value.text)
		}
		l, place, found := r.placed(l)
		put(l.name, l.value)
		if found {
			put("Pasture", place)
		}
	}
	flush()
	cards, belts := r.splitCards(names, records)
	r.cardTable(g, names, cards, sc)
	r.cardTable(g, names, belts, sc)
	return true
}

// cardText takes up a line between cards: a title, or the card's own number.
func (r *reader) cardText(g *grid, i int, sc *scope, title bool) *scope {
	for k := range g.lines[i].cells {
		c := &g.lines[i].cells[k]
		if c.text == "" {
			continue
		}
		f := r.factsIn(c, title && i <= 1)
		if k > 0 {
			r.labelled(&f, g.lines[i].at(k-1), c)
		}
		f.line = fact{}
		sc = sc.child(f)
		r.captions = append(r.captions, &caption{g: g, c: c, row: i, scope: sc})
	}
	return sc
}

// looksTold takes the looks out of a cell that tells of one or more, each with its day and little else: "5/15 all 3; 5/30
// gone"; nil where it tells of something else besides.
func (r *reader) looksTold(text string) []telling {
	days := lexicon.FindDates(text)
	if len(days) < 2 || len(days) > 6 {
		return nil
	}
	told := r.tellings(text)
	if len(told) != len(days) {
		return nil
	}
	for _, t := range told {
		if t.set || strings.Count(t.text, " ") > 6 {
			return nil
		}
	}
	return told
}

// setDays takes the word before the days of a column that says of each that the nest was set on it: "set 5/4/2024".
func (r *reader) setDays(b *block) {
	for i := range b.cols {
		c := &b.cols[i]
		if c.head.Role != lexicon.NoRole && c.head.Role != lexicon.SetOn {
			continue
		}
		day := func(text string) (string, bool) {
			d := lexicon.FindDates(text)
			if len(d) != 1 {
				return "", false
			}
			word := lexicon.Tidy(strings.Trim(text[:d[0].From]+" "+text[d[0].To:], " -–—:,;()|"))
			return text[d[0].From:d[0].To], word != "" && r.kindOf(word).sight.Mark == lexicon.SetOut
		}
		told, n := 0, 0
		for _, rec := range b.records[:min(len(b.records), sampleRows)] {
			if t := b.g.lines[rec.row].at(c.at).text; t != "" {
				n++
				if _, ok := day(t); ok {
					told++
				}
			}
		}
		if told < 2 || told*10 < n*9 {
			continue
		}
		for _, rec := range b.records {
			cell := b.g.lines[rec.row].at(c.at)
			if t, ok := day(cell.text); ok {
				cell.text, cell.raw = t, t
			}
		}
		c.head.Role, c.head.Sure = lexicon.SetOn, 0.9
		return
	}
}

// splitDated cuts columns whose cells hold a day and what was found into two, "19 de mayo - completo", and into as many more
// as there are looks in a cell.
func (r *reader) splitDated(b *block) {
	if b.tail || b.kind == keyTable {
		return
	}
	r.setDays(b)
	r.measure(b)
	split := map[int]int{}   // by column: looks in a cell at most
	told := map[string]int{} // by text: how many looks it tells of; -1 for a story, for those who read sentences
	for i := range b.cols {
		c := &b.cols[i]
		several, most := 0, 1
		for _, rec := range b.records {
			t := b.g.lines[rec.row].at(c.at).text
			n, known := told[t]
			if !known {
				if n = len(r.looksTold(t)); n <= 1 && len(lexicon.FindDates(t)) > 1 {
					n = -1
				}
				told[t] = n
			}
			if n > 1 {
				several++
				most = max(most, n)
			} else if n < 0 {
				several = -len(b.records)
			}
		}
		one := c.share(c.dated) >= 0.5 || c.share(c.led) >= 0.9 && c.dated > 0
		if c.n > 1 && (one || several > 0 && (several+c.dated)*10 >= c.n*7) && c.share(c.date) < 0.5 && c.head.Date.Form == lexicon.NoDate {
			split[i] = most
		}
	}
	if len(split) == 0 {
		return
	}
	v := &grid{Table: b.g.Table, index: b.g.index, turn: b.g.turn}
	for i := range b.g.lines {
		old := &b.g.lines[i]
		l := line{number: old.number, hidden: old.hidden}
		isHead := slices.Contains(b.heads, i)
		for k := range b.cols {
			c := *old.at(b.cols[k].at)
			if c.row == 0 {
				c.row, c.col = old.number, b.cols[k].at
			}
			n := split[k]
			if n == 0 {
				l.cells = append(l.cells, c)
				continue
			}
			told := r.looksTold(c.text)
			for part := range n {
				day, found := c, c
				switch d := lexicon.FindDates(c.text); {
				case isHead && n > 1 && c.text != "":
					day.text, found.text = fmt.Sprintf("check %d date", part+1), fmt.Sprintf("check %d found", part+1)
				case isHead:
					if c.text != "" {
						day.text, found.text = c.text+" date", c.text+" found"
					}
				case len(told) > part:
					day.text, found.text = told[part].when, told[part].text
				case len(told) > 0 || part > 0:
					day.text, found.text = "", ""
				case len(d) == 1:
					day.text = c.text[d[0].From:d[0].To]
					found.text = strings.Trim(c.text[:d[0].From]+" "+c.text[d[0].To:], " -–—:,;()|")
				case r.kind(&c).date.Form != lexicon.NoDate:
					found.text = ""
				case leads(c.text):
					day.text, found.text, _ = leadDay(c.text)
				default:
					day.text = ""
				}
				day.raw, found.raw = day.text, found.text
				l.cells = append(l.cells, day, found)
			}
		}
		v.width = max(v.width, len(l.cells))
		v.lines = append(v.lines, l)
	}
	b.g, b.left, b.right = v, 0, v.width
	b.cols = r.headed(b)
}
