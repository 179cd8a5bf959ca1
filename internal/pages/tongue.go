package pages

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// tongueCookie keeps the tongue a reader chose; it says nothing else.
const tongueCookie = "tongue"

// tongueLasts is how long a choice is kept.
const tongueLasts = 365 * 24 * time.Hour

// tongue returns the language to answer in: the one chosen, else the one the browser asks for.
func (s *server) tongue(c *fiber.Ctx) words.Tongue {
	if t, ok := words.Known(c.Cookies(tongueCookie)); ok {
		return t
	}
	return words.Preferred(c.Get(fiber.HeaderAcceptLanguage))
}

// speaker says texts in that language.
func (s *server) speaker(c *fiber.Ctx) words.Speaker { return s.book.In(s.tongue(c)) }

// changeTongue keeps the choice and goes back to the page it was made on.
func (s *server) changeTongue(c *fiber.Ctx, _ access.Actor) error {
	t, ok := words.Known(c.FormValue("tongue"))
	if !ok {
		return errs.New(errs.Invalid, "We speak English and Spanish.")
	}
	s.setCookie(c, tongueCookie, string(t), s.Now().Add(tongueLasts))
	return s.see(c, ownPath(c.FormValue("back")))
}
