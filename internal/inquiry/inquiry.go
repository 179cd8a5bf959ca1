// Package inquiry gathers what a reader of sheets has to say to the sender: the questions it asks, what it tidied, what
// it refused and what it set aside. Cells that one answer settles share one question, and a sheet never gets more than
// a handful: nobody answers hundreds.
package inquiry

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"

	"tussock/internal/survey"
	"tussock/internal/words"
)

// MaxQuestions is how many open questions one reading shows. What more there is to ask waits for their answers.
const MaxQuestions = 7

// maxCells is how many places a question, a note or a reason lists; its text counts them all.
const maxCells = 500

// A Weight says how much hangs on a question.
type Weight int

// MustAnswer holds the rows concerned back until it is answered; PleaseLook goes on with its default.
const (
	MustAnswer Weight = iota
	PleaseLook
)

// A Question groups all cells that one answer settles.
type Question struct {
	ID      string // the same at every reading of the same files
	Kind    string // a fixed word without any of the sheet's data
	Weight  Weight
	Text    string
	Choices []Choice // the likelier first
	Default string   // the choice in force until it is answered; "" where the rows wait
	Cells   []survey.Cell
}

// A Choice is one answer.
type Choice struct{ ID, Label string }

// A Tidied note tells of a change made in reading, which the sender can take back by its ID.
type Tidied struct {
	ID, Kind, Text string
	Cells          []survey.Cell
}

// A Problem is a cell, row or file that could not be used. Row is 0 where the whole file or sheet is meant, Column ""
// where the whole row is.
type Problem struct {
	File    string `json:"file"`
	Sheet   string `json:"sheet"`
	Row     int    `json:"row"`
	Column  string `json:"column"`
	Value   string `json:"value"`
	Problem string `json:"problem"`
}

// An Aside is a reason for which filled cells became nothing.
type Aside struct {
	Text  string
	Cells []survey.Cell
}

// A Prompt is a question about to be asked at one cell. Kind and Place together make its ID, so cells of the same kind
// and place share one answer.
type Prompt struct {
	Kind, Place string
	Weight      Weight
	Default     string
	Text        func(g *Group) string
	Choices     []Choice
	Word        string // the key of the memory that the answer settles, if it does
	Rank        int    // of two questions of one weight the lower is asked first
}

// A Log is everything one reading has to say.
type Log struct {
	Voice
	answers map[string]string
	taken   map[string]bool     // by question: whether an answer fitted
	choices map[string][]Choice // by question: what could have been chosen where an answer did not fit
	undone  map[string]bool
	Many    bool // more than one file or tab is in the batch

	refused   []Problem
	asked     map[about]*Group
	noted     map[about]*Group
	set       map[string]*Group
	order     []*Group // of questions
	notes     []*Group
	asides    []*Group
	settled   map[string]string
	sentences map[string]string
	tables    map[[2]string]int
	heard     *Said // by whom listens
}

// About is what a question or a note is about. Of one kind and place there is one.
type about struct{ kind, place string }

// NewLog begins a reading. answers are the sender's, by question; undone are the notes taken back.
func NewLog(say words.Speaker, answers map[string]string, undone []string) *Log {
	l := &Log{
		Voice: Voice{say}, answers: answers, taken: map[string]bool{}, choices: map[string][]Choice{}, undone: map[string]bool{}, asked: map[about]*Group{}, noted: map[about]*Group{}, set: map[string]*Group{},
		settled: map[string]string{}, sentences: map[string]string{}, tables: map[[2]string]int{},
	}
	for _, id := range undone {
		l.undone[id] = true
	}
	return l
}

// A Group gathers the cells of one question, note or reason.
type Group struct {
	Prompt
	Voice
	ID    string
	N     int // how many cells; -1 once settled
	Cells []survey.Cell
	Words []string // as spelled, each once
	many  bool
}

func (g *Group) add(c survey.Cell, word string) {
	g.N++
	if len(g.Cells) < maxCells {
		g.Cells = append(g.Cells, c)
	}
	if word != "" && len(g.Words) < 30 && !slices.Contains(g.Words, word) {
		g.Words = append(g.Words, strings.Clone(word))
	}
}

// ID is the same at every reading of the same files, and tells nothing of what they hold.
func ID(kind, place string) string {
	h := fnv.New64a()
	h.Write([]byte(kind + "\x00" + place)) // a hash does not fail
	return fmt.Sprintf("%s-%016x", kind, h.Sum64())
}

// Answer returns what the sender answered to a question, "" where nothing yet.
func (l *Log) Answer(kind, place string) string {
	id := ID(kind, place)
	a, ok := l.answers[id]
	if ok {
		l.taken[id] = true
	}
	return a
}

// A Misfit is an answer that settled nothing: no question of this reading has its ID, or its question does not offer
// the choice.
type Misfit struct {
	ID, Choice string
	Offered    []Choice // by the question of that ID; nil where there is none
}

// Misfits lists the answers that settled nothing, by ID.
func (l *Log) Misfits() []Misfit {
	var out []Misfit
	for id, a := range l.answers {
		if !l.taken[id] || l.choices[id] != nil {
			out = append(out, Misfit{ID: id, Choice: a, Offered: l.choices[id]})
		}
	}
	slices.SortFunc(out, func(a, b Misfit) int { return strings.Compare(a.ID, b.ID) })
	return out
}

// Ask returns the choice in force: the sender's answer, else the default, "" where the rows must wait.
func (l *Log) Ask(c survey.Cell, p Prompt) string {
	key := about{p.Kind, p.Place}
	g := l.asked[key]
	if g == nil {
		g = &Group{Prompt: p, Voice: l.Voice, ID: ID(p.Kind, p.Place), many: l.Many}
		if a, ok := l.answers[g.ID]; ok {
			if slices.ContainsFunc(p.Choices, func(c Choice) bool { return c.ID == a }) {
				g.Default, g.N = a, -1
				l.taken[g.ID] = true
				if p.Word != "" {
					l.settled[p.Word] = a
				}
			} else {
				l.choices[g.ID] = p.Choices
			}
		}
		l.asked[key] = g
		l.order = append(l.order, g)
	}
	l.hear(saying{group: g, column: c.Column})
	if g.N >= 0 {
		g.add(c, "")
	}
	return g.Default
}

// Asked tells whether a question stands already, so that what it takes to put it need not be made again.
func (l *Log) Asked(kind, place string) bool { return l.asked[about{kind, place}] != nil }

// Again adds a cell to a question that stands and returns the choice in force.
func (l *Log) Again(c survey.Cell, kind, place string) string {
	g := l.asked[about{kind, place}]
	l.hear(saying{group: g, column: c.Column})
	if g.N >= 0 {
		g.add(c, "")
	}
	return g.Default
}

// Note records something tidied and tells whether it stands; false where the sender took it back.
func (l *Log) Note(c survey.Cell, kind, place, word string, text func(g *Group) string) bool {
	key := about{kind, place}
	g := l.noted[key]
	if g == nil {
		g = &Group{Prompt: Prompt{Kind: kind, Place: place, Text: text}, Voice: l.Voice, ID: ID(kind, place), many: l.Many}
		if l.undone[g.ID] {
			g.N = -1
		}
		l.noted[key] = g
		l.notes = append(l.notes, g)
	}
	l.hear(saying{group: g, column: c.Column})
	if g.N < 0 {
		return false
	}
	g.add(c, word)
	return true
}

// SetAside records a filled cell that became nothing, and why.
func (l *Log) SetAside(c survey.Cell, place string, text func(g *Group) string) {
	g := l.set[place]
	if g == nil {
		g = &Group{Prompt: Prompt{Place: place, Text: text}, Voice: l.Voice, many: l.Many}
		l.set[place] = g
		l.asides = append(l.asides, g)
	}
	g.add(c, "")
}

// Refuse lists a cell, row or file as not used.
func (l *Log) Refuse(c survey.Cell, value, problem string) {
	if len(value) > 200 {
		value = strings.ToValidUTF8(value[:200], "") + "…"
	}
	l.refused = append(l.refused, Problem{
		File: c.File, Sheet: c.Sheet, Row: c.Row, Column: c.Column, Value: strings.Clone(value), Problem: l.sentence(problem),
	})
	l.hear(saying{problem: l.refused[len(l.refused)-1]})
}

// Said is what was asked, noted and refused of one cell.
type Said []saying

type saying struct {
	group   *Group // nil where it was refused
	column  string
	problem Problem
}

func (l *Log) hear(s saying) {
	if l.heard != nil {
		*l.heard = append(*l.heard, s)
	}
}

// Listen does some work and returns what it said, so that the same can be said of other cells without the work. Nobody listens
// within it.
func (l *Log) Listen(work func()) Said {
	var said Said
	l.heard = &said
	work()
	l.heard = nil
	return said
}

// Repeat says of the cells of another row what was said of one.
func (l *Log) Repeat(said Said, row survey.Cell) {
	for i := range said {
		s := &said[i]
		switch {
		case s.group == nil:
			s.problem.Row = row.Row
			l.refused = append(l.refused, s.problem)
		case s.group.N >= 0:
			row.Column = s.column
			s.group.add(row, "")
		}
	}
}

// sentence keeps one copy of each sentence, since a large sheet may earn the same one thousands of times.
func (l *Log) sentence(s string) string {
	if kept, ok := l.sentences[s]; ok {
		return kept
	}
	if len(l.sentences) < 10_000 {
		l.sentences[s] = s
	}
	return s
}

// Table tells in which order the tables of the batch come, so that what is refused can be listed in that order.
func (l *Log) Table(file, sheet string) {
	key := [2]string{file, sheet}
	if _, ok := l.tables[key]; !ok {
		l.tables[key] = len(l.tables) + 1
	}
}

// Refused lists what could not be used, in the order of the sheets.
func (l *Log) Refused() []Problem {
	slices.SortStableFunc(l.refused, func(a, b Problem) int {
		return cmp.Or(l.tables[[2]string{a.File, a.Sheet}]-l.tables[[2]string{b.File, b.Sheet}], a.Row-b.Row)
	})
	return l.refused
}

// Questions lists the open questions: those that must be answered first, and of each weight those with most at stake.
func (l *Log) Questions() []Question {
	var open []*Group
	for _, g := range l.order {
		if g.N > 0 {
			open = append(open, g)
		}
	}
	slices.SortStableFunc(open, func(a, b *Group) int {
		return cmp.Or(int(a.Weight)-int(b.Weight), a.Rank-b.Rank)
	})
	var out []Question
	for _, g := range open[:min(len(open), MaxQuestions)] {
		out = append(out, Question{ID: g.ID, Kind: g.Kind, Weight: g.Weight, Text: g.Prompt.Text(g), Choices: g.Choices, Default: g.Default, Cells: g.Cells})
	}
	return out
}

// Tidied lists what was tidied, in the order in which it was met.
func (l *Log) Tidied() []Tidied {
	var out []Tidied
	for _, g := range l.notes {
		if g.N > 0 {
			out = append(out, Tidied{ID: g.ID, Kind: g.Kind, Text: g.Prompt.Text(g), Cells: g.Cells})
		}
	}
	return out
}

// Asides lists what became nothing, and why.
func (l *Log) Asides() []Aside {
	var out []Aside
	for _, g := range l.asides {
		out = append(out, Aside{Text: g.Prompt.Text(g), Cells: g.Cells})
	}
	return out
}

// Settled lists the words that answers settled, in the form in which they are remembered.
func (l *Log) Settled() map[string]string { return l.settled }

// Where names the rows of a group the way their sheet counts them: "row 5", "rows 4–9 and 12 of tab Line A".
func (g *Group) Where() string {
	type place struct{ file, sheet string }
	var order []place
	rows := map[place][]int{}
	for _, c := range g.Cells {
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
		s := g.Spans(rows[p])
		switch {
		case s == "":
			s = g.Table(p.file, p.sheet)
		case g.many:
			s = g.Say("%s of %s", s, g.Table(p.file, p.sheet))
		}
		parts = append(parts, s)
	}
	return g.List(parts)
}
