package export_test

import (
	"encoding/xml"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/survey"
)

// Neither names nor ways leave in what is made to be handed on, in whatever file.
func TestDarwinCoreIsSafeToHandOn(t *testing.T) {
	r := sample()
	for name, data := range unzipped(t, made(t, r.DarwinCore)) {
		for _, never := range []string{"Cottonwood", "Marsh", "Ada", "East pasture", "north", "412 paces", "N 40 E", "windmill", "gate", "lock 4711", "sagebrush", "HYPERLINK", "señal", "5120.25", "sandy", r.Key, "bluestem"} {
			if strings.Contains(string(data), never) {
				t.Errorf("%s says %q", name, never)
			}
		}
	}
	// Without the ranch's key nobody makes the ids from guessed names.
	other := sample()
	other.Key = "9b241101-e2bb-4255-8caf-4136c566a962"
	mine := column(t, read(t, unzipped(t, made(t, r.DarwinCore))["event.csv"]), "eventID")
	for _, id := range column(t, read(t, unzipped(t, made(t, other.DarwinCore))["event.csv"]), "eventID") {
		for _, m := range mine {
			if id == m {
				t.Fatalf("id %s does not depend on the key", id)
			}
		}
	}
}

// The private columns are in one export only.
func TestOnlyTheOwnersSheetsArePrivate(t *testing.T) {
	for name, fn := range exports(sample(), sampleBulletin()) {
		var all strings.Builder
		for _, b := range unzipped(t, made(t, fn)) {
			all.Write(b)
		}
		for _, secret := range []string{"412 paces", "N 40 E", "past the windmill", "lock 4711", "SECRET REASON"} {
			want := name == "own sheets" && secret != "SECRET REASON"
			if got := strings.Contains(all.String(), secret); got != want {
				t.Errorf("%s holds %q: %v, want %v", name, secret, got, want)
			}
		}
	}
}

// Darwin Core Text Guide (TDWG), section 2: one core with an id, extensions with a coreid that names a core row, each
// field's index within the columns, each term once; and Event Core: parents that are there.
func TestDarwinCoreArchive(t *testing.T) {
	files := unzipped(t, made(t, sample().DarwinCore))
	type part struct {
		RowType string `xml:"rowType,attr"`
		Lines   string `xml:"linesTerminatedBy,attr"`
		Header  int    `xml:"ignoreHeaderLines,attr"`
		File    string `xml:"files>location"`
		ID      *struct {
			Index int `xml:"index,attr"`
		} `xml:"id"`
		CoreID *struct {
			Index int `xml:"index,attr"`
		} `xml:"coreid"`
		Fields []struct {
			Index int    `xml:"index,attr"`
			Term  string `xml:"term,attr"`
		} `xml:"field"`
	}
	var meta struct {
		XMLName    xml.Name `xml:"http://rs.tdwg.org/dwc/text/ archive"`
		Metadata   string   `xml:"metadata,attr"`
		Core       part     `xml:"core"`
		Extensions []part   `xml:"extension"`
	}
	if err := xml.Unmarshal(files["meta.xml"], &meta); err != nil {
		t.Fatal(err)
	}
	if files[meta.Metadata] == nil || meta.Core.ID == nil || meta.Core.RowType != "http://rs.tdwg.org/dwc/terms/Event" || len(meta.Extensions) != 2 {
		t.Fatalf("meta.xml = %+v", meta)
	}
	events := read(t, files[meta.Core.File])
	ids := map[string]string{} // and the kind of event
	kinds := column(t, events, "eventType")
	for i, id := range column(t, events, "eventID") {
		if ids[id] != "" {
			t.Errorf("event %s stands twice", id)
		}
		ids[id] = kinds[i]
	}
	parents := map[string]string{"season": "", "transect": "season", "simulated nest": "transect", "look": "simulated nest", "belt": "transect"}
	for i, parent := range column(t, events, "parentEventID") {
		if got, want := ids[parent], parents[kinds[i]]; got != want {
			t.Errorf("the parent of a %s is %q, want %q", kinds[i], got, want)
		}
	}
	for _, p := range append(meta.Extensions, meta.Core) {
		rows := read(t, files[p.File])
		if p.Header != 1 || p.Lines != `\r\n` || strings.Count(string(files[p.File]), "\r\n") != strings.Count(string(files[p.File]), "\n") {
			t.Errorf("%s: lines do not end as meta.xml says", p.File)
		}
		terms := map[string]bool{}
		for _, f := range p.Fields {
			if f.Index >= len(rows[0]) || !strings.HasSuffix(f.Term, "/"+rows[0][f.Index]) || terms[f.Term] {
				t.Errorf("%s: column %d is not %s", p.File, f.Index, f.Term)
			}
			terms[f.Term] = true
		}
		if p.CoreID == nil {
			continue
		}
		for _, row := range rows[1:] {
			if ids[row[p.CoreID.Index]] == "" {
				t.Errorf("%s: a row of no event: %v", p.File, row)
			}
		}
	}
	iso := regexp.MustCompile(`^(\d{4}-\d\d-\d\d)?(/\d{4}-\d\d-\d\d)?$`) // ISO 8601-1, a day or an interval
	for _, d := range column(t, events, "eventDate") {
		if !iso.MatchString(d) {
			t.Errorf("eventDate %q", d)
		}
	}
	for _, name := range []string{"dataGeneralizations", "informationWithheld", "samplingProtocol"} {
		for _, v := range column(t, events, name) {
			if v == "" {
				t.Errorf("an event without %s", name)
			}
		}
	}
}

// A shop egg is an occurrence of nothing: only what a camera proved is one, whatever signs and guesses say.
func TestOccurrencesAreAnimalsOnCamera(t *testing.T) {
	r := sample()
	rows := read(t, unzipped(t, made(t, r.DarwinCore))["occurrence.csv"])
	if got := len(rows) - 1; got != 2 {
		t.Errorf("%d occurrences, want the 2 that cameras settled", got)
	}
	for _, row := range rows[1:] {
		line := strings.ToLower(strings.Join(row, " "))
		for _, never := range []string{"gallus", "colinus", "egg", "galliformes"} {
			if strings.Contains(line, never) {
				t.Errorf("an egg as an occurrence: %s", line)
			}
		}
		if !strings.Contains(line, "machineobservation") {
			t.Errorf("not seen by a machine: %s", line)
		}
	}
	for i := range r.Data.Nests {
		r.Data.Nests[i].Camera = ""
		r.Data.Nests[i].Guess = string(survey.Raccoon)
	}
	if got := len(read(t, unzipped(t, made(t, r.DarwinCore))["occurrence.csv"])) - 1; got != 0 {
		t.Errorf("%d occurrences without a camera", got)
	}
}

// Neither is anything in a bulletin's archive: it has events and measurements, every figure of the tables among them.
func TestBulletinArchiveHasNoOccurrence(t *testing.T) {
	files := unzipped(t, made(t, sampleBulletin().DarwinCore))
	for name, data := range files {
		if strings.Contains(name, "occurrence") || name == "meta.xml" && strings.Contains(strings.ToLower(string(data)), "occurrence") {
			t.Errorf("%s has occurrences", name)
		}
	}
	sheets := unzipped(t, made(t, sampleBulletin().Sheets))
	events, figures := read(t, files["event.csv"]), read(t, files["extendedmeasurementorfact.csv"])
	if got, want := len(figures)-1, len(read(t, sheets["cells.csv"]))-1; got != want {
		t.Errorf("%d measurements, want %d", got, want)
	}
	ids := map[string]bool{}
	for _, id := range column(t, events, "eventID") {
		ids[id] = true
	}
	for _, id := range column(t, figures, "eventID") {
		if !ids[id] {
			t.Errorf("a figure of no event: %s", id)
		}
	}
	for _, row := range figures[1:] {
		if row[2] == "" || row[3] == "" {
			t.Errorf("a figure without a name or a value: %q", row)
		}
	}
}

// A belt's acres: 726 ft by 6.5 ft is 4719 square feet, and an acre is 43 560 (NIST Handbook 44, Appendix C).
func TestDarwinCoreSampleSize(t *testing.T) {
	rows := read(t, unzipped(t, made(t, sample().DarwinCore))["event.csv"])
	units, sizes := column(t, rows, "sampleSizeUnit"), column(t, rows, "sampleSizeValue")
	found := false
	for i, u := range units {
		if x, err := strconv.ParseFloat(sizes[i], 64); u == "acres" && err == nil && x*43560 > 4718.999 && x*43560 < 4719.001 {
			found = true
		}
	}
	if !found {
		t.Errorf("no belt of 4719 square feet among %q", sizes)
	}
}
