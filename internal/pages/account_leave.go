package pages

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// accountLeavePage has the ways out: take everything along, erase a ranch, hand it over, leave. What cannot be undone
// waits fourteen days first and can be called off by one tap. For a coordinator leaving is the second half of handing
// over: another one has come in.
type accountLeavePage struct {
	base
	Ranches []postgres.Ranch       // the member's own
	Under   []leaveNotice          // what was asked for and can still be called off
	Refused []string               // hand-overs that a coordinator refused, of the last 30 days
	Leaving bool                   // leaving is among it
	Others  []string               // a coordinator's: the coordinators who stay
	Problem string                 // what is wrong with the form that was sent
	Form    leaveForm              // that form
	Invite  string                 // the new owner's link, once
	Off     bool                   // something was just called off
	busy    map[access.ID][]string // ranches something is under way for, and what
}

// Free lists the ranches for which nothing is under way.
func (p accountLeavePage) Free() []postgres.Ranch {
	return slices.DeleteFunc(slices.Clone(p.Ranches), func(r postgres.Ranch) bool { return len(p.busy[r.ID]) > 0 })
}

// Sellable lists those that nobody has asked to hand over.
func (p accountLeavePage) Sellable() []postgres.Ranch { return p.without(postgres.HandOverKind) }

// Erasable lists those that nobody has asked to delete.
func (p accountLeavePage) Erasable() []postgres.Ranch { return p.without(postgres.EraseKind) }

func (p accountLeavePage) without(kind string) []postgres.Ranch {
	return slices.DeleteFunc(slices.Clone(p.Ranches), func(r postgres.Ranch) bool { return slices.Contains(p.busy[r.ID], kind) })
}

type leaveForm struct {
	Ranch access.ID
	Heir  string
	Rows  bool
}

// A leaveNotice is a way out under way.
type leaveNotice struct {
	ID         access.ID
	Said, When string
	Waits      bool // for the new owner's yes
	Lacks      bool // the yes of another owner
	Mine       bool // which is the reader's
	Fellow     bool // another owner asked, which nobody else calls off
	Whom       access.ID
	Ranch      access.ID
}

// askedFor says what was asked for: by whom, of which ranch.
var askedFor = map[string]string{
	postgres.LeaveKind:    words.Mark("%[1]s asked to leave the cooperative."),
	postgres.EraseKind:    words.Mark("%[1]s asked to delete everything that was sent for %[2]s."),
	postgres.HandOverKind: words.Mark("%[1]s asked to hand %[2]s over to the owner of the address %[3]s."),
	postgres.TakeOffKind:  words.Mark("%[1]s asked to take %[3]s off %[2]s."),
}

func (s *server) accountLeave(c *fiber.Ctx, a access.Actor) error {
	return s.showLeave(c, a, fiber.StatusOK, accountLeavePage{Off: c.Query("off") != ""})
}

func (s *server) showLeave(c *fiber.Ctx, a access.Actor, status int, page accountLeavePage) error {
	page.base = s.base(c, a, "")
	page.Title = page.Say.Say("Leaving")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		switch a.Role {
		case access.Landowner:
			if page.Ranches, err = tx.Ranches(); err != nil {
				return err
			}
			if page.Refused, err = refusals(tx, page.Say); err != nil {
				return err
			}
			list, err := tx.Departures()
			page.take(list)
			return err
		case access.Coordinator:
			members, err := tx.Members()
			for _, m := range members {
				if m.Role == access.Coordinator && m.ID != a.Person && !m.Left && !m.Suspended {
					page.Others = append(page.Others, m.Name)
				}
			}
			return err
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.render(c, status, "account_leave", page)
}

func (p *accountLeavePage) take(list []postgres.Departure) {
	p.busy = map[access.ID][]string{}
	p.Under = noticesOf(p.Say, list)
	for _, d := range list {
		p.Leaving = p.Leaving || d.Kind == postgres.LeaveKind
		if d.Kind != postgres.TakeOffKind {
			p.busy[d.Ranch] = append(p.busy[d.Ranch], d.Kind)
		}
	}
}

func noticesOf(say words.Speaker, list []postgres.Departure) (notices []leaveNotice) {
	for _, d := range list {
		each := d.Kind == postgres.TakeOffKind && slices.ContainsFunc(list, func(o postgres.Departure) bool {
			return o.Kind == d.Kind && o.Ranch == d.Ranch && o.WhomName == d.By && o.By == d.WhomName
		})
		when := happensOn(say, d.DueAt, d.Held)
		if each {
			when = say.Say("You each asked this of the other, so it does not happen by itself: two landowners of other ranches say which of you owns it.")
		}
		args := []any{d.By, d.RanchName, cmp.Or(d.Heir, d.WhomName)}
		notices = append(notices, leaveNotice{ID: d.ID, Said: say.Say(askedFor[d.Kind], args[:strings.Count(askedFor[d.Kind], "%")]...), When: when,
			Waits: d.Kind == postgres.HandOverKind && !d.Agreed, Lacks: d.Lacks > 0, Mine: d.Mine, Fellow: d.Fellow, Whom: d.Whom, Ranch: d.Ranch})
	}
	return notices
}

// refusals says which hand-overs a coordinator refused.
func refusals(tx *postgres.Tx, say words.Speaker) (list []string, err error) {
	refused, err := tx.Refusals()
	for _, x := range refused {
		list = append(list, say.Say("%s refused on %s to let the new owner of %s join the cooperative. The hand-over does not happen, and the ranch stays as it was.", x.By, say.Day(x.At.UTC()), x.RanchName))
	}
	return list, err
}

// happensOn says on which day something happens, or that it waits for the end of a suspension.
func happensOn(say words.Speaker, due time.Time, held bool) string {
	if held {
		return say.Say("It waits while somebody is suspended, and for 14 days after they are in again.")
	}
	return say.Say("It happens on %s.", say.Day(due.UTC()))
}

// leave ends the membership: a landowner's in fourteen days, with what is to become of each ranch; anybody else's, who
// have nothing of their own here, at once.
func (s *server) leave(c *fiber.Ctx, a access.Actor) error {
	if a.Role == access.Landowner {
		return s.leaveLater(c, a)
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.Leave() })
	if message, ok := errs.Message(err); ok && errors.Is(err, errs.Invalid) {
		return s.showLeave(c, a, fiber.StatusUnprocessableEntity, accountLeavePage{Problem: message})
	}
	if err != nil {
		return err
	}
	s.setCookie(c, s.cookieName(), "", longAgo)
	s.setCookie(c, s.deviceCookie(), "", longAgo)
	return s.see(c, "/sign-in")
}

func (s *server) leaveLater(c *fiber.Ctx, a access.Actor) error {
	asked := []postgres.Departure{{Kind: postgres.LeaveKind}}
	missing := false
	for _, id := range a.Ranches {
		switch c.FormValue("ranch-" + string(id)) {
		case "erase":
			asked = append(asked, postgres.Departure{Kind: postgres.EraseKind, Ranch: id})
		case "stay":
		default:
			under, err := s.underWay(c, a, id)
			if err != nil {
				return err
			}
			missing = missing || !under
		}
	}
	if missing {
		return s.showLeave(c, a, fiber.StatusUnprocessableEntity, accountLeavePage{Problem: s.speaker(c).Say("Say for each ranch what is to become of it.")})
	}
	return s.depart(c, a, asked...)
}

// underWay tells whether something is under way for a ranch already.
func (s *server) underWay(c *fiber.Ctx, a access.Actor, ranch access.ID) (under bool, err error) {
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		list, err := tx.Departures()
		under = slices.ContainsFunc(list, func(d postgres.Departure) bool { return d.Ranch == ranch })
		return err
	})
	return under, err
}

// eraseRanch asks for everything of a ranch to be deleted.
func (s *server) eraseRanch(c *fiber.Ctx, a access.Actor) error {
	return s.depart(c, a, postgres.Departure{Kind: postgres.EraseKind, Ranch: access.ID(c.FormValue("ranch"))})
}

// handOverRanch asks for a ranch to go to its new owner, and makes the link by which they come in.
func (s *server) handOverRanch(c *fiber.Ctx, a access.Actor) error {
	return s.depart(c, a, postgres.Departure{Kind: postgres.HandOverKind, Ranch: access.ID(c.FormValue("ranch")), Heir: c.FormValue("heir"), WithRows: c.FormValue("rows") == "1"})
}

// depart asks for all of it or none, and writes to whom it concerns. What is under way for a ranch already stays so.
func (s *server) depart(c *fiber.Ctx, a access.Actor, asked ...postgres.Departure) error {
	page := accountLeavePage{Form: leaveForm{asked[0].Ranch, asked[0].Heir, asked[0].WithRows}}
	var under []postgres.Departure
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		before, err := tx.Departures()
		if err != nil {
			return err
		}
		for _, d := range asked {
			if d.Ranch != "" && len(asked) > 1 && slices.ContainsFunc(before, func(b postgres.Departure) bool { return b.Ranch == d.Ranch }) {
				continue
			}
			id, err := tx.Depart(d)
			if err != nil {
				return err
			}
			if d.Kind == postgres.HandOverKind {
				token, err := tx.InviteHeir(id)
				if err != nil {
					return err
				}
				page.Invite = s.URL + "/join/" + token
			}
		}
		after, err := tx.Departures()
		under = slices.DeleteFunc(after, func(d postgres.Departure) bool {
			return slices.ContainsFunc(before, func(b postgres.Departure) bool { return b.ID == d.ID })
		})
		return err
	})
	if message, ok := errs.Message(err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		page.Problem, page.Invite = s.speaker(c).Say(message), ""
		return s.showLeave(c, a, fiber.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	for _, d := range under {
		s.Account.TellDeparture(a, d, false)
	}
	if page.Invite != "" {
		page.Form = leaveForm{}
		return s.showLeave(c, a, fiber.StatusOK, page) // the link is shown once only, so there is no page to go back to
	}
	return s.see(c, "/account/leave")
}

// agreeHandOver keeps another owner's yes to a hand-over.
func (s *server) agreeHandOver(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.AgreeHandOver(id) }); err != nil {
		return err
	}
	return s.see(c, "/account/leave")
}

// callOff calls one of them off, at once.
func (s *server) callOff(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	var off postgres.Departure
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		list, err := tx.Departures()
		if err != nil {
			return err
		}
		for _, d := range list {
			if d.ID == id {
				off = d
			}
		}
		return tx.CallOff(id)
	})
	if err != nil {
		return err
	}
	s.Account.TellDeparture(a, off, true)
	return s.see(c, "/account/leave?off=1")
}
