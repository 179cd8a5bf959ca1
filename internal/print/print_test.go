package print_test

import (
	"bytes"
	"fmt"
	"image"
	_ "image/png"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"tussock/internal/fieldwork"
	"tussock/internal/paper"
	"tussock/internal/print"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

// TestDrawings: every answer that has a picture on the phone has one on paper, small and without words in it.
func TestDrawings(t *testing.T) {
	want := []string{"clump-suitable", "clump-unsuitable"}
	for _, f := range survey.Features {
		for _, c := range f.Choices {
			want = append(want, fieldwork.Drawing(f.Name, c))
		}
	}
	for _, c := range []string{fieldwork.AllHere, fieldwork.SomeGone, fieldwork.AllLost, fieldwork.NotFound} {
		want = append(want, fieldwork.Drawing("found", c))
	}
	for _, c := range fieldwork.Covers {
		want = append(want, fieldwork.Drawing("cover", c))
	}
	for _, name := range want {
		data, err := fs.ReadFile(web.FS, "static/remains/"+name+".svg")
		if err != nil {
			t.Error(err)
			continue
		}
		if len(data) > 3000 || bytes.Contains(data, []byte("<text")) {
			t.Errorf("%s: %d bytes, or text in it", name, len(data))
		}
	}
}

// TestSheets reads the sheets back with programs of others: Poppler for the pages, their size and their text, and a
// port of ZXing for the QR code on the page as a picture.
func TestSheets(t *testing.T) {
	info, text, ppm := tool(t, "pdfinfo"), tool(t, "pdftotext"), tool(t, "pdftoppm")
	// Points of 1/72 inch: 8.5 by 11 inches, and ISO 216's 210 by 297 mm.
	sizes := map[paper.Size][2]float64{paper.Letter: {792, 612}, paper.A4: {297 / 25.4 * 72, 210 / 25.4 * 72}}
	const link = "https://tussock.example/key/"
	for _, size := range paper.Sizes {
		t.Run(string(size), func(t *testing.T) {
			t.Parallel()
			file := write(t, size, print.Sheet{Ranch: "Rancho Ñandú", Line: line(24), Link: link}, print.Sheet{})
			out := run(t, info, file)
			if !regexp.MustCompile(`Pages:\s+12\n`).MatchString(out) { // 24 stops on two pairs of leaves, and a blank pair
				t.Errorf("pages: %s", out)
			}
			var w, h float64
			at := strings.Index(out, "Page size:")
			if _, err := fmt.Sscanf(out[at:], "Page size: %f x %f pts", &w, &h); err != nil || math.Abs(w-sizes[size][0]) > .1 || math.Abs(h-sizes[size][1]) > .1 {
				t.Errorf("page size %g x %g, %v", w, h, err)
			}
			words := run(t, text, "-layout", file, "-")
			for _, want := range []string{"Rancho Ñandú", "Cañón", "KX7 P2M", "2026-05-18 ± 2", "Huellas, excremento, pelo", "licked clean", "In an emergency call 911", "En una emergencia llame al 911", "13 – 24"} {
				if !strings.Contains(words, want) {
					t.Errorf("%q is not on the sheets", want)
				}
			}
			const dpi = 254 // ten dots a millimeter
			base := filepath.Join(t.TempDir(), "page")
			run(t, ppm, "-r", fmt.Sprint(dpi), "-f", "4", "-l", "4", "-gray", "-png", file, base)
			pic := picture(t, base+"-04.png")
			if got := readQR(t, pic); got != "HTTPS://TUSSOCK.EXAMPLE/KEY/KX7P2M.1B"+map[paper.Size]string{paper.Letter: "L", paper.A4: "A"}[size]+"1-12" {
				t.Errorf("QR code says %q", got)
			}
			if got := longest(pic, pic.Bounds().Dy()-135); math.Abs(got-6*25.4) > .4 {
				t.Errorf("the ruler of 6 inches is %.1f mm long", got)
			}
			if got := pitch(pic); got < 5.95 || got > 6.2 {
				t.Errorf("boxes to tick stand %.2f mm apart, want 6", got)
			}
		})
	}
}

func TestLongNames(t *testing.T) {
	l := line(3)
	l.Pasture, l.Name = strings.Repeat("Potrero del Norte ", 20), strings.Repeat("line ", 40)
	write(t, paper.A4, print.Sheet{Ranch: strings.Repeat("Ranch 牧場 ", 30), Line: l, Link: "KX7P2M"})
}

func BenchmarkSheets(b *testing.B) {
	book, err := words.Open(web.FS)
	if err != nil {
		b.Fatal(err)
	}
	p, err := print.New(web.FS, book)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := p.Sheets(&bytes.Buffer{}, paper.Letter, print.Sheet{Ranch: "Ranch", Line: line(12), Link: "KX7P2M"}); err != nil {
			b.Fatal(err)
		}
	}
}

func line(stops int) season.Line {
	day := survey.DateOf(2026, 5, 4)
	return season.Line{Season: 2026, Name: "3", Code: "KX7P2M", Pasture: "Cañón del Sur", Stops: stops, Covers: []survey.Substrate{survey.Bunchgrass, survey.PricklyPear},
		SetOn: day, FirstCheck: day + 14, LastCheck: day + 28, Slack: 2, BeltWidth: 6, BeltLength: 726}
}

func write(t *testing.T, size paper.Size, sheets ...print.Sheet) string {
	t.Helper()
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	p, err := print.New(web.FS, book)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := p.Sheets(&b, size, sheets...); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "sheets.pdf")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func picture(t *testing.T, file string) image.Image {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	pic, _, err := image.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return pic
}

func readQR(t *testing.T, pic image.Image) string {
	t.Helper()
	// The upper right corner, as somebody would aim a phone at it.
	w := pic.Bounds().Dx()
	part := pic.(interface {
		SubImage(image.Rectangle) image.Image
	}).SubImage(image.Rect(w-340, 40, w-110, 260))
	bits, err := gozxing.NewBinaryBitmapFromImage(part)
	if err != nil {
		t.Fatal(err)
	}
	got, err := qrcode.NewQRCodeReader().Decode(bits, nil)
	if err != nil {
		t.Errorf("read QR code: %v", err)
		return ""
	}
	return got.GetText()
}

func black(pic image.Image, x, y int) bool {
	r, _, _, _ := pic.At(x, y).RGBA()
	return r < 0x6000
}

// longest returns the length of the longest black run, in millimeters, in the rows about y.
func longest(pic image.Image, y int) float64 {
	most := 0
	for row := y - 4; row <= y+4; row++ {
		run := 0
		for x := range pic.Bounds().Dx() / 3 * 2 {
			if run++; !black(pic, x, row) {
				run = 0
			}
			most = max(most, run)
		}
	}
	return float64(most) / 10
}

// pitch returns the commonest distance between upright lines, in millimeters, in the first row of the tally.
func pitch(pic image.Image) float64 {
	count, before, last := map[int]int{}, false, -1
	for x := 400; x < 2000; x++ {
		now := black(pic, x, 720)
		if now && !before {
			if last >= 0 {
				count[x-last]++
			}
			last = x
		}
		before = now
	}
	best := 0
	for d, n := range count {
		if n > count[best] {
			best = d
		}
	}
	return float64(best) / 10
}

func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("REQUIRE_TOOLS") == "1" {
			t.Fatalf("%s is needed: install poppler-utils", name)
		}
		t.Skipf("no %s here", name)
	}
	return path
}

func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s: %v", filepath.Base(name), err)
	}
	return string(out)
}
