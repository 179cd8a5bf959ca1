package intake

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"

	"tussock/internal/survey"
)

// maxCells is how many places a question or a note lists; its text counts them all.
const maxCells = 500

// A prompt is a question about to be asked at one cell. Kind and place together make its ID, so cells of the same
// kind and place share one answer.
type prompt struct {
	kind, place string
	weight      Weight
	byDefault   string
	text        func(g *group) string
	choices     []Choice
	word        string // the key of Options.Words that the answer settles, if it does
	rest        string // what more nests have in common, for a question asked nest by nest; see maxSingle
}

// maxSingle is how many nests are asked about one by one. Where more have the same oddity, the rest share one
// question, since nobody answers hundreds.
const maxSingle = 20

// A group gathers the cells of one question or note.
type group struct {
	prompt
	voice
	id    string
	n     int
	cells []survey.Cell
	many  bool     // more than one file or tab is in the batch
	words []string // as spelled, each once
}

func (g *group) add(c survey.Cell, word string) {
	g.n++
	if len(g.cells) < maxCells {
		g.cells = append(g.cells, c)
	}
	if word != "" && len(g.words) < 30 && !slices.Contains(g.words, word) {
		g.words = append(g.words, word)
	}
}

// id is the same at every reading of the same files, and tells nothing of what they hold.
func id(kind, place string) string {
	h := fnv.New64a()
	h.Write([]byte(kind + "\x00" + place)) // a hash does not fail
	return fmt.Sprintf("%s-%016x", kind, h.Sum64())
}

// ask returns the choice in force: the sender's answer, else the default, "" where the rows must wait.
func (r *reader) ask(c survey.Cell, p prompt) string {
	key := p.kind + "\x00" + p.place
	g := r.asked[key]
	if g == nil && p.rest != "" {
		if r.singles[p.kind] == maxSingle {
			p = p.shared()
			key = p.kind + "\x00" + p.place
			g = r.asked[key]
		} else {
			r.singles[p.kind]++
		}
	}
	if g == nil {
		g = &group{prompt: p, voice: r.voice, id: id(p.kind, p.place), many: r.many}
		if a, ok := r.opt.Answers[g.id]; ok && slices.ContainsFunc(p.choices, func(c Choice) bool { return c.ID == a }) {
			g.byDefault, g.n = a, -1 // settled
			if p.word != "" {
				r.out.Words[p.word] = a
			}
		}
		r.asked[key] = g
		r.askedOrder = append(r.askedOrder, g)
	}
	if g.n >= 0 {
		g.add(c, "")
	}
	return g.byDefault
}

// shared is the question about all nests that are not asked about one by one. Choices that only fit one nest fall away.
func (p prompt) shared() prompt {
	rest := p.rest
	p.place, p.rest, p.word = "the rest", "", ""
	p.text = func(g *group) string {
		return g.Count("%d more row %s (%s). One answer settles them all.", "%d more rows %s (%s). One answer settles them all.", g.n, g.n, rest, g.where())
	}
	p.choices = slices.DeleteFunc(slices.Clone(p.choices), func(c Choice) bool { return c.ID == "turn" || strings.HasPrefix(c.ID, "line:") })
	return p
}

// note records something tidied and tells whether it stands; false where the sender took it back.
func (r *reader) note(c survey.Cell, kind, place, word string, text func(g *group) string) bool {
	key := kind + "\x00" + place
	g := r.noted[key]
	if g == nil {
		g = &group{prompt: prompt{kind: kind, place: place, text: text}, voice: r.voice, id: id(kind, place), many: r.many}
		if slices.Contains(r.opt.Undone, g.id) {
			g.n = -1
		}
		r.noted[key] = g
		r.notedOrder = append(r.notedOrder, g)
	}
	if g.n < 0 {
		return false
	}
	g.add(c, word)
	return true
}

// refuse lists a cell, row or file as not used.
func (r *reader) refuse(c survey.Cell, value, problem string) {
	if len(value) > 200 {
		value = strings.ToValidUTF8(value[:200], "") + "…"
	}
	r.out.Refused = append(r.out.Refused, Problem{
		File: c.File, Sheet: c.Sheet, Row: c.Row, Column: c.Column, Value: strings.Clone(value), Problem: r.sentence(problem),
	})
}

// sentence keeps one copy of each sentence, since a large sheet may earn the same one thousands of times.
func (r *reader) sentence(s string) string {
	if kept, ok := r.sentences[s]; ok {
		return kept
	}
	if len(r.sentences) < 10_000 {
		r.sentences[s] = s
	}
	return s
}

// order is where a problem's table came in the batch.
func (r *reader) order(p Problem) int {
	for i, t := range r.tables {
		if t.File == p.File && t.Name == p.Sheet {
			return i
		}
	}
	return -1
}

func (r *reader) finishPrompts() {
	for _, g := range r.askedOrder {
		if g.n > 0 {
			r.out.Questions = append(r.out.Questions, Question{
				ID: g.id, Kind: g.kind, Weight: g.weight, Text: g.text(g), Choices: g.choices, Default: g.byDefault, Cells: g.cells,
			})
		}
	}
	slices.SortStableFunc(r.out.Refused, func(a, b Problem) int {
		return cmp.Or(r.order(a)-r.order(b), a.Row-b.Row)
	})
	slices.SortStableFunc(r.out.Questions, func(a, b Question) int { return int(a.Weight) - int(b.Weight) })
	for _, g := range r.notedOrder {
		if g.n > 0 {
			r.out.Tidied = append(r.out.Tidied, Tidied{ID: g.id, Kind: g.kind, Text: g.text(g), Cells: g.cells})
		}
	}
}

// where names the rows of a group the way their sheet counts them: "row 5", "rows 4–9 and 12 of tab Line A".
func (g *group) where() string {
	type place struct{ file, sheet string }
	var order []place
	rows := map[place][]int{}
	for _, c := range g.cells {
		p := place{c.File, c.Sheet}
		if rows[p] == nil {
			order = append(order, p)
		}
		rows[p] = append(rows[p], max(c.Row, 0))
	}
	var parts []string
	for i, p := range order {
		if i == 3 {
			parts = append(parts, g.Count("%d more place", "%d more places", len(order)-3))
			break
		}
		s := g.spans(rows[p])
		switch {
		case s == "":
			s = g.table(p.file, p.sheet)
		case g.many:
			s = g.Say("%s of %s", s, g.table(p.file, p.sheet))
		}
		parts = append(parts, s)
	}
	return g.list(parts)
}
