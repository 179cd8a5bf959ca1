package print

import "tussock/internal/words"

// A Hazard is one entry of the card that is read before the first line.
type Hazard struct {
	Name, Text string // English; the key of the Spanish
}

// Hazards is the card: what the work can do to somebody, and what the law has a say in. It reminds; it does not stand in
// for local law, for an employer's rules or for a doctor, and it says nothing of how animals are controlled.
func Hazards() []Hazard {
	return []Hazard{
		{words.Mark("Old eggs"), words.Mark("They burst. Nitrile gloves, eye cover, two bags, no shaking. Never food, nor feed for dogs or hogs. Wash with soap before you eat; keep the bag out of the food cooler. Bury or dump them as the local rule says.")},
		{words.Mark("Snakes and spines"), words.Mark("Look first, then reach, with tongs or a stick. Gaiters on. Leather over nitrile in pear; eyes covered. Nobody checks alone at night.")},
		{words.Mark("Rodent nests under pear"), words.Mark("Hantavirus, ticks and biting bugs. Leave dry nests and droppings alone; do not stir or sweep them. Ask the health office how to clean what must be cleaned.")},
		{words.Mark("Sick, dead or strange animals, bats"), words.Mark("Do not touch. Photograph, step back, call the state’s health or wildlife office. Bitten or scratched: wash at once and see a doctor the same day.")},
		{words.Mark("Heat"), words.Mark("Start at dawn. Water, rest, shade. Go in twos and agree when you are back. Stop when somebody is dizzy, sick or confused: cool them and call 911.")},
		{words.Mark("Storm, water, bulls, bees, ants, vehicles"), words.Mark("Off the ridge at thunder. Do not cross running water. Ask where the bulls are. Carry your allergy medicine. Belt and helmet on whatever you ride.")},
		{words.Mark("Hunters"), words.Mark("Seasons overlap. Wear blaze orange, tell lessees and neighbors the days, and stay out at shooting light.")},
		{words.Mark("Permission and gates"), words.Mark("In writing, for the pasture and the days. Leave gates as you found them. What you see on a ranch stays there.")},
		{words.Mark("Permits and real nests"), words.Mark("Ask the state whether eggs, cameras or taking scat and hair want a permit. Crews of a university or an agency ask their animal care committee. A real nest: leave at once, and write no place down.")},
		{words.Mark("Eggs from the shop"), words.Mark("Never from the yard. Some states limit eggs laid out, and bird flu zones may forbid them: ask before you set out.")},
		{words.Mark("Predators"), words.Mark("Trapping, shooting, lights, poison and moving animals are for those licensed to, under state and federal law. They are no part of this work. Ask your state agency.")},
		{words.Mark("Young and hourly workers, pictures"), words.Mark("Age limits and paid hours hold in the field too. Ask people before they are in a picture.")},
	}
}

// HazardsDefer is what stands below the card.
func HazardsDefer() string {
	return words.Mark("This card is a reminder. Local law, your employer’s rules and a doctor’s advice come first. In an emergency call 911.")
}

// hazards prints the back of the first leaf.
func (p *page) hazards() {
	p.start(words.Mark("Before you walk out"))
	list := Hazards()
	const columns = 3
	rows := (len(list) + columns - 1) / columns
	const gap, foot = 3.0, 26.0
	w := (p.w - 2*left - gap*(columns-1)) / columns
	tall := (p.h - 15 - foot - 6) / float64(rows)
	for i, h := range list {
		x, y := left+float64(i%columns)*(w+gap), 15+float64(i/columns)*tall
		p.Rect(x, y, w, tall-gap, "D")
		p.text(x+2, y+4.6, "B", p.shrink("B", 9, h.Name, w-4), h.Name)
		end := p.paragraph(x+2, y+6, w-4, 8.2, "", h.Text)
		spanish := p.spanish.Say(h.Name)
		p.text(x+2, end+3.6, "BI", p.shrink("BI", 8.4, spanish, w-4), spanish)
		p.paragraph(x+2, end+4.8, w-4, 8, "I", p.spanish.Say(h.Text))
	}
	y := p.h - foot - 2
	for i, label := range []string{words.Mark("Who knows we are out, and since when"), words.Mark("Back by"), words.Mark("Where help can find us, in words and numbers")} {
		x := left + []float64{0, .36, .5}[i]*(p.w-2*left)
		wide := []float64{.36, .14, .5}[i]*(p.w-2*left) - 3
		p.both(x, y, 6.2, label)
		p.Line(x, y+8, x+wide, y+8)
	}
	p.text(left+6, y+14, "B", 8, HazardsDefer())
	p.text(left+6, y+18, "I", 8, p.spanish.Say(HazardsDefer()))
}

// paragraph writes s in as many lines as it wants and returns where it ends.
func (p *page) paragraph(x, y, w, size float64, style, s string) float64 {
	p.SetFont("Helvetica", style, size)
	lead := size * .42
	for _, line := range p.SplitLines([]byte(p.translate(s)), w) {
		p.Text(x, y+lead*.8, string(line))
		y += lead
	}
	return y
}
