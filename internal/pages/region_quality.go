package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

// regionQuality tells how well a season's sheets were kept, as published.
func (s *server) regionQuality(c *fiber.Ctx, a access.Actor) error {
	return errNothing
}
