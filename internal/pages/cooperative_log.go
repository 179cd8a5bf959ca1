package pages

import (
	"cmp"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cooperativeLogPage tells the coordinator who took much at once, and how often something was refused. It has no note of
// who looked at which ranch: that is for the ranch's owner.
type cooperativeLogPage struct {
	base
	Alarms    []alarmRow
	Denials   []denialRow
	Hour, Day int // the limits of an alarm
}

type alarmRow struct{ Name, Part, Much, At string }

type denialRow struct {
	What, Part  string
	Week, Month int
}

func (s *server) cooperativeLog(c *fiber.Ctx, a access.Actor) error {
	page := cooperativeLogPage{Hour: postgres.MuchInHour, Day: postgres.MuchInDay}
	var alarms []postgres.Alarm
	var denials []postgres.Denial
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if alarms, err = tx.Alarms(); err != nil {
			return err
		}
		denials, err = tx.Denials()
		return err
	})
	if err != nil {
		return err
	}
	say := s.speaker(c)
	for _, x := range alarms {
		at := x.At.UTC()
		page.Alarms = append(page.Alarms, alarmRow{x.Name, say.Say(string(x.Role)), much(say, x), say.Day(at) + at.Format(", 15:04 UTC")})
	}
	for _, d := range denials {
		page.Denials = append(page.Denials, denialRow{say.Say(cmp.Or(deniedWords[d.Kind], d.Kind)), say.Say(cmp.Or(string(d.Role), words.Mark("not signed in"))), d.Week, d.Month})
	}
	title := say.Say("Nobody took much at once")
	if n := len(alarms); n > 0 {
		title = say.Count("%d alarm in the last 30 days", "%d alarms in the last 30 days", n)
	}
	page.base = s.base(c, a, title)
	return s.render(c, fiber.StatusOK, "cooperative_log", page)
}

// much says how much it was.
func much(say words.Speaker, a postgres.Alarm) string {
	if a.InHour {
		return say.Say("more than %d in an hour", postgres.MuchInHour)
	}
	return say.Say("more than %d in a day", postgres.MuchInDay)
}
