package inquiry_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/inquiry"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// An answer that settles nothing is listed: that of a question nobody asked, and a choice that its question does not offer.
func TestMisfits(t *testing.T) {
	zero, order, tab, gone := inquiry.ID("zero", ""), inquiry.ID("date-order", "f"), inquiry.ID("tab", "old"), inquiry.ID("gap", "x")
	l := inquiry.NewLog(words.Speaker{}, map[string]string{zero: "taken", order: "sideways", tab: "read", gone: "keep"}, nil)
	offered := []inquiry.Choice{{ID: "month"}, {ID: "day"}}
	ask := func(kind, place string, choices ...inquiry.Choice) string {
		return l.Ask(survey.Cell{Row: 2}, inquiry.Prompt{Kind: kind, Place: place, Choices: choices, Text: func(*inquiry.Group) string { return "?" }})
	}
	if got := ask("zero", "", inquiry.Choice{ID: "taken"}); got != "taken" {
		t.Errorf("the answer is %q, want taken", got)
	}
	if got := ask("date-order", "f", offered...); got != "" {
		t.Errorf("an answer nobody offered settled it as %q", got)
	}
	if got := l.Answer("tab", "old"); got != "read" { // taken before the question is put
		t.Errorf("got %q", got)
	}
	want := []inquiry.Misfit{{ID: order, Choice: "sideways", Offered: offered}, {ID: gone, Choice: "keep"}}
	if diff := cmp.Diff(want, l.Misfits()); diff != "" {
		t.Error(diff)
	}
	if open := l.Questions(); len(open) != 1 || open[0].ID != order {
		t.Errorf("open are %v", open)
	}
}
