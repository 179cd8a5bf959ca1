package pages

import (
	"cmp"
	"fmt"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
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
	for _, x := range alarms {
		page.Alarms = append(page.Alarms, alarmRow{x.Name, string(x.Role), much(x), x.At.UTC().Format("2 January 2006, 15:04 UTC")})
	}
	for _, d := range denials {
		page.Denials = append(page.Denials, denialRow{cmp.Or(deniedWords[d.Kind], d.Kind), cmp.Or(string(d.Role), "not signed in"), d.Week, d.Month})
	}
	title := "Nobody took much at once"
	if n := len(alarms); n > 0 {
		title = counted(n, "alarm") + " in the last 30 days"
	}
	page.base = s.base(c, a, title)
	return s.render(c, fiber.StatusOK, "cooperative_log", page)
}

// much says how much it was.
func much(a postgres.Alarm) string {
	if a.InHour {
		return fmt.Sprintf("more than %d in an hour", postgres.MuchInHour)
	}
	return fmt.Sprintf("more than %d in a day", postgres.MuchInDay)
}
