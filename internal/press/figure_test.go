package press_test

import (
	"context"
	"errors"
	"slices"
	"testing"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// TestFigures: publishing freezes the figures from models, with the program's version and how many rows stand behind them; a
// preview freezes none, and tells the coordinator alone which would be held. What is taken back takes what reads it along.
func TestFigures(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 9)
	figures := func(a access.Actor) (list []bulletin.Figure) {
		c.As(t, a, func(tx *postgres.Tx) (err error) {
			list, err = tx.Figures(2026, "")
			return err
		})
		return list
	}
	for i := range 3 {
		c.add(t, 9+i)
	}
	if o := c.order(t, 2026, postgres.PreviewKind); o.State != postgres.Done {
		t.Fatalf("preview: %s: %s", o.State, o.Note)
	}
	if got, err := c.Owner.Text(context.Background(), "SELECT count(*)::text FROM pub.figure"); err != nil || got != "0" {
		t.Fatalf("a preview left %s figures: %v", got, err)
	}
	c.previewed(t)
	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s: %s", o.State, o.Note)
	}
	list := figures(c.owners[0])
	kinds := map[string]bool{}
	for _, f := range list {
		kinds[f.Kind] = true
	}
	if len(list) == 0 || !kinds[bulletin.QualityKind] || !kinds[bulletin.StandardisedKind] {
		t.Fatalf("figures of kinds %v, want standardised and quality among them", kinds)
	}
	for _, f := range list {
		if f.Kind != bulletin.QualityKind {
			continue
		}
		var q bulletin.Quality
		if err := f.Into(&q); err != nil || q.OpenQuestions == nil || *q.OpenQuestions != 0 || q.FirstOnDay == nil || *q.FirstOnDay != 1 {
			t.Errorf("quality %s: %v", f.Body, err)
		}
		if q.Nests == nil || *q.Nests != 720 || q.Transects == nil || *q.Transects != 40 { // 12 ranches of 60 nests on 3 transects
			t.Errorf("quality rests on %+v", q.Basis)
		}
	}
	c.As(t, c.owners[0], func(tx *postgres.Tx) error {
		heads, err := tx.Bulletins()
		if len(heads) != 1 || heads[0].Version != "the test's" || heads[0].Seed != 0 {
			t.Errorf("the bulletin says %+v", heads)
		}
		return err
	})
	if got, err := c.Owner.Text(context.Background(), "SELECT string_agg(DISTINCT nests::text, ' ') FROM pub.cell WHERE measure = 'survival_28'"); err != nil || got != "720" {
		t.Errorf("cells rest on %q nests: %v", got, err)
	}

	kindsLeft := func() (left map[string]bool) {
		left = map[string]bool{}
		for _, f := range figures(c.owners[0]) {
			left[f.Kind] = true
		}
		return left
	}
	retract := func(measure string) {
		c.As(t, c.boss, func(tx *postgres.Tx) error {
			_, err := tx.Retract(2026, bulletin.Cell{Season: 2026, Measure: measure})
			return err
		})
	}
	retract(bulletin.ClumpsPerAcre)
	if left := kindsLeft(); left[bulletin.LimitsKind] || left[bulletin.CoverKind] || !left[bulletin.StandardisedKind] {
		t.Errorf("without its cover the bulletin has figures of kinds %v", left)
	}
	retract(bulletin.Survival28)
	if left := kindsLeft(); len(left) > 0 {
		t.Errorf("without its survival the bulletin has figures of kinds %v", left)
	}
	c.As(t, c.owners[0], func(tx *postgres.Tx) error {
		if cells, err := tx.Cells(2026); err != nil || slices.ContainsFunc(cells, func(x bulletin.Cell) bool { return x.Measure == bulletin.SurvivalSpread }) {
			t.Errorf("how owners' survivals lie apart is still there: %v", err)
		}
		trail, err := tx.Retractions()
		noted := 0
		for _, r := range trail {
			if r.Figure != "" {
				noted++
			}
		}
		if noted != len(list) {
			t.Errorf("%d figures are in the trail, want %d", noted, len(list))
		}
		return err
	})
	in, err := c.Press(t).Load(context.Background(), postgres.Order{Coop: c.boss.Coop, Season: 2027})
	if err != nil || len(in.Earlier[0].Figures) != len(list) {
		t.Errorf("the press knows of %d published figures, want %d: %v", len(in.Earlier[0].Figures), len(list), err)
	}
}

// previewed looks at the newest preview: it has verdicts on figures, and nobody else reads them.
func (c *coop) previewed(t *testing.T) {
	t.Helper()
	var id access.ID
	c.As(t, c.boss, func(tx *postgres.Tx) error {
		orders, err := tx.PressOrders()
		if err != nil {
			return err
		}
		id = orders[0].ID
		verdicts, err := tx.PreviewFigures(id)
		kinds := map[string]bool{}
		for _, v := range verdicts {
			kinds[v.Kind] = true
		}
		if !kinds[bulletin.StandardisedKind] || !kinds[bulletin.QualityKind] || !kinds[bulletin.LimitsKind] {
			t.Errorf("the preview says %v of figures", verdicts)
		}
		return err
	})
	err := c.DB.As(context.Background(), c.owners[0], func(tx *postgres.Tx) error {
		_, err := tx.PreviewFigures(id)
		return err
	})
	if !errors.Is(err, errs.Forbidden) {
		t.Errorf("a landowner reads the preview of figures: %v", err)
	}
}
