package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// splitKinds takes records of several kinds apart that stand in one table: the first cell of each row says its kind, and a
// row of headings for each kind begins with the same mark, "# N | line | nest | set". It returns the rows left over.
func (r *reader) splitKinds(g *grid, tab *scope) *grid {
	if g.held > 0 {
		return g
	}
	count := map[string]int{}
	for i := range g.lines {
		if t := g.lines[i].at(0).text; t != "" && len(t) <= 8 {
			count[t]++
		}
	}
	heads := map[string]int{} // by kind: the row of its headings
	for i := range g.lines {
		l := &g.lines[i]
		kind := strings.TrimSpace(strings.TrimLeft(l.at(0).text, "#*/;: "))
		kind = strings.TrimRight(kind, ":= ")
		if kind == l.at(0).text || kind == "" || count[kind] < 2 || r.kindOf(kind).whole {
			continue
		}
		if _, twice := heads[kind]; !twice && r.headScore(l, 1, g.width) >= 1.2 {
			heads[kind] = i
		}
	}
	if len(heads) < 2 {
		return g
	}
	rest := *g
	rest.lines = nil
	of := map[string]*grid{}
	var order []string
	for i := range g.lines {
		l := g.lines[i]
		kind := l.at(0).text
		at, ok := heads[kind]
		if !ok {
			if !isKindHead(heads, i) {
				rest.lines = append(rest.lines, l)
			}
			continue
		}
		if of[kind] == nil {
			sub := *g
			head := g.lines[at]
			head.cells = append([]cell{{row: head.number}}, head.cells[1:]...)
			sub.lines = []line{head}
			of[kind] = &sub
			order = append(order, kind)
		}
		l.cells = append([]cell{{row: l.number}}, l.cells[1:]...)
		of[kind].lines = append(of[kind].lines, l)
	}
	for i := range rest.lines { // a comment is what stands behind its mark
		if c := rest.lines[i].at(0); strings.HasPrefix(c.text, "#") {
			c.text = lexicon.Tidy(strings.TrimLeft(c.text, "# "))
			c.raw = c.text
		}
	}
	for _, b := range r.bands(&rest) {
		r.band(&rest, b[0], b[1], tab, b[0] == 0)
	}
	for _, kind := range order {
		sub := of[kind]
		for i := range sub.lines { // no blank rows between them
			sub.lines[i].number = sub.lines[i].cells[1].row
		}
		s := &bandScan{r: r, g: sub, left: 1, right: g.width, tab: tab, scope: tab, begun: true}
		s.begin(0, 1)
		for i := 1; i < len(sub.lines); i++ {
			s.cur.records = append(s.cur.records, record{i, s.scope})
		}
	}
	return &grid{Table: g.Table, index: g.index}
}

func isKindHead(heads map[string]int, i int) bool {
	for _, at := range heads {
		if at == i {
			return true
		}
	}
	return false
}
