package main

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/intake"
)

const goodNests = `ranch,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2
Ash,1,1,bunchgrass,2025-05-12,2025-05-26,intact,2025-06-09,intact
Ash,1,2,prickly pear,2025-05-12,2025-05-26,intact,2025-06-09,intact
Ash,2,1,bunchgrass,2025-05-12,2025-05-26,taken,,
Ash,2,2,prickly pear,2025-05-12,2025-05-26,intact,2025-06-09,taken
Ash,3,1,bunchgrass,2025-05-12,2025-05-26,intact,2025-06-09,taken
Ash,3,2,prickly pear,2025-05-12,2025-05-26,intact,2025-06-09,intact
`

const goodBelts = `ranch,transect,length,length_unit,width,width_unit,count_bunchgrass,count_prickly_pear
Ash,1,1000,ft,6,ft,30,4
Ash,2,1000,ft,6,ft,41,0
`

// analyzed runs the command and returns what it said.
func analyzed(t *testing.T, want int, args ...string) (stdout, stderr string) {
	t.Helper()
	var out, errOut bytes.Buffer
	if got := run(t.Context(), append([]string{"analyze"}, args...), func(string) string { return "" }, &out, &errOut); got != want {
		t.Fatalf("status %d, want %d\n%s\n%s", got, want, &out, &errOut)
	}
	return out.String(), errOut.String()
}

func file(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAnalyzeText(t *testing.T) {
	out, _ := analyzed(t, 0, file(t, "nests.csv", goodNests), file(t, "belts.csv", goodBelts))
	for _, want := range []string{
		"Ash, season 2025",
		"3 of the 6 nests whose four weeks are known lasted them.",
		"6 nests were set on 3 lines.",
		"nests.csv: 6 nests. Each column is what its heading says.",
		"about 50 of 100", // a third of the grass, two thirds of the pear
		"About 272 suitable clumps an acre on 2 belts",
		"3 left no sign",
		"index of risk",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the report does not say %q:\n%s", want, out)
		}
	}
}

// A word that nobody knows is asked about once. Its nest waits, and no figure stands on the other nests alone.
func TestAnalyzeUnknownWord(t *testing.T) {
	nests := file(t, "nests.csv", goodNests+"Ash,3,3,bunchgrass,2025-05-12,2025-05-26,wiffled,,\n")
	out, _ := analyzed(t, 1, nests)
	for _, want := range []string{
		"Please answer", "“wiffled”", "row 8", "taken ", "question state-", // the question
		"1 nest waits for an answer, so there is no figure yet.", "3 of the 6", "Survival to day 28 lies between", // the result
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the report does not say %q:\n%s", want, out)
		}
	}
	if strings.Contains(out, "What we could not use") {
		t.Errorf("what is asked about is refused as well:\n%s", out)
	}
	if strings.Contains(out, "of 100 lasted") {
		t.Errorf("a figure stands on part of the nests:\n%s", out)
	}

	out, _ = analyzed(t, 1, nests, "--format", "json")
	var got struct {
		Refused []struct {
			File, Column, Value, Problem string
			Row                          int
		}
		Survival []struct {
			Substrate *string
			Note      string
			Day28     struct{ Estimate, Low, High *float64 }
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Refused) != 1 || got.Refused[0].Row != 8 || got.Refused[0].Column != "check1" || got.Refused[0].Value != "wiffled" {
		t.Errorf("got %+v", got.Refused)
	}
	for _, s := range got.Survival {
		waits := s.Substrate == nil || *s.Substrate == "bunchgrass"
		if waits != (s.Day28.Estimate == nil) || waits != strings.Contains(s.Note, "1 nest waits") || s.Day28.Low == nil || s.Day28.High == nil {
			t.Errorf("got %+v", s)
		}
	}
}

// Rows with one fault are listed together, and no sentence stands twice.
func TestAnalyzeSaysOnce(t *testing.T) {
	var b strings.Builder
	b.WriteString(goodNests)
	for i := 3; i < 9; i++ {
		fmt.Fprintf(&b, "Ash,3,,bunchgrass,2025-05-12,2025-05-%d,intact,,\n", 20+i)
	}
	out, _ := analyzed(t, 1, file(t, "nests.csv", b.String()))
	if !strings.Contains(out, "nests.csv, rows 8–13") {
		t.Errorf("the rows are not listed together:\n%s", out)
	}
	reading, _, _ := strings.Cut(out, "Ash, season 2025")
	seen := map[string]bool{}
	for _, s := range strings.Split(strings.Join(strings.Fields(reading), " "), ". ") {
		if len(s) > 20 && seen[s] {
			t.Errorf("%q stands twice:\n%s", s, reading)
		}
		seen[s] = true
	}
}

// The columns are told of in the words of the field, those with plain headings in one sentence.
func TestAnalyzeColumns(t *testing.T) {
	out, _ := analyzed(t, 0, file(t, "nests.csv", goodNests))
	if !strings.Contains(out, "nests.csv: 6 nests. Each column is what its heading says.\n") {
		t.Errorf("got %s", out)
	}
	odd := file(t, "book.csv", "Ranch,Line,Stop,In,Put out,1st look,Saw,2nd look,Saw,Weather\nAsh,1,1,bunchgrass,5/12/2025,5/26/2025,ok,6/9/2025,ok,dry\nAsh,1,2,yucca,5/12/2025,5/26/2025,ok,6/9/2025,gone,dry\n")
	out, _ = analyzed(t, 0, odd)
	flat := strings.Join(strings.Fields(out), " ")
	for _, want := range []string{"“In” is the cover", "“1st look” and “2nd look” are the days of checks 1 and 2", "“Saw” is what each check found", "The other columns are what their headings say.",
		"book.csv: the column “Weather” was not used.", "We read “ok” as intact."} {
		if !strings.Contains(flat, want) {
			t.Errorf("the report does not say %q:\n%s", want, out)
		}
	}
	for _, ours := range []string{"set_on", "check1", "substrate", "checked_on"} {
		if strings.Contains(out, ours) {
			t.Errorf("a column name of ours is shown: %q in\n%s", ours, out)
		}
	}
}

func TestAnalyzeNothingRead(t *testing.T) {
	for _, tt := range []struct {
		name string
		args []string
		want string
	}{
		{"NoFile", nil, "name the files"},
		{"NoSuchFile", []string{filepath.Join(t.TempDir(), "gone.csv")}, "no such file"},
		{"NotASheet", []string{file(t, "letter.csv", "dear neighbor\n")}, ""},
		{"UnknownFormat", []string{"--format", "xml", file(t, "nests.csv", goodNests)}, "text or json"},
		{"UnknownZero", []string{"--zero", "maybe", file(t, "nests.csv", goodNests)}, "intact or taken"},
		{"UnknownFlag", []string{"--loud"}, "loud"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, stderr := analyzed(t, 2, tt.args...)
			if !strings.Contains(strings.ToLower(stderr), tt.want) {
				t.Errorf("got %q, want %q in it", stderr, tt.want)
			}
		})
	}
	// One file of two is missing: the other one counts.
	out, _ := analyzed(t, 1, file(t, "nests.csv", goodNests), "gone.csv")
	if !strings.Contains(out, "gone.csv: There is no such file") || !strings.Contains(out, "Ash, season 2025") {
		t.Errorf("got %s", out)
	}
}

// A bare 0 is asked about, and the flag answers.
func TestAnalyzeZero(t *testing.T) {
	nests := file(t, "nests.csv", "ranch,transect,nest,substrate,set_on,check1_on,check1\nAsh,1,1,yucca,2025-05-01,2025-05-29,0\nAsh,1,2,yucca,2025-05-01,2025-05-29,0\n")
	analyzed(t, 2, nests)
	out, _ := analyzed(t, 0, nests, "--zero", "taken")
	if !strings.Contains(out, "0 of the 2 nests") {
		t.Errorf("0 as taken: got %s", out)
	}
	out, _ = analyzed(t, 0, nests, "--zero=intact")
	if !strings.Contains(out, "2 of the 2 nests") {
		t.Errorf("0 as intact: got %s", out)
	}
}

// A program answers a question by its ID, in a file.
func TestAnalyzeAnswers(t *testing.T) {
	nests := file(t, "nests.csv", "ranch,transect,nest,substrate,set_on,check1_on,check1\nAsh,1,1,yucca,2025-05-01,2025-05-29,0\nAsh,1,2,yucca,2025-05-01,2025-05-29,0\n")
	out, _ := analyzed(t, 2, nests, "--format", "json")
	var got struct {
		Questions []struct {
			ID, Kind, Text string
			Default        *string
			Choices        []struct{ ID, Text string }
			Cells          []struct{ Row int }
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Questions) != 1 || got.Questions[0].Kind != "zero" || got.Questions[0].Default != nil || len(got.Questions[0].Choices) != 2 || len(got.Questions[0].Cells) != 2 {
		t.Fatalf("got %+v", got.Questions)
	}
	id := got.Questions[0].ID
	out, _ = analyzed(t, 0, nests, "--answers", file(t, "answers.json", `{"`+id+`": "taken"}`))
	if !strings.Contains(out, "0 of the 2 nests") || strings.Contains(out, "Please answer") {
		t.Errorf("got %s", out)
	}
	for _, tt := range []struct{ name, answers, want string }{
		{"UnknownQuestion", `{"zero-0123456789abcdef": "taken"}`, `There is no question "zero-0123456789abcdef"`},
		{"UnknownChoice", `{"` + id + `": "eaten"}`, `cannot be answered "eaten". Choose one of these: taken, intact.`},
		{"NoObject", `["taken"]`, "one JSON object of question to choice"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, stderr := analyzed(t, 2, nests, "--answers", file(t, "answers.json", tt.answers))
			if !strings.Contains(stderr, tt.want) {
				t.Errorf("got %q, want %q in it", stderr, tt.want)
			}
		})
	}
	if _, stderr := analyzed(t, 2, nests, "--answers", filepath.Join(t.TempDir(), "gone.json")); !strings.Contains(stderr, "could not be opened") {
		t.Errorf("got %q", stderr)
	}
}

// An answer that makes another question needless leaves the answer to that one known.
func TestAnalyzeAnswersOnTheWay(t *testing.T) {
	f := intake.File{Name: "nests.csv", Data: []byte("ranch,transect,nest,substrate,set_on,check1_on,check1,eggs seen\nAsh,1,1,yucca,2025-05-01,2025-05-29,intact,2\nAsh,1,2,yucca,2025-05-01,2025-05-29,zzyzx,3\n")}
	first, err := intake.Read([]intake.File{f}, intake.Options{})
	if err != nil {
		t.Fatal(err)
	}
	answers := map[string]string{}
	for _, q := range first.Questions {
		answers[q.ID] = q.Choices[0].ID
	}
	if len(answers) == 0 {
		t.Fatal("the word is not asked about")
	}
	for _, r := range first.Roles {
		if r.Heading == "check1" {
			answers[r.ID] = "not-used"
		}
	}
	last, err := intake.Read([]intake.File{f}, intake.Options{Answers: answers})
	if err != nil || len(last.Misfits) == 0 {
		t.Fatalf("the answer to the word still fits a question: %v, %v", last, err)
	}
	if _, err := readAnswered([]intake.File{f}, intake.Options{Answers: answers}); err != nil {
		t.Error(err)
	}
}

// At a terminal a person is asked what must be answered, with a number for each choice.
func TestAnalyzeAsks(t *testing.T) {
	nests := file(t, "nests.csv", "ranch,transect,nest,substrate,set_on,check1_on,check1\nAsh,1,1,yucca,2025-05-01,2025-05-29,0\nAsh,1,2,yucca,2025-05-01,2025-05-29,wiffled\nAsh,1,3,yucca,2025-05-01,2025-05-29,intact\n")
	for _, tt := range []struct {
		name, typed string
		waiting     int
		said        []string
	}{
		{"Answered", "9\n1\n2\n", 0, []string{"That is none of them", "1. No eggs left", "Your answer, 1 to 2", "name it with --answers"}},
		{"ByName", "lost\nintact\n", 0, []string{"name it with --answers"}},
		{"LeftOpen", "\n1\n", 1, []string{"Enter leaves it open"}},
		{"NobodyThere", "", 2, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var said bytes.Buffer
			a, err := analyze(analyzeFlags{format: "text", files: []string{nests}}, newAsker(strings.NewReader(tt.typed), &said))
			if err != nil {
				t.Fatal(err)
			}
			if len(a.read.Waiting) != tt.waiting {
				t.Errorf("%d nests wait, want %d; it said\n%s", len(a.read.Waiting), tt.waiting, &said)
			}
			for _, want := range tt.said {
				if !strings.Contains(said.String(), want) {
					t.Errorf("it did not say %q:\n%s", want, &said)
				}
			}
		})
	}
}

// A batch in a ZIP is read like its files.
func TestAnalyzeZip(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range map[string]string{"nests.csv": goodNests, "belts.csv": goodBelts} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, text)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	out, _ := analyzed(t, 0, file(t, "season.zip", b.String()))
	if !strings.Contains(out, "3 of the 6 nests") || !strings.Contains(out, "on 2 belts") {
		t.Errorf("got %s", out)
	}
}

// The blocks of what was read have the keys of the contract and no others, all in lower case.
func TestAnalyzeJSONBlocks(t *testing.T) {
	nests := file(t, "nests.csv", strings.Replace(goodNests, "check2\n", "check2,weather,guess\n", 1)+"Ash,3,3,bunchgrass,2025-05-12,2025-05-26,wiffled,,,dry,coon?\nAsh,3,4,bunchgrass,2025-05-12,2025-05-26,gone,,,dry,coon?\n")
	out, _ := analyzed(t, 1, "--format=json", nests, file(t, "belts.csv", goodBelts))
	var got map[string]any
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	for block, want := range map[string]string{
		"refused": "column file problem row sheet value",
		"nests":   "at checks guess nest ranch season set_on site substrate transect", "nests.checks": "on state", "nests.at": "file row sheet",
		"belts": "area_acres at counts length_ft ranch season site transect width_ft", "belts.at": "file row sheet",
		"roles":  "block column file heading role sheet",
		"tidied": "cells kind text", "tidied.cells": "column file row sheet",
		"questions": "cells choices default id kind text", "questions.cells": "column file row sheet", "questions.choices": "id text",
		"not_used": "cells text", "not_used.cells": "column file row sheet",
	} {
		name, inner, _ := strings.Cut(block, ".")
		list, ok := got[name].([]any)
		if !ok || len(list) == 0 {
			t.Errorf("there is no %q", name)
			continue
		}
		object := list[0].(map[string]any)
		if inner != "" {
			object = object[inner].([]any)[0].(map[string]any)
		}
		if keys := strings.Join(slices.Sorted(maps.Keys(object)), " "); keys != want {
			t.Errorf("%s has the keys %s, want %s", block, keys, want)
		}
	}
	lowerKeys(t, "", got)
	nest := got["nests"].([]any)[0].(map[string]any)
	if want := map[string]any{"on": "2025-05-26", "state": "intact"}; nest["set_on"] != "2025-05-12" || !reflect.DeepEqual(nest["checks"].([]any)[0], want) {
		t.Errorf("got %v", nest)
	}
	if at := nest["at"].([]any)[0].(map[string]any); at["row"] != 2.0 || at["file"] != "nests.csv" {
		t.Errorf("got %v", at)
	}
	roles := map[string]any{}
	for _, r := range got["roles"].([]any) {
		r := r.(map[string]any)
		roles[r["heading"].(string)] = r["role"]
	}
	if roles["check1_on"] != "check1_on" || roles["weather"] != nil {
		t.Errorf("got roles %v", roles)
	}
	if belt := got["belts"].([]any)[0].(map[string]any); math.Abs(belt["area_acres"].(float64)-6000.0/43560) > 1e-12 || belt["counts"].(map[string]any)["bunchgrass"] != 30.0 {
		t.Errorf("got %v", belt)
	}
}

// lowerKeys fails where a key has a capital letter. Those of counts are covers in the sheet's own words.
func lowerKeys(t *testing.T, at string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			if k != strings.ToLower(k) && !strings.HasSuffix(at, ".counts") {
				t.Errorf("%s has the key %q", at, k)
			}
			lowerKeys(t, at+"."+k, x)
		}
	case []any:
		for _, x := range v {
			lowerKeys(t, at, x)
		}
	}
}

// The top of the JSON is an object whose lists are lists even where they are empty, with the extras on request.
func TestAnalyzeJSON(t *testing.T) {
	nests := file(t, "nests.csv", goodNests)
	for _, tt := range []struct {
		name string
		args []string
		want []string
		not  []string
	}{
		{"Plain", nil, []string{"refused", "survival", "density", "predators"}, []string{"pooled", "bulletin"}},
		{"Pooled", []string{"--pooled"}, []string{"pooled"}, []string{"bulletin"}},
		{"Bulletin", []string{"--bulletin"}, []string{"bulletin"}, []string{"pooled"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			out, _ := analyzed(t, 0, append(tt.args, "--format=json", nests)...)
			var got map[string]any
			if err := json.Unmarshal([]byte(out), &got); err != nil {
				t.Fatal(err)
			}
			for _, name := range tt.want {
				if got[name] == nil {
					t.Errorf("there is no %q", name)
				}
			}
			for _, name := range tt.not {
				if _, ok := got[name]; ok {
					t.Errorf("there is %q", name)
				}
			}
		})
	}
}

// With --pooled each ranch stands beside the whole cooperative, as the bulletin would give it: a ranch that lost nearly all its nests
// differs from nine others that kept most; without it no ranch is held against others.
func TestAnalyzeRegion(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("ranch,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2\n")
	for ranch := range 10 {
		for line := 1; line <= 6; line++ {
			for nest := 1; nest <= 6; nest++ {
				second := "intact"
				if ranch == 9 != ((ranch+line+nest)%6 == 0) { // one in six is otherwise than most of its ranch
					second = "taken"
				}
				fmt.Fprintf(&rows, "Ranch %d,%d,%d,bunchgrass,2025-05-12,2025-05-26,intact,2025-06-09,%s\n", ranch, line, nest, second)
			}
		}
	}
	nests := file(t, "nests.csv", rows.String())
	type contract struct {
		Comparisons []struct {
			Ranch, Measure, What, Of, With, Verdict string
			Difference                              struct{ Estimate, Low, High *float64 }
			OfMany                                  int `json:"of_many"`
		}
	}
	region := func(args ...string) map[string]string {
		var got contract
		out, _ := analyzed(t, 0, append(args, "--format=json", nests)...)
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(err)
		}
		verdicts := map[string]string{}
		for _, c := range got.Comparisons {
			if c.What != "region" {
				continue
			}
			if c.Measure != "survival_28" || c.Of != c.Ranch || c.With != "the whole cooperative" || c.OfMany != 1 || c.Difference.Low == nil {
				t.Errorf("got %+v", c)
			}
			verdicts[c.Ranch] = c.Verdict
		}
		return verdicts
	}
	if got := region(); len(got) != 0 {
		t.Errorf("without the region a ranch stands beside it: %v", got)
	}
	got := region("--pooled")
	if len(got) != 10 || got["Ranch 9"] != "differs" {
		t.Errorf("got %v", got)
	}
	if got := region("--bulletin"); len(got) != 10 || got["Ranch 9"] != "differs" {
		t.Errorf("with the bulletin: got %v", got)
	}
	// The bulletin counts checks by the days that the command is given: all of these came on day 14.
	for first, want := range map[string]string{"14": "100", "9": "0"} {
		text, _ := analyzed(t, 0, "--bulletin", "--first-check", first, nests)
		if !strings.Contains(text, "first checks on day, the whole cooperative, all cover types: "+want+", 10-19 landowners") {
			t.Errorf("first check on day %s: %s is not among\n%s", first, want, text)
		}
	}
	text, _ := analyzed(t, 0, "--pooled", nests)
	if !strings.Contains(strings.Join(strings.Fields(text), " "), "Fewer nests lasted on Ranch 9 than across the whole cooperative:") {
		t.Errorf("the report does not say it:\n%s", text)
	}
}

// TestAnalyzeTarget: the command holds cover against the target it is given, and says so; the chance of 300 is the contract's and stays.
func TestAnalyzeTarget(t *testing.T) {
	nests, belts := file(t, "nests.csv", goodNests), file(t, "belts.csv", goodBelts)
	type contract struct {
		Density []struct {
			Reaches300    float64 `json:"reaches_300"`
			Target        float64
			ReachesTarget float64 `json:"reaches_target"`
		}
	}
	read := func(args ...string) (c contract) {
		out, _ := analyzed(t, 0, append(args, "--format=json", nests, belts)...)
		if err := json.Unmarshal([]byte(out), &c); err != nil {
			t.Fatal(err)
		}
		return c
	}
	usual, low := read().Density[0], read("--cover-target=100").Density[0]
	if usual.Target != 300 || usual.ReachesTarget != usual.Reaches300 || low.Target != 100 || low.Reaches300 != usual.Reaches300 || low.ReachesTarget <= usual.ReachesTarget {
		t.Errorf("got %+v and %+v", usual, low)
	}
	if text, _ := analyzed(t, 0, "--cover-target=100", nests, belts); !strings.Contains(strings.Join(strings.Fields(text), " "), "The cover target is 100 (yours).") {
		t.Errorf("the report does not name the target:\n%s", text)
	}
	for _, wrong := range [][]string{{"--cover-target=5"}, {"--hope=99"}, {"--first-check=20", "--last-check=20"}} {
		if _, said := analyzed(t, 2, append(wrong, nests, belts)...); !strings.Contains(said, strings.SplitN(wrong[len(wrong)-1], "=", 2)[0]) {
			t.Errorf("%v: %q", wrong, said)
		}
	}
}

// From the file to the number: real nests against a separate R script (testdata/opendata/SOURCE.md). One nest stands twice
// in that file, which must be noticed.
func TestAnalyzeOpenData(t *testing.T) {
	const data = "../../testdata/opendata/grassland_birds"
	out, _ := analyzed(t, 1, "--format", "json", data+"_checks.csv")
	var got struct {
		Refused  []struct{ Problem string }
		Survival []struct {
			Ranch, Substrate string
			Site             *string
			Season, Nests    int
			Day28            struct{ Estimate, Low, High *float64 }
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Refused) != 1 || !strings.Contains(got.Refused[0].Problem, "knu05ml9") {
		t.Errorf("refused: got %+v", got.Refused)
	}
	at := map[string]int{}
	for i, s := range got.Survival {
		if s.Site == nil {
			at[strings.ToLower(strings.Join([]string{s.Ranch, strconv.Itoa(s.Season), s.Substrate}, " "))] = i
		}
	}
	f, err := os.Open(data + "_expected.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range rows[1:] {
		i, ok := at[strings.ToLower(strings.Join(want[:3], " "))]
		if !ok {
			t.Errorf("%v: no row", want[:3])
			continue
		}
		s := got.Survival[i]
		for k, v := range []*float64{s.Day28.Estimate, s.Day28.Low, s.Day28.High} {
			x, _ := strconv.ParseFloat(want[4+k], 64)
			if v == nil || math.Abs(*v-x) > 1e-5 {
				t.Errorf("%v, column %s: got %v, want %v", want[:3], rows[0][4+k], v, x)
			}
		}
	}
}

func TestTemplate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "season.xlsx")
	for _, want := range []int{0, 1} { // never over a file that is there
		var stdout, stderr bytes.Buffer
		if got := run(t.Context(), []string{"template", path}, os.Getenv, &stdout, &stderr); got != want {
			t.Fatalf("status %d, want %d: %s", got, want, &stderr)
		}
	}
	data, err := os.ReadFile(path)
	if err != nil || !bytes.HasPrefix(data, []byte("PK")) {
		t.Errorf("got %d bytes, %v", len(data), err)
	}
	// Its example rows are no data.
	if _, stderr := analyzed(t, 2, path); !strings.Contains(stderr, "no row") {
		t.Errorf("got %q", stderr)
	}
}

// TestAnalyzeKey: another table of the key changes the mix and is named beside it; one with faults is refused by line, and nothing is computed
// with half of it.
func TestAnalyzeKey(t *testing.T) {
	var b strings.Builder
	b.WriteString("ranch,transect,nest,substrate,set_on,check1_on,check1,bits\n")
	for i := range 6 {
		fmt.Fprintf(&b, "Ash,%d,1,yucca,2025-05-12,2025-05-26,taken,halves\n", i)
	}
	nests := file(t, "nests.csv", b.String())
	counts := "sign,answer,animal,nests,source\nbits,halves,skunk,95,Our cameras\nbits,crumbs,skunk,5,\nbits,halves,raccoon,5,\nbits,crumbs,raccoon,95,\n"
	mix := func(args ...string) (raccoon, skunk float64, source string, assumed bool) {
		t.Helper()
		out, _ := analyzed(t, 0, append([]string{"--format=json", nests}, args...)...)
		var got struct {
			Predators []struct {
				Mix []struct {
					Predator string
					Share    float64
				}
				Source  string `json:"key_source"`
				Assumed bool   `json:"key_assumed"`
			}
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(err)
		}
		for _, m := range got.Predators[0].Mix {
			switch m.Predator {
			case "raccoon":
				raccoon = m.Share
			case "skunk":
				skunk = m.Share
			}
		}
		return raccoon, skunk, got.Predators[0].Source, got.Predators[0].Assumed
	}
	if r, s, source, assumed := mix(); r < s || source != "" || !assumed {
		t.Errorf("common practice: raccoon %v, skunk %v, %q, assumed %v", r, s, source, assumed)
	}
	if r, s, source, assumed := mix("--key", file(t, "cameras.csv", counts)); s < r || source != "Our cameras" || assumed {
		t.Errorf("counts: raccoon %v, skunk %v, %q, assumed %v", r, s, source, assumed)
	}
	if _, _, source, assumed := mix("--key", file(t, "book.csv", "sign,answer,animal,times\nbits,halves,skunk,9\n")); source != "the file book.csv" || !assumed {
		t.Errorf("a table without a source: %q, assumed %v", source, assumed)
	}
	out, _ := analyzed(t, 0, "--key", file(t, "cameras.csv", counts), nests)
	if text := strings.Join(strings.Fields(out), " "); !strings.Contains(text, "was counted at nests whose animal a camera settled: Our cameras.") {
		t.Errorf("the source is not beside the mix:\n%s", out)
	}
	_, said := analyzed(t, 2, "--key", file(t, "bad.csv", counts+"bits,halves,wolf,5,\n"), nests)
	if !strings.Contains(said, "bad.csv: Line 6: “wolf” is no animal of the key.") {
		t.Errorf("got %q", said)
	}
	if _, said = analyzed(t, 2, "--key", "no such file.csv", nests); !strings.Contains(said, "There is no such file") {
		t.Errorf("got %q", said)
	}
}
