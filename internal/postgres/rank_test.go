package postgres_test

import (
	"strconv"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// A hand's sheet takes the place of no rows that an owner sent or accepted, and adds none to a season of which an owner's sheet has some, until an owner
// accepts it; and the bulletin's copy has the same ones.
func TestAHandsSheetStandsBelowAnOwners(t *testing.T) {
	s := newStage(t)
	sheet := func(state survey.State, nests ...string) *survey.Data {
		d := &survey.Data{}
		for _, n := range nests {
			d.Nests = append(d.Nests, survey.Nest{Season: 2027, Transect: "1", Number: n, Substrate: survey.Yucca, SetOn: date(t, "2027-05-11"), EggsLeft: -1,
				Visits: []survey.Visit{{On: date(t, "2027-05-25"), State: state}}})
		}
		d.Belts = []survey.Belt{{Season: 2027, Transect: "1", LengthFt: 300, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Yucca: len(nests)}},
			{Season: 2027, Transect: strconv.Itoa(len(nests)), LengthFt: 300, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Yucca: 1}}}
		return d
	}
	sends := func(who access.Actor, file string, d *survey.Data) (u postgres.Upload) {
		t.Helper()
		s.As(t, who, func(tx *postgres.Tx) error {
			id, _, err := tx.Send(postgres.Sending{Ranch: s.ranchA, File: file, Data: []byte(file), Rows: d})
			if err == nil {
				u, err = tx.Upload(id)
			}
			return err
		})
		return u
	}
	lost := func(want, of int, when string) {
		t.Helper()
		n, all := 0, 0
		s.As(t, s.a, func(tx *postgres.Tx) error {
			d, err := tx.Survey([]access.ID{s.ranchA}, 2027)
			for _, x := range d.Nests {
				if all++; x.Visits[0].State == survey.Taken {
					n++
				}
			}
			return err
		})
		if n != want || all != of {
			t.Errorf("%s: %d of %d nests lost count, want %d of %d", when, n, all, want, of)
		}
	}
	sends(s.hand, "first.csv", sheet(survey.Taken, "1", "2"))
	lost(2, 2, "a hand's alone")
	mine := sends(s.a, "mine.csv", sheet(survey.Intact, "1", "2", "3"))
	lost(0, 3, "an owner's after it")
	theirs := sends(s.hand, "theirs.csv", sheet(survey.Taken, "1", "2", "3", "4"))
	lost(0, 3, "a hand's after an owner's")
	belts := sends(s.hand, "belts.csv", &survey.Data{Belts: sheet(survey.Intact, "1", "2", "3").Belts[1:]})
	s.As(t, s.a, func(tx *postgres.Tx) error {
		waits, err := tx.Unaccepted(s.ranchA)
		if len(waits) != 3 || waits[0].ID != belts.ID || waits[1].ID != theirs.ID {
			t.Errorf("for the owner to say: %+v", waits)
		}
		below, err1 := tx.Elsewhere(s.ranchA)
		if below[theirs.ID] != (postgres.Elsewhere{Nests: 3, Belts: 1, NestsWait: 1, BeltsWait: 1}) || below[mine.ID] != (postgres.Elsewhere{}) || err1 != nil {
			t.Errorf("by upload, what counts elsewhere: %v, %v", below, err1)
		}
		over, err2 := tx.Overlaps(theirs)
		for _, o := range over {
			if o.Upload == mine.ID && (!o.Holds || o.Nests != 3 || o.Belts != 1 || o.SentBy != s.a.Name) || o.Upload != mine.ID && (o.Holds || o.Nests != 2 || o.Belts != 1) {
				t.Errorf("overlap: %+v", o)
			}
		}
		if alone, err := tx.Overlaps(belts); len(alone) != 1 || !alone[0].Holds || alone[0].Nests != 0 || alone[0].Belts != 1 || alone[0].Upload != mine.ID || err != nil {
			t.Errorf("belts alone: %+v, %v", alone, err)
		}
		if len(over) != 2 || err2 != nil {
			t.Errorf("overlaps: %+v, %v", over, err2)
		}
		return err
	})
	s.As(t, s.hand, func(tx *postgres.Tx) error { return tx.Accept(theirs.ID) })
	lost(0, 3, "with the hand's own word")
	s.Cut(t, s.boss.Coop, 2027)
	if got := s.text(t, `SELECT count(*) FILTER (WHERE f.upload_id = '`+string(mine.ID)+`') || ' of ' || count(*) FROM (
		SELECT DISTINCT ON (x->>'number') x->>'upload_id' AS upload_id FROM tussock.snapshot s, jsonb_array_elements(s.nests) WITH ORDINALITY e (x, nth)
		WHERE s.season = 2027 AND s.ranch_id = '`+string(s.ranchA)+`' ORDER BY x->>'number', nth) f`); got != "3 of 4" {
		t.Errorf("in the copy %s nests are the owner's", got)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Accept(theirs.ID) })
	lost(4, 4, "accepted by an owner")
}

// TestSentForGoesIntoNoCopy: what was sent for an owner goes into no copy for a bulletin until an owner accepts it.
func TestSentForGoesIntoNoCopy(t *testing.T) {
	s := newStage(t)
	var sent access.ID
	s.As(t, s.hand, func(tx *postgres.Tx) (err error) {
		sent, _, err = tx.Send(postgres.Sending{Ranch: s.ranchA, File: "all.csv", Data: []byte("x"), Rows: &survey.Data{Nests: []survey.Nest{{Season: 2027, Transect: "1", Number: "1",
			Substrate: survey.Yucca, SetOn: date(t, "2027-05-11"), EggsLeft: -1, Visits: []survey.Visit{{On: date(t, "2027-05-25"), State: survey.Intact}}}}}})
		return err
	})
	s.seed(t, "UPDATE tussock.upload SET rank = 0, called = 'all.csv' WHERE id = $1", sent) // as if a coordinator had sent it
	copied := func() string {
		for _, table := range []string{"snapshot", "unread", "edition"} {
			s.seed(t, "DELETE FROM tussock."+table+" WHERE season = 2027")
		}
		s.Cut(t, s.boss.Coop, 2027)
		return s.text(t, "SELECT jsonb_array_length(nests) FROM tussock.snapshot WHERE season = 2027 AND ranch_id = $1", s.ranchA)
	}
	if n := copied(); n != "0" {
		t.Errorf("not accepted, %s nests are in the copy", n)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Accept(sent) })
	if n := copied(); n != "1" {
		t.Errorf("accepted, %s nests are in the copy", n)
	}
}
