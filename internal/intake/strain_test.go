package intake_test

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"golang.org/x/sync/errgroup"

	"tussock/internal/intake"
)

// Nonsense stands for headings that nobody has met.
var nonsense = []string{"Brindle", "Quorum", "Tassel", "Pivot", "Ember", "Rowan", "Lattice", "Mosaic", "Garnet", "Fathom", "Juniper2b", "Trellis", "Cobalt", "Sextant", "Willet", "Ochre", "Harrow", "Nimbus", "Pumice", "Zephyr", "Talon", "Umber", "Vesper", "Wicket"}

type strain struct {
	kind  string
	books []book
}

// strains are ways to lay out the same season that people may choose and nobody has met.
func strains(books []book, p plain) []strain {
	var out []strain
	add := func(kind string, change func(rows *[][]string)) {
		bs := slices.Clone(books)
		bs[p.book] = bs[p.book].clone()
		change(&bs[p.book].tabs[p.tab].rows)
		out = append(out, strain{kind, bs})
	}
	rows := p.rows(books)
	head := rows[p.head]
	for c := range head {
		if role := p.roles[c]; role != "" && strings.TrimSpace(head[c]) != "" {
			add("one heading unknown: "+strings.TrimRight(role, "0123456789"), func(rows *[][]string) { (*rows)[p.head][c] = nonsense[c%len(nonsense)] })
			add("one heading blank", func(rows *[][]string) { (*rows)[p.head][c] = "" })
		}
	}
	add("all headings unknown", func(rows *[][]string) {
		for c := range (*rows)[p.head] {
			if (*rows)[p.head][c] != "" {
				(*rows)[p.head][c] = nonsense[c%len(nonsense)]
			}
		}
	})
	add("no headings", func(rows *[][]string) { *rows = slices.Delete(*rows, p.head, p.head+1) })
	add("a row of units below", func(rows *[][]string) {
		u := make([]string, len(head))
		for c := range u {
			switch {
			case strings.HasSuffix(p.roles[c], "_on"):
				u[c] = "date"
			case p.roles[c] == "nest":
				u[c] = "no."
			}
		}
		*rows = slices.Insert(*rows, p.head+1, u)
	})
	add("words over the headings", func(rows *[][]string) {
		u := make([]string, len(head))
		for c := range u {
			switch role := p.roles[c]; {
			case role == "set_on":
				u[c] = "PLACING"
			case strings.HasPrefix(role, "check1"):
				u[c] = "FIRST TIME ROUND"
			case strings.HasPrefix(role, "check2"):
				u[c] = "SECOND TIME ROUND"
			}
		}
		for c := len(u) - 1; c > 0; c-- {
			if u[c] == u[c-1] {
				u[c] = ""
			}
		}
		*rows = slices.Insert(*rows, p.head, u)
	})
	add("headings in two rows", func(rows *[][]string) {
		u := make([]string, len(head))
		for c, h := range (*rows)[p.head] {
			if one, two, ok := strings.Cut(h, " "); ok {
				u[c], (*rows)[p.head][c] = one, two
			}
		}
		*rows = slices.Insert(*rows, p.head, u)
	})
	add("columns of something else", func(rows *[][]string) {
		for r := range *rows {
			if r < p.head || len((*rows)[r]) == 0 {
				continue
			}
			a, b := fmt.Sprintf("%.1f", 12+float64(r%17)*1.3), []string{"clear", "wind", "overcast", "rain later"}[r%4]
			if r == p.head {
				a, b = "Garnet", "Ochre"
			}
			at := min(2, len((*rows)[r]))
			(*rows)[r] = slices.Insert(slices.Clone((*rows)[r]), at, a, b)
		}
	})
	add("a first column of stamps", func(rows *[][]string) {
		for r := range *rows {
			if r < p.head || len((*rows)[r]) == 0 {
				continue
			}
			a := fmt.Sprintf("REC-%05d", 40210+r*7)
			if r == p.head {
				a = "Key"
			}
			(*rows)[r] = slices.Insert(slices.Clone((*rows)[r]), 0, a)
		}
	})
	return out
}

// TestStrain takes sheets of the corpus that are read whole apart and lays them out as nobody has yet: with headings nobody
// knows or none, with rows of units, with columns of something else between. It prints how many nests come out right, asked
// about and wrong in silence, and holds the sums to bars last measured. TUSSOCK_STRAIN takes every so manieth sheet.
func TestStrain(t *testing.T) {
	step := 16
	fmt.Sscan(os.Getenv("TUSSOCK_STRAIN"), &step)
	if testing.Short() {
		t.Skip("reads each sheet some thirty times")
	}
	roots, err := filepath.Glob("../../testdata/sheets/tuned/*")
	if err != nil {
		t.Fatal(err)
	}
	sums := map[string]*score{}
	var mu sync.Mutex
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i, dir := range corpusDirs(t, roots...) {
		if i%step != 0 {
			continue
		}
		tr, files, opt := loadCase(t, dir)
		books, p, ok := readWhole(t, &tr, files, opt)
		if !ok {
			continue
		}
		g.Go(func() error {
			for _, s := range strains(books, p) {
				res, err := intake.Read(filesOf(t, s.books), opt)
				if err != nil {
					res = refusedWhole(err)
				}
				one := grade(&tr, res)
				mu.Lock()
				if sums[s.kind] == nil {
					sums[s.kind] = &score{}
				}
				sums[s.kind].add(one)
				mu.Unlock()
			}
			return nil
		})
	}
	g.Wait()
	var all score
	for _, kind := range slices.Sorted(maps.Keys(sums)) {
		x := sums[kind]
		all.add(*x)
		t.Logf("%-42s of %4d nests right %5.1f %%, asked %5.1f %%, wrong or made up %4.1f %%", kind, x.nests, percent(x.right, x.nests), percent(x.asked, x.nests), percent(x.wrong+x.extra, x.nests))
	}
	t.Logf("%-42s of %4d nests right %5.1f %%, asked %5.1f %%, wrong or made up %4.1f %%", "ALL", all.nests, percent(all.right, all.nests), percent(all.asked, all.nests), percent(all.wrong+all.extra, all.nests))
	if right, wrong := percent(all.right, all.nests), percent(all.wrong+all.extra, all.nests); right < 90 || wrong > 3 {
		t.Errorf("%.1f %% right, want 90; %.1f %% wrong or made up, want 3 at most", right, wrong)
	}
}

func percent(part, of int) float64 { return 100 * float64(part) / float64(max(of, 1)) }

// readWhole takes a sheet apart that is read whole, as it came and written again as bare cells, and that is one plain table.
func readWhole(t *testing.T, tr *truth, files []intake.File, opt intake.Options) ([]book, plain, bool) {
	t.Helper()
	whole := func(files []intake.File) *intake.Result {
		res, err := intake.Read(files, opt)
		if err != nil {
			return nil
		}
		if a := grade(tr, res); a.right < a.nests || a.wrong+a.extra > 0 {
			return nil
		}
		return res
	}
	if whole(files) == nil {
		return nil, plain{}, false
	}
	books, ok := bare(t, files)
	if !ok {
		return nil, plain{}, false
	}
	res := whole(filesOf(t, books))
	if res == nil {
		return nil, plain{}, false
	}
	ps := plains(books, res)
	if len(ps) != 1 {
		return nil, plain{}, false
	}
	return books, ps[0], true
}
