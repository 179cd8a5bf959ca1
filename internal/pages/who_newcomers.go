package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// whoNewcomer is somebody whom the coordinator wants to let onto one of the reader's ranches. Until the reader says yes
// they see nothing of it.
type whoNewcomer struct {
	ID, Ranch                          access.ID
	Name, Part, RanchName, Sees, Since string
}

// newcomers lists them; nobody for those who own no ranch.
func newcomers(tx *postgres.Tx, a access.Actor, say words.Speaker) ([]whoNewcomer, error) {
	if a.Role != access.Landowner {
		return nil, nil
	}
	list, err := tx.Newcomers()
	var waiting []whoNewcomer
	for _, n := range list {
		waiting = append(waiting, whoNewcomer{n.Person, n.Ranch, n.Name, say.Say(capital(roleWords[n.Role])), n.RanchName, say.Say(seesOfRanch[n.Role]), say.Day(n.Since.UTC())})
	}
	return waiting, err
}

// answerNewcomer is the owner's yes or no.
func (s *server) answerNewcomer(c *fiber.Ctx, a access.Actor) error {
	person, ranch, answer := access.ID(c.Params("id")), access.ID(c.FormValue("ranch")), c.FormValue("answer")
	if answer != "yes" && answer != "no" {
		return errs.New(errs.NotFound, "There is no such member.")
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if answer == "yes" {
			return tx.LetOnto(person, ranch)
		}
		return tx.TurnAway(person, ranch)
	})
	if err != nil {
		return err
	}
	return s.see(c, "/who")
}
