package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// accountPhonePage is a member's telephone number, which the coordinator and the people of their own ranches see.
type accountPhonePage struct {
	base
	Phone   string
	Problem string
	Kept    bool
}

func (s *server) accountPhone(c *fiber.Ctx, a access.Actor) error {
	page := accountPhonePage{Kept: c.Query("kept") != ""}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		me, err := tx.Me()
		page.Phone = me.Phone
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, s.speaker(c).Say("Your telephone number"))
	return s.render(c, fiber.StatusOK, "account_phone", page)
}

func (s *server) savePhone(c *fiber.Ctx, a access.Actor) error {
	number := c.FormValue("phone")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SetPhone(number) })
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && errors.Is(err, errs.Invalid) {
		say := s.speaker(c)
		page := accountPhonePage{base: s.base(c, a, say.Say("Your telephone number")), Phone: number, Problem: message}
		return s.render(c, fiber.StatusUnprocessableEntity, "account_phone", page)
	}
	if err != nil {
		return err
	}
	return s.see(c, "/account/phone?kept=1")
}
