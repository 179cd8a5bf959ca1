package geo

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// A Path is an open line.
type Path []Position

// A Feature is one thing on a ranch's own map: a pasture, a road, a pond, a water tank.
type Feature struct {
	Name     string     `json:"-"`
	Polygons Shape      `json:"polygons,omitempty"`
	Paths    []Path     `json:"paths,omitempty"`
	Points   []Position `json:"points,omitempty"`
}

// Limits of a ranch's map: what is drawn by hand stays far below, and lines can still be placed in a moment.
const (
	MostFeatures  = 200
	MostPositions = 5000 // in one file
)

// ReadGround returns what a GeoJSON or KML file holds, as it was drawn. Whatever cannot be used is errs.Invalid with a
// sentence that says which feature it is, errs.TooLarge where it is too much.
func ReadGround(data []byte) ([]Feature, error) {
	if len(data) > MaxFile {
		return nil, errs.New(errs.TooLarge, words.Mark("The file is bigger than 1 MB. Leave out what is not needed, or simplify it in your map program, and send it again."))
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	var list []Feature
	var err error
	switch start := bytes.TrimSpace(data); {
	case bytes.HasPrefix(start, []byte("PK")):
		return nil, errs.New(errs.Invalid, words.Mark("This is a zipped map (KMZ). Save it as KML or GeoJSON, or unzip it and send the .kml file inside."))
	case bytes.HasPrefix(start, []byte("<")):
		list, err = readKML(start)
	case bytes.HasPrefix(start, []byte("{")):
		list, err = readFeatures(start)
	default:
		return nil, errs.New(errs.Invalid, words.Mark("This is neither a GeoJSON nor a KML file. Save the map as one of the two from your map program."))
	}
	if err != nil {
		return nil, err
	}
	return list, check(list)
}

func check(list []Feature) error {
	if len(list) == 0 {
		return errs.New(errs.Invalid, words.Mark("There is nothing drawn in the file: no polygon, no line, no point."))
	}
	positions := 0
	for i := range list {
		f := &list[i]
		what := words.Later("Number %d in the file", i+1)
		if f.Name != "" {
			what = words.Later("Number %d in the file (%s)", i+1, f.Name)
		}
		if len(f.Polygons) > 0 {
			if problem, ok := f.Polygons.problem(); !ok {
				return errs.Tell(errs.Invalid, words.Later("%s: %s", what, problem), nil)
			}
		}
		for p := range f.Positions() {
			if positions++; !(p[0] >= -180 && p[0] <= 180 && p[1] >= -90 && p[1] <= 90) {
				return errs.Tell(errs.Invalid, words.Later("%s: %s", what, words.Later("%g, %g is no longitude and latitude in degrees. Longitude comes first; meters or feet of a map grid must be saved as WGS 84.", p[0], p[1])), nil)
			}
		}
	}
	if len(list) > MostFeatures || positions > MostPositions {
		return errs.Tell(errs.TooLarge, words.Later("That is more than %d things, or more than %d corners. Leave out what is not needed, or simplify it in your map program, and send it again.", MostFeatures, MostPositions), nil)
	}
	return nil
}

// Positions yields every position of the feature.
func (f *Feature) Positions() func(yield func(Position) bool) {
	return func(yield func(Position) bool) {
		for _, polygon := range f.Polygons {
			for _, ring := range polygon {
				for _, p := range ring {
					if !yield(p) {
						return
					}
				}
			}
		}
		for _, path := range f.Paths {
			for _, p := range path {
				if !yield(p) {
					return
				}
			}
		}
		for _, p := range f.Points {
			if !yield(p) {
				return
			}
		}
	}
}

// An object is any GeoJSON object, with as much of it as is used.
type object struct {
	Type        string          `json:"type"`
	Features    []object        `json:"features"`
	Properties  map[string]any  `json:"properties"`
	Geometry    *object         `json:"geometry"`
	Geometries  []object        `json:"geometries"`
	Coordinates json.RawMessage `json:"coordinates"`
	CRS         json.RawMessage `json:"crs"`
}

func readFeatures(data []byte) ([]Feature, error) {
	var doc object
	if err := json.Unmarshal(data, &doc); err != nil {
		return nil, errs.Hide(errs.Invalid, words.Mark("This is not a whole GeoJSON file. Save the map as GeoJSON from your map program once more."), err)
	}
	if crs := string(doc.CRS); crs != "" && crs != "null" && !strings.Contains(crs, "CRS84") && !strings.Contains(crs, "4326") {
		return nil, errs.New(errs.Invalid, words.Mark("The file names another coordinate system. Save it in longitude and latitude (WGS 84), as GeoJSON has them."))
	}
	objects := doc.Features
	switch doc.Type {
	case "FeatureCollection":
	case "Feature":
		objects = []object{doc}
	default:
		objects = []object{{Type: "Feature", Geometry: &doc}}
	}
	var list []Feature
	for i, o := range objects {
		if o.Geometry == nil {
			continue // a feature without a place (RFC 7946, 3.2)
		}
		name, _ := o.Properties["name"].(string)
		f := Feature{Name: strings.Join(strings.Fields(name), " ")}
		if err := f.add(o.Geometry, 0); err != nil {
			return nil, errs.Tell(errs.Invalid, words.Later("Number %d in the file is drawn in a way we cannot read. A pasture is a polygon, a road a line, a water point a point.", i+1), err)
		}
		list = append(list, f)
	}
	return list, nil
}

// add takes one geometry up (RFC 7946, 3.1).
func (f *Feature) add(g *object, depth int) error {
	var polygon Polygon
	var path Path
	var point Position
	var polygons Shape
	var paths []Path
	var points []Position
	var err error
	switch g.Type {
	case "Polygon":
		err = json.Unmarshal(g.Coordinates, &polygon)
		polygons = Shape{polygon}
	case "MultiPolygon":
		err = json.Unmarshal(g.Coordinates, &polygons)
	case "LineString":
		err = json.Unmarshal(g.Coordinates, &path)
		paths = []Path{path}
	case "MultiLineString":
		err = json.Unmarshal(g.Coordinates, &paths)
	case "Point":
		err = json.Unmarshal(g.Coordinates, &point)
		points = []Position{point}
	case "MultiPoint":
		err = json.Unmarshal(g.Coordinates, &points)
	case "GeometryCollection":
		if depth > 3 {
			return errors.New("collections within collections")
		}
		for i := range g.Geometries {
			if err := f.add(&g.Geometries[i], depth+1); err != nil {
				return err
			}
		}
	default:
		return fmt.Errorf("a geometry of type %q", g.Type)
	}
	f.Polygons, f.Paths, f.Points = append(f.Polygons, polygons...), append(f.Paths, paths...), append(f.Points, points...)
	return err
}

// readKML walks through the file's placemarks, however deep in folders they stand (OGC 12-007r2, 10 to 12). What a
// placemark looks like does not matter here.
func readKML(data []byte) ([]Feature, error) {
	d := xml.NewDecoder(bytes.NewReader(data))
	d.CharsetReader = func(label string, input io.Reader) (io.Reader, error) {
		if strings.EqualFold(label, "utf-8") || strings.EqualFold(label, "us-ascii") {
			return input, nil
		}
		return nil, fmt.Errorf("a file in %s", label)
	}
	broken := func(err error) error {
		return errs.Hide(errs.Invalid, words.Mark("This is not a whole KML file. Save the map as KML from your map program once more."), err)
	}
	var list []Feature
	var root bool
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, broken(err)
		}
		start, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		if !root && start.Name.Local != "kml" {
			return nil, errs.New(errs.Invalid, words.Mark("This is no KML file. Save the map as KML or GeoJSON from your map program."))
		}
		root = true
		if start.Name.Local != "Placemark" {
			continue
		}
		var p placemark
		if err := d.DecodeElement(&p, &start); err != nil {
			return nil, broken(err)
		}
		f := Feature{Name: strings.Join(strings.Fields(p.Name), " ")}
		if err := f.take(&p.geometries, 0); err != nil {
			return nil, errs.Tell(errs.Invalid, words.Later("Number %d in the file (%s) has coordinates that are not longitude and latitude.", len(list)+1, f.Name), err)
		}
		if len(f.Polygons)+len(f.Paths)+len(f.Points) > 0 {
			list = append(list, f)
		}
	}
	return list, nil
}

type placemark struct {
	Name string `xml:"name"`
	geometries
}

type geometries struct {
	Polygons []struct {
		Outer string   `xml:"outerBoundaryIs>LinearRing>coordinates"`
		Inner []string `xml:"innerBoundaryIs>LinearRing>coordinates"`
	} `xml:"Polygon"`
	Lines []struct {
		Coordinates string `xml:"coordinates"`
	} `xml:"LineString"`
	Rings []struct {
		Coordinates string `xml:"coordinates"`
	} `xml:"LinearRing"`
	Points []struct {
		Coordinates string `xml:"coordinates"`
	} `xml:"Point"`
	Multi []geometries `xml:"MultiGeometry"`
}

func (f *Feature) take(g *geometries, depth int) error {
	if depth > 3 {
		return errors.New("geometries within geometries")
	}
	for _, p := range g.Polygons {
		var polygon Polygon
		for _, s := range append([]string{p.Outer}, p.Inner...) {
			ring, err := coordinates(s)
			if err != nil {
				return err
			}
			polygon = append(polygon, Ring(ring))
		}
		f.Polygons = append(f.Polygons, polygon)
	}
	for _, l := range append(g.Lines, g.Rings...) {
		path, err := coordinates(l.Coordinates)
		if err != nil {
			return err
		}
		f.Paths = append(f.Paths, path)
	}
	for _, p := range g.Points {
		path, err := coordinates(p.Coordinates)
		if err != nil || len(path) != 1 {
			return errors.Join(err, errors.New("a point of no or several places"))
		}
		f.Points = append(f.Points, path[0])
	}
	for i := range g.Multi {
		if err := f.take(&g.Multi[i], depth+1); err != nil {
			return err
		}
	}
	return nil
}

// coordinates reads tuples of longitude, latitude and perhaps a height, parted by commas, with white space between the
// tuples (OGC 12-007r2, kml:coordinatesType).
func coordinates(s string) (Path, error) {
	var path Path
	for _, tuple := range strings.Fields(s) {
		numbers := strings.Split(tuple, ",")
		if len(numbers) < 2 || len(numbers) > 3 {
			return nil, fmt.Errorf("coordinates %q", tuple)
		}
		lon, err1 := strconv.ParseFloat(numbers[0], 64)
		lat, err2 := strconv.ParseFloat(numbers[1], 64)
		if err := errors.Join(err1, err2); err != nil {
			return nil, err
		}
		path = append(path, Position{lon, lat})
	}
	return path, nil
}
