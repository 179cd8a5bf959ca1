package pages

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// sampleOutreach is a made-up bulletin: two places with figures, one without.
func sampleOutreach(t *testing.T) outreachData {
	t.Helper()
	num := func(x float64) *float64 { return &x }
	cell := func(area, measure string, estimate, low, high float64) bulletin.Cell {
		return bulletin.Cell{Season: 2026, Area: &area, Measure: measure, Published: true, Estimate: num(estimate), Low: num(low), High: num(high), Entities: "10-19"}
	}
	return outreachData{
		cooperative: "Sandhill Grass", head: postgres.BulletinHead{Season: 2026, Number: 5, PublishedAt: sampleDay}, heads: []postgres.BulletinHead{{Season: 2026, Number: 5, PublishedAt: sampleDay}, {Season: 2025, Number: 4, PublishedAt: sampleDay}},
		places: []bulletin.Place{{Area: "North", Label: "North"}, {Area: "South", Label: "South"}},
		areas:  []postgres.Area{{Name: "North"}, {Name: "South"}, {Name: "West"}},
		shapes: []geo.Named{{Name: "North", Shape: geo.Shape{{{{-100, 42}, {-99, 42}, {-99, 43}, {-100, 43}, {-100, 42}}}}}},
		cells: []bulletin.Cell{cell("North", bulletin.Survival28, 0.46, 0.38, 0.56), cell("North", bulletin.ClumpsPerAcre, 210, 170, 250),
			cell("South", bulletin.Survival28, 0.52, 0.44, 0.60), cell("South", bulletin.ClumpsPerAcre, 290, 240, 340)},
	}
}

// outreachPages are filled pages for planners in a language.
func outreachPages(t *testing.T, say words.Speaker) map[string]any {
	t.Helper()
	d := sampleOutreach(t)
	d.say = say
	all := d.outreachPlaces()
	north := all[1]
	p := poster{mark: 300, say: say, cooperative: d.cooperative, place: north.Name, season: 2026, number: 5, published: sampleDay, printed: sampleDay, behind: d.behind("North"),
		lasted: d.cells[0], cover: d.cells[1], limits: north.Limits, talk: talkOf(north.Limits)}
	at := func(title, path string) base {
		b := sampleBase(title, "/outreach"+path, access.Planner)
		b.Say = say
		return b
	}
	title, lead := outreachTitle(say, all[1:], 2026)
	options, err := outreachMap(say, all[1:], title)
	if err != nil {
		t.Fatal(err)
	}
	request := postgres.Introduction{ID: "i", By: "Cass Reed", Email: "cass@example.org", Place: "North", Purpose: "Caminar un potrero.", AskedAt: sampleDay, State: postgres.AskWaiting}
	answered := request
	answered.State, answered.Reply, answered.AnsweredAt = postgres.AskPassedOn, "Espere una llamada.", sampleDay.Add(48*time.Hour)
	chances := chancesOf(say, north.Limits.limitsRead)
	note := d.claimsMethod(north)
	return map[string]any{
		"outreach": outreachPage{base: at(title, ""), Head: d.head, Lead: lead, Places: all[1:], Whole: all[0],
			Legend: legend(say, all[1:]), Tiles: tiles(say, all[1:]), Options: options, Asks: true, Outlined: true, Method: d.tableMethod(all)},
		"outreach_place": outreachPlacePage{base: at("North", "/north"), Head: d.head, Place: north, Story: story(north, 2026), Claims: d.claims(north),
			Never: neverSay, Bar: mixBar(chances, say.Say("How likely each is")), Chances: chances, Mark: "300", Talk: talkOf(north.Limits), Behind: d.behind("North"), Asks: true,
			ClaimsMethod: note, LimitsMethod: limitsMethod(d.region(), north.Limits.limitsRead)},
		"outreach_poster": outreachPosterPage{base: at(say.Say("Poster: %s", "North"), "/north/poster"), Place: north, Picture: p.draw(), Alt: p.words(), Method: note, File: north.Picture(),
			Others: []languageLink{{words.Spanish, north.inLanguage("poster", words.Spanish)}}},
		"outreach_introductions": outreachIntroductionsPage{base: at(say.Say("Ask to be introduced"), "/introductions"), Places: all, Chosen: "north",
			Requests: []postgres.Introduction{request, answered}, Problem: say.Say("Say what you would like to do there, in 600 letters or fewer."), Sent: true},
	}
}

// A story names what seems to hold nests back, and never a reason: "because" is no word of it.
func TestStory(t *testing.T) {
	place := outreachPlace{Label: "North", Name: "North", Lasted: regionRow{Figure: "46 of 100", Shown: true}}
	for verdict, want := range map[string]string{
		shortOfCover: "cover to nest in seems short there",
		highLosses:   "there seems to be cover enough, and yet most eggs went",
		lastsWell:    "there seems to be cover enough, and a fair part of the eggs lasted",
		nobodyKnows:  "cannot be told yet",
		"":           "In North about 46 of 100 simulated nests lasted four weeks in 2026.",
	} {
		place.Limits.Verdict = verdict
		got := story(place, 2026)
		if !strings.Contains(got, want) || strings.Contains(got, "because") || strings.Contains(got, "hatch") {
			t.Errorf("%q: %s", verdict, got)
		}
	}
}

// TestReadLimits: what holds nests back is read off the published survival and clumps with their ranges. Values by hand: 210 clumps of 170
// to 250 lie 3.6 standard errors below 300 on the scale of logarithms; 400 of 320 to 500 lie 2.5 above; a survival of 40 of 34 to 46 is below a
// half. No probability reads as certainty.
func TestReadLimits(t *testing.T) {
	cell := func(measure string, estimate, low, high float64) bulletin.Cell {
		return bulletin.Cell{Season: 2026, Measure: measure, Published: true, Estimate: &estimate, Low: &low, High: &high}
	}
	thin, thick := cell(bulletin.ClumpsPerAcre, 210, 170, 250), cell(bulletin.ClumpsPerAcre, 400, 320, 500)
	bad, good := cell(bulletin.Survival28, 0.4, 0.34, 0.46), cell(bulletin.Survival28, 0.62, 0.55, 0.69)
	band := bulletin.Cell{Season: 2026, Measure: bulletin.ClumpsPerAcre, Published: true, Low: new(150.0), High: new(300.0)}
	open := bulletin.Cell{Season: 2026, Measure: bulletin.Survival28, Published: true, Low: new(0.3), High: new(0.7)}
	for name, tt := range map[string]struct {
		cells []bulletin.Cell
		want  string
		told  bool
	}{
		"thin":                {[]bulletin.Cell{thin, good}, shortOfCover, true},
		"thick, most lost":    {[]bulletin.Cell{thick, bad}, highLosses, true},
		"thick, most lasted":  {[]bulletin.Cell{thick, good}, lastsWell, true},
		"a band below":        {[]bulletin.Cell{band, good}, nobodyKnows, false},
		"a window in between": {[]bulletin.Cell{thick, open}, nobodyKnows, false},
	} {
		got, ok := readLimits(tt.cells, 2026, "", []string{""}, findings.CommonMarks)
		if !ok || got.Verdict != tt.want || (got.Chances != nil) != tt.told {
			t.Errorf("%s: got %+v, %v", name, got, ok)
		}
		sum := 0.0
		for _, p := range got.Chances {
			if sum += p; p > 0.9 {
				t.Errorf("%s: a chance of %v", name, p)
			}
		}
		if tt.told && (sum > 1+1e-9 || sum < 0.9-1e-9) {
			t.Errorf("%s: the chances make %v", name, sum)
		}
	}
	if _, ok := readLimits([]bulletin.Cell{good}, 2026, "", []string{""}, findings.CommonMarks); ok {
		t.Error("limits without clumps")
	}
}

// TestInTens: chances on steps of a tenth make at most 1 together, none above 0.9, and each is less than a step from what it stands for but where it is near 1.
func TestInTens(t *testing.T) {
	r := rand.New(rand.NewPCG(10, 10))
	for range 1000 {
		a, b := r.Float64(), r.Float64()
		exact := map[string]float64{"a": a, "b": (1 - a) * b, "c": (1 - a) * (1 - b)}
		sum := 0.0
		for name, p := range inTens(exact) {
			if sum += p; math.Abs(p-exact[name]) >= 0.1+1e-9 || p > 0.9 || math.Abs(10*p-math.Round(10*p)) > 1e-9 {
				t.Fatalf("%v is %v of %v", name, p, exact)
			}
		}
		if sum > 1+1e-9 || sum < 0.9-1e-9 {
			t.Fatalf("%v make %v", exact, sum)
		}
	}
}

// Paths never collide, neither with each other nor with the section's own pages.
func TestPathWords(t *testing.T) {
	d := outreachData{areas: []postgres.Area{{Name: "Upper Creek"}, {Name: "upper-creek"}, {Name: "Introductions"}, {Name: "Cooperative"}, {Name: "Źdźbło"}, {Name: "???"}}}
	all := d.outreachPlaces()
	seen := map[string]bool{"introductions": true}
	for _, p := range all {
		if seen[p.Slug] || p.Slug == "" {
			t.Errorf("%q stands at /outreach/%s, which is taken", p.Name, p.Slug)
		}
		seen[p.Slug] = true
	}
}

// An area that was renamed after its bulletin keeps the bulletin's name, and under the new one nothing is shown.
func TestRenamedArea(t *testing.T) {
	d := sampleOutreach(t)
	d.areas[0].Name = "Far North"
	for word, shown := range map[string]bool{"north": true, "far-north": false} {
		p, err := d.find(word)
		if err != nil || p.Shown() != shown {
			t.Errorf("%s: shown %v, %v; want %v", word, p.Shown(), err, shown)
		}
	}
}

// What a coordinator reads and a planner does not is left out, and what would tell it beside the whole.
func TestToldOutside(t *testing.T) {
	d := sampleOutreach(t)
	if cells := toldOutside(append([]bulletin.Cell{}, d.cells...)); len(cells) != len(d.cells) {
		t.Errorf("%d cells of %d: nothing here is of fewer than ten", len(cells), len(d.cells))
	}
	area := "West"
	few := bulletin.Cell{Season: 2026, Area: &area, Measure: bulletin.Survival28, Published: true, Entities: fewest}
	for _, c := range toldOutside(append([]bulletin.Cell{few}, d.cells...)) {
		if c.Area != nil && c.Season == 2026 && c.Measure == bulletin.Survival28 && c.Substrate == nil {
			t.Errorf("the survival of %s and that of the whole tell the west's", *c.Area)
		}
	}
}
