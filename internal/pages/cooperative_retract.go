package pages

import (
	"fmt"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// retractPage lets a coordinator choose a published figure to take back.
type retractPage struct {
	base
	Season  int
	Figures []retractChoice
	Problem string
}

// retractChoice is one figure, by its place in the bulletin as the coordinator sees it, and what would go with it.
type retractChoice struct {
	Number int
	Key    string // its name in English, which is sent along
	Name   string
	With   []string
	Yes    []string // who would take it back, and since when
	Mine   bool     // the reader is among them
}

// unasked answers only the bare address: what it shows depends on nothing that somebody could ask for in the query, and
// a query that would be ignored invites to try others.
func unasked(h handler) handler {
	return func(c *fiber.Ctx, a access.Actor) error {
		if len(c.Request().URI().QueryString()) > 0 {
			return errNothing
		}
		return h(c, a)
	}
}

// retractForm lists what of a season is published.
func (s *server) retractForm(c *fiber.Ctx, a access.Actor) error {
	season, cells, err := s.publishedCells(c, a)
	if err != nil {
		return err
	}
	return s.showRetract(c, a, fiber.StatusOK, season, cells, "")
}

func (s *server) showRetract(c *fiber.Ctx, a access.Actor, status, season int, cells []bulletin.Cell, problem string) error {
	var yes []postgres.TakingBack
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) { yes, err = tx.TakingsBack(season); return err })
	if err != nil {
		return err
	}
	say := s.speaker(c)
	return s.render(c, status, "cooperative_retract", retractPage{s.base(c, a, say.Say("Take back a figure of %d", season)), season, retractChoices(say, cells, yes), problem})
}

func retractChoices(say words.Speaker, cells []bulletin.Cell, yes []postgres.TakingBack) (list []retractChoice) {
	for i, cell := range cells {
		choice := retractChoice{Number: i + 1, Key: figureName(words.Speaker{}, cell), Name: figureName(say, cell)}
		for _, j := range bulletin.Containing(cells, cell) {
			if j != i {
				choice.With = append(choice.With, figureName(say, cells[j]))
			}
		}
		for _, y := range yes {
			if y.Names(cell) {
				choice.Mine = choice.Mine || y.Mine
				choice.Yes = append(choice.Yes, say.Say("%s said yes on %s.", y.By, say.Day(y.At)))
			}
		}
		list = append(list, choice)
	}
	return list
}

// figureName says which figure is meant: "Northfork: Clumps an acre".
func figureName(say words.Speaker, c bulletin.Cell) string {
	place := say.Say("whole cooperative")
	if c.Area != nil {
		place = *c.Area
	}
	return place + ": " + neighborRowOf(say, c).Name
}

func (s *server) publishedCells(c *fiber.Ctx, a access.Actor) (season int, cells []bulletin.Cell, err error) {
	if season, err = strconv.Atoi(c.Params("season")); err != nil {
		return 0, nil, errNothing
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		cells, err = tx.Cells(season)
		return err
	})
	if err == nil && (season == 0 || len(cells) == 0) {
		err = errNothing
	}
	return season, cells, err
}

// retract is a coordinator's yes to taking the chosen figure back for good, with every other that it is part of.
func (s *server) retract(c *fiber.Ctx, a access.Actor) error {
	season, cells, err := s.publishedCells(c, a)
	if err != nil {
		return err
	}
	number, err := strconv.Atoi(c.FormValue("figure"))
	// The name is sent along, in English whatever the language, so that a page that stood open while something was taken back does not take another.
	if err != nil || number < 1 || number > len(cells) || c.FormValue("name") != "" && c.FormValue("name") != figureName(words.Speaker{}, cells[number-1]) {
		return s.showRetract(c, a, fiber.StatusUnprocessableEntity, season, cells, s.speaker(c).Say("Choose the figure to take back."))
	}
	gone := 0
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		gone, err = tx.Retract(season, cells[number-1])
		return err
	})
	if err != nil {
		return err
	}
	if gone == 0 {
		return s.see(c, fmt.Sprintf("/cooperative/bulletins/%d/retract", season))
	}
	return s.see(c, fmt.Sprintf("/region/%d", season))
}

// retractedWords tells readers what was taken back, a sentence a day: which figures and when, and never why.
func retractedWords(say words.Speaker, list []postgres.Retraction, season int) (sentences []string) {
	var last string
	for _, r := range list {
		if r.Season != season {
			continue
		}
		name := figureName(say, r.Cell)
		if on := say.Day(r.RetractedAt); on != last {
			last = on
			sentences = append(sentences, say.Say("Taken back on %s: %s", on, name))
			continue
		}
		sentences[len(sentences)-1] += "; " + name
	}
	return sentences
}
