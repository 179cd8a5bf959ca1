package pages

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// languageCookie keeps the language a reader chose; it says nothing else.
const languageCookie = "language"

// languageLasts is how long a choice is kept.
const languageLasts = 365 * 24 * time.Hour

// language returns the language to answer in: the one chosen, else the one the browser asks for.
func (s *server) language(c *fiber.Ctx) words.Language {
	if t, ok := words.Known(c.Cookies(languageCookie)); ok {
		return t
	}
	return words.Preferred(c.Get(fiber.HeaderAcceptLanguage))
}

// speaker says texts in that language.
func (s *server) speaker(c *fiber.Ctx) words.Speaker { return s.book.In(s.language(c)) }

// changeLanguage keeps the choice and goes back to the page it was made on.
func (s *server) changeLanguage(c *fiber.Ctx, _ access.Actor) error {
	t, ok := words.Known(c.FormValue("language"))
	if !ok {
		return errs.New(errs.Invalid, "We speak English and Spanish.")
	}
	s.setCookie(c, languageCookie, string(t), s.Now().Add(languageLasts))
	return s.see(c, ownPath(c.FormValue("back")))
}
