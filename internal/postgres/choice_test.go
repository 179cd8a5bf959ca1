package postgres_test

import (
	"context"
	"errors"
	"testing"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	seasons "tussock/internal/season"
)

// TestOwnersChoose: where an owner's look is among those that contradict one another, or an owner has chosen, no hand chooses; else a hand
// does, which is a line of the log, and an owner can choose otherwise. What was tapped is told by day and line.
func TestOwnersChoose(t *testing.T) {
	for _, rule := range []bool{true, false} {
		s := newLookStage(t)
		if !rule {
			without(t, s.Fixture, "tussock.choose_own()", "k.kind IN (kept.kind, 'choose')", "false")
		}
		at := func(line seasons.Line, device, found string) fieldwork.Look {
			l := s.look(line, fieldwork.Check, "looked_on", "2026-05-15", "found", found)
			l.Device = device
			return l
		}
		keep := func(who access.Actor, looks ...fieldwork.Look) error {
			return s.DB.As(context.Background(), who, func(tx *postgres.Tx) error { _, err := tx.KeepLooks(looks); return err })
		}
		choose := func(who access.Actor, l fieldwork.Look) error {
			c := s.look(s.one, fieldwork.Choose, "keep", string(l.ID))
			c.Line, c.Stop = l.Line, l.Stop
			return keep(who, c)
		}
		owners, hands := at(s.one, "a", "all"), at(s.one, "b", "lost")
		first, second := at(s.two, "b", "all"), at(s.two, "c", "lost")
		if err := errors.Join(keep(s.a, owners), keep(s.hand, hands, first, second)); err != nil {
			t.Fatal(err)
		}
		if err := choose(s.hand, hands); errors.Is(err, errs.Invalid) != rule {
			t.Errorf("a hand chooses against an owner's look, rule %v: %v", rule, err)
		}
		if !rule {
			continue
		}
		folded := func() fieldwork.Folded {
			var looks []fieldwork.Look
			s.As(t, s.hand, func(tx *postgres.Tx) (err error) { looks, err = tx.Looks(s.ranchA, 2027); return err })
			return fieldwork.Fold([]seasons.Line{s.one, s.two}, looks)
		}
		if f := folded(); len(f.Conflicts) != 2 || !f.Conflicts[0].HasOwner() || f.Conflicts[1].HasOwner() {
			t.Errorf("conflicts: %+v", f.Conflicts)
		}
		if err := choose(s.hand, second); err != nil {
			t.Errorf("between two looks of hands: %v", err)
		}
		if f := folded(); len(f.Settled) != 1 || f.Settled[0].Kept != second.ID || f.Settled[0].Choice.Sender != s.hand.Name {
			t.Errorf("settled: %+v", f.Settled)
		}
		if err := errors.Join(choose(s.a, first), choose(s.a, owners)); err != nil {
			t.Errorf("an owner chooses: %v", err)
		}
		if err := choose(s.hand, second); !errors.Is(err, errs.Invalid) {
			t.Errorf("a hand chooses after an owner: %v", err)
		}
		if f := folded(); len(f.Settled) != 2 || f.Settled[1].Kept != first.ID || !f.Settled[1].Choice.Owner {
			t.Errorf("settled by the owner: %+v", f.Settled)
		}
		s.As(t, s.a, func(tx *postgres.Tx) error {
			notes, err := tx.Notes()
			got := map[string]int{}
			for _, n := range notes {
				got[n.Name+" "+n.What+" "+n.Item+n.Line] = n.Times
			}
			for want, n := range map[string]int{s.hand.Name + " chose " + s.two.Name + " / 1": 1, s.hand.Name + " looks " + s.one.Name: 1, s.hand.Name + " looks " + s.two.Name: 2} {
				if got[want] != n {
					t.Errorf("the log has %q %d times, want %d, of %v", want, got[want], n, got)
				}
			}
			return err
		})
	}
}
