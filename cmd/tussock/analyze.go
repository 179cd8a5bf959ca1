package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/mattn/go-isatty"

	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/survey"
)

const analyzeUsage = `
Usage: tussock analyze [flags] FILE…

Reads season sheets (CSV, text, XLSX, XLS or ODS, any number, also in a ZIP). It prints how each column was read, what was
tidied, what was set aside and what there is to ask, and then the results: survival to day 28, clumps an acre, and what the
remains suggest. Needs no server and sends nothing anywhere.

On a terminal it asks what must be answered. A program answers with --answers FILE, a JSON object of question to choice:
{"zero-1f0c…": "taken"}. The questions, with their IDs and choices, are in the output of either form.

The exit status is 0 where every row was read, 1 where rows were refused or wait for an answer (the results of the others
are still printed), and 2 where nothing could be read.

Examples:
  tussock analyze season-2025.xlsx
  tussock analyze --format json --dates day nests.csv checks.csv belts.csv sites.csv
  tussock analyze --answers answers.json season-2025.zip`

// analyzeFlags are what the command line settles.
type analyzeFlags struct {
	format   string
	zero     string
	dates    string
	ranch    string
	season   int
	answers  string
	pooled   bool
	bulletin bool
	files    []string
}

// An analysis is what was read and what was computed from it.
type analysis struct {
	refused  []inquiry.Problem
	read     *intake.Result
	result   *findings.Result
	pooled   *findings.Pooled
	bulletin []bulletin.Cell
}

func runAnalyze(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	f, status, done := parseAnalyze(args, stdout, stderr)
	if done {
		return status
	}
	var ask asker
	if f.format == "text" && isatty.IsTerminal(os.Stdin.Fd()) {
		ask = newAsker(os.Stdin, stderr)
	}
	a, err := analyze(f, ask)
	if err != nil {
		message, ok := errs.Message(err)
		if !ok {
			message = err.Error()
		}
		fmt.Fprintf(stderr, "tussock analyze: %s\n", message)
		return 2
	}
	if err := a.print(f, stdout); err != nil {
		fmt.Fprintf(stderr, "tussock analyze: %v\n", err)
		return 2
	}
	status = a.status()
	if status == 2 {
		message := "no row of nests, belts or sites could be read."
		if n := len(a.read.Waiting); n > 0 {
			message = "no nest counts yet: " + count(n, "nest waits", "nests wait") + " for the answers above."
		}
		fmt.Fprintln(stderr, "tussock analyze: "+message)
	}
	return status
}

func parseAnalyze(args []string, stdout, stderr io.Writer) (f analyzeFlags, status int, done bool) {
	flags := flag.NewFlagSet("analyze", flag.ContinueOnError)
	flags.StringVar(&f.format, "format", "text", "`text` to read, json to compute with")
	flags.StringVar(&f.zero, "zero", "", "what a 0 means where the sheet does not tell: `intact` or taken")
	flags.StringVar(&f.dates, "dates", "", "which comes first in 03/04/2025: `month` or day; month unless the file shows otherwise")
	flags.StringVar(&f.ranch, "ranch", "", "the `name` of the ranch for rows that name none")
	flags.IntVar(&f.season, "season", 0, "the `year` of dates that have none")
	flags.StringVar(&f.answers, "answers", "", "a JSON `file` with the answers to questions: {\"question ID\": \"choice ID\"}")
	flags.BoolVar(&f.pooled, "pooled", false, "add the regional model over all ranches and seasons, and each ranch beside the whole cooperative")
	flags.BoolVar(&f.bulletin, "bulletin", false, "add what a region's bulletin would publish, with every withheld cell and its reason")
	if status, done := parse(flags, permuted(flags, args), analyzeUsage, stdout, stderr); done {
		return f, status, true
	}
	f.files = flags.Args()

	var err error
	switch {
	case f.format != "text" && f.format != "json":
		err = fmt.Errorf("--format is text or json, not %q", f.format)
	case f.zero != "" && f.zero != string(survey.Intact) && f.zero != string(survey.Taken):
		err = fmt.Errorf("--zero is intact or taken, not %q", f.zero)
	case f.dates != "" && f.dates != "month" && f.dates != "day":
		err = fmt.Errorf("--dates is month or day, not %q", f.dates)
	case len(f.files) == 0:
		err = errors.New("name the files to read, as in: tussock analyze season-2025.xlsx")
	}
	if err != nil {
		fmt.Fprintf(stderr, "tussock analyze: %v\n", err)
		return f, 2, true
	}
	return f, 0, false
}

// permuted puts flags before files, so that they may also stand after them.
func permuted(flags *flag.FlagSet, args []string) []string {
	var first, files []string
	for i := 0; i < len(args); i++ {
		arg := args[i]
		if arg == "--" {
			files = append(files, args[i+1:]...)
			break
		}
		if len(arg) < 2 || arg[0] != '-' {
			files = append(files, arg)
			continue
		}
		first = append(first, arg)
		if takesValue(flags, arg) && i+1 < len(args) {
			i++
			first = append(first, args[i])
		}
	}
	return slices.Concat(first, []string{"--"}, files)
}

// takesValue tells whether the next argument belongs to this flag.
func takesValue(flags *flag.FlagSet, arg string) bool {
	name := arg[1:]
	if name[0] == '-' {
		name = name[1:]
	}
	f := flags.Lookup(name)
	if f == nil {
		return false
	}
	boolean, ok := f.Value.(interface{ IsBoolFlag() bool })
	return !ok || !boolean.IsBoolFlag()
}

// analyze reads the files and computes. Its error means that nothing could be read, or that an answer does not fit.
func analyze(f analyzeFlags, ask asker) (*analysis, error) {
	files, missing := openFiles(f.files)
	if len(files) == 0 {
		return nil, errs.New(errs.Invalid, missing[0].File+": "+missing[0].Problem)
	}
	answers, err := loadAnswers(f.answers)
	if err != nil {
		return nil, err
	}
	opt := intake.Options{
		Ranch: f.ranch, Season: f.season, DateOrder: f.dates, Zero: survey.State(f.zero),
		Answers: answers, Today: survey.DateFrom(time.Now()), Places: f.format == "json",
	}
	read, err := readAnswered(files, opt)
	if err == nil && ask != nil {
		read, err = ask(files, opt, read)
	}
	if err != nil {
		return nil, err
	}
	a := &analysis{
		refused: append(missing, read.Refused...), read: read,
		result: findings.Compute(&read.Data, findings.Options{Waiting: read.Waiting}),
	}
	for i := range a.result.Predators {
		a.result.MixOf(&a.result.Predators[i], nil)
	}
	if f.pooled {
		a.pooled = findings.Pool(&read.Data, findings.Options{Waiting: read.Waiting})
		a.pooled.Steady(a.result)
	}
	if f.pooled || f.bulletin {
		published, err := bulletins(&read.Data)
		if err != nil {
			return nil, err
		}
		if f.pooled {
			published.Compare(a.result)
		}
		if f.bulletin {
			a.bulletin = published.Cells
		}
	}
	return a, nil
}

// openFiles reads the files named, and tells of those that cannot be.
func openFiles(paths []string) (files []intake.File, missing []inquiry.Problem) {
	missing = []inquiry.Problem{}
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err == nil {
			files = append(files, intake.File{Name: filepath.Base(path), Data: data})
			continue
		}
		problem := "This file could not be opened. Is it a folder, or open in another program?"
		if errors.Is(err, fs.ErrNotExist) {
			problem = "There is no such file. Look at the spelling and the folder."
		}
		missing = append(missing, inquiry.Problem{File: path, Problem: problem})
	}
	return files, missing
}

// bulletins composes each season's bulletin in turn, as a cooperative would have.
func bulletins(d *survey.Data) (bulletin.Published, error) {
	first := map[string]int{} // the season of a ranch's first nest
	seasons := map[int]bool{}
	for _, n := range d.Nests {
		seasons[n.Season] = true
		if was, there := first[n.Ranch]; !there || n.Season < was {
			first[n.Ranch] = n.Season
		}
	}
	for i := range d.Belts {
		seasons[d.Belts[i].Season] = true
	}
	roster, areas := bulletin.FromSites(d)
	published := bulletin.Published{Cells: []bulletin.Cell{}, Covers: map[int][]string{}}
	var before *bulletin.Log
	for _, season := range slices.Sorted(maps.Keys(seasons)) {
		for i, m := range roster {
			roster[i].New = before != nil && first[m.Ranch] == season
		}
		b, err := bulletin.Compose(bulletin.Input{Data: d, Roster: roster, Areas: areas, Season: season, Before: before})
		if err != nil {
			return published, fmt.Errorf("compose the bulletin of %d: %w", season, err)
		}
		before = &b.Log
		published.Cells = append(published.Cells, b.Cells...)
		published.Covers[season] = b.Covers
	}
	return published, nil
}

func (a *analysis) print(f analyzeFlags, w io.Writer) error {
	if f.format == "text" {
		_, err := io.WriteString(w, report(a, f))
		return err
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(a.contract())
}

// status is the exit status.
func (a *analysis) status() int {
	d := &a.read.Data
	switch {
	case len(d.Nests)+len(d.Belts)+len(d.Sites) == 0:
		return 2
	case len(a.refused) > 0 || len(a.read.Waiting) > 0:
		return 1
	}
	return 0
}
