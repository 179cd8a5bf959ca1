package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// accountLeavePage ends a membership. For a coordinator it is the second half of handing over: another one has come in.
type accountLeavePage struct {
	base
	Ranches []postgres.Ranch // the member's own, whose results they may take out
	Others  []string         // a coordinator's: the coordinators who stay
	Problem string
}

func (s *server) accountLeave(c *fiber.Ctx, a access.Actor) error {
	return s.showLeave(c, a, fiber.StatusOK, "")
}

func (s *server) showLeave(c *fiber.Ctx, a access.Actor, status int, problem string) error {
	page := accountLeavePage{base: s.base(c, a, "Leave the cooperative"), Problem: problem}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if a.Role == access.Landowner {
			page.Ranches, err = tx.Ranches()
			return err
		}
		if a.Role != access.Coordinator {
			return nil
		}
		members, err := tx.Members()
		for _, m := range members {
			if m.Role == access.Coordinator && m.ID != a.Person && !m.Left && !m.Suspended {
				page.Others = append(page.Others, m.Name)
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	return s.render(c, status, "account_leave", page)
}

// leave ends the membership and all its sessions. What was sent stays with its ranch, but for the ranches whose results
// their owner takes out.
func (s *server) leave(c *fiber.Ctx, a access.Actor) error {
	var out []access.ID
	for _, id := range c.Context().PostArgs().PeekMulti("withdraw") {
		out = append(out, access.ID(id))
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		for _, id := range out {
			if err := tx.Withdraw(id); err != nil {
				return err
			}
		}
		return tx.Leave()
	})
	if message, ok := errs.Message(err); ok && errors.Is(err, errs.Invalid) {
		return s.showLeave(c, a, fiber.StatusUnprocessableEntity, message)
	}
	if err != nil {
		return err
	}
	s.setCookie(c, s.cookieName(), "", longAgo)
	s.setCookie(c, s.deviceCookie(), "", longAgo)
	return s.see(c, "/sign-in")
}
