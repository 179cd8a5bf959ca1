package postgres_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// TestOneNestHoweverSpelled: a hand's rows of an owner's nests count beside them under no spelling of line, nest or pasture, before a cut-off or
// after it, and two sheets of an owner's that spell a line differently hold one line.
func TestOneNestHoweverSpelled(t *testing.T) {
	s := newStage(t)
	sheet := func(state survey.State, site, line string, nests ...string) *survey.Data {
		d := &survey.Data{}
		for _, n := range nests {
			d.Nests = append(d.Nests, survey.Nest{Site: site, Season: 2027, Transect: line, Number: n, Substrate: survey.Yucca, SetOn: date(t, "2027-05-11"), EggsLeft: -1,
				Visits: []survey.Visit{{On: date(t, "2027-05-25"), State: state}}})
		}
		d.Belts = []survey.Belt{{Site: site, Season: 2027, Transect: line, LengthFt: 300, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Yucca: 1}}}
		return d
	}
	sends := func(who access.Actor, d *survey.Data) (id access.ID) {
		t.Helper()
		s.As(t, who, func(tx *postgres.Tx) (err error) {
			file := fmt.Sprintf("%+v.csv", d)
			id, _, err = tx.Send(postgres.Sending{Ranch: s.ranchA, File: "s.csv", Data: []byte(file), Rows: d})
			return err
		})
		return id
	}
	counts := func(want, when string) {
		t.Helper()
		s.As(t, s.a, func(tx *postgres.Tx) error {
			d, err := tx.Survey([]access.ID{s.ranchA}, 2027)
			lines, taken := map[string]bool{}, 0
			for _, n := range d.Nests {
				lines[n.Site+"/"+n.Transect] = true
				if n.Fate() == survey.Taken {
					taken++
				}
			}
			for _, b := range d.Belts {
				lines[b.Site+"/"+b.Transect] = true
			}
			if got := fmt.Sprintf("%d of %d nests taken, %d belts, %d lines", taken, len(d.Nests), len(d.Belts), len(lines)); got != want {
				t.Errorf("%s: %s, want %s", when, got, want)
			}
			return err
		})
	}
	sends(s.a, sheet(survey.Intact, "North", "1", "1", "2"))
	counts("0 of 2 nests taken, 1 belts, 1 lines", "an owner's")
	hands := 0
	for _, line := range []string{"01", "１", "#1", "1.0", "Line 1", "1\u200b", "T1", "no. 1", "one"} {
		for _, nest := range []string{"1", "01", "1.0", "#1", "nest 1", "１"} {
			id := sends(s.hand, sheet(survey.Taken, "north ", line, nest, "2"))
			hands++
			s.As(t, s.a, func(tx *postgres.Tx) error {
				u, err := tx.Upload(id)
				if err != nil {
					return err
				}
				over, err := tx.Overlaps(u)
				if len(over) != hands || over[hands-1] != (postgres.Overlap{Upload: over[hands-1].Upload, File: "s.csv", SentBy: s.a.Name, SentAt: over[hands-1].SentAt, Nests: 2, Belts: 1, Holds: true}) {
					t.Errorf("line %q, nest %q: overlaps %+v", line, nest, over)
				}
				return err
			})
		}
	}
	counts("0 of 2 nests taken, 1 belts, 1 lines", "with a hand's under every spelling")
	s.As(t, s.a, func(tx *postgres.Tx) error {
		waits, err := tx.Unaccepted(s.ranchA)
		if len(waits) != hands {
			t.Errorf("%d of %d sheets wait for an owner", len(waits), hands)
		}
		return err
	})
	sends(s.a, sheet(survey.Taken, "NORTH", "Line 01", "02", "3"))
	counts("2 of 3 nests taken, 1 belts, 1 lines", "with an owner's own, spelled otherwise")
	s.Cut(t, s.boss.Coop, 2027)
	if got := s.text(t, "SELECT cardinality(hands) FROM tussock.snapshot WHERE season = 2027 AND ranch_id = $1", s.ranchA); got != fmt.Sprint(hands) {
		t.Errorf("the copy knows %s of the hand's sheets", got)
	}
}

// TestManyRowsAreComparedOnce: to open a sheet, the list of sheets or a ranch's page compares a ranch's rows once, and not each with each.
func TestManyRowsAreComparedOnce(t *testing.T) {
	s := newStage(t)
	sheet := func(prefix string) *survey.Data {
		d := &survey.Data{}
		for i := range 5000 {
			d.Nests = append(d.Nests, survey.Nest{Season: 2027, Transect: prefix + fmt.Sprint(1+i/20), Number: fmt.Sprint(1 + i%20), Substrate: survey.Yucca, SetOn: date(t, "2027-05-11"), EggsLeft: -1,
				Visits: []survey.Visit{{On: date(t, "2027-05-25"), State: survey.Intact}}})
		}
		return d
	}
	for who, prefix := range map[*access.Actor]string{&s.a: "", &s.hand: "0"} {
		s.As(t, *who, func(tx *postgres.Tx) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: s.ranchA, File: "s.csv", Data: []byte(prefix + strings.Repeat("x", 9)), Rows: sheet(prefix)})
			return err
		})
	}
	s.As(t, s.a, func(tx *postgres.Tx) error {
		began := time.Now()
		waits, err := tx.Unaccepted(s.ranchA)
		if err != nil || len(waits) != 1 {
			t.Fatalf("%d wait, %v", len(waits), err)
		}
		over, err := tx.Overlaps(waits[0])
		if len(over) != 1 || over[0].Nests != 5000 {
			t.Errorf("overlaps: %+v", over)
		}
		if err != nil {
			return err
		}
		below, err := tx.Elsewhere(s.ranchA)
		if below[waits[0].ID].Nests != 5000 {
			t.Errorf("elsewhere: %+v", below)
		}
		took := time.Since(began)
		t.Logf("three looks at 10 000 nests took %v", took)
		if took > 5*time.Second {
			t.Errorf("three looks at 10 000 nests took %v", took)
		}
		return err
	})
}
