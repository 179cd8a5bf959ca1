package reminder_test

import (
	"strings"
	"testing"

	"tussock/internal/postgres"
	"tussock/internal/reminder"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

func letter(named bool) *postgres.ReminderLetter {
	day := survey.DateOf(2027, 5, 24)
	return &postgres.ReminderLetter{Email: "ada@example.org", Cooperative: "Bluestem", Named: named, Days: []postgres.ReminderDay{
		{Ranch: "Dry Fork", Line: "1", What: "first", Due: day, Closes: day + 2}, {Ranch: "Dry Fork", Line: "2", What: "first", Due: day, Closes: day + 2},
		{Ranch: "Dry Fork", Line: "3", What: "set", Due: day - 14, Closes: day - 14, Late: true}}}
}

func TestLetter(t *testing.T) {
	l := reminder.Letter(letter(false), words.Speaker{}, "https://tussock.example.org")
	for _, want := range []string{"First check of the eggs on lines 1, 2: best on Monday, May 24, no later than Wednesday, May 26.",
		"Put the eggs out on line 3: was due Monday, May 10", "https://tussock.example.org/plan/reminders"} {
		if !strings.Contains(l.Text, want) {
			t.Errorf("the letter does not say %q:\n%s", want, l.Text)
		}
	}
	if l.To != "ada@example.org" || strings.Contains(l.Text+l.Subject, "Dry Fork") || strings.Contains(l.Text+l.Subject, "Bluestem") {
		t.Errorf("it names what nobody chose to be named: %+v", l)
	}
	if named := reminder.Letter(letter(true), words.Speaker{}, ""); !strings.Contains(named.Text, "on lines 1, 2, Dry Fork:") {
		t.Errorf("the reader chose to have the ranch named:\n%s", named.Text)
	}
}

func TestLetterInSpanish(t *testing.T) {
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	l := reminder.Letter(letter(false), book.In(words.Spanish), "")
	if !strings.Contains(l.Text, "Primera revisión de los huevos en las líneas 1, 2: ") || strings.Contains(l.Text, " due ") || strings.Contains(l.Text, "You asked") {
		t.Errorf("got:\n%s", l.Text)
	}
}
