package pages

import (
	"html/template"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

// ranchPage is My ranch: one ranch in one season, in the order in which its owner asks.
type ranchPage struct {
	base
	Name    string
	Ranches []navLink // the owner's, where there are several
	Seasons []navLink
	Season  int // shown; 0 where there is none
	Today   string
	Empty   string // why there is nothing to show
	Gist    string // whether cover is short, for whoever reads no further
	Open    *openQuestions
	Nests   *nestsPart
	Kinds   *kindsPart
	Cover   *coverPart
	Mix     *mixPart
	Years   *yearsPart
	Talk    []talk
	Limits  []string
	WhoSees string
}

// openQuestions reminds the sender of what is still to be answered.
type openQuestions struct{ Sentence, Path string }

// A beside is what the bulletin says next to one's own figure, or the friendly reason why it says nothing.
type beside struct {
	Title, Sentence string
	Mark            template.HTML
}

type nestsPart struct {
	Count    string // "15 of 24 nests", the beginning of the sentence
	Sentence string
	Fates    []fateRow
	Note     string
	Beside   *beside
	Table    []tableRow
}

type fateRow struct {
	Count int
	Words string
	Marks template.HTML
}

type tableRow struct{ Name, Set, Lines, Counted, Figure, Range string }

type kindsPart struct {
	Sentence string
	Rows     []kindRow
}

type kindRow struct {
	Name, Sentence string
	Dots           template.HTML
}

type coverPart struct {
	Sentence string
	Strips   []strip
	Axis     template.HTML
	Beside   *beside
}

type strip struct {
	Name, Figure string
	Mark         template.HTML
}

type mixPart struct {
	Sentence string
	Bar      template.HTML
	Shares   []share
	Beside   *beside
}

type yearsPart struct {
	Sentence, Words string
	Options         template.JS
	Rows            []yearRow
	Beside          *beside
}

type yearRow struct {
	Season               int
	Nests, Figure, Range string
}

func (s *server) ranches(c *fiber.Ctx, a access.Actor) error { return fiber.ErrNotFound }
func (s *server) ranch(c *fiber.Ctx, a access.Actor) error   { return fiber.ErrNotFound }

// talk is a pattern in the results and what is worth talking over first.
type talk struct{ Seen, First, NotFirst string }
