package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"

	"tussock/internal/account"
	"tussock/internal/postgres"
)

const admitUsage = `
Usage: tussock admit [--data FOLDER] ADDRESS

Prints a link that signs a member in once, within an hour, and a code to type where more is asked for. For whoever runs
the server, when nobody else can help: somebody has forgotten the password and no letters go out, or a cooperative's only
coordinator has lost the device. Everybody else rings their coordinator. Be sure of who asks.

Example: tussock admit --data /var/lib/tussock rosa@example.org`

func runAdmit(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	cfg, err := readConfig(env)
	if err != nil {
		return fail(stderr, "admit", err)
	}
	flags := flag.NewFlagSet("admit", flag.ContinueOnError)
	flags.StringVar(&cfg.Data, "data", cfg.Data, "the data `folder` of the private PostgreSQL")
	if status, done := parse(flags, args, admitUsage, stdout, stderr); done {
		return status
	}
	if flags.NArg() != 1 {
		return fail(stderr, "admit", errors.New("name the address that they sign in with, as in: tussock admit rosa@example.org"))
	}
	err = withAdmin(ctx, cfg, func(adminURL string) error {
		o, err := postgres.OpenOwner(ctx, adminURL)
		if err != nil {
			return err
		}
		defer o.Close()
		who, path, code, err := account.Admit(ctx, o, flags.Arg(0))
		if err != nil {
			return err
		}
		fmt.Fprintf(stdout, "This link signs %s in to %s, once and within an hour:\n  %s%s\nWhere more is asked for, type this code: %s\n",
			who.Name, who.Cooperative, either(cfg.URL, "(the address of your pages)"), path, code)
		return nil
	})
	if err != nil {
		return fail(stderr, "admit", err)
	}
	return 0
}
