// Package readback lays out, for its sender, what was read of a sheet: the sheet itself with what became of each cell, how
// each column was read, the questions with the nests that each answer would give, and the sums.
//
// A page is made once, when a sheet has been read, and then only shown: nothing here needs the sheet again.
package readback

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A Page is what a sender sees of one reading, in one language.
type Page struct {
	Problem   string   `json:",omitempty"` // why nothing could be read; all else is empty then
	Rows      int      // of data seen
	Seasons   []Season // latest first
	Elsewhere []Place  `json:",omitempty"` // other ranches that the sheet holds nests of
	Sentences []string // the first nests in words
	Questions []Question
	Tidied    []Note
	Aside     []Note
	Refused   []Note
	Sums      []Sum // the sheet's own
	Tables    []Table

	Remembered []string `json:",omitempty"` // headings of columns that are read as the ranch said before
	Says       string   `json:",omitempty"` // another ranch of the sender, where all rows stand under its name
}

// A Season sums up the nests and belts of one season.
type Season struct {
	Season                     int
	Nests, Lines, Belts        int
	Intact, Taken, Lost        int // at the last check
	Spoiled, Trampled, Flooded int
	Unchecked                  int // set out, and nobody has looked yet
	Waiting                    int // nests that wait for an answer and do not count yet
}

// A Place is another ranch that rows of the sheet are of.
type Place struct {
	Ranch string
	Nests int
	Filed bool // the sheet is filed there too
}

// A Question is asked about a column or a word, with what each answer would give.
type Question struct {
	ID, Kind, Text string
	Must           bool // rows wait for the answer
	Default        string
	Cells          []survey.Cell
	Choices        []Choice
}

// A Choice is one answer to a question.
type Choice struct {
	ID, Label string
	Tried     bool          `json:",omitempty"` // the sheet was read with this answer: the rest says what came of it
	Nests     int           `json:",omitempty"` // nests that would count
	First     []survey.Nest `json:",omitempty"` // the first of those that the question is about
}

// A Note says one thing of many cells.
type Note struct {
	ID, Kind, Text string        `json:",omitempty"`
	Cells          []survey.Cell // the first of them
	N              int           // how many there are
}

// A Sum is a row of the sheet that adds up, as it stands there.
type Sum struct {
	Sheet string
	Row   int
	Cells []string
}

// cellsMost is how many places a note keeps.
const cellsMost = 12

// Say makes the page of a reading in the language that it was read in. own is the ranch that the sheet is filed under: what
// is of another is counted in Elsewhere alone.
func Say(res *intake.Result, own string) *Page {
	p := &Page{Rows: res.Rows, Sentences: res.Sentences}
	p.Seasons, p.Elsewhere = sumUp(res, own)
	for _, q := range res.Questions {
		asked := Question{ID: q.ID, Kind: q.Kind, Text: q.Text, Must: q.Weight == inquiry.MustAnswer, Default: q.Default, Cells: few(q.Cells)}
		for _, c := range q.Choices {
			asked.Choices = append(asked.Choices, Choice{ID: c.ID, Label: c.Label})
		}
		p.Questions = append(p.Questions, asked)
	}
	for _, t := range res.Tidied {
		p.Tidied = append(p.Tidied, Note{ID: t.ID, Kind: t.Kind, Text: t.Text, Cells: few(t.Cells), N: len(t.Cells)})
	}
	for _, a := range res.NotUsed {
		p.Aside = append(p.Aside, Note{Text: a.Text, Cells: few(a.Cells), N: len(a.Cells)})
	}
	for _, g := range refusals(res) {
		p.Refused = append(p.Refused, Note{Text: g.text, Cells: few(g.cells), N: len(g.cells)})
	}
	return p
}

// Failed makes the page of a sheet of which nothing could be read.
func Failed(problem string) *Page { return &Page{Problem: problem} }

func few(cells []survey.Cell) []survey.Cell { return slices.Clone(cells[:min(len(cells), cellsMost)]) }

// sumUp counts nests and belts by season, latest first, those of other ranches apart.
func sumUp(res *intake.Result, own string) (seasons []Season, elsewhere []Place) {
	bySeason, lines, others := map[int]*Season{}, map[survey.TransectKey]bool{}, map[string]int{}
	of := func(season int) *Season {
		if bySeason[season] == nil {
			bySeason[season] = &Season{Season: season}
		}
		return bySeason[season]
	}
	for i := range res.Data.Nests {
		n := &res.Data.Nests[i]
		if n.Ranch != own {
			others[n.Ranch]++
			continue
		}
		s := of(n.Season)
		s.count(n)
		if !lines[n.Key()] {
			lines[n.Key()] = true
			s.Lines++
		}
	}
	for i := range res.Waiting {
		if n := &res.Waiting[i]; n.Ranch == own {
			of(n.Season).Waiting++
		}
	}
	for i := range res.Data.Belts {
		if b := &res.Data.Belts[i]; b.Ranch == own {
			of(b.Season).Belts++
		}
	}
	for _, s := range bySeason {
		seasons = append(seasons, *s)
	}
	slices.SortFunc(seasons, func(a, b Season) int { return b.Season - a.Season })
	for name, n := range others {
		elsewhere = append(elsewhere, Place{Ranch: name, Nests: n})
	}
	slices.SortFunc(elsewhere, func(a, b Place) int { return bytes.Compare([]byte(a.Ranch), []byte(b.Ranch)) })
	return seasons, elsewhere
}

func (s *Season) count(n *survey.Nest) {
	s.Nests++
	switch n.Fate() {
	case "":
		s.Unchecked++
	case survey.Intact:
		s.Intact++
	case survey.Taken:
		s.Taken++
	case survey.Lost:
		s.Lost++
	case survey.Spoiled:
		s.Spoiled++
	case survey.Trampled:
		s.Trampled++
	case survey.Flooded:
		s.Flooded++
	}
}

// A refusal is one sentence and all the cells that it was said of.
type refusal struct {
	text  string
	cells []survey.Cell
}

// refusals groups what was refused by sentence, without the cells that a question is about: those wait for the answer.
func refusals(res *intake.Result) (groups []refusal) {
	type place struct {
		file, sheet string
		row         int
	}
	asked := map[place]bool{}
	for _, q := range res.Questions {
		for _, c := range q.Cells {
			asked[place{c.File, c.Sheet, c.Row}] = true
		}
	}
	at := map[string]int{}
	for _, p := range res.Refused {
		if p.Row > 0 && asked[place{p.File, p.Sheet, p.Row}] {
			continue
		}
		i, ok := at[p.Problem]
		if !ok {
			i = len(groups)
			at[p.Problem] = i
			groups = append(groups, refusal{text: p.Problem})
		}
		groups[i].cells = append(groups[i].cells, survey.Cell{File: p.File, Sheet: p.Sheet, Row: p.Row, Column: p.Column})
	}
	return groups
}

// Nest says a nest in one sentence, as the first nests are read back.
func Nest(say words.Speaker, n *survey.Nest) string {
	v := inquiry.Voice{Speaker: say}
	parts := make([]string, 0, len(n.Visits))
	for _, visit := range n.Visits {
		parts = append(parts, v.FoundOn(visit))
	}
	if len(parts) == 0 {
		parts = append(parts, say.Say("not checked yet"))
	}
	if n.SetOn == 0 || n.Substrate == "" {
		return say.Say("Nest %s on line %s: %s.", n.Number, n.Transect, v.List(parts))
	}
	return say.Say("Nest %s on line %s, in %s, set %s: %s.", n.Number, n.Transect, v.Cover(n.Substrate), v.Date(n.SetOn), v.List(parts))
}

// version changes when what is kept can no longer be read; the sheet is then read again.
const version = 1

// kept is what is written down.
type kept[T any] struct {
	Version int
	Body    T
}

func pack(body any) ([]byte, error) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if err := json.NewEncoder(z).Encode(kept[any]{version, body}); err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	if err := z.Close(); err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	return b.Bytes(), nil
}

// unpack reads what pack wrote; nil where it was written by another version of the program.
func unpack[T any](data []byte) (*T, error) {
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("unpack: %w", err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		return nil, fmt.Errorf("unpack: %w", err)
	}
	var head struct{ Version int }
	if err := json.Unmarshal(text, &head); err != nil || head.Version != version {
		return nil, err
	}
	var k kept[T]
	if err := json.Unmarshal(text, &k); err != nil {
		return nil, fmt.Errorf("unpack: %w", err)
	}
	return &k.Body, nil
}

// Pack writes the page in the form in which it is kept.
func (p *Page) Pack() ([]byte, error) { return pack(p) }

// Unpack reads a page; nil where it was written by another version of the program.
func Unpack(data []byte) (*Page, error) { return unpack[Page](data) }
