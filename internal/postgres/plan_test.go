package postgres_test

import (
	"context"
	"errors"
	"reflect"
	"testing"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	seasons "tussock/internal/season"
	"tussock/internal/survey"
)

func planned(ranch access.ID) (seasons.Plan, []seasons.Line) {
	p := seasons.Plan{Ranch: ranch, Season: 2027, Purpose: seasons.Covers, Lines: 2, Stops: 12, Spacing: 50, Pace: 2.6,
		Covers: []survey.Substrate{survey.Bunchgrass, survey.Yucca}, Seed: 1<<64 - 1, Apart: seasons.Apart{Fence: 300, Road: 400, Water: 500, Lines: 1320},
		SetOn: survey.DateOf(2027, 5, 10), First: 14, Last: 28, Slack: 2, BeltWidth: 6, BeltLength: 726}
	one := seasons.Line{Ranch: ranch, Season: 2027, Name: "1", Pasture: "North", SiteKind: "loamy", Placed: true, Start: geo.Position{-99.5, 36.4}, Bearing: 123.5,
		Stops: 12, Spacing: 50, Pace: 2.6, Covers: p.Covers, SetOn: p.SetOn, FirstCheck: p.SetOn + 14, LastCheck: p.SetOn + 28, Slack: 2, BeltWidth: 6, BeltLength: 726}
	two := one
	two.Name, two.Placed, two.Start, two.Redrawn, two.Closed = "2", false, geo.Position{}, "a bull", true
	two.Earlier = []seasons.Drawn{{Start: geo.Position{-99.1, 36.2}, Bearing: 10, Why: "a bull"}}
	two.Walked = &seasons.Drawn{Start: geo.Position{-99.2, 36.1}, Bearing: 20}
	return p, []seasons.Line{one, two}
}

// TestPlan: what goes in comes out; a line keeps its id and code when it is changed, and goes when it is left out.
func TestPlan(t *testing.T) {
	s := newStage(t)
	p, lines := planned(s.ranchA)
	var got []seasons.Line
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		if err := tx.SaveLines(s.ranchA, 2027, p, lines); err != nil {
			return err
		}
		back, err := tx.Plan(s.ranchA, 2027)
		if err != nil || !reflect.DeepEqual(back, p) {
			t.Errorf("got %+v, %v, want %+v", back, err, p)
		}
		got, err = tx.Lines(s.ranchA, 2027)
		return err
	})
	if len(got) != 2 {
		t.Fatalf("got %d lines, want 2", len(got))
	}
	for i := range got {
		if seasons.Code(got[i].Code) != got[i].Code || got[i].Code == "" {
			t.Errorf("code %q", got[i].Code)
		}
		want := lines[i]
		want.ID, want.Code = got[i].ID, got[i].Code
		if len(want.Earlier) == 0 {
			want.Earlier = []seasons.Drawn{}
		}
		if !reflect.DeepEqual(got[i], want) {
			t.Errorf("got %+v, want %+v", got[i], want)
		}
	}
	got[1].Name = "2b"
	s.As(t, s.a, func(tx *postgres.Tx) error {
		if err := tx.SaveLines(s.ranchA, 2027, p, got[1:]); err != nil {
			return err
		}
		left, err := tx.Lines(s.ranchA, 2027)
		if len(left) != 1 || left[0].ID != got[1].ID || left[0].Code != got[1].Code || left[0].Name != "2b" {
			t.Errorf("got %+v", left)
		}
		one, err2 := tx.LineOfCode(got[1].Code)
		if one.ID != got[1].ID {
			t.Errorf("by code: got %+v", one)
		}
		return errors.Join(err, err2)
	})
	s.As(t, s.hand, func(tx *postgres.Tx) error {
		list, err := tx.Lines(s.ranchA, 2027)
		if len(list) != 1 {
			t.Errorf("the hand sees %d lines, want 1", len(list))
		}
		return err
	})
	err := s.DB.As(context.Background(), s.a, func(tx *postgres.Tx) error {
		return tx.SaveLines(s.ranchA, 2027, p, []seasons.Line{{Name: "1", Stops: 3}, {Name: "1", Stops: 3}})
	})
	if !errors.Is(err, errs.Conflict) {
		t.Errorf("two lines of one name: got %v, want a conflict", err)
	}
}

// TestPlansArePrivate: places are the ranch's alone, the hand's to read and nobody else's at all.
func TestPlansArePrivate(t *testing.T) {
	s := newStage(t)
	p, lines := planned(s.ranchB)
	var ids []seasons.Line
	s.As(t, s.b, func(tx *postgres.Tx) (err error) {
		if err := tx.SaveLines(s.ranchB, 2027, p, lines); err != nil {
			return err
		}
		ids, err = tx.Lines(s.ranchB, 2027)
		return err
	})
	for _, who := range []access.Actor{s.a, s.hand, s.boss, s.biologist, s.planner, s.stranger} {
		forged := who
		forged.Role, forged.Ranches = access.Landowner, []access.ID{s.ranchB}
		for _, actor := range []access.Actor{who, forged} {
			s.DB.As(context.Background(), actor, func(tx *postgres.Tx) error {
				list, _ := tx.Lines(s.ranchB, 2027)
				_, err := tx.Line(ids[0].ID)
				_, err2 := tx.LineOfCode(ids[0].Code)
				if len(list) > 0 || !errors.Is(err, errs.NotFound) || !errors.Is(err2, errs.NotFound) {
					t.Errorf("%s sees %d lines, %v, %v", who.Name, len(list), err, err2)
				}
				return nil
			})
			err := s.DB.As(context.Background(), actor, func(tx *postgres.Tx) error { return tx.SaveLines(s.ranchB, 2027, p, nil) })
			if !errors.Is(err, errs.NotFound) {
				t.Errorf("%s saves a neighbor's plan: got %v", who.Name, err)
			}
		}
	}
	p.Ranch = s.ranchA
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.SaveLines(s.ranchA, 2027, p, lines) })
	err := s.DB.As(context.Background(), s.hand, func(tx *postgres.Tx) error { return tx.SaveLines(s.ranchA, 2027, p, nil) })
	if !errors.Is(err, errs.NotFound) {
		t.Errorf("the hand saves the plan: got %v", err)
	}
	s.raw(t, s.a.Session, func(tx pgx.Tx) {
		for table, want := range map[string]any{"tussock.season_plan": 1, "tussock.season_line": 2} {
			if got := count(t, tx, table); got != want {
				t.Errorf("%s: got %v rows, want %v", table, got, want)
			}
		}
		const insert = `INSERT INTO tussock.season_line (coop_id, ranch_id, id, season, name, code, placed, lon, lat, bearing, stops, spacing, pace, covers, slack, belt_width, belt_length)
			VALUES ($1, $2, gen_random_uuid(), 2027, 'x', 'AAAAAA', false, 0, 0, 0, 1, 1, 1, '[]', 0, 0, 0)`
		if got := try(t, tx, insert, s.a.Coop, s.ranchA); got != refused {
			t.Errorf("a code of one's own choosing: got %v", got)
		}
	})
}
