package findings

import (
	"fmt"
	"math"

	"tussock/internal/stat/differ"
	"tussock/internal/stat/trend"
	"tussock/internal/words"
)

// The sentences of this file are all that may compare: each says an outcome of package differ, and none other. Claims beside them
// lists what each claims and the test that holds it to that.

// Said says the comparison, and what would tell where it cannot be told.
func (c *Comparison) Said() words.Phrase {
	of, with := Within(c.Of), Within(c.With)
	if c.What == Region {
		of, with = words.Later("on %s", words.Later(c.Of)), Across(c.With)
	}
	if c.Measure == ClumpsPerAcre {
		return words.Join(ClumpsDiffer(c.Outcome, of, with), c.help())
	}
	return words.Join(NestsDiffer(c.Outcome, of, with), c.help())
}

// Within says a season, a cover or a place as where something is.
func Within(name string) words.Phrase { return words.Later("in %s", words.Later(name)) }

// Across is a published place, already in its reader's language.
func Across(place string) words.Phrase { return words.Later("across %s", words.Later(place)) }

// NestsDiffer says how survival in one place or time stands to that in another. Of and with follow a verb: "in 2025", "on this ranch".
func NestsDiffer(o differ.Outcome, of, with words.Phrase) words.Phrase {
	switch {
	case o.Verdict == differ.Alike:
		return words.Later("As many nests lasted %s as %s, to within %s of 100.", of, with, of100(o.Margin))
	case o.Lower():
		return words.Later("Fewer nests lasted %s than %s: %s of 100 fewer.", of, with, span(-100*o.High, -100*o.Low))
	case o.Higher():
		return words.Later("More nests lasted %s than %s: %s of 100 more.", of, with, span(100*o.Low, 100*o.High))
	case math.IsNaN(o.Estimate):
		return words.Later("Survival %s and %s cannot be compared yet: each takes two lines at least, and a check after day 14.", of, with)
	}
	return words.Later("Whether more or fewer nests lasted %s than %s cannot be told yet: it could be anything from %s fewer to %s more of 100.",
		of, with, of100(max(0, -o.Low)), of100(max(0, o.High)))
}

// ClumpsDiffer is NestsDiffer for clumps an acre.
func ClumpsDiffer(o differ.Outcome, of, with words.Phrase) words.Phrase {
	switch {
	case o.Verdict == differ.Alike:
		return words.Later("There are as many clumps to the acre %s as %s, to within %s percent.", of, with, of100(o.Margin))
	case o.Lower():
		return words.Later("There are fewer clumps to the acre %s than %s: %s percent fewer.", of, with, span(-100*o.High, -100*o.Low))
	case o.Higher():
		return words.Later("There are more clumps to the acre %s than %s: %s percent more.", of, with, span(100*o.Low, 100*o.High))
	case math.IsNaN(o.Estimate):
		return words.Later("Clumps to the acre %s and %s cannot be compared yet: each takes three belts at least.", of, with)
	case math.IsInf(o.High, 1) || o.High > 9.99:
		return words.Later("Whether there are more or fewer clumps to the acre %s than %s cannot be told yet: the ranges are too wide.", of, with)
	}
	return words.Later("Whether there are more or fewer clumps to the acre %s than %s cannot be told yet: it could be anything from %s percent fewer to %s percent more.",
		of, with, of100(max(0, -o.Low)), of100(max(0, o.High)))
}

// NestsBrief says how survival on the reader's ranch stands to that of a place that was just named, where there is little room.
func NestsBrief(o differ.Outcome) words.Phrase {
	switch {
	case o.Verdict == differ.Alike:
		return words.Later("As many lasted on yours, to within %s of 100.", of100(o.Margin))
	case o.Lower():
		return words.Later("Fewer lasted on yours: %s of 100 fewer.", span(-100*o.High, -100*o.Low))
	case o.Higher():
		return words.Later("More lasted on yours: %s of 100 more.", span(100*o.Low, 100*o.High))
	case math.IsNaN(o.Estimate):
		return words.Later("The two cannot be compared yet.")
	}
	return words.Later("Too close to tell yet: anything from %s fewer to %s more of 100.", of100(max(0, -o.Low)), of100(max(0, o.High)))
}

// ClumpsBrief is NestsBrief for clumps an acre.
func ClumpsBrief(o differ.Outcome) words.Phrase {
	switch {
	case o.Verdict == differ.Alike:
		return words.Later("As many clumps stand on yours, to within %s percent.", of100(o.Margin))
	case o.Lower():
		return words.Later("Fewer clumps stand on yours: %s percent fewer.", span(-100*o.High, -100*o.Low))
	case o.Higher():
		return words.Later("More clumps stand on yours: %s percent more.", span(100*o.Low, 100*o.High))
	case math.IsNaN(o.Estimate):
		return words.Later("The two cannot be compared yet.")
	case math.IsInf(o.High, 1) || o.High > 9.99:
		return words.Later("Too close to tell yet: the ranges are too wide.")
	}
	return words.Later("Too close to tell yet: anything from %s percent fewer to %s percent more.", of100(max(0, -o.Low)), of100(max(0, o.High)))
}

// span says from where to where a difference goes, both ends above nothing.
func span(low, high float64) words.Phrase {
	if math.Round(low) < 1 {
		return words.Later("up to %s", fmt.Sprintf("%.0f", math.Max(1, high)))
	}
	return words.Later("%s to %s", fmt.Sprintf("%.0f", low), fmt.Sprintf("%.0f", high))
}

// manyLines is more than anybody walks on one ranch.
const manyLines = 100

// help says how many lines or belts would tell, where the comparison cannot be told.
func (c *Comparison) help() words.Phrase {
	if c.Outcome.Verdict != differ.CannotTell || c.Outcome.Times == 0 || c.lines == 0 {
		return words.Phrase{}
	}
	n := int(math.Ceil(c.Outcome.Times * c.lines))
	belts := c.Measure == ClumpsPerAcre
	switch {
	case n > manyLines && belts:
		return words.Later("To show a difference of %s percent takes over %d belts in each.", of100(c.Outcome.Margin), manyLines)
	case n > manyLines:
		return words.Later("To show a difference of %s of 100 takes over %d lines in each.", of100(c.Outcome.Margin), manyLines)
	case belts:
		return words.Later("About %d belts in each would show a difference of %s percent.", n, of100(c.Outcome.Margin))
	}
	return words.Later("About %d lines in each would show a difference of %s of 100.", n, of100(c.Outcome.Margin))
}

// AgainstMarkSaid says how clumps an acre stand to mark, and how likely it is that they reach it.
func AgainstMarkSaid(d *Density, o differ.Outcome, mark float64) words.Phrase {
	if d.PerAcre.Estimate == nil || d.ReachesTarget == nil {
		return words.Phrase{}
	}
	about := *d.PerAcre.Estimate
	switch {
	case o.Lower():
		return words.Later("Cover is short of the target: about %.0f clumps an acre, where %.0f are the target. The chance that it is reached is %s in 100.", about, mark, chance(*d.ReachesTarget))
	case o.Higher():
		return words.Later("Cover reaches the target: about %.0f clumps an acre, where %.0f are the target. The chance of that is %s in 100.", about, mark, chance(*d.ReachesTarget))
	case o.Verdict == differ.Alike:
		return words.Later("Cover is about at the target: about %.0f clumps an acre, where %.0f are the target, to within %s percent.", about, mark, of100(o.Margin))
	case d.Belts < fewestBelts:
		return words.LaterCount("Whether cover reaches the target of %.0[2]f clumps an acre cannot be told yet: that takes three belts at least, and there is %[1]d.",
			"Whether cover reaches the target of %.0[2]f clumps an acre cannot be told yet: that takes three belts at least, and there are %[1]d.", d.Belts, d.Belts, mark)
	}
	return words.Later("Whether cover reaches the target cannot be told yet: about %.0f clumps an acre, where %.0f are the target. The chance that it does is %s in 100.", about, mark, chance(*d.ReachesTarget))
}

// FewClumpsSeen says that cover is short, for a talk about it.
func FewClumpsSeen(d *Density, mark float64) words.Phrase {
	return words.Later("Suitable clumps are few: about %.0f an acre (%.0f to %.0f), where %.0f are the target. That is about the number of clumps alone, not about what took nests.", *d.PerAcre.Estimate, *d.PerAcre.Low, *d.PerAcre.High, mark)
}

// chance writes a probability as so many of 100, none of them certain.
func chance(p float64) any {
	switch {
	case p < 0.01:
		return words.Later("less than 1")
	case p > 0.99:
		return words.Later("over 99")
	}
	return of100(p)
}

// ShortOrNot sorts pastures by how they stand to a mark. It is the zero phrase of fewer than two.
func ShortOrNot(sites []*Density, names []string, mark float64) words.Phrase {
	if len(sites) < 2 {
		return words.Phrase{}
	}
	var lower, higher, about []words.Phrase
	unsure := 0
	for i, o := range AgainstMark(sites, mark) {
		name := words.Later(names[i])
		switch {
		case o.Lower():
			lower = append(lower, name)
		case o.Higher():
			higher = append(higher, name)
		case o.Verdict == differ.Alike:
			about = append(about, name)
		default:
			unsure++
		}
	}
	var said []words.Phrase
	if n := len(lower); n > 0 {
		said = append(said, words.LaterCount("%s is short of the cover target.", "%s are short of the cover target.", n, lower))
	}
	if n := len(higher); n > 0 {
		said = append(said, words.LaterCount("%s reaches the cover target.", "%s reach the cover target.", n, higher))
	}
	if n := len(about); n > 0 {
		said = append(said, words.LaterCount("%s is about at the cover target.", "%s are about at the cover target.", n, about))
	}
	switch {
	case unsure == len(sites):
		said = append(said, words.Later("Whether the pastures reach the cover target cannot be told yet."))
	case unsure > 0:
		said = append(said, words.LaterCount("For %d other pasture it cannot be told yet.", "For %d other pastures it cannot be told yet.", unsure))
	}
	return words.Join(said...)
}

// TrendSaid says whether nests are lost faster or more slowly from year to year.
func TrendSaid(t trend.Line) words.Phrase {
	o := t.Outcome
	var said words.Phrase
	switch {
	case !t.Known:
		return words.Later("Whether losses rise or fall cannot be told: that takes three seasons at least.")
	case o.Verdict == differ.Alike:
		said = words.Later("From %d to %d losses stayed the same, to within %s of 100 nests over all these seasons.", t.First, t.Last, of100(t.Margin))
	case o.Lower():
		said = words.Later("From %d to %d losses are falling.", t.First, t.Last)
	case o.Higher():
		said = words.Later("From %d to %d losses are rising.", t.First, t.Last)
	default:
		said = words.Later("Whether losses rise or fall from %d to %d cannot be told yet.", t.First, t.Last)
	}
	if t.Seasons < trend.LongSeries {
		said = words.Join(said, words.LaterCount("%d season is few: good and bad years come in runs, and it takes eight to see how long they last.",
			"%d seasons are few: good and bad years come in runs, and it takes eight to see how long they last.", t.Seasons))
	}
	return said
}
