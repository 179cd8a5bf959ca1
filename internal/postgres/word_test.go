package postgres_test

import (
	"slices"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// TestWordTakenBack: a landowner's word that is taken back the night before counts for 30 days more, so that whom it was about can find
// another; they read from when on they are not counted, and get a letter.
func TestWordTakenBack(t *testing.T) {
	s := newStage(t)
	standing := func() (got postgres.Standing) {
		s.As(t, s.a, func(tx *postgres.Tx) error {
			m, err := tx.Standings()
			got = m[s.ranchA]
			if len(m) != 1 {
				t.Errorf("an owner reads the standing of %d ranches", len(m))
			}
			return err
		})
		return got
	}
	if got := standing(); !got.Counted || got.Until != nil {
		t.Fatalf("before: %+v", got)
	}
	voucher := access.ID(s.text(t, "SELECT v.person_id::text FROM tussock.vouch v JOIN tussock.person p ON p.id = v.person_id WHERE v.owner_id = $1 AND p.role = 'landowner'", s.a.Person))
	if voucher != s.b.Person {
		t.Fatalf("who vouches for the owner is %s", voucher)
	}
	s.As(t, s.b, func(tx *postgres.Tx) error { return tx.EndVouch(s.a.Person) })
	got := standing()
	if !got.Counted || got.Until == nil || time.Until(*got.Until) < 29*24*time.Hour || time.Until(*got.Until) > 31*24*time.Hour {
		t.Errorf("after: %+v", got)
	}
	letters, err := s.DB.RosterLetters(t.Context())
	if err != nil || !slices.ContainsFunc(letters, func(l postgres.RosterLetter) bool {
		return l.Kind == postgres.VouchEnded && l.Ranch == "Dry Fork" && l.By == s.b.Name
	}) {
		t.Errorf("letters: %+v, %v", letters, err)
	}
	for _, statement := range []string{"ALTER TABLE tussock.vouch DISABLE TRIGGER USER", "UPDATE tussock.vouch SET ended_at = ended_at - interval '31 days' WHERE ended_at IS NOT NULL"} {
		s.seed(t, statement) // no statement of a member's dates a word back
	}
	if got := standing(); got.Counted || got.Until != nil {
		t.Errorf("a month later: %+v", got)
	}
}
