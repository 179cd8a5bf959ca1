package bulletin_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"tussock/internal/bulletin"
	"tussock/internal/demo"
	"tussock/internal/survey"
)

// A yield is what part of the cells of area by season by substrate somebody in the area can read. A cell counts where
// anybody has nests in the substrate there.
type yield struct {
	cells    int // of these
	alone    int // given for the area by itself
	joined   int // given for the area with its neighbours
	cube     int // a table of every cell with five owners would give: it leaks
	areas    int // area by season
	allAlone int // of these, with a figure over all substrates for the area or with its neighbours
}

func (y yield) String() string {
	share := func(n, of int) string { return fmt.Sprintf("%d %%", 100*n/max(1, of)) }
	return fmt.Sprintf("%d cells: %s for the area itself, %s with neighbours, together %s; the leaky table %s. All substrates: %s of %d areas",
		y.cells, share(y.alone, y.cells), share(y.joined, y.cells), share(y.alone+y.joined, y.cells), share(y.cube, y.cells), share(y.allAlone, y.areas), y.areas)
}

func (y *yield) add(b bulletin.Bulletin, in bulletin.Input) {
	who := map[string]bulletin.Member{}
	for _, m := range in.Roster {
		if m.Consent > 0 {
			who[m.Ranch] = m
		}
	}
	owners := map[[2]string]map[string]bool{}
	areas := map[string]bool{}
	for i := range in.Data.Nests {
		n := &in.Data.Nests[i]
		m, ok := who[n.Ranch]
		if !ok || n.Season != b.Season {
			continue
		}
		k := [2]string{m.Area, string(n.Substrate)}
		if owners[k] == nil {
			owners[k] = map[string]bool{}
		}
		owners[k][m.Entity] = true
		areas[m.Area] = true
	}
	label := map[string]string{}
	for _, p := range b.Places {
		label[p.Area] = p.Label
	}
	for k, who := range owners {
		y.cells++
		if len(who) >= 5 {
			y.cube++
		}
		c, _ := find(b, bulletin.Survival28, label[k[0]], k[1], "")
		switch {
		case !c.Published || label[k[0]] == "" && len(areas) > 1:
		case label[k[0]] == k[0] || len(areas) == 1:
			y.alone++
		default:
			y.joined++
		}
	}
	for a := range areas {
		y.areas++
		if c, _ := find(b, bulletin.Survival28, label[a], "", ""); c.Published && (label[a] != "" || len(areas) == 1) {
			y.allAlone++
		}
	}
}

// demoInput is the demo's cooperative, with every season's rows.
func demoInput() (bulletin.Input, []int) {
	c := demo.Generate(demo.Seed)
	in := bulletin.Input{Data: &c.Data}
	for _, r := range c.Ranches {
		in.Roster = append(in.Roster, bulletin.Member{Ranch: r.Name, Entity: r.Owner, Area: r.Area, Consent: r.Consent})
	}
	for _, a := range c.Areas {
		in.Areas = append(in.Areas, bulletin.Area{Name: a.Name, Group: a.Group})
	}
	return in, c.Seasons
}

// TestYield reports what the protection costs: what can be read of the demo and of random cooperatives, beside a table
// that hides cells below five one by one. On demand, on a
// machine that does nothing else, it holds a season of the demo to four seconds.
func TestYield(t *testing.T) {
	in, seasons := demoInput()
	var ours yield
	for _, season := range seasons {
		in.Season = season
		start := time.Now()
		b := compose(t, in)
		if took := time.Since(start); *long && took > 4*time.Second {
			t.Errorf("the demo's %d took %v, want at most 4 s", season, took)
		}
		in.Earlier = append(in.Earlier, b)
		ours.add(b, in)
		if cell, _ := find(b, bulletin.ClumpsPerAcre, "", "", ""); cell.Estimate == nil {
			t.Errorf("the demo's cover of %d is a band (%s)", season, cell.HeldBecause)
		}
	}
	t.Logf("demo: %v", ours)
	if 100*(ours.alone+ours.joined) < 95*ours.cells {
		t.Errorf("the demo gives less than 95 %%: %v", ours)
	}
	var random yield
	runs := uint64(20)
	if *long {
		runs = 200
	}
	for seed := range runs {
		in := skewed(seed)
		random.add(compose(t, in), in)
	}
	t.Logf("random: %v", random)
	if random.alone+random.joined == 0 {
		t.Error("random cooperatives give nothing")
	}
}

// BenchmarkCompose composes seasons of the demo, with all its earlier ones to be checked against, and of a cooperative of
// 300 ranches.
func BenchmarkCompose(b *testing.B) {
	b.Run("demo", func(b *testing.B) {
		in, seasons := demoInput()
		for _, season := range seasons[:len(seasons)-1] {
			in.Season = season
			one, err := bulletin.Compose(in)
			if err != nil {
				b.Fatal(err)
			}
			in.Earlier = append(in.Earlier, one)
		}
		in.Season = seasons[len(seasons)-1]
		for b.Loop() {
			if _, err := bulletin.Compose(in); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("300 ranches", func(b *testing.B) {
		var hs []holding
		for i := range 300 {
			hs = append(hs, holding{owner: fmt.Sprint("owner ", i), area: fmt.Sprint("area ", i%30), consent: 1, nests: 20 + i%20, kept: 0.5, clumps: 20 + i%30})
		}
		in := input(2025, 1, []survey.Substrate{survey.Bunchgrass, survey.Yucca, survey.Shrub}, hs...)
		for b.Loop() {
			if _, err := bulletin.Compose(in); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// TestFigureYield reports, on demand, what part of the numbers of the demo's figures is shown under the second ruling.
func TestFigureYield(t *testing.T) {
	if !*long {
		t.Skip("on demand: -long")
	}
	in, seasons := demoInput()
	in.WithFigures = true
	type share struct{ shown, of int }
	all := map[string]share{}
	for _, season := range seasons {
		in.Season = season
		b := compose(t, in)
		in.Earlier = append(in.Earlier, b)
		for _, s := range b.Log.Steps {
			if s.Gate != "number" {
				continue
			}
			place, name, _ := strings.Cut(s.Cell, "|")
			kind := strings.Split(name, "|")[0] + " of the whole"
			if place != "" {
				kind = strings.Split(name, "|")[0] + " of places"
			}
			x := all[kind]
			if x.of++; s.Held == "" {
				x.shown++
			}
			all[kind] = x
		}
	}
	for _, kind := range slices.Sorted(maps.Keys(all)) {
		t.Logf("%s: %d of %d", kind, all[kind].shown, all[kind].of)
	}
}
