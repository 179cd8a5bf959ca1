package demo

import (
	"math"
	"slices"

	"tussock/internal/geo"
	"tussock/internal/season"
	"tussock/internal/survey"
)

// A Planned is a ranch whose next season is planned, with the map its owner put in.
type Planned struct {
	Ranch  string
	Ground season.Ground
	Plan   season.Plan
	Lines  []season.Line
}

// plannedOn are the ranches whose owners plan early, and what they want to know.
var plannedOn = []struct {
	ranch   string
	purpose season.Purpose
	lines   int
	corner  geo.Position // of the map, in the invented country
}{
	{HomeRanch, season.Rest, 6, geo.Position{-106.12, 46.93}},
	{"Wether Rise", season.Covers, 4, geo.Position{-105.93, 47.02}},
}

// Plans returns the season after the last, drawn in invented pastures.
func (c *Cooperative) Plans() []Planned {
	var list []Planned
	for i, x := range plannedOn {
		r := c.Ranches[slices.IndexFunc(c.Ranches, func(r Ranch) bool { return r.Name == x.ranch })]
		p := season.Plan{Season: lastSeason + 1, Purpose: x.purpose, Lines: x.lines, Stops: 12, Spacing: 50, Pace: 2.6,
			Covers: []survey.Substrate{survey.Bunchgrass, survey.Yucca}, Seed: uint64(Seed + i),
			Apart: season.Apart{Fence: 150, Road: 300, Water: 500, Lines: 1320}, SetOn: survey.DateOf(lastSeason+1, 5, 3), First: 14, Last: 28, Slack: 2,
			BeltWidth: 6, BeltLength: 726}
		g := ground(r, x.corner)
		lines, _ := season.Draw(&g, &p)
		p.Lines = len(lines)
		list = append(list, Planned{x.ranch, g, p, lines})
	}
	return list
}

// ground draws a ranch's pastures side by side, of its acres together and with crooked fences, a road along the middle, a
// tank in the first and a pond in the last. The last pasture rests.
func ground(r Ranch, corner geo.Position) season.Ground {
	side := math.Sqrt(r.Acres / float64(len(r.Pastures)) * 43560) // feet; an acre has 43 560 square feet
	at := func(x, y float64) geo.Position {
		return geo.Along(geo.Along(corner, 90, x*side), 0, y*side)
	}
	var g season.Ground
	for i, name := range r.Pastures {
		x := float64(i)
		shape := geo.Ring{at(x, 0), at(x+1, 0.06), at(x+1, 0.55), at(x+1, 1.02), at(x+0.62, 0.97), at(x+0.55, 0.8), at(x+0.3, 1.05), at(x, 1), at(x, 0.55), at(x, 0.06)}
		if i > 0 {
			shape[0] = at(x, 0.06)
		}
		shape = append(shape, shape[0])
		g.Pastures = append(g.Pastures, season.Pasture{Name: name, SiteKind: r.SiteType, Rested: i > 0 && i == len(r.Pastures)-1, Shape: geo.Shape{{shape}}})
	}
	end := float64(len(r.Pastures))
	g.Roads = []season.Mark{{Feature: geo.Feature{Name: "County road", Paths: []geo.Path{{at(0, 0.42), at(end/2, 0.5), at(end, 0.38)}}}}}
	g.Water = []season.Mark{{Feature: geo.Feature{Name: "Windmill tank", Points: []geo.Position{at(0.3, 0.7)}}},
		{Feature: geo.Feature{Name: "Stock pond", Polygons: geo.Shape{{{at(end-0.35, 0.2), at(end-0.25, 0.18), at(end-0.24, 0.26), at(end-0.33, 0.27), at(end-0.35, 0.2)}}}}}}
	return g
}
