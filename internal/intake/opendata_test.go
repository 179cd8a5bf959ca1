package intake_test

import (
	"bytes"
	encodingcsv "encoding/csv"
	"os"
	"slices"
	"strings"
	"testing"

	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/survey"
)

// TestOpenData reads real nests (testdata/opendata/SOURCE.md) and compares with what the files say when they are
// counted without us: the number of nests and of each last state.
func TestOpenData(t *testing.T) {
	tests := []struct {
		file    string
		refused int // rows
	}{
		{"grassland_birds_checks.csv", 0},
		{"wading_birds_checks.csv", 0},
	}
	for _, tt := range tests {
		t.Run(tt.file, func(t *testing.T) {
			data, err := os.ReadFile("../../testdata/opendata/" + tt.file)
			if err != nil {
				t.Fatal(err)
			}
			files := []intake.File{{Name: tt.file, Data: data}}
			answers := map[string]string{}
			for _, q := range mustRead(t, files, intake.Options{}).Questions {
				switch {
				case offers(q, "again"): // else a nest ends where it was not found
					answers[q.ID] = "again"
				case offers(q, "first"): // the nest id that stands twice
					answers[q.ID] = "first"
				case offers(q, "keep"): // five nests have days far off the plan; they wait until somebody says that the days are right
					answers[q.ID] = "keep"
				}
			}
			res := mustRead(t, files, intake.Options{Answers: answers})
			if len(res.Refused) != tt.refused {
				t.Errorf("%d rows refused, want %d", len(res.Refused), tt.refused)
			}
			want, rows := lastStates(t, data)
			if res.Rows != rows {
				t.Errorf("%d rows, want %d", res.Rows, rows)
			}
			got := map[string]int{}
			for i := range res.Data.Nests {
				got[string(res.Data.Nests[i].Fate())]++
			}
			for state, n := range want {
				if got[state] != n {
					t.Errorf("%d nests %s, want %d", got[state], state, n)
				}
			}
		})
	}
}

// lastStates counts the nests by the state of their last visit; of a nest set on two days the first counts.
func lastStates(t *testing.T, data []byte) (states map[string]int, rows int) {
	t.Helper()
	all, err := encodingcsv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	type visit struct{ set, on, state string }
	last := map[string]visit{}
	for _, r := range all[1:] {
		key, v := strings.Join(r[:4], "\x00"), visit{r[5], r[6], r[7]}
		if was, ok := last[key]; !ok || v.on > was.on && v.set == was.set {
			last[key] = v
		}
	}
	states = map[string]int{}
	for _, v := range last {
		states[v.state]++
	}
	return states, len(all) - 1
}

// The publisher's counts: 3 257 nests, 1 173 of them successful and 2 084 failed.
func TestGrasslandBirds(t *testing.T) {
	data, err := os.ReadFile("../../testdata/opendata/grassland_birds_checks.csv")
	if err != nil {
		t.Fatal(err)
	}
	files := []intake.File{{Name: "g.csv", Data: data}}
	res := mustRead(t, files, intake.Options{})
	var id string
	for _, q := range res.Questions {
		if offers(q, "two") {
			id = q.ID
		}
	}
	res = mustRead(t, files, intake.Options{Answers: map[string]string{id: "two"}})
	got := map[survey.State]int{}
	for i := range res.Data.Nests {
		got[res.Data.Nests[i].Fate()]++
	}
	if len(res.Data.Nests) != 3257 || got[survey.Intact] != 1173 || got[survey.Taken] != 2084 {
		t.Errorf("%d nests, %v; want 3257, 1173 intact and 2084 taken", len(res.Data.Nests), got)
	}
}

// offers tells whether a question has a choice.
func offers(q inquiry.Question, choice string) bool {
	return slices.ContainsFunc(q.Choices, func(c inquiry.Choice) bool { return c.ID == choice })
}
