package main

import (
	"regexp"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"tussock/internal/access"
	"tussock/internal/demo"
)

// A page's own object in a PDF file (ISO 32000-1, 7.7.3.3), not the tree of pages.
var pdfPage = regexp.MustCompile(`/Type\s*/Page\b`)

// testPoster: a poster prints on one sheet, of Letter (8.5 by 11 inches) and of A4 (210 by 297 mm), and the map over the
// areas is drawn from our own outlines.
func testPoster(t *testing.T, b *browser, base string) {
	p := b.open(t, base)
	p.width(1280)
	p.signIn(emails()[access.Planner], demo.Password)
	p.visit("/outreach")
	p.do(chromedp.WaitReady(chromedp.CSS(".chart.map svg path")))
	if eval[bool](p, `!document.getElementById('tiles').hidden`) {
		t.Error("the tiles stand beside the map")
	}
	// On paper nothing stands over anything: a chart is printed as high as it was drawn, and its box must be.
	media := func(name string) {
		if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name}); err != nil {
			t.Fatal(err)
		}
	}
	drawn := eval[float64](p, `document.querySelector('.chart.map svg').getBoundingClientRect().height`)
	media("print")
	if room := eval[float64](p, `document.querySelector('.chart.map').getBoundingClientRect().height`); room < drawn {
		t.Errorf("the map is %.0f px high and has %.0f on paper: it hangs over what stands below it", drawn, room)
	}
	media("")
	p.visit("/outreach/cooperative/poster")
	if !eval[bool](p, `!!document.querySelector('.poster-sheet svg')`) {
		t.Fatal("the whole cooperative has no poster")
	}
	for name, size := range map[string][2]float64{"Letter": {8.5, 11}, "A4": {210 / 25.4, 297 / 25.4}} {
		res, err := chromedp.Call(p.ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: size[0], PaperHeight: size[1]})
		if err != nil {
			t.Fatal(err)
		}
		if n := len(pdfPage.FindAll(res.Data, -1)); n != 1 {
			t.Errorf("%s: the poster prints on %d sheets, want 1", name, n)
		}
	}
	for _, w := range p.complaints() {
		t.Error(w)
	}
}
