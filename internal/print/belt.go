package print

import (
	"strconv"

	"tussock/internal/fieldwork"
	"tussock/internal/words"
)

// belt prints the fourth page: the pace, the strip that is walked, and boxes in fives for the clumps on it.
func (p *page) belt() {
	p.start(words.Mark("Belt: clumps counted on a strip"))
	top := p.head() + 1
	p.pace(left, top, 84)
	p.strip(left+87, top, 84)
	p.clumps(left+174, top)

	y := top + 39
	const total = 15.0 // how wide the boxes of the sums are
	first := left + 27.0
	right := p.w - left
	p.over(right-2*total-1, y-5.2, total, 6, words.Mark("Total"))
	p.over(right-total, y-5.2, total+3, 5.6, words.Mark("Second count"))
	y += 1.6
	for _, t := range []struct {
		column, label, drawing string
		rows                   int
	}{
		{"bunchgrass", "", "", 4}, {"prickly_pear", "", "", 3}, {"yucca", "", "", 2}, {"shrub", "", "", 2}, {"forb", "", "", 1},
		{"", words.Mark("Doubtful: big enough?"), "clump-unsuitable", 1},
	} {
		label, drawing := t.label, t.drawing
		if t.column != "" {
			label, drawing = fieldwork.ChoiceLabel("cover", t.column), "cover-"+t.column
		}
		tall := float64(t.rows) * 6.8
		side := min(tall, 9.0)
		p.picture(drawing, left, y, side)
		p.over(left+side+1, y+.4, 26-side-1.5, 6.4, label)
		for r := range t.rows {
			p.fives(first, y+float64(r)*6.8, right-2*total-1)
		}
		p.Rect(right-2*total-1, y, total, min(tall-.8, 9), "D")
		p.Rect(right-total, y, total, min(tall-.8, 9), "D")
		y += tall + 2
	}
	p.carriedOut(y + 4.6)
	p.noteOver(left, p.h-25, 6.2, words.Mark("One box for each good clump that is more than half inside the strip. One strip in four is counted again by somebody else, who does not look at this page."))
	p.foot()
}

// carriedOut is where the end of the season is written down.
func (p *page) carriedOut(y float64) {
	p.over(left, y+.8, 26, 6.2, words.Mark("Carried out at the end"))
	x := left + 27
	for _, label := range []string{words.Mark("Eggs"), words.Mark("Flags"), words.Mark("Markers"), words.Mark("Cameras"), words.Mark("On"), words.Mark("Who")} {
		p.both(x, y+3, 6.2, label)
		label = label + " " + p.spanish.Say(label)
		wide := p.width("B", 6.2, label) + 2
		p.Rect(x+wide, y-.6, 12, 6.6, "D")
		x += wide + 15
	}
}

// fives draws boxes in groups of five as far as they go.
func (p *page) fives(x, y, right float64) {
	for ; x+5*tick <= right; x += 5*tick + 1.8 {
		for i := range 5 {
			p.box(x+float64(i)*tick, y)
		}
	}
}

// pace is where somebody's pace is worked out.
func (p *page) pace(x, y, w float64) {
	p.Rect(x, y, w, 32, "D")
	p.both(x+1.5, y+4, 8, words.Mark("Pace"))
	p.over(x+1.5, y+5.4, w-3, 6.2, words.Mark("Walk a measured 300 ft three times, in today’s boots. Count the paces."))
	for i := range 3 {
		p.Rect(x+2+float64(i)*16, y+15.5, 14, 8, "D")
		p.text(x+2.6+float64(i)*16, y+18, "", 6, strconv.Itoa(i+1))
	}
	p.both(x+2, y+28.6, 6.2, words.Mark("Feet per pace = 900 ÷ all paces"))
	p.Rect(x+w-18, y+15.5, 16, 8, "D")
	p.Line(x+w-10, y+23.5, x+w-10, y+27.8)
	p.Line(x+w-10, y+27.8, x+w-13, y+27.8)
}

// strip is what a belt's area is worked out from, with what was planned for it.
func (p *page) strip(x, y, w float64) {
	p.Rect(x, y, w, 32, "D")
	p.both(x+1.5, y+4, 8, words.Mark("Strip"))
	l := &p.sheet.Line
	for i, f := range []struct{ label, planned string }{
		{words.Mark("Counted on"), ""}, {words.Mark("Who"), ""},
		{words.Mark("Width, ft"), feet(l.BeltWidth)}, {words.Mark("Length, paces"), ""},
		{words.Mark("Length, ft"), feet(l.BeltLength)}, {words.Mark("Second person"), ""},
	} {
		fx, fy := x+1.5+float64(i%2)*w/2, y+12+float64(i/2)*9
		p.both(fx, fy-3.2, 6, f.label)
		if f.planned != "" {
			p.text(fx+w/2-4-p.width("", 6, f.planned), fy-.4, "", 6, f.planned)
		}
		p.Line(fx, fy+.6, fx+w/2-3, fy+.6)
	}
}

func feet(x float64) string {
	if x == 0 {
		return ""
	}
	return "(" + strconv.FormatFloat(x, 'f', -1, 64) + ")"
}

// clumps shows what counts and what does not.
func (p *page) clumps(x, y float64) {
	w := p.w - left - x
	p.Rect(x, y, w, 32, "D")
	p.picture("clump-suitable", x+1.5, y+1, 13)
	p.picture("clump-pear_suitable", x+15.5, y+1, 13)
	p.over(x+30, y+1.5, w-31, 6.2, words.Mark("Good: as wide as a basketball, 8 in tall or more, old growth standing."))
	p.picture("clump-unsuitable", x+1.5, y+17, 13)
	p.picture("clump-grazed", x+15.5, y+17, 13)
	p.over(x+30, y+17.5, w-31, 6.2, words.Mark("Too small or too thin: does not hide a nest. Not counted."))
}
