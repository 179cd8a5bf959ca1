// Inside the package: page structs are its own business.

package pages

import (
	"slices"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/readback"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// workPages has filled structs for the pages of the work itself: sending, the region, the cooperative, a hand's day.
// Names and figures are made up.
func workPages(t *testing.T) map[string]any {
	t.Helper()
	ranches := []postgres.Ranch{
		{ID: "r1", Name: "Cottonwood Draw", Owner: "Ada Marsh", Area: "Sandhill", Consent: 1},
		{ID: "r2", Name: "North Breaks", Owner: "Ada Marsh", Area: "Breaks"},
		{ID: "r3", Name: "Antelope Flat", Owner: "Flat Land LLC", Consent: 1},
	}
	upload := postgres.Upload{ID: "u1", Changeable: true, Ranch: "r1", RanchName: "Cottonwood Draw", Season: 2026, File: "nests 2026!!.xlsx", Size: 18_412,
		SHA256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08", SentBy: "Ada Marsh", SentAt: sampleDay.Add(-48 * time.Hour),
		State: postgres.Current, Nests: 48, Belts: 6, Refused: 1, Open: 2}
	undone := upload
	undone.ID, undone.State, undone.File = "u0", postgres.Undone, "nests old.csv"
	owner := access.Landowner

	areas, err := regionAreas(words.Speaker{}, sampleCells(), samplePlaces(), 2026, findings.CommonMarks, bulletin.KeyNote{})
	if err != nil {
		t.Fatal(err)
	}
	head := postgres.BulletinHead{Season: 2026, Number: 3, PublishedAt: sampleDay, Hash: upload.SHA256}
	region := regionPage{base: sampleBase(regionTitle(words.Speaker{}, sampleCells(), 2026), "/region", access.Biologist), Head: head,
		Heads: []postgres.BulletinHead{head, {Season: 2025, Number: 2}, {Season: 2024, Number: 1}}, Areas: areas, Method: regionMethod(words.Speaker{}, head, sampleCells())}
	region.Charts = true

	return map[string]any{
		"send": sendPage{base: sampleBase("Send a season’s results", "/send", owner), Action: "/send", Ranches: ranches[:2],
			Problem: "“field notes.pdf” is a printed page, and we cannot read numbers off it. Send the spreadsheet it was made from."},
		"uploads":     uploadsPage{sampleBase("What was sent", "/uploads", owner), []ranchUploads{{"r1", "Cottonwood Draw", []sentUpload{{upload, cameTo(upload, words.Speaker{}), "Season 2026"}, {undone, cameTo(undone, words.Speaker{}), ""}}}, {"r2", "North Breaks", nil}}},
		"upload":      sampleUpload(upload),
		"upload_rows": sampleRows(upload),
		"sent": sentPage{base: sampleBase("4 sheets came in", "/sent/s1", owner), ID: "s1", Ranches: ranches[:2], Several: true,
			Lines: []sentLine{sentLineOf(words.Speaker{}, upload), sentLineOf(words.Speaker{}, undone)},
			Asked: []postgres.Unfiled{{ID: "x1", File: "nests.csv", Why: postgres.UnclearRanch}}, Unclear: []unclearLine{{postgres.Unfiled{ID: "x2", File: "letter.csv", Why: postgres.UnclearSheet}, "There is no table in it."}}},
		"cooperative_old": cooperativeOldPage{base: sampleBase("Send old sheets for an owner", "/cooperative/old", access.Coordinator), Ranches: ranches[:2], Problem: "No file was chosen.",
			Sent: []oldSending{{"s1", "Cottonwood Draw", "3 sheets, sent August 4, 2026"}}},
		"cooperative_old_sent": cooperativeOldSentPage{base: sampleBase("2 sheets came in for Cottonwood Draw", "/cooperative/old/s1", access.Coordinator), Ranch: "Cottonwood Draw",
			Lines: []oldLine{{"2014.xlsx", "2014", "2 questions open"}, {"2015.xlsx", "", "being read"}}},
		"hand": handPage{sampleBase("1 line to check by tomorrow", "/hand", access.Hand), []handRanch{{"r1", "Cottonwood Draw",
			lines(sampleLines(), survey.DateFrom(sampleDay), words.Speaker{}), []postgres.Upload{upload}}}},
		"region": region,
	}
}

// samplePage is a sheet read, with one of everything that can be said of it.
func samplePage(file string) *readback.Page {
	cells := []survey.Cell{{File: file, Sheet: "Line A", Row: 9, Column: "check2"}, {File: file, Sheet: "Line A", Row: 12, Column: "check2"}}
	nest := survey.Nest{Transect: "A", Number: "6", Substrate: survey.Yucca, SetOn: survey.DateFrom(sampleDay) - 98, Visits: []survey.Visit{{On: survey.DateFrom(sampleDay) - 84, State: survey.Taken}}}
	tags := []readback.Tag{{Column: 0, Heading: "Nest", Role: "nest", ID: "role-1"}, {Column: 1, Heading: "Look 1", Role: "check1", ID: "role-2"}, {Column: 2, Heading: "Boots", ID: "role-3"}}
	return &readback.Page{
		Rows:    48,
		Seasons: []readback.Season{{Season: 2026, Nests: 48, Lines: 4, Belts: 6, Intact: 30, Taken: 12, Lost: 2, Spoiled: 1, Trampled: 1, Flooded: 1, Unchecked: 1, Waiting: 2}, {Season: 2025, Nests: 12, Lines: 1, Intact: 12}},
		Sentences: []string{
			"Nest 1 on line A, bunchgrass, set April 28: eggs all there May 12, taken May 26.",
			"Nest 2 on line A, yucca, set April 28: eggs all there May 12 and May 26.",
			"Nest 3 on line A, bunchgrass, set April 28: taken May 12."},
		Questions: []readback.Question{
			{ID: "q1", Kind: "zero", Must: true, Text: "0 appears 9 times. Is it “no eggs left” or “no damage”? One answer fixes all.", Cells: cells,
				Choices: []readback.Choice{{ID: "taken", Label: "No eggs left", Tried: true, Nests: 50, First: []survey.Nest{nest}}, {ID: "intact", Label: "No damage"}}},
			{ID: "q2", Kind: "blank", Text: "A-6 had eggs on May 12 and no later note.", Default: "until", Cells: cells[:1],
				Choices: []readback.Choice{{ID: "until", Label: "Not checked: count it up to May 12"}, {ID: "lost", Label: "Not found"}, {ID: "taken", Label: "Taken"}}}},
		Tidied:     []readback.Note{{ID: "t1", Text: "“Line A” was written once for rows 4–9; we filled it down.", Cells: cells, N: 6}, {ID: "t2", Text: "“PP” is prickly pear.", N: 2}},
		Refused:    []readback.Note{{Text: "This day is still to come. Did a key stick? Put in the day the eggs were set.", Cells: cells, N: 14}},
		Aside:      []readback.Note{{Text: "The column “Boots” was not used.", N: 48}, {Text: "Row 30 holds a total; we count the nests ourselves.", N: 3}},
		Sums:       []readback.Sum{{Sheet: "Line A", Row: 30, Cells: []string{"TOTAL", "16", "24"}}},
		Elsewhere:  []readback.Place{{Ranch: "North Breaks", Nests: 3}, {Ranch: "Antelope Flat", Nests: 1}},
		Remembered: []string{"Look 1"},
		Says:       "North Breaks",
		Tables: []readback.Table{
			{File: file, Sheet: "Line A", Width: 3, Count: 400, Parts: 2, Heads: []readback.Head{{Tags: tags}}, Rows: []readback.Row{
				{N: 1, Cells: []readback.Cell{{Text: "Nest"}, {Text: "Look 1"}, {Text: "Boots"}}},
				{N: 2, Cells: []readback.Cell{{Text: "1"}, {Text: "ok", Mark: readback.Tidied, Ref: 1}, {Text: "wet", Mark: readback.Aside}}},
				{N: 3, Hidden: true, Cells: []readback.Cell{{Text: "2"}, {Text: "0", Mark: readback.Asked}, {Text: "We went by the tank and found the flag down, so we walked the line twice"}}},
				{N: 30, Gap: 26, Mark: readback.Aside, Ref: 1, Cells: []readback.Cell{{Text: "TOTAL"}, {Text: "2026-05-12", Day: true, Mark: readback.Refused}, {Text: "out", Struck: true, Note: "asked Luis"}}}}},
			{File: file, Sheet: "Old", Hidden: true, Width: 2, More: 3, Count: 1, Heads: []readback.Head{{}}, Side: []readback.Tag{{Row: 1, Heading: "Nest", Role: "nest", ID: "role-4"}}, Rows: []readback.Row{{N: 1, Cells: []readback.Cell{{Text: "Nest"}, {Text: "1"}}}}},
			{File: file, Sheet: "Long", Width: 3, Count: 9000, Part: 2, Parts: 45, Heads: []readback.Head{{}}}},
	}
}

func sampleUpload(u postgres.Upload) uploadPage {
	d := sheetData{upload: u, answers: postgres.Answers{Given: map[string]string{"x": "y"}, Undone: []string{"z"}}, page: samplePage(u.File),
		ranches: []postgres.Ranch{{ID: "r1", Name: "Cottonwood Draw"}, {ID: "r2", Name: "North Breaks"}}}
	page := newUploadPage(words.Speaker{}, d, sampleDay, -1)
	page.base, page.OwnPage = sampleBase(uploadTitle(d, words.Speaker{}), "/uploads/u1", access.Landowner), "/ranch/r1"
	return page
}

func sampleRows(u postgres.Upload) uploadRowsPage {
	p := samplePage(u.File)
	page := uploadRowsPage{base: sampleBase("Rows 1 to 30 of Tab “Line A”", "/uploads/u1/rows/1", access.Landowner), Upload: u, Table: named(words.Speaker{}, u.ID, p, 0), From: 1, To: 30, N: 2, Of: 3,
		Before: "/uploads/u1/rows/1", After: "/uploads/u1/rows/3", First: "/uploads/u1/rows/1", Last: "/uploads/u1/rows/3"}
	page.Table.Pieces = newLayout(words.Speaker{}, true).pieces(&p.Tables[0], p.Tables[0].Rows)
	page.Said = saidOf(notesOf(words.Speaker{}, p.Tidied), notesOf(words.Speaker{}, p.Aside), notesOf(words.Speaker{}, p.Refused), []readback.Ref{{Mark: readback.Asked}, {Mark: readback.Tidied, Ref: 1}}, p)
	return page
}

func sampleLines() *survey.Data {
	day := survey.DateFrom(sampleDay)
	d := &survey.Data{}
	for i, transect := range []string{"A", "A", "B", "C"} {
		n := survey.Nest{Ranch: "Cottonwood Draw", Site: "West pasture", Season: 2026, Transect: transect, Number: "1", SetOn: day - 16}
		if i == 2 {
			n.SetOn, n.Visits = day-27, []survey.Visit{{On: day - 13, State: survey.Intact}}
		}
		if i == 3 {
			n.Visits = []survey.Visit{{On: day - 2, State: survey.Taken}}
		}
		d.Nests = append(d.Nests, n)
	}
	return d
}

// sampleCells are three seasons of a cooperative with two published places, some of it held.
func sampleCells() []bulletin.Cell {
	name := func(s string) *string { return &s }
	number := func(x float64) *float64 { return &x }
	var cells []bulletin.Cell
	rate := func(season int, area, substrate *string, measure, predator string, estimate, low, high float64) {
		cells = append(cells, bulletin.Cell{Season: season, Area: area, Substrate: substrate, Measure: measure, Predator: predator, Published: true,
			Estimate: number(estimate), Low: number(low), High: number(high), Entities: "10-19"})
	}
	sandhill := name("Sandhill")
	for i, season := range []int{2024, 2025, 2026} {
		rate(season, nil, nil, bulletin.Survival28, "", 0.48+0.04*float64(i), 0.40, 0.64)
		rate(season, nil, nil, bulletin.ClumpsPerAcre, "", 220+20*float64(i), 180, 310)
		if season != 2025 {
			rate(season, sandhill, nil, bulletin.Survival28, "", 0.60, 0.45, 0.70)
		}
	}
	rate(2026, nil, name("bunchgrass"), bulletin.Survival28, "", 0.44, 0.36, 0.52)
	rate(2026, nil, name("yucca"), bulletin.Survival28, "", 0.68, 0.58, 0.78)
	rate(2026, nil, nil, bulletin.PredatorShare, bulletin.OtherOrUnknown, 0.4, 0.3, 0.5)
	rate(2026, nil, nil, bulletin.PredatorShare, "skunk", 0.3, 0.2, 0.4)
	rate(2026, nil, nil, bulletin.PredatorShare, "coyote", 0.3, 0.2, 0.4)
	cells = append(cells,
		bulletin.Cell{Season: 2026, Area: sandhill, Measure: bulletin.ClumpsPerAcre, Published: true, Low: number(200), High: number(400), Entities: "5-9"},
		bulletin.Cell{Season: 2026, Area: sandhill, Substrate: name("yucca"), Measure: bulletin.Survival28, HeldBecause: string(disclosure.TooFew)})
	return cells
}

func samplePlaces() []bulletin.Place {
	return []bulletin.Place{{Area: "Sandhill", Label: "Sandhill"}, {Area: "North Fork", Label: "Breaks + North Fork"}, {Area: "Breaks", Label: "Breaks + North Fork"}}
}

// TestWhatCountsNamesBelts: of what two sheets have, nests and belts are named, and where they count.
func TestWhatCountsNamesBelts(t *testing.T) {
	got := overlapsSaid(words.Speaker{}, []postgres.Overlap{
		{File: "mine.csv", SentBy: "Ada Marsh", SentAt: sampleDay, Nests: 3, Belts: 1, Holds: true},
		{File: "theirs.csv", SentBy: "Luis Ortega", SentAt: sampleDay, Belts: 2},
	})
	day := words.Speaker{}.Day(sampleDay)
	want := []string{"“mine.csv”, which Ada Marsh sent on " + day + ", has 3 nests and 1 belt of this sheet, too. What stands there counts.",
		"“theirs.csv”, which Luis Ortega sent on " + day + ", has 2 belts of this sheet, too. What stands here counts."}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
