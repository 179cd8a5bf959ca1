// Inside the package: bundling is no one else's business.

package pages

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/errs"
	"tussock/internal/intake"
	"tussock/internal/words"
)

func TestBundle(t *testing.T) {
	nests := intake.File{Name: "nests.csv", Data: []byte("ranch,nest\r\n\xef\xbb\xbf1,\x00")}
	belts := intake.File{Name: "belts.csv", Data: []byte("length\n726\n")}

	t.Run("OneFileStaysAsItIs", func(t *testing.T) {
		name, data, err := bundle([]intake.File{nests})
		if err != nil || name != nests.Name || !bytes.Equal(data, nests.Data) {
			t.Fatalf("bundle = %q, %q, %v; want the file itself", name, data, err)
		}
	})
	t.Run("SeveralComeBackUnchanged", func(t *testing.T) {
		name, data, err := bundle([]intake.File{nests, belts})
		if err != nil {
			t.Fatal(err)
		}
		got, err := unpacked([]intake.File{{Name: name, Data: data}}, words.Speaker{})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]intake.File{belts, nests}, got); diff != "" {
			t.Errorf("unpacked (-want +got):\n%s", diff)
		}
	})
	t.Run("OrderDoesNotMatter", func(t *testing.T) {
		_, one, err := bundle([]intake.File{nests, belts})
		if err != nil {
			t.Fatal(err)
		}
		_, other, err := bundle([]intake.File{belts, nests})
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(one, other) {
			t.Error("the same files chosen in another order give other bytes, so a second sending goes unnoticed")
		}
	})
	// An archive made by bundle is a plain .zip: the standard library's own reader opens it.
	t.Run("PlainZip", func(t *testing.T) {
		_, data, err := bundle([]intake.File{nests, belts})
		if err != nil {
			t.Fatal(err)
		}
		r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		if len(r.File) != 2 || r.File[1].Method != zip.Store {
			t.Errorf("archive holds %d files, method %d; want 2, stored", len(r.File), r.File[1].Method)
		}
	})
}

// What is too much for a file or a sending is refused, in words, and before it is kept.
func TestUnpackedRefuses(t *testing.T) {
	packed := func(write func(*zip.Writer)) []byte {
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		write(w)
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	for _, tt := range []struct {
		name string
		data []byte
	}{
		{"Bomb", packed(func(w *zip.Writer) {
			f, err := w.Create("nests.csv")
			if err != nil {
				t.Fatal(err)
			}
			if _, err := io.CopyN(f, zeros{}, maxSending+1); err != nil {
				t.Fatal(err)
			}
		})},
		{"TooMany", packed(func(w *zip.Writer) {
			for i := range maxFiles + 1 {
				if _, err := w.Create(fmt.Sprint(i, ".csv")); err != nil {
					t.Fatal(err)
				}
			}
		})},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := unpacked([]intake.File{{Name: "season.ZIP", Data: tt.data}}, words.Speaker{})
			if !errors.Is(err, errs.TooLarge) {
				t.Errorf("unpacked = %v, want too large", err)
			}
			if _, ok := errs.Message(err); !ok {
				t.Error("the error has no sentence for the sender")
			}
		})
	}
}

// Old sheets: a workbook by itself, text files of one year together, in whatever folder they lay.
func TestSeasonsApart(t *testing.T) {
	text := func(name string) intake.File { return intake.File{Name: name, Data: []byte("a,b\n1,2\n")} }
	book := intake.File{Name: "2019 nests.xlsx", Data: []byte("PK\x03\x04 as a workbook begins")}
	groups := seasonsApart([]intake.File{text("2019/nests.csv"), book, text("belts-2019.csv"), text("nests.csv"), text("more.csv"), text("2020 nests.csv"), text("plot 120195.csv")})
	var got []string
	for _, g := range groups {
		line := oldName(g, bundleName) + ":"
		for _, f := range g {
			line += " " + f.Name
		}
		got = append(got, line)
	}
	want := []string{"2019 season sheets.zip: 2019/nests.csv belts-2019.csv", "2019 nests.xlsx: 2019 nests.xlsx", "nests.csv: nests.csv", "more.csv: more.csv", "2020 nests.csv: 2020 nests.csv", "plot 120195.csv: plot 120195.csv"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("seasons apart (-want +got):\n%s", diff)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

func TestSafeName(t *testing.T) {
	for _, tt := range []struct{ name, in, want string }{
		{"Plain", "nests 2026.xlsx", "nests 2026.xlsx"},
		{"Spanish", "nidos otoño.csv", "nidos otoño.csv"},
		{"Path", `C:\Users\ada\nests.csv`, "nests.csv"},
		{"Climbs", "../../etc/passwd", "passwd"},
		{"HeaderSplit", "a\r\nSet-Cookie: x=1.csv", "aSet-Cookie: x=1.csv"},
		{"TurnsRound", "nests\u202excod.csv", "nestsxcod.csv"},
		{"Hidden", "...", "sheet"},
		{"Empty", "", "sheet"},
		{"Long", strings.Repeat("é", 200) + ".xlsx", strings.Repeat("é", 115) + ".xlsx"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := safeName(tt.in); got != tt.want {
				t.Errorf("safeName(%q) = %q, want %q", tt.in, got, tt.want)
			}
		})
	}
}

// OWASP, "CSV Injection": a cell that starts with one of = + - @, tab or carriage return is taken for a formula.
func TestInert(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"bunchgrass", "bunchgrass"},
		{`=HYPERLINK("http://x")`, `'=HYPERLINK("http://x")`},
		{"+1", "'+1"}, {"-1", "'-1"}, {"@SUM(A1)", "'@SUM(A1)"}, {"\t=1", "'\t=1"}, {"\r=1", "'\r=1"},
		{"", ""},
	} {
		if got := inert(tt.in); got != tt.want {
			t.Errorf("inert(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}
