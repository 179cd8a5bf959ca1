package reading

import (
	"regexp"
	"testing"
)

const twoNests = `2/1 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 taken
2/2 yucca set 2024-05-06 2024-05-20 taken`

// blankLooks are checks of which nothing is written down, at the end of a line.
var blankLooks = regexp.MustCompile(`(?m)(?: (?:\d{4}-\d{2}-\d{2})? )+$`)

func TestLayouts(t *testing.T) {
	for name, tt := range map[string]struct{ file, text, want string }{
		"weekdays before days": {"nests.csv", "Line,Nest,Cover,Set,Look 1,Found,Look 2,Found\n2,1,grass,Mon 5/6/24,Mon 5/20/24,good,Mon 6/3/24,gone\n2,2,yucca,Mon 5/6/24,Mon 5/20/24,gone,,\n", twoNests},
		"martes is no March":   {"nidos.csv", "Línea,Nido,Planta,Puesto,1a revisión,Cómo estaba,2a revisión,Cómo estaba\n2,1,zacate,mar 14 may 2024,mar 28 may 2024,bien,mar 11 jun 2024,comido\n", "2/1 bunchgrass set 2024-05-14 2024-05-28 intact 2024-06-11 taken"},
		"the line in a title":  {"nests.csv", "Yucca Fork nests – North pasture – line 2 – season 2024\n\nNest,Cover,Set,Look 1,Found,Look 2,Found\n1,grass,5/6,5/20,good,6/3,gone\n2,yucca,5/6,5/20,gone,,\n", twoNests},
		"headings merged down": {"nests.html", `<table><tr><td rowspan=2>Line</td><td rowspan=2>Nest</td><td rowspan=2>Cover</td><td rowspan=2>Set</td><td colspan=2>Checks</td></tr>
<tr><td>1st (May 20)</td><td>2nd (June 3)</td></tr>
<tr><td>2</td><td>1</td><td>grass</td><td>5/6/2024</td><td>good</td><td>gone</td></tr><tr><td>2</td><td>2</td><td>yucca</td><td>5/6/2024</td><td>gone</td><td></td></tr></table>`, twoNests},
		"days of the year under checks": {"nests 2024.csv", "Line,Nest,Cover,Set,Check 1,Fate 1,Check 2,Fate 2\n2,1,grass,127,141,good,155,gone\n2,2,yucca,127,141,gone,,\n", twoNests},
		"sums among nests":              {"nests.csv", "Line 2,,,,,,\nNest,Cover,Set,1st visit,Found,2nd visit,Found\n1,grass,5/6/2024,5/20/2024,good,6/3/2024,gone\n2,yucca,5/6/2024,5/20/2024,gone,,\n3,yucca,5/6/2024,5/20/2024,good,6/3/2024,good\nSub-total line 2,,,,6,,3\n,,,,,,\nLine 3,,,,,,\nNest,Cover,Set,1st visit,Found,2nd visit,Found\n1,grass,5/6/2024,5/20/2024,gone,,\n", "2/1 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 taken\n2/2 yucca set 2024-05-06 2024-05-20 taken\n2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact\n3/1 bunchgrass set 2024-05-06 2024-05-20 taken"},
		"what was left, in words":       {"nests 2024.csv", "Line 2\nSet 5/6\nnest,plant,5/20,6/3,what it looked like\n1,grass,ok,gone,dug up\n2,yucca,gone,,shells all over\n", twoNests},
		"a belt under a label":          {"nests 2024.csv", "Line 2\nSet 5/6\nnest,plant,5/20,6/3\n1,grass,ok,gone\n2,yucca,gone,\n\nBelt,\"290 paces x 6 ft, pace = 2.5 ft\"\ngrass,28\nyucca,7\n", twoNests + "\nbelt 2 725 by 6 map[bunchgrass:28 yucca:7]"},
		"cards with two visits":         {"cards 2024.txt", "Transect: 2\nNest: 1\nBowl in: grass\nSet: day 127\nVisit: day 141, good\nVisit: day 155, gone\n\nTransect: 2\nNest: 2\nBowl in: Ribes (a shrub)\nSet: day 127\nVisit: day 141, gone\n\nTransect: 2\nNest: 3\nBowl in: yucca\nSet: same day\nVisit: day 141, good\nVisit: day 155, good\n", "2/1 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 taken\n2/2 shrub set 2024-05-06 2024-05-20 taken\n2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact"},
		"cards with belts":              {"cards 2024.txt", "LINE: 2 (Greasewood Flat)\nNEST: 1\nCOVER: grass\nPUT OUT: 5-6\n1ST LOOK: 5-20 all 3\n2ND LOOK: 6-3 gone\n-----\nLINE: 2 (Greasewood Flat)\nNEST: 2\nCOVER: yucca\nPUT OUT: same day\n1ST LOOK: 5-20 gone\n-----\nLINE: 2 (Greasewood Flat)\nNEST: 3\nCOVER: yucca\nPUT OUT: same day\n1ST LOOK: 5-20 all 3\n2ND LOOK: 6-3 fine\n-----\nBELT: line 2\nLONG: 10 chains\nWIDE: 6 ft\nGRASS: 28\nYUCCA: 6\n", twoNests + "\n2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact\nbelt 2 660 by 6 map[bunchgrass:28 yucca:6]"},
		"carried forward":               {"nests 2024.csv", "Line,Nest,Cover,Set,Look 1,Found,Look 2,Found\n2,1,grass,5/6,5/20,good,6/3,gone\nCarried forward,1 put out,,,,,,0 good\nPage 2,,,,,,,\n2,2,yucca,5/6,5/20,gone,,\nIn all,2 put out,,,,,,0 good\n", twoNests},
		"codes behind the numbers":      {"nests 2024.csv", "G = grass, Y = yucca\n\nLine 2   out 5/6/24,1G,2Y,3G,4Y\n5/20/24,OK,ATE,OK,ATE\n6/3/24,ATE,,OK,\n", twoNests + "\n2/3 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 intact\n2/4 yucca set 2024-05-06 2024-05-20 taken"},
		"nobody went any more":          {"nests.csv", "Line,Nest,Cover,Set,Look 1,Found,Look 2,Found\n2,1,grass,5/6/2024,5/20/2024,good,6/3/2024,gone\n2,2,yucca,5/6/2024,5/20/2024,gone,done,\n2,3,yucca,5/6/2024,5/20/2024,good,6/3/2024,good\n", twoNests + "\n2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact"},
	} {
		if got := blankLooks.ReplaceAllString(readFile(t, tt.file, tt.text), ""); got != tt.want {
			t.Errorf("%s: the sheet tells\n%s\nnot\n%s", name, got, tt.want)
		}
	}
}
