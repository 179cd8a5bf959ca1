package pages

import (
	"bytes"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/export"
)

// calendar answers a calendar program, which has nothing but the secret in the address. Nothing in it says where.
func (s *server) calendar(c *fiber.Ctx, _ access.Actor) error {
	lines, named, language, err := s.DB.FeedLines(c.UserContext(), c.Params("token"))
	if err != nil {
		return err
	}
	cal := export.Calendar{Say: s.book.In(language), Now: s.Now(), Named: named, Alarm: true}
	for _, l := range lines {
		cal.Days = append(cal.Days, export.CalendarLine{Line: l.Line, RanchName: l.RanchName, Changed: l.Changed})
	}
	var b bytes.Buffer
	if err := cal.Write(&b); err != nil {
		return err
	}
	c.Set(fiber.HeaderContentType, "text/calendar; charset=utf-8")
	return c.Send(b.Bytes())
}
