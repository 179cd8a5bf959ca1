package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

// promise is what every landowner is promised, and what cannot be, on one sheet of paper.
func (s *server) promise(c *fiber.Ctx, a access.Actor) error {
	page := s.base(c, a, "")
	page.Title, page.Sheet = page.Say.Say("What we promise"), true
	return s.render(c, fiber.StatusOK, "promise", page)
}
