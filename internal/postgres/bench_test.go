package postgres_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/survey"
)

// many is a sheet of n nests, each with two visits.
func many(t testing.TB, n int) *survey.Data {
	set, first, second := date(t, "2026-05-11"), date(t, "2026-05-25"), date(t, "2026-06-08")
	d := &survey.Data{Nests: make([]survey.Nest, n)}
	for i := range d.Nests {
		d.Nests[i] = survey.Nest{Season: 2026, Transect: fmt.Sprint(i / 20), Number: fmt.Sprint(i % 20), Substrate: survey.Bunchgrass, SetOn: set, EggsLeft: -1,
			Visits: []survey.Visit{{On: first, State: survey.Intact}, {On: second, State: survey.Intact}}, From: survey.Cell{Sheet: "nests", Row: i + 2}}
	}
	return d
}

// BenchmarkSend measures what the protection costs: rows written through the door, under policies and keys, and the
// same rows in a plain COPY by the owner into a table with neither.
func BenchmarkSend(b *testing.B) {
	const n = 100_000
	f := pgtest.New(b)
	boss := f.Cooperative(b, "Bluestem")
	ranch, owner := f.Ranch(b, boss, postgres.Ranch{Name: "Dry Fork"})
	rows := many(b, n)

	b.Run("Send", func(b *testing.B) {
		for range b.N {
			f.As(b, owner, func(tx *postgres.Tx) error {
				_, _, err := tx.Send(postgres.Sending{Ranch: ranch, File: "many.csv", Data: []byte(time.Now().String()), Rows: rows})
				return err
			})
		}
		b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "rows/s")
	})
	b.Run("PlainCopy", func(b *testing.B) {
		ctx := context.Background()
		conn, err := pgx.Connect(ctx, f.AdminURL)
		if err != nil {
			b.Fatal(err)
		}
		defer conn.Close(ctx)
		if _, err := conn.Exec(ctx, "DROP TABLE IF EXISTS public.plain; CREATE TABLE public.plain AS SELECT * FROM tussock.nest LIMIT 0"); err != nil {
			b.Fatal(err)
		}
		columns := []string{"coop_id", "ranch_id", "upload_id", "row", "season", "transect", "number", "substrate", "set_on", "visit_on", "visit_state", "from_sheet", "from_row"}
		b.ResetTimer()
		for range b.N {
			_, err := conn.CopyFrom(ctx, pgx.Identifier{"public", "plain"}, columns, pgx.CopyFromSlice(n, func(i int) ([]any, error) {
				r := &rows.Nests[i]
				return []any{string(owner.Coop), string(ranch), string(ranch), i, r.Season, r.Transect, r.Number, string(r.Substrate), r.SetOn.Time(),
					[]time.Time{r.Visits[0].On.Time(), r.Visits[1].On.Time()}, []string{"intact", "intact"}, r.From.Sheet, r.From.Row}, nil
			}))
			if err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "rows/s")
	})
	b.Run("Survey", func(b *testing.B) {
		if _, err := f.Owner.Exec(context.Background(), "SELECT tussock.purge($1, $2)", owner.Coop, ranch); err != nil {
			b.Fatal(err)
		}
		f.As(b, owner, func(tx *postgres.Tx) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: ranch, File: "many.csv", Data: []byte("once"), Rows: rows})
			return err
		})
		b.ResetTimer()
		for range b.N {
			f.As(b, owner, func(tx *postgres.Tx) error {
				d, err := tx.Survey([]access.ID{ranch}, 0)
				if err == nil && len(d.Nests) != n {
					b.Fatalf("read %d nests, want %d", len(d.Nests), n)
				}
				return err
			})
		}
		b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "rows/s")
	})
}

// BenchmarkFindings measures a look at what a ranch's rows come to: kept, as pages have it; worked out at each look; and beside both the
// one row of the ranch that any page loads.
func BenchmarkFindings(b *testing.B) {
	f := pgtest.New(b)
	ranch, owner := f.Ranch(b, f.Cooperative(b, "Bluestem"), postgres.Ranch{Name: "Dry Fork"})
	f.As(b, owner, func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: ranch, File: "many.csv", Data: []byte("many"), Rows: many(b, 100_000)})
		return err
	})
	for _, look := range []struct {
		name string
		at   func(*postgres.Tx) error
	}{
		{"Bare", func(tx *postgres.Tx) error { _, err := tx.Ranch(ranch); return err }},
		{"Kept", func(tx *postgres.Tx) error { _, err := tx.Findings(ranch); return err }},
		{"WorkedOut", func(tx *postgres.Tx) error {
			d, err := tx.Survey([]access.ID{ranch}, 0)
			if err == nil {
				findings.Compute(d, findings.Options{})
			}
			return err
		}},
	} {
		b.Run(look.name, func(b *testing.B) {
			for b.Loop() {
				f.As(b, owner, look.at)
			}
		})
	}
}
