package pages

import (
	"errors"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

type joinPage struct {
	base
	Invitation postgres.Invitation
	Asks       string // who asks them to be what
	Sees       string // what that lets them see
	Token      string
	Name       string
	Email      string
	Phone      string
	Message    string
	Written    bool   // a letter is on its way to the address
	Key        string // of the letter that was opened
	Closed     string // why the link no longer opens anything
}

// closed says why an invitation can no longer be taken up; "open" is not among them.
var closed = map[string]string{
	"used":    words.Mark("This invitation has been taken up already. If it was you, sign in; if not, tell the coordinator at once."),
	"expired": words.Mark("This invitation has run out. Ask the coordinator for a new link."),
	"waiting": words.Mark("Are you a member already? Then sign in: the ranch is offered to you on “Who can see this”. If you are not, a coordinator has yet to say yes to your joining: ask the coordinator, then open this link again."),
	"revoked": words.Mark("This invitation was taken back. Ask the coordinator if that was a mistake."),
	noAddress: words.Mark("This link names no address, and no letters go out from here. Ask the coordinator for a link that is written to your address."),
}

// noAddress is an invitation that no address can be typed for: where no letters go out, whether one is taken would be told by the link's answer.
const noAddress = "no address"

// addressless tells whether an invitation leaves it to whoever has its link to say with which address. The first coordinator's link, which the server prints,
// is asked by nobody: no member's address can be tried out by it, and whoever sets a server up comes in even while its letters go nowhere.
func addressless(inv postgres.Invitation) bool {
	return inv.Email == "" && (inv.InvitedBy != "" || inv.Role != access.Coordinator)
}

// parts says in words what each role is, and what it lets its holder see.
var parts = map[access.Role]struct{ part, sees string }{
	access.Landowner:   {words.Mark("a landowner"), words.Mark("You will see the cooperative’s bulletin and your own ranch’s results: these at once, or after a yes of those who are asked whether it is yours. Nobody else sees your ranch’s results but the people you let in.")},
	access.Hand:        {words.Mark("a hand"), words.Mark("You will send in and check the lines of the ranches named here. You will not see how ranches compare.")},
	access.Coordinator: {words.Mark("a coordinator"), words.Mark("You will run the cooperative: who is in it, and what is still to come in. You will see no ranch’s results.")},
	access.Biologist:   {words.Mark("a biologist"), words.Mark("You will see the cooperative’s bulletins, and no single ranch.")},
	access.Planner:     {words.Mark("a planner"), words.Mark("You will see the cooperative’s bulletins, and no single ranch.")},
}

func (s *server) joinForm(c *fiber.Ctx, a access.Actor) error {
	inv, err := s.Account.Invitation(c.UserContext(), c.Params("token"))
	if err != nil {
		return err
	}
	page := s.joinPage(c, a, inv)
	if page.Closed != "" {
		if inv.State != "open" {
			s.deny(c, postgres.Denied{Kind: deniedInvitation, Link: c.Params("token")})
		}
		return s.render(c, fiber.StatusGone, "join", page)
	}
	return s.render(c, fiber.StatusOK, "join", page)
}

func (s *server) joinPage(c *fiber.Ctx, a access.Actor, inv postgres.Invitation) joinPage {
	say := s.speaker(c)
	if inv.State == "open" && addressless(inv) && !s.Account.HasMail() {
		inv.State = noAddress
	}
	return joinPage{
		base:       s.base(c, a, say.Say("Join %s", inv.Cooperative)),
		Invitation: inv, Asks: joinAsks(say, inv), Sees: say.Say(parts[inv.Role].sees), Token: c.Params("token"), Name: inv.Name, Email: inv.Email, Closed: say.Say(closed[inv.State]),
	}
}

// joinAsks says who asks whom to be what.
func joinAsks(say words.Speaker, inv postgres.Invitation) string {
	part, ranches := say.Say(parts[inv.Role].part), say.List(inv.Ranches)
	switch by := inv.InvitedBy; {
	case by == "" && ranches == "":
		return say.Say("You are asked to join as %s.", part)
	case by == "":
		return say.Say("You are asked to join as %s, for %s.", part, ranches)
	case ranches == "":
		return say.Say("%s asks you to join as %s.", by, part)
	default:
		return say.Say("%s asks you to join as %s, for %s.", by, part, ranches)
	}
}

func (s *server) join(c *fiber.Ctx, a access.Actor) error {
	token := c.Params("token")
	inv, err := s.Account.Invitation(c.UserContext(), token)
	if err != nil {
		return err
	}
	form := account.Acceptance{
		Name:     strings.TrimSpace(c.FormValue("name")),
		Email:    strings.TrimSpace(c.FormValue("email")),
		Phone:    strings.TrimSpace(c.FormValue("phone")),
		Password: c.FormValue("password"),
	}
	if addressless(inv) && s.Account.HasMail() {
		return s.askToJoin(c, a, inv, form)
	}
	if page := s.joinPage(c, a, inv); inv.State == "open" && page.Closed != "" {
		return s.render(c, fiber.StatusGone, "join", page)
	}
	session, err := s.Account.Accept(c.UserContext(), token, form, c.Get(fiber.HeaderUserAgent))
	if errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict) || errors.Is(err, errs.TooMany) {
		page := s.joinPage(c, a, inv)
		page.Name, page.Email, page.Phone = form.Name, form.Email, form.Phone
		page.Message, _ = s.said(c, err)
		return s.render(c, statusOf(err), "join", page)
	}
	if err != nil {
		return err
	}
	return s.joined(c, a, session)
}

// askToJoin writes to the address that somebody typed, and says the same for every address.
func (s *server) askToJoin(c *fiber.Ctx, a access.Actor, inv postgres.Invitation, form account.Acceptance) error {
	page := s.joinPage(c, a, inv)
	page.Name, page.Email, page.Phone = form.Name, form.Email, form.Phone
	err := s.Account.AskToJoin(c.UserContext(), page.Token, form, s.speaker(c))
	if errors.Is(err, errs.Invalid) || errors.Is(err, errs.TooMany) {
		page.Message, _ = s.said(c, err)
		return s.render(c, statusOf(err), "join", page)
	}
	if err != nil {
		return err
	}
	page.Written = true
	return s.render(c, fiber.StatusOK, "join", page)
}

// joinLetter is what the link in the letter opens: a button, since programs that look into letters open links too.
func (s *server) joinLetter(c *fiber.Ctx, a access.Actor) error {
	return s.showJoinLetter(c, a, fiber.StatusOK, "")
}

func (s *server) showJoinLetter(c *fiber.Ctx, a access.Actor, status int, message string) error {
	inv, err := s.Account.Invitation(c.UserContext(), c.Params("token"))
	if err != nil {
		return err
	}
	page := s.joinPage(c, a, inv)
	page.Key, page.Message = c.Params("key"), message
	if message == "" && page.Closed == "" {
		if page.Email, err = s.Account.Joining(c.UserContext(), page.Token, page.Key); err != nil {
			return err
		}
	}
	if page.Closed != "" {
		status = fiber.StatusGone
	}
	return s.render(c, status, "join", page)
}

// finishJoining uses the letter's link up.
func (s *server) finishJoining(c *fiber.Ctx, a access.Actor) error {
	session, err := s.Account.Finish(c.UserContext(), c.Params("token"), c.Params("key"), c.Get(fiber.HeaderUserAgent))
	if errors.Is(err, errs.Conflict) {
		message, _ := s.said(c, err)
		return s.showJoinLetter(c, a, fiber.StatusConflict, message)
	}
	if err != nil {
		return err
	}
	return s.joined(c, a, session)
}

// joined lets somebody in who has just joined.
func (s *server) joined(c *fiber.Ctx, a access.Actor, session string) error {
	device, err := s.Account.Remember(c.UserContext(), session, s.visit(c, a))
	if err != nil {
		return err
	}
	return s.letIn(c, a, account.In{Session: session, Device: device}, "/")
}
