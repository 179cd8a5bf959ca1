package postgres_test

import (
	"context"
	"errors"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
)

// TestThroughPgBouncer: with transaction pooling, a connection is somebody else's after each transaction. Members at once see
// their own rows and no others; and a stranger on the same connections finds nothing of who was there before.
func TestThroughPgBouncer(t *testing.T) {
	s := newStage(t)
	db, address := s.Pooled(t)
	ctx := context.Background()
	token := s.tokenOf(t, s.a)
	var crowd sync.WaitGroup
	for _, m := range []struct {
		who   access.Actor
		ranch access.ID
	}{{s.a, s.ranchA}, {s.b, s.ranchB}, {s.hand, s.ranchA}, {s.stranger, s.ranchX}} {
		crowd.Go(func() {
			for i := range 60 {
				who, err := db.ActorOf(ctx, m.who.Session)
				if err != nil || who.Person != m.who.Person {
					t.Errorf("%s is %s: %v", m.who.Name, who.Name, err)
					return
				}
				err = db.As(ctx, who, func(tx *postgres.Tx) error {
					for _, ranch := range []access.ID{s.ranchA, s.ranchB, s.ranchX} {
						d, err := tx.Survey([]access.ID{ranch}, 0)
						if ranch != m.ranch && errors.Is(err, errs.NotFound) {
							continue
						}
						if err != nil {
							return err
						}
						if ranch != m.ranch || len(d.Nests) == 0 {
							t.Errorf("%s sees %d nests of ranch %s", who.Name, len(d.Nests), ranch)
						}
					}
					if i%20 == 19 && who.Role == access.Landowner {
						_, _, err := tx.Send(postgres.Sending{Ranch: m.ranch, File: "b.csv", Data: []byte{byte(i)}, Rows: season(t, "")})
						return err
					}
					return nil
				})
				if err != nil {
					t.Errorf("%s: %v", who.Name, err)
					return
				}
				if _, err := db.Bearer(ctx, token, ""); err != nil {
					t.Errorf("the token: %v", err)
				}
				if err := db.As(ctx, who, func(tx *postgres.Tx) error { return errors.New("no") }); err == nil {
					t.Error("a failure was none")
				}
			}
		})
	}
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	crowd.Go(func() {
		for range 300 {
			var said string
			var rows int
			err := conn.QueryRow(ctx, "SELECT coalesce(current_setting('tussock.viewer', true), ''), (SELECT count(*) FROM tussock.nest)").Scan(&said, &rows)
			if err != nil || said != "" || rows != 0 {
				t.Errorf("on a connection of others: %q, %d nests, %v", said, rows, err)
			}
		}
	})
	crowd.Wait()

	// What one transaction was told, kept on the connection for whoever comes next.
	tx := pgtest.Enter(t, conn, pgx.ReadWrite, s.a.Session)
	if _, err := tx.Exec(ctx, "SELECT set_config('tussock.viewer', current_setting('tussock.viewer'), false)"); err != nil {
		t.Fatal(err)
	}
	if got := count(t, tx, "tussock.nest"); got == 0 {
		t.Fatal("the transaction itself sees nothing")
	}
	if err := tx.Commit(ctx); err != nil {
		t.Fatal(err)
	}
	for range 10 {
		err := pgx.BeginFunc(ctx, conn, func(tx pgx.Tx) error {
			if _, err := tx.Exec(ctx, "SELECT pg_current_xact_id()"); err != nil {
				return err
			}
			if got := count(t, tx, "tussock.nest"); got != 0 {
				t.Errorf("left on the connection, it shows %v nests", got)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}
