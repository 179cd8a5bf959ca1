package reading

import (
	"fmt"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// blankZeros takes the zeros out that stand among days, and beside them among states: a formula that copies a blank cell
// gives 0.
func (r *reader) blankZeros(b *block) {
	for i := range b.cols {
		at := b.cols[i].at
		days, zeros, other := 0, 0, 0
		for _, rec := range b.records {
			if other > 0 {
				break
			}
			switch c := b.g.lines[rec.row].at(at); {
			case c.text == "":
			case c.text == "0":
				zeros++
			case c.look().Date != 0 || r.kind(c).date.Form == lexicon.FullDate:
				days++
			default:
				other++
			}
		}
		if zeros == 0 || days < 2 || other > 0 {
			continue
		}
		words := false // what stands beside the days is told in words
		for _, rec := range b.records {
			t := b.g.lines[rec.row].at(at + 1).text
			words = words || t != "" && !r.kindOf(t).isNum
		}
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			if l.at(at).text != "0" {
				continue
			}
			l.cells[at].text = ""
			if words && at+1 < len(l.cells) && l.cells[at+1].text == "0" {
				l.cells[at+1].text = ""
			}
			r.Note(survey.Cell{File: b.g.File, Sheet: b.g.Name, Row: l.number, Column: letter(at)}, "zero-blank", b.g.File+"\x00"+b.g.Name, "", func(g *group) string {
				return r.Say("0 stands among the days in %s, as a formula gives it for a blank cell; we read it as blank.", g.Where())
			})
		}
	}
}

// A copied is what a table says of one nest, as far as it can be held against another table.
type copied struct {
	row    int
	set    string
	days   []string
	states []string
}

// copies finds tables that say again what others say: word for word they are left out, with differences the sender is
// asked which counts.
func (r *reader) copies() {
	type table struct {
		b     *block
		nests map[string]copied
	}
	var tables []table
	for _, b := range r.blocks {
		if (b.kind == nestTable || b.kind == visitTable) && !b.tail && b.g.Name != "" && !b.has(lexicon.Event) {
			if n := r.copiedOf(b); len(n) >= 4 {
				tables = append(tables, table{b, n})
			}
		}
	}
	for i := len(tables) - 1; i >= 0; i-- {
		t := tables[i]
		all := map[string]copied{} // of the other tabs
		from := map[string]*block{}
		var rivals []*block
		for j, o := range tables {
			if j == i || o.b.g.index == t.b.g.index || o.b.kind == notOurs || o.b.kind != t.b.kind {
				continue
			}
			same := 0
			for k, n := range t.nests {
				if m, ok := o.nests[k]; ok && n.sameDays(m) {
					same++
				}
			}
			if same*10 < min(len(t.nests), len(o.nests))*8 {
				continue
			}
			rivals = append(rivals, o.b)
			for k, n := range o.nests {
				all[k], from[k] = n, o.b
			}
		}
		found, differ := 0, []survey.Cell(nil)
		for k, n := range t.nests {
			m, ok := all[k]
			if !ok {
				continue
			}
			found++
			if !n.agrees(m) {
				differ = append(differ, survey.Cell{File: t.b.g.File, Sheet: t.b.g.Name, Row: n.row}, survey.Cell{File: from[k].g.File, Sheet: from[k].g.Name, Row: m.row})
			}
		}
		if found*10 < len(t.nests)*9 {
			continue
		}
		slices.SortFunc(differ, func(a, b survey.Cell) int { return strings.Compare(a.Sheet, b.Sheet)*1000 + a.Row - b.Row })
		if len(differ) == 0 {
			r.leaveCopy(t.b)
			tables = slices.Delete(tables, i, i+1)
			continue
		}
		if len(rivals) == 1 && len(differ) <= len(t.nests) {
			r.askCopy(t.b, rivals[0], differ)
		}
	}
}

// copiedOf reads a table as far as copies of it can be told.
func (r *reader) copiedOf(b *block) map[string]copied {
	e := r.newEmitter(b, nil)
	out := map[string]copied{}
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		nest, at := e.nestText(l)
		if nest == "" {
			continue
		}
		line, nest := e.lineAndNest(l, rec.scope, e.kindIn(at, nest), true)
		c := copied{row: l.number}
		if e.set != nil {
			c.set = l.at(e.set.at).text
		}
		for _, v := range b.visits {
			day, state := "", ""
			if v.on >= 0 {
				day = l.at(b.cols[v.on].at).text
			} else if v.date.date.Form != lexicon.NoDate {
				day = b.cols[v.found].head.Text
			}
			if v.found >= 0 {
				if t := l.at(b.cols[v.found].at).text; t != "" {
					s, ok := b.cols[v.found].codes.of(t)
					if !ok {
						s = r.kindOf(t).sight
					}
					state = fmt.Sprint(s.Mark)
					if s.Mark == lexicon.Unknown {
						state = lexicon.Fold(t)
					}
				}
			}
			c.days, c.states = append(c.days, day), append(c.states, state)
		}
		key := lexicon.Fold(line) + "\x00" + lexicon.Fold(nest)
		if _, twice := out[key]; twice {
			return nil
		}
		out[key] = c
	}
	return out
}

// sameDays tells whether two tables speak of the same visits of a nest: all days that both write are the same, and one is.
func (c copied) sameDays(o copied) bool {
	same := c.set != "" && c.set == o.set
	if c.set != "" && o.set != "" && c.set != o.set {
		return false
	}
	for i := 0; i < min(len(c.days), len(o.days)); i++ {
		if c.days[i] != "" && o.days[i] != "" {
			if c.days[i] != o.days[i] {
				return false
			}
			same = true
		}
	}
	return same && len(c.days) == len(o.days)
}

func (c copied) agrees(o copied) bool {
	for i := 0; i < min(len(c.states), len(o.states)); i++ {
		if c.states[i] != o.states[i] {
			return false
		}
	}
	return true
}

func (r *reader) leaveCopy(b *block) {
	if !r.Note(survey.Cell{File: b.g.File, Sheet: b.g.Name}, "copy", b.g.File+"\x00"+b.g.Name, "", func(*group) string {
		return r.Say("Tab “%s” says again what other tabs say; we left it out.", b.g.Name)
	}) {
		return
	}
	r.dropBlock(b)
}

// askCopy asks which of two tabs counts that speak of the same visits and differ.
func (r *reader) askCopy(second, first *block, cells []survey.Cell) {
	if lateTab(first.g) && !lateTab(second.g) {
		first, second = second, first
	}
	p := inquiry.Prompt{
		Kind: "tab", Place: "copies\x00" + first.g.File + "\x00" + first.g.Name + "\x00" + second.g.Name, Weight: inquiry.PleaseLook, Default: "first", Rank: 2,
		Text: func(g *group) string {
			return r.Say("Tabs “%s” and “%s” tell of the same looks and differ (%s). Which one counts? Until you say, it is “%s”.", first.g.Name, second.g.Name, g.Where(), first.g.Name)
		},
		Choices: []inquiry.Choice{{ID: "first", Label: r.Say("“%s” counts", first.g.Name)}, {ID: "second", Label: r.Say("“%s” counts", second.g.Name)}, {ID: "both", Label: r.Say("Both: they are two looks or two people")}},
	}
	a := ""
	for _, c := range cells {
		a = r.Ask(c, p)
	}
	out := second
	switch a {
	case "second":
		out = first
	case "both":
		return
	}
	r.dropBlock(out)
}

// lateTab tells whether a tab's name says that it is old or a copy.
func lateTab(g *grid) bool {
	return g.Hidden || slices.ContainsFunc(strings.Fields(lexicon.Words(g.Name)), func(w string) bool { return slices.Contains(oldTab, w) })
}
