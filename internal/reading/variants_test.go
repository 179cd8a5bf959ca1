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
	} {
		if got := blankLooks.ReplaceAllString(readFile(t, tt.file, tt.text), ""); got != tt.want {
			t.Errorf("%s: the sheet tells\n%s\nnot\n%s", name, got, tt.want)
		}
	}
}
