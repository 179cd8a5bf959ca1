package postgres_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cutDue has the cut-off of a season that is open be past, and nobody has come by yet to carry it out.
func (r *readingRoom) cutDue(t *testing.T) {
	t.Helper()
	r.exec(t, `UPDATE tussock.season SET opens_on = d - 3, cut_off_on = d - 2, composed_on = d - 2, published_on = d - 2
		FROM (SELECT (now() AT TIME ZONE 'UTC')::date AS d) x WHERE year = 2026`)
}

func (r *readingRoom) text(t *testing.T, query string, args ...any) string {
	t.Helper()
	got, err := r.Owner.Text(context.Background(), query, args...)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// copied are the sheets whose nests stand in the copy of 2026, in its order, each with how many, and how many sheets the edition counts.
func (r *readingRoom) copied(t *testing.T) string {
	t.Helper()
	return r.text(t, `SELECT coalesce((SELECT string_agg(f.name || ' ' || x.n, ', ' ORDER BY x.nth) FROM (
			SELECT x->>'upload_id' AS id, count(*) AS n, min(nth) AS nth FROM tussock.snapshot s, jsonb_array_elements(s.nests) WITH ORDINALITY e (x, nth)
			WHERE s.ranch_id = $1 AND s.season = 2026 GROUP BY 1) x JOIN tussock.upload_file f ON f.upload_id::text = x.id), 'none')
		|| '; ' || (SELECT sheets FROM tussock.edition e WHERE e.season = 2026 AND e.edition = 1)`, r.ranch)
}

// due tells whether the press may compose 2026.
func (r *readingRoom) due(t *testing.T) bool {
	t.Helper()
	return r.text(t, "SELECT (season IS NOT NULL)::text FROM tussock.print_due('a test')") == "true"
}

// cutRoom is a ranch that is counted, in an open season, for which one sheet has been read.
func cutRoom(t *testing.T) (*readingRoom, *postgres.Clerk) {
	t.Helper()
	r := newReadingRoom(t)
	clerk := r.Clerk(t)
	r.As(t, r.owner, func(tx *postgres.Tx) error { return tx.SetConsent(r.ranch, 1) })
	r.Open(t, r.boss.Coop, 2026)
	r.sends(t, r.owner, r.ranch, "read")
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{})
	return r, clerk
}

// TestReadAfterTheCutOff: a sheet that was sent before the cut-off and is read after it is in the copy as if it had been read before; one
// that was sent later, or that its sender changed later, is not. Composing waits for it, a day at most.
func TestReadAfterTheCutOff(t *testing.T) {
	r, clerk := cutRoom(t)
	r.sends(t, r.owner, r.ranch, "waits")
	changed := r.sends(t, r.owner, r.ranch, "changed")
	r.Cut(t, r.boss.Coop, 2026)
	r.sends(t, r.owner, r.ranch, "late")
	r.As(t, r.owner, func(tx *postgres.Tx) error {
		return tx.ReadAgain(changed, postgres.Answers{Settings: postgres.Settings{Zero: "taken"}}, words.English)
	})
	if got := r.copied(t); got != "read.csv 3; 1" || r.due(t) {
		t.Errorf("while a sheet waits the copy has %q, and composing is due: %v", got, r.due(t))
	}
	for range 3 {
		r.keeps(t, clerk, takes(t, clerk), postgres.Read{Open: 1})
	}
	if got := r.copied(t); got != "waits.csv 3, read.csv 3; 1" {
		t.Errorf("the copy has %q", got)
	}
	// To the byte what the cut-off would have copied.
	same := r.text(t, `SELECT (s.nests = (SELECT jsonb_agg(to_jsonb(x) - '{coop_id,steps,bearing,spot,notes,from_sheet,from_row}'::text[] ORDER BY u.seq DESC, x.row)
			FROM tussock.nest x JOIN tussock.upload u ON u.id = x.upload_id JOIN tussock.upload_file f ON f.upload_id = u.id WHERE f.name IN ('read.csv', 'waits.csv'))
		AND jsonb_array_length(s.belts) = 2 AND s.open)::text FROM tussock.snapshot s WHERE s.season = 2026`)
	if same != "true" || !r.due(t) {
		t.Errorf("as the cut-off would have had it: %s; composing is due: %v", same, r.due(t))
	}
}

// TestPoisonedSheet: a sheet that nobody can read holds composing up for a day; what is read of it after that changes nothing.
func TestPoisonedSheet(t *testing.T) {
	r, clerk := cutRoom(t)
	r.sends(t, r.owner, r.ranch, "poison")
	r.Cut(t, r.boss.Coop, 2026)
	if r.exec(t, "UPDATE tussock.edition SET cut_at = now() - interval '23 hours'"); r.due(t) {
		t.Error("composing does not wait a day")
	}
	if r.exec(t, "UPDATE tussock.edition SET cut_at = now() - interval '24 hours'"); !r.due(t) {
		t.Error("a sheet holds composing up for longer than a day")
	}
	r.keeps(t, clerk, takes(t, clerk), postgres.Read{})
	if got := r.copied(t); got != "read.csv 3; 1" {
		t.Errorf("after composing began the copy has %q", got)
	}
}

// TestCutOffWhileReading: the moment between the end of a reading and its being kept loses no sheet: nobody may have come by since the
// cut-off was due before the clerk keeps what it read, or somebody comes by while it keeps it. Each rule is needed.
func TestCutOffWhileReading(t *testing.T) {
	for _, rule := range []string{"", "ALTER TABLE tussock.to_read DISABLE TRIGGER freeze_first", "ALTER TABLE tussock.to_read DISABLE TRIGGER catch_up"} {
		t.Run(fmt.Sprintf("nobody came by, without %q", rule), func(t *testing.T) {
			r, clerk := cutRoom(t)
			if rule != "" {
				r.exec(t, rule)
			}
			r.sends(t, r.owner, r.ranch, "waits")
			task := takes(t, clerk)
			r.cutDue(t)
			r.keeps(t, clerk, task, postgres.Read{})
			if got, want := r.copied(t), map[bool]string{true: "waits.csv 3, read.csv 3; 1", false: "read.csv 3; 1"}[rule == ""]; got != want {
				t.Errorf("the copy has %q, want %q", got, want)
			}
		})
	}
	for _, rule := range []bool{true, false} {
		t.Run(fmt.Sprintf("while it is kept, lock %v", rule), func(t *testing.T) {
			ctx := context.Background()
			r, _ := cutRoom(t)
			if !rule {
				without(t, r.Fixture, "tussock.cut_off(uuid, integer, smallint)", "FOR SHARE OF w", "")
			}
			r.sends(t, r.owner, r.ranch, "waits")
			conn, err := pgx.Connect(ctx, r.AdminURL)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close(ctx)
			tx, err := conn.Begin(ctx)
			if err != nil {
				t.Fatal(err)
			}
			defer tx.Rollback(ctx)
			for _, statement := range []string{"DELETE FROM tussock.to_read", `INSERT INTO tussock.nest SELECT (jsonb_populate_record(n, jsonb_build_object('upload_id', u.id))).*
				FROM tussock.nest n CROSS JOIN tussock.upload u JOIN tussock.upload_file f ON f.upload_id = u.id WHERE f.name = 'waits.csv'`} {
				if _, err := tx.Exec(ctx, statement); err != nil {
					t.Fatal(err)
				}
			}
			r.cutDue(t)
			done := make(chan error, 1)
			go func() { _, err := r.Owner.Exec(ctx, "SELECT tussock.freeze_due(NULL)"); done <- err }()
			select {
			case err = <-done:
				if rule {
					t.Error("the cut-off did not wait for what is being kept")
				}
			case <-time.After(2 * time.Second):
				if err = tx.Commit(ctx); err == nil {
					err = <-done
				}
			}
			if err != nil {
				t.Fatal(err)
			}
			if got, want := r.copied(t), map[bool]string{true: "waits.csv 3, read.csv 3; 1", false: "read.csv 3; 1"}[rule]; got != want {
				t.Errorf("the copy has %q, want %q", got, want)
			}
		})
	}
}

// TestFiledAfterTheCutOff: so does a sheet of which the clerk had yet to find out which ranch it is of.
func TestFiledAfterTheCutOff(t *testing.T) {
	r, clerk := cutRoom(t)
	send := func(file string) {
		r.As(t, r.owner, func(tx *postgres.Tx) error {
			return tx.SendUnfiled(postgres.Sending{File: file, Data: []byte(file), Together: postgres.NewSending(), Language: words.English})
		})
	}
	send("waits.csv")
	r.Cut(t, r.boss.Coop, 2026)
	send("late.csv")
	for task := takes(t, clerk); task != nil; task = takes(t, clerk) {
		if !task.Unfiled() {
			r.keeps(t, clerk, task, postgres.Read{})
		} else if err := clerk.File(context.Background(), task, r.ranch); err != nil {
			t.Fatal(err)
		}
	}
	if got := r.copied(t); got != "waits.csv 3, read.csv 3; 1" {
		t.Errorf("the copy has %q", got)
	}
}

// TestNoCutBeforeTheOpening: dates that are written down while other seasons are carried out are carried out the next time, opening first.
// Without the rule the season is cut off with nobody on its roster, and its copy stays empty.
func TestNoCutBeforeTheOpening(t *testing.T) {
	for _, rule := range []bool{true, false} {
		t.Run(fmt.Sprintf("rule %v", rule), func(t *testing.T) {
			ctx := context.Background()
			r := newReadingRoom(t)
			if !rule {
				without(t, r.Fixture, "tussock.freeze_due(uuid)", "x.opened_at IS NOT NULL AND ", "")
			}
			today := time.Now().UTC().Truncate(24 * time.Hour)
			put := func(year, days int) {
				day := today.AddDate(0, 0, -days)
				if err := r.Owner.PutSeason(ctx, r.boss.Coop, postgres.Season{Year: year, Opens: day, CutOff: day.AddDate(0, 0, 1), Composed: day.AddDate(0, 0, 1), Published: day.AddDate(0, 0, 2)}); err != nil {
					t.Fatal(err)
				}
			}
			put(2025, 9)
			conn, err := pgx.Connect(ctx, r.AdminURL)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close(ctx)
			tx, err := conn.Begin(ctx)
			if err != nil {
				t.Fatal(err)
			}
			defer tx.Rollback(ctx)
			if _, err := tx.Exec(ctx, "LOCK TABLE tussock.season_ranch IN ACCESS EXCLUSIVE MODE"); err != nil { // the opening of 2025 waits here
				t.Fatal(err)
			}
			done := make(chan error, 1)
			go func() { _, err := r.Owner.Exec(ctx, "SELECT tussock.freeze_due(NULL)"); done <- err }()
			for deadline := time.Now().Add(20 * time.Second); r.text(t, "SELECT count(*)::text FROM pg_locks l JOIN pg_database d ON d.oid = l.database WHERE d.datname = current_database() AND NOT l.granted") == "0"; time.Sleep(10 * time.Millisecond) {
				if time.Now().After(deadline) {
					t.Fatal("the opening waits for nothing")
				}
			}
			put(2026, 5)
			if err := tx.Rollback(ctx); err != nil {
				t.Fatal(err)
			}
			if err := <-done; err != nil {
				t.Fatal(err)
			}
			if got, want := r.text(t, "SELECT count(*)::text FROM tussock.edition WHERE season = 2026"), map[bool]string{true: "0", false: "1"}[rule]; got != want {
				t.Errorf("%s copies of a season that was not opened, want %s", got, want)
			}
			r.exec(t, "SELECT tussock.freeze_due(NULL)")
			if got := r.text(t, "SELECT (on_roster > 0)::text FROM tussock.edition WHERE season = 2026"); (got == "true") != rule {
				t.Errorf("somebody is on its roster: %s", got)
			}
		})
	}
}
