package findings

import (
	"cmp"
	"slices"

	"tussock/internal/stat/plan"
	"tussock/internal/survey"
)

// A Past is what a plan takes from the seasons before. It is of all rows, so of one ranch where these are.
type Past struct {
	Lines         int      // of all seasons, with a nest whose fate is known
	Alike         *float64 // how alike the nests of a line fare: plan.ICC of those lines, nil where they do not tell
	Nests, Intact int      // whose fate is known in the latest season, and how many of them lasted
	BeltCV        *float64 // how much belts differ in the latest season with four or more, nil where there is none: plan.BeltCV
}

func pastOf(d *survey.Data) (p Past) {
	lines := map[survey.TransectKey]plan.Transect{}
	latest := 0
	for i := range d.Nests {
		if fate := d.Nests[i].Fate(); fate != "" && fate != survey.Lost {
			t := lines[d.Nests[i].Key()]
			t.Nests++
			if fate == survey.Intact {
				t.Intact++
			}
			lines[d.Nests[i].Key()] = t
			latest = max(latest, d.Nests[i].Season)
		}
	}
	all := make([]plan.Transect, 0, len(lines))
	for key, t := range lines {
		all = append(all, t)
		if key.Season == latest {
			p.Nests, p.Intact = p.Nests+t.Nests, p.Intact+t.Intact
		}
	}
	slices.SortFunc(all, func(a, b plan.Transect) int { return cmp.Or(a.Nests-b.Nests, a.Intact-b.Intact) }) // so that the sums are the same each time
	p.Lines = len(all)
	if c := plan.ICC(all); c.Known {
		p.Alike = &c.ICC
	}
	p.BeltCV = beltCV(d.Belts)
	return p
}

func beltCV(belts []survey.Belt) *float64 {
	counts, areas := map[int][]float64{}, map[int][]float64{}
	latest := 0
	for i := range belts {
		b := &belts[i]
		if b.Acres() <= 0 {
			continue
		}
		n := 0
		for _, c := range b.Counts {
			n += c
		}
		counts[b.Season], areas[b.Season] = append(counts[b.Season], float64(n)), append(areas[b.Season], b.Acres())
		if len(counts[b.Season]) >= 4 {
			latest = max(latest, b.Season)
		}
	}
	if cv, ok := plan.BeltCV(counts[latest], areas[latest]); ok && latest > 0 {
		return number(cv)
	}
	return nil
}
