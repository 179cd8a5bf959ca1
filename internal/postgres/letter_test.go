package postgres_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// TestKeeperLetters: no coordinator takes an owner off a ranch, or puts another onto it, in silence.
func TestKeeperLetters(t *testing.T) {
	s := newStage(t)
	letters := func() (said []string) {
		t.Helper()
		list, err := s.DB.KeeperLetters(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range list {
			said = append(said, fmt.Sprintf("%s: %s, proposed %q, by %q", l.Email, l.Ranch, l.Proposed, l.By))
		}
		slices.Sort(said)
		return said
	}
	email := func(who access.Actor) string {
		return s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", who.Person)
	}
	wants := func(when string, want ...string) {
		t.Helper()
		if got := letters(); !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", when, got, want)
		}
		if again := letters(); len(again) != 0 {
			t.Errorf("%s, once more: %q", when, again)
		}
	}
	puppet, second := s.Member(t, s.boss, access.Landowner, "Puppet"), s.Member(t, s.boss, access.Landowner, "Second puppet")
	hand := s.Member(t, s.boss, access.Hand, "A hand")
	letters() // of those who were put onto the stage
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(puppet.Person, s.ranchA) })
	wants("proposed beside an owner", fmt.Sprintf("%s: Dry Fork, proposed %q, by %q", email(s.a), "Puppet", ""))
	s.TakeOff(t, s.boss, s.a.Person, s.ranchA)
	wants("taken off", fmt.Sprintf("%s: Dry Fork, proposed %q, by %q", email(s.a), "", s.boss.Name))
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(second.Person, s.ranchA) })
	wants("proposed after it", fmt.Sprintf("%s: Dry Fork, proposed %q, by %q", email(s.a), "Second puppet", ""))
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(hand.Person, s.ranchB) })
	wants("a hand")
}
