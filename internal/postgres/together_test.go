package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// TestEachOwnerOneWord: of two owners nobody turns the other's no into a yes. Each has one word, which the other reads in the log and gets
// a letter about; a no stands until who said it says yes or owns the ranch no longer, and no word comes back with its owner.
func TestEachOwnerOneWord(t *testing.T) {
	for _, rule := range []bool{true, false} {
		t.Run(fmt.Sprintf("rule %v", rule), func(t *testing.T) {
			s := newStage(t)
			if !rule {
				for _, f := range []string{"says_yes", "said_yes", "opens_with_yes"} {
					without(t, s.Fixture, "tussock."+f+"(uuid, uuid)", "tussock.owners_say(coop, ranch)", "NULL::boolean")
				}
			}
			second := s.Member(t, s.boss, access.Landowner, "Second owner", s.ranchA)
			say := func(who access.Actor, level int) {
				t.Helper()
				s.As(t, who, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchA, level) })
			}
			counted := func() string {
				return s.text(t, "SELECT concat_ws(' ', tussock.says_yes($1, $2), tussock.said_yes($1, $2), tussock.opens_with_yes($1, $2))", s.boss.Coop, s.ranchA)
			}
			read := func(who access.Actor) (n int) {
				s.As(t, who, func(tx *postgres.Tx) error { r, err := tx.Ranch(s.ranchA); n = r.Consent; return err })
				return n
			}
			say(s.a, 0)
			for range 3 {
				say(second, 1)
			}
			if (counted() == "f f f") != rule {
				t.Errorf("after another owner's yes upon a no: %s", counted())
			}
			if !rule {
				return
			}
			if read(s.a) != 0 || read(second) != 0 {
				t.Error("the owners read that it is counted")
			}
			s.As(t, s.a, func(tx *postgres.Tx) error {
				notes, err := tx.Notes()
				n := 0
				for _, x := range notes {
					if x.Name == second.Name && x.What == postgres.SaidYes {
						n += x.Times
					}
				}
				said, err2 := tx.OwnersWords(s.ranchA)
				if n != 3 || len(said) != 2 || said[0].Yes || said[0].Person != s.a.Person || !said[1].Yes {
					t.Errorf("the owner's log has %d yeses of the other's, the words are %+v", n, said)
				}
				return errors.Join(err, err2)
			})
			letters, err := s.DB.WordLetters(context.Background())
			if err != nil || len(letters) != 4 || !slices.ContainsFunc(letters, func(l postgres.WordLetter) bool { return l.By == s.a.Name && !l.Yes && !l.Counted }) {
				t.Errorf("letters: %+v, %v", letters, err)
			}
			if again, err := s.DB.WordLetters(context.Background()); err != nil || len(again) != 0 {
				t.Errorf("again: %+v, %v", again, err)
			}
			say(s.a, 1)
			if counted() != "t t t" {
				t.Errorf("after the yes of who had said no: %s", counted())
			}
			// Who said no goes, and the other's yes counts; who comes back has yet to say their word.
			say(s.a, 0)
			s.seed(t, "UPDATE tussock.assignment SET until = now() WHERE person_id = $1 AND ranch_id = $2", s.a.Person, s.ranchA)
			if counted() != "t t t" {
				t.Errorf("the no of who owns it no longer: %s", counted())
			}
			s.seed(t, "UPDATE tussock.assignment SET until = now() WHERE ranch_id = $1 AND until IS NULL", s.ranchA)
			if counted() != "f f f" {
				t.Errorf("without owners: %s", counted())
			}
			s.seed(t, "INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind, since, confirmed_at) SELECT coop_id, $1, id, entity_id, 'owner', now() + interval '1 second', now() FROM tussock.ranch WHERE id = $2",
				second.Person, s.ranchA)
			if counted() != "f f f" {
				t.Errorf("an old yes came back with its owner: %s", counted())
			}
		})
	}
}

// TestOwnersHandOverTogether: with several owners a ranch goes to somebody else only with each one's yes, and never while one is asked off
// or suspended; all members read of it. A hand-over that waits blocks no deletion.
func TestOwnersHandOverTogether(t *testing.T) {
	ctx := context.Background()
	long := 60 * 24 * time.Hour
	setUp := func(t *testing.T) (s *stage, second, heir access.Actor, offer func(who access.Actor) (access.ID, error)) {
		s = newStage(t)
		second, heir = s.Member(t, s.boss, access.Landowner, "Second owner", s.ranchA), s.Member(t, s.boss, access.Landowner, "Heir Newcomb")
		email := s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", heir.Person)
		return s, second, heir, func(who access.Actor) (id access.ID, err error) {
			err = s.DB.As(ctx, who, func(tx *postgres.Tx) error {
				id, err = tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchA, Heir: email, WithRows: true})
				return err
			})
			if err == nil {
				s.As(t, heir, func(tx *postgres.Tx) error { return tx.AnswerOffer(id, true) })
			}
			return id, err
		}
	}
	for _, rule := range []bool{true, false} {
		t.Run(fmt.Sprintf("yes of each, rule %v", rule), func(t *testing.T) {
			s, second, heir, offer := setUp(t)
			if !rule {
				without(t, s.Fixture, "tussock.carry_out(timestamptz)", "tussock.hand_over_lacks(x) = '{}'", "true")
			}
			id, err := offer(second)
			if err != nil {
				t.Fatal(err)
			}
			if done := s.later(t, long); (len(done) == 0) != rule {
				t.Errorf("one of two owners hands it over: %+v", done)
			}
			if !rule {
				return
			}
			for _, other := range []access.Actor{second, heir, s.b, s.boss, s.hand} {
				if err := s.DB.As(ctx, other, func(tx *postgres.Tx) error { return tx.AgreeHandOver(id) }); !errors.Is(err, errs.NotFound) {
					t.Errorf("%s says an owner's yes: %v", other.Name, err)
				}
			}
			s.As(t, s.a, func(tx *postgres.Tx) error {
				list, err := tx.Departures()
				if len(list) != 1 || list[0].Lacks != 1 || !list[0].Mine {
					t.Errorf("the other owner reads %+v", list)
				}
				return errors.Join(err, tx.AgreeHandOver(id))
			})
			if done := s.later(t, long); len(done) != 1 || len(s.Again(t, heir).Ranches) != 1 {
				t.Errorf("with both owners' yes: %+v", done)
			}
			want := []string{"handed over: Dry Fork, by Second owner", "hand over yes: Dry Fork, by " + s.a.Name, "hand over: Dry Fork, by Second owner"}
			if got := s.lines(t, s.b, postgres.Sells, postgres.SellsYes, postgres.SellsNot, postgres.Sold); !slices.Equal(got, want) {
				t.Errorf("members read %q, want %q", got, want)
			}
		})
	}
	t.Run("asked off", func(t *testing.T) {
		s, second, _, offer := setUp(t)
		id, err := offer(second)
		if err != nil {
			t.Fatal(err)
		}
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.AgreeHandOver(id) })
		for who, whom := range map[access.ID]access.Actor{second.Person: s.a, s.a.Person: second} {
			s.As(t, whom, func(tx *postgres.Tx) error { _, err := tx.TakeOff(who, s.ranchA); return err })
		}
		if done := s.later(t, long); len(done) != 0 {
			t.Errorf("handed over while each asks the other off: %+v", done)
		}
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.CallOff(id) })
		if _, err := offer(second); !errors.Is(err, errs.Conflict) {
			t.Errorf("asked for while each asks the other off: %v", err)
		}
	})
	t.Run("suspended", func(t *testing.T) {
		s, second, _, offer := setUp(t)
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.a.Person) })
		if _, err := offer(second); !errors.Is(err, errs.Conflict) {
			t.Errorf("asked for while the other owner is suspended: %v", err)
		}
	})
	t.Run("deleted meanwhile", func(t *testing.T) {
		s, second, heir, offer := setUp(t)
		id, err := offer(second)
		if err != nil {
			t.Fatal(err)
		}
		s.As(t, s.a, func(tx *postgres.Tx) error {
			_, err := tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchA})
			return errors.Join(err, tx.AgreeHandOver(id))
		})
		s.seed(t, "UPDATE tussock.departure SET asked_at = asked_at - interval '1 hour' WHERE kind = 'erase'")
		if done := s.later(t, long); len(done) != 1 || done[0].Kind != postgres.EraseKind || len(s.Again(t, heir).Ranches) != 0 {
			t.Errorf("a deletion beside a hand-over: %+v", done)
		}
		if open := s.text(t, "SELECT count(*) FROM tussock.departure WHERE done_at IS NULL AND called_off_at IS NULL"); open != "0" {
			t.Errorf("%s are under way for what is deleted", open)
		}
	})
	t.Run("handed over meanwhile", func(t *testing.T) {
		s, second, heir, offer := setUp(t)
		id, err := offer(second)
		if err != nil {
			t.Fatal(err)
		}
		s.As(t, s.a, func(tx *postgres.Tx) error {
			_, err := tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchA})
			return errors.Join(err, tx.AgreeHandOver(id))
		})
		s.seed(t, "UPDATE tussock.departure SET asked_at = asked_at + interval '1 hour' WHERE kind = 'erase'")
		if done := s.later(t, long); len(done) != 1 || done[0].Kind != postgres.HandOverKind || len(s.Again(t, heir).Ranches) != 1 {
			t.Errorf("a hand-over beside a deletion: %+v", done)
		}
		if s.opens(t, s.Again(t, heir), s.ranchA) == false {
			t.Error("the new owner's ranch was deleted by the old owner's asking")
		}
	})
}
