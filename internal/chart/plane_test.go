package chart_test

import (
	"math"
	"testing"

	"tussock/internal/chart"
)

func TestPlaneJoinsABandToOneShape(t *testing.T) {
	p := chart.Plane{
		X:     chart.Extent{Name: "clumps an acre", Low: 0, Top: 400, Mark: 300, MarkName: "common practice"},
		Y:     chart.Extent{Name: "gap", Low: -1, Top: 1, Mark: 0, MarkName: "alike"},
		Bands: []chart.Curve{{Name: "95 %", X: []float64{100, 200}, Low: []float64{-0.5, -0.2}, High: []float64{0.5, 0.9}}},
		Lines: []chart.Curve{{Name: "gap", X: []float64{100, 200}, Y: []float64{0, 0.4}}},
		Dots:  []chart.Dot{{Name: "Sandhill", X: 150, Y: 0.2, Words: "Sandhill: 0.2"}},
	}
	js, err := p.Draw()
	if err != nil {
		t.Fatal(err)
	}
	series := parse(t, string(js))["series"].([]any)
	band := series[0].(map[string]any)
	if got := band["renderItem"]; got != "band" {
		t.Errorf("renderItem = %v, want band", got)
	}
	data := band["data"].([]any)
	if got := data[0].(map[string]any)["value"].([]any); len(data) != 1 || len(got) != 6 || got[3] != 200.0 {
		t.Errorf("the band's points = %v, want six numbers in one item", data)
	}
	for i, name := range map[int]string{2: "common practice", 3: "alike"} {
		marks := series[i].(map[string]any)["markLine"].(map[string]any)["data"].([]any)
		if len(marks) != 1 || marks[0].(map[string]any)["name"] != name {
			t.Errorf("marks of series %d = %v, want %s", i, marks, name)
		}
	}
	if got := series[4].(map[string]any)["name"]; got != "Sandhill" {
		t.Errorf("the dot is called %v", got)
	}
}

func TestPlaneCountsInDoublings(t *testing.T) {
	p := chart.Plane{X: chart.Extent{Top: 10}, Y: chart.Extent{Low: 0.25, Top: 4, Doublings: true}, Lines: []chart.Curve{{X: []float64{1}, Y: []float64{2}}}}
	js, err := p.Draw()
	if err != nil {
		t.Fatal(err)
	}
	axis := parse(t, string(js))["yAxis"].([]any)[0].(map[string]any)
	if axis["type"] != "log" || axis["logBase"] != 2.0 || axis["min"] != 0.25 {
		t.Errorf("the axis = %v, want one of base 2 from 0.25", axis)
	}
}

func TestPlaneRefusesWhatIsNowhere(t *testing.T) {
	for name, p := range map[string]chart.Plane{
		"Dot":  {Dots: []chart.Dot{{X: math.NaN(), Y: 1}}},
		"Band": {Bands: []chart.Curve{{X: []float64{1}, Low: []float64{1}}}},
		"Line": {Lines: []chart.Curve{{X: []float64{1}, Y: nil}}},
		"Void": {Bands: []chart.Curve{{X: []float64{1}, Low: []float64{math.Inf(-1)}, High: []float64{1}}}},
	} {
		if _, err := p.Draw(); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
