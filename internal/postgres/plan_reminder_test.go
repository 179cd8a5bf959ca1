package postgres_test

import (
	"context"
	"errors"
	"testing"

	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	seasons "tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// aSeason plans one line of ranchA, set on May 10, 2027, checked on the 24th and on June 7, two days before or after.
func (s *stage) aSeason(t testing.TB, owner access.Actor, ranch access.ID) seasons.Line {
	t.Helper()
	p, lines := planned(ranch)
	p.Lines, lines = 1, lines[:1]
	lines[0].FirstCheck, lines[0].LastCheck = p.SetOn+14, p.SetOn+28
	var got []seasons.Line
	s.As(t, owner, func(tx *postgres.Tx) (err error) {
		if err := tx.SaveLines(ranch, 2027, p, lines); err != nil {
			return err
		}
		got, err = tx.Lines(ranch, 2027)
		return err
	})
	return got[0]
}

var may = func(day int) survey.Date { return survey.DateOf(2027, 5, day) }

// TestReminders: a letter for each day that comes and for each that is over, once, to whoever asked.
func TestReminders(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	l := s.aSeason(t, s.a, s.ranchA)
	s.aSeason(t, s.b, s.ranchB) // who asked for nothing
	s.As(t, s.a, func(tx *postgres.Tx) error {
		return tx.SetReminders(postgres.Reminders{Wanted: true, Language: words.Spanish})
	})
	letters := func(day survey.Date) []postgres.ReminderDay {
		t.Helper()
		list, err := s.DB.ReminderLetters(ctx, day)
		if err != nil || len(list) > 1 {
			t.Fatalf("got %d letters, %v", len(list), err)
		}
		if len(list) == 0 {
			return nil
		}
		if x := list[0]; x.Named || x.Language != words.Spanish || x.Cooperative != "Bluestem" || x.Email == "" {
			t.Errorf("the letter is %+v", x)
		}
		return list[0].Days
	}
	if got := letters(may(9)); got != nil {
		t.Errorf("before anything is due: got %+v", got)
	}
	if got := letters(may(10)); len(got) != 1 || got[0].What != "set" || got[0].Late {
		t.Errorf("on set-out: got %+v", got)
	}
	if got := letters(may(10)); got != nil {
		t.Errorf("the same hour again: got %+v", got)
	}
	s.upload(t, s.a, s.ranchA, l, nil) // set out, nothing looked at
	if got := letters(may(11)); got != nil {
		t.Errorf("it was set out, and yet: got %+v", got)
	}
	if got := letters(may(22)); len(got) != 1 || got[0].What != "first" || got[0].Late || got[0].Due != may(24) || got[0].Closes != may(26) {
		t.Errorf("when the first window opens: got %+v", got)
	}
	if got := letters(may(26)); got != nil {
		t.Errorf("within the window: got %+v", got)
	}
	if got := letters(may(27)); len(got) != 1 || !got[0].Late {
		t.Errorf("when it is over: got %+v", got)
	}
	s.upload(t, s.a, s.ranchA, l, []survey.Visit{{On: may(28), State: survey.Intact}})
	if got := letters(survey.DateOf(2027, 6, 5)); len(got) != 1 || got[0].What != "last" {
		t.Errorf("when the last window opens: got %+v", got)
	}
	s.upload(t, s.a, s.ranchA, l, []survey.Visit{{On: may(28), State: survey.Taken}})
	if got := letters(survey.DateOf(2027, 6, 10)); got != nil {
		t.Errorf("no nest is left, and yet: got %+v", got)
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		list, err := tx.LateLines(survey.DateOf(2027, 6, 10))
		for _, x := range list { // a sheet has come from A
			if x.Ranch != s.ranchB {
				t.Errorf("late: got %+v", x)
			}
		}
		if len(list) != 3 {
			t.Errorf("the coordinator sees %d late: %+v", len(list), list)
		}
		err2 := tx.NoteCall(s.ranchA, 2027)
		calls, err3 := tx.LateCalls()
		if len(calls) != 1 || calls[0].Ranch != s.ranchA || calls[0].By != s.boss.Name {
			t.Errorf("calls: got %+v", calls)
		}
		return errors.Join(err, err2, err3)
	})
	for _, who := range []access.Actor{s.a, s.hand, s.biologist, s.planner} {
		err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { _, err := tx.LateLines(may(30)); return err })
		if !errors.Is(err, errs.Forbidden) {
			t.Errorf("%s asks who is late: got %v", who.Name, err)
		}
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.SetReminders(postgres.Reminders{}) })
	if got, err := s.DB.ReminderLetters(ctx, may(12)); len(got) > 0 || err != nil {
		t.Errorf("after saying no: got %+v, %v", got, err)
	}
}

// upload sends one nest of a line with the given looks, in place of what was sent before.
func (s *stage) upload(t testing.TB, owner access.Actor, ranch access.ID, l seasons.Line, visits []survey.Visit) {
	t.Helper()
	d := survey.Data{Nests: []survey.Nest{{Ranch: "Dry Fork", Site: l.Pasture, Season: l.Season, Transect: l.Name, Number: "1", Substrate: survey.Yucca,
		SetOn: l.SetOn, Visits: visits, EggsLeft: -1}}}
	s.As(t, owner, func(tx *postgres.Tx) error {
		list, err := tx.Uploads(ranch)
		if err != nil {
			return err
		}
		sending := postgres.Sending{Ranch: ranch, File: "x.csv", Data: []byte(postgres.NewToken()), Season: l.Season, Rows: &d}
		for _, u := range list {
			if u.Season == l.Season && u.State == postgres.Current {
				sending.Replaces = u.ID
			}
		}
		_, _, err = tx.Send(sending)
		return err
	})
}

// TestRemindersByLooks: what was tapped counts, and what was taken back does not.
func TestRemindersByLooks(t *testing.T) {
	s := newStage(t)
	l := s.aSeason(t, s.a, s.ranchA)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		return tx.SetReminders(postgres.Reminders{Wanted: true, Language: words.English})
	})
	look := fieldwork.Look{ID: access.ID(uuid.NewString()), Ranch: s.ranchA, Season: 2027, Line: l.ID, Stop: 1, Kind: fieldwork.Set, Who: "AM", Device: "phone", Seq: 1,
		At: may(10).Time(), Answers: map[string]string{"set_on": "2026-05-10"}}
	back := fieldwork.Look{ID: access.ID(uuid.NewString()), Ranch: s.ranchA, Season: 2027, Line: l.ID, Stop: 1, Kind: fieldwork.Undo, Who: "AM", Device: "phone", Seq: 2,
		At: may(10).Time(), Undoes: look.ID}
	for i, want := range []int{0, 1} {
		s.As(t, s.a, func(tx *postgres.Tx) error {
			_, err := tx.KeepLooks([]fieldwork.Look{look, back}[i : i+1])
			return err
		})
		list, err := s.DB.ReminderLetters(context.Background(), may(11))
		if len(list) != want || err != nil {
			t.Errorf("after look %d: %d letters, %v, want %d", i+1, len(list), err, want)
		}
	}
}

// TestFeed: the secret opens the calendar of its member's ranches as they are now, until it is taken back.
func TestFeed(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	s.aSeason(t, s.a, s.ranchA)
	s.aSeason(t, s.b, s.ranchB)
	var secret string
	s.As(t, s.hand, func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeFeed(false, words.English)
		return err
	})
	list, named, _, err := s.DB.FeedLines(ctx, secret)
	if err != nil || named || len(list) != 1 || list[0].Ranch != s.ranchA || list[0].FirstCheck != may(24) || list[0].Placed || list[0].Changed.IsZero() {
		t.Errorf("got %+v, named %v, %v", list, named, err)
	}
	for _, wrong := range []string{"", "x", postgres.NewToken()} {
		if _, _, _, err := s.DB.FeedLines(ctx, wrong); !errors.Is(err, errs.NotFound) {
			t.Errorf("with %q: got %v", wrong, err)
		}
	}
	var feeds []postgres.Feed
	s.As(t, s.hand, func(tx *postgres.Tx) (err error) {
		feeds, err = tx.Feeds()
		return err
	})
	if len(feeds) != 1 || feeds[0].UsedAt.IsZero() {
		t.Fatalf("got %+v", feeds)
	}
	err = s.DB.As(ctx, s.a, func(tx *postgres.Tx) error { return tx.RevokeFeed(feeds[0].ID) })
	if !errors.Is(err, errs.NotFound) {
		t.Errorf("another member takes it back: got %v", err)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.Unassign(s.hand.Person, s.ranchA) })
	if list, _, _, err := s.DB.FeedLines(ctx, secret); err != nil || len(list) != 0 {
		t.Errorf("after the hand left the ranch: got %+v, %v", list, err)
	}
	s.As(t, s.hand, func(tx *postgres.Tx) error { return tx.RevokeFeed(feeds[0].ID) })
	if _, _, _, err := s.DB.FeedLines(ctx, secret); !errors.Is(err, errs.NotFound) {
		t.Errorf("after it was taken back: got %v", err)
	}
	for _, who := range []access.Actor{s.boss, s.biologist, s.planner} {
		if err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { _, err := tx.MakeFeed(true, words.English); return err }); !errors.Is(err, errs.NotFound) {
			t.Errorf("%s makes a calendar: got %v", who.Name, err)
		}
	}
}

func TestPhones(t *testing.T) {
	s := newStage(t)
	s.As(t, s.hand, func(tx *postgres.Tx) error { return tx.SetPhone(" 580  555 0134 ") })
	for who, want := range map[*access.Actor]int{&s.a: 1, &s.hand: 1, &s.b: 0, &s.boss: 0, &s.biologist: 0, &s.planner: 0, &s.stranger: 0} {
		s.As(t, *who, func(tx *postgres.Tx) error {
			list, err := tx.Phones()
			if len(list) != want || want == 1 && list[0].Phone != "580 555 0134" {
				t.Errorf("%s sees %+v", who.Name, list)
			}
			return err
		})
	}
	for _, wrong := range []string{"call me", "12", "1234567890123456", "555 0134 ext one"} {
		if err := s.DB.As(context.Background(), s.a, func(tx *postgres.Tx) error { return tx.SetPhone(wrong) }); !errors.Is(err, errs.Invalid) {
			t.Errorf("%q: got %v", wrong, err)
		}
	}
}
