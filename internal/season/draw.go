package season

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"tussock/internal/access"
	"tussock/internal/geo"
)

// Ground is a ranch's own map: where lines may lie, and what they keep away from.
type Ground struct {
	Pastures []Pasture
	Roads    []Mark
	Water    []Mark
}

// A Pasture is one fenced piece of ground.
type Pasture struct {
	ID       access.ID
	Name     string
	SiteKind string // the kind of ground, as a sheet names it
	Rested   bool   // from grazing: for [Rest]
	Shape    geo.Shape
}

// A Mark is a road, a water point or a pond.
type Mark struct {
	ID access.ID
	geo.Feature
}

// Short says that not all lines of a pasture found room.
type Short struct {
	Pasture       string
	Wanted, Found int
}

// How long room is looked for: starts for a line, and edges measured for one plan. A plan that fits takes a hundredth of
// that.
const (
	startsMost = 20_000 // at random in the box around the pasture
	triesMost  = 1_000  // of them inside and far enough from everything, and yet no bearing fitted
	edgesMost  = 30_000_000
)

// Draw places the lines of a plan: the start of each at random in its pasture, every spot at which some bearing fits as
// likely as any other, and a bearing in whole degrees, each that fits as likely as any other. A line fits that lies
// inside its pasture from end to end, and as far as the plan says from the fence, from roads and water and from the lines
// drawn before it. The same seed on the same ground draws the same lines.
//
// Lines are shared out over the pastures by area; for [Rest] half of them in rested ones and half in grazed ones. Where a
// pasture has no room for all of its lines, the rest are missing and counted in short.
func Draw(g *Ground, p *Plan) (lines []Line, short []Short) {
	d := newDrawing(g, &p.Apart)
	number := 0
	for i, n := range Shares(g.Pastures, p) {
		found, tried := 0, 0
		for range n {
			number++
			l := p.line(number, g.Pastures[i])
			if found < tried {
				continue // where one found no room, the next finds none
			}
			tried++
			if d.place(&l, i, p.Seed, number, lines) {
				lines = append(lines, l)
				found++
			}
		}
		if found < n {
			short = append(short, Short{g.Pastures[i].Name, n, found})
		}
	}
	return lines, short
}

// Place draws one line, new or again, away from others. What it is drawn from hangs on the seed, its number and how often
// it was drawn before. It is false where no room was found, or where its pasture is not on the map; the line is then as it was.
func Place(g *Ground, p *Plan, l *Line, number int, others []Line) bool {
	i := slices.IndexFunc(g.Pastures, func(x Pasture) bool { return x.Name == l.Pasture })
	if i < 0 {
		return false
	}
	others = slices.DeleteFunc(slices.Clone(others), func(o Line) bool { return o.ID != "" && o.ID == l.ID })
	return newDrawing(g, &p.Apart).place(l, i, p.Seed, number, others)
}

// Fits tells whether a line still fits where it lies; one that was not placed, or whose pasture is not on the map, does not.
func Fits(g *Ground, p *Plan, l *Line, others []Line) bool {
	i := slices.IndexFunc(g.Pastures, func(x Pasture) bool { return x.Name == l.Pasture })
	if i < 0 || !l.Placed {
		return false
	}
	others = slices.DeleteFunc(slices.Clone(others), func(o Line) bool { return o.ID == l.ID })
	d := newDrawing(g, &p.Apart)
	f := d.field(i, l.Length(), others)
	start := f.plane.at(l.Start)
	return f.inside(start) && f.fits(start, l.Bearing, l.Length())
}

// Unplaced makes the plan's lines without places, for a season without a map.
func Unplaced(p *Plan) []Line {
	lines := make([]Line, p.Lines)
	for i := range lines {
		lines[i] = p.line(i+1, Pasture{})
	}
	return lines
}

// line is the plan's line of a number, not yet placed.
func (p *Plan) line(number int, in Pasture) Line {
	l := Line{Ranch: p.Ranch, Season: p.Season, Name: fmt.Sprint(number), Pasture: in.Name, SiteKind: in.SiteKind}
	p.Apply(&l)
	return l
}

// Apply gives a line what the plan holds for all: stops, paces, covers, days and belts.
func (p *Plan) Apply(l *Line) {
	l.Stops, l.Spacing, l.Pace, l.Covers = p.Stops, p.Spacing, p.Pace, slices.Clone(p.Covers)
	l.SetOn, l.FirstCheck, l.LastCheck, l.Slack = p.SetOn, 0, 0, p.Slack
	if p.SetOn != 0 {
		l.FirstCheck, l.LastCheck = p.day(p.First), p.day(p.Last)
	}
	l.BeltWidth, l.BeltLength = p.BeltWidth, p.BeltLength
}

// Shares shares the plan's lines out over the pastures in proportion to area, by largest remainders. For [Rest] rested
// and grazed ground get half each, the odd line going to the larger; where all ground is of one sort, it gets all.
func Shares(pastures []Pasture, p *Plan) []int {
	shares := make([]int, len(pastures))
	if p.Purpose == Rest {
		var rested, grazed []int
		var areas [2]float64
		for i := range pastures {
			area := Acres(pastures[i].Shape)
			if pastures[i].Rested {
				rested = append(rested, i)
				areas[0] += area
			} else {
				grazed = append(grazed, i)
				areas[1] += area
			}
		}
		if len(rested) > 0 && len(grazed) > 0 {
			half := p.Lines / 2
			if areas[0] > areas[1] {
				half = p.Lines - half
			}
			shareOut(pastures, rested, half, shares)
			shareOut(pastures, grazed, p.Lines-half, shares)
			return shares
		}
	}
	all := make([]int, len(pastures))
	for i := range all {
		all[i] = i
	}
	shareOut(pastures, all, p.Lines, shares)
	return shares
}

func shareOut(pastures []Pasture, among []int, n int, shares []int) {
	var total float64
	for _, i := range among {
		total += Acres(pastures[i].Shape)
	}
	if total == 0 {
		return
	}
	type part struct {
		at   int
		left float64
	}
	var parts []part
	given := 0
	for _, i := range among {
		exact := float64(n) * Acres(pastures[i].Shape) / total
		shares[i] = int(exact)
		given += shares[i]
		parts = append(parts, part{i, exact - math.Floor(exact)})
	}
	slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(b.left, a.left) })
	for _, x := range parts[:min(len(parts), n-given)] {
		shares[x.at]++
	}
}

// Acres is the area of a pasture, its holes left out.
func Acres(s geo.Shape) float64 {
	var area float64
	plane := planeOf(s)
	for _, polygon := range s {
		for i, ring := range polygon {
			a := math.Abs(ringArea(ring, plane))
			if i > 0 {
				a = -a
			}
			area += a
		}
	}
	return area / 43560 // square feet to the acre (NIST Handbook 44, Appendix C)
}

func ringArea(r geo.Ring, plane plane) (a float64) {
	for i := 1; i < len(r); i++ {
		p, q := plane.at(r[i-1]), plane.at(r[i])
		a += (p.x*q.y - q.x*p.y) / 2
	}
	return a
}

// A plane is the ground around one latitude, in feet east and north: over a few miles true to a part in a thousand, and
// what is straight on the map stays straight.
type plane struct {
	middle         geo.Position
	perLon, perLat float64 // feet a degree
}

type point struct{ x, y float64 }

func planeOf(shapes ...geo.Shape) plane {
	w, s, e, n := geo.Bounds(shapes...)
	m := geo.Position{(w + e) / 2, (s + n) / 2}
	return plane{m, geo.Feet(m, geo.Position{m[0] + 0.01, m[1]}) * 100, geo.Feet(m, geo.Position{m[0], m[1] + 0.01}) * 100}
}

func (p plane) at(q geo.Position) point {
	return point{(q[0] - p.middle[0]) * p.perLon, (q[1] - p.middle[1]) * p.perLat}
}

func (p plane) back(q point) geo.Position {
	return geo.Position{p.middle[0] + q.x/p.perLon, p.middle[1] + q.y/p.perLat}
}

// A drawing holds the ground while lines are placed on it.
type drawing struct {
	ground *Ground
	apart  *Apart
	left   int // edges that may still be measured
}

func newDrawing(g *Ground, apart *Apart) *drawing { return &drawing{g, apart, edgesMost} }

// A barrier is an edge and how far from it a line keeps. A point is an edge of no length.
type barrier struct {
	a, b  point
	least float64
}

// A field is one pasture with everything near it that a line of some length could come too close to.
type field struct {
	*drawing
	plane    plane
	rings    [][]point // of the pasture
	ponds    [][]point // to be outside of
	low      point
	high     point
	barriers []barrier
}

func (d *drawing) field(i int, length float64, others []Line) *field {
	shape := d.ground.Pastures[i].Shape
	f := &field{drawing: d, plane: planeOf(shape)}
	w, s, e, n := geo.Bounds(shape)
	f.low, f.high = f.plane.at(geo.Position{w, s}), f.plane.at(geo.Position{e, n})
	for _, polygon := range shape {
		for _, ring := range polygon {
			f.rings = append(f.rings, f.path(geo.Path(ring), d.apart.Fence, length))
		}
	}
	for _, m := range d.ground.Roads {
		f.keepFrom(&m.Feature, d.apart.Road, length)
	}
	for _, m := range d.ground.Water {
		f.keepFrom(&m.Feature, d.apart.Water, length)
	}
	for i := range others {
		if o := &others[i]; o.Placed && !o.Closed && d.apart.Lines > 0 {
			end, _ := o.Stop(o.Stops)
			start, _ := o.Stop(1)
			f.barrier(f.plane.at(start), f.plane.at(end), d.apart.Lines, length)
		}
	}
	return f
}

func (f *field) keepFrom(x *geo.Feature, least, length float64) {
	for _, polygon := range x.Polygons {
		for i, ring := range polygon {
			if ps := f.path(geo.Path(ring), least, length); i == 0 {
				f.ponds = append(f.ponds, ps)
			}
		}
	}
	for _, path := range x.Paths {
		f.path(path, least, length)
	}
	for _, p := range x.Points {
		f.path(geo.Path{p, p}, least, length)
	}
}

func (f *field) path(path geo.Path, least, length float64) []point {
	ps := make([]point, len(path))
	for i, p := range path {
		if ps[i] = f.plane.at(p); i > 0 {
			f.barrier(ps[i-1], ps[i], least, length)
		}
	}
	return ps
}

// barrier takes an edge up, unless it is too far from the pasture to matter.
func (f *field) barrier(a, b point, least, length float64) {
	reach := least + length
	if max(a.x, b.x) < f.low.x-reach || min(a.x, b.x) > f.high.x+reach || max(a.y, b.y) < f.low.y-reach || min(a.y, b.y) > f.high.y+reach {
		return
	}
	f.barriers = append(f.barriers, barrier{a, b, least})
}

// place looks for room. Bearings are tried in random order, so that the first that fits is any of those that do.
func (d *drawing) place(l *Line, pasture int, seed uint64, number int, others []Line) bool {
	f := d.field(pasture, l.Length(), others)
	const golden = 0x9E3779B97F4A7C15 // spreads small numbers over 64 bits
	rng := rand.New(rand.NewPCG(seed, uint64(number*1000+len(l.Earlier))*golden))
	tries := 0
	for range startsMost {
		start := point{f.low.x + rng.Float64()*(f.high.x-f.low.x), f.low.y + rng.Float64()*(f.high.y-f.low.y)}
		if d.left < 0 || tries == triesMost {
			return false
		}
		if !f.inside(start) || !f.free(start) {
			continue
		}
		for _, b := range rng.Perm(360) {
			if f.fits(start, float64(b), l.Length()) {
				l.Placed, l.Start, l.Bearing = true, f.plane.back(start), float64(b)
				return true
			}
		}
		tries++
	}
	return false
}

// inside goes by how many edges lie east of the point: odd inside, whatever the holes.
func (f *field) inside(p point) bool {
	in := false
	for _, ring := range f.rings {
		in = in != within(p, ring)
	}
	for _, pond := range f.ponds {
		if within(p, pond) {
			return false
		}
	}
	return in
}

func within(p point, ring []point) bool {
	in := false
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		if (a.y > p.y) != (b.y > p.y) && p.x < a.x+(p.y-a.y)/(b.y-a.y)*(b.x-a.x) {
			in = !in
		}
	}
	return in
}

// free tells whether a start is far enough from everything: where it is not, no bearing helps.
func (f *field) free(p point) bool {
	f.left -= len(f.barriers)
	for _, b := range f.barriers {
		if fromEdge(p, b.a, b.b) < b.least {
			return false
		}
	}
	return true
}

func (f *field) fits(start point, bearing, length float64) bool {
	f.left -= len(f.barriers)
	sin, cos := math.Sincos(bearing * math.Pi / 180)
	end := point{start.x + length*sin, start.y + length*cos}
	for _, b := range f.barriers {
		if d := between(start, end, b.a, b.b); d < b.least || d == 0 {
			return false
		}
	}
	return true
}

// between is the distance of two edges, 0 where they cross.
func between(a, b, c, d point) float64 {
	if cross(a, b, c)*cross(a, b, d) < 0 && cross(c, d, a)*cross(c, d, b) < 0 {
		return 0
	}
	return min(fromEdge(a, c, d), fromEdge(b, c, d), fromEdge(c, a, b), fromEdge(d, a, b))
}

func cross(a, b, c point) float64 { return (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x) }

func fromEdge(p, a, b point) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = max(0, min(1, ((p.x-a.x)*dx+(p.y-a.y)*dy)/l))
	}
	ex, ey := p.x-a.x-t*dx, p.y-a.y-t*dy
	return math.Sqrt(ex*ex + ey*ey) // Hypot guards against overflow, which feet on a ranch are far from
}
