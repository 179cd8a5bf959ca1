package print

import (
	"fmt"
	"image/color"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"github.com/boombuler/barcode/qr"

	"tussock/internal/paper"
	"tussock/internal/words"
)

// Millimeters.
const (
	hair   = 0.25 // thin line
	left   = paper.Left
	mmInch = 25.4 // exactly (NIST Handbook 44, Appendix C)
)

// A page lays out the pages of one leaf after the other.
type page struct {
	*fpdf.Fpdf
	drawings    map[string]drawing
	spanish     words.Speaker
	translate   func(string) string // to the fonts' code page
	sheet       Sheet
	size        paper.Size
	first, last int // the stops of this leaf
	w, h        float64
}

// of returns one of the leaf's pages as its layout knows it.
func (p *page) of(which paper.Page) paper.Sheet {
	return paper.Sheet{Page: which, Size: p.size, First: p.first, Last: p.last}
}

// start adds a page with its frame: corner marks, title, whose line it is, and its code. It returns where what follows
// begins.
func (p *page) start(title string) float64 {
	p.AddPage()
	p.w, p.h = p.GetPageSize()
	p.SetLineWidth(hair)
	p.SetDrawColor(0, 0, 0)
	p.SetFillColor(0, 0, 0)
	for _, m := range p.size.Marks() {
		p.rect(m, "F")
	}
	p.SetFillColor(255, 255, 255)
	p.rect(p.size.Hole(), "F")
	p.text(left, 10.2, "B", 12, title)
	p.text(left+p.width("B", 12, title)+3, 10.2, "", 12, p.spanish.Say(title))
	return 13
}

// head writes whose line the page is about, below start's title and above paper.Top.
func (p *page) head(of paper.Sheet) {
	l := &p.sheet.Line
	season := ""
	if l.Season != 0 {
		season = fmt.Sprint(l.Season)
	}
	right := p.code(of)
	p.over(p.w-100, 4.6, 64, 6.2, words.Mark("Wrong box? Scribble it full, then tick the right one."))
	fields := []struct {
		label, value string
		share        float64
	}{
		{words.Mark("Ranch"), p.sheet.Ranch, .32}, {words.Mark("Pasture"), l.Pasture, .26}, {words.Mark("Line"), l.Name, .14},
		{words.Mark("Season"), season, .14}, {words.Mark("Stops"), fmt.Sprintf("%d – %d", p.first, p.last), .14},
	}
	x, wide := left, right-left-2
	for _, f := range fields {
		w := wide * f.share
		p.both(x, 16.2, 6.2, f.label)
		p.text(x, 22.2, "B", 10.5, p.fit("B", 10.5, f.value, w-2))
		p.Line(x, 23.6, x+w-2, 23.6)
		x += w
	}
}

// code prints the line's code as letters, and as a QR code that says the page too, in the upper right corner, and returns
// the left edge of both.
func (p *page) code(of paper.Sheet) float64 {
	code := p.sheet.Line.Code
	p.qr(of.CodeText(p.sheet.Link, code), p.size.Code())
	x := p.size.Code().X
	if code == "" {
		return x
	}
	spaced := code[:len(code)/2] + " " + code[len(code)/2:]
	p.SetFont("Courier", "B", 15)
	w := p.GetStringWidth(spaced)
	p.Text(x-w-1, 20.5, spaced)
	p.both(x-w-1, 15.2, 6.2, words.Mark("Code"))
	return x - w - 2
}

// qr draws a QR code with its quiet zone of four modules within the square at. It mends as much damage as a code of the
// size that medium correction needs can.
func (p *page) qr(text string, at paper.Rect) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		p.SetError(fmt.Errorf("encode QR code: %w", err))
		return
	}
	n := code.Bounds().Dx()
	for _, level := range []qr.ErrorCorrectionLevel{qr.Q, qr.H} {
		if better, err := qr.Encode(text, level, qr.Auto); err == nil && better.Bounds().Dx() == n {
			code = better
		}
	}
	x, y, m := at.X, at.Y, at.W/float64(n+8)
	p.SetFillColor(0, 0, 0)
	for row := range n {
		for col := 0; col < n; col++ {
			run := 0
			for col+run < n && dark(code.At(col+run, row)) {
				run++
			}
			if run > 0 {
				p.Rect(x+float64(col+4)*m, y+float64(row+4)*m, float64(run)*m, m, "F")
				col += run
			}
		}
	}
	p.SetFillColor(255, 255, 255)
}

// foot prints the ruler, the patch of gray by which a photo's light can be judged, and the box for whoever keys the sheet.
func (p *page) foot() {
	y := p.h - 13.5
	p.ruler(left+1, y)
	x := left + 1 + 6*mmInch + 4
	p.SetFillColor(128, 128, 128)
	p.Rect(x, y-3, 7, 7, "F")
	p.SetFillColor(255, 255, 255)
	x += 10
	w := p.w - left - x
	p.Rect(x, y-7, w, 13.5, "D")
	p.both(x+1, y-4.5, 6.2, words.Mark("Keyed by, on"))
	p.both(x+w/2, y-4.5, 6.2, words.Mark("Keyed again by, on"))
	p.Line(x+1, y+4.5, x+w/2-2, y+4.5)
	p.Line(x+w/2, y+4.5, x+w-2, y+4.5)
}

// ruler draws 6 inches over 15 centimeters, true to size where the page is printed so.
func (p *page) ruler(x, y float64) {
	p.Line(x, y, x+6*mmInch, y)
	for i := range 13 {
		p.Line(x+float64(i)*mmInch/2, y-map[bool]float64{true: 4, false: 2.2}[i%2 == 0], x+float64(i)*mmInch/2, y)
	}
	for i := range 16 {
		p.Line(x+float64(i)*10, y, x+float64(i)*10, y+map[bool]float64{true: 4, false: 2.2}[i%5 == 0])
	}
	p.text(x+1, y-1.2, "", 6, "6 in")
	p.text(x+1, y+3.6, "", 6, "15 cm")
	p.note(x+12, y-4.6, 6, words.Mark("Scale for photos. Print at 100 %, and check it with a tape."))
}

// note writes an English sentence and the Spanish one after it.
func (p *page) note(x, y, size float64, text string) {
	p.text(x, y, "", size, text)
	p.text(x+p.width("", size, text)+2, y, "I", size, p.spanish.Say(text))
}

// noteOver writes the Spanish sentence below the English one.
func (p *page) noteOver(x, y, size float64, text string) {
	p.text(x, y, "", size, text)
	p.text(x, y+size*.42, "I", size, p.spanish.Say(text))
}

// rect draws a rectangle in fpdf's style: "D" for its outline, "F" filled.
func (p *page) rect(r paper.Rect, style string) { p.Rect(r.X, r.Y, r.W, r.H, style) }

// boxes draws every box to tick of a page, those that are not for a tally with the number that is keyed, small enough to
// tick over.
func (p *page) boxes(of paper.Sheet) {
	for _, f := range of.Fields() {
		for i, b := range f.Boxes {
			p.rect(b, "D")
			if f.Tally {
				continue
			}
			p.SetTextColor(90, 90, 90)
			p.text(b.X+.5, b.Y+1.9, "", 4.6, strconv.Itoa(i+1))
			p.SetTextColor(0, 0, 0)
		}
	}
}

// frame draws the outline around a place to write.
func (p *page) frame(place paper.Rect) { p.rect(place.Grow(paper.Border), "D") }

// line draws a place to write on, with its label before it.
func (p *page) line(l paper.Line, size float64, label string) {
	y := l.Place.Y + l.Place.H + .5
	p.bothIn(l.Label, size, label)
	p.Line(l.Place.X, y, l.Place.X+l.Place.W, y)
}

// both writes a label in English with the Spanish beside it.
func (p *page) both(x, y, size float64, text string) {
	p.text(x, y, "B", size, text)
	if spanish := p.spanish.Say(text); spanish != text {
		p.text(x+p.width("B", size, text)+1.2, y, "", size, spanish)
	}
}

// bothIn is both on the ground of a rectangle, smaller where it would not fit its width.
func (p *page) bothIn(r paper.Rect, size float64, text string) {
	whole := p.width("B", size, text) + 1.2 + p.width("", size, p.spanish.Say(text))
	if room := r.W - 1; whole > room {
		size *= room / whole
	}
	p.both(r.X, r.Y+r.H, size, text)
}

// over writes a label in English over the Spanish, each in as many lines as the width wants, and returns where it ends.
func (p *page) over(x, y, w, size float64, text string) float64 {
	lead := size * .4
	write := func(style, s string) {
		p.SetFont("Helvetica", style, size)
		for _, line := range p.SplitLines([]byte(p.translate(s)), w) {
			p.Text(x, y+lead*.8, string(line))
			y += lead
		}
	}
	write("B", text)
	if spanish := p.spanish.Say(text); spanish != text {
		write("", spanish)
	}
	return y
}

// upright writes a label turned by a quarter: the English in bold, then the Spanish, side by side, from bottom to top.
func (p *page) upright(x, y, w, tall, size float64, text string) {
	lead := size * .38
	spanish := p.spanish.Say(text)
	n := 2.0
	if spanish == text {
		n = 1
	}
	base := x + w/2 - n*lead/2 + lead*.8
	for i, s := range []string{text, spanish}[:int(n)] {
		style := map[bool]string{true: "B", false: ""}[i == 0]
		at := base + float64(i)*lead
		p.TransformBegin()
		p.TransformRotate(90, at, y)
		p.text(at, y, style, p.shrink(style, size, s, tall), s)
		p.TransformEnd()
	}
}

// text writes in Helvetica with the baseline at y; size is in points.
func (p *page) text(x, y float64, style string, size float64, s string) {
	p.SetFont("Helvetica", style, size)
	p.Text(x, y, p.translate(s))
}

func (p *page) width(style string, size float64, s string) float64 {
	p.SetFont("Helvetica", style, size)
	return p.GetStringWidth(p.translate(s))
}

// shrink returns the size, at most the given one, at which s is no wider than w.
func (p *page) shrink(style string, size float64, s string, w float64) float64 {
	if have := p.width(style, size, s); have > w {
		return size * w / have
	}
	return size
}

// fit cuts s where it is wider than w.
func (p *page) fit(style string, size float64, s string, w float64) string {
	if p.width(style, size, s) <= w {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && p.width(style, size, string(r)+"…") > w {
		r = r[:len(r)-1]
	}
	return strings.TrimSpace(string(r)) + "…"
}

// picture draws one of our drawings; a name without one leaves the place empty.
func (p *page) picture(name string, x, y, side float64) {
	if d, ok := p.drawings[name]; ok {
		d.draw(p.Fpdf, x, y, side)
	}
}

func dark(c color.Color) bool {
	r, _, _, _ := c.RGBA()
	return r < 0x8000
}
