package pages

import (
	"errors"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// accountPasskeysPage lists a member's passkeys and makes one, which takes a script.
type accountPasskeysPage struct {
	base
	Passkeys []passkeyRow
	Can      bool // passkeys can be had here
	Added    bool
	Name     string // suggested, or what was typed
	Problem  string
}

type passkeyRow struct {
	ID               access.ID
	Name, Made, Used string
}

func (s *server) accountPasskeys(c *fiber.Ctx, a access.Actor) error {
	return s.showPasskeys(c, a, fiber.StatusOK, accountPasskeysPage{Added: c.Query("added") == "1"})
}

func (s *server) showPasskeys(c *fiber.Ctx, a access.Actor, status int, page accountPasskeysPage) error {
	var list []postgres.Passkey
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Passkeys()
		return err
	})
	if err != nil {
		return err
	}
	say := s.speaker(c)
	for _, k := range list {
		page.Passkeys = append(page.Passkeys, passkeyRow{k.ID, k.Name, say.Day(k.MadeAt), dayOr(say, k.UsedAt, say.Say("never yet"))})
	}
	page.base, page.Can = s.base(c, a, say.Say("Passkeys")), s.Account.HasPasskeys()
	if page.Name == "" {
		page.Name = device(say, c.Get(fiber.HeaderUserAgent))
	}
	return s.render(c, status, "account_passkeys", page)
}

// newPasskey gives passkey.js what the browser makes a passkey of.
func (s *server) newPasskey(c *fiber.Ctx, a access.Actor) error {
	options, err := s.Account.NewPasskey(c.UserContext(), a)
	if err != nil {
		return err
	}
	c.Set(fiber.HeaderContentType, fiber.MIMEApplicationJSON)
	return c.Send(options)
}

func (s *server) addPasskey(c *fiber.Ctx, a access.Actor) error {
	name := strings.TrimSpace(c.FormValue("name"))
	err := s.Account.AddPasskey(c.UserContext(), a, name, []byte(c.FormValue("made")))
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		return s.showPasskeys(c, a, statusOf(err), accountPasskeysPage{Name: name, Problem: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/account/passkeys?added=1")
}

func (s *server) removePasskey(c *fiber.Ctx, a access.Actor) error {
	if err := s.Account.RemovePasskey(c.UserContext(), a, access.ID(c.Params("id"))); err != nil {
		return err
	}
	return s.see(c, "/account/passkeys")
}
