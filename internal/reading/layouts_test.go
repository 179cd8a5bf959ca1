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
		"choices in two tongues":        {"form.csv", "Enviado,Linea / Line,Nido / Nest,Que hizo / Action,Mata / Cover,Resultado / Result\n2024-05-06,2,1,Poner / Set,Zacate / Grass,\n2024-05-06,2,2,Poner / Set,Palmilla / Yucca,\n2024-05-20,2,1,Revisar / Check,,Todo bien / All there\n2024-05-20,2,2,Revisar / Check,,Comido / Eaten\n2024-06-03,2,1,Revisar / Check,,Comido / Eaten\n", "2/1 bunchgrass set 2024-05-06\n2/2 yucca set 2024-05-06\n2/1  set  2024-05-20 intact\n2/2  set  2024-05-20 taken\n2/1  set  2024-06-03 taken"},
		"a line a row, what went wrong": {"nests 2024.csv", "I only wrote down the bad ones. Every other nest had all three eggs.\n\nLine,How many nests,Set out,First look,Bad ones,Second look,Bad ones,In\n2,2,May 6,May 20,2 eaten,June 3,1 eaten,\"odd grass, even yucca\"\n3,2,May 6,May 20,none,June 3,2 eaten,\"odd grass, even yucca\"\n", twoNests + "\n3/1 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 intact\n3/2 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 taken"},
		"the head of a form":            {"nests 2024.csv", "Mill Ranch,,Line,2\nPasture,North,,\nSet out,5/6/2024,,\nFirst look,5/20/2024,,\nSecond look,6/3/2024,,\n\nNest,In,First look,Second look\n1,grass,good,gone\n2,yucca,gone,\n", twoNests},
		"cards of line and nest":        {"cards.csv", "Line 2  Nest 1,,\nPlant,grass,\nPut out,2024-05-06,\nFirst check,2024-05-20,all 3 there\nSecond check,2024-06-03,eaten\n\nLine 2  Nest 2,,\nPlant,yucca,\nPut out,2024-05-06,\nFirst check,2024-05-20,gone\n\nLine 2  Nest 3,,\nPlant,yucca,\nPut out,2024-05-06,\nFirst check,2024-05-20,all 3 there\nSecond check,2024-06-03,all 3 there\n", twoNests + "\n2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact"},
		"choices with their numbers":    {"nests.csv", "Line,Nest,Cover,Set,CK1 date,CK1,CK2 date,CK2\n2,1,grass,2024-05-06,2024-05-20,1 - intact,2024-06-03,2 - predator\n2,2,yucca,2024-05-06,2024-05-20,2 - predator,,\n2,3,yucca,2024-05-06,2024-05-20,1 - intact,2024-06-03,1 - intact\n2,4,yucca,2024-05-06,2024-05-20,1 - intact,2024-06-03,2 - predator\n", twoNests + "\n2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact\n2/4 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 taken"},
		"lost for a cause":              {"nests.csv", "Line,Nest,Cover,Set,Look 1,Found,Look 2,Found,Notes\n2,1,grass,2024-05-06,2024-05-20,ok,2024-06-03,lost,coyote got it\n2,2,yucca,2024-05-06,2024-05-20,lost,,,eaten\n", twoNests},
		"codes that no cell holds":      {"nests.csv", "Line,Nest,Cover,Set,Look 1,Fate 1,Look 2,Fate 2\n2,1,BG,2024-05-06,2024-05-20,I,2024-06-03,D\n2,2,YU,2024-05-06,2024-05-20,D,,\n\n\"I=intact, D=depredated, T=trampled by livestock, F=flooded\"\n", twoNests},
		"days out beside days":          {"visits.csv", "Line,Nest,Cover,Set,Visit,Date,Days out,Status\n2,1,grass,2024-05-06,1,2024-05-20,14,intact\n2,1,grass,2024-05-06,2,2024-06-03,28,taken\n2,2,yucca,2024-05-06,1,2024-05-20,14,taken\n2,3,yucca,2024-05-06,1,2024-05-20,14,intact\n2,3,yucca,2024-05-06,2,2024-06-03,28,intact\n", "2/1 bunchgrass set 2024-05-06 2024-05-20 intact\n2/1 bunchgrass set 2024-05-06 2024-06-03 taken\n2/2 yucca set 2024-05-06 2024-05-20 taken\n2/3 yucca set 2024-05-06 2024-05-20 intact\n2/3 yucca set 2024-05-06 2024-06-03 intact"},
		"dots, month first":             {"nests.csv", "Line,Nest,Cover,Set,Look 1,Found,Look 2,Found\n2,1,grass,5.6.24,5.20.24,good,6.3.24,gone\n2,2,yucca,5.6.24,5.20.24,gone,,\n", twoNests},
		"codes of a field":              {"nests.csv", "Line,Nest,Veg,Set,Look 1,Fate 1,Look 2,Fate 2\n2,1,1,2024-05-06,2024-05-20,1,2024-06-03,2\n2,2,2,2024-05-06,2024-05-20,2,,\n2,3,2,2024-05-06,2024-05-20,1,2024-06-03,1\n2,4,2,2024-05-06,2024-05-20,1,2024-06-03,1\n\nVEG,1 bunchgrass; 2 yucca\nFATE,1 intact; 2 taken\n", twoNests + "\n2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact\n2/4 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact"},
	} {
		if got := blankLooks.ReplaceAllString(readFile(t, tt.file, tt.text), ""); got != tt.want {
			t.Errorf("%s: the sheet tells\n%s\nnot\n%s", name, got, tt.want)
		}
	}
}
