package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"tussock/internal/account"
	"tussock/internal/demo"
	"tussock/internal/postgres"
)

const demoUsage = `
Usage: tussock demo [--addr HOST:PORT] [--data FOLDER]

Runs the service with an invented cooperative of forty ranches in a database of its own, and prints one sign-in for each
role. Nothing is kept, unless --data names a folder. Ctrl-C ends it.

Example: tussock demo --addr 127.0.0.1:8090`

func runDemo(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	log := slog.New(slog.NewTextHandler(stderr, &slog.HandlerOptions{Level: slog.LevelWarn}))
	cfg, err := readConfig(env)
	if err != nil {
		return fail(stderr, "demo", err)
	}
	flags := flag.NewFlagSet("demo", flag.ContinueOnError)
	flags.StringVar(&cfg.Addr, "addr", cfg.Addr, "where the pages listen (`host:port`)")
	flags.BoolVar(&cfg.Insecure, "insecure-http", cfg.Insecure, "let everybody on the network read what goes to and fro")
	data := flags.String("data", "", "keep the demo's database in this `folder`")
	if status, done := parse(flags, args, demoUsage, stdout, stderr); done {
		return status
	}
	if err := cfg.check(); err != nil {
		return fail(stderr, "demo", err)
	}
	throwaway := *data == ""
	cfg.Data = *data
	if throwaway {
		// The database makes and removes the folder; its user must be able to come there, so it is no os.MkdirTemp.
		cfg.Data = filepath.Join(os.TempDir(), "tussock-demo-"+postgres.NewToken()[:12])
	}
	if err := serveDemo(ctx, cfg, throwaway, log, stdout); err != nil && ctx.Err() == nil {
		return fail(stderr, "demo", err)
	}
	return 0
}

func serveDemo(ctx context.Context, cfg config, throwaway bool, log *slog.Logger, stdout io.Writer) error {
	begun := time.Now()
	fmt.Fprintln(stdout, "Inventing a cooperative and sending five seasons of its sheets …")
	s, err := openService(ctx, cfg, throwaway, log)
	if err != nil {
		return err
	}
	defer s.close()
	if err := fillDemo(ctx, s); err != nil {
		return err
	}
	return s.serve(ctx, func(address string) error {
		cfg.warn(stdout)
		_, err := io.WriteString(stdout, demoWelcome(address, time.Since(begun)))
		return err
	})
}

// fillDemo loads the cooperative and publishes its bulletins, unless a kept folder holds them already.
func fillDemo(ctx context.Context, s *service) error {
	there, err := s.db.Credentials(ctx, demo.Members()[0].Email)
	if err != nil || len(there) > 0 {
		return err
	}
	if s.adminURL == "" {
		return errors.New("the demo needs TUSSOCK_DATABASE_URL beside TUSSOCK_APP_URL, or none of them")
	}
	owner, err := s.owner(ctx)
	if err != nil {
		return err
	}
	defer owner.Close()
	if empty, err := owner.Empty(ctx); err != nil {
		return err
	} else if !empty {
		return errors.New("this database has a cooperative already, and the demo wants one to itself; unset TUSSOCK_DATABASE_URL, or name an empty database")
	}
	hash, err := account.Hash(demo.Password)
	if err != nil {
		return err
	}
	coop := demo.Generate(demo.Seed)
	if err := s.startHelpers(); err != nil {
		return err
	}
	coordinator, err := loadDemo(ctx, owner, s.db, coop, hash)
	if err == nil {
		err = awaitClerk(ctx, s.db, coordinator)
	}
	if err != nil {
		return fmt.Errorf("load the demo: %w", err)
	}
	return publishDemo(ctx, owner, s.db, coordinator, coop.Seasons)
}

func demoWelcome(address string, took time.Duration) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\nThe demo is at %s (ready after %.1f s). Sign in as\n\n", address, took.Seconds())
	for _, p := range demo.Members() {
		if p.Shown {
			fmt.Fprintf(&b, "  %-12s %s\n", p.Role, p.Email)
		}
	}
	fmt.Fprintf(&b, "\nwith the password  %s\nCtrl-C ends it.\n", demo.Password)
	return b.String()
}
