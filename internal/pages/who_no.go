package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// whoNoPage says what a no to the comparisons does, before it is said.
type whoNoPage struct {
	base
	ID     access.ID
	Name   string
	Shared []whoSharing // which end with it
	Last   bool         // no other ranch of the reader's is counted
}

// whoNo asks once more. Where the ranch is private already there is nothing to ask.
func (s *server) whoNo(c *fiber.Ctx, a access.Actor) error {
	page := whoNoPage{ID: access.ID(c.Query("ranch")), Last: true}
	if !a.CanRanch(access.CompareRanch, page.ID) {
		return errNothing
	}
	var shared []postgres.Sharing
	joins := false
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		ranches, err := tx.Ranches()
		if err != nil {
			return err
		}
		for _, r := range ranches {
			if r.ID == page.ID {
				page.Name, joins = r.Name, r.Consent > 0
			} else if r.Consent > 0 {
				page.Last = false
			}
		}
		shared, err = tx.Sharings(page.ID)
		return err
	})
	if err != nil {
		return err
	}
	if !joins {
		return s.see(c, "/who#r"+string(page.ID))
	}
	say := s.speaker(c)
	page.base = s.base(c, a, say.Say("Take %s out of the comparisons?", page.Name))
	page.Shared, _ = sharingsOf(say, shared, nil)
	return s.render(c, fiber.StatusOK, "who_no", page)
}
