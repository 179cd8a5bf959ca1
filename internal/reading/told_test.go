package reading

import (
	"fmt"
	"strings"
	"testing"

	"tussock/internal/inquiry"
	"tussock/internal/sheet"
	"tussock/internal/words"
)

// A listSink writes down what a batch tells.
type listSink struct{ out []string }

func (*listSink) Expect(int, int) {}

func (s *listSink) Nest(r *Row) {
	text := fmt.Sprintf("%s/%s %s set %s", r.Line, r.Nest, r.Cover, r.SetOn)
	for _, k := range r.Looks {
		text += fmt.Sprintf(" %s %s", k.On, k.Mark.State())
	}
	if r.Waits {
		text += " waits"
	}
	s.out = append(s.out, text)
}

func (s *listSink) Belt(r *BeltRow) {
	s.out = append(s.out, fmt.Sprintf("belt %s %v by %v %v", r.Line, r.LengthFt, r.WidthFt, r.Counts))
}

func (s *listSink) Site(*SiteRow) {}

// readFile reads one file.
func readFile(t *testing.T, name, text string) string {
	t.Helper()
	b, err := sheet.Open(name, []byte(text), words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	s := &listSink{}
	if _, err := Read([]*sheet.Book{b}, inquiry.NewLog(words.Speaker{}, nil, nil), Options{Ranch: "Yucca Fork"}, s); err != nil {
		t.Fatal(err)
	}
	return strings.Join(s.out, "\n")
}

func TestStoriesInATable(t *testing.T) {
	got := readFile(t, "stories 2024.csv", `Line,Nest,What happened
1,1,set 5/6/2024 in grass; 5/20 fine; 6/3 gone
1,2,"5/6 set, yucca. 5/20 fine. 6/3 fine."
1,3,set 5/6 in grass; 5/20 stepped on by a cow
1,belt,"300 steps at 2.5 ft, 6 ft wide. 24 grass, 3 yucca"
`)
	want := `1/1 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 taken
1/2 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact
1/3 bunchgrass set 2024-05-06 2024-05-20 trampled
belt 1 750 by 6 map[bunchgrass:24 yucca:3]`
	if got != want {
		t.Errorf("the table tells\n%s\nnot\n%s", got, want)
	}
}

func TestBeltsBesideATable(t *testing.T) {
	table := `Line,Nest,Cover,Set,Look 1,Found,Look 2,Found
1,1,grass,5/6/2024,5/20/2024,good,6/3/2024,gone
1,2,yucca,5/6/2024,5/20/2024,good,6/3/2024,good
2,1,grass,5/6/2024,5/20/2024,good,6/3/2024,gone
2,2,yucca,5/6/2024,5/20/2024,gone,,

`
	got := readFile(t, "nests.csv", table+"\"Belts, taped: line 1 500 x 6 ft, 26 grass, 11 yucca. Line 2 450 x 6 ft, 18 grass, 15 yucca.\"\n")
	if !strings.HasSuffix(got, "belt 1 500 by 6 map[bunchgrass:26 yucca:11]\nbelt 2 450 by 6 map[bunchgrass:18 yucca:15]") {
		t.Errorf("belts of two lines: %s", got)
	}
	got = readFile(t, "nests.csv", table+"\"Good rain in May.\"\n\n\"Belt: 500 ft long, 6 ft wide, 26 grass, 11 yucca\"\n")
	if strings.Contains(got, "belt") {
		t.Errorf("a belt of no line: %s", got)
	}
}
