package narration

import (
	"fmt"
	"strings"
	"testing"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// account reads a text of 2024, whose numbers name the month first, as one file.
func account(text string, silence bool) *Account {
	var passages []Passage
	gap := true
	for _, l := range strings.Split(text, "\n") {
		if strings.TrimSpace(l) == "" {
			gap = true
			continue
		}
		passages = append(passages, Passage{Text: l, Gap: gap, New: len(passages) == 0})
		gap = false
	}
	return read(passages, silence)
}

func read(passages []Passage, silence bool) *Account {
	return NewDocument(lexicon.New(), passages).Read(func(d lexicon.Date, _ survey.Date, _ Span) survey.Date { return d.On(false, 2024) }, silence)
}

// sum writes an account down in short: a line a nest, with question marks for what is open.
func sum(a *Account) string {
	var b strings.Builder
	for _, l := range a.Lines {
		fmt.Fprintf(&b, "%s set %s%s\n", l.Name, l.SetOn, map[bool]string{true: " at " + l.Site}[l.Site != ""])
		for _, p := range l.Problems {
			fmt.Fprintf(&b, " !%d %s\n", p.Why, p.Text)
		}
		for _, n := range l.Nests {
			fmt.Fprintf(&b, " %s %s", n.Number, n.Cover)
			for _, k := range n.Looks {
				if k.On == 0 {
					fmt.Fprintf(&b, " week %d", k.Weeks)
				} else {
					fmt.Fprintf(&b, " %s", k.On.String()[5:])
				}
				fmt.Fprintf(&b, " %s", k.Sight.Mark.State())
			}
			for _, u := range n.Unclear {
				on := "--"
				if u.On != 0 {
					on = u.On.String()[5:]
				}
				fmt.Fprintf(&b, " %s?%d", on, u.Why)
			}
			b.WriteByte('\n')
		}
	}
	for _, t := range a.Belts {
		fmt.Fprintf(&b, "belt %s %v steps %v ft by %v:", t.Line, t.Length.Steps, t.Length.Feet, t.WidthFt)
		for _, c := range []survey.Substrate{survey.Bunchgrass, survey.PricklyPear, "yucca", "shrub", "forb"} {
			if n := t.Counts[c]; n > 0 {
				fmt.Fprintf(&b, " %s %d", c, n)
			}
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// tells checks the account of a text.
func tells(t *testing.T, text, want string) {
	t.Helper()
	trim := func(s string) string {
		var out []string
		for _, l := range strings.Split(strings.TrimSpace(s), "\n") {
			out = append(out, strings.TrimSpace(l))
		}
		return strings.Join(out, "\n")
	}
	if got := trim(sum(account(text, false))); got != trim(want) {
		t.Errorf("%s\ntells\n%s\nnot\n%s", text, got, trim(want))
	}
}

func TestSmallTableWithinText(t *testing.T) {
	tells(t, `Line 1, set May 6

Nest  Cover        20 May        3 June
 1. yucca.........good..........gone     [good]
 2. grass.........gone..........----     [nothing left]
 3. grass.........good..........good     [stepped on]`, `
		1 set 2024-05-06
		1 yucca 05-20 intact 06-03 taken
		2 bunchgrass 05-20 taken
		3 bunchgrass 05-20?0 06-03?0`)
}

func TestTwoRowsOfOneNestAreAsked(t *testing.T) {
	tells(t, `Line 1, set May 6

Nest  Cover        May 20        June 3
 1  yucca         good          good
 2  grass         good          gone
 2  grass         gone          --`, `
		1 set 2024-05-06
		1 yucca 05-20 intact 06-03 intact
		2 bunchgrass 05-20 intact 06-03 taken --?8 05-20?1`)
}
