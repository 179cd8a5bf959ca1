package sheet_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding/charmap"

	"tussock/internal/sheet"
	"tussock/internal/words"
)

func TestDialects(t *testing.T) {
	lines := func(s ...string) string { return strings.Join(s, "\n") + "\n" }
	tests := []struct {
		name, text string
		want       []string
	}{
		{"pipes with a frame", lines("| line | nest | state |", "|------|------|-------|", "| A    | 1    | ok    |", "| B    | 2    | gone  |"),
			[]string{"1: line|nest|state", "3: A|1|ok", "4: B|2|gone"}},
		{"pipes alone", lines("line|nest|state", "A|1|ok", "A|2|gone, eaten"), []string{"1: line|nest|state", "2: A|1|ok", "3: A|2|gone, eaten"}},
		{"apostrophes around cells", lines("'line','nest','note'", "'A','1','by tank, north'", "'B','2','it''s gone'"),
			[]string{"1: line|nest|note", "2: A|1|by tank, north", "3: B|2|it's gone"}},
		{"apostrophes inside cells", lines("line,nest,note", "A,1,don't know", "B,2,can't see"), []string{"1: line|nest|note", "2: A|1|don't know", "3: B|2|can't see"}},
		{"escaped marks", lines(`"line","note"`, `"A","the \"big\" clump, north"`, `"B","x"`, `"C","said \"no\""`),
			[]string{"1: line|note", `2: A|the "big" clump, north`, "3: B|x", `4: C|said "no"`}},
		{"titles with commas above", lines("Dry Fork, nests of 2025", "walked by Ana, Beto", "", "line,nest,set,state", "A,1,5/12/2025,ok", "A,2,5/12/2025,gone", "B,1,5/13/2025,ok"),
			[]string{"1: Dry Fork, nests of 2025", "2: walked by Ana, Beto", "4: line|nest|set|state", "5: A|1|5/12/2025|ok", "6: A|2|5/12/2025|gone", "7: B|1|5/13/2025|ok"}},
		{"prose above a table", lines("These are our nests. We set them in May, and went back twice.", "The dog came too, so mind the tracks; some are hers.", "line;nest;state", "A;1;ok", "A;2;gone", "B;1;ok", "B;2;ok"),
			[]string{"1: These are our nests. We set them in May, and went back twice.", "2: The dog came too, so mind the tracks; some are hers.", "3: line|nest|state", "4: A|1|ok", "5: A|2|gone", "6: B|1|ok", "7: B|2|ok"}},
		{"prose", lines("We set eight nests on line A on May 12.", "On May 26, all were fine, but for one that the coyotes had.", "Nest 3 was in the yucca, nest 4 in grass.", "", "In June we went back; it rained."),
			[]string{"1: We set eight nests on line A on May 12.", "2: On May 26, all were fine, but for one that the coyotes had.", "3: Nest 3 was in the yucca, nest 4 in grass.", "5: In June we went back; it rained."}},
		{"lined up with blanks", lines("line  nest", " A     1", "", "B     2"), []string{"1: line  nest", "2:  A     1", "4: B     2"}},
		{"whole lines in marks", lines(`"line,nest,note"`, `"A,1,""by tank, north"""`, `"A,2,gone"`), []string{"1: line|nest|note", "2: A|1|by tank, north", "3: A|2|gone"}},
		{"one column in marks", lines(`"nest"`, `"A1"`, `"A2"`), []string{"1: nest", "2: A1", "3: A2"}},
		{"one column", lines("nest", "1", "2", "3"), []string{"1: nest", "2: 1", "3: 2", "4: 3"}},
		{"one row", "A,1,ok", []string{"1: A|1|ok"}},
		{"two columns", lines("nest,state", "1,ok", "2,gone"), []string{"1: nest|state", "2: 1|ok", "3: 2|gone"}},
		{"lists inside cells", lines("nest\tsigns\tnote", "1\ta,b,c\tx", "2\td,e\ty, z; w", "3\t\t"), []string{"1: nest|signs|note", "2: 1|a,b,c|x", "3: 2|d,e|y, z; w", "4: 3||"}},
		{"ragged rows", lines("nest,set,look 1,look 2,note", "1,5/12,ok,ok", "2,5/12,ok", "3,5/12,gone,,eaten", "4,5/12"),
			[]string{"1: nest|set|look 1|look 2|note", "2: 1|5/12|ok|ok", "3: 2|5/12|ok", "4: 3|5/12|gone||eaten", "5: 4|5/12"}},
		{"an open mark", lines("line,nest,note", `A,1,"by tank`, "A,2,ok", `B,1,"x, y"`), []string{"1: line|nest|note", `2: A|1|"by tank`, "3: A|2|ok", "4: B|1|x, y"}},
		{"an open mark above a quoted cell", lines("line,nest,note", `A,1,"by tank`, `B,1,"x, y"`), []string{"1: line|nest|note", `2: A|1|"by tank`, "3: B|1|x, y"}},
		{"an open mark above inches", lines("line,nest,note", `A,1,"by tank`, "A,2,ok", `B,1,5"`), []string{"1: line|nest|note", `2: A|1|"by tank`, "3: A|2|ok", `4: B|1|5"`}},
		{"an open mark to the end", "a,b\n\"" + strings.Repeat("1,2\n", 3), []string{"1: a|b", `2: "1|2`, "3: 1|2", "4: 1|2"}},
		{"inches", lines("nest,note,left", `1,5" tall,2`, `2,"4" wide",3`), []string{"1: nest|note|left", `2: 1|5" tall|2`, `3: 2|4" wide|3`}},
		{"line ends in cells", "nest,note\r\n1,\"two\r\nlines\"\r\n2,x\r\n", []string{"1: nest|note", "2: 1|two\r\nlines", "3: 2|x"}},
		{"long dates that nothing quotes", lines("nest,set,found", "1,May 12, 2025,ok", "2,May 13, 2025,gone"), []string{"1: nest|set|found", "2: 1|May 12, 2025|ok", "3: 2|May 13, 2025|gone"}},
		{"any separator told", lines("sep=^", "a^b", "1^2"), []string{"2: a|b", "3: 1|2"}},
		{"letters in two parts and blanks without width", "who,state\nnin\u0303o,ok\u200b\n", []string{"1: who|state", "2: niño|ok"}},
		{"a pasture that begins like a picture", "BM6,1\nBM7,2\n", []string{"1: BM6|1", "2: BM7|2"}},
		{"the end mark of DOS", "a,b\r\n1,2\r\n\x1a", []string{"1: a|b", "2: 1|2"}},
		{"empty cells at the end", lines("a,b,c,,,", "1,2,3,,,", "4,5,6,,,"), []string{"1: a|b|c|||", "2: 1|2|3|||", "3: 4|5|6|||"}},
		{"decimal commas in one column", lines("acres", "1,5", "2,5", "0,75"), []string{"1: acres", "2: 1,5", "3: 2,5", "4: 0,75"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, read(t, []byte(tt.text))); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
		})
	}
}

// Files written by iconv say the same in every encoding.
func TestEncodings(t *testing.T) {
	want := dump(t, open(t, "spanish-utf-8.csv"))
	for file, encoding := range map[string]string{
		"utf-8": "", "utf-16le": "UTF-16", "utf-16be": "UTF-16", "windows-1252": "Windows-1252", "macintosh": "Mac Roman",
		"cp437": "DOS 437", "cp850": "DOS 850", "iso-8859-15": "Windows-1252", // of these letters, the two have the same
	} {
		b := open(t, "spanish-"+file+".csv")
		if diff := cmp.Diff(want, dump(t, b)); diff != "" {
			t.Errorf("%s (-want +got)\n%s", file, diff)
		}
		if b.Encoding != encoding && !strings.HasPrefix(b.Encoding, "DOS") {
			t.Errorf("%s: read as %q", file, b.Encoding)
		}
	}
}

func TestEncodingByLetters(t *testing.T) {
	in := func(as *charmap.Charmap, s string) []byte {
		out, err := as.NewEncoder().Bytes([]byte(s))
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	tests := []struct {
		name, says, encoding string
		data                 []byte
		close                bool
	}{
		{"half", "nest,acres\n1,2½\n2,½\n", "Windows-1252", in(charmap.Windows1252, "nest,acres\n1,2½\n2,½\n"), false},
		{"check marks of the Macintosh", "nest,ok\n1,√\n2,√\n3,√\n", "Mac Roman", in(charmap.Macintosh, "nest,ok\n1,√\n2,√\n3,√\n"), false},
		{"check marks of DOS", "nest,ok\n1,√\n2,√\n3,√\n", "DOS 437", in(charmap.CodePage437, "nest,ok\n1,√\n2,√\n3,√\n"), false},
		{"curly marks", "note\n“ok”, it’s fine – “gone”\n", "Windows-1252", in(charmap.Windows1252, "note\n“ok”, it’s fine – “gone”\n"), false},
		{"curly marks of the Macintosh", "note\n“ok”, it’s fine – “gone”\n", "Mac Roman", in(charmap.Macintosh, "note\n“ok”, it’s fine – “gone”\n"), false},
		{"capitals of DOS", "LÍNEA;NIÑO\nA;SEÑOR ÁVILA\n", "DOS 850", in(charmap.CodePage850, "LÍNEA;NIÑO\nA;SEÑOR ÁVILA\n"), false},
		{"one name of the Macintosh", "who\nPeña\n", "Mac Roman", in(charmap.Macintosh, "who\nPeña\n"), false},
		{"pasted together", "a,b\nniño,año,señal,x\nÑandú,ya\n", "UTF-8 and Windows-1252", []byte("a,b\nniño,año,señal,x\n\xd1andú,ya\n"), false},
		{"a lone letter that may be several", "", "", []byte("code\nx \xa4 y\n"), true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b, err := sheet.Open("file", tt.data, words.Speaker{})
			if err != nil {
				t.Fatal(err)
			}
			if (b.OrElse != "") != tt.close {
				t.Errorf("read as %q, or else %q", b.Encoding, b.OrElse)
			}
			if tt.close {
				return
			}
			if b.Encoding != tt.encoding {
				t.Errorf("read as %q, or else %q; want %q", b.Encoding, b.OrElse, tt.encoding)
			}
			if diff := cmp.Diff(read(t, []byte(tt.says)), read(t, tt.data)); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
		})
	}
}
