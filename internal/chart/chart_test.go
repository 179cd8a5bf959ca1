package chart_test

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/chart"
)

func parse(t *testing.T, js string) map[string]any {
	t.Helper()
	var o map[string]any
	if err := json.Unmarshal([]byte(js), &o); err != nil {
		t.Fatalf("options do not parse: %v", err)
	}
	return o
}

func TestTrendLeavesAGapWhereNoSeasonWasRun(t *testing.T) {
	js, err := chart.Trend([]chart.Series{{Name: "My ranch", Own: true, Points: []chart.Point{
		{Season: 2023, Estimate: 54, Low: 31, High: 74, Words: "2023", Thin: true},
		{Season: 2025, Estimate: 57, Low: 41, High: 71, Words: "2025"},
	}}}, chart.Axis{Name: "of 100 nests", Most: 100}, "Two seasons")
	if err != nil {
		t.Fatal(err)
	}
	series := parse(t, string(js))["series"].([]any)
	line, ranges := series[0].(map[string]any), series[1].(map[string]any)
	if got := ranges["renderItem"]; got != "softRange" {
		t.Errorf("renderItem = %v, want softRange", got)
	}
	if got := len(ranges["data"].([]any)); got != 2 {
		t.Errorf("ranges = %d, want 2", got)
	}
	data := line["data"].([]any)
	if len(data) != 3 {
		t.Fatalf("points = %d, want 3: one a season", len(data))
	}
	if got := data[1].(map[string]any)["value"].([]any)[1]; got != nil {
		t.Errorf("2024 = %v, want nothing", got)
	}
	if got := data[0].(map[string]any)["symbol"]; got != "emptyCircle" {
		t.Errorf("thin season's symbol = %v, want emptyCircle", got)
	}
}

func TestTrendTellsSeriesApartWithoutColor(t *testing.T) {
	series := []chart.Series{
		{Name: "Sandhill", Points: []chart.Point{{Season: 2024, Estimate: 50, Low: 40, High: 60}}},
		{Name: "Breaks", Points: []chart.Point{{Season: 2024, Estimate: 60, Low: 50, High: 70}}},
	}
	js, err := chart.Trend(series, chart.Axis{Name: "clumps an acre", Mark: 300, MarkName: "cover mark"}, "Cover")
	if err != nil {
		t.Fatal(err)
	}
	drawn := parse(t, string(js))["series"].([]any)
	a, b := drawn[0].(map[string]any), drawn[1].(map[string]any)
	if a["symbol"] == b["symbol"] {
		t.Errorf("both series are drawn with %v", a["symbol"])
	}
	// The legend has the mark of the first series of a name: it must be the line, not the range of no mark.
	for i, s := range []map[string]any{a, b} {
		if s["type"] != "line" || s["name"] != series[i].Name {
			t.Errorf("series %d is a %v of %v, want the line of %s", i, s["type"], s["name"], series[i].Name)
		}
	}
	if !strings.Contains(string(js), `"yAxis":300`) {
		t.Error("the mark is missing")
	}
}

// What a member types (an area's name) must not end the script element it stands in.
func TestNamesCannotLeaveTheScript(t *testing.T) {
	const name = `</script><script>alert(1)</script>`
	points := []chart.Point{{Season: 2024, Estimate: 50, Low: 40, High: 60, Words: name}}
	trend, err := chart.Trend([]chart.Series{{Name: name, Points: points}}, chart.Axis{}, name)
	if err != nil {
		t.Fatal(err)
	}
	mix, err := chart.Mix([]int{2024}, []chart.Part{{Name: name, Shares: []float64{100}, Words: []string{name}}}, name, name)
	if err != nil {
		t.Fatal(err)
	}
	for _, js := range []string{string(trend), string(mix)} {
		if strings.Contains(strings.ToLower(js), "</script") {
			t.Error("options contain a raw end of script")
		}
		parse(t, js)
	}
}

func TestNoNumberIsNoPoint(t *testing.T) {
	js, err := chart.Trend([]chart.Series{{Name: "a", Points: []chart.Point{
		{Season: 2024, Estimate: math.NaN(), Low: math.NaN(), High: math.Inf(1)},
		{Season: 2025, Estimate: 1, Low: 0, High: 2},
	}}}, chart.Axis{}, "")
	if err != nil {
		t.Fatal(err)
	}
	parse(t, string(js))
	mix, err := chart.Mix([]int{2024, 2025}, []chart.Part{{Name: "can’t tell", Shares: []float64{math.NaN(), 40}, Words: []string{"", ""}}}, "", "")
	if err != nil {
		t.Fatal(err)
	}
	parse(t, string(mix))
}

// A legend on a phone takes the rows it needs, and the drawing stands below them.
func TestLegendHidesNothing(t *testing.T) {
	top := func(names ...string) float64 {
		var parts []chart.Part
		for _, name := range names {
			parts = append(parts, chart.Part{Name: name, Shares: []float64{10}, Words: []string{name}})
		}
		js, err := chart.Mix([]int{2024}, parts, "", "")
		if err != nil {
			t.Fatal(err)
		}
		o := parse(t, string(js))
		if kind := o["legend"].(map[string]any)["type"]; kind != "plain" {
			t.Errorf("the legend is %v: one that scrolls hides entries", kind)
		}
		y, err := strconv.ParseFloat(o["grid"].([]any)[0].(map[string]any)["top"].(string), 64)
		if err != nil {
			t.Fatal(err)
		}
		return y
	}
	few, many := top("fox", "skunk"), top("can’t tell, or seldom", "badger", "bird", "coyote", "fox", "raccoon", "rodent", "skunk")
	if few >= many {
		t.Errorf("eight entries leave %v pixels above the drawing, two %v", many, few)
	}
}

func TestWrongInputIsAnError(t *testing.T) {
	if _, err := chart.Trend(nil, chart.Axis{}, ""); err == nil {
		t.Error("no season: no error")
	}
	if _, err := chart.Mix([]int{2024, 2025}, []chart.Part{{Name: "a", Shares: []float64{1}}}, "", ""); err == nil {
		t.Error("shares and seasons differ in number: no error")
	}
}
