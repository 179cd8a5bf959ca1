// Inside the package: when a line is due is worked out for this page alone.

package pages

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/season"
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
	got := lines(d, set+8, words.Speaker{}) // May 6
	want := []line{
		{Name: "Transect 3", Set: "1 nest set Wednesday, April 8", Due: "Second check is due today", onDay: set + 8},
		{Name: "Transect 10", Set: "2 nests set Tuesday, April 28", Due: "First check is due Tuesday, May 12, in 6 days", onDay: set + 14},
		{Name: "Transect 2", Set: "1 nest set Saturday, April 18", Due: "All checked. Were eggs, flags and markers carried out?"},
	}
	if len(got) != len(want) {
		t.Fatalf("lines = %d, want %d: %+v", len(got), len(want), got)
	}
	for i := range want {
		want[i].key = got[i].key
		if got[i] != want[i] {
			t.Errorf("line %d = %+v, want %+v", i, got[i], want[i])
		}
	}
}

// A planned line says what is next from set-out to the last egg carried out.
func TestPlannedLines(t *testing.T) {
	set := survey.DateOf(2027, time.May, 3)
	planned := []season.Line{{ID: "a", Season: 2027, Name: "1", Pasture: "North", Stops: 2, SetOn: set, FirstCheck: set + 14, LastCheck: set + 28, Slack: 2}}
	look := func(stop int, kind fieldwork.Kind, answers ...string) fieldwork.Look {
		k := fieldwork.Look{ID: access.ID(fmt.Sprint(stop, kind, answers)), Line: "a", Season: 2027, Stop: stop, Kind: kind, Who: "RO", Device: "x", Answers: map[string]string{}}
		for i := 0; i < len(answers); i += 2 {
			k.Answers[answers[i]] = answers[i+1]
		}
		return k
	}
	out := []fieldwork.Look{look(1, fieldwork.Set, "set_on", "2027-05-03"), look(2, fieldwork.Set, "set_on", "2027-05-03")}
	first := append(slices.Clone(out), look(1, fieldwork.Check, "looked_on", "2027-05-17", "found", "all"), look(2, fieldwork.Check, "looked_on", "2027-05-17", "found", "lost", "lost_how", "hoof"))
	last := append(slices.Clone(first), look(1, fieldwork.Check, "looked_on", "2027-05-31", "found", "all"))
	over := &survey.Data{Nests: []survey.Nest{{Season: 2026, Transect: "9", SetOn: survey.DateOf(2026, time.May, 1)}}}
	for _, tt := range []struct {
		name  string
		looks []fieldwork.Look
		today survey.Date
		due   string
		late  bool
	}{
		{"Ahead", nil, set - 1, "Setting the eggs out is due Monday, May 3, in 1 day", false},
		{"SetOut", out, set + 14, "First check is due today", false},
		{"WithinItsDays", out, set + 16, "First check was due Monday, May 17, 2 days ago", false},
		{"Late", out, set + 17, "First check was due Monday, May 17, 3 days ago", true},
		{"FirstDone", first, set + 15, "Second check is due Monday, May 31, in 13 days", false},
		{"AllDone", last, set + 28, "All checked. Were eggs, flags and markers carried out?", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := handLines(over, planned, tt.looks, tt.today, words.Speaker{})
			if len(got) != 1 || got[0].Due != tt.due || got[0].Late != tt.late {
				t.Errorf("handLines = %+v, want %q, late %v", got, tt.due, tt.late)
			}
		})
	}
}

func TestRanchesDueFirst(t *testing.T) {
	list := []handRanch{{Name: "over", Lines: []line{{}}}, {Name: "later", Lines: []line{{onDay: 30}}}, {Name: "none"}, {Name: "soon", Lines: []line{{onDay: 40}, {onDay: 12}}}}
	dueFirst(list)
	var got []string
	for _, r := range list {
		got = append(got, r.Name)
	}
	if want := []string{"soon", "later", "over", "none"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
