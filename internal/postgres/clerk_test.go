package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/words"
)

// A readingRoom is one ranch, its owner, and clerks.
type readingRoom struct {
	*pgtest.Fixture
	boss, owner access.Actor
	ranch       access.ID
}

func newReadingRoom(t *testing.T) *readingRoom {
	t.Helper()
	r := &readingRoom{Fixture: pgtest.New(t)}
	r.boss = r.Cooperative(t, "Bluestem")
	r.ranch, r.owner = r.Ranch(t, r.boss, postgres.Ranch{Name: "Dry Fork"})
	return r
}

// sends has the owner send a file for a ranch; it waits to be read.
func (r *readingRoom) sends(t *testing.T, who access.Actor, ranch access.ID, data string) (id access.ID) {
	t.Helper()
	r.As(t, who, func(tx *postgres.Tx) (err error) {
		id, _, err = tx.Send(postgres.Sending{Ranch: ranch, File: data + ".csv", Data: []byte(data), Language: words.Spanish})
		return err
	})
	return id
}

// takes has a clerk take the next sheet; nil where none waits.
func takes(t *testing.T, c *postgres.Clerk) *postgres.Task {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 300*time.Millisecond)
	defer cancel()
	task, err := c.Next(ctx)
	if err != nil && ctx.Err() == nil {
		t.Fatal(err)
	}
	return task
}

func (r *readingRoom) keeps(t *testing.T, c *postgres.Clerk, task *postgres.Task, read postgres.Read) bool {
	t.Helper()
	if read.Rows == nil {
		read.Rows = season(t, "Dry Fork")
	}
	kept, err := c.Keep(context.Background(), task, &read, false)
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

func (r *readingRoom) exec(t *testing.T, statement string, args ...any) {
	t.Helper()
	if _, err := r.Owner.Exec(context.Background(), statement, args...); err != nil {
		t.Fatal(err)
	}
}

// A sheet waits, is taken once, and what it said is there all at once.
func TestClerkReads(t *testing.T) {
	r := newReadingRoom(t)
	clerk, other := r.Clerk(t), r.Clerk(t)
	id := r.sends(t, r.owner, r.ranch, "sheet")
	progress := func() (waits, begun bool) {
		r.As(t, r.owner, func(tx *postgres.Tx) error {
			p, err := tx.Progress(id)
			waits, begun = p.Waits, !p.Begun.IsZero()
			return err
		})
		return waits, begun
	}
	if waits, begun := progress(); !waits || begun {
		t.Errorf("just sent: waits %v, begun %v", waits, begun)
	}
	task := takes(t, clerk)
	if task == nil || task.Upload != id || task.File != "sheet.csv" || string(task.Data) != "sheet" || task.RanchName != "Dry Fork" || task.Language != "es" ||
		task.Tries != 1 || len(task.Ranches) != 1 || task.Ranches[0].Name != "Dry Fork" || task.SentBy != r.owner.Person || task.SentFor {
		t.Fatalf("task = %+v", task)
	}
	if waits, begun := progress(); !waits || !begun {
		t.Errorf("in hand: waits %v, begun %v", waits, begun)
	}
	if second := takes(t, other); second != nil {
		t.Errorf("a second clerk takes %s too", second.File)
	}
	rows := season(t, "Dry Fork")
	rows.Nests[2].Season = 2025
	if !r.keeps(t, clerk, task, postgres.Read{Rows: rows, Refused: 1, Open: 2, Words: map[string]string{"state/hit": "taken"},
		Pages: map[string][]byte{"en": []byte("read"), "es": []byte("leído")}, Parts: [][]byte{[]byte("first"), []byte("second")}}) {
		t.Fatal("what was read is not kept")
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		u, err := tx.Upload(id)
		if u.Waits || u.Nests != 3 || u.Belts != 1 || u.Refused != 1 || u.Open != 2 || u.Season != 2026 || !cmp.Equal(u.Seasons, postgres.Years{2026, 2025}) {
			t.Errorf("upload = %+v", u)
		}
		english, err2 := tx.Readback(id, words.English)
		spanish, err3 := tx.Readback(id, words.Spanish)
		second, err4 := tx.ReadbackPart(id, 1)
		none, err5 := tx.ReadbackPart(id, 2)
		if string(english) != "read" || string(spanish) != "leído" || string(second) != "second" || none != nil {
			t.Errorf("pages = %q, %q, %q, %q", english, spanish, second, none)
		}
		known, err6 := tx.Words(r.ranch)
		answers, err7 := tx.Answers(id)
		if known["state/hit"] != "taken" || !cmp.Equal(answers.Settled, []string{"state/hit"}) {
			t.Errorf("words = %v, of this sheet %v", known, answers.Settled)
		}
		d, err8 := tx.Survey([]access.ID{r.ranch}, 2025)
		if err8 == nil && len(d.Nests) != 1 {
			t.Errorf("%d nests of 2025, want 1", len(d.Nests))
		}
		return errors.Join(err, err2, err3, err4, err5, err6, err7, err8)
	})
	r.As(t, r.boss, func(tx *postgres.Tx) error {
		list, err := tx.UploadStatus(0)
		if len(list) != 2 || list[0].Season != 2026 || list[1].Season != 2025 || list[0].Waits {
			t.Errorf("the coordinator sees %+v", list)
		}
		return err
	})
	if again := takes(t, clerk); again != nil {
		t.Errorf("the sheet that is read is taken again: %+v", again)
	}
}

// What a sheet says in other languages comes after all that wait for a first reading, and nobody waits for it.
func TestClerkSaysItAgain(t *testing.T) {
	r := newReadingRoom(t)
	ctx := context.Background()
	clerk := r.Clerk(t)
	id := r.sends(t, r.owner, r.ranch, "sheet")
	if kept, err := clerk.Keep(ctx, takes(t, clerk), &postgres.Read{Rows: season(t, "Dry Fork"), Pages: map[string][]byte{"es": []byte("leído")}}, true); !kept || err != nil {
		t.Fatalf("kept %v, %v", kept, err)
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		u, err := tx.Upload(id)
		p, err2 := tx.Progress(id)
		if u.Waits || u.Nests != 3 || p.Waits || !p.Rest {
			t.Errorf("read in one language: %+v, %+v", u, p)
		}
		return errors.Join(err, err2)
	})
	later := r.sends(t, r.owner, r.ranch, "later")
	task := takes(t, clerk)
	if task.Upload != later || task.Rest {
		t.Errorf("before a sheet that nobody has read comes %+v", task)
	}
	r.keeps(t, clerk, task, postgres.Read{})
	rest := takes(t, clerk)
	if rest == nil || rest.Upload != id || !rest.Rest || rest.Tries != 1 {
		t.Fatalf("the rest is taken as %+v", rest)
	}
	if kept, err := clerk.KeepRest(ctx, rest, map[string][]byte{"en": []byte("read")}); !kept || err != nil {
		t.Errorf("the rest: kept %v, %v", kept, err)
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		english, err := tx.Readback(id, words.English)
		spanish, err2 := tx.Readback(id, words.Spanish)
		if string(english) != "read" || string(spanish) != "leído" {
			t.Errorf("pages = %q, %q", english, spanish)
		}
		return errors.Join(err, err2)
	})
	if more := takes(t, clerk); more != nil {
		t.Errorf("still to do: %+v", more)
	}
}

// Somebody answers while a clerk reads: what it read is not kept, and the sheet is read once more with the answer. Until
// then the rows of the reading before count.
func TestClerkIsOvertaken(t *testing.T) {
	r := newReadingRoom(t)
	clerk, other := r.Clerk(t), r.Clerk(t)
	id := r.sends(t, r.owner, r.ranch, "sheet")
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{})
	answer := func(choice string) {
		r.As(t, r.owner, func(tx *postgres.Tx) error {
			return tx.ReadAgain(id, postgres.Answers{Given: map[string]string{"zero": choice}}, words.English)
		})
	}
	nests := func() (n int) {
		r.As(t, r.owner, func(tx *postgres.Tx) error {
			d, err := tx.Survey([]access.ID{r.ranch}, 0)
			n = len(d.Nests)
			return err
		})
		return n
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.Accept(id) })
	answer("taken")
	slow := takes(t, clerk)
	answer("intact")
	if got := nests(); got != 3 {
		t.Errorf("%d nests count while the sheet is read again, want 3", got)
	}
	quick := takes(t, other)
	if quick == nil || quick.Answers["zero"] != "intact" || quick.Tries != 1 {
		t.Fatalf("the second asking is taken as %+v", quick)
	}
	empty := season(t, "")
	empty.Nests = nil
	if r.keeps(t, clerk, slow, postgres.Read{Rows: empty}) {
		t.Error("what was read without the later answer is kept")
	}
	two := season(t, "Dry Fork")
	two.Nests = two.Nests[:2]
	if !r.keeps(t, other, quick, postgres.Read{Rows: two}) || nests() != 2 {
		t.Errorf("%d nests count at the end, want 2", nests())
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		u, err := tx.Upload(id)
		if u.Accepted != nil {
			t.Error("a reading that nobody has seen counts as accepted")
		}
		return err
	})
}

// A clerk that dies leaves the sheet being read; when it has been silent for its lease another takes it up.
func TestClerkDies(t *testing.T) {
	r := newReadingRoom(t)
	id := r.sends(t, r.owner, r.ranch, "sheet")
	doomed, err := postgres.OpenClerk(context.Background(), r.ClerkURL)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(doomed.Close)
	task := takes(t, doomed)
	doomed.Close() // kill -9 looks like this to the database
	clerk := r.Clerk(t)
	if early := takes(t, clerk); early != nil {
		t.Errorf("taken from under a clerk that may be alive: %+v", early)
	}
	r.exec(t, "UPDATE tussock.to_read SET taken_until = taken_until - interval '59 seconds'")
	if early := takes(t, clerk); early != nil {
		t.Errorf("taken before the lease was over: %+v", early)
	}
	r.exec(t, "UPDATE tussock.to_read SET taken_until = taken_until - interval '2 seconds'")
	again := takes(t, clerk)
	if again == nil || again.Upload != id || again.Tries != 2 {
		t.Fatalf("after the lease: %+v", again)
	}
	r.exec(t, "UPDATE tussock.to_read SET taken_until = now() + interval '1 second'")
	if err := clerk.Extend(context.Background(), again); err != nil {
		t.Fatal(err)
	}
	if left, err := r.Owner.Text(context.Background(), "SELECT taken_until > now() + interval '50 seconds' FROM tussock.to_read"); left != "true" {
		t.Errorf("the lease is not extended: %v, %v", left, err)
	}
	if !r.keeps(t, clerk, again, postgres.Read{}) {
		t.Error("the second clerk cannot keep it")
	}
	late := r.Clerk(t)
	if kept, err := late.Keep(context.Background(), task, &postgres.Read{Rows: season(t, "")}, false); kept || err != nil {
		t.Errorf("a clerk thought dead keeps it after all: %v, %v", kept, err)
	}
}

// Whose sheets are many does not keep others waiting: of two cooperatives and ranches those come first that have the fewest
// in work.
func TestClerkIsFair(t *testing.T) {
	r := newReadingRoom(t)
	second, neighbor := r.Ranch(t, r.boss, postgres.Ranch{Name: "Long Draw"})
	other := r.Cooperative(t, "Grama")
	far, stranger := r.Ranch(t, other, postgres.Ranch{Name: "Far Breaks"})
	for i := range 5 {
		r.sends(t, r.owner, r.ranch, fmt.Sprint("many ", i))
	}
	theirs := r.sends(t, neighbor, second, "theirs")
	faraway := r.sends(t, stranger, far, "far away")
	var got []access.ID
	for range 3 {
		got = append(got, takes(t, r.Clerk(t)).Upload)
	}
	if got[1] != faraway || got[2] != theirs {
		t.Errorf("taken in the order %v; want one of the many, then %s of the other cooperative, then %s of the neighbor", got, faraway, theirs)
	}
	r.exec(t, "DELETE FROM tussock.to_read")
	r.exec(t, "INSERT INTO tussock.to_read (coop_id, ranch_id, upload_id, language, size) VALUES ($1, $2, $3, 'en', 20000000)", r.owner.Coop, second, theirs)
	small := r.Clerk(t)
	small.Small = true
	if large := takes(t, small); large != nil {
		t.Error("a clerk for small sheets takes 20 MB")
	}
	if takes(t, r.Clerk(t)) == nil {
		t.Error("nobody takes 20 MB")
	}
}

// A sheet that waits goes with its ranch, and a clerk that has it in hand keeps nothing.
func TestClerkAndErasedRanch(t *testing.T) {
	r := newReadingRoom(t)
	clerk := r.Clerk(t)
	r.sends(t, r.owner, r.ranch, "sheet")
	task := takes(t, clerk)
	r.Erase(t, r.ranch)
	if r.keeps(t, clerk, task, postgres.Read{Pages: map[string][]byte{"en": []byte("x")}}) {
		t.Error("what was read of an erased ranch is kept")
	}
	if n, _ := r.Owner.Text(context.Background(), "SELECT count(*) FROM tussock.readback"); n != "0" {
		t.Errorf("%s pages of an erased ranch", n)
	}
}

// A sheet of one of two ranches is its sender's alone until it is known of which.
func TestUnfiled(t *testing.T) {
	r := newReadingRoom(t)
	ctx := context.Background()
	second := access.ID("")
	r.As(t, r.boss, func(tx *postgres.Tx) (err error) {
		if second, err = tx.SaveRanch(postgres.Ranch{Name: "Long Draw", Owner: "Dry Fork"}); err != nil {
			return err
		}
		return tx.Assign(r.owner.Person, second)
	})
	r.Confirm(t)
	r.owner = r.Again(t, r.owner)
	hand := r.Member(t, r.boss, access.Hand, "Hand", second)
	clerk := r.Clerk(t)
	sending := postgres.NewSending()
	send := func(data string) {
		r.As(t, r.owner, func(tx *postgres.Tx) error {
			return tx.SendUnfiled(postgres.Sending{File: data + ".csv", Data: []byte(data), Together: sending, Language: words.English, Settings: postgres.Settings{Season: 2019}})
		})
	}
	list := func(who access.Actor) (unfiled []postgres.Unfiled, filed []postgres.Upload) {
		r.As(t, who, func(tx *postgres.Tx) (err error) {
			if unfiled, err = tx.Unfiled(sending); err != nil {
				return err
			}
			filed, err = tx.Together(sending)
			return err
		})
		return unfiled, filed
	}
	send("clear")
	task := takes(t, clerk)
	if task == nil || !task.Unfiled() || task.Settings.Season != 2019 || len(task.Ranches) != 2 {
		t.Fatalf("task = %+v", task)
	}
	if u, _ := list(hand); len(u) != 0 {
		t.Error("a hand sees a sheet that may be another ranch's")
	}
	if err := clerk.File(ctx, task, second); err != nil {
		t.Fatal(err)
	}
	u, filed := list(r.owner)
	if len(u) != 0 || len(filed) != 1 || filed[0].Ranch != second || !filed[0].Waits || filed[0].SentBy != r.owner.Name {
		t.Errorf("filed: %+v, unfiled %+v", filed, u)
	}
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{})

	send("clear") // the very bytes again
	if err := clerk.File(ctx, takes(t, clerk), second); err != nil {
		t.Fatal(err)
	}
	if u, _ := list(r.owner); len(u) != 1 || u[0].Why != postgres.UnclearHeld || u[0].Held != filed[0].ID {
		t.Errorf("the same bytes again: %+v", u)
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.DropUnfiled(u0(list(r.owner))) })

	send("silent")
	if err := clerk.Unclear(ctx, takes(t, clerk), postgres.UnclearRanch, map[string]string{"en": "which?"}); err != nil {
		t.Fatal(err)
	}
	if again := takes(t, clerk); again != nil {
		t.Error("a sheet that waits for its sender is taken again")
	}
	u, _ = list(r.owner)
	if len(u) != 1 || u[0].Why != postgres.UnclearRanch || u[0].Problem["en"] != "which?" {
		t.Fatalf("unclear: %+v", u)
	}
	for what, try := range map[string]func(tx *postgres.Tx) error{
		"files it": func(tx *postgres.Tx) error { _, _, err := tx.FileUnder(u[0].ID, second); return err },
		"drops it": func(tx *postgres.Tx) error { return tx.DropUnfiled(u[0].ID) },
	} {
		if err := r.DB.As(ctx, hand, try); !errors.Is(err, errs.NotFound) {
			t.Errorf("the hand %s: %v", what, err)
		}
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		id, already, err := tx.FileUnder(u[0].ID, r.ranch)
		if already || id == "" {
			t.Errorf("filed as %s, already %v", id, already)
		}
		return err
	})
	if u, filed := list(r.owner); len(u) != 0 || len(filed) != 2 {
		t.Errorf("in the end %d unfiled and %d filed", len(u), len(filed))
	}

	send("forgotten")
	r.exec(t, "UPDATE tussock.unfiled SET sent_at = now() - interval '8 days', unclear = 'ranch'")
	r.exec(t, "DELETE FROM tussock.to_read")
	takes(t, clerk)
	takes(t, clerk)
	if u, _ := list(r.owner); len(u) != 0 {
		t.Error("what nobody said the ranch of is kept for longer than a week")
	}
}

func u0(u []postgres.Unfiled, _ []postgres.Upload) access.ID { return u[0].ID }

// TestSendingRingsNothing: who sends many sheets for an owner took nothing.
func TestSendingRingsNothing(t *testing.T) {
	r := newReadingRoom(t)
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.LetSend(r.ranch) })
	for i := range 35 {
		r.As(t, r.boss, func(tx *postgres.Tx) error {
			return tx.SendForOwner(postgres.Sending{Ranch: r.ranch, File: "old.csv", Data: []byte{byte(i)}, Together: postgres.NewSending(), Language: words.English})
		})
	}
	for _, who := range []access.Actor{r.boss, r.owner} {
		r.As(t, who, func(tx *postgres.Tx) error {
			alarms, err := tx.Alarms()
			if len(alarms) != 0 {
				t.Errorf("sending rings for %s: %+v", who.Role, alarms)
			}
			return err
		})
	}
}

// The coordinator sends old sheets for an owner who said yes, sees that they were read, and reads nothing.
func TestSendForOwner(t *testing.T) {
	r := newReadingRoom(t)
	ctx := context.Background()
	hand := r.Member(t, r.boss, access.Hand, "Hand", r.ranch)
	sheet := postgres.Sending{Ranch: r.ranch, File: "2014.csv", Data: []byte("old"), Together: postgres.NewSending(), Language: words.English}
	send := func(who access.Actor) error {
		return r.DB.As(ctx, who, func(tx *postgres.Tx) error { return tx.SendForOwner(sheet) })
	}
	if err := send(r.boss); !errors.Is(err, errs.NotFound) {
		t.Errorf("without a yes: %v", err)
	}
	if err := r.DB.As(ctx, hand, func(tx *postgres.Tx) error { return tx.LetSend(r.ranch) }); err == nil {
		t.Error("a hand says yes for the owner")
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.LetSend(r.ranch) })
	for _, who := range []access.Actor{r.owner, hand} {
		if err := send(who); !errors.Is(err, errs.Forbidden) {
			t.Errorf("%s sends as the coordinator: %v", who.Role, err)
		}
	}
	if err := send(r.boss); err != nil {
		t.Fatalf("with a yes: %v", err)
	}
	clerk := r.Clerk(t)
	task := takes(t, clerk)
	if task == nil || !task.SentFor || len(task.Ranches) != 0 {
		t.Fatalf("task = %+v", task)
	}
	r.keeps(t, clerk, task, postgres.Read{Open: 1, Pages: map[string][]byte{"en": []byte("x")}})
	r.As(t, r.boss, func(tx *postgres.Tx) error {
		list, err := tx.UploadStatus(0)
		if len(list) != 1 || list[0].Called != "2014.csv" || list[0].Sending != sheet.Together || list[0].Waits {
			t.Errorf("the coordinator sees %+v", list)
		}
		if _, err := tx.Readback(list[0].Upload, words.English); !errors.Is(err, errs.NotFound) {
			t.Errorf("and reads it: %v", err)
		}
		return err
	})
	letters, err := r.DB.SentForLetters(ctx)
	if len(letters) != 0 || err != nil {
		t.Errorf("a letter before the last file may have come: %+v, %v", letters, err)
	}
	r.exec(t, "UPDATE tussock.upload SET sent_at = sent_at - interval '2 minutes'")
	if letters, err = r.DB.SentForLetters(ctx); len(letters) != 1 || err != nil || letters[0].Ranch != "Dry Fork" || letters[0].Files != 1 || letters[0].By != r.boss.Name {
		t.Errorf("letters = %+v, %v", letters, err)
	}
	if letters, err = r.DB.SentForLetters(ctx); len(letters) != 0 || err != nil {
		t.Errorf("told twice: %+v, %v", letters, err)
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		sent, err := tx.Uploads(r.ranch)
		if len(sent) != 1 || !sent[0].SentFor {
			t.Errorf("the owner sees %+v", sent)
		}
		return errors.Join(err, tx.UndoUpload(sent[0].ID), tx.StopSending(r.ranch))
	})
	sheet.Data = []byte("more")
	if err := send(r.boss); !errors.Is(err, errs.NotFound) {
		t.Errorf("after the owner took it back: %v", err)
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.LetSend(r.ranch) })
	r.exec(t, "UPDATE tussock.sending_consent SET through = through - 91")
	if err := send(r.boss); !errors.Is(err, errs.NotFound) {
		t.Errorf("after 90 days: %v", err)
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.LetSend(r.ranch) })
	r.exec(t, "UPDATE tussock.assignment SET until = now() WHERE person_id = $1", r.owner.Person)
	if err := send(r.boss); !errors.Is(err, errs.NotFound) {
		t.Errorf("after the owner is gone: %v", err)
	}
}

// What is copied of a season on its day has what was answered until then, also where the sheet is read with it after the cut-off: an
// answer that comes too late waits for the revision. A question in a sheet of several seasons is open for each.
func TestClerkAfterCutOff(t *testing.T) {
	r := newReadingRoom(t)
	clerk := r.Clerk(t)
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.SetConsent(r.ranch, 1) })
	id := r.sends(t, r.owner, r.ranch, "sheet")
	rows := season(t, "Dry Fork")
	rows.Nests[2].Season = 2025
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{Rows: rows, Open: 1})
	r.Vouch(t, r.owner.Coop)
	for _, year := range []int{2025, 2026} {
		r.Open(t, r.owner.Coop, year)
	}
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.ReadAgain(id, postgres.Answers{}, words.English) })
	task := takes(t, clerk)
	r.exec(t, `UPDATE tussock.season SET opens_on = d - 3, cut_off_on = d - 2, composed_on = d - 2, published_on = d - 2
		FROM (SELECT (now() AT TIME ZONE 'UTC')::date AS d) x WHERE coop_id = $1`, string(r.owner.Coop))
	later := season(t, "Dry Fork")
	later.Nests = later.Nests[:1]
	if !r.keeps(t, clerk, task, postgres.Read{Rows: later}) {
		t.Fatal("what was read is not kept")
	}
	copies := func(when string, want map[int]string) {
		for year, want := range want {
			if got := r.text(t, `SELECT jsonb_array_length(nests) || CASE WHEN open THEN ' open' ELSE '' END
				FROM tussock.snapshot WHERE coop_id = $1 AND season = $2 AND ranch_id = $3`, r.owner.Coop, year, r.ranch); got != want {
				t.Errorf("%s the copy of %d has %q nests, want %q", when, year, got, want)
			}
		}
	}
	copies("with the answer given before,", map[int]string{2026: "1", 2025: "0"})
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.ReadAgain(id, postgres.Answers{}, words.English) })
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{Rows: rows, Open: 1})
	copies("after one given later,", map[int]string{2026: "1", 2025: "0"})
	// A question is open of each season; and where the answer comes after the cut-off, it was open then.
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.ReadAgain(id, postgres.Answers{}, words.English) })
	for _, statement := range []string{"DELETE FROM tussock.unread", "DELETE FROM tussock.snapshot", "DELETE FROM tussock.edition", "SELECT tussock.freeze_due(NULL)"} {
		r.exec(t, statement)
	}
	copies("with questions,", map[int]string{2026: "2", 2025: "1"})
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.ReadAgain(id, postgres.Answers{}, words.English) })
	copies("with questions,", map[int]string{2026: "2 open", 2025: "1 open"})
}
