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

const backupUsage = `
Usage: tussock backup [--data FOLDER] FILE

Writes the whole database to FILE, in pg_dump's own format: the one of TUSSOCK_DATABASE_URL, else the private one in
the data folder, whether serve is running on it or not. The file holds every ranch's rows and everybody's password
hash: keep it as safe as the server. The file journal in the data folder is not in it: copy that too, often, so that
"tussock restore" knows what happened since the backup.

Example: tussock backup --data /var/lib/tussock tussock.dump`

func runBackup(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	cfg, err := readConfig(env)
	if err != nil {
		return fail(stderr, "backup", err)
	}
	flags := flag.NewFlagSet("backup", flag.ContinueOnError)
	flags.StringVar(&cfg.Data, "data", cfg.Data, "the data `folder` of the private PostgreSQL")
	if status, done := parse(flags, args, backupUsage, stdout, stderr); done {
		return status
	}
	if flags.NArg() != 1 {
		return fail(stderr, "backup", errors.New("name the file to write, as in: tussock backup tussock.dump"))
	}
	path := flags.Arg(0)
	if _, err := os.Stat(path); err == nil {
		return fail(stderr, "backup", fmt.Errorf("%s is there already: choose another name", path))
	}
	err = withAdmin(ctx, cfg, func(adminURL string) error {
		if err := postgres.MarkBackup(ctx, adminURL); err != nil {
			return err
		}
		return dump(ctx, adminURL, path, stderr)
	})
	if err != nil {
		return fail(stderr, "backup", err)
	}
	fmt.Fprintf(stdout, "The database is in %s.\n", path)
	return 0
}

// dump writes beside the file first: a backup cut short is no backup.
func dump(ctx context.Context, adminURL, path string, stderr io.Writer) error {
	half := path + ".part"
	f, err := os.OpenFile(half, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer os.Remove(half)
	defer f.Close()
	if err := private.Dump(ctx, adminURL, f, stderr); err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(half, path)
}
