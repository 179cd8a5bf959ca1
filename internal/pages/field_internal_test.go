// Inside the package: page structs are its own business.

package pages

import (
	"image"
	"image/draw"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
)

func sampleFieldLinks() fieldLinksPage {
	made, err := shownFieldLink("Lupe", "https://example.org/field/open/00ff")
	if err != nil {
		panic(err)
	}
	line := season.Line{ID: "l1", Name: "1", Pasture: "North", Stops: 12}
	day := survey.DateFrom(sampleDay)
	return fieldLinksPage{base: sampleBase("Links for the field", "/field/links", access.Landowner), Made: made, Problem: "Choose the lines that the link is for.", Name: "Ro",
		Chosen: map[access.ID]bool{"l1": true}, From: "2026-08-04", Through: "2026-09-04",
		Ranches: []fieldRanch{{ID: "1", Name: "Cottonwood Draw", Lines: []season.Line{line}, Links: []fieldLinkRow{
			{FieldLink: postgres.FieldLink{ID: "k", Name: "Ro", From: day, Through: day, Phones: 2, SeenAt: sampleDay}, Lines: "1", First: sampleDay, Last: sampleDay, InPast: true, HasSeen: true}}},
			{ID: "2", Name: "Long Draw"}}}
}

func sampleFieldResults() fieldResultsPage {
	line := season.Line{ID: "l1", Name: "1", Pasture: "North", Stops: 12}
	look := func(id access.ID, who, found string) fieldwork.Look {
		return fieldwork.Look{ID: id, Who: who, Line: "l1", Stop: 3, Kind: fieldwork.Check, At: sampleDay.Add(time.Hour), Answers: map[string]string{"found": found, "looked_on": "2026-05-15",
			"photo": "11111111-1111-4111-8111-111111111111"}}
	}
	page := fieldResultsPage{base: sampleBase("From the field: Cottonwood Draw, 2026", "/field/results/1/2026", access.Landowner), Ranch: postgres.Ranch{ID: "1"}, Season: 2026,
		Looks: 40, Nests: 12, Belts: 1, Second: 2, Fresh: 3, Counted: &postgres.Upload{ID: "u"},
		Lines: []fieldLineState{{LineState: fieldwork.LineState{Line: line, Set: 12, Checked: [2]int{10, 2}, Belts: 1}, Missing: []fieldMissing{{"flags", 12, 11}}},
			{LineState: fieldwork.LineState{Line: line, Set: 12}, Shut: true}}}
	page.Cards = []fieldCards{page.cards(fieldwork.Conflict{Line: line, Stop: 3, Looks: []fieldwork.Look{look("a", "JR", "all"), look("b", "ML", "lost")}})}
	return page
}

// TestFieldLinkCode reads the QR code of a link back with a library that did not draw it.
func TestFieldLinkCode(t *testing.T) {
	const address = "https://tussock.example.org/field/open/0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"
	made, err := shownFieldLink("Lupe", address)
	if err != nil {
		t.Fatal(err)
	}
	const scale = 4
	img := image.NewGray(image.Rect(0, 0, made.Side*scale, made.Side*scale))
	draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
	for _, m := range regexp.MustCompile(`M(\d+) (\d+)h1v1h-1z`).FindAllStringSubmatch(made.Dark, -1) {
		x, _ := strconv.Atoi(m[1])
		y, _ := strconv.Atoi(m[2])
		draw.Draw(img, image.Rect(x*scale, y*scale, (x+1)*scale, (y+1)*scale), image.Black, image.Point{}, draw.Src)
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	read, err := qrcode.NewQRCodeReader().Decode(bits, nil)
	if err != nil || read.GetText() != address {
		t.Errorf("the code reads %v, %v", read, err)
	}
}
