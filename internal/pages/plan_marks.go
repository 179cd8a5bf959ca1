package pages

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"tussock/internal/findings"
	"tussock/internal/geo"
	"tussock/internal/season"
	"tussock/internal/stat/plan"
	"tussock/internal/words"
)

// usualAlike is how alike the nests of one line fare, as an intraclass correlation, where a ranch's own past does not tell
// (common practice, no source).
const usualAlike = 0.1

// usualBelts is how much belts differ, as a coefficient of variation, where a ranch's own do not tell (common practice, no source).
const usualBelts = 0.5

// pastLines is how many lines it takes before a ranch's past is believed.
const pastLines = 6

// tells draws what 24, 48, 96 nests and those planned would tell about the season's question.
func tells(say words.Speaker, p *season.Plan, past *findings.Past, effect float64) (rows []planTold, of string) {
	survival, icc, known := assumed(past)
	own := p.Lines * p.Stops
	numbers := []int{24, 48, 96, own}
	slices.Sort(numbers)
	for _, n := range slices.Compact(numbers) {
		rows = append(rows, told(say, p, n, survival, icc, effect, n == own))
	}
	if known {
		of = say.Say("Worked out from this ranch’s own past: about %.0f of 100 nests last, and nests on one line share their luck (%.2f, where 0 is not at all and 1 is wholly).", 100*survival, icc)
	} else {
		of = say.Say("Worked out for the hardest case, half of the nests lasting, where nests on one line share their luck (%.1f, where 0 is not at all and 1 is wholly: common practice). Once this ranch has a few seasons of its own, they are used instead.", usualAlike)
	}
	if effect > 0 {
		of += " " + say.Say("With fewer than ten lines the range rests on the cooperative’s published design effect, %.2f.", effect)
	} else {
		of += " " + say.Say("With few lines the range is that wide because so few say little of how lines differ; once the cooperative publishes its design effect it gets narrower.")
	}
	return rows, of
}

// wanted says how many lines it takes to know the season's answer to within so many of 100, and how many belts for the
// clumps to within a quarter.
func wanted(say words.Speaker, p *season.Plan, past *findings.Past, effect float64) []string {
	const level = 0.95
	survival, icc, _ := assumed(past)
	stops := float64(max(1, p.Stops))
	var list []string
	for _, within := range []float64{0.20, 0.15, 0.10} {
		var lines int
		switch p.Purpose {
		case season.Covers: // half of each line's nests stand in either cover, and what the line does to them cancels
			lines = int(math.Ceil(2 * plan.ForHalfWidth(survival, within/math.Sqrt2, 1, 0, level).Independent / stops))
		case season.Rest:
			half, _ := plan.LinesFor(survival, within/math.Sqrt2, max(1, p.Stops), icc, effect)
			lines = 2 * half
		default:
			lines, _ = plan.LinesFor(survival, within, max(1, p.Stops), icc, effect)
		}
		list = append(list, say.Count("To within %.0f of 100: %d line of %d nests.", "To within %.0f of 100: %d lines of %d nests.", lines, 100*within, lines, p.Stops))
	}
	cv := usualBelts
	if past.BeltCV != nil {
		cv = *past.BeltCV
	}
	belts := plan.Belts(cv, 0.25, level)
	if past.BeltCV != nil {
		return append(list, say.Count("The clumps to within a quarter: %d belt, as this ranch’s own belts differ.", "The clumps to within a quarter: %d belts, as this ranch’s own belts differ.", belts))
	}
	return append(list, say.Count("The clumps to within a quarter: %d belt, where belts differ by half of their mean (common practice).", "The clumps to within a quarter: %d belts, where belts differ by half of their mean (common practice).", belts))
}

// assumed is the survival of the latest season and how alike nests of a line fare, by the ranch's own past where it tells.
func assumed(past *findings.Past) (survival, icc float64, known bool) {
	if past.Alike == nil || past.Lines < pastLines {
		return 0.5, usualAlike, false
	}
	// A line that goes by chance alone would be planned on too thinly, and one season's luck is no survival of 0 or 1.
	return max(0.2, min(0.8, float64(past.Intact)/float64(past.Nests))), max(0.02, *past.Alike), true
}

// told is one row: the half-width of a 95 % range about the season's question.
func told(say words.Speaker, p *season.Plan, n int, survival, icc, effect float64, own bool) planTold {
	const level = 0.95
	stops := max(1, p.Stops)
	t := planTold{Nests: n, Own: own}
	var half float64
	switch p.Purpose {
	case season.Covers:
		// Both covers stand on every line, so what the line does to them is the same and cancels.
		half = math.Sqrt2 * plan.HalfWidth(survival, max(1, n/2), 1, 0, level)
	case season.Rest:
		half = math.Sqrt2 * halfRange(survival, max(1, n/2), stops, icc, effect)
	default:
		half = halfRange(survival, n, stops, icc, effect)
	}
	t.Half = int(math.Ceil(100 * half))
	middle := 100 * survival
	r := ranged{middle, math.Max(0, middle-100*half), math.Min(100, middle+100*half)}
	if p.Purpose == season.Trend {
		// Planning for a change between two such seasons (Fleiss, Levin and Paik 2003, eq. 4.14).
		chance := plan.Power(survival, math.Max(0.02, survival-0.2), n, min(stops, n), icc, level)
		t.Sentence = say.Say("%d nests: within %d of 100, more or less. A fall by 20 of 100 the year after would be noticed in %.0f of 100 such years.", n, t.Half, 100*chance)
	} else {
		r = ranged{50, math.Max(0, 50-100*half), math.Min(100, 50+100*half)}
		t.Sentence = say.Say("%d nests: the difference between the two would be known to within %d of 100, more or less.", n, t.Half)
	}
	t.Mark = toldStrip(r, own, t.Sentence)
	return t
}

// halfRange is what so many nests would tell, on lines of so many stops, the last one perhaps shorter.
func halfRange(survival float64, nests, stops int, icc, effect float64) float64 {
	stops = min(stops, nests)
	lines := (nests + stops - 1) / stops
	return plan.HalfRange(survival, lines, max(1, nests/lines), icc, effect)
}

// toldStrip draws a range about the middle, the planned one in the ranch's own color.
func toldStrip(r ranged, own bool, words string) template.HTML {
	class := "ink-soft"
	if own {
		class = "own"
	}
	drawing := fmt.Sprintf(`<path class="track" d="M%s 13H%s"/>`, num(plotMargin), num(plotWidth-plotMargin)) + band(r, 100, 6, 14, class) +
		fmt.Sprintf(`<circle class="ink" cx="%s" cy="13" r="5"/>`, num(place(r.Estimate, 100)))
	return svg("strip", plotWidth, 26, words, drawing)
}

// planMap draws the pastures with what lines keep away from, and the lines with their names. "" where there is nothing.
func planMap(say words.Speaker, g *season.Ground, lines []season.Line) template.HTML {
	w, s, e, n := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	take := func(p geo.Position) { w, s, e, n = min(w, p[0]), min(s, p[1]), max(e, p[0]), max(n, p[1]) }
	for _, p := range g.Pastures {
		a, b, c, d := geo.Bounds(p.Shape)
		take(geo.Position{a, b})
		take(geo.Position{c, d})
	}
	for i := range lines {
		if at, ok := lines[i].Stop(1); ok {
			end, _ := lines[i].Stop(lines[i].Stops)
			take(at)
			take(end)
		}
	}
	if w >= e || s >= n {
		return ""
	}
	narrow := math.Cos((s + n) / 2 * math.Pi / 180)
	const width, margin = 420.0, 12.0
	scale := min((width-2*margin)/((e-w)*narrow), 600/(n-s))
	at := func(p geo.Position) string {
		return num(margin+(p[0]-w)*narrow*scale) + " " + num(margin+(n-p[1])*scale)
	}
	m := mapDrawing{at: at}
	m.ground(g)
	m.names(g)
	feet := geo.Feet(geo.Position{w, (s + n) / 2}, geo.Position{e, (s + n) / 2})
	for i := range lines {
		m.line(&lines[i])
	}
	height := (n-s)*scale + 2*margin + 34
	wide := (e-w)*narrow*scale + 2*margin
	m.scaleBar(feet, wide, height)
	drawn := len(slices.DeleteFunc(slices.Clone(lines), func(l season.Line) bool { return !l.Placed || l.Closed }))
	return svg("plan-map", max(wide, 160), height, say.Count("Map of the pastures with %d line", "Map of the pastures with %d lines", drawn), m.String())
}

type mapDrawing struct {
	strings.Builder
	at func(geo.Position) string
}

func (m *mapDrawing) path(class string, closed bool, paths ...[]geo.Position) {
	fmt.Fprintf(m, `<path class="%s" d="`, class)
	for _, path := range paths {
		for i, p := range path {
			m.WriteString(map[bool]string{true: "M", false: "L"}[i == 0] + m.at(p))
		}
		if closed {
			m.WriteString("Z")
		}
	}
	m.WriteString(`"/>`)
}

func (m *mapDrawing) ground(g *season.Ground) {
	for _, p := range g.Pastures {
		class := "pasture"
		if p.Rested {
			class = "pasture rested"
		}
		for _, polygon := range p.Shape {
			var rings [][]geo.Position
			for _, r := range polygon {
				rings = append(rings, r)
			}
			m.path(class, true, rings...)
		}
	}
	for _, r := range g.Roads {
		for _, path := range r.Paths {
			m.path("road", false, path)
		}
	}
	for _, r := range g.Water {
		for _, polygon := range r.Polygons {
			for _, ring := range polygon {
				m.path("water", true, ring)
			}
		}
		for _, path := range r.Paths {
			m.path("water-line", false, path)
		}
		for _, p := range r.Points {
			x, y, _ := strings.Cut(m.at(p), " ")
			fmt.Fprintf(m, `<circle class="water" cx="%s" cy="%s" r="6"/>`, x, y)
		}
	}
}

// names stand low in their pastures, where lines that start in the middle leave them room.
func (m *mapDrawing) names(g *season.Ground) {
	for _, p := range g.Pastures {
		w, s, e, n := geo.Bounds(p.Shape)
		x, y, _ := strings.Cut(m.at(geo.Position{(w + e) / 2, s + (n-s)/7}), " ")
		fmt.Fprintf(m, `<text class="pasture-name" x="%s" y="%s">%s</text>`, x, y, template.HTMLEscapeString(p.Name))
	}
}

func (m *mapDrawing) line(l *season.Line) {
	for _, old := range l.Earlier {
		end := geo.Along(old.Start, old.Bearing, l.Length())
		m.path("line-was", false, []geo.Position{old.Start, end})
	}
	start, ok := l.Stop(1)
	if !ok || l.Closed {
		return
	}
	end, _ := l.Stop(l.Stops)
	m.path("line-drawn", false, []geo.Position{start, end})
	x, y, _ := strings.Cut(m.at(start), " ")
	fmt.Fprintf(m, `<circle class="line-start" cx="%s" cy="%s" r="9"/><text class="line-name" x="%s" y="%s" dy="4.5">%s</text>`, x, y, x, y, template.HTMLEscapeString(l.Name))
}

// scaleBar draws a quarter, half or whole mile, whatever is nearest a fifth of the map.
func (m *mapDrawing) scaleBar(feet, width, height float64) {
	best, label := 1320.0, "¼ mi"
	for _, x := range []struct {
		feet  float64
		label string
	}{{2640, "½ mi"}, {5280, "1 mi"}, {10560, "2 mi"}} {
		if math.Abs(x.feet-feet/5) < math.Abs(best-feet/5) {
			best, label = x.feet, x.label
		}
	}
	long := best / feet * (width - 28)
	fmt.Fprintf(m, `<path class="scale" d="M14 %sv6h%sv-6"/><text class="scale-name" x="%s" y="%s">%s</text>`, num(height-22), num(long), num(22+long), num(height-12), label)
	fmt.Fprintf(m, `<path class="scale" d="M%s %sv-18m-5 6l5 -7l5 7"/><text class="scale-name" x="%s" y="%s">N</text>`, num(width-30), num(height-6), num(width-20), num(height-12))
}
