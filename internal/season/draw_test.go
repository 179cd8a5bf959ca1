package season_test

import (
	"math"
	"reflect"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"gonum.org/v1/gonum/stat/distuv"

	"tussock/internal/geo"
	"tussock/internal/season"
)

// The ground of these tests lies at 36 degrees north. Shapes are given in feet east and north of a corner.
var corner = geo.Position{-99.5, 36}

var (
	lonFeet = geo.Feet(corner, geo.Position{corner[0] + 0.01, corner[1]}) * 100
	latFeet = geo.Feet(corner, geo.Position{corner[0], corner[1] + 0.01}) * 100
)

func at(x, y float64) geo.Position { return geo.Position{corner[0] + x/lonFeet, corner[1] + y/latFeet} }

func feet(p geo.Position) (x, y float64) {
	return (p[0] - corner[0]) * lonFeet, (p[1] - corner[1]) * latFeet
}

func ring(xs ...float64) (r geo.Ring) {
	for i := 0; i < len(xs); i += 2 {
		r = append(r, at(xs[i], xs[i+1]))
	}
	return append(r, r[0])
}

func pasture(name string, rings ...geo.Ring) season.Pasture {
	return season.Pasture{Name: name, Shape: geo.Shape{geo.Polygon(rings)}}
}

// chi fails where counts of equally likely pieces are less likely than one in ten thousand (Pearson's χ²).
func chi(t *testing.T, what string, counts []float64) {
	t.Helper()
	var n, sum float64
	for _, c := range counts {
		n += c
	}
	want := n / float64(len(counts))
	for _, c := range counts {
		sum += (c - want) * (c - want) / want
	}
	if p := (distuv.ChiSquared{K: float64(len(counts) - 1)}).Survival(sum); p < 1e-4 {
		t.Errorf("%s: counts %v are not even: χ² %.1f, p %.2g", what, counts, sum, p)
	}
}

// TestStartsAreUniform: pieces of equal area get equally many starts, in pastures of awkward form. One stop is a line of
// no length, so that all of the pasture is room.
func TestStartsAreUniform(t *testing.T) {
	const n = 4000
	for _, tt := range []struct {
		name    string
		pasture season.Pasture
		pieces  int
		piece   func(x, y float64) int // of equal area
	}{
		// A horseshoe of three arms, each 1000 by 4000 and 1000 by 2000 between: seven squares of 1000 by 1000... in halves.
		{"concave", pasture("U", ring(0, 0, 3000, 0, 3000, 3000, 2000, 3000, 2000, 1000, 1000, 1000, 1000, 3000, 0, 3000)), 7, func(x, y float64) int {
			i, j := int(x/1000), int(y/1000)
			switch {
			case j == 0:
				return i
			case i == 0:
				return 2 + j
			default:
				return 4 + j
			}
		}},
		{"with a hole", pasture("O", ring(0, 0, 3000, 0, 3000, 3000, 0, 3000), ring(1000, 1000, 2000, 1000, 2000, 2000, 1000, 2000)), 8, func(x, y float64) int {
			k := 3*int(y/1000) + int(x/1000)
			if k > 4 {
				k--
			}
			return k
		}},
		// A strip of 60 ft along a diagonal of two miles; its pieces lie one after the other.
		{"thin", pasture("I", ring(0, 0, 8000, 8000, 7957.57, 8042.43, -42.43, 42.43)), 10, func(x, y float64) int { return min(9, max(0, int((x+y)/1600))) }},
		// A triangle cut by the lines that halve and quarter its area: at √(k/4) of its height from the top.
		{"triangle", pasture("A", ring(0, 0, 4000, 0, 0, 4000)), 4, func(x, y float64) int {
			s := (x + y) / 4000
			return min(3, int(4*s*s))
		}},
		{"two parts", season.Pasture{Name: "II", Shape: geo.Shape{{ring(0, 0, 1000, 0, 1000, 1000, 0, 1000)}, {ring(5000, 0, 6000, 0, 6000, 3000, 5000, 3000)}}}, 4, func(x, y float64) int {
			if x < 3000 {
				return 0
			}
			return 1 + int(y/1000)
		}},
	} {
		g := &season.Ground{Pastures: []season.Pasture{tt.pasture}}
		p := &season.Plan{Lines: n, Stops: 1, Spacing: 50, Seed: 20270501}
		lines, short := season.Draw(g, p)
		if len(lines) != n || len(short) > 0 {
			t.Errorf("%s: drew %d lines of %d", tt.name, len(lines), n)
			continue
		}
		counts := make([]float64, tt.pieces)
		bearings := make([]float64, 12)
		for _, l := range lines {
			x, y := feet(l.Start)
			counts[tt.piece(x, y)]++
			bearings[int(l.Bearing)/30]++
		}
		chi(t, tt.name+", starts", counts)
		chi(t, tt.name+", bearings", bearings)
	}
}

// TestStartsWithinMargins: with a fence to keep away from, what is left of the square is even too.
func TestStartsWithinMargins(t *testing.T) {
	g := &season.Ground{Pastures: []season.Pasture{pasture("S", ring(0, 0, 3000, 0, 3000, 3000, 0, 3000))}}
	lines, _ := season.Draw(g, &season.Plan{Lines: 3000, Stops: 1, Spacing: 1, Seed: 5, Apart: season.Apart{Fence: 500}})
	counts := make([]float64, 16)
	for _, l := range lines {
		x, y := feet(l.Start)
		if x < 499.9 || y < 499.9 || x > 2500.1 || y > 2500.1 {
			t.Fatalf("a start at %.1f, %.1f is too near the fence", x, y)
		}
		counts[4*min(3, int((y-500)/500))+min(3, int((x-500)/500))]++
	}
	chi(t, "starts", counts)
}

// TestBearingsSubjectToRoom: in a corridor of 400 ft a line of 1000 ft only fits near the corridor's own direction, and
// of the bearings that fit from anywhere along the middle each is as likely as another.
func TestBearingsSubjectToRoom(t *testing.T) {
	// From the middle of the corridor sin(b) must be below 200/1000, b being the angle off its axis: 11.54 degrees.
	g := &season.Ground{Pastures: []season.Pasture{pasture("C", ring(0, 0, 60000, 0, 60000, 400, 0, 400))}}
	lines, _ := season.Draw(g, &season.Plan{Lines: 6000, Stops: 11, Spacing: 40, Pace: 2.5, Seed: 7})
	seen := make([]float64, 23)
	for _, l := range lines {
		x, y := feet(l.Start)
		off := math.Abs(math.Mod(l.Bearing+180, 180) - 90)
		if off > 23.6 { // asin(400/1000): nowhere can more fit
			t.Fatalf("bearing %g cannot fit", l.Bearing)
		}
		if math.Abs(y-200) < 2 && x > 1100 && x < 58900 && l.Bearing < 180 {
			seen[int(l.Bearing)-79]++
		}
	}
	if len(lines) != 6000 {
		t.Fatalf("drew %d lines", len(lines))
	}
	chi(t, "bearings along the middle", seen)
}

// ranch has two pastures, one of them rested, a road through both, a tank and a pond.
func ranch() *season.Ground {
	home := pasture("Home", ring(0, 0, 12000, 0, 12000, 9000, 5000, 9000, 5000, 14000, 0, 14000), ring(7000, 2000, 8000, 2000, 8000, 3000, 7000, 3000))
	far := pasture("Far", ring(12000, 0, 20000, 0, 20000, 9000, 12000, 9000))
	far.Rested = true
	return &season.Ground{
		Pastures: []season.Pasture{home, far},
		Roads:    []season.Mark{{Feature: geo.Feature{Paths: []geo.Path{{at(0, 5000), at(9000, 5500), at(20000, 4000)}}}}},
		Water: []season.Mark{{Feature: geo.Feature{Points: []geo.Position{at(3000, 12000)}}},
			{Feature: geo.Feature{Polygons: geo.Shape{{ring(16000, 6000, 17000, 6000, 17000, 7000, 16000, 7000)}}}}},
	}
}

var wide = season.Apart{Fence: 150, Road: 400, Water: 600, Lines: 1320}

// TestDistances measures every line of many plans along its whole length, with the library orb.
func TestDistances(t *testing.T) {
	g := ranch()
	plane := func(p geo.Position) orb.Point { x, y := feet(p); return orb.Point{x, y} }
	shape := func(r geo.Ring) (out orb.Ring) {
		for _, p := range r {
			out = append(out, plane(p))
		}
		return out
	}
	for seed := range uint64(25) {
		p := &season.Plan{Purpose: season.Trend, Lines: 8, Stops: 12, Spacing: 50, Pace: 2.5, Seed: seed, Apart: wide}
		lines, short := season.Draw(g, p)
		if len(lines) != 8 || len(short) != 0 {
			t.Fatalf("seed %d: drew %d lines, short %v", seed, len(lines), short)
		}
		for i, l := range lines {
			polygon := orb.Polygon{}
			for _, q := range g.Pastures {
				if q.Name == l.Pasture {
					for _, r := range q.Shape[0] {
						polygon = append(polygon, shape(r))
					}
				}
			}
			for k := range 111 {
				at := plane(geo.Along(l.Start, l.Bearing, l.Length()*float64(k)/110))
				if !planar.PolygonContains(polygon, at) {
					t.Fatalf("seed %d, line %s leaves its pasture at %v", seed, l.Name, at)
				}
				near := func(what string, d, least float64) {
					if d < least*0.998-1 { // the plane is true to a part in a thousand
						t.Errorf("seed %d, line %s is %.0f ft from %s, want %.0f", seed, l.Name, d, what, least)
					}
				}
				for _, r := range polygon {
					near("the fence", planar.DistanceFrom(orb.LineString(r), at), wide.Fence)
				}
				var road orb.LineString
				for _, q := range g.Roads[0].Paths[0] {
					road = append(road, plane(q))
				}
				near("the road", planar.DistanceFrom(road, at), wide.Road)
				near("the tank", planar.Distance(plane(g.Water[0].Points[0]), at), wide.Water)
				near("the pond", planar.DistanceFrom(orb.LineString(shape(g.Water[1].Polygons[0][0])), at), wide.Water)
				for _, o := range lines[:i] {
					end, _ := o.Stop(o.Stops)
					near("line "+o.Name, planar.DistanceFrom(orb.LineString{plane(o.Start), plane(end)}, at), wide.Lines)
				}
			}
			if !season.Fits(g, p, &l, lines[:i]) {
				t.Errorf("seed %d, line %s is said not to fit where it was drawn", seed, l.Name)
			}
		}
	}
}

func TestSameSeedSameLines(t *testing.T) {
	p := &season.Plan{Lines: 6, Stops: 12, Spacing: 50, Seed: 99, Apart: wide}
	a, _ := season.Draw(ranch(), p)
	b, _ := season.Draw(ranch(), p)
	if !reflect.DeepEqual(a, b) {
		t.Error("the same seed drew other lines")
	}
	p.Seed++
	if c, _ := season.Draw(ranch(), p); c[0].Start == a[0].Start {
		t.Error("another seed drew the same line")
	}
	again := a[2]
	again.Earlier = []season.Drawn{{Start: again.Start, Bearing: again.Bearing, Why: "a bull"}}
	p.Seed--
	if !season.Place(ranch(), p, &again, 3, append(a[:2:2], a[3:]...)) || again.Start == a[2].Start {
		t.Error("a line drawn again lies where it was")
	}
}

func TestShares(t *testing.T) {
	g := ranch() // Home has 12000·9000 + 5000·5000 − 1000·1000 = 132 million square feet, Far 72 million
	for _, tt := range []struct {
		purpose season.Purpose
		lines   int
		want    []int
	}{
		{season.Trend, 6, []int{4, 2}}, // 3.88 and 2.12
		{season.Trend, 1, []int{1, 0}},
		{season.Covers, 17, []int{11, 6}},
		{season.Rest, 6, []int{3, 3}},
		{season.Rest, 7, []int{4, 3}},
	} {
		got := season.Shares(g.Pastures, &season.Plan{Purpose: tt.purpose, Lines: tt.lines})
		if !reflect.DeepEqual(got, tt.want) {
			t.Errorf("%s, %d lines: got %v, want %v", tt.purpose, tt.lines, got, tt.want)
		}
	}
	if acres := season.Acres(g.Pastures[0].Shape); math.Abs(acres-132e6/43560) > 4 {
		t.Errorf("got %.0f acres, want %.0f", acres, 132e6/43560)
	}
}

// TestNoRoom ends soon, and says how many found none.
func TestNoRoom(t *testing.T) {
	g := &season.Ground{Pastures: []season.Pasture{pasture("Small", ring(0, 0, 900, 0, 900, 900, 0, 900))}}
	lines, short := season.Draw(g, &season.Plan{Lines: 3, Stops: 12, Spacing: 50})
	if len(lines) != 0 || !reflect.DeepEqual(short, []season.Short{{"Small", 3, 0}}) {
		t.Errorf("got %d lines, %v", len(lines), short)
	}
	if lines := season.Unplaced(&season.Plan{Lines: 2, Stops: 5}); len(lines) != 2 || lines[1].Name != "2" || lines[1].Placed {
		t.Errorf("without a map: got %+v", lines)
	}
}
