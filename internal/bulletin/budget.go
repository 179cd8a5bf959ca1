package bulletin

import (
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// A budget is what all figures on survival of a season may tell of any owner's nests. Figures are rows: what each nest that lasted
// adds to them.
type budget struct {
	c     *composer
	nests []*looked
	rows  []row
}

type row func(n *looked) float64

// fits takes figures up, where with all that is taken up already they do not tell too much.
func (b *budget) fits(more ...row) bool {
	if b == nil {
		return false
	}
	rows := append(b.rows[:len(b.rows):len(b.rows)], more...)
	if b.c.policy.Tells(b.stakes(rows)) != "" {
		return false
	}
	b.rows = rows
	return true
}

// fitsWindow tells whether the mean over all covers may be given by a window, a fifth of the scale.
func (b *budget) fitsWindow() bool {
	const certain = 0.25 // the variance that one nest's lasting has, which stakes leave out
	width := 0.2
	return b.c.policy.Tells(append(b.stakes([]row{b.c.meanRow("")}), disclosure.Stake{Rounding: true, Spread: [][]float64{{width * width / 12 / certain}}})) == ""
}

// fitsDays tells whether the share of nests left on so many days between setting and day 28, evenly apart, may be given too, each of them twice, on steps of
// 5 points. When in the four weeks a nest was lost says nothing of whether it was, so this is beside all rows: of nests of which half are lost, as many each day.
func (b *budget) fitsDays(days int) bool {
	const certain, step = 0.25, 0.05
	rows := len(b.rows)
	mean := b.stakes([]row{b.c.meanRow("")})
	stakes := b.stakes(b.rows)
	rounding := disclosure.Stake{Rounding: true, Spread: square(rows + days)}
	for i := range stakes {
		grown := square(rows + days)
		for r := range rows {
			copy(grown[r], stakes[i].Spread[r])
		}
		for d := range days {
			for e := range days {
				early, late := float64(min(d, e)+1)/float64(days+1), float64(max(d, e)+1)/float64(days+1)
				grown[rows+d][rows+e] = mean[i].Spread[0][0] * early * (1 - late) / 2 / certain
			}
		}
		stakes[i].Spread = grown
	}
	for d := range days {
		rounding.Spread[rows+d][rows+d] = step * step / 4 / 12 / certain // two roundings leave half a step or so
	}
	return b.c.policy.Tells(append(stakes, rounding)) == ""
}

// stakes are what each owner has in figures beforehand: nests that last or not, with luck of their own and of their owner's. Of
// N nests that are alike, and share their luck by ρ, the number that lasts varies by N·(1 − ρ) + N²·ρ times what a single one's does.
func (b *budget) stakes(rows []row) (list []disclosure.Stake) {
	var alike []float64         // the sums of an owner's rows
	for i, n := range b.nests { // in order of owner
		if i == 0 || n.entity != b.nests[i-1].entity {
			list = append(list, disclosure.Stake{Entity: n.entity, Known: n.known, Spread: square(len(rows))})
			alike = make([]float64, len(rows))
		}
		s := &list[len(list)-1]
		x := make([]float64, len(rows))
		for r, of := range rows {
			x[r] = of(n)
			alike[r] += x[r]
		}
		for r := range rows {
			for q := range rows {
				s.Spread[r][q] += (1 - likeness) * x[r] * x[q]
			}
		}
		if i+1 == len(b.nests) || b.nests[i+1].entity != n.entity {
			for r := range rows {
				for q := range rows {
					s.Spread[r][q] += likeness * alike[r] * alike[q]
				}
			}
		}
	}
	return list
}

func square(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// meanRow is the mean of the standard covers' survivals, in a place or ("") in the whole.
func (c *composer) meanRow(place string) row {
	weight := map[survey.Substrate]float64{}
	for _, n := range only(c.nests, c.standards...) {
		if place == "" || n.label == place {
			weight[n.substrate]++
		}
	}
	for h, n := range weight {
		weight[h] = 1 / n
	}
	return func(n *looked) float64 {
		if place != "" && n.label != place {
			return 0
		}
		return weight[n.substrate]
	}
}

// coverRows are the survivals in each standard cover. With all but one of them the mean over all follows.
func (c *composer) coverRows() (rows []row) {
	for _, h := range c.standards[:max(0, len(c.standards)-1)] {
		rows = append(rows, func(n *looked) float64 {
			if n.substrate == h {
				return 1
			}
			return 0
		})
	}
	return rows
}
