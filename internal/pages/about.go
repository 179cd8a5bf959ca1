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
	return s.render(c, fiber.StatusOK, "about", aboutPage{s.base(c, a, "What these numbers are"), findings.Limits()})
}
