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

// TestWhoCame: who comes in under a member's name is told from that member: by the address where the reader may read it, else as new; and
// the member reads it as about them.
func TestWhoCame(t *testing.T) {
	s := newStage(t)
	june := s.Member(t, s.boss, access.Landowner, "June Aldous")
	var heir string
	s.As(t, s.b, func(tx *postgres.Tx) error {
		id, err := tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchB, Heir: "decoy@example.org"})
		if err == nil {
			heir, err = tx.InviteHeir(id)
		}
		return err
	})
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		return tx.LetHeir(access.ID(s.text(t, "SELECT id::text FROM tussock.invitation WHERE heir_of IS NOT NULL")), true)
	})
	s.Join(t, heir, "June  ALDOUS")
	for name, tt := range map[string]struct {
		who     access.Actor
		address string
		mine    bool
	}{"the one of that name": {june, "", true}, "the ranch's owner": {s.b, "decoy@example.org", true}, "a coordinator": {s.boss, "decoy@example.org", false}, "another landowner": {s.a, "", false}} {
		s.As(t, tt.who, func(tx *postgres.Tx) error {
			list, err := tx.RosterChanges(time.Time{})
			i := slices.IndexFunc(list, func(x postgres.RosterChange) bool { return x.Kind == postgres.HeirJoined })
			if i < 0 || list[i].Address != tt.address || list[i].Mine != tt.mine || !list[i].New {
				t.Errorf("%s reads %+v", name, list)
			}
			return err
		})
	}
	s.As(t, s.planner, func(tx *postgres.Tx) error {
		list, err := tx.RosterChanges(time.Time{})
		for _, x := range list {
			if x.Address != "" || x.New {
				t.Errorf("a planner reads %+v", x)
			}
		}
		return err
	})
}
