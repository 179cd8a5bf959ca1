// Inside the package: when a line is due is worked out for this page alone.

package pages

import (
	"testing"
	"time"

	"tussock/internal/survey"
	"tussock/internal/words"
)

func TestNextCheck(t *testing.T) {
	set := survey.DateOf(2026, time.April, 28)
	visit := func(day int, state survey.State) survey.Visit {
		return survey.Visit{On: set + survey.Date(day), State: state}
	}
	for _, tt := range []struct {
		name   string
		visits []survey.Visit
		want   survey.Date
		check  string
	}{
		{"JustSet", nil, survey.DateOf(2026, time.May, 12), "First check"},
		{"FirstDone", []survey.Visit{visit(14, survey.Intact)}, survey.DateOf(2026, time.May, 26), "Second check"},
		{"FirstDoneThreeDaysEarly", []survey.Visit{visit(11, survey.Intact)}, survey.DateOf(2026, time.May, 26), "Second check"},
		{"LookedInBetween", []survey.Visit{visit(7, survey.Intact)}, survey.DateOf(2026, time.May, 12), "First check"},
		{"BothDone", []survey.Visit{visit(14, survey.Intact), visit(28, survey.Intact)}, 0, ""},
		{"OnlyLate", []survey.Visit{visit(27, survey.Intact)}, 0, ""},
		{"Taken", []survey.Visit{visit(14, survey.Taken)}, 0, ""},
		{"NotFoundAgain", []survey.Visit{visit(14, survey.Lost)}, 0, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			day, check := nextCheck(&survey.Nest{SetOn: set, Visits: tt.visits})
			if day != tt.want || check != tt.check {
				t.Errorf("nextCheck = %v %q, want %v %q", day, check, tt.want, tt.check)
			}
		})
	}
}

// A line that nobody wrote a last check for is not called late for ever.
func TestLinesLongPast(t *testing.T) {
	set := survey.DateOf(2026, time.April, 28)
	d := &survey.Data{Nests: []survey.Nest{{Season: 2026, Transect: "1", SetOn: set}}}
	if got := lines(d, set+28+60, words.Speaker{})[0]; !got.Late {
		t.Errorf("60 days after the last check: %+v, want late", got)
	}
	if got := lines(d, set+28+61, words.Speaker{})[0]; got.Late || got.onDay != 0 {
		t.Errorf("61 days after the last check: %+v, want nothing due", got)
	}
}

func TestLines(t *testing.T) {
	set := survey.DateOf(2026, time.April, 28)
	nest := func(season int, transect string, set survey.Date, visits ...survey.Visit) survey.Nest {
		return survey.Nest{Ranch: "Cottonwood Draw", Season: season, Transect: transect, SetOn: set, Visits: visits}
	}
	d := &survey.Data{Nests: []survey.Nest{
		nest(2025, "9", survey.DateOf(2025, time.May, 1)), // an earlier season is over
		nest(2026, "10", set),
		nest(2026, "10", set),
		nest(2026, "2", set-10, survey.Visit{On: set, State: survey.Taken}),
		nest(2026, "3", set-20, survey.Visit{On: set - 6, State: survey.Intact}),
	}}
	got := lines(d, set+8, words.Speaker{}) // 6 May
	want := []line{
		{Name: "Transect 3", Set: "1 nest set Wednesday 8 April", Due: "Second check is due today", onDay: set + 8},
		{Name: "Transect 10", Set: "2 nests set Tuesday 28 April", Due: "First check is due Tuesday 12 May, in 6 days", onDay: set + 14},
		{Name: "Transect 2", Set: "1 nest set Saturday 18 April", Due: "All checked. Were eggs, flags and markers carried out?"},
	}
	if len(got) != len(want) {
		t.Fatalf("lines = %d, want %d: %+v", len(got), len(want), got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("line %d = %+v, want %+v", i, got[i], want[i])
		}
	}
}
