package pages

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"tussock/internal/survey"
	"tussock/internal/words"
)

// Marks are small pictures drawn on the server: SVG with classes, no script and no style attribute, each with its
// meaning in words for whoever does not see it. Their parts that repeat (eggs, hatches) are symbols and patterns of
// templates/shared/symbols.html, which a page with marks includes once.

// plot is the width of every strip in its own units, between two margins wide enough for half a label.
const (
	plotWidth  = 320.0
	plotMargin = 12.0
)

// place returns where value stands on a strip from 0 to most; beyond its ends it stays at the end.
func place(value, most float64) float64 {
	share := math.Max(0, math.Min(1, value/most))
	return plotMargin + share*(plotWidth-2*plotMargin)
}

// num writes a coordinate.
func num(x float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", x), ".0") }

// svg wraps a drawing with its words.
func svg(class string, width, height float64, words, drawing string) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg class="%s" viewBox="0 0 %s %s" role="img" aria-label="%s">%s</svg>`,
		class, num(width), num(height), template.HTMLEscapeString(words), drawing))
}

// fateWords say the outcome of n nests as the pages do: 3 trampled.
func fateWords(say words.Speaker, fate survey.State, n int) string {
	switch fate {
	case survey.Intact:
		return say.Count("%d lasted four weeks", "%d lasted four weeks", n)
	case survey.Taken:
		return say.Count("%d taken by an animal", "%d taken by an animal", n)
	case survey.Spoiled:
		return say.Count("%d spoiled", "%d spoiled", n)
	case survey.Trampled:
		return say.Count("%d trampled", "%d trampled", n)
	case survey.Flooded:
		return say.Count("%d flooded", "%d flooded", n)
	case soFar:
		return say.Count("%d whole when last looked at", "%d whole when last looked at", n)
	case neverSeen:
		return say.Count("%d never looked at", "%d never looked at", n)
	}
	return say.Count("%d not found again", "%d not found again", n)
}

// The eggs stand as in a carton, a dozen to a row, with a gap after six.
const (
	cartonRow = 12
	eggWidth  = 24.0
	eggHeight = 32.0
	cartonGap = 8.0

	mostEggs = 50 * cartonRow // more is no picture, and a page of several MB: the number alone is given
)

// eggMarks draws one egg per nest that came to the same end.
func eggMarks(fate survey.State, n int, said string) template.HTML {
	if fate == neverSeen {
		fate = survey.Lost // drawn alike
	}
	if n > mostEggs {
		return ""
	}
	var b strings.Builder
	for i := range n {
		column, row := i%cartonRow, i/cartonRow
		x := float64(column) * eggWidth
		if column >= cartonRow/2 {
			x += cartonGap
		}
		fmt.Fprintf(&b, `<use href="#egg-%s" x="%s" y="%s" width="22" height="30"/>`, fate, num(x), num(float64(row)*eggHeight))
	}
	width := float64(min(n, cartonRow)) * eggWidth
	if n > cartonRow/2 {
		width += cartonGap
	}
	rows := float64((n + cartonRow - 1) / cartonRow)
	// The width in itself keeps all eggs of a page the same size; the style sheet lets a full row shrink on a phone.
	return template.HTML(fmt.Sprintf(`<svg class="eggs" width="%s" viewBox="0 0 %s %s" role="img" aria-label="%d %s">%s</svg>`,
		num(width), num(width), num(math.Max(1, rows)*eggHeight), n, template.HTMLEscapeString(said), b.String()))
}

// ranged is a figure with its likely range.
type ranged struct{ Estimate, Low, High float64 }

// band draws a range as a soft stripe: full between low and high, fading at both ends, since neither is a wall.
func band(r ranged, most, top, height float64, class string) string {
	low, high := place(r.Low, most), place(r.High, most)
	const fade = 9
	return fmt.Sprintf(`<rect class="%s faint" x="%s" y="%s" width="%s" height="%s" rx="%s"/><rect class="%s soft" x="%s" y="%s" width="%s" height="%s" rx="%s"/>`,
		class, num(low-fade/2), num(top), num(high-low+fade), num(height), num(height/2),
		class, num(low+fade/2), num(top), num(math.Max(2, high-low-fade)), num(height), num(height/2))
}

// axis draws the foot of a strip: a line with a tick and a number at each of ticks.
func axis(most, y float64, ticks []float64) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<path class="axis" d="M%s %sH%s`, num(plotMargin), num(y), num(plotWidth-plotMargin))
	for _, t := range ticks {
		fmt.Fprintf(&b, `M%s %sv5`, num(place(t, most)), num(y))
	}
	b.WriteString(`"/>`)
	for _, t := range ticks {
		fmt.Fprintf(&b, `<text x="%s" y="%s">%s</text>`, num(place(t, most)), num(y+17), num(t))
	}
	return b.String()
}

var hundred = []float64{0, 25, 50, 75, 100}

// dotPlot draws twenty equally likely values, in of 100, as stacked dots over the range. Whoever wants to know how
// likely more than half is counts the dots beyond the middle.
func dotPlot(values []float64, r ranged, words string) template.HTML {
	const size, gap = 9.6, 0.7
	const last = 28 // the last column on the scale: (plotWidth − 2·plotMargin) / (size + gap), rounded down
	columns := map[int]int{}
	tallest := 1
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	type dot struct{ x, level float64 }
	var dots []dot
	for _, v := range sorted {
		column := min(last, int(math.Round((place(v, 100)-plotMargin)/(size+gap))))
		dots = append(dots, dot{plotMargin + float64(column)*(size+gap), float64(columns[column])})
		columns[column]++
		tallest = max(tallest, columns[column])
	}
	foot := float64(tallest)*(size+gap) + 16
	var b strings.Builder
	b.WriteString(band(r, 100, foot-11, 11, "own"))
	b.WriteString(axis(100, foot, hundred))
	for _, d := range dots {
		fmt.Fprintf(&b, `<circle class="own" cx="%s" cy="%s" r="%s"/>`, num(d.x), num(foot-13-size/2-d.level*(size+gap)), num(size/2))
	}
	fmt.Fprintf(&b, `<circle class="ink" cx="%s" cy="%s" r="4.5"/>`, num(place(r.Estimate, 100)), num(foot-5.5))
	return svg("dots", plotWidth, foot+20, words, b.String())
}

// coverScale returns the end of the strips' scale, such that the cover target and every ranged are on it.
func coverScale(rs []ranged, mark float64) float64 {
	most := math.Max(400, mark)
	for _, r := range rs {
		most = math.Max(most, math.Min(r.High, 3*mark))
		most = math.Max(most, r.Estimate)
	}
	return math.Ceil(most/100) * 100
}

// coverStrip draws clumps an acre against the cover target.
func coverStrip(r ranged, most, enough float64, words string) template.HTML {
	mark := place(enough, most)
	drawing := fmt.Sprintf(`<path class="track" d="M%s 17H%s"/>`, num(plotMargin), num(plotWidth-plotMargin)) +
		band(r, most, 10, 14, "own") +
		fmt.Sprintf(`<path class="mark" d="M%s 0V34"/><circle class="ink" cx="%s" cy="17" r="6"/>`, num(mark), num(place(r.Estimate, most)))
	return svg("strip", plotWidth, 34, words, drawing)
}

// coverAxis draws the scale under the strips, the cover target named on it.
func coverAxis(say words.Speaker, most, enough float64) template.HTML {
	ticks := []float64{0}
	for t := 100.0; t <= most; t += 100 {
		if most <= 500 || math.Mod(t, 300) == 0 {
			ticks = append(ticks, t)
		}
	}
	mark := place(enough, most)
	return svg("strip", plotWidth, 26, say.Say("Scale in clumps an acre, the cover target at %.0f", enough),
		fmt.Sprintf(`<path class="mark" d="M%s 0V4"/>`, num(mark))+axis(most, 4, ticks))
}

// besideStrip draws one's own figure in the bulletin's range: a plain band that is nobody's single value.
func besideStrip(own float64, published ranged, most float64, words string) template.HTML {
	low, high := place(published.Low, most), place(published.High, most)
	drawing := fmt.Sprintf(`<path class="track" d="M%s 13H%s"/><rect fill="url(#hatch)" class="neighbors" x="%s" y="5" width="%s" height="16" rx="3"/><circle class="own ringed" cx="%s" cy="13" r="7"/>`,
		num(plotMargin), num(plotWidth-plotMargin), num(low), num(math.Max(3, high-low)), num(place(own, most)))
	return svg("strip", plotWidth, 26, words, drawing)
}

// A share is a part of a whole, in of 100.
type share struct {
	Name string
	ranged
	Number int // printed on its part of the bar and in the list under it
	Fill   string
	Figure string // as printed
}

// mixBar draws the parts of a whole side by side, in the order given.
func mixBar(shares []share, words string) template.HTML {
	const height = 46.0
	total := 0.0
	for _, p := range shares {
		total += p.Estimate
	}
	var b strings.Builder
	x := 1.0
	for _, p := range shares {
		if total <= 0 || p.Estimate <= 0 {
			continue
		}
		w := p.Estimate / total * (plotWidth - 2)
		fmt.Fprintf(&b, `<rect class="piece" x="%s" y="1" width="%s" height="%s" fill="url(#fill-%s)"/>`, num(x), num(w), num(height-2), p.Fill)
		label := "?"
		if p.Number > 0 {
			label = fmt.Sprint(p.Number)
		}
		if w >= 15 {
			fmt.Fprintf(&b, `<circle class="plate" cx="%s" cy="%s" r="8.5"/><text x="%s" y="%s">%s</text>`, num(x+w/2), num(height/2), num(x+w/2), num(height/2+4.5), label)
		}
		x += w
	}
	return svg("mix", plotWidth, height, words, b.String())
}

// swatch draws the pattern of one part, for the list under the bar.
func (p share) Swatch() template.HTML {
	return template.HTML(fmt.Sprintf(`<svg class="swatch" viewBox="0 0 24 24" aria-hidden="true"><rect class="piece" x="1" y="1" width="22" height="22" fill="url(#fill-%s)"/></svg>`, p.Fill))
}
