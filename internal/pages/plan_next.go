package pages

import (
	"cmp"
	"math"
	"slices"

	"tussock/internal/season"
	"tussock/internal/stat/plan"
	"tussock/internal/words"
)

// nextPart says where the next 24 nests would tell most.
type nextPart struct {
	Now   string
	Rows  []nextRow
	Whole []nextRow // of the cooperative's figure
	Of    string
}

// nextRow is one way to set them, and how wide the range would be.
type nextRow struct {
	Where string
	Width string
	Best  bool
}

const moreNests = 24

// pastureSpread is the part of the spread between ranches that pastures of one ranch are taken to have among themselves (ours).
const pastureSpread = 0.5

// nextNests returns nil where no line is planned, or nothing is published of the others.
func nextNests(say words.Speaker, d *planData, year int) *nextPart {
	m, ok := modelOf(d, year)
	pastures, names := pasturesOf(d)
	if !ok || len(pastures) == 0 {
		return nil
	}
	now := m.Width(pastures)
	p := &nextPart{Now: say.Say("As planned, the range of the best figure will be about %.0f points wide.", 100*now)}
	type way struct {
		where string
		width float64
	}
	var ways []way
	for i := range pastures {
		for _, each := range []int{6, 12} {
			more := slices.Clone(pastures)
			more[i].Lines = slices.Clone(more[i].Lines)
			for range moreNests / each {
				more[i].Lines = append(more[i].Lines, each)
			}
			ways = append(ways, way{say.Say("%d new lines of %d nests in %s", moreNests/each, each, names[i]), m.Width(more)})
		}
		if n := len(pastures[i].Lines); n > 0 {
			more := slices.Clone(pastures)
			more[i].Lines = slices.Clone(more[i].Lines)
			for k := range moreNests {
				more[i].Lines[k%n]++
			}
			ways = append(ways, way{say.Say("more nests on the lines in %s", names[i]), m.Width(more)})
		}
	}
	slices.SortStableFunc(ways, func(a, b way) int { return cmp.Compare(a.width, b.width) })
	for i, w := range ways {
		if i < 4 || i == len(ways)-1 {
			p.Rows = append(p.Rows, nextRow{capital(w.where), say.Say("about %.1f points", 100*w.width), i == 0})
		}
	}
	p.Whole = wholeNext(say, d, m, year)
	p.Of = say.Say("Worked out with the model behind the figures: pastures differ by half as much as landowners do (ours), lines as the published design effect says, and what your nests do not tell comes from what the cooperative publishes. It is what such seasons give on the average.")
	return p
}

// modelOf is what is known of how nests lie apart, from what is published.
func modelOf(d *planData, year int) (plan.Model, bool) {
	mean, se, spread, ok := d.told.About(year)
	effect := d.told.DesignEffect(year)
	if !ok || effect == 0 {
		return plan.Model{}, false
	}
	perLine := 12.0
	if c := d.told.Basis(year); c.Nests != nil && c.Transects != nil && *c.Transects > 0 {
		perLine = float64(*c.Nests) / float64(*c.Transects)
	}
	return plan.Model{P: mean, Others: se, Ranch: spread, Pasture: pastureSpread * spread, Line: plan.LineSpread(mean, effect, perLine)}, true
}

// pasturesOf are the plan's open lines by pasture; a ranch without a map is one pasture.
func pasturesOf(d *planData) (list []plan.Pasture, names []string) {
	for _, x := range d.ground.Pastures {
		list = append(list, plan.Pasture{Share: season.Acres(x.Shape)})
		names = append(names, x.Name)
	}
	for i := range d.lines {
		l := &d.lines[i]
		if l.Closed || l.Stops < 1 {
			continue
		}
		k := slices.Index(names, l.Pasture)
		if k < 0 {
			if len(d.ground.Pastures) > 0 {
				continue // not drawn yet
			}
			k = len(names)
			list, names = append(list, plan.Pasture{Share: 1}), append(names, l.Pasture)
		}
		list[k].Lines = append(list[k].Lines, l.Stops)
	}
	var all float64
	for _, x := range list {
		all += x.Share
	}
	for i := range list {
		list[i].Share /= all
	}
	if len(names) == 1 && names[0] == "" {
		names[0] = d.ranch.Name
	}
	return list, names
}

// wholeNext says the same of the cooperative's figure, where numbers of nests and lines are published: with landowners alike, as many as the
// published band has at least.
func wholeNext(say words.Speaker, d *planData, m plan.Model, year int) []nextRow {
	c := d.told.Basis(year)
	owners := map[string]int{"10-19": 10, "20-49": 20, "50+": 50}[c.Entities]
	if owners == 0 || c.Nests == nil || c.Transects == nil || *c.Nests == 0 || *c.Transects == 0 {
		return nil
	}
	each := max(1, int(math.Round(float64(*c.Nests)/float64(*c.Transects))))
	lines := max(1, int(math.Round(float64(*c.Transects)/float64(owners))))
	set := func(lines, each int) (l []int) {
		for range lines {
			l = append(l, each)
		}
		return l
	}
	all := func(n int) (list [][]int) {
		for range n {
			list = append(list, set(lines, each))
		}
		return list
	}
	one, more := all(owners), all(owners)
	one[0] = append(slices.Clone(one[0]), set(4, 6)...)
	for k := range moreNests / 2 { // a line of two nests with each of twelve
		more[k%owners] = append(slices.Clone(more[k%owners]), 2)
	}
	width := func(list [][]int) string { return say.Say("about %.1f points", 100*m.Whole(list)) }
	return []nextRow{
		{say.Say("As it was"), width(all(owners)), false},
		{say.Say("With a new landowner, 4 lines of 6 nests"), width(append(all(owners), set(4, 6))), true},
		{say.Say("With twelve landowners, a line of two nests more each"), width(more), false},
		{say.Say("With one landowner, 4 lines of 6 nests more"), width(one), false},
	}
}
