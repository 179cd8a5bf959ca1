package geo_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/errs"
	"tussock/internal/geo"
)

// The polygon with a hole of RFC 7946, appendix A.3: the outer ring counterclockwise, the hole clockwise.
const holed = `[[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
	[[100.8, 0.8], [100.8, 0.2], [100.2, 0.2], [100.2, 0.8], [100.8, 0.8]]]`

func collection(features ...string) []byte {
	return []byte(`{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`)
}

func area(name, kind, coordinates string) string {
	return fmt.Sprintf(`{"type":"Feature","properties":{"name":%q},"geometry":{"type":%q,"coordinates":%s}}`, name, kind, coordinates)
}

func TestReadsTheStandardsExample(t *testing.T) {
	got, err := geo.Read(collection(area("North", "Polygon", holed)))
	if err != nil {
		t.Fatal(err)
	}
	want := []geo.Named{{Name: "North", Shape: geo.Shape{{
		{{100, 0}, {101, 0}, {101, 1}, {100, 1}, {100, 0}},
		{{100.8, 0.8}, {100.8, 0.2}, {100.2, 0.2}, {100.2, 0.8}, {100.8, 0.8}},
	}}}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if w, s, e, n := geo.Bounds(got[0].Shape); w != 100 || s != 0 || e != 101 || n != 1 {
		t.Errorf("bounds = %v %v %v %v", w, s, e, n)
	}
	// What is written is read back the same.
	text, err := geo.Collection(got)
	if err != nil {
		t.Fatal(err)
	}
	again, err := geo.Read(text)
	if diff := cmp.Diff(got, again); err != nil || diff != "" {
		t.Errorf("read back: %v\n%s", err, diff)
	}
}

// Rings that run the wrong way round are turned (RFC 7946, 3.1.6: a reader should not refuse them); heights are left
// out; two features of one name are one area.
func TestForgives(t *testing.T) {
	clockwise := `[[[0, 0, 900], [0, 1, 900], [1, 1, 900], [1, 0, 900], [0, 0, 900]]]`
	got, err := geo.Read(collection(area("North", "Polygon", clockwise), area(" north ", "MultiPolygon", "["+holed+"]")))
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 1 || len(got[0].Shape) != 2 {
		t.Fatalf("got %+v, want one area of two polygons", got)
	}
	want := geo.Ring{{0, 0}, {1, 0}, {1, 1}, {0, 1}, {0, 0}}
	if diff := cmp.Diff(want, got[0].Shape[0][0]); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestRefuses(t *testing.T) {
	ok := `[[[0,0],[1,0],[1,1],[0,0]]]`
	for _, tt := range []struct{ name, text, want string }{
		{"Words", "areas", "not a GeoJSON file"},
		{"Geometry", `{"type":"Polygon","coordinates":` + ok + `}`, "FeatureCollection"},
		{"None", string(collection()), "no area"},
		{"Nameless", string(collection(area("", "Polygon", ok))), "Area 1 has no name"},
		{"Line", string(collection(area("North", "Polygon", ok), area("South", "LineString", `[[0,0],[1,0]]`))), "Area 2 (South) is drawn as “LineString”"},
		{"Open", string(collection(area("North", "Polygon", `[[[0,0],[1,0],[1,1],[0,1]]]`))), "not closed"},
		{"TwoCorners", string(collection(area("North", "Polygon", `[[[0,0],[1,0],[0,0]]]`))), "not closed"},
		{"Meters", string(collection(area("North", "Polygon", `[[[500000,4600000],[510000,4600000],[510000,4610000],[500000,4600000]]]`))), "no longitude and latitude"},
		{"Words inside", string(collection(area("North", "Polygon", `[[["a","b"]]]`))), "not pairs"},
		{"Empty", string(collection(area("North", "MultiPolygon", `[]`))), "no outline"},
		{"Paddock", string(collection(area("North", "Polygon", `[[[0,0],[0.003,0],[0.003,0.003],[0,0]]]`))), "too small"},
		{"Grid", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::32613"}},"features":[` + area("North", "Polygon", ok) + `]}`, "coordinate system"},
		{"Fine", string(collection(area("North", "Polygon", circle(5000)))), "simplify"},
		{"Big", string(collection(area("North", "Polygon", circle(60000)))), "1 MB"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := geo.Read([]byte(tt.text))
			message, ok := errs.Message(err)
			if !ok || !strings.Contains(message, tt.want) || !errors.Is(err, errs.Invalid) && !errors.Is(err, errs.TooLarge) {
				t.Errorf("got %v, want a sentence with %q", err, tt.want)
			}
		})
	}
}

func circle(corners int) string {
	var ring [][2]float64
	for i := range corners + 1 {
		angle := 2 * math.Pi * float64(i%corners) / float64(corners)
		ring = append(ring, [2]float64{-100 + math.Cos(angle), 42 + math.Sin(angle)})
	}
	text, _ := json.Marshal([][][2]float64{ring})
	return string(text)
}

// A fine outline is kept at a hundredth of a degree and few corners, and still encloses what it did.
func TestCoarse(t *testing.T) {
	got, err := geo.Read(collection(area("Round", "Polygon", circle(3000))))
	if err != nil {
		t.Fatal(err)
	}
	ring := got[0].Shape[0][0]
	if len(ring) > 120 || len(ring) < 12 {
		t.Errorf("%d corners are kept", len(ring))
	}
	area := 0.0
	for i, p := range ring {
		for _, x := range p {
			if math.Abs(x*100-math.Round(x*100)) > 1e-6 {
				t.Fatalf("%v is finer than a hundredth of a degree", p)
			}
		}
		if i > 0 {
			area += (ring[i-1][0]*p[1] - p[0]*ring[i-1][1]) / 2
		}
	}
	if math.Abs(area/math.Pi-1) > 0.03 { // a circle of radius 1
		t.Errorf("the area is %.3f, want about π", area)
	}
}

// No part of an area is as small as a ranch can be: a township, six miles by six, is the least (43 U.S.C. 751), and nothing narrower than
// five miles. A degree of latitude is 69.05 miles, and at 42 degrees one of longitude 51.3.
func TestSmallAreas(t *testing.T) {
	box := func(x, y float64) string {
		return fmt.Sprintf("[[[-100,42],[%[1]g,42],[%[1]g,%[2]g],[-100,%[2]g],[-100,42]]]", -100+x, 42+y)
	}
	for _, tt := range []struct {
		name, kind, coordinates string
		want                    bool
	}{
		{"township and a little more", "Polygon", box(0.13, 0.1), true}, // 6.7 by 6.9 miles
		{"one square kilometer", "Polygon", box(0.01, 0.01), false},
		{"one ranch", "Polygon", box(0.1, 0.08), false}, // 5.1 by 5.5 miles
		{"a strip", "Polygon", box(1, 0.05), false},     // 51 by 3.5 miles
		{"a slanting strip", "Polygon", "[[[-100,42],[-99,43],[-99.04,43.04],[-100.04,42.04],[-100,42]]]", false},
		{"a ranch beside", "MultiPolygon", "[" + box(1, 1) + ",[[[-98,42],[-97.95,42],[-97.95,42.05],[-98,42.05],[-98,42]]]]", false},
		{"a hole that leaves little", "Polygon", "[[[-100,42],[-99.8,42],[-99.8,42.2],[-100,42.2],[-100,42]],[[-99.99,42.01],[-99.81,42.01],[-99.81,42.19],[-99.99,42.19],[-99.99,42.01]]]", false}, // 142 square miles less 115
	} {
		_, err := geo.Read(collection(area("North", tt.kind, tt.coordinates)))
		if message, _ := errs.Message(err); (err == nil) != tt.want || err != nil && !strings.Contains(message, "small") {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
	// A hole of a ranch's size is filled; a large one stays.
	got, err := geo.Read(collection(area("North", "Polygon", "[[[-100,42],[-99,42],[-99,43],[-100,43],[-100,42]],[[-99.5,42.5],[-99.45,42.5],[-99.45,42.55],[-99.5,42.55],[-99.5,42.5]],[[-99.9,42.1],[-99.6,42.1],[-99.6,42.4],[-99.9,42.4],[-99.9,42.1]]]")))
	if err != nil || len(got[0].Shape[0]) != 2 {
		t.Errorf("%v, %v: want the larger hole alone", got, err)
	}
}
