package demo

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/season"
	"tussock/internal/survey"
)

// Practiced is three practice lines that are under way on the day the demo starts, so that the field pages have something
// to do and to show: line 1 is due today; line 2 was walked, with one nest over which two phones differ; line 3 is late.
type Practiced struct {
	Ranch string
	Plan  season.Plan
	Lines []season.Line
	Looks map[string][]fieldwork.Look // by line's name; ranch, season and line are not filled in yet
}

// Days from set-out to the two checks, and how many more or fewer are as good.
const practiceFirst, practiceLast, practiceSlack = 14, 28, 2

// Practice returns them as they stand on a day. The pasture is one of its own: what is counted there stays apart.
func (c *Cooperative) Practice(today survey.Date) Practiced {
	covers := []survey.Substrate{survey.Bunchgrass, survey.Yucca}
	p := Practiced{Ranch: QuestionRanch, Looks: map[string][]fieldwork.Look{}}
	for i, since := range []survey.Date{practiceFirst, practiceFirst + 6, practiceFirst + 7} {
		on := today - since
		name := fmt.Sprint(i + 1)
		p.Lines = append(p.Lines, season.Line{Season: (today - practiceFirst - 7).Year(), Name: name, Pasture: "Practice", Stops: 12, Spacing: 50, Pace: 2.6, Covers: covers,
			SetOn: on, FirstCheck: on + practiceFirst, LastCheck: on + practiceLast, Slack: practiceSlack, BeltWidth: 6, BeltLength: 726})
		for stop := 1; stop <= 12; stop++ {
			p.look(name, stop, fieldwork.Set, "a", on, map[string]string{"cover": string(covers[(stop-1)%2]), "set_on": on.String(), "eggs_set": "3", "flags_set": "1"})
		}
	}
	p.Plan = season.Plan{Season: p.Lines[0].Season, Purpose: season.Covers, Lines: 3, Stops: 12, Spacing: 50, Pace: 2.6, Covers: covers, SetOn: p.Lines[0].SetOn,
		First: practiceFirst, Last: practiceLast, Slack: practiceSlack, BeltWidth: 6, BeltLength: 726}
	p.walked(p.Lines[1].FirstCheck)
	return p
}

// walked is the first check of line 2: three nests lost, each with its signs, one that nobody found, and one over which
// two phones differ.
func (p *Practiced) walked(on survey.Date) {
	lost := map[int]map[string]string{
		3:  {"found": "lost", "lost_how": "animal", "bits": "halves", "bits_far_ft": "under_3", "heaps": "none", "inside": "licked", "ground": "calm", "bowl": "pulled", "guess": "raccoon"},
		4:  {"found": "some", "eggs_left": "1", "lost_how": "animal", "bits": "near_whole", "ground": "cone_pits", "bowl": "neat", "guess": "skunk"},
		7:  {"found": "not_found"},
		10: {"found": "lost", "lost_how": "hoof"},
	}
	for stop := 1; stop <= 12; stop++ {
		answers := map[string]string{"found": "all", "eggs_fresh_put": "3"}
		if l := lost[stop]; l != nil {
			answers = l
		}
		answers["looked_on"] = on.String()
		p.look("2", stop, fieldwork.Check, "a", on, answers)
	}
	p.look("2", 9, fieldwork.Check, "b", on, map[string]string{"looked_on": on.String(), "found": "lost", "lost_how": "unknown"})
	p.look("2", 0, fieldwork.Belt, "a", on, map[string]string{"belt": "1", "belt_on": on.String(), "pace_ft": "2.6", "paces": "279", "belt_wide_ft": "6", "clumps_bunchgrass": "31", "clumps_yucca": "9"})
}

// look adds one, made by the demo's hand at eight in the morning and a few minutes a stop.
func (p *Practiced) look(line string, stop int, kind fieldwork.Kind, device string, on survey.Date, answers map[string]string) {
	list := p.Looks[line]
	id := uuid.NewSHA1(uuid.NameSpaceOID, fmt.Appendf(nil, "practice %s %d %s %s", line, stop, kind, device))
	p.Looks[line] = append(list, fieldwork.Look{ID: access.ID(id.String()), Stop: stop, Kind: kind, Who: "JA", Device: "practice-" + device,
		Seq: len(list) + 1, At: on.Time().Add(14*time.Hour + time.Duration(stop*4)*time.Minute), Answers: answers})
}

// Phone is a number that nobody has: 555 0100 to 0199 are kept for invented people (common practice, no source).
const Phone = "406 555 0134"
