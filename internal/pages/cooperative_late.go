package pages

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
)

// latePage is the coordinator's: on which ranches a check day is over and nothing has come, and whom to call. Nothing in it depends on what was
// found.
type latePage struct {
	base
	Ranches []lateRanch
}

type lateRanch struct {
	ID     access.ID
	Name   string
	Season int
	Days   []string // "First check of the eggs on lines 1, 2: was due Monday, May 24, 5 days late."
	People []postgres.Member
	Calls  []string
}

func (s *server) cooperativeLate(c *fiber.Ctx, a access.Actor) error {
	var lines []postgres.LateLine
	var calls []postgres.LateCall
	var members []postgres.Member
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if lines, err = tx.LateLines(s.today()); err != nil {
			return err
		}
		if calls, err = tx.LateCalls(); err != nil {
			return err
		}
		members, err = tx.Members()
		return err
	})
	if err != nil {
		return err
	}
	page := latePage{base: s.base(c, a, s.speaker(c).Say("Who is late"))}
	page.fill(lines, calls, members, s.today())
	return s.render(c, fiber.StatusOK, "cooperative_late", page)
}

func (p *latePage) fill(lines []postgres.LateLine, calls []postgres.LateCall, members []postgres.Member, today survey.Date) {
	type group struct {
		what   string
		due    survey.Date
		closes survey.Date
	}
	at := map[access.ID]int{}
	names := map[access.ID]map[group][]string{}
	order := map[access.ID][]group{}
	for _, l := range lines {
		if _, ok := at[l.Ranch]; !ok {
			at[l.Ranch] = len(p.Ranches)
			p.Ranches = append(p.Ranches, lateRanch{ID: l.Ranch, Name: l.RanchName, Season: l.Season})
			names[l.Ranch] = map[group][]string{}
		}
		g := group{l.What, l.Due, l.Closes}
		if names[l.Ranch][g] == nil {
			order[l.Ranch] = append(order[l.Ranch], g)
		}
		names[l.Ranch][g] = append(names[l.Ranch][g], l.Line)
	}
	for i := range p.Ranches {
		r := &p.Ranches[i]
		for _, g := range order[r.ID] {
			on := names[r.ID][g]
			lines := p.Say.Count("on line %s", "on lines %s", len(on), strings.Join(on, ", "))
			if g.what == "last" {
				r.Days = append(r.Days, p.Say.Say("%s %s: was due %s, and no sheet of the season has come.", season.Todo(p.Say, g.what), lines, p.Say.Weekday(g.due.Time())))
				continue
			}
			r.Days = append(r.Days, p.Say.Say("%s %s: was due %s, %s.", season.Todo(p.Say, g.what), lines, p.Say.Weekday(g.due.Time()),
				p.Say.Count("%d day late", "%d days late", int(today-g.closes))))
		}
		for _, m := range members {
			if !m.Left && slices.Contains(m.Ranches, r.Name) {
				r.People = append(r.People, m)
			}
		}
		for _, call := range calls {
			if call.Ranch == r.ID && call.Season == r.Season {
				r.Calls = append(r.Calls, p.Say.Say("%s called on %s", call.By, p.Say.Day(call.At)))
			}
		}
	}
}

// noteCall keeps that the coordinator called.
func (s *server) noteCall(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	year, err := strconv.Atoi(c.FormValue("season"))
	if err != nil || year < 1990 || year > 2150 {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.NoteCall(id, year) }); err != nil {
		return err
	}
	return s.see(c, fmt.Sprintf("/cooperative/late#r%s", id))
}
