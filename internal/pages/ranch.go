package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

func (s *server) ranches(c *fiber.Ctx, a access.Actor) error { return fiber.ErrNotFound }
func (s *server) ranch(c *fiber.Ctx, a access.Actor) error   { return fiber.ErrNotFound }
