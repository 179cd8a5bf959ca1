package chart

import (
	"html/template"
	"strings"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// A Fill is a pattern that tells areas of a map apart without color. The names are those of the patterns fill-… in
// templates/shared/symbols.html, so that a map and the list beside it look alike.
type Fill string

// The fills of a map.
const (
	Dotted  Fill = "dotted"
	Crossed Fill = "crossed"
	Lined   Fill = "lined"
	Plain   Fill = "plain"
	Hatched Fill = "unsure" // nothing is shown
)

// A Region is one area of a map.
type Region struct {
	Name  string // of the feature in the map's outlines
	Label string // printed in the area, lines apart by "\n"
	Words string // when it is touched
	Path  string // the page it leads to, "" for none
	Fill  Fill
}

// mapName is what a page's outlines are registered as; a page has one map.
const mapName = "areas"

// A decal is the pattern over an area's color. The library's own type has no room for angles and dashes.
type decal struct {
	Symbol     string  `json:"symbol"`
	SymbolSize float64 `json:"symbolSize"`
	DashX      any     `json:"dashArrayX"`
	DashY      any     `json:"dashArrayY"`
	Rotation   float64 `json:"rotation"`
	Color      string  `json:"color"`
}

const slant = 0.785398 // an eighth of a turn

var fills = map[Fill]struct {
	color string
	decal *decal
}{
	Dotted:  {"#f6d3b8", &decal{"circle", 0.55, [][]int{{8, 8}, {0, 8, 8, 0}}, []int{6, 0}, 0, ink}},
	Crossed: {"#f6d3b8", &decal{"rect", 1, []int{1, 0}, []int{2, 5}, slant, ink}},
	Lined:   {"#bfdcec", &decal{"rect", 1, []int{1, 0}, []int{1, 5}, 0, ink}},
	Plain:   {"#ffffff", nil},
	Hatched: {"#ffffff", &decal{"rect", 1, []int{1, 0}, []int{1, 6}, -slant, inkSoft}},
}

// Map returns the chart of regions drawn in outlines that the chart script fetches and registers; see charts.js. Outlines
// are longitude and latitude, drawn with a degree of longitude shortened to three quarters, as it is at 41 degrees north.
func Map(regions []Region, words string) (template.JS, error) {
	m := charts.NewMap()
	m.SetGlobalOptions(
		charts.WithAnimation(false),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "item"}),
		charts.WithAriaOpts(&opts.Aria{Enabled: opts.Bool(true), Label: &opts.AriaLabel{Description: words}}))
	m.Validate()
	o := m.JSON()
	o["series"] = []mapSeries{seriesOf(regions)}
	return options(o)
}

// The library's own types have no room for patterns, nor for a label of each region's own.
type mapSeries struct {
	Type     string      `json:"type"`
	Map      string      `json:"map"`
	Selected bool        `json:"selectedMode"`
	Left     int         `json:"left"`
	Right    int         `json:"right"`
	Top      int         `json:"top"`
	Bottom   int         `json:"bottom"`
	Dots     bool        `json:"showLegendSymbol"`
	Emphasis mapEmphasis `json:"emphasis"`
	Data     []mapRegion `json:"data"`
}

type mapEmphasis struct {
	Disabled bool `json:"disabled"`
}

type mapRegion struct {
	Name  string   `json:"name"`
	Value int      `json:"value"`
	Words string   `json:"words"`
	Path  string   `json:"path,omitempty"`
	Style mapStyle `json:"itemStyle"`
	Label mapLabel `json:"label"`
}

type mapStyle struct {
	Color  string  `json:"areaColor"`
	Border string  `json:"borderColor"`
	Width  float64 `json:"borderWidth"`
	Decal  *decal  `json:"decal,omitempty"`
}

type mapLabel struct {
	Show       bool   `json:"show"`
	Formatter  string `json:"formatter"`
	Color      string `json:"color"`
	FontSize   int    `json:"fontSize"`
	LineHeight int    `json:"lineHeight"`
	Background string `json:"backgroundColor"`
	Border     string `json:"borderColor"`
	Width      int    `json:"borderWidth"`
	Radius     int    `json:"borderRadius"`
	Padding    []int  `json:"padding"`
}

func seriesOf(regions []Region) mapSeries {
	s := mapSeries{Type: types.ChartMap, Map: mapName, Left: 2, Right: 2, Top: 2, Bottom: 2, Emphasis: mapEmphasis{true}}
	braces := strings.NewReplacer("{", "(", "}", ")") // the chart library would fill them in
	for i, r := range regions {
		f := fills[r.Fill]
		s.Data = append(s.Data, mapRegion{Name: r.Name, Value: i, Words: r.Words, Path: r.Path, Style: mapStyle{f.color, ink, 1.6, f.decal},
			Label: mapLabel{true, braces.Replace(r.Label), ink, 12, 15, "#ffffff", ink, 1, 3, []int{3, 5}}})
	}
	return s
}
