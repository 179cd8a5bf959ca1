package pages

import (
	"cmp"
	"errors"
	"html/template"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/names"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// changesPage tells every member when each season opens and ends, and what changed about roster, areas and owners; and lets those
// vouch for owners who may.
type changesPage struct {
	base
	Seasons []seasonRow
	Changes []changeRow
	Owners  []postgres.LandOwner // a second one of a name is told apart
	Saved   bool
	Outside bool // a planner or biologist, who reads no names
	Idle    bool // a hand who works on no ranch any more, who reads no changes
}

// seasonRow is one season's dates.
type seasonRow struct {
	Year int
	seasonDates
}

// changeRow is one change, as it is read, or all of a kind that one person made on one day.
type changeRow struct {
	Day, Text string
	Mine      bool     // about a ranch of the reader's
	All       []string // of several, each with its time, the first first
}

// Open tells whether a row of several shows each of them unasked: the reader's own where they are few, so that no others are pushed down.
func (r changeRow) Open() bool { return r.Mine && len(r.All) <= 3 }

func (s *server) changes(c *fiber.Ctx, a access.Actor) error {
	say := s.speaker(c)
	page := changesPage{Saved: c.Query("saved") != ""}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		seasons, err := tx.SeasonDates()
		if err != nil {
			return err
		}
		page.Seasons = seasonRows(say, seasons)
		list, err := tx.RosterChanges(time.Time{})
		if err != nil {
			return err
		}
		page.Changes = changesOf(say, list)
		page.Owners, err = tx.OwnersToVouch()
		for i, o := range page.Owners {
			page.Owners[i].Name = nameAgain(say, o.Name, o.Again)
		}
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, say.Say("Seasons and changes"))
	page.Outside = a.Role == access.Planner || a.Role == access.Biologist
	page.Idle = a.Role == access.Hand && len(a.Ranches) == 0
	return s.render(c, fiber.StatusOK, "changes", page)
}

func seasonRows(say words.Speaker, seasons []postgres.Season) (rows []seasonRow) {
	for _, x := range seasons {
		rows = append(rows, seasonRow{x.Year, datesOf(say, x)})
	}
	return rows
}

// nameAgain tells somebody from an earlier member of the same name.
func nameAgain(say words.Speaker, name string, again postgres.Again) string {
	switch {
	case !again.Again:
		return name
	case again.Inviter == "":
		return say.Say("another %s", name)
	}
	return say.Say("another %s, brought in by %s", name, names.Visible(again.Inviter))
}

// byPart says who did something to those who read no names.
var byPart = map[string]string{
	postgres.ByCoordinator: words.Mark("A coordinator"),
	postgres.ByMember:      words.Mark("A member"),
}

// In the text of a change a name stands between Unicode's marks of isolation (UAX #9), which no name can have, so that it ends where it
// ends and turns nothing around it; on a page these are elements (isolated).
const nameOpens, nameCloses = "\u2068", "\u2069"

// called sets a name in a sentence; "" stays "".
func called(name string) string {
	if name == "" {
		return ""
	}
	return nameOpens + names.Visible(name) + nameCloses
}

// isolated is a text for a page, with each name in it in an element that isolates its direction and looks like a name.
func isolated(text string) template.HTML {
	return template.HTML(strings.NewReplacer(nameOpens, "<bdi>", nameCloses, "</bdi>").Replace(template.HTMLEscapeString(text)))
}

// nameless are the kinds of change whose What is a year, a version or a source, and names stand in Was and Became of bothNamed alone.
var (
	nameless  = []string{postgres.SeasonDated, postgres.KeySet, postgres.TakeBack, postgres.TakenBack}
	bothNamed = []string{postgres.RanchAdded, postgres.RanchRenamed, postgres.RanchMoved, postgres.RanchOwner, postgres.AreaAdded, postgres.AreaRenamed, postgres.AreaGrouped, postgres.OwnerAsked, postgres.OwnerStays, postgres.OwnerOff,
		postgres.HeirLetIn, postgres.HeirRefused, postgres.HeirJoined, postgres.HeirGone, postgres.OwnerCame, postgres.FirstOwner, postgres.Placed, postgres.PlaceEnded, postgres.VouchLapsed}
	becomeNamed = []string{postgres.Sold, postgres.KeySet}
)

// withNames is a change with its names set.
func withNames(x postgres.RosterChange) postgres.RosterChange {
	x.By = called(x.By)
	if !slices.Contains(nameless, x.Kind) {
		x.What = called(x.What)
	}
	if slices.Contains(bothNamed, x.Kind) {
		x.Was = called(x.Was)
	}
	if slices.Contains(bothNamed, x.Kind) && x.Kind != postgres.Placed || slices.Contains(becomeNamed, x.Kind) {
		x.Became = called(x.Became)
	}
	return x
}

// whoCame says who came so that nobody takes them for another of the same name.
func whoCame(say words.Speaker, x postgres.RosterChange, name string) string {
	switch {
	case x.Address != "":
		return say.Say("%s (signs in as %s)", nameAgain(say, name, x.WhatAgain), called(x.Address))
	case x.WhatAgain.Again:
		return nameAgain(say, name, x.WhatAgain)
	case x.New && x.Kind != postgres.FirstOwner:
		return say.Say("somebody named %s (new)", name)
	}
	return name
}

// changesOf says what changed, the latest first. What somebody did of one kind on one day is one row with every change in it; what is about the
// reader is not in a row with what is not.
func changesOf(say words.Speaker, list []postgres.RosterChange) (rows []changeRow) {
	type key struct {
		kind, day string
		by        int
		mine      bool
	}
	at := map[key]int{}
	for _, x := range list {
		of := key{x.Kind, say.Day(x.At), x.ByNumber, x.Mine}
		text := changeText(say, x)
		i, there := at[of]
		if !there {
			at[of] = len(rows)
			rows = append(rows, changeRow{Day: of.day, Text: text, Mine: x.Mine})
			i = at[of]
		}
		rows[i].All = append(rows[i].All, x.At.Format("15:04")+" "+text)
	}
	for i := range rows {
		if r := &rows[i]; len(r.All) == 1 {
			r.All = nil
		} else {
			slices.Reverse(r.All)
			r.Text = say.Say("%d changes of one kind. The last: %s", len(r.All), r.Text)
		}
	}
	return rows
}

// changeText is one change as a sentence.
func changeText(say words.Speaker, x postgres.RosterChange) string {
	x = withNames(x)
	if x.ByPart != "" {
		x.By = say.Say(byPart[x.ByPart])
	}
	x.By = nameAgain(say, x.By, x.ByAgain)
	switch x.Kind {
	case postgres.HeirJoined, postgres.OwnerCame, postgres.FirstOwner, postgres.Placed: // whom it is about stands in Was
		x.Was = whoCame(say, x, x.Was)
	case postgres.RunnerCame:
		if x.What != "" {
			x.What = whoCame(say, x, x.What)
		}
	default:
		x.What = nameAgain(say, x.What, x.WhatAgain)
	}
	return capital(changeWords(say, x))
}

// changeWords say what changed and who did it.
func changeWords(say words.Speaker, x postgres.RosterChange) string {
	by := cmp.Or(x.By, say.Say("The server"))
	none := func(name string) string { return cmp.Or(name, say.Say("none")) }
	switch x.Kind {
	case postgres.RanchAdded:
		return say.Say("%s added the ranch %s: area %s, owner %s.", by, x.What, none(x.Was), x.Became)
	case postgres.RanchRenamed:
		return say.Say("%s changed the name of the ranch %s to %s.", by, x.Was, x.Became)
	case postgres.RanchMoved:
		return say.Say("%s moved the ranch %s to another area: from %s to %s.", by, x.What, none(x.Was), none(x.Became))
	case postgres.RanchOwner:
		return say.Say("%s changed the owner of the ranch %s: from %s to %s.", by, x.What, x.Was, x.Became)
	case postgres.RanchErased:
		return say.Say("A ranch was erased, as its owner wished.")
	case postgres.AreaAdded:
		return say.Say("%s added the area %s.", by, x.What)
	case postgres.AreaRenamed:
		return say.Say("%s changed the name of the area %s to %s.", by, x.Was, x.Became)
	case postgres.AreaGrouped:
		return say.Say("%s changed the group of the area %s: from %s to %s.", by, x.What, none(x.Was), none(x.Became))
	case postgres.Vouched:
		if x.Became == postgres.OnPaper {
			return say.Say("%s vouched for the owner of the ranch %s, who does not sign in.", by, x.What)
		}
		return say.Say("%s vouched for the owner %s.", by, x.What)
	case postgres.VouchLapsed:
		return say.Say("The words of %s for the owner of the ranch %s have lapsed: they were for somebody who does not sign in, and now %s does. Two people must vouch for that person.", x.Became, x.What, x.Was)
	case postgres.FirstOwner:
		if x.By == "" {
			return say.Say("%s came onto the ranch %s as its owner.", x.Was, x.What)
		}
		return say.Say("%s, whom %s brought in or put there, came onto the ranch %s as its owner.", x.Was, by, x.What)
	case postgres.Placed:
		return say.Say(placedWords[x.Became], by, x.Was, x.What)
	case postgres.MapSet:
		if x.Became == "" {
			return say.Say("%s took away the map of the areas.", by)
		}
		return say.Say("%s put up a map of the areas %s. Everybody who reads bulletins sees it.", by, x.What)
	case postgres.CodeMade:
		return say.Say("%s made a code that helps %s sign in.", by, x.What)
	case postgres.SeasonDated:
		return seasonChange(say, by, x)
	case postgres.KeySet:
		if x.Became == "" {
			return say.Say("%s went back to the key to remains of common practice, as version %s. It counts for seasons that open later.", by, x.What)
		}
		return say.Say("%s set another key to remains, version %s: %s. It counts for seasons that open later.", by, x.What, x.Became)
	case postgres.TargetsSet:
		return say.Say("%s set the targets of seasons that open later: %s. Where they come from: %s.", by, targetsSaid(say, x.Became), x.What)
	case postgres.TakeBack:
		if x.Figure != nil {
			return say.Say("%s would take back a figure of %s: %s.", by, x.What, figureName(say, *x.Figure))
		}
		return say.Say("%s would take back a figure of %s.", by, x.What)
	case postgres.TakenBack:
		if x.Figure != nil {
			return say.Say("A figure of %s was taken back: %s. The last yes was of %s.", x.What, figureName(say, *x.Figure), by)
		}
		if x.ByPart != "" {
			return say.Say("A figure of %s was taken back; the last yes was of a coordinator.", x.What)
		}
		return say.Say("A figure of %s was taken back; the last yes was of %s.", x.What, by)
	case postgres.Suspended:
		until := x.Became
		if at, err := time.Parse(time.DateOnly, x.Became); err == nil {
			until = say.Day(at)
		}
		return say.Say("%s suspended %s: they cannot sign in until %s, and what they said goes on to count. For longer it takes a second coordinator’s yes.", by, cmp.Or(x.What, say.Say("a member")), until)
	case postgres.SuspendedOn:
		return say.Say("%s said the second yes to the suspension of %s: it lasts until a coordinator lets them in.", by, cmp.Or(x.What, say.Say("a member")))
	case postgres.LetIn:
		if x.By == "" {
			return say.Say("The suspension of %s ended by itself after 14 days.", cmp.Or(x.What, say.Say("a member")))
		}
		return say.Say("%s let %s in again after a suspension.", by, cmp.Or(x.What, say.Say("a member")))
	case postgres.PaperNo:
		return say.Say("%s wrote down a no on paper for the ranch %s. It counts for seasons that open 30 days later or more.", by, x.What)
	case postgres.OwnerAsked:
		return say.Say("%s asked to take %s off the ranch %s, in 14 days.", by, x.Was, x.What)
	case postgres.HeirLetIn:
		return say.Say("%s let the new owner of the ranch %s join the cooperative; %s hands it over to them.", by, x.What, cmp.Or(x.Was, say.Say("somebody who has left")))
	case postgres.HeirRefused:
		return say.Say("%s refused to let the new owner of the ranch %s join the cooperative; the hand-over that %s asked for does not happen.", by, x.What, cmp.Or(x.Was, say.Say("somebody who has left")))
	case postgres.HeirJoined:
		return say.Say("%s joined the cooperative to take over the ranch %s, which %s hands over.", x.Was, x.What, by)
	case postgres.HeirGone:
		return say.Say("%s, who had joined to take over the ranch %s, has gone from the cooperative: it was called off.", x.Was, x.What)
	case postgres.OwnerCame:
		if x.By == "" {
			return say.Say("%s came onto the ranch %s as a further owner.", x.Was, x.What)
		}
		return say.Say("%s came onto the ranch %s as a further owner; %s had said yes.", x.Was, x.What, by)
	case postgres.OtherName:
		if x.What == "" {
			return say.Say("%s joined under another name than was asked in: %s. %s had sent the invitation.", x.Became, x.Was, by)
		}
		return say.Say("%s joined for the ranch %s under another name than was asked in: %s. %s had sent the invitation.", x.Became, x.What, x.Was, by)
	case postgres.EraseAsked:
		return say.Say("%s asked for the ranch %s to be deleted, in 14 days.", by, x.What)
	case postgres.EraseNot:
		return say.Say("The ranch %s is not deleted: that was called off.", x.What)
	case postgres.Sells:
		return say.Say("%s asked to hand the ranch %s over to somebody else, in 14 days.", by, x.What)
	case postgres.SellsYes:
		return say.Say("%s, another owner of the ranch %s, said yes to its being handed over.", by, x.What)
	case postgres.SellsNot:
		return say.Say("The ranch %s is not handed over: that was called off.", x.What)
	case postgres.Sold:
		return say.Say("%s handed the ranch %s over to %s.", by, x.What, cmp.Or(x.Became, say.Say("a member")))
	case postgres.OwnerStays:
		return say.Say("%s stays on the ranch %s: the asking was called off.", x.Was, x.What)
	case postgres.OwnerOff:
		return say.Say("%s, an owner of the ranch %s, was taken off it, as %s had asked.", x.Was, x.What, by)
	case postgres.RunnerCame:
		if x.By == "" {
			return say.Say("%s came in as a coordinator.", cmp.Or(x.What, say.Say("A member")))
		}
		return say.Say("%s brought in %s as a coordinator.", by, cmp.Or(x.What, say.Say("a member")))
	case postgres.RunnerGone:
		if x.By == x.What || x.What == "" {
			return say.Say("%s is a coordinator no longer.", cmp.Or(x.What, say.Say("A member")))
		}
		return say.Say("%s removed the coordinator %s.", by, x.What)
	case postgres.RunnerAsked:
		until := x.Became
		if at, err := time.Parse(time.DateOnly, x.Became); err == nil {
			until = say.Day(at)
		}
		if x.What == "" {
			return say.Say("%s asked for another coordinator to be removed, from %s on or with a third coordinator’s word.", by, until)
		}
		return say.Say("%s asked for the coordinator %s to be removed, from %s on or with a third coordinator’s word.", by, x.What, until)
	case postgres.RunnerStays:
		if x.Was != "" {
			return say.Say("%s stays a coordinator: the asking ended when they were suspended.", cmp.Or(x.What, say.Say("A member")))
		}
		return say.Say("%s stays a coordinator: their no ended the asking.", by)
	case postgres.PlaceEnded:
		return say.Say("%s ended the place of %s on the ranch %s, or their waiting for one.", by, x.Was, x.What)
	case postgres.MemberGone:
		return say.Say("%s removed %s (%s) from the cooperative.", by, x.What, say.Say(roleWords[access.Role(x.Became)]))
	case postgres.VouchEnded:
		if x.Became == postgres.OnPaper {
			return say.Say("%s no longer vouches for the owner of the ranch %s, who does not sign in.", by, x.What)
		}
		return say.Say("%s no longer vouches for the owner %s.", by, x.What)
	}
	return say.Say("%s wrote down a yes on paper for the ranch %s.", by, x.What)
}

// placedWords say that somebody was put on a ranch.
var placedWords = map[string]string{
	postgres.PlacedOwner:   words.Mark("%s put %s on the ranch %s as an owner, who sees nothing of it before a yes of those who are asked."),
	postgres.PlacedHand:    words.Mark("%s put %s on the ranch %s as a hand."),
	postgres.PlacedWaiting: words.Mark("%s put %s on the ranch %s as a hand, who sees nothing of it before an owner’s yes."),
}

// targetsSaid says targets that are kept as four numbers.
func targetsSaid(say words.Speaker, text string) string {
	var n [4]any
	for i, x := range strings.Fields(text) {
		if i < len(n) {
			n[i] = x
		}
	}
	return say.Say("%s clumps an acre, %s of 100 nests, checks %s and %s days after set-out", n[:]...)
}

// seasonChange says what became of a season's dates.
func seasonChange(say words.Speaker, by string, x postgres.RosterChange) string {
	days := func(text string) string {
		var d [4]any
		for i, day := range strings.Fields(text) {
			if at, err := time.Parse(time.DateOnly, day); err == nil && i < len(d) {
				d[i] = say.Day(at)
			}
		}
		return say.Say("opens %s, cut-off %s, composed %s, out %s", d[:]...)
	}
	switch {
	case x.Was == "":
		return say.Say("%s set the dates of %s: %s.", by, x.What, days(x.Became))
	case x.Became == "":
		return say.Say("%s took the dates of %s back: %s.", by, x.What, days(x.Was))
	}
	return say.Say("%s moved the dates of %s. Before: %s. Now: %s.", by, x.What, days(x.Was), days(x.Became))
}

// whyNot says why an owner for whom two vouch does not count.
var whyNot = map[string]string{
	postgres.WhyCoordinators: words.Mark("does not count: all who vouch are coordinators"),
	postgres.WhyInviter:      words.Mark("does not count: the same person brought in all who vouch"),
	postgres.WhyShared:       words.Mark("does not count: those who vouch share an address, a telephone or a browser with each other or with the owner, or are two coordinators, or were brought in by the same person or one by the other"),
}

// Why says why the owner does not count although two vouch.
func (p changesPage) Why(o postgres.LandOwner) string {
	if why := whyNot[o.Why]; why != "" {
		return p.Say.Say(why)
	}
	return ""
}

// vouch vouches for the owners that are ticked, and ends the word for the one whose button was pressed. What is not ticked changes nothing.
func (s *server) vouch(c *fiber.Ctx, a access.Actor) error {
	ticked := map[access.ID]bool{}
	for _, v := range c.Request().PostArgs().PeekMulti("owner") {
		ticked[access.ID(v)] = true
	}
	end := access.ID(c.FormValue("end"))
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if end != "" {
			return tx.EndVouch(end)
		}
		owners, err := tx.OwnersToVouch()
		if err != nil {
			return err
		}
		if len(owners) == 0 {
			return errs.New(errs.Forbidden, words.Mark("A landowner can vouch for others once their own ranch has been counted for a season."))
		}
		for _, o := range owners {
			if ticked[o.ID] && !o.Mine {
				if err := tx.Vouch(o.ID); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.see(c, "/changes?saved=1")
}

// keepPaper records what an owner without an account said on paper.
func (s *server) keepPaper(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	says := c.FormValue("says")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if _, err := ranchName(tx, id); err != nil {
			return err
		}
		if says != "yes" && says != "no" {
			return errs.New(errs.Invalid, words.Mark("Choose yes or no."))
		}
		return tx.KeepPaper(id, says == "yes")
	})
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Conflict) {
		ranches, areas, err := s.roster(c, a)
		if err != nil {
			return err
		}
		form, _ := formOf(ranches, areas, id)
		return s.showRanch(c, a, fiber.StatusConflict, cooperativeRanchPage{Form: form, NoPaper: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/ranches/"+string(id))
}
