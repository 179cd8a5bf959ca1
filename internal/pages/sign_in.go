package pages

import (
	"errors"
	"net/url"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
)

type signInPage struct {
	base
	Email   string
	Next    string
	Message string
}

func (s *server) signInForm(c *fiber.Ctx, a access.Actor) error {
	if a.Role != "" {
		return s.see(c, ownPath(c.Query("next")))
	}
	return s.render(c, fiber.StatusOK, "sign_in", signInPage{base: s.base(c, a, "Sign in"), Next: ownPath(c.Query("next"))})
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
		page := signInPage{base: s.base(c, a, "Sign in"), Email: email, Next: next, Message: message}
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
