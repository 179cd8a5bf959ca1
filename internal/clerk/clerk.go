// Package clerk reads the sheets that members have sent, as a role of the database that no page has.
//
// A few clerks work at once, each on one sheet: more would only take the processor from the pages. A sheet that nobody
// finishes reading is taken up again, and given up after a few tries with a sentence for its sender; the file stays.
//
// A file that is sent, and every answer to it, puts its upload in a queue (tussock.to_read); a page reads no file. "tussock clerk",
// which serve starts beside the press, reads two sheets at a time, one of them never a large one, at a lower priority than the pages.
// It writes the rows, and the page that the sender will see: once in the sender's language, then in the other. Until then the sender's
// page reloads every two seconds. A sheet whose clerk died is taken up again when its lease ends, and given up after three tries. A
// file that does not say which of its sender's ranches it is of waits in tussock.unfiled, where its sender alone sees it. Where a page
// says something about a sheet, it says it in package readback; when what is kept there changes its form, count its version up: older
// pages are read again.
//
// A coordinator sends old sheets for a ranch only while an owner's yes stands (tussock.sending_consent, 90 days), sees of each that it
// was read, and the owner gets an email each time. After a restore every such yes has ended.
package clerk

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/readback"
	"tussock/internal/survey"
	"tussock/internal/words"
)

const (
	// patience is how long a clerk waits when the database does not answer.
	patience = 2 * time.Second
	// heartbeat is how often a clerk says that it is still at a sheet.
	heartbeat = 10 * time.Second
	// longest is how long one sheet may take; whoever takes longer is stuck.
	longest = 5 * time.Minute
	// tries is how often a sheet is begun before it is given up: a clerk may have died of it.
	tries = 3
)

// ErrStuck ends a clerk that cannot get away from a sheet. Whoever runs it starts another process, and the sheet counts as
// tried once.
var ErrStuck = errors.New("a sheet takes too long to read")

// A Desk is where a clerk works.
type Desk struct {
	DB   *postgres.Clerk
	Book *words.Book
	Now  func() time.Time
	Log  *slog.Logger
}

// Run reads sheets until ctx is done. Where the database does not answer, it waits until it does. The error is ErrStuck.
func (d *Desk) Run(ctx context.Context) error {
	for {
		t, err := d.DB.Next(ctx)
		if err == nil {
			err = d.work(ctx, t)
		}
		switch {
		case ctx.Err() != nil:
			return nil
		case errors.Is(err, ErrStuck):
			return err
		case err == nil:
			continue
		}
		d.Log.Error("clerk", "err", err)
		select {
		case <-time.After(patience):
		case <-ctx.Done():
			return nil
		}
	}
}

// work reads one sheet and keeps what it says.
func (d *Desk) work(ctx context.Context, t *postgres.Task) error {
	begun := d.Now()
	var done outcome
	var err error
	if t.Tries > tries {
		done = d.giveUp(t)
	} else if done, err = d.atLength(ctx, t); err != nil {
		return err
	}
	switch {
	case t.Unfiled():
		err = d.file(ctx, t, done)
	case t.Rest:
		_, err = d.DB.KeepRest(ctx, t, done.read.Pages)
	default:
		err = d.keep(ctx, t, done)
	}
	if err != nil {
		return fmt.Errorf("keep what was read: %w", err)
	}
	d.Log.Info("clerk", "upload", t.Upload, "bytes", len(t.Data), "took", d.Now().Sub(begun).Round(time.Millisecond))
	return nil
}

// An outcome is what came of reading a sheet.
type outcome struct {
	read    *postgres.Read    // of a filed sheet
	rest    bool              // other languages are to follow
	ranches []postgres.Ranch  // of an unfiled one: those it is of, the one with the most rows first; or the sender's others it is of, too
	problem map[string]string // by language: why nothing could be read
}

// atLength reads while it tells the database that the sheet is in hand.
func (d *Desk) atLength(ctx context.Context, t *postgres.Task) (outcome, error) {
	done := make(chan outcome, 1)
	go func() { done <- d.safely(t) }()
	tick := time.NewTicker(heartbeat)
	defer tick.Stop()
	end := time.NewTimer(longest)
	defer end.Stop()
	for {
		select {
		case o := <-done:
			return o, nil
		case <-tick.C:
			if err := d.DB.Extend(ctx, t); err != nil {
				return outcome{}, err
			}
		case <-end.C:
			d.Log.Error("clerk", "upload", t.Upload, "err", ErrStuck)
			return outcome{}, ErrStuck
		case <-ctx.Done():
			return outcome{}, ctx.Err()
		}
	}
}

// safely turns a fault of the reader into a sentence for the sender, or the sheet would be taken up again for ever.
func (d *Desk) safely(t *postgres.Task) (o outcome) {
	defer func() {
		if p := recover(); p != nil {
			d.Log.Error("clerk", "upload", t.Upload, "panic", p)
			o = d.giveUp(t)
		}
	}()
	switch {
	case t.Unfiled():
		return d.whose(t)
	case t.Rest:
		return d.readRest(t)
	}
	return d.read(t)
}

// giveUp says that the sheet could not be read, in every language.
func (d *Desk) giveUp(t *postgres.Task) outcome {
	fault := errs.New(errs.Invalid, words.Mark("We could not finish reading this sheet. The fault is ours, and the file is kept exactly as it came. Tell your coordinator, or send it again as CSV."))
	return d.failed(t, func(words.Speaker) error { return fault })
}

// failed is the outcome of a sheet of which nothing can be read; why says so to a speaker.
func (d *Desk) failed(t *postgres.Task, why func(words.Speaker) error) outcome {
	o := outcome{problem: map[string]string{}, read: &postgres.Read{Rows: &survey.Data{}, Pages: map[string][]byte{}}}
	for _, language := range words.Languages() {
		say := d.Book.In(language)
		message, ok := errs.MessageIn(say, why(say))
		if !ok {
			message = say.Say("Nothing in this sheet can be read.")
		}
		o.problem[string(language)] = message
		o.read.Pages[string(language)] = must(readback.Failed(message).Pack())
	}
	return o
}

// must is for what can only fail where memory is full.
func must(b []byte, err error) []byte {
	if err != nil {
		panic(err)
	}
	return b
}

// keep writes down what a filed sheet says. Where it holds rows of another ranch of its sender whose people are the same, it
// is filed under that one too.
func (d *Desk) keep(ctx context.Context, t *postgres.Task, o outcome) error {
	for _, r := range o.ranches {
		same, err := d.DB.SamePeople(ctx, t, t.Ranch, r.ID)
		if err != nil {
			return err
		}
		if same {
			o.read.Also = append(o.read.Also, r.ID)
		}
	}
	_, err := d.DB.Keep(ctx, t, o.read, o.rest)
	return err
}

// file puts an unfiled sheet where it belongs, or leaves it to its sender to say.
func (d *Desk) file(ctx context.Context, t *postgres.Task, o outcome) error {
	switch {
	case o.problem != nil:
		return d.DB.Unclear(ctx, t, postgres.UnclearSheet, o.problem)
	case len(o.ranches) == 0:
		return d.DB.Unclear(ctx, t, postgres.UnclearRanch, nil)
	}
	return d.DB.File(ctx, t, o.ranches[0].ID) // reading it files it under the others
}

func (d *Desk) today() survey.Date { return survey.DateFrom(d.Now()) }
