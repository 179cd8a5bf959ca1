package postgres_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/postgres"
)

// Targets hold for seasons that open after them, the first ones too, so no sentence beside figures that are out changes. Each change has a source and is a line that every member reads.
func TestTargetsOfTheOpening(t *testing.T) {
	s := newStage(t) // 2026 and 2027 have opened
	ctx := context.Background()
	want := func(season int, m findings.Marks) {
		t.Helper()
		for _, who := range []access.Actor{s.a, s.planner} {
			s.As(t, who, func(tx *postgres.Tx) error {
				got, err := tx.Marks(season)
				if got != m {
					t.Errorf("of %d %s reads %+v, want %+v", season, who.Role, got, m)
				}
				return err
			})
		}
	}
	set := func(m findings.Marks) {
		t.Helper()
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.SetMarks(m) })
	}
	want(2026, findings.CommonMarks)
	first := findings.Marks{Cover: 250, Hope: 0.4, First: 14, Last: 28, From: "a vote of the members"}
	set(first)
	for _, season := range []int{2014, 2026, 2027} {
		want(season, findings.CommonMarks)
	}
	want(2028, first)
	second := findings.Marks{Cover: 900, Hope: 0.9, First: 10, Last: 28, From: "a second vote"}
	set(second)
	for _, season := range []int{2014, 2026, 2027} {
		want(season, findings.CommonMarks)
	}
	want(2028, second)
	s.Open(t, s.boss.Coop, 2028)
	set(findings.Marks{Cover: 100, Hope: 0.1, First: 10, Last: 28, From: "a third"})
	want(2028, second)
	want(2027, findings.CommonMarks)
	undated, year := s.Cooperative(t, "Undated"), time.Now().Year() // seasons without dates keep what was set by their end
	s.As(t, undated, func(tx *postgres.Tx) error {
		err := tx.SetMarks(first)
		for season, m := range map[int]findings.Marks{2014: findings.CommonMarks, year - 1: findings.CommonMarks, year + 1: first} {
			if got, err := tx.Marks(season); got != m || err != nil {
				t.Errorf("without dates, of %d: %+v, %v", season, got, err)
			}
		}
		return err
	})
	set(findings.Marks{Cover: 100, Hope: 0.1, First: 10, Last: 28, From: "a third"}) // the same again
	for _, who := range []access.Actor{s.a, s.planner, s.biologist} {
		s.As(t, who, func(tx *postgres.Tx) error {
			list, err := s.targetLines(tx)
			if len(list) != 3 || list[0].Was != "900 90 10 28" || list[0].Became != "100 10 10 28" || list[0].What != "a third" || list[2].Was != "" {
				t.Errorf("%s reads %+v", who.Role, list)
			}
			return err
		})
	}
	for _, from := range []string{"", "  "} {
		err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error {
			return tx.SetMarks(findings.Marks{Cover: 300, Hope: 0.5, First: 14, Last: 28, From: from})
		})
		if !errors.Is(err, errs.Invalid) {
			t.Errorf("without a source: %v", err)
		}
	}
	if err := s.DB.As(ctx, s.a, func(tx *postgres.Tx) error { return tx.SetMarks(first) }); !errors.Is(err, errs.Forbidden) {
		t.Errorf("a landowner sets them: %v", err)
	}
	for _, statement := range []string{"UPDATE tussock.targets SET cover = 20", "DELETE FROM tussock.targets", "UPDATE tussock.season SET targets = 1"} {
		s.raw(t, s.boss.Session, func(tx pgx.Tx) {
			if got := try(t, tx, statement); got != refused {
				t.Errorf("%s: got %v", statement, got)
			}
		})
	}
}

func (s *stage) targetLines(tx *postgres.Tx) (list []postgres.RosterChange, err error) {
	all, err := tx.RosterChanges(time.Time{})
	for _, x := range all {
		if x.Kind == postgres.TargetsSet {
			list = append(list, x)
		}
	}
	return list, err
}
