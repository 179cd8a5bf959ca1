package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"

	"tussock/internal/postgres"
	"tussock/internal/postgres/private"
)

const restoreUsage = `
Usage: tussock restore [--data FOLDER] FILE

Reads a file that "tussock backup" wrote into a database that has no cooperative yet: the one of TUSSOCK_DATABASE_URL,
else a private one in a new data folder. Then it brings the database up to date. Everybody is signed out.

Example: tussock restore --data /var/lib/tussock-new tussock.dump`

func runRestore(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	cfg, err := readConfig(env)
	if err != nil {
		return fail(stderr, "restore", err)
	}
	flags := flag.NewFlagSet("restore", flag.ContinueOnError)
	flags.StringVar(&cfg.Data, "data", cfg.Data, "the data `folder` of the private PostgreSQL")
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
	err = withAdmin(ctx, cfg, func(adminURL string) error {
		if err := postgres.PrepareRestore(ctx, adminURL); err != nil {
			return err
		}
		if err := private.Restore(ctx, adminURL, f, stderr); err != nil {
			return err
		}
		return postgres.FinishRestore(ctx, adminURL)
	})
	if err != nil {
		return fail(stderr, "restore", err)
	}
	fmt.Fprintln(stdout, "The database is restored.")
	return 0
}
