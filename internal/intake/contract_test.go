package intake_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	encodingcsv "encoding/csv"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/survey"
)

var monthsFrom = map[int]time.Month{4: time.April, 5: time.May, 6: time.June}

// TestForms reads the same season in the forms a sheet may take.
func TestForms(t *testing.T) {
	checks := "ranch,transect,nest,checked_on,state\n"
	named := func(name, data string) intake.File { return intake.File{Name: name, Data: []byte(data)} }
	tests := []struct {
		name  string
		files []intake.File
		opt   intake.Options
		want  []string
	}{
		{"pairs", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,2025-05-29,taken"), intake.Options{}, []string{"A-1 yucca: intact@14 taken@28"}},
		{"three pairs", csv("ranch,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2,check3_on,check3\nR,A,1,yucca,2025-05-01,2025-05-15,intact,2025-05-29,intact,2025-06-05,taken\n"), intake.Options{}, []string{"A-1 yucca: intact@14 intact@28 taken@35"}},
		{"nests and checks", []intake.File{named("n.csv", "ranch,transect,nest,substrate,set_on\nR,A,1,yucca,2025-05-01\n"), named("c.csv", checks+"R,A,1,2025-05-29,taken\nR,A,1,2025-05-15,intact\n")}, intake.Options{}, []string{"A-1 yucca: intact@14 taken@28"}},
		{"checks before nests", []intake.File{named("c.csv", checks+"R,A,1,2025-05-29,taken\nR,A,1,2025-05-15,intact\n"), named("n.csv", "ranch,transect,nest,substrate,set_on\nR,A,1,yucca,2025-05-01\n")}, intake.Options{}, []string{"A-1 yucca: intact@14 taken@28"}},
		{"checks alone, in any order", csv("ranch,transect,nest,substrate,set_on,checked_on,state\nR,A,2,yucca,2025-05-01,2025-05-29,lost\nR,A,1,yucca,2025-05-01,2025-05-29,taken\nR,A,2,yucca,2025-05-01,2025-05-15,intact\nR,A,1,yucca,2025-05-01,2025-05-15,intact\n"), intake.Options{}, []string{"A-2 yucca: intact@14 lost@28", "A-1 yucca: intact@14 taken@28"}},
		{"one row a look", csv("season,ranch,pasture,line,stop,cover,set_on,look,looked_on,found\n2025,R,North,A,1,bunchgrass,2025-05-01,1,2025-05-15,all here\n2025,R,North,A,1,,,2,2025-05-29,all lost\n2025,R,North,A,2,yucca,2025-05-01,1,2025-05-15,all here\n2025,R,North,A,2,,,2,2025-05-29,all here\n2025,R,North,A,3,yucca,2025-05-01,1,2025-05-15,cow\n"), intake.Options{},
			[]string{"A-1 bunchgrass: intact@14 taken@28", "A-2 yucca: intact@14 intact@28", "A-3 yucca: trampled@14"}},
		{"one nest, one row a look", csv("season,ranch,pasture,line,stop,cover,set_on,look,looked_on,found\n2025,R,North,A,1,bunchgrass,2025-05-01,1,2025-05-15,all here\n2025,R,North,A,1,,,2,2025-05-29,all lost\n"), intake.Options{}, []string{"A-1 bunchgrass: intact@14 taken@28"}},
		{"Spanish", csv("temporada;rancho;potrero;línea;nido;cobertura;puesto el;revisado el;encontró\n2025;R;Norte;A;1;nopal;2025-05-01;15 mayo 2025;completo\n2025;R;Norte;A;1;nopal;2025-05-01;29 mayo 2025;no se halló\n2025;R;Norte;A;2;nopal;2025-05-01;15 mayo 2025;completo\n2025;R;Norte;A;2;nopal;2025-05-01;29 mayo 2025;comido\n2025;R;Norte;A;3;zacate;2025-05-01;15 mayo 2025;pisado\n"), intake.Options{},
			[]string{"A-1 prickly pear: intact@14 lost@28", "A-2 prickly pear: intact@14 taken@28", "A-3 bunchgrass: trampled@14"}},
		{"one nest in Spanish", csv("temporada;rancho;potrero;línea;nido;cobertura;puesto el;revisado el;encontró\n2025;R;Norte;A;1;nopal;2025-05-01;15 mayo 2025;completo\n2025;R;Norte;A;1;nopal;2025-05-01;29 mayo 2025;no se halló\n"), intake.Options{}, []string{"A-1 prickly pear: intact@14 lost@28"}},
		{"headings in any dress", csv("RANCH,Transect #,Nest No.,Sub-strate,SET ON,Check 1 On,CHECK-1\nR,A,1,yucca,2025-05-01,2025-05-15,Intact\n"), intake.Options{}, []string{"A-1 yucca: intact@14"}},
		{"the ranch comes with the upload", csv("transect,nest,substrate,set_on,check1_on,check1\nA,1,yucca,2025-05-01,2025-05-15,intact\n"), intake.Options{Ranch: "R"}, []string{"A-1 yucca: intact@14"}},
		{"leading zeros and names", sheetOf("R,007,01,yucca,2025-05-01,2025-05-15,intact,,", "R,creek bend,1,yucca,2025-05-01,2025-05-15,intact,,"), intake.Options{}, []string{"007-01 yucca: intact@14", "creek bend-1 yucca: intact@14"}},
		{"one line and nest, however spelled", csv("ranch,transect,nest,substrate,set_on,checked_on,state\nR,1,1,yucca,2025-05-01,2025-05-15,intact\nR,Line 01,#1,yucca,2025-05-01,2025-05-29,taken\nR,１,02,yucca,2025-05-01,2025-05-15,intact\n"), intake.Options{}, []string{"1-1 yucca: intact@14 taken@28", "1-02 yucca: intact@14"}},
		{"a number as spreadsheet programs write it is no line and nest", sheetOf("R,Line 1,1.0,yucca,2025-05-01,2025-05-15,intact,,", "R,Line 1,2.0,yucca,2025-05-01,2025-05-15,intact,,"), intake.Options{}, []string{"1-1 yucca: intact@14", "1-2 yucca: intact@14"}},
		{"lost and found again", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,lost,2025-05-29,intact"), intake.Options{}, []string{"A-1 yucca: lost@14"}},
		{"lost, then taken", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,lost,2025-05-29,taken"), intake.Options{}, []string{"A-1 yucca: lost@14"}},
		{"taken twice", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,taken,2025-05-29,taken"), intake.Options{}, []string{"A-1 yucca: taken@14"}},
		{"a check on the day of setting", sheetOf("R,A,1,yucca,2025-05-01,2025-05-01,intact,2025-05-29,taken"), intake.Options{}, []string{"A-1 yucca: intact@0 taken@28"}},
		{"two looks on one day", csv("ranch,transect,nest,substrate,set_on,checked_on,state\nR,A,1,yucca,2025-05-01,2025-05-15,intact\nR,A,1,yucca,2025-05-01,2025-05-15,intact\n"), intake.Options{}, []string{"A-1 yucca: intact@14"}},
		{"a check after day 28", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,2025-07-01,intact"), intake.Options{}, []string{"A-1 yucca: intact@14 intact@61"}},
		{"not checked, in words", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,not checked,2025-05-29,ok"), intake.Options{}, []string{"A-1 yucca: intact@28"}},
		{"no check yet", csv("ranch,transect,nest,substrate,set_on\nR,A,1,yucca,2025-05-01\n"), intake.Options{}, []string{"A-1 yucca:"}},
		{"the second check still to come", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "R,A,2,yucca,2025-05-01,2025-05-15,taken,,"), intake.Options{}, []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"}},
		{"other causes", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,cow stepped on it,,", "R,A,2,yucca,2025-05-01,2025-05-15,rained out,,", "R,A,3,yucca,2025-05-01,2025-05-15,burst,,"), intake.Options{}, []string{"A-1 yucca: trampled@14", "A-2 yucca: flooded@14", "A-3 yucca: spoiled@14"}},
		{"the other rule about eggs left", csv("ranch,transect,nest,substrate,set_on,check1_on,check1,eggs_left\nR,A,1,yucca,2025-05-01,2025-05-15,taken,2\nR,A,2,yucca,2025-05-01,2025-05-15,taken,0\n"), intake.Options{PartLossIntact: true}, []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"}},
		{"the usual rule about eggs left", csv("ranch,transect,nest,substrate,set_on,check1_on,check1,eggs_left\nR,A,1,yucca,2025-05-01,2025-05-15,intact,2\n"), intake.Options{}, []string{"A-1 yucca: taken@14"}},
		{"words settled before", sheetOf("R,A,1,tasajillo,2025-05-01,2025-05-15,wiffled,,"), intake.Options{Words: map[string]string{"substrate/tasajillo": "shrub", "state/wiffled": "taken"}}, []string{"A-1 shrub: taken@14"}},
		{"day first as the upload says", sheetOf("R,A,1,yucca,01/05/2025,09/05/2025,intact,,"), intake.Options{DateOrder: "day"}, []string{"A-1 yucca: intact@8"}},
		{"month first by default", sheetOf("R,A,1,yucca,05/01/2025,05/09/2025,intact,,"), intake.Options{}, []string{"A-1 yucca: intact@8"}},
		{"a check's date in its heading", csv("ranch,line,nest,cover,set on,Check 1 (5/15),Check 2 (5/29)\nR,A,1,yucca,2025-05-01,ok,gone\n"), intake.Options{}, []string{"A-1 yucca: intact@14 taken@28"}},
		{"weeks with dates of their own", csv("ranch,line,nest,cover,set on,week 2 date,week 2,week 4\nR,A,1,yucca,2025-05-01,2025-05-16,ok,gone\n"), intake.Options{}, []string{"A-1 yucca: intact@15 taken@28"}},
		{"a season over two sheets", append(sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,"), named("b.csv", "ranch,transect,nest,substrate,set_on,check1_on,check1\nR,B,1,yucca,2024-05-01,2024-05-15,taken\n")), intake.Options{}, []string{"A-1 yucca: intact@14", "B-1 yucca: taken@14"}},
		{"a date without a year below dates with one", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "R,A,2,yucca,May 1,5/15,intact,,"), intake.Options{}, []string{"A-1 yucca: intact@14", "A-2 yucca: intact@14"}},
		{"CRLF, byte order mark, spaces", csv("\ufeffranch , transect,nest,substrate,set_on,check1_on,check1\r\n R ,A,1, prickly  pear ,2025-05-01,2025-05-15, ok \r\n"), intake.Options{}, []string{"A-1 prickly pear: intact@14"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.opt.Today = today
			res := mustRead(t, tt.files, tt.opt)
			got := nestLines(res)
			if strings.Join(got, "\n") != strings.Join(tt.want, "\n") {
				t.Errorf("nests:\n%s\nwant:\n%s\nrefused: %v", strings.Join(got, "\n"), strings.Join(tt.want, "\n"), res.Refused)
			}
			if len(res.Refused) > 0 || len(res.NotUsed) > 0 {
				t.Errorf("refused %v, not used %v", res.Refused, res.NotUsed)
			}
		})
	}
}

func TestRefusedRows(t *testing.T) {
	tests := []struct {
		name  string
		files []intake.File
		want  inquiry.Problem // Problem is a piece of the sentence
	}{
		{"blank nest", sheetOf("R,A,,yucca,2025-05-01,2025-05-15,intact,,"), inquiry.Problem{Row: 2, Column: "nest", Problem: "has no number"}},
		{"blank set_on", sheetOf("R,A,1,yucca,,2025-05-15,intact,,"), inquiry.Problem{Row: 2, Column: "set_on", Problem: "not written down"}},
		{"blank substrate", sheetOf("R,A,1,,2025-05-01,2025-05-15,intact,,"), inquiry.Problem{Row: 2, Column: "substrate", Problem: "not written down"}},
		{"a date that is none", sheetOf("R,A,1,yucca,2025-02-30,2025-05-15,intact,,"), inquiry.Problem{Row: 2, Column: "set_on", Value: "2025-02-30", Problem: "could not read"}},
		{"a state nobody knows", sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,wiffled,,"), inquiry.Problem{Row: 2, Column: "check1", Value: "wiffled", Problem: "is not a state we know"}},
		{"a check without a day", sheetOf("R,A,1,yucca,2025-05-01,,taken,,"), inquiry.Problem{Row: 2, Column: "check1_on", Problem: "not written down"}},
		{"a season without a year", csv("ranch,season,transect,nest,substrate,set_on\nR,spring,A,1,yucca,2025-05-01\n"), inquiry.Problem{Row: 2, Column: "season", Value: "spring", Problem: "no year"}},
		{"a belt of no width", csv("ranch,season,transect,length,length_unit,width,width_unit,count_bunchgrass\nR,2025,A,100,ft,0,ft,3\n"), inquiry.Problem{Row: 2, Column: "width", Value: "0", Problem: "above 0"}},
		{"a unit nobody knows", csv("ranch,season,transect,length,length_unit,width,width_unit,count_bunchgrass\nR,2025,A,100,rods,6,ft,3\n"), inquiry.Problem{Row: 2, Column: "length_unit", Value: "rods", Problem: "not a unit"}},
		{"half a clump", csv("ranch,season,transect,length,length_unit,width,width_unit,count_bunchgrass\nR,2025,A,100,ft,6,ft,3.5\n"), inquiry.Problem{Row: 2, Column: "count_bunchgrass", Value: "3.5", Problem: "whole number"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			res := mustRead(t, tt.files, intake.Options{Today: today})
			if len(res.Refused) != 1 {
				t.Fatalf("refused %v, want one", res.Refused)
			}
			got := res.Refused[0]
			if got.File != "nests.csv" || got.Row != tt.want.Row || got.Column != tt.want.Column || got.Value != tt.want.Value || !strings.Contains(got.Problem, tt.want.Problem) {
				t.Errorf("got %+v, want %+v", got, tt.want)
			}
		})
	}
}

// TestAskedNotRefused reads what was refused row by row before it was asked about once.
func TestAskedNotRefused(t *testing.T) {
	for _, tt := range []struct {
		name, kind, says, answer string
		files                    []intake.File
		want, then               string
	}{
		{"no ranch", "ranch", "Which ranch are these nests of?", "one", csv("transect,nest,substrate,set_on,check1_on,check1\nA,1,yucca,2025-05-01,2025-05-15,intact\n"), "A-1 yucca: intact@14", "A-1 yucca: intact@14"},
		{"no transect column", "other", "Were they all on one line?", "wait", csv("ranch,nest,substrate,set_on,check1_on,check1\nR,1,yucca,2025-05-01,2025-05-15,intact\n"), "1-1 yucca: intact@14", ""},
		{"blank transect", "other", "Were they all on one line?", "wait", sheetOf("R,,1,yucca,2025-05-01,2025-05-15,intact,,"), "1-1 yucca: intact@14", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			res := mustRead(t, tt.files, intake.Options{Today: today})
			if len(res.Questions) != 1 || res.Questions[0].Kind != tt.kind || !strings.Contains(res.Questions[0].Text, tt.says) || len(res.Refused) != 0 {
				t.Fatalf("questions %+v, refused %v", res.Questions, res.Refused)
			}
			if got := strings.Join(nestLines(res), "\n"); got != tt.want {
				t.Errorf("got %s, want %s", got, tt.want)
			}
			res = mustRead(t, tt.files, intake.Options{Today: today, Answers: map[string]string{res.Questions[0].ID: tt.answer}})
			if got := strings.Join(nestLines(res), "\n"); got != tt.then || len(res.Questions) != 0 || tt.then == "" && len(res.Refused) != 1 {
				t.Errorf("after %s: got %s, want %s; refused %v", tt.answer, got, tt.then, res.Refused)
			}
		})
	}
}

func TestBelts(t *testing.T) {
	head := "ranch,season,transect,length,length_unit,width,width_unit,step_length,count_bunchgrass,count_prickly_pear,count_sand_sagebrush\n"
	tests := []struct {
		name, row     string
		length, width float64 // feet, from the international foot of 0.3048 m
	}{
		{"feet", "R,2025,A,300,ft,6,ft,,17,4,2", 300, 6},
		{"yards and inches", "R,2025,A,100,yd,72,in,,17,4,2", 300, 6},
		{"metres", "R,2025,A,91.44,m,1.8288,m,,17,4,2", 300, 6},
		{"steps", "R,2025,A,120,steps,6,ft,2.5,17,4,2", 300, 6},
		{"units in the cells", "R,2025,A,300 ft,,6',,,17,4,2", 300, 6},
		{"thousands", "R,2025,A,\"1,200\",ft,6,ft,,17,4,2", 1200, 6},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			res := mustRead(t, csv(head+tt.row+"\n"), intake.Options{Today: today})
			if len(res.Data.Belts) != 1 {
				t.Fatalf("%d belts; refused %v", len(res.Data.Belts), res.Refused)
			}
			b := res.Data.Belts[0]
			if math.Abs(b.LengthFt-tt.length) > 1e-9 || math.Abs(b.WidthFt-tt.width) > 1e-9 {
				t.Errorf("%v × %v ft, want %v × %v", b.LengthFt, b.WidthFt, tt.length, tt.width)
			}
			if b.Counts[survey.Bunchgrass] != 17 || b.Counts[survey.PricklyPear] != 4 || b.Counts["sand sagebrush"]+b.Counts[survey.Shrub] != 2 {
				t.Errorf("counts = %v", b.Counts)
			}
		})
	}
	res := mustRead(t, csv("rancho;temporada;línea;largo;unidad de largo;ancho;unidad de ancho;conteo_zacate\nR;2025;A;91,44;m;1,8288;m;17\n"), intake.Options{})
	if len(res.Data.Belts) != 1 || math.Abs(res.Data.Belts[0].LengthFt-300) > 1e-9 || res.Data.Belts[0].Counts[survey.Bunchgrass] != 17 {
		t.Errorf("Spanish with decimal commas: %+v, refused %v", res.Data.Belts, res.Refused)
	}
}

func TestNotUsed(t *testing.T) {
	res := mustRead(t, csv("ranch,transect,nest,substrate,set_on,weather,owner\nR,A,1,yucca,2025-05-01,dry,Ann\nR,A,2,yucca,2025-05-01,dry,Ann\n"), intake.Options{})
	want := "The column “weather” was not used. The column “owner” was not used."
	if got := asides(res); got != want || len(res.Refused) != 0 || len(res.Data.Nests) != 2 {
		t.Errorf("got %q and %d nests, want %q and 2", got, len(res.Data.Nests), want)
	}
}

// asides joins the reasons for which cells became nothing.
func asides(res *intake.Result) string {
	var texts []string
	for _, a := range res.NotUsed {
		texts = append(texts, a.Text)
	}
	return strings.Join(texts, " ")
}

func TestSites(t *testing.T) {
	res := mustRead(t, csv("ranch,site,owner,region,site_type,area,area_unit\nR,,Ann LLC,upper,sandy,640,acre\nR,North,,upper,loamy,100,ha\n"), intake.Options{})
	if len(res.Data.Sites) != 2 || len(res.Refused) != 0 {
		t.Fatalf("%d sites, refused %v", len(res.Data.Sites), res.Refused)
	}
	if s := res.Data.Sites[0]; s.Ranch != "R" || s.Name != "" || s.Owner != "Ann LLC" || s.Region != "upper" || s.Type != "sandy" || s.Acres != 640 {
		t.Errorf("first site = %+v", s)
	}
	// A name that reads like a cover misspelled ("bunches") stays a name.
	res = mustRead(t, csv("ranch,site,owner,region,site_type,area,area_unit\nR,Home,Ann LLC,Chalk Benches,loamy,640,acre\n"), intake.Options{})
	if len(res.Data.Sites) != 1 || res.Data.Sites[0].Region != "Chalk Benches" {
		t.Errorf("names like covers: got %+v", res.Data.Sites)
	}
}

func TestBadFileBesideAGood(t *testing.T) {
	files := append(sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,"), intake.File{Name: "photo.jpg", Data: []byte("\xff\xd8\xff\xe0")})
	res := mustRead(t, files, intake.Options{})
	if len(res.Data.Nests) != 1 || len(res.Refused) != 1 || res.Refused[0].File != "photo.jpg" || res.Refused[0].Row != 0 {
		t.Errorf("%d nests, refused %v; want the nest read and the picture refused", len(res.Data.Nests), res.Refused)
	}
}

func TestSentences(t *testing.T) {
	res := mustRead(t, sheetOf("R,A,1,yucca,2025-04-28,2025-05-12,ok,2025-05-26,gone"), intake.Options{})
	want := "Nest 1 on line A, in yucca, set April 28, 2025: eggs all there on May 12, 2025, taken by May 26, 2025."
	if len(res.Sentences) != 1 || res.Sentences[0] != want {
		t.Errorf("got %q, want %q", res.Sentences, want)
	}
}

func TestWorkbookWithDates1904(t *testing.T) {
	files := xlsx(t, func(f *excelize.File) {
		yes := true
		f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes})
		table(f, "Sheet1", [][]any{
			{"ranch", "transect", "nest", "substrate", "set_on", "check1_on", "check1"},
			{"R", "A", 1, "yucca", 43953, 43967, "intact"}, // 3 and 17 May 2024 in the 1904 system
		})
	})
	res := mustRead(t, files, intake.Options{})
	if len(res.Data.Nests) != 1 || res.Data.Nests[0].SetOn != survey.DateOf(2024, time.May, 3) || res.Data.Nests[0].Season != 2024 ||
		len(res.Data.Nests[0].Visits) != 1 || res.Data.Nests[0].Visits[0].On != survey.DateOf(2024, time.May, 17) {
		t.Errorf("got %+v, refused %v", res.Data.Nests, res.Refused)
	}
}

// TestRoundTrip writes any season as CSV and reads the same season back.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.Custom(season).Draw(t, "season")
		var b bytes.Buffer
		w := encodingcsv.NewWriter(&b)
		w.Comma = rapid.SampledFrom([]rune{',', ';', '\t'}).Draw(t, "delimiter")
		w.Write([]string{"ranch", "site", "season", "transect", "nest", "substrate", "set_on", "check1_on", "check1", "check2_on", "check2", "notes"})
		for _, n := range want {
			row := []string{n.Ranch, n.Site, fmt.Sprint(n.Season), n.Transect, n.Number, string(n.Substrate), n.SetOn.String(), "", "", "", "", n.Notes}
			for i, v := range n.Visits {
				row[7+2*i], row[8+2*i] = v.On.String(), string(v.State)
			}
			w.Write(row)
		}
		w.Flush()
		res, err := intake.Read([]intake.File{{Name: "n.csv", Data: b.Bytes()}}, intake.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(res.Refused) > 0 || len(res.Data.Nests) != len(want) {
			t.Fatalf("%d nests of %d, refused %v", len(res.Data.Nests), len(want), res.Refused)
		}
		for i, n := range res.Data.Nests {
			if fmt.Sprint(n.Ranch, n.Site, n.Season, n.Transect, n.Number, n.Substrate, n.SetOn, n.Visits, n.Notes) != fmt.Sprint(want[i].Ranch, want[i].Site, want[i].Season, want[i].Transect, want[i].Number, want[i].Substrate, want[i].SetOn, want[i].Visits, want[i].Notes) {
				t.Fatalf("read %+v, want %+v", n, want[i])
			}
		}
	})
}

func season(t *rapid.T) []survey.Nest {
	words := rapid.StringMatching(`[A-Z][a-z]{2,8}( [a-z]{2,6})?`)
	ranch, site := words.Draw(t, "ranch"), rapid.SampledFrom([]string{"", "North", "south 40"}).Draw(t, "site")
	notes := rapid.StringMatching(`([a-z]{1,5}[,;"]? ?){0,3}[a-z]`)
	var out []survey.Nest
	for i := range rapid.IntRange(1, 12).Draw(t, "nests") {
		set := survey.DateOf(2025, time.May, rapid.IntRange(1, 30).Draw(t, "day"))
		n := survey.Nest{
			Ranch: ranch, Site: site, Season: 2025, Transect: fmt.Sprint(i/4 + 1), Number: fmt.Sprint(i%4 + 1), SetOn: set,
			Substrate: rapid.SampledFrom([]survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca, "bare rock"}).Draw(t, "substrate"),
			Notes:     strings.Join(strings.Fields(notes.Draw(t, "notes")), " "),
		}
		first := rapid.SampledFrom(survey.States).Draw(t, "first")
		n.Visits = []survey.Visit{{On: set + 14, State: first}}
		if first == survey.Intact {
			n.Visits = append(n.Visits, survey.Visit{On: set + 28, State: rapid.SampledFrom(survey.States).Draw(t, "second")})
		}
		out = append(out, n)
	}
	return out
}

// checkNest holds a nest to what package survey promises.
func checkNest(t *testing.T, n *survey.Nest) {
	t.Helper()
	if n.Ranch == "" || n.Transect == "" || n.Number == "" || n.Substrate == "" || n.SetOn == 0 || n.Season == 0 {
		t.Fatalf("incomplete nest %+v", n)
	}
	last := n.SetOn
	for i, v := range n.Visits {
		if v.On < last {
			t.Fatalf("visits out of order: %+v", n)
		}
		if i < len(n.Visits)-1 && v.State != survey.Intact {
			t.Fatalf("a visit after the end: %+v", n)
		}
		last = v.On
	}
}

// TestManyAlike asks about a hundred nests in one question. Once each of the first twenty was asked about by itself.
func TestManyAlike(t *testing.T) {
	var rows []string
	for i := range 100 {
		rows = append(rows, fmt.Sprintf("R,A,%d,yucca,2025-05-01,2025-05-15,taken,2025-05-29,intact", i+1))
	}
	res := mustRead(t, sheetOf(rows...), intake.Options{})
	if len(res.Questions) != 1 || len(res.Questions[0].Cells) != 100 {
		t.Fatalf("%d questions, want 1 about 100 cells", len(res.Questions))
	}
	res = mustRead(t, sheetOf(rows...), intake.Options{Answers: map[string]string{res.Questions[0].ID: "first-wrong"}})
	for i := range res.Data.Nests {
		if got := res.Data.Nests[i].Fate(); got != survey.Intact {
			t.Fatalf("after one answer nest %d is %s, want intact", i+1, got)
		}
	}
	if len(res.Questions) != 0 {
		t.Errorf("after the answer %d questions stand", len(res.Questions))
	}
}
