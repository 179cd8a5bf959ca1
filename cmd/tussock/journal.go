package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"time"

	"tussock/internal/postgres"
)

// journalFile is the journal's name in the data folder. It is in no backup of the database: keep it apart from them.
const journalFile = "journal"

// journalEvery is how long a note may stand in the database alone.
const journalEvery = 5 * time.Second

// keepJournal moves what a restored backup must not undo from the database to the journal, every so often until ctx is done.
func keepJournal(ctx context.Context, db *postgres.DB, data string, every time.Duration, log *slog.Logger) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	failing := false
	for {
		err := moveJournal(ctx, db, data)
		if err != nil && !failing && ctx.Err() == nil {
			log.Error("the journal cannot be kept; after restoring a backup nobody could tell what happened since", "file", filepath.Join(data, journalFile), "err", err)
		}
		failing = err != nil
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}

// moveJournal does so once. A note leaves the database when it is on the disk.
func moveJournal(ctx context.Context, db *postgres.DB, data string) error {
	notes, err := db.JournalDue(ctx)
	if err != nil || len(notes) == 0 {
		return err
	}
	if err := writeJournal(data, notes); err != nil {
		return err
	}
	return db.JournalDone(ctx, notes)
}

func writeJournal(data string, notes []postgres.JournalNote) error {
	if err := os.MkdirAll(data, 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(filepath.Join(data, journalFile), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	var lines []byte
	for _, n := range notes {
		line, err := json.Marshal(n)
		if err != nil {
			return errors.Join(err, f.Close())
		}
		lines = append(append(lines, line...), '\n')
	}
	_, err = f.Write(lines)
	return errors.Join(err, f.Sync(), f.Close())
}

// readJournals reads journals one after another; the notes of several servers stand by their time.
func readJournals(paths []string) (notes []postgres.JournalNote, err error) {
	for _, path := range paths {
		f, err := os.Open(path)
		if err != nil {
			return nil, err
		}
		lines := bufio.NewScanner(f)
		for lines.Scan() {
			var n postgres.JournalNote
			if err := json.Unmarshal(lines.Bytes(), &n); err != nil {
				continue // a line cut short by a crash: the note is in the database still, or was moved again
			}
			notes = append(notes, n)
		}
		if err := errors.Join(lines.Err(), f.Close()); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	if len(paths) > 1 {
		slices.SortStableFunc(notes, func(a, b postgres.JournalNote) int { return a.At.Compare(b.At) })
	}
	return notes, nil
}

// tellRestored says what a backup has undone, what has been done again, and what is left to do.
func tellRestored(w io.Writer, r postgres.Restored, journals []string) {
	if r.At.IsZero() {
		fmt.Fprintln(w, "The database is restored. The backup does not say when it was made.")
	} else {
		fmt.Fprintf(w, "The database is restored, as it was on %s.\n", r.At.UTC().Format("2006-01-02 15:04 UTC"))
	}
	fmt.Fprintf(w, "Everybody must sign in again. All that opens something has been ended: sessions, remembered browsers, recovery codes, links in letters; "+
		"and %d invitations, %d field links, %d calendars and %d tokens that were open, which their makers must make again.\n", r.Invitations, r.FieldLinks, r.Calendars, r.Tokens)
	if len(journals) == 0 {
		fmt.Fprintln(w, "NOTHING IS KNOWN OF WHAT HAPPENED SINCE THE BACKUP, since no journal was given (--journal FILE: it is in the data folder of the old server). "+
			"Before anybody signs in, ask the coordinators: who left, was removed or changed a password; who said no to comparisons, ended sharing, handed a ranch over or had one erased; "+
			"and which season was published, for none may be published twice.")
		return
	}
	if len(r.Notes) == 0 {
		fmt.Fprintln(w, "Nothing happened since that a restored backup would undo.")
		return
	}
	for _, done := range []bool{true, false} {
		first := true
		for _, n := range r.Notes {
			if n.Done != done {
				continue
			}
			if first && done {
				fmt.Fprintln(w, "\nDone again, since the backup was made before it:")
			} else if first {
				fmt.Fprintln(w, "\nLook at these before anybody signs in:")
			}
			first = false
			fmt.Fprintf(w, "  %s  %s\n", n.At.UTC().Format("2006-01-02 15:04"), n.Text)
		}
	}
}

// foundJournals are those that were named, or the one in the data folder.
func foundJournals(named []string, data string) ([]string, error) {
	if len(named) > 0 {
		return named, nil
	}
	path := filepath.Join(data, journalFile)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	return []string{path}, nil
}
