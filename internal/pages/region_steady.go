package pages

import (
	"fmt"
	"slices"
	"strings"

	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// A ranch's hierarchical figure is made of its own rows and of what is published for its reader, and of nothing else: see
// bulletin.Published.

// publishedFor is what is published, as it bears on one ranch's figure.
func publishedFor(heads []postgres.BulletinHead, cells []bulletin.Cell) bulletin.Published {
	p := bulletin.Published{Cells: cells, Covers: map[int][]string{}}
	for _, h := range heads {
		p.Covers[h.Season] = h.Covers
	}
	return p
}

// normal95 is how many standard errors a 95 % interval reaches to either side.
const normal95 = 1.959963984540054

// inside tells whether a rate has a place on the scale log(−log S).
func inside(x *float64) bool { return x != nil && *x > 0 && *x < 1 }

// steadyMethod says how the hierarchical figures of some ranches and seasons were made.
func steadyMethod(say words.Speaker, made map[int]bulletin.Steadied) []string {
	if len(made) == 0 {
		return []string{say.Say("Not steadied: of none of these seasons, nor of one before, is the cooperative’s survival published for you.")}
	}
	var spreads []string
	assumed := false
	for season, s := range made {
		spreads = append(spreads, fmt.Sprintf("%d: %.2f", season, s.Spread))
		assumed = assumed || !s.Told
	}
	slices.Sort(spreads)
	list := []string{
		say.Say("Steadied: the ranch’s own figure drawn toward the published survival of the whole cooperative, the more so the less its own nests say, on the scale log(−log S), and toward its own other seasons. Only this ranch’s rows and published figures go in: survival, the spread between landowners, the design effect."),
		say.Say("Between landowners: the spread on that scale, within which two in three lie: %s.", strings.Join(spreads, "; ")),
		say.Say("Its range allows for not knowing that spread, the published figure or how much of what sets a ranch apart stays from season to season; it holds the truth about 95 times in 100."),
	}
	if assumed {
		list = append(list, say.Say("With fewer than twenty landowners no spread is published: 0.35 is assumed, and that it may be a third or three times as much. Where landowners hardly differ the range then holds the truth 98 times in 100, at a spread of 0.60 about 92 times."))
	}
	return list
}

// steadiedCell writes a hierarchical figure with its range.
func steadiedCell(say words.Speaker, r findings.Range) (figure, span string) {
	return tenth(100 * *r.Estimate), say.Say("%s to %s", tenth(100**r.Low), tenth(100**r.High))
}
