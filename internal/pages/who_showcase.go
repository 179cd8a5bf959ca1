package pages

import (
	"errors"
	"fmt"
	"slices"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// whoShowcasePage lets an owner show one figure of one season under the ranch's own name, and take it down.
type whoShowcasePage struct {
	base
	Problem string
	ID      access.ID
	Name    string
	Shown   []shownFigure
	Choices []showChoice
	Closed  bool // there are figures, but their seasons' bulletins are out
}

// A showChoice is a figure that may be put up: that of a season whose bulletin is still to come.
type showChoice struct {
	Value, Said, Range string
	Season             int
}

func (s *server) whoShowcase(c *fiber.Ctx, a access.Actor) error {
	return s.showShowcase(c, a, fiber.StatusOK, access.ID(c.Query("ranch")), "")
}

func (s *server) showShowcase(c *fiber.Ctx, a access.Actor, status int, id access.ID, problem string) error {
	if !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	page := whoShowcasePage{base: s.base(c, a, ""), Problem: problem, ID: id}
	page.Title = page.Say.Say("Show a figure under the ranch’s name")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		r, err := tx.Ranch(id)
		if err != nil {
			return err
		}
		page.Name = r.Name
		shown, err := tx.OwnShowings(id)
		if err != nil {
			return err
		}
		page.Shown = shownOf(page.Say, shown)
		choices, closed, err := showChoices(tx, r)
		page.Closed = closed && len(choices) == 0
		for _, x := range choices {
			if !slices.ContainsFunc(shown, func(y postgres.Showing) bool { return y.Season == x.Season && y.Item == x.Item }) {
				choice := showChoice{Value: showValue(x), Season: x.Season}
				choice.Said, choice.Range = showingWords(page.Say, x)
				page.Choices = append(page.Choices, choice)
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	return s.render(c, status, "who_showcase", page)
}

// showChoices lists the figures of the ranch that may be put up; closed tells that there are some whose season's
// bulletin is out or being made.
func showChoices(tx *postgres.Tx, r postgres.Ranch) (list []postgres.Showing, closed bool, err error) {
	res, err := tx.Findings(r.ID)
	if err != nil {
		return nil, false, err
	}
	if err := tx.Looked(r.ID); err != nil {
		return nil, false, err
	}
	seasons := seasonsOf(res)
	slices.Reverse(seasons)
	var open []int
	for _, season := range seasons {
		ok, err := tx.SeasonOpen(season)
		if err != nil {
			return nil, false, err
		}
		if ok {
			open = append(open, season)
		}
		closed = closed || !ok
	}
	if len(open) == 0 {
		return nil, closed, nil
	}
	for _, season := range open {
		list = append(list, showable(res, r, season)...)
	}
	return list, closed, nil
}

func showable(res *findings.Result, r postgres.Ranch, season int) (list []postgres.Showing) {
	add := func(item string, x findings.Range) {
		if full(x) {
			list = append(list, postgres.Showing{Ranch: r.ID, RanchName: r.Name, Season: season, Item: item, Estimate: *x.Estimate, Low: *x.Low, High: *x.High})
		}
	}
	if x, ok := res.SurvivalOf(r.Name, season); ok {
		add(postgres.ShowSurvival, x.Day28.Range)
	}
	if x, ok := res.DensityOf(r.Name, season); ok {
		add(postgres.ShowCover, x.PerAcre.Range)
	}
	return list
}

// showValue names a figure in a form.
func showValue(x postgres.Showing) string { return fmt.Sprintf("%d %s", x.Season, x.Item) }

// putOnShow puts up what was chosen, as it stands now: a form cannot say another number.
func (s *server) putOnShow(c *fiber.Ctx, a access.Actor) error {
	id, value := access.ID(c.FormValue("ranch")), c.FormValue("figure")
	if !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		r, err := tx.Ranch(id)
		if err != nil {
			return err
		}
		choices, _, err := showChoices(tx, r)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(choices, func(x postgres.Showing) bool { return showValue(x) == value })
		if i < 0 {
			return errs.New(errs.Invalid, words.Mark("Choose one of the figures on the page."))
		}
		return tx.Show(choices[i])
	})
	if message, ok := errs.Message(err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		return s.showShowcase(c, a, fiber.StatusUnprocessableEntity, id, s.speaker(c).Say(message))
	}
	if err != nil {
		return err
	}
	return s.see(c, "/who/showcase?ranch="+string(id))
}

// takeDown takes a figure down.
func (s *server) takeDown(c *fiber.Ctx, a access.Actor) error {
	ranch := access.ID(c.FormValue("ranch"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.TakeDown(access.ID(c.Params("id"))) }); err != nil {
		return err
	}
	if !a.CanRanch(access.CompareRanch, ranch) {
		return s.see(c, "/who")
	}
	return s.see(c, "/who/showcase?ranch="+string(ranch))
}
