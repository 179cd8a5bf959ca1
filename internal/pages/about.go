package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// aboutPage says what the numbers are and are not, what is promised, and what to mind in the field.
type aboutPage struct {
	base
	Limits []string
	Target string // the cooperative's cover target, and where it comes from
}

func (s *server) about(c *fiber.Ctx, a access.Actor) error {
	page := aboutPage{base: s.base(c, a, ""), Limits: findings.Limits()}
	marks := findings.CommonMarks
	if a.Person != "" {
		if err := s.DB.Reading(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
			marks, err = tx.LatestMarks()
			return err
		}); err != nil {
			return err
		}
	}
	page.Target = targetSaid(page.Say, marks)
	page.Title = page.Say.Say("What these numbers are")
	return s.render(c, fiber.StatusOK, "about", page)
}

// targetSaid says the cover target and how sure one can be of it.
func targetSaid(say words.Speaker, m findings.Marks) string {
	if m.From == "" {
		return say.Say("The target of %.0f an acre is common practice; nobody has proved it for your ground.", m.Cover)
	}
	return say.Say("The target of %.0f an acre is your cooperative’s: %s. Nobody has proved it for your ground.", m.Cover, m.From)
}
