package postgres_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// joinsUnconfirmed is pgtest's Member without the owners' yes.
func (s *stage) joinsUnconfirmed(t testing.TB, role access.Role, name string, ranches ...access.ID) access.Actor {
	t.Helper()
	ctx := context.Background()
	var token string
	s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(role, name, "", ranches)
		return err
	})
	c, err := s.DB.AcceptInvitation(ctx, token, postgres.Acceptance{Name: name, Email: postgres.NewToken()[:12] + "@example.org", Hash: "no password"})
	if err != nil {
		t.Fatal(err)
	}
	return s.SignIn(t, c)
}

// Whoever a coordinator puts onto a ranch that has an owner sees nothing of it before the owner's yes, whatever
// statement they run; and no coordinator can say yes instead, nor by first taking the owner off.
func TestOwnerSaysYes(t *testing.T) {
	s := newStage(t)
	for _, role := range []access.Role{access.Hand, access.Landowner} {
		t.Run(string(role), func(t *testing.T) {
			eve := s.joinsUnconfirmed(t, role, "Eve the "+string(role), s.ranchA)
			blind := func(when string) {
				t.Helper()
				if now := s.Again(t, eve); len(now.Ranches) != 0 || now.Known != 0 {
					t.Errorf("%s: opens %v, knows %d", when, now.Ranches, now.Known)
				}
				s.raw(t, eve.Session, func(tx pgx.Tx) {
					for _, table := range []string{"tussock.ranch", "tussock.upload", "tussock.upload_file", "tussock.reading", "tussock.nest", "tussock.belt", "tussock.site", "tussock.word", "tussock.consent", "tussock.view_log"} {
						if got := count(t, tx, table); got != 0 {
							t.Errorf("%s: sees of %s: %v", when, table, got)
						}
					}
					if got := try(t, tx, "UPDATE tussock.assignment SET confirmed_at = now()"); got != refused {
						t.Errorf("%s: says yes to themselves: %v", when, got)
					}
					if got := try(t, tx, "SELECT tussock.confirm_assignment($1, $2) WHERE tussock.confirm_assignment($1, $2)", eve.Person, s.ranchA); got != 0 {
						t.Errorf("%s: says yes to themselves by the function: %v", when, got)
					}
				})
			}
			blind("invited")
			for _, who := range []access.Actor{s.boss, s.b, s.hand, s.biologist, s.stranger} {
				if err := s.DB.As(context.Background(), who, func(tx *postgres.Tx) error { return tx.LetOnto(eve.Person, s.ranchA) }); !errors.Is(err, errs.NotFound) {
					t.Errorf("%s says yes: %v, want not found", who.Name, err)
				}
			}
			s.raw(t, s.boss.Session, func(tx pgx.Tx) {
				for _, statement := range []string{
					"UPDATE tussock.assignment SET confirmed_at = now() WHERE person_id = $1",
					"UPDATE tussock.assignment SET ended_by = person_id WHERE person_id = $1",
					"INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind, confirmed_at) SELECT coop_id, person_id, ranch_id, entity_id, kind, now() FROM tussock.assignment WHERE person_id = $1",
				} {
					if got := try(t, tx, statement, eve.Person); got != refused {
						t.Errorf("the coordinator: %s: got %v, want %v", statement, got, refused)
					}
				}
			})
			blind("after everybody else tried")

			s.As(t, s.a, func(tx *postgres.Tx) error {
				list, err := tx.Newcomers()
				if err == nil && (len(list) != 1 || list[0].Name != eve.Name || list[0].RanchName != "Dry Fork") {
					t.Errorf("the owner is asked about %+v", list)
				}
				people, err2 := tx.People(s.ranchA)
				for _, p := range people {
					if p.ID == eve.Person {
						t.Error("somebody who sees nothing is listed among those who see")
					}
				}
				return errors.Join(err, err2, tx.LetOnto(eve.Person, s.ranchA))
			})
			if role == access.Landowner { // who says that they know who is there
				blind("after the owner's yes alone")
				s.As(t, eve, func(tx *postgres.Tx) error { return tx.ComeOnto(s.ranchA, true) })
			}
			if now := s.Again(t, eve); len(now.Ranches) != 1 || now.Known != 1 {
				t.Errorf("after the yes: opens %v, knows %d", now.Ranches, now.Known)
			}
			s.raw(t, eve.Session, func(tx pgx.Tx) {
				if got := count(t, tx, "tussock.nest"); got != 3 {
					t.Errorf("after the yes: sees %v nests, want 3", got)
				}
			})
		})
	}
	t.Run("No", func(t *testing.T) {
		eve := s.joinsUnconfirmed(t, access.Hand, "Eve", s.ranchA)
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.TurnAway(eve.Person, s.ranchA) })
		s.As(t, s.a, func(tx *postgres.Tx) error {
			list, err := tx.Newcomers()
			if len(list) != 0 {
				t.Errorf("after the no: %+v", list)
			}
			return err
		})
		if err := s.DB.As(context.Background(), s.a, func(tx *postgres.Tx) error { return tx.LetOnto(eve.Person, s.ranchA) }); !errors.Is(err, errs.NotFound) {
			t.Errorf("yes after no: %v", err)
		}
	})
	t.Run("OwnerTakenOff", func(t *testing.T) {
		s := newStage(t)
		s.TakeOff(t, s.boss, s.a.Person, s.ranchA)
		eve := s.joinsUnconfirmed(t, access.Landowner, "Eve", s.ranchA)
		if len(eve.Ranches) != 0 {
			t.Error("a coordinator took the owner off and put somebody else in to read")
		}
		s.Remove(t, s.boss, s.b.Person)
		if eve := s.joinsUnconfirmed(t, access.Hand, "Eve", s.ranchB); len(eve.Ranches) != 0 {
			t.Error("a coordinator removed the owner and put somebody else in to read")
		}
	})
	t.Run("OwnerLeft", func(t *testing.T) {
		s := newStage(t)
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Leave() })
		if heir := s.joinsUnconfirmed(t, access.Landowner, "Heir", s.ranchA); len(heir.Ranches) != 0 {
			t.Error("a coordinator put somebody onto a ranch whose owner left, to read what was sent")
		}
	})
	t.Run("NothingSentYet", func(t *testing.T) {
		s := newStage(t)
		var empty access.ID
		s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
			empty, err = tx.SaveRanch(postgres.Ranch{Name: "Empty", Owner: "Wrong"})
			return err
		})
		wrong := s.joinsUnconfirmed(t, access.Landowner, "Wrong", empty)
		if len(wrong.Ranches) != 1 {
			t.Fatal("the first owner waits")
		}
		s.TakeOff(t, s.boss, wrong.Person, empty)
		s.As(t, s.boss, func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{ID: empty, Name: "Empty", Owner: "Right"})
			return err
		})
		if right := s.joinsUnconfirmed(t, access.Landowner, "Right", empty); len(right.Ranches) != 1 {
			t.Error("a slip with a ranch for which nothing was sent cannot be mended")
		}
	})
	t.Run("AtOnce", func(t *testing.T) {
		s := newStage(t)
		var empty access.ID
		s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
			empty, err = tx.SaveRanch(postgres.Ranch{Name: "Empty", Owner: "Eve"})
			return err
		})
		var wg sync.WaitGroup
		actors := make([]access.Actor, 4)
		for i := range actors {
			wg.Go(func() { actors[i] = s.joinsUnconfirmed(t, access.Landowner, "Eve", empty) })
		}
		wg.Wait()
		in := 0
		for _, a := range actors {
			in += len(a.Ranches)
		}
		if in != 1 {
			t.Errorf("of four first owners in one moment %d came in without a yes, want 1", in)
		}
	})
}

// How somebody signs in is theirs alone to see; secrets are nobody's.
func TestWhoSeesProofs(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	s.As(t, s.a, func(tx *postgres.Tx) error {
		return errors.Join(tx.AddPasskey("phone", []byte("key"), []byte("{}")), tx.StartCodes([]byte("secret")), tx.SetRecoveryCodes([]string{"x"}))
	})
	if err := s.DB.RememberDevice(ctx, s.a.Coop, s.a.Person, postgres.NewToken()); err != nil {
		t.Fatal(err)
	}
	if err := s.DB.OpenStep(ctx, "key", postgres.Step{Coop: s.a.Coop, Person: s.a.Person, Data: []byte("{}")}, time.Hour); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name    string
		session string
		own     int // rows of passkeys, codes and devices
	}{
		{"a", s.a.Session, 1}, {"b", s.b.Session, 0}, {"boss", s.boss.Session, 0}, {"hand", s.hand.Session, 0}, {"stranger", s.stranger.Session, 0}, {"nobody", "", 0},
	} {
		s.raw(t, tt.session, func(tx pgx.Tx) {
			for table, want := range map[string]any{
				"tussock.passkey": tt.own, "(SELECT on_since FROM tussock.code_secret) x": tt.own, "(SELECT used_at FROM tussock.recovery_code) x": tt.own,
				"(SELECT person_id FROM tussock.device) x":                tt.own,
				"(SELECT id, agent, trusted_until FROM tussock.device) x": tt.own,
				"(SELECT secret FROM tussock.code_secret) x":              refused,
				"(SELECT last_step FROM tussock.code_secret) x":           refused,
				"(SELECT code_hash FROM tussock.recovery_code) x":         refused,
				"(SELECT device_hash FROM tussock.device) x":              refused,
				"tussock.step": refused,
				"(SELECT proved_at FROM tussock.session) x":           refused,
				"tussock.known(gen_random_uuid(), gen_random_uuid())": refused,
			} {
				if got := count(t, tx, table); got != want {
					t.Errorf("%s sees of %s: got %v, want %v", tt.name, table, got, want)
				}
			}
			for _, statement := range []string{
				"SELECT tussock.prove(gen_random_uuid(), gen_random_uuid(), 'x')",
				"SELECT * FROM tussock.try_code(gen_random_uuid(), gen_random_uuid())",
				"SELECT tussock.take_code(gen_random_uuid(), gen_random_uuid(), 1)",
				"SELECT * FROM tussock.code_state(gen_random_uuid(), gen_random_uuid())",
				"SELECT tussock.take_recovery_code(gen_random_uuid(), gen_random_uuid(), 'x')",
				"SELECT * FROM tussock.passkeys_of(gen_random_uuid(), gen_random_uuid())",
				"SELECT tussock.use_passkey(gen_random_uuid(), gen_random_uuid(), 'x', '{}')",
				"SELECT tussock.knows_device('a', 'x')", "SELECT tussock.remember_device(gen_random_uuid(), gen_random_uuid(), 'x')",
				"SELECT tussock.trust_device(gen_random_uuid(), gen_random_uuid(), sha256('x'), '', '1 day')",
				"SELECT tussock.trusts_device(gen_random_uuid(), gen_random_uuid(), 'x')", "SELECT tussock.made_device('x')",
				"UPDATE tussock.device SET trusted_until = 'infinity'",
				"SELECT tussock.open_step(NULL, NULL, sha256('x'), '{}', '1 hour')", "SELECT * FROM tussock.take_step('x')",
				"SELECT * FROM tussock.try_step('x')", "SELECT * FROM tussock.step_of('x')",
				"SELECT tussock.change_address(gen_random_uuid(), gen_random_uuid(), 'a@example.org')",
				"UPDATE tussock.code_secret SET on_since = now()", "UPDATE tussock.recovery_code SET used_at = NULL",
				"UPDATE tussock.passkey SET credential = '{}'", "UPDATE tussock.account SET email = 'x@example.org'",
				"INSERT INTO tussock.device (coop_id, person_id, device_hash) VALUES (gen_random_uuid(), gen_random_uuid(), sha256('x'))",
			} {
				if got := try(t, tx, statement); got != refused {
					t.Errorf("%s: %s: got %v, want %v", tt.name, statement, got, refused)
				}
			}
		})
	}
	// The door reads no table and none of this is another login role's.
	for name, address := range map[string]string{"door": s.DoorURL, "press": s.PressURL} {
		conn, err := pgx.Connect(ctx, address)
		if err != nil {
			t.Fatal(err)
		}
		tx, err := conn.Begin(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, table := range []string{"passkey", "code_secret", "recovery_code", "device", "step", "session"} {
			if got := count(t, tx, "tussock."+table); got != refused {
				t.Errorf("%s reads %s: %v", name, table, got)
			}
		}
		if err := errors.Join(tx.Rollback(ctx), conn.Close(ctx)); err != nil {
			t.Error(err)
		}
	}
	s.raw(t, s.boss.Session, func(tx pgx.Tx) {
		if got := try(t, tx, "INSERT INTO tussock.passkey (coop_id, person_id, key_id, credential, name) VALUES ($1, $2, 'k', '{}', 'x')", s.a.Coop, s.a.Person); got != refused {
			t.Errorf("the coordinator gives a member a passkey: %v", got)
		}
	})
}

// The kill switch works at once, for sessions and tokens, and is the coordinator's alone.
func TestSuspend(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	secret := s.tokenOf(t, s.a)
	alive := func() (session, token bool) {
		_, one := s.DB.ActorOf(ctx, s.a.Session)
		_, two := s.DB.Bearer(ctx, secret, "")
		return one == nil, two == nil
	}
	for _, who := range []access.Actor{s.b, s.hand, s.biologist, s.stranger} {
		for name, do := range map[string]func(*postgres.Tx, access.ID) error{"suspend": (*postgres.Tx).Suspend, "restore": (*postgres.Tx).Restore} {
			if err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { return do(tx, s.a.Person) }); !errors.Is(err, errs.Forbidden) {
				t.Errorf("%s may %s: %v", who.Name, name, err)
			}
		}
		s.raw(t, who.Session, func(tx pgx.Tx) {
			if got := try(t, tx, "UPDATE tussock.person SET suspended_at = now() WHERE id = $1", s.a.Person); got != refused {
				t.Errorf("%s suspends by a statement: %v", who.Name, got)
			}
			for _, function := range []string{"suspend", "keep_suspended", "let_in"} {
				if got := try(t, tx, "SELECT 1 WHERE tussock."+function+"($1)", s.a.Person); got != 0 {
					t.Errorf("%s may %s: %v", who.Name, function, got)
				}
			}
		})
	}
	if err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.stranger.Person) }); !errors.Is(err, errs.NotFound) {
		t.Errorf("a coordinator suspends a stranger: %v", err)
	}
	if err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(access.ID(uuid.NewString())) }); !errors.Is(err, errs.NotFound) {
		t.Errorf("a coordinator suspends nobody: %v", err)
	}
	if one, two := alive(); !one || !two {
		t.Fatalf("after all that: session %v, token %v", one, two)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.a.Person) })
	if one, two := alive(); one || two {
		t.Errorf("suspended: session %v, token %v", one, two)
	}
	if _, err := s.DB.OpenSession(ctx, postgres.NewSession{Coop: s.a.Coop, Person: s.a.Person, Idle: time.Hour, Max: time.Hour}); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("a session for somebody suspended: %v", err)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Restore(s.a.Person) })
	if one, two := alive(); one || two {
		t.Errorf("restored: the old session %v and token %v live again", one, two)
	}
	again := s.SignIn(t, postgres.Credentials{Coop: s.a.Coop, Person: s.a.Person})
	if len(again.Ranches) != 1 {
		t.Errorf("restored: opens %v", again.Ranches)
	}
}

// A cooperative always has a coordinator, even where two remove, suspend and leave each other in one moment.
func TestCoordinatorStays(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error { return tx.Leave() })
	if message, _ := errs.Message(err); !errors.Is(err, errs.Invalid) || !strings.Contains(message, "no coordinator left") {
		t.Errorf("the last coordinator leaves: %v", err)
	}
	s.raw(t, s.boss.Session, func(tx pgx.Tx) {
		if got := try(t, tx, "UPDATE tussock.person SET left_at = now() WHERE id = $1", s.boss.Person); got != "23514" {
			t.Errorf("the last coordinator goes by a statement: %v", got)
		}
	})
	for i := range 6 {
		one, two := s.boss, s.Member(t, s.boss, access.Coordinator, "Second")
		// Each was here long enough to put the other out.
		s.seed(t, `UPDATE tussock.person p SET joined_at = now() - interval '60 days', remove_asked_at = now() - interval '15 days',
			remove_asked_by = CASE p.id WHEN $1 THEN $2::uuid ELSE $1 END WHERE p.id IN ($1, $2)`, one.Person, two.Person)
		var wg sync.WaitGroup
		for _, pair := range [][2]access.Actor{{one, two}, {two, one}} {
			wg.Go(func() {
				s.DB.As(ctx, pair[0], func(tx *postgres.Tx) error {
					switch i % 3 {
					case 0:
						return tx.RemoveMember(pair[1].Person)
					case 1:
						return tx.Suspend(pair[1].Person)
					}
					return tx.Leave()
				})
			})
		}
		wg.Wait()
		left, err := s.Owner.Text(ctx, `SELECT count(*) FROM tussock.person WHERE coop_id = $1 AND role = 'coordinator' AND left_at IS NULL AND suspended_at IS NULL`, s.boss.Coop)
		if err != nil || left == "0" {
			t.Fatalf("round %d: %s coordinators are left, %v", i, left, err)
		}
		if _, err := s.DB.ActorOf(ctx, one.Session); err != nil {
			s.boss = two
			if _, err := s.DB.ActorOf(ctx, two.Session); err != nil { // suspended and restored by nobody: sign in again
				s.boss = s.SignIn(t, postgres.Credentials{Coop: two.Coop, Person: two.Person})
			}
		}
	}
	// Handing over: the other has come in, then the first leaves.
	heir := s.Member(t, s.boss, access.Coordinator, "Heir")
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Leave() })
	if _, err := s.DB.ActorOf(ctx, s.boss.Session); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("who left is still in: %v", err)
	}
	s.As(t, heir, func(tx *postgres.Tx) error { return tx.RenameCooperative("Handed over") })
}
