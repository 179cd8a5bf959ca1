package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

// askPasskey gives passkey.js what the browser asks the passkey, of a visitor or of a member who is to prove that it is
// still them.
func (s *server) askPasskey(c *fiber.Ctx, a access.Actor) error {
	options, err := s.Account.AskPasskey(c.UserContext(), a, s.visit(c, a))
	if err != nil {
		return err
	}
	c.Set(fiber.HeaderContentType, fiber.MIMEApplicationJSON)
	return c.Send(options)
}

// signInPasskey takes the passkey's answer.
func (s *server) signInPasskey(c *fiber.Ctx, a access.Actor) error {
	next := ownPath(c.FormValue("next"))
	in, err := s.Account.SignInWithPasskey(c.UserContext(), []byte(c.FormValue(proofPasskey)), s.visit(c, a))
	if err != nil {
		return s.notIn(c, a, err, next, "")
	}
	return s.letIn(c, a, in, next)
}
