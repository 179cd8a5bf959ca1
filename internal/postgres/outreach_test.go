package postgres_test

import (
	"context"
	"errors"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/geo"
	"tussock/internal/postgres"
)

var square = geo.Shape{{{{-100, 42}, {-99, 42}, {-99, 43}, {-100, 43}, {-100, 42}}}}

// TestOutreachWhoSeesWhat: outlines are for everybody who reads bulletins, a yes for its owner and the coordinator, a
// request for the planner who made it and the coordinator.
func TestOutreachWhoSeesWhat(t *testing.T) {
	s := newStage(t)
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.SaveShapes([]geo.Named{{Name: "North", Shape: square}}) })
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.SetWelcome(s.ranchA, true) })
	var request access.ID
	s.As(t, s.planner, func(tx *postgres.Tx) (err error) {
		request, err = tx.AskIntroduction("North", "A supper meeting about cover.")
		return err
	})
	other := s.Member(t, s.boss, access.Planner, "Another planner")
	for _, tt := range []struct {
		name                      string
		session                   string
		shapes, welcomes, request any
	}{
		{"a", s.a.Session, 1, 1, 0}, {"b", s.b.Session, 1, 0, 0}, {"hand", s.hand.Session, 0, 0, 0}, {"boss", s.boss.Session, 1, 1, 1},
		{"biologist", s.biologist.Session, 1, 0, 0}, {"planner", s.planner.Session, 1, 0, 1}, {"another planner", other.Session, 1, 0, 0},
		{"stranger", s.stranger.Session, 0, 0, 0}, {"nobody", "", 0, 0, 0}, {"forged", postgres.NewToken(), 0, 0, 0},
	} {
		s.raw(t, tt.session, func(tx pgx.Tx) {
			for table, want := range map[string]any{"tussock.area_shape": tt.shapes, "tussock.welcome": tt.welcomes, "tussock.introduction": tt.request} {
				if got := count(t, tx, table); got != want {
					t.Errorf("%s sees of %s: got %v, want %v", tt.name, table, got, want)
				}
			}
		})
	}

	const ask = "INSERT INTO tussock.introduction (coop_id, id, asked_by, asked_at, place, purpose) VALUES ($1, gen_random_uuid(), $2, now(), '', 'x')"
	for _, tt := range []struct {
		name      string
		who       access.Actor
		statement string
		args      []any
		want      any
	}{
		{"a yes for a neighbor", s.a, "INSERT INTO tussock.welcome (coop_id, ranch_id, given_by) VALUES ($1, $2, $3)", []any{s.a.Coop, s.ranchB, s.a.Person}, refused},
		{"the hand's yes", s.hand, "INSERT INTO tussock.welcome (coop_id, ranch_id, given_by) VALUES ($1, $2, $3)", []any{s.a.Coop, s.ranchA, s.hand.Person}, refused},
		{"the coordinator's yes", s.boss, "INSERT INTO tussock.welcome (coop_id, ranch_id, given_by) VALUES ($1, $2, $3)", []any{s.a.Coop, s.ranchB, s.boss.Person}, refused},
		{"the coordinator takes a yes back", s.boss, "DELETE FROM tussock.welcome", nil, 0},
		{"a request in another's name", s.planner, ask, []any{s.a.Coop, other.Person}, refused},
		{"a landowner's request", s.a, ask, []any{s.a.Coop, s.a.Person}, refused},
		{"a planner answers", s.planner, "UPDATE tussock.introduction SET state = 'passed on'", nil, 0},
		{"a request becomes another's", s.boss, "UPDATE tussock.introduction SET asked_by = $1", []any{other.Person}, refused},
		{"a request is changed", s.boss, "UPDATE tussock.introduction SET purpose = 'x'", nil, refused},
		{"a request is deleted", s.boss, "DELETE FROM tussock.introduction", nil, refused},
		{"a planner draws", s.planner, "DELETE FROM tussock.area_shape", nil, 0},
	} {
		s.raw(t, tt.who.Session, func(tx pgx.Tx) {
			if got := try(t, tx, tt.statement, tt.args...); got != tt.want {
				t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
			}
		})
	}

	t.Run("Answer", func(t *testing.T) {
		ctx := context.Background()
		for _, reply := range []string{"Ask at Dry Fork.", "the MARSH  family will call"} {
			err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error { return tx.AnswerIntroduction(request, postgres.AskPassedOn, reply) })
			if !errors.Is(err, errs.Invalid) {
				t.Errorf("reply %q: got %v, want refused", reply, err)
			}
		}
		for name, id := range map[string]access.ID{"no id": "x", "an id of nothing": access.ID(uuid.NewString())} {
			err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error { return tx.AnswerIntroduction(id, postgres.AskDeclined, "") })
			if !errors.Is(err, errs.NotFound) {
				t.Errorf("%s: got %v, want not found", name, err)
			}
		}
		err := s.DB.As(ctx, s.planner, func(tx *postgres.Tx) error { return tx.AnswerIntroduction(request, postgres.AskDeclined, "") })
		if !errors.Is(err, errs.Forbidden) {
			t.Errorf("the planner answers: got %v, want forbidden", err)
		}
		s.As(t, s.boss, func(tx *postgres.Tx) error {
			return tx.AnswerIntroduction(request, postgres.AskPassedOn, "Expect a call.")
		})
		s.As(t, s.planner, func(tx *postgres.Tx) error {
			list, err := tx.Introductions()
			if len(list) != 1 || list[0].State != postgres.AskPassedOn || list[0].Reply != "Expect a call." {
				t.Errorf("the planner reads %+v", list)
			}
			return err
		})
	})

	// A neighbor's ranch and none are answered alike.
	for _, id := range []access.ID{s.ranchB, access.ID(uuid.NewString()), "x"} {
		for _, who := range []access.Actor{s.a, s.hand, s.boss, s.planner} {
			err := s.DB.As(context.Background(), who, func(tx *postgres.Tx) error { return tx.SetWelcome(id, true) })
			if !errors.Is(err, errs.NotFound) {
				t.Errorf("%s says yes for %s: got %v, want not found", who.Name, id, err)
			}
		}
	}
}

// TestShapes: outlines come back as they went in, a new map takes the old one's place, and one of an area that is not
// there changes nothing.
func TestShapes(t *testing.T) {
	s := newStage(t)
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		return errors.Join(tx.SaveArea("South", ""), tx.SaveShapes([]geo.Named{{Name: "North", Shape: square}, {Name: "South", Shape: square}}))
	})
	err := s.DB.As(context.Background(), s.boss, func(tx *postgres.Tx) error { return tx.SaveShapes([]geo.Named{{Name: "East", Shape: square}}) })
	if !errors.Is(err, errs.Invalid) {
		t.Errorf("an outline of no area: got %v, want invalid", err)
	}
	s.As(t, s.planner, func(tx *postgres.Tx) error {
		list, err := tx.Shapes()
		if len(list) != 2 || list[0].Name != "North" || list[0].Shape[0][0][2] != (geo.Position{-99, 43}) {
			t.Errorf("got %+v", list)
		}
		return err
	})
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.SaveShapes(nil) })
	s.As(t, s.planner, func(tx *postgres.Tx) error {
		list, err := tx.Shapes()
		if len(list) != 0 {
			t.Errorf("after the map was taken away: %+v", list)
		}
		return err
	})
}
