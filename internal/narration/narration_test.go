package narration

import (
	"fmt"
	"strings"
	"sync"
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

var dictionary = sync.OnceValue(lexicon.New)

func read(passages []Passage, silence bool) *Account {
	return NewDocument(dictionary(), passages).Read(func(d lexicon.Date, _ survey.Date, _ Span) survey.Date { return d.On(false, 2024) }, silence)
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

func TestDaysBehindWhatWasFound(t *testing.T) {
	tells(t, `Line 1, set out May 13, looked May 27 and Jun 10:
  Nest 1 - good on May 27 but eaten on Jun 10 (clean gone)
  Nest 2 - all 3 eggs both times
  Nest 3 - eaten both times
  Nest 4 - good May 27 eaten Jun 10 clean gone
We also walked the belts, 300 ft by 6 ft. Line 1 had 14 bunchgrass and 5 yucca.`, `
		1 set 2024-05-13
		1  05-27 intact 06-10 taken
		2  05-27 intact 06-10 intact
		3  05-27 taken
		4  05-27?0 06-10?0
		belt 1 0 steps 300 ft by 6: bunchgrass 14 yucca 5`)
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

func TestStoriesOfNests(t *testing.T) {
	tests := []struct{ text, want string }{
		{"put in yucca 5-6; 5-20 all 3; 6-3 gone, coon", "set 2024-05-06 yucca 05-20 intact 06-03 taken"},
		{"5-6 set, bunch grass\n5-20: good\n6-3: stepped on by a cow", "set 2024-05-06 bunchgrass 05-20 intact 06-03 trampled"},
		{"Pear. Set 5-6. 5-20 good. 6-3 good.", "set 2024-05-06 prickly pear 05-20 intact 06-03 intact"},
		{"set 5/6 in yucca, 5/20 ok, 6/3 gone", "set 2024-05-06 yucca 05-20 intact 06-03 taken"},
		{"set 5/6 yucca, ok 5/20, gone 6/3", "set 2024-05-06 yucca 05-20 intact 06-03 taken"},
		{"5-6 set, BG\n5-20 fine", "set 2024-05-06 bunchgrass 05-20 intact"},
		{"PP. Set 5-6. 5-20 fine.", "set 2024-05-06 prickly pear 05-20 intact"},
		{"set 5/6 in yucca, 5/20 wopsided", "set 2024-05-06 yucca 05-20?0"},
	}
	for _, tt := range tests {
		a := read([]Passage{{Text: tt.text, Line: "1", Nest: "4", New: true}}, false)
		n := &Nest{}
		if len(a.Lines) == 1 && len(a.Lines[0].Nests) == 1 && len(a.Lines[0].Problems) == 0 {
			n = a.Lines[0].Nests[0]
		}
		a = &Account{Lines: []*Line{{Nests: []*Nest{n}}}}
		got := "set " + n.SetOn.String() + strings.TrimPrefix(strings.TrimSpace(strings.SplitN(sum(a), "\n", 2)[1]), n.Number)
		if got != tt.want {
			t.Errorf("%q tells %q, not %q", tt.text, got, tt.want)
		}
	}
}

func TestBeltOverTwoSentences(t *testing.T) {
	tells(t, `Line 2, set May 6, nests 1 to 2 in grass
Belt: 300 steps, 6 ft wide. 24 bunchgrass, 3 yucca.`, `
		2 set 2024-05-06
		1 bunchgrass
		2 bunchgrass
		belt 2 300 steps 0 ft by 6: bunchgrass 24 yucca 3`)
}

func TestACheckOnTheDayOfSettingIsNoHole(t *testing.T) {
	tells(t, `Line 2, set May 6, nests 1 to 3 in grass
May 6: nest 3 gone
May 20: all good`, `
		2 set 2024-05-06
		1 bunchgrass 05-20 intact
		2 bunchgrass 05-20 intact
		3 bunchgrass 05-06 taken`)
}

func TestStoriesAreToldApart(t *testing.T) {
	row := func(nest, text string) Passage { return Passage{Text: text, Line: "1", Nest: nest} }
	got := sum(read([]Passage{
		row("1", "grass set 5/6 | 5/20 ok | 6/3 gone"), row("2", "yucca set 5/7 | 5/20 ok"), row("3", "grass set 5/7 | 5/20 ok | 6/3 ok"),
	}, false))
	want := "1 set \n 1 bunchgrass 05-20 intact 06-03 taken\n 2 yucca 05-20 intact 06-03?2\n 3 bunchgrass 05-20 intact 06-03 intact\n"
	if got != want {
		t.Errorf("the stories tell\n%s\nnot\n%s", got, want)
	}
}

func TestBelts(t *testing.T) {
	tests := []struct{ text, want string }{
		{"Line 1: strip 300 steps x 2½ ft, 6 ft wide, grass 18, yucca 6", "belt 1 300 steps 0 ft by 6: bunchgrass 18 yucca 6"},
		{"Line 1: strip 300 steps x 3 ft, grass 18, yucca 6", "belt 1 300 steps 0 ft by 0: bunchgrass 18 yucca 6"},
		{"Belts, taped: line 3 500 x 6 ft, 26 grass, 11 yucca. Line 4 450 x 6 ft, 18 grass, 15 yucca.", "belt 3 0 steps 500 ft by 6: bunchgrass 26 yucca 11\nbelt 4 0 steps 450 ft by 6: bunchgrass 18 yucca 15"},
		{"The vara is 2.75 feet. Belt on line 2: 200 varas, 2 varas wide, grass 33, yucca 5", "belt 2 0 steps 550 ft by 5.5: bunchgrass 33 yucca 5"},
		{"Line 1: 250 steps, 6 ft wide: grass 18, wolfwort 4, yucca 6", ""},
		{"Line 1: 250 steps, 6 ft wide: 18 grass, 4 wolfwort, 6 yucca", ""},
		{"Lines 1 and 2: 250 steps, 6 ft wide: grass 18, yucca 6", ""},
	}
	for _, tt := range tests {
		a := account(tt.text, false)
		if got := strings.TrimSpace(sum(&Account{Belts: a.Belts})); got != tt.want {
			t.Errorf("%q tells %q, not %q", tt.text, got, tt.want)
		}
		if tt.want == "" && len(a.Unused) == 0 {
			t.Errorf("%q vanishes", tt.text)
		}
	}
}

func TestTwoStepsAreNotMixed(t *testing.T) {
	a := account("My step is 2.5 feet. Belt on line 1: 200 steps, 6 ft wide, 20 grass.\nHis step is 2.8 feet. Belt on line 2: 200 steps, 6 ft wide, 20 grass.", false)
	if len(a.Belts) != 2 || a.Belts[0].StepFt != 2.5 || a.Belts[1].StepFt != 2.8 || a.StepFt != 0 {
		t.Errorf("two steps: %v and %v, for all %v", a.Belts[0].StepFt, a.Belts[1].StepFt, a.StepFt)
	}
}

func TestDiary(t *testing.T) {
	tells(t, `May 6. Set lines 1 and 2, four nests on each, odd ones in grass and even in pear.
May 20. Line 1 all there but 3 and 4 gone. Line 2 lost 2.
June 3. Line 1, all the rest fine except 1, a cow stepped on it.`, `
		1 set 2024-05-06
		1 bunchgrass 05-20 intact 06-03 trampled
		2 prickly pear 05-20 intact 06-03 intact
		3 bunchgrass 05-20 taken
		4 prickly pear 05-20 taken
		2 set 2024-05-06
		1 bunchgrass 05-20?2
		2 prickly pear 05-20 taken
		3 bunchgrass 05-20?2
		4 prickly pear 05-20?2`)
	tells(t, `linea 2 puesta el 6 de mayo, nidos 1 al 3 en zacate
20 de mayo: todos bien menos el 3, comido
3 de junio: los demas bien`, `
		2 set 2024-05-06
		1 bunchgrass 05-20 intact 06-03 intact
		2 bunchgrass 05-20 intact 06-03 intact
		3 bunchgrass 05-20 taken`)
}

func TestMailIsReadInTheOrderOfItsDays(t *testing.T) {
	tells(t, `Sent: June 3, 2024
Line 1 today: all fine but 2, which is gone.

Sent: May 6, 2024
Put out line 1 today, nests 1 to 2 in grass.

Sent: May 21, 2024
Looked at line 1 yesterday, everything fine.`, `
		1 set 2024-05-06
		1 bunchgrass 05-20 intact 06-03 intact
		2 bunchgrass 05-20 intact 06-03 taken`)
}

func TestCorrections(t *testing.T) {
	tells(t, `Line 1, set May 6, nests 1 to 2 in grass.
May 20: 1 good, 2 gone. Correction: 2 was not gone, it was fine.`, `
		1 set 2024-05-06
		1 bunchgrass 05-20 intact
		2 bunchgrass 05-20 intact`)
}

// What does not hold together is asked about, and never settled by a guess.
func TestDoubt(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"a nest left out", "Line 1, set May 6, nests 1 to 2 in grass.\nMay 20: 1 good.", "1 set 2024-05-06\n1 bunchgrass 05-20 intact\n2 bunchgrass 05-20?2"},
		{"a nest beyond the number", "Line 1, set May 6, nests 1 to 2 in grass.\nMay 20: all good but 9.", "1 set 2024-05-06\n!5 9\n1 bunchgrass 05-20 intact\n2 bunchgrass 05-20 intact"},
		{"two days of setting", "Line 1, set May 6, one nest in grass.\nLine 1, set May 7.\nMay 20: all good.", "1 set 2024-05-06\n!6 \n1 bunchgrass 05-20 intact"},
		{"two things on one day", "Line 1, set May 6, nests 1 to 1 in grass.\nMay 20: nest 1 gone. May 20: nest 1 good.", "1 set 2024-05-06\n1 bunchgrass 05-20 taken 05-20?1"},
		{"an unknown word", "Line 1, set May 6, nests 1 to 2, all in grass.\nLooked at line 1 on May 20, all good except 2 was hexed.", "1 set 2024-05-06\n1 bunchgrass 05-20 intact\n2 bunchgrass 05-20?0"},
		{"only losses named", "Line 1, set May 6, in grass.\nMay 20: nests 3 and 4 gone.", "1 set\n!4"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { tells(t, tt.text, tt.want) })
	}
}

func TestNamesOfLines(t *testing.T) {
	tells(t, `Set the Ridge line and the Creek line on May 6, four nests on each, odd ones in grass and even in yucca.
May 20: On Ridge everything was there but no. 3, eaten. Creek lost 2, the others were fine.`, `
		ridge set 2024-05-06
		1 bunchgrass 05-20 intact
		2 yucca 05-20 intact
		3 bunchgrass 05-20 taken
		4 yucca 05-20 intact
		creek set 2024-05-06
		1 bunchgrass 05-20 intact
		2 yucca 05-20 taken
		3 bunchgrass 05-20 intact
		4 yucca 05-20 intact`)
	tells(t, `El 6 de mayo pusimos la línea del Arroyo con 3 nidos, los nones en zacate y los pares en nopal.
El 20 de mayo revisamos el Arroyo. El 3 vacío, los demás completos.
El 3 de junio en el Arroyo quedan el 1 y el 2.`, `
		arroyo set 2024-05-06
		1 bunchgrass 05-20 intact 06-03 intact
		2 prickly pear 05-20 intact 06-03 intact
		3 bunchgrass 05-20 taken`)
}

func TestLabels(t *testing.T) {
	tells(t, `Set out May 8, 4 nests a line. Bunchgrass = 1-2, yucca = 3-4, all lines.
LINE 1
  May 22   ok: 2, 3      gone: 1 (coon), 4
LINE 2
  May 22   ok: 1-3     stepped on: 4`, `
		1 set 2024-05-08
		1 bunchgrass 05-22 taken
		2 bunchgrass 05-22 intact
		3 yucca 05-22 intact
		4 yucca 05-22 taken
		2 set 2024-05-08
		1 bunchgrass 05-22 intact
		2 bunchgrass 05-22 intact
		3 yucca 05-22 intact
		4 yucca 05-22 trampled`)
}

func TestSumsAreHeldAgainstTheNests(t *testing.T) {
	text := `Line 1, set May 6, nests 1 to 8 in grass.
May 20: all good but 3 and 4, both eaten. So %s of 8 were left.`
	want := "1 set 2024-05-06\n%s1 bunchgrass 05-20 intact\n2 bunchgrass 05-20 intact\n3 bunchgrass 05-20 taken\n4 bunchgrass 05-20 taken\n5 bunchgrass 05-20 intact\n6 bunchgrass 05-20 intact\n7 bunchgrass 05-20 intact\n8 bunchgrass 05-20 intact"
	tells(t, fmt.Sprintf(text, "6"), fmt.Sprintf(want, ""))
	tells(t, fmt.Sprintf(text, "5"), fmt.Sprintf(want, "!9 6\n"))
}

func TestNestsThatLasted(t *testing.T) {
	tells(t, `Meadow line. Set out May 9, looked at on May 23 and June 6.
Nest 1 was in grass and made it all the way.
Nest 2, yucca, fine May 23, eaten June 6.
Nest 3 in grass, eaten between May 23 and June 6.`, `
		meadow set 2024-05-09
		1 bunchgrass 05-23 intact 06-06 intact
		2 yucca 05-23 intact 06-06 taken
		3 bunchgrass 05-23 intact 06-06 taken`)
}

func TestALossWithoutANumber(t *testing.T) {
	tells(t, `Line 1, set May 6, nests 1 to 3 in grass.
May 20: line 1 lost 2, and one more, I did not write down which. The others were fine.`, `
		1 set 2024-05-06
		1 bunchgrass 05-20?2
		2 bunchgrass 05-20 taken
		3 bunchgrass 05-20?2`)
}

func TestSentencesBehindTheNestTheyAreAbout(t *testing.T) {
	tells(t, `Line 1 (set May 5)
Nest 1: grass. Fine on May 19, gone June 2.
Nest 2: yucca. Fine both times.
Nest 3: yucca. OK May 19. June 2 cow had stepped in it.`, `
		1 set 2024-05-05
		1 bunchgrass 05-19 intact 06-02 taken
		2 yucca 05-19 intact 06-02 intact
		3 yucca 05-19 intact 06-02 trampled`)
}
