package export

import (
	"cmp"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"tussock/internal/geo"
	planned "tussock/internal/season"
	"tussock/internal/survey"
	texts "tussock/internal/words"
)

// A Season is the lines of a ranch's field season on their way to its own people, in the reader's language. Where a line
// lies is in the GPX and GeoJSON files, and never in the calendar.
type Season struct {
	Title string // of the file: the ranch and the season
	Lines []planned.Line
	Say   texts.Speaker
	Now   time.Time
}

// The parts of GPX 1.1 that are used, in the order its schema wants them (https://www.topografix.com/GPX/1/1/).
type gpx struct {
	XMLName  xml.Name `xml:"http://www.topografix.com/GPX/1/1 gpx"`
	Version  string   `xml:"version,attr"`
	Creator  string   `xml:"creator,attr"`
	Metadata struct {
		Name   string     `xml:"name"`
		Time   string     `xml:"time"`
		Bounds *gpxBounds `xml:"bounds"`
	} `xml:"metadata"`
	Waypoints []gpxPoint `xml:"wpt"`
	Routes    []gpxRoute `xml:"rte"`
}

type gpxBounds struct {
	MinLat degrees `xml:"minlat,attr"`
	MinLon degrees `xml:"minlon,attr"`
	MaxLat degrees `xml:"maxlat,attr"`
	MaxLon degrees `xml:"maxlon,attr"`
}

type gpxPoint struct {
	Lat  degrees `xml:"lat,attr"`
	Lon  degrees `xml:"lon,attr"`
	Name string  `xml:"name"`
	Desc string  `xml:"desc,omitempty"`
	Sym  string  `xml:"sym,omitempty"`
}

type gpxRoute struct {
	Name   string     `xml:"name"`
	Desc   string     `xml:"desc"`
	Number int        `xml:"number"`
	Points []gpxPoint `xml:"rtept"`
}

// degrees are written to seven decimals, about a third of an inch.
type degrees float64

func (d degrees) MarshalXMLAttr(name xml.Name) (xml.Attr, error) {
	return xml.Attr{Name: name, Value: fmt.Sprintf("%.7f", float64(d))}, nil
}

// GPX writes a waypoint for each stop and a route for each line that was placed.
func (s Season) GPX(w io.Writer) error {
	doc := gpx{Version: "1.1", Creator: "Tussock"}
	doc.Metadata.Name, doc.Metadata.Time = s.Title, s.Now.UTC().Format(time.RFC3339)
	bounds := gpxBounds{90, 180, -90, -180}
	for i := range s.Lines {
		l := &s.Lines[i]
		if !l.Placed || l.Closed {
			continue
		}
		route := gpxRoute{Name: s.lineName(l), Desc: s.lineWords(l), Number: i + 1}
		for stop := 1; stop <= l.Stops; stop++ {
			at, _ := l.Stop(stop)
			p := gpxPoint{Lat: degrees(at[1]), Lon: degrees(at[0]), Name: fmt.Sprintf("%s-%02d", l.Name, stop), Desc: s.stopWords(l, stop), Sym: "Flag"}
			doc.Waypoints = append(doc.Waypoints, p)
			p.Desc, p.Sym = "", ""
			route.Points = append(route.Points, p)
			bounds = gpxBounds{min(bounds.MinLat, p.Lat), min(bounds.MinLon, p.Lon), max(bounds.MaxLat, p.Lat), max(bounds.MaxLon, p.Lon)}
		}
		doc.Routes = append(doc.Routes, route)
	}
	if len(doc.Waypoints) > 0 {
		doc.Metadata.Bounds = &bounds
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(w)
	e.Indent("", " ")
	return e.Encode(doc)
}

func (s Season) lineName(l *planned.Line) string {
	name := s.Say.Say("Line %s", l.Name)
	if l.Pasture != "" {
		name += ", " + l.Pasture
	}
	return name
}

func (s Season) lineWords(l *planned.Line) string {
	bearing := l.Bearing
	if l.Walked != nil {
		bearing = l.Walked.Bearing
	}
	return s.Say.Say("%d stops, %g paces apart, on a bearing of %.0f degrees from true north. Code %s.", l.Stops, l.Spacing, bearing, l.Code)
}

func (s Season) stopWords(l *planned.Line, stop int) string {
	text := s.Say.Say("Line %s, stop %d of %d", l.Name, stop, l.Stops)
	if cover := l.Cover(stop); cover != "" {
		text += ": " + s.cover(cover)
	}
	return text
}

// cover names a cover in the reader's language; a word of the crew's own stays as it is.
func (s Season) cover(c survey.Substrate) string { return s.Say.Say(string(c)) }

// GeoJSON writes each placed line as a LineString and its stops as Points (RFC 7946), to six decimals.
func (s Season) GeoJSON(w io.Writer) error {
	type geometry struct {
		Type        string `json:"type"`
		Coordinates any    `json:"coordinates"`
	}
	type feature struct {
		Type       string         `json:"type"`
		ID         string         `json:"id"`
		Geometry   geometry       `json:"geometry"`
		Properties map[string]any `json:"properties"`
	}
	features := []feature{}
	for i := range s.Lines {
		l := &s.Lines[i]
		if !l.Placed || l.Closed {
			continue
		}
		var path []geo.Position
		for stop := 1; stop <= l.Stops; stop++ {
			at, _ := l.Stop(stop)
			path = append(path, geo.Position{round6(at[0]), round6(at[1])})
		}
		properties := map[string]any{"name": l.Name, "code": l.Code, "pasture": l.Pasture, "bearing": l.Bearing, "stops": l.Stops,
			"spacing_paces": l.Spacing, "step_ft": l.Step(), "redrawn": l.Redrawn, "walked": l.Walked != nil}
		for _, c := range l.Checks() {
			properties[c.Name+"_on"] = c.On.String()
		}
		if len(path) > 1 { // a LineString has two positions or more (3.1.4)
			features = append(features, feature{"Feature", l.Code, geometry{"LineString", path}, properties})
		}
		for i, at := range path {
			features = append(features, feature{"Feature", fmt.Sprintf("%s-%02d", l.Code, i+1), geometry{"Point", at},
				map[string]any{"name": fmt.Sprintf("%s-%02d", l.Name, i+1), "stop": i + 1, "cover": string(l.Cover(i + 1))}})
		}
	}
	return json.NewEncoder(w).Encode(map[string]any{"type": "FeatureCollection", "features": features})
}

func round6(x float64) float64 { return math.Round(x*1e6) / 1e6 }

// A Calendar is the check days of some lines (RFC 5545). Unless it is named it says neither ranch nor pasture.
type Calendar struct {
	Days  []CalendarLine
	Named bool
	Say   texts.Speaker
	Now   time.Time
	// Alarm has the reader's calendar remind them, on the evening before.
	Alarm bool
}

// A CalendarLine is one line with what names it and when it was last changed.
type CalendarLine struct {
	planned.Line
	RanchName string
	Changed   time.Time
}

// A window is the lines of one ranch that have the same days.
type window struct {
	planned.Check
	lines   []*CalendarLine
	changed time.Time
	closed  bool
}

// Write writes the calendar. Windows are whole days without a zone, so that no change of clocks moves them. Lines of one
// ranch with the same days are one event; it keeps its identity while its lines' days change together.
func (c Calendar) Write(w io.Writer) error {
	out := &folder{w: w}
	for _, line := range []string{"BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tussock//Field season//EN", "CALSCALE:GREGORIAN", "METHOD:PUBLISH",
		"NAME:Tussock", "REFRESH-INTERVAL;VALUE=DURATION:PT12H"} { // the last two of RFC 7986
		out.line(line)
	}
	for _, e := range c.events() {
		c.event(out, e)
	}
	out.line("END:VCALENDAR")
	return out.err
}

func (c Calendar) events() []*window {
	type key struct {
		ranch  string
		check  planned.Check
		closed bool
	}
	byDays := map[key]*window{}
	var list []*window
	for i := range c.Days {
		l := &c.Days[i]
		for _, check := range l.Checks() {
			k := key{string(l.Ranch), check, l.Closed}
			e := byDays[k]
			if e == nil {
				e = &window{Check: check, closed: l.Closed}
				byDays[k] = e
				list = append(list, e)
			}
			e.lines = append(e.lines, l)
			if l.Changed.After(e.changed) {
				e.changed = l.Changed
			}
		}
	}
	for _, e := range list {
		slices.SortFunc(e.lines, func(a, b *CalendarLine) int { return cmp.Compare(a.ID, b.ID) })
	}
	slices.SortStableFunc(list, func(a, b *window) int { return cmp.Compare(a.From, b.From) })
	return list
}

// sequenceFrom is when revisions start to be counted: a calendar program takes the event with the higher number.
var sequenceFrom = time.Date(2026, time.January, 1, 0, 0, 0, 0, time.UTC)

func (c Calendar) event(out *folder, e *window) {
	out.line("BEGIN:VEVENT")
	out.line("UID:" + string(e.lines[0].ID) + "-" + e.Name + "@tussock")
	out.line("DTSTAMP:" + c.Now.UTC().Format("20060102T150405Z"))
	out.line(fmt.Sprintf("SEQUENCE:%d", max(0, int(e.changed.Sub(sequenceFrom)/time.Second))))
	out.line("DTSTART;VALUE=DATE:" + e.From.Time().Format("20060102"))
	out.line("DTEND;VALUE=DATE:" + (e.To + 1).Time().Format("20060102")) // the day after the last (3.6.1)
	out.line("SUMMARY:" + escape(c.summary(e)))
	if e.From != e.To {
		out.line("DESCRIPTION:" + escape(c.Say.Say("Best on %s; any of these days is as good.", c.Say.Weekday(e.On.Time()))))
	}
	out.line("TRANSP:TRANSPARENT")
	if e.closed {
		out.line("STATUS:CANCELLED")
	} else {
		out.line("STATUS:CONFIRMED")
		if c.Alarm {
			for _, line := range []string{"BEGIN:VALARM", "ACTION:DISPLAY", "TRIGGER:-PT6H", "DESCRIPTION:" + escape(c.summary(e)), "END:VALARM"} {
				out.line(line)
			}
		}
	}
	out.line("END:VEVENT")
}

func (c Calendar) summary(e *window) string {
	text := planned.Todo(c.Say, e.Name)
	names := make([]string, len(e.lines))
	for i, l := range e.lines {
		names[i] = l.Name
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a, b)) })
	text += " " + c.Say.Count("on line %s", "on lines %s", len(names), strings.Join(names, ", "))
	if c.Named {
		text += ", " + e.lines[0].RanchName
		if at := e.lines[0].Pasture; at != "" && !slices.ContainsFunc(e.lines, func(l *CalendarLine) bool { return l.Pasture != at }) {
			text += " (" + at + ")"
		}
	}
	return text
}

// escape writes a text value (RFC 5545, 3.3.11).
func escape(s string) string {
	return strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\r\n", `\n`, "\n", `\n`, "\r", `\n`).Replace(s)
}

// A folder writes content lines, folded at 75 octets and never within a letter (RFC 5545, 3.1).
type folder struct {
	w   io.Writer
	err error
}

func (f *folder) line(s string) {
	const most = 75
	var b strings.Builder
	for room := most; len(s) > room; room = most - 1 { // the blank that begins the rest counts
		cut := room
		for !utf8.RuneStart(s[cut]) {
			cut--
		}
		b.WriteString(s[:cut] + "\r\n ")
		s = s[cut:]
	}
	b.WriteString(s + "\r\n")
	if f.err == nil {
		_, f.err = io.WriteString(f.w, b.String())
	}
}
