package pages

import (
	"fmt"
	"slices"
	"strings"

	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/stat/shrink"
	"tussock/internal/words"
)

// A named ranch's figure is steadied by what is published of the others and by nothing else: the biologist sees the rows of
// the ranches that share by name, and no other's.

// normal95 is how many standard errors a 95 % interval reaches to either side.
const normal95 = 1.959963984540054

// othersBySeason reads each season's published survival and owner spread as how landowners lie on the scale log(−log S). A
// season of which one of them is not shown is not in it.
func othersBySeason(d namedData, results map[int]*findings.Result) map[int]shrink.Others {
	all := map[int]shrink.Others{}
	for season := range results {
		mean, ok := findCell(d.cells, season, "", "", bulletin.Survival28, "")
		spread, also := findCell(d.cells, season, "", "", bulletin.OwnerSpread, "")
		if ok && also && inside(mean.Estimate) && spread.Estimate != nil && *spread.Estimate > 0 {
			all[season] = shrink.Others{Mean: shrink.LogLog(*mean.Estimate), SD: *spread.Estimate}
		}
	}
	return all
}

func inside(x *float64) bool { return x != nil && *x > 0 && *x < 1 }

// ownError is the standard error on the scale log(−log S) that the ranch's own interval stands for: with few lines that is
// wider than the normal distribution's, by Student's t.
func ownError(r findings.Range) (float64, bool) {
	if !inside(r.Estimate) || !inside(r.Low) || !inside(r.High) {
		return 0, false
	}
	se := (shrink.LogLog(*r.Low) - shrink.LogLog(*r.High)) / (2 * normal95)
	return se, se > 0
}

// steadied draws a ranch's figure towards the others and gives its conditional interval; "–" where the ranch's own says
// nothing of how sure it is.
func steadied(say words.Speaker, own findings.Range, others shrink.Others) (figure, span string) {
	se, ok := ownError(own)
	if !ok {
		return "–", ""
	}
	x, conditional := shrink.Towards(shrink.LogLog(*own.Estimate), se, others)
	at := func(x float64) string { return tenth(100 * shrink.FromLogLog(x)) }
	return at(x), say.Say("%s to %s", at(x+normal95*conditional), at(x-normal95*conditional))
}

func steadyMethod(say words.Speaker, published map[int]shrink.Others) []string {
	if len(published) == 0 {
		return []string{say.Say("Not steadied: of none of these seasons are both the cooperative’s survival and the spread between landowners published for you.")}
	}
	var spreads []string
	for season, o := range published {
		spreads = append(spreads, fmt.Sprintf("%d: %.2f", season, o.SD))
	}
	slices.Sort(spreads)
	return []string{
		say.Say("Steadied: the ranch’s own figure drawn towards the season’s published survival of the whole cooperative, the more so the less its own nests say, on the scale log(−log S): weights 1 ÷ own variance and 1 ÷ variance between landowners. Only this ranch’s rows and published figures go in."),
		say.Say("Between landowners: the published spread on that scale, within which two in three lie: %s.", strings.Join(spreads, "; ")),
		say.Say("Its range is conditional: 95 % where the published figure and the spread between landowners are as they are taken to be. Both stand on the bulletin’s steps."),
	}
}
