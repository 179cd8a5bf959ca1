package print

import (
	"fmt"

	"tussock/internal/fieldwork"
	"tussock/internal/paper"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// nests prints the first page: a row for each stop, with the three days beside one another.
func (p *page) nests() {
	p.start(words.Mark("Nests: eggs set out and looked at"))
	of := p.of(paper.Nests)
	p.head(of)
	head, row := of.Body()
	const picture = 7.4
	for i, name := range []string{"set", "first", "last"} {
		p.dayHead(of, i, name)
	}
	labels := paper.Rect{Y: paper.Top + paper.DayTall, H: head - .6 - picture - paper.Top - paper.DayTall}
	for _, c := range of.Columns() {
		labels.X, labels.W = c.X, c.Wide
		p.columnHead(c, labels, picture)
	}
	p.over(left+.8, head-6, paper.StopWide-1, 6.2, words.Mark("Stop"))
	p.boxes(of)
	for i := range paper.Rows {
		p.nestRow(of, p.first+i, head+float64(i)*row, row)
	}
	p.rules(of)
	p.lostHow(head + paper.Rows*row + 3.4)
	p.foot()
}

// dayHead names a day, says when it is planned, and leaves a place for the day it was and the initials.
func (p *page) dayHead(of paper.Sheet, day int, name string) {
	d := of.Days()[day]
	p.both(d.X+1, d.Y+3.3, 8, []string{words.Mark("Set out"), words.Mark("Week 2"), words.Mark("Week 4")}[day])
	for _, c := range p.sheet.Line.Checks() {
		if c.Name == name {
			planned := plannedOn(c)
			p.text(d.X+d.W-1-p.width("", 6.2, planned), d.Y+3.2, "", 6.2, planned)
		}
	}
	for _, f := range of.Fields() {
		label, wide := "", 0.0
		switch f.Name {
		case fmt.Sprintf("on%d", day+1):
			label, wide = words.Mark("On"), 8
		case fmt.Sprintf("who%d", day+1):
			label, wide = words.Mark("Who"), 13
		default:
			continue
		}
		p.line(paper.Line{Label: paper.Rect{X: f.Place.X - wide, Y: f.Place.Y, W: wide, H: f.Place.H}, Place: f.Place}, 6, label)
	}
}

// plannedOn writes a day and how far it may be missed, the same in every language: 2026-05-18 ± 2.
func plannedOn(c season.Check) string {
	if slack := c.To - c.On; slack > 0 {
		return fmt.Sprintf("%s ± %d", c.On, slack)
	}
	return c.On.String()
}

// choicesOf returns the answers of a column with boxes, and what they are called in fieldwork.
func choicesOf(box string) (column string, choices []string) {
	switch box {
	case "cover":
		return box, fieldwork.Covers
	case "found2", "found3":
		return "found", fieldwork.Founds
	}
	return "", nil
}

// columnHead writes a column's words upwards within labels, and its pictures below them.
func (p *page) columnHead(c paper.Column, labels paper.Rect, picture float64) {
	bottom := labels.Y + labels.H
	column, choices := choicesOf(c.Box)
	for i, choice := range choices {
		x := c.X + float64(i)*c.Pitch
		p.picture(fieldwork.Drawing(column, choice), x+(c.Pitch-picture)/2, bottom+.2, picture)
		p.upright(x, bottom-.5, c.Pitch, labels.H-1, 6, fieldwork.ChoiceLabel(column, choice))
	}
	switch {
	case choices != nil:
	case c.Wide > 20:
		p.over(c.X+1, bottom+picture-5.4, c.Wide-2, 6.2, writtenLabel(c.Box))
	default:
		p.upright(c.X, bottom+picture-1, c.Wide, labels.H+picture-2, 6, writtenLabel(c.Box))
	}
}

// writtenLabel returns what a column to write in is called.
func writtenLabel(box string) string {
	switch box {
	case "eggs":
		return fieldwork.Label("eggs_set")
	case "left2", "left3":
		return fieldwork.Label("eggs_left")
	case "how2", "how3":
		return words.Mark("Lost how: number")
	case "fresh2":
		return fieldwork.Label("eggs_fresh_put")
	}
	return fieldwork.Label(box)
}

// nestRow writes a stop's number, and a bar below the box of the cover that is planned for it.
func (p *page) nestRow(of paper.Sheet, stop int, y, tall float64) {
	if stop > p.last {
		return
	}
	number := fmt.Sprint(stop)
	p.text(left+paper.StopWide-2-p.width("B", 12, number), y+tall/2+2, "B", 12, number)
	c := of.Columns()[0]
	for i, cover := range fieldwork.Covers {
		if isCover(p.sheet.Line.Cover(stop), cover) {
			x := c.X + float64(i)*c.Pitch
			p.SetLineWidth(.9)
			p.Line(x+1, y+tall-.9, x+c.Pitch-1, y+tall-.9)
			p.SetLineWidth(hair)
		}
	}
}

// isCover tells whether the substrate that is wanted is the one a box stands for.
func isCover(wanted survey.Substrate, answer string) bool {
	return wanted != "" && string(wanted) == map[string]string{"prickly_pear": string(survey.PricklyPear)}[answer] || string(wanted) == answer
}

// rules draws the lines of the table: thin between rows and columns, heavy between days.
func (p *page) rules(of paper.Sheet) {
	head, row := of.Body()
	const top = paper.Top
	bottom, right := head+paper.Rows*row, p.w-left
	for i := range paper.Rows + 1 {
		p.Line(left, head+float64(i)*row, right, head+float64(i)*row)
	}
	p.Line(left, top, right, top)
	for _, c := range of.Columns() {
		switch c.Box {
		case "cover", "found2", "found3", "note":
			p.SetLineWidth(.7)
			p.Line(c.X, top, c.X, bottom)
			p.SetLineWidth(hair)
		default:
			p.Line(c.X, head, c.X, bottom)
		}
	}
	p.SetLineWidth(.7)
	p.Line(left, head, right, head)
	p.SetLineWidth(hair)
	p.Line(left, top, left, bottom)
	p.Line(right, top, right, bottom)
}

// lostHow is the key to the numbers of how a nest was lost, the same in both languages.
func (p *page) lostHow(y float64) {
	p.both(left, y, 6.4, fieldwork.Label("lost_how"))
	x := left + 34
	step := (p.w - left - x) / float64(len(fieldwork.LostHow))
	for i, how := range fieldwork.LostHow {
		label := fieldwork.ChoiceLabel("lost_how", how)
		p.text(x+float64(i)*step, y, "B", 8, fmt.Sprint(i+1))
		p.both(x+float64(i)*step+2.6, y, p.shrink("B", 6.2, label+" "+p.spanish.Say(label), step-4), label)
	}
	p.note(left, y+3.2, 6, words.Mark("Leave a day blank where nobody looked. A bar under a box: the cover planned for that stop. Remains: next leaf."))
}
