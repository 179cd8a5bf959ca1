package postgres_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// TestStatisticsAreClosed: the server tells the pages' role and the door's nothing of how many rows there are, how big tables
// are, and what others do.
func TestStatisticsAreClosed(t *testing.T) {
	s := newStage(t)
	if super := s.text(t, "SELECT rolsuper::text FROM pg_roles WHERE rolname = session_user"); super != "true" {
		t.Skip("only a superuser can close them")
	}
	s.seed(t, "ANALYZE tussock.nest")
	asks := []string{
		"SELECT n_live_tup FROM pg_stat_all_tables", "SELECT n_tup_ins FROM pg_stat_user_tables", "SELECT * FROM pg_stat_xact_all_tables", "SELECT * FROM pg_statio_user_tables",
		"SELECT idx_scan FROM pg_stat_user_indexes", "SELECT calls FROM pg_stat_user_functions", "SELECT tup_inserted FROM pg_stat_database", "SELECT query FROM pg_stat_activity",
		"SELECT * FROM pg_locks", "SELECT reltuples FROM pg_class", "SELECT relpages FROM pg_class", "SELECT * FROM pg_class",
		"SELECT pg_relation_size('tussock.nest')", "SELECT pg_table_size('tussock.nest')", "SELECT pg_total_relation_size('tussock.nest')", "SELECT pg_indexes_size('tussock.nest')",
		"SELECT pg_database_size(current_database())", "SELECT pg_stat_get_live_tuples('tussock.nest'::regclass)", "SELECT * FROM pg_stat_get_activity(NULL)", "SELECT * FROM pg_statistic",
	}
	s.raw(t, s.a.Session, func(tx pgx.Tx) {
		for _, ask := range asks {
			if got := try(t, tx, ask); got != refused {
				t.Errorf("%s: %v, want %v", ask, got, refused)
			}
		}
		for _, setting := range []string{"log_parameter_max_length", "log_parameter_max_length_on_error"} {
			var bytes string
			if err := tx.QueryRow(t.Context(), "SHOW "+setting).Scan(&bytes); err != nil || bytes != "0" {
				t.Errorf("%s of bound values go to the server's log: %s, %v", setting, bytes, err)
			}
		}
		if got := try(t, tx, "SELECT 1 FROM pg_stats WHERE schemaname = 'tussock'"); got != 0 {
			t.Errorf("the planner's statistics: %v rows", got)
		}
		if got := try(t, tx, "SELECT relname FROM pg_class WHERE relname = 'nest' AND relnamespace = 'tussock'::regnamespace"); got != 1 {
			t.Errorf("the catalog itself: %v", got)
		}
	})
	door, err := pgx.Connect(t.Context(), s.DoorURL)
	if err != nil {
		t.Fatal(err)
	}
	defer door.Close(t.Context())
	for _, ask := range asks {
		if _, err := door.Exec(t.Context(), ask); err == nil || code(t, err) != refused {
			t.Errorf("at the door, %s: %v", ask, err)
		}
	}
	// The pages go on, and so does the press, which looks for its lock.
	s.As(t, s.a, func(tx *postgres.Tx) error {
		_, err := tx.Survey([]access.ID{s.ranchA}, 0)
		return err
	})
	s.seed(t, "DELETE FROM tussock.to_read") // nothing that came before the cut-off waits to be read
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	if o, err := s.Press(t).Next(ctx); err != nil || o.Season != 2026 || o.Edition != 1 {
		t.Errorf("the press takes %v, %v", o, err)
	}
}

// TestRolesByHand: what is closed for a server that makes the roles by itself is closed where they are made by hand.
func TestRolesByHand(t *testing.T) {
	byHand, err := os.ReadFile(filepath.Join("..", "..", "deploy", "roles.sql"))
	if err != nil {
		t.Fatal(err)
	}
	quiet, err := os.ReadFile("quiet.sql")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(byHand), string(quiet)) {
		t.Error("deploy/roles.sql does not end with internal/postgres/quiet.sql")
	}
}
