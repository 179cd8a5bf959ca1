package postgres_test

import (
	"context"
	"errors"
	"testing"

	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/survey"
)

// TestRoomForFiles: one ranch cannot fill the disk (OWASP ASVS 5.0, 5.2.4); what was sent before stays, and so does the way
// to send it again.
func TestRoomForFiles(t *testing.T) {
	f := pgtest.New(t)
	boss := f.Cooperative(t, "Bluestem")
	ranch, owner := f.Ranch(t, boss, postgres.Ranch{Name: "Dry Fork", Owner: "Marsh family"})
	send := func(data string) (already bool, err error) {
		err = f.DB.As(context.Background(), owner, func(tx *postgres.Tx) (err error) {
			_, already, err = tx.Send(postgres.Sending{Ranch: ranch, File: "a.csv", Data: []byte(data), Rows: &survey.Data{}})
			return err
		})
		return already, err
	}
	if _, err := send("one"); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Owner.Exec(context.Background(), "UPDATE tussock.upload_file SET size = 524287998"); err != nil { // 500 MB less two bytes
		t.Fatal(err)
	}
	if _, err := send("two"); !errors.Is(err, errs.TooLarge) {
		t.Errorf("a byte too many: %v", err)
	}
	if already, err := send("one"); err != nil || !already {
		t.Errorf("the same again: %v %v", already, err)
	}
	if _, err := send("2"); err != nil {
		t.Errorf("what still fits: %v", err)
	}
}

// TestDefiners: functions that run with their maker's rights name where they look things up, so that nothing put in the way
// is found instead (PostgreSQL manual, CREATE FUNCTION, "Writing SECURITY DEFINER Functions Safely"), and the public may
// call none.
func TestDefiners(t *testing.T) {
	f := pgtest.New(t)
	for what, query := range map[string]string{
		"without a search path": `SELECT string_agg(p.oid::regprocedure::text, ', ') FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace
			WHERE n.nspname IN ('tussock', 'pub') AND p.prosecdef AND NOT EXISTS (SELECT 1 FROM unnest(p.proconfig) c WHERE c LIKE 'search_path=pg_catalog%pg_temp')`,
		"that the public may call": `SELECT string_agg(p.oid::regprocedure::text, ', ') FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace
			WHERE n.nspname IN ('tussock', 'pub') AND p.prosecdef AND has_function_privilege('public', p.oid, 'EXECUTE') AND p.prorettype <> 'trigger'::regtype`,
		"in a language that can do more": `SELECT string_agg(p.oid::regprocedure::text, ', ') FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace
			JOIN pg_language l ON l.oid = p.prolang WHERE n.nspname IN ('tussock', 'pub') AND l.lanname NOT IN ('sql', 'plpgsql')`,
		"that put statements together of what callers say": `SELECT string_agg(p.oid::regprocedure::text, ', ') FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace
			WHERE n.nspname IN ('tussock', 'pub') AND p.prosrc ~* '\mEXECUTE\M' AND 'text'::regtype = ANY (p.proargtypes::oid[])`,
	} {
		got, err := f.Owner.Text(context.Background(), query)
		if err != nil {
			t.Errorf("%s: %v", what, err)
		} else if got != "" {
			t.Errorf("functions %s: %s", what, got)
		}
	}
}
