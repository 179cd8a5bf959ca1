package pages_test

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/geo"
	"tussock/internal/postgres"
)

// An outreachStage is a cooperative with a frozen bulletin: North rests on twelve landowners, South and East together on
// six. All figures are made up.
type outreachStage struct {
	*stage
	rosa, ada, planner *member
}

// The figures that rest on six landowners. No page for outside may hold one.
const hiddenRate, hiddenCover = "33", "777"

func newOutreachStage(t *testing.T) *outreachStage {
	t.Helper()
	st := sharedStage(t)
	s := &outreachStage{stage: st, rosa: st.cooperative("Sandhill Grass")}
	s.rosa.does(func(tx *postgres.Tx) error {
		for _, area := range []string{"North", "South", "East"} {
			if err := tx.SaveArea(area, ""); err != nil {
				return err
			}
		}
		return nil
	})
	s.ada = s.rosa.invites(access.Landowner, s.rosa.adds("Cottonwood Draw", "Marsh family"))
	s.planner = s.rosa.invites(access.Planner)

	seed := func(statement string, args ...any) {
		t.Helper()
		if _, err := st.db.Owner.Exec(context.Background(), statement, append([]any{s.rosa.actor.Coop}, args...)...); err != nil {
			t.Fatalf("%s: %v", statement, err)
		}
	}
	seed("INSERT INTO pub.bulletin (coop_id, season, number, published_at, hash) VALUES ($1, 2025, 4, '2025-12-01', 'h'), ($1, 2026, 5, '2026-12-01', 'h')")
	seed("INSERT INTO pub.place (coop_id, season, area, label) VALUES ($1, 2026, 'North', 'North'), ($1, 2026, 'South', 'East + South'), ($1, 2026, 'East', 'East + South')")
	row := 0
	cell := func(season int, area, substrate any, measure string, estimate, low, high float64, entities string, n int) {
		t.Helper()
		row++
		seed(`INSERT INTO pub.cell (coop_id, season, row, area, substrate, measure, predator, estimate, low, high, entities, n)
			VALUES ($1, $2, $3, $4, $5, $6, '', $7, $8, $9, $10, $11)`, season, row, area, substrate, measure, estimate, low, high, entities, n)
	}
	cell(2025, "North", nil, "survival_28", 0.50, 0.42, 0.58, "10-19", 12)
	cell(2026, nil, nil, "survival_28", 0.54, 0.48, 0.60, "10-19", 18)
	cell(2026, nil, nil, "clumps_per_acre", 260, 230, 290, "10-19", 18)
	cell(2026, "North", nil, "survival_28", 0.46, 0.38, 0.56, "10-19", 12)
	cell(2026, "North", "bunchgrass", "survival_28", 0.36, 0.28, 0.46, "10-19", 12)
	cell(2026, "North", "yucca", "survival_28", 0.58, 0.48, 0.68, "10-19", 12)
	cell(2026, "North", nil, "clumps_per_acre", 210, 170, 250, "10-19", 12)
	cell(2026, "East + South", nil, "survival_28", 0.33, 0.20, 0.45, "5-9", 6)
	cell(2026, "East + South", nil, "clumps_per_acre", 777, 700, 800, "5-9", 6)
	return s
}

// uploads sends one file with a form.
func (m *member) uploads(path, name, data string) answer {
	m.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	w.WriteField("csrf", m.word())
	part, err := w.CreateFormFile("file", name)
	if err != nil {
		m.t.Fatal(err)
	}
	io.WriteString(part, data)
	w.Close()
	r := httptest.NewRequest(http.MethodPost, path, &b)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return m.asks(r)
}

var outreachPaths = []string{"/outreach", "/outreach/map.json", "/outreach/north", "/outreach/east-south", "/outreach/cooperative",
	"/outreach/north/poster", "/outreach/east-south/poster", "/outreach/north/poster.svg", "/outreach/introductions"}

func TestOutreach(t *testing.T) {
	s := newOutreachStage(t)
	page := s.planner.opens("/outreach")
	s.planner.want(page, http.StatusOK, "North Cover is short (about 90 in 100) 46 (38–56) 210 (170–250)", "East and South not shown not shown not shown",
		"in no order", "Bulletin 5, season 2026")

	place := s.planner.opens("/outreach/north")
	s.planner.want(place, http.StatusOK,
		"In North about 46 of 100 simulated nests lasted four weeks in 2026; cover to nest in seems short there.",
		"the likely range is 38 to 56. Of 100 such ranges about 95 hold the true figure.", "about 210 clumps an acre", "the target is 300 an acre",
		"about 58 in yucca and 36 in bunchgrass lasted. More nests lasted in yucca than in bunchgrass: 8 to 35 of 100 more.",
		"In 2025 it was about 50 of 100. Whether more or fewer nests lasted in 2026 than in 2025 cannot be told yet: it could be anything from 15 fewer to 9 more of 100.",
		"Grazing and rest for nesting cover", "Lighter stocking", "Not first Trapping.", "never a prescription",
		"Landowners behind it: 10 to 19")
	s.planner.want(s.planner.opens("/outreach/east-south"), http.StatusOK, "not shown")

	// What rests on fewer than ten landowners leaves the cooperative by nobody's hand, and no name by any.
	for _, m := range []*member{s.planner, s.rosa, s.rosa.invites(access.Biologist)} {
		for _, path := range outreachPaths {
			got := m.opens(path)
			if found := regexp.MustCompile(`\b(` + hiddenRate + `|` + hiddenCover + `)\b`).FindString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(got.body, " ")); found != "" {
				t.Errorf("%s as %s holds %s, which rests on six landowners", path, m.actor.Role, found)
			}
			if m.actor.Role == access.Planner {
				noNames(t, path, got)
			}
		}
	}
	// A claim never says more than eggs can.
	for _, path := range outreachPaths {
		claims := regexp.MustCompile(`(?s)What these eggs cannot say.*?Bulletin|They are not real nests.*?how many there are\.|They do not say.*?birds there are\.|Eggs set out in the grass show.*$`).ReplaceAllString(s.planner.opens(path).text(), "")
		if found := regexp.MustCompile(`(?i)\bhatch|\bbirds\b|because of|\bquail|\bbest\b|\bworst\b|\brank`).FindString(claims); found != "" {
			t.Errorf("%s claims %q", path, found)
		}
	}
	// A place of another cooperative does not exist, nor does one that never was.
	far := s.cooperative("North Fork")
	want := s.planner.opens("/outreach/nowhere")
	for _, path := range []string{"/outreach/north", "/outreach/north/poster", "/outreach/north/poster.svg"} {
		if got := far.opens(path); got.status != http.StatusNotFound {
			t.Errorf("%s as another cooperative's: %d", path, got.status)
		}
	}
	if want.status != http.StatusNotFound {
		t.Errorf("a place that never was: %d", want.status)
	}
	far.want(far.opens("/outreach"), http.StatusOK, "The first bulletin comes out when")

	hand := s.rosa.invites(access.Hand, s.ada.actor.Ranches[0])
	for _, m := range []*member{s.ada, hand} {
		for _, path := range outreachPaths {
			if got := m.opens(path); got.status != http.StatusForbidden {
				t.Errorf("%s as %s: %d, want 403", path, m.actor.Role, got.status)
			}
		}
	}
}

// noNames fails where a planner's page names a ranch, an owner or a landowner.
func noNames(t *testing.T, path string, got answer) {
	t.Helper()
	for _, name := range []string{"Cottonwood", "Marsh", "Person Two", "person2@"} {
		if strings.Contains(got.body, name) {
			t.Errorf("a planner reads %q on %s", name, path)
		}
	}
}

// A poster's limits stand between its two figures, in the picture itself.
func TestPoster(t *testing.T) {
	s := newOutreachStage(t)
	const limits = "These are hen’s eggs set out in the grass. They show the risk a nest would run there. They are not real nests: nothing here says how many birds hatched, or how many there are."
	page := s.planner.opens("/outreach/north/poster")
	picture := regexp.MustCompile(`(?s)<svg[^>]*class="poster".*?</svg>`).FindString(page.body)
	file := s.planner.opens("/outreach/north/poster.svg")
	if picture == "" || html.UnescapeString(file.body) != html.UnescapeString(picture) {
		t.Fatalf("the file is another picture than the page's: %d, %d bytes", file.status, len(file.body))
	}
	if got := file.header.Get("Content-Type"); got != "image/svg+xml" {
		t.Errorf("content type = %q", got)
	}
	// It hangs where others speak than who prints it.
	const spanish = "Son huevos de gallina puestos en el zacate. Muestran el riesgo que correría ahí un nido. No son nidos de verdad"
	for _, path := range []string{"/outreach/north/poster?in=es", "/outreach/north/poster.svg?in=es"} {
		if got := s.planner.opens(path); !strings.Contains(got.body, spanish) {
			t.Errorf("%s: status %d, without the limits in Spanish", path, got.status)
		}
	}

	// Read as XML: every text with the place it stands at, and what is drawn above and below the limits.
	type text struct {
		y     float64
		words string
	}
	var texts []text
	var eggs []float64
	mark := 0.0
	d := xml.NewDecoder(strings.NewReader(file.body))
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("the picture is no XML: %v", err)
		}
		start, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		attr := func(name string) string {
			i := slices.IndexFunc(start.Attr, func(a xml.Attr) bool { return a.Name.Local == name })
			if i < 0 {
				return ""
			}
			return start.Attr[i].Value
		}
		y, _ := strconv.ParseFloat(attr("y"), 64)
		switch {
		case attr("class") != "" && start.Name.Local != "svg" || attr("style") != "":
			t.Errorf("<%s> needs a style sheet, which the file has not", start.Name.Local)
		case start.Name.Local == "text":
			var words string
			if err := d.DecodeElement(&words, &start); err != nil {
				t.Fatal(err)
			}
			texts = append(texts, text{y, words})
		case start.Name.Local == "use" && attr("width") == "29":
			eggs = append(eggs, y)
		case start.Name.Local == "circle":
			mark, _ = strconv.ParseFloat(attr("cy"), 64)
		}
	}
	if len(eggs) != 100 {
		t.Errorf("%d eggs are drawn, want 100", len(eggs))
	}
	var all []string
	for _, x := range texts {
		all = append(all, x.words)
	}
	whole := strings.Join(all, " ")
	for _, want := range []string{limits, "North", "About 46 of 100 simulated nests lasted four weeks.", "38 or more lasted", "as many as 56 may have",
		"about 210 clumps an acre (170 to 250)", "300, the target", "Cover is short: chances are about 90 in 100.",
		"Source: Sandhill Grass, bulletin 5, season 2026, published December 1, 2026. Landowners behind the figures: 10 to 19.", "Printed "} {
		if !strings.Contains(whole, want) {
			t.Errorf("the picture does not say %q: %s", want, whole)
		}
	}
	for _, x := range texts {
		if strings.Contains(limits, x.words) && len(x.words) > 20 && (x.y <= slices.Max(eggs) || x.y >= mark) {
			t.Errorf("%q stands at %v: not between the eggs (%v) and the cover (%v)", x.words, x.y, slices.Max(eggs), mark)
		}
	}
	for _, want := range []string{"<title", "<desc", `role="img"`} {
		if !strings.Contains(file.body, want) {
			t.Errorf("the picture has no %s", want)
		}
	}
	s.planner.want(page, http.StatusOK, "The same in words", limits)

	s.planner.want(s.planner.opens("/outreach/east-south/poster"), http.StatusOK, "not shown", "There is no poster of it")
	s.planner.want(s.planner.opens("/outreach/east-south/poster.svg"), http.StatusNotFound)
}

func TestIntroductions(t *testing.T) {
	s := newOutreachStage(t)
	ranch := s.ada.actor.Ranches[0]
	s.rosa.want(s.rosa.opens("/cooperative/introductions"), http.StatusOK, "No planner has asked", "Nobody has said so yet")

	// The landowner is glad; the planner's pages do not change by a byte.
	before := s.planner.opens("/outreach/introductions").text()
	s.ada.want(s.ada.opens("/who"), http.StatusOK, "Would you be glad to hear from planners of field days for Cottonwood Draw?")
	if got := s.ada.posts("/who/"+string(ranch)+"/welcome", "glad", "1"); got.status != http.StatusSeeOther {
		t.Fatalf("saying yes gave %d: %s", got.status, got.text())
	}
	s.ada.want(s.ada.opens("/who"), http.StatusOK, "An owner said that you would be glad")
	if got := s.planner.opens("/outreach/introductions").text(); got != before {
		t.Errorf("a planner can tell that somebody is glad: %s", got)
	}
	s.rosa.want(s.rosa.opens("/cooperative/introductions"), http.StatusOK, "Cottonwood Draw , Marsh family", "Person Two")

	s.planner.want(s.planner.posts("/outreach/introductions", "place", "north", "purpose", "  "), http.StatusUnprocessableEntity, "Say what you would like to do there")
	s.planner.want(s.planner.posts("/outreach/introductions", "place", "nowhere", "purpose", "x"), http.StatusNotFound)
	s.planner.posts("/outreach/introductions", "place", "north", "purpose", "A pasture walk in June.")
	asked := s.planner.opens("/outreach/introductions?sent=1")
	s.planner.want(asked, http.StatusOK, "Your request is with the coordinator", "North waiting", "A pasture walk in June.")

	s.rosa.want(s.rosa.opens("/cooperative"), http.StatusOK, "1 planner asks to be introduced")
	waits := s.rosa.opens("/cooperative/introductions")
	s.rosa.want(waits, http.StatusOK, "One planner’s request waits for you", "Person Three , North", "A pasture walk in June.", "person3@example.org")
	action := regexp.MustCompile(`/cooperative/introductions/[0-9a-f-]{36}`).FindString(waits.body)

	s.rosa.want(s.rosa.posts(action, "reply", "x"), http.StatusUnprocessableEntity, "Choose whether you pass the request on")
	named := s.rosa.posts(action, "state", "passed on", "reply", "The marsh family is glad to host you.")
	s.rosa.want(named, http.StatusUnprocessableEntity, "That names Marsh family", "The marsh family is glad to host you.")
	s.planner.want(s.planner.opens("/outreach/introductions"), http.StatusOK, "North waiting")
	s.rosa.posts(action, "state", "passed on", "reply", "You will hear by the end of the month.")
	s.rosa.want(s.rosa.opens("/cooperative/introductions"), http.StatusOK, "No request waits for you")
	answered := s.planner.opens("/outreach/introductions")
	s.planner.want(answered, http.StatusOK, "North passed on", "You will hear by the end of the month.")
	for _, got := range []answer{asked, answered} {
		noNames(t, "/outreach/introductions", got)
	}

	// Nobody else asks or reads.
	other := s.rosa.invites(access.Planner)
	if got := other.opens("/outreach/introductions").text(); strings.Contains(got, "pasture walk in June. Asked") || strings.Contains(got, "passed on") {
		t.Errorf("another planner reads the request: %s", got)
	}
	for _, m := range []*member{s.ada, s.rosa.invites(access.Biologist), s.rosa} {
		m.want(m.posts("/outreach/introductions", "place", "north", "purpose", "x"), http.StatusForbidden)
	}
	s.ada.posts("/who/"+string(ranch)+"/welcome", "glad", "0")
	s.rosa.want(s.rosa.opens("/cooperative/introductions"), http.StatusOK, "Nobody has said so yet")
}

// The map comes from the coordinator's own file, coarse, from our own address.
func TestMap(t *testing.T) {
	s := newOutreachStage(t)
	tiles := s.planner.opens("/outreach")
	if strings.Contains(tiles.body, "data-outlines") || !strings.Contains(tiles.body, `class="tiles"`) {
		t.Error("without outlines the areas should stand as tiles")
	}
	square := func(name string, west float64) string {
		w, e := strconv.FormatFloat(west, 'f', -1, 64), strconv.FormatFloat(west+1, 'f', -1, 64)
		return `{"type":"Feature","properties":{"name":"` + name + `"},"geometry":{"type":"Polygon","coordinates":[[[` + w + `,42.1234],[` + e + `,42.1234],[` + e + `,43],[` + w + `,43],[` + w + `,42.1234]]]}}`
	}
	file := func(features ...string) string {
		return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
	}
	for _, tt := range []struct{ name, data, want string }{
		{"Words", "areas", "not a GeoJSON file"},
		{"Elsewhere", file(square("West", -100)), "The file has West, which is no area of yours. Your areas are East, North and South."},
		{"Big", strings.Repeat(" ", geo.MaxFile+1), "bigger than 1 MB"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s.rosa.want(s.rosa.uploads("/cooperative/areas/map", "areas.geojson", tt.data), http.StatusUnprocessableEntity, tt.want)
		})
	}
	s.planner.want(s.planner.uploads("/cooperative/areas/map", "areas.geojson", file(square("North", -100))), http.StatusForbidden)
	if got := s.rosa.uploads("/cooperative/areas/map", "areas.geojson", file(square("north", -100), square("South", -99), square("East", -98))); got.status != http.StatusSeeOther {
		t.Fatalf("sending the map gave %d: %s", got.status, got.text())
	}
	s.rosa.want(s.rosa.opens("/cooperative/areas/map"), http.StatusOK, "3 of 3 areas are on the map")

	page := s.planner.opens("/outreach")
	if !strings.Contains(page.body, `data-outlines="/outreach/map.json"`) {
		t.Error("the page does not ask for its outlines at our own address")
	}
	if csp := page.header.Get("Content-Security-Policy"); !strings.Contains(csp, "connect-src 'self'") {
		t.Errorf("policy = %s", csp)
	}
	var options struct {
		Series []struct {
			Type string
			Data []struct{ Name, Words, Path string }
		}
	}
	script := regexp.MustCompile(`(?s)id="map-options">(.*?)</script>`).FindStringSubmatch(page.body)
	if script == nil || json.Unmarshal([]byte(script[1]), &options) != nil || options.Series[0].Type != "map" || len(options.Series[0].Data) != 3 {
		t.Fatalf("options = %v", script)
	}

	got := s.planner.opens("/outreach/map.json")
	if kind := got.header.Get("Content-Type"); kind != "application/geo+json" { // RFC 7946, 12
		t.Errorf("content type = %q", kind)
	}
	list, err := geo.Read([]byte(got.body))
	if err != nil || len(list) != 3 {
		t.Fatalf("outlines: %v, %+v", err, list)
	}
	for _, n := range list {
		if !slices.ContainsFunc(options.Series[0].Data, func(d struct{ Name, Words, Path string }) bool { return d.Name == n.Name }) {
			t.Errorf("the outline %q has no figures", n.Name)
		}
	}
	if strings.Contains(got.body, "1234") {
		t.Error("an outline is finer than a hundredth of a degree")
	}

	s.rosa.posts("/cooperative/areas/map/remove")
	if strings.Contains(s.planner.opens("/outreach").body, "data-outlines") {
		t.Error("the map was taken away and is still there")
	}
}
