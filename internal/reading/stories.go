package reading

import (
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/narration"
)

// story returns the column whose cells each tell the whole story of a nest: its setting and its checks; nil where there is
// none, or where other columns tell of checks too.
func (r *reader) story(b *block) *column {
	if b.kind != nestTable && b.kind != visitTable || !b.has(lexicon.Nest) {
		return nil
	}
	var found *column
	told := map[string]int{} // by text: how many days it tells of
	for i := range b.cols {
		c := &b.cols[i]
		switch stories, days, n := 0, 0, 0; c.role {
		case lexicon.Nest, lexicon.Line, lexicon.Substrate, lexicon.Plant, lexicon.Site, lexicon.Ranch:
		default:
			for _, rec := range b.records {
				text := wholeText(b.g.lines[rec.row].at(c.at))
				if text == "" {
					continue
				}
				n++
				k, known := told[text]
				if !known {
					k = narration.Days(text)
					told[text] = k
				}
				switch {
				case k >= 2:
					stories++
				case k == 1:
					days++
				}
			}
			switch {
			case n > 0 && stories*2 > n && n*2 > len(b.records):
				if found != nil {
					return nil
				}
				found = c
			case n > 0 && days*2 > n && c.role != lexicon.SetOn:
				return nil
			}
		}
	}
	return found
}

// wholeText is the text of a cell as it came, with its line breaks.
func wholeText(c *cell) string {
	if c.raw != "" {
		return c.raw
	}
	return c.text
}

// storyPassages takes a table whose rows each tell the story of a nest in one cell.
func (r *reader) storyPassages(b *block, story *column) []passage {
	e := r.newEmitter(b, nil)
	var out []passage
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		line, _ := e.told(l, e.line, true)
		nest := l.at(e.nest.at)
		number := nest.text
		if k := r.kind(nest); k.isID {
			line, number = k.id.line, k.id.nest
		}
		if line = lineName(line); line == "" {
			line = rec.scope.lineName()
		}
		c := l.at(story.at)
		if c.text == "" || nest.text == "" || line == "" {
			continue
		}
		p := narration.Passage{Line: line, Nest: number, Gap: true}
		if !lexicon.Digit(number[0]) { // a row about the line: "belt"
			p.Nest = ""
			p.Text = number + ": " + wholeText(c)
			out = append(out, passage{p, c, rec.scope})
			continue
		}
		sc := rec.scope
		if t, at := e.told(l, e.site, true); t != "" {
			sc = sc.child(facts{site: fact{text: t, at: at}})
		}
		for _, col := range []*column{e.set, e.cover, e.plant} {
			if col == nil || col == story {
				continue
			}
			if t, at := e.told(l, col, false); t != "" {
				q := p
				q.Text, q.Is = t, narration.Setting
				out = append(out, passage{q, at, sc})
			}
		}
		p.Text = wholeText(c)
		out = append(out, passage{p, c, sc})
	}
	return out
}

// mostStories is how many rows such a table may have: nobody tells more stories in words.
const mostStories = 2000

// namedStories reads a grid whose rows each have the name of a nest, with its line in it, and its whole story in another cell, as
// programs for GPS write waypoints: "A01 | Line A nest 1 bunchgrass | set 5/14; 5/29 ok; 6/12 gone". Rows without a story are other
// places. It returns nil where the grid is of another kind.
func (r *reader) namedStories(g *grid) []passage {
	if g.held > 0 || g.width < 2 || len(g.lines) > mostStories {
		return nil
	}
	names, stories := -1, -1
	most := 0
	for k := range g.width {
		n, told := 0, 0
		styles := map[string]bool{}
		for i := range g.lines {
			c := g.lines[i].at(k)
			if c.text == "" {
				continue
			}
			if id := r.kind(c); id.isID && !id.isNum {
				n++
				styles[id.id.style] = true
			}
			if text := wholeText(c); narration.Days(text) >= 2 && setPattern.MatchString(text) {
				told++
			}
		}
		switch {
		case told >= 3 && told*2 > len(g.lines):
			if stories >= 0 {
				return nil
			}
			stories = k
		case n > most && n >= 3 && n*2 > len(g.lines) && len(styles) == 1:
			names, most = k, n
		}
	}
	if names < 0 || stories < 0 {
		return nil
	}
	tab := r.tabScope[g.index]
	var out []passage
	for i := range g.lines {
		l := &g.lines[i]
		id := r.kind(l.at(names))
		c := l.at(stories)
		if !id.isID || c.text == "" || narration.Days(wholeText(c)) == 0 {
			continue
		}
		p := narration.Passage{Line: id.id.line, Nest: strings.TrimLeft(id.id.nest, "0"), Gap: true}
		for k := range l.cells {
			o := &l.cells[k]
			if k == names || k == stories || o.text == "" {
				continue
			}
			if items := r.scan(o.text); between(items, aCover) && !between(items, aState) {
				q := p
				q.Text, q.Is = coverWords(items, o.text), narration.Setting
				out = append(out, passage{q, o, tab})
			}
		}
		p.Text = wholeText(c)
		out = append(out, passage{p, c, tab})
	}
	return out
}

// coverWords are the words of a cover in a text that says more.
func coverWords(items []item, text string) string {
	for _, it := range items {
		if it.is == aCover {
			return text[it.from:it.to]
		}
	}
	return text
}
