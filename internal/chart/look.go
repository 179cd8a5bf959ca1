package chart

import (
	"fmt"
	"slices"
	"strings"

	"tussock/internal/stat/predator"
)

// A Look is how one part of what took the nests is drawn: on every page, picture, print and poster the same.
type Look struct {
	Part  string // an animal of predator.Predators, predator.Rest, predator.NoSign or predator.FitsSeveral
	Color string // of the ground, "#d55e00"
	Hatch Hatch  // in ink on it: it tells the parts apart in gray too
}

// A Hatch is a pattern.
type Hatch int

// The hatches.
const (
	Solid   Hatch = iota
	Dots          // .
	Across        // -
	Upright       // |
	Rising        // /
	Falling       // \
	Grid          // +
	Lattice       // x
)

// looks is the one table, in the order in which the parts are told.
var looks = []Look{
	{predator.NoSign, "#ffffff", Solid},
	{predator.FitsSeveral, "#ffffff", Rising},
	{"raccoon", "#f6d3b8", Dots},
	{"skunk", "#d55e00", Solid},
	{"opossum", "#f6d3b8", Upright},
	{"coyote", "#0072b2", Solid},
	{"fox", "#f6d3b8", Lattice},
	{"bobcat", "#e4dcc9", Falling},
	{"badger", "#bfdcec", Across},
	{"armadillo", "#bfdcec", Grid},
	{"feral hog", "#e4dcc9", Dots},
	{"bird", "#bfdcec", Falling},
	{"snake", "#e4dcc9", Grid},
	{"rodent", "#8a8477", Solid},
	{"other", "#ffffff", Dots},
	{predator.Rest, "#ffffff", Lattice},
}

// Looks lists the parts in the order in which they are told everywhere: no sign left, sign that fits several, the animals, the rest.
func Looks() []Look { return slices.Clone(looks) }

// Place returns where a part stands in that order; what the table does not know stands last.
func Place(part string) int {
	if i := slices.IndexFunc(looks, func(l Look) bool { return l.Part == part }); i >= 0 {
		return i
	}
	return len(looks)
}

// LookOf returns a part's look; that of predator.Rest for what the table does not know.
func LookOf(part string) Look { return looks[min(Place(part), len(looks)-1)] }

// ID names the look's pattern: "fill-feral-hog" is that of feral hogs.
func (l Look) ID() string { return "fill-" + strings.ReplaceAll(l.Part, " ", "-") }

// Pattern returns the look as a pattern element of SVG.
func (l Look) Pattern() string {
	path := map[Hatch]string{Across: "M0 3H6", Upright: "M3 0V6", Rising: "M3 0V6", Falling: "M3 0V6", Grid: "M0 3H6M3 0V6", Lattice: "M0 3H6M3 0V6"}[l.Hatch]
	turn := map[Hatch]string{Rising: ` patternTransform="rotate(45)"`, Falling: ` patternTransform="rotate(-45)"`, Lattice: ` patternTransform="rotate(45)"`}[l.Hatch]
	drawing := ""
	switch {
	case l.Hatch == Dots:
		drawing = fmt.Sprintf(`<circle fill="%s" cx="1.8" cy="1.8" r="1.1"/><circle fill="%s" cx="4.8" cy="4.8" r="1.1"/>`, ink, ink)
	case path != "":
		drawing = fmt.Sprintf(`<path fill="none" stroke="%s" stroke-width="1.3" d="%s"/>`, ink, path)
	}
	return fmt.Sprintf(`<pattern id="%s" width="6" height="6" patternUnits="userSpaceOnUse"%s><rect fill="%s" width="6" height="6"/>%s</pattern>`, l.ID(), turn, l.Color, drawing)
}

// decal returns the hatch as the chart library draws it.
func (l Look) decal() map[string]any {
	line := func(turns float64) map[string]any {
		return map[string]any{"symbol": "rect", "symbolSize": 1, "color": ink, "dashArrayX": []int{1, 0}, "dashArrayY": []float64{1.4, 4.6}, "rotation": turns * 3.14159265 / 4}
	}
	crossed := func(turns float64) map[string]any {
		d := line(turns)
		d["dashArrayX"], d["dashArrayY"] = []any{[]float64{1.4, 4.6}, []int{1, 0}}, []float64{1.4, 4.6, 1.4, 4.6}
		return d
	}
	switch l.Hatch {
	case Dots:
		return map[string]any{"symbol": "circle", "symbolSize": 0.8, "color": ink, "dashArrayX": []any{[]int{4, 4}, []int{0, 4, 4, 0}}, "dashArrayY": []int{4, 0}}
	case Across:
		return line(0)
	case Upright:
		return line(2)
	case Rising:
		return line(-1)
	case Falling:
		return line(1)
	case Grid:
		return crossed(0)
	case Lattice:
		return crossed(1)
	}
	return map[string]any{"symbol": "none"}
}
