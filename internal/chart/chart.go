// Package chart turns results into the options of a chart, as JSON for the page's chart script.
//
// It takes plain numbers as they are printed (of 100, or clumps an acre), with a sentence per point that the chart
// shows when it is touched; it rounds and decides nothing. A season that was not run is simply no point: lines break
// there. Functions cannot travel in JSON, so a renderItem or formatter is a name that web/static/charts.js knows.
//
// The JSON is made by json.Marshal, which escapes <, > and &: it may stand in a script element of a page.
package chart

import (
	"encoding/json"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// A Point is one season's figure with its likely range.
type Point struct {
	Season              int
	Estimate, Low, High float64 // in the axis's unit; all finite
	Words               string  // "2026, Sandhill: 57 of 100, a fair range 41 to 71"
	Thin                bool    // rests on few nests: drawn hollow
}

// A Series is one line of a trend: an area, a substrate, or one's own ranch.
type Series struct {
	Name   string
	Points []Point
	Own    bool // one's own ranch: drawn in its color, on top
}

// An Axis says what is measured.
type Axis struct {
	Name     string  // "of 100 nests"
	Most     float64 // the end of the scale; 0 lets the chart choose
	Mark     float64 // a line across the chart, such as the cover mark; 0 for none
	MarkName string
}

// A Part is one part of a whole over the seasons, such as a predator's share.
type Part struct {
	Part   string    // as the table of looks has it: it says how the part is drawn, and where it stands
	Name   string    // as it reads
	Shares []float64 // of 100, one a season; NaN where there is none
	Words  []string  // one a season
}

// The printing colors of web/static/tussock.css.
const (
	ink     = "#23211d"
	inkSoft = "#4d483f"
	rule    = "#cbc3b1"
	own     = "#0072b2"
	loss    = "#d55e00"
)

// strokes tell series apart by shape and dash first, and by color; they repeat after the last.
var strokes = []struct{ symbol, dash, color string }{
	{"circle", "solid", ink},
	{"rect", "dashed", loss},
	{"triangle", "dotted", inkSoft},
	{"diamond", "solid", loss},
	{"roundRect", "dashed", ink},
	{"pin", "dotted", loss},
}

var ownStroke = struct{ symbol, dash, color string }{"circle", "solid", own}

// Trend returns the chart of several series over the seasons, each with its ranges. Words say what it shows to those who
// do not see it.
func Trend(series []Series, axis Axis, words string) (template.JS, error) {
	first, last, ok := span(series)
	if !ok {
		return "", fmt.Errorf("chart: no season to show")
	}
	// The lines come first: the legend shows the marks of the first series of a name. They are drawn above the ranges
	// all the same, as the chart library has lines above other series.
	lines, ranges := charts.NewLine(), charts.NewCustom()
	lines.SetGlobalOptions(frame(axis, words, seriesNames(series))...)
	lines.SetGlobalOptions(charts.WithXAxisOpts(seasonAxis(first, last)), charts.WithYAxisOpts(valueAxis(axis)))
	for i, s := range series {
		stroke := strokes[i%len(strokes)]
		if s.Own {
			stroke = ownStroke
		}
		shift := dodge(i, len(series))
		ranges.AddSeries(s.Name, rangeData(s.Points, shift),
			charts.WithCustomChartOpts(opts.CustomChart{RenderItem: types.FuncStr("softRange")}),
			charts.WithEncodeOpts(opts.Encode{X: 0, Y: []int{1, 2}}),
			charts.WithItemStyleOpts(opts.ItemStyle{Color: stroke.color}))
		lines.AddSeries(s.Name, lineData(s.Points, shift, first, last, stroke.symbol),
			charts.WithLineChartOpts(opts.LineChart{Symbol: stroke.symbol, SymbolSize: 11, ShowSymbol: opts.Bool(true), ConnectNulls: opts.Bool(false)}),
			charts.WithLineStyleOpts(opts.LineStyle{Color: stroke.color, Width: 1.6, Type: stroke.dash}),
			charts.WithItemStyleOpts(opts.ItemStyle{Color: stroke.color, BorderColor: stroke.color, BorderWidth: 2}),
			markLine(axis, i == 0))
	}
	lines.Overlap(ranges)
	lines.Validate()
	return options(lines.JSON())
}

// seriesNames are the entries of the legend; one line needs none.
func seriesNames(series []Series) []string {
	if len(series) < 2 {
		return nil
	}
	names := make([]string, len(series))
	for i, s := range series {
		names[i] = s.Name
	}
	return names
}

// Mix returns the chart of a whole's parts, a bar a season. Unit names what the parts are of: "of 100 taken nests".
func Mix(seasons []int, parts []Part, unit, words string) (template.JS, error) {
	bar := charts.NewBar()
	axis := Axis{Name: unit, Most: 100}
	bar.SetGlobalOptions(frame(axis, words, partNames(parts))...)
	bar.SetGlobalOptions(
		charts.WithXAxisOpts(opts.XAxis{Type: "category", AxisLabel: label("{value}")}),
		charts.WithYAxisOpts(valueAxis(axis)))
	names := make([]string, len(seasons))
	for i, s := range seasons {
		names[i] = fmt.Sprint(s)
	}
	bar.SetXAxis(names)
	var decals []map[string]any
	for _, p := range inPlace(parts) {
		if len(p.Shares) != len(seasons) || len(p.Words) != len(seasons) {
			return "", fmt.Errorf("chart: part %q has %d shares and %d words for %d seasons", p.Name, len(p.Shares), len(p.Words), len(seasons))
		}
		look := LookOf(p.Part)
		decals = append(decals, look.decal())
		data := make([]opts.BarData, len(seasons))
		for i, v := range p.Shares {
			data[i] = opts.BarData{Name: p.Words[i]}
			if finite(v) {
				data[i].Value = tidy(v)
			}
		}
		bar.AddSeries(p.Name, data, charts.WithBarChartOpts(opts.BarChart{Stack: "whole"}),
			charts.WithItemStyleOpts(opts.ItemStyle{Color: look.Color, BorderColor: ink, BorderWidth: 1}))
	}
	bar.Validate()
	o := bar.JSON()
	o["aria"] = map[string]any{"enabled": true, "label": map[string]any{"description": words}, "decal": map[string]any{"show": true, "decals": decals}}
	return options(o)
}

// options checks and writes the options. What JSON has no word for (a number that is none) is an error, not a chart
// without its points.
func options(o map[string]any) (template.JS, error) {
	o["color"] = []string{ink, loss, inkSoft} // else the library's own palette, red beside green
	o["textStyle"] = map[string]any{"color": ink, "fontSize": 13}
	b, err := json.Marshal(o)
	if err != nil {
		return "", fmt.Errorf("chart: %w", err)
	}
	return template.JS(b), nil
}

// partNames are the entries of the legend, in the order of the bars' parts.
func partNames(parts []Part) []string {
	var names []string
	for _, p := range inPlace(parts) {
		names = append(names, p.Name)
	}
	return names
}

// frame gives a chart its title, its legend of the given names (none: no legend), and its place in the box.
func frame(axis Axis, words string, names []string) []charts.GlobalOpts {
	top := 30 + legendRow*legendRows(names)
	return []charts.GlobalOpts{
		charts.WithAnimation(false),
		// The unit stands over the axis as the title: the axis's own name is cut off at the left edge.
		charts.WithTitleOpts(opts.Title{Title: axis.Name, Left: "0", Top: "0", TitleStyle: &opts.TextStyle{Color: ink, FontSize: 13, FontWeight: "normal"}}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(len(names) > 0), Type: "plain", Top: "22", Left: "0", Padding: []int{4, 0, 0, 4}, ItemWidth: 34, ItemHeight: 12, TextStyle: &opts.TextStyle{Color: ink, FontSize: 13}}),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "item"}),
		charts.WithGridOpts(opts.Grid{Left: "4", Right: "12", Top: fmt.Sprint(top), Bottom: "4", ContainLabel: opts.Bool(true)}),
		charts.WithAriaOpts(&opts.Aria{Enabled: opts.Bool(true), Label: &opts.AriaLabel{Description: words}}),
	}
}

const legendRow = 23 // pixels

// legendRows is how many rows the legend takes on a phone, where an entry is as wide as its mark and about 7 pixels a
// letter. A legend that scrolled would hide what the marks mean.
func legendRows(names []string) (rows int) {
	const width, mark, letter = 318, 34 + 5 + 10, 7
	left := 0
	for _, name := range names {
		w := mark + letter*len([]rune(name))
		if w > left {
			rows, left = rows+1, width
		}
		left -= w
	}
	return rows
}

func label(format string) *opts.AxisLabel {
	return &opts.AxisLabel{Show: opts.Bool(true), Color: ink, FontSize: 13, Formatter: types.FuncStr(format), ShowMinLabel: opts.Bool(true), ShowMaxLabel: opts.Bool(true)}
}

// seasonAxis leaves half a season of room on either side, and has a place for each season, run or not.
func seasonAxis(first, last int) opts.XAxis {
	l := label("year") // a name that charts.js knows: a plain {value} would come as 2,026
	l.ShowMinLabel, l.ShowMaxLabel = opts.Bool(false), opts.Bool(false)
	return opts.XAxis{Type: "value", Min: float64(first) - 0.6, Max: float64(last) + 0.6, MinInterval: 1, MaxInterval: 1, AxisLabel: l,
		SplitLine: &opts.SplitLine{Show: opts.Bool(false)},
		AxisLine:  &opts.AxisLine{OnZero: opts.Bool(false), LineStyle: &opts.LineStyle{Color: inkSoft}}}
}

func valueAxis(axis Axis) opts.YAxis {
	y := opts.YAxis{Type: "value", Min: 0, AxisLabel: label("{value}"), SplitLine: &opts.SplitLine{Show: opts.Bool(true), LineStyle: &opts.LineStyle{Color: rule}}}
	if axis.Most > 0 {
		y.Max = axis.Most
	}
	return y
}

func markLine(axis Axis, draw bool) charts.SeriesOpts {
	if !draw || axis.Mark <= 0 {
		return func(*charts.SingleSeries) {}
	}
	return func(s *charts.SingleSeries) {
		charts.WithMarkLineNameYAxisItemOpts(opts.MarkLineNameYAxisItem{Name: axis.MarkName, YAxis: axis.Mark})(s)
		charts.WithMarkLineStyleOpts(opts.MarkLineStyle{Symbol: []string{"none", "none"},
			LineStyle: &opts.LineStyle{Color: loss, Width: 2, Type: "dashed"},
			Label:     &opts.Label{Show: opts.Bool(true), Position: "insideEndTop", Formatter: "{b}", Color: ink}})(s)
	}
}

// dodge sets series of one season beside each other, within a third of a season on either side.
func dodge(i, n int) float64 {
	if n < 2 {
		return 0
	}
	return math.Min(0.18, 0.6/float64(n)) * (float64(i) - float64(n-1)/2)
}

func rangeData(points []Point, shift float64) []opts.CustomData {
	var data []opts.CustomData
	for _, p := range points {
		if finite(p.Low, p.High) {
			data = append(data, opts.CustomData{Name: p.Words, Value: []float64{float64(p.Season) + shift, tidy(p.Low), tidy(p.High)}})
		}
	}
	return data
}

// lineData has a point for each season from first to last; where none was run it has no value, which breaks the line.
func lineData(points []Point, shift float64, first, last int, symbol string) []opts.LineData {
	bySeason := make(map[int]Point, len(points))
	for _, p := range points {
		bySeason[p.Season] = p
	}
	var data []opts.LineData
	for season := first; season <= last; season++ {
		p, ok := bySeason[season]
		if !ok || !finite(p.Estimate) {
			data = append(data, opts.LineData{Value: []any{float64(season) + shift, nil}})
			continue
		}
		d := opts.LineData{Name: p.Words, Value: []any{float64(season) + shift, tidy(p.Estimate)}}
		if p.Thin {
			d.Symbol = hollow(symbol)
		}
		data = append(data, d)
	}
	return data
}

// hollow returns the chart library's name of the same shape drawn as an outline: emptyCircle for circle.
func hollow(symbol string) string { return "empty" + strings.ToUpper(symbol[:1]) + symbol[1:] }

func span(series []Series) (first, last int, ok bool) {
	first, last = math.MaxInt, math.MinInt
	for _, s := range series {
		for _, p := range s.Points {
			first, last, ok = min(first, p.Season), max(last, p.Season), true
		}
	}
	return first, last, ok
}

// inPlace puts parts in the order of the table.
func inPlace(parts []Part) []Part {
	parts = slices.Clone(parts)
	slices.SortStableFunc(parts, func(a, b Part) int { return Place(a.Part) - Place(b.Part) })
	return parts
}

// tidy drops the crumbs that floating point leaves, such as 56.99999999999999.
func tidy(x float64) float64 { return math.Round(x*1e6) / 1e6 }

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}
