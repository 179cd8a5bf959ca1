package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// signInCodePage asks for the one-time code after the password.
type signInCodePage struct {
	base
	Next    string
	Message string
}

func (s *server) signInCodeForm(c *fiber.Ctx, a access.Actor) error {
	return s.render(c, fiber.StatusOK, "sign_in_code", signInCodePage{base: s.base(c, a, s.speaker(c).Say("Your code, please")), Next: ownPath(c.Query("next"))})
}

func (s *server) signInCode(c *fiber.Ctx, a access.Actor) error {
	next := ownPath(c.FormValue("next"))
	in, err := s.Account.SignInWithCode(c.UserContext(), c.FormValue("code"), s.visit(c, a))
	if errors.Is(err, errs.NotFound) {
		return s.notIn(c, a, errs.Hide(errs.Unauthenticated, words.Mark("That took too long, or there were too many wrong codes. Please begin again."), err), next, "")
	}
	if errors.Is(err, errs.Invalid) {
		s.deny(c, postgres.Denied{Kind: deniedCode, Link: "code " + s.visit(c, a).Browser})
	}
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Unavailable)) {
		return s.render(c, statusOf(err), "sign_in_code", signInCodePage{base: s.base(c, a, s.speaker(c).Say("Your code, please")), Next: next, Message: message})
	}
	if err != nil {
		return err
	}
	return s.letIn(c, a, in, next)
}
