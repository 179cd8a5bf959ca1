// Inside the package: page structs are its own business.

package pages

import (
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/postgres"
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
	upload := postgres.Upload{ID: "u1", Ranch: "r1", RanchName: "Cottonwood Draw", Season: 2026, File: "nests 2026!!.xlsx", Size: 18_412,
		SHA256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08", SentBy: "Ada Marsh", SentAt: sampleDay.Add(-48 * time.Hour),
		State: postgres.Current, Nests: 48, Belts: 6, Refused: 1, Open: 2}
	undone := upload
	undone.ID, undone.State, undone.File = "u0", postgres.Undone, "nests old.csv"
	owner := access.Landowner

	areas, err := regionAreas(words.Speaker{}, sampleCells(), samplePlaces(), 2026)
	if err != nil {
		t.Fatal(err)
	}
	head := postgres.BulletinHead{Season: 2026, Number: 3, PublishedAt: sampleDay, Hash: upload.SHA256}
	region := regionPage{base: sampleBase(regionTitle(words.Speaker{}, sampleCells(), 2026), "/region", access.Biologist), Head: head,
		Heads: []postgres.BulletinHead{head, {Season: 2025, Number: 2}, {Season: 2024, Number: 1}}, Areas: areas, Method: regionMethod(words.Speaker{}, head, sampleCells())}
	region.Charts = true

	return map[string]any{
		"send": sendPage{base: sampleBase("Send a season’s results", "/send", owner), Ranches: ranches[:2],
			Problem: "“field notes.pdf” is a printed page, and we cannot read numbers off it. Send the spreadsheet it was made from."},
		"uploads": uploadsPage{sampleBase("What was sent", "/uploads", owner), []ranchUploads{{"r1", "Cottonwood Draw", []sentUpload{{upload, cameTo(upload, words.Speaker{})}, {undone, cameTo(undone, words.Speaker{})}}}, {"r2", "North Breaks", nil}}},
		"upload":  sampleUpload(upload),
		"hand": handPage{sampleBase("1 line to check by tomorrow", "/hand", access.Hand), []handRanch{{"r1", "Cottonwood Draw",
			lines(sampleLines(), survey.DateFrom(sampleDay), words.Speaker{}), []postgres.Upload{upload}}}},
		"region": region,
	}
}

func sampleUpload(u postgres.Upload) uploadPage {
	cells := []survey.Cell{{File: u.File, Sheet: "Line A", Row: 9, Column: "check2"}, {File: u.File, Sheet: "Line A", Row: 12, Column: "check2"}}
	r := reading{upload: u, answers: map[string]string{"x": "y"}, undone: []string{"z"}}
	res := &intake.Result{
		Data: survey.Data{Nests: make([]survey.Nest, 48), Belts: make([]survey.Belt, 6)},
		Sentences: []string{
			"Nest 1 on line A, bunchgrass, set 28 April: eggs all there 12 May, taken 26 May.",
			"Nest 2 on line A, yucca, set 28 April: eggs all there 12 May and 26 May.",
			"Nest 3 on line A, bunchgrass, set 28 April: taken 12 May."},
		Questions: []inquiry.Question{
			{ID: "q1", Kind: "zero", Weight: inquiry.MustAnswer, Text: "0 appears 9 times. Is it “no eggs left” or “no damage”? One answer fixes all.", Cells: cells,
				Choices: []inquiry.Choice{{ID: "taken", Label: "No eggs left"}, {ID: "intact", Label: "No damage"}}},
			{ID: "q2", Kind: "blank", Weight: inquiry.PleaseLook, Text: "A-6 had eggs on 12 May and no later note.", Default: "until", Cells: cells[:1],
				Choices: []inquiry.Choice{{ID: "until", Label: "Not checked: count it up to 12 May"}, {ID: "lost", Label: "Not found"}, {ID: "taken", Label: "Taken"}}}},
		Tidied:  []inquiry.Tidied{{ID: "t1", Text: "“Line A” was written once for rows 4–9; we filled it down."}, {ID: "t2", Text: "Row 30 says “TOTAL”; we left it out."}},
		Refused: []inquiry.Problem{{File: u.File, Sheet: "Line A", Row: 14, Column: "set_on", Value: "2042-05-02", Problem: "This day is still to come. Did a key stick? Put in the day the eggs were set."}},
		NotUsed: []inquiry.Aside{{Text: "The column “boots” was not used."}},
	}
	page := newUploadPage(r, res)
	page.base, page.OwnPage = sampleBase(uploadTitle(u, res, words.Speaker{}), "/uploads/u1", access.Landowner), "/ranch/r1"
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
