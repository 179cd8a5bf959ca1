package pages

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cooperativeBulletinsPage lists the seasons with their dates, and how far each is.
type cooperativeBulletinsPage struct {
	base
	Seasons []bulletinSeason
	Form    seasonForm
	Problem string
}

// bulletinSeason is one season: with dates, cut off, composed, out.
type bulletinSeason struct {
	Season    int
	Dates     *seasonDates           // nil where none were set
	Head      *postgres.BulletinHead // where it is out
	Editions  []editionLine          // on their way, or refused
	Late      string                 // until when late sheets are waited for; "" where there is no more final revision
	Sheets    int                    // current ones
	Droppable bool                   // the dates can still be taken back
}

// seasonDates are the four dates as they are read.
type seasonDates struct {
	Opens, CutOff, Composed, Published string
	Opened                             bool
}

func datesOf(say words.Speaker, x postgres.Season) seasonDates {
	return seasonDates{say.Day(x.Opens), say.Day(x.CutOff), say.Day(x.Composed), say.Day(x.Published), x.Opened}
}

// editionLine is one edition, in a line.
type editionLine struct{ Text, Path string }

// seasonForm is what was typed.
type seasonForm struct{ Year, Opens, CutOff, Composed, Published string }

// editionPage is what a coordinator goes by who says yes or no to an edition: the print itself, how much is behind it, and what
// changed about the roster.
type editionPage struct {
	base
	Season, Edition int
	Facts           []string
	Rows            []neighborGroup
	Changes         []changeRow
	Approvals       []string
	May             bool   // there is something to say
	Said            string // what the reader said, "" for nothing
	Note            string // why there is none
	Out             bool
}

func (s *server) cooperativeBulletins(c *fiber.Ctx, a access.Actor) error {
	return s.showBulletins(c, a, fiber.StatusOK, cooperativeBulletinsPage{})
}

func (s *server) showBulletins(c *fiber.Ctx, a access.Actor, status int, page cooperativeBulletinsPage) error {
	var st cooperativeState
	if err := s.DB.As(c.UserContext(), a, st.load); err != nil {
		return err
	}
	say := s.speaker(c)
	page.Seasons = bulletinSeasons(say, st, s.Now())
	if page.Form.Year == "" {
		page.Form = proposed(st, s.Now())
	}
	title := say.Say("No season has dates yet")
	if len(page.Seasons) > 0 {
		out := count(page.Seasons, func(b bulletinSeason) bool { return b.Head != nil })
		title = say.Say("%d of %d bulletins are out", out, len(page.Seasons))
	}
	page.base = s.base(c, a, title)
	return s.render(c, status, "cooperative_bulletins", page)
}

// proposed are dates for the next season that has none: it opens next first of March, or in 14 days where that is sooner.
func proposed(st cooperativeState, now time.Time) seasonForm {
	year := now.Year()
	for slices.ContainsFunc(st.seasons, func(x postgres.Season) bool { return x.Year == year }) || slices.ContainsFunc(st.bulletins, func(h postgres.BulletinHead) bool { return h.Season == year }) {
		year++
	}
	opens := time.Date(year, time.March, 1, 0, 0, 0, 0, time.UTC)
	if soon := now.UTC().Truncate(24*time.Hour).AddDate(0, 0, 14); opens.Before(soon) {
		opens = soon
	}
	cut := time.Date(year, time.September, 1, 0, 0, 0, 0, time.UTC)
	if cut.Before(opens.AddDate(0, 0, 28)) {
		cut = opens.AddDate(0, 0, 28)
	}
	day := func(t time.Time) string { return t.Format(time.DateOnly) }
	return seasonForm{strconv.Itoa(year), day(opens), day(cut), day(cut.AddDate(0, 0, 1)), day(cut.AddDate(0, 0, 14))}
}

// bulletinSeasons lists the seasons that have dates, sheets or a bulletin, newest first.
func bulletinSeasons(say words.Speaker, st cooperativeState, now time.Time) []bulletinSeason {
	of := map[int]*bulletinSeason{}
	season := func(year int) *bulletinSeason {
		if of[year] == nil {
			of[year] = &bulletinSeason{Season: year}
		}
		return of[year]
	}
	for _, x := range st.seasons {
		b := season(x.Year)
		dates := datesOf(say, x)
		b.Dates = &dates
		b.Droppable = !x.Opened && !x.Opens.Before(now.UTC().Truncate(24*time.Hour).AddDate(0, 0, 14))
	}
	for _, status := range st.status {
		if status.Season == 0 || status.State != postgres.Current {
			continue
		}
		season(status.Season).Sheets++
	}
	for i, head := range st.bulletins { // the latest season first
		b := season(head.Season)
		b.Head = &head
		again := slices.ContainsFunc(st.editions, func(e postgres.Edition) bool {
			return e.Season > head.Season || e.Season == head.Season && e.Edition == 2
		})
		if late := head.PublishedAt.Add(postgres.FinalAfter); i == 0 && !again && b.Dates != nil && now.Before(late) {
			b.Late = say.Day(late)
		}
	}
	for _, e := range st.editions {
		if e.PublishedAt.IsZero() {
			b := season(e.Season)
			b.Editions = append(b.Editions, editionLine{editionWords(say, e), editionPath(e)})
		}
	}
	list := make([]bulletinSeason, 0, len(of))
	for _, b := range of {
		list = append(list, *b)
	}
	slices.SortFunc(list, func(x, y bulletinSeason) int { return cmp.Compare(y.Season, x.Season) })
	return list
}

func editionPath(e postgres.Edition) string {
	return fmt.Sprintf("/cooperative/bulletins/%d/%d", e.Season, e.Edition)
}

// editionName says which edition is meant.
func editionName(say words.Speaker, e postgres.Edition) string {
	if e.Edition == 2 {
		return say.Say("The final revision of %d", e.Season)
	}
	return say.Say("The bulletin of %d", e.Season)
}

// editionWords say how far an edition is.
func editionWords(say words.Speaker, e postgres.Edition) string {
	name := editionName(say, e)
	switch {
	case !e.PublishedAt.IsZero():
		return say.Say("%s is out", name)
	case e.Note != "":
		return say.Say("%s: there is none", name)
	case e.ComposedAt.IsZero():
		return say.Say("%s: the results are copied, nothing is composed yet", name)
	}
	yes := count(e.Approvals, func(x postgres.Approval) bool { return x.Yes })
	return say.Say("%s waits: %d of %d coordinators have said yes", name, yes, e.Words)
}

// setSeason sets a season's four dates.
func (s *server) setSeason(c *fiber.Ctx, a access.Actor) error {
	form := seasonForm{c.FormValue("year"), c.FormValue("opens"), c.FormValue("cut"), c.FormValue("composed"), c.FormValue("published")}
	season, err := form.season()
	if err == nil {
		err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SetSeason(season) })
	}
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		return s.showBulletins(c, a, fiber.StatusUnprocessableEntity, cooperativeBulletinsPage{Problem: message, Form: form})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/bulletins")
}

func (f seasonForm) season() (x postgres.Season, err error) {
	if x.Year, err = strconv.Atoi(strings.TrimSpace(f.Year)); err != nil {
		return x, errs.New(errs.Invalid, words.Mark("The season must be a year, such as 2026."))
	}
	for _, field := range []struct {
		text string
		date *time.Time
	}{{f.Opens, &x.Opens}, {f.CutOff, &x.CutOff}, {f.Composed, &x.Composed}, {f.Published, &x.Published}} {
		if *field.date, err = time.Parse(time.DateOnly, strings.TrimSpace(field.text)); err != nil {
			return x, errs.New(errs.Invalid, words.Mark("Give each date as year, month and day, such as 2027-03-01."))
		}
	}
	return x, nil
}

// dropSeason takes the dates of a season back that has not opened.
func (s *server) dropSeason(c *fiber.Ctx, a access.Actor) error {
	year, err := strconv.Atoi(c.Params("season"))
	if err != nil {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.DropSeason(year) }); err != nil {
		return err
	}
	return s.see(c, "/cooperative/bulletins")
}

// edition shows an edition to a coordinator: the print itself once it is composed.
func (s *server) edition(c *fiber.Ctx, a access.Actor) error {
	e, page, err := s.findEdition(c, a)
	if err != nil {
		return err
	}
	say := s.speaker(c)
	page.base = s.base(c, a, editionWords(say, e))
	return s.render(c, fiber.StatusOK, "cooperative_edition", page)
}

func (s *server) findEdition(c *fiber.Ctx, a access.Actor) (e postgres.Edition, page editionPage, err error) {
	season, err1 := strconv.Atoi(c.Params("season"))
	nth, err2 := strconv.Atoi(c.Params("edition"))
	if err1 != nil || err2 != nil {
		return e, page, errNothing
	}
	say := s.speaker(c)
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		list, err := tx.Editions()
		if err != nil {
			return err
		}
		i := slices.IndexFunc(list, func(x postgres.Edition) bool { return x.Season == season && x.Edition == nth })
		if i < 0 {
			return errNothing
		}
		e = list[i]
		cells, err := tx.Print(season, nth)
		if err != nil {
			return err
		}
		seasons, err := tx.SeasonDates()
		if err != nil {
			return err
		}
		changes, err := tx.RosterChanges(lastOpening(seasons, season))
		page = newEditionPage(say, e, groupsOf(say, cells), changesOf(say, changes))
		return err
	})
	return e, page, err
}

// lastOpening is when the season before opened: what changed since is new in this one.
func lastOpening(seasons []postgres.Season, season int) (at time.Time) {
	var opened time.Time
	for _, x := range seasons {
		if x.Year == season {
			opened = x.Opens
		}
	}
	for _, x := range seasons {
		if x.Opens.Before(opened) && x.Opens.After(at) {
			at = x.Opens
		}
	}
	return at
}

func newEditionPage(say words.Speaker, e postgres.Edition, rows []neighborGroup, changes []changeRow) editionPage {
	page := editionPage{Season: e.Season, Edition: e.Edition, Rows: rows, Changes: changes, Out: !e.PublishedAt.IsZero(), Note: noteWords(say, e)}
	page.Facts = []string{
		say.Say("Results were copied on %s. What came later is in no figure of it.", say.Day(e.CutAt)),
		say.Say("%d of %d ranches on the roster have results in it.", e.Sheets, e.Ranches),
		say.Count("%d landowner counts: two people vouched for them, and they said yes.", "%d landowners count: two people vouched for each, and they said yes.", e.Owners),
	}
	if !e.ComposedAt.IsZero() {
		page.Facts = append(page.Facts, say.Count("It was composed %d time. Composed again from the same copy it would come to the same bytes.", "It was composed %d times. Composed again from the same copy it would come to the same bytes.", e.Tries),
			say.Count("%d figure is held back. Which and why is told to nobody.", "%d figures are held back. Which and why is told to nobody.", e.Held),
			say.Say("Remains were read with version %d of the key.", e.Key.Version)+" "+strengths(say, e.Key))
	}
	for _, x := range e.Approvals {
		if x.Mine {
			page.Said = "no"
			if x.Yes {
				page.Said = "yes"
			}
		}
		if x.Yes {
			page.Approvals = append(page.Approvals, say.Say("%s said yes on %s.", x.Name, say.Day(x.At)))
		} else {
			page.Approvals = append(page.Approvals, say.Say("%s said not yet on %s. While that stands it does not come out.", x.Name, say.Day(x.At)))
		}
	}
	page.May = !e.ComposedAt.IsZero() && e.Note == "" && !page.Out
	return page
}

// noteWords say why there is no edition. The note is kept in English, with its season filled in.
func noteWords(say words.Speaker, e postgres.Edition) string {
	if text := strings.Replace(e.Note, strconv.Itoa(e.Season), "%d", 1); text != e.Note && say.Has(text) {
		return say.Say(text, e.Season)
	}
	return say.Say(e.Note)
}

// approve is a coordinator's yes or no.
func (s *server) approve(c *fiber.Ctx, a access.Actor) error {
	e, _, err := s.findEdition(c, a)
	if err != nil {
		return err
	}
	says := c.FormValue("says")
	if says != "yes" && says != "no" {
		return errs.New(errs.Invalid, words.Mark("Choose yes or not yet."))
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.Approve(e.Season, e.Edition, says == "yes") }); err != nil {
		return err
	}
	return s.see(c, editionPath(e))
}
