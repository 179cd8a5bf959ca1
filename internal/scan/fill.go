package scan

import (
	"slices"
	"strconv"
	"strings"

	"tussock/internal/fieldwork"
)

// Fill puts what is read into the boxes of a keyed sheet that are still empty, and returns those that a person has to look at:
// what is not sure, what is written by hand and not keyed yet, and what the photo says otherwise than the box does. saved is the
// sheet as somebody saved it: what stands there was looked at.
func (r *Reading) Fill(boxes, saved fieldwork.Keyed) (doubts []string) {
	for i := range r.Fields {
		f := &r.Fields[i]
		have := boxes[f.Name]
		switch {
		case f.Boxes == nil:
			if f.Written && have == "" {
				doubts = append(doubts, f.Name)
			}
			continue
		case have == "" && f.Value != "":
			boxes[f.Name] = f.Value
		case have != f.Value:
			doubts = append(doubts, f.Name)
			continue
		}
		if !f.Sure && (f.Value == "" || saved[f.Name] != f.Value) {
			doubts = append(doubts, f.Name)
		}
	}
	return doubts
}

// Beyond returns the stops of the page after the given one at which anything is ticked or written.
func (r *Reading) Beyond(last int) []int {
	var stops []int
	for i := range r.Fields {
		f := &r.Fields[i]
		_, text, _ := strings.Cut(f.Name, ".")
		stop, err := strconv.Atoi(text)
		if err == nil && stop > last && !strings.HasPrefix(f.Name, "pace.") && !f.blank() && !slices.Contains(stops, stop) {
			stops = append(stops, stop)
		}
	}
	return stops
}
