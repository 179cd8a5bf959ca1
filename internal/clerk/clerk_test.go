package clerk_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/clerk"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/readback"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

var today = time.Date(2026, time.November, 30, 12, 0, 0, 0, time.UTC)

// A house is one owner of two ranches with a clerk at work.
type house struct {
	*pgtest.Fixture
	t          *testing.T
	boss       access.Actor
	owner      access.Actor
	ranch, two access.ID // Cottonwood Draw, North Breaks
}

func newHouse(t *testing.T) *house {
	t.Helper()
	h := &house{Fixture: pgtest.New(t), t: t}
	h.boss = h.Cooperative(t, "Sandhill Grass")
	h.ranch, h.owner = h.Ranch(t, h.boss, postgres.Ranch{Name: "Cottonwood Draw", Owner: "Ada Marsh"})
	h.As(t, h.boss, func(tx *postgres.Tx) (err error) {
		if h.two, err = tx.SaveRanch(postgres.Ranch{Name: "North Breaks", Owner: "Ada Marsh"}); err != nil {
			return err
		}
		return tx.Assign(h.owner.Person, h.two)
	})
	h.Confirm(t)
	h.owner = h.Again(t, h.owner)
	return h
}

// opens starts a clerk, who ends with the test.
func (h *house) opens() {
	h.t.Helper()
	book, err := words.Open(web.FS)
	if err != nil {
		h.t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	desk := &clerk.Desk{DB: h.Clerk(h.t), Book: book, Now: func() time.Time { return today }, Log: slog.New(slog.DiscardHandler)}
	go func() { done <- desk.Run(ctx) }()
	h.t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			h.t.Error(err)
		}
	})
}

func (h *house) sends(ranch access.ID, name, data string) (id access.ID) {
	h.t.Helper()
	h.As(h.t, h.owner, func(tx *postgres.Tx) (err error) {
		id, _, err = tx.Send(postgres.Sending{Ranch: ranch, File: name, Data: []byte(data), Language: words.English})
		return err
	})
	return id
}

// read waits until an upload is read in a language, and returns its page and rows.
func (h *house) read(id access.ID, language words.Language) (*readback.Page, postgres.Upload) {
	h.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		var body []byte
		var u postgres.Upload
		h.As(h.t, h.owner, func(tx *postgres.Tx) (err error) {
			if u, err = tx.Upload(id); err != nil || u.Waits {
				return err
			}
			body, err = tx.Readback(id, language)
			return err
		})
		if body == nil {
			continue
		}
		page, err := readback.Unpack(body)
		if err != nil {
			h.t.Fatal(err)
		}
		return page, u
	}
	h.t.Fatal("nobody reads the sheet")
	return nil, postgres.Upload{}
}

// uploads lists what a ranch has once nothing waits any more.
func (h *house) uploads(ranch access.ID) (list []postgres.Upload) {
	h.t.Helper()
	h.settles()
	h.As(h.t, h.owner, func(tx *postgres.Tx) (err error) {
		list, err = tx.Uploads(ranch)
		return err
	})
	return list
}

func (h *house) settles() {
	h.t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		n, err := h.Owner.Text(context.Background(), "SELECT (SELECT count(*) FROM tussock.to_read) + (SELECT count(*) FROM tussock.unfiled WHERE unclear = '')")
		if err != nil {
			h.t.Fatal(err)
		}
		if n == "0" {
			return
		}
	}
	h.t.Fatal("the clerk does not come to an end")
}

func (h *house) nests(ranch access.ID) (list []survey.Nest) {
	h.t.Helper()
	h.As(h.t, h.owner, func(tx *postgres.Tx) error {
		d, err := tx.Survey([]access.ID{ranch}, 0)
		list = d.Nests
		return err
	})
	return list
}

const heads = "Line,Nest,Cover,Set out,Look 1,Saw\n"

func rows(year, n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "1,%d,yucca,4/28/%d,5/12/%d,ok\n", i+1, year, year)
	}
	return b.String()
}

// A sheet is read, in both languages, and what was read is what the page says.
func TestRead(t *testing.T) {
	h := newHouse(t)
	h.opens()
	id := h.sends(h.ranch, "nests.csv", heads+rows(2024, 3))
	english, u := h.read(id, words.English)
	if u.Nests != 3 || u.Season != 2024 || len(english.Seasons) != 1 || english.Seasons[0].Intact != 3 || len(english.Tables) != 1 || len(english.Tables[0].Rows) != 4 {
		t.Errorf("upload %+v, page %+v", u, english)
	}
	if got := len(h.nests(h.ranch)); got != 3 {
		t.Errorf("%d nests count, want 3", got)
	}
	spanish, _ := h.read(id, words.Spanish)
	if len(spanish.Sentences) != 3 || !strings.Contains(spanish.Sentences[0], "Nido 1") || !strings.Contains(english.Sentences[0], "Nest 1") {
		t.Errorf("sentences: %q and %q", english.Sentences, spanish.Sentences)
	}
}

// A sheet of which nothing can be read says why, in both languages, and counts nowhere.
func TestUnreadable(t *testing.T) {
	h := newHouse(t)
	h.opens()
	id := h.sends(h.ranch, "letter.csv", "Dear Ada,\nthank you for the eggs.\n")
	english, u := h.read(id, words.English)
	spanish, _ := h.read(id, words.Spanish)
	if english.Problem == "" || spanish.Problem == "" || english.Problem == spanish.Problem || u.Nests != 0 || len(u.Seasons) != 0 {
		t.Errorf("%q, %q, %+v", english.Problem, spanish.Problem, u)
	}
}

// A sheet that nobody finishes is given up in the end: with a sentence, and the file kept.
func TestGivenUp(t *testing.T) {
	h := newHouse(t)
	id := h.sends(h.ranch, "nests.csv", heads+rows(2024, 3))
	for range 3 { // three clerks die of it
		c := h.Clerk(t)
		if _, err := c.Next(context.Background()); err != nil {
			t.Fatal(err)
		}
		c.Close()
		if _, err := h.Owner.Exec(context.Background(), "UPDATE tussock.to_read SET taken_until = now() - interval '1 second'"); err != nil {
			t.Fatal(err)
		}
	}
	h.opens()
	page, u := h.read(id, words.English)
	if !strings.Contains(page.Problem, "the file is kept") || u.Nests != 0 {
		t.Errorf("after three tries: %q, %d nests", page.Problem, u.Nests)
	}
}

// An answer that settles a word, a column or the order of day and month holds for the ranch's next sheets, and for no other's.
func TestMemory(t *testing.T) {
	h := newHouse(t)
	h.opens()
	sheet := func(year int) string {
		return strings.ReplaceAll("Line,Nest,Cover,Set out,Look 1,Saw,Extra\n1,1,yucca,03/04/2024,05/05/2024,zzyzx,gone\n1,2,yucca,03/04/2024,05/05/2024,ok,ok\n1,3,yucca,03/04/2024,05/05/2024,ok,ok\n", "2024", fmt.Sprint(year))
	}
	id := h.sends(h.ranch, "2024.csv", sheet(2024))
	page, _ := h.read(id, words.English)
	given := map[string]string{}
	for _, q := range page.Questions {
		if q.Kind == "state" {
			given[q.ID] = "lost"
		}
	}
	if len(given) == 0 {
		t.Fatalf("the word is not asked about: %+v", page.Questions)
	}
	role := func(p *readback.Page, heading string) readback.Tag {
		for _, tag := range p.Tables[0].Heads[0].Tags {
			if tag.Heading == heading {
				return tag
			}
		}
		t.Fatalf("no column %s", heading)
		return readback.Tag{}
	}
	given[role(page, "Extra").ID] = "notes"
	h.As(t, h.owner, func(tx *postgres.Tx) error {
		return tx.ReadAgain(id, postgres.Answers{Given: given, Settings: postgres.Settings{DateOrder: "day"}}, words.English)
	})
	if page, _ = h.read(id, words.English); role(page, "Extra").Role != "notes" {
		t.Errorf("the column said to be notes is read as %q", role(page, "Extra").Role)
	}
	if n := h.nests(h.ranch); len(n) == 0 || n[0].SetOn != survey.DateOf(2024, 4, 3) {
		t.Errorf("nests read day first: %+v", n)
	}

	next, _ := h.read(h.sends(h.ranch, "2025.csv", sheet(2025)), words.English)
	if role(next, "Extra").Role != "notes" || len(next.Remembered) != 1 || next.Remembered[0] != "Extra" {
		t.Errorf("next year the column is read as %q, remembered %v", role(next, "Extra").Role, next.Remembered)
	}
	for _, q := range next.Questions {
		if q.Kind == "state" || q.Kind == "date-order" {
			t.Errorf("next year it is asked again: %s", q.Text)
		}
	}
	for _, n := range h.nests(h.ranch) {
		if n.Season == 2025 && n.SetOn != survey.DateOf(2025, 4, 3) {
			t.Errorf("next year set on %v", n.SetOn)
		}
	}
	other, _ := h.read(h.sends(h.two, "2025 too.csv", sheet(2025)), words.English)
	if role(other, "Extra").Role == "notes" || len(other.Remembered) != 0 {
		t.Error("the other ranch knows what this one said of a column")
	}
}

// A sheet of an owner of two ranches goes to the one that it names, asks where it names none, and goes to both where it has rows
// of both; under the second only where nobody could read the file there who could not here.
func TestWhoseSheet(t *testing.T) {
	h := newHouse(t)
	h.opens()
	send := func(name, data string) access.ID {
		sending := postgres.NewSending()
		h.As(t, h.owner, func(tx *postgres.Tx) error {
			return tx.SendUnfiled(postgres.Sending{File: name, Data: []byte(data), Together: sending, Language: words.English})
		})
		h.settles()
		return sending
	}
	unclear := func(sending access.ID) (why []string) {
		h.As(t, h.owner, func(tx *postgres.Tx) error {
			list, err := tx.Unfiled(sending)
			for _, u := range list {
				why = append(why, u.Why)
			}
			return err
		})
		return why
	}
	send("one.csv", "North Breaks Ranch 2020,,,,,\n"+heads+rows(2020, 4))
	if got := h.uploads(h.two); len(got) != 1 || got[0].Nests != 4 {
		t.Errorf("a sheet headed North Breaks: %+v", got)
	}
	if why := unclear(send("nests.csv", heads+rows(2021, 4))); len(why) != 1 || why[0] != postgres.UnclearRanch {
		t.Errorf("a sheet that names no ranch: %v", why)
	}
	if why := unclear(send("letter.csv", "Dear Ada,\nthank you.\n")); len(why) != 1 || why[0] != postgres.UnclearSheet {
		t.Errorf("a letter: %v", why)
	}
	both := func(year int) string {
		text := "Ranch," + heads
		for i, line := range strings.Split(strings.TrimSpace(rows(year, 5)), "\n") {
			text += []string{"Cottonwood Draw,", "North Breaks,"}[i%2] + line + "\n"
		}
		return text
	}
	send("both.csv", both(2022))
	one, two := h.uploads(h.ranch), h.uploads(h.two)
	if len(one) != 1 || one[0].Nests != 3 || len(two) != 2 || two[0].Nests+two[1].Nests != 6 {
		t.Errorf("a sheet of both: %+v and %+v", one, two)
	}
	page, _ := h.read(one[0].ID, words.English)
	if len(page.Elsewhere) != 1 || page.Elsewhere[0].Ranch != "North Breaks" || page.Elsewhere[0].Nests != 2 {
		t.Errorf("elsewhere: %+v", page.Elsewhere)
	}

	h.Member(t, h.boss, access.Hand, "Luis", h.two)
	send("again.csv", both(2023))
	if one, two := h.uploads(h.ranch), h.uploads(h.two); len(one) != 2 || len(two) != 2 {
		t.Errorf("with a hand on one ranch alone: %d and %d sheets, want 2 and 2", len(one), len(two))
	}
}

// A sheet of two seasons is one upload that counts in both.
func TestTwoSeasons(t *testing.T) {
	h := newHouse(t)
	h.opens()
	id := h.sends(h.ranch, "two years.csv", heads+rows(2023, 2)+rows(2024, 3))
	page, u := h.read(id, words.English)
	if len(page.Seasons) != 2 || page.Seasons[0].Season != 2024 || page.Seasons[0].Nests != 3 || page.Seasons[1].Nests != 2 || fmt.Sprint(u.Seasons) != "[2024 2023]" {
		t.Errorf("page %+v, upload %+v", page.Seasons, u.Seasons)
	}
}

// Each answer to a question comes with the nests that it would give.
func TestAnswersTried(t *testing.T) {
	h := newHouse(t)
	h.opens()
	id := h.sends(h.ranch, "nests.csv", heads+"1,1,yucca,4/28/2024,5/12/2024,zzyzx\n1,2,yucca,4/28/2024,5/12/2024,ok\n")
	page, _ := h.read(id, words.English)
	if len(page.Questions) == 0 || !page.Questions[0].Must {
		t.Fatalf("questions: %+v", page.Questions)
	}
	for _, c := range page.Questions[0].Choices[:2] {
		if !c.Tried || c.Nests != 2 || len(c.First) != 1 || c.First[0].Number != "1" || string(c.First[0].Fate()) != c.ID {
			t.Errorf("answer %s would give %+v", c.ID, c)
		}
	}
}

// What a coordinator sends for an owner is of seasons that had closed by then, takes no sheet's place, is a line in the owner's log, and counts
// nowhere until the owner has accepted it.
func TestSentForAnOwner(t *testing.T) {
	h := newHouse(t)
	h.opens()
	this := time.Now().UTC().Year()
	h.sends(h.ranch, "mine.csv", heads+rows(this-1, 4))
	h.settles()
	h.As(t, h.owner, func(tx *postgres.Tx) error { return tx.LetSend(h.ranch) })
	lost := strings.ReplaceAll(rows(this-1, 6), ",ok\n", ",eaten\n")
	h.As(t, h.boss, func(tx *postgres.Tx) error {
		return tx.SendForOwner(postgres.Sending{Ranch: h.ranch, Together: postgres.NewSending(), File: "all.csv", Data: []byte(heads + rows(this, 5) + lost), Language: words.English})
	})
	sent := h.uploads(h.ranch)[0]
	page, _ := h.read(sent.ID, words.English)
	if len(page.Refused) != 1 || page.Refused[0].N != 5 || !strings.Contains(page.Refused[0].Text, "had not closed") {
		t.Errorf("of the current season the page says %+v", page.Refused)
	}
	taken := func() (n int) {
		for _, x := range h.nests(h.ranch) {
			if x.Season == this {
				t.Fatal("rows of the current season count")
			}
			if x.Visits[0].State == survey.Taken {
				n++
			}
		}
		return n
	}
	if n := taken(); n != 0 || len(h.nests(h.ranch)) != 4 {
		t.Errorf("%d nests count as lost, of %d: nothing of it counts yet", n, len(h.nests(h.ranch)))
	}
	h.As(t, h.owner, func(tx *postgres.Tx) error {
		notes, err := tx.Notes()
		if len(notes) == 0 || notes[0].What != postgres.SentSheet && notes[1].What != postgres.SentSheet {
			t.Errorf("the log says %+v", notes)
		}
		waits, err2 := tx.Unaccepted(h.ranch)
		if len(waits) != 1 || waits[0].ID != sent.ID || waits[0].SentBy == "" {
			t.Errorf("unaccepted: %+v", waits)
		}
		return errors.Join(err, err2, tx.Accept(sent.ID))
	})
	if n := taken(); n != 2 || len(h.nests(h.ranch)) != 6 {
		t.Errorf("accepted, %d nests count as lost, of %d: the owner's four stand, two are new", n, len(h.nests(h.ranch)))
	}
}
