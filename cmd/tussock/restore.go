package main

import (
	"context"
	"errors"
	"flag"
	"io"
	"os"

	"tussock/internal/postgres"
	"tussock/internal/postgres/private"
)

const restoreUsage = `
Usage: tussock restore [--data FOLDER] [--journal FILE]... FILE

Reads a file that "tussock backup" wrote into a database that has no cooperative yet: the one of TUSSOCK_DATABASE_URL,
else a private one in a new data folder. Then it brings the database up to date. Everybody is signed out, and every
link, token and calendar ends. The journal, a file in the data folder of each server that served the database, says what
happened since the backup: what closed something is done again, and the rest is listed.

Example: tussock restore --data /var/lib/tussock-new --journal /var/lib/tussock/journal tussock.dump`

// runRestore ends everything that opens something: sessions, tokens, invitations, field links, calendars, emails' links, remembered
// browsers, recovery codes. Whatever closes something is also noted in migration.journal, from where a server moves it within seconds
// to the file journal in its data folder: ids, no names. It is in no backup; copy it often, elsewhere. Restore does again what closed
// something since the backup (a no, sharing, a removal, an erasure, a password, a passkey), and lists the rest, published bulletins
// above all. What happened in the last seconds before a crash, and everything where the journal is lost, nobody knows: it says so.
func runRestore(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	cfg, err := readConfig(env)
	if err != nil {
		return fail(stderr, "restore", err)
	}
	flags := flag.NewFlagSet("restore", flag.ContinueOnError)
	flags.StringVar(&cfg.Data, "data", cfg.Data, "the data `folder` of the private PostgreSQL")
	var named []string
	flags.Func("journal", "the journal `file` of a server that served the database; may be given several times", func(path string) error {
		named = append(named, path)
		return nil
	})
	if status, done := parse(flags, args, restoreUsage, stdout, stderr); done {
		return status
	}
	if flags.NArg() != 1 {
		return fail(stderr, "restore", errors.New("name the file to read, as in: tussock restore tussock.dump"))
	}
	f, err := os.Open(flags.Arg(0))
	if err != nil {
		return fail(stderr, "restore", err)
	}
	defer f.Close()
	journals, err := foundJournals(named, cfg.Data)
	if err != nil {
		return fail(stderr, "restore", err)
	}
	notes, err := readJournals(journals)
	if err != nil {
		return fail(stderr, "restore", err)
	}
	var restored postgres.Restored
	err = withAdmin(ctx, cfg, func(adminURL string) error {
		if err := postgres.PrepareRestore(ctx, adminURL); err != nil {
			return err
		}
		if err := private.Restore(ctx, adminURL, f, stderr); err != nil {
			return err
		}
		restored, err = postgres.FinishRestore(ctx, adminURL, notes)
		return err
	})
	if err == nil && len(named) > 0 && len(notes) > 0 {
		err = writeJournal(cfg.Data, notes) // for an older backup, another day
	}
	if err != nil {
		return fail(stderr, "restore", err)
	}
	tellRestored(stdout, restored, journals)
	return 0
}
