package reading

import "testing"

const fourNests = twoNests + `
2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact
2/4 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 taken`

// The same four nests as several people might write them who think alike.
func TestVariants(t *testing.T) {
	const visits = `2/1 bunchgrass set 2024-05-06
2/2 yucca set 2024-05-06
2/3 yucca set 2024-05-06
2/1  set  2024-05-20 intact
2/2  set  2024-05-20 taken
2/3  set  2024-05-20 intact
2/1  set  2024-06-03 taken
2/3  set  2024-06-03 intact`
	for name, tt := range map[string]struct{ file, text, want string }{
		"rows that set, a form":       {"form.csv", "Stamp,Line,Nest,What are you doing?,In,What did you find?\n5/6/2024 7:30:00,2,1,Setting out,grass,\n5/6/2024 7:32:00,2,2,Setting out,yucca,\n5/6/2024 7:34:00,2,3,Setting out,yucca,\n5/20/2024 8:00:00,2,1,Checking,,ok\n5/20/2024 8:01:00,2,2,Checking,,eaten\n5/20/2024 8:02:00,2,3,Checking,,ok\n6/3/2024 8:00:00,2,1,Checking,,eaten\n6/3/2024 8:02:00,2,3,Checking,,ok\n", visits},
		"rows that set, a log":        {"log.csv", "Day,Line,Nest,In,Entry\n5/6/2024,2,1,grass,Placed 3 eggs\n5/6/2024,2,2,yucca,Placed 3 eggs\n5/6/2024,2,3,yucca,Placed 3 eggs\n5/20/2024,2,1,,Checked - all 3 eggs\n5/20/2024,2,2,,Checked - eaten\n5/20/2024,2,3,,Checked - all 3 eggs\n6/3/2024,2,1,,\"Checked - coyote, eggs gone\"\n6/3/2024,2,3,,Checked - all 3 eggs\n", visits},
		"rows that set, days":         {"long.csv", "Line,Nest,In,Visit,Date,Eggs,Status\n2,1,grass,set,5/6/2024,3,\n2,2,yucca,set,5/6/2024,3,\n2,3,yucca,set,5/6/2024,3,\n2,1,,day 14,5/20/2024,3,intact\n2,2,,day 14,5/20/2024,0,eaten\n2,3,,day 14,5/20/2024,3,intact\n2,1,,day 28,6/3/2024,0,eaten\n2,3,,day 28,6/3/2024,3,intact\n", visits},
		"rows that set, en español":   {"bitacora.csv", "Fecha,Línea,Nido,Mata,Faena\n6/5/2024,2,1,zacate,Puse 3 huevos\n6/5/2024,2,2,palmilla,Puse 3 huevos\n6/5/2024,2,3,palmilla,Puse 3 huevos\n20/5/2024,2,1,,todo bien\n20/5/2024,2,2,,comido\n20/5/2024,2,3,,todo bien\n3/6/2024,2,1,,comido\n3/6/2024,2,3,,completo\n", visits},
		"a field above its codes":     {"nests.csv", "Line,Nest,Veg,Set,Look 1,F1,Look 2,F2\n2,1,1,2024-05-06,2024-05-20,1,2024-06-03,2\n2,2,2,2024-05-06,2024-05-20,2,,\n2,3,2,2024-05-06,2024-05-20,1,2024-06-03,1\n2,4,1,2024-05-06,2024-05-20,1,2024-06-03,2\n\nVeg\n1,Grass clump\n2,Yucca\n\n\"F1, F2 = fate at look 1, look 2\"\n1,All there\n2,Eaten or taken\n9,Not checked\n", fourNests},
		"fields and a colon":          {"nests.csv", "Line,Nest,Veg,Set,Look 1,fate1,Look 2,fate2\n2,1,G,2024-05-06,2024-05-20,Y,2024-06-03,N-pred\n2,2,Y,2024-05-06,2024-05-20,N-pred,,\n2,3,Y,2024-05-06,2024-05-20,Y,2024-06-03,Y\n2,4,G,2024-05-06,2024-05-20,Y,2024-06-03,N-pred\n\n\"veg: G = bunchgrass, Y = yucca\"\nfate1 and fate2:\nY  all three eggs still there\nN-pred  any egg taken or eaten\nN-cattle stepped on\n", fourNests},
		"a field with its first code": {"nests.csv", "Line,Nest,Cover,Set,Look 1 date,Look 1 code,Look 2 date,Look 2 code\n2,1,G,2024-05-06,2024-05-20,G,2024-06-03,E\n2,2,Y,2024-05-06,2024-05-20,E,,\n2,3,Y,2024-05-06,2024-05-20,G,2024-06-03,G\n2,4,G,2024-05-06,2024-05-20,G,2024-06-03,E\n\n\"Cover: G = grass, Y = yucca\"\n\"Code: G = good, all 3 eggs\"\nE = eaten or missing\nW = washed out by water\nN = nest not found\n", fourNests},
		"ditto marks between bars":    {"nests 2024.txt", "line | nest | in    | set    | look 1 |       | look 2 |\n2    | 1    | grass | May 6  | May 20 | whole | Jun 3  | eaten\n2    | 2    | yucca |   \"    | May 20 | eaten |        |\n2    | 3    | yucca |   \"    | May 20 | whole | Jun 3  | whole\n2    | 4    | grass |   \"    | May 20 | whole | Jun 3  | eaten\n", fourNests},
		"counts under names":          {"nests 2024.csv", "Line,Nest,In,Set,5/20,6/3\n2,1,grass,5/6,ok,gone\n2,2,yucca,5/6,gone,\n\n\"CLUMPS COUNTED, STRIPS OF 300 BY 12 FEET\"\nNorth line: 33\nCreek: 23\n", twoNests + "\nbelt North 300 by 12 map[:33]\nbelt Creek 300 by 12 map[:23]"},
		"counts below their line":     {"nests 2024.csv", "Line 2,set 5/6,,\nnest,in,5/20,6/3\n1,grass,ok,gone\n2,yucca,gone,\nclumps 300 ft x 12 ft:,,grass 12,yucca 2\n", twoNests + "\nbelt 2 300 by 12 map[bunchgrass:12 yucca:2]"},
		"counts by lines across":      {"nests 2024.csv", "Line,Nest,In,Set,5/20,6/3\n2,1,grass,5/6,ok,gone\n2,2,yucca,5/6,gone,\n\n\"Clumps, 300 ft by 12 ft\",Line 2,Line 3\ngrass,7,18\nyucca,8,10\n", twoNests + "\nbelt 2 300 by 12 map[bunchgrass:7 yucca:8]\nbelt 3 300 by 12 map[bunchgrass:18 yucca:10]"},
		"ticks below visits": {"nests 2024.html", `<table><tr><td rowspan=2>Line</td><td rowspan=2>Nest</td><td rowspan=2>Cover</td><td rowspan=2>Placed</td><td colspan=3>Visit 1</td><td colspan=3>Visit 2</td></tr><tr><td>Date</td><td>All 3 OK</td><td>Eaten</td><td>Date</td><td>All 3 OK</td><td>Eaten</td></tr>
<tr><td>2</td><td>1</td><td>grass</td><td>5/6</td><td>5/20</td><td>x</td><td></td><td>6/3</td><td></td><td>x</td></tr><tr><td>2</td><td>2</td><td>yucca</td><td>5/6</td><td>5/20</td><td></td><td>x</td><td></td><td></td><td></td></tr><tr><td>2</td><td>3</td><td>yucca</td><td>5/6</td><td>5/20</td><td>x</td><td></td><td>6/3</td><td>x</td><td></td></tr><tr><td>2</td><td>4</td><td>grass</td><td>5/6</td><td>5/20</td><td>x</td><td></td><td>6/3</td><td></td><td>x</td></tr></table>`, fourNests},
		"two tongues, no spaces":       {"nidos-nests 2024.csv", "Línea/Line,Nido/Nest,Mata/Plant,Puesto/Set,Rev. 1,Estado/State 1,Rev. 2,Estado/State 2\n2,1,zacate/grass,05-06,05-20,completo/all here,06-03,comido/eaten\n2,2,palmilla/yucca,05-06,05-20,comido/eaten,,---\n2,3,palmilla/yucca,05-06,05-20,completo/all here,06-03,completo/all here\n2,4,zacate/grass,05-06,05-20,completo/all here,06-03,comido/eaten\n", fourNests},
		"a history, the setting first": {"log.csv", "Line,Nest,Type,History (2024)\n2,1,bunchgrass,5/6 set. 5/20 ok. 6/3 eaten.\n2,2,soapweed,5/6 set. 5/20 destroyed by predator.\n2,3,soapweed,5/6 set. 5/20 3 eggs ok. 6/3 ok.\n2,4,bunchgrass,\"5/6 set. 5/20 ok. 6/3 eggs gone, predator.\"\n", fourNests},
		"lines across, their days": {"grid 2024.csv", "\"Odd nests yucca, even nests bunchgrass. I intact, P predator\",,\nLine,2,3\nSet,May 6,May 7\n1st check,May 20,May 21\n2nd check,June 3,June 4\nNest 1,I / I,I / P\nNest 2,I / P,P\nNest 3,P,I / I\nNest 4,I / I,I / I\nClumps (300 x 12 ft),34,18\n", `2/1 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact
3/1 yucca set 2024-05-07 2024-05-21 intact 2024-06-04 taken
2/2 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 taken
3/2 bunchgrass set 2024-05-07 2024-05-21 taken
2/3 yucca set 2024-05-06 2024-05-20 taken
3/3 yucca set 2024-05-07 2024-05-21 intact 2024-06-04 intact
2/4 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 intact
3/4 bunchgrass set 2024-05-07 2024-05-21 intact 2024-06-04 intact
belt 2 300 by 12 map[:34]
belt 3 300 by 12 map[:18]`},
		"days in two pieces":         {"nidos 2024.txt", "Línea   Nido  En        Puesto    1a rev.                2a rev.   \n2       1     zacate    6 mayo    20 mayo   bueno        13 jun    comido\n2       2     palmilla  6 mayo    20 mayo   comido       -\n2       3     palmilla  6 mayo    20 mayo   bueno        13 jun    bueno\n2       4     zacate    6 mayo    20 mayo   bueno        13 jun    comido\n", "2/1 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-13 taken\n2/2 yucca set 2024-05-06 2024-05-20 taken\n2/3 yucca set 2024-05-06 2024-05-20 intact 2024-06-13 intact\n2/4 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-13 taken"},
		"no headings, set said":      {"nests.csv", "line 2,nest 1,grass,set 5/6/2024,5/20/2024 ok,6/3/2024 eaten\nline 2,nest 2,yucca,set 5/6/2024,5/20/2024 eaten\nline 2,nest 3,yucca,set 5/6/2024,5/20/2024 ok,6/3/2024 all there\nline 2,nest 4,grass,set 5/6/2024,5/20/2024 ok,6/3/2024 eaten\n", fourNests},
		"covers behind names":        {"nests.csv", "\"Nest (line-nest, G grass Y yucca)\",Set,Look 1,Found,Look 2,Found\n2-1G,5/6/2024,5/20/2024,ok,6/3/2024,eaten\n2-2Y,5/6/2024,5/20/2024,eaten,,\n2-3Y,5/6/2024,5/20/2024,ok,6/3/2024,ok\n2-4G,5/6/2024,5/20/2024,ok,6/3/2024,eaten\n2-5G,5/6/2024,5/20/2024,ok,6/3/2024,ok\n2-6Y,5/6/2024,5/20/2024,ok,6/3/2024,ok\n", fourNests + "\n2/5 bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 intact\n2/6 yucca set 2024-05-06 2024-05-20 intact 2024-06-03 intact"},
		"letters that are names":     {"nests.csv", "Line,Nest,Set,Look 1,Found,Look 2,Found,In\n2,1A,5/6/2024,5/20/2024,ok,6/3/2024,eaten,grass\n2,1B,5/6/2024,5/20/2024,eaten,,,yucca\n", "2/1A bunchgrass set 2024-05-06 2024-05-20 intact 2024-06-03 taken\n2/1B yucca set 2024-05-06 2024-05-20 taken"},
		"a list below each line":     {"notes 2024.txt", "Nest eggs on the Mill place, 2024\n\nLine 2. Put out May 6. Looked May 20 and Jun 3.\n 1 grass - fine, then cleaned out (coon?)\n 2 soapweed - cleaned out\n 3 soapweed - good, then fine\n 4 grass - ok, then eggs gone\nClumps on 300 ft by 10 ft: 7 grass, 8 soapweed\n", fourNests + "\nbelt 2 300 by 10 map[bunchgrass:7 yucca:8]"},
		"a list, en español":         {"apuntes 2024.txt", "Apuntes, año 2024. Z es zacate, P es palmilla.\n\nLínea 2: puestos el 6 de mayo, revisados el 20 de mayo y el 3 de junio\nnido 1 (Z): bien, comido\nnido 2 (P): comido\nnido 3 (P): bien, bien\nnido 4 (Z): bien, comido\n", fourNests},
		"a list, each time told":     {"nidos 2024.txt", "LÍNEA 2. Puse el 6 de mayo. Fui a ver el 20 de mayo y el 3 de junio.\n1. pasto: la primera vez los tres; la segunda vez comido por animal.\n2. yuca: la primera vez robado.\n3. yuca: la primera vez completo; la segunda vez están los tres.\n4. pasto: la primera vez los tres; la segunda vez comido, puro cáscara.\n", fourNests},
		"several labels in one line": {"cards 2024.txt", "NEST CARDS 2024\n\nPasture: Ridge   Transect: 2   Nest: 1\nCover: bunchgrass\nSet out: May 6\nCheck 1: May 20 - all 3 eggs\nCheck 2: Jun 3 - eggs eaten\n\nPasture: Ridge   Transect: 2   Nest: 2\nCover: yucca\nSet out: May 6\nCheck 1: May 20 - eggs eaten\n\nPasture: Ridge   Transect: 2   Nest: 3\nCover: yucca\nSet out: May 6\nCheck 1: May 20 - all 3 eggs\nCheck 2: Jun 3 - all 3 eggs\n\nPasture: Ridge   Transect: 2   Nest: 4\nCover: bunchgrass\nSet out: May 6\nCheck 1: May 20 - all 3 eggs\nCheck 2: Jun 3 - eggs eaten\n", fourNests},
		"rows and nests in one head": {"cards 2024.txt", "NESTS, 2024\n\nRow 2   Nest 1\nIn: grass clump\nSet: May 6\nFirst look: May 20 - All three there.\nSecond look: Jun 3 - Skunk got it.\n\nRow 2   Nest 2\nIn: soapweed\nSet: May 6\nFirst look: May 20 - Skunk got it I believe.\n\nRow 2   Nest 3\nIn: soapweed\nSet: May 6\nFirst look: May 20 - Fine, all three.\nSecond look: Jun 3 - Fine, all three.\n\nRow 2   Nest 4\nIn: grass clump\nSet: May 6\nFirst look: May 20 - Fine, all three.\nSecond look: Jun 3 - Skunk got it.\n", fourNests},
		"another line a day later":   {"nests 2024.csv", "Line,Nest,Plant,Set,2 wk,4 wk\nA,1,grass,2024-05-06,ok,gone\nA,2,yucca,2024-05-06,gone,\nC,1,grass,2024-05-06,ok,ok\nC,2,yucca,2024-05-06,gone,\n\n\"A and B looked at 18 May and 31 May, C and D a day later\"\n", "A/1 bunchgrass set 2024-05-06 2024-05-18 intact 2024-05-31 taken\nA/2 yucca set 2024-05-06 2024-05-18 taken\nC/1 bunchgrass set 2024-05-06 2024-05-19 intact 2024-06-01 intact\nC/2 yucca set 2024-05-06 2024-05-19 taken"},
		"lines by their last word":   {"points.csv", "folder,name,time,desc\nWest line,W-01,2024-05-06T14:04:01Z,\"set, grass clump\"\nWest line,W-02,2024-05-06T14:08:39Z,\"set, yucca\"\nWest line,W-03,2024-05-06T14:09:39Z,\"set, yucca\"\nWest line,W-01,2024-05-20T14:04:01Z,all 3 there\nWest line,W-02,2024-05-20T14:04:01Z,eggs gone\nWest line,W-03,2024-05-20T14:04:01Z,all 3 there\n", "West/W-01 bunchgrass set 2024-05-06\nWest/W-02 yucca set 2024-05-06\nWest/W-03 yucca set 2024-05-06\nWest/W-01  set  2024-05-20 intact\nWest/W-02  set  2024-05-20 taken\nWest/W-03  set  2024-05-20 intact"},
	} {
		if got := blankLooks.ReplaceAllString(readFile(t, tt.file, tt.text), ""); got != tt.want {
			t.Errorf("%s: the sheet tells\n%s\nnot\n%s", name, got, tt.want)
		}
	}
}
