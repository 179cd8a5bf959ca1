package pages

import (
	"errors"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cooperativeMembersPage lists who is in the cooperative and invites others.
type cooperativeMembersPage struct {
	base
	Members     []postgres.Member
	Invitations []postgres.Invitation // open ones
	Ranches     []postgres.Ranch
	Roles       []roleChoice
	Link        string // of the invitation just made: shown this once
	For         string // whom the link is for
	Code        string // that helps somebody in: shown this once
	Letters     bool   // can be sent
	Problem     string
	Stopped     string     // why somebody could not be suspended
	Form        inviteForm // what was typed
}

type roleChoice struct {
	Role access.Role
	Does string
}

type inviteForm struct {
	Role        access.Role
	Name, Email string
	Ranches     []access.ID
}

// Chose tells whether a ranch was ticked.
func (f inviteForm) Chose(id access.ID) bool { return slices.Contains(f.Ranches, id) }

var roleChoices = []roleChoice{
	{access.Landowner, words.Mark("sees and sends the results of their ranches, and the bulletins")},
	{access.Hand, words.Mark("sends results for the ranches ticked below, sees no comparison")},
	{access.Biologist, words.Mark("sees the bulletins, no ranch")},
	{access.Planner, words.Mark("sees the bulletins where ten landowners or more stand behind a figure")},
	{access.Coordinator, words.Mark("runs the cooperative, sees no ranch’s results")},
}

func (s *server) cooperativeMembers(c *fiber.Ctx, a access.Actor) error {
	return s.showMembers(c, a, fiber.StatusOK, cooperativeMembersPage{Form: inviteForm{Role: access.Landowner}})
}

func (s *server) showMembers(c *fiber.Ctx, a access.Actor, status int, page cooperativeMembersPage) error {
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if page.Members, err = tx.Members(); err != nil {
			return err
		}
		if page.Invitations, err = tx.Invitations(); err != nil {
			return err
		}
		page.Ranches, err = tx.AllRanches()
		return err
	})
	if err != nil {
		return err
	}
	page.Members = slices.DeleteFunc(page.Members, func(m postgres.Member) bool { return m.Left })
	page.Invitations = slices.DeleteFunc(page.Invitations, func(i postgres.Invitation) bool { return i.State != "open" && i.State != "waiting" })
	page.Roles, page.Letters = roleChoices, s.Account.HasMail()
	page.base = s.base(c, a, s.speaker(c).Count("%d member", "%d members", len(page.Members)))
	return s.render(c, status, "cooperative_members", page)
}

// invite makes an invitation and shows its link. Only a hash of the link is kept, so it cannot be shown again.
func (s *server) invite(c *fiber.Ctx, a access.Actor) error {
	form := inviteForm{
		Role:  access.Role(c.FormValue("role")),
		Name:  strings.TrimSpace(c.FormValue("name")),
		Email: strings.TrimSpace(c.FormValue("email")),
	}
	for _, id := range c.Context().PostArgs().PeekMulti("ranch") {
		form.Ranches = append(form.Ranches, access.ID(id))
	}
	page := cooperativeMembersPage{Form: form}
	if page.Problem = s.speaker(c).Say(form.problem(s.Account.HasMail())); page.Problem != "" {
		return s.showMembers(c, a, fiber.StatusUnprocessableEntity, page)
	}

	var token string
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(form.Role, form.Name, form.Email, form.Ranches)
		return err
	})
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		page.Problem = message
		return s.showMembers(c, a, fiber.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	page = cooperativeMembersPage{Link: s.URL + "/join/" + token, For: form.Name, Form: inviteForm{Role: access.Landowner}}
	if page.For == "" {
		page.For = s.speaker(c).Say("the person it is for")
	}
	return s.showMembers(c, a, fiber.StatusOK, page)
}

// problem says what is missing from the form, or "".
func (f inviteForm) problem(letters bool) string {
	switch {
	case !slices.Contains(access.Roles, f.Role):
		return words.Mark("Choose what part they will have, then make the invitation again.")
	case (f.Role == access.Landowner || f.Role == access.Hand) && len(f.Ranches) == 0:
		return words.Mark("Tick the ranch or ranches they will see, then make the invitation again.")
	case f.Email == "" && !letters:
		return words.Mark("Write the address that they will sign in with: no letters go out from here, so a link is written to one address.")
	}
	return ""
}

// letHeir is the coordinator's yes or no to a new owner to whom a ranch is handed over.
func (s *server) letHeir(c *fiber.Ctx, a access.Actor) error {
	id, answer := access.ID(c.Params("id")), c.FormValue("answer")
	if answer != "yes" && answer != "no" {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.LetHeir(id, answer == "yes") }); err != nil {
		return err
	}
	return s.see(c, "/cooperative/members")
}

func (s *server) revokeInvitation(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.RevokeInvitation(id) }); err != nil {
		return err
	}
	return s.see(c, "/cooperative/members")
}

// stay is a coordinator's no to being removed.
func (s *server) stay(c *fiber.Ctx, a access.Actor) error {
	if err := s.DB.As(c.UserContext(), a, (*postgres.Tx).Stay); err != nil {
		return err
	}
	return s.see(c, "/cooperative/members")
}

// removeMember ends somebody's membership: they can no longer sign in. What they sent stays with the ranch. For a coordinator it asks first.
func (s *server) removeMember(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if id == a.Person {
		return errs.New(errs.Invalid, words.Mark("You cannot remove yourself. Ask another coordinator to do it."))
	}
	var gone postgres.Member
	var cooperative string
	var asked bool
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		members, err := tx.Members()
		if err != nil {
			return err
		}
		if i := slices.IndexFunc(members, func(m postgres.Member) bool { return m.ID == id && !m.Left }); i >= 0 {
			gone = members[i]
		}
		if cooperative, err = tx.CooperativeName(); err != nil {
			return err
		}
		if gone.Role == access.Coordinator {
			if asked, err = tx.AskRemoval(id); err != nil || asked {
				return err
			}
		}
		return tx.RemoveMember(id)
	})
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Conflict) && gone.Role == access.Coordinator {
		return s.showMembers(c, a, fiber.StatusConflict, cooperativeMembersPage{Stopped: message, Form: inviteForm{Role: access.Landowner}})
	}
	if err != nil {
		return err
	}
	if asked {
		return s.see(c, "/cooperative/members")
	}
	s.Account.TellRemoved(gone.Email, cooperative, a.Name)
	return s.see(c, "/cooperative/members")
}
