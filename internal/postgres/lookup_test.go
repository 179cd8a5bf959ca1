package postgres_test

import (
	"testing"

	"github.com/jackc/pgx/v5"

	"tussock/internal/postgres/pgtest"
)

// TestLookUpsAreOfOneViewer: to find out who looks and what they may open, the database reads a handful of rows, however many
// cooperatives there are.
func TestLookUpsAreOfOneViewer(t *testing.T) {
	s := newStage(t)
	for _, statement := range []string{
		"INSERT INTO tussock.coop (name) SELECT 'Crowd ' || i FROM generate_series(1, 200) i",
		"INSERT INTO tussock.entity (coop_id, name) SELECT c.coop_id, 'Owner ' || i FROM tussock.coop c, generate_series(1, 5) i WHERE c.name LIKE 'Crowd %'",
		"INSERT INTO tussock.ranch (coop_id, name, entity_id) SELECT coop_id, name, id FROM tussock.entity WHERE name LIKE 'Owner _'",
		"INSERT INTO tussock.person (coop_id, name, role) SELECT coop_id, name, 'landowner' FROM tussock.ranch WHERE name LIKE 'Owner _'",
		`INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind) SELECT r.coop_id, p.id, r.id, r.entity_id, 'owner'
			FROM tussock.ranch r JOIN tussock.person p ON p.coop_id = r.coop_id AND p.name = r.name WHERE r.name LIKE 'Owner _'`,
		"ANALYZE",
	} {
		s.seed(t, statement)
	}
	admin, err := pgx.Connect(t.Context(), s.AdminURL)
	if err != nil {
		t.Fatal(err)
	}
	defer admin.Close(t.Context())
	for _, function := range []string{"whoami()", "my_known()", "my_ranches()", "my_least()", "my_people()", "my_entities()", "my_shared_ranches()"} {
		tx := pgtest.Enter(t, admin, pgx.ReadWrite, s.a.Session)
		if got := try(t, tx, "SELECT * FROM tussock."+function); got != 1 {
			t.Fatalf("%s: %v", function, got)
		}
		var read int
		if err := tx.QueryRow(t.Context(), "SELECT sum(seq_tup_read + coalesce(idx_tup_fetch, 0)) FROM pg_stat_xact_user_tables WHERE schemaname = 'tussock'").Scan(&read); err != nil {
			t.Fatal(err)
		}
		if read > 200 {
			t.Errorf("%s reads %d rows", function, read)
		}
		tx.Rollback(t.Context())
	}
}
