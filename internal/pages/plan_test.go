package pages_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
	seasons "tussock/internal/season"
)

// puts sends a file with the form at path.
func (m *member) puts(path, file, data string, fields ...string) answer {
	m.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	fields = append(fields, "csrf", m.word())
	for i := 0; i+1 < len(fields); i += 2 {
		w.WriteField(fields[i], fields[i+1])
	}
	part, err := w.CreateFormFile("file", file)
	if err != nil {
		m.t.Fatal(err)
	}
	io.WriteString(part, data)
	w.Close()
	r := httptest.NewRequest(http.MethodPost, path, &b)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return m.asks(r)
}

// Two pastures of about two by three miles, as a map program saves them.
const twoPastures = `{"type":"FeatureCollection","features":[
	{"type":"Feature","properties":{"name":"Breaks"},"geometry":{"type":"Polygon","coordinates":[[[-99.54,36.40],[-99.50,36.40],[-99.50,36.44],[-99.54,36.44],[-99.54,36.40]]]}},
	{"type":"Feature","properties":{"name":"Flat"},"geometry":{"type":"Polygon","coordinates":[[[-99.50,36.40],[-99.46,36.40],[-99.46,36.44],[-99.50,36.44],[-99.50,36.40]]]}}]}`

const aRoad = `<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>County road</name>
	<LineString><coordinates>-99.54,36.42,0 -99.46,36.42,0</coordinates></LineString></Placemark></Document></kml>`

func planned(fields ...string) []string {
	all := map[string]string{"purpose": "trend", "lines": "4", "stops": "12", "spacing": "50", "pace": "", "cover": "bunchgrass", "own": "sand sagebrush",
		"set_on": "", "first": "14", "last": "28", "slack": "2", "belt_width": "6", "belt_length": "726"}
	for i := 0; i+1 < len(fields); i += 2 {
		all[fields[i]] = fields[i+1]
	}
	var list []string
	for k, v := range all {
		list = append(list, k, v)
	}
	return list
}

// An owner plans a season: without a map, then with one; draws a line again for a reason; takes the files along. The hand
// reads and changes nothing, the neighbor and the coordinator find nothing.
func TestPlan(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)
	luis := rosa.invites(access.Hand, ranch)
	bo := rosa.invites(access.Landowner, rosa.adds("Long Mesa", "Bo Reyes"))
	year := time.Now().Year() + 1
	path := fmt.Sprintf("/plan/%s/%d", ranch, year)

	ada.want(ada.opens(path), http.StatusOK, "Nothing is planned yet", "24 nests", "48 nests", "96 nests")
	set := fmt.Sprintf("%d-05-10", year)
	for wrong, sentence := range map[string]string{"lines": "The number of lines", "spacing": "Nests are from 10 to 500", "set_on": "a day of the season’s year", "last": "The last check", "purpose": "what the season is to find out"} {
		ada.want(ada.posts(path, planned(wrong, "0")...), http.StatusUnprocessableEntity, sentence)
	}
	if got := ada.posts(path, planned("set_on", set)...); got.status != http.StatusSeeOther {
		t.Fatalf("planning: %d %s", got.status, got.text())
	}
	page := ada.opens(path)
	ada.want(page, http.StatusOK, "no map of the pastures yet", "Line 1", "Line 4", "sand sagebrush", "First check of the eggs")

	ada.want(ada.puts("/plan/"+string(ranch)+"/map", "x.kml", "<html>", "kind", "pasture"), http.StatusUnprocessableEntity, "This is no KML file")
	ada.want(ada.puts("/plan/"+string(ranch)+"/map", "x.kml", aRoad, "kind", "pasture"), http.StatusUnprocessableEntity, "is no polygon")
	ada.speaks = "es"
	ada.want(ada.puts("/plan/"+string(ranch)+"/map", "x.kml", aRoad, "kind", "pasture"), http.StatusUnprocessableEntity, "El número 1 del archivo no es un polígono.")
	ada.speaks = ""
	for kind, data := range map[string]string{"pasture": twoPastures, "road": aRoad} {
		if got := ada.puts("/plan/"+string(ranch)+"/map", "x", data, "kind", kind); got.status != http.StatusSeeOther {
			t.Fatalf("the map: %d %s", got.status, got.text())
		}
	}
	ada.want(ada.opens("/plan/"+string(ranch)+"/map"), http.StatusOK, "Breaks", "Flat", "County road", "acres")
	if got := ada.posts(path+"/draw", "fence", "150", "road", "300", "water", "500", "apart", "1,320"); got.status != http.StatusSeeOther {
		t.Fatalf("drawing: %d %s", got.status, got.text())
	}
	page = ada.opens(path)
	ada.want(page, http.StatusOK, "bearing", "Seed of the draw")
	if strings.Contains(page.text(), "does not fit") || strings.Contains(page.text(), "not drawn") || !strings.Contains(page.body, `class="plan-map"`) {
		t.Errorf("the drawn lines: %s", page.text())
	}

	line := regexp.MustCompile(`/plan/line/[0-9a-f-]{36}`).FindString(page.body)
	code := lineCode(ada.opens(line))
	ada.want(ada.posts(line+"/redraw", "why", ""), http.StatusUnprocessableEntity, "a cliff, a bull, a house")
	if got := ada.posts(line+"/redraw", "why", "a bull"); got.status != http.StatusSeeOther {
		t.Fatalf("drawing again: %d %s", got.status, got.text())
	}
	ada.want(ada.opens(line), http.StatusOK, "Drawn again: a bull")
	if again := lineCode(ada.opens(line)); again != code || code == "" {
		t.Errorf("the code was %s and is %s", code, again)
	}
	ada.want(ada.posts(line+"/walked", "lat", "36.41", "lon", "99.52", "bearing", "90"), http.StatusUnprocessableEntity, "minus sign")
	if got := ada.posts(line+"/walked", "lat", "36.41", "lon", "-99.52", "bearing", "90", "why", "the gate was locked"); got.status != http.StatusSeeOther {
		t.Errorf("walked: %d %s", got.status, got.text())
	}
	ada.want(ada.opens(line), http.StatusOK, "Walked on a bearing of 90°", "the gate was locked")

	gpx := luis.opens(path + "/lines.gpx")
	if gpx.status != http.StatusOK || !strings.Contains(gpx.header.Get("Content-Type"), "application/gpx+xml") || strings.Count(gpx.body, "<wpt ") != 48 || strings.Count(gpx.body, "<rte>") != 4 {
		t.Errorf("the GPX: %d, %d waypoints", gpx.status, strings.Count(gpx.body, "<wpt "))
	}
	if strings.Contains(gpx.header.Get("Content-Disposition"), "Cottonwood") {
		t.Error("the file's name tells the ranch")
	}
	var collection struct{ Features []any }
	if err := json.Unmarshal([]byte(luis.opens(path+"/lines.geojson").body), &collection); err != nil || len(collection.Features) != 52 {
		t.Errorf("the GeoJSON: %d features, %v", len(collection.Features), err)
	}
	if ics := luis.opens(path + "/days.ics"); strings.Count(ics.body, "BEGIN:VEVENT") != 3 || strings.Contains(ics.body, "Cottonwood") || strings.Contains(ics.body, "Breaks") {
		t.Errorf("the days: %s", ics.body)
	}
	ada.want(ada.opens("/who/log"), http.StatusOK, "lines.gpx")

	luis.want(luis.opens(path), http.StatusOK, "Line 1", "555 01")
	if body := luis.opens(path).body; strings.Contains(body, "Change the plan") || strings.Contains(body, "/draw") {
		t.Error("the hand is offered what the owner alone may do")
	}
	luis.want(luis.posts(path, planned()...), http.StatusForbidden)
	for _, who := range []*member{bo, rosa} {
		for _, p := range []string{path, path + "/lines.gpx", "/plan/" + string(ranch), "/plan/" + string(ranch) + "/map", "/plan/" + string(ranch) + "/agreement", line} {
			if got := who.opens(p); got.status != http.StatusNotFound && got.status != http.StatusForbidden || strings.Contains(got.body, "Breaks") {
				t.Errorf("%s gets %d for %s", who.actor.Role, got.status, p)
			}
		}
	}
	bo.want(bo.posts(path, planned()...), http.StatusNotFound)
	bo.want(bo.posts(line+"/redraw", "why", "a bull"), http.StatusNotFound)

	next := fmt.Sprintf("/plan/%s/%d", ranch, year+1)
	ada.want(ada.opens(next), http.StatusOK, fmt.Sprintf("As in %d?", year))
	if got := ada.posts(next+"/copy", "from", fmt.Sprint(year), "lines", "same"); got.status != http.StatusSeeOther {
		t.Fatalf("copying: %d %s", got.status, got.text())
	}
	var was, is []seasons.Line
	ada.does(func(tx *postgres.Tx) (err error) {
		if was, err = tx.Lines(ranch, year); err != nil {
			return err
		}
		is, err = tx.Lines(ranch, year+1)
		return err
	})
	if len(is) != 4 || is[1].Start != was[1].Start || is[1].Code == was[1].Code || is[1].SetOn.Year() != year+1 || is[1].SetOn.Time().Weekday() != was[1].SetOn.Time().Weekday() {
		t.Errorf("copied: got %+v of %+v", is, was)
	}
	for i := range was {
		if w := was[i].Walked; w != nil && (is[i].Start != w.Start || is[i].Walked != nil) {
			t.Errorf("the line that was walked elsewhere: got %+v", is[i])
		}
	}
}

func lineCode(a answer) string {
	found := regexp.MustCompile(`<span class="tag">([A-Z2-9]{6})</span>`).FindStringSubmatch(a.body)
	if found == nil {
		return ""
	}
	return found[1]
}

// The days come by themselves: a calendar under a secret address, taken back at once; the coordinator calls who is late.
func TestPlanReminders(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, ranch)
	today := time.Now()
	set := today.AddDate(0, 0, -20)
	path := fmt.Sprintf("/plan/%s/%d", ranch, set.Year())
	if got := ada.posts(path, planned("set_on", set.Format(time.DateOnly), "lines", "2")...); got.status != http.StatusSeeOther {
		t.Fatalf("planning: %d %s", got.status, got.text())
	}

	made := ada.posts("/plan/calendar")
	ada.want(made, http.StatusOK, "shown this once")
	address := regexp.MustCompile(`/calendar/[0-9a-f]{64}\.ics`).FindString(made.body)
	stranger := &member{stage: st}
	cal := stranger.opens(address)
	if cal.status != http.StatusOK || !strings.HasPrefix(cal.body, "BEGIN:VCALENDAR\r\n") || strings.Count(cal.body, "BEGIN:VEVENT") != 3 || strings.Contains(cal.body, "Cottonwood") {
		t.Errorf("the calendar: %d %s", cal.status, cal.body)
	}
	if got := stranger.opens("/calendar/" + strings.Repeat("0", 64) + ".ics"); got.status != http.StatusNotFound {
		t.Errorf("a guessed address: %d", got.status)
	}
	page := ada.opens("/plan/reminders")
	if strings.Contains(page.body, address) {
		t.Error("the address is shown again")
	}
	ada.want(page, http.StatusOK, "last asked for", "This service sends no mail")
	revoke := regexp.MustCompile(`/plan/calendar/[0-9a-f-]{36}/revoke`).FindString(page.body)
	rosa.want(rosa.posts(revoke), http.StatusForbidden)
	if got := ada.posts(revoke); got.status != http.StatusSeeOther {
		t.Errorf("taking it back: %d", got.status)
	}
	if got := stranger.opens(address); got.status != http.StatusNotFound {
		t.Errorf("after it was taken back: %d", got.status)
	}

	ada.want(ada.posts("/account/phone", "phone", "call me"), http.StatusUnprocessableEntity, "7 to 15 digits")
	if got := ada.posts("/account/phone", "phone", "580 555 0134"); got.status != http.StatusSeeOther {
		t.Errorf("the number: %d", got.status)
	}
	late := rosa.opens("/cooperative/late")
	rosa.want(late, http.StatusOK, "Cottonwood Draw", "First check of the eggs on lines 1, 2: was due", "4 days late", "580 555 0134")
	if got := rosa.posts("/cooperative/late/"+string(ranch), "season", fmt.Sprint(set.Year())); got.status != http.StatusSeeOther {
		t.Errorf("a call: %d %s", got.status, got.text())
	}
	rosa.want(rosa.opens("/cooperative/late"), http.StatusOK, "called on")
	ada.want(ada.opens("/cooperative/late"), http.StatusForbidden)
	ada.want(ada.opens("/plan/"+string(ranch)+"/agreement"), http.StatusOK, "Nobody has looked a second time yet")
}
