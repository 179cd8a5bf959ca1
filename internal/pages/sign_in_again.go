package pages

import (
	"errors"
	"net/url"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
)

// signInAgainPage asks somebody who has been signed in for a while to show that it is still them. It keeps what they
// were about to send.
type signInAgainPage struct {
	base
	Action  string // where the proof goes: with what was to be sent
	Held    []heldField
	Next    string // where no form was held
	Means   account.Means
	Message string
}

type heldField struct{ Name, Value string }

// The fields of a proof. Any form that was held may carry them.
const (
	proofPassword = "proof_password"
	proofCode     = "proof_code"
	proofPasskey  = "proof_passkey"
)

// fresh puts a handler behind freshly: for changes that nobody may make at a screen left open.
func (s *server) fresh(h handler) handler {
	return func(c *fiber.Ctx, a access.Actor) error {
		if held, err := s.freshly(c, a); held || err != nil {
			return err
		}
		return h(c, a)
	}
}

// freshly makes sure that the actor proved who they are within the last ten minutes, by password, passkey or one-time
// code. Where they did not, it answers itself (held is true): a page sends them to /sign-in/again and back; a form is
// kept, with all that was typed, while they prove it, and then goes where it was going.
func (s *server) freshly(c *fiber.Ctx, a access.Actor) (held bool, err error) {
	fresh, err := s.Account.Fresh(c.UserContext(), a)
	if fresh || err != nil {
		return false, err
	}
	if c.Method() != fiber.MethodPost {
		return true, s.see(c, "/sign-in/again?next="+url.QueryEscape(c.OriginalURL()))
	}
	page := signInAgainPage{Action: c.OriginalURL(), Held: heldFields(c)}
	if c.FormValue(proofPassword) == "" && c.FormValue(proofCode) == "" && c.FormValue(proofPasskey) == "" {
		return true, s.showAgain(c, a, fiber.StatusForbidden, page)
	}
	err = s.prove(c, a)
	s.denyProof(c, a, err)
	if message, ok := s.said(c, err); ok && statusOf(err) != fiber.StatusInternalServerError {
		page.Message = message
		return true, s.showAgain(c, a, statusOf(err), page)
	}
	return false, err
}

// heldFields are the fields of a form but for its word and a proof.
func heldFields(c *fiber.Ctx) []heldField {
	var fields []heldField
	c.Context().PostArgs().VisitAll(func(key, value []byte) {
		if name := string(key); name != "csrf" && !strings.HasPrefix(name, "proof_") {
			fields = append(fields, heldField{name, string(value)})
		}
	})
	return fields
}

func (s *server) prove(c *fiber.Ctx, a access.Actor) error {
	p := account.Proof{Passkey: []byte(c.FormValue(proofPasskey)), Code: c.FormValue(proofCode), Password: c.FormValue(proofPassword)}
	return s.Account.Prove(c.UserContext(), a, p, s.visit(c, a))
}

func (s *server) showAgain(c *fiber.Ctx, a access.Actor, status int, page signInAgainPage) (err error) {
	page.base = s.base(c, a, s.speaker(c).Say("Is it still you?"))
	if page.Means, err = s.Account.Means(c.UserContext(), a); err != nil {
		return err
	}
	return s.render(c, status, "sign_in_again", page)
}

func (s *server) againForm(c *fiber.Ctx, a access.Actor) error {
	return s.showAgain(c, a, fiber.StatusOK, signInAgainPage{Action: "/sign-in/again", Next: ownPath(c.Query("next"))})
}

func (s *server) again(c *fiber.Ctx, a access.Actor) error {
	next := ownPath(c.FormValue("next"))
	err := s.prove(c, a)
	s.denyProof(c, a, err)
	if message, ok := s.said(c, err); ok && !errors.Is(err, errs.NotFound) {
		return s.showAgain(c, a, statusOf(err), signInAgainPage{Action: "/sign-in/again", Next: next, Message: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, next)
}
