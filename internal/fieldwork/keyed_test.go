package fieldwork_test

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/findings"
	"tussock/internal/intake"
	"tussock/internal/season"
	"tussock/internal/survey"
)

var keyLine = season.Line{ID: "6f1c1a52-7d43-4f0e-9a55-0d9f3f0f8d11", Ranch: "0b7d9f9e-2a1c-4a53-8f0e-3f2c8a1f5c22", Season: 2026, Name: "3", Pasture: "North", Stops: 12}

// keyedOn is the day on which sheets are keyed.
var keyedOn = survey.DateOf(2026, time.August, 1)

func sheetOf() fieldwork.Keyed {
	return fieldwork.Keyed{"on1": "2026-05-04", "on2": "2026-05-18", "on3": "2026-06-01", "who1": "LO", "who2": "LO", "who3": "MR",
		"cover.1": "1", "found2.1": "1", "fresh2.1": "3", "found3.1": "a",
		"cover.2": "y", "found2.2": "S", "left2.2": "1", "how2.2": "1", "bits.2": "4", "opened_at.2": "2", "trace.2": "hair on the wire", "guess.2": "coyote?",
		"cover.3": "sand sage", "found2.3": "n"}
}

func TestKeyedLooks(t *testing.T) {
	looks, slips := sheetOf().Looks(keyLine, keyedOn)
	if len(slips) > 0 {
		t.Fatal(slips)
	}
	if len(looks) != 7 {
		t.Fatalf("%d looks, want 3 set out and 4 checks", len(looks))
	}
	for i := range looks {
		looks[i].ID, looks[i].Device = keyLine.ID, "paper-x"
		if err := looks[i].Validate(); err != nil {
			t.Errorf("%+v: %v", looks[i], err)
		}
	}
	want := map[string]string{"look": "1", "looked_on": "2026-05-18", "found": "some", "eggs_left": "1", "lost_how": "animal", "bits": "halves", "opened_at": "side", "trace": "hair on the wire", "guess": "coyote?"}
	if diff := cmp.Diff(want, looks[4].Answers); diff != "" {
		t.Error(diff)
	}
	if looks[4].Who != "LO" || looks[2].Who != "MR" || looks[5].Answers["cover"] != "sand sage" {
		t.Error("initials or cover went astray")
	}
}

func TestKeyedSlips(t *testing.T) {
	tests := []struct{ name, box, value, slip string }{
		{"no such state", "found2.1", "q", "found2.1"},
		{"too many eggs", "left2.2", "4", "left2.2"},
		{"all here, one left", "left2.1", "1", "left2.1"},
		{"some gone, none left", "left2.2", "0", "left2.2"},
		{"no such way", "how2.2", "9", "how2.2"},
		{"a way, nothing lost", "how2.1", "1", "how2.1"},
		{"no such box", "bits.2", "6", "bits.2"},
		{"remains, nothing lost", "bits.1", "1", "bits.1"},
		{"back again", "found3.2", "1", "found3.2"},
		{"no day", "on2", "", "on2"},
		{"not a day", "on2", "18 May", "on2"},
		{"another year", "on2", "2025-05-18", "on2"},
		{"before it was set", "on2", "2026-05-01", "on2"},
		{"a day to come", "on3", "2026-08-03", "on3"},
		{"a day to come, of a stop alone", "other_on.2", "2026-08-03", "other_on.2"},
		{"week 4 before week 2", "on3", "2026-05-10", "on3"},
		{"looked at, in nothing", "cover.1", "", "cover.1"},
		{"eggs beside no state", "left3.3", "2", "found3.3"},
		{"stop there is not", "other_stop.1", "13", "other_stop.1"},
		{"a note of a book's length", "note.1", strings.Repeat("x", 501), "note.1"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			k := sheetOf()
			k[test.box] = test.value
			if test.box == "other_on.2" {
				k["other_stop.2"], k["other_day.2"] = "1", "3"
			}
			looks, slips := k.Looks(keyLine, keyedOn)
			if looks != nil || len(slips) == 0 || slips[0].Box != test.slip {
				t.Errorf("slips %v, want one at %s; %d looks", slips, test.slip, len(looks))
			}
		})
	}
}

// TestKeyedAgain: what is kept comes back as the sheet it was; the same sheet adds nothing, and one box mended takes back
// one look and adds one.
func TestKeyedAgain(t *testing.T) {
	k := sheetOf()
	maps.Copy(k, fieldwork.Keyed{"other_stop.1": "3", "other_day.1": "2", "other_on.1": "2026-05-20", "belt_on": "2026-06-01", "who4": "LO", "belt_wide_ft": "6", "paces": "290",
		"pace.1": "120", "pace.2": "118", "pace.3": "122", "count_bunchgrass": "31", "count_yucca": "4", "count_maybe": "2", "second_who": "MR", "again_bunchgrass": "29", "again_yucca": "4",
		"who6": "LO", "out_on": "2026-06-02", "eggs_out": "4", "flags_out": "12"})
	now := time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC)
	sheet, slips := k.Looks(keyLine, keyedOn)
	if len(slips) > 0 {
		t.Fatal(slips)
	}
	first := fieldwork.Rekey(keyLine.ID, nil, sheet, "8d2c11aa-0000-4000-8000-000000000001", now)
	for i := range first {
		if err := first[i].Validate(); err != nil {
			t.Fatal(err)
		}
	}
	back := fieldwork.KeyedOf(keyLine, fieldwork.FromPaper(keyLine.ID, first))
	again, slips := back.Looks(keyLine, keyedOn)
	if len(slips) > 0 {
		t.Fatal(slips)
	}
	if add := fieldwork.Rekey(keyLine.ID, first, again, "9999", now); len(add) > 0 {
		t.Errorf("the same sheet added %d looks: %+v", len(add), add)
	}
	back["found3.1"], back["left3.1"] = "2", "1"
	mended, slips := back.Looks(keyLine, keyedOn)
	if len(slips) > 0 {
		t.Fatal(slips)
	}
	add := fieldwork.Rekey(keyLine.ID, first, mended, "9999", now)
	if len(add) != 2 || add[0].Kind != fieldwork.Check || add[1].Kind != fieldwork.Undo {
		t.Fatalf("mending one box added %+v", add)
	}
	all := append(first, add...)
	if live := fieldwork.FromPaper(keyLine.ID, all); len(live) != len(first) {
		t.Errorf("%d looks hold, want %d", len(live), len(first))
	}
	// And back to what it was: new looks, since the first were taken back.
	back["found3.1"], back["left3.1"] = "1", ""
	undone, _ := back.Looks(keyLine, keyedOn)
	seen := map[access.ID]bool{}
	for _, l := range append(all, fieldwork.Rekey(keyLine.ID, all, undone, "9999", now)...) {
		if seen[l.ID] {
			t.Errorf("two looks are called %s", l.ID)
		}
		seen[l.ID] = true
	}
}

func TestAgain(t *testing.T) {
	for stops, want := range map[int]int{0: 0, 1: 1, 10: 1, 12: 2, 24: 3} {
		l := keyLine
		l.Stops = stops
		if got := fieldwork.Again(l); len(got) != want {
			t.Errorf("%d stops: keyed again %v, want %d", stops, got, want)
		}
	}
	first, second := sheetOf(), sheetOf()
	second["left2.2"] = "2"
	want := []fieldwork.Difference{{Box: "left2", Stop: 2, First: "1", Second: "2"}}
	if diff := cmp.Diff(want, fieldwork.Differences(first, second, []int{1, 2})); diff != "" {
		t.Error(diff)
	}
}

// TestOneRoad: a season that is keyed from paper, tapped on a phone or sent as a sheet comes to the same figures to the
// last digit. The sheet is written here by hand, so that no step of the other two has a part in it.
func TestOneRoad(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	var csv strings.Builder
	csv.WriteString("ranch,site,season,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2,eggs_left,bits,bits_far_ft,heaps,opened_at,bite_way,holes,inside,ground,bowl\n")
	belts := "ranch,site,season,transect,length,length_unit,width,width_unit,count_bunchgrass,count_yucca\n"
	var lines []season.Line
	var keyed, tapped []fieldwork.Look
	for i := range 4 {
		l := keyLine
		l.ID, l.Name = access.ID(fmt.Sprintf("6f1c1a52-7d43-4f0e-9a55-0d9f3f0f8d%02d", i)), fmt.Sprint(i+1)
		lines = append(lines, l)
		k := fieldwork.Keyed{"on1": "2026-05-04", "on2": "2026-05-18", "on3": "2026-06-01", "who1": "LO", "who2": "LO", "who3": "LO"}
		bunchgrass, yucca := r.IntN(40), r.IntN(12)
		belts += fmt.Sprintf(",%s,2026,%s,726,ft,6,ft,%d,%d\n", l.Pasture, l.Name, bunchgrass, yucca)
		maps.Copy(k, fieldwork.Keyed{"belt_on": "2026-06-01", "who4": "LO", "belt_wide_ft": "6", "belt_long_ft": "726", "count_bunchgrass": fmt.Sprint(bunchgrass), "count_yucca": fmt.Sprint(yucca)})
		tapped = append(tapped, fieldwork.Look{ID: access.ID(fmt.Sprintf("00000000-0000-4000-8000-%012d", 900000+i)), Ranch: l.Ranch, Season: l.Season, Line: l.ID, Kind: fieldwork.Belt,
			Who: "MR", Device: "phone", Seq: 900000 + i, At: time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC), Answers: map[string]string{"belt": "1", "belt_on": "2026-06-01",
				"belt_wide_ft": "6", "belt_long_ft": "726", "clumps_bunchgrass": fmt.Sprint(bunchgrass), "clumps_yucca": fmt.Sprint(yucca)}})
		for stop := 1; stop <= l.Stops; stop++ {
			season := newSeason(r)
			season.row(&csv, l, stop)
			season.key(k, stop)
			tapped = append(tapped, season.tap(l, stop, len(tapped))...)
		}
		sheet, slips := k.Looks(l, keyedOn)
		if len(slips) > 0 {
			t.Fatal(slips)
		}
		keyed = append(keyed, fieldwork.Rekey(l.ID, nil, sheet, "8d2c11aa", time.Now())...)
	}
	want := figures(t, intake.File{Name: "nests.csv", Data: []byte(csv.String())}, intake.File{Name: "belts.csv", Data: []byte(belts)})
	for name, looks := range map[string][]fieldwork.Look{"keyed": keyed, "tapped": tapped} {
		folded := fieldwork.Fold(lines, looks)
		if len(folded.Conflicts) > 0 || folded.Stray > 0 {
			t.Errorf("%s: %d conflicts, %d stray", name, len(folded.Conflicts), folded.Stray)
		}
		var b bytes.Buffer
		if err := folded.WriteWorkbook(&b); err != nil {
			t.Fatal(err)
		}
		if got := figures(t, intake.File{Name: "sheet.xlsx", Data: b.Bytes()}); got != want {
			t.Errorf("%s: %s", name, cmp.Diff(want, got))
		}
	}
}

// A nestSeason is what befell one nest: what was found at the two checks, and the remains.
type nestSeason struct {
	cover   int
	found   [2]string // "", or one of fieldwork's
	left    int
	how     int // 1 to 8, 0 not written down
	remains map[string]int
}

func newSeason(r *rand.Rand) nestSeason {
	n := nestSeason{cover: 1 + r.IntN(2)*2, remains: map[string]int{}}
	pick := func() string {
		return []string{fieldwork.AllHere, fieldwork.AllHere, fieldwork.AllHere, fieldwork.SomeGone, fieldwork.AllLost, fieldwork.NotFound}[r.IntN(6)]
	}
	n.found[0] = pick()
	if n.found[0] == fieldwork.AllHere {
		n.found[1] = pick()
	}
	last := n.last()
	if last == fieldwork.SomeGone {
		n.left = 1 + r.IntN(2)
	}
	if last == fieldwork.SomeGone || last == fieldwork.AllLost {
		n.how = r.IntN(9)
		for _, f := range survey.Features {
			if r.IntN(3) > 0 {
				n.remains[f.Name] = 1 + r.IntN(len(f.Choices))
			}
		}
	}
	return n
}

func (n *nestSeason) last() string {
	if n.found[1] != "" {
		return n.found[1]
	}
	return n.found[0]
}

// row writes it as an owner's sheet has it, in the words of the columns.
func (n *nestSeason) row(b *strings.Builder, l season.Line, stop int) {
	word := func(found string) string {
		switch {
		case found == fieldwork.AllHere:
			return "intact"
		case found == fieldwork.NotFound:
			return "lost"
		case found == "":
			return ""
		}
		return []string{"taken", "taken", "trampled", "flooded", "spoiled", "spoiled", "spoiled", "spoiled", "taken"}[n.how]
	}
	second := ""
	if n.found[1] != "" {
		second = "2026-06-01"
	}
	left := ""
	if n.left > 0 {
		left = fmt.Sprint(n.left)
	}
	fmt.Fprintf(b, ",%s,2026,%s,%d,%s,2026-05-04,2026-05-18,%s,%s,%s,%s", l.Pasture, l.Name, stop, []string{"", "bunchgrass", "", "yucca"}[n.cover], word(n.found[0]), second, word(n.found[1]), left)
	for _, f := range survey.Features {
		b.WriteString(",")
		if i := n.remains[f.Name]; i > 0 {
			b.WriteString(f.Choices[i-1])
		}
	}
	b.WriteString("\n")
}

// key writes it into the boxes of the paper sheet.
func (n *nestSeason) key(k fieldwork.Keyed, stop int) {
	k[fmt.Sprintf("cover.%d", stop)] = fmt.Sprint(n.cover)
	for i, found := range n.found {
		if found == "" {
			continue
		}
		k[fmt.Sprintf("found%d.%d", i+2, stop)] = map[string]string{fieldwork.AllHere: "1", fieldwork.SomeGone: "2", fieldwork.AllLost: "3", fieldwork.NotFound: "4"}[found]
		if found == n.last() && found != fieldwork.AllHere {
			if n.left > 0 {
				k[fmt.Sprintf("left%d.%d", i+2, stop)] = fmt.Sprint(n.left)
			}
			if n.how > 0 {
				k[fmt.Sprintf("how%d.%d", i+2, stop)] = fmt.Sprint(n.how)
			}
		}
	}
	for name, i := range n.remains {
		k[fmt.Sprintf("%s.%d", name, stop)] = fmt.Sprint(i)
	}
}

// tap writes it as a phone sends it.
func (n *nestSeason) tap(l season.Line, stop, seq int) []fieldwork.Look {
	look := func(kind fieldwork.Kind, on string, answers map[string]string) fieldwork.Look {
		seq++
		at, _ := time.Parse(time.DateOnly, on)
		return fieldwork.Look{ID: access.ID(fmt.Sprintf("00000000-0000-4000-8000-%012d", seq)), Ranch: l.Ranch, Season: l.Season, Line: l.ID, Stop: stop, Kind: kind,
			Who: "MR", Device: "phone", Seq: seq, At: at.Add(15 * time.Hour), Answers: answers}
	}
	looks := []fieldwork.Look{look(fieldwork.Set, "2026-05-04", map[string]string{"cover": fieldwork.Covers[n.cover-1], "set_on": "2026-05-04", "eggs_set": "3"})}
	for i, found := range n.found {
		if found == "" {
			continue
		}
		on := []string{"2026-05-18", "2026-06-01"}[i]
		a := map[string]string{"looked_on": on, "found": found}
		if found == n.last() {
			if n.left > 0 {
				a["eggs_left"] = fmt.Sprint(n.left)
			}
			if n.how > 0 {
				a["lost_how"] = fieldwork.LostHow[n.how-1]
			}
			for _, f := range survey.Features {
				if i := n.remains[f.Name]; i > 0 {
					a[f.Name] = f.Choices[i-1]
				}
			}
		}
		looks = append(looks, look(fieldwork.Check, on, a))
	}
	return looks
}

// figures reads files as if they had been sent and returns everything computed from them.
func figures(t *testing.T, files ...intake.File) string {
	t.Helper()
	res, err := intake.Read(files, intake.Options{Ranch: "Cottonwood Draw", Season: 2026, Today: survey.DateOf(2026, 8, 1)})
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Refused) > 0 || len(res.Questions) > 0 || len(res.Data.Nests) != 48 || len(res.Data.Belts) != 4 {
		t.Fatalf("%s: %d nests, %d belts, refused %v, questions %v", files[0].Name, len(res.Data.Nests), len(res.Data.Belts), res.Refused, res.Questions)
	}
	found, err := findings.Compute(&res.Data, findings.Options{}).Pack()
	if err != nil {
		t.Fatal(err)
	}
	return string(found)
}
