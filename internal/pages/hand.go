package pages

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// Days after setting on which a nest is checked (common practice, no source).
const (
	firstCheck  = 14
	secondCheck = 28
)

// longPast is how many days after the last check a season is over for good, and nobody is reminded of anything.
const longPast = 60

// handPage is where a hand's day begins: the lines on the ranches assigned to them and what is due on each. It holds
// no result and no comparison.
type handPage struct {
	base
	Ranches []handRanch
}

type handRanch struct {
	ID    access.ID
	Name  string
	Lines []line
	Sent  []postgres.Upload // newest first, the last few
}

// line is one transect of the newest season as a hand sees it.
type line struct {
	Name  string
	Set   string // "12 nests set 28 April"
	Due   string // "second check on Monday 26 May, in 3 days"
	Late  bool
	onDay survey.Date // the day due, 0 where nothing is
}

// handHome shows a hand's first page.
func (s *server) handHome(c *fiber.Ctx, a access.Actor) error {
	page := handPage{}
	type loaded struct {
		ranch postgres.Ranch
		data  *survey.Data
		sent  []postgres.Upload
	}
	var all []loaded
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		ranches, err := tx.Ranches()
		if err != nil {
			return err
		}
		for _, r := range ranches {
			l := loaded{ranch: r}
			if l.data, err = tx.Survey([]access.ID{r.ID}, 0); err != nil {
				return err
			}
			if l.sent, err = tx.Uploads(r.ID); err != nil {
				return err
			}
			if err := tx.Looked(r.ID); err != nil {
				return err
			}
			all = append(all, l)
		}
		return nil
	})
	if err != nil {
		return err
	}

	due := 0
	for _, l := range all {
		r := handRanch{ID: l.ranch.ID, Name: l.ranch.Name, Lines: lines(l.data, s.today()), Sent: l.sent}
		slices.SortStableFunc(r.Sent, func(x, y postgres.Upload) int { return y.SentAt.Compare(x.SentAt) })
		r.Sent = r.Sent[:min(3, len(r.Sent))]
		for _, line := range r.Lines {
			if line.onDay != 0 && line.onDay <= s.today()+1 {
				due++
			}
		}
		page.Ranches = append(page.Ranches, r)
	}
	page.base = s.base(c, a, handTitle(due))
	return s.render(c, fiber.StatusOK, "hand", page)
}

func handTitle(due int) string {
	switch due {
	case 0:
		return "No line to check today or tomorrow"
	case 1:
		return "1 line to check by tomorrow"
	}
	return fmt.Sprintf("%d lines to check by tomorrow", due)
}

// lines lists the transects of the newest season, those due first.
func lines(d *survey.Data, today survey.Date) []line {
	season := 0
	for i := range d.Nests {
		season = max(season, d.Nests[i].Season)
	}
	nests := map[survey.TransectKey][]*survey.Nest{}
	for i := range d.Nests {
		if n := &d.Nests[i]; n.Season == season {
			nests[n.Key()] = append(nests[n.Key()], n)
		}
	}

	list := make([]line, 0, len(nests))
	for key, on := range nests {
		list = append(list, lineOf(key, on, today))
	}
	slices.SortFunc(list, func(x, y line) int {
		return cmp.Or(cmp.Compare(whenDue(x), whenDue(y)), cmp.Compare(len(x.Name), len(y.Name)), cmp.Compare(x.Name, y.Name))
	})
	return list
}

// whenDue orders lines by the day they are due, those with nothing due last.
func whenDue(l line) survey.Date {
	if l.onDay == 0 {
		return 1 << 30
	}
	return l.onDay
}

func lineOf(key survey.TransectKey, nests []*survey.Nest, today survey.Date) line {
	l := line{Name: "Transect " + key.Transect}
	if key.Site != "" {
		l.Name = key.Site + ", transect " + key.Transect
	}
	first, check := nests[0].SetOn, ""
	for _, n := range nests {
		first = min(first, n.SetOn)
		if day, name := nextCheck(n); day != 0 && (l.onDay == 0 || day < l.onDay) {
			l.onDay, check = day, name
		}
	}
	l.Set = fmt.Sprintf("%s set %s", counted(len(nests), "nest"), dayOf(first))
	switch {
	case today > first+secondCheck+longPast:
		l.onDay, l.Due = 0, "This season is over"
	case l.onDay == 0:
		l.Due = "All checked. Were eggs, flags and markers carried out?"
	case l.onDay < today:
		l.Late = true
		l.Due = fmt.Sprintf("%s was due %s, %s ago", check, dayOf(l.onDay), counted(int(today-l.onDay), "day"))
	case l.onDay == today:
		l.Due = check + " is due today"
	default:
		l.Due = fmt.Sprintf("%s is due %s, in %s", check, dayOf(l.onDay), counted(int(l.onDay-today), "day"))
	}
	return l
}

// nextCheck returns the day on which a nest is next to be looked at and which check that is, or 0 where nothing is
// left to look at: it has ended, was lost from view, or was seen on day 28 or later. A check made up to three days
// before its day stands for it.
func nextCheck(n *survey.Nest) (survey.Date, string) {
	seen := -1
	for _, v := range n.Visits {
		if v.State != survey.Intact {
			return 0, ""
		}
		seen = int(v.On - n.SetOn)
	}
	switch {
	case n.SetOn == 0 || seen >= secondCheck-3:
		return 0, ""
	case seen >= firstCheck-3:
		return n.SetOn + secondCheck, "Second check"
	}
	return n.SetOn + firstCheck, "First check"
}

// dayOf writes a date the way people say it in the year it is in: "28 April".
func dayOf(d survey.Date) string { return d.Time().Format("Mon 2 January") }
