package reading

import (
	"strings"
	"testing"
)

// beltsOf reads a file of belts.
func beltsOf(t *testing.T, name, text string) string {
	t.Helper()
	var out []string
	for _, l := range strings.Split(readFile(t, name, text), "\n") {
		if strings.HasPrefix(l, "belt") {
			out = append(out, l)
		}
	}
	return strings.Join(out, "\n")
}

func TestSizesOfBelts(t *testing.T) {
	want := "belt 1 750 by 6 map[bunchgrass:24 yucca:3]\nbelt 2 500 by 6 map[bunchgrass:18 yucca:9]"
	for name, text := range map[string]string{
		"a unit as heading":  "Line,Feet,Wide,Grass,Yucca\n1,750,6,24,3\n2,500,6,18,9\n",
		"walked":             "Line,Feet walked,Rod (ft),Grass,Yucca\n1,750,6,24,3\n2,500,6,18,9\n",
		"steps and the tool": "Line,Steps,Ft in a step,Stick (ft),Grass,Yucca\n1,300,2.5,6,24,3\n2,200,2.5,6,18,9\n",
		"a title":            "Belts (6 ft)\nLine,Feet,Grass,Yucca\n1,750,24,3\n2,500,18,9\n",
		"covers as headings": "Strips 6 ft wide\n,Feet,Grass,Yucca\nLine 1,750,24,3\nLine 2,500,18,9\n",
		"lines across":       "Strips 6 ft wide\n,Line 1,Line 2\n\"strip, ft\",750,500\ngrass,24,18\nyucca,3,9\n",
		"a part of an acre":  "Line,Grass,Yucca\n1,24,3\n\nEach belt 1/10 acre, 6 ft wide\n",
		"numbers in words":   "Belts counted June 3. Strip six feet wide by the stick. My pace is 30 inches.\nLine,Paces,Grass,Yucca\n1,300,24,3\n2,200,18,9\n",
		"a heading run on":   "Line,Paces,Feet per,pace,Wide (ft),Grass,Yucca\n1,300,,2.5,6,24,3\n2,200,,2.5,6,18,9\n",
	} {
		want := want
		if name == "a part of an acre" {
			want = "belt 1 726 by 6 map[bunchgrass:24 yucca:3]"
		}
		if got := beltsOf(t, "belts 2024.csv", text); got != want {
			t.Errorf("%s: the belts are\n%s\nnot\n%s", name, got, want)
		}
	}
}

func TestStepsOfTwoPeople(t *testing.T) {
	got := beltsOf(t, "belts 2024.csv", `"Ida's step is 2.4 ft. Ben's 2.7 ft. Width by a rod of 6 ft."
Line,Long,Who,Grass,Yucca
1,300 steps,Ida,24,3
2,300 steps,Ben,18,9
`)
	want := "belt 1 720 by 6 map[bunchgrass:24 yucca:3]\nbelt 2 810 by 6 map[bunchgrass:18 yucca:9]"
	if got != want {
		t.Errorf("the belts are\n%s\nnot\n%s", got, want)
	}
	if got := beltsOf(t, "fajas 2024.csv", `Paso de Ida = 2.4 pies, paso de Ben = 2.7 pies. Ancho con el carrizo de 6 pies.
Línea,Largo,Quién,Zacate,Palmilla
1,300 pasos,Ida,24,3
2,300 pasos,Ben,18,9
`); got != want {
		t.Errorf("the belts in Spanish are\n%s\nnot\n%s", got, want)
	}
}
