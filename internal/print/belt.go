package print

import (
	"strconv"

	"tussock/internal/fieldwork"
	"tussock/internal/paper"
	"tussock/internal/words"
)

// belt prints the fourth page: the pace, the strip that is walked, and boxes in fives for the clumps on it.
func (p *page) belt() {
	p.start(words.Mark("Belt: clumps counted on a strip"))
	of := p.of(paper.Belt)
	p.head(of)
	fields := map[string]paper.Field{}
	for _, f := range of.Fields() {
		fields[f.Name] = f
	}
	p.pace(of.Pace(), fields)
	p.strip(of.Strip(), fields)
	p.clumps(of.Clumps())
	p.boxes(of)
	for i, kind := range paper.Kinds() {
		count, again := fields["count_"+kind], fields["again_"+kind]
		p.frame(count.Place)
		p.frame(again.Place)
		if i == 0 {
			p.over(count.Place.X-.9, count.Place.Y-7.7, paper.Totals, 6, words.Mark("Total"))
			p.over(again.Place.X-.9, again.Place.Y-7.7, paper.Totals+3, 5.6, words.Mark("Second count"))
		}
		label, drawing := fieldwork.ChoiceLabel("cover", kind), "cover-"+kind
		if kind == "maybe" {
			label, drawing = words.Mark("Doubtful: big enough?"), "clump-unsuitable"
		}
		last := count.Boxes[len(count.Boxes)-1]
		y := count.Boxes[0].Y
		side := min(last.Y+last.H+.8-y, 9.0)
		p.picture(drawing, left, y, side)
		p.over(left+side+1, y+.4, 26-side-1.5, 6.4, label)
	}
	p.carriedOut(of.CarriedOut())
	p.noteOver(left, p.h-25, 6.2, words.Mark("One box for each good clump that is more than half inside the strip. One strip in four is counted again by somebody else, who does not look at this page."))
	p.foot()
}

// carriedOut is where the end of the season is written down.
func (p *page) carriedOut(boxes []paper.Line) {
	p.over(left, boxes[0].Label.Y+.8, 26, 6.2, words.Mark("Carried out at the end"))
	labels := []string{words.Mark("Eggs"), words.Mark("Flags"), words.Mark("Markers"), words.Mark("Cameras"), words.Mark("On"), words.Mark("Who")}
	for i, b := range boxes {
		label := b.Label
		label.H = 4.6
		p.bothIn(label, 6.2, labels[i])
		p.frame(b.Place)
	}
}

// pace is where somebody's pace is worked out.
func (p *page) pace(at paper.Rect, fields map[string]paper.Field) {
	p.rect(at, "D")
	p.both(at.X+1.5, at.Y+4, 8, words.Mark("Pace"))
	p.over(at.X+1.5, at.Y+5.4, at.W-3, 6.2, words.Mark("Walk a measured 300 ft three times, in today’s boots. Count the paces."))
	for _, n := range []string{"1", "2", "3"} {
		box := fields["pace."+n].Place
		p.frame(box)
		p.text(box.X-.7, box.Y-1.4, "", 6, n)
	}
	p.both(at.X+2, at.Y+28.6, 6.2, words.Mark("Feet per pace = 900 ÷ all paces"))
	box := fields["pace_ft"].Place
	p.frame(box)
	x, y := box.X+box.W/2, box.Y+box.H+paper.Border
	p.Line(x, y, x, y+4.3)
	p.Line(x, y+4.3, x-3, y+4.3)
}

// strip is what a belt's area is worked out from, with what was planned for it.
func (p *page) strip(at paper.Rect, fields map[string]paper.Field) {
	p.rect(at, "D")
	p.both(at.X+1.5, at.Y+4, 8, words.Mark("Strip"))
	l := &p.sheet.Line
	for _, f := range []struct{ box, label, planned string }{
		{"belt_on", words.Mark("Counted on"), ""}, {"who4", words.Mark("Who"), ""},
		{"belt_wide_ft", words.Mark("Width, ft"), feet(l.BeltWidth)}, {"paces", words.Mark("Length, paces"), ""},
		{"belt_long_ft", words.Mark("Length, ft"), feet(l.BeltLength)}, {"second_who", words.Mark("Second person"), ""},
	} {
		at := fields[f.box].Place
		p.both(at.X, at.Y-.6, 6, f.label)
		p.text(at.X+at.W-p.width("", 6, f.planned), at.Y-.6, "", 6, f.planned)
		y := at.Y + at.H + .2
		p.Line(at.X, y, at.X+at.W, y)
	}
}

func feet(x float64) string {
	if x == 0 {
		return ""
	}
	return "(" + strconv.FormatFloat(x, 'f', -1, 64) + ")"
}

// clumps shows what counts and what does not.
func (p *page) clumps(at paper.Rect) {
	p.rect(at, "D")
	x, y, w := at.X, at.Y, at.W
	p.picture("clump-suitable", x+1.5, y+1, 13)
	p.picture("clump-pear_suitable", x+15.5, y+1, 13)
	p.over(x+30, y+1.5, w-31, 6.2, words.Mark("Good: as wide as a basketball, 8 in tall or more, old growth standing."))
	p.picture("clump-unsuitable", x+1.5, y+17, 13)
	p.picture("clump-grazed", x+15.5, y+17, 13)
	p.over(x+30, y+17.5, w-31, 6.2, words.Mark("Too small or too thin: does not hide a nest. Not counted."))
}
