package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// signInLinkPage asks where to send a link, or says that one is on its way.
type signInLinkPage struct {
	base
	Sent bool
}

// signInLinkOpenPage is what a link in a letter opens: a button, since programs that look into letters open links too.
type signInLinkOpenPage struct {
	base
	Link  account.Link
	Token string
	Over  bool // the link is no longer good
}

func (s *server) signInLinkForm(c *fiber.Ctx, a access.Actor) error {
	if !s.Account.HasMail() {
		return errNothing
	}
	page := signInLinkPage{base: s.base(c, a, s.speaker(c).Say("A link instead of a password")), Sent: c.Query("sent") == "1"}
	return s.render(c, fiber.StatusOK, "sign_in_link", page)
}

// askLink answers at once and alike, whoever's address it is.
func (s *server) askLink(c *fiber.Ctx, a access.Actor) error {
	if !s.Account.HasMail() {
		return errNothing
	}
	s.Account.AskLink(c.FormValue("email"), s.visit(c, a))
	return s.see(c, "/sign-in/link?sent=1")
}

func (s *server) openLink(c *fiber.Ctx, a access.Actor) error {
	link, err := s.Account.Link(c.UserContext(), c.Params("token"), s.visit(c, a))
	if errors.Is(err, errs.NotFound) {
		return s.linkOver(c, a)
	}
	if err != nil {
		return err
	}
	page := signInLinkOpenPage{base: s.base(c, a, s.speaker(c).Say("Sign in as %s", link.Name)), Link: link, Token: c.Params("token")}
	return s.render(c, fiber.StatusOK, "sign_in_link_open", page)
}

func (s *server) linkOver(c *fiber.Ctx, a access.Actor) error {
	s.deny(c, postgres.Denied{Kind: deniedLink, Link: "link " + c.Params("token")})
	return s.render(c, fiber.StatusGone, "sign_in_link_open", signInLinkOpenPage{base: s.base(c, a, s.speaker(c).Say("That link is over")), Over: true})
}

func (s *server) useLink(c *fiber.Ctx, a access.Actor) error {
	v := s.visit(c, a)
	if a.Session == "" {
		v.Browser = s.newVisitor(c)
	}
	in, err := s.Account.SignInWithLink(c.UserContext(), c.Params("token"), v)
	if errors.Is(err, errs.NotFound) || errors.Is(err, errs.Unauthenticated) {
		return s.linkOver(c, a)
	}
	if err != nil {
		return err
	}
	return s.letIn(c, a, in, "/")
}
