package lexicon_test

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// A verdict is how one line of the phrase book came out.
type verdict uint8

const (
	right    verdict = iota
	unread           // not understood: the sender is asked once
	wrong            // understood as something else
	verdicts = iota
)

// A bookPage is one file of the phrase book: texts as people write them on season sheets, each with what it means.
type bookPage struct {
	name      string
	judge     func(l *lexicon.Lexicon, text, truth string) (verdict, string)
	mayWrong  int // how many lines of the part for tuning may be read as something else
	mayUnread int // how many may be not understood
}

var book = []bookPage{
	{"states", judgeState, 3, 43},
	{"covers", judgeCover, 13, 68},
	{"headings", judgeHeading, 78, 60},
	{"dates", judgeDate, 1, 50},
}

// TestPhraseBook reads the phrase book and prints its score. A file NAME_unseen.tsv, where there is one, was never looked
// at in tuning: it is printed apart and fails nothing.
func TestPhraseBook(t *testing.T) {
	l := lexicon.New()
	for _, p := range book {
		var n [verdicts]int
		for _, line := range bookLines(t, p.name+".tsv") {
			v, got := p.judge(l, line[0], line[1])
			n[v]++
			if v != right && testing.Verbose() {
				t.Logf("%s %-9s %q is %s, read as %s", p.name, [...]string{"", "not read", "WRONG"}[v], line[0], line[1], got)
			}
		}
		t.Logf("%-9s %4d right, %3d not understood, %3d wrong", p.name, n[right], n[unread], n[wrong])
		if n[wrong] > p.mayWrong || n[unread] > p.mayUnread {
			t.Errorf("%s: %d wrong and %d not understood; %d and %d are allowed", p.name, n[wrong], n[unread], p.mayWrong, p.mayUnread)
		}
		var u [verdicts]int
		for _, line := range bookLines(t, p.name+"_unseen.tsv") {
			v, _ := p.judge(l, line[0], line[1])
			u[v]++
		}
		if all := u[right] + u[unread] + u[wrong]; all > 0 {
			t.Logf("%-9s unseen: %4d right, %3d not understood, %3d wrong", p.name, u[right], u[unread], u[wrong])
		}
	}
}

// bookLines returns the lines of one file as text and truth; none where there is no such file.
func bookLines(t testing.TB, name string) [][2]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "phrases", name))
	if os.IsNotExist(err) {
		return nil
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out [][2]string
	for s := bufio.NewScanner(f); s.Scan(); {
		text, truth, ok := strings.Cut(s.Text(), "\t")
		if !ok {
			t.Fatalf("%s: no tab in %q", name, s.Text())
		}
		out = append(out, [2]string{text, truth})
	}
	return out
}

// judgeState takes a mark that waits for a word of the sender (yes, no, 0, 1, a doubt) as an answer to "ask".
func judgeState(l *lexicon.Lexicon, text, truth string) (verdict, string) {
	s := l.Sight(lexicon.Tidy(text))
	got := string(s.Mark.State())
	switch {
	case s.Mark == lexicon.Skipped:
		got = "skipped"
	case got == "" || s.Doubt:
		got = "ask"
	}
	return verdictOf(got, truth, "ask"), fmt.Sprintf("%s %+v", got, s)
}

func verdictOf(got, truth, open string) verdict {
	switch got {
	case truth:
		return right
	case open:
		return unread
	}
	return wrong
}

// judgeCover takes an unknown word as the sheet's own.
func judgeCover(l *lexicon.Lexicon, text, truth string) (verdict, string) {
	c, ok := l.Cover(lexicon.Tidy(text))
	got := "ask"
	if ok {
		got = string(c.Substrate)
	}
	if strings.HasPrefix(truth, "other:") {
		if !ok {
			return right, got
		}
		return wrong, got
	}
	return verdictOf(got, truth, "ask"), got
}

// judgeDate settles what a sheet of 2024 with the month first would settle.
func judgeDate(_ *lexicon.Lexicon, text, truth string) (verdict, string) {
	d := lexicon.ReadDate(lexicon.Tidy(text), false)
	got := "none"
	if on := d.On(false, 2024); on != 0 {
		got = on.String()
	}
	return verdictOf(got, truth, "none"), got
}

// headingRoles are the roles that each word of the truth about headings allows; the first is the plain one.
var headingRoles = map[string][]lexicon.Role{
	"none":       {lexicon.NoRole, lexicon.Passed, lexicon.RowNumber, lexicon.Bearing, lexicon.SiteType, lexicon.Area, lexicon.EggsSet, lexicon.DaysOut, lexicon.Spot},
	"latitude":   {lexicon.Passed},
	"longitude":  {lexicon.Passed},
	"time":       {lexicon.Passed},
	"ranch":      {lexicon.Ranch, lexicon.Owner},
	"site":       {lexicon.Site},
	"season":     {lexicon.Season},
	"line":       {lexicon.Line},
	"nest":       {lexicon.Nest},
	"substrate":  {lexicon.Substrate},
	"plant":      {lexicon.Plant},
	"set_on":     {lexicon.SetOn},
	"checked_on": {lexicon.CheckOn},
	"state":      {lexicon.Found},
	"eggs_left":  {lexicon.EggsLeft},
	"event":      {lexicon.Event, lexicon.Check},
	"observer":   {lexicon.Who},
	"remains":    {lexicon.Trace, lexicon.Feature},
	"guess":      {lexicon.Guess},
	"camera":     {lexicon.Camera},
	"notes":      {lexicon.Notes},
	"length":     {lexicon.Length, lexicon.Steps},
	"width":      {lexicon.Width},
	"step":       {lexicon.StepLength},
	"clumps":     {lexicon.Clumps},
	"count":      {lexicon.Count},
	"check":      {lexicon.Check, lexicon.Found},
	"check_on":   {lexicon.CheckOn},
	"check_eggs": {lexicon.EggsLeft},
}

// judgeHeading holds role, visit and cover against the truth. The right role without the visit is half understood.
func judgeHeading(l *lexicon.Lexicon, text, truth string) (verdict, string) {
	h := l.Heading(text)
	got := fmt.Sprintf("role %d %q sure %.1f visit %d after %d cover %q", h.Role, h.Role.Name(), h.Sure, h.Visit, h.After, h.Cover)
	want, cover, _ := strings.Cut(truth, ":")
	visit := 0
	if rest, ok := strings.CutPrefix(want, "check"); ok && rest != "" && rest[0] >= '1' && rest[0] <= '3' {
		visit = int(rest[0] - '0')
		want = "check" + rest[1:]
	}
	roles, ok := headingRoles[want]
	if !ok {
		panic("no roles for " + want)
	}
	fits := false
	for _, r := range roles {
		fits = fits || r == h.Role
	}
	said := h.Visit
	if said == 0 && h.After > 0 {
		said = (h.After + 7) / 14
	}
	switch {
	case h.Role == lexicon.NoRole && !fits:
		return unread, got
	case want == "check_eggs" && (h.Role == lexicon.Check || h.Role == lexicon.Found) && said == visit:
		return unread, got
	case !fits:
		return wrong, got
	case h.Cover != survey.Substrate(cover):
		return wrong, got
	case said == visit || want == "none":
		return right, got
	case said == 0:
		return unread, got
	}
	return wrong, got
}
