// Package geo reads what people draw on maps from GeoJSON (RFC 7946, https://www.rfc-editor.org/rfc/rfc7946) and KML (OGC
// 12-007r2), and measures on it.
//
// Two kinds of map, two ways. An outline of one of the cooperative's areas is shown to everybody: it is kept at about a
// kilometer, so that no ranch's fence can be read off it, whatever was sent ([Read]). A ranch's own pastures, roads and
// water are for the ranch alone, and kept as they were drawn ([ReadGround]).
package geo

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// A Position is longitude and latitude in degrees, WGS 84.
type Position [2]float64

// A Ring is a closed line: its last position is its first.
type Ring []Position

// A Polygon is an outer ring and the holes in it.
type Polygon []Ring

// A Shape is an area's outline. Its JSON is that of the coordinates of a GeoJSON MultiPolygon.
type Shape []Polygon

// A Named outline is that of one area.
type Named struct {
	Name  string
	Shape Shape
}

const (
	grain   = 0.01 // degrees: about a kilometer
	most    = 120  // positions in a ring that is kept
	deepest = 4000 // positions in all rings of a file: far more than a coarse map needs, and few enough to simplify at once
	MaxFile = 1 << 20

	// No part of an area is smaller or narrower: on a map that everybody reads it could be one ranch. Smallest is a township.
	Smallest  = 36 // square miles
	Narrowest = 5  // miles
)

// A document is as much of a GeoJSON text as is used.
type document struct {
	Type     string          `json:"type"`
	Features []feature       `json:"features"`
	CRS      json.RawMessage `json:"crs"` // of the format's forerunner; RFC 7946 has none
}

type feature struct {
	Type       string         `json:"type"`
	Properties map[string]any `json:"properties"`
	Geometry   *struct {
		Type        string          `json:"type"`
		Coordinates json.RawMessage `json:"coordinates"`
	} `json:"geometry"`
}

// Read returns the coarse outlines in a GeoJSON feature collection of polygons, each with a property "name". Features of
// one name are one area. A hole that is smaller than a part of an area may be is filled. Everything that cannot be used is errs.Invalid with a sentence that says which feature it is.
func Read(data []byte) ([]Named, error) {
	if len(data) > MaxFile {
		return nil, errs.New(errs.TooLarge, words.Mark("The file is bigger than 1 MB. A map of areas needs no fine outlines: simplify it in your map program and send it again."))
	}
	var doc document
	if err := json.Unmarshal(data, &doc); err != nil {
		return nil, errs.Hide(errs.Invalid, words.Mark("This is not a GeoJSON file. Save the areas from your map program as GeoJSON."), err)
	}
	if doc.Type != "FeatureCollection" {
		return nil, errs.Tell(errs.Invalid, words.Later("A GeoJSON file of areas is a FeatureCollection; this one is %s.", orNothing(doc.Type)), nil)
	}
	if crs := string(doc.CRS); crs != "" && crs != "null" && !strings.Contains(crs, "CRS84") && !strings.Contains(crs, "4326") {
		return nil, errs.New(errs.Invalid, words.Mark("The file names another coordinate system. Save it in longitude and latitude (WGS 84), as GeoJSON has them."))
	}
	if len(doc.Features) == 0 {
		return nil, errs.New(errs.Invalid, words.Mark("There is no area in the file."))
	}
	var list []Named
	total := 0
	for i, f := range doc.Features {
		n, err := read(f, i+1)
		if err != nil {
			return nil, err
		}
		if total += n.Shape.positions(); total > deepest {
			return nil, errs.Tell(errs.TooLarge, words.Later("The outlines have more than %d corners. A map of areas needs no fine outlines: simplify it in your map program and send it again.", deepest), nil)
		}
		if n.Shape = n.Shape.coarse(); len(n.Shape) == 0 {
			return nil, errs.Tell(errs.Invalid, words.Later("%s is smaller than about half a mile across: too small for an area.", n.Name), nil)
		}
		if n.Shape.small() {
			return nil, errs.Tell(errs.Invalid, words.Later("%s, or a part of it, is smaller than %d square miles or narrower than %d miles. Everybody reads this map, and so small an area could be one ranch: draw it larger, or put it together with an area beside it.", n.Name, Smallest, Narrowest), nil)
		}
		at := slices.IndexFunc(list, func(x Named) bool { return strings.EqualFold(x.Name, n.Name) })
		if at < 0 {
			list = append(list, n)
			continue
		}
		list[at].Shape = append(list[at].Shape, n.Shape...)
	}
	return list, nil
}

func read(f feature, number int) (Named, error) {
	name, _ := f.Properties["name"].(string)
	name = strings.Join(strings.Fields(name), " ")
	what := words.Later("Area %d", number)
	if name == "" {
		return Named{}, errs.Tell(errs.Invalid, words.Later("%s has no name. Give each one a property “name” with the name of the area.", what), nil)
	}
	what = words.Later("Area %d (%s)", number, name)
	if f.Type != "Feature" || f.Geometry == nil {
		return Named{}, errs.Tell(errs.Invalid, words.Later("%s has no outline.", what), nil)
	}
	var shape Shape
	var err error
	switch f.Geometry.Type {
	case "Polygon":
		shape = make(Shape, 1)
		err = json.Unmarshal(f.Geometry.Coordinates, &shape[0])
	case "MultiPolygon":
		err = json.Unmarshal(f.Geometry.Coordinates, &shape)
	default:
		return Named{}, errs.Tell(errs.Invalid, words.Later("%s is drawn as %s. An area is a Polygon or a MultiPolygon.", what, orNothing(f.Geometry.Type)), nil)
	}
	if err != nil {
		return Named{}, errs.Tell(errs.Invalid, words.Later("%s has coordinates that are not pairs of longitude and latitude.", what), err)
	}
	if problem, ok := shape.problem(); !ok {
		return Named{}, errs.Tell(errs.Invalid, words.Later("%s: %s", what, problem), nil)
	}
	return Named{Name: name, Shape: shape}, nil
}

func orNothing(s string) words.Phrase {
	if s == "" {
		return words.Later("nothing of the kind")
	}
	return words.Later("“" + s + "”")
}

// UnmarshalJSON takes a position of two numbers or more; a height is left out.
func (p *Position) UnmarshalJSON(data []byte) error {
	var xs []float64
	if err := json.Unmarshal(data, &xs); err != nil {
		return err
	}
	if len(xs) < 2 {
		return fmt.Errorf("a position of %d numbers", len(xs))
	}
	p[0], p[1] = xs[0], xs[1]
	return nil
}

// problem says what RFC 7946 has against the shape, and true for nothing.
func (s Shape) problem() (words.Phrase, bool) {
	if len(s) == 0 {
		return words.Later("it has no outline."), false
	}
	for _, polygon := range s {
		if len(polygon) == 0 {
			return words.Later("it has no outline."), false
		}
		for _, ring := range polygon {
			for _, p := range ring {
				if math.Abs(p[0]) > 180 || math.Abs(p[1]) > 90 {
					return words.Later("%g, %g is no longitude and latitude in degrees. Longitude comes first; meters or feet of a map grid must be saved as WGS 84.", p[0], p[1]), false
				}
			}
			if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
				return words.Later("an outline is not closed: it needs four corners or more, the last the same as the first."), false
			}
		}
	}
	return words.Phrase{}, true
}

func (s Shape) positions() (n int) {
	for _, polygon := range s {
		for _, ring := range polygon {
			n += len(ring)
		}
	}
	return n
}

// coarse moves every corner to the grain and leaves out those that change nothing by more than it, then those that
// change little, until no ring has too many. A polygon without extent is left out, a hole likewise.
func (s Shape) coarse() Shape {
	var out Shape
	for _, polygon := range s {
		var kept Polygon
		for i, ring := range polygon {
			r := ring.coarse()
			if r == nil && i == 0 {
				break
			}
			if r != nil && (i == 0 || !r.small()) {
				kept = append(kept, r.turned(i == 0))
			}
		}
		if kept != nil {
			out = append(out, kept)
		}
	}
	return out
}

// coarse returns nil where nothing is left that encloses anything.
func (r Ring) coarse() Ring {
	var snapped Ring
	for _, p := range r {
		q := Position{snap(p[0]), snap(p[1])}
		if len(snapped) == 0 || snapped[len(snapped)-1] != q {
			snapped = append(snapped, q)
		}
	}
	if len(snapped) < 4 {
		return nil
	}
	// A closed line is simplified as two open ones, cut at the corner farthest from the first.
	far := 0
	for i, p := range snapped {
		if distance(p, snapped[0]) > distance(snapped[far], snapped[0]) {
			far = i
		}
	}
	for tolerance := grain; ; tolerance *= 1.5 {
		out := append(simplify(snapped[:far+1], tolerance), simplify(snapped[far:], tolerance)[1:]...)
		if len(out) < 4 || out.area() == 0 {
			if tolerance > grain {
				return nil
			}
			out = snapped // a sliver or a small triangle: as it is
		}
		if len(out) <= most {
			if math.Abs(out.area()) < grain*grain {
				return nil
			}
			return out
		}
	}
}

func snap(x float64) float64 {
	const steps = 1 / grain
	return math.Round(x*steps) / steps
}

// simplify is the algorithm of Douglas and Peucker (1973, "Algorithms for the reduction of the number of points required
// to represent a digitized line or its caricature", The Canadian Cartographer 10(2)).
func simplify(line Ring, tolerance float64) Ring {
	if len(line) < 3 {
		return slices.Clone(line)
	}
	worst, at := 0.0, 0
	for i := 1; i < len(line)-1; i++ {
		if d := fromSegment(line[i], line[0], line[len(line)-1]); d > worst {
			worst, at = d, i
		}
	}
	if worst <= tolerance {
		return Ring{line[0], line[len(line)-1]}
	}
	return append(simplify(line[:at+1], tolerance), simplify(line[at:], tolerance)[1:]...)
}

func distance(a, b Position) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

func fromSegment(p, a, b Position) float64 {
	length := distance(a, b)
	if length == 0 {
		return distance(p, a)
	}
	t := ((p[0]-a[0])*(b[0]-a[0]) + (p[1]-a[1])*(b[1]-a[1])) / (length * length)
	t = max(0, min(1, t))
	return distance(p, Position{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])})
}

// area is the ring's in square degrees, positive where it runs counterclockwise.
func (r Ring) area() (a float64) {
	for i := 1; i < len(r); i++ {
		a += (r[i-1][0]*r[i][1] - r[i][0]*r[i-1][1]) / 2
	}
	return a
}

// small tells whether a part of the shape, less its holes, could be one ranch.
func (s Shape) small() bool {
	return slices.ContainsFunc(s, func(p Polygon) bool {
		miles := p[0].squareMiles()
		for _, hole := range p[1:] {
			miles -= hole.squareMiles()
		}
		return miles < Smallest || p[0].small()
	})
}

// small tells whether what the ring encloses is smaller than Smallest or narrower than Narrowest in some direction.
func (r Ring) small() bool {
	if r.squareMiles() < Smallest {
		return true
	}
	const turns = 60 // directions that are tried, three degrees apart: the width comes out 0.2 % too wide at most
	for i := range turns {
		sin, cos := math.Sincos(math.Pi * float64(i) / turns)
		low, high := math.Inf(1), math.Inf(-1)
		for _, p := range r {
			d := p[0]*r.narrowing()*cos + p[1]*sin
			low, high = min(low, d), max(high, d)
		}
		if (high-low)*milesADegree < Narrowest {
			return true
		}
	}
	return false
}

// milesADegree is how long a degree of latitude is: 60 nautical miles of 1,852 meters, a mile having 1,609.344 meters (NIST Handbook 44, 2024, appendix C).
const milesADegree = 60 * 1852 / 1609.344

// narrowing is how long a degree of longitude is at the ring, as a part of one of latitude.
func (r Ring) narrowing() float64 { return math.Cos(r[0][1] * math.Pi / 180) }

func (r Ring) squareMiles() float64 {
	return math.Abs(r.area()) * r.narrowing() * milesADegree * milesADegree
}

// turned runs counterclockwise for an outer ring and clockwise for a hole, as RFC 7946 3.1.6 has it.
func (r Ring) turned(outer bool) Ring {
	if (r.area() > 0) != outer {
		slices.Reverse(r)
	}
	return r
}

// Bounds returns the box that holds every given shape: west, south, east, north.
func Bounds(shapes ...Shape) (w, s, e, n float64) {
	w, s, e, n = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, shape := range shapes {
		for _, polygon := range shape {
			for _, p := range polygon[0] {
				w, s, e, n = min(w, p[0]), min(s, p[1]), max(e, p[0]), max(n, p[1])
			}
		}
	}
	return w, s, e, n
}

// Collection writes outlines as a GeoJSON feature collection, each with its name.
func Collection(list []Named) ([]byte, error) {
	type geometry struct {
		Type        string `json:"type"`
		Coordinates Shape  `json:"coordinates"`
	}
	type out struct {
		Type       string            `json:"type"`
		Properties map[string]string `json:"properties"`
		Geometry   geometry          `json:"geometry"`
	}
	features := make([]out, len(list))
	for i, n := range list {
		features[i] = out{"Feature", map[string]string{"name": n.Name}, geometry{"MultiPolygon", n.Shape}}
	}
	return json.Marshal(map[string]any{"type": "FeatureCollection", "features": features})
}
