package postgres_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
)

// TestFigures: a figure is there for a reader as a cell on as many landowners is: on at least four that they do not
// know; a hand has none, nobody learns on how many, and nobody changes one.
func TestFigures(t *testing.T) {
	f := pgtest.New(t)
	s := &stage{Fixture: f, boss: f.Cooperative(t, "Bluestem")}
	other := f.Cooperative(t, "Grama")
	for _, coop := range []access.ID{s.boss.Coop, other.Coop} {
		s.bulletin(t, coop, 2025, 5)
		for i, n := range []int{10, 11, 12} {
			s.seed(t, `INSERT INTO pub.figure (coop_id, season, row, kind, place, body, n) VALUES ($1, 2025, $2, $3, $4, '{"verdict": "worse"}', $5)`,
				coop, i+1, []string{"trend", "trend", "limits"}[i], []*string{new("North"), nil, nil}[i], n)
		}
	}
	var ranches []access.ID
	for i := range 8 {
		f.As(t, s.boss, func(tx *postgres.Tx) error {
			id, err := tx.SaveRanch(postgres.Ranch{Name: fmt.Sprintf("Ranch %d", i), Owner: fmt.Sprintf("Owner %d", i)})
			ranches = append(ranches, id)
			return err
		})
	}
	for _, tt := range []struct {
		role    access.Role
		ranches int
		want    int
	}{
		{access.Coordinator, 0, 3}, {access.Biologist, 0, 3}, {access.Planner, 0, 3},
		{access.Landowner, 1, 3}, {access.Landowner, 7, 2}, {access.Landowner, 8, 1}, {access.Hand, 1, 0},
	} {
		a := f.Member(t, s.boss, tt.role, fmt.Sprint(tt.role, tt.ranches), ranches[:tt.ranches]...)
		f.As(t, a, func(tx *postgres.Tx) error {
			list, err := tx.Figures(0, "")
			if len(list) != tt.want {
				t.Errorf("a %s who knows %d sees %d figures, want %d", tt.role, tt.ranches, len(list), tt.want)
			}
			return err
		})
	}
	a := f.Member(t, s.boss, access.Landowner, "Reader")
	f.As(t, a, func(tx *postgres.Tx) error {
		trends, err := tx.Figures(2025, bulletin.TrendKind)
		var body bulletin.Trend
		if len(trends) != 2 || trends[0].Place != nil || *trends[1].Place != "North" || trends[0].N != 0 || trends[0].Into(&body) != nil || body.Verdict != bulletin.Worse {
			t.Errorf("trends %+v", trends)
		}
		if none, _ := tx.Figures(2024, ""); len(none) > 0 {
			t.Errorf("figures of another season: %+v", none)
		}
		return err
	})
	s.raw(t, a.Session, func(tx pgx.Tx) {
		for statement, want := range map[string]any{
			"SELECT n FROM pub.figure":      refused,
			"UPDATE pub.figure SET n = 100": refused,
			"DELETE FROM pub.figure":        refused,
			"INSERT INTO pub.figure (coop_id, season, row, kind, body, n) VALUES ('" + string(a.Coop) + "', 2025, 9, 'trend', '{}', 10)": refused,
			"SELECT kind FROM pub.figure WHERE coop_id <> '" + string(a.Coop) + "'":                                                      0,
		} {
			if got := try(t, tx, statement); got != want {
				t.Errorf("%s: got %v, want %v", statement, got, want)
			}
		}
	})
	conn, err := pgx.Connect(context.Background(), s.PressURL)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	tx, err := conn.Begin(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback(context.Background())
	for _, statement := range []string{"UPDATE pub.figure SET body = '{}'", "DELETE FROM pub.figure", "TRUNCATE pub.figure"} {
		if got := try(t, tx, statement); got != refused {
			t.Errorf("the press: %s: got %v", statement, got)
		}
	}
	if _, err := f.Owner.Exec(context.Background(), "UPDATE pub.figure SET n = 4"); err == nil {
		t.Error("a figure that tells of four landowners is kept")
	}
}
