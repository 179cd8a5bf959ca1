package pages

import (
	"errors"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cooperativeMarksPage changes what figures are held against, and the usual days of the checks.
type cooperativeMarksPage struct {
	base
	Cover, Hope, First, Last, From string
	Problem                        string
	Kept                           bool
}

func (s *server) cooperativeMarks(c *fiber.Ctx, a access.Actor) error {
	var m findings.Marks
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		m, err = tx.LatestMarks()
		return err
	})
	if err != nil {
		return err
	}
	return s.showMarks(c, a, fiber.StatusOK, cooperativeMarksPage{Cover: whole(m.Cover), Hope: whole(100 * m.Hope), First: strconv.Itoa(m.First), Last: strconv.Itoa(m.Last),
		From: m.From, Kept: c.Query("kept") != ""})
}

func (s *server) showMarks(c *fiber.Ctx, a access.Actor, status int, page cooperativeMarksPage) error {
	page.base = s.base(c, a, s.speaker(c).Say("What figures are held against"))
	return s.render(c, status, "cooperative_marks", page)
}

func (s *server) saveMarks(c *fiber.Ctx, a access.Actor) error {
	page := cooperativeMarksPage{}
	for name, into := range map[string]*string{"cover": &page.Cover, "hope": &page.Hope, "first": &page.First, "last": &page.Last, "from": &page.From} {
		*into = strings.TrimSpace(c.FormValue(name))
	}
	m := findings.Marks{From: page.From}
	err := errors.Join(
		withinTyped(page.Cover, 20, 5000, words.Mark("The cover target is from 20 to 5,000 clumps an acre."), func(x float64) { m.Cover = x }),
		withinTyped(page.Hope, 5, 95, words.Mark("The hope is from 5 to 95 of 100 nests."), func(x float64) { m.Hope = x / 100 }),
		withinTyped(page.First, 1, 60, words.Mark("The first check is from 1 to 60 days after set-out."), func(x float64) { m.First = int(x) }),
		withinTyped(page.Last, 2, 120, words.Mark("The last check is from 2 to 120 days after set-out."), func(x float64) { m.Last = int(x) }))
	if err == nil {
		err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SetMarks(m) })
	}
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && errors.Is(err, errs.Invalid) {
		page.Problem = message
		return s.showMarks(c, a, fiber.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/marks?kept=1")
}

// marksFrom says where the marks come from.
func marksFrom(say words.Speaker, m findings.Marks) string {
	if m.From == "" {
		return say.Say("common practice, not a law of nature")
	}
	return m.From
}
