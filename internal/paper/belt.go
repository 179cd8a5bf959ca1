package paper

import (
	"fmt"
	"slices"

	"tussock/internal/fieldwork"
)

// Kinds lists what is tallied on the page of the belt, in order: the covers, and the clumps of doubtful size.
func Kinds() []string { return append(slices.Clone(fieldwork.Covers), "maybe") }

// beltTop is where the three boxes on top of the page of the belt begin, and beltTall how tall they are.
const beltTop, beltTall = Top + 1, 32.0

// Pace returns the box in which the pace is worked out, Strip that of what the belt's area follows from, and Clumps that of
// what counts and what does not.
func (s Sheet) Pace() Rect  { return Rect{Left, beltTop, 84, beltTall} }
func (s Sheet) Strip() Rect { return Rect{Left + 87, beltTop, 84, beltTall} }
func (s Sheet) Clumps() Rect {
	w, _ := s.Size.MM()
	return Rect{Left + 174, beltTop, w - 2*Left - 174, beltTall}
}

// Totals is how wide the boxes of the sums are.
const Totals = 15.0

// beltFields returns what is filled in on the page of the belt.
func (s Sheet) beltFields() []Field {
	w, _ := s.Size.MM()
	pace, strip := s.Pace(), s.Strip()
	var list []Field
	for i := range 3 {
		list = append(list, Field{Name: fmt.Sprintf("pace.%d", i+1), Place: Rect{pace.X + 2 + float64(i)*16, pace.Y + 15.5, 14, 8}.Grow(-Border)})
	}
	list = append(list, Field{Name: "pace_ft", Place: Rect{pace.X + pace.W - 18, pace.Y + 15.5, 16, 8}.Grow(-Border)})
	for i, box := range []string{"belt_on", "who4", "belt_wide_ft", "paces", "belt_long_ft", "second_who"} {
		half := strip.W / 2
		list = append(list, Field{Name: box, Place: Rect{strip.X + 1.5 + float64(i%2)*half, strip.Y + 9.4 + float64(i/2)*9, half - 3, 3.1}})
	}
	y, right := beltTop+40.6, w-Left
	for i, kind := range Kinds() {
		rows := []int{4, 3, 2, 2, 1, 1}[i]
		tall := float64(rows) * tallyPitch
		f := Field{Name: "count_" + kind, Tally: true, Place: Rect{right - 2*Totals - 1, y, Totals, min(tall-.8, 9)}.Grow(-Border)}
		for r := range rows {
			f.Boxes = append(f.Boxes, fives(Left+27, y+float64(r)*tallyPitch, right-2*Totals-1)...)
		}
		again := f.Place
		again.X += Totals + 1
		list = append(list, f, Field{Name: "again_" + kind, Place: again})
		y += tall + 2
	}
	for _, l := range s.CarriedOut() {
		list = append(list, Field{Name: l.Box, Place: l.Place})
	}
	return list
}

// tallyPitch is how far apart the rows of a tally stand.
const tallyPitch = 6.8

// fives returns boxes in groups of five as far as they go.
func fives(x, y, right float64) []Rect {
	var list []Rect
	for ; x+5*Tick <= right; x += 5*Tick + 1.8 {
		for i := range 5 {
			list = append(list, Rect{x + float64(i)*Tick, y, Tick, Tick})
		}
	}
	return list
}

// CarriedOut returns the places in which the end of the season is written down, with their labels before them.
func (s Sheet) CarriedOut() []Line {
	y := beltTop + 40.6 + 13*tallyPitch + 6*2 + 3.4
	x := Left + 27
	var list []Line
	for _, f := range []struct {
		box         string
		label, wide float64
	}{{"eggs_out", 15, 14}, {"flags_out", 17, 14}, {"markers_out", 20, 14}, {"cameras_out", 23, 14}, {"out_on", 8, 30}, {"who6", 14, 16}} {
		list = append(list, Line{f.box, Rect{x, y, f.label, 7.5}, Rect{x + f.label, y, f.wide, 7.5}.Grow(-Border)})
		x += f.label + f.wide + 3
	}
	return list
}
