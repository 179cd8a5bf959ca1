package chart

import (
	"fmt"
	"html/template"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// A Plane is a chart of one number over another: a curve with its band, a funnel with the ranches in it.
type Plane struct {
	X, Y  Extent
	Bands []Curve // soft stripes, the widest first
	Lines []Curve
	Dots  []Dot
	Words string // what the chart shows, for those who do not see it
}

// An Extent is an axis from one number to another.
type Extent struct {
	Name     string // "clumps an acre"
	Low, Top float64
	Mark     float64 // a broken line across the chart; none where MarkName is ""
	MarkName string
	// Doublings makes the scale logarithmic, with a number at each doubling; Low and Top are then above zero.
	Doublings bool
}

// A Curve goes through points of rising X. A line has Y alone; a band lies between Low and High.
type Curve struct {
	Name   string
	X      []float64
	Y      []float64
	Low    []float64
	High   []float64
	Dashed bool
	Thick  bool // a stretch to point at, such as an interval on an axis
}

// A Dot is one thing in the plane, with its name beside it.
type Dot struct {
	Name  string
	X, Y  float64
	Words string
}

// Draw returns the chart.
func (p Plane) Draw() (template.JS, error) {
	whole := charts.NewCustom()
	whole.SetGlobalOptions(frame(Axis{Name: p.Y.Name}, p.Words, nil)...)
	scale := "value"
	if p.Y.Doublings {
		scale = "log"
	}
	whole.SetGlobalOptions(
		charts.WithXAxisOpts(opts.XAxis{Type: "value", Name: p.X.Name, NameLocation: "middle", NameGap: 28, Min: p.X.Low, Max: p.X.Top, AxisLabel: label("{value}"),
			SplitLine: &opts.SplitLine{Show: opts.Bool(false)}, AxisLine: &opts.AxisLine{OnZero: opts.Bool(false), LineStyle: &opts.LineStyle{Color: inkSoft}}}),
		charts.WithYAxisOpts(opts.YAxis{Type: scale, Min: p.Y.Low, Max: p.Y.Top, AxisLabel: label("{value}"),
			SplitLine: &opts.SplitLine{Show: opts.Bool(true), LineStyle: &opts.LineStyle{Color: rule}}}))
	for _, b := range p.Bands {
		data, err := bandData(b)
		if err != nil {
			return "", err
		}
		whole.AddSeries(b.Name, data,
			charts.WithCustomChartOpts(opts.CustomChart{RenderItem: types.FuncStr("band")}),
			charts.WithEncodeOpts(opts.Encode{X: 0, Y: []int{1, 2}}),
			charts.WithItemStyleOpts(opts.ItemStyle{Color: ink}))
	}
	lines := charts.NewLine()
	if err := p.drawLines(lines); err != nil {
		return "", err
	}
	dots := charts.NewScatter()
	for _, d := range p.Dots {
		if !finite(d.X, d.Y) {
			return "", fmt.Errorf("chart: %s is nowhere", d.Name)
		}
		side := "top"
		if p.Y.MarkName != "" && d.Y < p.Y.Mark { // away from the mark's line
			side = "bottom"
		}
		dots.AddSeries(d.Name, []opts.ScatterData{{Name: d.Words, Value: []float64{tidy(d.X), tidy(d.Y)}, Symbol: "circle", SymbolSize: 11}},
			charts.WithItemStyleOpts(opts.ItemStyle{Color: ink, BorderColor: "#ffffff", BorderWidth: 2}),
			charts.WithLabelOpts(opts.Label{Show: opts.Bool(true), Position: side, Formatter: "{a}", Color: ink, FontSize: 13}),
			charts.WithLabelLayoutOpts(opts.LabelLayout{HideOverlap: opts.Bool(true)}))
	}
	whole.Overlap(lines, dots)
	whole.Validate()
	o := whole.JSON()
	if p.Y.Doublings { // the library has no field for the base
		o["yAxis"] = []any{struct {
			opts.YAxis
			LogBase int `json:"logBase"`
		}{whole.YAxisList[0], 2}}
	}
	// Room under the axis for its name and above for the mark's, which frame does not leave.
	top := "34"
	if p.X.MarkName != "" {
		top = "54"
	}
	o["grid"] = []opts.Grid{{Left: "4", Right: "16", Top: top, Bottom: "26", ContainLabel: opts.Bool(true)}}
	return options(o)
}

// drawLines adds the lines, then the marks of both axes, each in a series of its own: a series has one place for the
// names of its marks.
func (p Plane) drawLines(lines *charts.Line) error {
	for _, c := range p.Lines {
		if len(c.X) != len(c.Y) {
			return fmt.Errorf("chart: line %q has %d places and %d heights", c.Name, len(c.X), len(c.Y))
		}
		var data []opts.LineData
		for j := range c.X {
			if finite(c.X[j], c.Y[j]) {
				data = append(data, opts.LineData{Name: c.Name, Value: []float64{tidy(c.X[j]), tidy(c.Y[j])}})
			}
		}
		dash, width := "solid", float32(2)
		if c.Dashed {
			dash = "dashed"
		}
		if c.Thick {
			width = 6
		}
		lines.AddSeries(c.Name, data,
			charts.WithLineChartOpts(opts.LineChart{Symbol: "none", ShowSymbol: opts.Bool(false)}),
			charts.WithLineStyleOpts(opts.LineStyle{Color: ink, Width: width, Type: dash}), charts.WithItemStyleOpts(opts.ItemStyle{Color: ink}))
	}
	if p.X.MarkName != "" {
		lines.AddSeries(p.X.MarkName, nil, charts.WithMarkLineNameXAxisItemOpts(opts.MarkLineNameXAxisItem{Name: p.X.MarkName, XAxis: p.X.Mark}), markStyle("end"))
	}
	if p.Y.MarkName != "" {
		lines.AddSeries(p.Y.MarkName, nil, charts.WithMarkLineNameYAxisItemOpts(opts.MarkLineNameYAxisItem{Name: p.Y.MarkName, YAxis: p.Y.Mark}), markStyle("insideEndTop"))
	}
	return nil
}

func markStyle(position string) charts.SeriesOpts {
	return charts.WithMarkLineStyleOpts(opts.MarkLineStyle{Symbol: []string{"none", "none"},
		LineStyle: &opts.LineStyle{Color: loss, Width: 2, Type: "dashed"},
		Label:     &opts.Label{Show: opts.Bool(true), Position: position, Formatter: "{b}", Color: ink, FontSize: 13}})
}

// bandData is one item: place, low, high, and again, which "band" of charts.js joins to one shape.
func bandData(c Curve) ([]opts.CustomData, error) {
	if len(c.X) != len(c.Low) || len(c.X) != len(c.High) {
		return nil, fmt.Errorf("chart: band %q has %d places, %d lows and %d highs", c.Name, len(c.X), len(c.Low), len(c.High))
	}
	var flat []float64
	for i := range c.X {
		if finite(c.X[i], c.Low[i], c.High[i]) {
			flat = append(flat, tidy(c.X[i]), tidy(c.Low[i]), tidy(c.High[i]))
		}
	}
	if len(flat) == 0 {
		return nil, fmt.Errorf("chart: band %q is empty", c.Name)
	}
	return []opts.CustomData{{Name: c.Name, Value: flat}}, nil
}
