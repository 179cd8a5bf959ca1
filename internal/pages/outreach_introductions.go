package pages

import (
	"errors"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// outreachIntroductionsPage is where a planner asks to be introduced to ranches, and reads what became of it. It never
// says who was asked, nor how many.
type outreachIntroductionsPage struct {
	base
	Requests []postgres.Introduction
	Places   []outreachPlace
	Chosen   string // the path word of the place
	Purpose  string
	Problem  string
	Sent     bool
}

func (s *server) introductions(c *fiber.Ctx, a access.Actor) error {
	return s.showIntroductions(c, a, fiber.StatusOK, outreachIntroductionsPage{Chosen: c.Query("place", "cooperative"), Sent: c.Query("sent") != ""})
}

func (s *server) showIntroductions(c *fiber.Ctx, a access.Actor, status int, page outreachIntroductionsPage) error {
	d, err := s.outreachData(c, a)
	if err != nil {
		return err
	}
	page.Places = d.outreachPlaces()
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		page.Requests, err = tx.Introductions()
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, d.say.Say("Ask to be introduced"))
	return s.render(c, status, "outreach_introductions", page)
}

// askIntroduction keeps a request for the coordinator.
func (s *server) askIntroduction(c *fiber.Ctx, a access.Actor) error {
	page := outreachIntroductionsPage{Chosen: c.FormValue("place"), Purpose: strings.TrimSpace(c.FormValue("purpose"))}
	d, err := s.outreachData(c, a)
	if err != nil {
		return err
	}
	places := d.outreachPlaces()
	i := slices.IndexFunc(places, func(p outreachPlace) bool { return p.Slug == page.Chosen })
	if i < 0 {
		return errNothing
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		_, err := tx.AskIntroduction(places[i].Label, page.Purpose)
		return err
	})
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Invalid) {
		page.Problem = message
		return s.showIntroductions(c, a, fiber.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	return s.see(c, "/outreach/introductions?sent=1")
}
