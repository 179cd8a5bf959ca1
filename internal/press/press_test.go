package press_test

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/press"
	"tussock/internal/survey"
)

// A coop is a cooperative of ranches with one season each, and a press at work.
type coop struct {
	*pgtest.Fixture
	boss    access.Actor
	owners  []access.Actor
	ranches []access.ID
}

func newCoop(t *testing.T, ranches int) *coop {
	t.Helper()
	c := &coop{Fixture: pgtest.New(t)}
	c.boss = c.Cooperative(t, "Bluestem")
	c.As(t, c.boss, func(tx *postgres.Tx) error { return tx.SaveArea("North", "") })
	for i := range ranches {
		c.add(t, i)
	}
	p := c.Press(t)
	p.Version = "the test's"
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		if err := press.Run(ctx, p, slog.New(slog.DiscardHandler)); err != nil {
			t.Error(err)
		}
	}()
	t.Cleanup(func() { cancel(); <-done })
	return c
}

// add lets one more ranch join, consent and send its season.
func (c *coop) add(t *testing.T, i int) {
	t.Helper()
	id, owner := c.Ranch(t, c.boss, postgres.Ranch{Name: fmt.Sprintf("Ranch %02d", i), Area: "North"})
	c.ranches, c.owners = append(c.ranches, id), append(c.owners, owner)
	c.As(t, owner, func(tx *postgres.Tx) error { return tx.SetConsent(id, 1) })
	c.send(t, i, rows(t, i), "")
}

func (c *coop) send(t *testing.T, i int, d *survey.Data, replaces access.ID) (id access.ID) {
	t.Helper()
	c.As(t, c.owners[i], func(tx *postgres.Tx) (err error) {
		id, _, err = tx.Send(postgres.Sending{Ranch: c.ranches[i], File: "f", Data: fmt.Append(nil, replaces, i), Rows: d, Replaces: replaces})
		return err
	})
	return id
}

// rows are 60 nests on three transects, of which every (i%3+3)rd is taken by day 14, and a belt a transect.
func rows(t *testing.T, i int) *survey.Data {
	set, err := survey.ParseDate("2026-05-11")
	if err != nil {
		t.Fatal(err)
	}
	d := &survey.Data{}
	for n := range 60 {
		nest := survey.Nest{Season: 2026, Transect: fmt.Sprint(n % 3), Number: fmt.Sprint(n), Substrate: survey.Bunchgrass, SetOn: set, EggsLeft: -1,
			Visits: []survey.Visit{{On: set + 14, State: survey.Intact}, {On: set + 28, State: survey.Intact}}}
		if n%(i%3+3) == 0 {
			nest.Visits = []survey.Visit{{On: set + 14, State: survey.Taken}}
		}
		d.Nests = append(d.Nests, nest)
	}
	for n := range 3 {
		d.Belts = append(d.Belts, survey.Belt{Season: 2026, Transect: fmt.Sprint(n), LengthFt: 660, WidthFt: 66, Counts: map[survey.Substrate]int{survey.Bunchgrass: 100 + 10*i}})
	}
	return d
}

// order has the press carry one out and returns how it ended.
func (c *coop) order(t *testing.T, season int, kind string) postgres.PressOrder {
	t.Helper()
	var id access.ID
	c.As(t, c.boss, func(tx *postgres.Tx) (err error) {
		id, err = tx.OrderPress(season, kind)
		return err
	})
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		var list []postgres.PressOrder
		c.As(t, c.boss, func(tx *postgres.Tx) (err error) {
			list, err = tx.PressOrders()
			return err
		})
		for _, o := range list {
			if o.ID == id && (o.State == postgres.Done || o.State == postgres.Failed) {
				return o
			}
		}
	}
	t.Fatal("the press did not carry the order out")
	return postgres.PressOrder{}
}

// frozen is all that is published, byte for byte.
func (c *coop) frozen(t *testing.T) string {
	t.Helper()
	got, err := c.Owner.Text(context.Background(), `SELECT string_agg(x, E'\n' ORDER BY x) FROM (
		SELECT b::text FROM pub.bulletin b UNION ALL SELECT c::text FROM pub.cell c UNION ALL SELECT p::text FROM pub.place p) t(x)`)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestPublish(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 8)
	ctx := context.Background()

	preview := c.order(t, 2026, postgres.PreviewKind)
	if preview.State != postgres.Done {
		t.Fatalf("preview: %s: %s", preview.State, preview.Note)
	}
	if got := c.frozen(t); got != "" {
		t.Fatalf("a preview published %s", got)
	}
	var planned []bulletin.Cell
	c.As(t, c.boss, func(tx *postgres.Tx) (err error) {
		planned, err = tx.Preview(preview.ID)
		return err
	})
	published := 0
	for _, cell := range planned {
		if cell.Estimate != nil || cell.Low != nil || cell.High != nil {
			t.Errorf("the preview holds a figure: %+v", cell)
		}
		if cell.Published {
			published++
		} else if cell.HeldBecause == "" {
			t.Errorf("held without a reason: %+v", cell)
		}
	}
	if published == 0 {
		t.Fatalf("nothing to publish of %d cells: %+v", len(planned), planned)
	}

	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s: %s", o.State, o.Note)
	}
	before := c.frozen(t)
	c.As(t, c.owners[0], func(tx *postgres.Tx) error {
		cells, err := tx.Cells(2026)
		heads, err2 := tx.Bulletins()
		if err != nil || err2 != nil {
			t.Error(err, err2)
		}
		if len(cells) != published || len(heads) != 1 || heads[0].Number != 1 || heads[0].Hash == "" {
			t.Errorf("a landowner sees %d cells and %+v, want %d cells of bulletin 1", len(cells), heads, published)
		}
		return nil
	})

	// Whatever comes after, the bulletin stays as it is, and so does what every reader gets.
	stays := func(t *testing.T) {
		t.Helper()
		err := c.DB.As(ctx, c.boss, func(tx *postgres.Tx) error {
			_, err := tx.OrderPress(2026, postgres.PublishKind)
			return err
		})
		if message, _ := errs.Message(err); !strings.Contains(message, "published already") {
			t.Errorf("a second bulletin: got %v", err)
		}
		if after := c.frozen(t); after != before {
			t.Errorf("the bulletin changed from\n%s\nto\n%s", before, after)
		}
	}
	t.Run("a ranch joins", func(t *testing.T) {
		c.add(t, 8)
		stays(t)
	})
	t.Run("a fate is corrected", func(t *testing.T) {
		d := rows(t, 1)
		d.Nests[1].Visits = d.Nests[1].Visits[:1]
		d.Nests[1].Visits[0].State = survey.Taken
		var old []postgres.Upload
		c.As(t, c.owners[1], func(tx *postgres.Tx) (err error) {
			old, err = tx.Uploads(c.ranches[1])
			return err
		})
		c.send(t, 1, d, old[0].ID)
		c.As(t, c.owners[1], func(tx *postgres.Tx) error {
			own, err := tx.Survey(c.ranches[1:2], 2026)
			if err == nil && own.Nests[1].Fate() != survey.Taken {
				t.Errorf("the ranch's own nest is %q, want taken", own.Nests[1].Fate())
			}
			return err
		})
		stays(t)
	})
	t.Run("a ranch withdraws", func(t *testing.T) {
		c.Erase(t, c.ranches[2])
		left, err := c.Owner.Text(ctx, `SELECT count(*) FROM (SELECT 1 FROM tussock.nest WHERE ranch_id = $1 UNION ALL SELECT 1 FROM tussock.belt WHERE ranch_id = $1
			UNION ALL SELECT 1 FROM tussock.upload_file WHERE ranch_id = $1 UNION ALL SELECT 1 FROM tussock.reading WHERE ranch_id = $1) x`, c.ranches[2])
		if err != nil || left != "0" {
			t.Errorf("after the ranch withdrew %s of its rows are left, %v", left, err)
		}
		stays(t)
		p, err := postgres.OpenPress(ctx, c.PressURL)
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		in, err := p.Load(ctx, postgres.Order{Coop: c.boss.Coop, Season: 2027})
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range in.Data.Nests {
			if n.Ranch == "Ranch 02" {
				t.Fatal("the next bulletin would count a ranch that withdrew")
			}
		}
		for _, m := range in.Roster {
			if m.Ranch == "Ranch 02" && m.Consent != 0 {
				t.Errorf("consent of the ranch that withdrew is %d", m.Consent)
			}
		}
	})
	t.Run("two orders at once", func(t *testing.T) {
		// Past the check of the page: the order is there before the bulletin is.
		if _, err := c.Owner.Exec(ctx, `INSERT INTO tussock.press_order (coop_id, season, kind, ordered_by, ordered_at) VALUES ($1, 2026, 'publish', $2, now())`, c.boss.Coop, c.boss.Person); err != nil {
			t.Fatal(err)
		}
		deadline := time.Now().Add(30 * time.Second)
		for {
			note, err := c.Owner.Text(ctx, "SELECT note FROM tussock.press_order WHERE state = 'failed'")
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(note, "published already") {
				break
			}
			if time.Now().After(deadline) {
				t.Fatalf("the second order's note: %q", note)
			}
			time.Sleep(50 * time.Millisecond)
		}
		stays(t)
	})
}

// TestPrivateRanch: without its owner's consent a ranch is not even loaded.
func TestPrivateRanch(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 2)
	c.As(t, c.owners[0], func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[0], 0) })
	p, err := postgres.OpenPress(context.Background(), c.PressURL)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	in, err := p.Load(context.Background(), postgres.Order{Coop: c.boss.Coop, Season: 2026})
	if err != nil {
		t.Fatal(err)
	}
	if len(in.Roster) != 2 || len(in.Data.Nests) != 60 || in.Data.Nests[0].Ranch != "Ranch 01" || len(in.Areas) != 1 {
		t.Errorf("loaded %d on the roster, %d nests, %d areas; want 2, 60, 1", len(in.Roster), len(in.Data.Nests), len(in.Areas))
	}
}
