package scan_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"slices"
	"strings"
	"testing"

	"tussock/internal/errs"
	"tussock/internal/paper"
	"tussock/internal/scan"
)

// TestScannedPDF reads a scanner's PDF: a page as a JPEG, and one as a fax.
func TestScannedPDF(t *testing.T) {
	data, err := os.ReadFile("testdata/scan.pdf")
	if err != nil {
		t.Fatal(err)
	}
	pictures, err := scan.Pictures(data)
	if err != nil || len(pictures) != 2 {
		t.Fatalf("%d pictures, %v", len(pictures), err)
	}
	var all score
	for i, p := range pictures {
		got, err := p.Read()
		if err != nil {
			t.Fatal(err)
		}
		if want := []paper.Page{paper.Nests, paper.Remains}[i]; got.Sheet.Page != want {
			t.Errorf("page %s, want %s", got.Sheet.Page, want)
		}
		all.photos++
		all.add(t, got, truthIn(t, fmt.Sprintf("testdata/scan-%d.json", i+1)).Fields)
	}
	t.Log(&all)
}

// TestFormats: the same photo says the same as a PNG of any kind and in every form that a PDF may hold it in.
func TestFormats(t *testing.T) {
	data, err := os.ReadFile("testdata/300.jpg")
	if err != nil {
		t.Fatal(err)
	}
	pic, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	b := pic.Bounds()
	gray, deep := image.NewGray(b), image.NewNRGBA64(b)
	for y := range b.Dy() {
		for x := range b.Dx() {
			gray.Set(x, y, pic.At(x, y))
			deep.Set(x, y, pic.At(x, y))
		}
	}
	want := values(t, data)
	files := map[string][]byte{
		"PNG": pngOf(t, pic), "gray PNG": pngOf(t, gray), "deep PNG": pngOf(t, deep),
		"JPEG in a PDF":            pdfOf(b, "/DCTDecode", "", data),
		"squeezed JPEG in a PDF":   pdfOf(b, "[/FlateDecode /DCTDecode]", "", deflated(data)),
		"gray samples in a PDF":    pdfOf(b, "/FlateDecode", "/ColorSpace /DeviceGray /BitsPerComponent 8", deflated(gray.Pix)),
		"predicted samples in PDF": pdfOf(b, "/FlateDecode", "/ColorSpace /DeviceGray /BitsPerComponent 8 /DecodeParms << /Predictor 15 /Colors 1 /Columns "+fmt.Sprint(b.Dx())+" >>", idat(t, pngOf(t, gray))),
	}
	for name, file := range files {
		t.Run(name, func(t *testing.T) {
			for field, got := range values(t, file) {
				if got != want[field] && !strings.HasPrefix(got, "?") && !strings.HasPrefix(want[field], "?") {
					t.Errorf("%s: %q, want %q", field, got, want[field])
				}
			}
		})
	}
}

// values reads the first picture in a file and returns the values of its fields, with "?" before those that are not sure.
func values(t *testing.T, data []byte) map[string]string {
	t.Helper()
	got, err := readOne(data)
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]string{}
	for _, f := range got.Fields {
		all[f.Name] = map[bool]string{true: "", false: "?"}[f.Sure] + f.Value
	}
	return all
}

func pngOf(t *testing.T, pic image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, pic); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func deflated(data []byte) []byte {
	var b bytes.Buffer
	w := zlib.NewWriter(&b)
	w.Write(data)
	w.Close()
	return b.Bytes()
}

// idat returns the data of a PNG.
func idat(t *testing.T, file []byte) []byte {
	t.Helper()
	var all []byte
	for i := 8; i+8 <= len(file); {
		n := int(binary.BigEndian.Uint32(file[i:]))
		if string(file[i+4:i+8]) == "IDAT" {
			all = append(all, file[i+8:i+8+n]...)
		}
		i += 12 + n
	}
	return all
}

// pdfOf returns a PDF of one page that is a picture, with a length that stands elsewhere, as scanners write it.
func pdfOf(b image.Rectangle, filter, more string, data []byte) []byte {
	var f bytes.Buffer
	fmt.Fprintf(&f, "%%PDF-1.4\n1 0 obj\n<< /Type /Catalog /Pages 2 0 R >>\nendobj\n")
	fmt.Fprintf(&f, "4 0 obj\n<< /Type /XObject /Subtype /Image /Width %d /Height %d /Filter %s %s /Length 5 0 R >>\nstream\r\n%s\nendstream\nendobj\n", b.Dx(), b.Dy(), filter, more, data)
	fmt.Fprintf(&f, "5 0 obj\n%d\nendobj\ntrailer << /Root 1 0 R >>\n%%%%EOF\n", len(data))
	return f.Bytes()
}

// TestRefused: what is no sheet of ours is refused with a sentence that says what to do.
func TestRefused(t *testing.T) {
	huge := pngOf(t, image.NewGray(image.Rect(0, 0, 8, 8)))
	binary.BigEndian.PutUint32(huge[16:], 30000)
	binary.BigEndian.PutUint32(huge[20:], 30000)
	binary.BigEndian.PutUint32(huge[29:], crc32.ChecksumIEEE(huge[12:29]))
	var plain bytes.Buffer
	if err := jpeg.Encode(&plain, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	pass := bytes.Index(plain.Bytes(), []byte{0xff, 0xda})
	passes := bytes.Repeat(plain.Bytes()[pass:plain.Len()-2], 65)
	passes = slices.Concat(plain.Bytes()[:pass], passes, plain.Bytes()[plain.Len()-2:])
	film := append(plain.Bytes(), bytes.Repeat([]byte{0xff, 0xda, 0, 2}, 65)...)
	meadow := image.NewNRGBA(image.Rect(0, 0, 1600, 1200))
	for i := range meadow.Pix {
		meadow.Pix[i] = uint8(i*i>>9 + i%1600*7)
	}
	pages := printed(t, paper.Letter, 12)
	var hazards bytes.Buffer
	for tag, page := range pages {
		if !strings.ContainsAny(tag, "NRB") {
			if err := jpeg.Encode(&hazards, page, nil); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, test := range []struct {
		name   string
		data   []byte
		kind   error
		saying string
	}{
		{"nothing", nil, errs.Invalid, "JPEG or a PNG"},
		{"a letter", []byte("Dear Rosa, here is the sheet."), errs.Invalid, "JPEG or a PNG"},
		{"HEIC", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), errs.Invalid, "HEIC"},
		{"half a JPEG", []byte("\xff\xd8\xff\xe0\x00\x10JFIF"), errs.Invalid, "damaged"},
		{"a huge PNG", huge, errs.TooLarge, "24 megapixels"},
		{"a JPEG of endless passes", passes, errs.Invalid, "too long to open"},
		{"a photo with a film behind it", film, errs.Invalid, "no field sheet of ours"},
		{"a PDF of endless streams", slices.Concat([]byte("%PDF-1.4\n"), bytes.Repeat([]byte("stream\nendstream\n"), 1000), pdfOf(image.Rect(0, 0, 700, 700), "/DCTDecode", "", plain.Bytes())), errs.Invalid, "no scanned page"},
		{"a big file", append([]byte("\xff\xd8"), make([]byte, scan.MaxFile)...), errs.TooLarge, "12 MB"},
		{"a PDF of text", []byte("%PDF-1.4\n1 0 obj\n<< /Length 5 >>\nstream\nBT ET\nendstream\nendobj\n"), errs.Invalid, "no scanned page"},
		{"a locked PDF", []byte("%PDF-1.4\ntrailer << /Encrypt 3 0 R >>"), errs.Invalid, "locked"},
		{"a meadow", pngOf(t, meadow), errs.Invalid, "no field sheet of ours"},
		{"the hazards", hazards.Bytes(), errs.Invalid, "hazards has no code"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := readOne(test.data)
			message, _ := errs.Message(err)
			if !errors.Is(err, test.kind) || !strings.Contains(message, test.saying) {
				t.Errorf("%v, want %v that says %q", err, test.kind, test.saying)
			}
		})
	}
}

// TestBlank: a sheet on which nothing was done yet says so, straight from the printer and in either size.
func TestBlank(t *testing.T) {
	for _, size := range paper.Sizes {
		for tag, page := range printed(t, size, 7) {
			if !strings.ContainsAny(tag, "NRB") {
				continue
			}
			got, err := readOne(pngOf(t, page))
			if err != nil {
				t.Errorf("%s: %v", tag, err)
				continue
			}
			if got.Sheet.Tag() != tag || !got.Blank() {
				t.Errorf("%s read as %s, blank %v", tag, got.Sheet.Tag(), got.Blank())
			}
		}
	}
}

// TestJPEG: the straightened sheet is a picture and nothing else, as small as asked for.
func TestJPEG(t *testing.T) {
	data, err := os.ReadFile("testdata/300.jpg")
	if err != nil {
		t.Fatal(err)
	}
	got, err := readOne(data)
	if err != nil {
		t.Fatal(err)
	}
	for _, most := range []int{400_000, 100_000} {
		small, err := got.JPEG(most)
		if err != nil || len(small) > most {
			t.Fatalf("%d bytes, %v", len(small), err)
		}
		c, err := jpeg.DecodeConfig(bytes.NewReader(small))
		w, h := got.Sheet.Size.MM()
		if err != nil || c.ColorModel != color.GrayModel || c.Width != int(w*scan.PerMM) || c.Height != int(h*scan.PerMM) {
			t.Errorf("%+v, %v", c, err)
		}
	}
	if _, err := got.JPEG(1000); !errors.Is(err, errs.TooLarge) {
		t.Error("a sheet in a thousand bytes:", err)
	}
}

// FuzzPictures: no file makes the reader panic, or take a picture bigger than its limit.
func FuzzPictures(f *testing.F) {
	small := image.NewGray(image.Rect(0, 0, 40, 30))
	for i := range small.Pix {
		small.Pix[i] = uint8(255 * (i / 5 % 2))
	}
	var pic, scanned bytes.Buffer
	if err := errors.Join(jpeg.Encode(&pic, small, nil), png.Encode(&scanned, small)); err != nil {
		f.Fatal(err)
	}
	f.Add(pic.Bytes())
	f.Add(scanned.Bytes())
	page := image.Rect(0, 0, 700, 700)
	f.Add(pdfOf(page, "/DCTDecode", "", pic.Bytes()))
	f.Add(pdfOf(page, "/FlateDecode", "/BitsPerComponent 8", deflated(make([]byte, 700*700))))
	f.Add(pdfOf(page, "/FlateDecode", "/BitsPerComponent 1", deflated(make([]byte, 700*88))))
	f.Add(pdfOf(page, "/FlateDecode", "/BitsPerComponent 8 /DecodeParms << /Predictor 15 /Colors 3 >>", deflated(make([]byte, 700*2101))))
	f.Add(pdfOf(page, "/CCITTFaxDecode", "/K -1", []byte{0x26, 0xa0, 0, 0x10, 1}))
	f.Fuzz(func(t *testing.T, data []byte) {
		pictures, err := scan.Pictures(data)
		if err != nil {
			return
		}
		for _, p := range pictures[:min(2, len(pictures))] {
			if r, err := p.Read(); err == nil {
				r.Blank()
			}
		}
	})
}

// FuzzRead: no picture of any size makes the reader panic, nor does a sheet that is torn or painted over.
func FuzzRead(f *testing.F) {
	f.Add(uint16(40), uint16(30), []byte("squares"), false)
	f.Add(uint16(1), uint16(900), []byte{0, 255}, false)
	f.Add(uint16(300), uint16(2000), []byte{0, 0, 255, 9, 77}, true)
	data, err := os.ReadFile("testdata/302.jpg")
	if err != nil {
		f.Fatal(err)
	}
	pic, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		f.Fatal(err)
	}
	sheet := pic.(*image.YCbCr)
	f.Fuzz(func(t *testing.T, w, h uint16, pattern []byte, on bool) {
		if w == 0 || h == 0 || w > 2000 || h > 2000 || len(pattern) == 0 || len(pattern) > 60 {
			return
		}
		g := image.NewGray(image.Rect(0, 0, int(w), int(h)))
		for i := range g.Pix {
			g.Pix[i] = pattern[(i/7+i/int(w)/5)%len(pattern)]
		}
		if on { // the pattern is laid over a sheet, beginning at w, h
			g = image.NewGray(sheet.Rect)
			copy(g.Pix, sheet.Y)
			for i, v := range pattern {
				for j := range 4000 {
					g.Pix[(int(h)*g.Stride+int(w)+i*4001+j*7)%len(g.Pix)] = v
				}
			}
		}
		if r, err := scan.Read(g); err == nil {
			for _, field := range r.Fields {
				if len(field.Marks) != len(field.Boxes) {
					t.Fatalf("%s has %d marks of %d boxes", field.Name, len(field.Marks), len(field.Boxes))
				}
			}
		}
	})
}
