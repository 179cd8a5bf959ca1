package pages

import (
	"cmp"
	"errors"
	"slices"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// whoPage says who can see what, since when, and when they last looked; each with the switch that ends it.
type whoPage struct {
	base
	Ranches []whoRanch
	Waits   []whoNewcomer // for the reader's yes
	LetInto []whoLetInto  // further owners who have an owner's yes and have yet to say theirs
	Gates   []whoGate     // ranches that the reader may come onto as a further owner
	Names   []whoName     // ranches under the reader's name that are none of theirs
	Offers  []whoOffer    // ranches that are handed over to the reader
	Under   []leaveNotice // ways out under way
	Refused []string      // hand-overs that a coordinator refused, of the last 30 days
	Changes []changeRow   // about the reader's ranches, of the last 30 days
	Changed int           // how many they are
	Saved   bool          // a choice was just kept
	Shared  bool          // a ranch was just shared by name
	Ended   bool          // a sharing, or somebody's access, was just ended
	Asked   bool          // for another owner to be taken off, just now
	Sees    string        // what the reader's own part lets them see
}

type whoRanch struct {
	ID      access.ID
	Name    string
	People  []whoPerson
	Joins   bool         // counted in the anonymous comparisons
	Lacks   string       // that it is not counted, or from when on not, for want of words for its owners
	Words   []string     // what each of several owners said
	Holds   string       // that the reader's yes is kept from counting by another's no
	Since   string       // who chose that, and when
	Glad    bool         // glad to hear from planners of field days
	Owner   bool         // the reader may choose
	Several bool         // it has several owners
	Own     bool         // the reader's own word is yes, of several
	Shared  []whoSharing // with one biologist by name, now
	Past    []whoSharing // and before
	Shown   int          // figures on show under its name, or to be
	Sends   string       // until when the coordinator may send old sheets for it, "" where not
	SendsBy string       // which owner said so
	SendsAt string
	Links   []whoLink // field links that are good, or can still send
	Feeds   []whoFeed // calendars that say its name
}

type whoPerson struct {
	ID                              access.ID
	Name, Part, Sees, Since, Looked string
	Address                         string // "" for a reader who does not own the ranch
	Hand                            bool   // whose access an owner can end
	Fellow                          bool   // another owner
}

// whoLink is whom a field link is for.
type whoLink struct {
	Name, From, Through, Looked string
	Lines                       int
}

// whoFeed is whose a calendar is.
type whoFeed struct {
	ID                     access.ID
	Hand                   bool // an owner can end it
	Name, Part, Made, Used string
}

// linkSends is how many days after its last day a link still takes what was written down before.
const linkSends = 60

// seesOfRanch says what each role sees of a ranch it can open.
var seesOfRanch = map[access.Role]string{
	access.Landowner: words.Mark("everything on My ranch, and the sheets that were sent"),
	access.Hand:      words.Mark("the lines, the sheets and the ranch’s own results; no comparison"),
}

// seesInAll says what each role sees in the cooperative.
var seesInAll = map[access.Role]string{
	access.Coordinator: words.Mark("As coordinator you see who is a member and whose sheets are in. You see no ranch’s results, only the bulletin. If you ranch yourself, you have a second membership as landowner, with another address: that one opens your own ranch and nothing of the roster."),
	access.Landowner:   words.Mark("As a landowner you see your own ranches, and of the others only the bulletin."),
	access.Hand:        words.Mark("As a hand you see the lines and results of the ranches you work on, and nothing of any other."),
	access.Biologist:   words.Mark("As biologist you see the bulletins, where a figure rests on ten landowners or more, and by name the ranches whose owners chose you to."),
	access.Planner:     words.Mark("As planner you see the bulletins, where a figure rests on ten landowners or more."),
}

func (s *server) who(c *fiber.Ctx, a access.Actor) error {
	page := whoPage{base: s.base(c, a, ""), Saved: c.Query("kept") != "", Shared: c.Query("shared") != "", Ended: c.Query("ended") != "", Asked: c.Query("asked") != ""}
	page.Title, page.Sees = page.Say.Say("Who can see this"), page.Say.Say(seesInAll[a.Role])
	if !a.Role.Has(access.ViewRanch) {
		return s.render(c, fiber.StatusOK, "who", page)
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return page.load(tx, a, s.Now()) })
	if err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "who", page)
}

func (p *whoPage) load(tx *postgres.Tx, a access.Actor, now time.Time) error {
	ranches, err := tx.Ranches()
	if err != nil {
		return err
	}
	if p.Waits, err = newcomers(tx, a, p.Say); err != nil {
		return err
	}
	if p.Names, err = nameAsks(tx, p.Say); err != nil {
		return err
	}
	if p.LetInto, err = letInto(tx, p.Say); err != nil {
		return err
	}
	if p.Gates, err = gates(tx, p.Say); err != nil {
		return err
	}
	offers, err := tx.Offers()
	if err != nil {
		return err
	}
	p.Offers = offersOf(p.Say, offers)
	under, err := tx.Departures()
	if err != nil {
		return err
	}
	p.Under = noticesOf(p.Say, under)
	if p.Refused, err = refusals(tx, p.Say); err != nil {
		return err
	}
	changes, err := tx.RosterChanges(now.AddDate(0, 0, -30))
	if err != nil {
		return err
	}
	changes = slices.DeleteFunc(changes, func(x postgres.RosterChange) bool { return !x.Mine })
	p.Changes, p.Changed = changesOf(p.Say, changes), len(changes)
	glad, err := tx.Welcoming()
	if err != nil {
		return err
	}
	sends, err := tx.SendingConsents()
	if err != nil {
		return err
	}
	standings, err := tx.Standings()
	if err != nil {
		return err
	}
	for _, r := range ranches {
		d := whoData{ranch: r, sends: sends, glad: slices.Contains(glad, r.ID), standing: standings[r.ID]}
		if d.words, err = tx.OwnersWords(r.ID); err != nil {
			return err
		}
		if d.people, err = tx.People(r.ID); err != nil {
			return err
		}
		if d.sharings, err = tx.Sharings(r.ID); err != nil {
			return err
		}
		if d.address, err = tx.Addresses(r.ID); err != nil {
			return err
		}
		if d.consent, err = tx.Consent(r.ID); err != nil {
			return err
		}
		if d.shown, err = tx.OwnShowings(r.ID); err != nil {
			return err
		}
		if d.links, err = tx.FieldLinks(r.ID); err != nil {
			return err
		}
		if d.feeds, err = tx.NamedFeeds(r.ID); err != nil {
			return err
		}
		today := survey.DateFrom(now)
		d.links = slices.DeleteFunc(d.links, func(l postgres.FieldLink) bool { return l.Through+linkSends < today })
		p.Ranches = append(p.Ranches, whoRanchOf(p.Say, d, a))
	}
	return nil
}

// whoData is what is said of one ranch.
type whoData struct {
	ranch    postgres.Ranch
	people   []postgres.Person
	sharings []postgres.Sharing
	consent  postgres.Consent
	shown    []postgres.Showing
	sends    []postgres.SendingConsent // of all ranches
	glad     bool
	words    []postgres.Word
	standing postgres.Standing
	links    []postgres.FieldLink
	feeds    []postgres.NamedFeed
	address  map[access.ID]string // of people and biologists, for an owner
}

func whoRanchOf(say words.Speaker, d whoData, a access.Actor) whoRanch {
	r := d.ranch
	w := whoRanch{ID: r.ID, Name: r.Name, Joins: r.Consent >= 1, Owner: a.Role == access.Landowner, Glad: d.glad, Shown: len(d.shown)}
	w.Since = sinceOf(say, d.consent)
	if w.Owner && w.Joins {
		w.Lacks = lacksOf(say, r.Name, d.standing)
	}
	for _, x := range d.sends {
		if x.Ranch == r.ID {
			w.Sends, w.SendsBy, w.SendsAt = say.Day(x.Through), x.By, say.Day(x.At.UTC())
			if x.By == "" {
				w.SendsBy = say.Say("somebody who has left")
			}
		}
	}
	w.Shared, w.Past = sharingsOf(say, d.sharings, d.address)
	owners := 0
	looked := func(t time.Time, mine bool) string {
		if !w.Owner && !mine {
			return say.Say("for its owners to read")
		}
		return dayOr(say, t, say.Say("never yet"))
	}
	for _, p := range d.people {
		if p.Role == access.Biologist {
			continue // stands among the sharings, with purpose and last day
		}
		if p.Role == access.Landowner {
			owners++
		}
		w.People = append(w.People, whoPerson{ID: p.ID, Name: p.Name, Address: d.address[p.ID], Part: say.Say(capital(roleWords[p.Role])), Sees: say.Say(seesOfRanch[p.Role]),
			Since: dayOr(say, p.Since, "–"), Looked: looked(p.LastLooked, p.ID == a.Person), Hand: p.Role == access.Hand, Fellow: p.Role == access.Landowner && p.ID != a.Person})
	}
	for i := range w.Shared {
		if !w.Owner {
			w.Shared[i].Looked = looked(time.Time{}, false)
		}
	}
	if w.Several = owners > 1; w.Several {
		for _, x := range d.words {
			if x.Yes {
				w.Words = append(w.Words, say.Say("%s: yes since %s.", x.By, say.Day(x.At.UTC())))
			} else {
				w.Words = append(w.Words, say.Say("%s: no since %s.", x.By, say.Day(x.At.UTC())))
			}
			w.Own = w.Own || x.Yes && x.Person == a.Person
		}
		if w.Own && !w.Joins {
			w.Holds = say.Say("Your yes stands, and %s is not counted as long as another owner says no.", r.Name)
		}
	}
	for _, l := range d.links {
		w.Links = append(w.Links, whoLink{l.Name, say.Day(l.From.Time()), say.Day(l.Through.Time()), looked(l.SeenAt, false), len(l.Lines)})
	}
	for _, f := range d.feeds {
		w.Feeds = append(w.Feeds, whoFeed{f.ID, f.Hand, f.Name, say.Say(capital(roleWords[f.Role])), say.Day(f.MadeAt.UTC()), dayOr(say, f.UsedAt, say.Say("never yet"))})
	}
	return w
}

// lacksOf says that a ranch is not counted for want of words for its owners, or from when on, "" where it is.
func lacksOf(say words.Speaker, name string, s postgres.Standing) string {
	switch {
	case !s.Counted:
		return say.Say("%s is not counted in seasons that open until two people vouch for one of its owners.", name)
	case s.Until != nil:
		return say.Say("From %s on %s will not be counted in seasons that open, unless another landowner vouches for one of its owners: a word was taken back.", say.Day(s.Until.UTC()), name)
	}
	return ""
}

// sinceOf says who chose last, and when.
func sinceOf(say words.Speaker, c postgres.Consent) string {
	by := c.By
	if by == "" {
		by = say.Say("somebody who has left")
	}
	switch {
	case c.At.IsZero():
		return say.Say("Nobody has chosen yet, so it is private.")
	case c.Over:
		return say.Say("Nobody has chosen yet, so it is private.") + " " + onPaper(say, c)
	case c.Level == 0:
		return say.Say("No since %s, said by %s.", say.Day(c.At.UTC()), by)
	}
	if c.Paper {
		return say.Say("Yes on paper, written down by %[2]s on %[1]s.", say.Day(c.At.UTC()), by)
	}
	return say.Say("Yes since %s, said by %s.", say.Day(c.At.UTC()), by)
}

// onPaper says what was written down for a ranch before its first owner came in.
func onPaper(say words.Speaker, c postgres.Consent) string {
	by := cmp.Or(c.By, say.Say("somebody who has left"))
	if c.Level > 0 {
		return say.Say("On %s a yes on paper was written down by %s. It ended when the first owner came in.", say.Day(c.At.UTC()), by)
	}
	return say.Say("On %s a no on paper was written down by %s. It ended when the first owner came in.", say.Day(c.At.UTC()), by)
}

// dayOr says a day in the reader's language.
func dayOr(say words.Speaker, t time.Time, none string) string {
	if t.IsZero() {
		return none
	}
	return say.Day(t.UTC())
}

// endPerson ends a hand's access to a ranch, at once, and asks for another owner's to end.
func (s *server) endPerson(c *fiber.Ctx, a access.Actor) error {
	person, ranch := access.ID(c.Params("id")), access.ID(c.FormValue("ranch"))
	if !a.CanRanch(access.CompareRanch, ranch) {
		return errNothing
	}
	asked, err := s.takeOff(c, a, person, ranch)
	if err != nil {
		return err
	}
	if asked {
		return s.see(c, "/who?asked=1")
	}
	return s.see(c, "/who?ended=1#r"+string(ranch))
}

// endFeed takes the calendar address of a hand back.
func (s *server) endFeed(c *fiber.Ctx, a access.Actor) error {
	ranch, id := access.ID(c.FormValue("ranch")), access.ID(c.Params("id"))
	if !a.CanRanch(access.CompareRanch, ranch) {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.EndFeed(ranch, id) }); err != nil {
		return err
	}
	return s.see(c, "/who?ended=1#r"+string(ranch))
}

// takeOff ends somebody's access to a ranch at once, or where they own it asks for that, and tells the owners.
func (s *server) takeOff(c *fiber.Ctx, a access.Actor, person, ranch access.ID) (asked bool, err error) {
	var id access.ID
	var d postgres.Departure
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if err = tx.Unassign(person, ranch); !errors.Is(err, errs.NotFound) {
			return err
		}
		if id, err = tx.TakeOff(person, ranch); err != nil {
			return err
		}
		list, err := tx.Departures()
		for _, x := range list {
			if x.ID == id {
				d = x
			}
		}
		return err
	})
	if err == nil && id != "" {
		s.Account.TellDeparture(a, d, false)
	}
	return id != "", err
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
		return errs.New(errs.Invalid, s.speaker(c).Say("Please choose one of the two."))
	}
	ask := false // once more, before a no that ends something
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		r, err := tx.Ranch(id)
		if err != nil {
			return err
		}
		if ask = level == 0 && r.Consent > 0 && c.FormValue("sure") == ""; ask {
			return nil
		}
		return tx.SetConsent(id, level)
	})
	if err != nil {
		return err
	}
	if ask {
		return s.see(c, "/who/no?ranch="+string(id))
	}
	return s.see(c, "/who?kept=1")
}
