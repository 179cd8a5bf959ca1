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
		{"Metres", string(collection(area("North", "Polygon", `[[[500000,4600000],[510000,4600000],[510000,4610000],[500000,4600000]]]`))), "no longitude and latitude"},
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
