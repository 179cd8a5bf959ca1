// Inside the package: page structs are its own business.

package pages

import (
	"bytes"
	"encoding/json"
	"math"
	"regexp"
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
	heads := []postgres.BulletinHead{{Season: 2026, Number: 3, PublishedAt: sampleDay, Hash: "9f86d081884c7d65"}, {Season: 2025, Number: 2, PublishedAt: sampleDay}, {Season: 2024, Number: 1, PublishedAt: sampleDay}}
	cells := append(sampleCells(), sampleMix(2025)...)
	d := regionData{say: say, heads: heads, cells: cells, figures: sampleFigures(t), places: samplePlaces(), season: 2026}
	region, err := newRegionPage(d, access.Biologist)
	if err != nil {
		t.Fatal(err)
	}
	region.base = at(region.title(d), "/region")
	quality, err := newQualityPage(d, access.Biologist)
	if err != nil {
		t.Fatal(err)
	}
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

// sampleFigures are made up, of 2026 but for one.
func sampleFigures(t *testing.T) []bulletin.Figure {
	t.Helper()
	var list []bulletin.Figure
	add := func(season int, kind string, place *string, body any) {
		b, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, bulletin.Figure{Season: season, Kind: kind, Place: place, Body: b, N: 7319})
	}
	v := func(estimate, low, high float64) bulletin.Value {
		return bulletin.Value{Estimate: &estimate, Low: &low, High: &high}
	}
	add(2026, bulletin.TrendKind, nil, bulletin.Trend{Entities: "20-49", Seasons: []int{2022, 2023, 2024, 2025, 2026}, Yearly: v(0.98, 0.85, 1.13), Verdict: bulletin.NoClearChange,
		Ranks: bulletin.TrendRanks{Tau: new(0.1), Slope: new(0.02), Chance: new(0.2)}})
	add(2026, bulletin.TrendKind, new("Sandhill"), bulletin.Trend{Entities: "10-19", Yearly: v(1.2, 1.05, 1.4), Verdict: bulletin.Worse})
	var rates []bulletin.StandardisedRate
	for _, season := range []int{2025, 2026} {
		rates = append(rates, bulletin.StandardisedRate{Season: season, Value: v(0.55, 0.5, 0.6)}, bulletin.StandardisedRate{Season: season, Substrate: new("bunchgrass"), Value: v(0.5, 0.44, 0.56)},
			bulletin.StandardisedRate{Season: season, Substrate: new("yucca")})
	}
	add(2026, bulletin.StandardisedKind, nil, bulletin.Standardised{Entities: "20-49", Substrates: []string{"bunchgrass", "yucca"}, Rates: rates})
	add(2026, bulletin.CoverKind, nil, bulletin.Cover{Entities: "20-49", Mark: 300, Gain: v(0.06, -0.02, 0.14), Gaps: []bulletin.CoverGap{{A: "bunchgrass", B: "yucca",
		Curve:    []bulletin.CoverPoint{{Density: 100, Value: v(2.2, 1.4, 3.4)}, {Density: 200, Value: v(1.4, 1.1, 1.8)}, {Density: 300, Value: v(1.05, 0.8, 1.3)}, {Density: 400}},
		Crossing: bulletin.CoverCrossing{Said: bulletin.CrossingFound, Value: v(320, 240, 480)}}}})
	for _, season := range []int{2025, 2026} {
		add(season, bulletin.QualityKind, nil, bulletin.Quality{Entities: "20-49", FirstOnDay: new(0.85), SecondOnDay: new(0.8), LostFromView: new(0.05), KnownEnd: new(0.9),
			Ranches: []bulletin.QualitySeason{{Season: season, Ranches: "20-49"}}})
	}
	return list
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

func TestTrendSentence(t *testing.T) {
	v := func(estimate, low, high float64) bulletin.Value {
		return bulletin.Value{Estimate: &estimate, Low: &low, High: &high}
	}
	for _, tt := range []struct {
		name string
		in   bulletin.Trend
		want string
	}{
		{"Better", bulletin.Trend{Seasons: []int{2022, 2026}, Yearly: v(0.9, 0.85, 0.95), Verdict: bulletin.Better},
			"Nests are lost more slowly from year to year from 2022 to 2026: each year’s daily losses are 0.9 times the year’s before, a fair range 0.85 to 0.95."},
		{"NotShown", bulletin.Trend{Verdict: bulletin.CannotTell}, "Nobody can tell yet whether losses rise or fall."},
	} {
		if got := trendSentence(words.Speaker{}, tt.in); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}

func TestGapSentence(t *testing.T) {
	v := func(estimate, low, high float64) bulletin.Value {
		return bulletin.Value{Estimate: &estimate, Low: &low, High: &high}
	}
	curve := func(first, last bulletin.Value) []bulletin.CoverPoint {
		return []bulletin.CoverPoint{{Density: 100, Value: first}, {Density: 250}, {Density: 400, Value: last}}
	}
	for _, tt := range []struct {
		name string
		in   bulletin.CoverGap
		want string
	}{
		{"Crosses", bulletin.CoverGap{A: "bunchgrass", B: "yucca", Curve: curve(v(2, 1.5, 3), v(0.8, 0.5, 0.9)), Crossing: bulletin.CoverCrossing{Said: bulletin.CrossingFound, Value: v(310, 250, 380)}},
			"At 100 clumps an acre nests in bunchgrass are lost faster, at 400 more slowly. The two do alike at about 310 clumps an acre, a fair range 250 to 380."},
		{"OpenInterval", bulletin.CoverGap{A: "bunchgrass", B: "yucca", Curve: curve(v(2, 1.5, 3), v(1, 0.5, 2)), Crossing: bulletin.CoverCrossing{Said: bulletin.CrossingFound, Value: bulletin.Value{Estimate: new(310.0)}}},
			"At 100 clumps an acre nests in bunchgrass are lost faster; at 400 nobody can tell. The two do alike at about 310 clumps an acre, but the data do not say between which densities."},
		{"Never", bulletin.CoverGap{A: "bunchgrass", B: "yucca", Curve: curve(v(1, 0.5, 3), v(1, 0.5, 2)), Crossing: bulletin.CoverCrossing{Said: bulletin.NoCrossing}},
			"At neither end of the range seen can one tell which is lost faster. Where the two would do alike lies outside the densities seen."},
	} {
		if got := gapSentence(words.Speaker{}, tt.in); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
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
