package postgres_test

import (
	"errors"
	"fmt"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// TestAHandsPasture: a hand's rows of a season of which an owner's sheet has some bring no second nest in, under whatever pasture, before a cut-off or
// after it, until an owner accepts them. What an owner's sheet has none of, nests or belts, counts as a hand sent it.
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
	counts("2 nests, 1 belts", "a hand's with the pasture spelled otherwise, of which one nest is new")
	sends(s.hand, "exact.csv", sheet("North", "1", "2", "4"))
	counts("2 nests, 1 belts", "a hand's with the very pasture")
	s.As(t, s.a, func(tx *postgres.Tx) error {
		waits, err := tx.Unaccepted(s.ranchA)
		if len(waits) != 4 {
			t.Errorf("for the owner to say: %+v", waits)
		}
		elsewhere, err2 := tx.Elsewhere(s.ranchA)
		if elsewhere[theirs] != (postgres.Elsewhere{NestsWait: 3, BeltsWait: 1}) {
			t.Errorf("what is left to do: %+v", elsewhere[theirs])
		}
		return errors.Join(err, err2)
	})
	s.Cut(t, s.boss.Coop, 2027)
	if got := s.text(t, "SELECT count(*) || ' of ' || (SELECT count(*) FROM tussock.upload u WHERE u.ranch_id = $1 AND u.state = 'current' AND u.rank = 1) FROM tussock.snapshot c, unnest(c.hands) WHERE c.season = 2027 AND c.ranch_id = $1", s.ranchA); got != "4 of 4" {
		t.Errorf("the copy knows %s of the hand's sheets", got)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Accept(theirs) })
	counts("5 nests, 2 belts", "accepted by an owner")
	sends(s.a, "both.csv", sheet("South", "1"))
	sends(s.hand, "south.csv", sheet("South", "1", "5"))
	counts("6 nests, 3 belts", "of two pastures")
}

// TestAHandsNamesOfLines: under no name of a line or a nest does a hand's sheet add to an owner's, before a cut-off or after it, whichever came first. One
// acceptance and it does. Belts count where an owner's sheet has none of the season.
func TestAHandsNamesOfLines(t *testing.T) {
	s := newStage(t)
	sheet := func(line, nest string) *survey.Data {
		return &survey.Data{
			Nests: []survey.Nest{{Site: "North", Season: 2027, Transect: line, Number: nest, Substrate: survey.Yucca, SetOn: date(t, "2027-05-11"), EggsLeft: -1,
				Visits: []survey.Visit{{On: date(t, "2027-05-25"), State: survey.Taken}}}},
			Belts: []survey.Belt{{Site: "North", Season: 2027, Transect: line, LengthFt: 300, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Yucca: 1}}}}
	}
	sends := func(who access.Actor, d *survey.Data) (id access.ID) {
		t.Helper()
		s.As(t, who, func(tx *postgres.Tx) (err error) {
			id, _, err = tx.Send(postgres.Sending{Ranch: s.ranchA, File: "s.csv", Data: []byte(fmt.Sprintf("%+v", d)), Rows: d})
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
	sends(s.hand, sheet("VIII", "1"))
	counts("1 nests, 1 belts", "a hand's alone")
	mine := sheet("9", "1")
	mine.Belts = nil
	sends(s.a, mine)
	counts("1 nests, 1 belts", "the owner's nests, and the hand's belts")
	sends(s.a, &survey.Data{Belts: sheet("9", "").Belts})
	var last access.ID
	for _, line := range []string{"IX", "9th", "ninth", "noveno", "Row 9", "Fila 9", "Route 9", "9 North", "North 9", "Line 9 North", "North9", "9e0", "N-9", "I", "1st", "Belt 1"} {
		last = sends(s.hand, sheet(line, "1"))
	}
	for _, nest := range []string{"I", "1st", "first", "primero", "Egg 1", "Clump 1", "Flag 1", "Punto 1", "Parada 1"} {
		sends(s.hand, sheet("9", nest))
	}
	counts("1 nests, 1 belts", "with a hand's under every name")
	s.Cut(t, s.boss.Coop, 2027)
	for table, column := range map[string]string{"nests": "nests", "belts": "belts"} {
		if got := s.text(t, "SELECT count(*) FROM tussock.snapshot c, jsonb_array_elements(c."+column+") x WHERE c.season = 2027 AND c.ranch_id = $1 AND NOT (x->>'upload_id')::uuid = ANY (c.hands)", s.ranchA); got != "1" {
			t.Errorf("in the copy, %s %s are no hand's", got, table)
		}
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Accept(last) })
	counts("2 nests, 2 belts", "one accepted by an owner")
}

// TestTakenBackStaysBack: what an owner took back counts in no other sheet of a hand's, sent before or after, until an owner accepts it; another season's does.
func TestTakenBackStaysBack(t *testing.T) {
	for _, rule := range []bool{true, false} {
		s := newStage(t)
		if !rule {
			s.seed(t, "DROP TRIGGER hands_wait ON tussock.upload")
			s.seed(t, "DROP TRIGGER hands_wait_sent ON tussock.upload")
		}
		sends := func(file string, year int) (id access.ID) {
			t.Helper()
			d := &survey.Data{Nests: []survey.Nest{{Season: year, Transect: "1", Number: "1", Substrate: survey.Yucca, SetOn: date(t, fmt.Sprint(year, "-05-11")), EggsLeft: -1,
				Visits: []survey.Visit{{On: date(t, fmt.Sprint(year, "-05-25")), State: survey.Taken}}}}}
			s.As(t, s.hand, func(tx *postgres.Tx) (err error) {
				id, _, err = tx.Send(postgres.Sending{Ranch: s.ranchA, File: file, Data: []byte(file), Rows: d})
				return err
			})
			return id
		}
		counts := func(year, want int, when string) {
			t.Helper()
			s.As(t, s.a, func(tx *postgres.Tx) error {
				d, err := tx.Survey([]access.ID{s.ranchA}, year)
				if len(d.Nests) != want {
					t.Errorf("rule %v, %s: %d nests, want %d", rule, when, len(d.Nests), want)
				}
				return err
			})
		}
		back := sends("a.csv", 2027)
		again := sends("a.csv\n", 2027)
		sends("b.csv", 2024)
		counts(2027, 1, "a hand's")
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.UndoUpload(back) })
		late := sends("a.csv\n\n", 2027)
		if !rule {
			counts(2027, 1, "taken back")
			continue
		}
		counts(2027, 0, "taken back")
		counts(2024, 1, "another season")
		s.As(t, s.a, func(tx *postgres.Tx) error {
			waits, err := tx.Unaccepted(s.ranchA)
			if len(waits) != 2 || waits[0].ID != late || waits[1].ID != again || !waits[0].Unaccepted() {
				t.Errorf("for the owner to say: %+v", waits)
			}
			return err
		})
		s.As(t, s.hand, func(tx *postgres.Tx) error { return tx.Accept(late) })
		counts(2027, 0, "with the hand's own word")
		s.As(t, s.hand, func(tx *postgres.Tx) error { return tx.UndoUpload(again) }) // still the hand's to take back
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Accept(late) })
		counts(2027, 1, "accepted by an owner")
	}
}
