package pages

import (
	"encoding/json"
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
	figure := func(place, kind string, body any) bulletin.Figure {
		text, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		return bulletin.Figure{Season: 2026, Kind: kind, Place: &place, Body: text}
	}
	talk := findings.CommonTalk(findings.FewClumps)
	return outreachData{
		cooperative: "Sandhill Grass", head: postgres.BulletinHead{Season: 2026, Number: 5, PublishedAt: sampleDay}, heads: []postgres.BulletinHead{{Season: 2026, Number: 5, PublishedAt: sampleDay}, {Season: 2025, Number: 4, PublishedAt: sampleDay}},
		places: []bulletin.Place{{Area: "North", Label: "North"}, {Area: "South", Label: "South"}},
		areas:  []postgres.Area{{Name: "North"}, {Name: "South"}, {Name: "West"}},
		shapes: []geo.Named{{Name: "North", Shape: geo.Shape{{{{-100, 42}, {-99, 42}, {-99, 43}, {-100, 43}, {-100, 42}}}}}},
		cells: []bulletin.Cell{cell("North", bulletin.Survival28, 0.46, 0.38, 0.56), cell("North", bulletin.ClumpsPerAcre, 210, 170, 250),
			cell("South", bulletin.Survival28, 0.52, 0.44, 0.60), cell("South", bulletin.ClumpsPerAcre, 290, 240, 340)},
		figures: []bulletin.Figure{
			figure("North", bulletin.LimitsKind, bulletin.Limits{CoverShort: num(0.9), LossesHigh: num(0.1), LastingWell: num(0), Verdict: bulletin.CoverShort, Talk: &bulletin.LimitsTalk{First: talk.First, NotFirst: talk.NotFirst}}),
			figure("North", bulletin.CoverKind, bulletin.Cover{Mark: 300, Gain: bulletin.Value{Estimate: num(0.06), Low: num(0.02), High: num(0.1)}}),
			figure("South", bulletin.LimitsKind, bulletin.Limits{CoverShort: num(0.6), LossesHigh: num(0.2), LastingWell: num(0.2), Verdict: bulletin.CannotTell}),
		},
	}
}

// outreachPages are filled pages for planners in a tongue.
func outreachPages(t *testing.T, say words.Speaker) map[string]any {
	t.Helper()
	d := sampleOutreach(t)
	d.say = say
	all, err := d.outreachPlaces()
	if err != nil {
		t.Fatal(err)
	}
	north := all[1]
	p := poster{say: say, cooperative: d.cooperative, place: north.Name, season: 2026, number: 5, published: sampleDay, printed: sampleDay, behind: d.behind("North"),
		lasted: d.cells[0], cover: d.cells[1], limits: north.Limits, talk: talkOf(north.Limits)}
	at := func(title, path string) base {
		b := sampleBase(title, "/outreach"+path, access.Planner)
		b.Say = say
		return b
	}
	var cover bulletin.Cover
	if ok, err := d.figure(bulletin.CoverKind, "North", &cover); !ok || err != nil {
		t.Fatal(ok, err)
	}
	title, lead := outreachTitle(say, all[1:], 2026)
	options, err := outreachMap(say, all[1:], title)
	if err != nil {
		t.Fatal(err)
	}
	request := postgres.Introduction{ID: "i", By: "Cass Reed", Email: "cass@example.org", Place: "North", Purpose: "Caminar un potrero.", AskedAt: sampleDay, State: postgres.AskWaiting}
	answered := request
	answered.State, answered.Reply, answered.AnsweredAt = postgres.AskPassedOn, "Espere una llamada.", sampleDay.Add(48*time.Hour)
	chances := chancesOf(say, north.Limits.Body)
	note := d.claimsMethod(north)
	return map[string]any{
		"outreach": outreachPage{base: at(title, ""), Head: d.head, Lead: lead, Places: all[1:], Whole: all[0],
			Legend: legend(say, all[1:]), Tiles: tiles(say, all[1:]), Options: options, Asks: true, Outlined: true, Method: d.tableMethod(all)},
		"outreach_place": outreachPlacePage{base: at("North", "/north"), Head: d.head, Place: north, Story: story(north, 2026), Claims: d.claims(north),
			Never: neverSay, Bar: mixBar(chances, say.Say("How likely each is")), Chances: chances, Gain: gain(north, cover.Gain), Mark: "300", Talk: talkOf(north.Limits), Behind: d.behind("North"), Asks: true,
			ClaimsMethod: note, LimitsMethod: limitsMethod(d.say, d.heads, 2026, north.Limits.Body), GainMethod: note},
		"outreach_poster": outreachPosterPage{base: at(say.Say("Poster: %s", "North"), "/north/poster"), Place: north, Picture: p.draw(), Alt: p.words(), Method: note, File: north.Picture(),
			Others: []tongueLink{{words.Spanish, north.inTongue("poster", words.Spanish)}}},
		"outreach_introductions": outreachIntroductionsPage{base: at(say.Say("Ask to be introduced"), "/introductions"), Places: all, Chosen: "north",
			Requests: []postgres.Introduction{request, answered}, Problem: say.Say("Say what you would like to do there, in 600 letters or fewer."), Sent: true},
	}
}

// A story names what seems to hold nests back, and never a reason: "because" is no word of it.
func TestStory(t *testing.T) {
	place := outreachPlace{Label: "North", Name: "North", Lasted: regionRow{Figure: "46 of 100", Shown: true}}
	for verdict, want := range map[string]string{
		bulletin.CoverShort:  "cover to nest in seems short there",
		bulletin.LossesHigh:  "there seems to be cover enough, and yet most eggs went",
		bulletin.LastingWell: "there seems to be cover enough, and a fair part of the eggs lasted",
		bulletin.CannotTell:  "cannot be told yet",
		"":                   "In North about 46 of 100 simulated nests lasted four weeks in 2026.",
	} {
		place.Limits.Verdict = verdict
		got := story(place, 2026)
		if !strings.Contains(got, want) || strings.Contains(got, "because") || strings.Contains(got, "hatch") {
			t.Errorf("%q: %s", verdict, got)
		}
	}
}

// Where more cover goes together with no difference, nobody reads that no nest would last.
func TestGain(t *testing.T) {
	num := func(x float64) *float64 { return &x }
	place := outreachPlace{Label: "North", Name: "North"}
	for _, test := range []struct {
		estimate, low, high float64
		want                string
	}{
		{0.06, 0.02, 0.1, "about 6 more of 100 nests would last"},
		{-0.03, -0.06, 0, "about 3 fewer of 100 nests would last"},
		{0, -0.04, 0.04, "about as many of 100 nests would last as do, going by sites of that density elsewhere; the range is 4 fewer to 4 more. It may be nothing at all."},
	} {
		if got := gain(place, bulletin.Value{Estimate: num(test.estimate), Low: num(test.low), High: num(test.high)}); !strings.Contains(got, test.want) {
			t.Errorf("%g: got %q, want %q in it", test.estimate, got, test.want)
		}
	}
}

// No probability reads as certainty.
func TestChances(t *testing.T) {
	for p, want := range map[float64]string{0: "fewer than 5 in 100", 0.05: "about 5 in 100", 0.8: "about 80 in 100", 0.95: "about 95 in 100", 1: "more than 95 in 100"} {
		if got := chances(words.Speaker{}, p); got != want {
			t.Errorf("%g: got %q, want %q", p, got, want)
		}
	}
}

// Paths never collide, neither with each other nor with the section's own pages.
func TestPathWords(t *testing.T) {
	d := outreachData{areas: []postgres.Area{{Name: "Upper Creek"}, {Name: "upper-creek"}, {Name: "Introductions"}, {Name: "Cooperative"}, {Name: "Źdźbło"}, {Name: "???"}}}
	all, err := d.outreachPlaces()
	if err != nil {
		t.Fatal(err)
	}
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
	if cells, figures := toldOutside(append([]bulletin.Cell{}, d.cells...), append([]bulletin.Figure{}, d.figures...)); len(cells) != len(d.cells) || len(figures) != len(d.figures) {
		t.Errorf("%d cells of %d, %d figures of %d: nothing here is of fewer than ten", len(cells), len(d.cells), len(figures), len(d.figures))
	}
	area := "West"
	few := bulletin.Cell{Season: 2026, Area: &area, Measure: bulletin.Survival28, Published: true, Entities: fewest}
	cells, figures := toldOutside(append([]bulletin.Cell{few}, d.cells...), append([]bulletin.Figure{}, d.figures...))
	for _, c := range cells {
		if c.Area != nil && c.Season == 2026 && c.Measure == bulletin.Survival28 && c.Substrate == nil {
			t.Errorf("the survival of %s and that of the whole tell the west's", *c.Area)
		}
	}
	for _, f := range figures {
		if f.Place != nil && f.Season == 2026 {
			t.Errorf("the figure %s of %s comes near its survival", f.Kind, *f.Place)
		}
	}
}
