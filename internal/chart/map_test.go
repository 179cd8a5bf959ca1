package chart_test

import (
	"encoding/json"
	"testing"

	"tussock/internal/chart"
)

// Areas of a map are told apart by pattern, not by color alone; each has its own words, and none can fill in a
// template of the chart library.
func TestMapTellsAreasApartWithoutColor(t *testing.T) {
	js, err := chart.Map([]chart.Region{
		{Name: "North", Label: "North\n46 of 100", Words: "North: 46 of 100", Path: "/outreach/north", Fill: chart.Dotted},
		{Name: "South", Label: "{c}", Fill: chart.Hatched}, {Name: "East", Fill: chart.Crossed}, {Name: "West", Fill: chart.Lined}, {Name: "Middle", Fill: chart.Plain},
	}, "Five areas")
	if err != nil {
		t.Fatal(err)
	}
	series := parse(t, string(js))["series"].([]any)[0].(map[string]any)
	if series["type"] != "map" || series["map"] != "areas" {
		t.Errorf("series = %v of %v", series["type"], series["map"])
	}
	seen := map[string]any{}
	for _, d := range series["data"].([]any) {
		region := d.(map[string]any)
		pattern, err := json.Marshal(region["itemStyle"].(map[string]any)["decal"])
		if err != nil {
			t.Fatal(err)
		}
		if other, ok := seen[string(pattern)]; ok {
			t.Errorf("%v and %v have one pattern", region["name"], other)
		}
		seen[string(pattern)] = region["name"]
	}
	first, second := series["data"].([]any)[0].(map[string]any), series["data"].([]any)[1].(map[string]any)
	if first["words"] != "North: 46 of 100" || first["path"] != "/outreach/north" {
		t.Errorf("the first area says %v and leads to %v", first["words"], first["path"])
	}
	if got := second["label"].(map[string]any)["formatter"]; got != "(c)" {
		t.Errorf("label = %v: the chart library would fill it in", got)
	}
}
