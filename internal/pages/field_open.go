package pages

import (
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// fieldOpenPage is where a field link leads: what it is for, and a button that takes it onto this phone.
type fieldOpenPage struct {
	base
	Token string
	Offer postgres.FieldOffer
	From  time.Time
	Until time.Time
	Lines string
}

// fieldOpen shows what a link is for. It opens nothing: programs that look at links in letters do no harm.
func (s *server) fieldOpen(c *fiber.Ctx, a access.Actor) error {
	token := c.Params("token")
	offer, err := s.DB.FieldOffer(c.UserContext(), token)
	if err != nil {
		return err
	}
	page := fieldOpenPage{Token: token, Offer: offer, From: offer.From.Time(), Until: offer.Through.Time(), Lines: strings.Join(offer.Lines, ", ")}
	page.base = s.base(c, a, "")
	if page.Title = page.Say.Say("Field work"); offer.Ranch != "" {
		page.Title = page.Say.Say("Field work on %s", offer.Ranch)
	}
	return s.render(c, fiber.StatusOK, "field_open", page)
}

// fieldCookieLasts is how long a phone keeps a link; the link itself may end before.
const fieldCookieLasts = 400 * 24 * time.Hour

// openFieldLink takes a link onto this phone.
func (s *server) openFieldLink(c *fiber.Ctx, _ access.Actor) error {
	session, err := s.DB.OpenField(c.UserContext(), c.Params("token"), c.Get(fiber.HeaderUserAgent))
	if err != nil {
		return err
	}
	s.setCookie(c, s.fieldCookie(), session, s.Now().Add(fieldCookieLasts))
	return s.see(c, "/field")
}

// leaveField takes a link off this phone.
func (s *server) leaveField(c *fiber.Ctx, _ access.Actor) error {
	if session := c.Cookies(s.fieldCookie()); session != "" {
		if err := s.DB.LeaveField(c.UserContext(), session); err != nil {
			return err
		}
		s.setCookie(c, s.fieldCookie(), "", s.Now().Add(-time.Hour))
	}
	return c.JSON(fiber.Map{"left": true})
}

// fieldLinkStates says why a link cannot be opened.
func fieldLinkStates() map[string]string {
	return map[string]string{
		"early":   words.Mark("It is not the day yet. Keep this link and open it then."),
		"over":    words.Mark("Its days are over. What is on your phone can still be sent for a while. For more days ask for a new link."),
		"revoked": words.Mark("This link has ended: an owner of the ranch cut it off, or its maker is no owner any more. Ask an owner if you still need one."),
	}
}

// Why returns why the link cannot be opened, "" where it can.
func (p fieldOpenPage) Why() string {
	if why := fieldLinkStates()[p.Offer.State]; why != "" {
		return p.Say.Say(why)
	}
	return ""
}
