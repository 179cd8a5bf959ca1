package postgres_test

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// age has a coordinator be one for so many days.
func (s *stage) age(t *testing.T, who access.Actor, days int) {
	t.Helper()
	s.seed(t, "UPDATE tussock.person SET joined_at = now() - $2 * interval '1 day' WHERE id = $1", who.Person, days)
}

// takesBack is a coordinator's yes to taking back a figure of 2025; it tells whether the figure is gone.
func (s *stage) takesBack(t *testing.T, who access.Actor) bool {
	t.Helper()
	s.As(t, who, func(tx *postgres.Tx) error {
		_, err := tx.Retract(2025, bulletin.Cell{Season: 2025, Measure: bulletin.Survival28})
		return err
	})
	return s.text(t, "SELECT count(*)::text FROM pub.retraction WHERE coop_id = $1 AND season = 2025", s.boss.Coop) != "0"
}

// TestNobodyOfAnHourTakesBack: of a season that one coordinator opened, a coordinator of an hour takes no figure back, not even alone,
// nor after putting out the one who was there; where nobody qualifies it waits. Of two who were there both must, and where one of them
// goes, for 30 days more.
func TestNobodyOfAnHourTakesBack(t *testing.T) {
	s := newStage(t)
	s.Open(t, s.boss.Coop, 2025)
	s.age(t, s.boss, 400)
	if got := s.text(t, "SELECT words::text FROM tussock.season WHERE coop_id = $1 AND year = 2025", s.boss.Coop); got != "1" {
		t.Fatalf("the season opened with %s coordinators", got)
	}
	second := s.Member(t, s.boss, access.Coordinator, "Second")
	if s.takesBack(t, second) {
		t.Error("a coordinator of an hour took a figure back")
	}
	s.seed(t, "UPDATE tussock.person SET left_at = now() WHERE id = $1", s.boss.Person) // by whatever way
	if s.takesBack(t, second) {
		t.Error("once alone, a coordinator of an hour took a figure back")
	}
	s.age(t, second, 29)
	if s.takesBack(t, second) {
		t.Error("it did not wait")
	}
	s.age(t, second, 31)
	if s.takesBack(t, second) {
		t.Error("two were there for 30 days, and one alone took a figure back on the day when the other had gone")
	}
	s.seed(t, "UPDATE tussock.person SET left_at = now() - interval '31 days' WHERE id = $1", s.boss.Person)
	if !s.takesBack(t, second) {
		t.Error("nobody ever takes it back")
	}
}

// TestNobodyOfAnHourPublishes: where an edition has waited for thirty days, a friend brought in an hour ago is not its second yes; and
// where two were there at the cut-off, one alone publishes only when the other has been gone for 30 days.
func TestNobodyOfAnHourPublishes(t *testing.T) {
	s := newStage(t)
	s.prints(t)
	s.age(t, s.boss, 400)
	s.seed(t, "UPDATE tussock.edition SET composed_at = now() - interval '40 days' WHERE coop_id = $1 AND season = 2026", s.boss.Coop)
	s.seed(t, "UPDATE tussock.season SET opens_on = opens_on - 80, cut_off_on = cut_off_on - 40, composed_on = composed_on - 40, published_on = published_on - 40 WHERE coop_id = $1 AND year = 2026", s.boss.Coop)
	friend := s.Member(t, s.boss, access.Coordinator, "Friend")
	yes := func(who access.Actor) error {
		return s.DB.As(context.Background(), who, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, true) })
	}
	if err := errors.Join(yes(s.boss)); err != nil {
		t.Fatal(err)
	}
	if err := yes(friend); !errors.Is(err, errs.Conflict) || s.published(t) {
		t.Errorf("a friend of an hour: %v, out %v", err, s.published(t))
	}
	s.age(t, friend, 31)
	if err := yes(friend); err != nil || !s.published(t) {
		t.Errorf("a month later: %v, out %v", err, s.published(t))
	}

	s = newStage(t)
	other := s.Member(t, s.boss, access.Coordinator, "Other")
	s.prints(t, other)
	s.seed(t, "UPDATE tussock.season SET words = 1 WHERE coop_id = $1 AND year = 2026", s.boss.Coop) // one was there when it opened
	s.seed(t, "UPDATE tussock.person SET left_at = now() WHERE id = $1", s.boss.Person)
	s.As(t, other, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, true) })
	if s.published(t) {
		t.Error("one of two published on the day when the other had gone")
	}
	s.seed(t, "UPDATE tussock.person SET left_at = now() - interval '31 days' WHERE id = $1", s.boss.Person)
	s.As(t, other, func(tx *postgres.Tx) error { return tx.Approve(2026, 1, true) })
	if !s.published(t) {
		t.Error("it waits for ever")
	}
}

// TestNobodyRemovesACoordinatorAlone: who came lately does nothing to who was there before; else one asks, all members read of it, and it
// takes a third one's word or fourteen days; a no ends it. Restricted statements do no more.
func TestNobodyRemovesACoordinatorAlone(t *testing.T) {
	ctx := context.Background()
	s := newStage(t)
	s.age(t, s.boss, 400)
	second := s.Member(t, s.boss, access.Coordinator, "Second")
	say := func(who access.Actor, do func(*postgres.Tx, access.ID) error, to access.Actor) error {
		return s.DB.As(ctx, who, func(tx *postgres.Tx) error { return do(tx, to.Person) })
	}
	ask := func(tx *postgres.Tx, id access.ID) error { _, err := tx.AskRemoval(id); return err }
	for name, do := range map[string]func(*postgres.Tx, access.ID) error{"suspends": (*postgres.Tx).Suspend, "removes": (*postgres.Tx).RemoveMember, "asks": ask} {
		if err := say(second, do, s.boss); !errors.Is(err, errs.Conflict) {
			t.Errorf("who came today %s who was there: %v", name, err)
		}
	}
	s.raw(t, second.Session, func(tx pgx.Tx) {
		for _, statement := range []string{"UPDATE tussock.person SET left_at = now() WHERE role = 'coordinator' AND id <> tussock.my_person()", "UPDATE tussock.person SET remove_asked_at = now() - interval '20 days'"} {
			if got := try(t, tx, statement); got != "23505" && got != refused {
				t.Errorf("%s: %v", statement, got)
			}
		}
	})
	s.age(t, second, 60)
	if err := errors.Join(say(second, ask, s.boss)); err != nil {
		t.Fatal(err)
	}
	if err := say(second, (*postgres.Tx).RemoveMember, s.boss); !errors.Is(err, errs.Conflict) {
		t.Errorf("at once: %v", err)
	}
	kinds := []string{postgres.RunnerCame, postgres.RunnerGone, postgres.RunnerAsked, postgres.RunnerStays}
	for _, who := range []access.Actor{s.b, s.hand} {
		if got := s.lines(t, who, kinds...); !slices.Equal(got[:2], []string{"remove: " + s.boss.Name + ", by Second", "coordinator: Second, by " + s.boss.Name}) {
			t.Errorf("%s reads %q", who.Name, got)
		}
	}
	if got := s.lines(t, s.planner, kinds...); len(got) == 0 || got[0] != "remove: , by " {
		t.Errorf("a planner reads %q", got)
	}
	s.As(t, s.boss, (*postgres.Tx).Stay)
	s.seed(t, "UPDATE tussock.person SET remove_asked_at = remove_asked_at - interval '15 days'")
	if err := say(second, (*postgres.Tx).RemoveMember, s.boss); !errors.Is(err, errs.Conflict) {
		t.Errorf("after a no: %v", err)
	}

	// Suspended, they cannot say no: the asking has ended.
	if err := errors.Join(say(second, ask, s.boss), say(second, (*postgres.Tx).Suspend, s.boss)); err != nil {
		t.Fatal(err)
	}
	s.seed(t, "UPDATE tussock.person SET remove_asked_at = remove_asked_at - interval '15 days' WHERE remove_asked_at IS NOT NULL")
	if err := say(second, (*postgres.Tx).RemoveMember, s.boss); !errors.Is(err, errs.Conflict) {
		t.Errorf("while suspended: %v", err)
	}
	s.later(t, 14*24*time.Hour+time.Minute)
	if err := say(second, (*postgres.Tx).RemoveMember, s.boss); !errors.Is(err, errs.Conflict) {
		t.Errorf("on coming in again: %v", err)
	}
	third := s.Member(t, second, access.Coordinator, "Third")
	if err := say(second, ask, s.boss); !errors.Is(err, errs.Conflict) {
		t.Errorf("asked off on coming in again: %v", err)
	}
	s.seed(t, "UPDATE tussock.person SET let_in_at = let_in_at - interval '14 days' WHERE id = $1", s.boss.Person)
	if err := say(second, ask, s.boss); err != nil {
		t.Fatal(err)
	}
	if err := say(third, (*postgres.Tx).RemoveMember, s.boss); !errors.Is(err, errs.Conflict) {
		t.Errorf("by a third who came today: %v", err)
	}
	s.age(t, third, 31)
	if err := say(third, (*postgres.Tx).RemoveMember, s.boss); err != nil {
		t.Errorf("by a third one's word: %v", err)
	}
	if got := s.lines(t, s.b, kinds...); got[0] != "coordinator gone: "+s.boss.Name+", by Third" {
		t.Errorf("in the end members read %q", got)
	}
	// And alone after fourteen days.
	if err := say(second, ask, third); err != nil {
		t.Fatal(err)
	}
	s.seed(t, "UPDATE tussock.person SET remove_asked_at = remove_asked_at - interval '15 days' WHERE remove_asked_at IS NOT NULL")
	if err := say(second, (*postgres.Tx).RemoveMember, third); err != nil {
		t.Errorf("after fourteen days: %v", err)
	}
}

// TestSeasonsComeToAnEnd: no bulletin is put off for years, and no season stands in another.
func TestSeasonsComeToAnEnd(t *testing.T) {
	s := newStage(t)
	day := func(n int) time.Time { return time.Now().UTC().AddDate(0, 0, n) }
	year := time.Now().UTC().AddDate(0, 0, 500).Year() + 5
	set := func(year, opens, cut, composed, published int) error {
		return s.DB.As(context.Background(), s.boss, func(tx *postgres.Tx) error {
			return tx.SetSeason(postgres.Season{Year: year, Opens: day(opens), CutOff: day(cut), Composed: day(composed), Published: day(published)})
		})
	}
	for name, err := range map[string]error{
		"a cut-off after years": set(year, 100, 800, 801, 810),
		"composing after years": set(year, 100, 150, 500, 510),
		"out after years":       set(year, 100, 150, 160, 26000),
	} {
		if !errors.Is(err, errs.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := set(year, 100, 150, 210, 270); err != nil {
		t.Fatalf("60 days and 60: %v", err)
	}
	for name, err := range map[string]error{
		"the year before in it":    set(year-1, 80, 120, 130, 140),
		"the year before after it": set(year-1, 200, 240, 250, 260),
		"the year after before it": set(year+1, 80, 95, 110, 120),
		"the year after in it":     set(year+1, 120, 160, 170, 180),
	} {
		if !errors.Is(err, errs.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := errors.Join(set(year+1, 151, 200, 210, 220), set(year-1, 70, 99, 110, 120)); err != nil {
		t.Errorf("one after the other: %v", err)
	}
}
