package keytable_test

import (
	"encoding/csv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/keytable"
	"tussock/internal/stat/predator"
)

func leaning(sign, answer, animal string, times float64) predator.Leaning {
	return predator.Leaning{Sign: sign, Answer: answer, Animal: animal, Times: times}
}

func count(sign, answer, animal string, nests int) predator.Count {
	return predator.Count{Sign: sign, Answer: answer, Animal: animal, Nests: nests}
}

// TestRead reads tables as they come, each written by hand, and what is wrong with others: in which line, and what to do.
func TestRead(t *testing.T) {
	judged := func(source string, list ...predator.Leaning) predator.Table {
		return predator.Table{Source: source, Leanings: list}
	}
	counted := func(source string, list ...predator.Count) predator.Table {
		return predator.Table{Source: source, Counts: list}
	}
	for _, tt := range []struct {
		name, file string
		want       predator.Table
		faults     []string // each begins or holds so
	}{
		{"as we write it", "sign,answer,animal,times,source\r\nbits,halves,raccoon,4,\r\nbits,crumbs,coyote,0.5,Somebody 2020\r\n",
			judged("Somebody 2020", leaning("bits", "halves", "raccoon", 4), leaning("bits", "crumbs", "coyote", 0.5)), nil},
		{"columns in another order, with a mark, capitals, semicolons and decimal commas", "\xef\xbb\xbfTimes;Animal;Sign;Answer\n0,25;Feral_Hog;BITS;near whole\n",
			judged("", leaning("bits", "near_whole", "feral hog", 0.25)), nil},
		{"counts, in Spanish, with tabs and old line ends", "señal\trespuesta\tanimal\tnidos\rground\tdug\tbadger\t12\rground\tdug\tskunk\t0\rground\tcalm\tbadger\t\r",
			counted("", count("ground", "dug", "badger", 12)), nil},
		{"a source that would be a formula", "sign,answer,animal,nests,source\nbits,halves,fox,3,'=A1\n", counted("=A1", count("bits", "halves", "fox", 3)), nil},
		{"nothing", "", predator.Table{}, []string{"The first line must name the columns"}},
		{"no heading", "bits,halves,raccoon,4\n", predator.Table{}, []string{"The first line must name the columns"}},
		{"both kinds", "sign,answer,animal,times,nests\nbits,halves,raccoon,4,4\n", predator.Table{}, []string{"Keep one of the two columns"}},
		{"no line", "sign,answer,animal,times\n\n,,,\n", predator.Table{}, []string{"tells nothing"}},
		{"not filled in", string(keytable.Blank()), predator.Table{}, []string{"tells nothing"}},
		{"a workbook", "PK\x03\x04 and so on", predator.Table{}, []string{"“CSV UTF-8”"}},
		{"another alphabet's bytes", "sign,answer,animal,times\nbits,halves,a\xf1o,4\n", predator.Table{}, []string{"“CSV UTF-8”"}},
		{"every line that is wrong, with its number", "sign,answer,animal,times\n\nbits,halves,raccoon,4\nshells,halves,raccoon,4\nbits,half,raccoon,4\nbits,halves,wolf,4\nbits,none,fox,2\n" +
			"bits,halves,fox,often\nbits,halves,skunk,0\nbits,halves,skunk,-1\nbits,halves,skunk,NaN\nbits,halves,skunk,51\nbits,halves,raccoon,5\nbits\n", predator.Table{},
			[]string{"Line 4: “shells” is no sign of the key. The signs are bits, bits_far_ft", "Line 5: “half” is no answer of the sign “bits”. Its answers are crumbs, bits, halves, near_whole",
				"Line 6: “wolf” is no animal of the key. The animals are raccoon, skunk", "Line 7: “none” tells nothing", "Line 8: how many times likelier is “often”. Write a number from 0.02 to 50",
				"Line 9", "Line 10", "Line 11", "Line 12", "Line 13 says the same sign, answer and animal as line 3", "Line 14: “” is no answer"}},
		{"counts that are none", "sign,answer,animal,nests\nbits,halves,raccoon,3.5\nbits,halves,fox,-2\nbits,halves,skunk,10001\nbits,halves,coyote,12.0\n", predator.Table{},
			[]string{"Line 2: the number of nests is “3.5”. Write a whole number from 0 to 10000", "Line 3", "Line 4"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, faults := keytable.Read([]byte(tt.file))
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			for i, f := range faults {
				if i >= len(tt.faults) || !strings.Contains(f.String(), tt.faults[i]) {
					t.Errorf("fault %d: %s", i, f)
				}
			}
			if len(faults) != len(tt.faults) {
				t.Errorf("%d faults, want %d", len(faults), len(tt.faults))
			}
		})
	}
}

// TestWrite: what is written is read as it was, by us and (RFC 4180) by the standard library.
func TestWrite(t *testing.T) {
	counts := predator.Table{Source: `=two "cameras", 2020`, Counts: []predator.Count{count("bits", "halves", "raccoon", 31), count("holes", "pin", "feral hog", 1)}}
	for name, table := range map[string]predator.Table{"common": predator.Common(), "counts": counts} {
		file := keytable.Write(table)
		rows, err := csv.NewReader(strings.NewReader(string(file))).ReadAll()
		if err != nil || len(rows) != 1+len(table.Leanings)+len(table.Counts) {
			t.Errorf("%s: %d rows, %v", name, len(rows), err)
		}
		for _, row := range rows {
			if strings.HasPrefix(row[4], "=") {
				t.Errorf("%s: a formula: %s", name, row[4])
			}
		}
		got, faults := keytable.Read(file)
		table.Weight = 0
		if diff := cmp.Diff(table, got); diff != "" || len(faults) > 0 {
			t.Errorf("%s: %v (-want +got):\n%s", name, faults, diff)
		}
	}
	if a, b := string(keytable.Write(predator.Table{})), string(keytable.Write(predator.Common())); a != b {
		t.Error("the zero table is not written as that of common practice")
	}
}

func TestSilent(t *testing.T) {
	signs, animals := keytable.Silent(predator.Table{Counts: []predator.Count{count("bits", "halves", "raccoon", 31)}})
	if len(signs) != 8 || len(animals) != 12 {
		t.Errorf("signs %v, animals %v", signs, animals)
	}
	if signs, animals := keytable.Silent(predator.Common()); len(signs)+len(animals) != 0 {
		t.Errorf("of common practice: signs %v, animals %v", signs, animals)
	}
}

// FuzzRead: whatever comes, there is a table or a fault, never both and never a table out of bounds.
func FuzzRead(f *testing.F) {
	f.Add([]byte("sign,answer,animal,times\nbits,halves,raccoon,4\n"))
	f.Add([]byte("sign;answer;animal;nests\n\"bits;halves;raccoon;4\n"))
	f.Add(keytable.Blank())
	f.Fuzz(func(t *testing.T, file []byte) {
		table, faults := keytable.Read(file)
		if said := len(table.Leanings)+len(table.Counts) > 0; said == (len(faults) > 0) {
			t.Errorf("%d faults, and a table: %v", len(faults), said)
		}
		for _, l := range table.Leanings {
			if !(l.Times >= predator.LeastTimes && l.Times <= predator.MostTimes) {
				t.Error(l)
			}
		}
	})
}
