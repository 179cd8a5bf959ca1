package intake_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"tussock/internal/errs"
	"tussock/internal/intake"
	"tussock/internal/survey"
)

var today = survey.DateOf(2025, time.November, 1)

// sheetOf is a table of nests in CSV with the usual headings.
func sheetOf(rows ...string) []intake.File {
	return csv("ranch,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2\n" + strings.Join(rows, "\n") + "\n")
}

func csv(s string) []intake.File { return []intake.File{{Name: "nests.csv", Data: []byte(s)}} }

func xlsx(t testing.TB, fill func(*excelize.File)) []intake.File {
	t.Helper()
	f := excelize.NewFile()
	fill(f)
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return []intake.File{{Name: "nests.xlsx", Data: b.Bytes()}}
}

// table writes rows of cells into a worksheet.
func table(f *excelize.File, sheet string, rows [][]any) {
	if i, _ := f.GetSheetIndex(sheet); i < 0 {
		f.NewSheet(sheet)
	}
	for i, row := range rows {
		f.SetSheetRow(sheet, fmt.Sprintf("A%d", i+1), &row)
	}
}

// nestLines writes each nest as transect-number substrate: states with days after setting.
func nestLines(res *intake.Result) []string {
	var out []string
	for i := range res.Data.Nests {
		n := &res.Data.Nests[i]
		s := fmt.Sprintf("%s-%s %s:", n.Transect, n.Number, n.Substrate)
		for _, v := range n.Visits {
			s += fmt.Sprintf(" %s@%d", v.State, v.On-n.SetOn)
		}
		out = append(out, s)
	}
	return out
}

// A fault is one of the faults that real sheets have, with what must be said and what must come of it, before and
// after the sender has answered or taken the tidying back.
type fault struct {
	name   string
	files  []intake.File
	opt    intake.Options
	kind   string   // of the question, or of the tidied note after "~"; "" where nothing need be said; "!" is refused
	says   string   // a piece of that sentence
	want   []string // the nests by nestLines
	answer string   // then this choice, or "undo"
	then   []string
}

func faults(t testing.TB) []fault {
	return []fault{
		{name: "1 title rows above headings", files: csv("Quail nests 2025!!\nLower place\n" + string(sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,2025-05-29,taken")[0].Data)),
			want: []string{"A-1 yucca: intact@14 taken@28"}}, // what a title says is used or set aside; nothing need be said of its place
		{name: "2 two heading rows", files: csv("ranch,line,nest,cover,set on,Check 1,,Check 2,\n,,,,,date,eggs,date,eggs\nR,A,1,yucca,2025-05-01,2025-05-15,3,2025-05-29,gone\n"),
			kind: "~state", says: "“3” as intact", want: []string{"A-1 yucca: intact@14 taken@28"}},
		{name: "3 merged line cells", files: xlsx(t, func(f *excelize.File) {
			table(f, "Sheet1", [][]any{
				{"ranch", "transect", "nest", "substrate", "set_on", "check1_on", "check1"},
				{"R", "A", 1, "yucca", "2025-05-01", "2025-05-15", "intact"},
				{"R", "", 2, "yucca", "2025-05-01", "2025-05-15", "taken"},
			})
			f.MergeCell("Sheet1", "B2", "B3")
		}), kind: "~merged", says: "filled it down", want: []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"},
			answer: "undo", then: []string{"A-1 yucca: intact@14"}},
		{name: "4 wide layout headed by dates", files: csv("ranch,line,nest,cover,set on,5/15/25,5/29/25\nR,A,1,yucca,5/1/25,ok,gone\n"),
			kind: "~state", says: "“gone” as taken", want: []string{"A-1 yucca: intact@14 taken@28"}},
		{name: "5 several tabs, one of them old", files: xlsx(t, func(f *excelize.File) {
			head := []any{"ranch", "transect", "nest", "substrate", "set_on", "check1_on", "check1"}
			table(f, "Sheet1", [][]any{head, {"R", "A", 1, "yucca", "2025-05-01", "2025-05-15", "intact"}})
			table(f, "old", [][]any{head, {"R", "B", 1, "yucca", "2025-05-01", "2025-05-15", "taken"}})
		}), kind: "tab", says: "“old” of nests.xlsx belong to what you are sending? By its name it does not", want: []string{"A-1 yucca: intact@14"}, // by its name; once it was read with the others
			answer: "read", then: []string{"A-1 yucca: intact@14", "B-1 yucca: taken@14"}},
		{name: "5b a tab for each line", files: xlsx(t, func(f *excelize.File) {
			head := []any{"ranch", "nest", "substrate", "set_on", "check1_on", "check1"}
			table(f, "Line A", [][]any{head, {"R", 1, "yucca", "2025-05-01", "2025-05-15", "intact"}})
			table(f, "Line B", [][]any{head, {"R", 1, "yucca", "2025-05-01", "2025-05-15", "taken"}})
			f.DeleteSheet("Sheet1")
		}), kind: "~numbers", says: "on lines A and B are two nests", want: []string{"A-1 yucca: intact@14", "B-1 yucca: taken@14"}},
		{name: "6 hidden rows", files: xlsx(t, func(f *excelize.File) {
			table(f, "Sheet1", [][]any{
				{"ranch", "transect", "nest", "substrate", "set_on", "check1_on", "check1"},
				{"R", "A", 1, "yucca", "2025-05-01", "2025-05-15", "intact"},
				{"R", "A", 2, "yucca", "2025-05-01", "2025-05-15", "taken"},
			})
			f.SetRowVisible("Sheet1", 3, false)
		}), kind: "other", says: "row 3", want: []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"},
			answer: "leave-out", then: []string{"A-1 yucca: intact@14"}},
		{name: "7 total row that agrees", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "R,A,2,yucca,2025-05-01,2025-05-15,taken,,", "TOTAL,,,,,,1,,"),
			want: []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"}}, // set aside; a sum that agrees needs no word
		{name: "8 total row that differs", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "R,A,2,yucca,2025-05-01,2025-05-15,gone?,,", "Total,,,,,,2,,"),
			kind: "~total", says: "The sheet says 2 still there under “check1”; its marks say 1", want: []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"}},
		{name: "8b intact row that differs", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "R,A,2,yucca,2025-05-01,2025-05-15,gone?,,", "Total intact,,,,,,2,,"),
			kind: "~total", says: "The sheet says 2 still there under “check1”; its marks say 1", want: []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"}},
		{name: "9 a blank cover below a filled one", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "R,A,2,,2025-05-01,2025-05-15,taken,,"),
			kind: "ditto", says: "same as above, or not written down", want: []string{"A-1 yucca: intact@14"},
			answer: "same", then: []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"}},
		{name: "9b ditto marks", files: csv("ranch\ttransect\tnest\tsubstrate\tset_on\tcheck1_on\tcheck1\nR\tA\t1\tyucca\t2025-05-01\t2025-05-15\tintact\nR\tditto\t2\t”\t2025-05-01\t2025-05-15\ttaken\n"),
			kind: "~ditto", says: "same as above", want: []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"},
			answer: "undo", then: []string{"A-1 yucca: intact@14"}},
		{name: "10 numbers begin again on each line", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "R,B,1,yucca,2025-05-01,2025-05-15,taken,,"),
			kind: "~numbers", says: "are two nests", want: []string{"A-1 yucca: intact@14", "B-1 yucca: taken@14"}},
		{name: "11 the same nest twice", files: sheetOf("R,B,4,yucca,2025-05-01,2025-05-15,intact,,", "R,B,4,shrub,2025-05-01,2025-05-15,taken,,"),
			kind: "other", says: "stands twice: in row 2 and in row 3", want: []string{"B-4 yucca: intact@14"},
			answer: "two", then: []string{"B-4 yucca: intact@14", "B-4 (2) shrub: taken@14"}},
		{name: "11b the same nest looked at twice", files: sheetOf("R,B,4,yucca,2025-05-01,2025-05-15,intact,,", "R,B,4,yucca,2025-05-01,2025-05-29,taken,,"),
			kind: "other", says: "stands twice", want: []string{"B-4 yucca: intact@14"},
			answer: "same", then: []string{"B-4 yucca: intact@14 taken@28"}},
		{name: "11c the same row twice", files: sheetOf("R,B,4,yucca,2025-05-01,2025-05-15,intact,,", "R,B,4,yucca,2025-05-01,2025-05-15,intact,,"),
			kind: "~repeated", says: "word for word", want: []string{"B-4 yucca: intact@14"}},
		{name: "12 checked, never set", files: append(
			csv("ranch,transect,nest,substrate,set_on\nR,C,6,yucca,2025-04-28\n"),
			intake.File{Name: "checks.csv", Data: []byte("ranch,transect,nest,checked_on,state\nR,C,6,2025-05-12,intact\nR,C,7,2025-05-12,intact\n")}),
			kind: "other", says: "Was it set the same day as its line, April 28, 2025?", want: []string{"C-6 yucca: intact@14"},
			answer: "line:yucca", then: []string{"C-6 yucca: intact@14", "C-7 yucca: intact@14"}},
		{name: "13 a date as text", files: sheetOf("R,A,1,yucca,May 1,3 mayo 2025,intact,\"May 29th, 2025\",taken"), opt: intake.Options{Season: 2025},
			kind: "~date-text", says: "“May 1” as “May 1, 2025”", want: []string{"A-1 yucca: intact@2 taken@28"}},
		{name: "14 day or month first", files: sheetOf("R,A,1,yucca,28/4/25,3/5/25,intact,12/5/25,taken"),
			kind: "~day-first", says: "“28/4/25” (row 2) can be nothing else", want: []string{"A-1 yucca: intact@5 taken@14"}},
		{name: "14b both orders in one file", files: sheetOf("R,A,1,yucca,13/05/2025,20/05/2025,intact,,", "R,A,2,yucca,05/13/2025,06/01/2025,intact,,"),
			kind: "date-order", says: "“13/05/2025” (row 2) can only be day/month and “05/13/2025” (row 3) only month/day", want: []string{"A-1 yucca: intact@7"}, // both days of which can be read one way only
			answer: "month", then: []string{"A-1 yucca: intact@7", "A-2 yucca: intact@19"}},
		{name: "14c one order fits, one is before set-out", files: sheetOf("R,A,1,yucca,4/28/24,3/5/24,intact,,"),
			kind: "other", says: "checked on March 5, 2024 but set on April 28, 2024", want: nil,
			answer: "turn", then: []string{"A-1 yucca: intact@5"}},
		{name: "15 a spreadsheet's serial number", files: sheetOf("R,A,1,yucca,45415,45429.5,intact,,"),
			kind: "~serial", says: "such as May 3, 2024 and May 17, 2024", want: []string{"A-1 yucca: intact@14"}, answer: "undo"},
		{name: "15b a number above any clutch is a code", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "R,A,2,yucca,2025-05-01,2025-05-15,9,,"),
			kind: "state", says: "What was found?", want: []string{"A-1 yucca: intact@14"}, answer: "lost", then: []string{"A-1 yucca: intact@14", "A-2 yucca: lost@14"}},
		{name: "16 no year", files: sheetOf("R,A,1,yucca,5/1,5/15,intact,29 May,taken"),
			kind: "year", says: "Which season is it?", want: nil, answer: "2025", then: []string{"A-1 yucca: intact@14 taken@28"}},
		{name: "16b another year than the season", files: csv("ranch,season,transect,nest,substrate,set_on,check1_on,check1\nR,2025,A,1,yucca,2024-10-01,2024-10-15,intact\n"),
			kind: "year", says: "of the season 2025 as the sheet says, and was set on October 1, 2024", want: nil, answer: "days", then: []string{"A-1 yucca: intact@14"}},
		{name: "17 week 2 as a date", files: sheetOf("R,A,1,yucca,2025-05-01,week 2,intact,semana 4,taken"),
			kind: "~week", says: "“week 2” and “semana 4”", want: []string{"A-1 yucca: intact@14 taken@28"}, answer: "undo"},
		{name: "18 check before set-out", files: sheetOf("R,A,3,yucca,2025-04-28,2025-04-20,intact,,"),
			kind: "other", says: "Nest 3 of transect A was checked on April 20, 2025 but set on April 28, 2025. Which day slipped?", want: nil,
			answer: "swap", then: []string{"A-3 yucca: intact@8"}},
		{name: "19 a date to come", files: sheetOf("R,A,1,yucca,2025-05-01,2042-05-15,intact,,"), kind: "!", says: "May 15, 2042 has not come yet. Did a key stick?"},
		{name: "19b a date around 1900", files: sheetOf("R,A,1,yucca,1905-05-01,1905-05-15,intact,,"), kind: "!", says: "May 1, 1905 is before anyone set these nests"},
		{name: "19c a small number", files: sheetOf("R,A,1,yucca,5,2025-05-15,intact,,"), kind: "!", says: "around 1900"},
		{name: "20 the first check late", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-20,intact,,"),
			kind: "~late", says: "we calculate with the real days", want: []string{"A-1 yucca: intact@19"}},
		{name: "21 one line over two days", files: sheetOf("R,B,1,yucca,2025-05-01,2025-05-15,intact,,", "R,B,2,yucca,2025-05-01,2025-05-16,intact,,"),
			want: []string{"B-1 yucca: intact@14", "B-2 yucca: intact@15"}},
		{name: "22 pear, PP, prickly pr, nopal", files: sheetOf("R,A,1,pear,2025-05-01,2025-05-15,intact,,", "R,A,2,PP,2025-05-01,2025-05-15,intact,,", "R,A,3,prickly pr,2025-05-01,2025-05-15,intact,,", "R,A,4,nopal,2025-05-01,2025-05-15,intact,,"),
			kind: "~substrate", says: "“pear”, “PP”, “prickly pr” and “nopal” together as prickly pear",
			want:   []string{"A-1 prickly pear: intact@14", "A-2 prickly pear: intact@14", "A-3 prickly pear: intact@14", "A-4 prickly pear: intact@14"},
			answer: "undo", then: []string{"A-1 pear: intact@14", "A-2 PP: intact@14", "A-3 prickly pr: intact@14", "A-4 nopal: intact@14"}},
		{name: "23 a plant's name for cover", files: sheetOf("R,A,1,Little blue,2025-05-01,2025-05-15,intact,,"),
			kind: "~plant", says: "kept the plant's name too", want: []string{"A-1 bunchgrass: intact@14"}, answer: "undo", then: []string{"A-1 Little blue: intact@14"}},
		{name: "24 an unknown cover", files: sheetOf("R,A,1,tasajillo,2025-05-01,2025-05-15,intact,,", "R,A,2,tasajillo,2025-05-01,2025-05-15,intact,,", "R,A,3,Tasajillo,2025-05-01,2025-05-15,intact,,", "R,A,4,tasajillo,2025-05-01,2025-05-15,intact,,"),
			kind: "substrate", says: "“tasajillo” is new to us", want: []string{"A-1 tasajillo: intact@14", "A-2 tasajillo: intact@14", "A-3 tasajillo: intact@14", "A-4 tasajillo: intact@14"},
			answer: "shrub", then: []string{"A-1 shrub: intact@14", "A-2 shrub: intact@14", "A-3 shrub: intact@14", "A-4 shrub: intact@14"}},
		{name: "24b an unknown cover of few nests", files: sheetOf("R,A,1,tasajillo,2025-05-01,2025-05-15,intact,,", "R,A,2,Tasajillo,2025-05-01,2025-05-15,intact,,"), // said, and no question spent on it
			kind: "~own-cover", says: "a kind of its own", want: []string{"A-1 tasajillo: intact@14", "A-2 tasajillo: intact@14"}},
		{name: "25 ok, I, √ and 3", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,ok,,", "R,A,2,yucca,2025-05-01,2025-05-15,I,,", "R,A,3,yucca,2025-05-01,2025-05-15,√,,", "R,A,4,yucca,2025-05-01,2025-05-15,3,,"),
			kind: "~state", says: "“ok”, “I”, “√” and “3” as intact", want: []string{"A-1 yucca: intact@14", "A-2 yucca: intact@14", "A-3 yucca: intact@14", "A-4 yucca: intact@14"}, answer: "undo"},
		{name: "26 gone, X, hit and ate", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,gone,,", "R,A,2,yucca,2025-05-01,2025-05-15,X,,", "R,A,3,yucca,2025-05-01,2025-05-15,hit,,", "R,A,4,yucca,2025-05-01,2025-05-15,ate,,"),
			kind: "~state", says: "“gone”, “X”, “hit” and “ate” as taken", want: []string{"A-1 yucca: taken@14", "A-2 yucca: taken@14", "A-3 yucca: taken@14", "A-4 yucca: taken@14"}},
		{name: "26b missing has two meanings", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,missing,,"),
			kind: "state", says: "Were the eggs gone, or could the nest not be found again?", want: []string{"A-1 yucca: lost@14"}, answer: "taken", then: []string{"A-1 yucca: taken@14"}},
		{name: "26c a word nobody knows", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,wiffled,,", "R,A,2,yucca,2025-05-01,2025-05-15,ok,,"), // refused as before, and asked about once
			kind: "state", says: "“wiffled” stands under “check1” (row 2). What was found?", want: []string{"A-2 yucca: intact@14"}, answer: "spoiled", then: []string{"A-1 yucca: spoiled@14", "A-2 yucca: intact@14"}},
		{name: "26d a word misspelled", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intcat,,"), kind: "~state", says: "“intcat” as intact", want: []string{"A-1 yucca: intact@14"}},
		{name: "27 0 with two meanings", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,0,,", "R,A,2,yucca,2025-05-01,2025-05-15,ok,,"),
			kind: "zero", says: "“no eggs left” or “no damage”", want: []string{"A-2 yucca: intact@14"}, answer: "taken", then: []string{"A-1 yucca: taken@14", "A-2 yucca: intact@14"}},
		{name: "27b 0 and eggs later", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,0,2025-05-29,intact", "R,A,2,yucca,2025-05-01,2025-05-15,0,2025-05-29,taken"),
			want: []string{"A-1 yucca: intact@14 intact@28", "A-2 yucca: intact@14 taken@28"}},
		{name: "27c 0 among counts of eggs", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,3,2025-05-29,0"), want: []string{"A-1 yucca: intact@14 taken@28"}},
		{name: "27d 0 and 1 once 0 is settled", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,1,2025-05-29,0"), opt: intake.Options{Zero: survey.Taken}, want: []string{"A-1 yucca: intact@14 taken@28"}},
		{name: "28 a blank after a loss", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,taken,,", "R,A,2,yucca,2025-05-01,2025-05-15,intact,2025-05-29,intact"),
			want: []string{"A-1 yucca: taken@14", "A-2 yucca: intact@14 intact@28"}},
		{name: "29 a blank after a good look", files: sheetOf("R,A,6,yucca,2025-05-01,2025-05-15,intact,2025-05-29,", "R,A,2,yucca,2025-05-01,2025-05-15,intact,2025-05-29,intact"),
			kind: "blank", says: "We won't guess", want: []string{"A-6 yucca: intact@14", "A-2 yucca: intact@14 intact@28"},
			answer: "taken", then: []string{"A-6 yucca: intact@14 taken@28", "A-2 yucca: intact@14 intact@28"}},
		{name: "30 back from the dead", files: sheetOf("R,B,2,yucca,2025-05-01,2025-05-15,taken,2025-05-29,intact"),
			kind: "other", says: "Were eggs put back", want: []string{"B-2 yucca: taken@14"}, answer: "swapped", then: []string{"B-2 yucca: intact@14 taken@28"}},
		{name: "31 more eggs than set", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,4,,"),
			kind: "~more-eggs", says: "had 4 eggs, and 3 were set", want: []string{"A-1 yucca: intact@14"}},
		{name: "32 some eggs gone", files: sheetOf("R,C,5,yucca,2025-05-01,2025-05-15,2 of 3,,"),
			kind: "~part-loss", says: "keep the number left", want: []string{"C-5 yucca: taken@14"}, answer: "undo", then: []string{"C-5 yucca: intact@14"}},
		{name: "33 a culprit on an intact nest", files: csv("ranch,transect,nest,substrate,set_on,check1_on,check1,predator\nR,A,9,yucca,2025-05-01,2025-05-15,intact,raccoon\n"),
			kind: "other", says: "Tracks only, or the wrong row?", want: []string{"A-9 yucca: intact@14"}, answer: "taken", then: []string{"A-9 yucca: taken@14"}},
		{name: "34 coon? and two culprits", files: csv("ranch,transect,nest,substrate,set_on,check1_on,check1,predator\nR,A,9,yucca,2025-05-01,2025-05-15,taken,coon?\nR,A,8,yucca,2025-05-01,2025-05-15,taken,skunk/coyote\n"),
			kind: "~guess", says: "“coon?” and “skunk/coyote”: good", want: []string{"A-9 yucca: taken@14", "A-8 yucca: taken@14"}},
		{name: "35 taken without signs", files: csv("ranch,transect,nest,substrate,set_on,check1_on,check1,bits\nR,A,9,yucca,2025-05-01,2025-05-15,taken,\n"),
			kind: "~no-signs", says: "That is fine", want: []string{"A-9 yucca: taken@14"}},
		{name: "36 cows, flood and hail as predators", files: csv("ranch,transect,nest,substrate,set_on,check1_on,check1,predator\nR,A,1,yucca,2025-05-01,2025-05-15,taken,cows\nR,A,2,yucca,2025-05-01,2025-05-15,taken,flood\nR,A,3,yucca,2025-05-01,2025-05-15,taken,hail\n"),
			kind: "~cause", says: "so that no animal is blamed", want: []string{"A-1 yucca: trampled@14", "A-2 yucca: flooded@14", "A-3 yucca: spoiled@14"},
			answer: "undo", then: []string{"A-1 yucca: taken@14", "A-2 yucca: flooded@14", "A-3 yucca: spoiled@14"}},
		{name: "37 colours", files: xlsx(t, func(f *excelize.File) {
			table(f, "Sheet1", [][]any{{"ranch", "transect", "nest", "substrate", "set_on", "check1_on", "check1"}, {"R", "A", 1, "yucca", "2025-05-01", "2025-05-15", "intact"}, {"R", "A", 2, "yucca", "2025-05-01", "2025-05-15", ""}})
			yellow, _ := f.NewStyle(&excelize.Style{Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"FFFF00"}}})
			f.SetCellStyle("Sheet1", "G3", "G3", yellow)
		}), kind: "colour", says: "is yellow", want: []string{"A-1 yucca: intact@14"}, // asked where what was found is painted; a painted number tells nothing
			answer: "taken", then: []string{"A-1 yucca: intact@14", "A-2 yucca: taken@14"}},
		{name: "38 words in a number cell", files: csv("ranch,season,transect,length,length_unit,width,width_unit,count_bunchgrass\nR,2025,A,300,ft,6,ft,12 maybe 13\n"),
			kind: "~count-words", says: "(“12 maybe 13”); we kept the number"},
		{name: "39 steps without a length", files: csv("ranch,season,transect,width,width_unit,count_bunchgrass\nR,2025,A,6,ft,17 in 300 steps\n"),
			kind: "belt", says: "counted in steps, and the length of a step is not written down"},
		{name: "40 density hard to believe", files: csv("ranch,season,transect,length,length_unit,width,width_unit,count_bunchgrass\nR,2025,A,100,ft,6,ft,57\n"),
			kind: "belt", says: "Was the count for the whole belt"},
		{name: "42 another ranch inside", files: sheetOf("R,A,1,yucca,2025-05-01,2025-05-15,intact,,", "Bar J,A,2,yucca,2025-05-01,2025-05-15,intact,,"),
			opt: intake.Options{Ranch: "R", OnlyRanches: []string{"R"}}, kind: "ranch", says: "“Bar J” (row 3), which is not the ranch you are sending for", want: []string{"A-1 yucca: intact@14"}, // asked once, no longer refused row by row
			answer: "mine", then: []string{"A-1 yucca: intact@14", "A-2 yucca: intact@14"}},
		{name: "42b broken accents", files: sheetOf("R,ni√±o,1,yucca,2025-05-01,2025-05-15,intact,,"),
			kind: "~accents", says: "“ni√±o” to “niño”", want: []string{"niño-1 yucca: intact@14"}, answer: "undo", then: []string{"ni√±o-1 yucca: intact@14"}},
	}
}

// TestFaults goes through the faults that real sheets have, by the numbers of the list this project keeps of them.
func TestFaults(t *testing.T) {
	for _, tt := range faults(t) {
		t.Run(tt.name, func(t *testing.T) {
			tt.opt.Today = today
			res := mustRead(t, tt.files, tt.opt)
			id := expectSaid(t, res, tt)
			if got := nestLines(res); strings.Join(got, "\n") != strings.Join(tt.want, "\n") {
				t.Errorf("nests:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(tt.want, "\n"))
			}
			if tt.answer == "" {
				return
			}
			tt.opt.Answers = map[string]string{id: tt.answer}
			if tt.answer == "undo" {
				tt.opt.Answers, tt.opt.Undone = nil, []string{id}
			}
			res = mustRead(t, tt.files, tt.opt)
			if tt.then == nil {
				if len(res.Data.Nests) != 0 || len(res.Refused) == 0 {
					t.Errorf("after %s: %v went through and %d rows are refused; want none through", tt.answer, nestLines(res), len(res.Refused))
				}
				return
			}
			if got := nestLines(res); strings.Join(got, "\n") != strings.Join(tt.then, "\n") {
				t.Errorf("after %s:\n%s\nwant:\n%s", tt.answer, strings.Join(got, "\n"), strings.Join(tt.then, "\n"))
			}
			for _, q := range res.Questions {
				if q.ID == id {
					t.Error("the question stands although it was answered")
				}
			}
		})
	}
}

// said finds the question or note that a fault must earn and returns its ID.
func said(res *intake.Result, f fault) (id string, ok bool) {
	for _, p := range res.Refused {
		if f.kind == "!" && strings.Contains(p.Problem, f.says) {
			return "", true
		}
	}
	for _, q := range res.Questions {
		if q.Kind == f.kind && strings.Contains(q.Text, f.says) {
			return q.ID, true
		}
	}
	for _, n := range res.Tidied {
		if "~"+n.Kind == f.kind && strings.Contains(n.Text, f.says) {
			return n.ID, true
		}
	}
	return "", f.kind == "" && len(res.Questions)+len(res.Refused) == 0
}

func mustRead(t testing.TB, files []intake.File, opt intake.Options) *intake.Result {
	t.Helper()
	res, err := intake.Read(files, opt)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// expectSaid finds the sentence a fault must earn and returns its ID.
func expectSaid(t *testing.T, res *intake.Result, f fault) string {
	t.Helper()
	id, ok := said(res, f)
	if !ok {
		var all []string
		for _, p := range res.Refused {
			all = append(all, "! "+p.Problem)
		}
		for _, q := range res.Questions {
			all = append(all, q.Kind+" "+q.Text)
		}
		for _, n := range res.Tidied {
			all = append(all, "~"+n.Kind+" "+n.Text)
		}
		t.Errorf("nobody said %s %q; said was:\n%s", f.kind, f.says, strings.Join(all, "\n"))
	}
	for _, q := range res.Questions {
		if len(q.Choices) == 0 || len(q.Cells) == 0 {
			t.Errorf("question %s has %d choices and %d cells", q.Kind, len(q.Choices), len(q.Cells))
		}
	}
	return id
}

// TestVoice holds every sentence of every fault to the voice: no blame, and a way out.
func TestVoice(t *testing.T) {
	for _, tt := range faults(t) {
		tt.opt.Today = today
		res := mustRead(t, tt.files, tt.opt)
		var texts []string
		for _, p := range res.Refused {
			texts = append(texts, p.Problem)
		}
		for _, q := range res.Questions {
			texts = append(texts, q.Text)
		}
		for _, n := range res.Tidied {
			texts = append(texts, n.Text)
		}
		for _, s := range texts {
			for _, bad := range []string{"invalid", "error", "illegal", "%!", "unknown value"} {
				if strings.Contains(strings.ToLower(s), bad) {
					t.Errorf("%s: %q has %q", tt.name, s, bad)
				}
			}
			if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
				t.Errorf("%s: %q does not end as a sentence", tt.name, s)
			}
		}
	}
}

func TestNothingToRead(t *testing.T) {
	for _, data := range []string{"", "%PDF-1.4", "hello\nworld\n"} {
		_, err := intake.Read([]intake.File{{Name: "x", Data: []byte(data)}}, intake.Options{})
		if message, ok := errs.Message(err); !ok || message == "" {
			t.Errorf("Read(%q) = %v, want a sentence", data, err)
		}
	}
}

// TestSeasonOverNewYears: where a season has nests of its year, one that was set the autumn before is asked about by nobody.
func TestSeasonOverNewYears(t *testing.T) {
	r, err := intake.Read(csv("ranch,season,transect,nest,substrate,set_on,check1_on,check1\nR,2025,A,1,yucca,2024-12-28,2025-01-11,intact\nR,2025,A,2,yucca,2025-01-05,2025-01-19,intact\n"), intake.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Data.Nests) != 2 || len(r.Questions) != 0 {
		t.Errorf("%d nests, questions %+v", len(r.Data.Nests), r.Questions)
	}
}
