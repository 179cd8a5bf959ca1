package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/findings"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/stat/predator"
)

// without takes a rule out of a function of the database, for a test that must fail then.
func without(t *testing.T, f *pgtest.Fixture, function, rule, instead string) {
	t.Helper()
	ctx := context.Background()
	was, err := f.Owner.Text(ctx, "SELECT pg_get_functiondef($1::regprocedure)", function)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(was, rule) {
		t.Fatalf("%s has no %q", function, rule)
	}
	if _, err := f.Owner.Exec(ctx, strings.ReplaceAll(was, rule, instead)); err != nil {
		t.Fatal(err)
	}
}

// lines are the changes of some kinds that somebody reads, latest first, as "kind: what, by whom".
func (s *stage) lines(t *testing.T, who access.Actor, kinds ...string) (list []string) {
	t.Helper()
	s.As(t, who, func(tx *postgres.Tx) error {
		changes, err := tx.RosterChanges(time.Time{})
		for _, x := range changes {
			if slices.Contains(kinds, x.Kind) {
				list = append(list, fmt.Sprintf("%s: %s, by %s", x.Kind, x.What, x.By))
			}
		}
		return err
	})
	return list
}

// TestSuspensionEnds: one coordinator keeps somebody out once in 90 days, for 14 of them, for all to read; a second one who was there before it began
// keeps them out for longer.
func TestSuspensionEnds(t *testing.T) {
	ctx := context.Background()
	s := newStage(t)
	second := s.Member(t, s.boss, access.Coordinator, "Second")
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
	friend := s.Member(t, s.boss, access.Coordinator, "Friend")
	say := func(who access.Actor, do func(*postgres.Tx, access.ID) error) error {
		return s.DB.As(ctx, who, func(tx *postgres.Tx) error { return do(tx, s.a.Person) })
	}
	out := func() bool {
		_, err := s.DB.OpenSession(ctx, postgres.NewSession{Coop: s.a.Coop, Person: s.a.Person, Idle: time.Hour, Max: time.Hour})
		return err != nil
	}
	if err := say(s.boss, (*postgres.Tx).Suspend); err != nil {
		t.Fatal(err)
	}
	kinds := []string{postgres.Suspended, postgres.SuspendedOn, postgres.LetIn}
	for _, who := range []access.Actor{s.b, s.hand, second} {
		if got, want := s.lines(t, who, kinds...), []string{"suspended: " + s.a.Name + ", by " + s.boss.Name}; !slices.Equal(got, want) {
			t.Errorf("%s reads %q, want %q", who.Name, got, want)
		}
	}
	if got := s.lines(t, s.planner, kinds...); len(got) != 1 || strings.Contains(got[0], s.a.Name) {
		t.Errorf("a planner reads %q", got)
	}
	for name, who := range map[string]access.Actor{"who began it": s.boss, "who came lately": friend} {
		if err := say(who, (*postgres.Tx).KeepSuspended); !errors.Is(err, errs.NotFound) {
			t.Errorf("%s says the second yes: %v", name, err)
		}
	}
	if err := say(s.b, (*postgres.Tx).KeepSuspended); !errors.Is(err, errs.Forbidden) {
		t.Errorf("a landowner says it: %v", err)
	}
	// The ranch is in the season that has opened as if nothing had been.
	s.Cut(t, s.boss.Coop, 2027)
	if got := s.text(t, "SELECT count(*)::text FROM tussock.snapshot WHERE ranch_id = $1 AND season = 2027", s.ranchA); got != "1" {
		t.Error("a coordinator dropped a ranch out of a season by suspending its owner")
	}
	if s.later(t, 14*24*time.Hour-time.Minute); !out() {
		t.Error("it ended before its day")
	}
	s.later(t, 14*24*time.Hour+time.Minute)
	if got := s.lines(t, s.b, kinds...); out() || got[0] != "suspension ended: "+s.a.Name+", by " {
		t.Errorf("after 14 days: out %v, %q", out(), got)
	}
	// Not again, by who began it or came lately, until 90 days are over.
	s.seed(t, "UPDATE tussock.person SET suspended_first = suspended_first - interval '15 days' WHERE id = $1", s.a.Person)
	for _, who := range []access.Actor{s.boss, friend} {
		if err := say(who, (*postgres.Tx).Suspend); !errors.Is(err, errs.Conflict) || out() {
			t.Errorf("again by %s: %v", who.Name, err)
		}
	}
	s.seed(t, "UPDATE tussock.person SET suspended_first = suspended_first - interval '76 days' WHERE id = $1", s.a.Person)
	if err := say(s.boss, (*postgres.Tx).Suspend); err != nil {
		t.Errorf("after 90 days: %v", err)
	}
	if err := say(second, (*postgres.Tx).KeepSuspended); err != nil {
		t.Fatal(err)
	}
	if got := s.lines(t, s.b, kinds...); got[0] != "suspension kept: "+s.a.Name+", by Second" {
		t.Errorf("members read %q", got)
	}
	if s.later(t, 100*24*time.Hour); !out() {
		t.Error("two coordinators’ word ended by itself")
	}
	if err := say(friend, (*postgres.Tx).Restore); err != nil || out() {
		t.Errorf("let in: %v, out %v", err, out())
	}
	s.raw(t, s.boss.Session, func(tx pgx.Tx) {
		for _, statement := range []string{"UPDATE tussock.person SET suspended_at = now()", "UPDATE tussock.person SET suspended_first = NULL", "UPDATE tussock.person SET suspension_kept_by = id",
			"SELECT tussock.end_suspensions('2100-01-01')", "SELECT tussock.give_time(coop_id, id, now()) FROM tussock.person"} {
			if got := try(t, tx, statement); got != refused {
				t.Errorf("%s: got %v, want %v", statement, got, refused)
			}
		}
	})
}

// TestNothingIsDoneWhileSuspended: another owner's asking is not carried out while a coordinator keeps the owner from answering, nor what
// somebody asked with the owner's password; whoever comes in again has 14 days.
func TestNothingIsDoneWhileSuspended(t *testing.T) {
	for _, rule := range []bool{true, false} {
		t.Run(fmt.Sprintf("rule %v", rule), func(t *testing.T) {
			s := newStage(t)
			if !rule {
				without(t, s.Fixture, "tussock.carry_out(timestamptz)", "tussock.departure_waits_for(x, p.id)", "false")
			}
			second := s.Member(t, s.boss, access.Landowner, "Second owner", s.ranchA)
			s.As(t, s.a, func(tx *postgres.Tx) error {
				_, err := tx.Depart(postgres.Departure{Kind: postgres.LeaveKind})
				return err
			})
			s.As(t, second, func(tx *postgres.Tx) error { _, err := tx.TakeOff(s.a.Person, s.ranchA); return err })
			s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Suspend(s.a.Person) })
			s.seed(t, "UPDATE tussock.departure SET due_at = now() + interval '1 day'")
			if done := s.later(t, 2*24*time.Hour); (len(done) == 0) != rule {
				t.Errorf("carried out while the owner is kept out: %+v", done)
			}
			if !rule {
				return
			}
			for days, want := range map[int]int{15: 0, 28: 0} { // it ends on the fifteenth day
				if done := s.later(t, time.Duration(days)*24*time.Hour); len(done) != want {
					t.Errorf("after %d days: %+v", days, done)
				}
			}
			if done := s.later(t, 60*24*time.Hour); len(done) != 2 {
				t.Errorf("in the end: %+v", done)
			}
		})
	}
}

// TestNoOfASuspendedCoordinator: one coordinator suspends another, whose no keeps a bulletin back, and has a third say yes. The no stands.
func TestNoOfASuspendedCoordinator(t *testing.T) {
	for _, rule := range []bool{true, false} {
		t.Run(fmt.Sprintf("rule %v", rule), func(t *testing.T) {
			s := newStage(t)
			if !rule {
				without(t, s.Fixture, "tussock.approved(uuid, integer, smallint)", "p.suspended_at IS NOT NULL", "false")
			}
			no, third := s.Member(t, s.boss, access.Coordinator, "No"), s.Member(t, s.boss, access.Coordinator, "Third")
			s.prints(t, no, third)
			s.As(t, no, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, false) })
			s.As(t, s.boss, func(tx *postgres.Tx) error {
				return errors.Join(tx.Approve(2026, 1, true), tx.Suspend(no.Person))
			})
			s.As(t, third, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, true) })
			if out := s.published(t); out == rule {
				t.Errorf("the bulletin is out: %v", out)
			}
			if !rule {
				return
			}
			s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
			s.As(t, third, func(tx *postgres.Tx) error {
				return errors.Join(tx.KeepSuspended(no.Person), tx.Approve(2026, 1, true))
			})
			if !s.published(t) {
				t.Error("where two coordinators keep a third out, that one’s no still holds the bulletin back")
			}
		})
	}
}

// prints has the bulletin of 2026 be composed and wait for two coordinators' yes, who were there before the cut-off.
func (s *stage) prints(t *testing.T, coordinators ...access.Actor) {
	t.Helper()
	for _, c := range coordinators {
		s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '1 day' WHERE id = $1", c.Person)
	}
	s.seed(t, "DELETE FROM tussock.approval")
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '1 day' WHERE id = $1", s.boss.Person)
	s.seed(t, "UPDATE tussock.season SET words = 2 WHERE coop_id = $1 AND year = 2026", s.boss.Coop)
	s.seed(t, "UPDATE tussock.edition SET composed_at = now(), counted = 2 WHERE coop_id = $1 AND season = 2026", s.boss.Coop)
	s.seed(t, "INSERT INTO pub.bulletin (coop_id, season, number, published_at, hash) VALUES ($1, 2026, 2, NULL, 'h')", s.boss.Coop)
}

func (s *stage) published(t *testing.T) bool {
	t.Helper()
	return s.text(t, "SELECT (published_at IS NOT NULL)::text FROM pub.bulletin WHERE coop_id = $1 AND season = 2026", s.boss.Coop) == "true"
}

// TestOneWordAtATime: a no that is being said when the last yes comes is counted, and of two yeses to take a figure back that come in one
// moment the later takes it back: each waits for the other. Without the lock the yes does not see the no, and neither yes the other.
func TestOneWordAtATime(t *testing.T) {
	const lock = "FOR UPDATE;"
	for _, rule := range []bool{true, false} {
		t.Run(fmt.Sprintf("publish, lock %v", rule), func(t *testing.T) {
			s := newStage(t)
			if !rule {
				without(t, s.Fixture, "tussock.approve(integer, smallint, boolean)", lock, ";")
			}
			other := s.Member(t, s.boss, access.Coordinator, "Other")
			s.prints(t, other)
			s.As(t, other, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, true) })
			s.atOnce(t, !rule, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, false) }, other, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, true) }, s.boss)
			if out := s.published(t); out == rule {
				t.Errorf("out although one says no: %v", out)
			}
		})
		t.Run(fmt.Sprintf("take back, lock %v", rule), func(t *testing.T) {
			s := newStage(t)
			if !rule {
				without(t, s.Fixture, "tussock.retract(integer, integer, integer[])", lock, ";")
			}
			other := s.Member(t, s.boss, access.Coordinator, "Other")
			s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
			s.Open(t, s.boss.Coop, 2025)
			s.seed(t, "UPDATE tussock.season SET words = 2 WHERE coop_id = $1 AND year = 2025", s.boss.Coop)
			yes := func(tx *postgres.Tx) error {
				_, err := tx.Retract(2025, bulletin.Cell{Season: 2025, Measure: bulletin.Survival28})
				return err
			}
			s.atOnce(t, !rule, yes, other, yes, s.boss)
			gone := s.text(t, "SELECT count(*)::text FROM pub.retraction WHERE coop_id = $1 AND season = 2025", s.boss.Coop)
			if (gone != "0") != rule {
				t.Errorf("two yeses took back %s figures", gone)
			}
		})
	}
}

// atOnce says one word, and the second while the first is not committed. Where the second does not wait, free is true.
func (s *stage) atOnce(t *testing.T, free bool, first func(*postgres.Tx) error, one access.Actor, second func(*postgres.Tx) error, two access.Actor) {
	t.Helper()
	done := make(chan error, 1)
	said := false
	s.As(t, one, func(tx *postgres.Tx) error {
		if err := first(tx); err != nil {
			return err
		}
		go func() { done <- s.DB.As(context.Background(), two, second) }()
		select {
		case err := <-done:
			said = true
			return err
		case <-time.After(2 * time.Second): // it waits; or the machine is slow, which the outcome tells
			return nil
		}
	})
	if !said {
		if err := <-done; err != nil {
			t.Fatal(err)
		}
	}
	if said && !free {
		t.Error("the second word did not wait for the first")
	}
}

// TestOwnLooks: a hand takes back what the hand tapped, and nothing that an owner, another hand or a field link did; an owner takes back
// what anybody did.
func TestOwnLooks(t *testing.T) {
	ctx := context.Background()
	s := newLookStage(t)
	other := s.Member(t, s.boss, access.Hand, "Another hand", s.ranchA)
	keep := func(who access.Actor, looks ...fieldwork.Look) error {
		return s.DB.As(ctx, who, func(tx *postgres.Tx) error { _, err := tx.KeepLooks(looks); return err })
	}
	undo := func(of fieldwork.Look) fieldwork.Look {
		l := s.look(s.one, fieldwork.Undo)
		l.Undoes = of.ID
		return l
	}
	tapped := map[string]fieldwork.Look{}
	for name, who := range map[string]access.Actor{"owner": s.a, "hand": s.hand, "other": other} {
		tapped[name] = s.look(s.one, fieldwork.Note, "note", name)
		if err := keep(who, tapped[name]); err != nil {
			t.Fatal(err)
		}
	}
	tapped["link"] = s.look(s.one, fieldwork.Note, "note", "link")
	s.seed(t, `INSERT INTO tussock.look (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers)
		VALUES ($1, $2, $3, 2027, $4, 1, 'note', 'JR', 'link', 1, now(), '{}')`, s.a.Coop, s.ranchA, tapped["link"].ID, s.one.ID)
	for name, l := range tapped {
		err := keep(s.hand, undo(l))
		if name == "hand" && err != nil || name != "hand" && !errors.Is(err, errs.Invalid) {
			t.Errorf("a hand takes back a look of the %s: %v", name, err)
		}
	}
	// Tapped and taken back without a signal, they come together; and what is kept already may come again.
	mine := s.look(s.one, fieldwork.Note, "note", "x")
	back := undo(mine)
	if err := errors.Join(keep(s.hand, mine, back), keep(s.hand, back)); err != nil {
		t.Errorf("one’s own: %v", err)
	}
	for name, l := range tapped {
		if err := keep(s.a, undo(l)); err != nil {
			t.Errorf("an owner takes back a look of the %s: %v", name, err)
		}
	}
	try := s.connect(t, s.hand)
	if n, err := try(fmt.Sprintf(`INSERT INTO tussock.look (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers, undoes, sent_by)
		SELECT coop_id, ranch_id, gen_random_uuid(), season, line_id, stop, 'undo', who, device, seq, at, '{}', id, '%s' FROM tussock.look WHERE id = '%s'`, s.hand.Person, tapped["owner"].ID)); err == nil {
		t.Errorf("a statement takes back an owner’s look: %d", n)
	}
}

// TestAddressesAreTheOwners: the addresses of those who open a ranch are read by its owners alone.
func TestAddressesAreTheOwners(t *testing.T) {
	s := newStage(t)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		_, err := tx.Share(postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "x", Through: time.Now().AddDate(0, 1, 0)})
		return err
	})
	for _, who := range []access.Actor{s.a, s.b, s.hand, s.biologist, s.planner, s.boss, s.stranger} {
		s.As(t, who, func(tx *postgres.Tx) error {
			got, err := tx.Addresses(s.ranchA)
			if want := map[bool]int{true: 3}[who.Person == s.a.Person]; len(got) != want {
				t.Errorf("%s reads %d addresses, want %d", who.Name, len(got), want)
			}
			for _, p := range []access.Actor{s.a, s.hand, s.biologist} {
				if email := s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", p.Person); len(got) > 0 && got[p.Person] != email {
					t.Errorf("%s of %s, want %s", got[p.Person], p.Name, email)
				}
			}
			return err
		})
	}
}

// TestEveryChangeIsALine: each kind of change that the log knows is written by what it is about, for a landowner to read; among them every
// typing and change of a landowner on record. There is no kind without a line here.
func TestEveryChangeIsALine(t *testing.T) {
	s := newStage(t)
	second := s.Member(t, s.boss, access.Coordinator, "Second")
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
	s.Open(t, s.boss.Coop, 2025)
	boss := func(fn func(*postgres.Tx) error) { t.Helper(); s.As(t, s.boss, fn) }
	save := func(r postgres.Ranch) (id access.ID) {
		boss(func(tx *postgres.Tx) (err error) { id, err = tx.SaveRanch(r); return err })
		return id
	}
	onPaper := func(ranch, owner string) access.ID { return save(postgres.Ranch{Name: ranch, Owner: owner}) }
	var fresh, area, asked access.ID
	var heir string
	untold := map[string]bool{}
	for i, part := range strings.Split(s.text(t, "SELECT pg_get_constraintdef(oid) FROM pg_constraint WHERE conname = 'roster_change_kind_check'"), "'") {
		if i%2 == 1 {
			untold[part] = true
		}
	}
	if len(untold) < 20 {
		t.Fatalf("the log knows %v", untold)
	}
	day := func(n int) time.Time { return time.Now().UTC().AddDate(0, 0, n) }
	retract := func(who access.Actor) {
		s.As(t, who, func(tx *postgres.Tx) error {
			_, err := tx.Retract(2025, bulletin.Cell{Season: 2025, Measure: bulletin.Survival28})
			return err
		})
	}
	takeOff := func() {
		t.Helper()
		s.seed(t, "UPDATE tussock.departure SET called_off_at = called_off_at - interval '90 days' WHERE called_off_at IS NOT NULL")
		boss(func(tx *postgres.Tx) (err error) { asked, err = tx.TakeOff(s.b.Person, s.ranchB); return err })
	}
	var third, further access.Actor
	sell := func(who, to access.Actor) {
		email := s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", to.Person)
		s.As(t, who, func(tx *postgres.Tx) (err error) {
			asked, err = tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchB, Heir: email})
			return err
		})
	}
	ask := func() {
		boss(func(tx *postgres.Tx) error { _, err := tx.AskRemoval(third.Person); return err })
	}
	for _, step := range []struct {
		kind, what, was, became string
		do                      func()
	}{
		{postgres.RanchAdded, "Fresh", "North", "June Aldous", func() { fresh = save(postgres.Ranch{Name: "Fresh", Area: "North", Owner: "June Aldous"}) }},
		{postgres.RanchOwner, "Fresh", "June Aldous", "Decoy Person", func() { save(postgres.Ranch{ID: fresh, Name: "Fresh", Area: "North", Owner: "Decoy Person"}) }},
		{postgres.RanchOwner, "Fresh", "Decoy Person", "June Aldous", func() { save(postgres.Ranch{ID: fresh, Name: "Fresh", Area: "North", Owner: "June Aldous"}) }},
		{postgres.RanchRenamed, "Fresh Creek", "Fresh", "Fresh Creek", func() { save(postgres.Ranch{ID: fresh, Name: "Fresh Creek", Area: "North", Owner: "June Aldous"}) }},
		{postgres.RanchMoved, "Fresh Creek", "North", "", func() { save(postgres.Ranch{ID: fresh, Name: "Fresh Creek", Owner: "June Aldous"}) }},
		{postgres.AreaAdded, "South", "", "Upper", func() { boss(func(tx *postgres.Tx) error { return tx.SaveArea("South", "Upper") }) }},
		{postgres.AreaGrouped, "South", "Upper", "Lower", func() { boss(func(tx *postgres.Tx) error { return tx.SaveArea("South", "Lower") }) }},
		{postgres.AreaRenamed, "Deep South", "South", "Deep South", func() {
			area = access.ID(s.text(t, "SELECT id::text FROM tussock.area WHERE coop_id = $1 AND name = 'South'", s.boss.Coop))
			boss(func(tx *postgres.Tx) error { return tx.RenameArea(area, "Deep South") })
		}},
		{postgres.PaperYes, "Fresh Creek", "", "", func() { boss(func(tx *postgres.Tx) error { return tx.KeepPaper(fresh, true) }) }},
		{postgres.HeirLetIn, "Long Draw", s.b.Name, "", func() {
			s.As(t, s.b, func(tx *postgres.Tx) error {
				id, err := tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchB, Heir: "buyer@example.org"})
				if err == nil {
					asked = id
					heir, err = tx.InviteHeir(id)
				}
				return err
			})
			boss(func(tx *postgres.Tx) error {
				return tx.LetHeir(access.ID(s.text(t, "SELECT id::text FROM tussock.invitation WHERE heir_of IS NOT NULL")), true)
			})
		}},
		{postgres.HeirJoined, "Long Draw", "Buyer", "", func() {
			s.Join(t, heir, "Buyer")
			s.As(t, s.b, func(tx *postgres.Tx) error { return tx.CallOff(asked) })
		}},
		{postgres.HeirRefused, "Long Draw", s.b.Name, "", func() {
			s.As(t, s.b, func(tx *postgres.Tx) error {
				id, err := tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchB, Heir: "other@example.org"})
				if err == nil {
					_, err = tx.InviteHeir(id)
				}
				return err
			})
			boss(func(tx *postgres.Tx) error {
				return tx.LetHeir(access.ID(s.text(t, "SELECT id::text FROM tussock.invitation WHERE email = 'other@example.org'")), false)
			})
		}},
		{postgres.Placed, "Fresh Creek", s.hand.Name, postgres.PlacedWaiting, func() {
			boss(func(tx *postgres.Tx) error { return tx.Assign(s.hand.Person, fresh) })
		}},
		{postgres.PlaceEnded, "Fresh Creek", s.hand.Name, "", func() {
			boss(func(tx *postgres.Tx) error {
				return errors.Join(tx.Assign(s.hand.Person, fresh), tx.Unassign(s.hand.Person, fresh))
			})
		}},
		{postgres.MemberGone, s.planner.Name, "", "planner", func() { s.Remove(t, s.boss, s.planner.Person) }},
		{postgres.HeirGone, "Long Draw", "Other buyer", "", func() {
			s.As(t, s.b, func(tx *postgres.Tx) error {
				id, err := tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchB, Heir: "other@example.org"})
				if err == nil {
					asked = id
					heir, err = tx.InviteHeir(id)
				}
				return err
			})
			s.seed(t, "UPDATE tussock.invitation SET let_in_by = $1 WHERE heir_of = $2", s.boss.Person, asked)
			s.Join(t, heir, "Other buyer")
			s.As(t, s.b, func(tx *postgres.Tx) error { return tx.CallOff(asked) })
		}},
		{postgres.OwnerCame, "Long Draw", "Further", "", func() {
			further = s.Member(t, s.boss, access.Landowner, "Further", s.ranchB)
		}},
		{postgres.OtherName, "Other Flat", "Somebody Typed", "Otherwise Called", func() {
			var flat access.ID
			boss(func(tx *postgres.Tx) (err error) {
				flat, err = tx.SaveRanch(postgres.Ranch{Name: "Other Flat", Owner: "Somebody Typed"})
				return err
			})
			s.Member(t, s.boss, access.Landowner, "Otherwise Called", flat)
		}},
		{postgres.EraseAsked, "Long Draw", "", "", func() {
			s.As(t, s.b, func(tx *postgres.Tx) (err error) {
				asked, err = tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchB})
				return err
			})
		}},
		{postgres.EraseNot, "Long Draw", "", "", func() {
			s.As(t, further, func(tx *postgres.Tx) error { return tx.CallOff(asked) })
			s.As(t, s.b, func(tx *postgres.Tx) error {
				notes, err := tx.Notes()
				told := ""
				for _, n := range notes {
					if n.What == postgres.AskedErase || n.What == postgres.EndedErase {
						told += n.Name + " " + n.What + "; "
					}
				}
				if told != further.Name+" erase ended; "+s.b.Name+" erase; " && told != s.b.Name+" erase; "+further.Name+" erase ended; " {
					t.Errorf("the ranch's log: %s", told)
				}
				return err
			})
		}},
		{postgres.Sells, "Long Draw", "", "", func() { sell(s.b, s.a) }},
		{postgres.SellsYes, "Long Draw", "", "", func() { s.As(t, further, func(tx *postgres.Tx) error { return tx.AgreeHandOver(asked) }) }},
		{postgres.SellsNot, "Long Draw", "", "", func() { s.As(t, s.b, func(tx *postgres.Tx) error { return tx.CallOff(asked) }) }},
		{postgres.FirstOwner, "Paper Draw", "Paul Reed", "", func() {
			s.Member(t, s.boss, access.Landowner, "Paul Reed", onPaper("Paper Draw", "Paul Reed"))
		}},
		{postgres.VouchLapsed, "Letter Draw", "Nell Poole", s.boss.Name, func() {
			ranch := onPaper("Letter Draw", "Nell Poole")
			boss(func(tx *postgres.Tx) error { return tx.Vouch(ranch) })
			s.Member(t, s.boss, access.Landowner, "Nell Poole", ranch)
		}},
		{postgres.CodeMade, s.b.Name, "", "", func() { boss(func(tx *postgres.Tx) error { return tx.NoteCode(s.b.Person) }) }},
		{postgres.MapSet, "North", "", "shown", func() {
			boss(func(tx *postgres.Tx) error { return tx.SaveShapes([]geo.Named{{Name: "North", Shape: square}}) })
		}},
		{postgres.PaperNo, "Fresh Creek", "", "", func() { boss(func(tx *postgres.Tx) error { return tx.KeepPaper(fresh, false) }) }},
		{postgres.VouchEnded, s.b.Name, "", "", func() {
			s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.EndVouch(s.b.Person) })
		}},
		{postgres.Vouched, s.b.Name, "", "", func() { boss(func(tx *postgres.Tx) error { return tx.Vouch(s.b.Person) }) }},
		{postgres.KeySet, "2", "Cameras of our own", "A book of remains", func() {
			boss(func(tx *postgres.Tx) error {
				return tx.SetKey(predator.Table{Source: "A book of remains", Leanings: []predator.Leaning{{Sign: "bits", Answer: "halves", Animal: "raccoon", Times: 9}}})
			})
		}},
		{postgres.SeasonDated, "2030", "", "", func() {
			boss(func(tx *postgres.Tx) error {
				return tx.SetSeason(postgres.Season{Year: 2030, Opens: day(70), CutOff: day(110), Composed: day(120), Published: day(130)})
			})
		}},
		{postgres.TargetsSet, "a vote", "", "250 40 14 28", func() {
			boss(func(tx *postgres.Tx) error {
				return tx.SetMarks(findings.Marks{Cover: 250, Hope: 0.4, First: 14, Last: 28, From: "a vote"})
			})
		}},
		{postgres.TakeBack, "2025", "", "", func() { retract(s.boss) }},
		{postgres.TakenBack, "2025", "", "", func() { retract(second) }},
		{postgres.OwnerAsked, "Long Draw", s.b.Name, "", takeOff},
		{postgres.OwnerStays, "Long Draw", s.b.Name, "", func() { s.As(t, s.b, func(tx *postgres.Tx) error { return tx.CallOff(asked) }) }},
		{postgres.Suspended, s.b.Name, "", "", func() { boss(func(tx *postgres.Tx) error { return tx.Suspend(s.b.Person) }) }},
		{postgres.SuspendedOn, s.b.Name, "", "", func() { s.As(t, second, func(tx *postgres.Tx) error { return tx.KeepSuspended(s.b.Person) }) }},
		{postgres.LetIn, s.b.Name, "", "", func() { boss(func(tx *postgres.Tx) error { return tx.Restore(s.b.Person) }) }},
		{postgres.RunnerCame, "Third", "", "", func() { third = s.Member(t, s.boss, access.Coordinator, "Third") }},
		{postgres.RunnerAsked, "Third", "", "", ask},
		{postgres.RunnerStays, "Third", "", "", func() { s.As(t, third, (*postgres.Tx).Stay) }},
		{postgres.RunnerGone, "Third", "", "", func() { s.As(t, third, (*postgres.Tx).Leave) }},
		{postgres.OwnerOff, "Long Draw", s.b.Name, "", func() { takeOff(); s.later(t, 15*24*time.Hour) }},
		{postgres.Sold, "Long Draw", "", "Other buyer", func() {
			buyer := s.Member(t, s.boss, access.Landowner, "Other buyer")
			sell(further, buyer)
			s.As(t, buyer, func(tx *postgres.Tx) error { return tx.AnswerOffer(asked, true) })
			s.later(t, 15*24*time.Hour)
		}},
		{postgres.RanchErased, "", "", "", func() { s.Erase(t, s.ranchB) }},
	} {
		read := func() (list []postgres.RosterChange) {
			s.As(t, s.a, func(tx *postgres.Tx) (err error) { list, err = tx.RosterChanges(time.Time{}); return err })
			return slices.DeleteFunc(list, func(x postgres.RosterChange) bool { return x.Kind != step.kind })
		}
		before := len(read())
		step.do()
		after := read()
		if len(after) != before+1 {
			t.Errorf("%s: %d lines more, want one", step.kind, len(after)-before)
			continue
		}
		if x := after[0]; x.What != step.what || x.Was != step.was && step.was != "" || x.Became != step.became && step.became != "" {
			t.Errorf("%s: a landowner reads %+v", step.kind, x)
		}
		delete(untold, step.kind)
	}
	for kind := range untold {
		t.Errorf("nothing here is logged as %q", kind)
	}
}

// TestHandWithoutARanchReadsNoChanges: a hand reads what changes in the cooperative while they work on a ranch of it, and not after.
func TestHandWithoutARanchReadsNoChanges(t *testing.T) {
	s := newStage(t)
	changes := func(who access.Actor) (n int) {
		t.Helper()
		s.As(t, who, func(tx *postgres.Tx) error {
			list, err := tx.RosterChanges(time.Time{})
			n = len(list)
			return err
		})
		return n
	}
	before := changes(s.hand)
	if before == 0 || before != changes(s.a) {
		t.Fatalf("a hand at work reads %d changes, an owner %d", before, changes(s.a))
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Unassign(s.hand.Person, s.ranchA) })
	if n := changes(s.Again(t, s.hand)); n != 0 {
		t.Errorf("a hand without a ranch reads %d changes", n)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Assign(s.hand.Person, s.ranchA) })
	if n := changes(s.Again(t, s.hand)); n != 0 {
		t.Errorf("a hand who waits for an owner's yes reads %d changes", n)
	}
	s.Confirm(t)
	if n := changes(s.Again(t, s.hand)); n < before {
		t.Errorf("back at work, a hand reads %d changes", n)
	}
}

// TestInvitedTwice: a coordinator reads at once that an address signs in here already, or did, since nobody could join by the invitation;
// of accounts elsewhere they read nothing, and nobody else reads anything.
func TestInvitedTwice(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	email := func(who access.Actor) string {
		return s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", who.Person)
	}
	invite := func(by access.Actor, address string) error {
		return s.DB.As(ctx, by, func(tx *postgres.Tx) error {
			_, err := tx.Invite(access.Landowner, "Whoever", strings.ToUpper(address), []access.ID{s.ranchB})
			return err
		})
	}
	said, _ := errs.Message(invite(s.boss, email(s.a)))
	if !strings.HasPrefix(said, s.a.Name+" already has an account here") {
		t.Errorf("a member's address: %q", said)
	}
	if err := invite(s.boss, email(s.stranger)); err != nil {
		t.Errorf("an address of another cooperative: %v", err)
	}
	if err := invite(s.a, email(s.b)); !errors.Is(err, errs.Forbidden) {
		t.Errorf("a landowner: %v", err)
	}
	s.Remove(t, s.boss, s.hand.Person)
	if said, _ := errs.Message(invite(s.boss, email(s.hand))); !strings.Contains(said, "was a member here with that address") {
		t.Errorf("a former member's address: %q", said)
	}
}

// TestSuspendedOnce: one coordinator suspends a member once in 90 days, however short it was; another can, who was here for 30 days. A
// suspended coordinator is one still, and nothing that was asked of them runs on.
func TestSuspendedOnce(t *testing.T) {
	ctx := context.Background()
	s := newStage(t)
	second, third := s.Member(t, s.boss, access.Coordinator, "Second"), s.Member(t, s.boss, access.Coordinator, "Third")
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
	friend := s.Member(t, s.boss, access.Coordinator, "Friend")
	suspend := func(by, who access.Actor) error {
		return s.DB.As(ctx, by, func(tx *postgres.Tx) error { return tx.Suspend(who.Person) })
	}
	letIn := func() {
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Restore(s.a.Person) })
	}
	if err := suspend(s.boss, s.a); err != nil {
		t.Fatal(err)
	}
	letIn()
	for _, by := range []access.Actor{s.boss, friend} {
		if err := suspend(by, s.a); !errors.Is(err, errs.Conflict) {
			t.Errorf("%s, minutes later: %v", by.Name, err)
		}
	}
	if err := suspend(second, s.a); err != nil {
		t.Errorf("a second coordinator: %v", err)
	}
	letIn()
	s.seed(t, "UPDATE tussock.person SET suspended_first = suspended_first - interval '91 days' WHERE id = $1", s.a.Person)
	if err := suspend(second, s.a); err != nil {
		t.Errorf("after 90 days: %v", err)
	}
	letIn()

	s.As(t, s.boss, func(tx *postgres.Tx) error { _, err := tx.AskRemoval(third.Person); return err })
	s.seed(t, "UPDATE tussock.person SET remove_asked_at = now() - interval '13 days' WHERE id = $1", third.Person)
	if err := suspend(second, third); err != nil {
		t.Fatal(err)
	}
	if got := s.text(t, "SELECT coalesce(remove_asked_at::text, '') FROM tussock.person WHERE id = $1", third.Person); got != "" {
		t.Errorf("what was asked of a suspended coordinator runs on from %s", got)
	}
	if got, want := s.lines(t, s.b, postgres.RunnerStays), []string{"remove ended: Third, by Second"}; !slices.Equal(got, want) {
		t.Errorf("the lines are %q, want %q", got, want)
	}
	s.As(t, s.b, func(tx *postgres.Tx) error {
		list, err := tx.CoordinatorChanges()
		if !slices.ContainsFunc(list, func(c postgres.CoordinatorChange) bool {
			return c.Name == "Third" && c.What == postgres.CoordinatorSuspended
		}) ||
			slices.ContainsFunc(list, func(c postgres.CoordinatorChange) bool { return c.What == postgres.CoordinatorGone }) {
			t.Errorf("a landowner reads %+v", list)
		}
		return err
	})
	// Kept out by the two nobody asks them off however long it lasts, nor in the first 14 days after.
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.KeepSuspended(third.Person) })
	asks := func(when string, may bool) {
		t.Helper()
		for _, who := range []access.Actor{s.boss, second} {
			err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { _, err := tx.AskRemoval(third.Person); return err })
			if (err == nil) != may || err != nil && !errors.Is(err, errs.Conflict) {
				t.Errorf("%s %s asks a coordinator off: %v", when, who.Name, err)
			}
			if may {
				return
			}
		}
		if err := s.DB.As(ctx, s.boss, func(tx *postgres.Tx) error { return tx.RemoveMember(third.Person) }); !errors.Is(err, errs.Conflict) {
			t.Errorf("%s one removes a coordinator who cannot say no: %v", when, err)
		}
	}
	asks("while suspended", false)
	s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Restore(third.Person) })
	asks("just in again", false)
	s.seed(t, "UPDATE tussock.person SET let_in_at = let_in_at - interval '14 days' WHERE id = $1", third.Person)
	asks("fourteen days later", true)
}

// TestRecordStandsWhileSuspended: while an owner is suspended, and for 14 days after, no coordinator changes their ranch's record.
func TestRecordStandsWhileSuspended(t *testing.T) {
	s := newStage(t)
	var record postgres.Ranch
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		list, err := tx.AllRanches()
		for _, r := range list {
			if r.ID == s.ranchB {
				record = r
			}
		}
		return err
	})
	save := func(r postgres.Ranch) error {
		return s.DB.As(context.Background(), s.boss, func(tx *postgres.Tx) error { _, err := tx.SaveRanch(r); return err })
	}
	owner, area, name := record, record, record
	owner.Owner, area.Area, name.Name = "Decoy Person", "Elsewhere", "Another Draw"
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		return errors.Join(tx.SaveArea("Elsewhere", ""), tx.Suspend(s.b.Person))
	})
	for _, when := range []string{"suspended", "in again"} {
		for what, r := range map[string]postgres.Ranch{"owner": owner, "area": area, "name": name} {
			if err := save(r); !errors.Is(err, errs.Conflict) {
				t.Errorf("%s, the %s changes: %v", when, what, err)
			}
		}
		if err := save(record); err != nil {
			t.Errorf("%s, saved as it is: %v", when, err)
		}
		s.As(t, s.boss, func(tx *postgres.Tx) error { return tx.Restore(s.b.Person) })
	}
	s.seed(t, "UPDATE tussock.person SET let_in_at = now() - interval '15 days' WHERE id = $1", s.b.Person)
	if err := save(area); err != nil {
		t.Errorf("15 days later: %v", err)
	}
}

// TestEndsAreLines: a coordinator ends no hand's place on a ranch that has an owner; removed, hands and biologists leave a line for all and
// in the owner's log, and a sharing says who ended it.
func TestEndsAreLines(t *testing.T) {
	s := newStage(t)
	if err := s.DB.As(context.Background(), s.boss, func(tx *postgres.Tx) error { return tx.Unassign(s.hand.Person, s.ranchA) }); !errors.Is(err, errs.NotFound) {
		t.Errorf("a coordinator ends an owner's hand: %v", err)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error {
		if err := tx.SetConsent(s.ranchA, 1); err != nil {
			return err
		}
		_, err := tx.Share(postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "a study", Through: time.Now().AddDate(0, 1, 0)})
		return err
	})
	s.Remove(t, s.boss, s.biologist.Person)
	s.Remove(t, s.boss, s.hand.Person)
	if got := s.lines(t, s.b, postgres.MemberGone); len(got) != 2 {
		t.Errorf("of who was removed another landowner reads %q", got)
	}
	if got := s.lines(t, s.a, postgres.PlaceEnded); len(got) != 1 || !strings.HasSuffix(got[0], "by "+s.boss.Name) {
		t.Errorf("of the hand's place the owner reads %q", got)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error {
		notes, err := tx.Notes()
		said := map[string]string{}
		for _, n := range notes {
			said[n.What] = n.Name + ": " + n.Item
		}
		if said[postgres.EndedPlace] != s.boss.Name+": "+s.hand.Name || said[postgres.EndedShare] != s.boss.Name+": a study" {
			t.Errorf("the owner's log has %q", said)
		}
		list, err2 := tx.Sharings(s.ranchA)
		if len(list) != 1 || list[0].EndedAt.IsZero() || list[0].EndedBy != s.boss.Name {
			t.Errorf("the sharing is %+v", list)
		}
		return errors.Join(err, err2)
	})
}

// TestNoNamesOutside: planners and biologists read of people that it was a coordinator or a member, and no name.
func TestNoNamesOutside(t *testing.T) {
	s := newStage(t)
	second := s.Member(t, s.boss, access.Coordinator, "Second Person")
	s.seed(t, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		_, err := tx.AskRemoval(second.Person)
		return errors.Join(err, tx.SaveArea("Elsewhere", ""), tx.Suspend(s.b.Person), tx.Restore(s.b.Person))
	})
	s.As(t, second, (*postgres.Tx).Stay)
	names := strings.Split(s.text(t, "SELECT string_agg(name, '|') FROM tussock.person WHERE coop_id = $1", s.boss.Coop), "|")
	for _, who := range []access.Actor{s.planner, s.biologist} {
		s.As(t, who, func(tx *postgres.Tx) error {
			list, err := tx.RosterChanges(time.Time{})
			kinds := map[string]string{}
			for _, x := range list {
				if _, later := kinds[x.Kind]; !later {
					kinds[x.Kind] = x.ByPart
				}
				for _, name := range names {
					if strings.Contains(strings.Join([]string{x.By, x.What, x.Was, x.Became, x.ByAgain.Inviter, x.WhatAgain.Inviter}, "|"), name) {
						t.Errorf("%s reads %q in %+v", who.Name, name, x)
					}
				}
			}
			for _, kind := range []string{postgres.Suspended, postgres.LetIn, postgres.RunnerAsked, postgres.RunnerStays, postgres.RunnerCame} {
				if kinds[kind] != postgres.ByCoordinator {
					t.Errorf("%s reads of %q that it was by %q", who.Name, kind, kinds[kind])
				}
			}
			return err
		})
	}
}
