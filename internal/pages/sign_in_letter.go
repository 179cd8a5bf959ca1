package pages

import (
	"errors"
	"net/url"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// signInLetterPage asks for another proof in a browser that we do not know: the code of a letter after the password, the
// password after a letter's link, and in place of either a code from the coordinator.
type signInLetterPage struct {
	base
	After   account.First
	Letter  bool // one was sent; after many none is
	Again   bool // another was, just now
	Next    string
	Message string
}

func (s *server) signInLetterForm(c *fiber.Ctx, a access.Actor) error {
	return s.showLetter(c, a, fiber.StatusOK, signInLetterPage{Next: ownPath(c.Query("next")), Again: c.Query("again") == "1"})
}

func (s *server) showLetter(c *fiber.Ctx, a access.Actor, status int, page signInLetterPage) error {
	waits, err := s.Account.Second(c.UserContext(), s.visit(c, a))
	if err != nil {
		return s.letterOver(c, a, err, page.Next)
	}
	say := s.speaker(c)
	page.base = s.base(c, a, say.Say("A code, please"))
	if page.After, page.Letter = waits.First, waits.Letter; page.After == account.FirstLink {
		page.Title = say.Say("Your password, please")
	}
	page.Message = say.Say(page.Message)
	return s.render(c, status, "sign_in_letter", page)
}

func (s *server) signInLetter(c *fiber.Ctx, a access.Actor) error {
	next := ownPath(c.FormValue("next"))
	p := account.SecondProof{Password: c.FormValue("password"), Code: c.FormValue("code")}
	in, err := s.Account.SignInWithSecond(c.UserContext(), p, s.visit(c, a))
	if errors.Is(err, errs.Invalid) {
		s.deny(c, postgres.Denied{Kind: deniedCode, Link: "second " + s.visit(c, a).Browser})
	}
	if message, ok := errs.Message(err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Unavailable)) {
		return s.showLetter(c, a, statusOf(err), signInLetterPage{Next: next, Message: message})
	}
	if err != nil {
		return s.letterOver(c, a, err, next)
	}
	return s.letIn(c, a, in, next)
}

// sendLetterAgain sends another letter; where there were many, the page says so.
func (s *server) sendLetterAgain(c *fiber.Ctx, a access.Actor) error {
	next := ownPath(c.FormValue("next"))
	if err := s.Account.SendAgain(c.UserContext(), s.visit(c, a)); err != nil {
		return s.letterOver(c, a, err, next)
	}
	return s.see(c, "/sign-in/letter?again=1&next="+url.QueryEscape(next))
}

// letterOver goes back to the door where nothing is half open any more, or the member may not come in.
func (s *server) letterOver(c *fiber.Ctx, a access.Actor, err error, next string) error {
	if errors.Is(err, errs.NotFound) || errors.Is(err, errs.Unauthenticated) {
		message := s.speaker(c).Say("That took too long, or there were too many tries. Please begin again.")
		return s.notIn(c, a, errs.Hide(errs.Unauthenticated, message, err), next, "")
	}
	return err
}

// rememberedRow is a browser in which a password alone is enough.
type rememberedRow struct {
	ID                     access.ID
	Device, Since, Through string
}

// remembered lists the actor's own.
func (s *server) remembered(c *fiber.Ctx, a access.Actor) (rows []rememberedRow, err error) {
	var list []postgres.Browser
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Browsers()
		return err
	})
	say := s.speaker(c)
	for _, b := range list {
		rows = append(rows, rememberedRow{b.ID, device(say, b.Agent), say.Day(b.Since), say.Day(b.Through)})
	}
	return rows, err
}

func (s *server) forgetBrowser(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.ForgetBrowser(id) }); err != nil {
		return err
	}
	return s.see(c, "/account")
}

// oneProof asks somebody on their first page to set up a passkey or one-time codes.
type oneProof struct {
	Asked    bool
	Passkeys bool // can be had here
}

// oneProof asks those whose part reaches far and who come in with a password alone: no letters can be sent, and they have
// neither passkey nor one-time codes.
func (s *server) oneProof(c *fiber.Ctx, a access.Actor) (oneProof, error) {
	if s.Account == nil || s.Account.HasMail() || (a.Role != access.Coordinator && a.Role != access.Biologist) {
		return oneProof{}, nil
	}
	m, err := s.Account.Means(c.UserContext(), a)
	return oneProof{Asked: !m.Passkey && !m.Code, Passkeys: s.Account.HasPasskeys()}, err
}
