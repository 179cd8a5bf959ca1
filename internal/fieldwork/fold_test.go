package fieldwork_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/findings"
	"tussock/internal/intake"
	"tussock/internal/season"
	"tussock/internal/survey"
)

const (
	ranch = access.ID("11111111-1111-4111-8111-111111111111")
	lineA = access.ID("aaaaaaaa-aaaa-4aaa-8aaa-aaaaaaaaaaaa")
	lineB = access.ID("bbbbbbbb-bbbb-4bbb-8bbb-bbbbbbbbbbbb")
)

var noon = time.Date(2026, time.May, 1, 12, 0, 0, 0, time.UTC)

// A phone writes looks down, one minute after the other.
type phone struct {
	device, who string
	looks       []fieldwork.Look
}

func (p *phone) sees(line access.ID, stop int, kind fieldwork.Kind, answers ...string) access.ID {
	n := len(p.looks) + 1
	id := access.ID(fmt.Sprintf("%08x-0000-4000-8000-%012x", len(p.device)*7919+int(p.device[len(p.device)-1]), n))
	l := fieldwork.Look{ID: id, Ranch: ranch, Season: 2026, Line: line, Stop: stop, Kind: kind, Who: p.who, Device: p.device, Seq: n,
		At: noon.Add(time.Duration(n) * time.Minute), Answers: map[string]string{}}
	for i := 0; i+1 < len(answers); i += 2 {
		l.Answers[answers[i]] = answers[i+1]
	}
	p.looks = append(p.looks, l)
	return id
}

func (p *phone) undoes(id access.ID) {
	p.sees(lineA, 0, fieldwork.Undo)
	p.looks[len(p.looks)-1].Undoes = id
}

func lines() []season.Line {
	return []season.Line{
		{ID: lineA, Ranch: ranch, Season: 2026, Name: "A", Pasture: "north", Stops: 12},
		{ID: lineB, Ranch: ranch, Season: 2026, Name: "B", Pasture: "", Stops: 12},
	}
}

// read takes a folded season down the road of every sheet.
func read(t *testing.T, f *fieldwork.Folded) *intake.Result {
	t.Helper()
	var b bytes.Buffer
	if err := f.WriteWorkbook(&b); err != nil {
		t.Fatal(err)
	}
	res, err := intake.Read([]intake.File{{Name: "field.xlsx", Data: b.Bytes()}}, intake.Options{Ranch: "Home", Today: survey.DateOf(2026, time.August, 1)})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func TestFold(t *testing.T) {
	p := &phone{device: "one", who: "JR"}
	for stop := 1; stop <= 3; stop++ {
		p.sees(lineA, stop, fieldwork.Set, "cover", "prickly_pear", "set_on", "2026-05-01", "eggs_set", "3")
	}
	p.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all", "eggs_fresh_put", "3")
	p.sees(lineA, 2, fieldwork.Check, "looked_on", "2026-05-15", "found", "lost", "lost_how", "animal", "bits", "halves", "heaps", "none", "guess", "raccoon?")
	p.sees(lineA, 3, fieldwork.Check, "looked_on", "2026-05-15", "found", "not_found")
	p.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-29", "found", "some", "eggs_left", "2")
	p.sees(lineB, 0, fieldwork.Belt, "belt", "1", "paces", "300", "pace_ft", "2.5", "belt_wide_ft", "6", "clumps_bunchgrass", "17", "clumps_prickly_pear", "4", "clumps_maybe", "2")

	f := fieldwork.Fold(lines(), p.looks)
	res := read(t, &f)
	if len(res.Refused) > 0 || len(res.Questions) > 0 || len(res.NotUsed) > 0 {
		t.Fatalf("refused %v, asked %v, unused %v", res.Refused, res.Questions, res.NotUsed)
	}
	day := func(m time.Month, d int) survey.Date { return survey.DateOf(2026, m, d) }
	want := []struct {
		number string
		visits []survey.Visit
	}{
		{"1", []survey.Visit{{On: day(time.May, 15), State: survey.Intact}, {On: day(time.May, 29), State: survey.Taken}}},
		{"2", []survey.Visit{{On: day(time.May, 15), State: survey.Taken}}},
		{"3", []survey.Visit{{On: day(time.May, 15), State: survey.Lost}}},
	}
	for i, w := range want {
		n := res.Data.Nests[i]
		if n.Number != w.number || n.Site != "north" || n.Substrate != survey.PricklyPear || !reflect.DeepEqual(n.Visits, w.visits) {
			t.Errorf("nest %d is %+v, want %s %v", i, n, w.number, w.visits)
		}
	}
	if r := res.Data.Nests[1].Remains; r.Bits != "halves" || r.Heaps != "none" || r.Holes != "" {
		t.Errorf("remains %+v", r)
	}
	if b := res.Data.Belts[0]; b.LengthFt != 750 || b.WidthFt != 6 || b.Counts[survey.Bunchgrass] != 17 || b.Counts[survey.PricklyPear] != 4 || len(b.Counts) != 2 {
		t.Errorf("belt %+v", b)
	}
}

// A sheet made of looks does not depend on the order they came in, nor on how often.
func TestFoldOrder(t *testing.T) {
	p := &phone{device: "one", who: "JR"}
	p.sees(lineA, 1, fieldwork.Set, "cover", "yucca", "set_on", "2026-05-01")
	wrong := p.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "lost")
	p.undoes(wrong)
	p.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
	want := fieldwork.Fold(lines(), p.looks)
	twice := append([]fieldwork.Look{p.looks[3], p.looks[2], p.looks[0], p.looks[1]}, p.looks...)
	got := fieldwork.Fold(lines(), twice)
	if !reflect.DeepEqual(got, want) {
		t.Errorf("twice and shuffled: %v, want %v", got, want)
	}
	if len(want.Nests) != 2 || want.Nests[1][8] != "intact" {
		t.Errorf("rows %v", want.Nests)
	}
	var a, b bytes.Buffer
	if err := errors.Join(want.WriteWorkbook(&a), got.WriteWorkbook(&b)); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Errorf("the same looks give other bytes: %v", err)
	}
}

func TestConflicts(t *testing.T) {
	set := func(p *phone) { p.sees(lineA, 1, fieldwork.Set, "cover", "yucca", "set_on", "2026-05-01") }
	for _, tt := range []struct {
		name      string
		play      func(one, two *phone) []access.ID // what is chosen
		conflicts int
		seconds   int
		states    string // of the row's checks; "-" for no row
	}{
		{"TwoPeopleSayTheSame", func(one, two *phone) []access.ID {
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
			two.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
			return nil
		}, 0, 1, "intact"},
		{"TwoPeopleContradict", func(one, two *phone) []access.ID {
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
			two.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "lost")
			return nil
		}, 1, 0, "-"},
		{"SomebodyChooses", func(one, two *phone) []access.ID {
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
			return []access.ID{two.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "lost")}
		}, 0, 1, "taken"},
		{"EggsLeftDiffer", func(one, two *phone) []access.ID {
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "some", "eggs_left", "1")
			two.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "some", "eggs_left", "2")
			return nil
		}, 1, 0, "-"},
		{"DaysApartIsTwoVisits", func(one, two *phone) []access.ID {
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
			two.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-16", "found", "lost")
			return nil
		}, 0, 0, "intact taken"},
		{"GoneAndThereAgain", func(one, two *phone) []access.ID {
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "lost")
			two.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-16", "found", "all")
			return nil
		}, 1, 0, "-"},
		{"NotFoundAndFoundLater", func(one, two *phone) []access.ID {
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "not_found")
			two.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-16", "found", "all")
			return nil
		}, 0, 0, "intact"},
		{"MendedOnTheSamePhone", func(one, _ *phone) []access.ID {
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "lost")
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
			return nil
		}, 0, 0, "intact"},
		{"SetTwiceUnlike", func(one, two *phone) []access.ID {
			two.sees(lineA, 1, fieldwork.Set, "cover", "bunchgrass", "set_on", "2026-05-01")
			one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
			return nil
		}, 1, 0, "-"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			one, two := &phone{device: "one", who: "JR"}, &phone{device: "second", who: "ML"}
			set(one)
			chosen := tt.play(one, two)
			for _, id := range chosen {
				one.sees(lineA, 1, fieldwork.Choose, "keep", string(id))
			}
			f := fieldwork.Fold(lines(), append(one.looks, two.looks...))
			if len(f.Conflicts) != tt.conflicts || len(f.Seconds) != tt.seconds {
				t.Errorf("%d conflicts and %d second looks, want %d and %d", len(f.Conflicts), len(f.Seconds), tt.conflicts, tt.seconds)
			}
			got := "-"
			if len(f.Nests) > 1 {
				got = strings.Join(strings.Fields(f.Nests[1][8]+" "+f.Nests[1][10]+" "+f.Nests[1][12]), " ")
			}
			if got != tt.states {
				t.Errorf("states %q, want %q", got, tt.states)
			}
		})
	}
}

// What a second person saw the same day goes along in the sheet and changes nothing else.
func TestSecondLook(t *testing.T) {
	one, two := &phone{device: "one", who: "JR"}, &phone{device: "second", who: "ML"}
	one.sees(lineA, 1, fieldwork.Set, "cover", "yucca", "set_on", "2026-05-01")
	one.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
	two.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
	f := fieldwork.Fold(lines(), append(one.looks, two.looks...))
	v := read(t, &f).Data.Nests[0].Visits
	if len(v) != 1 || v[0].State != survey.Intact || v[0].Second != survey.Intact {
		t.Errorf("visits %+v", v)
	}
}

// What went out must come in, or the line stays open.
func TestClosed(t *testing.T) {
	for _, tt := range []struct {
		name        string
		eggs, flags string
		want        bool
	}{
		{"AllOut", "3", "2", true},
		{"AnEggIsMissing", "2", "2", false},
		{"AFlagIsMissing", "3", "1", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := &phone{device: "one", who: "JR"}
			p.sees(lineA, 1, fieldwork.Set, "cover", "yucca", "set_on", "2026-05-01", "eggs_set", "3", "flags_set", "1")
			p.sees(lineA, 2, fieldwork.Set, "cover", "yucca", "set_on", "2026-05-01", "eggs_set", "3", "flags_set", "1")
			p.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
			p.sees(lineA, 2, fieldwork.Check, "looked_on", "2026-05-15", "found", "lost")
			p.sees(lineA, 0, fieldwork.Close, "eggs_out", tt.eggs, "flags_out", tt.flags, "markers_out", "0", "cameras_out", "0")
			f := fieldwork.Fold(lines(), p.looks)
			if got := f.Lines[1].Closed(); got != tt.want { // B, without a pasture, comes first
				t.Errorf("closed = %v, want %v", got, tt.want)
			}
		})
	}
}

func TestValidate(t *testing.T) {
	p := &phone{device: "one", who: "JR"}
	p.sees(lineA, 1, fieldwork.Check, "looked_on", "2026-05-15", "found", "all")
	for _, tt := range []struct {
		name string
		do   func(*fieldwork.Look)
		good bool
	}{
		{"AsItIs", func(*fieldwork.Look) {}, true},
		{"NoID", func(l *fieldwork.Look) { l.ID = "1" }, false},
		{"UnknownAnswer", func(l *fieldwork.Look) { l.Answers["secret"] = "x" }, false},
		{"UnknownChoice", func(l *fieldwork.Look) { l.Answers["found"] = "maybe" }, false},
		{"AnswerOfAnotherKind", func(l *fieldwork.Look) { l.Answers["eggs_out"] = "3" }, false},
		{"NoDate", func(l *fieldwork.Look) { l.Answers["looked_on"] = "yesterday" }, false},
		{"LongWords", func(l *fieldwork.Look) { l.Answers["note"] = strings.Repeat("x", 501) }, false},
		{"Undo", func(l *fieldwork.Look) { l.Kind, l.Undoes, l.Answers = fieldwork.Undo, l.ID, nil }, true},
		{"UndoOfNothing", func(l *fieldwork.Look) { l.Kind = fieldwork.Undo }, false},
		{"NaN", func(l *fieldwork.Look) { l.Answers["eggs_left"] = "NaN" }, false},
		{"Family", func(l *fieldwork.Look) {
			l.Kind, l.Answers = fieldwork.Belt, map[string]string{"clumps_big_bluestem": "3"}
		}, true},
		{"OddFamily", func(l *fieldwork.Look) { l.Kind, l.Answers = fieldwork.Belt, map[string]string{"clumps_<b>": "3"} }, false},
	} {
		l := p.looks[0]
		l.Answers = map[string]string{"looked_on": "2026-05-15", "found": "all"}
		tt.do(&l)
		if err := l.Validate(); (err == nil) != tt.good || err != nil && !errors.Is(err, errs.Invalid) {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

// The same season by taps and as a file gives the same findings to the last digit: the nest checks of one county and season
// of open data (testdata/opendata, whose SOURCE.md says where they are from), with remains and belts added to both.
func TestSameAsFile(t *testing.T) {
	p := &phone{device: "one", who: "JR"}
	var file strings.Builder
	file.WriteString("site,season,transect,nest,substrate,set_on,checked_on,state,bits,heaps,ground\n")
	stops, kinds := map[string]int{}, []string{"halves", "crumbs", "none"}
	for _, row := range openChecks(t, "Illinois Jo Daviess", "1997") {
		nest, set, on, state := row[3], row[5], row[6], row[7]
		stop := stops[nest]
		if stop == 0 {
			stop = len(stops) + 1
			stops[nest] = stop
			p.sees(lineA, stop, fieldwork.Set, "cover", row[4], "set_on", set)
		}
		found := map[string]string{"intact": "all", "taken": "lost"}[state]
		signs := []string{"", "", ""}
		answers := []string{"looked_on", on, "found", found}
		if state == "taken" && stop%2 == 0 {
			signs = []string{kinds[stop%3], "one", "calm"}
			answers = append(answers, "lost_how", "animal", "bits", signs[0], "heaps", signs[1], "ground", signs[2])
		}
		p.sees(lineA, stop, fieldwork.Check, answers...)
		fmt.Fprintf(&file, "north,1997,A,%d,%s,%s,%s,%s,%s\n", stop, row[4], set, on, state, strings.Join(signs, ","))
	}
	belts := "site,season,transect,length,length_unit,width,width_unit,step_length,count_bunchgrass,count_prickly_pear\n" +
		"north,1997,A,290,steps,6,ft,2.7,31,5\nnorth,1997,A,700,ft,6.5,ft,,12,0\n"
	p.sees(lineA, 0, fieldwork.Belt, "belt", "1", "paces", "290", "pace_ft", "2.7", "belt_wide_ft", "6", "clumps_bunchgrass", "31", "clumps_prickly_pear", "5")
	p.sees(lineA, 0, fieldwork.Belt, "belt", "2", "belt_long_ft", "700", "belt_wide_ft", "6.5", "clumps_bunchgrass", "12", "clumps_prickly_pear", "0")

	on := lines()
	on[0].Season = 1997
	folded := fieldwork.Fold(on, p.looks)
	byTaps := read(t, &folded)
	byFile, err := intake.Read([]intake.File{{Name: "checks.csv", Data: []byte(file.String())}, {Name: "belts.csv", Data: []byte(belts)}},
		intake.Options{Ranch: "Home", Today: survey.DateOf(2026, time.August, 1)})
	if err != nil {
		t.Fatal(err)
	}
	if len(byTaps.Data.Nests) < 100 || len(byTaps.Data.Nests) != len(byFile.Data.Nests) || len(byTaps.Data.Belts) != 2 || len(byTaps.Refused)+len(byFile.Refused) > 0 {
		t.Fatalf("%d nests by taps and %d by file, %d belts, refused %v %v", len(byTaps.Data.Nests), len(byFile.Data.Nests), len(byTaps.Data.Belts), byTaps.Refused, byFile.Refused)
	}
	got, err := findings.Compute(&byTaps.Data, findings.Options{}).Pack()
	if err != nil {
		t.Fatal(err)
	}
	want, err := findings.Compute(&byFile.Data, findings.Options{}).Pack()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("by taps\n%s\nby file\n%s", got, want)
	}
}

// openChecks returns the rows of one place and season of the open data.
func openChecks(t *testing.T, place, year string) [][]string {
	t.Helper()
	data, err := os.ReadFile("../../testdata/opendata/grassland_birds_checks.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(rows, func(r []string) bool { return r[0] != place || r[1] != year })
}

// TestLinkContradictsNobody: what came by a field link makes no member's look wait, on the same day or after a nest's end; two that came by links do.
func TestLinkContradictsNobody(t *testing.T) {
	line := season.Line{ID: "l", Name: "1", Stops: 9}
	seq := 0
	look := func(stop int, link, day, found string) fieldwork.Look {
		seq++
		return fieldwork.Look{ID: access.ID(fmt.Sprint("k", seq)), Line: line.ID, Stop: stop, Kind: fieldwork.Check, Device: fmt.Sprint(seq), Who: fmt.Sprint(seq), Seq: seq, Link: link, Owner: link == "",
			Answers: map[string]string{"found": found, "looked_on": day}}
	}
	f := fieldwork.Fold([]season.Line{line}, []fieldwork.Look{
		look(1, "", "2026-05-12", fieldwork.AllHere), look(1, "Lupe", "2026-05-12", fieldwork.AllLost),
		look(2, "Lupe", "2026-05-12", fieldwork.AllLost), look(2, "", "2026-05-26", fieldwork.AllHere),
		look(3, "", "2026-05-12", fieldwork.AllLost), look(3, "Lupe", "2026-05-26", fieldwork.AllHere),
		look(4, "Lupe", "2026-05-12", fieldwork.AllLost), look(4, "Lupe", "2026-05-12", fieldwork.AllHere),
	})
	if len(f.Conflicts) != 1 || f.Conflicts[0].Stop != 4 || len(f.Nests) != 1+3 {
		t.Errorf("%d conflicts, %d rows: %+v", len(f.Conflicts), len(f.Nests)-1, f.Conflicts)
	}
	for i, last := range []string{"2026-05-12 intact", "2026-05-26 intact", "2026-05-12 taken"} {
		if row := strings.Join(f.Nests[i+1], " "); !strings.Contains(row, last) {
			t.Errorf("stop %d: %s", i+1, row)
		}
	}
}
