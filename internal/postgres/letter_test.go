package postgres_test

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// TestConsentLetters: an owner is asked from the first of February on, once more in the last fortnight, and told when a yes
// has lapsed; each once. Whoever said no, or renewed in time, gets none.
func TestConsentLetters(t *testing.T) {
	s := newStage(t)
	var through time.Time
	s.As(t, s.a, func(tx *postgres.Tx) error {
		if err := tx.SetConsent(s.ranchA, 1); err != nil {
			return err
		}
		c, err := tx.Consent(s.ranchA)
		through = c.Through
		return err
	})
	s.As(t, s.b, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchB, 0) })
	february := time.Date(through.Year(), time.February, 1, 9, 0, 0, 0, time.UTC)
	defer func() { s.DB.Now = nil }()
	for _, tt := range []struct {
		name string
		at   time.Time
		want string // the stage of the one letter, "" for none
	}{
		{"in January", february.AddDate(0, 0, -1), ""},
		{"in February", february, postgres.ConsentAsked},
		{"a day later", february.AddDate(0, 0, 1), ""},
		{"in the last fortnight", through.AddDate(0, 0, -5), postgres.ConsentLast},
		{"on the last day", through.Add(12 * time.Hour), ""},
		{"when it has lapsed", through.AddDate(0, 0, 1), postgres.ConsentLapsed},
		{"later", through.AddDate(0, 0, 20), ""},
	} {
		s.DB.Now = func() time.Time { return tt.at }
		list, err := s.DB.ConsentLetters(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		list = slices.DeleteFunc(list, func(l postgres.ConsentLetter) bool { return l.Cooperative != "Bluestem" })
		switch {
		case tt.want == "" && len(list) == 0:
		case len(list) != 1 || list[0].Stage != tt.want || list[0].Ranch != "Dry Fork" || !list[0].Through.Equal(through):
			t.Errorf("%s: %+v, want %q", tt.name, list, tt.want)
		}
	}
	// A no after a yes ends the asking.
	s.seed(t, "DELETE FROM tussock.owner_letter WHERE coop_id = $1", s.boss.Coop)
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchA, 0) })
	s.DB.Now = func() time.Time { return february }
	if list, err := s.DB.ConsentLetters(context.Background()); err != nil || len(list) != 0 {
		t.Errorf("after a no: %+v, %v", list, err)
	}
}

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
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Unassign(s.a.Person, s.ranchA) })
	wants("taken off", fmt.Sprintf("%s: Dry Fork, proposed %q, by %q", email(s.a), "", s.boss.Name))
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(second.Person, s.ranchA) })
	wants("proposed after it", fmt.Sprintf("%s: Dry Fork, proposed %q, by %q", email(s.a), "Second puppet", ""))
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(hand.Person, s.ranchB) })
	wants("a hand")
}
