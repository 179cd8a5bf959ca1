// Inside the package: page structs are its own business.

package pages

import (
	"context"
	"errors"
	"io/fs"
	"strings"
	"testing"

	"golang.org/x/sync/semaphore"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/fieldwork"
	"tussock/internal/paper"
	"tussock/internal/postgres"
	"tussock/internal/scan"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

func paperPages() map[string]any {
	line := season.Line{ID: "l1", Ranch: "1", Name: "3", Code: "KX7P2M", Pasture: "North", Stops: 12, Season: 2026}
	seasons := []paperSeason{{postgres.Ranch{ID: "1", Name: "Cottonwood Draw"}, 2026, []season.Line{line, {ID: "l2", Name: "4", Code: "QQ23RT", Stops: 8}}}}
	k := keyed{line: line, ranch: "Cottonwood Draw", agains: []postgres.KeyedAgain{{By: "Luis Ortega", At: sampleDay, Rows: 2, Differing: 1}},
		looks: []fieldwork.Look{{ID: "a", Line: "l1", Device: "paper-scan", Answers: map[string]string{"photo": "p1"}}, {ID: "b", Line: "l1", Device: "phone"}}}
	boxes := fieldwork.Keyed{"on1": "2026-05-04", "on2": "2026-05-18", "who1": "LO", "cover.1": "1", "found2.1": "1", "fresh2.1": "3", "found3.1": "1", "cover.2": "3", "found2.2": "2", "left2.2": "5", "bits.2": "4", "count_bunchgrass": "31"}
	_, slips := boxes.Looks(line, survey.DateOf(2026, 8, 1))
	nests, remains := paper.Sheet{Page: paper.Nests, Size: paper.Letter, First: 1, Last: 12}, paper.Sheet{Page: paper.Remains, Size: paper.Letter, First: 1, Last: 12}
	k.draft = fieldwork.Draft{Boxes: boxes, Photos: []fieldwork.SheetPhoto{{Photo: "p1", Page: nests.Tag(), Doubts: []string{"on1", "cover.1", "left2.2"}},
		{Photo: "p2", Page: remains.Tag(), Doubts: []string{"bits.2", "trace.2"}}}}
	sheet := keyPageOf(words.Speaker{}, &k, boxes, slips)
	sheet.base = sampleBase("Line 3: key the sheet", "/key/KX7P2M", access.Landowner)
	sheet.Kept, sheet.Stale, sheet.Drafted, sheet.Problems = "3 looks are new or mended.", true, true, []string{"Choose photos of the sheet first."}
	again := keyAgainPageOf(words.Speaker{}, &k, boxes, slips)
	again.base = sampleBase("Line 3: key some rows again", "/key/KX7P2M/again", access.Hand)
	again.Compared, again.Differences = true, []keyDifference{{"Stop 2, Eggs left, Week 2", "1", "2", "left2.2"}}
	round := quizRound(7, words.Speaker{})
	return map[string]any{
		"paper": paperPage{base: sampleBase("Paper for the field", "/paper", access.Landowner), Seasons: seasons, Sizes: []paperSize{{"letter", "Letter"}, {"a4", "A4"}}, Keys: true},
		"keys":  keysPage{sampleBase("Key a filled sheet", "/key", access.Hand), seasons, "That is not a code of ours.", []string{"sheet.heic: This photo is in a format that we cannot open (HEIC)."}, []lineRead{{line, 2, 31}}},
		"key":   sheet, "key_again": again,
		"quiz": quizPage{base: sampleBase("Practice", "/quiz", access.Hand), Set: 7, Number: 3, Of: quizLength, Right: 2, Asked: round[2], Chosen: 1, Next: "/quiz?set=7&n=4&right=2", Again: "/quiz?set=8"},
	}
}

// TestQuiz: every round can be answered, shows pictures that are there, and says nothing for sure.
func TestQuiz(t *testing.T) {
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	for set := range 200 {
		round := quizRound(set, book.In(words.Spanish))
		if len(round) != quizLength {
			t.Fatalf("round %d has %d questions", set, len(round))
		}
		for _, q := range round {
			if _, err := fs.Stat(web.FS, "static/"+q.Drawing); err != nil {
				t.Error(err)
			}
			if q.Right < 0 || q.Right >= len(q.Answers) || q.Ask == "" || q.Know == "" {
				t.Errorf("round %d: %+v", set, q)
			}
		}
	}
	for _, f := range survey.Features {
		if quizBeware(f.Name) == "" {
			t.Errorf("nothing is said about %s", f.Name)
		}
	}
}

// TestBoxNames: every box of the page is read back from its form, also where some are looked at beside a photo.
func TestBoxNames(t *testing.T) {
	photos := paperPages()["key"].(keyPage)
	typed := keyPageOf(words.Speaker{}, &keyed{line: photos.Line}, fieldwork.Keyed{}, nil)
	typed.base = photos.base
	if len(photos.Look) != 2 || len(typed.Look) != 0 {
		t.Fatalf("%d pages to look at, and %d without photos", len(photos.Look), len(typed.Look))
	}
	s := sampleServer(t)
	for _, page := range []keyPage{photos, typed} {
		var b strings.Builder
		if err := s.views.Render(&b, "en/key", page); err != nil {
			t.Fatal(err)
		}
		for _, name := range boxNames(page.Line) {
			if n := strings.Count(b.String(), ` name="`+name+`"`); n != 1 {
				t.Errorf("%s stands on the page %d times", name, n)
			}
		}
	}
}

// TestReadersBusy: a photo whose turn does not come in time is to be sent again, and is not lost in a fault of ours.
func TestReadersBusy(t *testing.T) {
	s := &server{readers: semaphore.NewWeighted(1)}
	if !s.readers.TryAcquire(1) {
		t.Fatal("no reader is free")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := s.readPhoto(ctx, scan.Picture{}); !errors.Is(err, errs.Unavailable) {
		t.Error(err)
	}
}
