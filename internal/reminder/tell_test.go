package reminder_test

import (
	"context"
	"log/slog"
	"strings"
	"testing"
	"time"

	"tussock/internal/mail"
	"tussock/internal/mail/mailtest"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/reminder"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

// TestTell: on the day the owner gets a letter, and an hour later none; who did not ask gets none at all.
func TestTell(t *testing.T) {
	f := pgtest.New(t)
	boss := f.Cooperative(t, "Bluestem")
	ranch, owner := f.Ranch(t, boss, postgres.Ranch{Name: "Dry Fork"})
	other, neighbor := f.Ranch(t, boss, postgres.Ranch{Name: "Long Draw"})
	p := season.Plan{Season: 2027, Purpose: season.Trend, Lines: 2, Stops: 12, Spacing: 50, SetOn: survey.DateOf(2027, 5, 10), First: 14, Last: 28, Slack: 2}
	f.As(t, owner, func(tx *postgres.Tx) error {
		if err := tx.SaveLines(ranch, 2027, p, season.Unplaced(&p)); err != nil {
			return err
		}
		return tx.SetReminders(postgres.Reminders{Wanted: true, Language: words.Spanish})
	})
	f.As(t, neighbor, func(tx *postgres.Tx) error { return tx.SaveLines(other, 2027, p, season.Unplaced(&p)) })

	box := mailtest.New(t)
	post, err := mail.Open(box.URL, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(post.Close)
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2027, 5, 10, 6, 0, 0, 0, time.UTC)
	w := &reminder.Writer{DB: f.DB, Post: post, Book: book, URL: "https://tussock.example.org", Now: func() time.Time { return now }, Log: slog.New(slog.DiscardHandler)}
	for hour, want := range []int{1, 0, 0} {
		now = now.Add(time.Duration(hour) * time.Hour)
		if n, err := w.Tell(context.Background()); n != want || err != nil {
			t.Errorf("hour %d: %d letters, %v, want %d", hour, n, err, want)
		}
	}
	l := box.Wait(t, 1)
	if text := l.Text; !strings.Contains(text, "Poner los huevos en las líneas 1, 2") || strings.Contains(text, "Dry Fork") {
		t.Errorf("got %+v", l)
	}
	if n := len(box.All()); n != 1 {
		t.Errorf("%d letters arrived", n)
	}
}
