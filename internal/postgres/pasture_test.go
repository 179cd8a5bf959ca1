package postgres_test

import (
	"fmt"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// TestAHandsPasture: a hand's rows of a line and nest that an owner's sheet has under a pasture written otherwise, or none, bring no second
// nest in, before a cut-off or after it, until an owner accepts them. Of two pastures that the owner's own sheet tells apart each keeps its line.
func TestAHandsPasture(t *testing.T) {
	s := newStage(t)
	sheet := func(pasture string, nests ...string) *survey.Data {
		d := &survey.Data{}
		for _, n := range nests {
			d.Nests = append(d.Nests, survey.Nest{Site: pasture, Season: 2027, Transect: "Line 1", Number: n, Substrate: survey.Yucca, SetOn: date(t, "2027-05-11"), EggsLeft: -1,
				Visits: []survey.Visit{{On: date(t, "2027-05-25"), State: survey.Taken}}})
		}
		d.Belts = []survey.Belt{{Site: pasture, Season: 2027, Transect: "Line 1", LengthFt: 300, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Yucca: 1}}}
		return d
	}
	sends := func(who access.Actor, file string, d *survey.Data) (id access.ID) {
		t.Helper()
		s.As(t, who, func(tx *postgres.Tx) (err error) {
			id, _, err = tx.Send(postgres.Sending{Ranch: s.ranchA, File: file, Data: []byte(file), Rows: d})
			return err
		})
		return id
	}
	counts := func(want, when string) {
		t.Helper()
		s.As(t, s.a, func(tx *postgres.Tx) error {
			d, err := tx.Survey([]access.ID{s.ranchA}, 2027)
			if got := fmt.Sprintf("%d nests, %d belts", len(d.Nests), len(d.Belts)); got != want {
				t.Errorf("%s: %s, want %s", when, got, want)
			}
			return err
		})
	}
	sends(s.hand, "first.csv", sheet("", "1", "2"))
	counts("2 nests, 1 belts", "a hand's alone")
	sends(s.a, "mine.csv", sheet("North", "1", "2"))
	counts("2 nests, 1 belts", "an owner's after it")
	sends(s.hand, "belts.csv", &survey.Data{Belts: sheet("").Belts})
	counts("2 nests, 1 belts", "a hand's belts with no pasture")
	theirs := sends(s.hand, "theirs.csv", sheet("north pasture", "1", "2", "3"))
	counts("3 nests, 1 belts", "a hand's with the pasture spelled otherwise, of which one nest is new")
	sends(s.hand, "exact.csv", sheet("North", "1", "2", "4"))
	counts("4 nests, 1 belts", "a hand's with the very pasture")
	s.As(t, s.a, func(tx *postgres.Tx) error {
		waits, err := tx.Unaccepted(s.ranchA)
		if len(waits) != 4 {
			t.Errorf("for the owner to say: %+v", waits)
		}
		u, err2 := tx.Upload(theirs)
		over, err3 := tx.Overlaps(u)
		if len(over) == 0 || !strings.Contains(fmt.Sprintf("%+v", over), "Nests:2 Belts:1 Holds:true Pasture:true") {
			t.Errorf("overlaps: %+v", over)
		}
		for _, err := range []error{err, err2, err3} {
			if err != nil {
				return err
			}
		}
		return nil
	})
	s.Cut(t, s.boss.Coop, 2027)
	if got := s.text(t, "SELECT count(*) || ' of ' || (SELECT count(*) FROM tussock.upload u WHERE u.ranch_id = $1 AND u.state = 'current' AND u.rank = 1) FROM tussock.snapshot c, unnest(c.hands) WHERE c.season = 2027 AND c.ranch_id = $1", s.ranchA); got != "4 of 4" {
		t.Errorf("the copy knows %s of the hand's sheets", got)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Accept(theirs) })
	counts("6 nests, 2 belts", "accepted by an owner")
	// The owner's own sheet has the line in both pastures, and a hand's stays apart in each.
	sends(s.a, "both.csv", sheet("South", "1"))
	sends(s.hand, "south.csv", sheet("South", "1", "5"))
	counts("8 nests, 3 belts", "of two pastures")
}
