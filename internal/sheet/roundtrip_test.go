package sheet_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"tussock/internal/sheet"
	"tussock/internal/words"
)

// A season sheet as people keep it, drawn at random: a title now and then, remarks with commas, empty cells.
func drawn(rnd *rand.Rand, remarks bool) [][]string {
	pick := func(list ...string) string { return list[rnd.IntN(len(list))] }
	heads := []string{"line", "nest", "set", "look 1", "state", "left", "acres", "cover", "who", "notes"}
	columns := 3 + rnd.IntN(len(heads)-3)
	if remarks {
		columns = len(heads)
	}
	rows := [][]string{heads[:columns]}
	for n := range 3 + rnd.IntN(30) {
		row := []string{
			pick("A", "B", "1", "North"), fmt.Sprint(n + 1), fmt.Sprintf("5/%d/2025", 1+rnd.IntN(28)), pick("2025-05-26", "26-May", "5/26", ""),
			pick("ok", "gone", "3/3", "X", ""), pick("0", "1", "2", "3"), pick("0.5", "12", "1.25", ""), pick("yucca", "bunchgrass", "prickly pear"), pick("Ana Peña", "José", "B. Ortiz", ""),
			pick("", "", "", "by the tank, north side", `said "no" twice`, "eggs gone; tracks of a coyote", "dos líneas\naquí", "it's in the draw", "½ mile | maybe more"),
		}
		rows = append(rows, row[:columns])
	}
	return rows
}

// TestWrittenByOthers writes such sheets in every dialect and encoding, and reads back what was written.
func TestWrittenByOthers(t *testing.T) {
	encodings := map[string]encoding.Encoding{
		"UTF-8": nil, "Windows-1252": charmap.Windows1252, "Mac Roman": charmap.Macintosh, "DOS 850": charmap.CodePage850,
		"UTF-16": unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM),
	}
	wrong := 0
	const rounds = 400
	for seed := range uint64(rounds) {
		rnd := rand.New(rand.NewPCG(seed, 7))
		rows := drawn(rnd, rnd.IntN(2) == 0)
		comma := []rune{',', ';', '\t', '|'}[rnd.IntN(4)]
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		w.Comma, w.UseCRLF = comma, rnd.IntN(2) == 0
		if err := w.WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		for name, as := range encodings {
			data := b.Bytes()
			if as != nil {
				var err error
				if data, err = as.NewEncoder().Bytes(data); err != nil {
					continue // the Macintosh has no ½
				}
			}
			if diff := cmp.Diff(rows, cellsOf(t, data)); diff != "" {
				if wrong++; wrong < 4 {
					t.Errorf("seed %d, %q, %s (-written +read)\n%s\n%s", seed, comma, name, diff, b.String())
				}
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d of %d came out wrong", wrong, rounds*len(encodings))
	}
}

func cellsOf(t *testing.T, data []byte) [][]string {
	t.Helper()
	b, err := sheet.Open("file", data, words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	var out [][]string
	for row, err := range b.Tables[0].Rows() {
		if err != nil {
			t.Fatal(err)
		}
		cells := slices.Clone(row.Cells)
		for i := range cells {
			cells[i] = strings.ReplaceAll(cells[i], "\r\n", "\n")
		}
		out = append(out, cells)
	}
	return out
}
