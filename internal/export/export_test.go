package export_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/bulletin"
	"tussock/internal/export"
	"tussock/internal/intake"
	"tussock/internal/survey"
)

// about, sample and sampleBulletin are made up.
var about = export.About{Version: "1.2.3", Cooperative: "Sandhill & Grass <Cooperative>", Made: time.Date(2026, time.August, 4, 19, 0, 0, 0, time.UTC)}

func sample() export.Ranch {
	nest := func(site string, season int, transect, number string, visits ...survey.Visit) survey.Nest {
		return survey.Nest{Ranch: "Cottonwood Draw", Site: site, Season: season, Transect: transect, Number: number, Substrate: survey.Bunchgrass,
			SetOn: survey.DateOf(season, time.April, 28), Visits: visits, EggsLeft: -1}
	}
	look := func(season int, month time.Month, day int, state survey.State) survey.Visit {
		return survey.Visit{On: survey.DateOf(season, month, day), State: state}
	}
	intact := nest("East pasture", 2026, "2", "1", look(2026, 5, 12, survey.Intact), look(2026, 5, 26, survey.Intact))
	intact.Plant, intact.Spot, intact.Notes = "Little bluestem, 3 ft", survey.Spot{Steps: "412 paces", Bearing: "N 40 E", Text: "past the windmill"}, "Ada's \"good\" gate\nand its lock 4711"
	taken := nest("East pasture", 2026, "2", "10", look(2026, 5, 12, survey.Taken))
	taken.Substrate, taken.EggsLeft, taken.Camera, taken.Guess = "Yucca by windmill", 1, survey.Raccoon, "=HYPERLINK(\"x\")"
	taken.Remains = &survey.Remains{Bits: "halves", BitsFar: "under_3", Bowl: "neat", Trace: "+ tracks, señal"}
	flooded := nest("", 2025, "@north", "A", look(2025, 5, 13, survey.Flooded))
	flooded.Notes, flooded.Guess = "-5 steps off", "\tnone"
	lost := nest("", 2025, "@north", "B", look(2025, 5, 13, survey.Intact), look(2025, 5, 30, survey.Lost))
	snake := nest("East pasture", 2026, "2", "9", look(2026, 5, 12, survey.Intact), look(2026, 5, 27, survey.Taken))
	snake.Camera = survey.Snake
	return export.Ranch{About: about, Name: "Cottonwood Draw", Key: "3b241101-e2bb-4255-8caf-4136c566a962", Data: &survey.Data{
		Nests: []survey.Nest{intact, taken, flooded, lost, snake},
		Belts: []survey.Belt{
			{Ranch: "Cottonwood Draw", Site: "East pasture", Season: 2026, Transect: "2", LengthFt: 726, WidthFt: 6.5, Counts: map[survey.Substrate]int{survey.Bunchgrass: 31, "sand sagebrush": 4, "Yucca by windmill": 2}},
			{Ranch: "Cottonwood Draw", Site: "East pasture", Season: 2026, Transect: "2", LengthFt: 700, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Bunchgrass: 0}},
			{Ranch: "Cottonwood Draw", Season: 2025, Transect: "@north", WidthFt: 6, Counts: map[survey.Substrate]int{survey.Yucca: 3}},
		},
		Sites: []survey.Site{{Ranch: "Cottonwood Draw", Owner: "Ada Marsh", Region: "Sandhill", Acres: 5120.25}, {Ranch: "Cottonwood Draw", Name: "East pasture", Owner: "Ada Marsh", Region: "Sandhill", Type: "sandy"}},
	}}
}

func sampleBulletin() export.Bulletin {
	str := func(s string) *string { return &s }
	num := func(x float64) *float64 { return &x }
	return export.Bulletin{
		About: about, Season: 2026, Number: 3, PublishedAt: time.Date(2026, time.July, 20, 8, 0, 0, 0, time.UTC), Hash: strings.Repeat("0f", 32),
		Places: []bulletin.Place{{Area: "Sandhill", Label: "Sandhill + Breaks"}, {Area: "Breaks", Label: "Sandhill + Breaks"}, {Area: "River", Label: ""}},
		Cells: []bulletin.Cell{
			{Season: 2026, Measure: bulletin.Survival28, Published: true, Estimate: num(0.55), Low: num(0.45), High: num(0.65), Entities: "10-19", Basis: bulletin.Basis{Nests: new(420), Transects: new(70)}},
			{Season: 2026, Area: str("Sandhill + Breaks"), Substrate: str("yucca"), Measure: bulletin.Survival28, Published: true, Low: num(0.9), Entities: "5-9"},
			{Season: 2026, Measure: bulletin.PredatorShare, Predator: "raccoon", Published: true, Estimate: num(0.3), Low: num(0.1), High: num(0.5), Entities: "10-19"},
			{Season: 2026, Substrate: str("yucca"), Measure: bulletin.SurvivalAt, Clumps: num(225), Published: true, Estimate: num(0.6), Low: num(0.5), High: num(0.7), Entities: "10-19"},
			{Season: 2026, Measure: bulletin.SignShare, Predator: bulletin.NoSign, Published: true, Estimate: num(0.1), Low: num(0.05), High: num(0.2), Entities: "10-19"},
			{Season: 2026, Measure: bulletin.FirstOnDay, Published: true, Estimate: num(0.85), Entities: "10-19"},
			{Season: 2026, Area: str("River"), Measure: bulletin.ClumpsPerAcre, HeldBecause: "SECRET REASON"},
			{Season: 2025, Measure: bulletin.ClumpsPerAcre, Published: true, Estimate: num(250), Entities: "10-19"},
		}}
}

// exports are all there are.
func exports(r export.Ranch, b export.Bulletin) map[string]func() ([]byte, error) {
	return map[string]func() ([]byte, error){
		"own sheets": r.Sheets, "own parquet": r.Parquet, "own darwin core": r.DarwinCore, "bulletin sheets": b.Sheets, "bulletin parquet": b.Parquet, "bulletin darwin core": b.DarwinCore,
	}
}

func made(t testing.TB, fn func() ([]byte, error)) []byte {
	t.Helper()
	data, err := fn()
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// unzipped returns the files of an archive.
func unzipped(t testing.TB, data []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if files[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
	}
	return files
}

// folder writes the files of an archive to disk, for programs that want them there.
func folder(t testing.TB, data []byte) string {
	t.Helper()
	dir := t.TempDir()
	for name, b := range unzipped(t, data) {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// tool returns a program that somebody else wrote; without it the test is skipped, or fails where REQUIRE_TOOLS=1.
func tool(t testing.TB, name, from string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("REQUIRE_TOOLS") == "1" {
			t.Fatalf("%s is missing: install %s", name, from)
		}
		t.Skipf("%s is missing: install %s, or run deploy/test.sh", name, from)
	}
	return path
}

// module returns the folder of npm's modules.
func module(t testing.TB, name string) string {
	t.Helper()
	modules := filepath.Join("..", "..", "web", "node_modules")
	if _, err := os.Stat(filepath.Join(modules, name)); err != nil {
		if os.Getenv("REQUIRE_TOOLS") == "1" {
			t.Fatalf("web/node_modules has no %s: run npm ci in web", name)
		}
		t.Skipf("web/node_modules has no %s: run npm ci in web, or deploy/test.sh", name)
	}
	return modules
}

// output runs a program and returns what it prints.
func output(t testing.TB, program string, args ...string) []byte {
	t.Helper()
	out, err := exec.Command(program, args...).Output()
	if err != nil {
		var failed *exec.ExitError
		if errors.As(err, &failed) {
			t.Fatalf("%s %v: %v: %s%s", program, args, err, out, failed.Stderr)
		}
		t.Fatalf("%s: %v", program, err)
	}
	return out
}

// The same input gives the same bytes, in whatever order its rows come.
func TestSameInputSameBytes(t *testing.T) {
	for name, want := range exports(sample(), sampleBulletin()) {
		t.Run(name, func(t *testing.T) {
			first := made(t, want)
			rng := rand.New(rand.NewPCG(1, 2))
			for range 5 {
				r, b := sample(), sampleBulletin()
				rng.Shuffle(len(r.Data.Nests), func(i, j int) { r.Data.Nests[i], r.Data.Nests[j] = r.Data.Nests[j], r.Data.Nests[i] })
				rng.Shuffle(len(r.Data.Belts), func(i, j int) { r.Data.Belts[i], r.Data.Belts[j] = r.Data.Belts[j], r.Data.Belts[i] })
				rng.Shuffle(len(r.Data.Sites), func(i, j int) { r.Data.Sites[i], r.Data.Sites[j] = r.Data.Sites[j], r.Data.Sites[i] })
				rng.Shuffle(len(b.Places), func(i, j int) { b.Places[i], b.Places[j] = b.Places[j], b.Places[i] })
				r.Made = r.Made.Add(time.Duration(rng.IntN(4)) * time.Hour)
				if !bytes.Equal(made(t, exports(r, b)[name]), first) {
					t.Fatal("another order of rows, or another hour of the day, gives other bytes")
				}
			}
		})
	}
}

// What every export carries.
func TestEveryExportSaysWhatItIs(t *testing.T) {
	for name, fn := range exports(sample(), sampleBulletin()) {
		t.Run(name, func(t *testing.T) {
			data := made(t, fn)
			files := unzipped(t, data)
			readme := strings.Join(strings.Fields(string(files["README.txt"])), " ")
			for _, want := range []string{"Tussock 1.2.3", about.Cooperative, "It is not a hatch rate", "find out from these data", "SHA256SUMS"} {
				if !strings.Contains(readme, want) {
					t.Errorf("README.txt does not say %q", want)
				}
			}
			if strings.HasPrefix(name, "bulletin") && !strings.Contains(readme, "Bulletin 3, season 2026, published 2026-07-20") {
				t.Error("README.txt does not name the bulletin")
			}
			if got := strings.Contains(readme, "PRIVATE"); got != (name == "own sheets") {
				t.Errorf("README.txt says PRIVATE: %v", got)
			}
			if !strings.Contains(strings.Join(strings.Fields(string(files["RIGHTS.txt"])), " "), "Nobody may try to find out") {
				t.Error("RIGHTS.txt has no condition against re-identification")
			}
			if got := strings.Count(string(files["SHA256SUMS"]), "\n"); got != len(files)-1 {
				t.Errorf("SHA256SUMS has %d lines for %d other files", got, len(files)-1)
			}
			sums := exec.Command(tool(t, "sha256sum", "coreutils"), "-c", "--strict", "SHA256SUMS")
			sums.Dir = folder(t, data)
			if out, err := sums.CombinedOutput(); err != nil {
				t.Errorf("sha256sum: %v: %s", err, out)
			}
		})
	}
}

// RFC 4180: CRLF ends each line, quotes are doubled; and UTF-8, no formula, numbers untouched.
func TestCSV(t *testing.T) {
	files := unzipped(t, made(t, sample().Sheets))
	nests := string(files["nests.csv"])
	for _, b := range files {
		if bytes.HasPrefix(b, []byte("\xef\xbb\xbf")) {
			t.Error("a byte order mark")
		}
	}
	if strings.Count(nests, "\n") != strings.Count(nests, "\r\n") {
		t.Error("a line feed without a carriage return")
	}
	if !strings.Contains(nests, `"Ada's ""good"" gate`+"\r\n"+`and its lock 4711"`) {
		t.Errorf("quotes are not doubled: %s", nests)
	}
	rows := read(t, files["nests.csv"])
	if got, want := column(t, rows, "guess"), []string{"'\tnone", "", "", "", "'=HYPERLINK(\"x\")"}; !slices.Equal(got, want) {
		t.Errorf("guesses = %q, want %q", got, want)
	}
	if got, want := column(t, rows, "transect"), []string{"'@north", "'@north", "2", "2", "2"}; !slices.Equal(got, want) {
		t.Errorf("transects = %q, want %q", got, want)
	}
	if got, want := column(t, rows, "notes")[0], "'-5 steps off"; got != want {
		t.Errorf("notes = %q, want %q", got, want)
	}
	if got, want := column(t, read(t, files["belts.csv"]), "width"), []string{"6", "6", "6.5"}; !slices.Equal(got, want) {
		t.Errorf("widths = %q, want %q", got, want)
	}
	if got := column(t, read(t, files["sites.csv"]), "area")[0]; got != "5120.25" {
		t.Errorf("area = %q", got)
	}

	// Python's reader, which we did not write and Go's authors did not either, sees the same cells.
	dir := folder(t, made(t, sample().Sheets))
	const script = `import csv, json, sys
print(json.dumps(list(csv.reader(open(sys.argv[1], newline="", encoding="utf-8"), strict=True))))`
	var python [][]string
	if err := json.Unmarshal(output(t, tool(t, "python3", "python3"), "-c", script, filepath.Join(dir, "nests.csv")), &python); err != nil {
		t.Fatal(err)
	}
	// Go's reader makes one line feed of a line end within quotes.
	for _, row := range python {
		for i := range row {
			row[i] = strings.ReplaceAll(row[i], "\r\n", "\n")
		}
	}
	if diff := cmp.Diff(rows, python); diff != "" {
		t.Errorf("Python reads other cells (-Go +Python):\n%s", diff)
	}
}

func read(t testing.TB, data []byte) [][]string {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func column(t testing.TB, rows [][]string, name string) []string {
	t.Helper()
	i := slices.Index(rows[0], name)
	if i < 0 {
		t.Fatalf("no column %q in %q", name, rows[0])
	}
	var list []string
	for _, r := range rows[1:] {
		list = append(list, r[i])
	}
	return list
}

// The standard's own library takes both packages: descriptor, every cell's type, constraints and keys.
func TestDataPackage(t *testing.T) {
	node, modules := tool(t, "node", "nodejs"), module(t, "datapackage")
	for name, want := range map[string]map[string]int{
		"own sheets":      {"nests": 5, "checks": 8, "belts": 3, "clumps": 5, "sites": 2},
		"bulletin sheets": {"cells": 6, "places": 3},
	} {
		t.Run(name, func(t *testing.T) {
			dir := folder(t, made(t, exports(sample(), sampleBulletin())[name]))
			check := func() (got struct {
				Profile  string
				Valid    bool
				Problems []string
				Rows     map[string]int
			}) {
				out := output(t, node, "testdata/datapackage.cjs", modules, dir)
				if err := json.Unmarshal(out, &got); err != nil {
					t.Fatalf("%v: %s", err, out)
				}
				return got
			}
			got := check()
			if got.Profile != "tabular-data package" || !got.Valid || len(got.Problems) > 0 {
				t.Errorf("not valid: %+v", got)
			}
			if diff := cmp.Diff(want, got.Rows); diff != "" {
				t.Errorf("rows (-want +got):\n%s", diff)
			}
			// The library would have noticed: a word that is none of its column's choices.
			for file, swap := range map[string][2]string{"checks.csv": {",taken", ",hatched"}, "cells.csv": {"survival_28", "hatch_rate"}} {
				path := filepath.Join(dir, file)
				if b, err := os.ReadFile(path); err == nil {
					os.WriteFile(path, bytes.ReplaceAll(b, []byte(swap[0]), []byte(swap[1])), 0o644)
				}
			}
			if got := check(); len(got.Problems) == 0 {
				t.Error("a wrong word went unnoticed")
			}
		})
	}
}

// What the owner takes can be sent again: the same nests come back.
func TestSheetsComeBack(t *testing.T) {
	r := sample()
	// A text that begins like a formula comes back with its apostrophe, and a line end in a note as a space.
	for i := range r.Data.Nests {
		n := &r.Data.Nests[i]
		n.Transect, n.Notes = strings.TrimPrefix(n.Transect, "@"), strings.ReplaceAll(strings.TrimPrefix(n.Notes, "-"), "\n", " ")
		n.Guess = strings.TrimPrefix(strings.TrimSpace(n.Guess), "=")
		if n.Remains != nil {
			n.Remains.Trace = strings.TrimPrefix(n.Remains.Trace, "+ ")
		}
	}
	files := unzipped(t, made(t, r.Sheets))
	var sheets []intake.File
	for _, name := range []string{"nests.csv", "checks.csv", "sites.csv"} {
		sheets = append(sheets, intake.File{Name: name, Data: files[name]})
	}
	got, err := intake.Read(sheets, intake.Options{Ranch: r.Name, Words: map[string]string{"substrate/yucca by windmill": "Yucca by windmill"}, Today: survey.DateOf(2026, time.August, 4)})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range got.Refused {
		t.Errorf("refused: %+v", p)
	}
	sorted := func(nests []survey.Nest) []survey.Nest {
		list := slices.Clone(nests)
		for i := range list {
			list[i].From = survey.Cell{}
		}
		slices.SortFunc(list, func(a, b survey.Nest) int { return strings.Compare(a.Transect+" "+a.Number, b.Transect+" "+b.Number) })
		return list
	}
	if diff := cmp.Diff(sorted(r.Data.Nests), sorted(got.Data.Nests)); diff != "" {
		t.Errorf("nests (-sent +came back):\n%s", diff)
	}
}

// What is missing is missing, and breaks nothing: no rows at all, no dates, no looks, no plant.
func TestSparse(t *testing.T) {
	empty, bare := sample(), sample()
	empty.Data = &survey.Data{}
	bare.Data = &survey.Data{Nests: []survey.Nest{{Ranch: "X", Season: 2026, Transect: "1", Number: "1", EggsLeft: -1}}, Belts: []survey.Belt{{Ranch: "X", Season: 2026, Transect: "1"}}}
	node, modules := tool(t, "node", "nodejs"), module(t, "datapackage")
	for name, r := range map[string]export.Ranch{"empty": empty, "bare": bare} {
		made(t, r.Parquet)
		made(t, r.DarwinCore)
		out := output(t, node, "testdata/datapackage.cjs", modules, folder(t, made(t, r.Sheets)))
		if !strings.Contains(string(out), `"problems":[]`) {
			t.Errorf("%s: %s", name, out)
		}
	}
}

func BenchmarkSheets(b *testing.B)     { benchmark(b, export.Ranch.Sheets) }
func BenchmarkParquet(b *testing.B)    { benchmark(b, export.Ranch.Parquet) }
func BenchmarkDarwinCore(b *testing.B) { benchmark(b, export.Ranch.DarwinCore) }

// benchmark makes a file of ten seasons of 200 nests, a large ranch.
func benchmark(b *testing.B, fn func(export.Ranch) ([]byte, error)) {
	r := sample()
	r.Data.Nests = nil
	for i := range 2000 {
		n := sample().Data.Nests[i%5]
		n.Season, n.Transect, n.Number = 2017+i/200, strconv.Itoa(i%200/10), strconv.Itoa(i%10)
		r.Data.Nests = append(r.Data.Nests, n)
	}
	for b.Loop() {
		data, err := fn(r)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(data)), "bytes")
	}
}
