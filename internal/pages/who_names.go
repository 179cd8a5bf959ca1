package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// whoName is a ranch that stands under the reader's name and is none of theirs, or that somebody of the reader's name would come onto.
type whoName struct {
	ID        access.ID
	Name, How string // who put it there, and when
	Who       string // who would come onto it as its owner, and their address; "" where nobody would
	Other     string // the one of the reader's name, where the ranch stands under another
}

func nameAsks(tx *postgres.Tx, say words.Speaker) (list []whoName, err error) {
	asks, err := tx.NameAsks()
	for _, x := range asks {
		n := whoName{ID: x.Ranch, Name: x.RanchName, How: say.Say("It is on the list with the owner %s.", x.Owner)}
		if x.By != "" {
			n.How = say.Say("%s wrote the owner %s for it on %s.", x.By, x.Owner, say.Day(x.At.UTC()))
		}
		if x.Who != "" {
			n.Who = say.Say("%s, who signs in as %s, stands there as its owner or would come onto it.", x.Who, x.Email)
		}
		if !x.Named {
			n.Other = x.Who
		}
		list = append(list, n)
	}
	return list, err
}

// answerName is the reader's word on one of them.
func (s *server) answerName(c *fiber.Ctx, a access.Actor) error {
	answer := c.FormValue("answer")
	if answer != "yes" && answer != "no" {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.AnswerName(access.ID(c.Params("id")), answer == "yes") }); err != nil {
		return err
	}
	return s.see(c, "/who")
}
