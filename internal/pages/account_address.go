package pages

import (
	"errors"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// accountAddressPage changes the address that a member signs in with.
type accountAddressPage struct {
	base
	Email   string // now
	Typed   string
	Letters bool // can be sent
	Sent    bool
	Changed bool
	Problem string
}

// accountAddressOpenPage is what the letter to the new address opens.
type accountAddressOpenPage struct {
	base
	Link  account.Link
	Token string
	Over  bool
}

func (s *server) accountAddress(c *fiber.Ctx, a access.Actor) error {
	return s.showAddress(c, a, fiber.StatusOK, accountAddressPage{Sent: c.Query("sent") == "1", Changed: c.Query("changed") == "1"})
}

func (s *server) showAddress(c *fiber.Ctx, a access.Actor, status int, page accountAddressPage) error {
	var me postgres.Member
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		me, err = tx.Me()
		return err
	})
	if err != nil {
		return err
	}
	page.base, page.Email, page.Letters = s.base(c, a, s.speaker(c).Say("Your e-mail address")), me.Email, s.Account.HasMail()
	return s.render(c, status, "account_address", page)
}

func (s *server) askAddress(c *fiber.Ctx, a access.Actor) error {
	email := strings.TrimSpace(c.FormValue("email"))
	err := s.Account.AskAddress(c.UserContext(), a, email)
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Unavailable)) {
		return s.showAddress(c, a, statusOf(err), accountAddressPage{Typed: email, Problem: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/account/address?sent=1")
}

func (s *server) openAddress(c *fiber.Ctx, a access.Actor) error {
	link, err := s.Account.Address(c.UserContext(), a, c.Params("token"))
	if errors.Is(err, errs.NotFound) {
		return s.addressOver(c, a)
	}
	if err != nil {
		return err
	}
	page := accountAddressOpenPage{base: s.base(c, a, s.speaker(c).Say("Your new address")), Link: link, Token: c.Params("token")}
	return s.render(c, fiber.StatusOK, "account_address_open", page)
}

func (s *server) addressOver(c *fiber.Ctx, a access.Actor) error {
	s.deny(c, postgres.Denied{Kind: deniedLink, Actor: a})
	return s.render(c, fiber.StatusGone, "account_address_open", accountAddressOpenPage{base: s.base(c, a, s.speaker(c).Say("That link is over")), Over: true})
}

func (s *server) changeAddress(c *fiber.Ctx, a access.Actor) error {
	_, err := s.Account.ChangeAddress(c.UserContext(), a, c.Params("token"))
	if errors.Is(err, errs.NotFound) {
		return s.addressOver(c, a)
	}
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Conflict) {
		return s.showAddress(c, a, fiber.StatusConflict, accountAddressPage{Problem: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/account/address?changed=1")
}
