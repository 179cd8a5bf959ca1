package scan

import (
	"slices"
	"strconv"
	"strings"

	"tussock/internal/paper"
)

// A Mark is what a box to tick shows.
type Mark string

// The marks.
const (
	Empty     Mark = "empty"
	Ticked    Mark = "ticked"
	Withdrawn Mark = "withdrawn" // scribbled full: a tick taken back
	Unsure    Mark = "unsure"    // too little or too much for a tick, or a stroke that goes through
)

// A Field is one answer of a page as it was read.
type Field struct {
	paper.Field
	Marks   []Mark // of its boxes
	Value   string // as it is keyed; "" where nothing is ticked, or where it is written by hand
	Written bool   // whether something is written by hand in its place
	Sure    bool   // whether the value needs no second look
}

// blank tells whether surely nothing is ticked or written.
func (f *Field) blank() bool { return f.Value == "" && !f.Written && f.Sure }

// number returns where the printed number of a box stands; a tally's boxes have none.
func (f *Field) number(box int) paper.Rect {
	if f.Tally {
		return paper.Rect{}
	}
	return paper.Number(f.Boxes[box])
}

// habit is how the person who filled in some boxes ticks.
type habit struct {
	fills          bool // fills the box
	extent, length float64
	cover          float64 // share of the box that is covered
	strong         float64
}

// Limits of ticks, in millimeters and shares of the box.
const (
	speck     = .8  // extent of what is nothing
	dot       = 2   // extent of what may be more than a dot
	smallTick = 3.3 // extent of the smallest tick of somebody whose habit is not known
	faint     = 42  // how much darker the faintest tick is than the paper
	solid     = .6  // share of a box that is covered where it is more than strokes
	scribbled = .83 // share of a box that is covered where it is scribbled full
)

// fewest is how many marks tell a habit.
const fewest = 5

// habitOf looks at all marks of some boxes, and returns false where they are too few. Somebody who fills boxes is known by
// nearly all of them being full: whoever takes that many ticks back has some that stand.
func habitOf(traces []trace) (habit, bool) {
	var extents, lengths, covers, strongs []float64
	full := 0
	for _, t := range traces {
		if t.extent < 1.7 {
			continue
		}
		extents, lengths, covers, strongs = append(extents, t.extent), append(lengths, t.length), append(covers, t.fill), append(strongs, t.strong)
		if t.fill > .7 {
			full++
		}
	}
	if len(covers) < fewest {
		return habit{extent: smallTick / .6, length: 6.5, cover: .3, strong: 2 * faint}, false
	}
	return habit{full*100 >= len(covers)*85, median(extents), median(lengths), median(covers), median(strongs)}, true
}

// kind returns what fields have in common that were ticked by one hand: a day's column, a nest's remains, a tally.
func (f *Field) kind() string {
	column, stop, ok := strings.Cut(f.Name, ".")
	if !ok || strings.HasPrefix(column, "found") || column == "cover" {
		return column
	}
	return stop
}

// habitsOf returns the habits by kind; where a kind has too few marks, that of the whole page.
func habitsOf(fields []Field, traces [][]trace) map[string]habit {
	kinds, all := map[string][]trace{}, []trace{}
	for i := range fields {
		kind := fields[i].kind()
		kinds[kind] = append(kinds[kind], traces[i]...)
		all = append(all, traces[i]...)
	}
	usual, _ := habitOf(all)
	habits := map[string]habit{}
	for kind, of := range kinds {
		h, ok := habitOf(of)
		if !ok {
			h = usual
		}
		habits[kind] = h
	}
	return habits
}

// mark names the trace in one box.
func (h *habit) mark(t trace, through bool) Mark {
	switch {
	case t.extent < speck:
		return Empty
	case through || t.extent < min(smallTick, max(1.7, .6*h.extent)):
		return Unsure
	case t.strong < faint, t.line != nil && t.strong < max(1.4*faint, .6*h.strong): // dirt, or a crease
		return Unsure
	case t.fill < solid && (t.thin < .4 || t.thin < .75 && t.strong < .75*h.strong): // the edge of a stain or a shadow
		return Unsure
	case t.fill >= solid && t.strong < max(1.5*faint, .6*h.strong): // a stain or a shadow
		return Unsure
	case h.fills && t.fill > solid:
		return Ticked
	case h.fills:
		return Unsure
	case t.fill >= max(scribbled, 1.35*h.cover):
		return Withdrawn
	case t.fill > max(.35, 1.6*h.cover), t.length > max(6, 1.4*h.length):
		return Unsure
	}
	return Ticked
}

// decide gives a field its value from the marks of its boxes.
func (f *Field) decide(traces []trace) {
	count := map[Mark]int{}
	for _, m := range f.Marks {
		count[m]++
	}
	if f.Tally {
		if count[Ticked] > 0 {
			f.Value = strconv.Itoa(count[Ticked])
		}
		f.Sure = count[Unsure] == 0 && !f.Written
		return
	}
	ticked := slices.Index(f.Marks, Ticked)
	if count[Ticked] == 1 {
		f.Value = strconv.Itoa(ticked + 1)
		// A dot where the pen rested, or the end of the tick itself, does not make a clear tick unclear.
		for i, m := range f.Marks {
			if m == Unsure && traces[i].extent < .4*traces[ticked].extent && traces[i].area < .3*traces[ticked].area {
				f.Marks[i] = Empty
				count[Unsure]--
			}
		}
		f.Sure = count[Unsure] == 0
		return
	}
	f.Sure = count[Empty] == len(f.Marks)
	if at := slices.Index(f.Marks, Unsure); count[Ticked] == 0 && count[Unsure] == 1 {
		f.Value = strconv.Itoa(at + 1) // the likeliest reading, to be looked at
	}
}

// doubtGaps makes unsure what is blank where the row says that it should not be: a nest that was checked but sits in no
// cover, eggs counted where nothing was found, a nest that was whole at week 2 and that nobody looked for at week 4 while they did
// for others.
func doubtGaps(fields []Field) {
	at := map[string]*Field{}
	walked := map[string]bool{} // the columns in which anything is ticked
	for i := range fields {
		f := &fields[i]
		at[f.Name] = f
		if column, _, ok := strings.Cut(f.Name, "."); ok && f.Value != "" {
			walked[column] = true
		}
	}
	any := func(stop string, boxes ...string) bool {
		return slices.ContainsFunc(boxes, func(box string) bool {
			f := at[box+"."+stop]
			return f != nil && (f.Value != "" || f.Written || !f.Sure)
		})
	}
	doubt := func(f *Field, missing bool) {
		if f != nil && f.Value == "" && missing {
			f.Sure = false
		}
	}
	for i := range fields {
		column, stop, _ := strings.Cut(fields[i].Name, ".")
		if column != "cover" {
			continue
		}
		second, third := at["found2."+stop], at["found3."+stop]
		doubt(second, any(stop, "left2", "how2", "fresh2") || walked["found2"] && any(stop, "found3"))
		whole := second != nil && second.Value == "1" // what lost an egg is at its end
		doubt(third, any(stop, "left3", "how3") || walked["found3"] && whole)
		doubt(&fields[i], any(stop, "eggs", "place", "found2", "found3"))
	}
}
