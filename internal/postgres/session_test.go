package postgres_test

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"

	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// A member sees their own sign-ins and ends one; nobody else can do either, and no program that reads with a token.
func TestSessions(t *testing.T) {
	s := newStage(t)
	other := s.SignIn(t, postgres.Credentials{Coop: s.a.Coop, Person: s.a.Person})
	var mine []postgres.Session
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		mine, err = tx.Sessions()
		return err
	})
	if len(mine) != 2 || !mine[0].This || mine[1].This || mine[0].ID == mine[1].ID {
		t.Fatalf("got %+v, want two of which the first is this", mine)
	}
	for name, actor := range map[string]string{"b": s.b.Session, "boss": s.boss.Session, "nobody": postgres.NewToken()} {
		s.raw(t, actor, func(tx pgx.Tx) {
			var closed bool
			if err := tx.QueryRow(t.Context(), "SELECT tussock.close_my_session($1)", mine[1].ID).Scan(&closed); err != nil || closed {
				t.Errorf("%s ends it: %v, %v", name, closed, err)
			}
		})
	}
	s.rawReading(t, s.tokenOf(t, s.a), func(tx pgx.Tx) {
		if got := count(t, tx, "tussock.my_sessions()"); got != 0 {
			t.Errorf("a token sees %v sign-ins", got)
		}
	})
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.EndSession(mine[1].ID) })
	if _, err := s.DB.ActorOf(t.Context(), other.Session); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("the ended session is still somebody: %v", err)
	}
	err := s.DB.As(t.Context(), s.a, func(tx *postgres.Tx) error { return tx.EndSession(mine[1].ID) })
	if !errors.Is(err, errs.NotFound) {
		t.Errorf("ending it again: got %v", err)
	}
}
