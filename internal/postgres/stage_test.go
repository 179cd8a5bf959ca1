package postgres_test

import (
	"context"
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/words"
)

// A stage is two cooperatives with rows in every table: what one member must never see of another.
type stage struct {
	*pgtest.Fixture
	boss, a, b, hand, biologist, planner access.Actor // of the first cooperative; a owns ranchA, hand works there
	ranchA, ranchB                       access.ID
	uploadA, uploadB                     access.ID
	stranger                             access.Actor // a landowner of the second cooperative, on ranchX
	ranchX                               access.ID
}

func newStage(t testing.TB) *stage {
	t.Helper()
	s := &stage{Fixture: pgtest.New(t)}
	s.boss = s.Cooperative(t, "Bluestem")
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.SaveArea("North", "Upper") })
	s.ranchA, s.a = s.Ranch(t, s.boss, postgres.Ranch{Name: "Dry Fork", Area: "North", Owner: "Marsh family"})
	s.ranchB, s.b = s.Ranch(t, s.boss, postgres.Ranch{Name: "Long Draw", Area: "North"})
	s.hand = s.Member(t, s.boss, access.Hand, "Hand of A", s.ranchA)
	s.biologist = s.Member(t, s.boss, access.Biologist, "Biologist")
	s.planner = s.Member(t, s.boss, access.Planner, "Planner")
	s.uploadA = s.fill(t, s.a, s.ranchA)
	s.uploadB = s.fill(t, s.b, s.ranchB)

	other := s.Cooperative(t, "Grama")
	s.ranchX, s.stranger = s.Ranch(t, other, postgres.Ranch{Name: "Dry Fork", Owner: "Marsh family"})
	s.fill(t, s.stranger, s.ranchX)

	for _, coop := range []access.ID{s.boss.Coop, other.Coop} {
		s.Vouch(t, coop)
		s.Open(t, coop, 2026)
		s.Cut(t, coop, 2026)
		s.Open(t, coop, 2027)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.SaveArea("North", "Lower") })
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.SetKey(counted("Cameras of our own")) })
	s.seed(t, "INSERT INTO tussock.approval (coop_id, season, edition, person_id, yes) VALUES ($1, 2026, 1, $2, true)", s.boss.Coop, s.boss.Person)
	s.seed(t, "INSERT INTO tussock.browser (coop_id, person_id, device_hash) VALUES ($1, $2, sha256('the browser of A'))", s.boss.Coop, s.a.Person)
	for _, coop := range []access.ID{s.boss.Coop, other.Coop} {
		s.bulletin(t, coop, 2025, 5, 9, 10)
	}
	return s
}

// fill gives a ranch rows in each of its tables.
func (s *stage) fill(t testing.TB, owner access.Actor, ranch access.ID) (id access.ID) {
	t.Helper()
	s.As(t, owner, func(tx *postgres.Tx) (err error) {
		if id, _, err = tx.Send(postgres.Sending{Ranch: ranch, File: "secret.csv", Data: []byte("same bytes"), Rows: season(t, "")}); err != nil {
			return err
		}
		return errors.Join(tx.RememberWords(ranch, map[string]string{"state/hit": "taken"}), tx.SetConsent(ranch, 1), tx.Looked(ranch), tx.LetSend(ranch),
			tx.ReadAgain(id, postgres.Answers{}, words.English), tx.SendUnfiled(postgres.Sending{File: "which.csv", Data: []byte("of which ranch?"), Together: postgres.NewSending()}))
	})
	s.seed(t, "INSERT INTO tussock.readback (coop_id, ranch_id, upload_id, language, body) VALUES ($1, $2, $3, 'en', 'x')", owner.Coop, ranch, id)
	s.seed(t, "INSERT INTO tussock.readback_part (coop_id, ranch_id, upload_id, part, body) VALUES ($1, $2, $3, 0, 'x')", owner.Coop, ranch, id)
	return id
}

// bulletin publishes cells on the given numbers of entities.
func (s *stage) bulletin(t testing.TB, coop access.ID, season int, entities ...int) {
	t.Helper()
	s.seed(t, "INSERT INTO pub.bulletin (coop_id, season, number, published_at, hash) VALUES ($1, $2, 1, now(), 'h')", coop, season)
	s.seed(t, "INSERT INTO pub.place (coop_id, season, area, label) VALUES ($1, $2, 'North', 'North')", coop, season)
	for i, n := range entities {
		s.seed(t, `INSERT INTO pub.cell (coop_id, season, row, measure, predator, estimate, low, high, entities, n)
			VALUES ($1, $2, $3, 'survival_28', '', 0.5, 0.4, 0.6, '5-9', $4)`, coop, season, i+1, n)
	}
}

func (s *stage) seed(t testing.TB, statement string, args ...any) {
	t.Helper()
	if _, err := s.Owner.Exec(context.Background(), statement, args...); err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}

// raw runs fn over a plain connection of the application's role, as whoever has a session: what an injected statement
// could do. It is rolled back.
func (s *stage) raw(t testing.TB, session string, fn func(pgx.Tx)) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, s.AppURL)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	tx := pgtest.Enter(t, conn, pgx.ReadWrite, session)
	defer tx.Rollback(ctx)
	fn(tx)
}

// count returns how many rows the role sees, or the SQLSTATE of the refusal.
func count(t testing.TB, tx pgx.Tx, table string) any {
	t.Helper()
	var n int
	// Each in a savepoint: a refused statement would end the transaction.
	err := pgx.BeginFunc(context.Background(), tx, func(tx pgx.Tx) error {
		return tx.QueryRow(context.Background(), "SELECT count(*) FROM "+table).Scan(&n)
	})
	if err != nil {
		return code(t, err)
	}
	return n
}

// try runs a statement in a savepoint and returns the rows it touched, or the SQLSTATE and message of the refusal.
func try(t testing.TB, tx pgx.Tx, statement string, args ...any) any {
	t.Helper()
	var n int
	err := pgx.BeginFunc(context.Background(), tx, func(tx pgx.Tx) error {
		tag, err := tx.Exec(context.Background(), statement, args...)
		n = int(tag.RowsAffected())
		return err
	})
	if err != nil {
		return code(t, err)
	}
	return n
}

func code(t testing.TB, err error) string {
	t.Helper()
	var pg *pgconn.PgError
	if !errors.As(err, &pg) {
		t.Fatal(err)
	}
	return pg.Code
}
