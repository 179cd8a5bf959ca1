package intake_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/survey"
)

// TestReadOtherwise reads sheets whose headings alone make no season, or that say one thing in a way easily taken for another.
func TestReadOtherwise(t *testing.T) {
	const looks = "5/4/2025,5/18/2025,ok,6/1/2025"
	for name, tt := range map[string]struct {
		files map[string]string
		want  string // of the nests, in order
		note  string // the kind of what the sender is told
	}{
		"a place that tells lines apart": {
			files: map[string]string{"eggs.csv": "where,nest,put in,date out,2 wk look,found,4 wk look,found\nwindmill,1,grass," + looks + ",ok\n\",2,yucca," + looks + ",eaten\n\",3,grass," + looks + ",ok\n\",4,yucca," + looks + ",ok\ncreek,1,grass," + looks + ",eaten\n\",2,yucca," + looks + ",ok\n\",3,grass," + looks + ",eaten\n\",4,yucca," + looks + ",eaten\nhorse trap,1,grass," + looks + ",ok\n\",2,yucca," + looks + ",ok\n"},
			want:  "windmill 1 bunchgrass ii, windmill 2 yucca it, windmill 3 bunchgrass ii, windmill 4 yucca ii, creek 1 bunchgrass it, creek 2 yucca ii, creek 3 bunchgrass it, creek 4 yucca it, horse trap 1 bunchgrass ii, horse trap 2 yucca ii",
			note:  "taken-for",
		},
		"who took it is no look": {
			files: map[string]string{"eggs.csv": "Line,Nest,Cover,Set,14 day,28 day,who/what\nE,1,grass,5/20/2025,good,gone,raccoon\nE,2,yucca,5/20/2025,good,good,\nE,3,grass,5/20/2025,good,gone,skunk\nE,4,yucca,5/20/2025,good,gone,coyote\nE,5,grass,5/20/2025,good,gone,crow\n"},
			want:  "E 1 bunchgrass it, E 2 yucca ii, E 3 bunchgrass it, E 4 yucca it, E 5 bunchgrass it",
		},
		"ditto marks below a finished nest": {
			files: map[string]string{"eggs.csv": "Line,Nest,Cover,Set,2 wk,found,4 wk,found\nN,1,grass,5/10/2025,5/24/2025,ok,6/7/2025,ok\nN,2,grass,5/10/2025,5/24/2025,ok,6/7/2025,ok\nF,1,grass,5/12/2025,5/26/2025,eaten,6/9/2025,--\nF,2,yucca,\",\",ok,\",eaten\n"},
			want:  "N 1 bunchgrass ii, N 2 bunchgrass ii, F 1 bunchgrass t, F 2 yucca it 2025-06-09",
		},
		"measures beside the nests": {
			files: map[string]string{"eggs.csv": "Line,Item,Garnet,Plant,Date out,Date 1,Found 1\nA,1,18.5,grass,5/10/2025,5/24/2025,ok\nA,2,17.2,yucca,5/10/2025,5/24/2025,ok\nA,3,21.1,grass,5/10/2025,5/24/2025,eaten\nA,4,19.8,yucca,5/10/2025,5/24/2025,ok\n"},
			want:  "A 1 bunchgrass i, A 2 yucca i, A 3 bunchgrass t, A 4 yucca i",
		},
		"last seen and last checked, in days of the year": {
			files: map[string]string{"nests 2023.csv": "NestID,Transect,Year,Cover,SetDOY,LastActiveDOY,LastCheckDOY,Fate\nB1-01,B1,2023,bunchgrass,140,153,160,depredated\nB1-02,B1,2023,yucca,140,168,168,survived\nB1-03,B1,2023,bunchgrass,140,160,168,trampled\nB1-04,B1,2023,yucca,140,168,168,survived\n"},
			want:  "B1 01 bunchgrass it 2023-06-09, B1 02 yucca i 2023-06-17, B1 03 bunchgrass ix 2023-06-17, B1 04 yucca i 2023-06-17",
		},
		"lines called T-1": {
			files: map[string]string{"nidos.csv": "transecto;nido;sustrato;altura_cm;fecha_colocado;revision;fecha_revision;estado\nT-1;1;macollo;36,2;27-may-25;1;9-jun-25;intacto\nT-1;2;palmilla;50,4;27-may-25;1;9-jun-25;depredado\nT-1;3;macollo;86,0;27-may-25;1;9-jun-25;intacto\nT-2;1;macollo;41,1;27-may-25;1;9-jun-25;intacto\nT-2;2;palmilla;60,0;27-may-25;1;9-jun-25;intacto\n"},
			want:  "T-1 1 bunchgrass i, T-1 2 yucca t, T-1 3 bunchgrass i, T-2 1 bunchgrass i, T-2 2 yucca i",
		},
	} {
		var files []intake.File
		for name, text := range tt.files {
			files = append(files, intake.File{Name: name, Data: []byte(text)})
		}
		res, err := intake.Read(files, intake.Options{Ranch: "Test", Season: 2025, Today: survey.DateOf(2026, 11, 30)})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var got []string
		for i := range res.Data.Nests {
			n := &res.Data.Nests[i]
			s := fmt.Sprintf("%s %s %s ", n.Transect, strings.TrimPrefix(n.Number, n.Transect+"-"), n.Substrate)
			for _, v := range n.Visits {
				s += map[survey.State]string{survey.Intact: "i", survey.Taken: "t", survey.Trampled: "x"}[v.State]
			}
			got = append(got, s+" "+n.Visits[len(n.Visits)-1].On.String())
		}
		for i, want := range strings.Split(tt.want, ", ") {
			if i >= len(got) || !strings.HasPrefix(got[i], want) {
				t.Errorf("%s: got %q, want %q; refused %v; questions %v", name, got, tt.want, res.Refused, res.Questions)
				break
			}
		}
		if tt.note != "" && !slices.ContainsFunc(res.Tidied, func(n inquiry.Tidied) bool { return n.Kind == tt.note }) {
			t.Errorf("%s: nothing tells the sender: %v", name, res.Tidied)
		}
	}
}
