package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// stepBack sets the database's clock back: all that was written so far was written under a clock that went a day ahead.
func (s *stage) stepBack(t *testing.T) {
	t.Helper()
	ctx := context.Background()
	admin, err := pgx.Connect(ctx, s.AdminURL)
	if err != nil {
		t.Fatal(err)
	}
	defer admin.Close(ctx)
	if _, err := admin.Exec(ctx, "SET session_replication_role = replica"); err != nil {
		t.Skipf("only a superuser can move what triggers watch: %v", err)
	}
	for _, table := range strings.Fields(s.text(t, `SELECT string_agg(DISTINCT table_schema || '.' || table_name, ' ') FROM information_schema.columns
		WHERE table_schema IN ('tussock', 'pub') AND data_type = 'timestamp with time zone'`)) {
		set := s.text(t, `SELECT string_agg(format('%I = %I + interval %L', column_name, column_name, '26 hours'), ', ') FROM information_schema.columns
			WHERE table_schema || '.' || table_name = $1 AND data_type = 'timestamp with time zone'`, table)
		if _, err := admin.Exec(ctx, "UPDATE "+table+" SET "+set); err != nil {
			t.Fatalf("%s: %v", table, err)
		}
	}
}

// TestClockStepsBack: what is said last counts, and what was ended stays ended, when the database's clock steps back in between.
func TestClockStepsBack(t *testing.T) {
	t.Run("Consent", func(t *testing.T) {
		s := newStage(t)
		say := func(level int) {
			t.Helper()
			s.As(t, s.a, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchA, level) })
			s.As(t, s.a, func(tx *postgres.Tx) error {
				c, err := tx.Consent(s.ranchA)
				r, err2 := tx.Ranch(s.ranchA)
				if c.Level != level || r.Consent != level {
					t.Errorf("after saying %d the owner reads %d and %d", level, c.Level, r.Consent)
				}
				return errors.Join(err, err2)
			})
			if got := s.text(t, "SELECT tussock.says_yes(coop_id, id)::text FROM tussock.ranch WHERE id = $1", s.ranchA); got != fmt.Sprint(level == 1) {
				t.Errorf("after saying %d a cut-off would find a yes: %s", level, got)
			}
			s.raw(t, s.a.Session, func(tx pgx.Tx) {
				var least int
				if err := tx.QueryRow(t.Context(), "SELECT tussock.my_least()").Scan(&least); err != nil || (least == 5) != (level == 1) {
					t.Errorf("after saying %d the owner reads cells on %d: %v", level, least, err)
				}
			})
		}
		for _, level := range []int{0, 1, 0} {
			s.stepBack(t)
			say(level)
		}
	})
	t.Run("Sharing", func(t *testing.T) {
		s := newStage(t)
		sharings := func() int {
			list, _, err := s.named(s.biologist)
			if err != nil {
				t.Fatal(err)
			}
			return len(list)
		}
		id := s.share(t)
		if sharings() != 1 {
			t.Fatal("nothing is shared")
		}
		s.stepBack(t)
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.EndSharing(id) })
		if sharings() != 0 {
			t.Error("an ended sharing stands")
		}
		s.stepBack(t)
		s.share(t)
		s.stepBack(t)
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchA, 0) })
		if sharings() != 0 {
			t.Error("a sharing outlives the consent")
		}
		s.stepBack(t)
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchA, 1) })
		if sharings() != 0 {
			t.Error("a sharing that ended with the consent stands again with the next")
		}
	})
	t.Run("Membership", func(t *testing.T) {
		s := newStage(t)
		out := func(what string, a access.Actor) {
			t.Helper()
			if _, err := s.DB.ActorOf(t.Context(), a.Session); !errors.Is(err, errs.Unauthenticated) {
				t.Errorf("%s: %v", what, err)
			}
		}
		s.stepBack(t)
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Unassign(s.hand.Person, s.ranchA) })
		if got := s.Again(t, s.hand); len(got.Ranches) != 0 {
			t.Errorf("the hand still has %v", got.Ranches)
		}
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(s.hand.Person, s.ranchA) })
		s.Confirm(t)
		if got := s.Again(t, s.hand); len(got.Ranches) != 1 {
			t.Errorf("assigned again the hand has %v", got.Ranches)
		}
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.planner.Person) })
		out("suspended", s.planner)
		s.stepBack(t)
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Restore(s.planner.Person) })
		s.seed(t, "UPDATE tussock.person SET suspended_first = NULL WHERE id = $1", s.planner.Person)
		s.stepBack(t)
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.planner.Person) })
		out("suspended again", s.planner)
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.RemoveMember(s.biologist.Person) })
		out("removed", s.biologist)
	})
	t.Run("Departure", func(t *testing.T) {
		s := newStage(t)
		var id access.ID
		ask := func(d postgres.Departure) {
			t.Helper()
			s.As(t, s.a, func(tx *postgres.Tx) (err error) { id, err = tx.Depart(d); return err })
		}
		ask(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchA})
		s.stepBack(t)
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.CallOff(id) })
		if done := s.later(t, 30*24*time.Hour); len(done) != 0 {
			t.Errorf("what was called off is done: %+v", done)
		}
		heir := s.Member(t, s.boss, access.Landowner, "Heir Newcomb")
		s.stepBack(t)
		ask(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchA, WithRows: true, Heir: s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", heir.Person)})
		s.stepBack(t)
		s.As(t, heir, func(tx *postgres.Tx) error { return tx.AnswerOffer(id, true) })
		if done := s.later(t, 30*24*time.Hour); len(done) != 1 {
			t.Fatalf("handed over: %+v", done)
		}
		heir = s.Again(t, heir)
		if len(heir.Ranches) != 1 || len(s.Again(t, s.a).Ranches) != 0 || len(s.Again(t, s.hand).Ranches) != 0 {
			t.Error("the ranch is not the heir's alone")
		}
		s.As(t, heir, func(tx *postgres.Tx) error {
			r, err := tx.Ranch(s.ranchA)
			if r.Consent != 0 {
				t.Errorf("the heir's ranch has the consent of before: %d", r.Consent)
			}
			return err
		})
	})
	t.Run("Secrets", func(t *testing.T) {
		s := newStage(t)
		token, ended := s.tokenOf(t, s.a), s.SignIn(t, postgres.Credentials{Coop: s.a.Coop, Person: s.a.Person})
		var invitation, feed string
		s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
			invitation, err = tx.Invite(access.Planner, "", "", nil)
			return err
		})
		s.As(t, s.a, func(tx *postgres.Tx) (err error) {
			feed, err = tx.MakeFeed(true, words.English)
			return err
		})
		s.stepBack(t)
		s.As(t, s.a, func(tx *postgres.Tx) error {
			tokens, err := tx.Tokens()
			feeds, err2 := tx.Feeds()
			if len(tokens) != 1 || len(feeds) != 1 {
				t.Fatalf("%d tokens, %d feeds", len(tokens), len(feeds))
			}
			return errors.Join(err, err2, tx.RevokeToken(tokens[0].ID), tx.RevokeFeed(feeds[0].ID))
		})
		s.As(t, s.boss, func(tx *postgres.Tx) error {
			list, err := tx.Invitations()
			for _, i := range list {
				if i.State == "open" {
					err = errors.Join(err, tx.RevokeInvitation(i.ID))
				}
			}
			return err
		})
		if err := s.DB.CloseSession(t.Context(), ended.Session); err != nil {
			t.Fatal(err)
		}
		if _, err := s.DB.Bearer(t.Context(), token, ""); !errors.Is(err, errs.Unauthenticated) {
			t.Errorf("a revoked token: %v", err)
		}
		if _, err := s.DB.ActorOf(t.Context(), ended.Session); !errors.Is(err, errs.Unauthenticated) {
			t.Errorf("a closed session: %v", err)
		}
		if i, err := s.DB.Invitation(t.Context(), invitation); err != nil || i.State != "revoked" {
			t.Errorf("a revoked invitation is %q, %v", i.State, err)
		}
		if got := s.text(t, "SELECT count(*) FROM tussock.calendar_lines(sha256(convert_to($1, 'UTF8')))", feed); got != "0" {
			t.Errorf("a revoked calendar has %s lines", got)
		}
	})
	t.Run("Sheets", func(t *testing.T) {
		s := newStage(t)
		s.stepBack(t)
		later := season(t, "")
		later.Nests[0].Visits[1].State = survey.Taken
		s.As(t, s.a, func(tx *postgres.Tx) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: s.ranchA, File: "again.csv", Data: []byte("later bytes"), Rows: later})
			return err
		})
		s.As(t, s.a, func(tx *postgres.Tx) error {
			d, err := tx.Survey([]access.ID{s.ranchA}, 0)
			for _, n := range d.Nests {
				if n.Number == "1" && n.Transect == "1" && n.Visits[1].State != survey.Taken {
					t.Error("the sheet sent before counts")
				}
			}
			list, err2 := tx.Uploads(s.ranchA)
			if len(list) != 2 || list[0].File != "again.csv" {
				t.Errorf("sheets: %+v", list)
			}
			return errors.Join(err, err2)
		})
	})
}
