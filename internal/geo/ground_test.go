package geo_test

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	orbgeo "github.com/paulmach/orb/geo"
	kml "github.com/twpayne/go-kml/v3"

	"tussock/internal/errs"
	"tussock/internal/geo"
)

// TestAlong compares with the library orb, whose sphere has the radius 6 378 137 m.
func TestAlong(t *testing.T) {
	for _, from := range []geo.Position{{-99.5, 36.4}, {0, 0}, {179.99, -12}, {-3, 60}} {
		for bearing := 0.0; bearing < 360; bearing += 37 {
			const feet = 5280.0
			meters := feet * 0.3048 * 6378137 / 6371008.8
			got := geo.Along(from, bearing, feet)
			want := orbgeo.PointAtBearingAndDistance(orb.Point(from), bearing, meters)
			dx := math.Mod(got[0]-want[0]+540, 360) - 180
			if math.Abs(dx) > 1e-9 || math.Abs(got[1]-want[1]) > 1e-9 {
				t.Errorf("from %v on %g: got %v, want %v", from, bearing, got, want)
			}
			if d := geo.Feet(from, got); math.Abs(d-feet) > 1e-3 {
				t.Errorf("and back: got %g ft, want %g", d, feet)
			}
		}
	}
	// A quarter of the way round the equator, by definition.
	if p := geo.Along(geo.Position{0, 0}, 90, math.Pi/2*6371008.8/0.3048); math.Abs(p[0]-90) > 1e-9 || math.Abs(p[1]) > 1e-9 {
		t.Errorf("a quarter of the equator: got %v", p)
	}
}

// written is a file in the form of the OGC's schema (12-007r2), by the library go-kml: folders, a polygon with a hole, a
// line and a point, a height in the coordinates.
func written(t *testing.T) []byte {
	t.Helper()
	c := func(xs ...float64) (list []kml.Coordinate) {
		for i := 0; i < len(xs); i += 2 {
			list = append(list, kml.Coordinate{Lon: xs[i], Lat: xs[i+1], Alt: 3})
		}
		return list
	}
	ring := func(xs ...float64) kml.Element { return kml.LinearRing(kml.Coordinates(c(xs...)...)) }
	doc := kml.KML(kml.Document(kml.Name("A ranch"),
		kml.Style(kml.LineStyle(kml.Width(3))),
		kml.Folder(kml.Name("Pastures"),
			kml.Placemark(kml.Name(" River \n bottom "), kml.Polygon(
				kml.OuterBoundaryIs(ring(-99.5, 36, -99.4, 36, -99.4, 36.1, -99.5, 36.1, -99.5, 36)),
				kml.InnerBoundaryIs(ring(-99.46, 36.04, -99.44, 36.04, -99.44, 36.06, -99.46, 36.06, -99.46, 36.04)))),
			kml.Placemark(kml.Name("Two parts"), kml.MultiGeometry(
				kml.Polygon(kml.OuterBoundaryIs(ring(1, 1, 2, 1, 2, 2, 1, 1))),
				kml.Polygon(kml.OuterBoundaryIs(ring(3, 1, 4, 1, 4, 2, 3, 1)))))),
		kml.Placemark(kml.Name("Road"), kml.LineString(kml.Coordinates(c(-99.5, 36, -99.4, 36.1)...))),
		kml.Placemark(kml.Name("Tank"), kml.Point(kml.Coordinates(c(-99.45, 36.05)...))),
	))
	var b bytes.Buffer
	if err := doc.WriteIndent(&b, "", "  "); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestReadKML(t *testing.T) {
	list, err := geo.ReadGround(written(t))
	if err != nil || len(list) != 4 {
		t.Fatalf("got %d features, %v", len(list), err)
	}
	if f := list[0]; f.Name != "River bottom" || len(f.Polygons) != 1 || len(f.Polygons[0]) != 2 || f.Polygons[0][1][2] != (geo.Position{-99.44, 36.06}) {
		t.Errorf("the pasture: got %+v", f)
	}
	if f := list[1]; len(f.Polygons) != 2 {
		t.Errorf("the pasture of two parts: got %+v", f)
	}
	if f := list[2]; len(f.Paths) != 1 || len(f.Paths[0]) != 2 {
		t.Errorf("the road: got %+v", f)
	}
	if f := list[3]; len(f.Points) != 1 || f.Points[0] != (geo.Position{-99.45, 36.05}) {
		t.Errorf("the tank: got %+v", f)
	}
}

// The example of a feature collection in RFC 7946, 1.5.
const rfc = `{ "type": "FeatureCollection", "features": [
	{ "type": "Feature", "geometry": { "type": "Point", "coordinates": [102.0, 0.5] }, "properties": { "prop0": "value0" } },
	{ "type": "Feature", "geometry": { "type": "LineString", "coordinates": [ [102.0, 0.0], [103.0, 1.0], [104.0, 0.0], [105.0, 1.0] ] },
	  "properties": { "prop0": "value0", "prop1": 0.0 } },
	{ "type": "Feature", "geometry": { "type": "Polygon", "coordinates": [ [ [100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0] ] ] },
	  "properties": { "prop0": "value0", "prop1": { "this": "that" } } } ] }`

func TestReadGeoJSON(t *testing.T) {
	list, err := geo.ReadGround([]byte(rfc))
	if err != nil || len(list) != 3 || len(list[0].Points) != 1 || len(list[1].Paths[0]) != 4 || len(list[2].Polygons[0][0]) != 5 {
		t.Fatalf("got %+v, %v", list, err)
	}
	bare, err := geo.ReadGround([]byte(`{"type":"GeometryCollection","geometries":[{"type":"MultiPoint","coordinates":[[1,2],[3,4]]},{"type":"MultiLineString","coordinates":[[[1,2],[3,4]]]}]}`))
	if err != nil || len(bare) != 1 || len(bare[0].Points) != 2 || len(bare[0].Paths) != 1 {
		t.Fatalf("a bare geometry: got %+v, %v", bare, err)
	}
}

// TestReadGroundRefuses: what cannot be used is refused with a sentence, and nothing brings the reader down.
func TestReadGroundRefuses(t *testing.T) {
	for name, tt := range map[string]struct{ data, want string }{
		"nothing":     {"", "neither"},
		"zip":         {"PK\x03\x04", "KMZ"},
		"html":        {"<html></html>", "no KML"},
		"half KML":    {"<kml><Placemark><Polygon>", "not a whole KML"},
		"empty KML":   {"<kml></kml>", "nothing drawn"},
		"words":       {"<kml><Placemark><name>x</name><Point><coordinates>here</coordinates></Point></Placemark></kml>", "not longitude and latitude"},
		"not numbers": {"<kml><Placemark><Point><coordinates>NaN,1</coordinates></Point></Placemark></kml>", "no longitude and latitude"},
		"open ring":   {`{"type":"Polygon","coordinates":[[[1,1],[2,1],[2,2]]]}`, "not closed"},
		"meters":      {`{"type":"Point","coordinates":[500000,4000000]}`, "Longitude comes first"},
		"projection":  {`{"type":"FeatureCollection","crs":{"properties":{"name":"EPSG:26914"}},"features":[]}`, "coordinate system"},
		"half JSON":   {`{"type":`, "not a whole GeoJSON"},
		"a shape":     {`{"type":"Circle","coordinates":[1,2]}`, "cannot read"},
		"too deep":    {strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 9) + strings.Repeat("]}", 9), "cannot read"},
		"too big":     {strings.Repeat(" ", geo.MaxFile+1), "1 MB"},
		"too many":    {`{"type":"MultiPoint","coordinates":[[1,1]` + strings.Repeat(",[1,1]", geo.MostPositions) + "]}", "corners"},
	} {
		_, err := geo.ReadGround([]byte(tt.data))
		message, ok := errs.Message(err)
		if !ok || !(errors.Is(err, errs.Invalid) || errors.Is(err, errs.TooLarge)) || !strings.Contains(message, tt.want) {
			t.Errorf("%s: got %v, want a sentence with %q", name, err, tt.want)
		}
	}
}

func FuzzReadGround(f *testing.F) {
	f.Add([]byte(rfc))
	f.Add([]byte("<kml><Folder><Placemark><MultiGeometry><Point><coordinates>1,2,3</coordinates></Point></MultiGeometry></Placemark></Folder></kml>"))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := geo.ReadGround(data)
		if err == nil && len(list) == 0 {
			t.Error("no error and nothing read")
		}
		if _, ok := errs.Message(err); err != nil && !ok {
			t.Errorf("no sentence: %v", err)
		}
	})
}
