package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// What somebody was allowed to begin ends with what allowed it.

// TestDepartureOfAFormerOwner: what an owner asked for before being taken off a ranch is not done to those who own it since;
// where nobody does, it is: a ranch without an owner cannot be kept from its last one's wish.
func TestDepartureOfAFormerOwner(t *testing.T) {
	for _, kind := range []string{postgres.EraseKind, postgres.HandOverKind} {
		for _, shared := range []bool{true, false} {
			t.Run(fmt.Sprintf("%s/shared=%v", kind, shared), func(t *testing.T) {
				s := newStage(t)
				var second access.Actor
				if shared {
					second = s.Member(t, s.boss, access.Landowner, "Second owner", s.ranchA)
				}
				heir := s.Member(t, s.boss, access.Landowner, "Heir Newcomb")
				d := postgres.Departure{Kind: kind, Ranch: s.ranchA, WithRows: true, Heir: s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", heir.Person)}
				var id access.ID
				s.As(t, s.a, func(tx *postgres.Tx) (err error) { id, err = tx.Depart(d); return err })
				if kind == postgres.HandOverKind {
					s.As(t, heir, func(tx *postgres.Tx) error { return tx.AnswerOffer(id, true) })
				}
				s.TakeOff(t, s.boss, s.a.Person, s.ranchA)
				done := s.later(t, 15*24*time.Hour)
				if shared != (len(done) == 0) {
					t.Fatalf("done: %+v", done)
				}
				if shared {
					if len(s.Again(t, second).Ranches) != 1 || len(s.Again(t, heir).Ranches) != 0 || s.text(t, "SELECT count(*) FROM tussock.nest WHERE ranch_id = $1", s.ranchA) == "0" {
						t.Error("the owner who stayed lost the ranch")
					}
					// And nothing is left under way that keeps the owner from asking for the same.
					s.As(t, second, func(tx *postgres.Tx) error { _, err := tx.Depart(d); return err })
				}
			})
		}
	}
}

// TestHeirCalledOff: with a hand-over its new owner's invitation ends, and no other.
func TestHeirCalledOff(t *testing.T) {
	s := newStage(t)
	var token, other, again string
	var id access.ID
	s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
		other, err = tx.Invite(access.Biologist, "", "heir@example.org", nil)
		return err
	})
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		if id, err = tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchA, Heir: "heir@example.org"}); err == nil {
			token, err = tx.InviteHeir(id)
		}
		return err
	})
	join := func(token, email string) error {
		_, err := s.DB.AcceptInvitation(t.Context(), token, postgres.Acceptance{Name: "Stranger Bold", Email: email, Hash: "x"})
		return err
	}
	if err := join(token, "heir@example.org"); !errors.Is(err, errs.NotFound) {
		t.Errorf("without a coordinator’s yes a stranger joined: %v", err)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.CallOff(id) })
	// Once more, with the yes: who came in by it goes with it.
	s.As(t, s.b, func(tx *postgres.Tx) (err error) {
		if id, err = tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchB, Heir: "second@example.org"}); err == nil {
			again, err = tx.InviteHeir(id)
		}
		return err
	})
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		list, err := tx.Invitations()
		for _, i := range list {
			if i.State == "waiting" {
				err = errors.Join(err, tx.LetHeir(i.ID, true))
			}
		}
		return err
	})
	if err := join(again, ""); err != nil {
		t.Fatalf("with the yes: %v", err)
	}
	s.As(t, s.b, func(tx *postgres.Tx) error { return tx.CallOff(id) })
	if got := s.text(t, "SELECT count(*) FILTER (WHERE left_at IS NULL) || '/' || count(*) FROM tussock.person WHERE heir_of = '"+string(id)+"'"); got != "0/1" {
		t.Errorf("members who came in by a hand-over that was called off: %s", got)
	}
	if got := s.text(t, "SELECT count(*) FROM tussock.account WHERE email = 'second@example.org'"); got != "0" {
		t.Error("their account is left")
	}
	for token, want := range map[string]string{token: "revoked", other: "open"} {
		if inv, err := s.DB.Invitation(t.Context(), token); err != nil || inv.State != want {
			t.Errorf("an invitation of a %s is %s, want %s (%v)", inv.Role, inv.State, want, err)
		}
	}
	if _, err := s.DB.AcceptInvitation(t.Context(), token, postgres.Acceptance{Name: "Heir", Hash: "$argon2id$x"}); !errors.Is(err, errs.NotFound) {
		t.Errorf("the heir comes in: %v", err)
	}
}

// TestHalfOpenEnds: with all sessions of a member, whoever ends them, ends what is half open: links, codes, proofs that are
// waited for. Nobody else's does.
func TestHalfOpenEnds(t *testing.T) {
	for name, end := range map[string]func(*postgres.Tx, access.ID) error{
		"Member":      func(tx *postgres.Tx, _ access.ID) error { return tx.EndSessions(true) },
		"Coordinator": func(tx *postgres.Tx, member access.ID) error { return tx.Suspend(member) },
	} {
		t.Run(name, func(t *testing.T) {
			s := newStage(t)
			for _, who := range []access.Actor{s.a, s.b} {
				if err := s.DB.OpenStep(t.Context(), "link of "+who.Name, postgres.Step{Coop: who.Coop, Person: who.Person, Data: []byte("{}")}, time.Hour); err != nil {
					t.Fatal(err)
				}
			}
			actor := s.a
			if name == "Coordinator" {
				actor = s.boss
			}
			s.As(t, actor, func(tx *postgres.Tx) error { return end(tx, s.a.Person) })
			if _, err := s.DB.Step(t.Context(), "link of "+s.a.Name); !errors.Is(err, errs.NotFound) {
				t.Errorf("it is half open still: %v", err)
			}
			if _, err := s.DB.Step(t.Context(), "link of "+s.b.Name); err != nil {
				t.Errorf("another member's: %v", err)
			}
		})
	}
}

// TestFieldLinkWithoutItsMaker: a link ends with its maker's part in the ranch, for the phones that have it and for those that
// would, and tells no name any more; where the maker is kept out it goes on, as it only adds looks.
func TestFieldLinkWithoutItsMaker(t *testing.T) {
	s := newLookStage(t)
	ctx := context.Background()
	s.Member(t, s.boss, access.Landowner, "Second owner", s.ranchA)
	today := survey.DateFrom(time.Now())
	var secret string
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeFieldLink(postgres.FieldLink{Ranch: s.ranchA, Name: "Lupe", Lines: []access.ID{s.one.ID}, From: today, Through: today + 30})
		return err
	})
	session, err := s.DB.OpenField(ctx, secret, "a phone")
	if err != nil {
		t.Fatal(err)
	}
	check := func(when string, stands bool) {
		t.Helper()
		offer, err := s.DB.FieldOffer(ctx, secret)
		if err != nil || (offer.State == "open") != stands || (offer.Ranch+offer.Name != "") != stands || (len(offer.Lines) > 0) != stands {
			t.Errorf("%s: the link says %+v, %v", when, offer, err)
		}
		if _, err := s.DB.OpenField(ctx, secret, ""); (err == nil) != stands {
			t.Errorf("%s: opening it: %v", when, err)
		}
		if _, err := s.DB.Field(ctx, session); (err == nil) != stands {
			t.Errorf("%s: a phone that has it: %v", when, err)
		}
		if _, err := s.DB.KeepFieldLooks(ctx, session, []fieldwork.Look{s.look(s.one, fieldwork.Note, "note", "x")}); (err == nil) != stands {
			t.Errorf("%s: writing: %v", when, err)
		}
	}
	check("at first", true)
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.a.Person) })
	check("its maker is kept out", true)
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Restore(s.a.Person) })
	check("and is back", true)
	s.TakeOff(t, s.boss, s.a.Person, s.ranchA)
	check("its maker is off the ranch", false)
}

// TestRoomForPhotos: neither a member nor a link fills the disk with photos (OWASP ASVS 5.0, 5.2.4); what fits, fits by both.
func TestRoomForPhotos(t *testing.T) {
	s := newLookStage(t)
	ctx := context.Background()
	today := survey.DateFrom(time.Now())
	var secret string
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeFieldLink(postgres.FieldLink{Ranch: s.ranchA, Name: "Lupe", Lines: []access.ID{s.one.ID}, From: today, Through: today})
		return err
	})
	session, err := s.DB.OpenField(ctx, secret, "")
	if err != nil {
		t.Fatal(err)
	}
	member := func() error {
		return s.DB.As(ctx, s.hand, func(tx *postgres.Tx) error {
			return tx.KeepPhoto(s.ranchA, s.one.ID, access.ID(uuid.NewString()), make([]byte, 1000))
		})
	}
	link := func() error {
		return s.DB.KeepFieldPhoto(ctx, session, s.one.ID, access.ID(uuid.NewString()), make([]byte, 1000))
	}
	full := func(rows, size int) {
		s.seed(t, "DELETE FROM tussock.photo")
		s.seed(t, "ALTER TABLE tussock.photo DISABLE TRIGGER USER") // which adds up all photos for each
		s.seed(t, `WITH one AS MATERIALIZED (SELECT decode(repeat('00', $5), 'hex') AS data)
			INSERT INTO tussock.photo (coop_id, ranch_id, id, line_id, data) SELECT $1, $2, gen_random_uuid(), $3, data FROM one, generate_series(1, $4)`,
			s.a.Coop, s.ranchA, s.one.ID, rows, size)
		s.seed(t, "ALTER TABLE tussock.photo ENABLE TRIGGER USER")
	}
	for _, tt := range []struct{ rows, size int }{{4999, 1}, {1250, 399_999}} { // one more fits; 500 MB less 1250 bytes
		full(tt.rows, tt.size)
		for i, keep := range []func() error{member, link} {
			if err := keep(); (i == 0) != (err == nil) || err != nil && !errors.Is(err, errs.Invalid) {
				t.Errorf("%d photos of %d bytes and %d: %v", tt.rows, tt.size, i+1, err)
			}
		}
	}
}

// TestLimitsAtOnce: many at the same moment make no more tokens than one after the other.
func TestLimitsAtOnce(t *testing.T) {
	s := newStage(t)
	var all sync.WaitGroup
	for i := range 40 {
		all.Go(func() {
			err := s.DB.As(context.Background(), s.a, func(tx *postgres.Tx) error { _, err := tx.MakeToken(fmt.Sprint(i), 30); return err })
			if err != nil && !errors.Is(err, errs.Conflict) {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if n := s.text(t, "SELECT count(*) FROM tussock.api_token WHERE person_id = $1", s.a.Person); n != "20" {
		t.Errorf("%s tokens, want 20", n)
	}
}

// TestReplacedAtOnce: two files that take the place of the same one never both count, even where one is restored in the moment
// in which the other is sent.
func TestReplacedAtOnce(t *testing.T) {
	s := newStage(t)
	send := func(tx *postgres.Tx, data string, replaces access.ID) (id access.ID, err error) {
		id, _, err = tx.Send(postgres.Sending{Ranch: s.ranchA, File: data, Data: []byte(data), Rows: season(t, ""), Replaces: replaces})
		return id, err
	}
	var second access.ID
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		if second, err = send(tx, "second", s.uploadA); err == nil {
			err = tx.UndoUpload(second)
		}
		return err
	})
	restored := make(chan error)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		_, err := send(tx, "third", s.uploadA)
		go func() {
			restored <- s.DB.As(context.Background(), s.a, func(tx *postgres.Tx) error { return tx.RestoreUpload(second) })
		}()
		for range 200 { // until it waits for this one
			if s.text(t, "SELECT count(*) FROM pg_locks WHERE NOT granted AND database = (SELECT oid FROM pg_database WHERE datname = current_database()) OR NOT granted AND locktype = 'transactionid'") != "0" {
				break
			}
			time.Sleep(10 * time.Millisecond)
		}
		return err
	})
	if err := <-restored; !errors.Is(err, errs.Conflict) {
		t.Errorf("restoring: %v", err)
	}
	if n := s.text(t, "SELECT count(*) FROM tussock.upload WHERE ranch_id = $1 AND state = 'current'", s.ranchA); n != "1" {
		t.Errorf("%s files of one season count", n)
	}
}
