package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// cardHead is the head of a card: "Line 1  Nest 3".
var cardHead = regexp.MustCompile(`(?i)^((?:line|transect|l[ií]nea|transecto|ln|row|trail|ruta)\.?)\s*#?\s*(\w{1,12})[\s,;:–-]+((?:nest|nido|stop))\s*#?\s*(\w{1,4})$`)

// cardGrid lays the cards of a grid one below the other, a label and its value a row: cards that stand side by side, heads that name
// line and nest at once, and checks whose day and finding stand in cells of their own. It returns the grid itself where none of these
// occurs.
func (r *reader) cardGrid(g *grid) *grid {
	bands := r.cardBands(g)
	if len(bands) == 1 && !slices.ContainsFunc(g.lines, func(l line) bool { n := l.filled(0, g.width); return n == 1 || n == 3 }) {
		return g // see cardLines
	}
	v := &grid{Table: g.Table, index: g.index, turn: true, width: 2}
	changed := len(bands) > 1
	for from := 0; from < len(g.lines); {
		to := from + 1
		for to < len(g.lines) && g.lines[to].number == g.lines[to-1].number+1 {
			to++
		}
		for k, b := range bands {
			for i := from; i < to; i++ {
				var cells []cell
				for col := b[0]; col < b[1]; col++ {
					if c := g.lines[i].at(col); c.text != "" && !c.span {
						at := *c
						if at.row == 0 {
							at.row, at.col = g.lines[i].number, col
						}
						cells = append(cells, at)
					}
				}
				if len(cells) == 0 {
					continue
				}
				lines, other := r.cardLines(cells)
				changed = changed || other
				for _, c := range lines {
					n := 0
					if len(v.lines) > 0 {
						n = v.lines[len(v.lines)-1].number
					}
					if i == from && k > 0 || n == 0 {
						n++
					}
					v.lines = append(v.lines, line{cells: c, number: n + 1})
				}
			}
		}
		from = to
	}
	if !changed {
		return g
	}
	return v
}

// cardBands are the columns of the cards that stand side by side: each begins with a column of labels.
func (r *reader) cardBands(g *grid) [][2]int {
	whole := [][2]int{{0, g.width}}
	var out [][2]int
	for left := 0; left < g.width; {
		right := left
		for right < g.width && columnFilled(g, right) {
			right++
		}
		if right == left {
			left++
			continue
		}
		labels, n := 0, 0
		for i := range g.lines {
			if c := g.lines[i].at(left); c.text != "" && g.lines[i].filled(left, right) > 1 {
				n++
				if r.kindOf(strings.TrimRight(c.text, ": ")).head.Role != lexicon.NoRole {
					labels++
				}
			}
		}
		if n < 3 || labels*10 < n*7 || right-left > 3 {
			return whole
		}
		out = append(out, [2]int{left, right})
		left = right
	}
	if len(out) < 2 {
		return whole
	}
	return out
}

func columnFilled(g *grid, col int) bool {
	for i := range g.lines {
		if c := g.lines[i].at(col); c.text != "" && !c.span {
			return true
		}
	}
	return false
}

// cardLines cuts the head of a card into two labels, and joins the day and the finding of a check; other tells whether it did.
func (r *reader) cardLines(cells []cell) (lines [][]cell, other bool) {
	part := func(text string) cell {
		c := cells[0]
		c.text, c.raw = text, text
		return c
	}
	if pairs := r.labelPairs(cells); len(pairs) > 1 {
		for _, p := range pairs {
			lines = append(lines, []cell{part(p[0]), part(p[1])})
		}
		return lines, true
	}
	if m := cardHead.FindStringSubmatch(cells[0].text); m != nil && len(cells) == 1 {
		return [][]cell{{part("Line"), part(m[2])}, {part("Nest"), part(m[4])}}, true
	}
	if len(cells) == 3 && r.isLabel(r.kindOf(strings.TrimRight(cells[0].text, ": "))) && r.dateOf(&cells[1], false).Form != lexicon.NoDate {
		value := cells[1]
		value.text += ", " + cells[2].text
		value.raw = value.text
		return [][]cell{{cells[0], value}}, true
	}
	return [][]cell{cells}, false
}

// labelPairs cuts a line of several labels and their values: "Pasture: Ridge   Transect: 1   Nest: 1". Nil where any part is none.
func (r *reader) labelPairs(cells []cell) (pairs [][2]string) {
	if len(cells) != 1 || strings.Count(cells[0].text, ":") < 2 {
		return nil
	}
	roles := map[lexicon.Role]bool{}
	for _, p := range pairGap.Split(strings.TrimSpace(cells[0].raw), -1) {
		name, value, ok := strings.Cut(p, ":")
		name, value = lexicon.Tidy(name), lexicon.Tidy(value)
		role := r.kindOf(name).head.Role
		if !ok || value == "" || role == lexicon.NoRole || roles[role] {
			return nil
		}
		roles[role] = true
		pairs = append(pairs, [2]string{name, value})
	}
	return pairs
}

// pairGap parts labels and their values that stand in one line.
var pairGap = regexp.MustCompile(`\t+|\s{2,}|\s*[;|]\s*|\s*,\s+`)

// cardsIn tells whether a grid holds a card for each nest, and how many.
func (r *reader) cardsIn(g *grid) (nests int, ok bool) {
	labelled, filled := 0, 0
	for i := range g.lines {
		if g.lines[i].filled(0, g.width) == 0 {
			continue
		}
		filled++
		if l, ok := r.labelOf(&g.lines[i]); ok {
			labelled++
			if r.kindOf(l.name).head.Role == lexicon.Nest {
				nests++
			}
		}
	}
	return nests, nests >= 3 && labelled*2 >= filled
}
