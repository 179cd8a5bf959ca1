package demo

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

// A Sheet is what one landowner sends for one ranch and season: one workbook, or a CSV file a table.
type Sheet struct {
	Ranch  string
	Season int
	Open   bool // it holds questions that nobody has answered yet
	Files  []File
}

// A File is one of them, byte for byte.
type File struct {
	Name string
	Data []byte
}

// A table is one worksheet or CSV file: a row of headings, then the rows.
type table struct {
	name string
	rows [][]string
}

// A hand is how one crew writes: each ranch and season has its own words for the same things.
type hand struct {
	date   func(survey.Date) string
	states map[survey.State]string
	words  map[survey.Substrate]string
	book   bool // a workbook rather than CSV files
	messy  bool // blanks and a word that only its writer knows
}

func (f *field) hand() hand {
	h := hand{date: survey.Date.String, states: map[survey.State]string{}, words: map[survey.Substrate]string{}}
	for _, s := range survey.States {
		h.states[s] = string(s)
	}
	for _, s := range substrates {
		h.words[s] = string(s)
	}
	r := random(uint64(f.season), "hand", f.ranch.Name)
	switch r.IntN(6) {
	case 0, 1:
		h.date = func(d survey.Date) string { return d.Time().Format("1/2/2006") }
	case 2:
		h.date = func(d survey.Date) string { return d.Time().Format("Jan 2") }
	}
	if r.IntN(3) == 0 {
		h.states[survey.Intact], h.states[survey.Taken] = "ok", "gone"
	}
	switch r.IntN(5) {
	case 0:
		h.words[survey.Bunchgrass] = "BG"
	case 1:
		h.words[survey.Yucca] = "soapweed"
	}
	h.book = r.IntN(5) == 0
	if f.ranch.Name == QuestionRanch && f.season == lastSeason {
		return hand{date: survey.Date.String, states: h.states, words: h.words, messy: true}
	}
	return h
}

func (f *field) sheet() Sheet {
	h := f.hand()
	s := Sheet{Ranch: f.ranch.Name, Season: f.season, Open: h.messy}
	tables := []table{f.nestTable(h), f.beltTable()}
	if f.opens() {
		tables = append(tables, f.siteTable())
	}
	stem := fmt.Sprintf("%s %d", strings.ReplaceAll(f.ranch.Name, "'", ""), f.season)
	if h.book {
		s.Files = append(s.Files, File{stem + ".xlsx", workbook(tables)})
		return s
	}
	for _, t := range tables {
		s.Files = append(s.Files, File{stem + " " + t.name + ".csv", commaSeparated(t)})
	}
	return s
}

func (f *field) nestTable(h hand) table {
	t := table{name: "nests", rows: [][]string{{"ranch", "site", "season", "transect", "nest", "substrate", "plant", "set_on",
		"check1_on", "check1", "check2_on", "check2", "second_look", "steps", "bearing", "spot"}}}
	for _, feature := range survey.Features {
		t.rows[0] = append(t.rows[0], feature.Name)
	}
	t.rows[0] = append(t.rows[0], "eggs_left", "camera", "camera_on", "guess", "notes")
	blank := 2 // how many second visits the messy hand leaves out
	for i := range f.nests {
		n := &f.nests[i]
		word := h.words[n.Substrate]
		if h.messy && n.Substrate == survey.Shrub && i < 6 {
			word = "buckbrush"
		}
		row := []string{n.Ranch, n.Site, strconv.Itoa(n.Season), n.Transect, n.Number, word, n.Plant, h.date(n.SetOn)}
		for v := range 2 {
			if v >= len(n.Visits) {
				row = append(row, "", "")
				continue
			}
			row = append(row, h.date(n.Visits[v].On), h.states[n.Visits[v].State])
		}
		if h.messy && blank > 0 && n.Fate() == survey.Intact {
			row[len(row)-2], row[len(row)-1] = "", ""
			blank--
		}
		second := ""
		if at := len(n.Visits) - 1; at >= 0 && n.Visits[at].Second != "" && row[len(row)-2*(2-at)] != "" { // not where the messy hand left the visit out
			second = h.states[n.Visits[at].Second]
		}
		row = append(row, second, n.Spot.Steps, n.Spot.Bearing, n.Spot.Text)
		signs := n.Signs()
		for _, feature := range survey.Features {
			row = append(row, *feature.Value(&signs))
		}
		eggs := ""
		if n.EggsLeft >= 0 {
			eggs = strconv.Itoa(n.EggsLeft)
		}
		seen := ""
		if n.CameraOn != 0 {
			seen = h.date(n.CameraOn)
		}
		t.rows = append(t.rows, append(row, eggs, string(n.Camera), seen, n.Guess, n.Notes))
	}
	return t
}

func (f *field) beltTable() table {
	t := table{name: "belts", rows: [][]string{{"ranch", "site", "season", "transect", "length", "length_unit", "width", "width_unit",
		"step_length", "count_bunchgrass", "count_yucca", "count_shrub"}}}
	u := f.unit()
	for _, b := range f.belts {
		row := []string{b.Ranch, b.Site, strconv.Itoa(b.Season), b.Transect, u.length, u.lengthUnit, u.width, u.widthUnit, u.step}
		for _, s := range substrates {
			row = append(row, strconv.Itoa(b.Counts[s]))
		}
		t.rows = append(t.rows, row)
	}
	return t
}

// opens tells whether this is the ranch's first season, for which it sends what its pastures are.
func (f *field) opens() bool {
	for season := firstSeason; season < f.season; season++ {
		if !slices.Contains(f.ranch.Skips, season) {
			return false
		}
	}
	return true
}

func (f *field) siteTable() table {
	t := table{name: "sites", rows: [][]string{{"ranch", "site", "owner", "region", "site_type", "area", "area_unit"}}}
	for _, s := range f.ranch.sites() {
		t.rows = append(t.rows, []string{s.Ranch, s.Name, s.Owner, s.Region, s.Type, strconv.Itoa(int(s.Acres)), "acre"})
	}
	return t
}

// A unit is how a crew measures its belts.
type unit struct {
	length, lengthUnit, width, widthUnit, step string
	lengthFt, widthFt                          float64
}

// unit is the same every season on a ranch. A meter is 1/0.3048 ft (NIST Handbook 44, Appendix C).
func (f *field) unit() unit {
	units := []unit{
		{"725", "ft", "6", "ft", "", 725, 6},
		{"290", "steps", "6", "ft", "2.5", 725, 6},
		{"240", "yd", "2", "yd", "", 720, 6},
		{"220", "m", "1.8", "m", "", 220 / 0.3048, 1.8 / 0.3048},
	}
	return units[random(0, "unit", f.ranch.Name).IntN(len(units))]
}

func commaSeparated(t table) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll(t.rows); err != nil {
		panic("demo: " + err.Error()) // a bytes.Buffer takes everything
	}
	return b.Bytes()
}

func workbook(tables []table) []byte {
	var sheets []sheet.Blank
	for _, t := range tables {
		s := sheet.Blank{Name: t.name, Rows: t.rows[1:]}
		for _, heading := range t.rows[0] {
			s.Columns = append(s.Columns, sheet.Column{Heading: heading, Width: 12})
		}
		sheets = append(sheets, s)
	}
	var b bytes.Buffer
	if err := sheet.WriteWorkbook(&b, sheets); err != nil {
		panic("demo: " + err.Error()) // in memory, from values of our own
	}
	return b.Bytes()
}
