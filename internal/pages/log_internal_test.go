package pages

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Whoever hands out a file, or reads a ranch's rows for a page, notes it in the log: the source itself is searched, so that
// a page to come is not forgotten.
func TestEveryFileIsNoted(t *testing.T) {
	none := map[string]string{
		"send.go":    "the blank sheet has nobody's rows in it",
		"remains.go": "the table of the key to remains has nobody's rows in it, and every member reads it",
		"api.go":     "the door notes each use of a token",
	}
	names, err := filepath.Glob("*.go")
	if err != nil || len(names) < 20 {
		t.Fatalf("%d files, %v", len(names), err)
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		source := string(text)
		hands := strings.Contains(source, "HeaderContentDisposition") || strings.Contains(source, "tx.Survey(")
		notes := strings.Contains(source, "tx.Took(") || strings.Contains(source, "tx.TookFigures(") || strings.Contains(source, "tx.Looked(")
		if hands && !notes && none[name] == "" && !strings.HasSuffix(name, "_test.go") {
			t.Errorf("%s hands out a file or reads a ranch's rows, and notes nothing in the log: tx.Took, tx.TookFigures or tx.Looked", name)
		}
	}
}
