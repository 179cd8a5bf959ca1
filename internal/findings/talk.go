package findings

import (
	"fmt"

	"tussock/internal/stat/differ"
	"tussock/internal/stat/interval"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A Talk is something worth talking over: what was seen, what people commonly talk about first, and what is not the
// first thing. It is never a prescription. First and NotFirst are English, and the keys of their translations.
type Talk struct {
	Kind     string // a stable word
	Seen     words.Phrase
	First    string
	NotFirst string // "" where nothing is
}

// The thresholds of TalkOver. All are common practice, no source; what lies to one side of them is told by package differ.
const (
	trampledLow = 0.2  // the low end of the share trampled among the failed
	patchyCV    = 0.6  // density.Patchiness …
	patchyBelts = 6    // … on at least so many belts
	wide        = 0.4  // the width of a range that tells little
	middlingLow = 0.35 // survival that cover can be left alone with
	hogLines    = 2    // transects with rooted ground
)

// The patterns that a whole region can show as well as a ranch.
const (
	FewClumps          = "few_clumps"
	LossesDespiteCover = "losses_despite_cover"
	LeaveIt            = "leave_it"
)

// CommonTalk is what people commonly talk over of one of these patterns, whoever's it is: Seen is left to the caller.
func CommonTalk(kind string) Talk {
	switch kind {
	case FewClumps:
		return Talk{Kind: kind, First: words.Mark("Lighter stocking, resting a pasture in spring and summer, a longer rest, a plan for dry years."), NotFirst: words.Mark("Trapping.")}
	case LossesDespiteCover:
		return Talk{Kind: kind, First: words.Mark("How the cover is spread and how big its pieces are, edges, feeders, water, dumps, sign of hogs; and another year of data."),
			NotFirst: words.Mark("Blaming one animal.")}
	case LeaveIt:
		return Talk{Kind: kind, First: words.Mark("Leaving it as it is; watching cover for broods, and the rain."), NotFirst: words.Mark("Changing things to be busy.")}
	}
	return Talk{}
}

// TalkOver lists what the season of a ranch gives to talk over. Each entry needs the data to be sure enough of its pattern;
// where they are not sure of any, only the wish for more lines and belts is left.
func (r *Result) TalkOver(ranch string, season int, m Marks) []Talk {
	var talks []Talk
	survival, okS := r.SurvivalOf(ranch, season)
	density, okD := r.DensityOf(ranch, season)
	predators, okP := r.PredatorsOf(ranch, season)

	if okD {
		talks = append(talks, fewClumps(density, m)...)
		talks = append(talks, patchy(density)...)
	}
	if okD && okS {
		talks = append(talks, r.lossesDespiteCover(survival, density, m)...)
		talks = append(talks, leaveIt(survival, density, m)...)
	}
	if okS {
		talks = append(talks, r.grassAgainstPear(ranch, season)...)
		talks = append(talks, trampling(survival)...)
	}
	if okP {
		talks = append(talks, rooting(predators)...)
	}
	if okS {
		talks = append(talks, moreLines(survival)...)
	}
	if okS && len(talks) == 0 {
		talks = append(talks, Talk{
			Kind:     "not_sure_yet",
			Seen:     words.Later("Nothing here is sure enough to act on yet."),
			First:    words.Mark("Running it again next season, with more lines rather than more nests on a line, and more belts where cover cannot be told."),
			NotFirst: words.Mark("Any costly step."),
		})
	}
	return talks
}

func fewClumps(d *Density, m Marks) []Talk {
	if !AgainstMark([]*Density{d}, m.Cover)[0].Lower() {
		return nil
	}
	t := CommonTalk(FewClumps)
	t.Seen = FewClumpsSeen(d, m.Cover)
	return []Talk{t}
}

// enough tells whether cover reaches a mark.
func (d *Density) enough(mark float64) bool { return AgainstMark([]*Density{d}, mark)[0].Higher() }

func (r *Result) lossesDespiteCover(s *Survival, d *Density, m Marks) []Talk {
	rows := r.BySubstrate(s.Ranch, s.Season)
	if !d.enough(m.Cover) || len(rows) == 0 {
		return nil
	}
	for _, row := range rows { // a claim about each of them: each has to bear it
		if !differ.Compare(row.against(m.Hope)).Lower() {
			return nil
		}
	}
	t := CommonTalk(LossesDespiteCover)
	t.Seen = words.Later("Clumps are there, and yet most eggs went on every kind of cover.")
	return []Talk{t}
}

func (r *Result) grassAgainstPear(ranch string, season int) []Talk {
	for _, c := range r.Compared(ranch, season, Survival28, Substrates) {
		grassFirst := c.Of == string(survey.Bunchgrass) && c.With == string(survey.PricklyPear) && c.Outcome.Lower()
		pearFirst := c.Of == string(survey.PricklyPear) && c.With == string(survey.Bunchgrass) && c.Outcome.Higher()
		if grassFirst || pearFirst {
			return []Talk{{
				Kind:     "pear_outlasts_grass",
				Seen:     c.Said(),
				First:    words.Mark("Keeping some pear when brush work is planned, and bringing bunchgrass back."),
				NotFirst: words.Mark("Clearing all pear."),
			}}
		}
	}
	return nil
}

func patchy(d *Density) []Talk {
	n := len(d.PerBelt)
	if n < patchyBelts || d.patchiness < patchyCV {
		return nil
	}
	return []Talk{{
		Kind:     "patchy_cover",
		Seen:     words.Later("Cover is patchy: from %.0f clumps an acre on one belt to %.0f on another.", d.PerBelt[0], d.PerBelt[n-1]),
		First:    words.Mark("Burning in patches together with the local burn association, under its rules and permits; brush work cut to shape; leaving brush to loaf in."),
		NotFirst: words.Mark("Treating the whole pasture alike."),
	}}
}

func trampling(s *Survival) []Talk {
	failed := s.Losses.Failed()
	if failed == 0 {
		return nil
	}
	if low, _ := interval.Wilson(s.Losses.Trampled, failed, interval.Level); low < trampledLow {
		return nil
	}
	return []Talk{{
		Kind:  "trampling",
		Seen:  words.Later("Of %d nests that failed, %d were trampled.", failed, s.Losses.Trampled),
		First: words.Mark("When the herd moves, and where water and minerals stand."),
	}}
}

func rooting(p *Predators) []Talk {
	if p.rooted < hogLines {
		return nil
	}
	return []Talk{{
		Kind:     "rooting",
		Seen:     words.Later("The ground was rooted at taken nests on %d lines, as hogs leave it; other animals root too.", p.rooted),
		First:    words.Mark("A meeting of neighbors, and help from the agency; the state's rules on hogs come first."),
		NotFirst: words.Mark("Going it alone."),
	}}
}

func leaveIt(s *Survival, d *Density, m Marks) []Talk {
	if !d.enough(m.Cover) || !differ.Compare(s.against(middlingLow)).Higher() {
		return nil
	}
	t := CommonTalk(LeaveIt)
	t.Seen = words.Later("Cover is good and a fair part of the eggs lasted.")
	return []Talk{t}
}

func moreLines(s *Survival) []Talk {
	if s.Day28.Low == nil {
		return nil
	}
	width := *s.Day28.High - *s.Day28.Low
	if width <= wide && !s.FirstSeason {
		return nil
	}
	seen := words.Later("The range is wide, %s to %s of 100.", of100(*s.Day28.Low), of100(*s.Day28.High))
	if width <= wide {
		seen = words.Later("This is one season; years differ.")
	}
	return []Talk{{
		Kind:     "again",
		Seen:     seen,
		First:    words.Mark("Running it again, with more lines rather than more nests on a line."),
		NotFirst: words.Mark("Any costly step."),
	}}
}

// of100 writes a fraction as people say it, so many of 100.
func of100(p float64) string { return fmt.Sprintf("%.0f", 100*p) }
