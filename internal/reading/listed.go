package reading

import (
	"fmt"
	"regexp"
	"strings"

	"tussock/internal/lexicon"
)

// A text may head each line with its days and list its nests below, one a row: "Line 1. Put out May 4. Looked May 18 and Jun 1." above
// "1 grass - fine, then cleaned out". Such lists are read as the table that they stand for.

var (
	listItem   = regexp.MustCompile(`(?i)^\W{0,3}(?:(?:nests?|nidos?|stop|no)\.?\s*)?#?\s*(\d{1,3})\s*[.):]?\s*(\D.*)$`)
	itemCover  = regexp.MustCompile(`^(\([^()]{1,24}\)|[^():;,–-]{1,24}?)\s*[:,–-]\s*(.+)$`)
	nextLook   = regexp.MustCompile(`(?i)\s*(?:;|/|→|->|,?\s+(?:and\s+)?then|,?\s+(?:y\s+)?(?:luego|despu[eé]s|entonces))\s+`)
	numberedIn = regexp.MustCompile(`(?i)^(?:(?:at|on|en|a)\s+)?(?:the\s+|la\s+|el\s+)?(1st|2nd|3rd|first|second|third|primera?|segund[oa]|tercera?|1a|2a|3a)\.?\s+(?:time|look|check|visit|trip|round|vez|vuelta|revisi[oó]n|visita|mirada)\s*[:,–-]?\s*`)
)

// A listedLine is a line and the nests below its head.
type listedLine struct {
	name  string
	days  []string // of setting, then of the looks
	items []listedNest
}

type listedNest struct {
	row    int
	number string
	cover  string
	looks  []string
}

// takeListed takes the lists of nests out of a grid of text.
func (r *reader) takeListed(g *grid, tab *scope) {
	if g.width > 1 || g.held > 0 {
		return
	}
	var lines []*listedLine
	var cur *listedLine
	for i := range g.lines {
		c := g.lines[i].at(0)
		if name, days := r.lineWithDays(c); name != "" {
			cur = &listedLine{name: name, days: days}
			lines = append(lines, cur)
			continue
		}
		if cur == nil || c.text == "" {
			continue
		}
		item, ok := r.listedNest(c.text, len(cur.days)-1)
		switch {
		case !ok || item.number != fmt.Sprint(len(cur.items)+1):
			if len(cur.items) > 0 {
				cur = nil
			}
			continue
		}
		item.row = i
		cur.items = append(cur.items, item)
	}
	looks, n := 0, 0
	for _, l := range lines {
		if len(l.items) == 0 {
			return
		}
		looks = max(looks, len(l.days)-1)
		n += len(l.items)
	}
	if n < 3 {
		return
	}
	if r.firing("listed", g.File+"\x00"+g.Name) {
		r.addListed(g, tab, lines, looks)
	}
}

// lineWithDays reads the head of a line that tells when its nests were set and looked at.
func (r *reader) lineWithDays(c *cell) (name string, days []string) {
	found := lexicon.FindDates(c.text)
	if len(found) < 2 || len(found) > 5 || len(c.text) > 160 {
		return "", nil
	}
	set := setPattern.FindStringIndex(c.text)
	f := r.factsIn(c, false)
	if set == nil || set[0] > found[0].From || found[0].From-set[1] > 20 || f.line.text == "" {
		return "", nil
	}
	for _, d := range found {
		days = append(days, c.text[d.From:d.To])
	}
	return f.line.text, days
}

// listedNest reads "3 grass - good, then eggs gone" as the third nest, its cover and what each look found.
func (r *reader) listedNest(text string, looks int) (n listedNest, ok bool) {
	m := listItem.FindStringSubmatch(text)
	if m == nil || len(lexicon.FindDates(text)) > 0 {
		return n, false
	}
	n.number = strings.TrimLeft(m[1], "0")
	rest := strings.TrimSpace(m[2])
	if c := itemCover.FindStringSubmatch(rest); c != nil {
		cover := strings.Trim(c[1], "() ")
		if k := r.kindOf(cover); k.isCover || strings.HasPrefix(c[1], "(") && len([]rune(cover)) <= 3 {
			n.cover, rest = cover, c[2]
		}
	}
	known := func(t string) bool {
		switch r.kindOf(t).sight.Mark {
		case lexicon.Unknown, lexicon.Blank, lexicon.SetOut:
			return false
		}
		return true
	}
	parts := nextLook.Split(rest, -1)
	if len(parts) == 1 { // commas part looks where all but the last found the eggs
		if list := strings.Split(rest, ","); len(list) > 1 && len(list) <= looks {
			all := true
			for i, p := range list {
				mark := r.kindOf(lexicon.Tidy(p)).sight.Mark
				all = all && known(lexicon.Tidy(p)) && (i == len(list)-1 || mark == lexicon.Intact || mark == lexicon.Skipped)
			}
			if all {
				parts = list
			}
		}
	}
	n.looks = make([]string, looks)
	told, at := 0, 0
	for _, p := range parts {
		p = strings.Trim(lexicon.Tidy(p), " .")
		if v := numberedIn.FindStringSubmatch(p); v != nil {
			at = ordinalOf(v[1]) - 1
			p = strings.TrimSpace(p[len(v[0]):])
		}
		if p == "" || at >= looks || n.looks[at] != "" {
			return n, false
		}
		if known(p) {
			told++
		}
		n.looks[at] = p
		at++
	}
	return n, told > 0
}

func ordinalOf(word string) int {
	switch w := strings.ToLower(word); {
	case strings.HasPrefix(w, "1"), strings.HasPrefix(w, "first"), strings.HasPrefix(w, "primer"):
		return 1
	case strings.HasPrefix(w, "2"), strings.HasPrefix(w, "second"), strings.HasPrefix(w, "segund"):
		return 2
	}
	return 3
}

// addListed opens the table that lists of nests stand for, and takes their rows out of the text.
func (r *reader) addListed(g *grid, tab *scope, lines []*listedLine, looks int) {
	heads := []string{"Line", "Nest", "Cover", "Set"}
	for k := range looks {
		heads = append(heads, fmt.Sprintf("Look %d", k+1), fmt.Sprintf("Look %d found", k+1))
	}
	v := &grid{Table: g.Table, index: g.index, turn: true, width: len(heads)}
	head := line{cells: make([]cell, len(heads))}
	for k, h := range heads {
		head.cells[k] = cell{text: h, raw: h, col: k}
	}
	v.lines = append(v.lines, head)
	covers := false
	for _, l := range lines {
		for _, n := range l.items {
			row := line{number: g.lines[n.row].number}
			cells := []string{l.name, n.number, n.cover, l.days[0]}
			covers = covers || n.cover != ""
			for k := range looks {
				day, found := "", ""
				if k < len(n.looks) && n.looks[k] != "" {
					day, found = l.days[k+1], n.looks[k]
				}
				cells = append(cells, day, found)
			}
			at := g.lines[n.row].at(0)
			for k, t := range cells {
				row.cells = append(row.cells, cell{text: t, raw: t, row: at.row, col: k})
			}
			v.lines = append(v.lines, row)
			g.lines[n.row].cells = nil
		}
	}
	if !covers {
		for i := range v.lines {
			v.lines[i].cells = append(v.lines[i].cells[:2], v.lines[i].cells[3:]...)
		}
		v.width--
	}
	b := &block{g: v, left: 0, right: v.width, heads: []int{0}, top: tab}
	b.cols = r.headed(b)
	for i := 1; i < len(v.lines); i++ {
		b.records = append(b.records, record{i, tab})
	}
	r.addBlock(b)
}
