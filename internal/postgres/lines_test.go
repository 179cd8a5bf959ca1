package postgres_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
)

// lines are the changes that somebody reads, the latest first.
func (s *town) lines(t *testing.T, who access.Actor, kinds ...string) (list []postgres.RosterChange) {
	t.Helper()
	s.As(t, who, func(tx *postgres.Tx) error {
		all, err := tx.RosterChanges(time.Time{})
		for _, x := range all {
			if slices.Contains(kinds, x.Kind) {
				list = append(list, x)
			}
		}
		return err
	})
	return list
}

// TestFirstOwnerIsALine: who comes onto a ranch as its owner, and who is put on it, is a line that says by whom; and where two had
// vouched for an owner on paper, that their words have lapsed.
func TestFirstOwnerIsALine(t *testing.T) {
	s := newTown(t)
	ranch := s.add(t, "Sand Draw", "Cora Wells")
	for _, who := range s.owners[:2] {
		s.As(t, who, func(tx *postgres.Tx) error { return tx.Vouch(ranch) })
	}
	for _, x := range s.lines(t, s.owners[2], postgres.Vouched)[:2] {
		if x.What != "Sand Draw" || x.Became != postgres.OnPaper {
			t.Errorf("a word for an owner on paper reads %+v", x)
		}
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.KeepPaper(ranch, true) })
	cora := s.joins(t, "Cora Wells", ranch)
	for _, who := range []access.Actor{s.owners[2], s.boss, cora} {
		list := s.lines(t, who, postgres.FirstOwner)
		if len(list) != 5 || list[0].Was != "Cora Wells" || list[0].What != "Sand Draw" || list[0].By != s.boss.Name {
			t.Errorf("%s reads of owners who came: %+v", who.Name, list)
		}
		list = s.lines(t, who, postgres.VouchLapsed)
		if len(list) != 1 || list[0].What != "Sand Draw" || list[0].Was != "Cora Wells" || list[0].Became != "Ilse Varrow, Jo Marlow" {
			t.Errorf("%s reads of words that lapsed: %+v", who.Name, list)
		}
		if mine := list[0].Mine; mine != (who.Person == cora.Person) {
			t.Errorf("%s reads it as theirs: %v", who.Name, mine)
		}
	}
	if list := s.lines(t, cora, postgres.FirstOwner); list[0].Address == "" {
		t.Error("the owner does not read with which address somebody came onto the ranch")
	}

	// Cora reads who wrote her yes down, though that is nobody of her ranch.
	s.As(t, cora, func(tx *postgres.Tx) error {
		c, err := tx.Consent(ranch)
		if c.By != s.boss.Name {
			t.Errorf("the yes on paper was written down by %q", c.By)
		}
		return err
	})

	hand := s.Member(t, s.boss, access.Hand, "Lupe")
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(hand.Person, ranch) })
	if list := s.lines(t, cora, postgres.Placed); len(list) != 1 || list[0].Was != "Lupe" || list[0].Became != postgres.PlacedWaiting || list[0].By != s.boss.Name || !list[0].Mine {
		t.Errorf("of a hand who was put on the ranch its owner reads %+v", list)
	}
	planner := s.Member(t, s.boss, access.Planner, "Planner")
	if list := s.lines(t, planner, postgres.FirstOwner, postgres.Placed, postgres.VouchLapsed); len(list) != 0 {
		t.Errorf("a planner reads names: %+v", list)
	}
}

// TestMapIsALine: a map of the areas, another in its place and its end are a line each, for planners and biologists too.
func TestMapIsALine(t *testing.T) {
	s := newTown(t)
	s.As(t, s.boss, func(tx *postgres.Tx) error { return errors.Join(tx.SaveArea("East", ""), tx.SaveArea("West", "")) })
	for _, list := range [][]geo.Named{{{Name: "East", Shape: square}}, {{Name: "East", Shape: square}, {Name: "West", Shape: square}}, nil, nil} {
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.SaveShapes(list) })
	}
	planner := s.Member(t, s.boss, access.Planner, "Planner")
	for _, who := range []access.Actor{planner, s.owners[0]} {
		var got []string
		for _, x := range s.lines(t, who, postgres.MapSet) {
			got = append(got, x.What+"/"+x.Became)
		}
		if want := []string{"East, West/", "East, West/shown", "East/shown"}; !slices.Equal(got, want) {
			t.Errorf("%s reads %q, want %q", who.Name, got, want)
		}
	}
}

// TestCodeIsALine: a code that a coordinator makes for a member is a line for all who read names, and the member reads it on their own
// pages, whatever their part.
func TestCodeIsALine(t *testing.T) {
	s := newTown(t)
	planner := s.Member(t, s.boss, access.Planner, "Planner")
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		return errors.Join(tx.NoteCode(s.owners[0].Person), tx.NoteCode(planner.Person))
	})
	for _, who := range []access.Actor{s.owners[0], planner, s.owners[1]} {
		s.As(t, who, func(tx *postgres.Tx) error {
			list, err := tx.HelpCodes()
			if who.Person == s.owners[1].Person && len(list) != 0 || who.Person != s.owners[1].Person && (len(list) != 1 || list[0].By != s.boss.Name) {
				t.Errorf("%s reads %+v", who.Name, list)
			}
			return err
		})
	}
	if list := s.lines(t, s.owners[0], postgres.CodeMade); len(list) != 2 || list[1].What != "Ilse Varrow" || !list[1].Mine || list[0].Mine {
		t.Errorf("among the changes: %+v", list)
	}
	for _, who := range []access.Actor{s.owners[0], planner} {
		if err := s.DB.As(context.Background(), who, func(tx *postgres.Tx) error { return tx.NoteCode(s.owners[1].Person) }); !errors.Is(err, errs.Forbidden) {
			t.Errorf("%s makes a code: %v", who.Name, err)
		}
	}
}

// TestNamesStayWithin: no text of a coordinator's that planners and biologists read names a ranch, an owner, or a member who is one, by
// what they are or were called.
func TestNamesStayWithin(t *testing.T) {
	s := newTown(t)
	fork := s.add(t, "Hollin Fork Ranch", "Varrow Land & Cattle LLC")
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		_, err := tx.SaveRanch(postgres.Ranch{ID: fork, Name: "Dry Wash", Owner: "Varrow Land & Cattle LLC"})
		return err
	})
	planner := s.Member(t, s.boss, access.Planner, "Planner")
	var request, area access.ID
	s.As(t, planner, func(tx *postgres.Tx) (err error) { request, err = tx.AskIntroduction("", "A walk."); return err })
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		err := tx.SaveArea("East", "")
		areas, err2 := tx.Areas()
		area = areas[0].ID
		return errors.Join(err, err2)
	})
	key := predator.Common()
	places := map[string]func(tx *postgres.Tx, text string) error{
		"the source of the key": func(tx *postgres.Tx, text string) error {
			key.Source = text
			return tx.SetKey(key)
		},
		"the source of targets": func(tx *postgres.Tx, text string) error {
			m := findings.CommonMarks
			m.From = text
			return tx.SetMarks(m)
		},
		"an area":            func(tx *postgres.Tx, text string) error { return tx.SaveArea(text, "") },
		"a group of areas":   func(tx *postgres.Tx, text string) error { return tx.SaveArea("West", text) },
		"an area's new name": func(tx *postgres.Tx, text string) error { return tx.RenameArea(area, text) },
		"the cooperative":    func(tx *postgres.Tx, text string) error { return tx.RenameCooperative(text) },
		"a reply to planners": func(tx *postgres.Tx, text string) error {
			return tx.AnswerIntroduction(request, postgres.AskDeclined, text)
		},
	}
	for place, set := range places {
		for _, text := range []string{"Hollin Fork", "I.V. at H0llin F0rk", "DRY WASH ranch", "Varrow’s place", "Quill, Ada", "counts of Ben Orrin", "Marlow", "Write to ilse@example.org"} {
			err := s.DB.As(context.Background(), s.boss, func(tx *postgres.Tx) error { return set(tx, text) })
			if message, _ := errs.Message(err); !errors.Is(err, errs.Invalid) || !strings.Contains(message, "say it without") {
				t.Errorf("%s may be %q: %v", place, text, err)
			}
		}
		err := s.DB.As(context.Background(), s.boss, func(tx *postgres.Tx) error { return set(tx, "At ʜᴏʟʟɪɴ ꜰᴏʀᴋ") })
		if message, _ := errs.Message(err); !errors.Is(err, errs.Invalid) || !strings.Contains(message, "letters A to Z") {
			t.Errorf("%s may be in small capitals: %v", place, err)
		}
		s.As(t, s.boss, func(tx *postgres.Tx) error { return set(tx, "What the county agent counted, "+place) })
	}
}

// TestNamesAreLines: nothing that hides, breaks a line or turns it is taken as a name or a source.
func TestNamesAreLines(t *testing.T) {
	s := newTown(t)
	for place, set := range map[string]func(tx *postgres.Tx, text string) error{
		"a ranch": func(tx *postgres.Tx, text string) error {
			_, err := tx.SaveRanch(postgres.Ranch{Name: text})
			return err
		},
		"an owner": func(tx *postgres.Tx, text string) error {
			_, err := tx.SaveRanch(postgres.Ranch{Name: "Flat", Owner: text})
			return err
		},
		"an area":         func(tx *postgres.Tx, text string) error { return tx.SaveArea(text, "") },
		"a group":         func(tx *postgres.Tx, text string) error { return tx.SaveArea("West", text) },
		"the cooperative": func(tx *postgres.Tx, text string) error { return tx.RenameCooperative(text) },
		"an invitation": func(tx *postgres.Tx, text string) error {
			_, err := tx.Invite(access.Hand, text, "", nil)
			return err
		},
		"a source": func(tx *postgres.Tx, text string) error {
			m := findings.CommonMarks
			m.From = text
			return tx.SetMarks(m)
		},
		"a token": func(tx *postgres.Tx, text string) error { _, err := tx.MakeToken(text, 30); return err },
	} {
		for _, text := range []string{"\u202eFlat", "Fl\u200bat", "Flat\nAda erased it", "…", strings.Repeat("x", 300)} {
			if err := s.DB.As(context.Background(), s.boss, func(tx *postgres.Tx) error { return set(tx, text) }); !errors.Is(err, errs.Invalid) {
				t.Errorf("%s may be %q: %v", place, text, err)
			}
		}
	}
}
