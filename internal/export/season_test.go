package export_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"math"
	"os/exec"
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"
	gpxlib "github.com/tkrajina/gpxgo/gpx"
	geom "github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/geojson"

	"tussock/internal/export"
	"tussock/internal/geo"
	planned "tussock/internal/season"
	"tussock/internal/survey"
)

func seasonLines() []planned.Line {
	l := planned.Line{ID: "3f0c9d1e-0000-4000-8000-000000000001", Ranch: "r", Season: 2027, Name: "1", Code: "AB2C3D", Pasture: "Río <&> \"bottom\"", Placed: true,
		Start: geo.Position{-99.5, 36.4}, Bearing: 45, Stops: 12, Spacing: 50, Pace: 2.5, Covers: []survey.Substrate{"bunchgrass", "yucca"},
		SetOn: survey.DateOf(2027, 2, 27), FirstCheck: survey.DateOf(2027, 3, 13), LastCheck: survey.DateOf(2027, 3, 27), Slack: 2}
	same, unplaced, closed := l, l, l
	same.ID, same.Name, same.Code, same.Start = "3f0c9d1e-0000-4000-8000-000000000002", "2", "AB2C3E", geo.Position{-99.6, 36.5}
	unplaced.ID, unplaced.Name, unplaced.Placed, unplaced.FirstCheck = "3f0c9d1e-0000-4000-8000-000000000003", "3", false, l.FirstCheck+1
	closed.ID, closed.Name, closed.Closed = "3f0c9d1e-0000-4000-8000-000000000004", "4", true
	return []planned.Line{l, same, unplaced, closed}
}

var noon = time.Date(2027, 2, 1, 12, 0, 0, 0, time.UTC)

// TestGPX reads the file with the library gpxgo, checks the order and the kinds that the schema of GPX 1.1 gives
// (https://www.topografix.com/GPX/1/1/gpx.xsd), and where xmllint is installed that it is well formed.
func TestGPX(t *testing.T) {
	var b bytes.Buffer
	if err := (export.Season{Title: "A ranch, 2027", Lines: seasonLines(), Now: noon}).GPX(&b); err != nil {
		t.Fatal(err)
	}
	doc, err := gpxlib.ParseBytes(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if doc.Version != "1.1" || doc.XMLNs != "http://www.topografix.com/GPX/1/1" || doc.Creator == "" || doc.Name != "A ranch, 2027" || doc.Time == nil || !doc.Time.Equal(noon) {
		t.Errorf("the head: got version %s, %s, %s, %s, %v", doc.Version, doc.XMLNs, doc.Creator, doc.Name, doc.Time)
	}
	if len(doc.Waypoints) != 24 || len(doc.Routes) != 2 || len(doc.Routes[1].Points) != 12 || len(doc.Tracks) != 0 {
		t.Fatalf("got %d waypoints, %d routes and %d tracks", len(doc.Waypoints), len(doc.Routes), len(doc.Tracks))
	}
	if p := doc.Waypoints[0]; p.Name != "1-01" || p.Latitude != 36.4 || p.Longitude != -99.5 || p.Symbol == "" {
		t.Errorf("the first stop: got %+v", p)
	}
	// Eleven times 50 paces of 2.5 ft are 1375 ft, 419.1 m; the library goes by a sphere.
	if r := doc.Routes[0].Points; math.Abs(r[0].Distance2D(&r[11])-419.1) > 2 || r[11].Latitude <= r[0].Latitude || r[11].Longitude <= r[0].Longitude {
		t.Errorf("the first line: %.1f m long, from %+v to %+v, want 419.1 m to the north-east", r[0].Distance2D(&r[11]), r[0].Point, r[11].Point)
	}
	if d := doc.Routes[0].Description; !strings.Contains(doc.Routes[0].Name, `Río <&> "bottom"`) || !strings.Contains(d, "AB2C3D") {
		t.Errorf("the first line is called %q, %q", doc.Routes[0].Name, d)
	}
	order := children(t, b.Bytes())
	if got := strings.Join(order["gpx"], " "); got != "metadata wpt rte" {
		t.Errorf("gpxType wants metadata, wpt, rte, trk: got %s", got)
	}
	for element, want := range map[string]string{"metadata": "name time bounds", "wpt": "name desc sym", "rte": "name desc number rtept", "rtept": "name"} {
		if got := strings.Join(order[element], " "); got != want {
			t.Errorf("%s: got %s, want %s", element, got, want)
		}
	}
	if path, err := exec.LookPath("xmllint"); err == nil {
		cmd := exec.Command(path, "--noout", "--nonet", "-")
		cmd.Stdin = &b
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("xmllint: %s", out)
		}
	}
}

// children lists for each element the names of what is in it, in order, without repeats.
func children(t *testing.T, data []byte) map[string][]string {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(data))
	found := map[string][]string{}
	var open []string
	for {
		token, err := d.Token()
		if err != nil {
			return found
		}
		switch x := token.(type) {
		case xml.StartElement:
			if n := len(open); n > 0 {
				in := found[open[n-1]]
				if len(in) == 0 || in[len(in)-1] != x.Name.Local {
					if !strings.Contains(" "+strings.Join(in, " ")+" ", " "+x.Name.Local+" ") {
						found[open[n-1]] = append(in, x.Name.Local)
					}
				}
			}
			open = append(open, x.Name.Local)
		case xml.EndElement:
			open = open[:len(open)-1]
		}
	}
}

// TestSeasonGeoJSON reads the file with the library go-geom.
func TestSeasonGeoJSON(t *testing.T) {
	var b bytes.Buffer
	if err := (export.Season{Lines: seasonLines(), Now: noon}).GeoJSON(&b); err != nil {
		t.Fatal(err)
	}
	var fc geojson.FeatureCollection
	if err := json.Unmarshal(b.Bytes(), &fc); err != nil || len(fc.Features) != 26 {
		t.Fatalf("got %v, %v", fc, err)
	}
	first := fc.Features[0]
	line, ok := first.Geometry.(*geom.LineString)
	if !ok || line.NumCoords() != 12 || !line.Coord(0).Equal(geom.XY, geom.Coord{-99.5, 36.4}) || first.Properties["name"] != "1" || first.Properties["first_on"] != "2027-03-13" {
		t.Fatalf("the first line: got %+v", first)
	}
	if p, ok := fc.Features[1].Geometry.(*geom.Point); !ok || !p.Coords().Equal(geom.XY, line.Coord(0)) || fc.Features[2].Properties["cover"] != "yucca" {
		t.Errorf("its stops: got %+v", fc.Features[1])
	}
	// RFC 7946, 4: longitude and latitude, and no crs; 11.2: six decimals are about ten centimeters.
	if x := line.Coord(1).X() * 1e6; strings.Contains(b.String(), "crs") || math.Abs(x-math.Round(x)) > 1e-3 {
		t.Error("a crs, or more than six decimals")
	}
}

func calendar(t *testing.T, named bool) (string, *ics.Calendar) {
	t.Helper()
	c := export.Calendar{Named: named, Now: noon, Alarm: true}
	for _, l := range seasonLines() {
		c.Days = append(c.Days, export.CalendarLine{Line: l, RanchName: "Dry Fork; north, of the very long name that has to be folded once or twice – ñandú", Changed: noon})
	}
	var b bytes.Buffer
	if err := c.Write(&b); err != nil {
		t.Fatal(err)
	}
	cal, err := ics.ParseCalendar(strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	return b.String(), cal
}

// TestCalendar reads the calendar with the library golang-ical and checks what RFC 5545 wants of it.
func TestCalendar(t *testing.T) {
	text, cal := calendar(t, true)
	for i, line := range strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if len(line) > 75 || strings.ContainsAny(line, "\r\n") || line == "" {
			t.Errorf("line %d has %d octets: %q", i+1, len(line), line)
		}
	}
	events := cal.Events()
	// Lines 1 and 2 share their days; 3 has a first check of its own; 4 is closed. Set-out: 1, 2, 3 together and 4.
	if len(events) != 7 {
		t.Fatalf("got %d events, want 7", len(events))
	}
	uids := map[string]bool{}
	cancelled := 0
	for _, e := range events {
		uids[e.Id()] = true
		if _, err := e.GetDtStampTime(); err != nil {
			t.Errorf("no DTSTAMP: %v", err)
		}
		if e.GetProperty(ics.ComponentProperty(ics.PropertyStatus)).Value == "CANCELLED" {
			cancelled++
		} else if len(e.Alarms()) != 1 {
			t.Errorf("%d alarms", len(e.Alarms()))
		}
		if e.GetProperty(ics.ComponentPropertySequence).Value != "34257600" { // seconds from 1 January 2026 to noon of 1 February 2027: 396.5 days
			t.Errorf("sequence %s", e.GetProperty(ics.ComponentPropertySequence).Value)
		}
	}
	if len(uids) != 7 || cancelled != 3 {
		t.Errorf("%d identities, %d cancelled", len(uids), cancelled)
	}
	first := events[2]
	if got := first.GetProperty(ics.ComponentPropertySummary).Value; got != "First check of the eggs on lines 1, 2, Dry Fork; north, of the very long name that has to be folded once or twice – ñandú (Río <&> \"bottom\")" {
		t.Errorf("summary: got %q", got)
	}
	// The window of 13 March ± 2 days: clocks change in the United States on 14 March 2027 (15 USC 260a), and five whole
	// days are five whole days all the same.
	from, err := first.GetAllDayStartAt()
	to, err2 := first.GetAllDayEndAt()
	if err != nil || err2 != nil || from.Format(time.DateOnly) != "2027-03-11" || to.Format(time.DateOnly) != "2027-03-16" {
		t.Errorf("window: got %v to %v, %v, %v", from, to, err, err2)
	}
	if v := first.GetProperty(ics.ComponentPropertyDtStart); v.Value != "20270311" || v.ICalParameters["VALUE"][0] != "DATE" {
		t.Errorf("DTSTART is %+v", v)
	}
}

// TestCalendarNamesNothing: unless the reader chose so, neither a ranch nor a pasture nor a place stands in it.
func TestCalendarNamesNothing(t *testing.T) {
	text, _ := calendar(t, false)
	flat := strings.ReplaceAll(text, "\r\n ", "")
	for _, never := range []string{"Dry Fork", "bottom", "36.4", "99.5", "AB2C3D", "LOCATION", "GEO"} {
		if strings.Contains(flat, never) {
			t.Errorf("the calendar says %q", never)
		}
	}
}
