package pages

import (
	"slices"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// whoPage says who can see what, since when, and when they last looked.
type whoPage struct {
	base
	Ranches []whoRanch
	Waits   []whoNewcomer // for the reader's yes
	Saved   bool          // a choice was just kept
	Shared  bool          // a ranch was just shared by name
	Ended   bool          // a sharing was just ended
	Sees    string        // what the reader's own part lets them see
}

type whoRanch struct {
	ID     access.ID
	Name   string
	People []whoPerson
	Joins  bool         // counted in the anonymous comparisons
	Glad   bool         // glad to hear from planners of field days
	Owner  bool         // the reader may choose
	Shared []whoSharing // with one biologist by name, now
	Past   []whoSharing // and before
}

type whoPerson struct{ Name, Part, Sees, Since, Looked string }

// seesOfRanch says what each role sees of a ranch it can open.
var seesOfRanch = map[access.Role]string{
	access.Landowner: "everything on My ranch, and the sheets that were sent",
	access.Hand:      "the lines, the sheets and the ranch’s own results; no comparison",
}

// seesInAll says what each role sees in the cooperative.
var seesInAll = map[access.Role]string{
	access.Coordinator: "As coordinator you see who is a member and whose sheets are in. You see no ranch’s results, only the bulletin.",
	access.Landowner:   "As a landowner you see your own ranches, and of the others only the bulletin.",
	access.Hand:        "As a hand you see the lines and results of the ranches you work on, and nothing of any other.",
	access.Biologist:   "As biologist you see the bulletins, where a figure rests on ten landowners or more, and by name the ranches whose owners chose you to.",
	access.Planner:     "As planner you see the bulletins, where a figure rests on ten landowners or more.",
}

func (s *server) who(c *fiber.Ctx, a access.Actor) error {
	page := whoPage{base: s.base(c, a, "Who can see this"), Sees: seesInAll[a.Role],
		Saved: c.Query("kept") != "", Shared: c.Query("shared") != "", Ended: c.Query("ended") != ""}
	if !a.Role.Has(access.ViewRanch) {
		return s.render(c, fiber.StatusOK, "who", page)
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		ranches, err := tx.Ranches()
		if err != nil {
			return err
		}
		if page.Waits, err = newcomers(tx, a); err != nil {
			return err
		}
		glad, err := tx.Welcoming()
		if err != nil {
			return err
		}
		for _, r := range ranches {
			people, err := tx.People(r.ID)
			if err != nil {
				return err
			}
			sharings, err := tx.Sharings(r.ID)
			if err != nil {
				return err
			}
			w := whoRanchOf(r, people, sharings, a)
			w.Glad = slices.Contains(glad, r.ID)
			page.Ranches = append(page.Ranches, w)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "who", page)
}

func whoRanchOf(r postgres.Ranch, people []postgres.Person, sharings []postgres.Sharing, a access.Actor) whoRanch {
	w := whoRanch{ID: r.ID, Name: r.Name, Joins: r.Consent >= 1, Owner: a.Role == access.Landowner}
	w.Shared, w.Past = sharingsOf(sharings)
	for _, p := range people {
		if p.Role == access.Biologist {
			continue // stands among the sharings, with purpose and last day
		}
		w.People = append(w.People, whoPerson{
			Name: p.Name, Part: capital(roleWords[p.Role]), Sees: seesOfRanch[p.Role], Since: dateOr(p.Since, "–"), Looked: dateOr(p.LastLooked, "never yet"),
		})
	}
	return w
}

func dateOr(t time.Time, none string) string {
	if t.IsZero() {
		return none
	}
	return day(t)
}

// setWelcome keeps whether the owner would be glad to hear from planners of field days.
func (s *server) setWelcome(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if !a.CanRanch(access.CompareRanch, id) {
		return errs.New(errs.NotFound, "No such ranch.")
	}
	glad := c.FormValue("glad") == "1"
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SetWelcome(id, glad) }); err != nil {
		return err
	}
	return s.see(c, "/who#r"+string(id))
}

// setConsent keeps the owner's choice whether the ranch is counted in the anonymous comparisons.
func (s *server) setConsent(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if !a.CanRanch(access.CompareRanch, id) {
		return errs.New(errs.NotFound, "No such ranch.")
	}
	level, err := strconv.Atoi(c.FormValue("level"))
	if err != nil || level < 0 || level > 1 {
		return errs.New(errs.Invalid, "Please choose one of the two.")
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SetConsent(id, level) })
	if err != nil {
		return err
	}
	return s.see(c, "/who?kept=1")
}
