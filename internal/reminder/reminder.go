// Package reminder writes to people when a line's days begin, and once more when they are over and nothing was written down.
//
// Whoever did not ask for letters gets none. A letter names lines and days; the ranch only where its reader chose so, and
// never a place or what was found.
package reminder

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"time"

	"tussock/internal/mail"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A Writer has what letters are written with.
type Writer struct {
	DB   *postgres.DB
	Post *mail.Sender // nil sends none
	Book *words.Book
	URL  string // of the pages, for the link at the foot
	Now  func() time.Time
	Log  *slog.Logger
}

// Run writes what is due every so often until ctx is done; at once first, so that a server that was down catches up.
func (w *Writer) Run(ctx context.Context, every time.Duration) {
	if w.Post == nil {
		return
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if _, err := w.Tell(ctx); err != nil && ctx.Err() == nil {
			w.Log.Error("reminders could not be written", "err", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// Tell hands over the letters that are due today, each once whichever server comes first, and tells how many.
func (w *Writer) Tell(ctx context.Context) (int, error) {
	letters, err := w.DB.ReminderLetters(ctx, survey.DateFrom(w.Now()))
	for i := range letters {
		l := w.letter(&letters[i])
		w.Post.Later(func(context.Context) ([]mail.Letter, error) { return []mail.Letter{l}, nil })
	}
	return len(letters), err
}

func (w *Writer) letter(l *postgres.ReminderLetter) mail.Letter {
	return Letter(l, w.Book.In(l.Language), w.URL)
}

// Letter writes one reader's letter. Lines of one day stand together.
func Letter(l *postgres.ReminderLetter, say words.Speaker, url string) mail.Letter {
	type group struct {
		ranch, what string
		due, closes survey.Date
		late        bool
	}
	var order []group
	names := map[group][]string{}
	for _, d := range l.Days {
		g := group{"", d.What, d.Due, d.Closes, d.Late}
		if l.Named {
			g.ranch = d.Ranch
		}
		if !slices.Contains(order, g) {
			order = append(order, g)
		}
		names[g] = append(names[g], d.Line)
	}
	var text strings.Builder
	late := false
	for _, g := range order {
		text.WriteString(season.Todo(say, g.what) + " " + say.Count("on line %s", "on lines %s", len(names[g]), strings.Join(names[g], ", ")))
		if g.ranch != "" {
			text.WriteString(", " + g.ranch)
		}
		if late = late || g.late; g.late {
			text.WriteString(": " + say.Say("was due %s, and nothing is written down yet.", say.Weekday(g.due.Time())) + "\n")
			continue
		}
		text.WriteString(": " + say.Say("best on %s, no later than %s.", say.Weekday(g.due.Time()), say.Weekday(g.closes.Time())) + "\n")
	}
	if late {
		text.WriteString("\n" + say.Say("If somebody was there, send the sheet or open the phone form where there is signal. If a line cannot be walked any more, close it on the plan.") + "\n")
	}
	text.WriteString("\n" + say.Say("You asked for these letters. To stop them: %s", url+"/plan/reminders") + "\n")
	subject := say.Say("Check days: Tussock")
	return mail.Letter{To: l.Email, Subject: subject, Text: text.String()}
}
