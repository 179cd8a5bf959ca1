package pages

import (
	"errors"
	"html/template"
	"net/url"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// signInPage is the door. It says the same to everybody who is not in.
type signInPage struct {
	base
	Marks    template.HTML
	Email    string
	Next     string
	Message  string
	Passkeys bool // can be had here
	Letters  bool // can be sent: a link instead of a password
}

func (s *server) signInForm(c *fiber.Ctx, a access.Actor) error {
	if a.Role != "" {
		return s.see(c, ownPath(c.Query("next")))
	}
	return s.render(c, fiber.StatusOK, "sign_in", s.signInPage(c, a, ownPath(c.Query("next"))))
}

func (s *server) signInPage(c *fiber.Ctx, a access.Actor, next string) signInPage {
	page := signInPage{base: s.base(c, a, s.speaker(c).Say("Sign in")), Marks: doorMarks(s.speaker(c)), Next: next}
	if s.Account != nil {
		page.Passkeys, page.Letters = s.Account.HasPasskeys(), s.Account.HasMail()
	}
	return page
}

// doorMarks are three nests: two that lasted and one that was taken.
func doorMarks(say words.Speaker) template.HTML {
	return eggMarks(survey.Intact, 2, say.Say("Eggs that lasted")) + eggMarks(survey.Taken, 1, say.Say("and some that were taken"))
}

// signIn answers a wrong password and an unknown address alike, so that nobody learns who is a member.
func (s *server) signIn(c *fiber.Ctx, a access.Actor) error {
	email, password, next := strings.TrimSpace(c.FormValue("email")), c.FormValue("password"), ownPath(c.FormValue("next"))
	v := s.visit(c, a)
	if a.Session == "" {
		v.Browser = s.newVisitor(c) // a code that is wanted next belongs to a secret that nobody can have put there
	}
	in, err := s.Account.SignIn(c.UserContext(), email, password, v)
	if errors.Is(err, errs.Unauthenticated) {
		s.deny(c, postgres.Denied{Kind: deniedPassword, Email: email})
	}
	if err != nil {
		return s.notIn(c, a, err, next, email)
	}
	return s.letIn(c, a, in, next)
}

// notIn shows the door again, with the reason where it is for the visitor.
func (s *server) notIn(c *fiber.Ctx, a access.Actor, err error, next, email string) error {
	status := statusOf(err)
	message, ok := s.said(c, err)
	if !ok || status >= 500 && !errors.Is(err, errs.Unavailable) {
		return err
	}
	page := s.signInPage(c, a, next)
	page.Email, page.Message = email, message
	return s.render(c, status, "sign_in", page)
}

// letIn puts a new session in the place of any other in this browser, or asks for the code or other proof that is still
// wanted.
func (s *server) letIn(c *fiber.Ctx, a access.Actor, in account.In, next string) error {
	if in.Code {
		return s.see(c, "/sign-in/code?next="+url.QueryEscape(next))
	}
	if in.Second {
		return s.see(c, "/sign-in/letter?next="+url.QueryEscape(next))
	}
	if a.Session != "" {
		if err := s.Account.SignOut(c.UserContext(), a.Session); err != nil {
			return err
		}
	}
	s.setCookie(c, s.cookieName(), in.Session, s.Now().Add(s.Account.MaxAge()))
	s.setCookie(c, s.deviceCookie(), in.Device, s.Now().AddDate(1, 0, 0))
	return s.see(c, next)
}

// visit is what package account wants to know of the browser.
func (s *server) visit(c *fiber.Ctx, a access.Actor) account.Visit {
	v := account.Visit{IP: c.IP(), Agent: c.Get(fiber.HeaderUserAgent), Browser: a.Session, Device: c.Cookies(s.deviceCookie()), Say: s.speaker(c)}
	if v.Browser == "" {
		v.Browser = s.visitor(c)
	}
	return v
}

// deviceCookie tells a browser in which somebody has signed in before from one that is new. Alone it opens nothing.
func (s *server) deviceCookie() string { return s.cookieName() + "-device" }

func (s *server) signOut(c *fiber.Ctx, a access.Actor) error {
	if err := s.Account.SignOut(c.UserContext(), a.Session); err != nil {
		return err
	}
	s.setCookie(c, s.cookieName(), "", longAgo)
	return s.see(c, "/sign-in")
}

// ownPath returns next where it is a path on this site, else "/": a link in a message must not lead elsewhere by way
// of our sign-in.
func ownPath(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") {
		return "/"
	}
	return next
}

// longAgo makes a browser drop a cookie.
var longAgo = time.Unix(1, 0)
