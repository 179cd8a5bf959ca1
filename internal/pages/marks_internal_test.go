// Inside the package: marks are drawn for its own templates.

package pages

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"tussock/internal/survey"
	"tussock/internal/words"
)

// wellFormed fails where a drawing is not XML, or where it has a style attribute, which the policy would drop.
func wellFormed(t *testing.T, drawing string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(drawing))
	for {
		token, err := d.Token()
		if err == io.EOF {
			return
		}
		if err != nil {
			t.Fatalf("not well formed: %v\n%s", err, drawing)
		}
		if e, ok := token.(xml.StartElement); ok {
			for _, a := range e.Attr {
				if a.Name.Local == "style" || strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Errorf("<%s %s=%q>", e.Name.Local, a.Name.Local, a.Value)
				}
			}
		}
	}
}

func TestMarksAreWellFormed(t *testing.T) {
	r := ranged{50, 30, 70}
	for _, m := range []string{
		string(eggMarks(survey.Taken, 30, `<"words">`)),
		string(eggMarks(survey.Intact, 0, "none")),
		string(dotPlot([]float64{0, 0, 50, 100, 100}, r, "dots & words")),
		string(dotPlot(nil, ranged{0, 0, 0}, "")),
		string(coverStrip(ranged{350, 200, 5000}, 400, 300, "")),
		string(coverAxis(words.Speaker{}, 900, 300)),
		string(besideStrip(120, r, 100, "")),
		string(mixBar(nil, "nothing")),
		string(mixBar([]share{{ranged: ranged{Estimate: 60}, Number: 1}, {ranged: ranged{Estimate: 40}}}, "")),
		"<svg xmlns=\"http://www.w3.org/2000/svg\">" + string(patterns()) + "</svg>",
	} {
		wellFormed(t, m)
	}
}

func TestOneEggPerNest(t *testing.T) {
	if got := eggMarks(survey.Intact, mostEggs+1, "x"); got != "" {
		t.Errorf("so many nests are drawn: %.80s", got)
	}
	for _, n := range []int{1, 6, 7, 12, 13, 200, mostEggs} {
		if got := strings.Count(string(eggMarks(survey.Intact, n, "x")), "<use"); got != n {
			t.Errorf("%d nests: %d eggs", n, got)
		}
	}
}

// The drawn nests of a season add up to the nests put out.
func TestEveryNestIsDrawnOnce(t *testing.T) {
	page := sampleRanch(words.Speaker{})
	total := 0
	for _, f := range page.Nests.Fates {
		total += f.Count
	}
	if want := 6 * 8; total != want { // SampleSurvey sets 6 lines of 8 nests in 2026
		t.Errorf("drawn %d, want %d", total, want)
	}
}
