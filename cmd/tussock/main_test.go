package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
)

func TestRunWithoutACommand(t *testing.T) {
	for _, tt := range []struct {
		name           string
		args           []string
		want           int
		stdout, stderr string // what each must hold
	}{
		{"Nothing", nil, 2, "", "Usage: tussock"},
		{"Unknown", []string{"hatch"}, 2, "", `no command "hatch"`},
		{"Help", []string{"help"}, 0, "Usage: tussock", ""},
		{"HelpFlag", []string{"-h"}, 0, "Usage: tussock", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			if got := run(t.Context(), tt.args, os.Getenv, &stdout, &stderr); got != tt.want {
				t.Errorf("status %d, want %d", got, tt.want)
			}
			if !strings.Contains(stdout.String(), tt.stdout) || !strings.Contains(stderr.String(), tt.stderr) {
				t.Errorf("stdout %q, stderr %q; want %q in the one and %q in the other", &stdout, &stderr, tt.stdout, tt.stderr)
			}
		})
	}
}

// TestHelp: every command says what it takes, with an example, and does nothing else.
func TestHelp(t *testing.T) {
	for _, c := range commands() {
		t.Run(c.name, func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			if got := run(t.Context(), []string{c.name, "-h"}, func(string) string { return "" }, &stdout, &stderr); got != 0 {
				t.Errorf("status %d, want 0", got)
			}
			said := stdout.String() + stderr.String()
			if strings.Count(said, "tussock "+c.name) < 2 {
				t.Errorf("%q does not show a usage line and an example", said)
			}
		})
	}
}
