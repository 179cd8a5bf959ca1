package pages

import (
	"math"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// showcasePage shows what owners chose to show under their ranch's own name: nothing else in the cooperative has one.
type showcasePage struct {
	base
	Shown []shownFigure
}

type shownFigure struct {
	ID          access.ID
	Ranch       string
	Season      int
	Said, Range string
	Day         string // on which its owner chose it
	Out         bool   // others can see it
}

func (s *server) showcase(c *fiber.Ctx, a access.Actor) error {
	page := showcasePage{base: s.base(c, a, "")}
	page.Title = page.Say.Say("Shown by name")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		list, err := tx.Showings()
		page.Shown = shownOf(page.Say, list)
		return err
	})
	if err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "showcase", page)
}

func shownOf(say words.Speaker, list []postgres.Showing) (shown []shownFigure) {
	for _, x := range list {
		f := shownFigure{ID: x.ID, Ranch: x.RanchName, Season: x.Season, Day: say.Day(x.PutAt.UTC()), Out: x.Out}
		f.Said, f.Range = showingWords(say, x)
		shown = append(shown, f)
	}
	return shown
}

// showingWords says a figure on show, and its fair range where it has one.
func showingWords(say words.Speaker, x postgres.Showing) (said, between string) {
	text, unit := words.Mark("About %s of 100 simulated nests lasted four weeks."), 100.0
	if x.Item == postgres.ShowCover {
		text, unit = words.Mark("About %s clumps an acre to nest in."), 1.0
	}
	whole := func(v float64) string { return strconv.Itoa(int(math.Round(v * unit))) }
	if x.Low != 0 || x.High != 0 {
		between = say.Say("a fair range is %s to %s", whole(x.Low), whole(x.High))
	}
	return say.Say(text, whole(x.Estimate)), between
}
