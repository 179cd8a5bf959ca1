package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

type aboutPage struct{ base }

func (s *server) about(c *fiber.Ctx, a access.Actor) error {
	return s.render(c, fiber.StatusOK, "about", aboutPage{s.base(c, a, "What these numbers are")})
}
