package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	seasons "tussock/internal/season"
	"tussock/internal/survey"
)

// What is late says the same of a line on which nothing is left and of one on which every nest is: after the first check, after the line was closed,
// after a last check, after a sheet.
func TestLateTellsNoOutcome(t *testing.T) {
	s := newStage(t)
	a, b := s.aSeason(t, s.a, s.ranchA), s.aSeason(t, s.b, s.ranchB)
	taps := func(who access.Actor, ranch, line access.ID, seq int, kind fieldwork.Kind, answers map[string]string) {
		t.Helper()
		s.As(t, who, func(tx *postgres.Tx) error {
			_, err := tx.KeepLooks([]fieldwork.Look{{ID: access.ID(uuid.NewString()), Ranch: ranch, Season: 2027, Line: line, Stop: 1, Kind: kind, Who: "AM", Device: "phone", Seq: seq,
				At: time.Date(2027, 5, 10, 12, 0, 0, 0, time.UTC), Answers: answers}})
			return err
		})
	}
	late := func(day survey.Date, ranch access.ID) (list []string) {
		t.Helper()
		s.As(t, s.boss, func(tx *postgres.Tx) error {
			lines, err := tx.LateLines(day)
			for _, x := range lines {
				if x.Ranch == ranch {
					list = append(list, fmt.Sprint(x.Season, x.What, x.Due, x.Closes))
				}
			}
			return err
		})
		slices.Sort(list)
		return list
	}
	same := func(when string, n int) {
		t.Helper()
		for _, day := range []survey.Date{may(11), may(27), survey.DateOf(2027, 6, 10), survey.DateOf(2027, 7, 1)} {
			if x, y := late(day, s.ranchA), late(day, s.ranchB); !slices.Equal(x, y) {
				t.Errorf("%s, on %v: of the one %v, of the other %v", when, day, x, y)
			}
		}
		if got := late(survey.DateOf(2027, 6, 10), s.ranchA); len(got) != n {
			t.Errorf("%s: late is %v, want %d", when, got, n)
		}
	}
	same("planned", 3)
	taps(s.a, s.ranchA, a.ID, 1, fieldwork.Set, map[string]string{"set_on": "2026-05-10"})
	taps(s.b, s.ranchB, b.ID, 1, fieldwork.Set, map[string]string{"set_on": "2026-05-10"})
	same("set out", 2)
	taps(s.a, s.ranchA, a.ID, 2, fieldwork.Check, map[string]string{"looked_on": "2026-05-24", "found": "lost"})
	taps(s.b, s.ranchB, b.ID, 2, fieldwork.Check, map[string]string{"looked_on": "2026-05-24", "found": "all"})
	same("checked, all gone and none", 1)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		p, err := tx.Plan(s.ranchA, 2027)
		a.Closed = true
		return errors.Join(err, tx.SaveLines(s.ranchA, 2027, p, []seasons.Line{a}))
	})
	same("the one closed", 1)
	taps(s.b, s.ranchB, b.ID, 3, fieldwork.Check, map[string]string{"looked_on": "2026-06-07", "found": "all"})
	same("the other checked last", 1)
	s.upload(t, s.a, s.ranchA, a, []survey.Visit{{On: may(24), State: survey.Taken}})
	s.upload(t, s.b, s.ranchB, b, []survey.Visit{{On: may(24), State: survey.Intact}})
	same("sent after the first check", 0)
}

// A coordinator learns of a sheet that it came, and not how many questions are open, nor when an answer has it read again; the owner is reminded.
func TestQuestionsAreTheOwners(t *testing.T) {
	r := newReadingRoom(t)
	ctx := context.Background()
	clerk := r.Clerk(t)
	id := r.sends(t, r.owner, r.ranch, "sheet")
	status := func() (x postgres.Status) {
		t.Helper()
		r.As(t, r.boss, func(tx *postgres.Tx) error {
			list, err := tx.UploadStatus(0)
			if len(list) > 0 {
				x = list[0]
			}
			return err
		})
		return x
	}
	if x := status(); x.Upload != id || !x.Waits {
		t.Errorf("before it is read the coordinator sees %+v", x)
	}
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{Rows: season(t, "Dry Fork"), Open: 2, Pages: map[string][]byte{"en": []byte("x"), "es": []byte("x")}})
	before := status()
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		return tx.ReadAgain(id, postgres.Answers{Given: map[string]string{"q": "a"}}, "en")
	})
	if x := status(); before.Waits || !slices.Equal(x.Seasons, before.Seasons) || x.Waits != before.Waits || x.State != before.State {
		t.Errorf("while it is read again the coordinator sees %+v, before %+v", x, before)
	}
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{Rows: season(t, "Dry Fork"), Open: 1, Pages: map[string][]byte{"en": []byte("x"), "es": []byte("x")}})
	if letters, err := r.DB.AskedLetters(ctx); len(letters) != 0 || err != nil {
		t.Errorf("on the first day: %+v, %v", letters, err)
	}
	r.exec(t, "UPDATE tussock.upload SET sent_at = sent_at - interval '4 days'")
	letters, err := r.DB.AskedLetters(ctx)
	if len(letters) != 1 || err != nil || letters[0].Ranch != "Dry Fork" || letters[0].Sheets != 1 {
		t.Errorf("after four days: %+v, %v", letters, err)
	}
	if letters, err := r.DB.AskedLetters(ctx); len(letters) != 0 || err != nil {
		t.Errorf("told twice: %+v, %v", letters, err)
	}
	for _, who := range []access.Actor{r.owner, r.boss} {
		err := r.DB.As(ctx, who, func(tx *postgres.Tx) error { _, err := tx.UploadStatus(0); return err })
		if (who.Role == access.Coordinator) != (err == nil) || err != nil && !errors.Is(err, errs.Forbidden) {
			t.Errorf("%s asks what came in: %v", who.Role, err)
		}
	}
}

// What a coordinator sent for an owner, and no owner has accepted, counts nowhere: not for the owner, not for the biologist who reads the ranch by
// name, in no season's list, and not among the results that a landowner has.
func TestUnacceptedCountsNowhere(t *testing.T) {
	r := newReadingRoom(t)
	biologist := r.Member(t, r.boss, access.Biologist, "Biologist")
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		if err := errors.Join(tx.LetSend(r.ranch), tx.SetConsent(r.ranch, 1)); err != nil {
			return err
		}
		_, err := tx.Share(postgres.Sharing{Ranch: r.ranch, Person: biologist.Person, Purpose: "cover study", Through: time.Now().AddDate(0, 6, 0)})
		return err
	})
	r.As(t, r.boss, func(tx *postgres.Tx) error {
		return tx.SendForOwner(postgres.Sending{Ranch: r.ranch, File: "old.csv", Data: []byte("old"), Together: postgres.NewSending(), Language: "en"})
	})
	clerk := r.Clerk(t)
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{Rows: season(t, "Dry Fork"), Pages: map[string][]byte{"en": []byte("x"), "es": []byte("x")}})
	var sent access.ID
	read := func(when string, nests, belts int) {
		t.Helper()
		r.As(t, r.owner, func(tx *postgres.Tx) error {
			d, err := tx.Survey([]access.ID{r.ranch}, 0)
			seasons, err2 := tx.Seasons(r.ranch)
			found, err3 := tx.Findings(r.ranch)
			list, err4 := tx.Uploads(r.ranch)
			if err := errors.Join(err, err2, err3, err4); err != nil {
				return err
			}
			sent = list[0].ID
			if len(d.Nests) != nests || len(d.Belts) != belts || (len(seasons) > 0) != (nests > 0) || (len(found.Survival) > 0) != (nests > 0) || list[0].Unaccepted() != (nests == 0) {
				t.Errorf("%s the owner has %d nests, %d belts, seasons %v, %d figures", when, len(d.Nests), len(d.Belts), seasons, len(found.Survival))
			}
			return nil
		})
		r.As(t, biologist, func(tx *postgres.Tx) error {
			d, err := tx.NamedSurvey([]access.ID{r.ranch})
			if len(d.Nests) != nests || len(d.Belts) != belts {
				t.Errorf("%s the biologist reads %d nests, %d belts", when, len(d.Nests), len(d.Belts))
			}
			return err
		})
	}
	raw := &stage{Fixture: r.Fixture}
	sees := func(when string, want int) {
		t.Helper()
		raw.raw(t, biologist.Session, func(tx pgx.Tx) {
			if got := try(t, tx, "INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what) VALUES ($1, $2, $3, now(), 'named')", biologist.Coop, r.ranch, biologist.Person); got != 1 {
				t.Fatalf("a note of looking: %v", got)
			}
			for _, table := range []string{"tussock.upload", "tussock.belt", "(SELECT DISTINCT upload_id FROM tussock.shared_nest()) x"} {
				if got := count(t, tx, table); got != want {
					t.Errorf("%s the biologist sees of %s: %v, want %d", when, table, got, want)
				}
			}
		})
	}
	raw.aSeason(t, r.owner, r.ranch)
	r.exec(t, "UPDATE tussock.upload SET season = 2027, seasons = '{2027}'")
	late := func(when string, lines int, counts bool) {
		t.Helper()
		r.As(t, r.boss, func(tx *postgres.Tx) error {
			list, err := tx.LateLines(survey.DateOf(2027, 7, 1))
			came, err2 := tx.UploadStatus(0)
			if len(list) != lines || len(came) != 1 || came[0].Counts != counts {
				t.Errorf("%s the coordinator reads that %d lines are late, and that %+v came", when, len(list), came)
			}
			return errors.Join(err, err2)
		})
	}
	read("before", 0, 0)
	sees("before", 0)
	late("before", 3, false)
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.Accept(sent) })
	read("accepted,", 3, 1)
	sees("accepted,", 1)
	late("accepted,", 3, false) // the same, so that nobody reads from it when the owner was here
}

// A coordinator's word that was taken back counts for thirty days more, and the list of landowners counts it as long.
func TestListCountsWhatCounts(t *testing.T) {
	s := newStage(t)
	reads := func() (o postgres.LandOwner) {
		t.Helper()
		s.As(t, s.a, func(tx *postgres.Tx) error {
			list, err := tx.OwnersToVouch()
			for _, x := range list {
				if x.ID == s.b.Person {
					o = x
				}
			}
			return err
		})
		return o
	}
	before := reads()
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.EndVouch(s.b.Person) })
	if after := reads(); before.Words < 1 || after.Words != before.Words || after.Settled != before.Settled {
		t.Errorf("before %+v, on the day it was taken back %+v", before, after)
	}
	s.seed(t, "ALTER TABLE tussock.vouch DISABLE TRIGGER USER") // which dates the end
	s.seed(t, "UPDATE tussock.vouch SET ended_at = ended_at - interval '31 days' WHERE owner_id = $1 AND person_id = $2", s.b.Person, s.boss.Person)
	if after := reads(); after.Words != before.Words-1 {
		t.Errorf("before %+v, 31 days later %+v", before, after)
	}
}
