package pages

import (
	"encoding/base64"
	"errors"
	"html/template"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// accountCodesPage turns one-time codes on and off.
type accountCodesPage struct {
	base
	Since    string // on since; "" where off
	Left     string // recovery codes
	Secret   string // to be typed into the app, while setting up
	Picture  template.URL
	Recovery []string // shown this once
	Problem  string
}

func (s *server) accountCodes(c *fiber.Ctx, a access.Actor) error {
	return s.showCodes(c, a, fiber.StatusOK, accountCodesPage{})
}

func (s *server) showCodes(c *fiber.Ctx, a access.Actor, status int, page accountCodesPage) error {
	say := s.speaker(c)
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		since, left, err := tx.Codes()
		if err == nil && !since.IsZero() {
			page.Since, page.Left = say.Day(since), say.Count("%d recovery code is left.", "%d recovery codes are left.", left)
		}
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, say.Say("One-time codes"))
	return s.render(c, status, "account_codes", page)
}

// setting shows the secret, as words and as a picture made here.
func setting(e account.Enrollment) accountCodesPage {
	// A PNG of ours in base 64: nothing in it needs escaping.
	return accountCodesPage{Secret: e.Secret, Picture: template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(e.QR))}
}

func (s *server) startCodes(c *fiber.Ctx, a access.Actor) error {
	e, err := s.Account.StartCodes(c.UserContext(), a)
	if err != nil {
		return err
	}
	return s.showCodes(c, a, fiber.StatusOK, setting(e))
}

func (s *server) confirmCodes(c *fiber.Ctx, a access.Actor) error {
	recovery, err := s.Account.ConfirmCodes(c.UserContext(), a, c.FormValue("code"))
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Unavailable)) {
		e, failed := s.Account.PendingCodes(c.UserContext(), a)
		if failed != nil {
			return failed
		}
		page := setting(e)
		page.Problem = message
		return s.showCodes(c, a, statusOf(err), page)
	}
	if err != nil {
		return err
	}
	return s.showCodes(c, a, fiber.StatusOK, accountCodesPage{Recovery: recovery})
}

func (s *server) newRecoveryCodes(c *fiber.Ctx, a access.Actor) error {
	recovery, err := s.Account.NewRecoveryCodes(c.UserContext(), a)
	if err != nil {
		return err
	}
	return s.showCodes(c, a, fiber.StatusOK, accountCodesPage{Recovery: recovery})
}

func (s *server) stopCodes(c *fiber.Ctx, a access.Actor) error {
	if err := s.Account.StopCodes(c.UserContext(), a); err != nil {
		return err
	}
	return s.see(c, "/account/codes")
}
