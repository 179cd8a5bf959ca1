package pages

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/words"
)

// fieldResultsPage shows what has come in from the field of a ranch's season, what two people saw differently, and counts
// it: the sheet made of the looks is sent like any other, in place of the one before.
type fieldResultsPage struct {
	base
	Ranch   postgres.Ranch
	Season  int
	Seasons []int
	Looks   int
	ByLink  int // looks that came by field links
	Lines   []fieldLineState
	Cards   []fieldCards
	Settled []fieldCards // where somebody chose
	Owner   bool         // the reader owns the ranch
	Nests   int          // rows of the sheet
	Belts   int
	Second  int // second looks
	Owners  int // nests and belts that wait for an owner to count them: an owner looked there
	Counted *postgres.Upload
	Fresh   int // looks that came after it was counted
}

type fieldLineState struct {
	fieldwork.LineState
	By      string // the field link that said what was carried out, "" where a member did
	Missing []fieldMissing
	Shut    bool
}

// fieldMissing is what has not been carried out.
type fieldMissing struct {
	Item    string
	In, Out int
}

// fieldCards are looks that cannot all be true, for somebody to choose from.
type fieldCards struct {
	Line   string
	Stop   int
	Cards  []fieldCard
	Owners bool   // an owner's look is among them
	By     string // who chose, and when; "" where nobody has
}

type fieldCard struct {
	ID     access.ID
	Holds  bool   // somebody chose it
	From   string // who was signed in, or the field link
	Who    string // what was typed as a name
	Day    string // the day looked, as written down
	Clock  string // by the phone
	Said   string
	Photos []string
}

// A fieldSeason is a ranch's season of field work, loaded.
type fieldSeason struct {
	ranch  postgres.Ranch
	year   int
	lines  []season.Line
	looks  []fieldwork.Look
	sent   []postgres.Upload
	seen   []int
	folded fieldwork.Folded
	sheet  fieldwork.Folded // what the reader can count: an owner all of it, a hand what no owner looked at
	owner  bool             // the reader owns the ranch
}

// fieldSeason loads and folds. Without a year it is the latest planned.
func (s *server) fieldSeason(c *fiber.Ctx, a access.Actor) (fieldSeason, error) {
	f := fieldSeason{}
	id := access.ID(c.Params("ranch"))
	year, yearErr := strconv.Atoi(c.Params("season"))
	if !a.CanRanch(access.SendResults, id) || c.Params("season") != "" && (yearErr != nil || strconv.Itoa(year) != c.Params("season")) {
		return f, errNothing
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if f.ranch, err = tx.Ranch(id); err != nil {
			return err
		}
		if f.seen, err = tx.Planned(id); err != nil {
			return err
		}
		if year == 0 && len(f.seen) > 0 {
			year = f.seen[0]
		}
		if !slices.Contains(f.seen, year) {
			return errNothing
		}
		f.year = year
		if err = tx.Looked(id); err != nil {
			return err
		}
		if f.lines, err = tx.Lines(id, year); err != nil {
			return err
		}
		if f.looks, err = tx.Looks(id, year); err != nil {
			return err
		}
		if err = tx.Looked(id); err != nil {
			return err
		}
		f.sent, err = tx.Uploads(id)
		return err
	})
	f.folded = fieldwork.Fold(f.lines, f.looks)
	f.sheet, f.owner = f.folded, a.CanRanch(access.CompareRanch, id)
	if !f.owner {
		f.sheet = fieldwork.Fold(f.lines, fieldwork.WithoutOwners(f.looks))
	}
	return f, err
}

// fileName is what the sheet made of a season's looks is called among the ranch's uploads.
func (f *fieldSeason) fileName() string { return fmt.Sprintf("field work %d.xlsx", f.year) }

// counted returns the sheets made of looks that count now, owners' first: for a hand those of hands, beside which an owner's stands.
func (f *fieldSeason) counted() (list []postgres.Upload) {
	for _, u := range f.sent {
		if u.File == f.fileName() && u.Season == f.year && u.State == postgres.Current && (f.owner || u.Rank < 2) {
			list = append(list, u)
		}
	}
	slices.SortStableFunc(list, func(a, b postgres.Upload) int { return cmp.Compare(b.Rank, a.Rank) })
	return list
}

// fresh counts the looks that the reader can count and nobody has yet: where an owner looked, no owner.
func (f *fieldSeason) fresh() (n int) {
	hands, counted := map[access.ID]bool{}, f.counted()
	for _, l := range fieldwork.WithoutOwners(f.looks) {
		hands[l.ID] = true
	}
	for _, l := range f.looks {
		in := func(u postgres.Upload) bool { return !l.Received.After(u.SentAt) && (u.Rank >= 2 || hands[l.ID]) }
		if (f.owner || hands[l.ID]) && !slices.ContainsFunc(counted, in) {
			n++
		}
	}
	return n
}

func (s *server) fieldResults(c *fiber.Ctx, a access.Actor) error {
	f, err := s.fieldSeason(c, a)
	if err != nil {
		return err
	}
	page := fieldResultsPage{base: s.base(c, a, ""), Ranch: f.ranch, Season: f.year, Seasons: f.seen, Looks: len(f.looks),
		Nests: len(f.sheet.Nests) - 1, Belts: len(f.sheet.Belts) - 1, Second: len(f.folded.Seconds)}
	page.Owners = len(f.folded.Nests) + len(f.folded.Belts) - len(f.sheet.Nests) - len(f.sheet.Belts)
	if counted := f.counted(); len(counted) > 0 {
		page.Counted = &counted[0]
	}
	page.Title = page.Say.Say("From the field: %s, %d", f.ranch.Name, f.year)
	for _, l := range f.looks {
		if l.Link != "" {
			page.ByLink++
		}
	}
	page.Fresh = f.fresh()
	for _, l := range f.folded.Lines {
		state := fieldLineState{LineState: l, Shut: l.Closed()}
		if l.ByLink != "" {
			state.By = sentByLink(page.Say, l.ByLink)
		}
		for _, item := range fieldwork.Items {
			if l.ClosedBy != "" && l.Out[item] < l.In[item] {
				state.Missing = append(state.Missing, fieldMissing{page.Say.Say(itemNames()[item]), l.In[item], l.Out[item]})
			}
		}
		page.Lines = append(page.Lines, state)
	}
	page.Owner = f.owner
	for _, k := range f.folded.Conflicts {
		page.Cards = append(page.Cards, page.cards(k))
	}
	for _, k := range f.folded.Settled {
		cards, by := page.cards(k.Conflict), k.Choice.Sender
		if by == "" {
			by = page.Say.Say("somebody who has left")
		}
		if k.Choice.Owner {
			cards.Owners = true
		}
		for i := range cards.Cards {
			cards.Cards[i].Holds = cards.Cards[i].ID == k.Kept
		}
		cards.By = page.Say.Say("%s chose on %s.", by, page.Say.Day(k.Choice.At.UTC()))
		page.Settled = append(page.Settled, cards)
	}
	return s.render(c, fiber.StatusOK, "field_results", page)
}

// cards shows the looks of a conflict side by side.
func (p *fieldResultsPage) cards(k fieldwork.Conflict) fieldCards {
	cards := fieldCards{Line: k.Line.Name, Stop: k.Stop, Owners: k.HasOwner()}
	for _, l := range k.Looks {
		card := fieldCard{ID: l.ID, From: p.Say.Say("Sent by %s", l.Sender), Who: l.Who, Clock: l.At.Format("15:04"), Day: l.Answers["looked_on"]}
		switch {
		case l.Link != "":
			card.From = sentByLink(p.Say, l.Link)
		case l.Sender == "":
			card.From = p.Say.Say("Sent by somebody who is not on this ranch any more")
		}
		if l.Kind == fieldwork.Set {
			card.Day = l.Answers["set_on"]
			card.Said = p.Say.Say(fieldwork.ChoiceLabel("cover", l.Answers["cover"]))
		} else {
			card.Said = p.Say.Say(fieldwork.ChoiceLabel("found", l.Answers["found"]))
			if left := l.Answers["eggs_left"]; left != "" {
				card.Said += ", " + p.Say.Say(fieldwork.Label("eggs_left")) + " " + left
			}
			if how := l.Answers["lost_how"]; how != "" {
				card.Said += ", " + p.Say.Say(fieldwork.ChoiceLabel("lost_how", how))
			}
		}
		for _, id := range photoIDs(l) {
			card.Photos = append(card.Photos, "/field/photos/"+id)
		}
		cards.Cards = append(cards.Cards, card)
	}
	return cards
}

// sentByLink names the field link by which something came, "-" where the reader may not know it.
func sentByLink(say words.Speaker, link string) string {
	if link == "-" {
		return say.Say("Sent by a field link")
	}
	return say.Say("Sent by the field link “%s”", link)
}

// photoIDs returns the ids of a look's photos.
func photoIDs(l fieldwork.Look) []string {
	var ids []string
	for _, id := range bytes.Fields([]byte(l.Answers["photo"])) {
		if _, err := uuid.ParseBytes(id); err == nil {
			ids = append(ids, string(id))
		}
	}
	return ids
}

// chooseFieldLook settles a conflict, or settles it otherwise: the choice is a look too, so that nothing is lost. Where an owner's look is
// among them, or an owner chose, only an owner can (tussock.choose_own).
func (s *server) chooseFieldLook(c *fiber.Ctx, a access.Actor) error {
	f, err := s.fieldSeason(c, a)
	if err != nil {
		return err
	}
	keep := access.ID(c.FormValue("keep"))
	open := f.folded.Conflicts
	if f.owner {
		for _, k := range f.folded.Settled {
			open = append(open, k.Conflict)
		}
	}
	for _, k := range open {
		for _, l := range k.Looks {
			if l.ID != keep {
				continue
			}
			choice := fieldwork.Look{ID: access.ID(uuid.NewString()), Ranch: f.ranch.ID, Season: f.year, Line: k.Line.ID, Stop: k.Stop, Kind: fieldwork.Choose,
				Who: "", Device: "page", At: s.Now().UTC(), Answers: map[string]string{"keep": string(keep)}}
			err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
				_, err := tx.KeepLooks([]fieldwork.Look{choice})
				return err
			})
			if err != nil {
				return err
			}
			return s.see(c, f.page())
		}
	}
	return errs.New(errs.Conflict, words.Mark("That was settled in the meantime. Open the page again to see how it stands."))
}

func (f *fieldSeason) page() string { return fmt.Sprintf("/field/results/%s/%d", f.ranch.ID, f.year) }

// countField sends the sheet made of the looks down the road of every sheet, in place of the one made before. What an owner looked at counts
// as an owner's or not yet: a hand counts the rest.
func (s *server) countField(c *fiber.Ctx, a access.Actor) error {
	f, err := s.fieldSeason(c, a)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := f.sheet.WriteWorkbook(&b); err != nil {
		return err
	}
	sending := postgres.Sending{Ranch: f.ranch.ID, File: f.fileName(), Data: b.Bytes(), Season: f.year, Settings: postgres.Settings{Season: f.year}, Language: s.speaker(c).Language}
	before := f.counted()
	if len(before) > 0 {
		sending.Replaces = before[0].ID
	}
	var id access.ID
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		for _, u := range before[min(1, len(before)):] { // a hand's beside an owner's
			if err := tx.Supersede(u.ID); err != nil {
				return err
			}
		}
		var already bool
		if id, already, err = tx.Send(sending); err != nil || !already {
			return err
		}
		return backTo(tx, id, sending.Replaces)
	})
	if err != nil {
		return err
	}
	if err := s.await(c.UserContext(), a, id); err != nil {
		return err
	}
	return s.see(c, "/uploads/"+string(id))
}

// backTo makes a sheet count again that was sent before: what was taken back in the field makes the sheet of then. Those
// that took its place since are undone, one after the other.
func backTo(tx *postgres.Tx, id, current access.ID) error {
	for current != "" && current != id {
		u, err := tx.Upload(current)
		if err != nil {
			return err
		}
		if err := tx.UndoUpload(current); err != nil {
			return err
		}
		current = u.Replaces
	}
	u, err := tx.Upload(id)
	if err != nil || u.State == postgres.Current {
		return err
	}
	return tx.RestoreUpload(id)
}

// itemNames are what is carried out at the end, as people say it.
func itemNames() map[string]string {
	return map[string]string{"eggs": words.Mark("eggs"), "flags": words.Mark("flags"), "markers": words.Mark("markers"), "cameras": words.Mark("cameras")}
}
