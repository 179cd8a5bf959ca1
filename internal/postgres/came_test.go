package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

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
