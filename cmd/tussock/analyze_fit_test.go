package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"tussock/internal/findings"
)

// TestAnalyzeFit: text and JSON say what of a ranch's model fails: here the cameras' days, which are those of the looks but for one that is before a look that found the eggs there; and on a sheet
// of three lines nothing of it.
func TestAnalyzeFit(t *testing.T) {
	sheet := "ranch,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2,camera,camera_on\n"
	for line := 1; line <= 9; line++ {
		for nest := 1; nest <= 8; nest++ {
			end := [][2]string{{"taken,,", "2025-05-15"}, {"intact,2025-05-29,taken", "2025-05-29"}, {"intact,2025-05-29,intact", ""}}[(nest+line)%3]
			animal := ""
			if end[1] != "" {
				animal = "raccoon"
			}
			if line == 1 && strings.HasPrefix(end[0], "intact,2025-05-29,taken") && nest < 4 {
				end[1] = "2025-05-04"
			}
			sheet += fmt.Sprintf("Ash,%d,%d,yucca,2025-05-01,2025-05-15,%s,%s,%s\n", line, nest, end[0], animal, end[1])
		}
	}
	out, _ := analyzed(t, 0, file(t, "nests.csv", sheet))
	for _, want := range []string{"recorded the day of", "Something does not fit. On camera most losses come late between two looks", "dated outside the two looks that they lie between: 1 of"} {
		if !strings.Contains(strings.Join(strings.Fields(out), " "), want) {
			t.Errorf("the report does not say %q:\n%s", want, out)
		}
	}
	out, _ = analyzed(t, 0, "--format", "json", file(t, "nests.csv", sheet))
	var got struct {
		Fit   []findings.Fit `json:"fit"`
		Nests []struct {
			CameraOn string `json:"camera_on"`
		} `json:"nests"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || len(got.Fit) != 1 || got.Fit[0].Outside != 1 || got.Fit[0].CameraDays != 48 {
		t.Fatalf("%v: %+v", err, got.Fit)
	}
	failing := ""
	for _, c := range got.Fit[0].Checks {
		if c.Fails {
			failing += c.What + " "
		}
	}
	if failing != "cameras " || got.Nests[1].CameraOn == "" {
		t.Errorf("fails: %s; second nest %+v", failing, got.Nests[1])
	}
	if out, _ := analyzed(t, 0, file(t, "nests.csv", goodNests)); strings.Contains(out, "fit") && strings.Contains(out, "model behind") {
		t.Errorf("three lines are checked:\n%s", out)
	}
}
