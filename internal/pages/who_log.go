package pages

import (
	"cmp"
	"slices"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// whoLogPage tells an owner who looked at their ranches' results, and who took any of them: when, who, what.
type whoLogPage struct {
	base
	Ranches []whoLogRanch
	Changes []string // of coordinators
}

type whoLogRanch struct {
	ID, Name string
	Alarms   []whoLogAlarm
	Days     []whoLogDay
}

type whoLogAlarm struct {
	Name, Part, Day string
	InHour          bool
}

type whoLogDay struct {
	Day   string
	Notes []whoLogNote
}

type whoLogNote struct {
	Name, Part, Did, Item, At string
	Times                     int
}

// coordinatorWords say what became of a coordinator, and when.
var coordinatorWords = map[string]string{
	postgres.CoordinatorCame:      words.Mark("%s became a coordinator on %s."),
	postgres.CoordinatorGone:      words.Mark("%s stopped being a coordinator on %s."),
	postgres.CoordinatorSuspended: words.Mark("%s, who is a coordinator, was suspended on %s."),
}

func (s *server) whoLog(c *fiber.Ctx, a access.Actor) error {
	var ranches []postgres.Ranch
	var notes []postgres.Note
	var alarms []postgres.Alarm
	var changes []postgres.CoordinatorChange
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if ranches, err = tx.Ranches(); err != nil {
			return err
		}
		if notes, err = tx.Notes(); err != nil {
			return err
		}
		if changes, err = tx.CoordinatorChanges(); err != nil {
			return err
		}
		alarms, err = tx.Alarms()
		return err
	})
	if err != nil {
		return err
	}
	page := whoLogPage{base: s.base(c, a, "")}
	page.Title = page.Say.Say("Who looked at what is yours")
	for _, x := range changes {
		page.Changes = append(page.Changes, page.Say.Say(coordinatorWords[x.What], x.Name, page.Say.Day(x.At)))
	}
	for _, r := range ranches {
		page.Ranches = append(page.Ranches, whoLogRanchOf(page.base, r, notes, alarms))
	}
	return s.render(c, fiber.StatusOK, "who_log", page)
}

func whoLogRanchOf(b base, r postgres.Ranch, notes []postgres.Note, alarms []postgres.Alarm) whoLogRanch {
	w := whoLogRanch{ID: string(r.ID), Name: r.Name}
	for _, x := range alarms {
		if slices.Contains(x.Ranches, r.ID) {
			w.Alarms = append(w.Alarms, whoLogAlarm{x.Name, b.Say.Say(capital(roleWords[x.Role])), b.Say.Day(x.At), x.InHour})
		}
	}
	for _, n := range notes { // latest first
		if n.Ranch != r.ID {
			continue
		}
		day := b.Say.Day(n.Last.UTC())
		if len(w.Days) == 0 || w.Days[len(w.Days)-1].Day != day {
			w.Days = append(w.Days, whoLogDay{Day: day})
		}
		last := &w.Days[len(w.Days)-1]
		note := whoLogNote{Name: n.Name, Part: b.Say.Say(capital(roleWords[n.Role])), Did: b.Say.Say(did[n.What]), Item: n.Item, At: n.Last.UTC().Format("15:04"), Times: n.Times}
		switch n.What {
		case postgres.WroteLooks:
			note.Did, note.Item, note.Times = b.Say.Count("wrote down %d look on line %s", "wrote down %d looks on line %s", n.Times, n.Times, cmp.Or(n.Line, "–")), "", 1
		case postgres.TookLooksBack:
			note.Did, note.Item, note.Times = b.Say.Count("took back %d look on line %s", "took back %d looks on line %s", n.Times, n.Times, cmp.Or(n.Line, "–")), "", 1
		}
		if n.Link {
			note.Name, note.Part, note.Item = n.Item, b.Say.Say("Field link"), ""
		}
		if note.Name == "" {
			note.Name = b.Say.Say("Somebody who has left")
		}
		last.Notes = append(last.Notes, note)
	}
	return w
}
