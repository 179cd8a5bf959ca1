package pages

import (
	"errors"
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
	"tussock/internal/words"
)

// ranchPage is My ranch: one ranch in one season, in the order in which its owner asks.
type ranchPage struct {
	base
	Name    string
	Asks    []waiting // what waits for the reader's word
	Ranches []navLink // the owner's, where there are several
	Seasons []navLink
	Season  int // shown; 0 where there is none
	Today   string
	Empty   string // why there is nothing to show
	Gist    string // whether cover is short, for whoever reads no further
	Open    *openQuestions
	Nests   *nestsPart
	Kinds   *kindsPart
	Cover   *coverPart
	Mix     *mixPart
	Years   *yearsPart
	Talk    []findings.Talk
	Limits  []string
	WhoSees string
	Alarm   bool          // somebody took much at once, of this ranch, lately
	Waiting int           // looks from the field that are not counted yet
	InField string        // the page that shows them
	Others  []othersSheet // sheets of others that ask for an owner's word
	Paper   string        // what was written on paper before the reader came in, who has yet to choose
	Heirs   bool          // the reader's word is asked about the new owner of another
}

// An othersSheet is one that somebody else sent, and of which an owner has something to say.
type othersSheet struct{ Said, Path string }

// othersSheets says of each who sent it, and what of it waits; of those sent for the owner how many there are.
func othersSheets(say words.Speaker, list []postgres.Upload) (rows []othersSheet) {
	old, path := 0, "/uploads"
	for _, u := range list {
		if u.SentFor {
			if old++; old == 1 {
				path = "/uploads/" + string(u.ID)
			} else {
				path = "/uploads"
			}
			continue
		}
		by := u.SentBy
		if by == "" {
			by = say.Say("somebody who has left")
		}
		said := say.Say("“%s”, sent by %s on %s, has nests or belts of a season of which an owner’s sheet has some. What the owner’s sheet says counts, and what only this one has waits, until an owner accepts it.", u.File, by, say.Day(u.SentAt.UTC()))
		if u.Unaccepted() {
			said = say.Say("“%s”, sent by %s on %s, is of a season of which an owner took a sheet back. Nothing in it counts until an owner accepts it.", u.File, by, say.Day(u.SentAt.UTC()))
		}
		rows = append(rows, othersSheet{said, "/uploads/" + string(u.ID)})
	}
	if old > 0 {
		rows = append(rows, othersSheet{say.Count("%d old sheet that was sent for you waits. Nothing of it counts until you accept it.", "%d old sheets that were sent for you wait. Nothing of them counts until you accept them.", old), path})
	}
	return rows
}

// openQuestions reminds the sender of what is still to be answered.
type openQuestions struct{ Sentence, Path string }

// A beside is what the bulletin says next to one's own figure, or the friendly reason why it says nothing.
type beside struct {
	Title    string
	Mark     template.HTML
	Sentence string
}

// ranches opens the only ranch, or the first of several.
func (s *server) ranches(c *fiber.Ctx, a access.Actor) error {
	var list []postgres.Ranch
	var asks []waiting
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if list, err = tx.Ranches(); err != nil || len(list) > 0 {
			return err
		}
		asks, err = asksOf(tx, a, s.speaker(c))
		return err
	})
	if err != nil {
		return err
	}
	if len(list) == 0 {
		say := s.speaker(c)
		page := ranchPage{base: s.base(c, a, say.Say("My ranch")), Name: say.Say("My ranch"), WhoSees: say.Say("Nobody yet: there is nothing to see."),
			Asks:  asks,
			Empty: say.Say("No ranch is yours here yet. If one waits for a yes, an owner of it gives it, or where it has none two other landowners do. If none does, ask your coordinator to put you on yours.")}
		return s.render(c, fiber.StatusOK, "ranch", page)
	}
	return s.see(c, "/ranch/"+string(list[0].ID))
}

// asksOf lists what is asked of a landowner about who owns and who reads: what was asked for their ranches, who waits for their word, and what
// is theirs once they say yes.
func asksOf(tx *postgres.Tx, a access.Actor, say words.Speaker) (list []waiting, err error) {
	if a.Role != access.Landowner {
		return nil, nil
	}
	under, err := tx.Departures()
	for _, x := range noticesOf(say, under) {
		list = append(list, waiting{x.Said + " " + x.When, "/account/leave"})
	}
	come, err2 := tx.Newcomers()
	named, err3 := tx.NameAsks()
	gates, err4 := tx.Gates()
	offers, err5 := tx.Offers()
	offers = slices.DeleteFunc(offers, func(o postgres.Offer) bool { return o.Agreed })
	for _, x := range []struct {
		n    int
		said words.Phrase
	}{
		{len(come), words.LaterCount("%d person waits for your yes to come onto your ranch.", "%d people wait for your yes to come onto your ranch.", len(come))},
		{len(named), words.LaterCount("%d ranch stands under your name, or somebody of your name would come onto it, and you have not said what you know of it.", "%d ranches stand under your name, or somebody of your name would come onto them, and you have not said what you know of them.", len(named))},
		{len(gates), words.LaterCount("%d ranch waits for your own yes to being put on it.", "%d ranches wait for your own yes to being put on them.", len(gates))},
		{len(offers), words.LaterCount("%d ranch is to be handed over to you, and waits for your word.", "%d ranches are to be handed over to you, and wait for your word.", len(offers))},
	} {
		if x.n > 0 {
			list = append(list, waiting{say.Tell(x.said), "/who"})
		}
	}
	return list, errors.Join(err, err2, err3, err4, err5)
}

// ranchData is what the page is computed from, all loaded in one transaction.
type ranchData struct {
	ranch    postgres.Ranch
	ranches  []postgres.Ranch
	found    *findings.Result       // of all seasons
	marks    map[int]findings.Marks // by season
	uploads  []postgres.Upload
	others   []postgres.Upload // sent by others, for an owner to say what holds
	people   []postgres.Person
	heads    []postgres.BulletinHead
	cells    []bulletin.Cell
	places   map[int][]bulletin.Place // by season
	compares bool                     // the actor may see the bulletin beside the ranch
	consent  postgres.Consent
	waiting  int              // looks from the field not counted yet
	inField  int              // the season they are of
	alarms   []postgres.Alarm // about somebody who took much at once
	heirs    []postgres.Heir  // who wait for a landowner's word
	tables   func(season int) predator.Table
}

func (s *server) ranch(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if !a.CanRanch(access.ViewRanch, id) {
		return errs.New(errs.NotFound, "No such ranch.")
	}
	wanted, _ := strconv.Atoi(c.Query("season")) // anything else means the latest
	var d ranchData
	var asks []waiting
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if d, err = loadRanch(tx, a, id); err != nil {
			return err
		}
		asks, err = asksOf(tx, a, s.speaker(c))
		return err
	})
	if err != nil {
		return err
	}
	page := newRanchPage(s.base(c, a, d.ranch.Name), &d, wanted, s.Now())
	page.Waiting, page.InField = d.waiting, fmt.Sprintf("/field/results/%s/%d", id, d.inField)
	page.Asks = asks
	page.Others = othersSheets(page.Say, d.others)
	if d.consent.Over && a.Role == access.Landowner {
		page.Paper = onPaper(page.Say, d.consent)
	}
	page.Heirs = slices.ContainsFunc(d.heirs, func(h postgres.Heir) bool { return !h.Mine })
	page.Alarm = slices.ContainsFunc(recent(d.alarms, s.Now()), func(x postgres.Alarm) bool { return slices.Contains(x.Ranches, id) })
	return s.render(c, fiber.StatusOK, "ranch", page)
}

func loadRanch(tx *postgres.Tx, a access.Actor, id access.ID) (d ranchData, err error) {
	d.compares = a.CanRanch(access.CompareRanch, id)
	var failed [7]error
	d.ranch, failed[0] = tx.Ranch(id)
	d.ranches, failed[1] = tx.Ranches()
	d.found, failed[2] = tx.Findings(id)
	d.tables, failed[6] = tx.SeasonTables()
	d.uploads, failed[3] = tx.Uploads(id)
	d.people, failed[4] = tx.People(id)
	failed[5] = tx.Looked(id)
	if err := errors.Join(failed[:]...); err != nil {
		return d, err
	}
	d.marks = map[int]findings.Marks{}
	for _, season := range seasonsOf(d.found) {
		if d.marks[season], err = tx.Marks(season); err != nil {
			return d, err
		}
	}
	if !d.compares {
		return d, nil
	}
	if d.waiting, d.inField, err = tx.LooksToCount(d.ranch.ID); err != nil {
		return d, err
	}
	if d.others, err = tx.Unaccepted(id); err != nil {
		return d, err
	}
	if d.alarms, err = tx.Alarms(); err != nil {
		return d, err
	}
	if d.heirs, err = tx.Heirs(); err != nil {
		return d, err
	}
	if d.consent, err = tx.Consent(id); err != nil {
		return d, err
	}
	if d.heads, err = tx.Bulletins(); err != nil {
		return d, err
	}
	if d.cells, err = tx.Cells(0); err != nil {
		return d, err
	}
	d.places = make(map[int][]bulletin.Place, len(d.heads))
	for _, h := range d.heads {
		if d.places[h.Season], err = tx.Places(h.Season); err != nil {
			return d, err
		}
	}
	return d, nil
}

// newRanchPage is the page of the wanted season, or of the latest where that was not run. Own figures are those
// of findings, whatever the bulletin says.
func newRanchPage(b base, d *ranchData, wanted int, now time.Time) ranchPage {
	say := b.Say
	page := ranchPage{base: b, Name: d.ranch.Name, Today: say.Day(now), Limits: findings.Limits()[:2], WhoSees: whoSees(say, d.people, b.Actor)}
	page.Sheet = true
	if len(d.ranches) > 1 {
		for _, r := range d.ranches {
			page.Ranches = append(page.Ranches, navLink{r.Name, "/ranch/" + string(r.ID), r.ID == d.ranch.ID})
		}
	}
	published := publishedFor(d.heads, d.cells)
	seasons := seasonsOf(d.found)
	if len(seasons) == 0 {
		page.Empty = say.Say("Nothing has been sent for %s yet.", d.ranch.Name)
		return page
	}
	season := seasons[len(seasons)-1]
	if slices.Contains(seasons, wanted) {
		season = wanted
	}
	page.Season = season
	marks := d.marks[season]
	r := d.found.Under(published.DesignEffect).Against(func(int) findings.Marks { return marks })
	for _, y := range slices.Backward(seasons) {
		page.Seasons = append(page.Seasons, navLink{fmt.Sprint(y), fmt.Sprintf("/ranch/%s?season=%d", d.ranch.ID, y), y == season})
	}
	page.Open = openOf(say, d.uploads, season)
	view := d.bulletinOf(say, season)
	page.Nests = nestsOf(say, r, d.ranch.Name, season, view)
	page.Nests.lead(say, r, d.ranch.Name, season, published)
	page.Kinds = kindsOf(say, r, d.ranch.Name, season, view)
	page.Cover, page.Gist = coverOf(say, r, d.ranch.Name, season, view, marks)
	if row, ok := r.PredatorsOf(d.ranch.Name, season); ok {
		r.MixOf(row, startingMix(d.cells, season), d.tables(season))
	}
	page.Mix = mixOf(say, r, d.ranch.Name, season, view)
	page.Years = yearsOf(say, r, d.ranch.Name, season, d)
	page.Charts = page.Years != nil && page.Years.Options != ""
	page.Talk = r.TalkOver(d.ranch.Name, season, marks)
	return page
}

// seasonsOf lists the seasons with nests or belts, in order.
func seasonsOf(r *findings.Result) []int {
	var seasons []int
	for i := range r.Survival {
		seasons = append(seasons, r.Survival[i].Season)
	}
	for i := range r.Density {
		seasons = append(seasons, r.Density[i].Season)
	}
	slices.Sort(seasons)
	return slices.Compact(seasons)
}

func openOf(say words.Speaker, uploads []postgres.Upload, season int) *openQuestions {
	for _, u := range uploads {
		if u.State != postgres.Current || u.Season != season || u.Open == 0 || u.Unaccepted() {
			continue
		}
		sentence := say.Count("One question about your sheet is still open; the answer may change what you see here.",
			"%d questions about your sheet are still open; the answers may change what you see here.", u.Open)
		return &openQuestions{sentence, "/uploads/" + string(u.ID)}
	}
	return nil
}

// whoSees names those who can open the ranch, the reader first.
func whoSees(say words.Speaker, people []postgres.Person, a access.Actor) string {
	var others []string
	for _, p := range people {
		if p.Name != a.Name || p.Role != a.Role {
			others = append(others, say.Say("%s (%s, since %s)", p.Name, say.Say(roleWords[p.Role]), say.Day(p.Since)))
		}
	}
	if len(others) == 0 {
		return say.Say("You alone. Nobody else in the cooperative sees this page.")
	}
	return say.Say("You, and %s. Nobody else in the cooperative sees this page.", say.List(others))
}

// roleWords name a role as a person is introduced by it.
var roleWords = map[access.Role]string{
	access.Coordinator: words.Mark("coordinator"), access.Landowner: words.Mark("owner"), access.Hand: words.Mark("hand"),
	access.Biologist: words.Mark("biologist"), access.Planner: words.Mark("planner"),
}
