package pages

import (
	"errors"
	"slices"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// whoOwnersPage asks landowners for their word on who would own a ranch that has no owner.
type whoOwnersPage struct {
	base
	Heirs   []heirRow
	Problem string
	Done    string // what came of the reader's word, just now
}

type heirRow struct {
	Person, Ranch   access.ID
	Name, RanchName string
	Since, Opens    string
	Words           int
	Mine, Open      bool
	Known           string
	There           bool   // owns it now, and another owner would have them taken off
	Lost, LostOn    string // the owner whom the ranch lost last, and when
}

func (s *server) whoOwners(c *fiber.Ctx, a access.Actor) error {
	return s.showHeirs(c, a, fiber.StatusOK, whoOwnersPage{Done: c.Query("said")})
}

func (s *server) showHeirs(c *fiber.Ctx, a access.Actor, status int, page whoOwnersPage) error {
	var list []postgres.Heir
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Heirs()
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, "")
	page.Title = page.Say.Say("New owners for ranches that have none")
	for _, h := range list {
		row := heirRow{h.Person, h.Ranch, h.Name, h.RanchName, page.Say.Day(h.Since), page.Say.Day(h.OpensAt), h.Words, h.Mine, !s.Now().Before(h.OpensAt), knownBy(page.Say, h.Email, h.Inviter), h.There, h.Lost, ""}
		if h.LostAt != nil {
			row.LostOn = page.Say.Day(h.LostAt.UTC())
		}
		page.Heirs = append(page.Heirs, row)
	}
	return s.render(c, status, "who_owners", page)
}

// giveWord keeps a landowner's yes or no.
func (s *server) giveWord(c *fiber.Ctx, a access.Actor) error {
	person, ranch, answer := access.ID(c.Params("id")), access.ID(c.FormValue("ranch")), c.FormValue("answer")
	in := false
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		list, err := tx.Heirs()
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(list, func(h postgres.Heir) bool { return h.Person == person && h.Ranch == ranch }) {
			return errs.New(errs.NotFound, "Nobody waits.")
		}
		if answer != "yes" && answer != "no" {
			return errs.New(errs.Invalid, "Please say yes or no.")
		}
		in, err = tx.GiveWord(person, ranch, answer == "yes")
		return err
	})
	if message, ok := errs.Message(err); ok && errors.Is(err, errs.Invalid) {
		return s.showHeirs(c, a, fiber.StatusUnprocessableEntity, whoOwnersPage{Problem: message})
	}
	if err != nil {
		return err
	}
	if in {
		answer = "in"
	}
	return s.see(c, "/who/owners?said="+answer)
}
