package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// letSend lets the coordinator send old sheets for a ranch, for a while.
func (s *server) letSend(c *fiber.Ctx, a access.Actor) error {
	return s.changeSending(c, a, (*postgres.Tx).LetSend)
}

// stopSending ends it at once.
func (s *server) stopSending(c *fiber.Ctx, a access.Actor) error {
	return s.changeSending(c, a, (*postgres.Tx).StopSending)
}

func (s *server) changeSending(c *fiber.Ctx, a access.Actor, change func(*postgres.Tx, access.ID) error) error {
	id := access.ID(c.Params("id"))
	if !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return change(tx, id) }); err != nil {
		return err
	}
	return s.see(c, "/who#r"+string(id))
}
