package fieldwork

import (
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/errs"
	"tussock/internal/season"
	"tussock/internal/sheet"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// mostChecks is the number of checks a row has columns for, as many as anybody makes at one nest.
const mostChecks = 4

func nestHeadings() []string {
	h := []string{"site", "season", "transect", "nest", "substrate", "plant", "set_on"}
	for i := range mostChecks {
		n := strconv.Itoa(i + 1)
		h = append(h, "check"+n+"_on", "check"+n)
	}
	h = append(h, "eggs_left")
	for _, f := range survey.Features {
		h = append(h, f.Name)
	}
	return append(h, "trace", "guess", "steps", "bearing", "spot", "notes", "second_look")
}

// nestRow writes one nest. Where more checks were made than there are columns, those in the middle that found it whole
// say nothing that the last of them does not, and are left out.
func nestRow(l season.Line, stop int, set Look, visits []Look, second Look) []string {
	if over := len(visits) - mostChecks; over > 0 {
		visits = slices.Delete(slices.Clone(visits), 1, 1+over)
	}
	row := []string{l.Pasture, strconv.Itoa(l.Season), l.Name, strconv.Itoa(stop), spoken(set.Answers["cover"]), set.Answers["cover_plant"], set.Answers["set_on"]}
	last := Look{}
	var notes []string
	if note := set.Answers["note"]; note != "" {
		notes = append(notes, note)
	}
	for i := range mostChecks {
		if i >= len(visits) {
			row = append(row, "", "")
			continue
		}
		last = visits[i]
		row = append(row, last.Answers["looked_on"], string(StateOf(last)))
		if note := last.Answers["note"]; note != "" {
			notes = append(notes, note)
		}
	}
	row = append(row, last.Answers["eggs_left"])
	for _, f := range survey.Features {
		row = append(row, last.Answers[f.Name])
	}
	return append(row, last.Answers["trace"], last.Answers["guess"], set.Answers["steps"], set.Answers["bearing"], set.Answers["place"], strings.Join(notes, "; "), string(StateOf(second)))
}

// StateOf returns what a check found, in the words of package survey. Eggs gone without a sign of how count as taken, as
// in every sheet (common practice, no source).
func StateOf(l Look) survey.State {
	switch l.Answers["found"] {
	case AllHere:
		return survey.Intact
	case NotFound:
		return survey.Lost
	case SomeGone, AllLost:
		switch l.Answers["lost_how"] {
		case "hoof":
			return survey.Trampled
		case "water":
			return survey.Flooded
		case "hail", "fire", "burst", "people":
			return survey.Spoiled
		}
		return survey.Taken
	}
	return ""
}

// spoken turns an answer into the word of a sheet: prickly_pear is prickly pear.
func spoken(answer string) string { return strings.ReplaceAll(answer, "_", " ") }

const clumps = "clumps_"

// beltHeadings has a column for every kind of clump that was counted.
func beltHeadings(looks []Look) []string {
	h := []string{"site", "season", "transect", "length", "length_unit", "width", "width_unit", "step_length"}
	var kinds []string
	for _, l := range looks {
		for name := range l.Answers {
			if kind, ok := strings.CutPrefix(name, clumps); ok && kind != "maybe" && !slices.Contains(kinds, kind) {
				kinds = append(kinds, kind)
			}
		}
	}
	slices.Sort(kinds)
	for _, kind := range kinds {
		h = append(h, "count_"+kind)
	}
	return h
}

// belts writes a line's belts. Each belt counted by a second person counts once, by whoever was first.
func (f *folder) belts(l season.Line, looks []Look, state *LineState) {
	byName := byAnswer(latest(looks, "belt"), "belt")
	for _, name := range slices.Sorted(maps.Keys(byName)) {
		look, _ := f.agree(l, 0, byName[name])
		f.out.Belts = append(f.out.Belts, f.beltRow(l, look))
		state.Belts++
	}
}

func (f *folder) beltRow(l season.Line, look Look) []string {
	row := []string{l.Pasture, strconv.Itoa(l.Season), l.Name, look.Answers["belt_long_ft"], "ft", look.Answers["belt_wide_ft"], "ft", ""}
	if paces := look.Answers["paces"]; paces != "" {
		row[3], row[4], row[7] = paces, "steps", look.Answers["pace_ft"]
	}
	for _, heading := range f.out.Belts[0][len(row):] {
		row = append(row, look.Answers[clumps+strings.TrimPrefix(heading, "count_")])
	}
	return row
}

// WriteWorkbook writes the sheet as a workbook that reads like any that is sent. The same looks give the same bytes.
func (f *Folded) WriteWorkbook(w io.Writer) error {
	var sheets []sheet.Blank
	for _, s := range []struct {
		name string
		rows [][]string
	}{{"nests", f.Nests}, {"belts", f.Belts}} {
		if len(s.rows) < 2 {
			continue
		}
		blank := sheet.Blank{Name: s.name, Rows: s.rows[1:]}
		for _, h := range s.rows[0] {
			blank.Columns = append(blank.Columns, sheet.Column{Heading: h, Width: 12})
		}
		sheets = append(sheets, blank)
	}
	if len(sheets) == 0 {
		return errs.New(errs.Invalid, words.Mark("Nothing has come in from the field yet."))
	}
	return sheet.WriteWorkbook(w, sheets)
}
