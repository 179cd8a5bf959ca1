package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

// regionNamed shows a biologist the ranches whose owners share their results with them by name.
func (s *server) regionNamed(c *fiber.Ctx, a access.Actor) error {
	return errNothing
}
