package scan_test

import (
	"encoding/json"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"tussock/internal/paper"
	"tussock/internal/scan"
)

// A score counts how fields and boxes were read against the truth.
type score struct {
	sync.Mutex
	right, asked, wrong            int // fields with boxes
	boxesRight, boxesAsk, boxesBad int
	unseen, imagined               int // places with handwriting that was not seen, and without that was
	photos, refused                int
}

func (s *score) String() string {
	return fmt.Sprintf("%d photos, %d refused; answers: %d right, %d asked, %d wrong; boxes: %d right, %d asked, %d wrong; handwriting: %d not seen, %d imagined",
		s.photos, s.refused, s.right, s.asked, s.wrong, s.boxesRight, s.boxesAsk, s.boxesBad, s.unseen, s.imagined)
}

// add holds one reading against the truth.
func (s *score) add(t *testing.T, r *scan.Reading, want truth) {
	t.Helper()
	s.Lock()
	defer s.Unlock()
	for _, f := range r.Fields {
		w := want[f.Name]
		if w.Boxes == nil {
			w.Boxes = make([]string, len(f.Boxes))
		}
		if f.Place != (paper.Rect{}) {
			switch {
			case w.Written && !f.Written:
				s.unseen++
				t.Errorf("%s: what is written by hand was not seen", f.Name)
			case f.Written && !w.Written:
				s.imagined++
			}
		}
		if f.Boxes == nil {
			continue
		}
		switch {
		case !f.Sure:
			s.asked++
			if testing.Verbose() {
				t.Logf("asked %s: %v %q, read %v %q", f.Name, w.Boxes[:min(8, len(w.Boxes))], w.Value, f.Marks[:min(8, len(f.Marks))], f.Value)
			}
		case f.Value == w.Value:
			s.right++
		default:
			s.wrong++
			t.Errorf("%s: read %q, is %q; boxes %v, are %v", f.Name, f.Value, w.Value, f.Marks, w.Boxes)
		}
		for i, m := range f.Marks {
			switch {
			case !f.Sure:
				s.boxesAsk++
			case w.Boxes[i] == "?" || (m == scan.Ticked) == (w.Boxes[i] == "tick"):
				s.boxesRight++
			default:
				s.boxesBad++
			}
		}
	}
}

// TestPhotos reads twenty sheets that the studio filled in and photographed: every box is right or asked about, and nothing is
// wrong in silence.
func TestPhotos(t *testing.T) {
	pages := map[string]*image.Gray{}
	sheets := []paper.Sheet{}
	for _, size := range paper.Sizes {
		for tag, page := range printed(t, size, 21) {
			pages[tag] = page
		}
		for _, first := range []int{1, 13} {
			for _, page := range []paper.Page{paper.Nests, paper.Remains, paper.Belt} {
				sheets = append(sheets, paper.Sheet{Page: page, Size: size, First: first, Last: min(21, first+11)})
			}
		}
	}
	var all score
	t.Run("all", func(t *testing.T) {
		for seed := range 20 {
			t.Run(fmt.Sprint(seed), func(t *testing.T) {
				t.Parallel()
				r := rand.New(rand.NewPCG(uint64(seed), 7))
				s := sheets[seed%len(sheets)]
				page := image.NewGray(pages[s.Tag()].Rect)
				copy(page.Pix, pages[s.Tag()].Pix)
				want := fill(page, s, r)
				wear(page, r)
				c := anyCamera(r, []int{1600, 1600, 2048, 4032}[seed%4])
				photo := c.shoot(page, r, 50+r.IntN(41))
				began := time.Now()
				got, err := readOne(photo)
				t.Logf("%s, %d kB, read in %v", c.name(s), len(photo)>>10, time.Since(began).Round(time.Millisecond))
				all.Lock()
				all.photos++
				all.Unlock()
				if err != nil {
					all.refused++
					t.Error(err)
					return
				}
				if got.Line != "KX7P2M" || got.Sheet != s {
					t.Fatalf("read as %s %+v", got.Line, got.Sheet)
				}
				all.add(t, got, want)
			})
		}
	})
	t.Log(&all)
	if all.asked*100 > (all.right+all.asked)*12 {
		t.Errorf("%d of %d answers are asked about", all.asked, all.right+all.asked)
	}
}

// readOne reads the one picture in a file.
func readOne(data []byte) (*scan.Reading, error) {
	pictures, err := scan.Pictures(data)
	if err != nil {
		return nil, err
	}
	return pictures[0].Read()
}

// A kept is a picture's truth in testdata.
type kept struct {
	Tag    string
	Fields truth
}

func truthIn(t *testing.T, name string) kept {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var k kept
	if err := json.Unmarshal(text, &k); err != nil {
		t.Fatal(err)
	}
	return k
}

// TestFresh reads the pictures in testdata, which another program filled in and photographed.
func TestFresh(t *testing.T) {
	names, err := filepath.Glob("testdata/*.jpg")
	if err != nil || len(names) == 0 {
		t.Fatal("no pictures", err)
	}
	var all score
	for _, name := range names {
		t.Run(filepath.Base(name), func(t *testing.T) {
			want := truthIn(t, strings.TrimSuffix(name, ".jpg")+".json")
			photo, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			all.photos++
			got, err := readOne(photo)
			if err != nil {
				all.refused++
				t.Fatal(err)
			}
			if got.Line != "KX7P2M" || got.Sheet.Tag() != want.Tag {
				t.Fatalf("read as %s %s", got.Line, got.Sheet.Tag())
			}
			all.add(t, got, want.Fields)
		})
	}
	t.Log(&all)
}
