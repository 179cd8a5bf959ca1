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
	Known                              string // by what else than a name
}

// knownBy says by what else than a name somebody can be told from another of that name.
func knownBy(say words.Speaker, email, inviter string) string {
	if inviter == "" {
		return say.Say("Signs in as %s.", email)
	}
	return say.Say("Signs in as %s; brought in by %s.", email, inviter)
}

// whoGate is a ranch that the reader comes onto as a further owner, with everybody who is there.
type whoGate struct {
	ID     access.ID
	Name   string
	By     string
	People []whoCompany
}

// whoLetInto is somebody whom an owner let onto a ranch of the reader's, and who has yet to say their own yes.
type whoLetInto struct {
	ID, Ranch                         access.ID
	Name, Known, RanchName, By, Since string
}

func letInto(tx *postgres.Tx, say words.Speaker) (list []whoLetInto, err error) {
	found, err := tx.LetInto()
	for _, x := range found {
		list = append(list, whoLetInto{x.Person, x.Ranch, x.Name, say.Say("Signs in as %s.", x.Email), x.RanchName, x.By, say.Day(x.At.UTC())})
	}
	return list, err
}

type whoCompany struct{ Name, Part, Known, Since string }

func gates(tx *postgres.Tx, say words.Speaker) (list []whoGate, err error) {
	found, err := tx.Gates()
	for _, g := range found {
		gate := whoGate{ID: g.Ranch, Name: g.RanchName, By: g.By}
		for _, p := range g.People {
			gate.People = append(gate.People, whoCompany{p.Name, say.Say(capital(roleWords[p.Role])), knownBy(say, p.Email, p.Inviter), say.Day(p.Since.UTC())})
		}
		list = append(list, gate)
	}
	return list, err
}

// comeOnto is the reader's own yes or no to it.
func (s *server) comeOnto(c *fiber.Ctx, a access.Actor) error {
	answer := c.FormValue("answer")
	if answer != "yes" && answer != "no" {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.ComeOnto(access.ID(c.Params("id")), answer == "yes") }); err != nil {
		return err
	}
	return s.see(c, "/who")
}

// newcomers lists them; nobody for those who own no ranch.
func newcomers(tx *postgres.Tx, a access.Actor, say words.Speaker) ([]whoNewcomer, error) {
	if a.Role != access.Landowner {
		return nil, nil
	}
	list, err := tx.Newcomers()
	var waiting []whoNewcomer
	for _, n := range list {
		waiting = append(waiting, whoNewcomer{n.Person, n.Ranch, n.Name, say.Say(capital(roleWords[n.Role])), n.RanchName, say.Say(seesOfRanch[n.Role]), say.Day(n.Since.UTC()), knownBy(say, n.Email, n.Inviter)})
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
