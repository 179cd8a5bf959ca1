package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// What a coordinator can do at once when a member's phone is lost or something looks wrong.

func (s *server) signOutMember(c *fiber.Ctx, a access.Actor) error {
	return s.stopMember(c, a, (*postgres.Tx).SignOutMember)
}

func (s *server) suspendMember(c *fiber.Ctx, a access.Actor) error {
	return s.stopMember(c, a, (*postgres.Tx).Suspend)
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
