package reading

import (
	"fmt"
	"regexp"
	"strings"

	"tussock/internal/lexicon"
)

// cutLabel cuts a line of one cell into a label and its value: "Bowl in: yucca".
func cutLabel(l *line) (label, bool) {
	var only *cell
	for i := range l.cells {
		if c := &l.cells[i]; c.text != "" && !c.span {
			if only != nil {
				return label{}, false
			}
			only = c
		}
	}
	if only == nil {
		return label{}, false
	}
	name, value, ok := strings.Cut(only.text, ":")
	name = strings.TrimSpace(name)
	if !ok || name == "" || len(name) > 30 || strings.Count(name, " ") > 3 || hasDigits(name) {
		return label{}, false
	}
	v := *only
	v.text = lexicon.Tidy(value)
	v.raw = v.text
	return label{name, v}, v.text != ""
}

// recurring returns the labels, folded, that name nothing we know and stand on at least half of the cards.
func (r *reader) recurring(g *grid, nests int) map[string]bool {
	count, often := map[string]int{}, map[string]bool{}
	for i := range g.lines {
		if l, ok := cutLabel(&g.lines[i]); ok && r.kindOf(l.name).head.Role == lexicon.NoRole {
			count[lexicon.Fold(l.name)]++
		}
	}
	for name, n := range count {
		often[name] = n >= 3 && n*2 >= nests
	}
	return often
}

// cardLabel reads a line of a card, by a label that we know or that stands on most cards.
func (r *reader) cardLabel(l *line, often map[string]bool) (label, bool) {
	if known, ok := r.labelOf(l); ok {
		return known, true
	}
	cut, ok := cutLabel(l)
	return cut, ok && often[lexicon.Fold(cut.name)]
}

// nextVisit names a label of a visit that a card has a second time: "Visit: ..." twice is two visits. n counts from 1.
func (r *reader) nextVisit(name string, n int) string {
	switch r.kindOf(name).head.Role {
	case lexicon.Event, lexicon.Check:
		return fmt.Sprintf("Look %d", n)
	case lexicon.CheckOn:
		return fmt.Sprintf("Look %d date", n)
	case lexicon.Found:
		return fmt.Sprintf("Look %d found", n)
	}
	return ""
}

var lineAndPlace = regexp.MustCompile(`^(\w{1,12})\s*\(([^()=]{3,40})\)$`)

// placed cuts "1 (Hogback)" under a label of lines into the line and its pasture.
func (r *reader) placed(l label) (line label, place cell, ok bool) {
	m := lineAndPlace.FindStringSubmatch(l.value.text)
	if m == nil || r.kindOf(l.name).head.Role != lexicon.Line || !named(m[2]) || hasDigits(m[2]) {
		return l, cell{}, false
	}
	place = l.value
	l.value.text, l.value.raw = m[1], m[1]
	place.text, place.raw = m[2], m[2]
	return l, place, true
}

var dayInFigures = regexp.MustCompile(`(?i)^((?:day|d[ií]a|doy)\s*\d{2,3}|\d{1,2}[-/.]\d{1,2}(?:[-/.]\d{2,4})?)\b[\s,:;–—-]+(\pL.+)$`)

// leadDay cuts a text that begins with a day written in figures: "5-15 et up", "day 136, clutch whole".
func leadDay(text string) (day, rest string, ok bool) {
	m := dayInFigures.FindStringSubmatch(text)
	if m == nil || readDay(m[1]).Form == lexicon.NoDate {
		return "", "", false
	}
	switch first, _, _ := strings.Cut(lexicon.Words(m[2]), " "); first {
	case "egg", "eggs", "huevo", "huevos", "of", "de", "left":
		return "", "", false
	}
	return m[1], m[2], true
}

func leads(text string) bool {
	_, _, ok := leadDay(text)
	return ok
}

// splitCards parts the cards of belts from those of nests.
func (r *reader) splitCards(names []string, records [][]cell) (nests, belts [][]cell) {
	for _, rec := range records {
		nest, belt := false, false
		for k := range rec {
			if rec[k].row == 0 {
				continue
			}
			switch role := r.kindOf(names[k]).head.Role; {
			case role == lexicon.Nest:
				nest = true
			case isSize(role), role == lexicon.Count, role == lexicon.Clumps, role == lexicon.Belt:
				belt = true
			}
		}
		if belt && !nest {
			belts = append(belts, rec)
		} else {
			nests = append(nests, rec)
		}
	}
	return nests, belts
}

// cardTable opens a block of the cards of one kind: a label a column, a card a row.
func (r *reader) cardTable(g *grid, names []string, records [][]cell, sc *scope) {
	var used []int
	for k := range names {
		for _, rec := range records {
			if k < len(rec) && rec[k].row != 0 {
				used = append(used, k)
				break
			}
		}
	}
	if len(used) == 0 {
		return
	}
	v := &grid{Table: g.Table, index: g.index, turn: true, width: len(used)}
	head := line{cells: make([]cell, len(used))}
	for i, k := range used {
		head.cells[i] = cell{text: names[k], raw: names[k], col: i}
	}
	v.lines = append(v.lines, head)
	for _, rec := range records {
		l := line{cells: make([]cell, len(used))}
		for i, k := range used {
			if k < len(rec) {
				l.cells[i] = rec[k]
			}
			if l.number == 0 {
				l.number = l.cells[i].row
			}
		}
		v.lines = append(v.lines, l)
	}
	b := &block{g: v, left: 0, right: len(used), heads: []int{0}, top: sc}
	b.cols = r.headed(b)
	for i := 1; i < len(v.lines); i++ {
		b.records = append(b.records, record{i, sc})
	}
	r.addBlock(b)
}
