package press_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// TestT12Withdrawal: one landowner asks to be erased. When the server has carried it out, the bulletin that is out is the
// same for every reader; no final revision is made without them, however many late sheets there are; the next season's is
// made without them; and nothing that readers see has the day in it.
func TestT12Withdrawal(t *testing.T) {
	c := newCoop(t, 8)
	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s", o.Note)
	}
	c.exec(t, "UPDATE pub.bulletin SET published_at = now() - interval '31 days'")
	frozen, seen := c.frozen(t), c.cells(t, c.owners[0], 2026)
	c.As(t, c.owners[7], func(tx *postgres.Tx) error {
		_, err := tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: c.ranches[7]})
		return err
	})
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
		c.late(t, i)
	}
	if o := c.order(t, 2026, postgres.FinalKind); o.State != postgres.Failed || !strings.Contains(o.Note, "stay as they are") {
		t.Errorf("a final revision without them: %s, %q", o.State, o.Note)
	}
	if c.frozen(t) != frozen {
		t.Error("the refused revision left something behind")
	}

	for i := range 7 {
		d := rows(t, i)
		for n := range d.Nests {
			nest := &d.Nests[n]
			nest.Season, nest.SetOn = 2027, nest.SetOn+365
			for v := range nest.Visits {
				nest.Visits[v].On += 365
			}
		}
		for b := range d.Belts {
			d.Belts[b].Season = 2027
		}
		c.As(t, c.owners[i], func(tx *postgres.Tx) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: c.ranches[i], File: "next.csv", Data: []byte("next season"), Rows: d})
			return err
		})
	}
	in, err := c.Press(t).Load(context.Background(), postgres.Order{Coop: c.boss.Coop, Season: 2027})
	if err != nil || len(in.Roster) != 7 {
		t.Errorf("the next roster has %d ranches, %v; want 7", len(in.Roster), err)
	}
	if o := c.order(t, 2027, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish the next season: %s", o.Note)
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

// TestT37ShowCase: an owner who shows a figure under the ranch's name protects nobody. Five landowners of whom one is
// known to all are four, so nothing is published; the same five without that are.
func TestT37ShowCase(t *testing.T) {
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
		in, err := c.Press(t).Load(context.Background(), postgres.Order{Coop: c.boss.Coop, Season: 2026})
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range in.Roster {
			if want := map[bool]int{false: 1, true: 3}[shown && m.Ranch == "Ranch 00"]; m.Consent != want {
				t.Errorf("shown %v: the press has %s at level %d, want %d", shown, m.Ranch, m.Consent, want)
			}
		}
		if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
			t.Fatalf("publish: %s", o.Note)
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
				t.Errorf("with the bulletin neighbours see %+v", list)
			}
			if len(list) > 0 && tx.TakeDown(list[0].ID) == nil {
				t.Error("a neighbour takes it down")
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
		in, err = c.Press(t).Load(context.Background(), postgres.Order{Coop: c.boss.Coop, Season: 2027})
		if err != nil || in.Roster[0].Consent != 3 {
			t.Errorf("taken down, the owner counts as unknown again: %+v, %v", in.Roster, err)
		}
	}
	// The pure rule, with the bulletin's own types.
	roster := []bulletin.Member{}
	data := &survey.Data{}
	for i := range 5 {
		name := string(rune('A' + i))
		roster = append(roster, bulletin.Member{Ranch: name, Area: "North", Consent: 1})
		d := rows(t, i)
		for n := range d.Nests {
			d.Nests[n].Ranch = name
		}
		data.Nests = append(data.Nests, d.Nests...)
	}
	published := func() (n int) {
		b, err := bulletin.Compose(bulletin.Input{Data: data, Roster: roster, Areas: []bulletin.Area{{Name: "North"}}, Season: 2026})
		if err != nil {
			t.Fatal(err)
		}
		for _, cell := range b.Cells {
			if cell.Published {
				n++
			}
		}
		return n
	}
	if published() == 0 {
		t.Error("five landowners give nothing")
	}
	roster[2].Consent = 3
	if n := published(); n != 0 {
		t.Errorf("five of whom one is known to all give %d cells", n)
	}
}

// TestNoRevisionWithoutARanch: the same where an owner of two ranches takes back the yes for one of them.
func TestNoRevisionWithoutARanch(t *testing.T) {
	c := newCoop(t, 8)
	c.exec(t, "UPDATE tussock.ranch SET entity_id = (SELECT entity_id FROM tussock.ranch WHERE name = 'Ranch 06') WHERE name = 'Ranch 07'")
	if o := c.order(t, 2026, postgres.PublishKind); o.State != postgres.Done {
		t.Fatalf("publish: %s", o.Note)
	}
	c.exec(t, "UPDATE pub.bulletin SET published_at = now() - interval '31 days'")
	c.As(t, c.owners[7], func(tx *postgres.Tx) error { return tx.SetConsent(c.ranches[7], 0) })
	for i := range 5 {
		c.late(t, i)
	}
	if o := c.order(t, 2026, postgres.FinalKind); o.State != postgres.Failed || !strings.Contains(o.Note, "stay as they are") {
		t.Errorf("a final revision without one of two ranches: %s, %q", o.State, o.Note)
	}
}
