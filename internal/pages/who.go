package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

func (s *server) who(c *fiber.Ctx, a access.Actor) error { return fiber.ErrNotFound }
