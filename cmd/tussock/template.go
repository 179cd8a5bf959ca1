package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"

	"tussock/internal/intake"
	"tussock/internal/words"
)

const templateUsage = `
Usage: tussock template FILE.xlsx

Writes a blank season workbook: the four tables with drop-downs, one example row in each, and a sheet that explains
every column. A file of that name is never overwritten.

Example: tussock template season-2026.xlsx`

func runTemplate(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("template", flag.ContinueOnError)
	if status, done := parse(flags, args, templateUsage, stdout, stderr); done {
		return status
	}
	if flags.NArg() != 1 {
		return fail(stderr, "template", errors.New("name the file to write, as in: tussock template season-2026.xlsx"))
	}
	path := flags.Arg(0)
	if err := writeTemplate(path); err != nil {
		return fail(stderr, "template", err)
	}
	fmt.Fprintf(stdout, "A blank season workbook is in %s.\n", path)
	return 0
}

func writeTemplate(path string) (err error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s is there already: choose another name", path)
	}
	if err != nil {
		return err
	}
	if err := errors.Join(intake.WriteTemplate(f, words.Speaker{}), f.Close()); err != nil {
		os.Remove(path)
		return err
	}
	return nil
}
