package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// whoOffer is a ranch whose owner hands it over to the reader: it comes only with the reader's yes.
type whoOffer struct {
	ID                    access.ID
	RanchName, From, When string
	Rows, Agreed          bool
}

func offersOf(say words.Speaker, list []postgres.Offer) (offers []whoOffer) {
	for _, o := range list {
		offers = append(offers, whoOffer{o.ID, o.RanchName, o.From, happensOn(say, o.DueAt, o.Held), o.WithRows, o.Agreed})
	}
	return offers
}

// answerOffer is the new owner's yes or no.
func (s *server) answerOffer(c *fiber.Ctx, a access.Actor) error {
	id, answer := access.ID(c.Params("id")), c.FormValue("answer")
	if answer != "yes" && answer != "no" {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.AnswerOffer(id, answer == "yes") }); err != nil {
		return err
	}
	return s.see(c, "/who")
}
