package pages

import (
	"fmt"
	"slices"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
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

// unvouched lists the owners whom no coordinator vouched for.
func (s *server) unvouched(c *fiber.Ctx, a access.Actor) (list []postgres.Entity, err error) {
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Entities()
		return err
	})
	return slices.DeleteFunc(list, func(e postgres.Entity) bool { return e.Vouched }), err
}

// vouch vouches for the owners that are ticked.
func (s *server) vouch(c *fiber.Ctx, a access.Actor) error {
	var ids []access.ID
	for _, v := range c.Request().PostArgs().PeekMulti("owner") {
		ids = append(ids, access.ID(v))
	}
	if len(ids) == 0 {
		return errs.New(errs.Invalid, words.Mark("Tick the landowners you vouch for."))
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.Vouch(ids...) }); err != nil {
		return err
	}
	return s.see(c, "/cooperative/bulletins")
}

// orderFinal asks for the final revision of a season whose bulletin is out.
func (s *server) orderFinal(c *fiber.Ctx, a access.Actor) error {
	season, err := strconv.Atoi(c.Params("season"))
	if err != nil {
		return errNothing
	}
	var id access.ID
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		id, err = tx.OrderPress(season, postgres.FinalKind)
		return err
	})
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/bulletins/orders/"+string(id))
}

// approveOrder is the second coordinator's word.
func (s *server) approveOrder(c *fiber.Ctx, a access.Actor) error {
	return s.decide(c, a, (*postgres.Tx).ApproveOrder)
}

func (s *server) declineOrder(c *fiber.Ctx, a access.Actor) error {
	return s.decide(c, a, (*postgres.Tx).DeclineOrder)
}

func (s *server) decide(c *fiber.Ctx, a access.Actor, how func(*postgres.Tx, access.ID) error) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return how(tx, id) }); err != nil {
		return err
	}
	return s.see(c, "/cooperative/bulletins/orders/"+string(id))
}

// retractForm lists what of a season is published.
func (s *server) retractForm(c *fiber.Ctx, a access.Actor) error {
	season, cells, err := s.publishedCells(c, a)
	if err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "cooperative_retract", s.retractPage(c, a, season, cells, ""))
}

func (s *server) retractPage(c *fiber.Ctx, a access.Actor, season int, cells []bulletin.Cell, problem string) retractPage {
	return retractPage{s.base(c, a, s.speaker(c).Say("Take back a figure of %d", season)), season, retractChoices(s.speaker(c), cells), problem}
}

func retractChoices(say words.Speaker, cells []bulletin.Cell) (list []retractChoice) {
	for i, cell := range cells {
		choice := retractChoice{Number: i + 1, Key: figureName(words.Speaker{}, cell), Name: figureName(say, cell)}
		for _, j := range bulletin.Containing(cells, cell) {
			switch {
			case j == i:
			case cells[j].Measure != cell.Measure:
				choice.With = append(choice.With, figureName(say, cells[j]))
			default:
				choice.With = append(choice.With, cellName(say, cells[j]))
			}
		}
		list = append(list, choice)
	}
	return list
}

// figureName is a cell's name with what it tells: "Clumps an acre: Northfork".
func figureName(say words.Speaker, c bulletin.Cell) string {
	return say.Say(measureWords[c.Measure]) + ": " + cellName(say, c)
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

// retract takes the chosen figure back for good, with every other that it is part of.
func (s *server) retract(c *fiber.Ctx, a access.Actor) error {
	season, cells, err := s.publishedCells(c, a)
	if err != nil {
		return err
	}
	number, err := strconv.Atoi(c.FormValue("figure"))
	// The name is sent along, in English whatever the tongue, so that a page that stood open while something was taken back does not take another.
	if err != nil || number < 1 || number > len(cells) || c.FormValue("name") != "" && c.FormValue("name") != figureName(words.Speaker{}, cells[number-1]) {
		page := s.retractPage(c, a, season, cells, s.speaker(c).Say("Choose the figure to take back."))
		return s.render(c, fiber.StatusUnprocessableEntity, "cooperative_retract", page)
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		_, err := tx.Retract(season, cells[number-1])
		return err
	})
	if err != nil {
		return err
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
		name := say.Say(measureWords[r.Measure])
		if r.Figure != "" {
			name = say.Say(figureWords[r.Figure])
		}
		name += ": " + cellName(say, r.Cell)
		if on := say.Day(r.RetractedAt); on != last {
			last = on
			sentences = append(sentences, say.Say("Taken back on %s: %s", on, name))
			continue
		}
		sentences[len(sentences)-1] += "; " + name
	}
	return sentences
}
