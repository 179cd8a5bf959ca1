package pages

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Behind every figure of the region stands how it is made: what it is, what went in, on which step it stands, how many nests
// and transects in tens and landowners in a band, which bulletin froze it, and which program with which seed made that.

// The sentences that several figures share.
var (
	methodRange  = words.Mark("Range: 95 %, on the scale log(−log S): from what chance alone would do, widened by two published numbers on coarse steps, the design effect of lines and the spread between landowners (below twenty landowners a fixed one), and by the grid.")
	methodLost   = words.Mark("Nests not found again count up to their last good look. The range reaches down to where the figure would be if nine in ten of them had been taken.")
	methodRates  = words.Mark("Steps: 5 of 100 with five to nine landowners behind a figure, 2 with ten to 29, 1 from 30.")
	methodDiffer = words.Mark("Two figures are said to differ where the 95 % range of their difference leaves out none, and to be alike where it lies within 10 points of 100 (a quarter, for clumps). Where several are compared at once the ranges are wider, so that one page in twenty errs.")
	methodNoSeed = words.Mark("No random numbers are used for these figures.")
	methodLeast  = words.Mark("At least five landowners and 30 nests, no landowner with most of them.")
)

// The definitions that the region's and outreach's notes share.
var (
	methodSurvival = words.Mark("Nests intact on day 28 of 100 put out, all causes of loss: from the intervals between visits, one daily rate before day 14 and one after, fitted by likelihood; nests not found again count up to their last good look.")
	methodCover    = words.Mark("Clumps big enough to nest in, all kinds of plants, counted on belts of known length and width: all clumps over all area.")
)

// noteMethods puts the note behind each table of the areas.
func noteMethods(d regionData, areas []regionArea) {
	say, heads, cells, season := d.say, d.heads, d.cells, d.season
	standards := standardsIn(say, heads, season)
	for i := range areas {
		a := &areas[i]
		name := a.Name
		if i == 0 {
			name = ""
		}
		a.Survival.Method = []string{
			say.Say(methodSurvival),
			say.Say("Each standard kind of cover weighs the same: %s. Kinds that few ranches have are in no figure.", standards),
			say.Say(methodRange), say.Say(methodLost), say.Say(methodRates), say.Say(methodLeast), effectLine(say, cells, season),
			basesLine(say, cells, name, "", bulletin.Survival28), bandsLine(say, cells, name, "", bulletin.Survival28), bulletinsLine(say, heads),
		}
		a.Substrates.Method = []string{
			say.Say("As for all kinds of cover together, from the nests in one kind alone and not adjusted for anything else."),
			say.Say(methodRange), say.Say(methodLost), say.Say(methodRates), say.Say(methodLeast), basesBySubstrate(say, cells, name, season), bandsBySubstrate(say, cells, name, season), frozenLine(say, heads, season),
		}
		a.Density.Method = []string{
			say.Say(methodCover),
			say.Say("Two digits, with a range from the spread between landowners. Anyone who comes new to the belts waits until five landowners have changed. Where one to four are gone and fewer than 25 are left, nothing is given that season: the figure before still serves, for cover changes slowly."),
			basesLine(say, cells, name, "", bulletin.ClumpsPerAcre), bandsLine(say, cells, name, "", bulletin.ClumpsPerAcre), bulletinsLine(say, heads),
		}
		if a.Mix != nil {
			a.Mix.Method = []string{
				say.Say("First what the taken nests showed, counted: no sign, sign that fits more than one animal by the key, and sign or a camera that fits one. Then the shares of the animals in the nests that left a sign."),
				say.Say("From ten landowners on each nest counts by all its signs; below, by the animal that it looks most like and whether that is likely enough to be named. What the key confuses is undone, and the nests themselves teach the key."),
				say.Say("An animal is named from four landowners and ten losses on, and where no landowner has most of them; all others are in the last part."),
				say.Say("Steps: 10 of 100 with five to nine landowners, else 5. The range is 95 %, widened for shared luck and because the strengths of the key are not known for sure."),
				say.Say("The key to remains is version %d of the cooperative’s, the one that counted when the season opened; 0 is common practice.", keyOf(heads, season).Version),
				say.Say("Nests that left no sign are taken to have fallen to the same animals as the others. If an animal leaves no sign up to three times as often as the others, or a third as often, its share of all taken nests lies in the widest range."),
				mixWeightLine(say, cells, season),
				basisOfMix(say, cells, name, season), bandsOfMix(say, cells, name, season), frozenLine(say, heads, season),
			}
		}
	}
}

// effectLine gives the number by which ranges are widened.
func effectLine(say words.Speaker, cells []bulletin.Cell, season int) string {
	cell, ok := findCell(cells, season, "", "", bulletin.DesignEffect, "")
	if !ok || cell.Estimate == nil {
		return ""
	}
	return say.Say("Nests of one line share their luck: in %d that makes a variance %s times as large as that of nests with luck of their own.", season, number(cell.Estimate))
}

// mixWeightLine gives how much the mix is worth where a ranch's own begins.
func mixWeightLine(say words.Speaker, cells []bulletin.Cell, season int) string {
	cell, ok := findCell(cells, season, "", "", bulletin.MixWeight, "")
	if !ok || cell.Estimate == nil {
		return say.Say("A ranch’s own mix starts from these shares, which count as much as %d nests of its own: a fixed number, for how far landowners’ mixes lie apart is not published.", int(predator.UsualWeight))
	}
	return say.Say("A ranch’s own mix starts from these shares, which count as much as %s nests of its own, by how far landowners’ mixes lie apart.", number(cell.Estimate))
}

// standardMix is the standard mix of cover of a season's bulletin, nil where there is none.
func standardMix(heads []postgres.BulletinHead, season int) map[survey.Substrate]float64 {
	for _, h := range heads {
		if h.Season == season {
			return bulletin.Mix(h.Covers)
		}
	}
	return nil
}

// standardsIn lists the kinds of cover that a season is standardized to.
func standardsIn(say words.Speaker, heads []postgres.BulletinHead, season int) string {
	kinds := slices.Sorted(maps.Keys(standardMix(heads, season)))
	if len(kinds) == 0 {
		return say.Say("those that enough landowners have")
	}
	return say.Say("%s in %d", kindsWords(say, kinds), season)
}

// kindsWords lists kinds of cover: "bunchgrass and yucca".
func kindsWords(say words.Speaker, kinds []survey.Substrate) string {
	names := make([]string, len(kinds))
	for i, h := range kinds {
		names[i] = say.Say(string(h))
	}
	return say.List(names)
}

// bandsLine lists the landowners behind a place's figure by season, as bands.
func bandsLine(say words.Speaker, cells []bulletin.Cell, area, substrate, measure string) string {
	bands := map[int]string{}
	for _, c := range cells {
		if c.Published && c.Measure == measure && text(c.Area) == area && text(c.Substrate) == substrate && c.Entities != "" {
			bands[c.Season] = c.Entities
		}
	}
	var parts []string
	for season, band := range bands {
		parts = append(parts, fmt.Sprintf("%d: %s", season, bandWords(say, band)))
	}
	return landowners(say, parts)
}

// notCounted stands where no count passes the rules.
var notCounted = words.Mark("How many nests and transects stand behind it is not given: from so few landowners, or beside other counts, it could tell one ranch’s.")

// basisLine says how many nests, transects and belts stand behind a figure, in tens.
func basisLine(say words.Speaker, b bulletin.Basis, season int) string {
	counts := basisWords(say, b)
	if counts == "" {
		return say.Say(notCounted)
	}
	return say.Say("Behind it in %d, in tens: %s.", season, counts)
}

// basisWords is "420 nests, 70 transects", "" where nothing may be counted.
func basisWords(say words.Speaker, b bulletin.Basis) string {
	var parts []string
	if b.Nests != nil {
		parts = append(parts, say.Count("%d nest", "%d nests", *b.Nests))
	}
	if b.Transects != nil {
		parts = append(parts, say.Count("%d transect", "%d transects", *b.Transects))
	}
	if b.Belts != nil {
		parts = append(parts, say.Count("%d belt", "%d belts", *b.Belts))
	}
	return strings.Join(parts, ", ")
}

// basesLine counts what stands behind a place's figure season by season.
func basesLine(say words.Speaker, cells []bulletin.Cell, area, substrate, measure string) string {
	var parts []string
	for _, c := range cells {
		if c.Published && c.Measure == measure && text(c.Area) == area && text(c.Substrate) == substrate {
			if counts := basisWords(say, c.Basis); counts != "" {
				parts = append(parts, fmt.Sprintf("%d: %s", c.Season, counts))
			}
		}
	}
	return bases(say, parts)
}

func basesBySubstrate(say words.Speaker, cells []bulletin.Cell, area string, season int) string {
	var parts []string
	for _, c := range cells {
		if c.Published && c.Season == season && c.Measure == bulletin.Survival28 && text(c.Area) == area && c.Substrate != nil {
			if counts := basisWords(say, c.Basis); counts != "" {
				parts = append(parts, say.Say(*c.Substrate)+": "+counts)
			}
		}
	}
	return bases(say, parts)
}

func basisOfMix(say words.Speaker, cells []bulletin.Cell, area string, season int) string {
	for _, c := range cells {
		if c.Published && c.Season == season && c.Measure == bulletin.PredatorShare && text(c.Area) == area && basisWords(say, c.Basis) != "" {
			return basisLine(say, c.Basis, season)
		}
	}
	return say.Say(notCounted)
}

func bases(say words.Speaker, parts []string) string {
	if len(parts) == 0 {
		return say.Say(notCounted)
	}
	slices.Sort(parts)
	return say.Say("Behind it, in tens: %s.", strings.Join(parts, "; "))
}

func bandsBySubstrate(say words.Speaker, cells []bulletin.Cell, area string, season int) string {
	var parts []string
	for _, c := range cells {
		if c.Published && c.Season == season && c.Measure == bulletin.Survival28 && text(c.Area) == area && c.Substrate != nil && c.Entities != "" {
			parts = append(parts, say.Say(*c.Substrate)+": "+bandWords(say, c.Entities))
		}
	}
	return landowners(say, parts)
}

func bandsOfMix(say words.Speaker, cells []bulletin.Cell, area string, season int) string {
	for _, c := range cells {
		if c.Published && c.Season == season && c.Measure == bulletin.PredatorShare && text(c.Area) == area && c.Entities != "" {
			return landownersLine(say, c.Entities)
		}
	}
	return ""
}

func landowners(say words.Speaker, parts []string) string {
	if len(parts) == 0 {
		return ""
	}
	slices.Sort(parts)
	return say.Say("Landowners behind it, as a band: %s.", strings.Join(parts, "; "))
}

// frozenLine names the bulletin of a season.
func frozenLine(say words.Speaker, heads []postgres.BulletinHead, season int) string {
	return bulletinLine(say, heads, season, "")
}

// bulletinsLine names the bulletins of all seasons, and what made them.
func bulletinsLine(say words.Speaker, heads []postgres.BulletinHead) string {
	if len(heads) == 0 {
		return ""
	}
	var parts []string
	for _, h := range heads {
		parts = append(parts, say.Say("%d by bulletin %d", h.Season, h.Number))
	}
	line := say.Say("Frozen: %s.", strings.Join(parts, ", "))
	made := madeBy(say, heads[0])
	for _, h := range heads {
		if madeBy(say, h) != made {
			for _, h := range heads {
				line += fmt.Sprintf(" %d: %s", h.Season, madeBy(say, h))
			}
			return line
		}
	}
	return line + " " + made
}

// madeBy names the program that made a bulletin.
func madeBy(say words.Speaker, h postgres.BulletinHead) string {
	made := say.Say("Which version of Tussock made it was not noted.")
	if h.Version != "" && h.Version != "(devel)" {
		made = say.Say("Made by Tussock %s.", h.Version)
	}
	return made + " " + say.Say(methodNoSeed)
}
