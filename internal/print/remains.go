package print

import (
	"fmt"
	"strconv"

	"tussock/internal/fieldwork"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// remains prints the third page: for each stop a box for every choice of the key to remains, in the order in which the
// phone asks, and below the boxes what is written in words. The guess stands last, so that it does not colour the rest.
func (p *page) remains() {
	p.start(words.Mark("Remains: for each nest that lost eggs"))
	top := p.head()
	const name, labels, picture, step, gap, stop = 8.0, 19.5, 6.2, 6.2, .8, 8.0
	head := top + name + labels + picture + .8
	bottom := p.h - 25
	row := (bottom - head) / Rows

	x := left + stop
	starts := []float64{}
	for _, f := range survey.Features {
		starts = append(starts, x)
		p.over(x+.6, top+.6, float64(len(f.Choices))*step-.8, 5.8, fieldwork.Label(f.Name))
		for _, c := range f.Choices {
			p.picture(fieldwork.Drawing(f.Name, c), x, top+name+labels, picture)
			p.upright(x, top+name+labels-.4, step, labels-.6, 5.8, fieldwork.ChoiceLabel(f.Name, c))
			x += step
		}
		x += gap
	}
	right := p.w - left
	p.over(left+.4, head-6, stop-1, 6.2, words.Mark("Stop"))
	for i := range Rows {
		y := head + float64(i)*row
		p.Line(left, y, right, y)
		if p.first+i > p.last && p.sheet.Line.Stops > 0 {
			continue
		}
		number := fmt.Sprint(p.first + i)
		p.text(left+stop-1.5-p.width("B", 11, number), y+5, "B", 11, number)
		for j, f := range survey.Features {
			for k := range f.Choices {
				p.numbered(starts[j]+float64(k)*step+(step-tick)/2, y+.4, k+1)
			}
		}
		p.inWords(left+stop, y+row-1.1)
	}
	p.Line(left, bottom, right, bottom)
	p.SetLineWidth(.7)
	p.Line(left, head, right, head)
	for _, x := range starts[1:] {
		p.Line(x-gap/2, top, x-gap/2, head)
	}
	p.SetLineWidth(hair)
	p.note(left, bottom+3, 5.7, words.Mark("Photo first, with the ruler below beside the shells. Look 10 ft around before you touch. The small number in a box is what is keyed."))
	p.foot()
}

// numbered draws a box with its number, small enough to tick over: the number is what is keyed.
func (p *page) numbered(x, y float64, n int) {
	p.box(x, y)
	p.SetTextColor(90, 90, 90)
	p.text(x+.5, y+1.9, "", 4.6, strconv.Itoa(n))
	p.SetTextColor(0, 0, 0)
}

// inWords is the line below a stop's boxes.
func (p *page) inWords(x, y float64) {
	whole := p.w - left - x
	for _, f := range []struct {
		label string
		share float64
	}{
		{fieldwork.Label("trace"), .42}, {words.Mark("Photo number"), .2}, {words.Mark("Your guess, last of all"), .38},
	} {
		w := whole * f.share
		p.both(x, y, 5.4, f.label)
		label := p.width("B", 5.4, f.label) + p.width("", 5.4, p.spanish.Say(f.label)) + 2.4
		p.Line(x+label, y+.3, x+w-2, y+.3)
		x += w
	}
}
