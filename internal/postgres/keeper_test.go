package postgres_test

import (
	"context"
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// TestCoordinatorsComeAndGo: who became a coordinator or stopped being one is there for every member to read, and no statement dates it
// back.
func TestCoordinatorsComeAndGo(t *testing.T) {
	s := newStage(t)
	second := s.Member(t, s.boss, access.Coordinator, "Second")
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
	s.Remove(t, s.boss, second.Person)
	s.Member(t, s.boss, access.Coordinator, "Friend")
	for _, who := range []access.Actor{s.a, s.hand, s.planner} {
		s.As(t, who, func(tx *postgres.Tx) error {
			list, err := tx.CoordinatorChanges()
			if len(list) != 2 || list[0].Name != "Friend" || list[0].What != postgres.CoordinatorCame || list[1].Name != "Second" || list[1].What != postgres.CoordinatorGone {
				t.Errorf("%s reads %+v", who.Name, list)
			}
			return err
		})
	}
	s.As(t, s.stranger, func(tx *postgres.Tx) error {
		list, err := tx.CoordinatorChanges()
		for _, c := range list {
			if c.Name == "Second" {
				t.Error("another cooperative's member reads of it")
			}
		}
		return err
	})
	s.seed(t, "UPDATE tussock.person SET remove_asked_at = now() - interval '15 days', remove_asked_by = $1 WHERE name = 'Friend'", s.boss.Person) // they may be removed
	s.raw(t, s.boss.Session, func(tx pgx.Tx) {
		for _, statement := range []string{
			"UPDATE tussock.person SET joined_at = now() - interval '1 year'",
			"UPDATE tussock.person SET left_at = now() - interval '1 year', role = 'planner'",
			"INSERT INTO tussock.approval (coop_id, season, edition, person_id, yes) SELECT coop_id, 2025, 1, id, true FROM tussock.person",
		} {
			if got := try(t, tx, statement); got != refused {
				t.Errorf("%s: got %v, want %v", statement, got, refused)
			}
		}
		if got := try(t, tx, "UPDATE tussock.person SET left_at = now() - interval '1 year' WHERE name = 'Friend'"); got != 1 {
			t.Fatalf("the removal: %v", got)
		}
		if n := count(t, tx, "(SELECT 1 FROM tussock.person WHERE name = 'Friend' AND left_at < now() - interval '1 day') x"); n != 0 {
			t.Error("a coordinator dates another's leaving back")
		}
	})
}

// A ranch whose owner is gone is private, and a new owner comes in by two landowners' word, a week after everybody could
// read of it; whatever the coordinator does.
func TestHeir(t *testing.T) {
	ctx := context.Background()
	s := newStage(t)
	// Two more landowners with results, here for long.
	ranchC, c := s.Ranch(t, s.boss, postgres.Ranch{Name: "Salt Creek"})
	s.fill(t, c, ranchC)
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")

	level := func() string {
		got, err := s.Owner.Text(ctx, "SELECT level::text FROM tussock.consent WHERE ranch_id = $1 ORDER BY given_at DESC LIMIT 1", s.ranchA)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if level() != "1" {
		t.Fatalf("the ranch starts at level %q", level())
	}
	s.Remove(t, s.boss, s.a.Person)
	if level() != "0" {
		t.Error("the ranch is still counted after its owner has gone")
	}

	heir := s.joinsUnconfirmed(t, access.Landowner, "Heir", s.ranchA)
	puppet := s.joinsUnconfirmed(t, access.Landowner, "Puppet") // the coordinator's own second name, with a ranch
	var puppets access.ID
	s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
		if puppets, err = tx.SaveRanch(postgres.Ranch{Name: "Puppet"}); err != nil {
			return err
		}
		return tx.Assign(puppet.Person, puppets)
	})
	s.As(t, puppet, func(tx *postgres.Tx) error { return tx.ComeOnto(puppets, true) })
	s.Vouch(t, s.boss.Coop)
	s.fill(t, s.Again(t, puppet), puppets)

	say := func(who access.Actor, yes bool) (in bool, err error) {
		err = s.DB.As(ctx, who, func(tx *postgres.Tx) (err error) {
			in, err = tx.GiveWord(heir.Person, s.ranchA, yes)
			return err
		})
		return in, err
	}
	for name, who := range map[string]access.Actor{"the coordinator": s.boss, "the heir": heir, "a puppet of today": puppet, "a hand": s.hand, "the biologist": s.biologist, "a stranger": s.stranger} {
		for _, yes := range []bool{true, false} {
			if _, err := say(who, yes); !errors.Is(err, errs.NotFound) {
				t.Errorf("%s says %v: %v", name, yes, err)
			}
		}
	}
	if _, err := say(s.b, true); !errors.Is(err, errs.Invalid) {
		t.Errorf("a yes within the week: %v", err)
	}
	s.seed(t, "UPDATE tussock.assignment SET since = since - interval '8 days' WHERE person_id = $1", heir.Person)
	s.As(t, s.b, func(tx *postgres.Tx) error {
		list, err := tx.Heirs()
		if len(list) != 1 || list[0].Name != "Heir" || list[0].RanchName != "Dry Fork" || list[0].Words != 0 || list[0].Mine {
			t.Errorf("a landowner is asked about %+v", list)
		}
		return err
	})
	if in, err := say(s.b, true); err != nil || in {
		t.Errorf("the first word: %v, %v", in, err)
	}
	if in, err := say(s.b, true); err != nil || in {
		t.Errorf("the same word twice: %v, %v", in, err)
	}
	if now := s.Again(t, heir); len(now.Ranches) != 0 {
		t.Error("one word let the heir in")
	}
	if in, err := say(c, true); err != nil || !in {
		t.Errorf("the second word: %v, %v", in, err)
	}
	if now := s.Again(t, heir); len(now.Ranches) != 1 {
		t.Error("two words did not let the heir in")
	}
	if level() != "0" {
		t.Error("the new owner was never asked for consent, and the ranch is counted")
	}

	t.Run("No", func(t *testing.T) {
		s.TakeOff(t, s.boss, heir.Person, s.ranchA)
		heir = s.joinsUnconfirmed(t, access.Landowner, "Another", s.ranchA)
		if _, err := say(c, false); err != nil {
			t.Fatal(err)
		}
		if _, err := say(s.b, true); !errors.Is(err, errs.NotFound) {
			t.Errorf("a yes after a no: %v", err)
		}
	})
	t.Run("Hand", func(t *testing.T) {
		if hand := s.joinsUnconfirmed(t, access.Hand, "Eve", s.ranchA); len(hand.Ranches) != 0 {
			t.Error("a hand came onto a ranch that has no owner to ask")
		}
	})
	t.Run("HandFirst", func(t *testing.T) { // results sent by a hand before there was any owner
		var fresh access.ID
		s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
			fresh, err = tx.SaveRanch(postgres.Ranch{Name: "Fresh"})
			return err
		})
		hand := s.joinsUnconfirmed(t, access.Hand, "First hand", fresh)
		s.As(t, hand, func(tx *postgres.Tx) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: fresh, File: "x.csv", Data: []byte("x"), Rows: season(t, "")})
			return err
		})
		if fay := s.joinsUnconfirmed(t, access.Landowner, "Fay", fresh); len(fay.Ranches) != 0 {
			t.Error("a coordinator made somebody the owner of what a hand had sent")
		}
	})
	s.raw(t, s.boss.Session, func(tx pgx.Tx) {
		if got := count(t, tx, "tussock.owner_vouch"); got != refused {
			t.Errorf("the words are read by the coordinator: %v", got)
		}
	})
}
