package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/findings"
)

// aboutPage says what the numbers are and are not, what is promised, and what to mind in the field.
type aboutPage struct {
	base
	Limits []string
}

func (s *server) about(c *fiber.Ctx, a access.Actor) error {
	page := aboutPage{s.base(c, a, ""), findings.Limits()}
	page.Title = page.Say.Say("What these numbers are")
	return s.render(c, fiber.StatusOK, "about", page)
}
