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

// cooperativeIntroductionsPage lists planners' requests and, for the coordinator alone, the ranches that are glad to
// hear from one.
type cooperativeIntroductionsPage struct {
	base
	Requests []requestRow
	Glad     []gladArea
}

// A requestRow is one request with the form that answers it.
type requestRow struct {
	postgres.Introduction
	CSRF    string
	Number  int
	Choice  string // as it was chosen
	Words   string // as they were typed
	Problem string // what is wrong with them
}

// gladArea is an area with its ranches whose owners are glad to hear from planners.
type gladArea struct {
	Name    string // "" where a ranch is in none
	Ranches []gladRanch
}

type gladRanch struct {
	postgres.Welcome
	People []postgres.Member // who can be reached for it
}

func (s *server) cooperativeIntroductions(c *fiber.Ctx, a access.Actor) error {
	return s.showCooperativeIntroductions(c, a, fiber.StatusOK, requestRow{})
}

// showCooperativeIntroductions shows the page; tried is the answer that could not be taken, if any.
func (s *server) showCooperativeIntroductions(c *fiber.Ctx, a access.Actor, status int, tried requestRow) error {
	var requests []postgres.Introduction
	var glad []postgres.Welcome
	var members []postgres.Member
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if requests, err = tx.Introductions(); err != nil {
			return err
		}
		if glad, err = tx.Welcomes(); err != nil {
			return err
		}
		members, err = tx.Members()
		return err
	})
	if err != nil {
		return err
	}
	// Those that wait come first.
	slices.SortStableFunc(requests, func(x, y postgres.Introduction) int {
		order := func(i postgres.Introduction) int {
			if i.State == postgres.AskWaiting {
				return 0
			}
			return 1
		}
		return order(x) - order(y)
	})
	page := cooperativeIntroductionsPage{base: s.base(c, a, introductionsTitle(s.speaker(c), requests)), Glad: gladAreas(glad, members)}
	for i, r := range requests {
		row := requestRow{Introduction: r, CSRF: page.CSRF, Number: i + 1, Choice: r.State, Words: r.Reply}
		if r.ID == tried.ID {
			row.Choice, row.Words, row.Problem = tried.Choice, tried.Words, tried.Problem
		}
		page.Requests = append(page.Requests, row)
	}
	return s.render(c, status, "cooperative_introductions", page)
}

func introductionsTitle(say words.Speaker, list []postgres.Introduction) string {
	switch n := waitingRequests(list); {
	case len(list) == 0:
		return say.Say("No planner has asked to be introduced")
	case n == 0:
		return say.Say("No request waits for you")
	default:
		return say.Count("One planner’s request waits for you", "%d requests wait for you", n)
	}
}

func waitingRequests(list []postgres.Introduction) int {
	return count(list, func(i postgres.Introduction) bool { return i.State == postgres.AskWaiting })
}

func gladAreas(glad []postgres.Welcome, members []postgres.Member) []gladArea {
	var areas []gladArea
	for _, w := range glad {
		r := gladRanch{Welcome: w}
		for _, m := range members {
			if m.Role == access.Landowner && !m.Left && slices.Contains(m.Ranches, w.Ranch) {
				r.People = append(r.People, m)
			}
		}
		if len(areas) == 0 || areas[len(areas)-1].Name != w.Area {
			areas = append(areas, gladArea{Name: w.Area})
		}
		last := &areas[len(areas)-1]
		last.Ranches = append(last.Ranches, r)
	}
	return areas
}

// answerIntroduction tells the planner what became of a request, in a few words without a name.
func (s *server) answerIntroduction(c *fiber.Ctx, a access.Actor) error {
	id, state, reply := access.ID(c.Params("id")), c.FormValue("state"), strings.TrimSpace(c.FormValue("reply"))
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.AnswerIntroduction(id, state, reply) })
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Invalid) {
		return s.showCooperativeIntroductions(c, a, fiber.StatusUnprocessableEntity, requestRow{Introduction: postgres.Introduction{ID: id}, Choice: state, Words: reply, Problem: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/introductions")
}
