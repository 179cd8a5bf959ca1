package print

import (
	"fmt"
	"slices"

	"tussock/internal/fieldwork"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// pitch is how far apart boxes to tick stand.
const pitch = 7.4

// A block is a group of columns that are filled in on one day.
type block struct {
	title   string
	check   string // the line's day, as season.Check names it
	columns []column
}

// A column is one answer: a box to tick for each choice, or a place to write.
type column struct {
	label   string
	drawing string
	wide    float64
	ticked  bool
}

func choices(name string, from []string) []column {
	list := make([]column, len(from))
	for i, c := range from {
		list[i] = column{fieldwork.ChoiceLabel(name, c), fieldwork.Drawing(name, c), pitch, true}
	}
	return list
}

// blocks are the three days of a nest, left to right.
func blocks(landmark float64) []block {
	found := choices("found", fieldwork.Founds)
	check := append(append([]column{}, found...), column{label: fieldwork.Label("eggs_left"), wide: 9}, column{label: words.Mark("Lost how: number"), wide: 9})
	return []block{
		{words.Mark("Set out"), "set", append(choices("cover", fieldwork.Covers),
			column{label: fieldwork.Label("eggs_set"), wide: 8}, column{label: fieldwork.Label("place"), wide: landmark})},
		{words.Mark("Week 2"), "first", append(slices.Clone(check), column{label: fieldwork.Label("eggs_fresh_put"), wide: 9})},
		{words.Mark("Week 4"), "last", check},
	}
}

const stopWide = 9.0

// nests prints the first page: a row for each stop, with the three days beside one another.
func (p *page) nests() {
	p.start(words.Mark("Nests: eggs set out and looked at"))
	top := p.head()
	const landmark = 34.0
	days := blocks(landmark)
	wide := p.w - 2*left
	for _, b := range days {
		wide -= b.wide()
	}
	const title, labels, picture = 8.5, 17.5, 7.4
	head := top + title + labels + picture + .6
	bottom := p.h - 28
	row := (bottom - head) / Rows

	x := left + stopWide
	for _, b := range days {
		p.blockHead(b, x, top, title)
		for _, c := range b.columns {
			p.columnHead(c, x, top+title, labels, picture)
			x += c.wide
		}
	}
	noteWide := wide - stopWide
	p.over(left+.8, head-6, stopWide-1, 6.2, words.Mark("Stop"))
	p.over(x+1, head-6, noteWide-2, 6.2, fieldwork.Label("note"))
	for i := range Rows {
		p.nestRow(days, p.first+i, head+float64(i)*row, row)
	}
	p.rules(days, top, head, row, bottom)
	p.lostHow(bottom + 3.4)
	p.foot()
}

func (b *block) wide() float64 {
	w := 0.0
	for _, c := range b.columns {
		w += c.wide
	}
	return w
}

// blockHead names the day, says when it is planned, and leaves a place for the day it was and the initials.
func (p *page) blockHead(b block, x, y, tall float64) {
	w := b.wide()
	p.both(x+1, y+3.3, 8, b.title)
	planned := ""
	for _, c := range p.sheet.Line.Checks() {
		if c.Name == b.check {
			planned = plannedOn(c)
		}
	}
	if planned != "" {
		p.text(x+w-1-p.width("", 6.2, planned), y+3.2, "", 6.2, planned)
	}
	p.both(x+1, y+tall-1, 6, words.Mark("On"))
	p.Line(x+9, y+tall-.8, x+w*.52, y+tall-.8)
	p.both(x+w*.55, y+tall-1, 6, words.Mark("Who"))
	p.Line(x+w*.55+13, y+tall-.8, x+w-1.5, y+tall-.8)
}

// plannedOn writes a day and how far it may be missed, the same in every tongue: 2026-05-18 ± 2.
func plannedOn(c season.Check) string {
	if slack := c.To - c.On; slack > 0 {
		return fmt.Sprintf("%s ± %d", c.On, slack)
	}
	return c.On.String()
}

// columnHead writes a column's words upwards, and its picture below them.
func (p *page) columnHead(c column, x, y, labels, picture float64) {
	if c.drawing != "" {
		p.picture(c.drawing, x+(c.wide-picture)/2, y+labels+.2, picture)
	}
	switch {
	case c.ticked:
		p.upright(x, y+labels-.5, c.wide, labels-1, 6, c.label)
	case c.wide > 20:
		p.over(x+1, y+labels+picture-5.4, c.wide-2, 6.2, c.label)
	default:
		p.upright(x, y+labels+picture-1, c.wide, labels+picture-2, 6, c.label)
	}
}

func (p *page) nestRow(days []block, stop int, y, tall float64) {
	if stop > p.last && p.sheet.Line.Stops > 0 {
		return
	}
	number := fmt.Sprint(stop)
	p.text(left+stopWide-2-p.width("B", 12, number), y+tall/2+2, "B", 12, number)
	wanted := p.sheet.Line.Cover(stop)
	x := left + stopWide
	for _, b := range days {
		for i, c := range b.columns {
			if c.ticked {
				p.numbered(x+(c.wide-tick)/2, y+(tall-tick)/2, i+1)
			}
			if b.check == "set" && i < len(fieldwork.Covers) && isCover(wanted, fieldwork.Covers[i]) {
				p.SetLineWidth(.9)
				p.Line(x+1, y+tall-.9, x+c.wide-1, y+tall-.9)
				p.SetLineWidth(hair)
			}
			x += c.wide
		}
	}
}

// isCover tells whether the substrate that is wanted is the one a box stands for.
func isCover(wanted survey.Substrate, answer string) bool {
	return wanted != "" && string(wanted) == map[string]string{"prickly_pear": string(survey.PricklyPear)}[answer] || string(wanted) == answer
}

// rules draws the lines of the table: thin between rows and columns, heavy between days.
func (p *page) rules(days []block, top, head, row, bottom float64) {
	right := p.w - left
	for i := range Rows + 1 {
		p.Line(left, head+float64(i)*row, right, head+float64(i)*row)
	}
	p.Line(left, top, right, top)
	x := left + stopWide
	for _, b := range days {
		p.SetLineWidth(.7)
		p.Line(x, top, x, bottom)
		p.SetLineWidth(hair)
		for i, c := range b.columns {
			x += c.wide
			if i < len(b.columns)-1 && (!c.ticked || !b.columns[i+1].ticked) {
				p.Line(x, head, x, bottom)
			}
		}
	}
	p.SetLineWidth(.7)
	p.Line(x, top, x, bottom)
	p.Line(left, head, right, head)
	p.SetLineWidth(hair)
	p.Line(left, top, left, bottom)
	p.Line(right, top, right, bottom)
}

// lostHow is the key to the numbers of how a nest was lost, the same in both tongues.
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
