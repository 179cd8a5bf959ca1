package postgres_test

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
)

// BenchmarkRoster times what coordinators do with the roster, and what owners are asked about it, where the cooperative has 30 ranches and where it has 300,
// all typed in lately.
func BenchmarkRoster(b *testing.B) {
	for _, ranches := range []int{30, 300} {
		b.Run(strconv.Itoa(ranches), func(b *testing.B) { benchmarkRoster(b, ranches) })
	}
}

func benchmarkRoster(t *testing.B, ranches int) {
	s := &town{Fixture: pgtest.New(t)}
	s.boss = s.Cooperative(t, "Bluestem")
	exec := func(query string, args ...any) {
		t.Helper()
		if _, err := s.Owner.Exec(context.Background(), query, args...); err != nil {
			t.Fatal(err)
		}
	}
	exec(`WITH n AS (SELECT i, initcap(translate(substr(md5(i::text), 1, 7), '0123456789', 'aeioursnlm')) || ' ' || initcap(translate(substr(md5('f' || i), 1, 9), '0123456789', 'aeioursnlm')) AS name FROM generate_series(1, $2::int) i),
		e AS (INSERT INTO tussock.entity (coop_id, name) SELECT $1, n.name FROM n RETURNING id, name)
		INSERT INTO tussock.ranch (coop_id, name, entity_id) SELECT $1, 'Ranch of ' || e.name, e.id FROM e`, s.boss.Coop, ranches)
	exec("UPDATE tussock.roster_change SET person_id = $1 WHERE kind = 'ranch'", s.boss.Person)
	exec("ANALYZE")
	exec("INSERT INTO tussock.person (coop_id, name, role, invited_by) SELECT coop_id, name, 'landowner', $1 FROM tussock.entity", s.boss.Person)
	exec("INSERT INTO tussock.account (coop_id, person_id, email, password_hash) SELECT coop_id, id, id || '@example.org', 'x' FROM tussock.person WHERE role = 'landowner'")
	exec("ANALYZE")
	exec(`INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind) SELECT r.coop_id, p.id, r.id, r.entity_id, 'owner'
		FROM tussock.ranch r JOIN tussock.entity e ON e.id = r.entity_id JOIN tussock.person p ON p.name = e.name`)
	s.Confirm(t)
	exec("ANALYZE")
	id := func(query string) access.ID { return access.ID(s.text(t, query)) }
	owner, ranch := id("SELECT min(person_id::text) FROM tussock.assignment"), id("SELECT max(ranch_id::text) FROM tussock.assignment")
	empty := s.add(t, "Empty place", "Nobody Here")
	one := s.SignIn(t, postgres.Credentials{Coop: s.boss.Coop, Person: id("SELECT max(person_id::text) FROM tussock.assignment")})
	undo := errors.New("undo")
	for what, do := range map[string]func(*postgres.Tx) error{
		"suspend": func(tx *postgres.Tx) error { return tx.Suspend(owner) },
		"ask to take off": func(tx *postgres.Tx) error {
			_, err := tx.TakeOff(id("SELECT person_id::text FROM tussock.assignment WHERE ranch_id = '"+string(ranch)+"'"), ranch)
			return err
		},
		"add a ranch": func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{Name: "New place", Owner: "Nell Newly"})
			return err
		},
		"put a ranch under a member’s name": func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{Name: "New place", Owner: one.Name})
			return err
		},
		"rename a ranch": func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{ID: ranch, Name: "New place", Owner: "Nell Newly"})
			return err
		},
		"invite": func(tx *postgres.Tx) error {
			_, err := tx.Invite(access.Landowner, "Nell Newly", "", []access.ID{ranch})
			return err
		},
		"put somebody on a ranch":          func(tx *postgres.Tx) error { return tx.Assign(owner, ranch) },
		"vouch":                            func(tx *postgres.Tx) error { return tx.Vouch(owner) },
		"write down a yes":                 func(tx *postgres.Tx) error { return tx.KeepPaper(empty, true) },
		"add an area":                      func(tx *postgres.Tx) error { return tx.SaveArea("Sandhill", "") },
		"read the members":                 func(tx *postgres.Tx) error { _, err := tx.Members(); return err },
		"read the changes":                 func(tx *postgres.Tx) error { _, err := tx.RosterChanges(time.Time{}); return err },
		"read whom to vouch for":           func(tx *postgres.Tx) error { _, err := tx.OwnersToVouch(); return err },
		"read who stands how":              func(tx *postgres.Tx) error { _, err := tx.Standings(); return err },
		"read who waits":                   func(tx *postgres.Tx) error { _, err := tx.Newcomers(); return err },
		"an owner reads the changes":       func(tx *postgres.Tx) error { _, err := tx.RosterChanges(time.Time{}); return err },
		"an owner reads what is asked":     func(tx *postgres.Tx) error { _, err := tx.NameAsks(); return err },
		"an owner reads whom to vouch for": func(tx *postgres.Tx) error { _, err := tx.OwnersToVouch(); return err },
		"an owner reads who waits":         func(tx *postgres.Tx) error { _, err := tx.Newcomers(); return err },
	} {
		who := s.boss
		if strings.HasPrefix(what, "an owner") {
			who = one
		}
		t.Run(strings.ReplaceAll(what, " ", "-"), func(b *testing.B) {
			for b.Loop() {
				err := s.DB.As(context.Background(), who, func(tx *postgres.Tx) error { return errors.Join(undo, do(tx)) })
				if !errors.Is(err, undo) || errors.Is(err, errs.Invalid) || errors.Is(err, errs.NotFound) || errors.Is(err, errs.Forbidden) {
					b.Fatal(err)
				}
			}
		})
	}
}
