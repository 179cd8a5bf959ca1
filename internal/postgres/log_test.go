package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// The log can be added to and nothing else, as the role that serves pages; and only in one's own name, about what one may
// open.
func TestLogIsAppendOnly(t *testing.T) {
	s := newStage(t)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		return errors.Join(tx.Took(s.ranchA, postgres.TookFile, "sheets.zip"), tx.TookFigures("bulletin-2025"))
	})
	const add = "INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at, what) VALUES ($1, $2, $3, now(), 'file')"
	for _, tt := range []struct {
		name      string
		who       access.Actor
		statement string
		args      []any
		want      any
	}{
		{"an owner deletes", s.a, "DELETE FROM tussock.view_log", nil, refused},
		{"an owner rewrites", s.a, "UPDATE tussock.view_log SET item = ''", nil, refused},
		{"an owner backdates", s.a, "UPDATE tussock.view_log SET looked_at = now() - interval '1 year'", nil, refused},
		{"the coordinator deletes", s.boss, "DELETE FROM tussock.view_log", nil, refused},
		{"all at once", s.a, "TRUNCATE tussock.view_log", nil, refused},
		{"the owner's own", s.a, add, []any{s.a.Coop, s.ranchA, s.a.Person}, 1},
		{"in another's name", s.a, add, []any{s.a.Coop, s.ranchA, s.hand.Person}, refused},
		{"about a neighbor's ranch", s.a, add, []any{s.a.Coop, s.ranchB, s.a.Person}, refused},
		{"in another cooperative", s.a, add, []any{s.stranger.Coop, s.ranchX, s.a.Person}, refused},
		{"about no ranch by who sees no bulletin", s.hand, "INSERT INTO tussock.view_log (coop_id, person_id, looked_at, what) VALUES ($1, $2, now(), 'bulletin')", []any{s.a.Coop, s.hand.Person}, refused},
		{"with a chosen id", s.a, "INSERT INTO tussock.view_log (coop_id, id, ranch_id, person_id, looked_at) VALUES ($1, gen_random_uuid(), $2, $3, now())", []any{s.a.Coop, s.ranchA, s.a.Person}, refused},
		{"an alarm goes", s.boss, "DELETE FROM tussock.alarm", nil, refused},
		{"an alarm of one's own", s.boss, "INSERT INTO tussock.alarm (coop_id, person_id, span, rung_at, ranches) VALUES ($1, $2, 'hour', now(), '{}')", []any{s.a.Coop, s.b.Person}, refused},
		{"a count goes", s.boss, "UPDATE tussock.denial SET times = 0", nil, refused},
		{"a count of one's own", s.boss, "SELECT tussock.note_denied($1, NULL, NULL, NULL, 'x', '')", []any{s.a.Coop}, refused},
		{"the letters", s.boss, "SELECT tussock.alarm_letters()", nil, refused},
	} {
		s.raw(t, tt.who.Session, func(tx pgx.Tx) {
			if got := try(t, tx, tt.statement, tt.args...); got != tt.want {
				t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
			}
		})
	}
	// Who reads: the owner what concerns the ranch, everybody else their own notes alone.
	for name, tt := range map[string]struct {
		who  access.Actor
		want int
	}{"a": {s.a, 5}, "b": {s.b, 3}, "hand": {s.hand, 0}, "boss": {s.boss, 0}, "biologist": {s.biologist, 0}, "planner": {s.planner, 0}, "stranger": {s.stranger, 3}} {
		s.raw(t, tt.who.Session, func(tx pgx.Tx) {
			if got := count(t, tx, "tussock.view_log"); got != tt.want {
				t.Errorf("%s sees %v notes, want %d", name, got, tt.want)
			}
		})
	}
	s.As(t, s.a, func(tx *postgres.Tx) error {
		if err := tx.Took(s.ranchB, postgres.TookFile, "x"); !errors.Is(err, errs.NotFound) {
			t.Errorf("a file of a neighbor's ranch: %v", err)
		}
		list, err := tx.Notes()
		if len(list) != 4 || list[0].Name != "Owner of Dry Fork" || list[0].Ranch != s.ranchA {
			t.Errorf("the owner reads %+v", list)
		}
		return err
	})
}

// clock is one that a test turns on.
type clock struct{ now time.Time }

func (c *clock) Now() time.Time { return c.now }

// TestOwnersTakeTheirOwn: an owner who takes much of their own ranch rings for its owners alone, until it is another's too.
func TestOwnersTakeTheirOwn(t *testing.T) {
	s := newStage(t)
	take := func(who access.Actor, ranch access.ID) {
		t.Helper()
		for i := range postgres.MuchInHour + 3 {
			s.As(t, who, func(tx *postgres.Tx) error { return tx.Took(ranch, postgres.TookFile, fmt.Sprint("file ", i)) })
		}
	}
	alarms := func(who access.Actor) (n int) {
		t.Helper()
		s.As(t, who, func(tx *postgres.Tx) error { list, err := tx.Alarms(); n = len(list); return err })
		return n
	}
	take(s.a, s.ranchA)
	if alarms(s.a) != 1 || alarms(s.boss) != 0 {
		t.Errorf("the owner reads %d, the coordinator %d", alarms(s.a), alarms(s.boss))
	}
	if letters, err := s.DB.AlarmLetters(context.Background()); err != nil || len(letters) != 1 || len(letters[0].Ranches) != 1 {
		t.Errorf("letters: %+v, %v", letters, err)
	}
	take(s.hand, s.ranchA)
	if alarms(s.a) != 2 || alarms(s.boss) != 1 {
		t.Errorf("of a hand the owner reads %d, the coordinator %d", alarms(s.a), alarms(s.boss))
	}
}

// Much at once rings an alarm for the coordinator and for the owners concerned, and for nobody else: one in an hour, and
// again when other ranches are concerned.
func TestAlarm(t *testing.T) {
	s := newStage(t)
	c := &clock{time.Now().UTC().Truncate(time.Second)}
	s.DB.Now = c.Now
	take := func(who access.Actor, ranch access.ID, what string, times int, every time.Duration) {
		t.Helper()
		for i := range times {
			c.now = c.now.Add(every)
			s.As(t, who, func(tx *postgres.Tx) error { return tx.Took(ranch, what, fmt.Sprint("file ", i)) })
		}
	}
	alarms := func(who access.Actor) (list []postgres.Alarm) {
		t.Helper()
		s.As(t, who, func(tx *postgres.Tx) (err error) {
			list, err = tx.Alarms()
			return err
		})
		return list
	}

	take(s.a, s.ranchA, postgres.LookPage, 50, time.Second) // a ranch's own people on its page: never
	take(s.hand, s.ranchA, postgres.LookPage, 50, time.Second)
	take(s.b, s.ranchB, postgres.TookFile, postgres.MuchInHour, time.Second)
	c.now = c.now.Add(time.Hour)
	take(s.b, s.ranchB, postgres.TookFile, postgres.MuchInHour, 3*time.Minute) // no hour has more
	if got := alarms(s.boss); len(got) != 0 {
		t.Fatalf("within the limits: %+v", got)
	}
	token := s.tokenOf(t, s.biologist)
	for range postgres.MuchInDay + 20 { // what is published: never, not even beside the most that is allowed
		c.now = c.now.Add(time.Second)
		s.As(t, s.b, func(tx *postgres.Tx) error { return tx.TookFigures("2025 poster.svg") })
		if _, err := s.DB.Bearer(context.Background(), token, ""); err != nil {
			t.Fatal(err)
		}
	}
	if got := alarms(s.boss); len(got) != 0 {
		t.Fatalf("posters and bulletins ring: %+v", got)
	}
	c.now = c.now.Add(25 * time.Hour)
	take(s.hand, s.ranchA, postgres.TookSheet, postgres.MuchInHour+5, time.Second)
	for name, tt := range map[string]struct {
		who  access.Actor
		want int
	}{"boss": {s.boss, 1}, "a": {s.a, 1}, "b": {s.b, 0}, "hand": {s.hand, 0}, "biologist": {s.biologist, 0}, "stranger": {s.stranger, 0}} {
		got := alarms(tt.who)
		if len(got) != tt.want {
			t.Errorf("%s has %+v, want %d", name, got, tt.want)
		}
		if len(got) == 1 && (got[0].Name != "Hand of A" || !got[0].InHour) {
			t.Errorf("%s reads %+v", name, got)
		}
	}
	take(s.hand, s.ranchA, postgres.TookSheet, 1, 2*time.Hour)
	take(s.hand, s.ranchA, postgres.TookSheet, postgres.MuchInDay, 5*time.Minute)
	if got := alarms(s.boss); len(got) != 2 || got[0].InHour {
		t.Errorf("more than %d in a day: %+v", postgres.MuchInDay, got)
	}

	letters, err := s.DB.AlarmLetters(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	owner, boss := 0, 0
	for _, l := range letters {
		if len(l.Ranches) == 1 && l.Ranches[0] == "Dry Fork" && l.Name == "Hand of A" {
			owner++
		} else if len(l.Ranches) == 0 && l.Name == "Hand of A" {
			boss++
		}
	}
	if len(letters) != 4 || owner != 2 || boss != 2 {
		t.Errorf("letters: %+v, want two to the owner and two to the coordinator", letters)
	}
	if letters, err = s.DB.AlarmLetters(context.Background()); err != nil || len(letters) != 0 {
		t.Errorf("again: %+v, %v", letters, err)
	}
}

// What is refused is counted without anything about it, for the coordinator alone.
func TestDenials(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	var invitation string
	s.As(t, s.boss, func(tx *postgres.Tx) (err error) {
		invitation, err = tx.Invite(access.Planner, "", "", nil)
		return err
	})
	for _, d := range []postgres.Denied{
		{Kind: "ranch", Actor: s.a}, {Kind: "ranch", Actor: s.a}, {Kind: "ranch", Actor: s.hand},
		{Kind: "invitation", Link: invitation}, {Kind: "invitation", Link: postgres.NewToken()}, {Kind: "ranch", Actor: s.stranger},
	} {
		if err := s.DB.NoteDenied(ctx, d); err != nil {
			t.Fatal(err)
		}
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		list, err := tx.Denials()
		if got := fmt.Sprint(list); got != "[{ranch landowner 2 2} {invitation  1 1} {ranch hand 1 1}]" {
			t.Errorf("the coordinator reads %s", got)
		}
		return err
	})
	for _, who := range []access.Actor{s.a, s.hand, s.biologist, s.planner} {
		s.raw(t, who.Session, func(tx pgx.Tx) {
			if got := count(t, tx, "tussock.denial"); got != 0 {
				t.Errorf("%s sees %v", who.Name, got)
			}
		})
		if err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { _, err := tx.Denials(); return err }); !errors.Is(err, errs.Forbidden) {
			t.Errorf("%s: %v", who.Name, err)
		}
	}
	// Nothing in the table could say whom or what it was about.
	got, err := s.Owner.Text(ctx, "SELECT string_agg(attname, ' ' ORDER BY attnum) FROM pg_attribute WHERE attrelid = 'tussock.denial'::regclass AND attnum > 0")
	if want := "coop_id day kind part times"; err != nil || got != want {
		t.Errorf("columns %q, %v, want %q", got, err, want)
	}
}
