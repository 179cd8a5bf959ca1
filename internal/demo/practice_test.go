package demo_test

import (
	"testing"

	"tussock/internal/access"
	"tussock/internal/demo"
	"tussock/internal/fieldwork"
	"tussock/internal/season"
	"tussock/internal/survey"
)

// Whatever the day, the practice lines hold looks that a phone could have sent, one nest to settle, which waits, and one line that is late.
func TestPractice(t *testing.T) {
	coop := demo.Generate(demo.Seed)
	for _, today := range []survey.Date{survey.DateOf(2026, 11, 25), survey.DateOf(2027, 1, 10), survey.DateOf(2028, 2, 29)} {
		p := coop.Practice(today)
		var looks []fieldwork.Look
		for i := range p.Lines {
			l := &p.Lines[i]
			l.ID, l.Ranch = access.ID("00000000-0000-4000-8000-00000000000"+l.Name), "00000000-0000-4000-8000-000000000009"
			for _, k := range p.Looks[l.Name] {
				k.Ranch, k.Line, k.Season = l.Ranch, l.ID, l.Season
				if err := k.Validate(); err != nil {
					t.Fatal(err)
				}
				looks = append(looks, k)
			}
		}
		f := fieldwork.Fold(p.Lines, looks)
		if len(f.Conflicts) != 1 || f.Stray != 0 || len(f.Nests) != 1+35 || len(f.Belts) != 1+1 {
			t.Errorf("%s: %d to settle, %d stray, %d rows of nests and %d of belts", today, len(f.Conflicts), f.Stray, len(f.Nests), len(f.Belts))
		}
		first := func(l season.Line) season.Check { return l.Checks()[1] }
		if a, b := first(p.Lines[0]), first(p.Lines[2]); a.On != today || b.To >= today {
			t.Errorf("%s: the first line is due %s, the last was until %s", today, a.On, b.To)
		}
	}
}
