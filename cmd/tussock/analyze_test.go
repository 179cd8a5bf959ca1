package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
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
		"about 50 of 100", // a third of the grass, two thirds of the pear
		"About 272 suitable clumps an acre on 2 belts",
		"can't tell 3",
		"index of risk",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the letter does not say %q:\n%s", want, out)
		}
	}
}

// A bad row is named by file, row and column, and the others are counted.
func TestAnalyzeRefused(t *testing.T) {
	nests := file(t, "nests.csv", goodNests+"Ash,3,3,bunchgrass,2025-05-12,2025-05-26,soggy,,\n")
	out, _ := analyzed(t, 1, nests)
	for _, want := range []string{"nests.csv, row 8, column check1", "soggy", "3 of the 6 nests"} {
		if !strings.Contains(out, want) {
			t.Errorf("the letter does not say %q:\n%s", want, out)
		}
	}

	out, _ = analyzed(t, 1, nests, "--format", "json")
	var got struct {
		Refused []struct {
			File, Column, Value, Problem string
			Row                          int
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Refused) != 1 || got.Refused[0].Row != 8 || got.Refused[0].Column != "check1" || got.Refused[0].Value != "soggy" {
		t.Errorf("got %+v", got.Refused)
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
		{"NotASheet", []string{file(t, "letter.csv", "dear neighbour\n")}, ""},
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
