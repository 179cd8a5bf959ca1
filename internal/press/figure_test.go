package press_test

import (
	"context"
	"testing"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
)

// TestFigures: publishing freezes the figures from models, a preview none; with nine ranches there are none.
func TestFigures(t *testing.T) {
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
	}
}
