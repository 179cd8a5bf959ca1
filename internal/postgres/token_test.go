package postgres_test

import (
	"context"
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/survey"
)

// tokenOf makes a token for somebody.
func (s *stage) tokenOf(t testing.TB, a access.Actor) (secret string) {
	t.Helper()
	s.As(t, a, func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeToken("the office's notebook", 30)
		return err
	})
	return secret
}

// A token's bearer sees what the member sees, row by row, and is nobody where anything could be changed.
func TestTokenReadsAsItsMaker(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	for _, who := range []access.Actor{s.a, s.b, s.boss, s.biologist, s.planner} {
		secret := s.tokenOf(t, who)
		got, err := s.DB.Bearer(ctx, secret, "")
		if err != nil {
			t.Fatal(err)
		}
		if got.Person != who.Person || got.Role != who.Role || got.Known != who.Known || len(got.Ranches) != len(who.Ranches) {
			t.Errorf("bearer of %s's token = %+v, want %+v", who.Name, got, who)
		}
		for _, table := range []string{"tussock.nest", "tussock.upload_file", "tussock.person", "tussock.ranch", "pub.bulletin", "(SELECT row FROM pub.cell) x"} {
			var own, token any
			s.raw(t, who.Session, func(tx pgx.Tx) { own = count(t, tx, table) })
			s.rawReading(t, secret, func(tx pgx.Tx) { token = count(t, tx, table) })
			if own != token {
				t.Errorf("%s sees of %s: by session %v, by token %v", who.Name, table, own, token)
			}
		}
		s.raw(t, secret, func(tx pgx.Tx) {
			for _, table := range []string{"tussock.coop", "tussock.nest", "pub.bulletin"} {
				if got := count(t, tx, table); got != 0 {
					t.Errorf("%s's token where writing is possible sees of %s: %v, want 0", who.Name, table, got)
				}
			}
		})
		if _, err := s.DB.ActorOf(ctx, secret); !errors.Is(err, errs.Unauthenticated) {
			t.Errorf("%s's token as a session: %v, want unauthenticated", who.Name, err)
		}
	}
}

// rawReading is raw in a read-only transaction.
func (s *stage) rawReading(t testing.TB, session string, fn func(pgx.Tx)) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, s.AppURL)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	tx := pgtest.Enter(t, conn, pgx.ReadOnly, session)
	defer tx.Rollback(ctx)
	fn(tx)
}

// What a statement slipped into a reading transaction could try.
func TestTokenCannotWrite(t *testing.T) {
	s := newStage(t)
	secret := s.tokenOf(t, s.a)
	const readOnly = "25006" // read_only_sql_transaction
	s.rawReading(t, secret, func(tx pgx.Tx) {
		if got := count(t, tx, "tussock.nest"); got != 3 {
			t.Fatalf("the token sees %v nests, want 3", got)
		}
		for statement, want := range map[string]any{
			"DELETE FROM tussock.nest":                                readOnly,
			"UPDATE tussock.api_token SET revoked_at = now()":         readOnly,
			"SET TRANSACTION READ WRITE":                              "25001", // active_sql_transaction
			"SELECT tussock.close_my_sessions(false)":                 readOnly,
			"SELECT tussock.use_token('00', NULL)":                    refused,
			"SELECT token_hash FROM tussock.api_token":                refused,
			"SELECT * FROM tussock.viewer()":                          refused,
			"SELECT set_config('transaction_read_only', 'off', true)": "25001",
		} {
			if got := try(t, tx, statement); got != want {
				t.Errorf("%s: got %v, want %v", statement, got, want)
			}
		}
	})
	err := s.DB.Reading(context.Background(), access.Actor{Session: secret, Coop: s.a.Coop, Person: s.a.Person, Role: s.a.Role, Ranches: s.a.Ranches},
		func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchA, 0) })
	if err == nil {
		t.Error("a token gave consent")
	}
}

// A token's own row: theirs alone, for those who see bulletins, a year at most.
func TestTokenRows(t *testing.T) {
	s := newStage(t)
	s.tokenOf(t, s.a)
	const insert = `INSERT INTO tussock.api_token (coop_id, person_id, token_hash, name, expires_at) VALUES ($1, $2, sha256('x'), 'x', now() + interval '1 day')`
	const table = "(SELECT id FROM tussock.api_token) x"
	for _, tt := range []struct {
		name string
		who  access.Actor
		days int
		want any
	}{
		{"own", s.a, 365, 1},
		{"longer than a year", s.a, 370, "23514"},
		{"a hand", s.hand, 1, 0},
		{"nobody", access.Actor{Session: postgres.NewToken()}, 1, 0},
	} {
		s.raw(t, tt.who.Session, func(tx pgx.Tx) {
			if got := try(t, tx, "SELECT s FROM tussock.make_token('x', $1) s WHERE s IS NOT NULL", tt.days); got != tt.want {
				t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
			}
		})
	}
	for _, who := range []access.Actor{s.a, s.boss, s.stranger} { // whose secret would be theirs to choose
		s.raw(t, who.Session, func(tx pgx.Tx) {
			if got := try(t, tx, insert, who.Coop, who.Person); got != refused {
				t.Errorf("%s adds a row: got %v, want %v", who.Name, got, refused)
			}
		})
	}
	for _, tt := range []struct {
		who  access.Actor
		want int
	}{{s.a, 1}, {s.b, 0}, {s.hand, 0}, {s.boss, 0}, {s.biologist, 0}, {s.stranger, 0}} {
		s.raw(t, tt.who.Session, func(tx pgx.Tx) {
			if got := count(t, tx, table); got != tt.want {
				t.Errorf("%s sees %v tokens, want %d", tt.who.Name, got, tt.want)
			}
			if got := try(t, tx, "UPDATE tussock.api_token SET revoked_at = now()"); got != tt.want {
				t.Errorf("%s revokes %v tokens, want %d", tt.who.Name, got, tt.want)
			}
			if got := try(t, tx, "UPDATE tussock.api_token SET expires_at = now()"); got != refused {
				t.Errorf("%s moves the end of a token: %v, want %v", tt.who.Name, got, refused)
			}
		})
	}
}

// Every way a token ends takes effect with the next request.
func TestTokenEnds(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	for _, tt := range []struct {
		name string
		who  access.Actor
		end  func(secret string)
	}{
		{"revoked", s.a, func(string) {
			s.As(t, s.a, func(tx *postgres.Tx) error {
				list, err := tx.Tokens()
				if err == nil && (len(list) != 1 || list[0].UsedAt.IsZero()) {
					t.Errorf("tokens = %+v, want one that was used", list)
				}
				return errors.Join(err, tx.RevokeToken(list[0].ID))
			})
		}},
		{"all sessions ended", s.b, func(string) { s.As(t, s.b, func(tx *postgres.Tx) error { return tx.EndSessions(true) }) }},
		{"expired", s.biologist, func(string) {
			s.seed(t, "UPDATE tussock.api_token SET made_at = now() - interval '2 days', expires_at = now() - interval '1 day' WHERE person_id = $1", s.biologist.Person)
		}},
		{"member left", s.planner, func(string) {
			s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.RemoveMember(s.planner.Person) })
		}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			secret := s.tokenOf(t, tt.who)
			if _, err := s.DB.Bearer(ctx, secret, ""); err != nil {
				t.Fatalf("before: %v", err)
			}
			tt.end(secret)
			if _, err := s.DB.Bearer(ctx, secret, ""); !errors.Is(err, errs.Unauthenticated) {
				t.Errorf("after: %v, want unauthenticated", err)
			}
			s.rawReading(t, secret, func(tx pgx.Tx) {
				if got := count(t, tx, "tussock.coop"); got != 0 {
					t.Errorf("after, the token sees %v cooperatives", got)
				}
			})
		})
	}
	for name, secret := range map[string]string{"a session": s.boss.Session, "forged": postgres.NewToken(), "empty": "", "a quote": "'"} {
		if _, err := s.DB.Bearer(ctx, secret, ""); !errors.Is(err, errs.Unauthenticated) {
			t.Errorf("%s as a token: %v, want unauthenticated", name, err)
		}
	}
}

// Who reads a ranch with a program has looked at it, and the owner sees so.
func TestTokenLeavesALook(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	secret := s.tokenOf(t, s.a)
	looks := func() string { // at ranches, and uses of the token in all
		n, err := s.Owner.Text(ctx, "SELECT count(ranch_id) || ' ' || count(*) FILTER (WHERE what = 'program') FROM tussock.view_log WHERE person_id = $1 AND what NOT IN ('owner', 'share', 'letting', 'yes')", s.a.Person)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	for _, tt := range []struct {
		ranch access.ID
		want  string
	}{{"", "1 1"}, {s.ranchB, "1 2"}, {"x", "1 3"}, {s.ranchA, "2 4"}} {
		a, err := s.DB.Bearer(ctx, secret, tt.ranch)
		if err != nil {
			t.Fatal(err)
		}
		if got := looks(); got != tt.want {
			t.Errorf("after asking for ranch %q: %q looks and uses, want %q", tt.ranch, got, tt.want)
		}
		var d *survey.Data
		err = s.DB.Reading(ctx, a, func(tx *postgres.Tx) (err error) {
			d, err = tx.Survey([]access.ID{s.ranchA}, 0)
			return err
		})
		if err != nil || len(d.Nests) != 3 {
			t.Errorf("the token reads %+v, %v", d, err)
		}
	}
}
