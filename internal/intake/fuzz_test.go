package intake_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tussock/internal/errs"
	"tussock/internal/intake"
)

// slow is how long one reading may take before it counts as hung.
const slow = 30 * time.Second

// readInTime reads a file and fails where the reading hangs, ends without a sentence, or gives a nest that cannot be.
func readInTime(t *testing.T, name string, data []byte) *intake.Result {
	began := time.Now()
	res, err := intake.Read([]intake.File{{Name: name, Data: data}}, intake.Options{Ranch: "R", Today: today, Places: true})
	if took := time.Since(began); took > slow {
		t.Fatalf("reading %d bytes took %v", len(data), took)
	}
	if err != nil {
		if _, ok := errs.Message(err); !ok {
			t.Fatalf("%v carries no sentence", err)
		}
		return nil
	}
	for i := range res.Data.Nests {
		checkNest(t, &res.Data.Nests[i])
	}
	if n := len(res.Data.Nests); len(res.NestsAt) != n || len(res.BeltsAt) != len(res.Data.Belts) {
		t.Fatalf("%d nests stand at %d places, %d belts at %d", n, len(res.NestsAt), len(res.Data.Belts), len(res.BeltsAt))
	}
	if len(res.Questions) > 7 {
		t.Fatalf("%d questions", len(res.Questions))
	}
	return res
}

// FuzzRead reads anything at all: the sheets of the faults, and of the corpus where TUSSOCK_CORPUS names its folders.
func FuzzRead(f *testing.F) {
	for _, tt := range faults(f) {
		f.Add(tt.files[0].Data)
	}
	for _, root := range strings.Split(os.Getenv("TUSSOCK_CORPUS"), ":") {
		files, _ := filepath.Glob(filepath.Join(root, "*", "*"))
		for _, name := range files {
			if data, err := os.ReadFile(name); err == nil && filepath.Base(name) != "truth.json" && len(data) < 100_000 {
				f.Add(data)
			}
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) { readInTime(t, "f", data) })
}

// FuzzLedger puts anything into the rows of our own table of nests: each filled cell is in a nest, or something is said of it.
func FuzzLedger(f *testing.F) {
	const head = "ranch,site,season,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2,notes\n"
	for _, row := range []string{
		"R,north,2025,A,1,yucca,2025-05-01,2025-05-15,intact,2025-05-29,taken,windy\n", "R,,,A,1,yucca,2025-05-01,,,,,\n", ",,,,,,,,,,,\nR,,,,,x\n",
		"R,,2025,A,1,yucca,2025-05-01,2025-05-15,0,,,\nR,,2025,A,1,yucca,2025-05-01,2025-05-15,3,,,\n", "total,,,,,,,,4,,,\n", "R,,2025,A,1-4,\"\",5/1,5/15,ok,5/29,?,\n",
	} {
		f.Add([]byte(row))
	}
	f.Fuzz(func(t *testing.T, rows []byte) {
		if len(rows) > 2000 || bytes.IndexByte(rows, '"') >= 0 { // a quotation mark may join what follows into one cell
			return
		}
		data := append([]byte(head), rows...)
		res := readInTime(t, "nests.csv", data)
		if res == nil {
			return
		}
		if lost, _, _ := unaccounted(t, []intake.File{{Name: "nests.csv", Data: data}}, res); len(lost) > 0 {
			t.Fatalf("nothing is said of %s", strings.Join(lost[:min(5, len(lost))], "; "))
		}
	})
}
