package press_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
)

// TestT12Withdrawal: one landowner asks to be erased. When the server has carried it out, the bulletin that is out is the
// same for every reader; no final revision is made without them, however many late sheets there are; the next season's is
// made without them; and nothing that readers see has the day in it.
func TestT12Withdrawal(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 9)
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
	c.As(t, c.owners[8], func(tx *postgres.Tx) error {
		_, err := tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: c.ranches[8]})
		return err
	})
	frozen, seen := c.frozen(t), c.cells(t, c.owners[0], 2026)
	c.DB.Now = func() time.Time { return time.Now().AddDate(0, 0, 15) }
	done, err := c.DB.CarryOut(context.Background())
	c.DB.Now = nil
	if err != nil || len(done) != 1 || done[0].Failure != "" {
		t.Fatalf("carried out %+v, %v", done, err)
	}
	if c.frozen(t) != frozen || len(c.cells(t, c.owners[0], 2026)) != len(seen) {
		t.Error("the bulletin that is out has changed")
	}
	for i := range 5 {
		c.mend(t, i)
	}
	c.Later(t, c.boss.Coop, 2026)
	frozen = c.frozen(t)
	presstest.Compose(t, c.Fixture)
	if e := c.editions(t)[0]; e.Edition != 2 || !strings.Contains(e.Note, "stay as they are") {
		t.Errorf("a final revision without them: %+v", e)
	}
	if c.frozen(t) != frozen {
		t.Error("the refused revision left something behind")
	}

	for i := range 8 {
		c.send(t, i, rowsOf(t, i, 2027), "")
	}
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2027)
	if in := c.due(t, 2027, 1); len(in.Roster) != 8 {
		t.Errorf("the next roster has %d ranches, want 8", len(in.Roster))
	}
	cells := c.cells(t, c.owners[0], 2027)
	if len(cells) == 0 {
		t.Error("the next season gives nothing")
	}
	for _, cell := range cells {
		if cell.N != 0 || cell.Entities != "5-9" {
			t.Errorf("%+v", cell)
		}
	}
}

// TestT12NoBeforeComposition: a no that comes after the cut-off and before the bulletin is composed is heeded: the copy goes.
func TestT12NoBeforeComposition(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 8)
	c.Vouch(t, c.boss.Coop)
	c.Open(t, c.boss.Coop, 2026)
	c.Cut(t, c.boss.Coop, 2026)
	c.As(t, c.owners[3], func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[3], 0) })
	presstest.Compose(t, c.Fixture)
	if got := c.text(t, "SELECT counted || ' ' || (SELECT count(*) FROM tussock.snapshot WHERE ranch_id = $1) FROM tussock.edition", c.ranches[3]); got != "7 0" {
		t.Errorf("composed from, and left of who said no: %s, want 7 0", got)
	}
}

// TestT37ShowCase: an owner who shows a figure under the ranch's name protects nobody. Five landowners of whom one is
// known to all are four, so nothing is published; the same five without that are.
func TestT37ShowCase(t *testing.T) {
	t.Parallel()
	for _, shown := range []bool{false, true} {
		c := newCoop(t, 5)
		if shown {
			show := postgres.Showing{Ranch: c.ranches[0], Season: 2026, Item: postgres.ShowSurvival, Estimate: 0.62, Low: 0.5, High: 0.7}
			c.As(t, c.owners[0], func(tx *postgres.Tx) error { return tx.Show(show) })
			c.As(t, c.owners[1], func(tx *postgres.Tx) error {
				list, err := tx.Showings()
				if len(list) != 0 {
					t.Error("the figure is out before the bulletin")
				}
				return err
			})
		}
		presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
		for _, m := range c.due(t, 2026, 1).Roster {
			if want := map[bool]int{false: bulletin.Counted, true: bulletin.Shown}[shown && m.Ranch == string(c.ranches[0])]; m.Consent != want {
				t.Errorf("shown %v: the press has %s at level %d, want %d", shown, m.Ranch, m.Consent, want)
			}
		}
		cells := c.cells(t, c.owners[1], 2026)
		if (len(cells) > 0) == shown {
			t.Errorf("shown %v: %d cells are published on five landowners", shown, len(cells))
		}
		if !shown {
			// Beside a bulletin that counted the owner among its five, the own figure would leave four.
			err := c.DB.As(context.Background(), c.owners[0], func(tx *postgres.Tx) error {
				return tx.Show(postgres.Showing{Ranch: c.ranches[0], Season: 2026, Item: postgres.ShowSurvival, Estimate: 0.62})
			})
			if message, _ := errs.Message(err); !strings.Contains(message, "is out or being made") {
				t.Errorf("a figure beside a bulletin that counted its owner: %v", err)
			}
			continue
		}
		c.As(t, c.owners[1], func(tx *postgres.Tx) error {
			list, err := tx.Showings()
			if len(list) != 1 || list[0].RanchName != "Ranch 00" || list[0].Estimate != 0.62 || !list[0].Out {
				t.Errorf("with the bulletin neighbors see %+v", list)
			}
			if len(list) > 0 && tx.TakeDown(list[0].ID) == nil {
				t.Error("a neighbor takes it down")
			}
			return err
		})
		// Taken down it is seen no longer; what everybody has seen, everybody knows.
		c.As(t, c.owners[0], func(tx *postgres.Tx) error {
			list, err := tx.OwnShowings(c.ranches[0])
			if err != nil || len(list) != 1 {
				t.Fatal(list, err)
			}
			return tx.TakeDown(list[0].ID)
		})
		c.As(t, c.owners[1], func(tx *postgres.Tx) error {
			list, err := tx.Showings()
			if len(list) != 0 {
				t.Errorf("still shown: %v", list)
			}
			return err
		})
		presstest.Publish(t, c.Fixture, c.boss.Coop, 2027)
		for _, m := range c.due(t, 2027, 1).Roster {
			if m.Ranch == string(c.ranches[0]) && m.Consent != bulletin.Shown {
				t.Errorf("taken down, the owner counts as unknown again: %+v", m)
			}
		}
	}
}

// TestNoRevisionWithoutARanch: the same where an owner of two ranches takes back the yes for one of them.
func TestNoRevisionWithoutARanch(t *testing.T) {
	t.Parallel()
	c := newCoop(t, 9)
	c.exec(t, "UPDATE tussock.ranch SET entity_id = (SELECT entity_id FROM tussock.ranch WHERE name = 'Ranch 06') WHERE name = 'Ranch 07'")
	presstest.Publish(t, c.Fixture, c.boss.Coop, 2026)
	c.As(t, c.owners[7], func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[7], 0) })
	for i := range 5 {
		c.mend(t, i)
	}
	c.Later(t, c.boss.Coop, 2026)
	presstest.Compose(t, c.Fixture)
	if e := c.editions(t)[0]; e.Edition != 2 || !strings.Contains(e.Note, "stay as they are") {
		t.Errorf("a final revision without one of two ranches: %+v", e)
	}
}
