package pages

import (
	"errors"
	"html/template"
	"net/url"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/survey"
)

// signInPage is the door. It says the same to everybody who is not in.
type signInPage struct {
	base
	Marks   template.HTML
	Email   string
	Next    string
	Message string
}

func (s *server) signInForm(c *fiber.Ctx, a access.Actor) error {
	if a.Role != "" {
		return s.see(c, ownPath(c.Query("next")))
	}
	return s.render(c, fiber.StatusOK, "sign_in", s.signInPage(c, a, ownPath(c.Query("next"))))
}

func (s *server) signInPage(c *fiber.Ctx, a access.Actor, next string) signInPage {
	return signInPage{base: s.base(c, a, "Sign in"), Marks: doorMarks(), Next: next}
}

// doorMarks are three nests: two that lasted and one that was taken.
func doorMarks() template.HTML {
	return eggMarks(survey.Intact, 2, "Eggs that lasted") + eggMarks(survey.Taken, 1, "and some that were taken")
}

// signIn answers a wrong password and an unknown address alike, so that nobody learns who is a member.
func (s *server) signIn(c *fiber.Ctx, a access.Actor) error {
	email, password, next := strings.TrimSpace(c.FormValue("email")), c.FormValue("password"), ownPath(c.FormValue("next"))
	token, err := s.Account.SignIn(c.UserContext(), email, password, c.IP(), c.Get(fiber.HeaderUserAgent))
	if err != nil {
		status := statusOf(err)
		message, ok := errs.Message(err)
		if !ok || status >= 500 && !errors.Is(err, errs.Unavailable) {
			return err
		}
		page := s.signInPage(c, a, next)
		page.Email, page.Message = email, message
		return s.render(c, status, "sign_in", page)
	}
	s.setCookie(c, s.cookieName(), token, s.Now().Add(s.Account.MaxAge()))
	return s.see(c, next)
}

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
