package pages

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/bulletin"
	"tussock/internal/postgres"
)

// Behind every figure of the region stands how it is made: what it is, what went in, on which step it stands, how many nests
// and transects in tens and landowners in a band, which bulletin froze it, and which program with which seed made that.

// The sentences that several figures share.
const (
	methodRange  = "Range: 95 %. Nests of one landowner share their luck, which widens it: by one rounded factor for all figures of a season in one kind of cover and by another for those over all kinds, fixed ones below ten landowners, since a factor for each would tell whether landowners did alike. Where few landowners differ much, that is too little. Ends rounded outward to the grid."
	methodRates  = "Steps: 5 of 100 with five to nine landowners behind a figure, 2 with ten to 29, 1 from 30."
	methodNoSeed = "No random numbers are used."
	methodLeast  = "At least five landowners and 30 nests, no landowner with most of them."
)

// limitsMethod is how what limits nests is told, on the region's pages and on outreach's.
func limitsMethod(heads []postgres.BulletinHead, season int, l bulletin.Limits) []string {
	return append(slices.Clone(limitsWords), methodModels, basisLine(l.Basis, season), landownersLine(l.Entities), frozenLine(heads, season))
}

// limitsWords say what each of the three is.
var limitsWords = []string{
	"Cover short: the chance of fewer than 300 clumps an acre. Losses high: that of 300 or more, times that of half of the nests or fewer lasting to day 28. Lasting well: that of 300 or more, times that of more than half lasting. Cover and survival are taken as independent.",
	"Survival is that of the regional model on the same footing, in the season; clumps an acre are as in the bulletin, all kinds together; each with its own uncertainty.",
	"Chances stand on steps of 10 of 100, none below 10 or above 90. One of the three is named from four chances in five on; none is ever called certain. 300 clumps and half of the nests are common practice, no law of nature.",
}

// The definitions that the region's and outreach's notes share.
const (
	methodSurvival = "Nests intact on day 28 of 100 put out, all causes of loss: from the intervals between visits, one daily rate before day 14 and one after, fitted by likelihood; nests not found again count up to their last good look."
	methodCover    = "Clumps big enough to nest in, all kinds of plants, counted on belts of known length and width: all clumps over all area."
)

// noteMethods puts the note behind each table of the areas.
func noteMethods(areas []regionArea, heads []postgres.BulletinHead, cells []bulletin.Cell, season int) {
	for i := range areas {
		a := &areas[i]
		name := a.Name
		if i == 0 {
			name = ""
		}
		a.Survival.Method = []string{
			methodSurvival,
			"Each standard kind of cover weighs the same, in every season and place: " + standardsIn(cells, season) + ". Kinds that few ranches have are in no figure. Kinds of ground are not evened out here; the figures on the same footing are.",
			methodRange, methodRates, methodLeast, basesLine(cells, name, "", bulletin.Survival28), bandsLine(cells, name, "", bulletin.Survival28), bulletinsLine(heads),
		}
		a.Crude.Method = []string{
			methodSurvival,
			"Of all nests in the standard kinds of cover of the season as they were put out, each nest weighing the same: " + standardsIn(cells, season) + ". It moves with what nests are put in, from season to season and from place to place: to compare, take the figure on the same footing. Nests in other kinds are in no figure, for all nests less these would be theirs.",
			methodRange, methodRates, methodLeast, basesLine(cells, name, "", bulletin.SurvivalCrude), bandsLine(cells, name, "", bulletin.SurvivalCrude), bulletinsLine(heads),
		}
		a.Substrates.Method = []string{
			"As for all kinds of cover together, from the nests in one kind alone and not adjusted for anything else.",
			methodRange, methodRates, methodLeast, basesBySubstrate(cells, name, season), bandsBySubstrate(cells, name, season), frozenLine(heads, season),
		}
		a.Density.Method = []string{
			methodCover,
			"Below ten landowners only a band is published. From ten on two digits, for one list of ranches that stays the same for three seasons at least; where one of them is gone, a band.",
			basesLine(cells, name, "", bulletin.ClumpsPerAcre), bandsLine(cells, name, "", bulletin.ClumpsPerAcre), bulletinsLine(heads),
		}
		a.Mix.Method = []string{
			"Shares of the taken nests that left remains or were seen by a camera. From ten landowners on the shares are those under which all remains together are likeliest, so that what the key confuses is undone; below, each nest is read by itself.",
			"An animal is named from three landowners and ten losses on, and where no landowner has most of them; all others, and what no remains tell, are in the first part.",
			"Steps: 10 of 100 with five to nine landowners, else 5. The range is 95 %, widened for shared luck like that of survival.",
			basisOfMix(cells, name, season), bandsOfMix(cells, name, season), frozenLine(heads, season),
		}
	}
}

// standardsIn lists the kinds of cover that a season is standardised to.
func standardsIn(cells []bulletin.Cell, season int) string {
	var names []string
	for h := range bulletin.Mix(cells, season) {
		names = append(names, string(h))
	}
	if len(names) == 0 {
		return "those that enough landowners have"
	}
	slices.Sort(names)
	return listWords(names) + fmt.Sprintf(" in %d", season)
}

// bandsLine lists the landowners behind a place's figure by season, as bands.
func bandsLine(cells []bulletin.Cell, area, substrate, measure string) string {
	bands := map[int]string{}
	for _, c := range cells {
		if c.Published && c.Measure == measure && text(c.Area) == area && text(c.Substrate) == substrate && c.Entities != "" {
			bands[c.Season] = c.Entities
		}
	}
	var parts []string
	for season, band := range bands {
		parts = append(parts, fmt.Sprintf("%d: %s", season, bandWords(band)))
	}
	return landowners(parts)
}

// notCounted stands where no count passes the rules.
const notCounted = "How many nests and transects stand behind it is not given: from so few landowners, or beside other counts, it could tell one ranch’s."

// basisLine says how many nests, transects and belts stand behind a figure, in tens.
func basisLine(b bulletin.Basis, season int) string {
	words := basisWords(b)
	if words == "" {
		return notCounted
	}
	return fmt.Sprintf("Behind it in %d, in tens: %s.", season, words)
}

// basisWords is "420 nests on 70 transects", "" where nothing may be counted.
func basisWords(b bulletin.Basis) string {
	var parts []string
	if b.Nests != nil {
		parts = append(parts, strconv.Itoa(*b.Nests)+" nests")
	}
	if b.Transects != nil {
		parts = append(parts, strconv.Itoa(*b.Transects)+" transects")
	}
	if b.Belts != nil {
		parts = append(parts, strconv.Itoa(*b.Belts)+" belts")
	}
	return strings.Join(parts, ", ")
}

// basesLine counts what stands behind a place's figure season by season.
func basesLine(cells []bulletin.Cell, area, substrate, measure string) string {
	var parts []string
	for _, c := range cells {
		if c.Published && c.Measure == measure && text(c.Area) == area && text(c.Substrate) == substrate {
			if words := basisWords(c.Basis); words != "" {
				parts = append(parts, fmt.Sprintf("%d: %s", c.Season, words))
			}
		}
	}
	return bases(parts)
}

func basesBySubstrate(cells []bulletin.Cell, area string, season int) string {
	var parts []string
	for _, c := range cells {
		if c.Published && c.Season == season && c.Measure == bulletin.Survival28 && text(c.Area) == area && c.Substrate != nil {
			if words := basisWords(c.Basis); words != "" {
				parts = append(parts, *c.Substrate+": "+words)
			}
		}
	}
	return bases(parts)
}

func basisOfMix(cells []bulletin.Cell, area string, season int) string {
	for _, c := range cells {
		if c.Published && c.Season == season && c.Measure == bulletin.PredatorShare && text(c.Area) == area && basisWords(c.Basis) != "" {
			return basisLine(c.Basis, season)
		}
	}
	return notCounted
}

func bases(parts []string) string {
	if len(parts) == 0 {
		return notCounted
	}
	slices.Sort(parts)
	return "Behind it, in tens: " + strings.Join(parts, "; ") + "."
}

func bandsBySubstrate(cells []bulletin.Cell, area string, season int) string {
	var parts []string
	for _, c := range cells {
		if c.Published && c.Season == season && c.Measure == bulletin.Survival28 && text(c.Area) == area && c.Substrate != nil && c.Entities != "" {
			parts = append(parts, *c.Substrate+": "+bandWords(c.Entities))
		}
	}
	return landowners(parts)
}

func bandsOfMix(cells []bulletin.Cell, area string, season int) string {
	for _, c := range cells {
		if c.Published && c.Season == season && c.Measure == bulletin.PredatorShare && text(c.Area) == area && c.Entities != "" {
			return landowners([]string{bandWords(c.Entities)})
		}
	}
	return ""
}

func landowners(parts []string) string {
	if len(parts) == 0 {
		return ""
	}
	slices.Sort(parts)
	return "Landowners behind it, as a band: " + strings.Join(parts, "; ") + "."
}

// frozenLine names the bulletin of a season.
func frozenLine(heads []postgres.BulletinHead, season int) string {
	return bulletinLine(heads, season, "")
}

// bulletinsLine names the bulletins of all seasons, and what made them.
func bulletinsLine(heads []postgres.BulletinHead) string {
	if len(heads) == 0 {
		return ""
	}
	var parts []string
	for _, h := range heads {
		parts = append(parts, strconv.Itoa(h.Season)+" by bulletin "+strconv.Itoa(h.Number))
	}
	line := "Frozen: " + strings.Join(parts, ", ") + "; none changed since."
	made := madeBy(heads[0])
	for _, h := range heads {
		if madeBy(h) != made {
			for _, h := range heads {
				line += fmt.Sprintf(" %d: %s", h.Season, madeBy(h))
			}
			return line
		}
	}
	return line + " " + made
}

// madeBy names the program that made a bulletin, and the seed of its random numbers.
func madeBy(h postgres.BulletinHead) string {
	made := "Which version of Tussock made it was not noted."
	if h.Version != "" && h.Version != "(devel)" {
		made = "Made by Tussock " + h.Version + "."
	}
	if h.Seed != 0 {
		return made + " Random numbers from seed " + strconv.FormatUint(h.Seed, 10) + "."
	}
	return made + " " + methodNoSeed
}
