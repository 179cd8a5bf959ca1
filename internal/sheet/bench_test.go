package sheet_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"tussock/internal/sheet"
	"tussock/internal/words"
)

// season returns rows as a large cooperative keeps them, of 11 or 29 columns, with a quoted remark here and there.
func season(rows, columns int) [][]string {
	rnd := rand.New(rand.NewPCG(1, 2))
	words := []string{"intact", "gone", "ok", "hit", "yucca", "bunchgrass", "by the tank", ""}
	out := make([][]string, rows)
	for r := range out {
		row := []string{"Dry Fork", string(rune('A' + r/40%26)), fmt.Sprint(r%40 + 1), "2025-05-12", "5/26/2025"}
		for len(row) < columns-1 {
			row = append(row, words[rnd.IntN(len(words))])
		}
		note := ""
		if rnd.IntN(20) == 0 {
			note = `shell bits, "fresh", below`
		}
		out[r] = append(row, note)
	}
	return out
}

func asCSV(tb testing.TB, rows [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll(rows); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// BenchmarkText reads the same bytes with the standard library and with this package.
func BenchmarkText(b *testing.B) {
	for _, columns := range []int{11, 29} {
		data := asCSV(b, season(100_000, columns))
		b.Run(fmt.Sprintf("EncodingCSV/%d", columns), func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			for b.Loop() {
				r := csv.NewReader(bytes.NewReader(data))
				r.ReuseRecord = true
				for {
					if _, err := r.Read(); errors.Is(err, io.EOF) {
						break
					} else if err != nil {
						b.Fatal(err)
					}
				}
			}
		})
		for _, as := range []struct{ name, text string }{
			{"Comma", string(data)},
			{"Semicolon", strings.ReplaceAll(string(data), ",", ";")},
			{"Windows1252", strings.Replace(string(data), "Dry Fork", "Ca\xf1on", 1)},
		} {
			b.Run(fmt.Sprintf("%s/%d", as.name, columns), func(b *testing.B) {
				b.SetBytes(int64(len(as.text)))
				for b.Loop() {
					if err := drain([]byte(as.text)); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// largeWorkbook writes rows as an XLSX workbook whose texts are shared, as spreadsheet programs write them.
func largeWorkbook(tb testing.TB, rows [][]string) []byte {
	f := excelize.NewFile()
	w, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		tb.Fatal(err)
	}
	day, err := f.NewStyle(&excelize.Style{NumFmt: 16})
	if err != nil {
		tb.Fatal(err)
	}
	for i, row := range rows {
		cells := make([]any, len(row))
		for c, v := range row {
			cells[c] = v
			if c == 2 || c > 8 && c < 14 {
				cells[c] = excelize.Cell{StyleID: day, Value: 45_000 + i%700}
			}
		}
		if err := w.SetRow(fmt.Sprintf("A%d", i+1), cells); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func BenchmarkWorkbook(b *testing.B) {
	data := largeWorkbook(b, season(100_000, 29))
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if err := drain(data); err != nil {
			b.Fatal(err)
		}
	}
}

// TestHeldMemory: a workbook's cells are held in little more than the memory of their text, so that 100 000 rows of 29
// columns stay far below what the service may take.
func TestHeldMemory(t *testing.T) {
	const rows, columns = 10_000, 29
	data := largeWorkbook(t, season(rows, columns))
	live := func() int {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return int(m.HeapAlloc)
	}
	before := live()
	b, err := sheet.Open("file", data, words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	text, cells := 0, 0
	for row := range b.Tables[0].Rows() {
		for _, c := range row.Cells {
			text += len(c)
		}
		cells += len(row.Cells)
	}
	held := live() - before
	runtime.KeepAlive(b)
	if cells < rows*(columns-2) || held > text+8*cells {
		t.Errorf("%d cells with %d bytes of text are held in %d bytes", cells, text, held)
	}
	t.Logf("%d cells, %d bytes of text, held in %d bytes", cells, text, held)
}
