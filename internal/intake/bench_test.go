package intake_test

import (
	"bytes"
	encodingcsv "encoding/csv"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"tussock/internal/intake"
)

// large is a sheet of n nests as a cooperative keeps them, of 11 columns or of 29.
//
// An untidy one has the days in many forms, findings and covers in many words, some of them new, headings of its own,
// blanks, and ditto marks.
func large(n, columns int, untidy bool) []byte {
	heads := strings.Split("ranch,site,season,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2", ",")
	more := strings.Split("plant,eggs_left,bits,bits_far_ft,heaps,opened_at,bite_way,holes,inside,ground,bowl,trace,guess,camera,steps,bearing,spot,notes", ",")
	if untidy {
		heads = strings.Split("Ranch,Pasture,Year,Line,Nest #,Cover,Put out,1st look,Found,2nd look,Found", ",")
		more = strings.Split("Species,Eggs left,Bits,Bits far (ft),Heaps,Opened at,Bite way,Holes,Inside,Ground,Bowl,Tracks,Who did it,Cam,Paces,Direction,Where from,Remarks", ",")
	}
	if columns > len(heads) {
		heads = append(heads, more[:columns-len(heads)]...)
	}
	var b bytes.Buffer
	b.Grow(n * columns * 8)
	b.WriteString(strings.Join(heads, ",") + "\n")
	for i := range n {
		row := tidyRow(i)
		if untidy {
			row = untidyRow(i)
		}
		b.WriteString(strings.Join(row[:columns], ",") + "\n")
	}
	return b.Bytes()
}

// tidyRow is row i of a tidy sheet: 24 nests a line, 100 lines a ranch.
func tidyRow(i int) []string {
	found := [][3]string{{"intact", "2025-05-29", "taken"}, {"intact", "2025-05-29", "intact"}, {"taken", "", ""}, {"lost", "", ""}}[i%4]
	row := []string{fmt.Sprintf("Ranch %d", i/2400), "north", "2025", strconv.Itoa(i / 24 % 100), strconv.Itoa(i%24 + 1),
		[]string{"bunchgrass", "prickly pear", "yucca"}[i%3], "2025-05-01", "2025-05-15", found[0], found[1], found[2]}
	signs := []string{"little bluestem", "", "", "", "", "", "", "", "", "", "", "", "", "", strconv.Itoa(i % 40), "NE", "left of the corner post", ""}
	if i%4 == 2 {
		signs[1], signs[2], signs[4], signs[8], signs[9], signs[10], signs[11], signs[12] = "0", "halves", "one", "licked", "calm", "neat", "tracks by the bowl", "raccoon"
	}
	return append(row, signs...)
}

// untidyRow says the same as people write it.
func untidyRow(i int) []string {
	row := tidyRow(i)
	pick := func(list ...string) string { return list[i/7%len(list)] }
	days := map[string][]string{
		"2025-05-01": {"5/1/2025", "May 1 2025", "2025-05-01", "1 May 2025", "05/01/25"},
		"2025-05-15": {"5/15/2025", "May 15 2025", "2025-05-15", "15 May 2025", "05/15/25"},
		"2025-05-29": {"5/29/2025", "May 29 2025", "2025-05-29", "29 May 2025", "05/29/25"},
	}
	for _, c := range []int{6, 7, 9} {
		if row[c] != "" {
			row[c] = pick(days[row[c]]...)
		}
	}
	for _, c := range []int{8, 10} {
		switch row[c] {
		case "intact":
			row[c] = pick("ok", "all there", "good", "3", "los 3", "3 of 3", "still all here")
		case "taken":
			row[c] = pick("gone", "et up", "hit", "eaten", "coon got it", "comido", "0 of 3")
		case "lost":
			row[c] = pick("no find", "could not find it", "NF", "not located")
		}
	}
	row[5] = map[string]string{
		"bunchgrass": pick("bunch", "BG", "little bluestem", "zacate", "grass"), "prickly pear": pick("pear", "PP", "nopal", "cactus"), "yucca": pick("soapweed", "yuca", "palmilla", "yucca"),
	}[row[5]]
	if i%50 == 3 {
		row[5] = pick("tasajillo", "old hay bale", "rock pile", "fence corner", "sand plum thing")
	}
	if i%24 > 0 && i%5 == 1 {
		row[6] = `""""` // a ditto mark, as CSV quotes it
	}
	if i%24 > 0 && i%11 == 2 {
		row[1] = ""
	}
	if row[28] == "" && i%9 == 4 {
		row[28] = pick("windy", "cows in the pasture", "had to look twice", "windy again")
	}
	return row
}

// sheets of the benchmarks and of the memory test.
var sizes = []struct {
	name    string
	columns int
	untidy  bool
}{{"11", 11, false}, {"29", 29, false}, {"11-untidy", 11, true}, {"29-untidy", 29, true}}

// BenchmarkRead reads 100 000 nests, beside what encoding/csv alone takes for the same bytes: by turns, so that a busy machine
// slows both. "×cpu" is the time of all processors that reading took, its garbage collected, as a multiple of encoding/csv's, each
// in its best round: other work on the machine only adds.
func BenchmarkRead(b *testing.B) {
	for _, size := range sizes {
		data := large(100_000, size.columns, size.untidy)
		b.Run(size.name, func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			var ours, theirs spent
			for b.Loop() {
				theirs.on(func() {
					if _, err := encodingcsv.NewReader(bytes.NewReader(data)).ReadAll(); err != nil {
						b.Fatal(err)
					}
				})
				ours.on(func() {
					if res := mustRead(b, []intake.File{{Name: "n.csv", Data: data}}, intake.Options{}); len(res.Data.Nests)+len(res.Waiting) < 99_000 {
						b.Fatal(len(res.Data.Nests), len(res.Waiting))
					}
				})
			}
			n := float64(b.N)
			b.ReportMetric(ours.cpu.Seconds()*1000, "cpu-ms")
			b.ReportMetric(theirs.cpu.Seconds()*1000, "csv-cpu-ms")
			b.ReportMetric(ours.cpu.Seconds()/theirs.cpu.Seconds(), "×cpu")
			b.ReportMetric(float64(ours.bytes)/n, "B/op")
			b.ReportMetric(float64(ours.allocs)/n, "allocs/op")
			b.ReportMetric(float64(theirs.allocs)/n, "csv-allocs/op")
		})
	}
}

// spent is what some work took: time of all processors in its best round, and memory in all.
type spent struct {
	cpu           time.Duration
	bytes, allocs uint64
}

func (s *spent) on(work func()) {
	var m [2]runtime.MemStats
	runtime.GC() // of what came before
	runtime.ReadMemStats(&m[0])
	from := processors()
	work()
	runtime.GC()
	if took := processors() - from; s.cpu == 0 || took < s.cpu {
		s.cpu = took
	}
	runtime.ReadMemStats(&m[1])
	s.bytes += m[1].TotalAlloc - m[0].TotalAlloc
	s.allocs += m[1].Mallocs - m[0].Mallocs
}

// processors is the time that this process has had of all processors.
func processors() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// TestLarge holds what comes of the sheets of the benchmarks: a fast reading of nothing is no reading.
func TestLarge(t *testing.T) {
	for _, size := range sizes {
		t.Run(size.name, func(t *testing.T) {
			const n = 4800
			res := mustRead(t, []intake.File{{Name: "n.csv", Data: large(n, size.columns, size.untidy)}}, intake.Options{Today: today})
			states := map[string]int{}
			for i := range res.Data.Nests {
				states[string(res.Data.Nests[i].Fate())]++
			}
			if len(res.Data.Nests) != n || len(res.Refused) != 0 || states["intact"] != n/4 || states["taken"] != n/2 || states["lost"] != n/4 {
				t.Errorf("%d nests (%v), %d wait, %d refused, as %v", len(res.Data.Nests), states, len(res.Waiting), len(res.Refused), first(res))
			}
			if len(res.Questions) > 7 {
				t.Errorf("%d questions", len(res.Questions))
			}
		})
	}
}

// fewAllocations is how many pieces of memory reading may take a row. A text that is looked at anew in each row takes more.
const fewAllocations = 6

// TestAllocations reads sheets that are held whole and sheets that are not. Time says little on a busy machine; what is taken of
// memory does not depend on it.
func TestAllocations(t *testing.T) {
	mustRead(t, []intake.File{{Name: "n.csv", Data: large(10, 11, false)}}, intake.Options{}) // the words are learned once
	for _, size := range sizes {
		for _, rows := range []int{15_000, 30_000} {
			t.Run(fmt.Sprintf("%s/%d", size.name, rows), func(t *testing.T) {
				data := large(rows, size.columns, size.untidy)
				var took spent
				took.on(func() { mustRead(t, []intake.File{{Name: "n.csv", Data: data}}, intake.Options{}) })
				if each := float64(took.allocs) / float64(rows); each > fewAllocations {
					t.Errorf("%.1f allocations a row; want at most %d", each, fewAllocations)
				} else {
					t.Logf("%.1f allocations a row", each)
				}
			})
		}
	}
}

func first(res *intake.Result) any {
	if len(res.Refused) > 0 {
		return res.Refused[0]
	}
	return nil
}

// most is what reading 100 000 nests may take at its peak, in MB.
const most = 256

// TestMemory reads 100 000 nests in a process of their own and holds its peak to what it may take: the form that takes most,
// or with TUSSOCK_LONG=1 each.
func TestMemory(t *testing.T) {
	const of = "TUSSOCK_MEMORY_OF"
	if name := os.Getenv(of); name != "" {
		for _, size := range sizes {
			if size.name == name {
				mustRead(t, []intake.File{{Name: "n.csv", Data: large(100_000, size.columns, size.untidy)}}, intake.Options{})
			}
		}
		return
	}
	read := sizes[len(sizes)-1:] // which takes most
	if os.Getenv("TUSSOCK_LONG") != "" {
		read = sizes
	}
	for _, size := range read {
		t.Run(size.name, func(t *testing.T) {
			cmd := exec.Command(os.Args[0], "-test.run", "^TestMemory$")
			cmd.Env = append(os.Environ(), of+"="+size.name)
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			peak := cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss >> 10 // KB on Linux
			t.Logf("%d MB at the peak", peak)
			if peak > most {
				t.Errorf("reading took %d MB at its peak; want at most %d", peak, most)
			}
		})
	}
}
