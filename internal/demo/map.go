package demo

import (
	"encoding/json"
	"slices"
)

// The outlines of the areas are invented like everything here. They are plain shapes on a net of a few corners; that
// they lie somewhere on the northern plains only makes the file a proper one. No such areas are there.
var corners = map[string][2]float64{
	"a": {-106.90, 47.20}, "b": {-106.34, 47.26}, "c": {-105.74, 47.17}, "d": {-105.18, 47.23},
	"e": {-106.96, 46.72}, "f": {-106.40, 46.66}, "g": {-105.80, 46.75}, "h": {-105.14, 46.68},
	"i": {-106.87, 46.25}, "j": {-106.31, 46.18}, "k": {-105.75, 46.28}, "l": {-105.10, 46.21},
	"m": {-106.19, 45.82}, "n": {-105.25, 45.78},
	// where a border bends between two of them
	"bf": {-106.45, 46.97}, "cg": {-105.69, 46.98}, "ef": {-106.69, 46.62}, "fg": {-106.09, 46.77}, "gh": {-105.48, 46.65},
	"fj": {-106.27, 46.43}, "gk": {-105.85, 46.51}, "jk": {-106.01, 46.29}, "kl": {-105.40, 46.16}, "ae": {-107.03, 46.98}, "ei": {-106.86, 46.48},
	"dh": {-105.09, 46.97}, "hl": {-105.19, 46.45}, "ab": {-106.63, 47.17}, "cd": {-105.45, 47.27},
}

// outlines go round each area, corner by corner.
var outlines = map[string][]string{
	"Chalk Benches": {"a", "ae", "e", "ef", "f", "bf", "b", "ab"},
	"Upper Willet":  {"b", "bf", "f", "fg", "g", "cg", "c"},
	"Sedge Lakes":   {"c", "cg", "g", "gh", "h", "dh", "d", "cd"},
	"Long Draw":     {"e", "ei", "i", "j", "fj", "f", "ef"},
	"Lower Willet":  {"f", "fj", "j", "jk", "k", "gk", "g", "fg"},
	"Antler Divide": {"g", "gk", "k", "kl", "l", "hl", "h", "gh"},
	"Blowout Hills": {"j", "m", "n", "l", "kl", "k", "jk"},
}

// GladOf tells whether the ranch's owner would be glad to hear from planners of field days: every third is.
func (c *Cooperative) GladOf(ranch string) bool {
	i := slices.IndexFunc(c.Ranches, func(r Ranch) bool { return r.Name == ranch })
	return i >= 0 && i%3 == 0
}

// Request is what the demo's planner has asked the coordinator for, and where.
const (
	RequestArea = "Chalk Benches"
	Request     = "A pasture walk on resting grass in June, one afternoon, for about twenty neighbors. I would bring the range extension’s grazing sticks and lunch."
)

// Outlines is a GeoJSON file of the areas, as a coordinator would send it.
func Outlines() []byte {
	type feature map[string]any
	var features []feature
	for _, a := range areas() {
		var ring [][2]float64
		for _, c := range outlines[a.Name] {
			ring = append(ring, corners[c])
		}
		ring = slices.Concat(ring, ring[:1])
		features = append(features, feature{"type": "Feature", "properties": map[string]string{"name": a.Name},
			"geometry": map[string]any{"type": "Polygon", "coordinates": [][][2]float64{ring}}})
	}
	out, err := json.MarshalIndent(map[string]any{"type": "FeatureCollection", "features": features}, "", " ")
	if err != nil {
		panic("demo: " + err.Error()) // numbers and names only
	}
	return out
}
