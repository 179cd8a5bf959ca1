package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// What a coordinator can do at once when a member's phone is lost or something looks wrong.

func (s *server) suspendMember(c *fiber.Ctx, a access.Actor) error {
	return s.tellStopped(c, a, (*postgres.Tx).Suspend)
}

// keepSuspended is a second coordinator's yes to a suspension.
func (s *server) keepSuspended(c *fiber.Ctx, a access.Actor) error {
	return s.tellStopped(c, a, (*postgres.Tx).KeepSuspended)
}

// tellStopped stops a member and writes to them and to the other coordinators.
func (s *server) tellStopped(c *fiber.Ctx, a access.Actor, stop func(*postgres.Tx, access.ID) error) error {
	var letter account.Suspension
	err := s.stopMember(c, a, func(tx *postgres.Tx, id access.ID) error {
		before, err := tx.Members()
		if err != nil {
			return err
		}
		if err := stop(tx, id); err != nil {
			return err
		}
		if letter.Cooperative, err = tx.CooperativeName(); err != nil {
			return err
		}
		after, err := tx.Members()
		for i, m := range after {
			switch {
			case m.Left:
			case m.ID != id && m.ID != a.Person && m.Role == access.Coordinator:
				letter.Others = append(letter.Others, m.Email)
			case m.ID == id && (m.Suspended != before[i].Suspended || m.Until != before[i].Until):
				letter.Email, letter.Name, letter.Until = m.Email, m.Name, m.Until
			}
		}
		return err
	})
	if err == nil && letter.Name != "" {
		s.Account.TellSuspended(a.Name, letter)
	}
	return err
}

func (s *server) restoreMember(c *fiber.Ctx, a access.Actor) error {
	return s.stopMember(c, a, (*postgres.Tx).Restore)
}

// helpMember makes a code that the coordinator tells a member, and shows it once.
func (s *server) helpMember(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	page := cooperativeMembersPage{Form: inviteForm{Role: access.Landowner}}
	code, err := s.Account.Help(c.UserContext(), a, id)
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Conflict) {
		page.Stopped = message
		return s.showMembers(c, a, statusOf(err), page)
	}
	if err != nil {
		return err
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		members, err := tx.Members()
		for _, m := range members {
			if m.ID == id {
				page.For = m.Name
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	page.Code = code
	return s.showMembers(c, a, fiber.StatusOK, page)
}

func (s *server) stopMember(c *fiber.Ctx, a access.Actor, stop func(*postgres.Tx, access.ID) error) error {
	id := access.ID(c.Params("id"))
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return stop(tx, id) })
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		return s.showMembers(c, a, statusOf(err), cooperativeMembersPage{Stopped: message, Form: inviteForm{Role: access.Landowner}})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/members")
}
