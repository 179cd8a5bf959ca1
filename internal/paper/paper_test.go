package paper_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"tussock/internal/fieldwork"
	"tussock/internal/paper"
)

func sheets() []paper.Sheet {
	var list []paper.Sheet
	for _, size := range paper.Sizes {
		for _, page := range []paper.Page{paper.Nests, paper.Remains, paper.Belt} {
			list = append(list, paper.Sheet{Page: page, Size: size, First: 1, Last: 12}, paper.Sheet{Page: page, Size: size, First: 13, Last: 19})
		}
	}
	return list
}

// TestCode: what the code of a sheet says is read back, whatever address stands before it; codes that say no page, or one
// of another layout, are told apart.
func TestCode(t *testing.T) {
	for _, s := range sheets() {
		for _, prefix := range []string{"", "https://tussock.example:8443/key/"} {
			for _, line := range []string{"KX7P2M", ""} {
				got, page, err := paper.ParseCode(s.CodeText(prefix, line))
				if err != nil || got != line || page != s {
					t.Errorf("%s: %q %+v %v", s.CodeText(prefix, line), got, page, err)
				}
			}
		}
	}
	for text, want := range map[string]error{
		"https://tussock.example/key/KX7P2M": paper.ErrNoTag, "": paper.ErrNoTag, "HTTPS://X.Y/KEY/KX7P2M.1NL5-3": paper.ErrNoTag,
		"KX7P2M.1NL1-13": paper.ErrNoTag, "KX7P2M.1NL0-3": paper.ErrNoTag, "KX7P2M.2NL1-12": paper.ErrVersion, "KX7P2M.1QL1-12": paper.ErrNoTag,
	} {
		if _, _, err := paper.ParseCode(text); !errors.Is(err, want) {
			t.Errorf("%q: %v, want %v", text, err, want)
		}
	}
}

// TestFields: everything lies on its page, no two boxes lie on one another, and nothing reaches into the code or a corner mark.
func TestFields(t *testing.T) {
	for _, s := range sheets() {
		w, h := s.Size.MM()
		var taken []paper.Rect
		for _, m := range s.Size.Marks() {
			taken = append(taken, m)
		}
		taken = append(taken, s.Size.Code())
		for _, f := range s.Fields() {
			places := slices.Clone(f.Boxes)
			if f.Place != (paper.Rect{}) {
				places = append(places, f.Place)
			}
			if len(places) == 0 {
				t.Errorf("%s: %s is nowhere", s.Tag(), f.Name)
			}
			for _, p := range places {
				if p.X < paper.Left-.01 || p.X+p.W > w-paper.Left+.01 || p.Y < paper.Top || p.Y+p.H > h-paper.Left || p.W < 2 || p.H < 2 {
					t.Errorf("%s: %s at %+v", s.Tag(), f.Name, p)
				}
				for _, o := range taken {
					if p.X+.01 < o.X+o.W && o.X+.01 < p.X+p.W && p.Y+.01 < o.Y+o.H && o.Y+.01 < p.Y+p.H {
						t.Errorf("%s: %s at %+v lies on %+v", s.Tag(), f.Name, p, o)
					}
				}
				taken = append(taken, p)
			}
			if c := f.CutOut(); c.W < 5 || c.H < 5 {
				t.Errorf("%s: cut-out of %s is %+v", s.Tag(), f.Name, c)
			}
		}
	}
}

// TestNames: the tables have every box that is keyed.
func TestNames(t *testing.T) {
	names := map[string]bool{}
	for _, s := range sheets() {
		for _, f := range s.Fields() {
			name, _, _ := strings.Cut(f.Name, ".")
			names[name] = true
		}
	}
	for _, name := range append(fieldwork.RowBoxes(), fieldwork.RemainsBoxes()...) {
		if !names[name] {
			t.Errorf("%s is keyed, and on no page", name)
		}
	}
}
