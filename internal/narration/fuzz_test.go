package narration

import (
	"strings"
	"testing"
)

// FuzzNarration holds that no text makes the narration fail, that every place it names lies within the text, and that no
// check it tells of stands twice.
func FuzzNarration(f *testing.F) {
	dictionary()
	for _, seed := range []string{
		"Line 1, set May 6, nests 1 to 8, odd ones in grass.\nMay 20: all there but 3 and 4 gone.",
		"Nest  Cover        20 May        3 June\n 1. yucca.........good..........gone     [good]",
		"From: Ann\nSent: May 20, 2024\n\nLine 2 fine except 5, which is gone.\n> Sent: May 6, 2024\n> set ten nests on line 2",
		"[5/20/24, 7:04 PM] Beto: linea 2, todos bien menos el 4\n[6/3/24, 7:10 PM] Beto: hoy revise la 2, el 6 comido",
		"Belt on line 1: 300 steps x 2½ ft, 6 ft wide, grass 18, yucca 6. My step is 2.5 feet.",
		"A1 grass, 5/20 good, 6/3 gone; A2 yucca, 5/20 gone", "day 136: 1-4 whole", "5-6 set | 5-20 ok | ... ; , -- [",
	} {
		f.Add(seed, "1", false)
		f.Add(seed, "", true)
	}
	f.Fuzz(func(t *testing.T, text, nest string, silence bool) {
		if len(text) > 2000 {
			return
		}
		var passages []Passage
		for i, part := range strings.Split(text, "\n\n") {
			passages = append(passages, Passage{Text: part, Gap: true, New: i == 0, Line: "7", Nest: nest, Is: About(i % 3)})
			nest = ""
		}
		passages = append(passages, Passage{Text: text})
		a := read(passages, silence)
		in := func(at Span) {
			if at.Passage < 0 || at.Passage >= len(passages) || at.To < at.From || at.To > len(passages[at.Passage].Text) {
				t.Fatalf("%+v lies outside of %q", at, text)
			}
		}
		for _, l := range a.Lines {
			in(l.At)
			for _, n := range l.Nests {
				in(n.At)
				for i, k := range n.Looks {
					in(k.At)
					if i > 0 && k.On != 0 && k.On == n.Looks[i-1].On {
						t.Fatalf("%q: line %s nest %s has two looks on %s", text, l.Name, n.Number, k.On)
					}
				}
			}
		}
		for _, b := range a.Belts {
			in(b.At)
		}
		for _, at := range append(a.Unused, a.Loose...) {
			in(at)
		}
	})
}
