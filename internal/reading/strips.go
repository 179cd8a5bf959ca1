package reading

import (
	"fmt"
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// A strip is a line of nests that runs across the sheet: a row of their numbers, below it a row of what each sits in, and a row
// for each look, with its day at the left. The line and its day of setting stand in the labels. The numbers may stand once
// above several strips.
type strip struct {
	label  cell // of the rows that name the line
	covers int  // the row of covers, -1 for none
	looks  []int
	notes  []int // rows of text below it
}

// numbersAcross tells from which column to which a row numbers nests: 1, 2, 3 and on.
func (s *bandScan) numbersAcross(i int) (from, to int, ok bool) {
	l := &s.g.lines[i]
	for from = s.left; from < s.right; from++ {
		if nestNumber(l.at(from).text) != 1 {
			continue
		}
		to = from + 1
		for to < s.right && nestNumber(l.at(to).text) == nestNumber(l.at(to-1).text)+1 {
			to++
		}
		if to-from >= 4 && from > s.left {
			return from, to, true
		}
	}
	return 0, 0, false
}

// stripLabel joins what stands left of the values of a row.
func (s *bandScan) stripLabel(i, from int) cell {
	var words []string
	c := cell{row: s.g.lines[i].number, col: s.left}
	for col := s.left; col < from; col++ {
		if x := s.g.lines[i].at(col); x.text != "" && !x.span {
			words = append(words, x.text)
			c.col = col
		}
	}
	c.text = strings.Join(words, " ")
	c.raw = c.text
	return c
}

// stripRow tells what a row of a strip holds: covers, or what a look found.
func (s *bandScan) stripRow(i, from, to int) (covers, look bool) {
	cover, state, n := 0, 0, 0
	for col := from; col < to; col++ {
		c := s.g.lines[i].at(col)
		if c.empty() {
			continue
		}
		n++
		k := s.r.kind(c)
		switch {
		case k.isCover:
			cover++
		case c.text == "" || k.sight.Mark != lexicon.Unknown || k.animal || c.look().Fill != "" || k.ditto:
			state++
		}
	}
	return n >= 2 && cover*10 >= n*7, n >= 1 && state*10 >= n*7
}

// codesAcross tells whether a row holds a few short marks again and again, none of them a number.
func (s *bandScan) codesAcross(i, from, to int) bool {
	n, distinct := 0, map[string]bool{}
	for col := from; col < to; col++ {
		if t := s.g.lines[i].at(col).text; t != "" {
			if n++; len([]rune(t)) > 3 || hasDigits(t) {
				return false
			}
			distinct[t] = true
		}
	}
	return n >= 4 && len(distinct) <= 6 && len(distinct) < n
}

// stripDays are the days in the label of a look: that of most nests, and others that it names for some, "5/17 (8-10 on 5/18)".
func (s *bandScan) stripDays(label string) (day string, others map[int]string) {
	others = map[int]string{}
	items := s.r.scan(label)
	for k, it := range items {
		if it.is != aDate {
			continue
		}
		text := label[it.from:it.to]
		if k > 0 && items[k-1].is == someNests && day != "" {
			for _, name := range items[k-1].list {
				if n, ok := lexicon.Atoi(name); ok {
					others[n] = text
				}
			}
		} else if day == "" {
			day = text
		}
	}
	return day, others
}

// stripsHere reads the strips that begin at row i, across blank rows, and returns the row after them; i where none do.
func (s *bandScan) stripsHere(i int) int {
	from, to, ok := s.numbersAcross(i)
	if !ok {
		return i
	}
	var strips []strip
	numbers := s.stripLabel(i, from)
	set := func(c cell) bool { return s.r.factsIn(&c, false).set.at != nil }
	end := i + 1
	for ; end < len(s.g.lines); end++ {
		if _, _, again := s.numbersAcross(end); again {
			break
		}
		if s.g.lines[end].blank(s.left, s.right) {
			continue
		}
		covers, look := s.stripRow(end, from, to)
		label := s.stripLabel(end, from)
		dated := len(lexicon.FindDates(label.text)) > 0
		last := len(strips) - 1
		switch {
		case (covers || set(label) && s.codesAcross(end, from, to)) && (last < 0 || len(strips[last].looks) > 0):
			st := strip{label: label, covers: end}
			if len(strips) == 0 && set(numbers) {
				st.label = numbers
			}
			if !set(st.label) {
				goto done
			}
			strips = append(strips, st)
		case look && dated && last >= 0:
			strips[last].looks = append(strips[last].looks, end)
		case last >= 0 && s.g.lines[end].filled(s.left, s.right) <= 2 && !lineHead(label.text):
			strips[last].notes = append(strips[last].notes, end)
		default:
			goto done
		}
	}
done:
	good := len(strips) > 0
	for _, st := range strips {
		good = good && set(st.label) && len(st.looks) > 0
	}
	if !good || !s.r.firing("strips", s.at(i)) {
		return i
	}
	last := strips[len(strips)-1]
	for end > i+1 && (s.g.lines[end-1].blank(s.left, s.right) || slices.Contains(last.notes, end-1) && !s.beltRow(end-1)) { // what stands below is read by itself
		end--
	}
	for _, st := range strips {
		s.takeStrip(i, from, to, st)
		s.cur, s.begun = nil, true
		for _, k := range st.notes {
			if k < end {
				s.caption(k)
			}
		}
	}
	return end
}

// beltRow tells whether a row of text tells of the belt of the line above.
func (s *bandScan) beltRow(i int) bool {
	label := s.stripLabel(i, s.right)
	return beltLead.MatchString(label.text) || between(s.r.scan(label.text), aMeasure) && between(s.r.scan(label.text), aCover)
}

// takeStrip opens the block of a strip, written as the list it stands for.
func (s *bandScan) takeStrip(i, from, to int, st strip) {
	f := s.r.factsIn(&st.label, false)
	if f.line.text == "" {
		name := st.label.text
		if loc := setPattern.FindStringIndex(name); loc != nil {
			name = name[:loc[0]]
		}
		if at := strings.IndexAny(name, "(,;–-"); at > 0 {
			if f.site.text == "" {
				f.site = fact{text: strings.Trim(name[at:], " (),;–-"), at: &st.label, weak: true}
			}
			name = name[:at]
		}
		f.line = fact{text: lineName(strings.TrimSpace(name)), at: &st.label}
	}
	scope := s.lineless().child(f)
	s.scope = scope
	t := &grid{Table: s.g.Table, index: s.g.index, turn: true}
	head := line{number: s.g.lines[i].number}
	put := func(l *line, c cell) { l.cells = append(l.cells, c) }
	named := func(text string, row int) cell { return cell{text: text, raw: text, row: row, col: s.left} }
	put(&head, named("Nest", head.number))
	put(&head, named("Cover", head.number))
	for k := range st.looks {
		put(&head, named(fmt.Sprintf("check %d date", k+1), s.g.lines[st.looks[k]].number))
		put(&head, named(fmt.Sprintf("check %d found", k+1), s.g.lines[st.looks[k]].number))
	}
	t.lines = append(t.lines, head)
	for col := from; col < to; col++ {
		cover := *s.g.lines[st.covers].at(col)
		if cover.text == "" {
			continue
		}
		l := line{number: s.g.lines[st.covers].number}
		put(&l, *s.g.lines[i].at(col))
		put(&l, cover)
		for _, k := range st.looks {
			label := s.stripLabel(k, from)
			day, others := s.stripDays(label.text)
			if other := others[nestNumber(s.g.lines[i].at(col).text)]; other != "" {
				day = other
			}
			put(&l, cell{text: day, raw: day, row: label.row, col: label.col})
			found := *s.g.lines[k].at(col)
			found.row, found.col = s.g.lines[k].number, col
			put(&l, found)
		}
		if n := nestWord.FindStringSubmatch(l.cells[0].text); n != nil {
			l.cells[0].text = n[1]
		}
		t.lines = append(t.lines, l)
	}
	t.width = len(head.cells)
	b := &block{g: t, left: 0, right: t.width, heads: []int{0}, top: scope}
	b.cols = s.r.headed(b)
	for k := 1; k < len(t.lines); k++ {
		b.records = append(b.records, record{k, scope})
	}
	s.open(b)
}
