package intake_test

import (
	"slices"
	"strings"
	"testing"

	"tussock/internal/intake"
)

// TestLinkedTables reads tables that point at one another by numbers of their own, as databases write them out. The layout is
// the textbook one of primary and foreign keys (common practice, no source); the nests are invented.
func TestLinkedTables(t *testing.T) {
	file := func(name, data string) intake.File { return intake.File{Name: name, Data: []byte(data)} }
	cover := file("covers.csv", "id,label\n1,bunchgrass\n2,yucca\n")
	lines := file("transects.csv", "id,pasture,code\n31,North,N1\n32,South,S1\n")
	nests := file("nests.csv", "id,transect_id,number,cover_id,set_at,deleted\n900,31,1,1,2025-05-01,f\n901,31,2,2,2025-05-01,f\n902,32,1,2,2025-05-02,f\n903,32,2,2,2025-05-02,t\n")
	visits := file("visits.csv", "id,nest_id,visited_at,outcome\n5,902,2025-05-16,taken\n6,900,2025-05-15,intact\n7,901,2025-05-15,intact\n8,900,2025-05-29,intact\n9,901,2025-05-29,taken\n")
	want := []string{"N1-1 bunchgrass: intact@14 intact@28", "N1-2 yucca: intact@14 taken@28", "S1-1 yucca: taken@14"}
	tests := []struct {
		name  string
		files []intake.File
	}{
		{"keys named id", []intake.File{cover, lines, nests, visits}},
		{"in another order", []intake.File{visits, nests, lines, cover}},
		{"keys named alike", []intake.File{
			file("lkpCover.csv", "COV_CD,COV_DESC\n1,Bunchgrass\n2,Yucca\n"),
			file("tblNest.csv", "NEST_UID,UNIT,TRANS_NO,NEST_NO,COV_CD,SET_DT\n900,North,N1,1,1,2025-05-01\n901,North,N1,2,2,2025-05-01\n902,South,S1,1,2,2025-05-02\n"),
			file("tblVisit.csv", "VISIT_UID,NEST_UID,VISIT_DT,FATE\n6,900,2025-05-15,intact\n7,901,2025-05-15,intact\n5,902,2025-05-16,taken\n8,900,2025-05-29,intact\n9,901,2025-05-29,taken\n"),
		}},
		{"placing told as a visit", []intake.File{
			file("nests.csv", "NEST_KEY,TRANSECT,NEST_NO,COVER\n900,N1,1,bunchgrass\n901,N1,2,yucca\n902,S1,1,yucca\n"),
			file("visits.csv", "VISIT_KEY,NEST_KEY,VISIT_TYPE,VISIT_DATE,STATUS\n1,900,P,2025-05-01,\n2,901,P,2025-05-01,\n3,902,P,2025-05-02,\n6,900,C,2025-05-15,intact\n7,901,C,2025-05-15,intact\n5,902,C,2025-05-16,taken\n8,900,C,2025-05-29,intact\n9,901,C,2025-05-29,taken\n"),
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			res := mustRead(t, tt.files, intake.Options{Ranch: "R", Today: today})
			lines := nestLines(res)
			slices.Sort(lines)
			if got := strings.Join(lines, "\n"); got != strings.Join(want, "\n") {
				t.Errorf("nests:\n%s\nwant:\n%s\nrefused: %v\nasked: %v", got, strings.Join(want, "\n"), res.Refused, res.Questions)
			}
		})
	}
}

// TestLaterTable reads a second table of the same nests as a later look at them, and lets nests wait where several
// stand twice in one.
func TestLaterTable(t *testing.T) {
	first := intake.File{Name: "first.csv", Data: []byte("line,nest,cover,set,looked,found\nA,1,yucca,2025-05-01,2025-05-15,ok\nA,2,yucca,2025-05-01,2025-05-15,gone\n")}
	second := intake.File{Name: "second.csv", Data: []byte("line,nest,cover,set,looked,found\nA,1,yucca,2025-05-01,2025-05-29,ok\n")}
	res := mustRead(t, []intake.File{first, second}, intake.Options{Ranch: "R", Today: today})
	if got := strings.Join(nestLines(res), "; "); got != "A-1 yucca: intact@14 intact@28; A-2 yucca: taken@14" {
		t.Errorf("nests: %s", got)
	}
	first.Data = append(first.Data, []byte("A,1,yucca,2025-05-03,2025-05-17,gone\nA,2,yucca,2025-05-03,2025-05-17,ok\nA,3,yucca,2025-05-03,2025-05-17,ok\nA,4,yucca,2025-05-03,2025-05-17,ok\nA,5,yucca,2025-05-03,2025-05-17,ok\nA,5,yucca,2025-05-04,2025-05-17,gone\n")...)
	res = mustRead(t, []intake.File{first}, intake.Options{Ranch: "R", Today: today})
	for _, n := range res.Data.Nests {
		if n.Number == "1" || n.Number == "2" || n.Number == "5" {
			t.Errorf("a nest counts (%v) while nobody knows which of its rows is right", n)
		}
	}
}
