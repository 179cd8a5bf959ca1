// Command tussock is the whole service in one binary: the pages, the clerk that reads sheets, the press that composes
// bulletins, the database's upkeep, and the analysis of season sheets without any of them.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// After the first signal has begun an orderly end, a second one ends at once.
	context.AfterFunc(ctx, stop)
	code := run(ctx, os.Args[1:], os.Getenv, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// A command is one word after "tussock". Its run parses its own flags, prints its own -h, and returns the exit status.
type command struct {
	name, summary string
	run           func(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int
}

func commands() []command {
	return []command{
		{"analyze", "read season sheets and print the results; needs no server", runAnalyze},
		{"template", "write a blank season workbook", runTemplate},
		{"demo", "run the service with an invented cooperative", runDemo},
		{"serve", "run the service", runServe},
		{"clerk", "read the sheets that members send", runClerk},
		{"press", "compose the bulletins that the coordinator orders", runPress},
		{"admit", "let a member in whom nobody else can help in", runAdmit},
		{"migrate", "bring the database up to date", runMigrate},
		{"backup", "write the whole database to a file", runBackup},
		{"restore", "read such a file into an empty database", runRestore},
	}
}

// run is the program: main without the process around it.
func run(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	if len(args) == 0 {
		usage(stderr)
		return 2
	}
	for _, c := range commands() {
		if c.name == args[0] {
			return c.run(ctx, args[1:], env, stdout, stderr)
		}
	}
	switch args[0] {
	case "help", "-h", "-help", "--help":
		usage(stdout)
		return 0
	}
	fmt.Fprintf(stderr, "tussock: there is no command %q.\n\n", args[0])
	usage(stderr)
	return 2
}

func usage(w io.Writer) {
	var b strings.Builder
	b.WriteString("Usage: tussock COMMAND [flags]\n\n")
	for _, c := range commands() {
		fmt.Fprintf(&b, "  %-9s %s\n", c.name, c.summary)
	}
	b.WriteString("\n\"tussock COMMAND -h\" says what a command takes, with an example.\n")
	io.WriteString(w, b.String())
}
