package season_test

import (
	"math"
	"testing"

	"tussock/internal/geo"
	"tussock/internal/season"
	"tussock/internal/survey"
)

func TestCode(t *testing.T) {
	for typed, want := range map[string]string{
		"AB2C3D": "AB2C3D", " ab2-c3d ": "AB2C3D", "AB2C3": "", "AB2C3O": "", "AB2C3D4": "", "": "", "ÄB2C3": "",
	} {
		if got := season.Code(typed); got != want {
			t.Errorf("%q: got %q, want %q", typed, got, want)
		}
	}
}

func TestLine(t *testing.T) {
	l := season.Line{Placed: true, Start: geo.Position{-99, 36}, Bearing: 90, Stops: 3, Spacing: 40, Covers: []survey.Substrate{"a", "b"},
		SetOn: 1000, FirstCheck: 1014, Slack: 2}
	if l.Length() != 200 { // two gaps of 40 paces of 2.5 ft
		t.Errorf("length: got %g, want 200", l.Length())
	}
	if l.Cover(1) != "a" || l.Cover(2) != "b" || l.Cover(3) != "a" || l.Cover(0) != "" {
		t.Error("covers do not alternate")
	}
	at, ok := l.Stop(3)
	if d := geo.Feet(l.Start, at); !ok || math.Abs(d-200) > 0.01 {
		t.Errorf("stop 3 is %g ft off, want 200", d)
	}
	if _, ok := l.Stop(4); ok {
		t.Error("there is a fourth stop")
	}
	if c := l.Checks(); len(c) != 2 || c[1].From != 1012 || c[1].To != 1016 {
		t.Errorf("checks: got %+v", c)
	}
}
