package print

import (
	"fmt"

	"tussock/internal/fieldwork"
	"tussock/internal/paper"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// remains prints the third page: for each stop a box for every choice of the key to remains, in the order in which the
// phone asks, and below the boxes what is written in words. The guess stands last, so that it does not color the rest.
func (p *page) remains() {
	p.start(words.Mark("Remains: for each nest that lost eggs"))
	of := p.of(paper.Remains)
	p.head(of)
	const name, picture = 8.0, 6.2
	head, row := of.Body()
	labels := head - .8 - picture - name - paper.Top
	for i, c := range of.Columns() {
		p.over(c.X+.6, paper.Top+.6, c.Wide-.8, 5.8, fieldwork.Label(c.Box))
		for j, choice := range survey.Features[i].Choices {
			x, y := c.X+float64(j)*c.Pitch, paper.Top+name+labels
			p.picture(fieldwork.Drawing(c.Box, choice), x, y, picture)
			p.upright(x, y-.4, c.Pitch, labels-.6, 5.8, fieldwork.ChoiceLabel(c.Box, choice))
		}
		if i > 0 {
			p.SetLineWidth(.7)
			p.Line(c.X-.4, paper.Top, c.X-.4, head)
			p.SetLineWidth(hair)
		}
	}
	right := p.w - left
	p.over(left+.4, head-6, paper.StopWide-2, 6.2, words.Mark("Stop"))
	p.boxes(of)
	for i := range paper.Rows {
		p.remainsRow(p.first+i, paper.Rect{X: left, Y: head + float64(i)*row, W: right - left, H: row})
	}
	bottom := head + paper.Rows*row
	p.Line(left, bottom, right, bottom)
	p.SetLineWidth(.7)
	p.Line(left, head, right, head)
	p.SetLineWidth(hair)
	p.note(left, bottom+3, 5.7, words.Mark("Photo first, with the ruler below beside the shells. Look 10 ft around before you touch. The small number in a box is what is keyed."))
	p.foot()
}

// remainsRow writes a stop's number, and the lines below its boxes.
func (p *page) remainsRow(stop int, row paper.Rect) {
	p.Line(row.X, row.Y, row.X+row.W, row.Y)
	if stop > p.last {
		return
	}
	number := fmt.Sprint(stop)
	p.text(left+paper.StopWide-2.5-p.width("B", 11, number), row.Y+5, "B", 11, number)
	labels := []string{fieldwork.Label("trace"), words.Mark("Photo number"), words.Mark("Your guess, last of all")}
	for i, l := range paper.InWords(row) {
		p.line(l, 5.4, labels[i])
	}
}
