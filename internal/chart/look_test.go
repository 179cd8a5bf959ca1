package chart_test

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/chart"
	"tussock/internal/stat/predator"
)

// TestOneLookEach: each part has a look of its own, by hatch and ground; every animal of the key has one.
func TestOneLookEach(t *testing.T) {
	seen := map[string]string{}
	for _, l := range chart.Looks() {
		look := fmt.Sprint(l.Color, l.Hatch)
		if other := seen[look]; other != "" {
			t.Errorf("%s and %s look alike", l.Part, other)
		}
		seen[look] = l.Part
	}
	for _, part := range append(predator.Predators(), predator.Rest, predator.NoSign, predator.FitsSeveral) {
		if chart.LookOf(part).Part != part {
			t.Errorf("%s has no look", part)
		}
	}
	if first := chart.Looks()[0].Part; first != predator.NoSign {
		t.Errorf("told first: %s, want %s", first, predator.NoSign)
	}
}

// TestMixHasTheLooks: the chart of a mix draws each animal as the table says, in its order, whatever else is in the chart.
func TestMixHasTheLooks(t *testing.T) {
	part := func(name string) chart.Part {
		return chart.Part{Part: name, Name: name, Shares: []float64{50}, Words: []string{name}}
	}
	for _, parts := range [][]chart.Part{{part("coyote"), part("skunk")}, {part(predator.Rest), part("badger"), part("coyote")}} {
		js, err := chart.Mix([]int{2024}, parts, "", "")
		if err != nil {
			t.Fatal(err)
		}
		var o struct {
			Series []struct {
				Name      string
				ItemStyle struct{ Color string }
			}
			Aria struct {
				Decal struct{ Decals []map[string]any }
			}
		}
		if err := json.Unmarshal([]byte(js), &o); err != nil {
			t.Fatal(err)
		}
		before := -1
		for i, s := range o.Series {
			if chart.Place(s.Name) < before {
				t.Errorf("%s stands out of order", s.Name)
			}
			before = chart.Place(s.Name)
			if want := chart.LookOf(s.Name).Color; s.ItemStyle.Color != want {
				t.Errorf("%s is %s, want %s", s.Name, s.ItemStyle.Color, want)
			}
			if plain := o.Aria.Decal.Decals[i]["symbol"] == "none"; plain != (chart.LookOf(s.Name).Hatch == chart.Solid) {
				t.Errorf("%s: decal %v", s.Name, o.Aria.Decal.Decals[i])
			}
		}
	}
	if _, err := chart.Mix([]int{1}, []chart.Part{{Part: "skunk", Shares: []float64{math.NaN()}, Words: []string{""}}}, "", ""); err != nil {
		t.Error(err)
	}
}

// TestNoOtherTableOfLooks: no page, picture, print or script gives an animal a color or hatch of its own: an animal's name beside a color, or a pattern for it,
// stands in the one table alone.
func TestNoOtherTableOfLooks(t *testing.T) {
	animal := regexp.MustCompile(`(?i)"?\b(` + strings.Join(predator.Predators()[:12], "|") + `|` + predator.Rest + `)\b"?[^\n]{0,40}(#[0-9a-f]{6}\b|fill-|hatch)`)
	for _, root := range []string{"../../internal", "../../web/static", "../../web/templates"} {
		err := fs.WalkDir(os.DirFS(root), ".", func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !regexp.MustCompile(`\.(go|js|css|html)$`).MatchString(path) || strings.HasSuffix(path, "_test.go") ||
				strings.HasPrefix(path, "vendor/") || path == "chart/look.go" {
				return err
			}
			text, err := os.ReadFile(root + "/" + path)
			if found := animal.Find(text); found != nil {
				t.Errorf("%s/%s: %s", root, path, found)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}
