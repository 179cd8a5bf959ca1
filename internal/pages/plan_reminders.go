package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// remindersPage is where a member chooses how check days come to them: by mail, and in their own calendar.
type remindersPage struct {
	base
	Letters bool // can be sent here at all
	Chosen  postgres.Reminders
	Feeds   []feedRow
	Address string // of the calendar just made: shown this once
	Problem string
	Kept    bool
}

type feedRow struct {
	ID         access.ID
	Named      bool
	Made, Used string
}

func (s *server) planReminders(c *fiber.Ctx, a access.Actor) error {
	return s.showReminders(c, a, fiber.StatusOK, remindersPage{Kept: c.Query("kept") != ""})
}

func (s *server) showReminders(c *fiber.Ctx, a access.Actor, status int, page remindersPage) error {
	var feeds []postgres.Feed
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if page.Chosen, err = tx.Reminders(); err != nil {
			return err
		}
		feeds, err = tx.Feeds()
		return err
	})
	if err != nil {
		return err
	}
	say := s.speaker(c)
	page.base = s.base(c, a, say.Say("Check days, by themselves"))
	page.Letters = s.Account.HasMail()
	page.Feeds = feedRows(say, feeds)
	return s.render(c, status, "plan_reminders", page)
}

func feedRows(say words.Speaker, feeds []postgres.Feed) []feedRow {
	var rows []feedRow
	for _, f := range feeds {
		row := feedRow{ID: f.ID, Named: f.Named, Made: say.Day(f.MadeAt), Used: say.Say("never yet")}
		if !f.UsedAt.IsZero() {
			row.Used = say.Day(f.UsedAt)
		}
		rows = append(rows, row)
	}
	return rows
}

// setReminders keeps whether the member wants letters. They come in the language in which they were asked for.
func (s *server) setReminders(c *fiber.Ctx, a access.Actor) error {
	r := postgres.Reminders{Wanted: c.FormValue("wanted") == "1", Named: c.FormValue("named") == "1", Language: s.speaker(c).Language}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SetReminders(r) }); err != nil {
		return err
	}
	return s.see(c, "/plan/reminders?kept=1")
}

// makeFeed makes a calendar and shows its address, which cannot be shown again: only a hash of it is kept.
func (s *server) makeFeed(c *fiber.Ctx, a access.Actor) error {
	named := c.FormValue("named") == "1"
	var secret string
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeFeed(named, s.speaker(c).Language)
		return err
	})
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && errors.Is(err, errs.Conflict) {
		return s.showReminders(c, a, fiber.StatusUnprocessableEntity, remindersPage{Problem: message})
	}
	if err != nil {
		return err
	}
	return s.showReminders(c, a, fiber.StatusOK, remindersPage{Address: s.URL + "/calendar/" + secret + ".ics"})
}

func (s *server) revokeFeed(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.RevokeFeed(id) }); err != nil {
		return err
	}
	return s.see(c, "/plan/reminders")
}
