package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/errs"
	"tussock/internal/inquiry"
	"tussock/internal/intake"
)

// loadAnswers reads a file of answers by question; "" is no file.
func loadAnswers(path string) (map[string]string, error) {
	if path == "" {
		return nil, nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, errs.New(errs.Invalid, fmt.Sprintf("The answers in %s could not be opened. Look at the spelling and the folder.", path))
	}
	var answers map[string]string
	if err := json.Unmarshal(data, &answers); err != nil {
		return nil, errs.New(errs.Invalid, fmt.Sprintf("The answers in %s could not be read. They are one JSON object of question to choice, as in {\"zero-1f0c…\": \"taken\"}.", path))
	}
	return answers, nil
}

// readAnswered reads the files under the answers, all of which must fit a question. One answer may make another question
// needless, so an answer that fits none at the last reading may fit one on the way there.
func readAnswered(files []intake.File, opt intake.Options) (*intake.Result, error) {
	read, err := intake.Read(files, opt)
	if err != nil || len(read.Misfits) == 0 {
		return read, err
	}
	unknown := map[string]bool{}
	for _, m := range read.Misfits {
		if m.Offered != nil {
			return nil, wrongChoice(m.ID, m.Choice, m.Offered)
		}
		unknown[m.ID] = true
	}
	way := opt
	way.Answers = map[string]string{}
	for more := true; more && len(unknown) > 0; {
		more = false
		on, err := intake.Read(files, way)
		if err != nil {
			return nil, err
		}
		for _, q := range on.Questions {
			choice, given := opt.Answers[q.ID]
			if !given {
				continue
			}
			if !offers(q.Choices, choice) {
				return nil, wrongChoice(q.ID, choice, q.Choices)
			}
			way.Answers[q.ID] = choice
			delete(unknown, q.ID)
			more = true
		}
	}
	if len(unknown) > 0 {
		ids := slices.Sorted(maps.Keys(unknown))
		return nil, errs.New(errs.Invalid, fmt.Sprintf("There is no question %q about these files. Leave that answer out; without --answers, the questions are printed with their IDs.", ids[0]))
	}
	return read, nil
}

func offers(choices []inquiry.Choice, id string) bool {
	return slices.ContainsFunc(choices, func(c inquiry.Choice) bool { return c.ID == id })
}

func wrongChoice(id, choice string, offered []inquiry.Choice) error {
	var ids []string
	for _, c := range offered {
		ids = append(ids, c.ID)
	}
	return errs.New(errs.Invalid, fmt.Sprintf("The question %q cannot be answered %q. Choose one of these: %s.", id, choice, strings.Join(ids, ", ")))
}

// An asker puts the questions that must be answered to a person, and reads the files again with each answer.
type asker func(files []intake.File, opt intake.Options, read *intake.Result) (*intake.Result, error)

// newAsker asks on out and reads the answers from in, a line each. An empty line leaves a question open, the end of in all.
func newAsker(in io.Reader, out io.Writer) asker {
	lines := bufio.NewScanner(in)
	return func(files []intake.File, opt intake.Options, read *intake.Result) (*intake.Result, error) {
		answers := maps.Clone(opt.Answers)
		if answers == nil {
			answers = map[string]string{}
		}
		given := len(answers)
		left := map[string]bool{}
		for {
			i := slices.IndexFunc(read.Questions, func(q inquiry.Question) bool {
				return q.Weight == inquiry.MustAnswer && !left[q.ID]
			})
			if i < 0 {
				break
			}
			q := read.Questions[i]
			choice, ok := askOne(q, lines, out)
			if !ok {
				break
			}
			if choice == "" {
				left[q.ID] = true
				continue
			}
			answers[q.ID] = choice
			opt.Answers = answers
			again, err := intake.Read(files, opt)
			if err != nil {
				return nil, err
			}
			read = again
		}
		if len(answers) > given {
			text, _ := json.Marshal(answers) // a map of strings does not fail
			fmt.Fprintf(out, "\nTo give these answers again, save this line in a file and name it with --answers:\n%s\n\n", text)
		}
		return read, nil
	}
}

// askOne puts one question; choice is "" where it is left open, and ok false where nobody answers any more.
func askOne(q inquiry.Question, lines *bufio.Scanner, out io.Writer) (choice string, ok bool) {
	var b strings.Builder
	b.WriteByte('\n')
	para(&b, "", q.Text)
	for i, c := range q.Choices {
		para(&b, "  ", fmt.Sprintf("%d. %s", i+1, c.Label))
	}
	io.WriteString(out, b.String())
	for {
		fmt.Fprintf(out, "Your answer, 1 to %d (Enter leaves it open): ", len(q.Choices))
		if !lines.Scan() {
			return "", false
		}
		line := strings.TrimSpace(lines.Text())
		if line == "" {
			return "", true
		}
		if n, err := strconv.Atoi(line); err == nil && n >= 1 && n <= len(q.Choices) {
			return q.Choices[n-1].ID, true
		}
		if offers(q.Choices, line) {
			return line, true
		}
		fmt.Fprintf(out, "That is none of them. Please type a number from 1 to %d.\n", len(q.Choices))
	}
}
