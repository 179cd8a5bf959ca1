package pages

import (
	"strconv"
	"strings"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/stat/shrink"
	"tussock/internal/words"
)

// A steadied figure lies between the ranch's own and the published one, nearer the published one the less the ranch knows,
// and its conditional interval is no wider than its own.
func TestSteadied(t *testing.T) {
	others := shrink.Others{Mean: shrink.LogLog(0.6), SD: 0.25}
	last := 100.0
	for _, own := range []findings.Range{
		{Estimate: new(0.3), Low: new(0.05), High: new(0.6)},
		{Estimate: new(0.3), Low: new(0.18), High: new(0.43)},
		{Estimate: new(0.3), Low: new(0.27), High: new(0.33)},
	} {
		figure, span := steadied(words.Speaker{}, own, others)
		got, err := strconv.ParseFloat(figure, 64)
		if err != nil {
			t.Fatal(err)
		}
		if got < 30 || got > 60 || got > last {
			t.Errorf("%v to %v: steadied %v, want between 30 and the one before, %v", *own.Low, *own.High, got, last)
		}
		last = got
		low, high, _ := strings.Cut(span, " to ")
		l, _ := strconv.ParseFloat(low, 64)
		h, _ := strconv.ParseFloat(high, 64)
		if !(l < got && got < h) || h-l > 100*(*own.High-*own.Low)+0.1 {
			t.Errorf("%v to %v: conditional range %s", *own.Low, *own.High, span)
		}
	}
	if figure, span := steadied(words.Speaker{}, findings.Range{Estimate: new(1.0), Low: new(0.8), High: new(1.0)}, others); figure != "–" || span != "" {
		t.Errorf("all intact: %q %q, want no steadied figure", figure, span)
	}
}

// What nobody published steadies nothing: without the spread, or without the figure, there is none.
func TestSteadiedByWhatIsPublished(t *testing.T) {
	survival := bulletin.Cell{Season: 2026, Measure: bulletin.Survival28, Published: true, Estimate: new(0.6), Low: new(0.55), High: new(0.65), Entities: "20-49"}
	spread := bulletin.Cell{Season: 2026, Measure: bulletin.OwnerSpread, Published: true, Estimate: new(0.3), Entities: "20-49"}
	held := spread
	held.Published = false
	for name, tt := range map[string]struct {
		cells []bulletin.Cell
		want  int
	}{
		"both":      {[]bulletin.Cell{survival, spread}, 1},
		"no figure": {[]bulletin.Cell{spread}, 0},
		"no spread": {[]bulletin.Cell{survival}, 0},
		"held":      {[]bulletin.Cell{survival, held}, 0},
	} {
		d := namedData{sharings: []postgres.Sharing{{RanchName: "Cottonwood Draw"}}, survey: SampleSurvey("Cottonwood Draw"), cells: tt.cells}
		if got := len(othersBySeason(d, perSeason(d))); got != tt.want {
			t.Errorf("%s: %d seasons are steadied, want %d", name, got, tt.want)
		}
	}
}
