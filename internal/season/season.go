// Package season is a field season before and while it is walked: what it is to find out, where its lines lie and on
// which days they are checked.
//
// A line is one transect on the ground. What was found on it later is a matter of package survey, which knows it by its
// name; where it lies is the ranch's alone.
package season

import (
	"slices"
	"strings"

	"tussock/internal/access"
	"tussock/internal/geo"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A Line is one transect as planned: stops at even paces on one bearing, a nest at each.
type Line struct {
	ID, Ranch access.ID
	Season    int
	Name      string // the transect's name, as on sheets
	Code      string // six characters that cannot be mistaken for one another, unique in the cooperative: for paper and QR codes
	Pasture   string // its name, which is the sheets' site; "" for the whole ranch
	SiteKind  string // the kind of ground, as a sheet names it

	Placed  bool         // whether Start and Bearing were drawn: without a map they are not
	Start   geo.Position // of the line; the first stop is here
	Bearing float64      // degrees clockwise from true north, from 0 to 360
	Stops   int          // nests
	Spacing float64      // paces between two stops
	Pace    float64      // feet a pace; 0 where nobody has measured it yet

	Covers []survey.Substrate // wanted at the stops in turn, over again where there are more stops; none where any will do

	SetOn, FirstCheck, LastCheck survey.Date
	Slack                        int // days before and after a check day that are as good

	BeltWidth, BeltLength float64 // feet; 0 where no belt is planned

	Redrawn string  // why the line is not where it was drawn first; "" where it is
	Earlier []Drawn // where it was drawn before, in order
	Walked  *Drawn  // where it was walked, if that was elsewhere
	Closed  bool    // nothing is wanted on it any more
}

// Drawn is where a line lies, or lay until it was drawn again.
type Drawn struct {
	Start   geo.Position `json:"start"`
	Bearing float64      `json:"bearing"`
	Why     string       `json:"why,omitempty"`
}

// A Purpose is the question a season is to answer: it decides how the lines are shared out.
type Purpose string

// The purposes.
const (
	Trend  Purpose = "trend"  // better or worse than other years, on one ranch
	Covers Purpose = "covers" // one kind of cover against another
	Rest   Purpose = "rest"   // pastures that are grazed against pastures that are rested
)

// Purposes in the order they are listed.
var Purposes = []Purpose{Trend, Covers, Rest}

// A Plan is what holds for all lines of one ranch's season.
type Plan struct {
	Ranch   access.ID
	Season  int
	Purpose Purpose

	Lines, Stops int     // how many lines, and how many nests on each
	Spacing      float64 // paces
	Pace         float64 // feet a pace; 0 unknown
	Covers       []survey.Substrate

	Seed  uint64 // of the random starts and bearings
	Apart Apart

	SetOn       survey.Date
	First, Last int // days from set-out to the first and the last check
	Slack       int // days before and after that are as good

	BeltWidth, BeltLength float64 // feet
}

// Apart is how far lines keep from what teaches predators where to look, in feet.
type Apart struct {
	Fence, Road, Water, Lines float64
}

// Cover returns the cover wanted at a stop, counted from 1; "" where any will do.
func (l *Line) Cover(stop int) survey.Substrate {
	if len(l.Covers) == 0 || stop < 1 {
		return ""
	}
	return l.Covers[(stop-1)%len(l.Covers)]
}

// Length returns how long the line is, in feet, from its first stop to its last; a pace nobody has measured counts as
// [UsualPace].
func (l *Line) Length() float64 {
	return float64(max(0, l.Stops-1)) * l.Step()
}

// Step returns the feet between two stops.
func (l *Line) Step() float64 {
	if l.Pace > 0 {
		return l.Spacing * l.Pace
	}
	return l.Spacing * UsualPace
}

// UsualPace is the pace, in feet, of somebody whose pace was not measured (common practice, no source).
const UsualPace = 2.5

// Stop returns where a stop lies, counted from 1: along the line as walked, where that is known. ok is false for a line
// that was not placed.
func (l *Line) Stop(stop int) (at geo.Position, ok bool) {
	if !l.Placed || stop < 1 || stop > l.Stops {
		return at, false
	}
	start, bearing := l.Start, l.Bearing
	if l.Walked != nil {
		start, bearing = l.Walked.Start, l.Walked.Bearing
	}
	return geo.Along(start, bearing, float64(stop-1)*l.Step()), true
}

// A Check is one of a line's days.
type Check struct {
	Name     string      // "set", "first" or "last"
	On       survey.Date // the planned day
	From, To survey.Date // the days that are as good, both included
}

// Checks returns the line's days in order; those that were not planned are left out.
func (l *Line) Checks() []Check {
	all := []Check{
		{"set", l.SetOn, l.SetOn, l.SetOn},
		{"first", l.FirstCheck, l.FirstCheck - survey.Date(l.Slack), l.FirstCheck + survey.Date(l.Slack)},
		{"last", l.LastCheck, l.LastCheck - survey.Date(l.Slack), l.LastCheck + survey.Date(l.Slack)},
	}
	return slices.DeleteFunc(all, func(c Check) bool { return c.On == 0 })
}

var todo = map[string]string{
	"set":   words.Mark("Put the eggs out"),
	"first": words.Mark("First check of the eggs"),
	"last":  words.Mark("Last check of the eggs, and everything out"),
}

// Todo says what is to be done on a day of that name.
func Todo(say words.Speaker, check string) string { return say.Say(todo[check]) }

// Alphabet holds the characters of a line's code: none that is taken for another, in print or by hand.
const Alphabet = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"

// CodeLength is how many of them a code has.
const CodeLength = 6

// Code returns the code that somebody typed or scanned as it is kept; "" for what cannot be one.
func Code(typed string) string {
	s := strings.ToUpper(strings.Join(strings.FieldsFunc(typed, func(r rune) bool { return r == ' ' || r == '-' }), ""))
	if len(s) != CodeLength || strings.Trim(s, Alphabet) != "" {
		return ""
	}
	return s
}

// day is so many days after set-out.
func (p *Plan) day(after int) survey.Date { return p.SetOn + survey.Date(after) }
