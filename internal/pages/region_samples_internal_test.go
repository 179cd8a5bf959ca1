// Inside the package: page structs are its own business.

package pages

import (
	"bytes"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// regionPages has filled structs for the region's pages as a biologist sees them. Names and figures are made up.
func regionPages(t *testing.T, say words.Speaker) map[string]any {
	t.Helper()
	at := func(title, path string) base {
		b := sampleBase(title, path, access.Biologist)
		b.Say = say
		return b
	}
	heads := []postgres.BulletinHead{{Season: 2026, Number: 3, PublishedAt: sampleDay, Hash: "9f86d081884c7d65", Covers: []string{"bunchgrass", "yucca"}, First: 14, Last: 28}, {Season: 2025, Number: 2, PublishedAt: sampleDay}, {Season: 2024, Number: 1, PublishedAt: sampleDay}}
	cells := slices.Concat(sampleCells(), sampleMix(2025), sampleFigures())
	d := regionData{say: say, heads: heads, cells: cells, places: samplePlaces(), season: 2026, marks: findings.CommonMarks}
	region, err := newRegionPage(d, access.Biologist)
	if err != nil {
		t.Fatal(err)
	}
	region.base = at(region.title(d), "/region")
	quality := newQualityPage(d, access.Biologist)
	quality.base = at(say.Say("How good are the data?"), "/region/quality")
	named, err := newNamedPage(namedData{say: say, sharings: []postgres.Sharing{
		{RanchName: "Cottonwood Draw", Area: "Sandhill", Purpose: "burn plan", Through: sampleDay}, {RanchName: "North Breaks", Purpose: "cover study", Through: sampleDay}},
		survey: SampleSurvey("Cottonwood Draw"), heads: heads, cells: cells}, 0)
	if err != nil {
		t.Fatal(err)
	}
	named.base, named.Views = at(sharedTitle(say, 2), "/region/named"), regionViews(access.Biologist, "/region/named")
	region.Charts, named.Charts = true, true
	return map[string]any{"region": region, "region_quality": quality, "region_named": named}
}

// sampleFigures are made up: two more seasons, a curve, what taken nests showed, and how well the season was carried out.
func sampleFigures() []bulletin.Cell {
	cell := func(season int, measure string, estimate, low, high float64) bulletin.Cell {
		return bulletin.Cell{Season: season, Measure: measure, Published: true, Estimate: &estimate, Low: &low, High: &high, Entities: "20-49", N: 7319}
	}
	list := []bulletin.Cell{cell(2024, bulletin.Survival28, 0.5, 0.44, 0.56), cell(2025, bulletin.Survival28, 0.55, 0.5, 0.6)}
	for _, clumps := range bulletin.Clumps[:4] {
		for i, kind := range []string{"bunchgrass", "yucca"} {
			c := cell(2026, bulletin.SurvivalAt, 0.4+clumps/2000+float64(i)/10, 0.3+clumps/2000, 0.6+clumps/2000)
			c.Clumps, c.Substrate = &clumps, &kind
			list = append(list, c)
		}
	}
	for i, sign := range bulletin.Signs {
		c := cell(2026, bulletin.SignShare, []float64{0.1, 0.3, 0.6}[i], 0.05, 0.7)
		c.Predator = sign
		list = append(list, c)
	}
	for _, measure := range []string{bulletin.DesignEffect, bulletin.OwnerSpread, bulletin.MixWeight} {
		c := cell(2026, measure, map[string]float64{bulletin.DesignEffect: 1.5, bulletin.OwnerSpread: 0.3, bulletin.MixWeight: 12}[measure], 0, 0)
		c.Low, c.High = nil, nil
		list = append(list, c)
	}
	for _, season := range []int{2025, 2026} {
		for i, measure := range []string{bulletin.FirstOnDay, bulletin.SecondOnDay, bulletin.LostFromView, bulletin.KnownEnd} {
			c := cell(season, measure, []float64{0.85, 0.8, 0.05, 0.9}[i], 0, 0)
			c.Low, c.High = nil, nil
			list = append(list, c)
		}
	}
	for i, measure := range bulletin.FitMeasures {
		c := cell(2026, measure, float64(i%2), 0, 0)
		c.Low, c.High = nil, nil
		list = append(list, c)
	}
	return append(list, cell(2026, bulletin.LeftOn(14), 0.75, 0.75, 0.75), cell(2026, bulletin.LeftOn(28), 0.55, 0.5, 0.55))
}

// sampleMix is the predator mix of another season.
func sampleMix(season int) []bulletin.Cell {
	var cells []bulletin.Cell
	for _, part := range []struct {
		name  string
		share float64
	}{{bulletin.OtherOrUnknown, 0.5}, {"coyote", 0.3}, {"raccoon", 0.2}} {
		cells = append(cells, bulletin.Cell{Season: season, Measure: bulletin.PredatorShare, Predator: part.name, Published: true,
			Estimate: new(part.share), Low: new(part.share - 0.1), High: new(part.share + 0.1), Entities: "10-19"})
	}
	return cells
}

// Every figure of the region's pages has a note behind it on how it is made, and nothing drawn or tabled stands
// outside of one.
func TestEveryFigureHasItsNote(t *testing.T) {
	s := sampleServer(t)
	all := regionPages(t, words.Speaker{})
	for name, page := range outreachPages(t, words.Speaker{}) {
		if strings.HasPrefix(name, "outreach") && name != "outreach_introductions" { // which has no figure
			all[name] = page
		}
	}
	for name, page := range all {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if err := s.views.Render(&b, "en/"+name, page); err != nil {
				t.Fatal(err)
			}
			for _, fault := range FiguresWithoutNote(b.String()) {
				t.Error(fault)
			}
			for _, never := range []string{" style=", "NaN", "ZgotmplZ"} {
				if strings.Contains(b.String(), never) {
					t.Errorf("page contains %q", never)
				}
			}
			if *preview != "" {
				writePreview(t, s, name, b.String())
			}
		})
	}
}

// What the region's pages must never hold, also with figures from models on them.
func TestRegionPagesHoldNothingMore(t *testing.T) {
	s := sampleServer(t)
	for name, page := range regionPages(t, words.Speaker{}) {
		var b bytes.Buffer
		if err := s.views.Render(&b, "en/"+name, page); err != nil {
			t.Fatal(err)
		}
		for _, never := range []string{" 7319", ">7319", "minimum", "maximum", "highest", "lowest", "ranked", "standard deviation", "standard error", "median ranch"} {
			if strings.Contains(b.String(), never) {
				t.Errorf("%s holds %q", name, never)
			}
		}
		if found := regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-`).FindString(b.String()); found != "" {
			t.Errorf("%s holds an id: %q", name, found)
		}
		// A published number has at most three digits behind the point.
		visible := regexp.MustCompile(`(?s)<svg.*?</svg>|<script.*?</script>|<[^>]*>`).ReplaceAllString(b.String(), " ")
		if found := regexp.MustCompile(`\d\.\d{4,}`).FindString(visible); found != "" {
			t.Errorf("%s holds a figure with more digits than are published: %q", name, found)
		}
	}
}

// TestTrendIsReadOffWhatIsPublished: three seasons at least, and only those up to the one in front; one that is not shown in full is not in it.
func TestTrendIsReadOffWhatIsPublished(t *testing.T) {
	d := regionData{season: 2026, heads: []postgres.BulletinHead{{Season: 2026}}}
	for i, s := range []float64{0.52, 0.44, 0.47, 0.38, 0.35, 0.9} {
		d.cells = append(d.cells, bulletin.Cell{Season: 2022 + i, Measure: bulletin.Survival28, Published: true, Estimate: new(s), Low: new(s - 0.05), High: new(s + 0.05)})
	}
	// The seasons’ own luck widens the range, so that five seasons show no trend here.
	want := "Whether losses rise or fall from 2022 to 2026 cannot be told yet. 5 seasons are few: good and bad years come in runs, and it takes eight to see how long they last. Each year’s daily losses are 1.12 times the year’s before, likely range 0.97 to 1.29."
	if got := trendPartOf(d); got == nil || got.Sentence != want {
		t.Errorf("got %+v, want %q", got, want)
	}
	d.cells[0].Estimate = nil
	if got := trendPartOf(d); got == nil || !strings.Contains(got.Sentence, "from 2023 to 2026") {
		t.Errorf("without the first: %+v", got)
	}
	d.season = 2024
	if got := trendPartOf(d); got != nil {
		t.Errorf("of two seasons: %+v", got)
	}
}

// A ranch with few nests in one of two kinds counts as twice as many as it has there, not as all its nests.
func TestBalance(t *testing.T) {
	nest := func(i int, h survey.Substrate) survey.Nest {
		on := survey.DateOf(2026, time.May, 1)
		state := survey.Intact
		if i%2 == 0 {
			state = survey.Taken
		}
		return survey.Nest{Ranch: "Cottonwood Draw", Season: 2026, Transect: strconv.Itoa(i % 4), Number: strconv.Itoa(i), Substrate: h, SetOn: on, EggsLeft: -1,
			Visits: []survey.Visit{{On: on + 14, State: survey.Intact}, {On: on + 28, State: state}}}
	}
	var d survey.Data
	for i := range 40 {
		d.Nests = append(d.Nests, nest(i, survey.Bunchgrass))
	}
	for i := range 10 {
		d.Nests = append(d.Nests, nest(i+100, survey.Yucca))
	}
	mix := map[survey.Substrate]float64{survey.Bunchgrass: 0.5, survey.Yucca: 0.5}
	b, ok := balance(findings.Compute(&d, findings.Options{Mix: mix}), "Cottonwood Draw", 2026, mix)
	if !ok || b.known != 50 || b.nests != 32 || math.Abs(b.estimate-0.5) > 1e-6 { // 1 ÷ (¼/40 + ¼/10) = 32
		t.Errorf("balance = %+v, %v; want 50 nests that count as 32, at a half", b, ok)
	}
}

var drawn = regexp.MustCompile(`<table|class="strips"|class="mix"|data-options=|class="bars"`)

// FiguresWithoutNote, for the tests outside too, lists the figures of a page that stand behind no data-figure, or whose part has no note.
func FiguresWithoutNote(page string) []string {
	var faults []string
	parts := strings.Split(page, "data-figure=")
	if len(parts) == 1 {
		return []string{"the page has no figure"}
	}
	for i, part := range parts {
		name, _, _ := strings.Cut(strings.TrimPrefix(part, `"`), `"`)
		switch found := drawn.FindString(part); {
		case found == "":
		case i == 0:
			faults = append(faults, "a "+found+" stands before any figure")
		case !strings.Contains(part, `<details class="method">`):
			faults = append(faults, "the figure "+name+" has no note on how it is made")
		}
	}
	return faults
}
